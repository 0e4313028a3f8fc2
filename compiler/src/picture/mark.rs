//! Lines round the places that a picture marks.

use super::scene::Scene;
use super::svg::{Look, Style, path};
use kurbo::BezPath;
use std::fmt::Write;

/// A line round each place that is marked.
pub(super) fn marked(scene: &Scene<'_>, number: usize, style: &Style<'_>, body: &mut String) {
    let (Look::Marked(size), Some(layer)) = (style.look, scene.layers.get(number)) else { return };
    let is_marked = |face: Option<usize>| {
        face.and_then(|f| layer.part.sites.get(f).copied().flatten())
            .is_some_and(|site| style.dangers.iter().any(|d| d.sites.has(site)))
    };
    let map = &layer.part.map;
    let mut round = BezPath::new();
    for (n, half) in map.halves.iter().enumerate().step_by(2) {
        if is_marked(half.face) != is_marked(map.across(n)) {
            round.move_to(half.curve.p0);
            round.curve_to(half.curve.p1, half.curve.p2, half.curve.p3);
        }
    }
    let shape = path(&round);
    if !shape.is_empty() {
        for (colour, width) in [("#fff", size * 0.3), ("#b3000c", size * 0.16)] {
            let _ = write!(
                body,
                "<path d=\"{shape}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"{width:.1}\" stroke-linecap=\"round\"/>"
            );
        }
    }
}
