//! What concerns the dog as a whole: whom the recipe serves, preparation, order, how long it lasts, and what is at hand.

use super::both::{Both, Side, coats_of};
use super::{Change, Rank};
use crate::choices::{OrderAsk, PrepAsk};
use crate::measure::{DAY, Length, MM, Weight};
use crate::names::condition::{BUILDS, Bounds, Cond};
use crate::names::sites::Site;
use crate::names::trade::{FindingId, Sex};
use crate::names::zone_words::zone_words;
use crate::prove::dog_card::{card, dog_words};
use crate::prove::domain::{Domain, conditions};
use std::collections::HashSet;

pub(super) fn changes(both: &Both<'_>, out: &mut Vec<Change>) {
    serves(both, out);
    prep(both, out);
    orders(both, out);
    landmarks(both, out);
    let (was, is) = (both.old.choices.lasts, both.new.choices.lasts);
    if was != is {
        let words = |t: Option<crate::measure::Time>| t.map_or("nothing is said".to_owned(), |t| age(t.0));
        plain(out, Rank::Other, "lasts", words(was), words(is));
    }
}

fn plain(out: &mut Vec<Change>, rank: Rank, what: impl Into<String>, old: impl Into<String>, new: impl Into<String>) {
    out.push(Change::plain(rank, what.into(), old.into(), new.into()));
}

/// Whom it serves: each line that differs, with a dog that only one of them serves.
fn serves(both: &Both<'_>, out: &mut Vec<Change>) {
    let (old, new) = (both.old, both.new);
    let (was, is) = (served(old), served(new));
    for ((what, before, a), (_, now, b)) in was.into_iter().zip(is).filter(|((_, a, _), (_, b, _))| a != b) {
        let (more, fewer) = (only(both, new, &a), only(both, old, &b));
        let (rank, shown) = match (more, fewer) {
            (Some(dog), _) => (Rank::MoreDogs, dog),
            (None, Some(dog)) => (Rank::FewerDogs, dog),
            // Said otherwise, of the same dogs.
            (None, None) => continue,
        };
        plain(out, rank, format!("serves {what}"), before, now);
        if let Some(last) = out.last_mut() {
            (last.whom, last.dog) = (Some(shown.0), Some(shown.1));
            last.on_all = false;
        }
    }
}

/// The simplest dog that a recipe serves and that a line of the other recipe's doesn't let through.
fn only(both: &Both<'_>, this: Side<'_>, line: &Cond) -> Option<(String, String)> {
    let conds: Vec<&Cond> = conditions(this.choices).into_iter().chain([line]).collect();
    let domain = Domain::over(&this.choices.serves, &conds, this.trade);
    let shown = |dog: &crate::names::card::Dog| {
        let name = format!("differs-{}", this.choices.name);
        (dog_words(dog, this.trade, &domain), card(dog, this.trade, &name, &this.choices.name))
    };
    for cell in 0..domain.cells.len() {
        for (coat, id) in domain.coats.iter().enumerate() {
            let dog = domain.dog(cell, coat, this.trade);
            let unknown = line.coats.is_some() && usize::from(id.0) >= both.common.coats;
            if unknown || !line.holds(&dog, Site(0)) {
                return Some(shown(&dog));
            }
        }
    }
    // A finding that one of them excludes.
    let excluded = line.without.iter().find(|f| !this.choices.serves.without.contains(f))?;
    let declared = this.trade.finding(*excluded)?;
    let mut dog = domain.dog(0, 0, this.trade);
    dog.findings.push(crate::prove::domain::fact(*excluded, this.trade.all_sites(), declared.place));
    Some(shown(&dog))
}

/// The parts of `serves`, in words and each for itself.
fn served(side: Side<'_>) -> Vec<(&'static str, String, Cond)> {
    let (cond, trade) = (&side.choices.serves, side.trade);
    let coats: Vec<&str> =
        coats_of(cond, trade).iter().filter_map(|c| trade.coat(*c)).map(|c| c.name.as_str()).collect();
    let coats = if cond.coats.is_none() { "any".to_owned() } else { coats.join(", ") };
    let builds = cond.builds.as_ref().map_or_else(|| "any".to_owned(), |b| b.join(", "));
    let builds = if BUILDS.iter().all(|b| builds.contains(b)) { "any".to_owned() } else { builds };
    let sex = match cond.sex {
        None => "any",
        Some(Sex::Dog) => "dog",
        Some(Sex::Bitch) => "bitch",
    };
    let mats = cond.mats.map_or("any".to_owned(), |g| format!("up to {}", g.word()));
    let names = |all: &[FindingId]| {
        let mut names: Vec<&str> = all.iter().filter_map(|f| trade.finding(*f)).map(|f| f.name.as_str()).collect();
        names.sort_unstable();
        if names.is_empty() { "none".to_owned() } else { names.join(", ").replace('-', " ") }
    };
    let none = Cond::default;
    vec![
        ("coat", coats, Cond { coats: cond.coats.clone(), ..none() }),
        ("build", builds, Cond { builds: cond.builds.clone(), ..none() }),
        ("sex", sex.to_owned(), Cond { sex: cond.sex, ..none() }),
        ("weight", range(&cond.weight, &|v| Weight(v).to_string()), Cond { weight: cond.weight, ..none() }),
        (
            "height",
            range(&cond.height, &|v| format!("{} cm", Length(v).0 / (10 * MM))),
            Cond { height: cond.height, ..none() },
        ),
        ("age", range(&cond.age, &age), Cond { age: cond.age, ..none() }),
        ("mats", mats, Cond { mats: cond.mats, ..none() }),
        ("finding", names(&cond.findings), Cond { findings: cond.findings.clone(), ..none() }),
        ("without", names(&cond.without), Cond { without: cond.without.clone(), ..none() }),
    ]
}

fn range(bounds: &Bounds, show: &dyn Fn(i64) -> String) -> String {
    match (bounds.low, bounds.high) {
        (None, None) => "any".to_owned(),
        (Some((low, out)), None) => format!("{} {}", if out { "over" } else { "from" }, show(low)),
        (None, Some((high, out))) => format!("{} {}", if out { "under" } else { "up to" }, show(high)),
        (Some((low, _)), Some((high, out))) => {
            format!("{} {} {}", show(low), if out { "to under" } else { "to" }, show(high))
        }
    }
}

/// A time as one says it.
fn age(seconds: i64) -> String {
    let days = seconds / DAY;
    match days {
        d if d >= 730 && d % 365 == 0 => format!("{} years", d / 365),
        d if d % 7 == 0 => format!("{} weeks", d / 7),
        d => format!("{d} days"),
    }
}

fn prep(both: &Both<'_>, out: &mut Vec<Change>) {
    let words = |side: Side<'_>, p: &PrepAsk| {
        let name = side.trade.step(p.step).map_or("", |s| s.name.as_str()).replace('-', " ");
        let more = if p.words.is_empty() { String::new() } else { format!(", {}", p.words) };
        let most = p.at_most.map(|t| format!(", at most {} min", t.0 / 60)).unwrap_or_default();
        (format!("{name}{more}{most}"), p.cond.clone())
    };
    let all = |side: Side<'_>| side.choices.prep.iter().map(|p| words(side, p)).collect::<Vec<_>>();
    let (was, is) = (all(both.old), all(both.new));
    let missing = |from: &[(String, Cond)], to: &[(String, Cond)]| -> Vec<String> {
        from.iter().filter(|p| !to.contains(p)).map(|(w, _)| w.clone()).collect()
    };
    let (gone, come) = (missing(&was, &is), missing(&is, &was));
    if !gone.is_empty() || !come.is_empty() {
        let words = |all: Vec<String>| if all.is_empty() { "nothing".to_owned() } else { all.join("; ") };
        plain(out, Rank::Other, "preparation", words(gone), words(come));
    }
}

/// Which sites come before which, for which dogs.
type Before = (u8, u8, Option<FindingId>, Cond);

fn orders(both: &Both<'_>, out: &mut Vec<Change>) {
    let of = |o: &OrderAsk| -> Vec<Before> {
        let pairs = o.first.iter().flat_map(|a| o.then.iter().map(move |b| (a.0, b.0)));
        pairs.map(|(a, b)| (a, b, o.finding, o.cond.clone())).collect()
    };
    let all = |side: Side<'_>| side.choices.orders.iter().flat_map(of).collect::<HashSet<Before>>();
    let (was, is) = (all(both.old), all(both.new));
    let mut told = |side: Side<'_>, other: &HashSet<Before>, gone: bool| {
        for order in side.choices.orders.iter().filter(|o| of(o).iter().any(|b| !other.contains(b))) {
            let words =
                format!("{} before {}", zone_words(side.trade, order.first), zone_words(side.trade, order.then));
            let (old, new) = if gone { (words, "gone".to_owned()) } else { ("none".to_owned(), words) };
            plain(out, Rank::Other, "order", old, new);
        }
    };
    told(both.old, &is, true);
    told(both.new, &was, false);
}

/// Lines by landmarks lie on no border: they are known by their words.
fn landmarks(both: &Both<'_>, out: &mut Vec<Change>) {
    let all = |side: Side<'_>| {
        let own = side.choices.lines.iter().filter(|l| l.a.is_empty());
        own.map(|l| (l.words.clone(), l.finding, l.cond.clone())).collect::<Vec<_>>()
    };
    let (was, is) = (all(both.old), all(both.new));
    for (words, ..) in was.iter().filter(|l| !is.contains(l)) {
        plain(out, Rank::Other, "line", words.as_str(), "gone");
    }
    for (words, ..) in is.iter().filter(|l| !was.contains(l)) {
        plain(out, Rank::Other, "line", "none", words.as_str());
    }
}
