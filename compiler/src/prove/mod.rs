//! The proof: every rule over every dog that a recipe serves, without trying them all.
//!
//! A dog is a cell (what its card tells beside coat and findings, see [`domain`]), a coat at each site, and a set of findings at
//! sites. What happens at a site depends on the statements that apply and the keeps that bind there, and each of them asks for
//! findings only in the affirmative. So if some dog breaks a rule by the statement *i* and the keep *j*, the dog of its cell
//! and coat that has the findings of *i* and *j* and no others breaks it as well: whatever wins over *i* with findings among
//! those would have won on the first dog, and what asks for others doesn't apply. It is enough to try, at each site, the
//! findings of each statement, and of each statement with each keep that can matter to it; the fewest findings among those that
//! fail are the fewest of any dog. A border is two sites: the findings of a statement on each side. Where no tool is left,
//! more findings can work together ([`bans`]), and where an order goes round in a circle ([`orders`]).
//!
//! What is tried is worked out and judged by the functions that a card goes through: [`crate::finish`] and [`crate::rules`].
//! Tests hold the outcome against a brute-force evaluator, a solver and random dogs.

mod at;
mod bans;
pub(crate) mod candidates;
pub(crate) mod cells;
pub(crate) mod dog_card;
pub(crate) mod domain;
pub(crate) mod found;
mod joins;
mod orders;
mod room;
mod sites;
mod touchy;
mod work;

pub(crate) use at::{closest_blade, likenesses};
pub use domain::representatives;

use crate::choices::{Choices, Level};
use crate::diagnostic::{Diagnostic, Fix, Severity, code};
use crate::names::trade::Trade;
use crate::source::Place;
use domain::Domain;
use found::Found;
use sites::Proof;
use std::collections::HashSet;

/// What is wrong with a recipe on the dogs that it serves: each rule and statement once, with the simplest dog that it fails for.
#[must_use]
pub fn prove(choices: &Choices, trade: &Trade) -> Vec<Diagnostic> {
    let domain = Domain::of(choices, trade);
    if domain.coats.is_empty() || domain.cells.is_empty() {
        return choices.served_at.or(choices.place).map(nobody).into_iter().collect();
    }
    let mut found = Found::new(choices, trade, &domain);
    let mut proof = Proof::new(choices, trade, &domain);
    proof.sites(&mut found);
    joins::prove(&mut proof, &mut found);
    let fits_all = room::prove(&mut proof, &mut found);
    orders::prove(choices, trade, &domain, &mut found);
    let mut out = found.told();
    // What mends them all is worth more than what mends each.
    if let Some(weight) = fits_all {
        for tight in out.iter_mut().filter(|d| d.code == code::J004) {
            let more = format!(" `serves weight from {weight}` leaves room for every blend of the recipe.");
            tight.help.get_or_insert_default().push_str(&more);
        }
    }
    if out.iter().all(|d| d.severity < Severity::Error) {
        idle(choices, &proof, &mut out);
    }
    out
}

/// M010: the conditions leave no dog, although each alone leaves some.
fn nobody(place: Place) -> Diagnostic {
    Diagnostic::error(code::M010, place, "there is no dog that this serves")
        .why("No dog has that build, height, weight, age and coat together, so nothing of the recipe is proved.")
        .help("Widen one of the conditions; a short dog weighs little, a tall one more.")
}

/// M025: a statement of the recipe itself that sets nothing on any dog.
fn idle(choices: &Choices, proof: &Proof<'_>, out: &mut Vec<Diagnostic>) {
    let (applied, mut told) = (proof.applied(), HashSet::new());
    for choice in choices.finishes.iter().filter(|c| c.level == Level::Recipe && !c.sites.is_empty()) {
        if !applied.contains(&choice.place) && told.insert(choice.place) {
            out.push(
                Diagnostic::warning(code::M025, choice.place, "this line changes nothing on any dog that is served")
                    .why("Other lines that speak of the same parts more closely count wherever this one could.")
                    .help("Take it away, or take its parts out of the other lines.")
                    .offer(
                        alone(choices, choice.whole)
                            .then(|| Fix { safe: false, ..Fix::without("take this line away", choice.whole) }),
                    ),
            );
        }
    }
}

/// Whether a statement stands for one finding alone: a guard for two findings says it for both.
fn alone(choices: &Choices, whole: Place) -> bool {
    choices.finishes.iter().filter(|c| c.whole == whole).count() == 1
}
