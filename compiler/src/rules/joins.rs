//! J001: a step between neighbours that will show, with neither a blend nor a line between them.

use crate::choices::Choices;
use crate::diagnostic::{Diagnostic, code};
use crate::finish::{Finish, Finishes, Outcome, is_even};
use crate::measure::{Interval, Length};
use crate::names::card::Dog;
use crate::names::condition::Cond;
use crate::names::sites::{Site, Sites};
use crate::names::trade::{Coat, FindingId, Side, Skin, Trade, Zone};
use crate::source::Place;

/// Two neighbouring sites, on the same side of the dog.
#[derive(Clone, Copy, Debug)]
pub struct Pair<'t> {
    /// One zone.
    pub a: &'t Zone,
    /// The other.
    pub b: &'t Zone,
    /// A site of `a`.
    pub site: Site,
    /// Its neighbour.
    pub other: Site,
}

/// Two neighbours whose step shows.
#[derive(Clone, Debug)]
pub struct Border<'t> {
    /// One zone: the one whose statement made the step.
    pub a: &'t Zone,
    /// The other.
    pub b: &'t Zone,
    /// A site of `a`.
    pub site: Site,
    /// Its neighbour, on the same side of the dog.
    pub other: Site,
    /// What stays on `a`.
    pub leaves: Interval<Length>,
    /// What stays on `b`.
    pub beyond: Interval<Length>,
    /// Whether a reply of the compiler made it.
    pub by_reply: bool,
    /// Whether one side is left at the length that it has today.
    pub left: bool,
    /// The statement that made it: the nearer text's, then the later line's.
    pub statement: Place,
}

/// All neighbours; one side stands for both where nothing tells left from right.
#[must_use]
pub fn pairs(trade: &Trade, even: bool) -> Vec<Pair<'_>> {
    let mut all = Vec::new();
    for (number, a) in trade.zones.iter().enumerate() {
        for id in a.borders.iter().filter(|id| (id.0 as usize) > number) {
            let Some(b) = trade.zones.get(id.0 as usize) else { continue };
            // Nobody sees a step at a part that needs no finish of its own.
            if a.hidden || b.hidden {
                continue;
            }
            for side in [Side::Left, Side::Right] {
                if side == Side::Right && (even || !a.paired && !b.paired) {
                    continue;
                }
                all.push(Pair { a, b, site: a.site_on(side), other: b.site_on(side) });
            }
        }
    }
    all
}

/// The borders whose step will show on this dog, without those that a blend or a line takes care of.
#[must_use]
pub fn borders<'t>(choices: &Choices, trade: &'t Trade, dog: &Dog, finishes: &Finishes) -> Vec<Border<'t>> {
    let pairs = pairs(trade, choices.symmetric && is_even(trade, dog));
    let finished = |pair: Pair<'t>| {
        let (x, y) = (finishes.at(pair.site)?, finishes.at(pair.other)?);
        step(choices, trade, dog, pair, x, y)
    };
    pairs.into_iter().filter_map(finished).collect()
}

/// The step between two neighbours, if it will show on this dog and neither a blend nor a line takes care of it.
#[must_use]
pub fn step<'t>(
    choices: &Choices,
    trade: &Trade,
    dog: &Dog,
    pair: Pair<'t>,
    x: &Finish,
    y: &Finish,
) -> Option<Border<'t>> {
    // What is left keeps the length that the card tells.
    let stays = |finish: &Finish| match finish.fine.tool {
        None => dog.length_at(finish.site).map(Interval::point),
        Some(_) => finish.fine.leaves,
    };
    if x.fine.tool.is_none() && y.fine.tool.is_none() {
        return None;
    }
    let (leaves, beyond) = (stays(x)?, stays(y)?);
    let coats = [x.site, y.site].map(|site| dog.coat_at(site).and_then(|c| trade.coat(c)));
    let [Some(coat), Some(other)] = coats else { return None };
    if !shows(leaves, beyond, coat, other) || meant(choices, dog, pair) {
        return None;
    }
    let left = x.fine.tool.is_none() || y.fine.tool.is_none();
    let by_reply = x.outcome != Outcome::Written || y.outcome != Outcome::Written;
    let own = (x.from_recipe, x.statement) >= (y.from_recipe, y.statement);
    let statement = if own { x.statement } else { y.statement };
    let Pair { a, b, site, other } = pair;
    Some(if own {
        Border { a, b, site, other, leaves, beyond, by_reply, left, statement }
    } else {
        Border { a: b, b: a, site: other, other: site, leaves: beyond, beyond: leaves, by_reply, left, statement }
    })
}

/// Whether even the least step between two lengths shows: where two coats meet, on the one that hides more.
#[must_use]
pub fn shows(leaves: Interval<Length>, beyond: Interval<Length>, coat: &Coat, other: &Coat) -> bool {
    if coat.shows.0 == 0 || other.shows.0 == 0 {
        return false;
    }
    let longer = leaves.high.max(beyond.high);
    let hides = |c: &Coat| c.shows.max(longer.times(c.shows_share));
    let least = (leaves.low.0 - beyond.high.0).max(beyond.low.0 - leaves.high.0);
    least > hides(coat).max(hides(other)).0
}

/// Whether a blend or a line takes care of a border of this dog.
#[must_use]
pub fn meant(choices: &Choices, dog: &Dog, pair: Pair<'_>) -> bool {
    covers(choices, pair).any(|(cond, finding)| holds(cond, finding, dog, pair.site))
}

/// The conditions and findings of the blends and lines that speak of a border.
pub fn covers<'c>(choices: &'c Choices, pair: Pair<'_>) -> impl Iterator<Item = (&'c Cond, Option<FindingId>)> {
    let Pair { site, other, .. } = pair;
    let between = move |a: Sites, b: Sites| a.has(site) && b.has(other) || a.has(other) && b.has(site);
    let blends = choices.blends.iter().filter(move |b| between(b.from, b.into)).map(|b| (&b.cond, b.finding));
    let lines = choices.lines.iter().filter(move |l| between(l.a, l.b)).map(|l| (&l.cond, l.finding));
    blends.chain(lines)
}

/// Whether a statement about a border is meant for this dog.
fn holds(cond: &Cond, finding: Option<FindingId>, dog: &Dog, site: Site) -> bool {
    cond.holds(dog, site) && finding.is_none_or(|f| dog.findings.iter().any(|fact| fact.finding == f))
}

/// Warns of the borders that the recipe itself made, once a statement; those that a reply made go on the sheet and to the
/// owner.
pub fn rule(choices: &Choices, trade: &Trade, dog: &Dog, finishes: &Finishes, out: &mut Vec<Diagnostic>) {
    out.extend(say(borders(choices, trade, dog, finishes), dog, trade));
}

/// J001 for the borders of one dog, once a statement.
pub fn say(borders: Vec<Border<'_>>, dog: &Dog, trade: &Trade) -> Vec<Diagnostic> {
    let mut by_statement: Vec<(Place, Vec<Border<'_>>)> = Vec::new();
    for border in borders.into_iter().filter(|b| !b.by_reply && !b.left) {
        match by_statement.iter_mut().find(|(p, _)| *p == border.statement) {
            Some((_, borders)) => {
                if !borders.iter().any(|b| b.a.name == border.a.name && b.b.name == border.b.name) {
                    borders.push(border);
                }
            }
            None => by_statement.push((border.statement, vec![border])),
        }
    }
    let said = by_statement.into_iter().filter_map(|(place, borders)| {
        let first = borders.first()?;
        let coat = dog.coat_at(first.site).and_then(|c| trade.coat(c)).map_or("this", |c| c.name.as_str());
        let pairs: Vec<String> = by_side(&borders)
            .into_iter()
            .map(|(a, others)| format!("{} and {}", a.name.replace('-', " "), others.join(", ").replace('-', " ")))
            .collect();
        let blends: Vec<String> = by_skin(&borders)
            .into_iter()
            .map(|(a, others, by)| format!("`blend {} into {} over two fingers by {by}`", a.name, others.join(", ")))
            .collect();
        Some(
            Diagnostic::warning(code::J001, place, format!("a line will show between {}", pairs.join("; between ")))
                .label(format!("{} beside {} on a {coat} coat", first.leaves, first.beyond))
                .why("The eye finds a step at once, and an owner sees a mistake.")
                .help(format!(
                    "Write {}; or `line between {} and {}` where it is meant to show.",
                    blends.join(", "),
                    first.a.name,
                    first.b.name
                )),
        )
    });
    said.collect()
}

/// Borders by their own side: each zone with the names of those beside it.
fn by_side<'t>(borders: &[Border<'t>]) -> Vec<(&'t Zone, Vec<&'t str>)> {
    let mut out: Vec<(&Zone, Vec<&str>)> = Vec::new();
    for border in borders {
        match out.iter_mut().find(|(a, _)| a.name == border.a.name) {
            Some((_, others)) => others.push(&border.b.name),
            None => out.push((border.a, vec![&border.b.name])),
        }
    }
    out
}

/// The same, with how one blends there: no blade skims over a fold or an edge.
fn by_skin<'t>(borders: &[Border<'t>]) -> Vec<(&'t Zone, Vec<&'t str>, &'static str)> {
    let loose = |zone: &Zone| matches!(zone.skin, Skin::Fold | Skin::Edge);
    let (folds, flat): (Vec<Border<'t>>, Vec<Border<'t>>) =
        borders.iter().cloned().partition(|b| loose(b.a) || loose(b.b));
    let mut out: Vec<(&Zone, Vec<&str>, &str)> = by_side(&flat).into_iter().map(|(a, o)| (a, o, "skimming")).collect();
    out.extend(by_side(&folds).into_iter().map(|(a, o)| (a, o, "thinners")));
    out
}
