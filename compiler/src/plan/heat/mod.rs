//! Heat on the order: where a blade is felt, swapped for a cool one, or left to cool.
//!
//! The order is made first and stays; here it is walked from its beginning, with every blade's warmth (`models/blade.rs`) and the
//! dose that skin has had (`models/skin.rs`) since the blade was put on. A blade is changed before the dose that skin bears, and
//! on thin skin before a share of it; it is felt before thin skin when it may be warmer than the hand. Of several ways that which
//! takes least time counts, and of equal ones that which stops between two strokes and not within one.
//!
//! On the safe side throughout: the hot end of the kit's lines, the slow end of the work's times, the quick end of pauses, and
//! skin that the blade never leaves. The check of the finished sheet reckons all of it anew (`verify/heat.rs`).

mod runs;
mod walk;

use super::{Body, Plan};
use crate::choices::Choices;
use crate::finish::Finishes;
use crate::measure::{Interval, Time};
use crate::names::trade::ToolId;

pub use runs::{Line, Moment, Run};

/// A stop for the blade's sake.
#[derive(Clone, Debug, PartialEq)]
pub struct Stop {
    /// At which group of the order.
    pub group: usize,
    /// At which line of the group's task.
    pub line: Line,
    /// How far into it: so many of so many parts; none of one is before it.
    pub part: (u32, u32),
    /// What is done.
    pub what: ForBlade,
    /// The blade.
    pub blade: ToolId,
    /// The comb that sits on it.
    pub comb: Option<ToolId>,
    /// How long it may have run by then since it was put on; where it is felt, by the end of what it is felt for.
    pub ran: Time,
    /// How warm it may be by then, in degrees Celsius: no warmer than this.
    pub warmth: i64,
    /// How long the stop takes.
    pub time: Interval<Time>,
}

/// What is done for a blade's sake.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ForBlade {
    /// Felt; and again after each of these times, if the work goes on for longer.
    Feel(Option<Time>),
    /// Swapped for a cooler one of its number.
    Swap,
    /// Left to cool: the kit has no other.
    Cool,
}

impl Plan {
    /// The run in which a stop is.
    #[must_use]
    pub fn run_at(&self, stop: &Stop) -> Option<&Run> {
        self.runs.iter().find_map(|moment| match moment {
            Moment::Run(run)
                if (run.group, run.line, run.blade, run.comb) == (stop.group, stop.line, stop.blade, stop.comb) =>
            {
                Some(run)
            }
            _ => None,
        })
    }
}

/// Places the stops and adds what they take to the tasks.
pub(super) fn place(plan: &mut Plan, choices: &Choices, body: &Body<'_>, finishes: &Finishes) {
    let Some(table) = walk::Table::of(choices, body.trade) else { return };
    let moments = runs::moments(plan, choices, body, finishes);
    let stops = walk::walk(&table, &moments);
    for stop in &stops {
        let task = plan.order.groups.get(stop.group).map(|g| g.task);
        if let Some(task) = task.and_then(|n| plan.tasks.get_mut(n)) {
            task.time = task.time + stop.time;
        }
    }
    plan.runs = moments;
    plan.stops = stops;
}
