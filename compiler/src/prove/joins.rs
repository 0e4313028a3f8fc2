//! Borders: what the two sides leave, over every cell, two coats and the findings of a statement on each side.

use super::candidates::{elsewhere, needed};
use super::cells::Cells;
use super::found::{Found, Point, Rank};
use super::sites::{Group, Left, Proof, Stay};
use crate::finish::{Finish, Outcome};
use crate::names::card::{Dog, Fact};
use crate::names::condition::Cond;
use crate::names::sites::Sites;
use crate::names::trade::{FindingId, Trade, Where};
use crate::rules::{Border, Pair, Shows, Stays, covers, joins_said, pairs, shows, step};
use crate::source::Place;
use rustc_hash::FxHashMap;
use std::cmp::Reverse;
use std::rc::Rc;

/// A border that shows on a dog.
struct Step<'t> {
    shows: Reverse<Shows>,
    rank: Rank,
    statement: Place,
    pair: Pair<'t>,
    point: Point,
    cells: Cells,
}

/// J001 over all borders.
pub(super) fn prove(proof: &mut Proof<'_>, found: &mut Found<'_>) {
    let mut steps: Vec<Step<'_>> = Vec::new();
    let mut shown: FxHashMap<(usize, usize), bool> = FxHashMap::default();
    for pair in pairs(proof.trade, proof.choices.symmetric) {
        let (Some(a), Some(b)) = (proof.number(pair.site), proof.number(pair.other)) else { continue };
        // A blend or a line for every dog takes care of it.
        if covers(proof.choices, pair).any(|(cond, finding)| cond.is_always() && finding.is_none()) {
            continue;
        }
        // Most borders part the same two lengths as some other.
        let both = (proof.lengths_at(a), proof.lengths_at(b));
        if *shown.entry(both).or_insert_with(|| any_shows(proof, both)) {
            border(proof, pair, a, b, &mut steps);
        }
    }
    steps.sort_by_key(|s| (s.rank.0, s.shows, s.rank));
    tell(proof, &steps, found);
}

/// Whether a step shows between any two of the lengths of two sites, whatever findings the dogs have.
fn any_shows(proof: &Proof<'_>, (mine, theirs): (usize, usize)) -> bool {
    let coat = |n: usize| proof.domain.coats.get(n).and_then(|c| proof.trade.coat(*c));
    let show = |one: &Stay, other: &Stay| {
        one.cells.meets(&other.cells)
            && coat(one.coat)
                .zip(coat(other.coat))
                .is_some_and(|(a, b)| shows(&one.stays, &other.stays, a, b).is_some())
    };
    proof.lengths(mine).iter().any(|one| proof.lengths(theirs).iter().any(|other| show(one, other)))
}

fn border<'t>(proof: &mut Proof<'t>, pair: Pair<'t>, a: usize, b: usize, steps: &mut Vec<Step<'t>>) {
    let (choices, trade, domain) = (proof.choices, proof.trade, proof.domain);
    let coat = |n: usize| domain.coats.get(n).and_then(|c| trade.coat(*c));
    let mut tried: Vec<(Place, Reverse<Shows>, Rank, Point, Cells)> = Vec::new();
    let mut classes: Option<Vec<Cells>> = None;
    let covered: Vec<FindingId> =
        covers(choices, pair).filter(|(cond, _)| cond.is_always()).filter_map(|(_, finding)| finding).collect();
    let sets = [proof.sets(a), proof.sets(b)];
    // A dog with a finding for which the border is blended, or has a line, shows no step there.
    let open = |sets: &[Vec<Fact>]| -> Vec<bool> {
        sets.iter().map(|set| !set.iter().any(|fact| covered.contains(&fact.finding))).collect()
    };
    let (mine, theirs) = (proof.outcomes(a), proof.outcomes(b));
    let (mine, theirs) = (left_on(&mine, &open(&sets[0])), left_on(&theirs, &open(&sets[1])));
    let mut joint = Joint { numbers: [a, b], ..Joint::default() };
    for (one, my_dogs) in &mine {
        for (other, their_dogs) in &theirs {
            let (Some(ca), Some(cb)) = (coat(one.coat), coat(other.coat)) else { continue };
            let Some(shows) = shows(&one.stays, &other.stays, ca, cb) else { continue };
            let classes = classes.get_or_insert_with(|| classes_at(proof, pair));
            let part = (one.coat != other.coat).then_some((pair.b.sites(), other.coat));
            for (mine_of, theirs_of) in my_dogs.iter().flat_map(|x| their_dogs.iter().map(move |y| (x, y))) {
                let both = mine_of.cells.meet(&theirs_of.cells);
                for class in classes.iter() {
                    let cells = both.meet(class);
                    let Some(cell) = cells.first() else { continue };
                    for way in joint.ways((mine_of.set, theirs_of.set), &sets, pair, trade) {
                        if !joint.shows(way, [one.coat, other.coat], cell, proof) {
                            continue;
                        }
                        let Some(facts) = joint.all.get(way).cloned() else { continue };
                        let point = Point { part, ..Point::new(cell, one.coat, facts) };
                        let statement = one.by.max(other.by).1;
                        tried.push((statement, Reverse(shows), point.rank(domain), point, cells.clone()));
                    }
                }
            }
        }
    }
    tried.sort_by_key(|(_, shows, rank, ..)| (rank.0, *shows, *rank));
    let mut least: FxHashMap<Place, (usize, Reverse<Shows>)> = FxHashMap::default();
    for (statement, shows, rank, point, cells) in tried {
        // More findings than needed, or doubt where it is certain on another, say nothing new of a statement here.
        let simple = (rank.0, shows);
        if least.get(&statement).is_some_and(|least| simple > *least) {
            continue;
        }
        let dog = point.dog(domain, trade);
        if let Some(border) = on(proof, pair, (a, b), &dog) {
            least.entry(border.statement).or_insert(simple);
            steps.push(Step { shows, rank, statement: border.statement, pair, point, cells });
        }
    }
}

/// The cells that the blends and lines of a border tell apart: a finding that one of them is for can come by age.
pub(super) fn classes_at(proof: &Proof<'_>, pair: Pair<'_>) -> Vec<Cells> {
    let covers: Vec<(&Cond, Option<FindingId>)> = covers(proof.choices, pair).collect();
    let matters = |finding| covers.iter().any(|(cond, own)| needed(*own, cond).contains(&finding));
    proof.domain.classes(covers.iter().map(|(cond, _)| *cond), std::iter::empty(), matters)
}

/// What is left on dogs whose set of findings is open, with those dogs.
fn left_on<'l>(all: &'l [Left], open: &[bool]) -> Vec<(&'l Left, Vec<&'l Group>)> {
    let is_open = |dogs: &&Group| open.get(dogs.set).is_some_and(|open| *open);
    let own = |left: &'l Left| (left, left.dogs.iter().filter(is_open).collect::<Vec<_>>());
    all.iter().map(own).filter(|(_, dogs)| !dogs.is_empty()).collect()
}

/// The findings of the two sides of a border on one dog, and what is done on each side then. That hangs on the side's own coat
/// alone, so that it is worked out once for all coats of the other.
#[derive(Default)]
struct Joint {
    numbers: [usize; 2],
    /// The sets of findings.
    all: Vec<Vec<Fact>>,
    /// Which of them come of a set on each side.
    of: FxHashMap<(usize, usize), Vec<usize>>,
    /// What stays where the recipe itself cuts a side, by side, set, coat and cell.
    cut: FxHashMap<(usize, usize, usize, usize), Option<Stays>>,
    /// The dogs with those findings, by side, set and cell, and the situation of each there.
    rows: FxHashMap<(usize, usize, usize), (Dog, usize)>,
}

impl Joint {
    /// The findings of a set of each side on one dog, in each way that can matter.
    fn ways(
        &mut self,
        sets: (usize, usize),
        [mine, theirs]: &[Rc<[Vec<Fact>]>; 2],
        pair: Pair<'_>,
        trade: &Trade,
    ) -> Vec<usize> {
        let all = &mut self.all;
        let new = || {
            let (Some(mine), Some(theirs)) = (mine.get(sets.0), theirs.get(sets.1)) else { return Vec::new() };
            let ways = together(mine, theirs, pair, trade).into_iter();
            ways.map(|way| {
                all.iter().position(|known| alike(known, &way)).unwrap_or_else(|| {
                    all.push(way);
                    all.len() - 1
                })
            })
            .collect()
        };
        self.of.entry(sets).or_insert_with(new).clone()
    }

    /// Whether a step of the recipe's own shows on a dog with those findings: it cuts both sides, and leaves them unlike.
    fn shows(&mut self, way: usize, coats: [usize; 2], cell: usize, proof: &mut Proof<'_>) -> bool {
        let (trade, domain) = (proof.trade, proof.domain);
        let mut stays = |side: usize, number: usize, coat: usize| {
            *self.cut.entry((side, way, coat, cell)).or_insert_with(|| {
                let (dog, row) = self.rows.entry((side, way, cell)).or_insert_with(|| {
                    let facts = self.all.get(way).cloned().unwrap_or_default();
                    let dog = Point::new(cell, coat, facts).dog(domain, trade);
                    let row = proof.row(number, &dog);
                    (dog, row)
                });
                dog.coat = domain.coats.get(coat).copied();
                // Where nothing asks for coats the situation is the same on them all.
                let row = if proof.asks_for_coats(number) { proof.row(number, dog) } else { *row };
                let worked = proof.on_coat(row, number, coat, dog);
                let cut = |f: &&Finish| f.outcome == Outcome::Written && f.fine.tool.is_some();
                proof.worked(worked).filter(cut).and_then(|f| Stays::of(f, dog, trade))
            })
        };
        let ([a, b], [x, y]) = (self.numbers, coats);
        let coat = |n: usize| domain.coats.get(n).and_then(|c| trade.coat(*c));
        stays(0, a, x)
            .zip(stays(1, b, y))
            .zip(coat(x).zip(coat(y)))
            .is_some_and(|((x, y), (a, b))| shows(&x, &y, a, b).is_some())
    }
}

/// The findings of both sides on one dog, in each way that can matter: one that both have is where both are, or where one of them
/// is; and one that is known wherever it lies may lie far from both.
pub(super) fn together(a: &[Fact], b: &[Fact], pair: Pair<'_>, trade: &Trade) -> Vec<Vec<Fact>> {
    let joined = |both: &dyn Fn(&mut Fact, &Fact)| {
        let mut all = a.to_vec();
        for fact in b {
            match all.iter_mut().find(|f| f.finding == fact.finding) {
                Some(own) => both(own, fact),
                None => all.push(fact.clone()),
            }
        }
        all
    };
    let near = pair.a.sites() | pair.b.sites();
    let far = elsewhere(trade, near);
    let away = |mut facts: Vec<Fact>| {
        for fact in &mut facts {
            if trade.finding(fact.finding).is_some_and(|f| f.on != Where::Card) {
                fact.sites = far;
            }
        }
        facts
    };
    let all = joined(&|own, fact| own.sites = own.sites | fact.sites);
    let ways = [all.clone(), joined(&|_, _| {}), joined(&|own, fact| *own = fact.clone()), away(all)];
    let mut different: Vec<Vec<Fact>> = Vec::new();
    for way in ways {
        if !different.iter().any(|known| alike(known, &way)) {
            different.push(way);
        }
    }
    different
}

/// Whether two sets of findings are the same, in the same places.
fn alike(a: &[Fact], b: &[Fact]) -> bool {
    let same = |x: &Fact, y: &Fact| (x.finding, x.sites, x.after) == (y.finding, y.sites, y.after);
    a.len() == b.len() && a.iter().zip(b).all(|(x, y)| same(x, y))
}

/// The step at a border of a dog, if the recipe itself made it and it shows.
fn on<'t>(proof: &mut Proof<'t>, pair: Pair<'t>, (a, b): (usize, usize), dog: &Dog) -> Option<Border<'t>> {
    let (x, y) = (proof.finish(a, dog)?, proof.finish(b, dog)?);
    step(proof.choices, proof.trade, dog, pair, &x, &y).filter(|border| !border.by_reply && !border.left)
}

/// One message a statement and dog: all that shows on the simplest dog, then what shows only on others.
fn tell<'t>(proof: &mut Proof<'t>, steps: &[Step<'t>], found: &mut Found<'_>) {
    let mut statements: Vec<Place> = Vec::new();
    for step in steps {
        if !statements.contains(&step.statement) {
            statements.push(step.statement);
        }
    }
    for statement in statements {
        let own: Vec<&Step<'t>> = steps.iter().filter(|s| s.statement == statement).collect();
        let mut told: Vec<Sites> = Vec::new();
        let mut first = true;
        for step in &own {
            let key = |pair: &Pair<'_>| pair.a.sites() | pair.b.sites();
            if told.contains(&key(&step.pair)) {
                continue;
            }
            let dog = step.point.dog(proof.domain, proof.trade);
            let mut borders: Vec<Border<'_>> = Vec::new();
            for other in &own {
                let numbers = proof.number(other.pair.site).zip(proof.number(other.pair.other));
                let Some(numbers) = numbers.filter(|_| !told.contains(&key(&other.pair))) else { continue };
                if let Some(border) = on(proof, other.pair, numbers, &dog).filter(|b| b.statement == statement) {
                    told.push(key(&other.pair));
                    borders.push(border);
                }
            }
            for diagnostic in joins_said(borders, proof.choices, &dog, proof.trade) {
                if first {
                    let same = own.iter().filter(|s| s.pair.site == step.pair.site && s.pair.other == step.pair.other);
                    for one in same {
                        found.add(&diagnostic, &one.point, &one.cells);
                    }
                } else {
                    found.add_another(&diagnostic, &step.point, &step.cells);
                }
                first = false;
            }
        }
    }
}
