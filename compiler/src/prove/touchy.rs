//! Which keeps can matter at a site: those that some stroke of some statement there would break, and those that say more than how.
//!
//! Most keeps are kept by everything that a recipe does at a site; they tell no two dogs apart there.

use crate::choices::{Choice, Choices, Pass};
use crate::finish::{Stroke, breach, pick};
use crate::names::card::Dog;
use crate::names::sites::Site;
use crate::names::trade::{Bound, ToolId, Trade};
use crate::plan::blend_stroke;
use rustc_hash::FxHashMap;

/// Every stroke that can come about on one coat where the same statements reach.
pub(super) struct Touchy {
    strokes: Vec<Stroke>,
    known: FxHashMap<(usize, Option<ToolId>), bool>,
}

impl Touchy {
    /// The strokes of every statement that reaches a site, and of every blend with a tool of its own.
    pub(super) fn new(choices: &Choices, trade: &Trade, site: Site, blends: &[usize], dog: &Dog) -> Self {
        let mut silent = Vec::new();
        let mut stroke = |choice: &Choice, rough: Option<&Stroke>| {
            pick(&choice.ask, rough, choices, trade, dog, site, &mut silent).map(|p| p.stroke)
        };
        let rough: Vec<Stroke> =
            choices.at(site).filter(|c| c.pass == Pass::Rough).filter_map(|c| stroke(c, None)).collect();
        let mut strokes = rough.clone();
        for choice in choices.at(site).filter(|c| c.pass == Pass::Finish) {
            strokes.extend(stroke(choice, None));
            // What has a length of its own doesn't take that of the rough pass.
            if choice.ask.to.is_none() {
                strokes.extend(rough.iter().filter_map(|r| stroke(choice, Some(r))));
            }
        }
        let tools = blends.iter().filter_map(|n| choices.blends.get(*n)?.by.as_ref());
        let mut tools: Vec<ToolId> = tools.filter_map(|name| trade.index.tools.get(name)).copied().collect();
        tools.sort_unstable();
        tools.dedup();
        let blended: Vec<Stroke> =
            strokes.iter().flat_map(|s| tools.iter().filter_map(|t| blend_stroke(s, *t, trade))).collect();
        strokes.extend(blended);
        Self { strokes, known: FxHashMap::default() }
    }

    /// Whether a bound can change or break anything that is done there.
    pub(super) fn minds(&mut self, bound: &Bound, cause: Option<ToolId>, trade: &Trade) -> bool {
        let strokes = &self.strokes;
        *self.known.entry((std::ptr::from_ref(bound) as usize, cause)).or_insert_with(|| {
            matches!(bound, Bound::Untouched | Bound::Refer | Bound::AtMost(_) | Bound::Open)
                || strokes.iter().any(|stroke| breach(stroke, bound, cause, trade).is_some())
        })
    }
}
