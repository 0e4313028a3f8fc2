//! Blends: whether they are long enough for their step, and whether the smallest dogs that are served have room for them.
//!
//! What a blend needs at the least depends on the two lengths, the coat and its author's words; how much room there is on the build
//! and the height, which rises with the weight. So the lowest weight of each piece is tried on each build; what fits there fits on
//! every heavier dog. Where one of these cheap sums says that a blend fails, a dog is worked out and judged as a card is.

use super::cells::Cells;
use super::domain::roundest_weight;
use super::found::{Found, Point};
use super::joins::{classes_at, together};
use super::sites::Proof;
use crate::choices::{BlendAsk, Wide};
use crate::joins::{Named, blend_at, covering, fits_from, rooms, shortest_band};
use crate::measure::{Length, Weight};
use crate::rules::{Blended, Pair, messages, pairs};
use rustc_hash::FxHashMap;
use smol_str::SmolStr;
use std::cell::LazyCell;

/// J003 and J004 over all borders that a blend takes care of. Where some blends lack room, the weight from which all of them fit.
pub(super) fn prove(proof: &mut Proof<'_>, found: &mut Found<'_>) -> Option<Weight> {
    let choices = proof.choices;
    if choices.blends.is_empty() {
        return None;
    }
    let mut lack = Lack::default();
    let shortest = shortest_band(choices, proof.trade);
    let lowest = lowest(proof);
    let mut known: FxHashMap<(usize, usize, usize), Option<Length>> = FxHashMap::default();
    for pair in pairs(proof.trade, choices.symmetric) {
        let (Some(a), Some(b)) = (proof.number(pair.site), proof.number(pair.other)) else { continue };
        let both = (proof.lengths_at(a), proof.lengths_at(b));
        let room = LazyCell::new(|| rooms().least(&pair.a.name, &pair.b.name, &lowest));
        let mut asks = choices.blends.iter().enumerate().filter(|(_, blend)| blend.joins(pair.site, pair.other));
        let may_fail = asks.any(|(number, ask)| {
            let needed = || needed(proof, both, ask, shortest);
            let mut needed = || *known.entry((both.0, both.1, number)).or_insert_with(needed);
            let fits = |length: Length| room.is_none_or(|room| length <= room);
            match ask.wide {
                Some(Wide::Length(asked)) => !fits(asked.low) || needed().is_none_or(|needed| needed > asked.high),
                Some(Wide::Share(..)) => true,
                None => !needed().is_some_and(fits),
            }
        });
        if may_fail {
            border(proof, pair, a, b, &mut lack, found);
        }
    }
    lack.fits_all()
}

/// The blends that lack room on some dog, each with the weight from which it fits on every build that is served.
#[derive(Default)]
struct Lack(Vec<(usize, Option<i64>)>);

impl Lack {
    fn fits_all(&self) -> Option<Weight> {
        let (first, _) = self.0.first()?;
        let all: Option<Vec<i64>> = self.0.iter().map(|(_, fits)| *fits).collect();
        let many = self.0.iter().any(|(blend, _)| blend != first);
        all.filter(|_| many)?.into_iter().max().map(Weight)
    }
}

/// The builds of a cell: its own, or all that are served where no condition asks.
fn builds<'d>(proof: &'d Proof<'_>, own: Option<&'d SmolStr>) -> Vec<&'d str> {
    own.map_or_else(|| proof.choices.serves.open_builds().collect(), |own| vec![own.as_str()])
}

/// How high the lowest dog of each build that is served stands.
fn lowest(proof: &Proof<'_>) -> Vec<(SmolStr, Length)> {
    let mut all: Vec<(SmolStr, Length)> = Vec::new();
    for cell in &proof.domain.cells {
        for build in builds(proof, cell.build.as_ref()) {
            let height = cell.height.map(|h| Length(h.low));
            let Some(height) = height.or_else(|| rooms().height(build, Weight(cell.weight.low))) else { continue };
            match all.iter_mut().find(|(b, _)| b == build) {
                Some((_, lowest)) => *lowest = height.min(*lowest),
                None => all.push((build.into(), height)),
            }
        }
    }
    all
}

/// The most that a blend of some two lengths of a border needs at the least; none where that can't be said without a dog.
fn needed(
    proof: &Proof<'_>,
    (mine, theirs): (usize, usize),
    ask: &BlendAsk,
    shortest: Option<Length>,
) -> Option<Length> {
    let (trade, domain) = (proof.trade, proof.domain);
    let coat = |n: usize| domain.coats.get(n).and_then(|c| trade.coat(*c));
    let both = proof.lengths(mine).iter().flat_map(|one| proof.lengths(theirs).iter().map(move |other| (one, other)));
    let meet = both.filter(|(one, other)| one.coat == other.coat && one.cells.meets(&other.cells));
    let named = Named::of(trade, ask)?;
    let needed = meet.filter_map(|(x, y)| Some(named.least(coat(x.coat)?, (x.stays.leaves, y.stays.leaves), shortest)));
    Some(needed.max().unwrap_or(Length(0)))
}

/// Every dog that a border can tell apart, worked out at its lowest weight.
fn border(proof: &mut Proof<'_>, pair: Pair<'_>, a: usize, b: usize, lack: &mut Lack, found: &mut Found<'_>) {
    let domain = proof.domain;
    let classes = classes_at(proof, pair);
    let mut dogs: Vec<(Point, Cells)> = Vec::new();
    let (mine, theirs) = (proof.outcomes(a), proof.outcomes(b));
    let sets = (proof.sets(a), proof.sets(b));
    for one in mine.iter() {
        for other in theirs.iter().filter(|other| other.coat == one.coat) {
            for class in &classes {
                let both = one.dogs.iter().flat_map(|x| other.dogs.iter().map(move |y| (x, y)));
                let together = both.filter_map(|(x, y)| {
                    let cells = x.cells.meet(&y.cells).meet(class);
                    let (mine, theirs) = (sets.0.get(x.set)?, sets.1.get(y.set)?);
                    let facts = (!cells.is_empty()).then(|| together(mine, theirs, pair, proof.trade))?;
                    Some((facts.into_iter().next()?, cells))
                });
                let Some((facts, cells)) = together.min_by_key(|(facts, _)| facts.len()) else { continue };
                let Some(cell) = cells.first() else { continue };
                dogs.push((Point::new(cell, one.coat, facts), cells));
            }
        }
    }
    for (point, cells) in dogs {
        // Where no height is told the room rises with the weight: what fits on the lightest dog of a build fits on them all.
        let mut all: Vec<usize> = cells.iter().collect();
        all.sort_by_key(|cell| domain.cells.get(*cell).map(|c| c.weight.low));
        let mut known: Vec<SmolStr> = Vec::new();
        for cell in all {
            let mut only = Cells::none(domain.cells.len());
            only.add(cell);
            judge(proof, pair, (a, b), &Point { cell, ..point.clone() }, &only, (&mut known, lack), found);
        }
    }
}

/// The lowest dog of a cell, of each build but those on which it is known to fit.
fn judge(
    proof: &mut Proof<'_>,
    pair: Pair<'_>,
    (a, b): (usize, usize),
    point: &Point,
    cells: &Cells,
    (known, lack): (&mut Vec<SmolStr>, &mut Lack),
    found: &mut Found<'_>,
) {
    let (choices, trade, domain) = (proof.choices, proof.trade, proof.domain);
    let Some(cell) = domain.cells.get(point.cell) else { return };
    let own: Vec<SmolStr> = builds(proof, cell.build.as_ref()).into_iter().map(SmolStr::from).collect();
    for build in own {
        if known.contains(&build) {
            continue;
        }
        let other = cell.build.is_none() && build != "square";
        let lowest = Point { build: other.then(|| build.clone()), weight: Some(cell.weight.low), ..point.clone() };
        let dog = lowest.dog(domain, trade);
        let Some((number, ask)) = covering(choices, &dog, pair.site, pair.other) else { continue };
        let (Some(x), Some(y)) = (proof.finish(a, &dog), proof.finish(b, &dog)) else { continue };
        let Some(blend) = blend_at(choices, trade, &dog, (pair.a, &x), (pair.b, &y), ask) else { continue };
        if !blend.is_too_short() && !blend.has_too_little_room() {
            if cell.height.is_none() {
                known.push(build);
            }
            continue;
        }
        // The roundest weight on which it still fails.
        let fits = fits_from(&blend, ask, &build, pair.a, pair.b).map(|w| w.0);
        let depends = blend.has_too_little_room() || matches!(ask.wide, Some(Wide::Share(..)));
        let least = fits.filter(|_| depends);
        if blend.has_too_little_room() {
            lack.0.push((number, fits));
        }
        let round = roundest_weight(cell.weight, least);
        let shown = Point { weight: (round != cell.weight.round).then_some(round), ..lowest.clone() };
        let dog = shown.dog(domain, trade);
        let all = least.is_none_or(|fits| fits > cell.weight.high);
        let blended = |dog| {
            let blend = blend_at(choices, trade, dog, (pair.a, &x), (pair.b, &y), ask)?;
            Some(Blended { ask: number, a: pair.a, b: pair.b, blend })
        };
        let mut said = Vec::new();
        messages(choices, trade, &dog, &blended(&dog).into_iter().collect::<Vec<_>>(), &mut said);
        let none = Cells::none(domain.cells.len());
        for diagnostic in said {
            // Only where every weight of the cell and every build fails, every such dog does.
            found.add(&diagnostic, &shown, if all && !other { cells } else { &none });
        }
    }
}
