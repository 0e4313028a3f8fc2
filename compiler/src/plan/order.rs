//! `order`, `first` and `last` over the parts of a visit.

use super::{Task, TaskKind, meant};
use crate::choices::Choices;
use crate::names::card::Dog;
use crate::names::sites::Sites;
use crate::names::trade::{Bound, KeepOn, Trade};
use crate::source::Place;

pub(super) fn sites_of(task: &Task) -> Sites {
    match &task.kind {
        TaskKind::Part { works, .. } | TaskKind::SetIn(works) => works.iter().fold(Sites::NONE, |set, w| set | w.sites),
        _ => Sites::NONE,
    }
}

/// Who wants something to come before something else: where it is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wish {
    /// `first`.
    First(Place),
    /// `last`.
    Last(Place),
    /// `order`.
    Order(Place),
}

/// `first`, `last` and `order` over the parts; what they don't say stays as the basics have it.
pub(super) fn arrange(parts: &mut Vec<Task>, choices: &Choices, trade: &Trade, dog: &Dog) {
    let pairs = |sites: &[Sites]| -> Vec<(usize, usize)> {
        wishes(sites, choices, trade, dog).into_iter().map(|(a, b, _)| (a, b)).collect()
    };
    let sites: Vec<Sites> = parts.iter().map(sites_of).collect();
    put_in_order(parts, &pairs(&sites));
    // The lines of one part, among themselves.
    for task in parts {
        let TaskKind::Part { works, .. } = &mut task.kind else { continue };
        let sites: Vec<Sites> = works.iter().map(|w| w.sites).collect();
        put_in_order(works, &pairs(&sites));
    }
}

/// What `first`, `last` and `order` say of things with these sites: the number of what comes before, that of what comes after
/// it, and who says so. A thing follows the wish of most of its sites.
pub(super) fn wishes(sites: &[Sites], choices: &Choices, trade: &Trade, dog: &Dog) -> Vec<(usize, usize, Wish)> {
    let mut edges = Vec::new();
    for (wish, on) in order_keeps(choices, trade, dog) {
        let most = |own: Sites| (own & on).len() * 2 > own.len();
        for (number, _) in sites.iter().enumerate().filter(|(_, s)| most(**s)) {
            for (other, _) in sites.iter().enumerate().filter(|(_, s)| !s.is_empty() && !most(**s)) {
                match wish {
                    Wish::Last(_) => edges.push((other, number, wish)),
                    _ => edges.push((number, other, wish)),
                }
            }
        }
    }
    edges.extend(said(sites, choices, dog));
    edges
}

/// What `order` says of them.
fn said(sites: &[Sites], choices: &Choices, dog: &Dog) -> Vec<(usize, usize, Wish)> {
    let mut edges = Vec::new();
    for order in &choices.orders {
        let holds = meant(order.finding, dog) && order.first.iter().next().is_none_or(|s| order.cond.holds(dog, s));
        for (a, first) in sites.iter().enumerate().filter(|_| holds) {
            for (b, then) in sites.iter().enumerate() {
                if a != b && first.meets(order.first) && then.meets(order.then) {
                    edges.push((a, b, Wish::Order(order.place)));
                }
            }
        }
    }
    edges
}

fn put_in_order<T>(things: &mut Vec<T>, edges: &[(usize, usize)]) {
    let sorted = by_edges(things.len(), edges);
    let mut slots: Vec<Option<T>> = things.drain(..).map(Some).collect();
    things.extend(sorted.into_iter().filter_map(|n| slots.get_mut(n).and_then(Option::take)));
}

/// The numbers below `count` in an order that keeps every edge, otherwise as they are. Contradictions have messages of
/// their own; here the first of a circle goes ahead.
fn by_edges(count: usize, edges: &[(usize, usize)]) -> Vec<usize> {
    let mut rest: Vec<usize> = (0..count).collect();
    let mut sorted = Vec::new();
    while !rest.is_empty() {
        let free = |n: &usize| !edges.iter().any(|(a, b)| b == n && a != n && rest.contains(a));
        let next = rest.iter().position(free).unwrap_or(0);
        sorted.push(rest.remove(next));
    }
    sorted
}

/// `first` and `last` that bind this dog, with their sites.
fn order_keeps(choices: &Choices, trade: &Trade, dog: &Dog) -> Vec<(Wish, Sites)> {
    let mut found = Vec::new();
    for entry in &choices.keeps {
        let wish = match entry.line.bound {
            Bound::First => Wish::First(entry.line.place),
            Bound::Last => Wish::Last(entry.line.place),
            _ => continue,
        };
        let KeepOn::Sites(sites) = entry.line.on else { continue };
        let known = entry.finding.is_none_or(|f| dog.has(f));
        if known && sites.iter().next().is_some_and(|s| entry.cond.holds(dog, s)) {
            found.push((wish, sites));
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
                Bound::First => found.push((Wish::First(line.place), sites)),
                Bound::Last => found.push((Wish::Last(line.place), sites)),
                _ => {}
            }
        }
    }
    found
}
