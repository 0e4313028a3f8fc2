//! What cards make of recipes: messages for the dog on the table, and marks where an open card changes what is written.

use super::resolve::recipe_of;
use crate::around::Around;
use coatwright::check::units;
use coatwright::diagnostic::{Diagnostic, Severity, in_order, laid_out};
use coatwright::finish::Outcome;
use coatwright::names::card::read;
use coatwright::names::lower::Decl;
use coatwright::names::sites::Sites;
use coatwright::names::trade::FindingId;
use coatwright::names::zone_words::zone_words;
use coatwright::sheet::{Card, worked};
use coatwright::source::Place;
use coatwright::workspace::{Files, Salon};

/// A statement that a card changes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Change {
    /// The statement.
    pub place: Place,
    /// What becomes of it, on which dog.
    pub words: String,
    /// The line of the card that does it.
    pub finding: Option<Place>,
}

/// Whether the texts themselves have mistakes: then nothing is worked out for any dog.
fn is_wrong(around: &Around) -> bool {
    around.messages().iter().any(|d| d.severity == Severity::Error && !d.code.starts_with('D'))
}

/// What there is to say about the dog on the table, for every recipe of the documents asked about.
#[must_use]
pub fn on_the_table(around: &Around, salons: &[Salon<'_>]) -> Vec<Diagnostic> {
    let Some(name) = around.table().filter(|_| !is_wrong(around)) else { return Vec::new() };
    let asked: Files = around.workspace().asked().iter().copied().collect();
    let mut out = Vec::new();
    for salon in salons {
        let Some(card) = salon.dogs.get(name) else { continue };
        for recipe in salon.recipes.within(&asked) {
            let mut said = Vec::new();
            let dog = read(card, &salon.trade, units(&salon.trade), None, &mut said);
            worked(salon, Card::of(card), recipe, dog, None, &mut said);
            said.retain(|d| asked.contains(&d.place.file) && d.severity > Severity::Note);
            // What fails for some dog is told already.
            said.retain(|d| !around.messages().iter().any(|m| m.code == d.code && m.place == d.place));
            for mut diagnostic in said {
                diagnostic.message = format!("{name} on the table: {}", diagnostic.message);
                out.push(diagnostic);
            }
        }
    }
    in_order(&mut out);
    laid_out(&mut out, around.workspace().sources());
    out
}

/// The most cards whose marks are shown in one recipe.
const MOST: usize = 8;

/// The statements of the documents asked about that a finding on an open card changes, if the card wants that recipe.
#[must_use]
pub fn changes(around: &Around, salons: &[Salon<'_>]) -> Vec<Change> {
    let mut out = Vec::new();
    for salon in salons {
        let mut open: Vec<Decl<'_>> = salon.dogs.within(&around.open()).collect();
        let table = around.table().and_then(|name| salon.dogs.get(name));
        open.extend(table.filter(|d| open.iter().all(|o| o.place() != d.place())));
        open.sort_by_key(Decl::name);
        let reaches = |d: &Decl<'_>| {
            let mut silent = Vec::new();
            recipe_of(salon, *d).is_some_and(|recipe| {
                let layers = coatwright::check::chain(salon, recipe, &mut silent);
                layers.iter().any(|l| around.workspace().asked().contains(&l.decl.file))
            })
        };
        let mut cards = open.into_iter().filter(reaches).take(MOST).peekable();
        if cards.peek().is_some() && is_wrong(around) {
            return Vec::new();
        }
        for card in cards {
            of_card(around, salon, card, &mut out);
        }
    }
    out.sort_by_key(|c| (c.place, c.words.clone()));
    out
}

fn of_card(around: &Around, salon: &Salon<'_>, card: Decl<'_>, out: &mut Vec<Change>) {
    let Some(recipe) = recipe_of(salon, card) else { return };
    let trade = &salon.trade;
    let mut silent = Vec::new();
    let dog = read(card, trade, units(trade), None, &mut silent);
    let worked = worked(salon, Card::of(card), recipe, dog, None, &mut silent);
    let mut groups: Vec<((Place, Outcome, FindingId), Sites)> = Vec::new();
    for finish in &worked.finishes.all {
        let Some(by) = finish.by.filter(|_| finish.outcome != Outcome::Written) else { continue };
        if !around.workspace().asked().contains(&finish.statement.file) {
            continue;
        }
        let key = (finish.statement, finish.outcome, by);
        match groups.iter_mut().find(|(known, _)| *known == key) {
            Some((_, sites)) => *sites = *sites | Sites::one(finish.site),
            None => groups.push((key, Sites::one(finish.site))),
        }
    }
    for ((place, outcome, by), sites) in groups {
        let Some(finding) = trade.finding(by) else { continue };
        let what = match outcome {
            Outcome::Raised => "done more gently",
            Outcome::Left => "left",
            Outcome::Referred => "for a vet",
            Outcome::Shortened => "shorter",
            Outcome::Written | Outcome::Waits => continue,
        };
        let name = card.name();
        let (zones, why) = (zone_words(trade, sites), finding.name.replace('-', " "));
        let fact = worked.dog.findings.iter().find(|f| f.finding == by);
        out.push(Change {
            place,
            words: format!("on {name}, {zones}: {what} because of {why}"),
            finding: fact.map(|f| f.place),
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::around::tests::with;

    #[test]
    fn a_finding_on_an_open_card_marks_the_statement() {
        let recipe = "recipe t {\n  serves coat curl\n  leave whole coat\n  clip ribs with #10 in reverse\n}\n|";
        let card = |line: &str| {
            format!(
                "dog d {{\n  sex dog\n  coat curl, 40 mm\n  weight 9 kg\n  seen 2026-11-20\n  {line}\n  wants t\n}}\n"
            )
        };
        with(recipe, &card("finding irritation on left ribs after #10"), |here, _| {
            let found = changes(here.around, &here.around.workspace().salons());
            let words: Vec<&str> = found.iter().map(|c| c.words.as_str()).collect();
            assert_eq!(words, ["on d, ribs: done more gently because of irritation"], "{:?}", here.around.messages());
            let sources = here.around.workspace().sources();
            assert!(found.iter().all(|c| sources.at(c.place) == "clip ribs"));
            assert!(found.iter().all(|c| c.finding.is_some_and(|f| sources.at(f) == "irritation")));
        });
        with(recipe, &card("asked skin"), |here, _| {
            assert_eq!(changes(here.around, &here.around.workspace().salons()), [])
        });
    }
}
