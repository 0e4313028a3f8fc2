//! Seven steps of length, each with a colour and a hatching of its own.
//!
//! Light to dark is short to long, so that it reads without the legend. Equal steps of Oklab lightness at low chroma, from a
//! search over 650 ramps; a test holds every pair apart for all kinds of colour vision and in grey, and every label readable.

use crate::sheet::render::Units;

/// One step of the scale.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Class {
    /// From this length up, in mm.
    pub from: f64,
    /// Its colour.
    pub colour: &'static str,
    /// The ink on it.
    pub ink: &'static str,
    /// Its hatching.
    pub hatch: Hatch,
}

/// A hatching.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Hatch {
    None,
    Dots,
    Upright,
    Rising,
    Falling,
    Grid,
    Lattice,
}

const DARK: &str = "#111111";
const LIGHT: &str = "#ffffff";

/// The scale.
pub const SCALE: [Class; 7] = [
    Class { from: 0.0, colour: "#f7f6d7", ink: DARK, hatch: Hatch::None },
    Class { from: 1.6, colour: "#c3d9b9", ink: DARK, hatch: Hatch::Dots },
    Class { from: 4.0, colour: "#8dbca9", ink: DARK, hatch: Hatch::Upright },
    Class { from: 8.0, colour: "#629b9e", ink: DARK, hatch: Hatch::Rising },
    Class { from: 15.0, colour: "#4e778d", ink: LIGHT, hatch: Hatch::Falling },
    Class { from: 30.0, colour: "#455470", ink: LIGHT, hatch: Hatch::Grid },
    Class { from: 60.0, colour: "#39344b", ink: LIGHT, hatch: Hatch::Lattice },
];

/// What is left as it is: paper, with a few hairs.
pub const LEFT: Class = Class { from: 0.0, colour: "#ffffff", ink: DARK, hatch: Hatch::None };

/// What a legend says of it.
pub const LEFT_WORDS: &str = "left as it is";

/// Skin without coat: nose leather.
pub const BARE: &str = "#4a4038";

/// A far leg.
pub const FAR: &str = "#d8d4cc";

/// Which step of the scale a length in mm is.
#[must_use]
pub fn class(mm: f64) -> usize {
    SCALE.iter().rposition(|c| mm >= c.from).unwrap_or(0)
}

/// The range of a step in words: `4 to 8 mm`, `5/16 to 5/8 in`.
#[must_use]
pub fn range(class: usize, units: Units) -> String {
    const INCHES: [&str; 7] = ["0", "1/16", "5/32", "5/16", "5/8", "1 3/16", "2 3/8"];
    let words = |class: usize| match units {
        Units::Metric => SCALE.get(class).map(|c| c.from.to_string()),
        Units::Imperial => INCHES.get(class).map(ToString::to_string),
    };
    let unit = if units == Units::Metric { "mm" } else { "in" };
    let from = words(class).unwrap_or_default();
    match words(class + 1) {
        Some(next) if class == 0 => format!("under {next} {unit}"),
        Some(next) => format!("{from} to {next} {unit}"),
        None => format!("{from} {unit} and more"),
    }
}
