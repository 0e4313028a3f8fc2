//! Every site over every cell and coat, with each set of findings that can matter there.

use super::cells::Cells;
use super::domain::{Domain, fact};
use super::found::{Found, Point, Rank};
use crate::choices::{Choices, KeepEntry, Kind};
use crate::diagnostic::Diagnostic;
use crate::finish::{Did, Finish, Outcome, Situation, Source, finish_site, is_visible, unfinished_message};
use crate::measure::{Interval, Length};
use crate::names::card::{Dog, Fact, widened};
use crate::names::condition::Cond;
use crate::names::sites::{Site, Sites};
use crate::names::trade::{Bound, FindingId, KeepOn, Reply, Side, ToolId, ToolKind, Trade, Where};
use crate::rules::SITE_RULES;
use crate::source::Place;
use std::collections::{BTreeSet, HashMap};

/// What was worked out once for all dogs whose situation at a site is the same.
struct Worked {
    finish: Option<Finish>,
    visible: bool,
    said: Vec<Diagnostic>,
}

/// An outcome at a site, as far as a border is concerned: what stays there on some dogs.
#[derive(Clone, Debug)]
pub(super) struct Left {
    pub(super) coat: usize,
    pub(super) leaves: Interval<Length>,
    /// The dogs, the simplest first: their findings and cells.
    pub(super) dogs: Vec<(usize, Vec<Fact>, Cells)>,
}

/// One site.
pub(super) struct At {
    pub(super) site: Site,
    /// Blends with a tool of their own that come here.
    blends: Vec<usize>,
    worked: Vec<Worked>,
    memo: HashMap<Vec<usize>, usize>,
    /// What a recipe itself leaves there.
    pub(super) outcomes: Vec<Left>,
}

/// All sites, worked out.
pub(super) struct Proof<'a> {
    pub(super) choices: &'a Choices,
    pub(super) trade: &'a Trade,
    pub(super) domain: &'a Domain,
    pub(super) at: Vec<At>,
    /// The statements that set what is done somewhere, sorted.
    applied: Vec<Place>,
    /// The closest blade: the cause from which a floor by class is lowest.
    closest: Option<ToolId>,
}

impl<'a> Proof<'a> {
    pub(super) fn new(choices: &'a Choices, trade: &'a Trade, domain: &'a Domain) -> Self {
        let blades = (0_u16..).zip(&trade.tools).filter(|(_, t)| t.kind == ToolKind::Blade && t.closeness.is_some());
        let closest = blades.min_by_key(|(_, t)| t.closeness).map(|(n, _)| ToolId(n));
        // The right side repeats the left where no statement tells them apart.
        let sites = trade.all_sites().iter().filter(|site| {
            !choices.symmetric || trade.zone_of(*site).is_some_and(|(_, side)| side != Some(Side::Right))
        });
        let at = sites.map(|site| At::new(site, choices, trade)).collect();
        Self { choices, trade, domain, at, applied: Vec::new(), closest }
    }

    /// Whether a statement sets what is done somewhere on some dog.
    pub(super) fn applied(&self, place: Place) -> bool {
        self.applied.binary_search(&place).is_ok()
    }

    /// The number of a site among those that are worked out.
    pub(super) fn number(&self, site: Site) -> Option<usize> {
        self.at.binary_search_by_key(&site, |at| at.site).ok()
    }

    /// Works all sites out.
    pub(super) fn sites(&mut self, found: &mut Found<'_>) {
        let mut unfinished: Vec<(Rank, Site, Point, Cells)> = Vec::new();
        for number in 0..self.at.len() {
            self.site(number, found, &mut unfinished);
        }
        self.unfinished(unfinished, found);
        self.applied.sort_unstable();
        self.applied.dedup();
    }

    fn site(&mut self, number: usize, found: &mut Found<'_>, unfinished: &mut Vec<(Rank, Site, Point, Cells)>) {
        let (choices, trade, domain) = (self.choices, self.trade, self.domain);
        let Some(site) = self.at.get(number).map(|at| at.site) else { return };
        let Some((zone, _)) = trade.zone_of(site) else { return };
        let keeps = || choices.keeps_at(site);
        let blends = choices.blends.iter().filter(|b| b.by.is_some() && (b.from.has(site) || b.into.has(site)));
        let conds = choices.at(site).map(|c| &c.cond).chain(keeps().map(|k| &k.cond)).chain(blends.map(|b| &b.cond));
        let sexes = zone.sex.into_iter().chain(keeps().filter_map(|k| k.line.sex));
        let mut classes = domain.classes(conds, sexes);
        if let Some(sex) = zone.sex {
            classes.retain(|c| c.first().and_then(|n| domain.cells.get(n)).is_some_and(|cell| cell.sex == sex));
        }
        for facts in candidates(choices, trade, site, self.closest) {
            for coat in 0..domain.coats.len() {
                for class in &classes {
                    let Some(cell) = class.first() else { continue };
                    let point = Point { cell, coat, part: None, facts: facts.clone() };
                    let dog = point.dog(domain, trade);
                    let worked = self.work(number, &dog);
                    self.note(number, worked, &point, class, found, unfinished);
                }
            }
        }
    }

    /// Takes down what a dog showed at a site.
    fn note(
        &mut self,
        number: usize,
        worked: usize,
        point: &Point,
        class: &Cells,
        found: &mut Found<'_>,
        unfinished: &mut Vec<(Rank, Site, Point, Cells)>,
    ) {
        let domain = self.domain;
        let Some(at) = self.at.get_mut(number) else { return };
        let Some(worked) = at.worked.get(worked) else { return };
        for diagnostic in &worked.said {
            found.add(diagnostic, point, class);
        }
        let Some(finish) = &worked.finish else {
            if worked.visible {
                unfinished.push((point.rank(domain), at.site, point.clone(), class.clone()));
            }
            return;
        };
        // A border asks only about what the recipe itself cuts.
        let (Outcome::Written, Some(_), Some(leaves)) = (finish.outcome, finish.fine.tool, finish.fine.leaves) else {
            return;
        };
        let dogs = match at.outcomes.iter_mut().find(|o| (o.coat, o.leaves) == (point.coat, leaves)) {
            Some(outcome) => &mut outcome.dogs,
            None => {
                at.outcomes.push(Left { coat: point.coat, leaves, dogs: Vec::new() });
                match at.outcomes.last_mut() {
                    Some(outcome) => &mut outcome.dogs,
                    None => return,
                }
            }
        };
        dogs.push((point.facts.len(), point.facts.clone(), class.clone()));
    }

    /// What is done to a dog at a site, by its number there.
    pub(super) fn work(&mut self, number: usize, dog: &Dog) -> usize {
        let (choices, trade) = (self.choices, self.trade);
        let Some(at) = self.at.get_mut(number) else { return usize::MAX };
        let situation = Situation::of(choices, trade, dog, at.site);
        let key = at.key(&situation, choices, trade, dog);
        if let Some(known) = at.memo.get(&key) {
            return *known;
        }
        let mut said = Vec::new();
        let finish = finish_site(&situation, choices, trade, dog, &mut said);
        if let Some(finish) = &finish {
            for rule in SITE_RULES {
                rule(choices, trade, dog, finish, &mut said);
            }
            let set = finish.reasons.iter().filter(|r| matches!(r.what, Did::Set | Did::SetRough));
            self.applied.extend(set.map(|r| r.place).chain([finish.statement]));
        }
        at.worked.push(Worked { visible: is_visible(&situation, trade), finish, said });
        at.memo.insert(key, at.worked.len() - 1);
        at.worked.len() - 1
    }

    /// The finish of a dog at a site.
    pub(super) fn finish(&mut self, number: usize, dog: &Dog) -> Option<Finish> {
        let worked = self.work(number, dog);
        self.at.get(number)?.worked.get(worked)?.finish.clone()
    }

    /// M016, once: every part that nobody mentions on the simplest dog that has such a part.
    fn unfinished(&self, mut all: Vec<(Rank, Site, Point, Cells)>, found: &mut Found<'_>) {
        all.sort_by_key(|(rank, ..)| *rank);
        let Some(((_, _, first, _), place)) = all.first().zip(self.choices.place) else { return };
        let same = |point: &Point, cells: &Cells| {
            point.coat == first.coat && point.facts.is_empty() == first.facts.is_empty() && cells.has(first.cell)
        };
        let sites: Sites = all.iter().filter(|(_, _, p, cells)| same(p, cells)).map(|(_, site, ..)| *site).collect();
        let diagnostic = unfinished_message(self.choices, self.trade, self.trade.both_sides(sites), place);
        for (_, _, point, cells) in &all {
            found.add(&diagnostic, point, cells);
        }
    }
}

impl At {
    fn new(site: Site, choices: &Choices, trade: &Trade) -> Self {
        let with_tool = |by: &Option<smol_str::SmolStr>| by.as_ref().is_some_and(|b| trade.index.tools.contains_key(b));
        let blends = choices.blends.iter().enumerate();
        let blends = blends.filter(|(_, b)| with_tool(&b.by) && (b.from.has(site) || b.into.has(site)));
        let blends = blends.map(|(n, _)| n).collect();
        Self { site, blends, worked: Vec::new(), memo: HashMap::new(), outcomes: Vec::new() }
    }

    /// Everything that an outcome at this site depends on.
    fn key(&self, situation: &Situation<'_>, choices: &Choices, trade: &Trade, dog: &Dog) -> Vec<usize> {
        const NEXT: usize = usize::MAX;
        let mut key = vec![dog.coat_at(self.site).map_or(NEXT, |c| usize::from(c.0))];
        key.extend(situation.active.iter().map(|(n, _)| *n as usize));
        key.push(NEXT);
        for keep in &situation.keeps {
            match keep.source {
                Source::Text(entry) => key.push(std::ptr::from_ref(entry) as usize),
                Source::Finding(fact, line) => {
                    key.extend([std::ptr::from_ref(line) as usize, fact.after.map_or(0, |t| usize::from(t.0) + 1)]);
                }
                Source::Other(_) => key.push(NEXT - 1),
            }
        }
        key.push(NEXT);
        let due =
            |f: &&Fact| f.sites.has(self.site) && trade.finding(f.finding).is_some_and(|f| f.reply == Reply::Answer);
        key.extend(dog.findings.iter().filter(due).map(|f| usize::from(f.finding.0)));
        key.push(NEXT);
        let has = |f: FindingId| dog.findings.iter().any(|fact| fact.finding == f);
        let meant = |n: &&usize| {
            choices.blends.get(**n).is_some_and(|b| b.cond.holds(dog, self.site) && b.finding.is_none_or(has))
        };
        key.extend(self.blends.iter().filter(meant));
        key
    }
}

/// The findings that a statement needs: that of its guard and those of its conditions.
fn needed(finding: Option<FindingId>, cond: &Cond) -> Vec<FindingId> {
    fn all(cond: &Cond, out: &mut Vec<FindingId>) {
        out.extend(&cond.findings);
        cond.not.iter().for_each(|n| all(n, out));
    }
    let mut needed: Vec<FindingId> = finding.into_iter().collect();
    all(cond, &mut needed);
    needed.sort_unstable();
    needed.dedup();
    needed
}

/// The sets of findings that can matter at a site, the smallest first, each where the site has it, and once more where the
/// statements that it switches on apply with as few of its own keeps as can be.
fn candidates(choices: &Choices, trade: &Trade, site: Site, closest: Option<ToolId>) -> Vec<Vec<Fact>> {
    let keeps = || choices.keeps_at(site);
    let mut sets: BTreeSet<Vec<FindingId>> = BTreeSet::new();
    let statements: BTreeSet<Vec<FindingId>> = choices.at(site).map(|c| needed(c.finding, &c.cond)).collect();
    let blends = choices.blends.iter().filter(|b| b.from.has(site) || b.into.has(site));
    sets.extend(statements.iter().cloned());
    sets.extend(keeps().map(|k| needed(k.finding, &k.cond)));
    sets.extend(blends.map(|b| needed(b.finding, &b.cond)));
    let here = |on: Where| match on {
        Where::Fixed(sites) => sites.has(site),
        Where::Card | Where::Whole => true,
    };
    let numbered = (0_u16..).zip(&trade.findings).map(|(n, f)| (FindingId(n), f));
    let due = numbered.filter(|(_, f)| f.reply == Reply::Answer && here(f.on)).map(|(id, _)| id);
    let due: Vec<FindingId> = due.filter(|id| !choices.serves.without.contains(id)).collect();
    sets.extend(due.iter().map(|id| vec![*id]));
    // What can matter to a statement beside its own findings: keeps on its shape, keeps and statements that ask for findings
    // in a condition, and a finding that asks for an answer where only this statement does anything.
    let shape = |k: &&KeepEntry| matches!(k.line.bound, Bound::AtMost(_) | Bound::Open);
    let mut beside: BTreeSet<Vec<FindingId>> = BTreeSet::new();
    beside.extend(keeps().filter(shape).map(|k| needed(k.finding, &k.cond)));
    beside.extend(keeps().filter(|k| k.finding.is_none()).map(|k| needed(None, &k.cond)));
    beside.extend(choices.at(site).filter(|c| c.kind != Kind::Guard).map(|c| needed(None, &c.cond)));
    let answered = |id: &FindingId| choices.at(site).any(|c| c.finding == Some(*id));
    beside.extend(due.iter().filter(|id| !answered(id)).map(|id| vec![*id]));
    beside.remove(&Vec::new());
    for own in &statements {
        for other in &beside {
            let mut both = [own.as_slice(), other.as_slice()].concat();
            both.sort_unstable();
            both.dedup();
            sets.insert(both);
        }
    }
    sets.insert(Vec::new());
    sets.retain(|set| !set.iter().any(|f| choices.serves.without.contains(f)));
    let mut sets: Vec<Vec<FindingId>> = sets.into_iter().collect();
    sets.sort_by_key(Vec::len);
    let mut all = Vec::new();
    for set in sets {
        let at = |f: &FindingId| trade.finding(*f).map(|d| fact(*f, place(trade, *f, site), d.place));
        let natural: Vec<Fact> = set.iter().filter_map(at).collect();
        let mildest: Vec<Fact> = natural.iter().map(|f| mildest(f, trade, site, closest)).collect();
        let differs = natural.iter().zip(&mildest).any(|(a, b)| (a.sites, a.after) != (b.sites, b.after));
        all.push(natural);
        if differs {
            all.push(mildest);
        }
    }
    all
}

/// Where a finding is that can matter at a site: on the whole dog, at its usual place, or here.
fn place(trade: &Trade, finding: FindingId, site: Site) -> Sites {
    match trade.finding(finding).map(|f| (f.on, f.widens)) {
        Some((Where::Whole, _)) => trade.all_sites(),
        Some((Where::Fixed(sites), _)) => sites,
        Some((_, widens)) => widened(Sites::one(site), widens, trade),
        None => Sites::NONE,
    }
}

/// The same finding where a guard for it still speaks of the site, but what it keeps at its own place doesn't reach it, or not
/// as far: across from it, elsewhere, or with a cause from which its floor is lowest.
fn mildest(natural: &Fact, trade: &Trade, site: Site, closest: Option<ToolId>) -> Fact {
    let Some(finding) = trade.finding(natural.finding) else { return natural.clone() };
    let here = finding.keeps.iter().filter(|k| k.on == KeepOn::Place);
    let mut mild = natural.clone();
    if here.clone().any(|k| matches!(k.bound, Bound::NoCloserOverCause(_))) {
        mild.after = closest;
    }
    let across = trade.both_sides(Sites::one(site)) - Sites::one(site);
    let aside = match finding.on {
        // Its guards speak of the whole dog, wherever the card puts it.
        Where::Whole | Where::Fixed(_) => {
            let near = trade.both_sides(Sites::one(site));
            (trade.all_sites() - near).iter().next().map(|s| trade.both_sides(Sites::one(s)))
        }
        Where::Card => (!finding.one_side && !across.is_empty()).then_some(across),
    };
    if let Some(aside) = aside.filter(|_| here.count() > 0) {
        mild.sites = widened(aside, finding.widens, trade);
    }
    mild
}
