//! A half drawing made whole: its other half is the same, turned.

use super::drawing::{Facing, Label, Line, Stroke, Turn, View};
use kurbo::{Point, Vec2};
use smol_str::SmolStr;

/// Makes a half drawing whole: points off the middle get a twin (`name'`), strokes that end on it run through it smoothly.
pub(super) fn mirror(view: &mut View) {
    let Facing::Both(middle, _) = view.facing else { return };
    let on = |p: Point| (p.x - middle).abs() < 1e-9;
    let flip = |p: Point| Point::new(2.0 * middle - p.x, p.y);
    let axis: std::collections::BTreeSet<SmolStr> =
        view.points.iter().filter(|(_, p)| on(**p)).map(|(n, _)| n.clone()).collect();
    let twin = |name: &SmolStr| if axis.contains(name) { name.clone() } else { SmolStr::from(format!("{name}'")) };
    let twins: Vec<(SmolStr, Point)> =
        view.points.iter().filter(|(_, p)| !on(**p)).map(|(n, p)| (twin(n), flip(*p))).collect();
    view.points.extend(twins);
    for layer in &mut view.layers {
        let mut strokes = Vec::new();
        for stroke in &layer.strokes {
            let mut there = stroke.clone();
            if stroke.through.iter().all(|(p, _)| axis.contains(p)) {
                strokes.push(there);
                continue;
            }
            let back: Vec<(SmolStr, bool)> = stroke.through.iter().rev().map(|(p, c)| (twin(p), *c)).collect();
            let starts = stroke.through.first().is_some_and(|(p, _)| axis.contains(p));
            let ends = stroke.through.last().is_some_and(|(p, _)| axis.contains(p));
            if ends {
                there.through.extend(back.into_iter().skip(1));
                strokes.push(there);
            } else if starts {
                let mut through = back;
                through.pop();
                through.append(&mut there.through);
                strokes.push(Stroke { through, ..stroke.clone() });
            } else {
                strokes.push(there);
                let through = back.into_iter().rev().collect();
                strokes.push(Stroke { name: SmolStr::from(format!("{}'", stroke.name)), through, ..stroke.clone() });
            }
        }
        layer.strokes = strokes;
        let labels: Vec<Label> = layer
            .labels
            .iter()
            .filter(|l| !on(l.at))
            .map(|l| Label { at: flip(l.at), side: l.side.other(), ..l.clone() })
            .collect();
        layer.labels.extend(labels);
        let eyes: Vec<(Point, f64)> = layer.eyes.iter().filter(|(p, _)| !on(*p)).map(|(p, r)| (flip(*p), *r)).collect();
        layer.eyes.extend(eyes);
    }
    let flow: Vec<(Point, Vec2)> =
        view.flow.iter().filter(|(p, _)| !on(*p)).map(|(p, d)| (flip(*p), Vec2::new(-d.x, d.y))).collect();
    view.flow.extend(flow);
    let turns: Vec<Turn> = view
        .turns
        .iter()
        .filter_map(|turn| {
            let line = match &turn.line {
                Line::Whorl(p) if !on(*p) => Line::Whorl(flip(*p)),
                Line::Spot(p) if !on(*p) => Line::Spot(flip(*p)),
                Line::Meeting(through) if !through.iter().all(|p| axis.contains(p)) => {
                    Line::Meeting(through.iter().map(&twin).collect())
                }
                _ => return None,
            };
            Some(Turn { line, side: turn.side.other(), ..turn.clone() })
        })
        .collect();
    view.turns.extend(turns);
}
