//! J001: a step between neighbours that will show, with neither a blend nor a line between them.

use crate::choices::Choices;
use crate::diagnostic::{Diagnostic, code};
use crate::finish::{Finish, Finishes, Outcome};
use crate::measure::{Interval, Length};
use crate::names::card::Dog;
use crate::names::condition::Cond;
use crate::names::sites::Site;
use crate::names::trade::{FindingId, Side, Trade, Zone};

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
}

/// The borders whose step will show on this dog, without those that a blend or a line takes care of.
#[must_use]
pub fn borders<'t>(choices: &Choices, trade: &'t Trade, dog: &Dog, finishes: &Finishes) -> Vec<Border<'t>> {
    let mut found = Vec::new();
    for (number, a) in trade.zones.iter().enumerate() {
        for id in a.borders.iter().filter(|id| (id.0 as usize) > number) {
            let Some(b) = trade.zones.get(id.0 as usize) else { continue };
            for side in [Side::Left, Side::Right] {
                if side == Side::Right && !a.paired && !b.paired {
                    continue;
                }
                let (site, other) = (on(a, side), on(b, side));
                let (Some(x), Some(y)) = (finishes.at(site), finishes.at(other)) else { continue };
                if let Some(border) = step(choices, trade, dog, (a, x), (b, y)) {
                    found.push(border);
                }
            }
        }
    }
    found
}

fn on(zone: &Zone, side: Side) -> Site {
    if zone.paired && side == Side::Right { Site(zone.site.0 + 1) } else { zone.site }
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
    let (leaves, beyond) = (x.fine.leaves?, y.fine.leaves?);
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
        holds(&blend.cond, blend.finding, dog, x.site)
            && (blend.from.has(x.site) && blend.into.has(y.site) || blend.from.has(y.site) && blend.into.has(x.site))
    }) || choices.lines.iter().any(|line| {
        holds(&line.cond, line.finding, dog, x.site)
            && (line.a.has(x.site) && line.b.has(y.site) || line.a.has(y.site) && line.b.has(x.site))
    });
    if meant {
        return None;
    }
    let by_reply = x.outcome != Outcome::Written || y.outcome != Outcome::Written;
    Some(Border { a, b, site: x.site, other: y.site, leaves, beyond, by_reply })
}

/// Whether a statement about a border is meant for this dog.
fn holds(cond: &Cond, finding: Option<FindingId>, dog: &Dog, site: Site) -> bool {
    cond.holds(dog, site) && finding.is_none_or(|f| dog.findings.iter().any(|fact| fact.finding == f))
}

/// Warns of each border that the recipe itself made; those that a reply made go on the sheet and to the owner.
pub fn rule(choices: &Choices, trade: &Trade, dog: &Dog, finishes: &Finishes, out: &mut Vec<Diagnostic>) {
    for border in borders(choices, trade, dog, finishes) {
        if border.by_reply {
            continue;
        }
        let (Some(x), Some(y)) = (finishes.at(border.site), finishes.at(border.other)) else { continue };
        // The nearer text, then the later line, is the one that made the step.
        let place =
            if (x.from_recipe, x.statement) >= (y.from_recipe, y.statement) { x.statement } else { y.statement };
        let (a, b) = (border.a.name.replace('-', " "), border.b.name.replace('-', " "));
        let coat = dog.coat_at(border.site).and_then(|c| trade.coat(c)).map_or("this", |c| c.name.as_str());
        out.push(
            Diagnostic::warning(code::J001, place, format!("a line will show between {a} and {b}"))
                .label(format!("{} beside {} on a {coat} coat", border.leaves, border.beyond))
                .why("The eye finds a step at once, and an owner sees a mistake.")
                .help(format!(
                    "Write `blend {} into {} over two fingers by skimming`, or `line between {} and {}` if it is meant to show.",
                    border.a.name, border.b.name, border.a.name, border.b.name
                )),
        );
    }
}
