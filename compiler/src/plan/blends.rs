//! Blends: each where the later of its two sides is finished, by a tool that both sides bear.

use super::order::sites_of;
use super::{BlendWork, Task, TaskKind, meant};
use crate::choices::Choices;
use crate::finish::{ActiveKeep, Breach, Finish, Finishes, Stroke, active_keeps, breach};
use crate::names::card::Dog;
use crate::names::sites::Sites;
use crate::names::trade::{ToolId, ToolKind, Trade};

/// Whether a blend's own tool may come to a site: its keeps hold for a blend as for any other stroke.
fn blends_with(finish: &Finish, tool: Option<ToolId>, choices: &Choices, trade: &Trade, dog: &Dog) -> bool {
    let Some(tool) = tool else { return true };
    // Points keep the shortest safe length here as everywhere.
    let shortest = trade.tool(tool).filter(|t| t.kind == ToolKind::Shears).and_then(|t| t.closeness);
    let hair = finish.fine.leaves.map(|l| l.low);
    if shortest.is_some_and(|s| hair.is_some_and(|h| h < s)) {
        return false;
    }
    active_keeps(choices, trade, dog, finish.site).iter().all(|keep| blend_breach(finish, tool, keep, trade).is_none())
}

/// Whether a finish takes length off: what is left, raked or carded has no step to blend.
#[must_use]
pub fn shortens(finish: &Finish, trade: &Trade) -> bool {
    finish.fine.kind(trade).is_some_and(|k| !matches!(k, ToolKind::Rake | ToolKind::Brush | ToolKind::Carder))
}

/// A blend's own tool where a site is finished by this stroke.
#[must_use]
pub fn blend_stroke(fine: &Stroke, tool: ToolId, trade: &Trade) -> Option<Stroke> {
    let declared = trade.tool(tool)?;
    let hair = fine.leaves.map(|l| l.low);
    let closeness = match declared.kind {
        ToolKind::Shears | ToolKind::Thinners => hair.max(declared.closeness),
        _ => declared.closeness,
    };
    Some(Stroke {
        tool: Some(tool),
        over: None,
        direction: None,
        passes: 1,
        closeness,
        gap: declared.gap,
        ..fine.clone()
    })
}

/// What a blend's own tool breaks where a site is finished so.
#[must_use]
pub fn blend_breach(finish: &Finish, tool: ToolId, keep: &ActiveKeep<'_>, trade: &Trade) -> Option<Breach> {
    let stroke = blend_stroke(&finish.fine, tool, trade)?;
    breach(&stroke, keep.bound(), keep.fact().and_then(|f| f.after), trade)
}

/// A blend is made where the later of its two sides is finished.
pub(super) fn blends(parts: &mut [Task], choices: &Choices, trade: &Trade, dog: &Dog, finishes: &Finishes) {
    let sites: Vec<Sites> = parts.iter().map(sites_of).collect();
    for (number, blend) in choices.blends.iter().enumerate() {
        if !meant(blend.finding, dog) || !blend.from.iter().next().is_none_or(|s| blend.cond.holds(dog, s)) {
            continue;
        }
        // A nearer text that blends the same parts replaces a base's way.
        let replaced = choices
            .blends
            .iter()
            .any(|other| other.level > blend.level && blend.from.within(other.from) && blend.into.within(other.into));
        let tool = blend.by.as_ref().and_then(|name| trade.index.tools.get(name)).copied();
        // A motion is made with what cuts on one of its sides; it comes only where one of those tools may.
        let hands: Vec<ToolId> = match tool {
            Some(tool) => vec![tool],
            None => {
                let strokes = (blend.from | blend.into).iter().filter_map(|s| finishes.at(s));
                let strokes = strokes.flat_map(|f| f.rough.iter().chain([&f.fine]));
                let clippers = strokes.filter(|s| s.kind(trade).is_some_and(ToolKind::on_clipper));
                let mut hands: Vec<ToolId> = clippers.filter_map(|s| s.tool).collect();
                hands.sort_unstable();
                hands.dedup();
                hands
            }
        };
        let worked = |set: Sites| -> Sites {
            let may = |f: &Finish| hands.iter().any(|t| blends_with(f, Some(*t), choices, trade, dog));
            set.iter().filter(|s| finishes.at(*s).is_some_and(|f| shortens(f, trade) && may(f))).collect()
        };
        let (from, into) = (worked(blend.from), worked(blend.into));
        if from.is_empty() || into.is_empty() {
            continue;
        }
        let last = sites.iter().rposition(|s| s.meets(from | into));
        if let (false, Some(last)) = (replaced, last)
            && let Some(TaskKind::Part { blends, .. }) = parts.get_mut(last).map(|t| &mut t.kind)
        {
            blends.push(BlendWork { ask: number, from, into, tool });
        }
    }
}
