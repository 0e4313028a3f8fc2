//! Which keeps can matter at a site: those that some stroke of some statement there would break, and those that say more than how.
//!
//! Most keeps are kept by everything that a recipe does at a site; they tell no two dogs apart there.

use crate::choices::{Choice, Choices, Pass};
use crate::finish::{Stroke, breach, pick};
use crate::names::card::Dog;
use crate::names::sites::Site;
use crate::names::trade::{Bound, ToolId, Trade};
use crate::plan::blend_stroke;
use crate::source::Place;
use rustc_hash::FxHashMap;

/// Every stroke that can come about, on any coat that is served, where the same statements reach.
pub(super) struct Touchy {
    /// The statements' own, each with its place.
    own: Vec<(Place, Stroke)>,
    /// Those of blends over them.
    blended: Vec<Stroke>,
    known: FxHashMap<(usize, Option<ToolId>), bool>,
}

impl Touchy {
    /// The strokes of every statement that reaches a site, and of every blend with a tool of its own.
    pub(super) fn new(choices: &Choices, trade: &Trade, site: Site, blends: &[usize], dogs: &[Dog]) -> Self {
        let mut own: Vec<(Place, Stroke)> = Vec::new();
        for dog in dogs {
            for stroke in Self::on(choices, trade, site, dog) {
                if !own.contains(&stroke) {
                    own.push(stroke);
                }
            }
        }
        let mut tools: Vec<ToolId> = blends.iter().filter_map(|n| choices.blends.get(*n)?.tool).collect();
        tools.sort_unstable();
        tools.dedup();
        let over = |(_, stroke): &(Place, Stroke)| -> Vec<Stroke> {
            tools.iter().filter_map(|tool| blend_stroke(stroke, *tool, trade)).collect()
        };
        let blended = own.iter().flat_map(over).collect();
        Self { own, blended, known: FxHashMap::default() }
    }

    /// The strokes of the statements on one coat.
    fn on(choices: &Choices, trade: &Trade, site: Site, dog: &Dog) -> Vec<(Place, Stroke)> {
        let mut silent = Vec::new();
        let mut stroke = |choice: &Choice, rough: Option<&Stroke>| {
            pick(&choice.ask, rough, choices, trade, dog, site, &mut silent).map(|p| p.stroke)
        };
        let of = |pass| choices.at(site).filter(move |c| c.pass == pass);
        let rough: Vec<(Place, Stroke)> =
            of(Pass::Rough).filter_map(|c| stroke(c, None).map(|s| (c.place, s))).collect();
        let mut own = Vec::new();
        for choice in of(Pass::Finish) {
            own.extend(stroke(choice, None).map(|s| (choice.place, s)));
            // What has a length of its own doesn't take that of the rough pass.
            if choice.ask.to.is_none() {
                own.extend(rough.iter().filter_map(|(_, r)| stroke(choice, Some(r)).map(|s| (choice.place, s))));
            }
        }
        own.extend(rough);
        own
    }

    /// The strokes of the statement at a place.
    pub(super) fn strokes_of(&self, place: Place) -> impl Iterator<Item = &Stroke> {
        self.own.iter().filter(move |(p, _)| *p == place).map(|(_, s)| s)
    }

    /// Whether a bound can change or break anything that is done there.
    pub(super) fn minds(&mut self, bound: &Bound, cause: Option<ToolId>, trade: &Trade) -> bool {
        let (own, blended) = (&self.own, &self.blended);
        *self.known.entry((std::ptr::from_ref(bound) as usize, cause)).or_insert_with(|| {
            matches!(bound, Bound::Untouched | Bound::Refer | Bound::AtMost(_) | Bound::Open)
                || own.iter().map(|(_, s)| s).chain(blended).any(|stroke| breach(stroke, bound, cause, trade).is_some())
        })
    }
}
