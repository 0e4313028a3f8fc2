//! The coat outside the skin line, in true thickness.
//!
//! Round each rim of a layer the skin line is pushed outward by how far the coat stands: a hair stands up to the length that
//! its coat bears (`stands-to` of the basics), times the layer's share for hair that lies down; what is longer hangs, so that it
//! counts in full where the outline faces the ground and not at all where it faces the sky. Then:
//!
//! - the change along the outline is no steeper than one in one, as a scissored blend looks;
//! - it stays within 85 % of the way to the middle between two parts of the body, so that coats never run into one another;
//! - nothing passes under the ground.

use crate::atlas::{Kind, Map};
use kurbo::{ParamCurve, ParamCurveArclen, ParamCurveDeriv, Point, Vec2};

/// How coat stands on a face, in units of the drawing.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Stand {
    /// The length.
    pub length: f64,
    /// How far it stands off the skin where it doesn't hang.
    pub off: f64,
}

/// The skin line of a rim and the coat's line outside it, point for point.
#[derive(Clone, Debug, Default)]
pub struct Coat {
    /// On the skin.
    pub skin: Vec<Point>,
    /// On the coat.
    pub out: Vec<Point>,
    /// The face inside; none at the root of a layer, where it grows from another.
    pub face: Vec<Option<usize>>,
    /// Where the border of two faces goes on through the coat: for each change of face, where it comes out.
    breaks: Vec<(usize, usize)>,
}

/// The coat outside one stretch of skin.
#[derive(Clone, Debug)]
pub struct Strip {
    /// The face that it grows on.
    pub face: usize,
    /// Along the skin.
    pub skin: Vec<Point>,
    /// Along the coat, the same way.
    pub outer: Vec<Point>,
}

impl Strip {
    /// As a ring.
    #[must_use]
    pub fn ring(&self) -> Vec<Point> {
        self.skin.iter().chain(self.outer.iter().rev()).copied().collect()
    }
}

/// How far a thinned line may lie beside the old one, in units: a fiftieth of a millimetre in print.
const TOLERANCE: f64 = 0.15;

/// The distance of samples along the skin, in units.
const STEP: f64 = 4.0;

struct Sample {
    at: Point,
    normal: Vec2,
    face: Option<usize>,
    /// The way in which a seam that ends here would go on outside.
    on: Option<Vec2>,
}

impl Coat {
    /// The coat round a rim of a map.
    #[must_use]
    pub fn round(map: &Map, rim: &[usize], stand: &dyn Fn(usize) -> Stand, ground: Option<f64>) -> Self {
        let mut samples = sampled(map, rim);
        smooth_normals(&mut samples);
        let mut height: Vec<f64> = samples
            .iter()
            .map(|s| {
                let Some(stand) = s.face.map(stand) else { return 0.0 };
                let hang = s.normal.y.max(0.0);
                stand.off + (stand.length - stand.off).max(0.0) * hang
            })
            .collect();
        let free = free(&samples, &height);
        hold(&mut height, &free);
        slope(&samples, &mut height);
        for _ in 0..4 {
            soften(&mut height);
            hold(&mut height, &free);
        }
        let out: Vec<Point> = samples
            .iter()
            .zip(&height)
            .map(|(s, h)| {
                let p = s.at + s.normal * *h;
                Point::new(p.x, ground.map_or(p.y, |g| p.y.min(g.max(s.at.y))))
            })
            .collect();
        let breaks = breaks(&samples, &out);
        Self {
            skin: samples.iter().map(|s| s.at).collect(),
            face: samples.iter().map(|s| s.face).collect(),
            out,
            breaks,
        }
    }

    /// The strips of coat, face by face.
    #[must_use]
    pub fn strips(&self) -> Vec<Strip> {
        let n = self.skin.len();
        let stretch = |points: &[Point], a: usize, b: usize| -> Vec<Point> {
            // From a sample to itself is once all round.
            let length = match (b + n - a) % n {
                0 => n,
                length => length,
            };
            thin(&(0..=length).filter_map(|k| points.get((a + k) % n)).copied().collect::<Vec<_>>(), TOLERANCE)
        };
        let ends = self.breaks.iter().zip(self.breaks.iter().cycle().skip(1));
        let mut strips: Vec<Strip> = ends
            .filter_map(|((start, from), (end, to))| {
                let face = self.face.get(*start).copied().flatten()?;
                Some(Strip { face, skin: stretch(&self.skin, *start, *end), outer: stretch(&self.out, *from, *to) })
            })
            .collect();
        if self.breaks.is_empty()
            && n > 0
            && let Some(face) = self.face.first().copied().flatten()
        {
            strips.push(Strip { face, skin: stretch(&self.skin, 0, 0), outer: stretch(&self.out, 0, 0) });
        }
        strips
    }

    /// Where borders go on through the coat: from the skin to the coat's line, with the faces before and after.
    pub fn borders(&self) -> impl Iterator<Item = (Point, Point, Option<usize>, Option<usize>)> {
        let n = self.skin.len();
        self.breaks.iter().filter_map(move |(start, from)| {
            let face = |i: usize| self.face.get(i % n).copied().flatten();
            Some((*self.skin.get(*start)?, *self.out.get(*from)?, face(start + n - 1), face(*start)))
        })
    }

    /// The coat's line, thinned.
    #[must_use]
    pub fn outline(&self) -> Vec<Point> {
        thin(&self.out, TOLERANCE)
    }
}

/// Points along a rim with their outward normals; a fan of normals at outward corners.
fn sampled(map: &Map, rim: &[usize]) -> Vec<Sample> {
    let halves: Vec<_> = rim.iter().filter_map(|h| map.halves.get(*h).map(|half| (*h, half))).collect();
    let mut samples = Vec::new();
    let before = halves.last().into_iter().chain(&halves);
    for ((number, half), (last_number, last)) in halves.iter().zip(before) {
        let face_of = |kind: Kind, number: usize| if kind == Kind::Outline { map.across(number) } else { None };
        let face = face_of(half.kind, *number);
        let last_face = face_of(last.kind, *last_number);
        let start = half.curve.p0;
        let (arrive, leave) = (way(last.curve, 0.98), way(half.curve, 0.02));
        let turn = arrive.cross(leave).atan2(arrive.dot(leave));
        let on = if face == last_face { None } else { seam_outward(map, start) };
        let first = samples.len();
        // With the drawing on its left, a rim turns outward where it turns left.
        if turn < -0.35 {
            let count = (-turn / 0.12).ceil();
            let mut k = 0.5;
            while k < count {
                let angle = turn * k / count;
                let (sin, cos) = angle.sin_cos();
                let way = Vec2::new(arrive.x * cos - arrive.y * sin, arrive.x * sin + arrive.y * cos);
                let face = if k * 2.0 < count { last_face } else { face };
                samples.push(Sample { at: start, normal: normal(way), face, on: None });
                k += 1.0;
            }
        }
        let count = (half.curve.arclen(0.5) / STEP).ceil().max(2.0);
        let mut k = 0.0;
        while k < count {
            let t: f64 = k / count;
            let way = way(half.curve, t.clamp(0.02, 0.98));
            samples.push(Sample { at: half.curve.eval(t), normal: normal(way), face, on: None });
            k += 1.0;
        }
        if let Some(sample) = samples.get_mut(first..).and_then(|new| new.iter_mut().find(|s| s.face == face)) {
            sample.on = on;
        }
    }
    samples
}

fn way(curve: kurbo::CubicBez, t: f64) -> Vec2 {
    let way = curve.deriv().eval(t).to_vec2();
    way / way.hypot().max(1e-9)
}

fn normal(way: Vec2) -> Vec2 {
    Vec2::new(-way.y, way.x)
}

/// How a seam that comes from inside to this point of the rim would go on.
fn seam_outward(map: &Map, at: Point) -> Option<Vec2> {
    let seam = map.halves.iter().find(|h| h.kind != Kind::Outline && h.curve.p0 == at)?;
    Some(-way(seam.curve, 0.02))
}

fn smooth_normals(samples: &mut [Sample]) {
    let normals: Vec<Vec2> = samples.iter().map(|s| s.normal).collect();
    let n = normals.len();
    for (i, sample) in samples.iter_mut().enumerate() {
        let around = (0..5).filter_map(|k| normals.get((i + n + k - 2) % n));
        let sum = around.fold(Vec2::ZERO, |a, b| a + *b);
        sample.normal = sum / sum.hypot().max(1e-9);
    }
}

/// For every sample 85 % of the radius of the largest circle that touches the skin here and no other part of it; no limit where
/// that is far more than the coat needs.
fn free(samples: &[Sample], height: &[f64]) -> Vec<f64> {
    let of = |(here, height): (&Sample, &f64)| {
        // Beyond this square distance no circle is small enough to matter.
        let far = (2.4 * *height).powi(2);
        let radius = samples
            .iter()
            .filter_map(|other| {
                let way = other.at - here.at;
                let (square, ahead) = (way.hypot2(), way.dot(here.normal));
                (square > 16.0 && square < far && ahead > 1e-6).then(|| square / (2.0 * ahead))
            })
            .fold(f64::MAX, f64::min);
        0.85 * radius
    };
    samples.iter().zip(height).map(of).collect()
}

fn hold(height: &mut [f64], free: &[f64]) {
    for (height, free) in height.iter_mut().zip(free) {
        *height = height.min(*free);
    }
}

/// Holds the change from sample to sample within one in one.
fn slope(samples: &[Sample], height: &mut [f64]) {
    let n = samples.len();
    let reach = |a: usize, b: usize, near: f64| match (samples.get(a), samples.get(b)) {
        // A fan turns on the spot: there the outer line itself is the way.
        (Some(a), Some(b)) => (b.at - a.at).hypot().max((b.normal - a.normal).hypot() * near.min(8.0)),
        _ => f64::MAX,
    };
    let mut limit = |a: usize, b: usize| {
        if let (Some(before), Some(here)) = (height.get(a).copied(), height.get(b).copied())
            && let Some(slot) = height.get_mut(b)
        {
            *slot = here.min(before + reach(a, b, here));
        }
    };
    for _ in 0..2 {
        for i in 0..2 * n {
            limit(i % n, (i + 1) % n);
        }
        for i in (0..2 * n).rev() {
            limit((i + 1) % n, i % n);
        }
    }
}

fn soften(height: &mut [f64]) {
    let old = height.to_vec();
    let n = old.len();
    let at = |i: usize| old.get(i % n).copied().unwrap_or_default();
    for (i, h) in height.iter_mut().enumerate() {
        *h = (at(i + n - 2) + at(i + n - 1) * 2.0 + at(i) * 2.0 + at(i + 1) * 2.0 + at(i + 2)) / 8.0;
    }
}

/// Where the face changes along the skin, and where along the coat the border comes out: in the line of the seam that ends there.
fn breaks(samples: &[Sample], out: &[Point]) -> Vec<(usize, usize)> {
    /// How many samples further along or back a border may come out.
    const REACH: usize = 12;
    let n = samples.len();
    let before = samples.last().into_iter().chain(samples);
    let changes = samples.iter().zip(before).enumerate().filter(|(_, (here, last))| here.face != last.face);
    // Each with how far on it comes out, counted from REACH before it.
    let mut all: Vec<(usize, usize)> = changes
        .map(|(i, (here, _))| {
            let across = here.on.filter(|on| on.dot(here.normal) > 0.4).and_then(|on| {
                let candidates = (0..=2 * REACH).filter_map(|k| {
                    let way = *out.get((i + n + k - REACH) % n)? - here.at;
                    (way.dot(on) >= 0.0).then(|| (k, way.cross(on).abs()))
                });
                candidates.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(k, _)| k)
            });
            (i, across.unwrap_or(REACH))
        })
        .collect();
    // Borders come out in the order in which they go in.
    let order: Vec<(usize, usize)> = all.clone();
    for ((now, next), slot) in order.iter().zip(order.iter().cycle().skip(1)).zip(0..) {
        let gap = (next.0 + n - now.0 - 1) % n + 1;
        if now.1 >= next.1 + gap {
            for number in [slot, (slot + 1) % order.len()] {
                if let Some(both) = all.get_mut(number) {
                    both.1 = REACH;
                }
            }
        }
    }
    all.into_iter().map(|(i, k)| (i, (i + n + k - REACH) % n)).collect()
}

/// A line with fewer points, nowhere further than `tolerance` from the old one (Douglas and Peucker 1973, Cartographica 10, 112).
#[must_use]
pub fn thin(points: &[Point], tolerance: f64) -> Vec<Point> {
    let mut keep = vec![points.len() < 3; points.len()];
    for end in [0, points.len().saturating_sub(1)] {
        if let Some(slot) = keep.get_mut(end) {
            *slot = true;
        }
    }
    let mut stretches = vec![(0, points.len().saturating_sub(1))];
    while let Some((first, last)) = stretches.pop() {
        let (Some(a), Some(b)) = (points.get(first), points.get(last)) else { continue };
        let line = *b - *a;
        let length = line.hypot();
        let off = |p: &Point| if length < 1e-9 { (*p - *a).hypot() } else { (line.cross(*p - *a) / length).abs() };
        let inner = points.iter().enumerate().take(last).skip(first + 1);
        let furthest = inner.map(|(i, p)| (i, off(p))).max_by(|a, b| a.1.total_cmp(&b.1));
        if let Some((i, _)) = furthest.filter(|(_, d)| *d > tolerance) {
            if let Some(slot) = keep.get_mut(i) {
                *slot = true;
            }
            stretches.extend([(first, i), (i, last)]);
        }
    }
    points.iter().zip(&keep).filter(|(_, k)| **k).map(|(p, _)| *p).collect()
}
