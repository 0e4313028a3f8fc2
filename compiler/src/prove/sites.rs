//! Every site over every cell and coat, with each set of findings that can matter there.

use super::at::{At, Masks, closest_blade};
use super::bans;
use super::candidates::{candidates, moved, placed};
use super::cells::Cells;
use super::domain::Domain;
use super::found::{Found, Point, Rank};
use super::touchy::Touchy;
use super::work::Worked;
use crate::choices::{BlendAsk, Choices, KeepEntry};
use crate::finish::{Outcome, Situation, unfinished_message};
use crate::names::card::{Dog, Fact};
use crate::names::condition::Cond;
use crate::names::sites::{Site, Sites};
use crate::names::trade::{FindingId, Reply, Side, ToolId, Trade};
use crate::rules::Stays;
use crate::source::Place;
use rustc_hash::{FxHashMap, FxHashSet};
use std::rc::Rc;

/// An outcome at a site, as far as a border is concerned: what stays there on some dogs.
#[derive(Clone, Debug)]
pub(super) struct Left {
    pub(super) coat: usize,
    pub(super) stays: Stays,
    /// Whether the statement is the recipe's own, and where it stands: the greater of two made the step between them.
    pub(super) by: (bool, Place),
    /// The dogs, those with the fewest findings first.
    pub(super) dogs: Vec<Group>,
}

/// Dogs with the same findings.
#[derive(Clone, Debug)]
pub(super) struct Group {
    /// The number of their findings among those that were tried there.
    pub(super) set: usize,
    pub(super) cells: Cells,
}

/// What stays somewhere on a coat, and in which cells some dog is left so.
#[derive(Debug, PartialEq)]
pub(super) struct Stay {
    pub(super) coat: usize,
    pub(super) stays: Stays,
    pub(super) cells: Cells,
}

/// All sites, worked out.
pub(super) struct Proof<'a> {
    pub(super) choices: &'a Choices,
    pub(super) trade: &'a Trade,
    pub(super) domain: &'a Domain,
    pub(super) at: Vec<At>,
    /// What the recipe itself leaves anywhere, on any dog.
    lengths: Vec<Vec<Stay>>,
    /// The statements that set what is done somewhere.
    pub(super) applied: Vec<Place>,
    /// The closest blade: the cause from which a floor by class is lowest.
    closest: Option<ToolId>,
    /// The findings whose reply is the author's.
    wants_answer: Rc<[FindingId]>,
    /// What was worked out.
    pub(super) worked: Vec<Worked>,
    /// The situations for which, by number, and what was worked out for each on each coat.
    pub(super) memo: FxHashMap<Box<[usize]>, usize>,
    pub(super) rows: Vec<Option<usize>>,
    /// A key that is being put together.
    pub(super) scratch: Vec<usize>,
    /// Which keeps matter, by list.
    touchy: FxHashMap<usize, Touchy>,
}

impl<'a> Proof<'a> {
    pub(super) fn new(choices: &'a Choices, trade: &'a Trade, domain: &'a Domain) -> Self {
        let closest = closest_blade(trade);
        let numbered = (0_u16..).zip(&trade.findings).filter(|(_, f)| f.reply == Reply::Answer);
        let wants_answer = numbered.map(|(n, _)| FindingId(n)).collect();
        // The right side repeats the left where no statement tells them apart.
        let sites = trade.all_sites().iter().filter(|site| {
            !choices.symmetric || trade.zone_of(*site).is_some_and(|(_, side)| side != Some(Side::Right))
        });
        let mut seen: FxHashMap<Vec<usize>, usize> = FxHashMap::default();
        let mut lists: FxHashMap<Vec<usize>, usize> = FxHashMap::default();
        let masks = Masks::of(choices, trade);
        let own = |(number, site): (usize, Site)| {
            let mut at = At::new(site, choices, trade, &masks);
            let list = at.statements(choices);
            let next = lists.len();
            at.list = *lists.entry(list.clone()).or_insert(next);
            at.like = *seen.entry(at.likeness(list, choices, trade, &masks)).or_insert(number);
            at
        };
        let at = sites.enumerate().map(own).collect();
        let (worked, memo, touchy) = (Vec::new(), FxHashMap::default(), FxHashMap::default());
        let (applied, scratch, rows, lengths) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        Self {
            choices,
            trade,
            domain,
            at,
            lengths,
            applied,
            closest,
            wants_answer,
            worked,
            memo,
            rows,
            scratch,
            touchy,
        }
    }

    /// What the recipe itself leaves at a site, on which dogs.
    pub(super) fn outcomes(&self, number: usize) -> Rc<[Left]> {
        self.at.get(number).and_then(|at| self.at.get(at.like)).map(|like| Rc::clone(&like.left)).unwrap_or_default()
    }

    /// What the recipe itself leaves at a site, on any dog, by its number: where the numbers are the same, so are the lengths.
    pub(super) fn lengths_at(&self, number: usize) -> usize {
        self.at.get(number).and_then(|at| self.at.get(at.like)).map_or(usize::MAX, |like| like.lengths)
    }

    /// Those lengths: each once.
    pub(super) fn lengths(&self, lengths: usize) -> &[Stay] {
        self.lengths.get(lengths).map(Vec::as_slice).unwrap_or_default()
    }

    /// The sets of findings of those dogs. What happens is the same wherever it is; a finding lies about its own site.
    pub(super) fn sets(&self, number: usize) -> Rc<[Vec<Fact>]> {
        let Some((at, like)) = self.at.get(number).and_then(|at| Some((at, self.at.get(at.like)?))) else {
            return Rc::default();
        };
        if at.site == like.site || like.sets.iter().all(Vec::is_empty) {
            return Rc::clone(&like.sets);
        }
        let mut own = like.sets.to_vec();
        own.iter_mut().flatten().for_each(|fact| moved(fact, self.trade, like.site, at.site));
        own.into()
    }

    /// The statements that set what is done somewhere on some dog.
    pub(super) fn applied(&self) -> FxHashSet<Place> {
        self.applied.iter().copied().collect()
    }

    /// Whether anything at a site asks for coats: else a dog's situation there is the same on them all.
    pub(super) fn asks_for_coats(&self, number: usize) -> bool {
        self.at.get(number).is_some_and(|at| at.by_coat)
    }

    /// The number of a site among those that are worked out.
    pub(super) fn number(&self, site: Site) -> Option<usize> {
        self.at.binary_search_by_key(&site, |at| at.site).ok()
    }

    /// Works all sites out.
    pub(super) fn sites(&mut self, found: &mut Found<'_>) {
        let mut unfinished: Vec<(Rank, Site, Point, Cells)> = Vec::new();
        for number in 0..self.at.len() {
            if self.at.get(number).is_some_and(|at| at.like == number) {
                self.site(number, found, &mut unfinished);
            }
        }
        let lengths = &mut self.lengths;
        for (_, at) in self.at.iter_mut().enumerate().filter(|(number, at)| at.like == *number) {
            let mut stays: Vec<Stay> = Vec::new();
            for left in &at.outcomes {
                let cells = left.dogs.iter().map(|dogs| &dogs.cells);
                match stays.iter_mut().find(|s| s.coat == left.coat && s.stays == left.stays) {
                    Some(known) => cells.for_each(|more| known.cells.join(more)),
                    None => {
                        let Some(cells) = cells.cloned().reduce(|mut all, more| {
                            all.join(&more);
                            all
                        }) else {
                            continue;
                        };
                        stays.push(Stay { coat: left.coat, stays: left.stays, cells });
                    }
                }
            }
            at.left = std::mem::take(&mut at.outcomes).into();
            at.lengths = lengths.iter().position(|known| *known == stays).unwrap_or_else(|| {
                lengths.push(stays);
                lengths.len() - 1
            });
        }
        self.unfinished(unfinished, found);
    }

    fn site(&mut self, number: usize, found: &mut Found<'_>, unfinished: &mut Vec<(Rank, Site, Point, Cells)>) {
        let (choices, trade, domain) = (self.choices, self.trade, self.domain);
        let Some(at) = self.at.get(number) else { return };
        let site = at.site;
        let blends: Vec<&BlendAsk> = at.blends.iter().filter_map(|n| choices.blends.get(*n)).collect();
        let Some((zone, _)) = trade.zone_of(site) else { return };
        let (closest, wants_answer) = (self.closest, Rc::clone(&self.wants_answer));
        let Some(touchy) = self.touchy(number) else { return };
        let named = choices.keeps_at.get(usize::from(site.0)).into_iter().flatten().map(|n| *n as usize);
        let minds = |n: &usize| choices.keeps.get(*n).is_some_and(|k| touchy.minds(&k.line.bound, None, trade));
        let numbers: Vec<usize> = named.filter(minds).collect();
        let keeps: Vec<&KeepEntry> = numbers.iter().filter_map(|n| choices.keeps.get(*n)).collect();
        let sets = candidates(choices, trade, touchy, site, &keeps, closest, &wants_answer);
        let conds = choices.at(site).map(|c| &c.cond).chain(keeps.iter().map(|k| &k.cond));
        let conds = conds.chain(blends.iter().map(|b| &b.cond));
        let conds: Vec<&Cond> = conds.collect();
        let by_coat = conds.iter().any(|c| c.asks_for_coats());
        let sexes = zone.sex.into_iter().chain(keeps.iter().filter_map(|k| k.line.sex));
        let mut classes = domain.classes(conds.into_iter(), sexes, |finding| {
            let own = trade.finding(finding).into_iter().flat_map(|f| &f.keeps);
            sets.iter().flatten().any(|f| f.finding == finding)
                || own.into_iter().any(|k| touchy.minds(&k.bound, None, trade))
        });
        if let Some(sex) = zone.sex {
            classes.retain(|c| c.first().and_then(|n| domain.cells.get(n)).is_some_and(|cell| cell.sex == sex));
        }
        let mut bans: Vec<Vec<FindingId>> = Vec::new();
        for coat in domain.unlike() {
            for set in bans::sets(choices, trade, touchy, site, &domain.dog(0, coat, trade)) {
                if !bans.contains(&set) {
                    bans.push(set);
                }
            }
        }
        // Sites that are alike keep alike.
        for at in self.at.iter_mut().filter(|at| at.like == number) {
            at.keeps.clone_from(&numbers);
            at.by_coat = by_coat;
        }
        let sets: Rc<[Vec<Fact>]> = sets.into();
        if let Some(at) = self.at.get_mut(number) {
            at.sets = Rc::clone(&sets);
        }
        for (set, facts) in sets.iter().enumerate() {
            for class in &classes {
                let Some(cell) = class.first() else { continue };
                let mut point = Point::new(cell, 0, facts.clone());
                let mut dog = point.dog(domain, trade);
                let mut row = None;
                for (coat, id) in domain.coats.iter().enumerate() {
                    (point.coat, dog.coat) = (coat, Some(*id));
                    // Where nothing asks for coats the situation is the same on them all.
                    let row = match row.filter(|_| !by_coat) {
                        Some(known) => known,
                        None => *row.insert(self.row(number, &dog)),
                    };
                    let worked = self.on_coat(row, number, coat, &dog);
                    self.note(number, worked, &point, set, class, found, unfinished);
                }
            }
        }
        // What stands in for a stroke hangs on every keep, so that nothing known before is taken for it.
        for facts in bans.iter().map(|set| placed(set, trade, site)) {
            for (coat, class) in (0..domain.coats.len()).flat_map(|coat| classes.iter().map(move |c| (coat, c))) {
                let Some(cell) = class.first() else { continue };
                let point = Point::new(cell, coat, facts.clone());
                let dog = point.dog(domain, trade);
                let worked = self.judged(&Situation::of(choices, trade, &dog, site), &dog);
                for diagnostic in &worked.said {
                    found.add(diagnostic, &point, class);
                }
            }
        }
    }

    /// Which keeps can matter at a site.
    pub(super) fn touchy(&mut self, number: usize) -> Option<&mut Touchy> {
        let (choices, trade, domain) = (self.choices, self.trade, self.domain);
        let at = self.at.get(number)?;
        let new = || {
            let dogs: Vec<Dog> = domain.unlike().map(|coat| domain.dog(0, coat, trade)).collect();
            Touchy::new(choices, trade, at.site, &at.blends, &dogs)
        };
        Some(self.touchy.entry(at.list).or_insert_with(new))
    }

    /// Takes down what a dog showed at a site.
    #[allow(clippy::too_many_arguments)]
    fn note(
        &mut self,
        number: usize,
        worked: usize,
        point: &Point,
        set: usize,
        class: &Cells,
        found: &mut Found<'_>,
        unfinished: &mut Vec<(Rank, Site, Point, Cells)>,
    ) {
        let domain = self.domain;
        let Some(at) = self.at.get_mut(number) else { return };
        let Some(worked) = self.worked.get(worked) else { return };
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
        if finish.outcome != Outcome::Written || finish.fine.tool.is_none() {
            return;
        }
        let Some(stays) = Stays::of(finish, &Dog::default(), self.trade) else { return };
        let by = (finish.from_recipe, finish.statement);
        let dogs = match at.outcomes.iter_mut().find(|o| o.coat == point.coat && o.stays == stays && o.by == by) {
            Some(outcome) => &mut outcome.dogs,
            None => {
                at.outcomes.push(Left { coat: point.coat, stays, by, dogs: Vec::new() });
                match at.outcomes.last_mut() {
                    Some(outcome) => &mut outcome.dogs,
                    None => return,
                }
            }
        };
        dogs.push(Group { set, cells: class.clone() });
    }

    /// M016, once: every part that nobody mentions on the simplest dog that has such a part.
    fn unfinished(&self, mut all: Vec<(Rank, Site, Point, Cells)>, found: &mut Found<'_>) {
        all.sort_by_key(|(rank, ..)| *rank);
        let Some(((_, _, first, _), place)) = all.first().zip(self.choices.place) else { return };
        let same = |point: &Point, cells: &Cells| {
            point.coat == first.coat && point.facts.is_empty() == first.facts.is_empty() && cells.has(first.cell)
        };
        let simplest: Sites = all.iter().filter(|(_, _, p, cells)| same(p, cells)).map(|(_, site, ..)| *site).collect();
        let alike = |at: &&At| self.at.get(at.like).is_some_and(|first| simplest.has(first.site));
        let sites: Sites = self.at.iter().filter(alike).map(|at| at.site).collect();
        let diagnostic = unfinished_message(self.choices, self.trade, self.trade.both_sides(sites), place);
        for (_, _, point, cells) in &all {
            found.add(&diagnostic, point, cells);
        }
    }
}
