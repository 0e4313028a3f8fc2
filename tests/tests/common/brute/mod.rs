//! A second opinion on one dog, from the syntax tree: which rules a recipe breaks on it, and what it would do where.
//!
//! Written from the design (`docs/language.md`, the rules S1 to S16) and from nothing else: of the compiler it uses the vocabulary
//! of the basics (which sites a zone has, how close a blade runs, what a coat leaves, what a finding keeps) and the tree, never
//! what builds, evaluates or checks choices. It is slow and simple on purpose.
//!
//! Where the design leaves a choice (which of two clashing pairs is told, which line of a circle), and where only the search for a
//! gentler tool could tell (whether an answer is taken back because the place would be left), a fault is `Maybe`: a message about
//! it is right, and so is silence.
//!
//! It reads the texts that `recipes.rs` writes: plain numbers, named tools, no parameters, no house.
#![allow(dead_code)]

mod dog;
mod evaluate;
mod text;

pub use dog::{Dog, findings};
pub use evaluate::Done;
pub use text::{Brute, card, line_of};

use std::collections::BTreeMap;

/// How sure it is that a fault is one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Sure {
    /// A message is right, and so is silence.
    Maybe,
    /// It must be told.
    Yes,
}

/// A fault: its code, whether it is only a warning, and the line of the text that is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Fault {
    pub code: &'static str,
    pub warning: bool,
    pub line: usize,
}

/// The faults of a dog.
pub type Faults = BTreeMap<Fault, Sure>;

const fn error(code: &'static str, line: usize) -> Fault {
    Fault { code, warning: false, line }
}

fn say(out: &mut Faults, fault: Fault, sure: Sure) {
    let known = out.entry(fault).or_insert(sure);
    *known = (*known).max(sure);
}
