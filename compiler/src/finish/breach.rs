//! Whether a stroke breaks a bound.

use super::Stroke;
use crate::measure::Length;
use crate::names::trade::{Ban, Bound, Gap, ToolId, ToolKind, Trade};

/// What a stroke breaks, the gravest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Breach {
    /// Anything at all.
    Touch,
    /// Teeth too far apart.
    Gap,
    /// Closer than a floor.
    Closeness,
    /// Shorter than allowed.
    Short,
    /// A way that is ruled out.
    Way,
    /// A tool that is ruled out.
    Tool,
    /// Too many passes.
    Passes,
}

/// Whether a stroke breaks a bound, and how. Shape keeps are never breached here.
#[must_use]
pub fn breach(stroke: &Stroke, bound: &Bound, cause: Option<ToolId>, trade: &Trade) -> Option<Breach> {
    let tool = stroke.tool?;
    let kind = trade.tool(tool).map(|t| t.kind)?;
    // A ban on a blade also bars it under a comb; `only #10` doesn't let a comb over it pass.
    let under = |b: &Ban| matches!(b, Ban::Tool(_)) && stroke.over.is_some_and(|o| trade.names(*b, o));
    let named = |bans: &[Ban]| bans.iter().any(|b| trade.names(*b, tool) || under(b));
    match bound {
        Bound::NoCloser(floor, _) => stroke.closeness.is_some_and(|c| c < *floor).then_some(Breach::Closeness),
        Bound::NoCloserOverCause(classes) => {
            // Nobody said which tool it was: then no tool is known to be far enough from it.
            let floor = cause.and_then(|c| trade.classes_over(c, *classes)).unwrap_or(Length(i64::MAX));
            stroke.closeness.is_none_or(|c| c < floor).then_some(Breach::Closeness)
        }
        Bound::NoShorter(least) => {
            let cuts = !matches!(kind, ToolKind::Rake | ToolKind::Brush | ToolKind::Carder);
            // What nobody can say the length of isn't known to be long enough.
            (cuts && stroke.leaves.is_none_or(|l| l.low < *least)).then_some(Breach::Short)
        }
        // Teeth that nobody measured count as the widest.
        Bound::Gap(cap) => {
            stroke.gap.or(kind.on_clipper().then_some(Gap::Skip)).is_some_and(|g| g > *cap).then_some(Breach::Gap)
        }
        Bound::Untouched | Bound::Refer => Some(Breach::Touch),
        Bound::Never(bans) => named(bans).then_some(Breach::Tool),
        Bound::Only(bans) => (!bans.iter().any(|b| trade.names(*b, tool))).then_some(Breach::Tool),
        Bound::NeverDirection(way) => (stroke.direction == Some(*way)).then_some(Breach::Way),
        Bound::OnlyDirection(way) => stroke.direction.is_some_and(|d| d != *way).then_some(Breach::Way),
        Bound::Passes(most) => (stroke.passes > *most).then_some(Breach::Passes),
        Bound::AtMost(_)
        | Bound::First
        | Bound::Last
        | Bound::Open
        | Bound::AtStretch(_)
        | Bound::InAll(_)
        | Bound::Manner(_) => None,
    }
}
