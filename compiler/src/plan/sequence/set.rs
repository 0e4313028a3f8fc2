//! Sets of small numbers.

/// A set of numbers below 64 times `W`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) struct Set<const W: usize>([u64; W]);

impl<const W: usize> Set<W> {
    pub(super) const NONE: Self = Self([0; W]);

    pub(super) fn has(&self, n: usize) -> bool {
        self.0.get(n / 64).is_some_and(|word| word >> (n % 64) & 1 == 1)
    }

    pub(super) fn put(&mut self, n: usize) {
        if let Some(word) = self.0.get_mut(n / 64) {
            *word |= 1 << (n % 64);
        }
    }

    pub(super) fn with(mut self, n: usize) -> Self {
        self.put(n);
        self
    }

    pub(super) fn within(&self, other: &Self) -> bool {
        self.0.iter().zip(&other.0).all(|(a, b)| a & !b == 0)
    }
}
