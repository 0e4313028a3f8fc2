//! How long blends take: the band beside each border, at the rate of what blends it.
//!
//! A band is as long as the border, from the drawing at this dog's measures, and as wide as the motion runs along the stroke
//! (the middle of `along` in the basics). With rungs it is gone over once a rung. Limits: borders that no view shows take no time here.

use super::{BlendWork, Body, Task, TaskKind, at_rate};
use crate::atlas;
use crate::joins::rooms;
use crate::measure::{Interval, MM, Time};
use crate::names::trade::{ToolId, ZoneId};
use std::collections::BTreeMap;

/// Lengths of borders in millimetres, by the lower zone and the higher.
pub(super) type Borders = BTreeMap<(ZoneId, ZoneId), f64>;

/// Sets the time of each blend and adds it to that of its part.
pub(super) fn times(parts: &mut [Task], body: &Body<'_>) {
    let blends = |task: &Task| matches!(&task.kind, TaskKind::Part { blends, .. } if !blends.is_empty());
    if !parts.iter().any(blends) {
        return;
    }
    let Some(borders) = body.borders.get_or_init(|| borders(body)) else { return };
    for task in parts {
        let TaskKind::Part { blends, .. } = &mut task.kind else { continue };
        for blend in blends {
            let rungs = blend.rungs.iter().map(|rung| rung.tool).collect();
            let key = (blend.ask, blend.from, blend.into, blend.hand, rungs);
            blend.time = body.bands.get(key, || time(blend, body, borders));
            task.time = task.time + blend.time;
        }
    }
}

/// The borders of this dog; none if nobody weighed it.
fn borders(body: &Body<'_>) -> Option<Borders> {
    let drawing = atlas::drawing();
    let build = body.dog.build.as_deref().unwrap_or("square");
    let height = body.dog.height.or_else(|| rooms().height(build, body.dog.weight?))?;
    #[allow(clippy::cast_precision_loss)]
    let height = height.0 as f64 / MM as f64;
    let all = atlas::borders_of(&atlas::Figure::of(body.dog, drawing));
    Some(all.iter().filter_map(|b| Some(((b.a, b.b), b.length? * height))).collect())
}

fn time(blend: &BlendWork, body: &Body<'_>, borders: &Borders) -> Interval<Time> {
    let Body { trade, choices, .. } = *body;
    let named = choices.blends.get(blend.ask).and_then(|b| b.by.as_ref()).and_then(|by| trade.index.manners.get(by));
    let tool = |id: ToolId| trade.tool(id);
    let motion = named.copied().or_else(|| blend.hand.and_then(tool).and_then(|t| t.blends));
    let Some(along) = motion.and_then(|m| trade.manner(m)).and_then(|m| m.along) else { return Interval::default() };
    let sites: Vec<_> = blend.from.iter().flat_map(|x| blend.into.iter().map(move |y| (x, y))).collect();
    let mut long = 0.0;
    for (x, y) in sites {
        let (Some((a, side)), Some((b, other))) = (trade.zone_of(x), trade.zone_of(y)) else { continue };
        // A border of two zones of the middle is one; else there is one a side.
        if side.zip(other).is_some_and(|(s, o)| s != o) {
            continue;
        }
        let (Some(a), Some(b)) = (trade.zone_called(&a.name), trade.zone_called(&b.name)) else { continue };
        long += borders.get(&(a.min(b), a.max(b))).copied().unwrap_or_default();
    }
    // How wide a band is taken is one hand's way; how fast, differs from hand to hand.
    #[allow(clippy::cast_precision_loss)]
    let wide = along.middle().0 as f64 / MM as f64;
    let tools: Vec<ToolId> = match blend.rungs.as_slice() {
        [] => blend.hand.into_iter().collect(),
        rungs => rungs.iter().map(|r| r.tool).collect(),
    };
    let rates = tools.into_iter().filter_map(tool).filter_map(|t| t.rate);
    rates.map(|rate| at_rate(long * wide, rate)).sum()
}
