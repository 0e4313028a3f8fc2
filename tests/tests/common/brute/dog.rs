//! Dogs and the conditions that they meet.

use coatwright::names::sites::{Site, Sites};
use coatwright::names::trade::{FindingId, Sex, ToolId, Trade, Where};
use std::collections::BTreeSet;

/// From and to, both in it, in the smallest unit of its kind.
pub(super) type Span = (i64, i64);
pub(super) const OPEN: Span = (i64::MIN, i64::MAX);

/// All parts hold, and none of `not`.
#[derive(Clone, Debug, PartialEq)]
pub struct Cond {
    pub(super) coats: Option<BTreeSet<u16>>,
    pub(super) builds: Option<BTreeSet<String>>,
    pub(super) sex: Option<BTreeSet<Sex>>,
    /// Grams, nanometres, seconds.
    pub(super) measures: [Span; 3],
    /// Mats no worse: 0 none, 1 tangles, 2 knots, 3 tight, 4 pelted.
    pub(super) mats: Option<usize>,
    pub(super) findings: BTreeSet<FindingId>,
    pub(super) without: BTreeSet<FindingId>,
    pub(super) not: Vec<Cond>,
}

impl Default for Cond {
    fn default() -> Self {
        let (findings, without) = (BTreeSet::new(), BTreeSet::new());
        Self {
            coats: None,
            builds: None,
            sex: None,
            measures: [OPEN; 3],
            mats: None,
            findings,
            without,
            not: Vec::new(),
        }
    }
}

fn inside<T: Ord>(a: &Option<BTreeSet<T>>, b: &Option<BTreeSet<T>>) -> bool {
    b.as_ref().is_none_or(|b| a.as_ref().is_some_and(|a| a.is_subset(b)))
}

fn apart<T: Ord>(a: &Option<BTreeSet<T>>, b: &Option<BTreeSet<T>>) -> bool {
    matches!((a, b), (Some(a), Some(b)) if a.is_disjoint(b))
}

pub(super) fn both<T: Ord + Clone>(a: &Option<BTreeSet<T>>, b: &Option<BTreeSet<T>>) -> Option<BTreeSet<T>> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a & b),
        (a, b) => a.clone().or_else(|| b.clone()),
    }
}

impl Cond {
    /// Whether it holds for a dog at a place: its coat may differ there. A measure that nobody took lies in no range.
    pub(super) fn holds(&self, dog: &Dog, site: Site) -> bool {
        let told = [Some(dog.weight), dog.height, dog.days.map(|d| d * 86_400)];
        self.coats.as_ref().is_none_or(|any| any.contains(&dog.coat_at(site)))
            && self.builds.as_ref().is_none_or(|any| any.contains(&dog.build))
            && self.sex.as_ref().is_none_or(|any| any.contains(&dog.sex))
            && self.measures.iter().zip(told).all(|(&(low, high), told)| {
                (low, high) == OPEN || told.is_some_and(|value| low <= value && value <= high)
            })
            && self.mats.is_none_or(|worst| dog.mats.iter().all(|m| m.0 <= worst))
            && self.findings.iter().all(|f| dog.has(*f))
            && !self.without.iter().any(|f| dog.has(*f))
            && !self.not.iter().any(|c| c.holds(dog, site))
    }

    /// Whether the two texts alone show that every dog of `self` is one of `other`.
    pub(super) fn implies(&self, other: &Self) -> bool {
        inside(&self.coats, &other.coats)
            && inside(&self.builds, &other.builds)
            && inside(&self.sex, &other.sex)
            && self.measures.iter().zip(&other.measures).all(|(a, b)| b.0 <= a.0 && a.1 <= b.1)
            && other.mats.is_none_or(|o| self.mats.is_some_and(|s| s <= o))
            && other.findings.is_subset(&self.findings)
            && other.not.iter().all(|n| self.not.iter().any(|m| n.implies(m)) || self.excludes(n))
    }

    /// Whether the two texts alone show that no dog is of both.
    pub(super) fn excludes(&self, other: &Self) -> bool {
        apart(&self.coats, &other.coats)
            || apart(&self.builds, &other.builds)
            || apart(&self.sex, &other.sex)
            || self.measures.iter().zip(&other.measures).any(|(a, b)| a.1 < b.0 || b.1 < a.0)
            || self.not.iter().any(|n| other.implies(n))
            || other.not.iter().any(|n| self.implies(n))
    }

    pub(super) fn and(&self, other: &Self) -> Self {
        let mut measures = self.measures;
        for (mine, others) in measures.iter_mut().zip(other.measures) {
            *mine = (mine.0.max(others.0), mine.1.min(others.1));
        }
        Self {
            coats: both(&self.coats, &other.coats),
            builds: both(&self.builds, &other.builds),
            sex: both(&self.sex, &other.sex),
            measures,
            mats: [self.mats, other.mats].into_iter().flatten().min(),
            findings: &self.findings | &other.findings,
            without: &self.without | &other.without,
            not: self.not.iter().chain(&other.not).cloned().collect(),
        }
    }

    /// This one and all that stand in its `not`.
    pub fn all<'c>(&'c self, out: &mut Vec<&'c Cond>) {
        out.push(self);
        self.not.iter().for_each(|n| n.all(out));
    }
}

/// A dog as its card tells it.
#[derive(Clone, Debug)]
pub struct Dog {
    pub sex: Sex,
    pub build: String,
    pub coat: u16,
    pub coats: Vec<(Sites, u16)>,
    pub weight: i64,
    pub height: Option<i64>,
    pub days: Option<i64>,
    /// What it has, and where.
    pub findings: Vec<(FindingId, Sites)>,
    /// Which tool caused a finding, where the card says so.
    pub causes: Vec<(FindingId, ToolId)>,
    /// How many of these follow from its age or its mats, not from a line of the card.
    pub due: usize,
    pub mats: Vec<(usize, Sites)>,
    pub clip_off: bool,
}

impl Dog {
    pub(super) fn coat_at(&self, site: Site) -> u16 {
        self.coats.iter().rev().find(|(sites, _)| sites.has(site)).map_or(self.coat, |(_, coat)| *coat)
    }

    pub(super) fn has(&self, finding: FindingId) -> bool {
        self.findings.iter().any(|(f, _)| *f == finding)
    }

    /// How many lines of findings its card has.
    pub fn lines(&self) -> usize {
        self.findings.len() - self.due
    }

    /// A young pup, an old dog and felted ears have what follows from it, whatever the card says.
    pub fn due(&mut self, trade: &Trade) {
        let age = self.days.map(|d| d * 86_400);
        for (id, finding) in findings(trade) {
            let due = match (age, finding.older_than, finding.younger_than) {
                (None, _, _) | (_, None, None) => false,
                (Some(age), over, under) => over.is_none_or(|t| age > t.0) && under.is_none_or(|t| age < t.0),
            };
            let mut sites = if due { trade.all_sites() } else { Sites::NONE };
            if let (Where::Fixed(on), Some(least)) = (finding.on, finding.from_mats) {
                for (_, mat) in self.mats.iter().filter(|(grade, _)| *grade >= least as usize) {
                    sites = sites | (*mat & on);
                }
            }
            if !sites.is_empty() && !self.has(id) {
                self.findings.push((id, sites));
                self.due += 1;
            }
        }
    }
}

pub fn findings(trade: &Trade) -> impl Iterator<Item = (FindingId, &coatwright::names::trade::Finding)> {
    (0_u16..).map(FindingId).zip(&trade.findings)
}
