//! The dog that a message fails for: as a card that can be pasted, and in a few words.

use super::domain::Domain;
use crate::date::Day;
use crate::measure::{DAY, Length, MM};
use crate::names::card::{Dog, Fact};
use crate::names::condition::Grade;
use crate::names::sites::Sites;
use crate::names::trade::{Sex, Side, Trade, Where};
use std::fmt::Write;

/// The length of a coat that the message doesn't depend on, in mm.
const USUAL: i64 = 45;
/// The day of such a card: only the dog's age follows from it.
const SEEN: (i32, u32, u32) = (2026, 1, 1);

/// The card of a dog, with the recipe that fails it. What it doesn't tell plays no part.
#[must_use]
pub fn card(dog: &Dog, trade: &Trade, name: &str, recipe: &str) -> String {
    let mut out = format!("dog {name} {{\n");
    let mut line = |word: &str, value: String| {
        let _ = writeln!(out, "  {word:<8} {value}");
    };
    line("sex", if dog.sex == Some(Sex::Bitch) { "bitch" } else { "dog" }.to_owned());
    if let Some(build) = &dog.build {
        line("build", build.to_string());
    }
    if let Some(coat) = dog.coat.and_then(|c| trade.coat(c)) {
        let long = dog.length.unwrap_or_else(|| coat.grows_to.unwrap_or(Length::mm(USUAL)).min(Length::mm(USUAL)));
        line("coat", format!("{}, {} mm", coat.name, long.0 / MM));
    }
    if let Some(weight) = dog.weight {
        line("weight", format!("{}.{} kg", weight.0 / 1000, weight.0 % 1000 / 100));
    }
    if let Some(height) = dog.height {
        line("height", format!("{} cm", height.0 / (10 * MM)));
    }
    if let Some((age, seen)) = dog.age.zip(Day::new(SEEN.0, SEEN.1, SEEN.2)) {
        line("born", Day(seen.0 - age.0 / DAY).to_string());
        line("seen", seen.to_string());
    }
    for (sites, coat) in &dog.coats {
        if let Some(coat) = trade.coat(*coat) {
            line("coat", format!("{} on {}", coat.name, places(trade, *sites)));
        }
    }
    // A finding that its age gives it needs no line.
    for fact in dog.findings.iter().filter(|f| !by_age(dog, f, trade)) {
        let Some(finding) = trade.finding(fact.finding) else { continue };
        let usual = match finding.on {
            Where::Card => false,
            Where::Fixed(sites) => sites == fact.sites,
            Where::Whole => fact.sites == trade.all_sites(),
        };
        let place = if usual { String::new() } else { format!(" on {}", places(trade, fact.sites)) };
        let after = fact.after.and_then(|t| trade.tool(t)).map(|t| format!(" after {}", t.name)).unwrap_or_default();
        line("finding", format!("{}{place}{after}", finding.name));
    }
    for mat in &dog.mats {
        let word = match mat.grade {
            Grade::None => continue,
            Grade::Tangle => "tangle",
            Grade::Knot => "knot",
            Grade::Tight => "tight",
            Grade::Pelted => "pelted",
        };
        line("mats", format!("{word} on {}", places(trade, mat_place(dog, trade))));
    }
    line("wants", recipe.to_owned());
    out.push_str("}\n");
    out
}

/// Whether the dog has a finding by its age.
fn by_age(dog: &Dog, fact: &Fact, trade: &Trade) -> bool {
    let (Some(age), Some(finding)) = (dog.age, trade.finding(fact.finding)) else { return false };
    finding.is_due_by_age(age)
}

/// A place for a mat that plays no part but for its grade: a part that needs no finish, else one far from the findings.
fn mat_place(dog: &Dog, trade: &Trade) -> Sites {
    let taken = dog.findings.iter().filter(|f| f.sites != trade.all_sites()).fold(Sites::NONE, |all, f| all | f.sites);
    let free = || trade.zones.iter().filter(|z| z.sex.is_none() && !z.sites().meets(taken));
    free().find(|z| z.hidden).or_else(|| free().next_back()).map_or(Sites::NONE, crate::names::trade::Zone::sites)
}

/// Places by name; a pair by its name alone, one side of it with its side.
fn places(trade: &Trade, sites: Sites) -> String {
    let name = |z: &crate::names::trade::Zone| {
        let here = z.sites() & sites;
        if here == z.sites() {
            return z.name.to_string();
        }
        let side = if here == Sites::one(z.site_on(Side::Left)) { Side::Left } else { Side::Right };
        format!("{} {}", side.as_str(), z.name)
    };
    let zones = trade.zones.iter().filter(|z| z.sites().meets(sites));
    zones.map(name).collect::<Vec<_>>().join(", ")
}

/// A dog in a few words: `a bitch of 4.9 kg with a curl coat, face shy`.
pub(crate) fn dog_words(dog: &Dog, trade: &Trade, domain: &Domain) -> String {
    let sex = if dog.sex == Some(Sex::Bitch) { "a bitch" } else { "a dog" };
    // A measure that tells no two dogs apart is worth no word.
    let first = domain.cells.first();
    let weighed = domain.cells.iter().any(|c| first.is_some_and(|f| f.weight.round != c.weight.round));
    let weight = dog
        .weight
        .filter(|w| weighed || first.is_some_and(|f| f.weight.round != w.0))
        .map(|w| format!(" of {w}"))
        .unwrap_or_default();
    let coat = dog.coat.and_then(|c| trade.coat(c)).map(|c| format!(" with a {} coat", c.name)).unwrap_or_default();
    let build = dog.build.as_ref().map(|b| format!(", {b}")).unwrap_or_default();
    let height = dog.height.map(|h| format!(", {} cm high", h.0 / (10 * MM))).unwrap_or_default();
    let age = dog.age.map(|a| format!(", {} old", age_words(a.0))).unwrap_or_default();
    let parts = dog.coats.iter().filter_map(|(sites, c)| trade.coat(*c).map(|c| (sites, c)));
    let parts: String =
        parts.map(|(s, c)| format!(", {} on the {}", c.name, places(trade, *s).replace('-', " "))).collect();
    let findings: String = dog
        .findings
        .iter()
        .filter_map(|f| trade.finding(f.finding))
        .map(|f| format!(", {}", f.name.replace('-', " ")))
        .collect();
    let mats: String = dog.mats.iter().map(|m| format!(", {}", m.grade.word())).collect();
    format!("{sex}{weight}{coat}{parts}{build}{height}{age}{findings}{mats}")
}

/// An age as one says it.
fn age_words(seconds: i64) -> String {
    let weeks = seconds / (7 * DAY);
    if weeks < 26 {
        return format!("{weeks} weeks");
    }
    let months = seconds * 12 / (365 * DAY + DAY / 4);
    if months < 24 { format!("{months} months") } else { format!("{} years", months / 12) }
}
