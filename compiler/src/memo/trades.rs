//! What houses add to the basics, by the blocks that add it and where they stand.

use super::Part;
use crate::diagnostic::Diagnostic;
use crate::names::trade::Trade;
use crate::source::FileId;
use grammar::tree::Parsed;
use std::sync::{Arc, Mutex, PoisonError};

/// A block's tree is known by its address: as long as it is kept here, no other has the same.
#[derive(Debug)]
struct Known {
    stand: Vec<(FileId, u32, usize)>,
    _kept: Vec<Arc<Parsed>>,
    trade: Arc<Trade>,
    said: Vec<Diagnostic>,
}

/// So many houses are known at once.
const MOST: usize = 8;

/// The vocabularies of houses, shared by the runs that go on from one another.
#[derive(Clone, Debug, Default)]
pub(crate) struct Trades(Arc<Mutex<Vec<Known>>>);

impl Trades {
    /// The vocabulary with what some blocks add, and what there is to say of them. Messages point into the blocks, so that it is
    /// made anew where one of them has moved.
    pub(crate) fn of(
        &self,
        added: &[Part<'_>],
        make: impl FnOnce() -> (Trade, Vec<Diagnostic>),
    ) -> (Arc<Trade>, Vec<Diagnostic>) {
        let of = |(file, placed): &Part<'_>| (*file, placed.at, Arc::as_ptr(&placed.block) as usize);
        let stand: Vec<(FileId, u32, usize)> = added.iter().map(of).collect();
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(known) = all.iter().find(|known| known.stand == stand) {
            return (Arc::clone(&known.trade), known.said.clone());
        }
        let (trade, said) = make();
        let (trade, kept) = (Arc::new(trade), added.iter().map(|(_, placed)| Arc::clone(&placed.block)).collect());
        if all.len() == MOST {
            all.remove(0);
        }
        all.push(Known { stand, _kept: kept, trade: Arc::clone(&trade), said: said.clone() });
        (trade, said)
    }
}
