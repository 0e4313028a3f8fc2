//! Tools that were at a place that soils them: they are cleaned before they go to one that wants it.

use super::make::Made;
use crate::finish::Stroke;
use crate::names::card::Dog;
use crate::names::sites::Sites;
use crate::names::trade::{Hygiene, ToolId, Trade};
use crate::plan::{BlendWork, TaskKind, Work, clipped_off};

/// The tools that are to be cleaned, what soiled them, and whether that was something that goes from place to place.
#[derive(Clone, Debug, Default)]
pub struct Soiled(Vec<(ToolId, Sites, bool)>);

impl Soiled {
    /// Goes with some tools to some places; where they must be cleaned first, what soiled them.
    pub(super) fn go(&mut self, trade: &Trade, dog: &Dog, tools: &[ToolId], sites: Sites) -> Option<Sites> {
        let ill = dog.soiling(trade);
        let clean = trade.hygiene_at(sites, Hygiene::Clean);
        let is_due =
            |(tool, at, ill): &&(ToolId, Sites, bool)| tools.contains(tool) && (clean || *ill) && !sites.within(*at);
        let due = self.0.iter().find(is_due).map(|(_, at, _)| *at);
        if due.is_some() {
            self.0.retain(|(tool, _, _)| !tools.contains(tool));
        }
        for (soiling, ill) in [(trade.of_hygiene(sites, Hygiene::Soils), false), (sites & ill, true)] {
            if !soiling.is_empty() {
                self.0.extend(tools.iter().map(|tool| (*tool, soiling, ill)));
            }
        }
        due
    }

    /// The same with all that is done in a task.
    pub(super) fn through(&mut self, made: &Made, task: &TaskKind) {
        let Made { trade, dog, choices, .. } = made;
        let (works, blends): (&[Work], &[BlendWork]) = match task {
            TaskKind::Part { works, blends, .. } => (works, blends),
            TaskKind::SetIn(works) => (works, &[]),
            TaskKind::Mats(mats) => {
                let off = mats.iter().filter_map(|n| clipped_off(dog.mats.get(*n)?, choices, trade, dog, made.whole()));
                for (sites, stroke) in off {
                    self.go(trade, dog, &of_stroke(stroke), sites);
                }
                return;
            }
            TaskKind::Step { .. } => return,
        };
        for work in works {
            self.go(trade, dog, &of_stroke(&work.stroke), work.sites);
        }
        for blend in blends {
            self.go(trade, dog, &of_blend(blend), blend.from | blend.into);
        }
    }
}

/// The tools of a stroke: the blade beneath a comb is one of them.
pub(super) fn of_stroke(stroke: &Stroke) -> Vec<ToolId> {
    [stroke.tool, stroke.over].into_iter().flatten().collect()
}

/// The tools of a blend.
pub(super) fn of_blend(blend: &BlendWork) -> Vec<ToolId> {
    let rungs = blend.rungs.iter().flat_map(|r| [Some(r.tool), r.over]);
    rungs.chain([blend.hand.filter(|_| blend.rungs.is_empty())]).flatten().collect()
}
