//! One dog in both versions, for the picture: what is done to it where the two differ.

use super::version::{One, Version};
use super::{Compared, Status};
use crate::finish::{Finish, Finishes, Outcome, sites_of, stroke_words};
use crate::names::lower::Decl;
use crate::names::sites::{Site, Sites};
use crate::names::trade::Trade;
use crate::names::zone_words::zone_words;
use crate::sheet::planning::{leaves, of_text};
use crate::sheet::{Made, Sheet};
use std::sync::Arc;

/// A dog before and now.
#[derive(Debug)]
pub struct Shown {
    /// The recipe's title now.
    pub title: String,
    /// Its version before and now.
    pub versions: (Option<i64>, Option<i64>),
    /// The dog in words, or its name.
    pub dog: String,
    /// Its sheets.
    pub sheets: (Sheet, Sheet),
    /// The vocabulary now.
    pub trade: Arc<Trade>,
    /// Where something is done otherwise, the largest parts first.
    pub places: Vec<Otherwise>,
}

/// Parts where the same changed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Otherwise {
    /// The parts.
    pub sites: Sites,
    /// The parts in words.
    pub what: String,
    /// What was done.
    pub old: String,
    /// What is done.
    pub new: String,
}

/// Which recipe is shown, and the card of the dog on which its gravest change is largest: a change of what is done before one of a
/// keep.
#[must_use]
pub fn gravest(all: &[Compared]) -> Option<(&Compared, &str, &str)> {
    let changed = all.iter().filter(|c| !c.house && matches!(c.status, Status::Changed(_)));
    let each = changed.flat_map(|c| c.changes().iter().map(move |change| (c, change)));
    let shown = each.filter_map(|(c, change)| Some((c, change, change.dog.as_deref()?, change.whom.as_deref()?)));
    // Of equals the first counts.
    let (compared, _, card, whom) = shown.min_by_key(|(_, change, ..)| (!change.is_work, change.rank))?;
    Some((compared, card, whom))
}

/// A dog worked out by both versions of a recipe.
///
/// # Errors
/// Why one of them has no sheet for it, in words.
pub fn shown(old: &Version, new: &Version, compared: &Compared, card: &str, dog: &str) -> Result<Shown, String> {
    let was = compared.was.as_ref().unwrap_or(&compared.name);
    let was_in = compared.was_in.as_ref().unwrap_or(&compared.file);
    let (before, _) =
        worked(old.salons(), was, was_in, card).map_err(|why| format!("it had no sheet before, since {why}"))?;
    let (now, trade) = worked(new.salons(), &compared.name, &compared.file, card)
        .map_err(|why| format!("it has no sheet now, since {why}"))?;
    let places = otherwise(&before.0, &now.0);
    Ok(Shown {
        title: now.0.choices.title.clone(),
        versions: (before.0.choices.version, now.0.choices.version),
        dog: dog.to_owned(),
        sheets: (before.1, now.1),
        trade,
        places,
    })
}

type Worked = ((Made, Sheet), Arc<Trade>);

fn worked(salons: Vec<One<'_>>, name: &str, file: &str, card: &str) -> Result<Worked, String> {
    let of = |one: &One<'_>, decl: Decl<'_>| one.workspace.sources().name(decl.file) == file;
    for one in &salons {
        let Some(decl) = one.salon.recipes.here(name).filter(|decl| of(one, *decl)) else { continue };
        let made = of_text(one.workspace, &one.salon, decl, card).map_err(|said| {
            let error = said.iter().find(|d| d.severity == crate::diagnostic::Severity::Error);
            error.map_or_else(|| "there is no card".to_owned(), |d| format!("{} [{}]", d.message, d.code))
        })?;
        return Ok((made, Arc::clone(&one.salon.trade)));
    }
    Err(format!("there is no recipe `{name}`"))
}

fn otherwise(before: &Made, now: &Made) -> Vec<Otherwise> {
    let mut all: Vec<Otherwise> = Vec::new();
    let sites = sites_of(&now.trade, &now.dog);
    for site in sites.iter() {
        let (old, new) = (words(&before.finishes, site, &before.trade), words(&now.finishes, site, &now.trade));
        if old == new {
            continue;
        }
        match all.iter_mut().find(|o| o.old == old && o.new == new) {
            Some(known) => known.sites = known.sites | Sites::one(site),
            None => all.push(Otherwise { sites: Sites::one(site), what: String::new(), old, new }),
        }
    }
    for one in &mut all {
        one.what = zone_words(&now.trade, one.sites);
    }
    all.sort_by_key(|one| std::cmp::Reverse(one.sites.len()));
    all
}

/// What is done at a site, and what stays.
fn words(finishes: &Finishes, site: Site, trade: &Trade) -> String {
    let Some(Finish { rough, fine, outcome, .. }) = finishes.at(site) else { return "nothing is said".to_owned() };
    let first = rough.as_ref().map(|rough| format!("{}, then ", stroke_words(rough, trade))).unwrap_or_default();
    let stays = leaves(fine).map(|leaves| format!(", leaves {leaves}")).unwrap_or_default();
    let vet = if *outcome == Outcome::Referred { " (for a vet)" } else { "" };
    format!("{first}{}{stays}{vet}", stroke_words(fine, trade))
}
