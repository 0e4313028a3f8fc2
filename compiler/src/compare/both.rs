//! Two recipes and the dogs that both serve.

use super::version::Common;
use super::{Change, Rank};
use crate::choices::Choices;
use crate::names::card::{Dog, Fact};
use crate::names::condition::Cond;
use crate::names::sites::{Site, Sites};
use crate::names::trade::{CoatId, FindingId, Sex, ToolId, Trade};
use crate::prove::candidates::{each_once, needed, ways};
use crate::prove::cells::Cells;
use crate::prove::closest_blade;
use crate::prove::dog_card::{card, dog_words};
use crate::prove::domain::{Domain, conditions};
use crate::prove::found::Point;
use crate::source::Sources;
use std::collections::BTreeSet;

/// One of the two.
#[derive(Clone, Copy)]
pub(super) struct Side<'a> {
    pub(super) choices: &'a Choices,
    pub(super) trade: &'a Trade,
    pub(super) sources: &'a Sources,
}

/// Both, over the dogs that both serve.
pub(super) struct Both<'a> {
    pub(super) old: Side<'a>,
    pub(super) new: Side<'a>,
    /// Whether both speak with the same words of the same things.
    pub(super) same_trade: bool,
    pub(super) common: Common,
    /// Whom both serve.
    pub(super) serves: Cond,
    pub(super) domain: Domain,
    closest: Option<ToolId>,
}

/// A dog that was tried.
pub(super) struct Tried {
    pub(super) point: Point,
    pub(super) dog: Dog,
}

impl<'a> Both<'a> {
    pub(super) fn new(old: Side<'a>, new: Side<'a>, same_trade: bool, common: Common) -> Self {
        let serves = old.choices.serves.and(&new.choices.serves);
        let conds: Vec<&Cond> =
            conditions(old.choices).into_iter().chain(conditions(new.choices)).chain([&serves]).collect();
        let mut domain = Domain::over(&serves, &conds, new.trade);
        // A coat that one of them doesn't know is on no dog of both.
        if domain.coats.iter().any(|c| usize::from(c.0) >= common.coats) {
            let mut known = serves.clone();
            known.coats = Some(domain.coats.iter().copied().filter(|c| usize::from(c.0) < common.coats).collect());
            domain = Domain::over(&known, &conds, new.trade);
        }
        let closest = closest_blade(new.trade);
        Self { old, new, same_trade, common, serves, domain, closest }
    }

    /// Whether no dog is served by both.
    pub(super) fn no_dog(&self) -> bool {
        self.serves.is_impossible() || self.domain.coats.is_empty() || self.domain.cells.is_empty()
    }

    /// The sites that both know; the left ones stand for both sides where neither text tells them apart.
    pub(super) fn sites(&self) -> impl Iterator<Item = Site> {
        let even = self.old.choices.symmetric && self.new.choices.symmetric;
        self.new.trade.zones.iter().take(self.common.zones).flat_map(move |zone| {
            let sites = if even { Sites::one(zone.site) } else { zone.sites() };
            sites.iter().collect::<Vec<_>>()
        })
    }

    /// The same sites with those for which they stand.
    pub(super) fn whole(&self, sites: Sites) -> Sites {
        let even = self.old.choices.symmetric && self.new.choices.symmetric;
        if even { self.new.trade.both_sides(sites) } else { sites }
    }

    /// The sex that has a site.
    pub(super) fn sex_at(&self, site: Site) -> Option<Sex> {
        self.new.trade.zone_of(site).and_then(|(zone, _)| zone.sex)
    }

    /// Whether dogs with these findings are served by both, and known to both.
    fn is_served(&self, set: &[FindingId]) -> bool {
        set.iter().all(|f| usize::from(f.0) < self.common.findings && !self.serves.without.contains(f))
    }

    /// Sets of findings: those of one statement of each text together, and with those of one more.
    pub(super) fn sets(
        &self,
        old: impl Iterator<Item = Vec<FindingId>>,
        new: impl Iterator<Item = Vec<FindingId>>,
        more: impl Iterator<Item = Vec<FindingId>>,
    ) -> Vec<Vec<FindingId>> {
        let with_none = |all: &mut dyn Iterator<Item = Vec<FindingId>>| -> BTreeSet<Vec<FindingId>> {
            all.chain([Vec::new()]).collect()
        };
        let (old, new) = (with_none(&mut { old }), with_none(&mut { new }));
        let more = with_none(&mut { more });
        let mut sets: BTreeSet<Vec<FindingId>> = BTreeSet::new();
        for a in &old {
            for b in &new {
                for c in &more {
                    sets.insert(each_once([a.as_slice(), b.as_slice(), c.as_slice()].concat()));
                }
            }
        }
        let mut sets: Vec<_> = sets.into_iter().filter(|set| self.is_served(set)).collect();
        sets.sort_by_key(Vec::len);
        sets
    }

    /// The cells that these conditions tell apart, of dogs that have a site.
    pub(super) fn classes<'c>(&self, site: Site, conds: impl Iterator<Item = &'c Cond>) -> Vec<Cells> {
        let sex = self.sex_at(site);
        let mut classes = self.domain.classes(conds, [Sex::Dog, Sex::Bitch].into_iter(), |_| true);
        if let Some(sex) = sex {
            let has = |c: &Cells| c.first().and_then(|n| self.domain.cells.get(n)).is_some_and(|cell| cell.sex == sex);
            classes.retain(has);
        }
        classes
    }

    /// Every dog with these findings at a site that can differ from the others there.
    pub(super) fn dogs<'c>(
        &'c self,
        site: Site,
        set: &[FindingId],
        asked: &[FindingId],
        classes: &'c [Cells],
        by_coat: bool,
    ) -> impl Iterator<Item = Tried> + 'c {
        let laid = ways(set, asked, self.new.trade, &mut |_| true, site, self.closest);
        let coats: Vec<usize> =
            if by_coat { (0..self.domain.coats.len()).collect() } else { self.domain.unlike().collect() };
        laid.into_iter().flat_map(move |facts: Vec<Fact>| {
            let coats = coats.clone();
            classes.iter().filter_map(Cells::first).flat_map(move |cell| {
                let facts = facts.clone();
                coats.clone().into_iter().map(move |coat| {
                    let point = Point::new(cell, coat, facts.clone());
                    let mut dog = point.dog(&self.domain, self.new.trade);
                    dog.findings.retain(|f| usize::from(f.finding.0) < self.common.findings);
                    Tried { point, dog }
                })
            })
        })
    }

    /// A dog in words and as a card.
    pub(super) fn shown(&self, point: &Point) -> (String, String) {
        let dog = point.dog(&self.domain, self.new.trade);
        let (recipe, house) = (&self.new.choices.name, self.new.choices.house.as_deref().unwrap_or("house"));
        let name = format!("differs-{}", if recipe.is_empty() { house } else { recipe });
        let mut text = card(&dog, self.new.trade, &name, recipe);
        if recipe.is_empty() {
            // A house is nothing that a dog could want.
            text = text.lines().filter(|l| l.trim() != "wants").map(|l| format!("{l}\n")).collect();
        }
        (dog_words(&dog, self.new.trade, &self.domain), text)
    }

    /// A change with the dog on which it is largest.
    pub(super) fn change(
        &self,
        rank: Rank,
        what: String,
        (old, new): (String, String),
        on_all: bool,
        point: &Point,
        (size, sites): (i64, Sites),
    ) -> Change {
        let (whom, dog) = self.shown(point);
        Change { rank, what, old, new, is_work: false, on_all, whom: Some(whom), dog: Some(dog), size, sites }
    }
}

/// What a statement needs, for use with an iterator.
pub(super) fn needs((finding, cond): (Option<FindingId>, &Cond)) -> Vec<FindingId> {
    needed(finding, cond)
}

/// Coats of a condition, all of the trade if it names none.
pub(super) fn coats_of(cond: &Cond, trade: &Trade) -> Vec<CoatId> {
    cond.coats.clone().unwrap_or_else(|| (0_u16..).take(trade.coats.len()).map(CoatId).collect())
}
