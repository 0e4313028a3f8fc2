//! Findings whose keeps together leave no tool: sets that hit every tool of the kit.
//!
//! That nothing is left needs one keep against each stroke that could stand in, so that two findings aren't enough to try. The
//! least number of sets that together hit everything is found by trying one, two and three of them; beyond, all are taken and
//! those that aren't needed are dropped one by one (finding the least is a hitting set, NP-hard in general). Only findings that the
//! recipe or the house guards count: what the basics rule out for others is nobody's mistake.

use super::candidates::{each_once, needed};
use super::touchy::Touchy;
use crate::choices::{Choices, Kind};
use crate::finish::{Stroke, breach, is_freehand, options};
use crate::measure::Length;
use crate::names::card::Dog;
use crate::names::sites::Site;
use crate::names::trade::{Bound, FindingId, KeepOn, Reply, ToolKind, Trade};

/// What the keeps of some findings let pass of the strokes that could stand in: one bit each.
struct Item {
    findings: Vec<FindingId>,
    passes: u128,
}

/// The sets of findings that leave no tool at a site, each least, with those of the statement whose work is left undone.
pub(super) fn sets(choices: &Choices, trade: &Trade, touchy: &Touchy, site: Site, dog: &Dog) -> Vec<Vec<FindingId>> {
    let mut bans = choices.keeps_at(site).filter(|k| k.finding.is_some());
    if !bans.any(|k| k.line.bound.is_welfare() && !matches!(k.line.bound, Bound::Untouched | Bound::Refer)) {
        return Vec::new();
    }
    let mut sets = Vec::new();
    for choice in choices.at(site) {
        let own = needed(choice.finding, &choice.cond);
        for written in touchy.strokes_of(choice.place) {
            let mut strokes: Vec<Stroke> = Vec::new();
            options(written, choices, trade, dog, site, Length(0), &mut |_, stroke| strokes.push(stroke));
            strokes.truncate(128);
            for found in hit(choices, trade, site, written, &strokes) {
                let set = each_once([own.as_slice(), found.as_slice()].concat());
                let excluded = set.iter().any(|f| choices.serves.without.contains(f));
                // A finding that the statement's own guard doesn't answer could replace it.
                let answered = choice.kind != Kind::Guard
                    && choices.at(site).any(|c| c.kind == Kind::Guard && c.finding.is_some_and(|f| found.contains(&f)));
                if !excluded && !answered && !sets.contains(&set) {
                    sets.push(set);
                }
            }
        }
    }
    sets
}

fn hit(choices: &Choices, trade: &Trade, site: Site, written: &Stroke, strokes: &[Stroke]) -> Vec<Vec<FindingId>> {
    let mask = |bound: &Bound| {
        let passes = |stroke: &Stroke| {
            let kind = stroke.kind(trade);
            // The hand leaves as much as a floor asks for.
            let floor = matches!(bound, Bound::NoCloser(..) | Bound::NoShorter(_));
            floor && kind.is_some_and(|k| is_freehand(k) && k != ToolKind::Carder)
                || breach(stroke, bound, None, trade).is_none()
        };
        strokes.iter().enumerate().filter(|(_, s)| passes(s)).fold(0_u128, |all, (n, _)| all | 1 << n)
    };
    let all = if strokes.len() < 128 { (1_u128 << strokes.len()) - 1 } else { u128::MAX };
    let stops = |bound: &Bound| matches!(bound, Bound::Untouched | Bound::Refer);
    let mut always = all;
    let mut items: Vec<Item> = Vec::new();
    let mut add = |findings: Vec<FindingId>, passes: u128| match items.iter_mut().find(|i| i.findings == findings) {
        Some(item) => item.passes &= passes,
        None => items.push(Item { findings, passes }),
    };
    for keep in choices.keeps_at(site) {
        if keep.finding.is_none() && keep.cond.is_always() && keep.line.sex.is_none() {
            always &= mask(&keep.line.bound);
        } else if keep.finding.is_some() && !stops(&keep.line.bound) {
            add(needed(keep.finding, &keep.cond), mask(&keep.line.bound));
        }
    }
    // What the basics ask for those findings counts with what the guards ask.
    for item in &mut items {
        for finding in item.findings.iter().filter_map(|f| trade.finding(*f)) {
            let here = |on: KeepOn| match on {
                KeepOn::Place => !finding.spot && finding.may_be_at(site),
                KeepOn::Sites(sites) => sites.has(site),
                KeepOn::Dog => false,
            };
            let keeps = || finding.keeps.iter().filter(|k| here(k.on)).map(|k| &k.bound);
            item.passes = keeps().filter(|b| !stops(b)).fold(item.passes, |passes, bound| passes & mask(bound));
            // What is left or referred by its reply needs no tool.
            if keeps().any(stops) || !matches!(finding.reply, Reply::Raise | Reply::Answer) {
                item.passes = all;
            }
        }
    }
    // Only where something keeps the written stroke from being made is anything raised, or left.
    if always == 0 || strokes.is_empty() || written.tool.is_none() {
        return Vec::new();
    }
    least(always, &items)
}

/// The least sets of items that together let nothing of `all` pass.
fn least(all: u128, items: &[Item]) -> Vec<Vec<FindingId>> {
    let useful: Vec<&Item> = items.iter().filter(|i| i.passes & all != all).collect();
    let join = |parts: &[&Item]| each_once(parts.iter().flat_map(|i| i.findings.iter().copied()).collect());
    let mut found: Vec<Vec<FindingId>> = Vec::new();
    for (at, first) in useful.iter().enumerate() {
        let one = all & first.passes;
        if one == 0 {
            found.push(join(&[first]));
            continue;
        }
        let mut two: Vec<Vec<FindingId>> = Vec::new();
        let mut three: Vec<Vec<FindingId>> = Vec::new();
        for (n, second) in useful.iter().enumerate().skip(at + 1) {
            if one & second.passes == 0 {
                two.push(join(&[first, second]));
            } else if two.is_empty() && three.is_empty() {
                let third = useful.iter().skip(n + 1).find(|third| one & second.passes & third.passes == 0);
                three.extend(third.map(|third| join(&[first, second, third])));
            }
        }
        if at == 0 && two.is_empty() && three.is_empty() && useful.iter().fold(one, |left, i| left & i.passes) == 0 {
            three.push(join(&dropped(one, first, &useful)));
        }
        found.extend(if two.is_empty() { three } else { two });
    }
    found
}

/// All items but those that aren't needed, tried one by one.
fn dropped<'i>(one: u128, first: &'i Item, useful: &[&'i Item]) -> Vec<&'i Item> {
    let mut kept: Vec<&Item> = useful.to_vec();
    for item in useful {
        let fewer: Vec<&Item> = kept.iter().copied().filter(|k| !std::ptr::eq(*k, *item)).collect();
        if fewer.iter().fold(one, |left, i| left & i.passes) == 0 {
            kept = fewer;
        }
    }
    kept.push(first);
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    fn item(finding: u16, passes: u128) -> Item {
        Item { findings: vec![FindingId(finding)], passes }
    }

    /// Three findings that ban one tool each: no two of them leave nothing.
    #[test]
    fn three_that_ban_one_tool_each() {
        let items = [item(1, 0b110), item(2, 0b101), item(3, 0b011), item(4, 0b111)];
        assert_eq!(least(0b111, &items), vec![vec![FindingId(1), FindingId(2), FindingId(3)]]);
    }

    #[test]
    fn more_than_three_are_dropped_to_what_is_needed() {
        let items: Vec<Item> = (0..6_u16).map(|n| item(n, 0b11_1111 & !(1 << n))).collect();
        assert_eq!(least(0b11_1111, &items), vec![(0..6).map(FindingId).collect::<Vec<_>>()]);
        assert_eq!(least(0b01_1111, &items), vec![(0..5).map(FindingId).collect::<Vec<_>>()]);
    }

    #[test]
    fn one_alone_is_enough_and_pairs_are_all_told() {
        assert_eq!(least(0b1, &[item(1, 0)]), vec![vec![FindingId(1)]]);
        let pairs = least(0b11, &[item(1, 0b01), item(2, 0b10), item(3, 0b10)]);
        assert_eq!(pairs, vec![vec![FindingId(1), FindingId(2)], vec![FindingId(1), FindingId(3)]]);
    }
}
