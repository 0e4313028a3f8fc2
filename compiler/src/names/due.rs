//! Findings that follow from the rest of a card: a young pup, an old dog and felted ears need care whether or not anybody wrote it
//! down.

use super::card::{Dog, Fact};
use super::sites::Sites;
use super::trade::{FindingId, Trade};
use crate::source::Place;

/// Adds them to a dog whose card is read.
pub(super) fn due(dog: &mut Dog, trade: &Trade, place: Place) {
    for (number, finding) in trade.findings.iter().enumerate() {
        let Ok(id) = u16::try_from(number).map(FindingId) else { continue };
        if dog.has(id) {
            continue;
        }
        let by_mats = dog.mats.iter().fold(Sites::NONE, |all, m| all | finding.is_due_by_mat(m.grade, m.sites));
        let (sites, why) = if dog.age.is_some_and(|age| finding.is_due_by_age(age)) {
            (trade.all_sites(), "age")
        } else {
            (by_mats, "mats")
        };
        if !sites.is_empty() {
            dog.findings.push(Fact {
                finding: id,
                sites,
                mark: None,
                after: None,
                direction: None,
                seen: None,
                words: format!("{} (by its {why})", finding.name.replace('-', " ")),
                place,
            });
        }
    }
}
