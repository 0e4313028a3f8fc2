//! The text of trim recipes: a scanner that finds blocks and lines, a pest grammar that reads each line,
//! a syntax tree with spans and comments, recovery, and a formatter that proves its own output.

pub mod tree;
mod error;
pub use error::{Fix, SyntaxError};
