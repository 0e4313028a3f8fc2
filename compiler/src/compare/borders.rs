//! Blends and lines between parts, before and now.

use super::both::{Both, Side, needs};
use super::{Change, Rank};
use crate::choices::{BlendAsk, LineAsk};
use crate::names::card::Dog;
use crate::names::condition::Cond;
use crate::names::sites::{Site, Sites};
use crate::names::trade::FindingId;
use crate::prove::found::{Point, Rank as Simple};
use crate::rules::{Pair, pairs};

/// The same difference at one or more borders.
struct There {
    borders: Vec<(String, String)>,
    words: (String, String),
    simple: Simple,
    point: Point,
    on_all: bool,
    sites: Sites,
}

/// Borders that are blended or parted otherwise.
pub(super) fn changes(both: &Both<'_>, out: &mut Vec<Change>) {
    let mut all: Vec<There> = Vec::new();
    let even = both.old.choices.symmetric && both.new.choices.symmetric;
    let known = |site: Site| both.sites().any(|s| s == site);
    for pair in pairs(both.new.trade, even).into_iter().filter(|p| even || known(p.site) && known(p.other)) {
        let Some(here) = at(both, pair) else { continue };
        match all.iter_mut().find(|t| t.words == here.words && t.on_all == here.on_all) {
            Some(known) => {
                for border in here.borders {
                    if !known.borders.contains(&border) {
                        known.borders.push(border);
                    }
                }
                if here.simple < known.simple {
                    (known.simple, known.point) = (here.simple, here.point);
                }
            }
            None => all.push(here),
        }
    }
    for There { borders, words, point, on_all, sites, .. } in all {
        out.push(both.change(Rank::Other, listed(&borders), words, on_all, &point, (0, sites)));
    }
}

/// Borders in words, those that share a part together: `neck and shoulder, withers`.
fn listed(borders: &[(String, String)]) -> String {
    let mut by_first: Vec<(&str, Vec<&str>)> = Vec::new();
    for (a, b) in borders {
        match by_first.iter_mut().find(|(first, _)| first == a) {
            Some((_, others)) => others.push(b),
            None => by_first.push((a, vec![b])),
        }
    }
    let words: Vec<String> = by_first.iter().map(|(a, others)| format!("{a} and {}", others.join(", "))).collect();
    format!("between {}", words.join("; "))
}

fn blends<'s>(side: Side<'s>, pair: Pair<'_>) -> Vec<&'s BlendAsk> {
    side.choices.blends.iter().filter(|b| b.joins(pair.site, pair.other)).collect()
}

fn lines<'s>(side: Side<'s>, pair: Pair<'_>) -> Vec<&'s LineAsk> {
    side.choices.lines.iter().filter(|l| l.parts(pair.site, pair.other)).collect()
}

fn at(both: &Both<'_>, pair: Pair<'_>) -> Option<There> {
    let (old, new) = (both.old, both.new);
    let (was, is) = ((blends(old, pair), lines(old, pair)), (blends(new, pair), lines(new, pair)));
    let blend = |a: &BlendAsk, b: &BlendAsk| {
        (a.wide, &a.room, &a.by, a.finding, &a.cond) == (b.wide, &b.room, &b.by, b.finding, &b.cond)
    };
    let line = |a: &LineAsk, b: &LineAsk| (a.finding, &a.cond) == (b.finding, &b.cond);
    let alike = was.0.len() == is.0.len()
        && was.1.len() == is.1.len()
        && was.0.iter().zip(&is.0).all(|(a, b)| blend(a, b))
        && was.1.iter().zip(&is.1).all(|(a, b)| line(a, b));
    if alike {
        return None;
    }
    let needed = |(blends, lines): &(Vec<&BlendAsk>, Vec<&LineAsk>)| -> Vec<Vec<FindingId>> {
        let lines = lines.iter().map(|l| needs((l.finding, &l.cond)));
        blends.iter().map(|b| needs((b.finding, &b.cond))).chain(lines).collect()
    };
    let sets = both.sets(needed(&was).into_iter(), needed(&is).into_iter(), std::iter::empty());
    let conds: Vec<&Cond> = [&was, &is]
        .into_iter()
        .flat_map(|(blends, lines)| blends.iter().map(|b| &b.cond).chain(lines.iter().map(|l| &l.cond)))
        .collect();
    let by_coat = conds.iter().any(|c| c.asks_for_coats());
    let classes = both.classes(pair.site, conds.iter().copied());
    let sites = Sites::one(pair.site) | Sites::one(pair.other);
    let (mut tried, mut best): (usize, Option<There>) = (0, None);
    let mut differs = 0;
    for set in &sets {
        for one in both.dogs(pair.site, set, &[], &classes, by_coat) {
            tried += 1;
            let words = (words(&was, &one.dog, pair.site), words(&is, &one.dog, pair.site));
            if words.0 == words.1 {
                continue;
            }
            differs += 1;
            let simple = one.point.rank(&both.domain);
            if best.as_ref().is_none_or(|b| simple < b.simple) {
                let border = (pair.a.name.replace('-', " "), pair.b.name.replace('-', " "));
                best = Some(There { borders: vec![border], words, simple, point: one.point, on_all: false, sites });
            }
        }
    }
    best.map(|b| There { on_all: tried == differs, ..b })
}

/// What is done at a border of a dog.
fn words((blends, lines): &(Vec<&BlendAsk>, Vec<&LineAsk>), dog: &Dog, site: Site) -> String {
    let meant = |cond: &Cond, finding: Option<FindingId>| cond.holds(dog, site) && finding.is_none_or(|f| dog.has(f));
    let blend = |b: &&BlendAsk| {
        let room = b.room.as_ref().map(|r| format!(" over {r}")).unwrap_or_default();
        let by = b.by.as_ref().map(|b| format!(" by {}", b.replace('-', " "))).unwrap_or_default();
        format!("blend{room}{by}")
    };
    let mut all: Vec<String> = blends.iter().filter(|b| meant(&b.cond, b.finding)).map(blend).collect();
    if lines.iter().any(|l| meant(&l.cond, l.finding)) {
        all.push("a line".to_owned());
    }
    all.sort();
    all.dedup();
    if all.is_empty() { "neither blend nor line".to_owned() } else { all.join(", ") }
}
