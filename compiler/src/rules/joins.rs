//! J001: a step between neighbours that will show, with neither a blend nor a line between them.

use crate::choices::Choices;
use crate::diagnostic::{Diagnostic, code};
use crate::finish::{Finish, Finishes, Outcome, is_even};
use crate::measure::{Interval, Length};
use crate::names::card::Dog;
use crate::names::condition::Cond;
use crate::names::sites::Site;
use crate::names::trade::{FindingId, Side, Skin, Trade, Zone};
use crate::source::Place;

/// Two neighbours whose step shows.
#[derive(Clone, Debug)]
pub struct Border<'t> {
    /// One zone.
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
}

/// The borders whose step will show on this dog, without those that a blend or a line takes care of.
#[must_use]
pub fn borders<'t>(choices: &Choices, trade: &'t Trade, dog: &Dog, finishes: &Finishes) -> Vec<Border<'t>> {
    let mut found = Vec::new();
    // The right side repeats the left where nothing tells them apart.
    let even = choices.symmetric && is_even(trade, dog);
    for (number, a) in trade.zones.iter().enumerate() {
        for id in a.borders.iter().filter(|id| (id.0 as usize) > number) {
            let Some(b) = trade.zones.get(id.0 as usize) else { continue };
            for side in [Side::Left, Side::Right] {
                if side == Side::Right && (even || !a.paired && !b.paired) {
                    continue;
                }
                let (site, other) = (a.site_on(side), b.site_on(side));
                let (Some(x), Some(y)) = (finishes.at(site), finishes.at(other)) else { continue };
                if let Some(border) = step(choices, trade, dog, (a, x), (b, y)) {
                    found.push(border);
                }
            }
        }
    }
    found
}

fn step<'t>(
    choices: &Choices,
    trade: &'t Trade,
    dog: &Dog,
    (a, x): (&'t Zone, &Finish),
    (b, y): (&'t Zone, &Finish),
) -> Option<Border<'t>> {
    // Nobody sees a step at a part that needs no finish of its own.
    if a.hidden || b.hidden {
        return None;
    }
    // What is left keeps the length that the card tells.
    let stays = |finish: &Finish| match finish.fine.tool {
        None => dog.length_at(finish.site).map(Interval::point),
        Some(_) => finish.fine.leaves,
    };
    if x.fine.tool.is_none() && y.fine.tool.is_none() {
        return None;
    }
    let (leaves, beyond) = (stays(x)?, stays(y)?);
    let coat = dog.coat_at(x.site).and_then(|c| trade.coat(c))?;
    if coat.shows.0 == 0 {
        return None;
    }
    let longer = leaves.high.max(beyond.high);
    let shows = coat.shows.max(longer.times(coat.shows_share));
    let least = (leaves.low.0 - beyond.high.0).max(beyond.low.0 - leaves.high.0);
    if least <= shows.0 {
        return None;
    }
    let meant = choices.blends.iter().any(|blend| {
        (blend.from.has(x.site) && blend.into.has(y.site) || blend.from.has(y.site) && blend.into.has(x.site))
            && holds(&blend.cond, blend.finding, dog, x.site)
    }) || choices.lines.iter().any(|line| {
        (line.a.has(x.site) && line.b.has(y.site) || line.a.has(y.site) && line.b.has(x.site))
            && holds(&line.cond, line.finding, dog, x.site)
    });
    if meant {
        return None;
    }
    let left = x.fine.tool.is_none() || y.fine.tool.is_none();
    let by_reply = x.outcome != Outcome::Written || y.outcome != Outcome::Written;
    Some(Border { a, b, site: x.site, other: y.site, leaves, beyond, by_reply, left })
}

/// Whether a statement about a border is meant for this dog.
fn holds(cond: &Cond, finding: Option<FindingId>, dog: &Dog, site: Site) -> bool {
    cond.holds(dog, site) && finding.is_none_or(|f| dog.findings.iter().any(|fact| fact.finding == f))
}

/// Warns of the borders that the recipe itself made, once a statement; those that a reply made go on the sheet and to the
/// owner.
pub fn rule(choices: &Choices, trade: &Trade, dog: &Dog, finishes: &Finishes, out: &mut Vec<Diagnostic>) {
    let mut by_statement: Vec<(Place, Vec<Border<'_>>)> = Vec::new();
    for border in borders(choices, trade, dog, finishes).into_iter().filter(|b| !b.by_reply && !b.left) {
        let (Some(x), Some(y)) = (finishes.at(border.site), finishes.at(border.other)) else { continue };
        // The nearer text, then the later line, is the one that made the step.
        let own = (x.from_recipe, x.statement) >= (y.from_recipe, y.statement);
        let place = if own { x.statement } else { y.statement };
        let border = if own { border } else { border.turned() };
        match by_statement.iter_mut().find(|(p, _)| *p == place) {
            Some((_, borders)) => {
                if !borders.iter().any(|b| b.a.name == border.a.name && b.b.name == border.b.name) {
                    borders.push(border);
                }
            }
            None => by_statement.push((place, vec![border])),
        }
    }
    for (place, borders) in by_statement {
        let Some(first) = borders.first() else { continue };
        let coat = dog.coat_at(first.site).and_then(|c| trade.coat(c)).map_or("this", |c| c.name.as_str());
        let pairs: Vec<String> = pairs(&borders)
            .into_iter()
            .map(|(a, others)| format!("{} and {}", a.name.replace('-', " "), others.join(", ").replace('-', " ")))
            .collect();
        let blends: Vec<String> = pairs_by_skin(&borders)
            .into_iter()
            .map(|(a, others, by)| format!("`blend {} into {} over two fingers by {by}`", a.name, others.join(", ")))
            .collect();
        out.push(
            Diagnostic::warning(code::J001, place, format!("a line will show between {}", pairs.join("; between ")))
                .label(format!("{} beside {} on a {coat} coat", first.leaves, first.beyond))
                .why("The eye finds a step at once, and an owner sees a mistake.")
                .help(format!(
                    "Write {}; or `line between {} and {}` where it is meant to show.",
                    blends.join(", "),
                    first.a.name,
                    first.b.name
                )),
        );
    }
}

impl Border<'_> {
    /// The same border from its other side.
    fn turned(self) -> Self {
        Self {
            a: self.b,
            b: self.a,
            site: self.other,
            other: self.site,
            leaves: self.beyond,
            beyond: self.leaves,
            ..self
        }
    }
}

/// Borders by their own side: each zone with the names of those beside it.
fn pairs<'t>(borders: &[Border<'t>]) -> Vec<(&'t Zone, Vec<&'t str>)> {
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
fn pairs_by_skin<'t>(borders: &[Border<'t>]) -> Vec<(&'t Zone, Vec<&'t str>, &'static str)> {
    let loose = |zone: &Zone| matches!(zone.skin, Skin::Fold | Skin::Edge);
    let (folds, flat): (Vec<Border<'t>>, Vec<Border<'t>>) =
        borders.iter().cloned().partition(|b| loose(b.a) || loose(b.b));
    let mut out: Vec<(&Zone, Vec<&str>, &str)> = pairs(&flat).into_iter().map(|(a, o)| (a, o, "skimming")).collect();
    out.extend(pairs(&folds).into_iter().map(|(a, o)| (a, o, "thinners")));
    out
}
