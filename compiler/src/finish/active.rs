//! The keeps that bind at a site of one dog.

use super::Stroke;
use super::breach::{Breach, breach};
use crate::choices::{Choices, KeepEntry};
use crate::names::card::{Dog, Fact};
use crate::names::sites::{Site, Sites};
use crate::names::trade::{Bound, FindingId, KeepLine, KeepOn, Trade, Where};
use crate::source::Place;

/// Where a keep comes from.
#[derive(Clone, Copy, Debug)]
pub enum Source<'a> {
    /// The basics, a house or a recipe: it binds every dog that its condition meets.
    Text(&'a KeepEntry),
    /// A finding on this dog's card.
    Finding(&'a Fact, &'a KeepLine),
    /// A finding in the card's own words: its place stays untouched.
    Other(Place),
}

/// A keep that binds here and now.
#[derive(Clone, Copy, Debug)]
pub struct ActiveKeep<'a> {
    /// Where it comes from.
    pub source: Source<'a>,
}

static UNTOUCHED: Bound = Bound::Untouched;

impl<'a> ActiveKeep<'a> {
    /// What must hold.
    #[must_use]
    pub fn bound(&self) -> &'a Bound {
        match self.source {
            Source::Text(entry) => &entry.line.bound,
            Source::Finding(_, line) => &line.bound,
            Source::Other(_) => &UNTOUCHED,
        }
    }

    /// The finding whose keep it is.
    #[must_use]
    pub fn finding(&self) -> Option<FindingId> {
        match self.source {
            Source::Text(entry) => entry.finding,
            Source::Finding(fact, _) => Some(fact.finding),
            Source::Other(_) => None,
        }
    }

    /// The fact on the card, if it is from one.
    #[must_use]
    pub fn fact(&self) -> Option<&'a Fact> {
        match self.source {
            Source::Finding(fact, _) => Some(fact),
            _ => None,
        }
    }

    /// Where it stands: the keep's line, or the card's line.
    #[must_use]
    pub fn place(&self) -> Place {
        match self.source {
            Source::Text(entry) => entry.line.place,
            Source::Finding(_, line) => line.place,
            Source::Other(place) => place,
        }
    }

    /// The zone, mark, finding, house or recipe that declares it.
    #[must_use]
    pub fn owner(&self) -> &'a str {
        match self.source {
            Source::Text(entry) => &entry.line.owner,
            Source::Finding(_, line) => &line.owner,
            Source::Other(_) => "the card",
        }
    }

    /// Whether a stroke breaks it, and how.
    #[must_use]
    pub fn breach(&self, stroke: &Stroke, trade: &Trade) -> Option<Breach> {
        breach(stroke, self.bound(), self.fact().and_then(|f| f.after), trade)
    }

    /// Whether it binds because of a finding: by its guard, by its own keep, or by a condition that asks for it.
    #[must_use]
    pub fn hangs_on_findings(&self) -> bool {
        match self.source {
            Source::Text(entry) => entry.finding.is_some() || !entry.cond.findings.is_empty(),
            Source::Finding(..) | Source::Other(_) => true,
        }
    }

    /// Whether it binds every dog, whatever its card says.
    #[must_use]
    pub fn is_for_every_dog(&self) -> bool {
        matches!(self.source, Source::Text(entry) if entry.finding.is_none())
    }
}

/// Whether the dog has a finding, and at this site if the finding has a place.
#[must_use]
pub fn has_finding(trade: &Trade, dog: &Dog, finding: FindingId, site: Site) -> bool {
    let Some(declared) = trade.finding(finding) else { return false };
    dog.findings.iter().filter(|fact| fact.finding == finding).any(|fact| match declared.on {
        // Its author means the whole finding wherever the guard speaks of a zone.
        Where::Whole | Where::Fixed(_) => true,
        Where::Card => reaches(trade, fact.sites, !declared.one_side, site),
    })
}

/// Whether a finding's places reach a site: those themselves, or as well those across from them.
fn reaches(trade: &Trade, sites: Sites, both: bool, site: Site) -> bool {
    sites.has(site) || both && trade.zone_of(site).is_some_and(|(zone, _)| zone.sites().meets(sites))
}

/// Floors hold on both sides of a pair, so that the dog isn't lopsided; bans and untouched places stay one-sided.
fn evens_out(bound: &Bound) -> bool {
    matches!(bound, Bound::NoCloser(..) | Bound::NoCloserOverCause(_) | Bound::NoShorter(_) | Bound::AtMost(_))
}

/// Whether a keep of a text, which names the site, binds this dog there.
#[must_use]
pub fn binds(entry: &KeepEntry, trade: &Trade, dog: &Dog, site: Site) -> bool {
    (entry.line.sex.is_none() || dog.sex.is_none() || entry.line.sex == dog.sex)
        && entry.cond.holds(dog, site)
        && entry.finding.is_none_or(|f| has_finding(trade, dog, f, site))
}

/// The keeps that a finding on a card brings to a site.
pub fn keeps_of<'a>(fact: &'a Fact, trade: &'a Trade, site: Site) -> impl Iterator<Item = &'a KeepLine> {
    let finding = trade.finding(fact.finding);
    finding.into_iter().flat_map(move |finding| {
        finding.keeps.iter().filter(move |line| {
            let sites = match line.on {
                // A spot is gone round; its zone is worked as ever.
                KeepOn::Place if finding.spot => return false,
                KeepOn::Place => fact.sites,
                KeepOn::Sites(sites) => sites,
                KeepOn::Dog => return false,
            };
            reaches(trade, sites, !finding.one_side && evens_out(&line.bound), site)
        })
    })
}

/// The keeps that bind at a site.
#[must_use]
pub fn active_keeps<'a>(choices: &'a Choices, trade: &'a Trade, dog: &'a Dog, site: Site) -> Vec<ActiveKeep<'a>> {
    let text = choices.keeps_at(site).filter(|entry| binds(entry, trade, dog, site)).map(Source::Text);
    let findings =
        dog.findings.iter().flat_map(|fact| keeps_of(fact, trade, site).map(move |line| Source::Finding(fact, line)));
    let others = dog.others.iter().filter(|(_, sites, _)| sites.has(site)).map(|(_, _, place)| Source::Other(*place));
    text.chain(findings).chain(others).map(|source| ActiveKeep { source }).collect()
}
