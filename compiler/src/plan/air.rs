//! Dryers: air that is too hot hurts as metal does, and the dog can't step away from it. A hand is in the stream while one runs.

use super::{Plan, TaskKind};
use crate::measure::{Interval, Time};
use crate::names::trade::{ToolId, ToolKind, Trade};

/// A dryer that runs in a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Air {
    /// The step, by its number in the plan.
    pub task: usize,
    /// The dryer.
    pub dryer: ToolId,
    /// How often a hand is held into the stream where it meets the dog.
    pub every: Option<Interval<Time>>,
}

impl Plan {
    /// The dryers that run, in working order. A towel has no rate and no air.
    pub fn airs<'a>(&'a self, trade: &'a Trade) -> impl Iterator<Item = Air> + 'a {
        let every = trade.step_called("feel-air").and_then(|step| step.every);
        self.tasks.iter().enumerate().filter_map(move |(task, of)| {
            let TaskKind::Step { step, .. } = &of.kind else { return None };
            let dryer = trade.step(*step)?.uses?;
            let runs = trade.tool(dryer).is_some_and(|tool| tool.kind == ToolKind::Dryer && tool.rate.is_some());
            runs.then_some(Air { task, dryer, every })
        })
    }
}
