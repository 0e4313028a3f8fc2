//! `order`, `first` and `last` over the parts of a visit.

use super::{Task, TaskKind, meant};
use crate::choices::Choices;
use crate::names::card::Dog;
use crate::names::sites::Sites;
use crate::names::trade::{Bound, KeepOn, Trade};

pub(super) fn sites_of(task: &Task) -> Sites {
    match &task.kind {
        TaskKind::Part { works, .. } | TaskKind::SetIn(works) => works.iter().fold(Sites::NONE, |set, w| set | w.sites),
        _ => Sites::NONE,
    }
}

/// `first`, `last` and `order` over the parts; what they don't say stays as the basics have it.
pub(super) fn arrange(parts: &mut Vec<Task>, choices: &Choices, trade: &Trade, dog: &Dog) {
    let sites: Vec<Sites> = parts.iter().map(sites_of).collect();
    let mut edges: Vec<(usize, usize)> = Vec::new();
    for (bound, on) in order_keeps(choices, trade, dog) {
        for (number, own) in sites.iter().enumerate() {
            // A part follows the wish of most of its sites.
            if (*own & on).len() * 2 <= own.len() {
                continue;
            }
            for (other, theirs) in sites.iter().enumerate() {
                if other != number && (*theirs & on).len() * 2 <= theirs.len() {
                    edges.push(if bound { (number, other) } else { (other, number) });
                }
            }
        }
    }
    for order in &choices.orders {
        let holds = meant(order.finding, dog) && order.first.iter().next().is_none_or(|s| order.cond.holds(dog, s));
        for (a, first) in sites.iter().enumerate().filter(|_| holds) {
            for (b, then) in sites.iter().enumerate() {
                if a != b && first.meets(order.first) && then.meets(order.then) {
                    edges.push((a, b));
                }
            }
        }
    }
    let mut rest: Vec<usize> = (0..parts.len()).collect();
    let mut sorted = Vec::new();
    while !rest.is_empty() {
        // Contradictions have messages of their own; here the first part of a circle goes ahead.
        let next =
            rest.iter().position(|n| !edges.iter().any(|(a, b)| b == n && a != n && rest.contains(a))).unwrap_or(0);
        sorted.push(rest.remove(next));
    }
    let mut slots: Vec<Option<Task>> = parts.drain(..).map(Some).collect();
    parts.extend(sorted.into_iter().filter_map(|n| slots.get_mut(n).and_then(Option::take)));
}

/// `first` (true) and `last` (false) that bind this dog, with their sites.
fn order_keeps(choices: &Choices, trade: &Trade, dog: &Dog) -> Vec<(bool, Sites)> {
    let mut found = Vec::new();
    for entry in &choices.keeps {
        let first = match entry.line.bound {
            Bound::First => true,
            Bound::Last => false,
            _ => continue,
        };
        let KeepOn::Sites(sites) = entry.line.on else { continue };
        let known = entry.finding.is_none_or(|f| dog.findings.iter().any(|fact| fact.finding == f));
        if known && sites.iter().next().is_some_and(|s| entry.cond.holds(dog, s)) {
            found.push((first, sites));
        }
    }
    for fact in &dog.findings {
        let Some(finding) = trade.finding(fact.finding) else { continue };
        for line in &finding.keeps {
            let sites = match line.on {
                KeepOn::Sites(sites) => sites,
                KeepOn::Place => fact.sites,
                KeepOn::Dog => continue,
            };
            match line.bound {
                Bound::First => found.push((true, sites)),
                Bound::Last => found.push((false, sites)),
                _ => {}
            }
        }
    }
    found
}
