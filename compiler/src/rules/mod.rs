//! Rules over what was finished: each is one small file, and adding one touches that file, its page, its cases and a list here.
//!
//! A rule looks at as little as it needs: one site, one border, or the dog as a whole. So a card's way asks every rule
//! everywhere, and the proof asks it only where the recipe's statements differ; both ask the same function.

mod bans;
mod bare;
mod blends;
mod coat;
mod joins;
mod order;
mod room;
mod upkeep;

pub use joins::{Border, Pair, Shows, Stays, borders, covers, pairs, say as joins_said, shows, step};
pub use order::contradictions;
pub use room::{Blended, blended, messages};
pub use upkeep::{Outgrown, outgrown, weeks_range, weeks_words, whole};

use crate::choices::Choices;
use crate::diagnostic::Diagnostic;
use crate::finish::{Finish, Finishes};
use crate::names::card::Dog;
use crate::names::trade::Trade;

/// A rule over one finished site.
pub type SiteRule = fn(&Choices, &Trade, &Dog, &Finish, &mut Vec<Diagnostic>);

/// The rules over one site that speak first: they say the same wherever the same is done and the same keeps bind, whatever the coat.
pub const WORK_RULES: &[SiteRule] = &[bans::rule, bare::rule, blends::rule];

/// The rules over one site that speak after those: what its coat bears, and how it grows.
pub const COAT_RULES: &[SiteRule] = &[coat::rule, upkeep::rule];

/// The rules over the borders between finished sites.
pub fn at_border(choices: &Choices, trade: &Trade, dog: &Dog, finishes: &Finishes, out: &mut Vec<Diagnostic>) {
    joins::rule(choices, trade, dog, finishes, out);
    room::rule(choices, trade, dog, finishes, out);
}

/// Every rule, everywhere on one dog. A rule that fails at several sites for one reason says so at each.
pub fn on_dog(choices: &Choices, trade: &Trade, dog: &Dog, finishes: &Finishes, out: &mut Vec<Diagnostic>) {
    for finish in &finishes.all {
        for rule in WORK_RULES.iter().chain(COAT_RULES) {
            rule(choices, trade, dog, finish, out);
        }
    }
    at_border(choices, trade, dog, finishes, out);
    out.extend(contradictions(choices, trade, dog));
}
