//! Mats that are clipped off: where that may be, and with which blade.

use super::forbidden;
use crate::choices::Choices;
use crate::finish::{Did, Finishes, Outcome, Stroke};
use crate::measure::Time;
use crate::names::card::{Dog, Mat};
use crate::names::condition::Grade;
use crate::names::sites::Sites;
use crate::names::trade::{ToolKind, Trade};

/// Where a mat may be touched at all: nothing comes near what another finding keeps.
#[must_use]
pub fn reachable(mat: &Mat, finishes: &Finishes) -> Sites {
    let kept = |site| {
        let finish = finishes.at(site);
        finish.is_some_and(|f| {
            matches!(f.outcome, Outcome::Left | Outcome::Referred) && !f.reasons.iter().any(|r| r.what == Did::Mat)
        })
    };
    mat.sites.iter().filter(|s| !kept(*s)).collect()
}

/// Whether a mat is for the clipper: felted, or on a dog on which nobody picks at it.
#[must_use]
pub fn for_clipper(mat: &Mat, sites: Sites, choices: &Choices, trade: &Trade, dog: &Dog) -> bool {
    let dematt = trade.index.steps.get(super::DEMATT).copied();
    mat.grade >= Grade::Tight || dematt.is_some_and(|d| sites.within(forbidden(d, choices, trade, dog)))
}

/// Where a mat is clipped off and with what: the blade that the finish beneath takes. None if it stays, is worked out by hand,
/// or no blade goes under it.
#[must_use]
pub fn clipped_off<'f>(
    mat: &Mat,
    choices: &Choices,
    trade: &Trade,
    dog: &Dog,
    finishes: &'f Finishes,
) -> Option<(Sites, &'f Stroke)> {
    let sites = reachable(mat, finishes);
    if sites.is_empty() || dog.agreed("clip-off") != Some(true) || !for_clipper(mat, sites, choices, trade, dog) {
        return None;
    }
    let strokes = sites.iter().filter_map(|s| finishes.at(s)).map(|f| &f.fine);
    strokes.into_iter().find(|s| s.kind(trade) == Some(ToolKind::Blade)).map(|stroke| (sites, stroke))
}

/// How long mats are worked out by hand at most: as the basics say, or less where the recipe, its base or its house does.
#[must_use]
pub fn dematt_most(choices: &Choices, trade: &Trade, dog: &Dog) -> Option<Time> {
    let id = *trade.index.steps.get(super::DEMATT)?;
    let site = trade.all_sites().iter().next()?;
    let asked = choices.prep.iter().filter(|p| p.step == id && p.cond.holds(dog, site)).filter_map(|p| p.at_most);
    asked.chain(trade.step(id)?.most).min()
}
