//! Curves through points.

use kurbo::{CubicBez, Point};

/// The centripetal Catmull-Rom curve through the points, as cubics; it has corners where the points say so.
///
/// Source: Yuksel, Schaefer and Keyser 2011, Computer-Aided Design 43, 747 (centripetal curves form no cusps and no loops
/// within a piece); the change to Bézier form is their formula.
pub(super) fn through(points: &[(Point, bool)]) -> Vec<CubicBez> {
    let closed = match (points.first(), points.last()) {
        (Some(a), Some(b)) => points.len() > 2 && a.0 == b.0 && !a.1 && !b.1,
        _ => false,
    };
    let last = points.len().saturating_sub(1);
    points
        .iter()
        .zip(points.iter().skip(1))
        .enumerate()
        .map(|(i, (&(p1, corner1), &(p2, corner2)))| {
            let point = |k: usize| points.get(k).map(|p| p.0);
            let before = match i {
                _ if corner1 => None,
                0 if closed => last.checked_sub(1).and_then(point),
                0 => None,
                _ => point(i - 1),
            };
            let after = match i {
                _ if corner2 => None,
                _ if i + 1 == last && closed => point(1),
                _ => point(i + 2),
            };
            let here = root_of_distance(p1, p2);
            let leave = before.map(|p0| handle(p0, p1, p2, root_of_distance(p0, p1), here));
            let arrive = after.map(|p3| handle(p3, p2, p1, root_of_distance(p2, p3), here));
            let (leave, arrive) = match (leave, arrive) {
                (Some(a), Some(b)) => (a, b),
                (None, Some(b)) => (p1.midpoint(b), b),
                (Some(a), None) => (a, p2.midpoint(a)),
                (None, None) => (p1.lerp(p2, 1.0 / 3.0), p1.lerp(p2, 2.0 / 3.0)),
            };
            CubicBez::new(p1, leave, arrive, p2)
        })
        .collect()
}

fn root_of_distance(a: Point, b: Point) -> f64 {
    (b - a).hypot().sqrt().max(1e-6)
}

/// The handle at `p1` of the piece from `p1` to `p2`, coming from `p0`.
fn handle(p0: Point, p1: Point, p2: Point, d1: f64, d2: f64) -> Point {
    let sum =
        p2.to_vec2() * (d1 * d1) - p0.to_vec2() * (d2 * d2) + p1.to_vec2() * (2.0 * d1 * d1 + 3.0 * d1 * d2 + d2 * d2);
    (sum / (3.0 * d1 * (d1 + d2))).to_point()
}
