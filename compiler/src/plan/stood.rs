//! For how long a dog stands at least, before anybody knows in which order.

use super::TaskKind;
use crate::measure::{Interval, Time};
use crate::names::trade::Trade;

/// How long the dog stands for these tasks at their slow end, whatever is changed between them and wherever a blade cools: no
/// more than [`super::Bears::stands`] of any order of them.
///
/// An order shares a task out among its groups in whole seconds and may lose one at each but the first; changes and stops only
/// add, to both ends and to the spread.
pub(super) fn at_least<'t>(tasks: impl Iterator<Item = (&'t TaskKind, Interval<Time>)>, trade: &Trade) -> Time {
    let stands = |kind: &TaskKind| match kind {
        TaskKind::Step { step, .. } => trade.step(*step).is_none_or(|s| s.stands),
        _ => true,
    };
    let (mut twice, mut squares) = (0_i64, 0_i64);
    for (kind, time) in tasks.filter(|(kind, _)| stands(kind)) {
        let lost = match kind {
            TaskKind::SetIn(works) => works.len(),
            TaskKind::Part { works, blends, .. } => works.len() + blends.len(),
            TaskKind::Step { .. } | TaskKind::Mats(_) => 0,
        };
        let lost = i64::try_from(lost).unwrap_or(i64::MAX);
        let spread = (time.high.0 - time.low.0 - lost).max(0);
        twice += time.low.0 + time.high.0 - 2 * lost;
        squares += spread * spread;
    }
    Time((twice + squares.isqrt() + 1) / 2)
}
