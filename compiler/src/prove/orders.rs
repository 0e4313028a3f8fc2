//! Orders that contradict one another on some dog.

use super::candidates::each_once;
use super::domain::{Domain, fact};
use super::found::{Found, Point};
use crate::choices::Choices;
use crate::names::trade::{Bound, FindingId, Trade, Where};
use crate::rules::contradictions;
use crate::source::Place;

/// O001 to O003. Orders only add up, so that the dog with every finding contradicts itself if any does; from what is found there
/// and isn't known from a simpler dog, findings are taken away one by one for as long as it stays.
pub(super) fn prove(choices: &Choices, trade: &Trade, domain: &Domain, found: &mut Found<'_>) {
    let ends = choices.keeps.iter().filter(|k| matches!(k.line.bound, Bound::First | Bound::Last));
    let ends = ends.map(|k| (k.finding, &k.cond));
    let all: Vec<_> = choices.orders.iter().map(|o| (o.finding, &o.cond)).chain(ends).collect();
    if all.is_empty() {
        return;
    }
    let coats = if all.iter().any(|(_, c)| c.asks_for_coats()) { domain.coats.len() } else { 1 };
    let mut findings =
        each_once(all.iter().flat_map(|(f, c)| f.iter().copied().chain(c.findings.iter().copied())).collect());
    findings.retain(|f| !choices.serves.without.contains(f));
    // A dog that has one of them by its age needs nothing on its card.
    let classes = domain.classes(all.iter().map(|(_, c)| *c), std::iter::empty(), |f| findings.contains(&f));
    let mut sets: Vec<Vec<FindingId>> = vec![Vec::new()];
    sets.extend(findings.iter().map(|f| vec![*f]));
    sets.extend(findings.iter().enumerate().flat_map(|(n, f)| findings.iter().skip(n + 1).map(|g| vec![*f, *g])));
    let pairs = sets.len();
    if findings.len() > 2 {
        sets.push(findings);
    }
    for (number, set) in sets.iter().enumerate() {
        for coat in 0..coats {
            for class in &classes {
                let Some(cell) = class.first() else { continue };
                let point = |set: &[FindingId]| {
                    Point::new(cell, coat, set.iter().filter_map(|f| somewhere(trade, *f)).collect())
                };
                let said = |set: &[FindingId]| contradictions(choices, trade, &point(set).dog(domain, trade));
                for diagnostic in said(set) {
                    let key: (&str, Place) = (diagnostic.code, diagnostic.place);
                    if number < pairs {
                        found.add(&diagnostic, &point(set), class);
                        // Without conditions on coats one coat stands for all.
                        for coat in coats..domain.coats.len() {
                            found.add(&diagnostic, &Point { coat, ..point(set) }, class);
                        }
                        continue;
                    }
                    let mut least = set.clone();
                    for finding in set {
                        let fewer: Vec<FindingId> = least.iter().copied().filter(|f| f != finding).collect();
                        if said(&fewer).iter().any(|d| (d.code, d.place) == key) {
                            least = fewer;
                        }
                    }
                    if !found.knows(key.0, key.1, point(&least).rank(domain)) {
                        let again = said(&least).into_iter().find(|d| (d.code, d.place) == key);
                        found.add(&again.unwrap_or(diagnostic), &point(&least), class);
                    }
                }
            }
        }
    }
}

/// A finding at its usual place; orders ask only whether a dog has it.
fn somewhere(trade: &Trade, finding: FindingId) -> Option<crate::names::card::Fact> {
    let declared = trade.finding(finding)?;
    let sites = match declared.on {
        Where::Whole => trade.all_sites(),
        Where::Fixed(sites) => sites,
        Where::Card => trade.zones.iter().find(|z| z.sex.is_none()).map(crate::names::trade::Zone::sites)?,
    };
    Some(fact(finding, sites, declared.place))
}
