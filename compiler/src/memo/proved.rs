//! What was said of recipes, by the blocks that they are made of.

use super::KEPT;
use crate::choices::Houses;
use crate::diagnostic::Diagnostic;
use crate::source::{FileId, Place};
use grammar::tree::{Parsed, Placed};
use rustc_hash::FxHashMap;
use std::sync::Arc;

/// A block, and in which file it stands.
pub type Part<'t> = (FileId, &'t Placed);

/// What the messages of a recipe hang on.
#[derive(Debug)]
pub struct Parts<'t> {
    /// The blocks that add to the basics.
    pub trade: &'t [Part<'t>],
    /// The house, the bases from the farthest on and the recipe itself.
    pub layers: Vec<Part<'t>>,
    /// In which houses each of these stands, as [`crate::choices::Layer::houses`].
    pub houses: Vec<Houses>,
    /// Whether all its bases were found.
    pub sound: bool,
}

/// A block's tree is known by its address: as long as it is kept here, no other has the same.
#[derive(Debug, PartialEq, Eq, Hash)]
pub(crate) struct Key {
    blocks: Vec<usize>,
    /// How many of those are layers.
    layers: usize,
    /// The order in which they stand: of two statements a message speaks first of the earlier one.
    order: Vec<u32>,
    houses: Vec<Houses>,
    sound: bool,
}

#[derive(Debug)]
struct Proof {
    _kept: Vec<Arc<Parsed>>,
    stood: Vec<Stood>,
    said: Vec<Diagnostic>,
    used: u64,
}

/// Where a block stood.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Stood {
    file: FileId,
    at: u32,
    end: u32,
}

/// What was said, by what it hangs on.
#[derive(Debug, Default)]
pub(crate) struct Proofs {
    known: FxHashMap<Key, Proof>,
    run: u64,
}

impl Proofs {
    pub(super) fn begin(&mut self) {
        self.run += 1;
        let run = self.run;
        if run.is_multiple_of(KEPT) {
            self.known.retain(|_, proof| run - proof.used < KEPT);
        }
    }

    /// What was said of a recipe made of the same blocks, at the places where they stand now.
    pub(crate) fn get(&mut self, key: &Key, parts: &Parts<'_>) -> Option<Vec<Diagnostic>> {
        let run = self.run;
        let proof = self.known.get_mut(key)?;
        proof.used = run;
        let stand: Vec<Stood> = parts.all().map(stood).collect();
        if proof.stood == stand {
            return Some(proof.said.clone());
        }
        let mut said = proof.said.clone();
        said.iter_mut().flat_map(Diagnostic::places_mut).for_each(|place| moved(place, &proof.stood, &stand));
        Some(said)
    }

    /// Keeps what was said of a recipe.
    pub(crate) fn put(&mut self, key: Key, parts: &Parts<'_>, said: Vec<Diagnostic>) {
        let kept = parts.all().map(|(_, placed)| Arc::clone(&placed.block)).collect();
        let proof = Proof { _kept: kept, stood: parts.all().map(stood).collect(), said, used: self.run };
        self.known.insert(key, proof);
    }
}

impl<'t> Parts<'t> {
    fn all(&self) -> impl Iterator<Item = Part<'t>> {
        self.trade.iter().chain(&self.layers).copied()
    }

    /// What it is known by.
    pub(crate) fn key(&self) -> Key {
        let blocks: Vec<usize> = self.all().map(|(_, placed)| Arc::as_ptr(&placed.block) as usize).collect();
        let mut order: Vec<u32> = (0..).take(blocks.len()).collect();
        let all: Vec<(FileId, u32)> = self.all().map(|(file, placed)| (file, placed.at)).collect();
        order.sort_by_key(|n| all.get(*n as usize));
        Key { blocks, layers: self.layers.len(), order, houses: self.houses.clone(), sound: self.sound }
    }
}

fn stood((file, placed): Part<'_>) -> Stood {
    Stood { file, at: placed.at, end: placed.at + placed.block.block.span.end }
}

/// A place in a block that stood elsewhere. What lies in none of them is in the basics, which stay where they are.
fn moved(place: &mut Place, before: &[Stood], now: &[Stood]) {
    let holds = |s: &Stood| s.file == place.file && s.at <= place.start && place.start < s.end;
    if let Some((old, new)) = before.iter().zip(now).find(|(old, _)| holds(old)) {
        let by = new.at.wrapping_sub(old.at);
        *place = Place { file: new.file, start: place.start.wrapping_add(by), end: place.end.wrapping_add(by) };
    }
}
