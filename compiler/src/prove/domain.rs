//! The dogs that a recipe serves, as finitely many points: its coats, and the cells into which its conditions cut everything
//! else that a card tells.
//!
//! A card lies on a grid (100 g, 1 cm, 1 week), and every condition has its ends there. Between two ends no condition tells two
//! dogs apart, so one value stands for each piece: the usual one where it can be, else the roundest. A cell is one piece of
//! each measure, with a sex, a build and the worst grade of mats. A weight that no dog of that height has is no cell.

use super::candidates::each_once;
use super::cells::Cells;
use crate::atlas;
use crate::choices::Choices;
use crate::joins::rooms;
use crate::measure::{DAY, Length, MM, Time, Weight};
use crate::names::card::{Dog, Fact, Mat};
use crate::names::condition::{Bounds, Cond, Grade};
use crate::names::sites::Sites;
use crate::names::trade::{CoatId, FindingId, Sex, Trade};
use smol_str::SmolStr;

/// The grid of a card: grams, nanometres, seconds.
const GRID: (i64, i64, i64) = (100, 10 * MM, 7 * DAY);
/// What is usual, where nothing asks for another value; any would do.
const USUAL: (i64, i64, i64) = (12_000, 400 * MM, 3 * 365 * DAY);

/// A piece of a measure that no condition cuts further.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Piece {
    /// Its least value on the grid.
    pub(crate) low: i64,
    /// Its greatest value on the grid, or the last that anything asks about.
    pub(crate) high: i64,
    /// The value that stands for it.
    pub(crate) round: i64,
}

/// Everything of a dog but coat and findings, as far as the recipe tells dogs apart.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Cell {
    pub(crate) sex: Sex,
    pub(crate) build: Option<SmolStr>,
    pub(crate) weight: Piece,
    pub(crate) height: Option<Piece>,
    pub(crate) age: Option<Piece>,
    pub(crate) mats: Grade,
    /// Findings that it has by its age, whatever its card says.
    pub(crate) by_age: Vec<FindingId>,
}

/// The dogs that a recipe serves.
#[derive(Clone, Debug)]
pub(crate) struct Domain {
    /// The coats, in the order of `serves`.
    pub(crate) coats: Vec<CoatId>,
    /// For each coat the first on which every tool leaves the same.
    pub(crate) like: Vec<usize>,
    /// The cells, the simplest first within each measure.
    pub(crate) cells: Vec<Cell>,
}

impl Domain {
    /// The dogs of a recipe.
    pub(crate) fn of(choices: &Choices, trade: &Trade) -> Self {
        Self::over(&choices.serves, &conditions(choices), trade)
    }

    /// The dogs that meet a condition, as far as any of some conditions tells them apart.
    pub(crate) fn over(serves: &Cond, conds: &[&Cond], trade: &Trade) -> Self {
        let coats = match &serves.coats {
            Some(coats) => coats.clone(),
            None => (0..trade.coats.len()).filter_map(|i| u16::try_from(i).ok().map(CoatId)).collect(),
        };
        // Where the author says nothing of weight, the smallest dogs are served too.
        let lightest = if serves.weight.low.is_none() { rooms().lightest() } else { GRID.0 };
        let weights = pieces(conds, &serves.weight, |c| &c.weight, (GRID.0, lightest), USUAL.0, &[]);
        let heights = spoken_of(conds, &serves.height, |c| &c.height, GRID.1, USUAL.1, &[]);
        // Young and old dogs have findings by their age: where ages count, those ends cut them too.
        let limits = trade.findings.iter().flat_map(|f| [f.younger_than, f.older_than]).flatten();
        let limits: Vec<i64> = limits.map(|t| t.0).collect();
        let ages = spoken_of(conds, &serves.age, |c| &c.age, GRID.2, USUAL.2, &limits);
        let told = |f: fn(&Cond) -> bool| conds.iter().any(|c| f(c));
        let builds: Vec<Option<SmolStr>> = if told(|c| c.builds.is_some()) {
            serves.open_builds().map(|b| Some(SmolStr::new_static(b))).collect()
        } else {
            vec![None]
        };
        let sexes = serves.sex.map_or_else(|| vec![Sex::Dog, Sex::Bitch], |sex| vec![sex]);
        let mut cells = Vec::new();
        for mats in grades(conds, serves.mats) {
            for build in &builds {
                for &weight in &weights {
                    for &height in &heights {
                        let Some((weight, height)) = possible(build.as_ref(), weight, height) else { continue };
                        for &age in &ages {
                            let by_age = by_age(trade, age);
                            if by_age.iter().any(|f| serves.without.contains(f)) {
                                continue;
                            }
                            for &sex in &sexes {
                                let (build, by_age) = (build.clone(), by_age.clone());
                                cells.push(Cell { sex, build, weight, height, age, mats, by_age });
                            }
                        }
                    }
                }
            }
        }
        // The simplest come first, so that the first of a class stands for it.
        cells.sort_by_key(|cell: &Cell| (cell.mats, cell.by_age.len()));
        let of = |id: &CoatId| trade.coat(*id);
        let alike = |a: &CoatId, b: &CoatId| of(a).zip(of(b)).is_some_and(|(a, b)| a.leaves_like(b));
        let first = |(own, coat)| coats.iter().position(|c| alike(c, coat)).unwrap_or(own);
        let like = coats.iter().enumerate().map(first).collect();
        Self { coats, like, cells }
    }

    /// The coats on which some tool leaves what it leaves on no coat before them.
    pub(crate) fn unlike(&self) -> impl Iterator<Item = usize> {
        self.like.iter().enumerate().filter(|(coat, like)| coat == *like).map(|(coat, _)| coat)
    }

    /// The cells, put together where none of these conditions tells them apart, whatever coat and findings the dog has, nor a
    /// finding by age that matters.
    pub(crate) fn classes<'c>(
        &self,
        conds: impl Iterator<Item = &'c Cond>,
        sexes: impl Iterator<Item = Sex>,
        mut matters: impl FnMut(FindingId) -> bool,
    ) -> Vec<Cells> {
        let many = self.cells.len();
        let mut classes = vec![Cells::all(many)];
        let mut split = |holds: &dyn Fn(&Cell) -> bool| {
            if many < 2 {
                return;
            }
            classes = classes
                .drain(..)
                .flat_map(|class| {
                    let (mut yes, mut no) = (Cells::none(many), Cells::none(many));
                    for cell in class.iter() {
                        let set = if self.cells.get(cell).is_some_and(holds) { &mut yes } else { &mut no };
                        set.add(cell);
                    }
                    [yes, no]
                })
                .filter(|class| !class.is_empty())
                .collect();
        };
        let mut parts: Vec<&Cond> = Vec::new();
        for cond in conds.filter(|c| !c.is_always()) {
            each(cond, &mut parts);
        }
        let mut asked: Vec<&Cond> = Vec::new();
        for cond in parts.into_iter().filter(|c| tells_cells_apart(c)) {
            // Statements of one block ask alike.
            if !asked.contains(&cond) {
                split(&|cell| cell.meets(cond));
                asked.push(cond);
            }
        }
        let mut sexes: Vec<Sex> = sexes.collect();
        sexes.sort_unstable();
        sexes.dedup();
        for sex in sexes {
            split(&|cell| cell.sex == sex);
        }
        for finding in each_once(self.cells.iter().flat_map(|c| c.by_age.iter().copied()).collect()) {
            if matters(finding) {
                split(&|cell| cell.by_age.contains(&finding));
            }
        }
        classes.sort_by_key(Cells::first);
        classes
    }

    /// A dog of a cell with one coat, and no findings but those of its age.
    pub(crate) fn dog(&self, cell: usize, coat: usize, trade: &Trade) -> Dog {
        let coat = self.coats.get(coat).copied();
        let Some(cell) = self.cells.get(cell) else { return Dog { coat, ..Dog::default() } };
        let facts = cell.by_age.iter().filter_map(|id| trade.finding(*id).map(|f| (*id, f)));
        let mat = Mat {
            grade: cell.mats,
            sites: Sites::NONE,
            off_skin: None,
            words: String::new(),
            place: trade.zones.first().map_or(NOWHERE, |z| z.place),
        };
        Dog {
            sex: Some(cell.sex),
            build: cell.build.clone(),
            coat,
            weight: Some(Weight(cell.weight.round)),
            height: cell.height.map(|h| Length(h.round)),
            age: cell.age.map(|a| Time(a.round)),
            findings: facts.map(|(id, f)| fact(id, trade.all_sites(), f.place)).collect(),
            mats: if cell.mats == Grade::None { Vec::new() } else { vec![mat] },
            ..Dog::default()
        }
    }
}

const NOWHERE: crate::source::Place = crate::source::Place { file: crate::source::FileId(0), start: 0, end: 0 };

/// A finding at a place.
pub(crate) fn fact(finding: FindingId, sites: Sites, place: crate::source::Place) -> Fact {
    Fact { finding, sites, mark: None, after: None, direction: None, seen: None, words: String::new(), place }
}

impl Cell {
    /// Whether what a condition says of a cell holds, whatever it says of coats and findings.
    fn meets(&self, cond: &Cond) -> bool {
        let in_range = |bounds: &Bounds, piece: Option<Piece>| {
            *bounds == Bounds::default() || piece.is_some_and(|p| bounds.has(p.round))
        };
        let square = SmolStr::new_static("square");
        cond.builds.as_ref().is_none_or(|any| any.contains(self.build.as_ref().unwrap_or(&square)))
            && cond.sex.is_none_or(|s| s == self.sex)
            && in_range(&cond.weight, Some(self.weight))
            && in_range(&cond.height, self.height)
            && in_range(&cond.age, self.age)
            && cond.mats.is_none_or(|worst| self.mats <= worst)
    }
}

/// Whether a condition asks anything of a cell.
fn tells_cells_apart(cond: &Cond) -> bool {
    cond.builds.is_some()
        || cond.sex.is_some()
        || cond.mats.is_some()
        || [&cond.weight, &cond.height, &cond.age].iter().any(|b| **b != Bounds::default())
}

/// A condition and all that it excludes.
fn each<'c>(cond: &'c Cond, out: &mut Vec<&'c Cond>) {
    out.push(cond);
    cond.not.iter().for_each(|n| each(n, out));
}

/// Every condition of a recipe, with what each excludes.
pub(crate) fn conditions(choices: &Choices) -> Vec<&Cond> {
    let mut all: Vec<&Cond> = Vec::new();
    each(&choices.serves, &mut all);
    let conds = choices.finishes.iter().map(|c| &c.cond).chain(choices.keeps.iter().map(|k| &k.cond));
    let conds = conds.chain(choices.blends.iter().map(|b| &b.cond)).chain(choices.lines.iter().map(|l| &l.cond));
    let conds = conds.chain(choices.orders.iter().map(|o| &o.cond)).chain(choices.prep.iter().map(|p| &p.cond));
    for cond in conds.filter(|c| !c.is_always()) {
        each(cond, &mut all);
    }
    all
}

/// The pieces of a measure that some condition speaks of; else it plays no part, and the dog has none.
fn spoken_of(
    conds: &[&Cond],
    served: &Bounds,
    of: fn(&Cond) -> &Bounds,
    grid: i64,
    usual: i64,
    more: &[i64],
) -> Vec<Option<Piece>> {
    if conds.iter().all(|c| *of(c) == Bounds::default()) {
        return vec![None];
    }
    pieces(conds, served, of, (grid, grid), usual, more).into_iter().map(Some).collect()
}

/// The pieces into which the conditions cut a measure, on the card's grid, from the least value on and within what is served.
fn pieces(
    conds: &[&Cond],
    served: &Bounds,
    of: fn(&Cond) -> &Bounds,
    (grid, least): (i64, i64),
    usual: i64,
    more: &[i64],
) -> Vec<Piece> {
    // Each end has a value on both of its sides, so that a piece reaches from its first value to its last.
    let beside = |value: i64| [value - grid, value, value + grid];
    let ends = conds.iter().flat_map(|c| [of(c).low, of(c).high]).flatten().map(|(value, _)| value);
    let mut cuts: Vec<i64> = ends.chain(more.iter().copied()).flat_map(beside).collect();
    cuts.extend([least, usual]);
    cuts.retain(|v| *v > 0 && served.has(*v));
    cuts.sort_unstable();
    cuts.dedup();
    let mut pieces: Vec<(i64, i64)> = Vec::new();
    let mut last: Option<Vec<bool>> = None;
    for value in cuts {
        // Values that every condition treats alike are one piece.
        let now: Vec<bool> =
            conds.iter().map(|c| of(c).has(value)).chain(more.iter().flat_map(|m| [value < *m, value > *m])).collect();
        match pieces.last_mut() {
            Some(piece) if last.as_ref() == Some(&now) => piece.1 = value,
            _ => pieces.push((value, value)),
        }
        last = Some(now);
    }
    if pieces.is_empty() {
        pieces.push((usual, usual));
    }
    pieces.into_iter().map(|(low, high)| Piece { low, high, round: roundest(low, high, grid, usual) }).collect()
}

/// The usual value if it lies between two others, else the roundest between them, and of equally round ones the nearest to the
/// usual one.
pub(crate) fn roundest(low: i64, high: i64, grid: i64, usual: i64) -> i64 {
    if (low..=high).contains(&usual) {
        return usual;
    }
    let near = if usual > high { high } else { low };
    let round = [100, 50, 20, 10, 5, 2, 1].into_iter().find_map(|many| {
        let step = grid.saturating_mul(many);
        let value = if usual > high {
            high.div_euclid(step) * step
        } else {
            low.saturating_add(step - 1).div_euclid(step) * step
        };
        (low..=high).contains(&value).then_some(value)
    });
    round.unwrap_or(near)
}

/// The roundest weight of a piece that is below a threshold, or of the whole piece.
pub(crate) fn roundest_weight(weight: Piece, below: Option<i64>) -> i64 {
    match below {
        Some(below) if below <= weight.round => {
            roundest(weight.low, weight.high.min(below - GRID.0).max(weight.low), GRID.0, USUAL.0)
        }
        _ => weight.round,
    }
}

/// The mildest of each set of grades that no condition tells apart, up to what is served.
fn grades(conds: &[&Cond], served: Option<Grade>) -> Vec<Grade> {
    let all = [Grade::None, Grade::Tangle, Grade::Knot, Grade::Tight, Grade::Pelted];
    let told = |grade: &Grade| {
        let before = all.iter().rev().find(|g| *g < grade);
        before.is_none_or(|before| {
            conds.iter().any(|c| c.mats.is_some_and(|worst| (*before <= worst) != (*grade <= worst)))
        })
    };
    all.into_iter().filter(|g| served.is_none_or(|s| *g <= s)).filter(told).collect()
}

/// The findings that a dog has by its age.
fn by_age(trade: &Trade, age: Option<Piece>) -> Vec<FindingId> {
    let Some(age) = age.map(|a| Time(a.round)) else { return Vec::new() };
    let numbered = (0_u16..).zip(&trade.findings);
    numbered.filter(|(_, f)| f.is_due_by_age(age)).map(|(n, _)| FindingId(n)).collect()
}

/// The weight and height of a dog that can be: what it weighs, over what its build weighs at that height, within what the
/// drawing's file says of dogs. None if the two pieces hold no such dog.
fn possible(build: Option<&SmolStr>, weight: Piece, height: Option<Piece>) -> Option<(Piece, Option<Piece>)> {
    let Some(height) = height else { return Some((weight, None)) };
    [height.round, height.low, height.high].into_iter().find_map(|tall| {
        let (least, most) = atlas::weights(build, Length(tall));
        let (low, high) = (weight.low.max(least), weight.high.min(most));
        let up = low.saturating_add(GRID.0 - 1).div_euclid(GRID.0) * GRID.0;
        (up <= high).then(|| {
            let round =
                if (up..=high).contains(&weight.round) { weight.round } else { roundest(up, high, GRID.0, USUAL.0) };
            (Piece { round, ..weight }, Some(Piece { round: tall, ..height }))
        })
    })
}

/// One dog without findings for each coat and cell: the dogs that stand for all others.
#[must_use]
pub fn representatives(choices: &Choices, trade: &Trade) -> Vec<Dog> {
    let domain = Domain::of(choices, trade);
    let cells = 0..domain.cells.len();
    (0..domain.coats.len())
        .flat_map(|coat| cells.clone().map(move |cell| (cell, coat)))
        .map(|(cell, coat)| domain.dog(cell, coat, trade))
        .collect()
}
