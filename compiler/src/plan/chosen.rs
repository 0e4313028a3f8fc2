//! What of a trim is chosen for one visit, piece by piece.

use crate::names::sites::Sites;
use crate::names::trade::StepId;
use std::collections::BTreeSet;

/// What is chosen together, or waits together.
pub(super) enum Piece {
    /// A mat, by its number.
    Mat(usize),
    Steps(Vec<StepId>),
    Bath(Vec<StepId>),
    /// Parts that can't wait.
    Needs(Sites),
    /// A part, or a zone of it.
    Part(Region),
}

/// What of a part is chosen together.
pub(super) struct Region {
    pub(super) sites: Sites,
    /// Whether it wants a clean coat.
    pub(super) clean: bool,
    /// What must be chosen before it: what is done is one piece.
    pub(super) after: Sites,
}

#[derive(Clone, Default, PartialEq, Eq)]
pub(super) struct Chosen {
    pub(super) steps: BTreeSet<StepId>,
    pub(super) mats: BTreeSet<usize>,
    pub(super) sites: Sites,
    /// Whether the coat is clean, or won't be washed.
    pub(super) bathed: bool,
    /// Whether it is wet: then nothing is done but dry it.
    pub(super) wet: bool,
}

impl Chosen {
    pub(super) fn take(&mut self, piece: &Piece) {
        match piece {
            Piece::Steps(_) | Piece::Mat(_) | Piece::Needs(_) | Piece::Part(_) if self.wet => {}
            Piece::Mat(number) => {
                self.mats.insert(*number);
            }
            Piece::Steps(steps) => self.steps.extend(steps),
            Piece::Bath(steps) => {
                self.steps.extend(steps);
                (self.bathed, self.wet) = (true, false);
            }
            // What is finished wants a clean coat, combed through; what is stripped wants it unwashed.
            Piece::Part(region) if region.clean != self.bathed || !region.after.within(self.sites) => {}
            Piece::Needs(sites) | Piece::Part(Region { sites, .. }) => self.sites = self.sites | *sites,
        }
    }
}
