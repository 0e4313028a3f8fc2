//! Whose turn it is: the parts that a keep wants first or last, such as a head that hates the clipper, against the finishing lines.

use super::condition::Reader;
use super::dog::Dog;
use super::exact::Scope;
use super::gather::{Must, Rule};
use super::trade::{BOTH, Places, Trade};
use super::{Breach, Done, Pass};
use grammar::tree::{Bound, BoundKind, Side};
use std::collections::BTreeMap;

/// What lies before the one who checks.
pub(super) struct Desk<'a, 't> {
    pub(super) trade: &'a Trade<'t>,
    pub(super) scope: &'a Scope<'a, 't>,
    pub(super) dog: &'a Dog<'t>,
    pub(super) rules: &'a [Rule<'t>],
}

/// Every keep that wants a part first or last where the plan has another before or after it. A step goes with most of its places.
pub(super) fn turns(desk: &Desk<'_, '_>, plan: &[Done]) -> Vec<Breach> {
    let mut steps: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
    for (number, done) in plan.iter().enumerate().filter(|(_, d)| d.tool.is_some() && d.pass == Pass::Finish) {
        steps.entry(done.order).or_default().push(number);
    }
    let mut out = Vec::new();
    for rule in desk.rules {
        let last = match rule.must {
            Must::Bound(Bound { kind: BoundKind::Last, .. }) => true,
            Must::Bound(Bound { kind: BoundKind::First, .. }) => false,
            _ => continue,
        };
        let there = desk.binding(rule);
        let meant: BTreeMap<u32, bool> = steps
            .iter()
            .map(|(order, lines)| {
                let within = lines.iter().filter_map(|n| plan.get(*n)).filter(|d| desk.lies(d, &there)).count();
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
        let mut words = format!("the {} is to be {when}, and its turn is {turn} the {}", zone(own), zone(other));
        if let Some(why) = &rule.whence {
            words = format!("{words} ({why})");
        }
        out.push(Breach { done: number(own), file: rule.file, start: rule.start, end: rule.end, words });
    }
    out
}

impl Desk<'_, '_> {
    /// Where a rule binds this dog.
    fn binding(&self, rule: &Rule<'_>) -> Places {
        let reader = Reader { trade: self.trade, scope: self.scope, dog: self.dog };
        let holds = |leaf: usize, sides: u8| sides != 0 && reader.binds(&rule.steps, leaf, sides);
        rule.places.iter().enumerate().map(|(leaf, sides)| if holds(leaf, *sides) { *sides } else { 0 }).collect()
    }

    fn lies(&self, done: &Done, there: &Places) -> bool {
        let side = match done.side {
            None => BOTH,
            Some(Side::Left) => 1,
            Some(Side::Right) => 2,
        };
        let zone = self.trade.named(&done.zone);
        zone.iter().zip(there).any(|(here, there)| here & there & side != 0)
    }
}
