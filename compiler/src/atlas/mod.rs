//! The body map: a drawing of the dog whose zones tile and share their borders exactly.
//!
//! The drawing is data (`recipes/prelude/atlas/`), one file a view. A view is a stack of layers; a layer is a planar map:
//! strokes through named points, and one label in each face. Faces are traced, never listed, so that gaps and overlaps can't
//! be written down and a border is one stroke, shared by the two zones beside it.
//!
//! ```text
//! texts ─ read ─> Drawing ─ place(build, measures, ears, tail, sex) ─> Body ─> borders, areas, picture
//! ```

mod body;
mod curve;
mod drawing;
mod map;
mod measures;
mod mirror;
mod read;
mod room;
mod shapes;
mod surface;
mod warp;

pub use body::{Body, Figure, Part, Placed};
pub use drawing::{Axis, Drawing, Facing, Kind, Label, Layer, Line, Stroke, Turn, View};
pub use map::{Face, Half, Map, bounds, inside};
pub use measures::{Measures, weights};
pub use room::{runs, table as room_table};
pub use surface::{Border, areas, borders, borders_of, region_shares};

use std::sync::LazyLock;

/// A fault of the drawing: where it stands, and what is wrong.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// The file.
    pub file: String,
    /// The line, counted from 1; 0 for a fault of a view as a whole.
    pub line: usize,
    /// What is wrong, with the names of points, strokes and zones.
    pub words: String,
}

impl std::fmt::Display for Fault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.line == 0 {
            write!(f, "{}: {}", self.file, self.words)
        } else {
            write!(f, "{}:{}: {}", self.file, self.line, self.words)
        }
    }
}

/// The texts of the drawing, in the order of its views.
pub const TEXTS: &[(&str, &str)] = &[
    ("side.atlas", include_str!("../../../recipes/prelude/atlas/side.atlas")),
    ("head.atlas", include_str!("../../../recipes/prelude/atlas/head.atlas")),
    ("front.atlas", include_str!("../../../recipes/prelude/atlas/front.atlas")),
    ("rear.atlas", include_str!("../../../recipes/prelude/atlas/rear.atlas")),
    ("under.atlas", include_str!("../../../recipes/prelude/atlas/under.atlas")),
];

/// The drawing of the basics. A test holds that it reads without a fault.
#[must_use]
pub fn drawing() -> &'static Drawing {
    static DRAWING: LazyLock<Drawing> = LazyLock::new(|| read::drawing(TEXTS).0);
    &DRAWING
}

/// Reads a drawing, with whatever is wrong in its lines. What [`Map::trace`] finds wrong is not among it.
#[must_use]
pub fn read(texts: &[(&str, &str)]) -> (Drawing, Vec<Fault>) {
    read::drawing(texts)
}
