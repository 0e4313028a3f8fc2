//! The room for a blend, from the drawing: the text of `recipes/prelude/atlas/room.table`.
//!
//! A flat view can only make a run too short, never too long: a croup seen from behind is a thin strip. So each zone runs as
//! far from a border as the view says that shows it longest, and as far as the ear, tail or sex that gives it most. Rules read
//! the table ([`crate::joins`]) and never the drawing, whose numbers aren't whole.

use super::body::{Body, Figure, Part};
use super::drawing::{Drawing, Kind};
use super::map::{Face, Map, inside};
use super::measures::Measures;
use crate::measure::Weight;
use crate::names::card::Dog;
use crate::names::trade::{Sex, Trade, ZoneId};
use kurbo::{ParamCurve, ParamCurveDeriv, Point, Vec2};
use smol_str::SmolStr;
use std::collections::BTreeMap;
use std::f64::consts::FRAC_PI_2;
use std::fmt::Write as _;

/// The text of the table: the withers by weight, then each build's borders with how far their zones run from them.
///
/// Heights follow `H = h · (W / w)^(1/n)` ([`Measures::of`]), in whole millimetres at weights so close that a straight line
/// between two of them is off by less than a millimetre and a half.
#[must_use]
pub fn table(drawing: &Drawing, trade: &Trade) -> String {
    let mut text = String::new();
    let builds: Vec<&str> = drawing.weighs.iter().map(|(b, ..)| b.as_str()).collect();
    for grams in weights() {
        let _ = write!(text, "height {}", Weight(grams));
        for build in &builds {
            let dog = Dog { weight: Some(Weight(grams)), build: Some((*build).into()), ..Dog::default() };
            let _ = write!(text, "  {build} {:.0} mm", Measures::of(&dog, drawing).height);
        }
        text.push('\n');
    }
    for build in builds {
        let mut all: BTreeMap<(ZoneId, ZoneId), (f64, f64)> = BTreeMap::new();
        for figure in figures(drawing, build) {
            for (border, (a, b)) in runs(drawing, trade, &figure) {
                let most = all.entry(border).or_default();
                *most = (most.0.max(a), most.1.max(b));
            }
        }
        text.push('\n');
        for ((a, b), (of_a, of_b)) in all {
            let (Some(a), Some(b)) = (trade.zone(a), trade.zone(b)) else { continue };
            let _ = writeln!(text, "{build} {} {} {:.1} % {:.1} %", a.name, b.name, of_a * 100.0, of_b * 100.0);
        }
    }
    text
}

/// From the smallest dog that is groomed to the heaviest that a card may say, each about an eighth over the last, in grams.
/// Toy dogs begin at a kilogram (common practice, no source).
fn weights() -> Vec<i64> {
    let mut all = vec![1000];
    while let Some(last) = all.last().copied().filter(|w| *w < 120_000) {
        all.push((last + last / 8) / 100 * 100 + 100);
    }
    all
}

/// A dog with each of the ears, and a bitch with each of the tails.
fn figures(drawing: &Drawing, build: &str) -> Vec<Figure> {
    let first = |kind| drawing.variants(kind).first().copied().cloned().unwrap_or_default();
    let (ear, tail) = (first("ears"), first("tail"));
    // Shares don't depend on the size.
    let measures = Measures { build: build.into(), height: 500.0, girth: 1.0 };
    let figure = |ears: &SmolStr, tail: &SmolStr, sex| Figure {
        measures: measures.clone(),
        ears: ears.clone(),
        tail: tail.clone(),
        sex: Some(sex),
    };
    let dogs = drawing.variants("ears").into_iter().map(|ears| figure(ears, &tail, Sex::Dog));
    let bitches = drawing.variants("tail").into_iter().map(|tail| figure(&ear, tail, Sex::Bitch));
    dogs.chain(bitches).collect()
}

/// How far the two zones of each border run away from it on one figure, over its height at the withers, the lower zone first.
/// Each is the largest that any view shows.
#[must_use]
pub fn runs(drawing: &Drawing, trade: &Trade, figure: &Figure) -> BTreeMap<(ZoneId, ZoneId), (f64, f64)> {
    let body = Body::whole(drawing, trade, figure, &mut Vec::new());
    let mut all: BTreeMap<(ZoneId, ZoneId), (f64, f64)> = BTreeMap::new();
    for placed in &body.views {
        let over = placed.units * figure.measures.height;
        for part in &placed.parts {
            for (f, g) in part.map.borders(Kind::Seam).into_keys() {
                let (Some(a), Some(b)) = (zone_of(trade, part, f), zone_of(trade, part, g)) else { continue };
                if a == b {
                    continue;
                }
                let ((a, f), (b, g)) = if a < b { ((a, f), (b, g)) } else { ((b, g), (a, f)) };
                let of = |zone, from, beyond| {
                    run(&part.map, from, beyond, &faces(trade, part, zone), across(drawing, trade, zone)) / over
                };
                let seen = all.entry((a, b)).or_default();
                *seen = (seen.0.max(of(a, f, g)), seen.1.max(of(b, g, f)));
            }
        }
        // An ear or a tail is a layer of its own: its border with the body is where the two come nearest.
        for (a, b, _) in &placed.view.attach {
            let (Some(a), Some(b)) = (trade.zone_called(a), trade.zone_called(b)) else { continue };
            let (a, b) = (a.min(b), a.max(b));
            let all_of = |zone| -> Vec<&Face> { placed.parts.iter().flat_map(|p| faces(trade, p, zone)).collect() };
            let (of_a, of_b) = (all_of(a), all_of(b));
            let off =
                |own: &[&Face], other: &[&Face], zone| from_nearest(own, other, across(drawing, trade, zone)) / over;
            let seen = all.entry((a, b)).or_default();
            *seen = (seen.0.max(off(&of_a, &of_b, a)), seen.1.max(off(&of_b, &of_a, b)));
        }
    }
    all.retain(|_, (a, b)| *a > 0.0 && *b > 0.0);
    all
}

fn zone_of(trade: &Trade, part: &Part<'_>, face: usize) -> Option<ZoneId> {
    let label = part.map.faces.get(face).and_then(|f| f.label)?;
    trade.zone_called(&part.layer.labels.get(label)?.name)
}

fn faces<'p>(trade: &Trade, part: &'p Part<'_>, zone: ZoneId) -> Vec<&'p Face> {
    let all = part.map.faces.iter().enumerate();
    all.filter(|(n, _)| zone_of(trade, part, *n) == Some(zone)).map(|(_, f)| f).collect()
}

/// What a run across the picture counts for. A free leg is round and stands upright: half its girth shows as its width.
fn across(drawing: &Drawing, trade: &Trade, zone: ZoneId) -> f64 {
    let free = trade.zone(zone).is_some_and(|z| drawing.limbs.contains(&z.name));
    if free { FRAC_PI_2 } else { 1.0 }
}

/// How far some faces run from the place where others come nearest to them, away from those.
fn from_nearest(own: &[&Face], other: &[&Face], across: f64) -> f64 {
    let points = |faces: &[&Face]| -> Vec<Point> { faces.iter().flat_map(|f| f.polygon.iter().copied()).collect() };
    let (mine, theirs) = (points(own), points(other));
    let pairs = mine.iter().flat_map(|p| theirs.iter().map(move |q| (*p, (*p - *q).hypot2())));
    let Some((start, _)) = pairs.min_by(|(_, a), (_, b)| a.total_cmp(b)) else { return 0.0 };
    let middle = |points: &[Point]| {
        let sum = points.iter().fold(Vec2::ZERO, |sum, p| sum + p.to_vec2());
        #[allow(clippy::cast_precision_loss)]
        let many = points.len().max(1) as f64;
        sum / many
    };
    let away = middle(&mine) - start.to_vec2();
    let off = away / away.hypot().max(1e-9);
    let ways = SLANTS.iter().map(|degrees| turned(off, degrees.to_radians()));
    ways.map(|way| length(way * straight(own, start, way), across)).fold(0.0, f64::max)
}

/// How far a zone runs from its border, in units: of each point of the border the longest straight way off it that a stroke
/// may take, and of those the median.
fn run(map: &Map, zone: usize, beyond: usize, faces: &[&Face], across: f64) -> f64 {
    let border = map.halves.iter().enumerate();
    let border = border.filter(|(n, h)| h.face == Some(zone) && map.across(*n) == Some(beyond)).map(|(_, h)| h.curve);
    let mut runs: Vec<f64> = border
        .flat_map(|curve| [0.2, 0.5, 0.8].map(|t| (curve.eval(t), curve.deriv().eval(t).to_vec2())))
        .map(|(start, along)| {
            // The face lies on the right of its halves, y downwards.
            let off = Vec2::new(-along.y, along.x) / along.hypot().max(1e-9);
            let ways = SLANTS.iter().map(|degrees| turned(off, degrees.to_radians()));
            ways.map(|way| length(way * straight(faces, start, way), across)).fold(0.0, f64::max)
        })
        .collect();
    runs.sort_by(f64::total_cmp);
    runs.get(runs.len() / 2).copied().unwrap_or_default()
}

/// How far a stroke may lean to its border's normal, in degrees either way: up to half a right angle. Our choice.
const SLANTS: [f64; 7] = [-45.0, -30.0, -15.0, 0.0, 15.0, 30.0, 45.0];

fn turned(v: Vec2, angle: f64) -> Vec2 {
    let (sin, cos) = angle.sin_cos();
    Vec2::new(v.x * cos - v.y * sin, v.x * sin + v.y * cos)
}

fn length(v: Vec2, across: f64) -> f64 {
    Vec2::new(v.x * across, v.y).hypot()
}

/// How far one comes from `start` straight along `way` within some faces.
fn straight(faces: &[&Face], start: Point, way: Vec2) -> f64 {
    let within = |t: f64| faces.iter().any(|f| inside(&f.polygon, start + way * t));
    let mut at = 0.0;
    // A zone of two faces goes on beyond the line between them.
    while within(at + HAIR) {
        let edges = faces.iter().flat_map(|f| f.polygon.iter().zip(f.polygon.iter().cycle().skip(1)));
        let hits = edges.filter_map(|(a, b)| crossing(start, way, *a, *b)).filter(|t| *t > at + HAIR);
        let next = hits.fold(f64::INFINITY, f64::min);
        if !next.is_finite() {
            break;
        }
        at = next;
    }
    at
}

/// Less than anything drawn, in units.
const HAIR: f64 = 0.05;

/// Where along `way` a ray crosses the line from `a` to `b`.
fn crossing(start: Point, way: Vec2, a: Point, b: Point) -> Option<f64> {
    let (edge, to) = (b - a, a - start);
    let turn = way.cross(edge);
    if turn.abs() < 1e-12 {
        return None;
    }
    let (t, u) = (to.cross(edge) / turn, to.cross(way) / turn);
    (t > 0.0 && (0.0..=1.0).contains(&u)).then_some(t)
}
