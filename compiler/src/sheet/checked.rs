//! For what the dog stands, and when it rests, as plain data for the independent check.

use super::make::Part;
use crate::names::trade::Trade;
use crate::plan::{Plan, TaskKind};
use crate::verify;

/// For what the dog stands, and when it rests.
pub(super) fn standing(trade: &Trade, plan: &Plan, part: &Part) -> verify::Standing {
    let groups = plan.order.groups.iter().zip(plan.group_times()).enumerate();
    let piece =
        |(number, (group, time)): (usize, (&crate::plan::Group, crate::measure::Interval<crate::measure::Time>))| {
            let step = match plan.tasks.get(group.task).map(|t| &t.kind) {
                Some(TaskKind::Step { step, .. }) => trade.step(*step).map(|s| s.name.clone()),
                _ => None,
            };
            let rests = || plan.bears.rests.iter().filter(|r| r.group == number);
            verify::Piece {
                step,
                task: u32::try_from(group.task).unwrap_or(u32::MAX),
                low: time.low.0,
                high: time.high.0,
                rested: rests().any(|r| r.times == 0),
                within: rests().map(|r| u32::try_from(r.times).unwrap_or(0)).sum(),
            }
        };
    let (stretch_before, all_before) = match part {
        Part::Rest(without) => (without.at_stretch.0, without.stood.0),
        Part::Whole | Part::Today => (0, 0),
    };
    verify::Standing {
        pieces: groups.map(piece).collect(),
        rest: plan.bears.limits.rest.map_or(0, |(_, time)| time.low.0),
        stretch_before,
        all_before,
        one_visit: !matches!(part, Part::Whole),
    }
}
