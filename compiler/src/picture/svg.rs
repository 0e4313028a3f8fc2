//! A dressed view as SVG: shapes, lines, arrows where hair turns, labels.

use super::label::{self, Danger, Label, Says};
use super::scale::{self, Hatch};
use super::scene::{Fill, Paint, Scene};
use crate::atlas::{Kind, Line, inside};
use crate::names::sites::Site;
use crate::names::trade::Trade;
use kurbo::{Affine, BezPath, Point, Rect, Vec2};
use std::collections::BTreeMap;
use std::fmt::Write;

/// How a view is drawn.
#[derive(Clone)]
pub struct Style<'a> {
    /// What is told, and how large.
    pub look: Look,
    /// Dangers to mark.
    pub dangers: &'a [Danger],
    /// Sites on which a clipper runs: there turns of the hair are shown.
    pub clipped: &'a dyn Fn(Site) -> bool,
    /// What the ids of this drawing begin with, so that several may stand in one page.
    pub prefix: &'a str,
    /// Sites that are labelled in this view.
    pub at_home: &'a dyn Fn(Site) -> bool,
}

/// What a picture tells.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Look {
    /// Lengths by colour and hatching, with step numbers, dangers and arrows. The numbers are so many units high.
    Numbered(f64),
    /// Lengths, with letters of this height at the places that dangers stand for, and a line round those places.
    Marked(f64),
    /// Lengths alone, hatched as coarsely as beside numbers of this height.
    Bare(f64),
    /// The outline: all coat is one tone.
    Plain,
}

impl Look {
    /// The height of numbers that are shown.
    const fn numbers(self) -> Option<f64> {
        match self {
            Self::Numbered(size) => Some(size),
            Self::Marked(_) | Self::Bare(_) | Self::Plain => None,
        }
    }

    /// The height of numbers by which hatching is scaled.
    const fn hatch(self) -> Option<f64> {
        match self {
            Self::Numbered(size) | Self::Marked(size) | Self::Bare(size) => Some(size),
            Self::Plain => None,
        }
    }
}

/// A drawn view.
#[derive(Clone, Debug)]
pub struct Drawn {
    /// What stands between `<svg>` and `</svg>`.
    pub body: String,
    /// What it takes up.
    pub bounds: Rect,
    /// The labels.
    pub labels: Vec<Label>,
}

const LINE: &str = "#2b2521";

/// Draws a dressed view.
#[must_use]
pub fn view(scene: &Scene<'_>, trade: &Trade, style: &Style<'_>) -> Drawn {
    let mut body = String::new();
    if let Some(size) = style.look.hatch() {
        body.push_str(&definitions(style.prefix, size));
    }
    ghosts(scene, &mut body);
    for (number, layer) in scene.layers.iter().enumerate() {
        let _ = write!(body, "<g>");
        shapes(scene, number, trade, style, &mut body);
        lines(scene, number, style, &mut body);
        super::mark::marked(scene, number, style, &mut body);
        let map = &layer.part.map;
        for mark in &map.marks {
            let _ = write!(
                body,
                "<path d=\"{}\" fill=\"none\" stroke=\"{LINE}\" stroke-width=\"1.4\" stroke-linecap=\"round\"/>",
                path(mark)
            );
        }
        for (at, r) in &layer.part.layer.eyes {
            let at = scene.placed.at(*at);
            let _ = write!(
                body,
                "<circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"{r}\" fill=\"#17130f\"/><circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"{:.1}\" fill=\"#fff\"/>",
                at.x,
                at.y,
                at.x - r * 0.3,
                at.y - r * 0.35,
                r * 0.26
            );
        }
        body.push_str("</g>");
    }
    let mut bounds = scene.bounds;
    let mut labels = Vec::new();
    if let Some(size) = style.look.numbers() {
        turns(scene, style, size, &mut body);
    }
    if let Look::Numbered(size) | Look::Marked(size) = style.look {
        labels = label::labels(scene, style.dangers, size, style.at_home, style.look.numbers().is_some());
        for label in &labels {
            write_label(scene, label, size, &mut body);
            bounds = bounds.union(Rect::from_center_size(label.at, (size * 1.7, size * 1.7)));
        }
    }
    Drawn { body, bounds: bounds.inset(3.0), labels }
}

/// The far legs: the near ones with their coat, moved and turned, in one grey.
fn ghosts(scene: &Scene<'_>, body: &mut String) {
    for layer in &scene.layers {
        for ghost in &layer.part.layer.ghosts {
            let leg = layer.part.leg(&ghost.zones);
            let mut shape = String::new();
            for face in leg.iter().filter_map(|n| layer.part.map.faces.get(*n)) {
                shape.push_str(&path(&face.path));
            }
            for strip in layer.strips.iter().filter(|s| leg.contains(&s.face)) {
                shape.push_str(&ring(&strip.ring()));
            }
            let place = |p: Point| scene.placed.at(p);
            let by = place(Point::ZERO + ghost.by) - place(Point::ZERO);
            let turn = ghost.turn.map_or(Affine::IDENTITY, |(degrees, about)| {
                let degrees = if scene.placed.turned { -degrees } else { degrees };
                Affine::rotate_about(degrees.to_radians(), place(about))
            });
            let [a, b, c, d, e, f] = (Affine::translate(by) * turn).as_coeffs();
            let _ = write!(
                body,
                "<g transform=\"matrix({a:.4} {b:.4} {c:.4} {d:.4} {e:.2} {f:.2})\"><path d=\"{shape}\" fill=\"{far}\" stroke=\"#8d867c\" stroke-width=\"3.2\" stroke-linejoin=\"round\"/><path d=\"{shape}\" fill=\"{far}\"/></g>",
                far = scale::FAR
            );
        }
    }
}

/// One shape for each site, with a title to hover over; then the hatchings, so that no fill covers one.
fn shapes(scene: &Scene<'_>, number: usize, trade: &Trade, style: &Style<'_>, body: &mut String) {
    let Some(layer) = scene.layers.get(number) else { return };
    let mut done: Vec<Option<Site>> = Vec::new();
    let mut hatched: BTreeMap<String, String> = BTreeMap::new();
    for (face, site) in layer.part.sites.iter().enumerate() {
        if site.is_some() && done.contains(site) {
            continue;
        }
        done.push(*site);
        let same = |f: &usize| {
            if site.is_some() { layer.part.sites.get(*f) == Some(site) } else { *f == face }
        };
        let mut shape = String::new();
        for strip in layer.strips.iter().filter(|s| same(&s.face)) {
            shape.push_str(&ring(&strip.ring()));
        }
        for (_, face) in layer.part.map.faces.iter().enumerate().filter(|(n, _)| same(n)) {
            shape.push_str(&path(&face.path));
        }
        let Some(paint) = layer.paints.get(face) else { continue };
        let class = paint.fill.class();
        let eye = layer.part.map.faces.get(face).and_then(|f| f.label).and_then(|l| layer.part.layer.labels.get(l));
        let colour = match paint.fill {
            Fill::Bare if eye.is_some_and(|l| l.name == "eye") => "#efe9e0",
            Fill::Bare => class.colour,
            _ if style.look == Look::Plain => "#cfc6b8",
            _ => class.colour,
        };
        let hatch = match paint.fill {
            Fill::Left => Some("left".to_owned()),
            Fill::Class(n) if class.hatch != Hatch::None => Some(n.to_string()),
            _ => None,
        };
        // A hair of its own colour closes the seam between neighbours of one colour.
        let look = format!("fill=\"{colour}\" stroke=\"{colour}\" stroke-width=\".6\"");
        let title = site.and_then(|s| trade.zone_of(s)).map(|(z, _)| z.name.replace('-', " "));
        let title = title.map(|t| format!("<title>{t}</title>")).unwrap_or_default();
        match hatch.filter(|_| style.look != Look::Plain) {
            Some(hatch) => {
                // The shape once, filled twice.
                let id = format!("{}-{number}-{face}", style.prefix);
                let _ = write!(body, "<defs><path id=\"{id}\" d=\"{shape}\"/></defs>");
                let _ = write!(body, "<use href=\"#{id}\" {look}>{title}</use>");
                let _ = write!(hatched.entry(hatch).or_default(), "<use href=\"#{id}\"/>");
            }
            None => {
                let _ = write!(body, "<path d=\"{shape}\" {look}>{title}</path>");
            }
        }
    }
    for (hatch, shapes) in hatched {
        let _ = write!(body, "<g fill=\"url(#{}-hatch-{hatch})\">{shapes}</g>", style.prefix);
    }
}

/// The skin line under coat, borders of patches, and the outline of the whole.
fn lines(scene: &Scene<'_>, number: usize, style: &Style<'_>, body: &mut String) {
    let Some(layer) = scene.layers.get(number) else { return };
    let map = &layer.part.map;
    // Where no steps are numbered, their borders say nothing: only lengths part.
    let paint = |face: Option<usize>| {
        let paint = face.and_then(|f| layer.paints.get(f)).copied();
        paint.map(|p| Paint { step: p.step.filter(|_| style.look.numbers().is_some()), ..p })
    };
    let (mut skin, mut seams, mut folds, mut edge, mut root) =
        (BezPath::new(), BezPath::new(), BezPath::new(), BezPath::new(), BezPath::new());
    for (n, half) in map.halves.iter().enumerate().step_by(2) {
        let (a, b) = (half.face, map.across(n));
        let into = match half.kind {
            Kind::Fold => &mut folds,
            Kind::Outline => {
                if layer.coats.is_empty() {
                    &mut edge
                } else {
                    &mut skin
                }
            }
            _ if a.is_none() || b.is_none() => &mut root,
            _ if paint(a) == paint(b) || style.look == Look::Plain => continue,
            _ => &mut seams,
        };
        into.move_to(half.curve.p0);
        into.curve_to(half.curve.p1, half.curve.p2, half.curve.p3);
    }
    for (skin, out, before, after) in layer.coats.iter().flat_map(super::coat::Coat::borders) {
        if before.is_some() && after.is_some() && paint(before) != paint(after) && style.look != Look::Plain {
            seams.move_to(skin);
            seams.line_to(out);
        }
    }
    let mut stroke = |shape: String, colour: &str, width: f64, more: &str| {
        if !shape.is_empty() {
            let _ = write!(
                body,
                "<path d=\"{shape}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"{width}\" stroke-linecap=\"round\" stroke-linejoin=\"round\"{more}/>"
            );
        }
    };
    if style.look != Look::Plain {
        stroke(path(&skin), LINE, 0.8, " stroke-opacity=\".4\" stroke-dasharray=\"4 3\"");
    }
    stroke(path(&seams), "#fff", 2.6, " stroke-opacity=\".85\"");
    stroke(path(&seams), LINE, 0.9, "");
    stroke(path(&folds), LINE, 1.3, "");
    // Where a layer grows from another, its root is no edge of the dog.
    stroke(path(&root), LINE, 0.8, " stroke-opacity=\".5\"");
    stroke(path(&edge), LINE, 2.0, "");
    for coat in &layer.coats {
        // The coat's line, but for the root of the layer.
        let n = coat.out.len();
        let coated = |i: usize| coat.face.get(i % n.max(1)).copied().flatten().is_some();
        if (0..n).all(coated) {
            stroke(ring(&coat.outline()), LINE, 2.0, "");
            continue;
        }
        let Some(start) = (0..n).find(|i| coated(*i) && !coated(i + n - 1)) else { continue };
        let mut open: Vec<Point> = Vec::new();
        let mut shape = String::new();
        for i in start..=start + n {
            if coated(i) && i < start + n {
                open.extend(coat.out.get(i % n));
            } else if !open.is_empty() {
                open.extend(coat.out.get(i % n));
                shape.push_str(&open_line(&super::coat::thin(&open, 0.15)));
                open.clear();
            }
        }
        stroke(shape, LINE, 2.0, "");
    }
}

/// Arrows where the hair turns and a clipper runs.
fn turns(scene: &Scene<'_>, style: &Style<'_>, size: f64, body: &mut String) {
    let body_layer = scene.layers.first();
    let cover = scene.over(0);
    // On a place that a clipper runs over, and that no ear or tail hides.
    let clipped = |p: Point| {
        let site = body_layer.and_then(|l| l.part.sites.get(l.part.map.face_at(p)?).copied().flatten());
        site.is_some_and(|s| (style.clipped)(s) && (style.at_home)(s)) && !cover.iter().any(|ring| inside(ring, p))
    };
    let long = size * 0.9;
    for (_, _, line, places) in scene.placed.turns() {
        let middle = match (line, places.as_slice()) {
            (Line::Spot(_), _) | (_, []) => continue,
            (_, all) => all.get(all.len() / 2).copied().unwrap_or_default(),
        };
        if !clipped(middle) {
            continue;
        }
        let arrow = |body: &mut String, from: Point, way: Vec2| {
            let (tip, back) = (from + way * long, Vec2::new(-way.y, way.x));
            let head = |side: f64| tip - way * (long * 0.38) + back * (long * 0.26 * side);
            let (a, b) = (head(1.0), head(-1.0));
            for (colour, width) in [("#fff", 3.6), (LINE, 1.5)] {
                let _ = write!(
                    body,
                    "<path d=\"M{:.1} {:.1}L{:.1} {:.1}M{:.1} {:.1}L{:.1} {:.1}L{:.1} {:.1}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"{width}\" stroke-linecap=\"round\"/>",
                    from.x, from.y, tip.x, tip.y, a.x, a.y, tip.x, tip.y, b.x, b.y
                );
            }
        };
        match line {
            Line::Whorl(_) => {
                // Half a turn round the point.
                let r = long * 0.5;
                for (colour, width) in [("#fff", 3.6), (LINE, 1.5)] {
                    let _ = write!(
                        body,
                        "<path d=\"M{:.1} {:.1}a{r:.1} {r:.1} 0 1 1 {:.1} {:.1}l{:.1} {:.1}m{:.1} {:.1}l{:.1} {:.1}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"{width}\" stroke-linecap=\"round\"/>",
                        middle.x - r,
                        middle.y,
                        r,
                        r,
                        -r * 0.55,
                        -r * 0.15,
                        r * 0.55,
                        r * 0.15,
                        r * 0.3,
                        -r * 0.5
                    );
                }
            }
            _ => {
                let ends = places.first().zip(places.last());
                let along = ends.map_or(Vec2::new(0.0, 1.0), |(a, b)| *b - *a);
                let across = Vec2::new(-along.y, along.x) / along.hypot().max(1e-9);
                for side in [1.0, -1.0] {
                    let from = middle + across * (side * long * 1.15);
                    if !clipped(from) {
                        continue;
                    }
                    let flow = scene.placed.flow(from).filter(|f| f.dot(across) * side < -0.2);
                    arrow(body, from, flow.unwrap_or(across * -side));
                }
            }
        }
    }
}

fn write_label(scene: &Scene<'_>, label: &Label, size: f64, body: &mut String) {
    let at = label.at;
    if let Some(to) = label.leads_to {
        for (colour, width) in [("#fff", 3.4), (LINE, 1.1)] {
            let _ = write!(
                body,
                "<path d=\"M{:.1} {:.1}L{:.1} {:.1}\" stroke=\"{colour}\" stroke-width=\"{width}\"/>",
                at.x, at.y, to.x, to.y
            );
        }
        let _ = write!(body, "<circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"2.4\" fill=\"{LINE}\"/>", to.x, to.y);
    }
    match label.says {
        Says::Danger(letter) => {
            let r = size * 0.74;
            let (x, y) = (at.x, at.y);
            let _ = write!(
                body,
                "<path d=\"M{x:.1} {:.1}L{:.1} {:.1}L{:.1} {:.1}Z\" fill=\"#fff\" stroke=\"#b3000c\" stroke-width=\"{:.1}\" stroke-linejoin=\"round\"/><text x=\"{x:.1}\" y=\"{:.1}\" font-size=\"{:.1}\" fill=\"#111\">{letter}</text>",
                y - r * 1.05,
                x + r,
                y + r * 0.75,
                x - r,
                y + r * 0.75,
                size * 0.13,
                y + r * 0.56,
                size * 0.78
            );
        }
        Says::Step(number) => {
            let paint = label.on.and_then(|(layer, face)| scene.layers.get(layer)?.paints.get(face).copied());
            let class = paint.map_or(scale::LEFT, |p| p.fill.class());
            let _ = write!(
                body,
                "<text x=\"{:.1}\" y=\"{:.1}\" font-size=\"{size:.1}\" fill=\"{}\" stroke=\"{}\" stroke-width=\"{:.1}\" paint-order=\"stroke\" stroke-linejoin=\"round\">{number}</text>",
                at.x,
                at.y + size * 0.36,
                class.ink,
                class.colour,
                size * 0.24
            );
        }
    }
}

/// The hatchings, as definitions whose ids begin with `prefix`. `size` is the height of the picture's numbers in units, so that
/// hatching prints as coarse in a small picture as in a large one.
#[must_use]
pub fn definitions(prefix: &str, size: f64) -> String {
    let scale = size / 24.0;
    let mut out = String::from("<defs>");
    let mut add = |name: &str, size: f64, turn: f64, shapes: &str| {
        let _ = write!(
            out,
            "<pattern id=\"{prefix}-hatch-{name}\" width=\"{size}\" height=\"{size}\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate({turn}) scale({scale:.3})\">{shapes}</pattern>"
        );
    };
    for (number, class) in scale::SCALE.iter().enumerate() {
        let ink = if class.ink == "#ffffff" { "#fff" } else { "#000" };
        let ruled =
            |lines: &str| format!("<path d=\"{lines}\" stroke=\"{ink}\" stroke-opacity=\".38\" stroke-width=\"1.2\"/>");
        let dots = "<circle cx=\"3\" cy=\"3\" r=\"1.1\" fill-opacity=\".38\"/><circle cx=\"8.5\" cy=\"8.5\" r=\"1.1\" fill-opacity=\".38\"/>";
        let name = number.to_string();
        match class.hatch {
            Hatch::None => {}
            Hatch::Dots => add(&name, 11.0, 0.0, dots),
            Hatch::Upright => add(&name, 10.0, 90.0, &ruled("M0 5H10")),
            Hatch::Rising => add(&name, 9.0, -45.0, &ruled("M0 4.5H9")),
            Hatch::Falling => add(&name, 9.0, 45.0, &ruled("M0 4.5H9")),
            Hatch::Grid => add(&name, 10.0, 0.0, &ruled("M0 5H10M5 0V10")),
            Hatch::Lattice => add(&name, 9.0, 45.0, &ruled("M0 4.5H9M4.5 0V9")),
        }
    }
    let hairs = "<path d=\"M2 3q4 6 11 6M13 14q4 6 9 5\" fill=\"none\" stroke=\"#000\" stroke-opacity=\".5\" stroke-width=\"1\" stroke-linecap=\"round\"/>";
    add("left", 23.0, 0.0, hairs);
    out + "</defs>"
}

/// A bar of true length: `length` in mm, with its words.
#[must_use]
pub fn bar(at: Point, units: f64, length: f64, words: &str, size: f64) -> String {
    let (x0, x1, y, t) = (at.x, at.x + length * units, at.y, size * 0.3);
    format!(
        "<path d=\"M{x0:.1} {:.1}V{y:.1}H{x1:.1}V{:.1}\" fill=\"none\" stroke=\"{LINE}\" stroke-width=\"1.6\"/><text x=\"{:.1}\" y=\"{:.1}\" font-size=\"{:.1}\" fill=\"#222\">{words}</text>",
        y - t,
        y - t,
        f64::midpoint(x0, x1),
        y - size * 0.4,
        size * 0.8
    )
}

/// A path's data with one digit after the point.
#[must_use]
pub fn path(path: &BezPath) -> String {
    let mut out = String::new();
    for element in path.elements() {
        let _ = match element {
            kurbo::PathEl::MoveTo(p) => write!(out, "M{:.1} {:.1}", p.x, p.y),
            kurbo::PathEl::LineTo(p) => write!(out, "L{:.1} {:.1}", p.x, p.y),
            kurbo::PathEl::QuadTo(a, p) => write!(out, "Q{:.1} {:.1} {:.1} {:.1}", a.x, a.y, p.x, p.y),
            kurbo::PathEl::CurveTo(a, b, p) => {
                write!(out, "C{:.1} {:.1} {:.1} {:.1} {:.1} {:.1}", a.x, a.y, b.x, b.y, p.x, p.y)
            }
            kurbo::PathEl::ClosePath => write!(out, "Z"),
        };
    }
    out
}

fn ring(points: &[Point]) -> String {
    let mut out = open_line(points);
    if !out.is_empty() {
        out.push('Z');
    }
    out
}

fn open_line(points: &[Point]) -> String {
    let mut out = String::new();
    for (n, p) in points.iter().enumerate() {
        let _ = write!(out, "{}{:.1} {:.1}", if n == 0 { 'M' } else { 'L' }, p.x, p.y);
    }
    out
}
