//! Whose turn it is: the parts that a keep wants first or last, such as a head that hates the clipper, and those that a text wants
//! before others, against the finishing lines.

use super::gather::{Must, Rule};
use super::trade::{Places, sides};
use super::{Breach, Done, OnTable, Pass};
use grammar::tree::{Bound, BoundKind};
use std::collections::BTreeMap;

/// Every keep that wants a part first or last where the plan has another before or after it. A step goes with most of its places.
pub(super) fn turns(table: &OnTable<'_, '_>, plan: &[Done]) -> Vec<Breach> {
    let mut steps: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
    for (number, done) in plan.iter().enumerate().filter(|(_, d)| d.tool.is_some() && d.pass == Pass::Finish) {
        steps.entry(done.order).or_default().push(number);
    }
    let mut out = Vec::new();
    for rule in &table.rules {
        if let Must::Before(then) = rule.must {
            out.extend(before(table, rule, &table.trade.places(then), (plan, &steps)));
            continue;
        }
        let last = match rule.must {
            Must::Bound(Bound { kind: BoundKind::Last, .. }) => true,
            Must::Bound(Bound { kind: BoundKind::First, .. }) => false,
            _ => continue,
        };
        let there = binding(table, rule);
        let meant: BTreeMap<u32, bool> = steps
            .iter()
            .map(|(order, lines)| {
                let within = lines.iter().filter_map(|n| plan.get(*n)).filter(|d| lies(table, d, &there)).count();
                (*order, within * 2 > lines.len())
            })
            .collect();
        let of = |wanted: bool| meant.iter().filter(move |(_, is)| **is == wanted).map(|(order, _)| *order);
        let wrong = if last {
            of(true).min().zip(of(false).max()).filter(|(own, other)| own < other)
        } else {
            of(true).max().zip(of(false).min()).filter(|(own, other)| own > other)
        };
        let Some((own, other)) = wrong else { continue };
        let number = |order: u32| steps.get(&order).and_then(|lines| lines.first()).copied().unwrap_or_default();
        let zone = |order: u32| plan.get(number(order)).map(|d| d.zone.replace('-', " ")).unwrap_or_default();
        let (when, turn) = if last { ("last", "before") } else { ("first", "after") };
        let words = format!("the {} is to be {when}, and its turn is {turn} the {}", zone(own), zone(other));
        out.push(rule.breach(number(own), words));
    }
    out
}

/// The line that comes before what a text wants before it: of a step whose places lie there, or of a stroke within one step. What
/// lies on both sides is of neither.
fn before(
    table: &OnTable<'_, '_>,
    rule: &Rule<'_>,
    then: &Places,
    (plan, steps): (&[Done], &BTreeMap<u32, Vec<usize>>),
) -> Option<Breach> {
    let reader = table.reader();
    let (leaf, sides) = rule.places.iter().enumerate().find(|(_, sides)| **sides != 0)?;
    if !reader.binds(&rule.steps, leaf, *sides) {
        return None;
    }
    let meets = |lines: &[usize], there: &Places| {
        lines.iter().filter_map(|n| plan.get(*n)).any(|done| lies(table, done, there))
    };
    // The last that is to come first, and the first that is to come later.
    let wrong = |things: &[&[usize]]| {
        let sides = |lines: &&&[usize]| (meets(lines, &rule.places), meets(lines, then));
        let own = things.iter().rev().find(|lines| sides(lines) == (true, false))?;
        let other = things.iter().find(|lines| sides(lines) == (false, true))?;
        own.first().copied().zip(other.first().copied()).filter(|(own, other)| own > other)
    };
    let whole: Vec<&[usize]> = steps.values().map(Vec::as_slice).collect();
    let within = || {
        steps.values().find_map(|lines| {
            let strokes: Vec<&[usize]> = lines.chunk_by(|a, b| stroke(plan.get(*a)) == stroke(plan.get(*b))).collect();
            wrong(&strokes)
        })
    };
    let (own, other) = wrong(&whole).or_else(within)?;
    let zone = |number: usize| plan.get(number).map(|d| d.zone.replace('-', " ")).unwrap_or_default();
    Some(rule.breach(own, format!("the {} is to come before the {}, and comes after it", zone(own), zone(other))))
}

/// What tells the strokes of one step apart.
fn stroke(done: Option<&Done>) -> Option<impl PartialEq> {
    done.map(|d| (d.tool.clone(), d.over.clone(), d.direction, d.passes, d.length))
}

/// Where a rule binds this dog.
fn binding(table: &OnTable<'_, '_>, rule: &Rule<'_>) -> Places {
    let reader = table.reader();
    let holds = |leaf: usize, sides: u8| sides != 0 && reader.binds(&rule.steps, leaf, sides);
    rule.places.iter().enumerate().map(|(leaf, sides)| if holds(leaf, *sides) { *sides } else { 0 }).collect()
}

fn lies(table: &OnTable<'_, '_>, done: &Done, there: &Places) -> bool {
    let side = sides(done.side);
    table.trade.named(&done.zone).iter().zip(there).any(|(here, there)| here & there & side != 0)
}
