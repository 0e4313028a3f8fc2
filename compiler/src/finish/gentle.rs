//! The least change that makes a stroke safe.

use super::Stroke;
use super::pick::{instead, tool_words};
use crate::choices::Choices;
use crate::measure::Length;
use crate::names::card::Dog;
use crate::names::sites::Site;
use crate::names::trade::{Direction, Gap, Skin, ToolId, ToolKind, Trade};

/// How far a stroke is from the written one: kind of tool, turn of direction, closeness, length, and the tool itself.
pub type Change = (usize, usize, Length, Length, ToolId);

/// Kinds of tool from the one that was written to those that come next.
const LADDER: &[ToolKind] =
    &[ToolKind::Blade, ToolKind::Comb, ToolKind::Thinners, ToolKind::Shears, ToolKind::Carder, ToolKind::Hand];

/// The least change to `written` that `allowed` lets pass: never closer, never shorter, and in the teeth never wider than
/// what was written or than what the skin bears.
#[must_use]
pub fn gentlest(
    written: &Stroke,
    choices: &Choices,
    trade: &Trade,
    dog: &Dog,
    site: Site,
    allowed: &dyn Fn(&Stroke) -> bool,
    floor: Length,
) -> Option<Stroke> {
    let mut best: Option<(Change, Stroke)> = None;
    options(written, choices, trade, dog, site, floor, &mut |rank, stroke| {
        if best.as_ref().is_none_or(|(b, _)| rank < *b) && allowed(&stroke) {
            best = Some((rank, stroke));
        }
    });
    best.map(|(_, stroke)| stroke)
}

/// Every stroke of the kit that is as gentle as `written`, in no order; freehand ones leave at least `floor`.
pub fn options(
    written: &Stroke,
    choices: &Choices,
    trade: &Trade,
    dog: &Dog,
    site: Site,
    floor: Length,
    take: &mut dyn FnMut(Change, Stroke),
) {
    let coat = dog.coat_at(site).and_then(|c| trade.coat(c));
    let bears = bears(trade, site);
    let Some(kind) = written.kind(trade) else { return };
    let low = written.leaves.map(|l| l.low);
    let ways: &[Option<Direction>] = match written.direction {
        Some(Direction::With) => &[Some(Direction::With)],
        Some(Direction::Across) => &[Some(Direction::Across), Some(Direction::With)],
        Some(Direction::Reverse) => &[Some(Direction::Reverse), Some(Direction::Across), Some(Direction::With)],
        None => &[None],
    };
    for &id in &choices.kit {
        let Some(tool) = trade.tool(id) else { continue };
        let Some(rung) = rung(kind, tool.kind) else { continue };
        if !tool.does_work(written.verb) && tool.kind == kind && !tool.does_work(grammar::tree::Verb::Clip) {
            continue;
        }
        let freehand = is_freehand(tool.kind);
        let to = freehand.then(|| {
            let safe = tool.closeness.unwrap_or(Length(0));
            low.max(written.closeness).unwrap_or(Length(0)).max(floor).max(safe)
        });
        // Past the last class there is no length to leave it at.
        if to.is_some_and(|to| to.0 == i64::MAX) {
            continue;
        }
        for (turn, way) in ways.iter().enumerate() {
            let fewer = (written.passes > 1).then_some(1);
            for passes in std::iter::once(written.passes).chain(fewer) {
                let asked = Stroke { passes, ..written.clone() };
                let way = if freehand { None } else { way.or(Some(Direction::With)) };
                let Some(stroke) = instead(id, way, to, &asked, choices, trade, coat) else { continue };
                let gentler = stroke.closeness >= written.closeness
                    && (stroke.gap.is_none() || stroke.gap <= written.gap || stroke.gap <= Some(bears))
                    && low.is_none_or(|low| stroke.leaves.is_none_or(|l| l.low >= low));
                if !gentler {
                    continue;
                }
                let rank =
                    (rung, turn, stroke.closeness.unwrap_or(Length(0)), stroke.leaves.map_or(Length(0), |l| l.low), id);
                take(rank, stroke);
            }
        }
    }
}

/// Whether the hand, not the tool, decides what such a tool leaves.
#[must_use]
pub const fn is_freehand(kind: ToolKind) -> bool {
    matches!(kind, ToolKind::Thinners | ToolKind::Shears | ToolKind::Carder | ToolKind::Hand)
}

/// How wide the teeth may be that this skin bears whatever its dog has: a raise may go as far, and no wider.
#[must_use]
pub fn bears(trade: &Trade, site: Site) -> Gap {
    match trade.zone_of(site).map_or(Skin::Fold, |(zone, _)| zone.skin) {
        Skin::Flat => Gap::Skip,
        Skin::Thin => Gap::Medium,
        Skin::Fold | Skin::Edge => Gap::Fine,
    }
}

/// How far a kind of tool is from the written one; none if it can't stand in for it.
fn rung(written: ToolKind, other: ToolKind) -> Option<usize> {
    if written == other {
        return Some(0);
    }
    // What only took dead coat out isn't replaced by what cuts.
    if matches!(written, ToolKind::Rake | ToolKind::Brush | ToolKind::Carder | ToolKind::Knife | ToolKind::Hand) {
        return None;
    }
    let at = |kind| LADDER.iter().position(|k| *k == kind);
    let (from, to) = (at(written).or(Some(0))?, at(other)?);
    Some(if to > from { to - from } else { LADDER.len() + from - to })
}

/// A stroke as an author would write it, without its zones.
#[must_use]
pub fn stroke_words(stroke: &Stroke, trade: &Trade) -> String {
    let mut words = stroke.verb.as_str().to_owned();
    if let Some(tool) = stroke.tool.and_then(|t| trade.tool(t)) {
        if matches!(tool.kind, ToolKind::Shears | ToolKind::Thinners)
            && let Some(leaves) = stroke.leaves.filter(|l| l.low == l.high)
        {
            words = format!("{words} to {}", leaves.low);
        }
        // As a text has it: `thinners 46` would be thinners and a number.
        let counted = tool.kind != ToolKind::Comb && tool.name.ends_with(|c: char| c.is_ascii_digit());
        let name = if counted { tool.name.to_string() } else { tool_words(tool) };
        words = format!("{words} with {name}");
    }
    match stroke.direction {
        Some(Direction::With) => words.push_str(" with the coat"),
        Some(Direction::Reverse) => words.push_str(" in reverse"),
        Some(Direction::Across) => words.push_str(" across"),
        None => {}
    }
    words
}
