//! A planar map: the faces that the strokes of a layer enclose, and what can be wrong with it.

use super::Fault;
use super::curve;
use super::drawing::{Kind, Label, Layer, View};
use crate::names::trade::Sex;
use kurbo::{BezPath, CubicBez, ParamCurve, ParamCurveArea, Point, Rect, Shape};
use smol_str::SmolStr;
use std::collections::{BTreeMap, HashMap};

/// Straight pieces for one curve: enough that none is longer than a hair's breadth in print off the curve.
const PIECES: u32 = 12;

/// A piece of a stroke between two points, in one direction; its twin's number differs in the last bit.
#[derive(Clone, Debug)]
pub struct Half {
    /// From its first point to its last.
    pub curve: CubicBez,
    /// What its stroke is.
    pub kind: Kind,
    /// Which stroke of the layer.
    pub stroke: usize,
    /// The face on its right as it is drawn, y downwards; none outside.
    pub face: Option<usize>,
    from: usize,
}

/// A face.
#[derive(Clone, Debug)]
pub struct Face {
    /// Its label, by its number in the layer.
    pub label: Option<usize>,
    /// Its border.
    pub path: BezPath,
    /// The same in straight pieces.
    pub polygon: Vec<Point>,
    /// What those take up.
    pub bounds: Rect,
    /// The halves of the border, in order.
    pub halves: Vec<usize>,
    /// In square units.
    pub area: f64,
}

impl Face {
    /// Whether a point lies in it.
    fn holds(&self, at: Point) -> bool {
        let Rect { x0, y0, x1, y1 } = self.bounds;
        (x0..=x1).contains(&at.x) && (y0..=y1).contains(&at.y) && inside(&self.polygon, at)
    }
}

/// The faces of a layer.
#[derive(Clone, Debug, Default)]
pub struct Map {
    /// Pieces of strokes, twice each.
    pub halves: Vec<Half>,
    /// Faces.
    pub faces: Vec<Face>,
    /// The outer rims, by halves, the drawing on their left.
    pub rims: Vec<Vec<usize>>,
    /// Lines that bound nothing.
    pub marks: Vec<BezPath>,
    /// The number of points.
    pub points: usize,
}

impl Map {
    /// Traces the faces of a layer whose points stand at `place`. What is wrong with the layer is added to `faults`.
    pub fn trace(
        view: &View,
        layer: &Layer,
        sex: Option<Sex>,
        place: &dyn Fn(Point) -> Point,
        faults: &mut Vec<Fault>,
    ) -> Self {
        let mut map = Self::default();
        let mut say = |line: usize, words: String| faults.push(Fault { file: view.file.clone(), line, words });
        let mut numbers: HashMap<&SmolStr, usize> = HashMap::new();
        let mut names: Vec<(&SmolStr, Point)> = Vec::new();
        for (number, stroke) in layer.strokes.iter().enumerate() {
            let mut through = Vec::new();
            for (name, corner) in &stroke.through {
                match view.points.get(name) {
                    Some(point) => through.push((place(*point), *corner)),
                    None => say(stroke.line, format!("stroke {} goes through {name}, which is no point", stroke.name)),
                }
            }
            if through.len() < stroke.through.len() {
                continue;
            }
            let curves = curve::through(&through);
            if stroke.kind == Kind::Mark {
                map.marks.push(path_of(curves.iter().copied()));
                continue;
            }
            let ends = stroke.through.iter().zip(stroke.through.iter().skip(1));
            for (curve, ((from, _), (to, _))) in curves.iter().zip(ends) {
                let mut vertex = |name, point| {
                    *numbers.entry(name).or_insert_with(|| {
                        names.push((name, point));
                        names.len() - 1
                    })
                };
                let (a, b) = (vertex(from, curve.p0), vertex(to, curve.p3));
                let half = |curve, from| Half { curve, kind: stroke.kind, stroke: number, face: None, from };
                map.halves.push(half(*curve, a));
                map.halves.push(half(turned(*curve), b));
            }
        }
        map.points = names.len();
        let next = map.next(&names, view, faults);
        map.enclose(&next);
        map.euler(view, layer, faults);
        map.label(view, layer, sex, place, faults);
        map
    }

    /// For each half the one that follows it round its face.
    fn next(&self, names: &[(&SmolStr, Point)], view: &View, faults: &mut Vec<Fault>) -> Vec<usize> {
        let mut round: Vec<Vec<(f64, usize)>> = vec![Vec::new(); names.len()];
        for (number, half) in self.halves.iter().enumerate() {
            // A little way along, so that curves that leave a point together are told apart.
            let way = half.curve.eval(0.06) - half.curve.p0;
            if let Some(out) = round.get_mut(half.from) {
                out.push((way.y.atan2(way.x), number));
            }
        }
        for (out, (name, at)) in round.iter_mut().zip(names) {
            out.sort_by(|a, b| a.0.total_cmp(&b.0));
            if out.len() < 2 {
                let words = format!("{}: a stroke ends loose at point {name} ({:.0}, {:.0})", view.name, at.x, at.y);
                faults.push(Fault { file: view.file.clone(), line: 0, words });
            }
        }
        let mut next = vec![usize::MAX; self.halves.len()];
        for out in &round {
            let before = out.last().into_iter().chain(out);
            for ((_, number), (_, before)) in out.iter().zip(before) {
                if let Some(slot) = next.get_mut(number ^ 1) {
                    *slot = *before;
                }
            }
        }
        next
    }

    fn enclose(&mut self, next: &[usize]) {
        let mut seen = vec![false; self.halves.len()];
        for start in 0..self.halves.len() {
            if seen.get(start).copied().unwrap_or(true) {
                continue;
            }
            let (mut ring, mut half) = (Vec::new(), start);
            while let Some(slot) = seen.get_mut(half).filter(|s| !**s) {
                *slot = true;
                ring.push(half);
                half = next.get(half).copied().unwrap_or(usize::MAX);
            }
            let curves: Vec<CubicBez> = ring.iter().filter_map(|h| self.halves.get(*h)).map(|h| h.curve).collect();
            // Exact, by Green's theorem on the cubics.
            let area: f64 = curves.iter().map(ParamCurveArea::signed_area).sum();
            if area > 0.0 {
                for half in &ring {
                    if let Some(half) = self.halves.get_mut(*half) {
                        half.face = Some(self.faces.len());
                    }
                }
                let mut path = path_of(curves.iter().copied());
                path.close_path();
                let polygon: Vec<Point> = curves.iter().flat_map(|c| straight(*c)).collect();
                let bounds = bounds(&polygon).unwrap_or_default();
                self.faces.push(Face { label: None, path, polygon, bounds, halves: ring, area });
            } else {
                self.rims.push(ring);
            }
        }
    }

    /// Euler's formula for planar maps: points − edges + faces = 1 + pieces, each piece with an outer rim of its own.
    fn euler(&self, view: &View, layer: &Layer, faults: &mut Vec<Fault>) {
        let (points, edges, inner, pieces) = (self.points, self.halves.len() / 2, self.faces.len(), self.rims.len());
        if points + inner != edges + pieces {
            let words = format!(
                "{}/{}: {points} points, {edges} edges, {inner} faces in {pieces} pieces: the count is off, so strokes cross",
                view.name, layer.name
            );
            faults.push(Fault { file: view.file.clone(), line: 0, words });
        }
    }

    fn label(
        &mut self,
        view: &View,
        layer: &Layer,
        sex: Option<Sex>,
        place: &dyn Fn(Point) -> Point,
        faults: &mut Vec<Fault>,
    ) {
        let mut say = |line: usize, words: String| faults.push(Fault { file: view.file.clone(), line, words });
        for (number, label) in layer.labels.iter().enumerate() {
            // Nobody asked which: drawn as a dog.
            if label.sex.is_some_and(|s| s != sex.unwrap_or(Sex::Dog)) {
                continue;
            }
            let at = place(label.at);
            let Some(face) = self.faces.iter_mut().find(|f| f.holds(at)) else {
                say(label.line, format!("zone {} lies in no face", label.name));
                continue;
            };
            match face.label.and_then(|l| layer.labels.get(l)) {
                None => face.label = Some(number),
                Some(other) if same(other, label) => {}
                Some(other) => say(
                    label.line,
                    format!("zones {} and {} share a face: a seam is missing, or ends loose", other.name, label.name),
                ),
            }
        }
        for face in self.faces.iter().filter(|f| f.label.is_none()) {
            let at = pole(&face.polygon);
            say(0, format!("{}/{}: a face at ({:.0}, {:.0}) has no zone", view.name, layer.name, at.x, at.y));
        }
    }

    /// Strokes that cross without a shared point.
    #[must_use]
    pub fn crossings(&self, view: &View, layer: &Layer) -> Vec<Fault> {
        let mut faults = Vec::new();
        let pieces: Vec<(&Half, Rect, Vec<Point>)> = self
            .halves
            .iter()
            .step_by(2)
            .map(|h| {
                let mut line = straight(h.curve);
                line.push(h.curve.p3);
                (h, h.curve.bounding_box(), line)
            })
            .collect();
        for (i, (a, box_a, line_a)) in pieces.iter().enumerate() {
            for (b, box_b, line_b) in pieces.iter().skip(i + 1) {
                if box_a.x1 < box_b.x0 || box_b.x1 < box_a.x0 || box_a.y1 < box_b.y0 || box_b.y1 < box_a.y0 {
                    continue;
                }
                let ends = [a.curve.p0, a.curve.p3];
                let shared =
                    |p: Point| ends.iter().any(|e| (*e == b.curve.p0 || *e == b.curve.p3) && (*e - p).hypot() < 0.3);
                let cross = line_a
                    .windows(2)
                    .find_map(|s| line_b.windows(2).find_map(|t| crossing(s, t).filter(|p| !shared(*p))));
                if let Some(at) = cross {
                    let name = |h: &Half| layer.strokes.get(h.stroke).map_or("?", |s| s.name.as_str());
                    let line = layer.strokes.get(b.stroke).map_or(0, |s| s.line);
                    let words = format!(
                        "strokes {} and {} cross at ({:.0}, {:.0}) without a shared point",
                        name(a),
                        name(b),
                        at.x,
                        at.y
                    );
                    faults.push(Fault { file: view.file.clone(), line, words });
                }
            }
        }
        faults
    }

    /// The area within the outer rims, in square units.
    #[must_use]
    pub fn silhouette(&self) -> f64 {
        let rim = self.rims.iter().flatten().filter_map(|h| self.halves.get(*h));
        -rim.map(|h| h.curve.signed_area()).sum::<f64>()
    }

    /// The face on the other side of a half.
    #[must_use]
    pub fn across(&self, half: usize) -> Option<usize> {
        self.halves.get(half ^ 1).and_then(|h| h.face)
    }

    /// A half in straight pieces.
    pub fn straight(&self, half: usize) -> impl Iterator<Item = kurbo::Line> {
        let mut points = self.halves.get(half).map(|h| straight(h.curve)).unwrap_or_default();
        points.extend(self.halves.get(half).map(|h| h.curve.p3));
        let next: Vec<Point> = points.iter().skip(1).copied().collect();
        points.into_iter().zip(next).map(|(a, b)| kurbo::Line::new(a, b))
    }

    /// The face at a point.
    #[must_use]
    pub fn face_at(&self, at: Point) -> Option<usize> {
        self.faces.iter().position(|f| f.holds(at))
    }

    /// The borders between faces, by kind of stroke: both faces, the lower number first, and the length in units.
    #[must_use]
    pub fn borders(&self, kind: Kind) -> BTreeMap<(usize, usize), f64> {
        use kurbo::ParamCurveArclen;
        let mut all = BTreeMap::new();
        for (number, half) in self.halves.iter().enumerate().step_by(2).filter(|(_, h)| h.kind == kind) {
            if let (Some(a), Some(b)) = (half.face, self.across(number))
                && a != b
            {
                *all.entry((a.min(b), a.max(b))).or_default() += half.curve.arclen(1e-3);
            }
        }
        all
    }
}

fn same(a: &Label, b: &Label) -> bool {
    a.name == b.name && a.blank == b.blank && a.side == b.side
}

fn turned(c: CubicBez) -> CubicBez {
    CubicBez::new(c.p3, c.p2, c.p1, c.p0)
}

fn path_of(curves: impl Iterator<Item = CubicBez>) -> BezPath {
    let mut path = BezPath::new();
    for curve in curves {
        if path.is_empty() {
            path.move_to(curve.p0);
        }
        path.curve_to(curve.p1, curve.p2, curve.p3);
    }
    path
}

/// A curve in straight pieces, without its last point.
fn straight(curve: CubicBez) -> Vec<Point> {
    (0..PIECES).map(|k| curve.eval(f64::from(k) / f64::from(PIECES))).collect()
}

/// Whether a point lies in a polygon, by the number of times that a ray to its right leaves it.
#[must_use]
pub fn inside(polygon: &[Point], at: Point) -> bool {
    let before = polygon.last().into_iter().chain(polygon);
    let crossed = polygon
        .iter()
        .zip(before)
        .filter(|(a, b)| (a.y > at.y) != (b.y > at.y) && at.x < (b.x - a.x) * (at.y - a.y) / (b.y - a.y) + a.x);
    crossed.count() % 2 == 1
}

fn crossing(s: &[Point], t: &[Point]) -> Option<Point> {
    let (&[a, b], &[c, d]) = (s, t) else { return None };
    let (r, q) = (b - a, d - c);
    let turn = r.cross(q);
    if turn.abs() < 1e-12 {
        return None;
    }
    let (u, v) = ((c - a).cross(q) / turn, (c - a).cross(r) / turn);
    ((0.0..=1.0).contains(&u) && (0.0..=1.0).contains(&v)).then(|| a + r * u)
}

/// What points take up; nothing if there are none.
#[must_use]
pub fn bounds<'p>(points: impl IntoIterator<Item = &'p Point>) -> Option<Rect> {
    let add =
        |all: Option<Rect>, p: &Point| Some(all.map_or_else(|| Rect::from_points(*p, *p), |all| all.union_pt(*p)));
    points.into_iter().fold(None, add)
}

/// Some point well inside a polygon.
fn pole(polygon: &[Point]) -> Point {
    let Some(bounds) = bounds(polygon) else { return Point::ZERO };
    let grid = (1..16).flat_map(|i| (1..16).map(move |j| (f64::from(i) / 16.0, f64::from(j) / 16.0)));
    grid.map(|(i, j)| Point::new(bounds.x0 + i * bounds.width(), bounds.y0 + j * bounds.height()))
        .filter(|p| inside(polygon, *p))
        .map(|p| (polygon.iter().map(|q| (*q - p).hypot()).fold(f64::MAX, f64::min), p))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map_or(bounds.center(), |(_, p)| p)
}
