//! Rules over the finishes of one dog: each is one small file, and adding one touches that file, its page, its cases and
//! this list.

mod bare;
mod blends;
mod coat;
mod joins;
mod order;
mod room;
mod upkeep;

pub use joins::{Border, borders};
pub use order::contradictions;
pub use room::{blended, messages};
pub use upkeep::{Outgrown, outgrown, whole};

use crate::choices::Choices;
use crate::diagnostic::Diagnostic;
use crate::finish::Finishes;
use crate::names::card::Dog;
use crate::names::trade::Trade;

/// A rule over finished zones.
pub type Rule = fn(&Choices, &Trade, &Dog, &Finishes, &mut Vec<Diagnostic>);

/// The rules, in the order in which they speak.
pub const RULES: &[Rule] = &[bare::rule, blends::rule, coat::rule, joins::rule, order::rule, room::rule, upkeep::rule];
