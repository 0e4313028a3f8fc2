//! U002, U003: what grows out of its shape before the next visit.
//!
//! How fast a dog's coat grows is no line of its card: both ends of the coat's interval are tried. Past the cap at the slow end
//! it "will" be too long, at the fast end alone it "may".

use crate::choices::{Choices, KeepEntry};
use crate::diagnostic::{Diagnostic, Fix, code};
use crate::finish::{Finish, Finishes, Outcome, has_finding, on_words};
use crate::measure::{DAY, Interval, Length, MM, Time};
use crate::models::growth;
use crate::names::card::Dog;
use crate::names::sites::Site;
use crate::names::trade::{Bound, Coat, Trade};
use crate::source::Place;

/// A shape that the coat outgrows, or nearly.
#[derive(Clone, Debug)]
pub struct Outgrown<'a> {
    /// The finish.
    pub finish: &'a Finish,
    /// Its length on the day of the next visit.
    pub then: Interval<Length>,
    /// The most that it may be.
    pub most: Length,
    /// Whether hair longer than this hangs over the eyes, rather than being too long for the shape.
    pub hangs: bool,
    /// Where that is asked for.
    pub place: Place,
}

/// For each finish with a cap: how long it is at the end of `lasts`.
pub fn outgrown<'a>(
    choices: &Choices,
    trade: &Trade,
    dog: &Dog,
    finishes: &'a Finishes,
) -> Vec<(Outgrown<'a>, Option<i64>)> {
    finishes.all.iter().flat_map(|finish| outgrown_at(choices, trade, dog, finish)).collect()
}

/// The same at one site, for each cap there, with the whole weeks for which it holds.
fn outgrown_at<'a>(
    choices: &Choices,
    trade: &Trade,
    dog: &Dog,
    finish: &'a Finish,
) -> Vec<(Outgrown<'a>, Option<i64>)> {
    let mut found = Vec::new();
    let coat = dog.coat_at(finish.site).and_then(|c| trade.coat(c));
    let (Some(lasts), Some(leaves), Some(coat), Some(_)) = (choices.lasts, finish.fine.leaves, coat, finish.fine.tool)
    else {
        return found;
    };
    for keep in choices.keeps_at(finish.site).filter(|k| k.until_next && binds(k, trade, dog, finish.site)) {
        let Some((most, hangs)) = cap(&keep.line.bound, coat) else { continue };
        // Only what lies above the eyes hangs over them, and a coat without furnishings stays short on the face.
        let above = || trade.sites_of("fall").is_some_and(|fall| fall.has(finish.site));
        if hangs && (coat.genes.iter().any(|g| g == "bare") || !above()) {
            continue;
        }
        let then = growth::after(leaves, coat.grows, coat.grows_to, lasts);
        let weeks = growth::weeks_within(leaves, coat.grows, coat.grows_to, most);
        found.push((Outgrown { finish, then, most, hangs, place: keep.line.place }, weeks));
    }
    found
}

/// Whether a keep of a text binds at a site of this dog.
fn binds(keep: &KeepEntry, trade: &Trade, dog: &Dog, site: Site) -> bool {
    keep.cond.holds(dog, site) && keep.finding.is_none_or(|f| has_finding(trade, dog, f, site))
}

/// The most that a keep bears at the end: its length, or for open eyes the length up to which the coat stands.
fn cap(bound: &Bound, coat: &Coat) -> Option<(Length, bool)> {
    match bound {
        Bound::AtMost(most) => Some((*most, false)),
        Bound::Open => coat.stands_to.map(|stands| (stands, true)),
        _ => None,
    }
}

/// Warns of what is within its shape today and out of it before the next visit; what a finding made longer yields, as any
/// shape does.
pub fn rule(choices: &Choices, trade: &Trade, dog: &Dog, finish: &Finish, out: &mut Vec<Diagnostic>) {
    let Some(lasts) = choices.lasts else { return };
    let half = MM / 2;
    for (found, weeks) in outgrown_at(choices, trade, dog, finish) {
        let Outgrown { finish, then, most, hangs, place } = found;
        let Some(leaves) = finish.fine.leaves else { continue };
        let too_long_today = leaves.low.0 > most.0 + half;
        if finish.outcome != Outcome::Written || too_long_today || then.high.0 <= most.0 + half {
            continue;
        }
        let at = choices
            .at(finish.site)
            .find(|c| c.place == finish.statement)
            .map_or(finish.statement, |c| c.ask.tool_place);
        let modality = if then.low.0 > most.0 + half { "will" } else { "may" };
        let Some(of) = dog.coat_at(finish.site).and_then(|c| trade.coat(c)) else { continue };
        let coat = of.name.as_str();
        let on = on_words(trade, finish.site);
        let visit = weeks_words(lasts);
        let message = if hangs {
            format!("the hair {on} {modality} hang over the eyes before the next visit")
        } else {
            format!("this {modality} be too long {on} before the next visit")
        };
        let rule = if hangs {
            format!("eyes open is asked for here, and a {coat} coat hangs from {most} on")
        } else {
            format!("at most {most} is asked for here")
        };
        let code = if hangs { code::U003 } else { code::U002 };
        let now = shortest_now(of, lasts, most);
        let length = choices.at(finish.site).find(|c| c.place == finish.statement).and_then(|c| c.ask.length_place);
        let shorter =
            length.filter(|_| now >= 1).map(|place| Fix::rewrite("leave it shorter", place, format!("{now} mm")));
        out.push(
            Diagnostic::warning(code, at, message)
                .label(format!("{leaves} now, {} in {visit} on a {coat} coat", whole(then)))
                .related(place, rule)
                .why("An owner sees the trim on its last day as well as on its first.")
                .help(way_out(now, weeks))
                .offer(shorter),
        );
    }
}

/// The length in whole millimetres from which the fastest of a coat is within the cap at the end.
fn shortest_now(coat: &Coat, lasts: Time, most: Length) -> i64 {
    let none = Interval::point(Length(0));
    let grown = growth::after(none, coat.grows, None, lasts).high;
    (most.0 - grown.0).div_euclid(MM)
}

/// Sooner again, which leaves the trim as its author meant it, or shorter now.
fn way_out(now: i64, weeks: Option<i64>) -> String {
    let shorter =
        if now >= 1 { format!("leave it at {now} mm or shorter") } else { "widen what is allowed".to_owned() };
    match weeks {
        Some(1) => format!("Write `lasts 1 week`, or {shorter}."),
        Some(weeks) if weeks > 1 => format!("Write `lasts {weeks} weeks`, or {shorter}."),
        _ => format!("Take the cap away, or {shorter}."),
    }
}

/// A time in weeks, as one says it.
#[must_use]
pub fn weeks_words(time: Time) -> String {
    match time.0 / (7 * DAY) {
        1 => "a week".to_owned(),
        weeks => format!("{weeks} weeks"),
    }
}

/// The same for a time that isn't known exactly.
#[must_use]
pub fn weeks_range(time: Interval<Time>) -> String {
    let weeks = time.map(|t| t.0 / (7 * DAY));
    if weeks.low == weeks.high { weeks_words(time.low) } else { format!("{} to {} weeks", weeks.low, weeks.high) }
}

/// Rounded to whole millimetres: growth is not known more finely.
#[must_use]
pub fn whole(interval: Interval<Length>) -> Interval<Length> {
    interval.map(|l| Length((l.0 + MM / 2) / MM * MM))
}
