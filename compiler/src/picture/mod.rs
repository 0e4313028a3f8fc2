//! The picture: the dog as it goes, true to its numbers.
//!
//! ```text
//! Sheet.seen ─ atlas::Body (where) ─> Scene (dressed in coat) ─> svg ─> page, png; terminal
//! ```

mod coat;
mod draw;
mod fit;
mod label;
mod mark;
mod page;
mod pair;
mod png;
pub mod scale;
mod scene;
mod svg;
mod terminal;

/// The font of the project, regular and bold.
static FONTS: [&[u8]; 2] = [
    include_bytes!("../../fonts/AtkinsonHyperlegibleNext-Regular.ttf"),
    include_bytes!("../../fonts/AtkinsonHyperlegibleNext-Bold.ttf"),
];

pub use draw::{Shown, Standalone, View, shown, standalone};
pub use label::{Label, Says};
pub use page::page;
pub(crate) use page::{fonts, frame, key};
pub use pair::{pair, pair_alone};
pub use png::{PngError, png};
pub use scene::{Moment, Places, Scene, places};
pub use svg::Look;
pub use terminal::terminal;
