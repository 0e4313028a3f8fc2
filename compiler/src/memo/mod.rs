//! What was read and proved before, so that an edit redoes only what it changed.
//!
//! A block's tree hangs on its text alone, and a recipe's messages on the trees of the blocks that it is made of: those of its
//! house, its bases and its own, and those that add to the basics. So both are kept by the blocks' text; where a block stands
//! doesn't count, and what was said of it is moved along. The command line runs through the same functions with nothing kept.

mod proved;
mod texts;
mod trades;

pub use proved::{Part, Parts};
pub(crate) use texts::Read;
pub(crate) use trades::Trades;

use crate::workspace::Reading;
use proved::Proofs;
use std::path::Path;
use std::sync::Arc;
use texts::Texts;

/// What is kept from one run to the next.
#[derive(Debug, Default)]
pub struct Memo {
    texts: Texts,
    pub(crate) trades: Trades,
    pub(crate) proofs: Proofs,
    /// How many recipes the last run proved anew.
    recipes: usize,
}

/// How much a run did anew.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Redone {
    /// Blocks whose text was read.
    pub blocks: usize,
    /// Recipes that were built and proved.
    pub recipes: usize,
}

/// For so many runs what nobody asks for is still kept: an editor goes back and forth between houses, and takes edits back.
const KEPT: u64 = 32;

impl Memo {
    /// What was done anew since this was asked last.
    #[must_use]
    pub fn redone(&mut self) -> Redone {
        Redone { blocks: self.texts.counted(), recipes: std::mem::take(&mut self.recipes) }
    }

    /// The blocks of texts; those that are known aren't looked for again.
    pub(crate) fn read(&mut self, texts: &[Read]) -> Vec<Arc<Reading>> {
        self.texts.read(texts)
    }

    /// The blocks of one text that takes the place of another.
    pub(crate) fn again(&mut self, path: &Path, text: &Arc<str>) -> Arc<Reading> {
        self.texts.again(path, text)
    }

    /// A text that was read, without its trees.
    pub(crate) fn let_go(&mut self, path: &Path, known: &Reading) -> Arc<Reading> {
        self.texts.let_go(path, known)
    }

    /// A run of checks begins.
    pub(crate) fn begin(&mut self) {
        self.proofs.begin();
    }

    /// Some recipes were proved anew.
    pub(crate) fn proved(&mut self, recipes: usize) {
        self.recipes += recipes;
    }
}
