//! The drawing as it is written: views of layers of strokes through points.

use crate::names::trade::Sex;
use grammar::tree::Side;
use kurbo::{Point, Vec2};
use smol_str::SmolStr;
use std::collections::BTreeMap;

/// All views.
#[derive(Clone, Debug, Default)]
pub struct Drawing {
    /// In the order of their texts.
    pub views: Vec<View>,
    /// Kilograms and millimetres at the withers that go together, by build; the first is that of a dog of no special build.
    pub weighs: Vec<(SmolStr, f64, f64)>,
    /// The power of height with which weight goes.
    pub allometry: f64,
    /// How far girth may move a knot, over what the build has; none if it moves none.
    pub girths: Option<(f64, f64)>,
    /// How little and how much a dog can weigh, over what its build weighs at its height; none if nobody said.
    pub weights: Option<(f64, f64)>,
    /// Zones that go round a free leg.
    pub limbs: Vec<SmolStr>,
    /// Zones of a flap.
    pub flaps: Vec<SmolStr>,
}

impl Drawing {
    /// A view by its name.
    #[must_use]
    pub fn view(&self, name: &str) -> Option<&View> {
        self.views.iter().find(|v| v.name == name)
    }

    /// The values of a kind of variant, in the order of the drawing: the ears, the tails.
    #[must_use]
    pub fn variants(&self, kind: &str) -> Vec<&SmolStr> {
        let mut all: Vec<&SmolStr> = Vec::new();
        for (of, value) in self.views.iter().flat_map(|v| &v.layers).filter_map(|l| l.variant.as_ref()) {
            if of == kind && !all.contains(&value) {
                all.push(value);
            }
        }
        all
    }
}

/// Which side of the dog a view shows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Facing {
    /// One side.
    One(Side),
    /// Both: the half right of this x is that side of the dog.
    Both(f64, Side),
}

/// One axis of the warp: named knots, and where each build has them.
#[derive(Clone, Debug, Default)]
pub struct Axis {
    /// Names and places, rising.
    pub knots: Vec<(SmolStr, f64)>,
    /// What a build moves.
    pub builds: BTreeMap<SmolStr, Vec<(SmolStr, f64)>>,
    /// Knots whose distance from another goes with the dog's girth.
    pub girth: Vec<(SmolStr, SmolStr)>,
}

/// One view of the dog.
#[derive(Clone, Debug)]
pub struct View {
    /// Its name.
    pub name: SmolStr,
    /// What is printed under it.
    pub title: String,
    /// The file that it stands in.
    pub file: String,
    /// Width and height in units.
    pub size: (f64, f64),
    /// Which side.
    pub facing: Facing,
    /// Units of this view for one of the side view.
    pub scale: f64,
    /// Whether it is a map, not an outline.
    pub flat: bool,
    /// Across.
    pub x: Axis,
    /// Down.
    pub y: Axis,
    /// All points of all layers.
    pub points: BTreeMap<SmolStr, Point>,
    /// From the lowest to the uppermost.
    pub layers: Vec<Layer>,
    /// Borders across layers.
    pub attach: Vec<(SmolStr, SmolStr, usize)>,
    /// Where the hair lies which way.
    pub flow: Vec<(Point, Vec2)>,
    /// Marks of the basics.
    pub turns: Vec<Turn>,
}

/// A planar map.
#[derive(Clone, Debug)]
pub struct Layer {
    /// Its name.
    pub name: SmolStr,
    /// `ears` and `drop`: it is there only for such a dog.
    pub variant: Option<(SmolStr, SmolStr)>,
    /// Leaves that such a dog does not have.
    pub without: Vec<SmolStr>,
    /// The share of a hair's length by which it stands off where it doesn't hang.
    pub lift: f64,
    /// Strokes.
    pub strokes: Vec<Stroke>,
    /// One for each face; further ones for faces of the other sex.
    pub labels: Vec<Label>,
    /// Eyes: middle and radius.
    pub eyes: Vec<(Point, f64)>,
    /// Far legs.
    pub ghosts: Vec<Ghost>,
}

/// What a stroke is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// The outline.
    Outline,
    /// A border between two zones.
    Seam,
    /// Where one part lies before another.
    Fold,
    /// A line that bounds nothing.
    Mark,
}

/// A curve through points.
#[derive(Clone, Debug)]
pub struct Stroke {
    /// Its name.
    pub name: SmolStr,
    /// What it is.
    pub kind: Kind,
    /// Points, and whether the curve has a corner there.
    pub through: Vec<(SmolStr, bool)>,
    /// Where it stands.
    pub line: usize,
}

/// The name of a face.
#[derive(Clone, Debug)]
pub struct Label {
    /// A zone of the basics, or what a blank face is.
    pub name: SmolStr,
    /// A point of the face.
    pub at: Point,
    /// The side of the dog.
    pub side: Side,
    /// Only on a dog or a bitch.
    pub sex: Option<Sex>,
    /// Whether it has no coat.
    pub blank: bool,
    /// Where it stands.
    pub line: usize,
}

/// Zones drawn once more behind the rest.
#[derive(Clone, Debug)]
pub struct Ghost {
    /// Which.
    pub zones: Vec<SmolStr>,
    /// How far they are moved.
    pub by: Vec2,
    /// By how many degrees they are turned, about which point.
    pub turn: Option<(f64, Point)>,
}

/// A mark of the basics in a view.
#[derive(Clone, Debug)]
pub struct Turn {
    /// Its name.
    pub mark: SmolStr,
    /// Where.
    pub line: Line,
    /// The side of the dog.
    pub side: Side,
    /// It is there only for such a dog.
    pub variant: Option<(SmolStr, SmolStr)>,
}

/// What a mark looks like.
#[derive(Clone, Debug)]
pub enum Line {
    /// The hair turns round a point.
    Whorl(Point),
    /// The hair meets along a line through named points.
    Meeting(Vec<SmolStr>),
    /// A place.
    Spot(Point),
}
