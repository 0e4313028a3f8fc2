//! What is done about a mat: clipped off, and with which blade; worked out by hand; or left.

use super::forbidden;
use crate::choices::Choices;
use crate::finish::{Did, Finishes, Outcome, Stroke};
use crate::measure::Time;
use crate::names::card::{Dog, Mat};
use crate::names::condition::Grade;
use crate::names::sites::Sites;
use crate::names::trade::{ToolKind, Trade};

/// How a mat is dealt with.
#[derive(Clone, Copy, Debug)]
pub enum Dealt<'f> {
    /// Nothing comes near it: another finding keeps its place.
    Kept,
    /// Clipped off there, as the finish beneath is.
    Off(Sites, &'f Stroke),
    /// Worked out there by hand.
    Out(Sites),
    /// It is for the clipper, and stays there: without consent, or since no blade goes under it.
    Stays(Sites),
}

/// How a mat is dealt with on this dog.
#[must_use]
pub fn dealt<'f>(mat: &Mat, choices: &Choices, trade: &Trade, dog: &Dog, finishes: &'f Finishes) -> Dealt<'f> {
    let sites = reachable(mat, finishes);
    if sites.is_empty() {
        return Dealt::Kept;
    }
    if !for_clipper(mat, sites, choices, trade, dog) {
        return Dealt::Out(sites);
    }
    let mut strokes = sites.iter().filter_map(|s| finishes.at(s)).map(|f| &f.fine);
    let blade = strokes.find(|s| s.kind(trade) == Some(ToolKind::Blade));
    match blade.filter(|_| dog.agreed("clip-off") == Some(true)) {
        Some(stroke) => Dealt::Off(sites, stroke),
        None => Dealt::Stays(sites),
    }
}

/// Where a mat may be touched at all: nothing comes near what another finding keeps.
fn reachable(mat: &Mat, finishes: &Finishes) -> Sites {
    let kept = |site| {
        let finish = finishes.at(site);
        finish.is_some_and(|f| {
            matches!(f.outcome, Outcome::Left | Outcome::Referred) && !f.reasons.iter().any(|r| r.what == Did::Mat)
        })
    };
    mat.sites.iter().filter(|s| !kept(*s)).collect()
}

/// Whether a mat is for the clipper: felted, or on a dog on which nobody picks at it.
fn for_clipper(mat: &Mat, sites: Sites, choices: &Choices, trade: &Trade, dog: &Dog) -> bool {
    let dematt = trade.index.steps.get(super::DEMATT).copied();
    mat.grade >= Grade::Tight || dematt.is_some_and(|d| sites.within(forbidden(d, choices, trade, dog)))
}

/// Where a mat is clipped off and with what: the blade that the finish beneath takes. None if it stays or is worked out by hand.
#[must_use]
pub fn clipped_off<'f>(
    mat: &Mat,
    choices: &Choices,
    trade: &Trade,
    dog: &Dog,
    finishes: &'f Finishes,
) -> Option<(Sites, &'f Stroke)> {
    match dealt(mat, choices, trade, dog, finishes) {
        Dealt::Off(sites, stroke) => Some((sites, stroke)),
        Dealt::Kept | Dealt::Out(_) | Dealt::Stays(_) => None,
    }
}

/// How long mats are worked out by hand at most: as the basics say, or less where the recipe, its base or its house does.
#[must_use]
pub fn dematt_most(choices: &Choices, trade: &Trade, dog: &Dog) -> Option<Time> {
    let id = *trade.index.steps.get(super::DEMATT)?;
    let site = trade.all_sites().iter().next()?;
    let asked = choices.prep.iter().filter(|p| p.step == id && p.cond.holds(dog, site)).filter_map(|p| p.at_most);
    asked.chain(trade.step(id)?.most).min()
}
