//! The dogs that a page shows: one with its sheet, and one of each coat for the table of parts.

use crate::choices::Choices;
use crate::finish::{Finish, finish, stroke_words};
use crate::names::card::Dog;
use crate::names::lower::Decl;
use crate::names::sites::{Site, Sites};
use crate::names::trade::{CoatId, Sex, Trade};
use crate::names::zone_words::zone_words;
use crate::prove::dog_card::{card as card_text, dog_words};
use crate::prove::domain::Domain;
use crate::prove::representatives;
use crate::sheet::Sheet;
use crate::sheet::planning::{how, leaves, of_text};
use crate::workspace::{Salon, Workspace};
use std::collections::BTreeMap;

/// A dog that a recipe serves, with its sheet.
pub(super) struct Example {
    /// The dog in words: `a dog with a curl coat`.
    pub(super) words: String,
    pub(super) sheet: Sheet,
}

/// Some parts where the same is done.
pub(super) struct Part {
    /// The parts in words.
    pub(super) words: String,
    /// What is done, and on which coats; on all of them if no coat is named.
    pub(super) done: Vec<(Vec<CoatId>, Done)>,
}

/// What is done at a part.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Done {
    /// The rough pass before it.
    pub(super) first: Option<String>,
    /// The work: `clip with #10 in reverse`.
    pub(super) work: String,
    /// Passes and ways of working.
    pub(super) how: Option<String>,
    /// What stays.
    pub(super) leaves: Option<String>,
}

/// The weight that a dog has if nothing asks for another, in g: as in [`crate::prove::domain`], where it is no fact of the trade
/// but a choice among equals.
const USUAL: i64 = 12_000;

/// The dog of each coat on which a page shows the trim: no findings, no mats, and as middling as the recipe allows.
fn plain_dogs(choices: &Choices, trade: &Trade) -> Vec<Dog> {
    let plain = |dog: &Dog| (dog.findings.len(), dog.mats.len(), dog.weight.map_or(0, |w| (w.0 - USUAL).abs()));
    let mut dogs: Vec<Dog> = Vec::new();
    for dog in representatives(choices, trade) {
        match dogs.iter_mut().find(|known| known.coat == dog.coat) {
            Some(known) if plain(&dog) < plain(known) => *known = dog,
            Some(_) => {}
            None => dogs.push(dog),
        }
    }
    dogs
}

/// A dog and its sheet; none if no dog is served, or none can be worked from.
pub(super) fn example<'w>(
    workspace: &'w Workspace,
    salon: &Salon<'w>,
    recipe: Decl<'w>,
    choices: &Choices,
) -> Option<Example> {
    let trade = &*salon.trade;
    let dog = plain_dogs(choices, trade).into_iter().next()?;
    let words = dog_words(&dog, trade, &Domain::of(choices, trade));
    let text = card_text(&dog, trade, "example", &recipe.name());
    let (_, sheet) = of_text(workspace, salon, recipe, &text).ok()?;
    Some(Example { words, sheet })
}

/// What is done where, coat by coat, on dogs and bitches.
pub(super) fn parts(choices: &Choices, trade: &Trade) -> Vec<Part> {
    let dogs = plain_dogs(choices, trade);
    let sexes = choices.serves.sex.map_or_else(|| vec![Sex::Dog, Sex::Bitch], |sex| vec![sex]);
    let mut at: BTreeMap<Site, Vec<(CoatId, Done)>> = BTreeMap::new();
    for dog in &dogs {
        let Some(coat) = dog.coat else { continue };
        for sex in &sexes {
            let dog = Dog { sex: Some(*sex), ..dog.clone() };
            for finish in finish(choices, trade, &dog, &mut Vec::new()).all {
                let here = at.entry(finish.site).or_default();
                if here.iter().all(|(known, _)| *known != coat) {
                    here.push((coat, done(&finish, trade)));
                }
            }
        }
    }
    let of_head = |site: Site| trade.zone_of(site).is_some_and(|(zone, _)| zone.region == "head");
    let mut groups: Vec<(Vec<(CoatId, Done)>, Sites)> = Vec::new();
    for (site, done) in at {
        // One doesn't look for the tail among the parts of the head.
        let near = |sites: &Sites| sites.iter().next().is_some_and(|other| of_head(other) == of_head(site));
        match groups.iter_mut().find(|(known, sites)| *known == done && near(sites)) {
            Some((_, sites)) => *sites = *sites | Sites::one(site),
            None => groups.push((done, Sites::one(site))),
        }
    }
    let part = |(all, sites): (Vec<(CoatId, Done)>, Sites)| {
        let mut done: Vec<(Vec<CoatId>, Done)> = Vec::new();
        for (coat, what) in all {
            match done.iter_mut().find(|(_, known)| *known == what) {
                Some((coats, _)) => coats.push(coat),
                None => done.push((vec![coat], what)),
            }
        }
        if let [(coats, _)] = done.as_mut_slice() {
            coats.clear();
        }
        Part { words: zone_words(trade, sites), done }
    };
    groups.into_iter().map(part).collect()
}

fn done(finish: &Finish, trade: &Trade) -> Done {
    Done {
        first: finish.rough.as_ref().map(|rough| stroke_words(rough, trade)),
        work: stroke_words(&finish.fine, trade),
        how: how(&finish.fine),
        leaves: leaves(&finish.fine),
    }
}
