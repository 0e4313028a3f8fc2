//! What was found over many dogs: each message once, with the simplest dog that it fails for.

use super::cells::Cells;
use super::dog_card::{card, dog_words};
use super::domain::Domain;
use crate::choices::Choices;
use crate::diagnostic::{Diagnostic, Severity, code};
use crate::measure::Weight;
use crate::names::card::{Dog, Fact};
use crate::names::condition::Grade;
use crate::names::sites::Sites;
use crate::names::trade::Trade;
use crate::source::Place;
use smol_str::SmolStr;

/// A dog that was tried: a cell, a coat, perhaps another coat on one part, and findings.
#[derive(Clone, Debug)]
pub(crate) struct Point {
    pub(crate) cell: usize,
    pub(crate) coat: usize,
    /// Another coat on some part.
    pub(crate) part: Option<(Sites, usize)>,
    pub(crate) facts: Vec<Fact>,
    /// A build and a weight of its own, where more than what stands for the cell plays a part.
    pub(crate) build: Option<SmolStr>,
    pub(crate) weight: Option<i64>,
}

/// How simple a dog is, the simplest first: fewest findings, mildest mats, one coat, the coats in the order of `serves`, the first
/// cell.
pub(crate) type Rank = (usize, Grade, usize, bool, bool, usize, usize);

impl Point {
    /// A dog of a cell with one coat.
    pub(crate) fn new(cell: usize, coat: usize, facts: Vec<Fact>) -> Self {
        Self { cell, coat, part: None, facts, build: None, weight: None }
    }

    pub(crate) fn rank(&self, domain: &Domain) -> Rank {
        let cell = domain.cells.get(self.cell);
        let mats = cell.map_or(Grade::None, |c| c.mats);
        let by_age = cell.map_or(0, |c| c.by_age.len());
        (self.facts.len(), mats, by_age, self.part.is_some(), self.build.is_some(), self.coat, self.cell)
    }

    /// The dog.
    pub(crate) fn dog(&self, domain: &Domain, trade: &Trade) -> Dog {
        let mut dog = domain.dog(self.cell, self.coat, trade);
        if let Some((sites, coat)) = self.part
            && let Some(coat) = domain.coats.get(coat)
        {
            dog.coats.push((sites, *coat));
        }
        dog.findings.extend(self.facts.iter().cloned());
        dog.build = self.build.clone().or(dog.build);
        dog.weight = self.weight.map(Weight).or(dog.weight);
        dog
    }
}

struct Entry {
    /// The rule, its place, and for a finding that wants an answer, where that is declared.
    key: Key,
    diagnostic: Diagnostic,
    rank: Rank,
    point: Point,
    /// Where it fails without findings: the cells by coat.
    fails: Vec<Cells>,
}

type Key = (&'static str, Severity, Place, Option<Place>);

/// A rule speaks once of a statement; of findings without an answer it speaks once of each.
fn key(diagnostic: &Diagnostic) -> Key {
    let finding = (diagnostic.code == code::C005).then(|| diagnostic.related.first().map(|r| r.place)).flatten();
    (diagnostic.code, diagnostic.severity, diagnostic.place, finding)
}

/// One message a rule and statement.
pub(super) struct Found<'a> {
    recipe: SmolStr,
    trade: &'a Trade,
    domain: &'a Domain,
    entries: Vec<Entry>,
}

impl<'a> Found<'a> {
    pub(super) fn new(choices: &Choices, trade: &'a Trade, domain: &'a Domain) -> Self {
        Self { recipe: choices.name.clone(), trade, domain, entries: Vec::new() }
    }

    /// Whether a dog no less simple is known for a message.
    pub(super) fn knows(&self, code: &str, place: Place, rank: Rank) -> bool {
        self.entries.iter().any(|e| e.diagnostic.code == code && e.diagnostic.place == place && e.rank <= rank)
    }

    /// A message that holds for a dog and, in the same way, for the other cells of its class.
    pub(super) fn add(&mut self, diagnostic: &Diagnostic, point: &Point, cells: &Cells) {
        let key = key(diagnostic);
        let at = self.entries.iter().position(|e| e.key == key);
        self.put(at, diagnostic, point, cells);
    }

    /// A message beside others of its rule and statement.
    pub(super) fn add_another(&mut self, diagnostic: &Diagnostic, point: &Point, cells: &Cells) {
        self.put(None, diagnostic, point, cells);
    }

    fn put(&mut self, at: Option<usize>, diagnostic: &Diagnostic, point: &Point, cells: &Cells) {
        let rank = point.rank(self.domain);
        let at = at.unwrap_or_else(|| {
            let none = Cells::none(self.domain.cells.len());
            self.entries.push(Entry {
                key: key(diagnostic),
                diagnostic: diagnostic.clone(),
                rank,
                point: point.clone(),
                fails: vec![none; self.domain.coats.len()],
            });
            self.entries.len() - 1
        });
        let Some(entry) = self.entries.get_mut(at) else { return };
        if rank < entry.rank {
            (entry.diagnostic, entry.rank, entry.point) = (diagnostic.clone(), rank, point.clone());
        }
        if point.facts.is_empty()
            && point.part.is_none()
            && let Some(fails) = entry.fails.get_mut(point.coat)
        {
            fails.join(cells);
        }
    }

    /// The messages; where not every dog is meant, the dog it fails for is told.
    pub(super) fn told(self) -> Vec<Diagnostic> {
        let all = Cells::all(self.domain.cells.len());
        let mut out: Vec<Diagnostic> = Vec::new();
        for Entry { mut diagnostic, point, fails, .. } in self.entries {
            let dog = point.dog(self.domain, self.trade);
            if fails.iter().any(|cells| *cells != all) {
                let why = diagnostic.why.take().map(|w| format!("{w} ")).unwrap_or_default();
                let words = dog_words(&dog, self.trade, self.domain);
                diagnostic.why = Some(format!("{why}The dog it fails for: {words}."));
            }
            // One name a card, also where a rule fails twice.
            let before = out.iter().filter(|d| d.code == diagnostic.code).count();
            let more = if before == 0 { String::new() } else { format!("-{}", before + 1) };
            let name = format!("fails-{}-{}{more}", self.recipe, diagnostic.code.to_lowercase());
            diagnostic.dog = Some(card(&dog, self.trade, &name, &self.recipe));
            out.push(diagnostic);
        }
        out
    }
}
