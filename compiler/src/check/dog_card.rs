//! The dog that a message fails for, as a card that can be pasted.

use crate::measure::{DAY, Length, MM};
use crate::names::card::Dog;
use crate::names::sites::Sites;
use crate::names::trade::{Sex, Trade, Where};
use std::fmt::Write;

/// The length of a coat that the message doesn't depend on, in mm.
const USUAL: i64 = 45;
/// The day of such a card: only the dog's age follows from it.
const SEEN: (i64, u32) = (2026, 1);

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
    if let Some(age) = dog.age {
        // Whole months, so that it is as old as that on the first of the month.
        let months = age.0 * 12 / (365 * DAY + DAY / 4);
        let born = SEEN.0 * 12 + i64::from(SEEN.1) - 1 - months;
        line("born", format!("{:04}-{:02}", born.div_euclid(12), born.rem_euclid(12) + 1));
        line("seen", format!("{:04}-{:02}-01", SEEN.0, SEEN.1));
    }
    for fact in &dog.findings {
        let Some(finding) = trade.finding(fact.finding) else { continue };
        let place =
            if finding.on == Where::Card { format!(" on {}", places(trade, fact.sites)) } else { String::new() };
        line("finding", format!("{}{place}", finding.name));
    }
    line("wants", recipe.to_owned());
    out.push_str("}\n");
    out
}

/// Zones by name, both sides of a pair together.
fn places(trade: &Trade, sites: Sites) -> String {
    let zones = trade.zones.iter().filter(|z| z.sites().meets(sites));
    zones.map(|z| z.name.as_str()).collect::<Vec<_>>().join(", ")
}
