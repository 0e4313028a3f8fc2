//! Blends: each where the later of its two sides is finished, by a tool that both sides bear.

use super::order::sites_of;
use super::{Among, BlendWork, Body, Task, TaskKind, meant};
use crate::choices::{BlendAsk, Choices};
use crate::finish::{Finish, Stroke, active_keeps};
use crate::joins::{Blend, blend_at, shortens};
use crate::measure::Interval;
use crate::names::sites::{Site, Sites};
use crate::names::trade::{Bound, Mark, MarkId, ToolId, ToolKind, Trade, Zone};

/// Whether a blend's own tool may come to a site: its keeps hold for a blend as for any other stroke.
fn blends_with(finish: &Finish, tool: Option<ToolId>, body: &Body<'_>) -> bool {
    let Some(tool) = tool else { return true };
    body.may.get((finish.site, tool), || may_come(finish, tool, body))
}

fn may_come(finish: &Finish, tool: ToolId, body: &Body<'_>) -> bool {
    let Body { trade, dog, choices, .. } = *body;
    // Points keep the shortest safe length here as everywhere.
    let shortest = trade.tool(tool).filter(|t| t.kind == ToolKind::Shears).and_then(|t| t.closeness);
    let hair = finish.fine.leaves.map(|l| l.low);
    if shortest.is_some_and(|s| hair.is_some_and(|h| h < s)) {
        return false;
    }
    let Some(stroke) = blend_stroke(&finish.fine, tool, trade) else { return true };
    let clips = trade.tool(tool).is_some_and(|t| t.kind.on_clipper());
    active_keeps(choices, trade, dog, finish.site).iter().all(|keep| {
        // Skin that a finding promises so many passes isn't gone over once more for the look.
        let once_more = matches!(keep.bound(), Bound::Passes(most) if clips && finish.fine.passes + 1 > *most);
        (keep.is_for_every_dog() || !once_more) && keep.breach(&stroke, trade).is_none()
    })
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

/// A blend is made where the later of its two sides is finished.
pub(super) fn blends(parts: &mut [Task], body: &Body<'_>, finishes: Among<'_>) {
    let Body { trade, choices, .. } = *body;
    let sites: Vec<Sites> = parts.iter().map(sites_of).collect();
    for number in body.blends.get_or_init(|| meant_here(body)) {
        let Some(blend) = choices.blends.get(*number) else { continue };
        let tool = blend.tool;
        // A motion is made with a tool that is made for it, or with what cuts on one of its sides; it comes only where one of those
        // tools may.
        let hands: Vec<ToolId> = match (tool, freehand(blend.by.as_deref(), choices, trade)) {
            (Some(tool), _) => vec![tool],
            (None, Some(tools)) => tools.collect(),
            (None, None) => {
                let strokes = (blend.from | blend.into).iter().filter_map(|s| finishes.at(s)).flat_map(clippers(trade));
                let mut hands: Vec<ToolId> = strokes.collect();
                hands.sort_unstable();
                hands.dedup();
                hands
            }
        };
        let worked = |set: Sites| -> Sites {
            let may = |f: &Finish| hands.iter().any(|t| blends_with(f, Some(*t), body));
            set.iter().filter(|s| finishes.at(*s).is_some_and(|f| shortens(f, trade) && may(f))).collect()
        };
        let (from, into) = (worked(blend.from), worked(blend.into));
        if from.is_empty() || into.is_empty() {
            continue;
        }
        let last = sites.iter().rposition(|s| s.meets(from | into));
        if let Some(last) = last
            && let Some(TaskKind::Part { blends, .. }) = parts.get_mut(last).map(|t| &mut t.kind)
        {
            blends.extend(ways(*number, (from, into), body, finishes));
        }
    }
}

/// The blends that are meant for this dog, by their numbers. A nearer text that blends the same parts replaces a base's way.
fn meant_here(body: &Body<'_>) -> Vec<usize> {
    let Body { dog, choices, .. } = *body;
    let replaced = |blend: &BlendAsk| {
        choices
            .blends
            .iter()
            .any(|other| other.level > blend.level && blend.from.within(other.from) && blend.into.within(other.into))
    };
    let here = |blend: &BlendAsk| {
        meant(blend.finding, dog)
            && blend.from.iter().next().is_none_or(|s| blend.cond.holds(dog, s))
            && !replaced(blend)
    };
    choices.blends.iter().enumerate().filter(|(_, blend)| here(blend)).map(|(number, _)| number).collect()
}

/// What cuts on a clipper in a finish, the fine stroke first.
fn clippers(trade: &Trade) -> impl Fn(&Finish) -> Vec<ToolId> + '_ {
    |finish| {
        let strokes = [&finish.fine].into_iter().chain(finish.rough.iter());
        strokes.filter(|s| s.kind(trade).is_some_and(ToolKind::on_clipper)).filter_map(|s| s.tool).collect()
    }
}

/// A blend by the ways in which it is made at its borders: what is in the hand, the rungs, the landmark. What touches no part
/// of the other side goes with the first of them, where that may come.
fn ways(ask: usize, (from, into): (Sites, Sites), body: &Body<'_>, finishes: Among<'_>) -> Vec<BlendWork> {
    let Body { trade, dog, choices, .. } = *body;
    let Some(blend) = choices.blends.get(ask) else { return Vec::new() };
    let mut all: Vec<BlendWork> = Vec::new();
    let (mut alone_from, mut alone_into) = (from, into);
    for x in from.iter() {
        for y in into.iter().filter(|y| *y != x) {
            let (Some((a, side)), Some((b, other))) = (trade.zone_of(x), trade.zone_of(y)) else { continue };
            let beside = a.borders.iter().filter_map(|id| trade.zone(*id)).any(|z| z.name == b.name);
            if !beside || side.zip(other).is_some_and(|(s, o)| s != o) {
                continue;
            }
            let (Some(p), Some(q)) = (finishes.at(x), finishes.at(y)) else { continue };
            let found = || blend_at(choices, trade, dog, (a, p), (b, q), blend);
            let Some(at) = body.beside.get((ask, x, y), found) else { continue };
            (alone_from, alone_into) = (alone_from - Sites::one(x), alone_into - Sites::one(y));
            let rungs = at.rungs.clone().unwrap_or_default();
            let hand = blend.tool.or_else(|| in_hand(&at, body, finishes, blend.by.as_deref()));
            let landmark = landmark(trade, a, b);
            let same = |w: &&mut BlendWork| w.rungs == rungs && w.hand == hand;
            match all.iter_mut().find(same) {
                Some(work) => {
                    work.from = work.from | Sites::one(x);
                    work.into = work.into | Sites::one(y);
                    work.longer = work.longer | Sites::one(at.longer);
                    // A line has one landmark, or none.
                    work.landmark = work.landmark.filter(|l| Some(*l) == landmark);
                }
                None => all.push(BlendWork {
                    ask,
                    from: Sites::one(x),
                    into: Sites::one(y),
                    tool: blend.tool,
                    hand,
                    rungs,
                    longer: Sites::one(at.longer),
                    landmark,
                    time: Interval::default(),
                }),
            }
        }
    }
    match all.first_mut() {
        Some(first) => {
            let hand = first.hand;
            let may = |site: &Site| finishes.at(*site).is_some_and(|f| blends_with(f, hand, body));
            first.from = first.from | alone_from.iter().filter(may).collect();
            first.into = first.into | alone_into.iter().filter(may).collect();
        }
        None => all.push(BlendWork {
            ask,
            from,
            into,
            tool: blend.tool,
            hand: blend.tool,
            rungs: Vec::new(),
            longer: Sites::NONE,
            landmark: None,
            time: Interval::default(),
        }),
    }
    all
}

/// The tool in the hand for a motion: what blends so by free hand, or else the shorter side's blade or comb, which runs out
/// into the longer; the longer side's where that one may not come to both.
fn in_hand(at: &Blend, body: &Body<'_>, finishes: Among<'_>, by: Option<&str>) -> Option<ToolId> {
    let Body { trade, choices, .. } = *body;
    let (short, long) = (finishes.at(at.shorter)?, finishes.at(at.longer)?);
    let may = |tool: &ToolId| [short, long].iter().all(|f| blends_with(f, Some(*tool), body));
    if let Some(mut tools) = freehand(by, choices, trade) {
        return tools.find(may);
    }
    let strokes = clippers(trade);
    strokes(short).into_iter().chain(strokes(long)).find(may)
}

/// The tools of the kit with which a motion is made by hand; none if it is made with what is on the clipper.
fn freehand<'c>(
    by: Option<&str>,
    choices: &'c Choices,
    trade: &'c Trade,
) -> Option<impl Iterator<Item = ToolId> + use<'c>> {
    let motion = trade.index.manners.get(by?).copied()?;
    let made = move |t: &ToolId| trade.tool(*t).is_some_and(|t| t.blends == Some(motion));
    trade.manner(motion).filter(|m| m.freehand).map(|_| choices.kit.iter().copied().filter(made))
}

/// The mark from which a blend of two neighbours starts.
fn landmark(trade: &Trade, a: &Zone, b: &Zone) -> Option<MarkId> {
    let (a, b) = (trade.zone_called(&a.name)?, trade.zone_called(&b.name)?);
    let marks = |mark: &Mark| mark.parts.iter().any(|pair| *pair == (a, b) || *pair == (b, a));
    let at = trade.marks.iter().position(|m| m.landmark.is_some() && marks(m))?;
    u16::try_from(at).ok().map(MarkId)
}
