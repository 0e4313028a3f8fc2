//! Joins: in which steps a blend goes from one length to another, how long it is along the stroke, and from which weight on
//! there is room for it.
//!
//! Everything is said of one border of one dog, in whole numbers; the facts are lines of the basics and the table of rooms
//! that the drawing gives.

mod blend;
mod ladder;
mod room;

pub use blend::{Blend, Named, blend_at, covering, fits_from, height, shortens, shortest_band};
pub use ladder::{Rung, fewest, rungs};
pub use room::{Rooms, rooms};
