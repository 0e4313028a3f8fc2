//! Sets of cells, as bits.

use smallvec::{SmallVec, smallvec};

/// A set of cells of one domain.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Cells(SmallVec<[u64; 2]>);

impl Cells {
    /// No cell of so many.
    pub(crate) fn none(many: usize) -> Self {
        Self(smallvec![0; many.div_ceil(64)])
    }

    /// Every cell of so many.
    pub(crate) fn all(many: usize) -> Self {
        (0..many).fold(Self::none(many), |mut all, cell| {
            all.add(cell);
            all
        })
    }

    pub(crate) fn add(&mut self, cell: usize) {
        if let Some(word) = self.0.get_mut(cell / 64) {
            *word |= 1 << (cell % 64);
        }
    }

    pub(crate) fn join(&mut self, other: &Self) {
        self.0.iter_mut().zip(&other.0).for_each(|(a, b)| *a |= b);
    }

    pub(crate) fn has(&self, cell: usize) -> bool {
        self.0.get(cell / 64).is_some_and(|word| word & (1 << (cell % 64)) != 0)
    }

    pub(crate) fn meet(&self, other: &Self) -> Self {
        Self(self.0.iter().zip(&other.0).map(|(a, b)| a & b).collect())
    }

    pub(crate) fn meets(&self, other: &Self) -> bool {
        self.0.iter().zip(&other.0).any(|(a, b)| a & b != 0)
    }

    /// The first cell; none if it is empty.
    pub(crate) fn first(&self) -> Option<usize> {
        let (at, word) = self.0.iter().enumerate().find(|(_, word)| **word != 0)?;
        Some(at * 64 + word.trailing_zeros() as usize)
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.0.iter().all(|word| *word == 0)
    }

    pub(crate) fn iter(&self) -> impl Iterator<Item = usize> {
        (0..self.0.len() * 64).filter(|cell| self.has(*cell))
    }
}
