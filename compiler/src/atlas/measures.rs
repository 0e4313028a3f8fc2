//! A dog's measures, as far as the drawing follows them.

use super::drawing::Drawing;
use crate::measure::{Length, MM};
use crate::names::card::Dog;
use smol_str::SmolStr;

/// A dog's measures.
#[derive(Clone, Debug, PartialEq)]
pub struct Measures {
    /// One of the builds.
    pub build: SmolStr,
    /// Height at the withers, in mm.
    pub height: f64,
    /// Depth and width of the trunk, over what the build has at this height, within what the drawing follows.
    pub girth: f64,
}

impl Measures {
    /// The measures of a card. A height that it doesn't tell is worked out from the weight: `H = h · (W / w)^(1/n)` with the
    /// build's pair of w and h, and the drawing's power n. Where it tells both, what the dog weighs over what its build weighs at
    /// that height goes into depth and width alike, so that each takes the square root.
    #[must_use]
    pub fn of(dog: &Dog, drawing: &Drawing) -> Self {
        let build = dog.build_or_square().clone();
        let pair = drawing.weighs.iter().find(|(b, ..)| *b == build).or(drawing.weighs.first());
        #[allow(clippy::cast_precision_loss)]
        let told = (dog.weight.map(|w| w.0 as f64 / 1000.0), dog.height.map(|h| h.0 as f64 / MM as f64));
        let (height, girth) = match (told, pair) {
            ((Some(kg), Some(mm)), Some((_, w, h))) => (mm, (kg / (w * (mm / h).powf(drawing.allometry))).sqrt()),
            ((Some(kg), None), Some((_, w, h))) => (h * (kg / w).powf(1.0 / drawing.allometry), 1.0),
            ((_, Some(mm)), _) => (mm, 1.0),
            ((_, None), pair) => (pair.map_or(450.0, |p| p.2), 1.0),
        };
        let girth = drawing.girths.map_or(1.0, |(least, most)| girth.clamp(least, most));
        Self { build, height, girth }
    }
}

/// The least and the most grams that a dog of a build and height can weigh, by the drawing's lines `weighs`, `allometry` and
/// `weights`.
#[must_use]
pub fn weights(build: Option<&SmolStr>, height: Length) -> (i64, i64) {
    let drawing = super::drawing();
    let named = build.map_or("square", SmolStr::as_str);
    let pair = drawing.weighs.iter().find(|(b, ..)| b == named).or(drawing.weighs.first());
    let (Some((_, kg, mm)), Some((least, most))) = (pair, drawing.weights) else { return (0, i64::MAX) };
    #[allow(clippy::cast_precision_loss)]
    let usual = kg * (height.0 as f64 / MM as f64 / mm).powf(drawing.allometry);
    #[allow(clippy::cast_possible_truncation)]
    let grams = |share: f64| (usual * share * 1000.0).round() as i64;
    (grams(least), grams(most))
}
