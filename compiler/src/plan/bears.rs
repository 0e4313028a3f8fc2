//! What the dog bears: how long it stands at a stretch and in all, and the rests on the finished order.
//!
//! Limits are keeps of findings, texts and of the step `rest` of the basics, which binds every dog; a card that says how long
//! its dog stands is nearer to that dog than what any dog stands, and takes the place of the latter. Times count at their slow
//! end. A rest lies between two parts; within a part, or between bath and drying, only where no stretch holds it whole, and
//! within one piece of work only where that alone is longer than a stretch.

use super::{Plan, TaskKind};
use crate::choices::Choices;
use crate::measure::{Interval, Time};
use crate::names::card::Dog;
use crate::names::trade::{Bound, FindingId, KeepOn, Stage, Step, StepId, Trade};

/// What a dog bears.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Limits {
    /// The longest that it stands without a rest.
    pub at_stretch: Option<Limit>,
    /// The longest that it stands in all.
    pub in_all: Option<Limit>,
    /// How it rests, and how long.
    pub rest: Option<(StepId, Interval<Time>)>,
}

/// A limit, and who sets it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limit {
    /// How long.
    pub time: Time,
    /// Who says so.
    pub by: By,
}

/// Who sets a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum By {
    /// The card's line `stands`.
    Card,
    /// A finding on the card, or one that the dog has by its age.
    Finding(FindingId),
    /// House or recipe.
    Text,
    /// The basics, for any dog.
    Basics,
}

/// What the finished order asks of the dog.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Bears {
    /// What it bears.
    pub limits: Limits,
    /// The rests, in order.
    pub rests: Vec<Rest>,
    /// How long it stands, rests left out.
    pub stands: Interval<Time>,
    /// How long the visit takes with its rests.
    pub takes: Interval<Time>,
}

/// A rest.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rest {
    /// Before this group of the order; within it, if `times` is above nought.
    pub group: usize,
    /// How often within the group, since the group alone is longer than a stretch; nought is before it.
    pub times: i64,
}

impl Bears {
    /// Whether even a slow visit stays within what the dog bears in all.
    #[must_use]
    pub fn fits(&self) -> bool {
        self.limits.in_all.is_none_or(|limit| self.stands.high <= limit.time)
    }
}

/// The least limits of card, findings, texts and basics.
#[must_use]
pub fn limits(choices: &Choices, trade: &Trade, dog: &Dog) -> Limits {
    let mut limits = Limits::default();
    let mut least = |bound: &Bound, by: By| {
        let (slot, time) = match bound {
            Bound::AtStretch(time) => (&mut limits.at_stretch, *time),
            Bound::InAll(time) => (&mut limits.in_all, *time),
            _ => return,
        };
        if slot.is_none_or(|known| time < known.time) {
            *slot = Some(Limit { time, by });
        }
    };
    dog.at_stretch.iter().for_each(|t| least(&Bound::AtStretch(*t), By::Card));
    dog.in_all.iter().for_each(|t| least(&Bound::InAll(*t), By::Card));
    for fact in &dog.findings {
        let lines = trade.finding(fact.finding).map(|f| f.keeps.as_slice()).unwrap_or_default();
        lines.iter().filter(|l| l.on == KeepOn::Dog).for_each(|l| least(&l.bound, By::Finding(fact.finding)));
    }
    let site = trade.all_sites().iter().next();
    for entry in choices.keeps.iter().filter(|k| k.line.on == KeepOn::Dog) {
        if super::meant(entry.finding, dog) && site.is_none_or(|s| entry.cond.holds(dog, s)) {
            least(&entry.line.bound, By::Text);
        }
    }
    for line in step(trade, "rest").iter().flat_map(|(_, s)| &s.keeps) {
        let told = match line.bound {
            Bound::AtStretch(_) => dog.at_stretch.is_some(),
            _ => dog.in_all.is_some(),
        };
        if !told {
            least(&line.bound, By::Basics);
        }
    }
    limits.rest = rest(trade, dog);
    limits
}

fn step<'t>(trade: &'t Trade, name: &str) -> Option<(StepId, &'t Step)> {
    let id = *trade.index.steps.get(name)?;
    Some((id, trade.step(id)?))
}

/// How the dog rests: of `rest` and the rests that its findings ask for the longest. A rest has no stage of its own.
fn rest(trade: &Trade, dog: &Dog) -> Option<(StepId, Interval<Time>)> {
    let asked = dog.asked_steps(trade).filter_map(|id| Some((id, trade.step(id)?)));
    let rests = step(trade, "rest").into_iter().chain(asked).filter(|(_, s)| s.stage.is_none() && !s.stands);
    rests.filter_map(|(id, s)| Some((id, s.minutes?))).max_by_key(|(_, minutes)| minutes.low)
}

impl Unit {
    /// Whether it alone is more than a stretch.
    fn is_long(&self, limit: Time) -> bool {
        self.stands && self.time.high > limit
    }

    /// What the dog has stood for before.
    const fn stood(time: Time) -> Self {
        Self { task: usize::MAX, time: Interval { low: time, high: time }, stands: true, half_done: false }
    }
}

/// A group, as far as standing goes.
#[derive(Clone, Copy)]
struct Unit {
    /// Which task it belongs to.
    task: usize,
    time: Interval<Time>,
    /// Whether the dog stands for it.
    stands: bool,
    /// Whether a rest before it would leave something half done: a part, or a dog that is wet.
    half_done: bool,
}

/// How long the dog stands for a finished plan.
pub(super) fn stands(plan: &Plan, trade: &Trade) -> Interval<Time> {
    standing(&units(plan, trade))
}

/// The rests of a finished plan, for a dog that has stood for so long when it begins.
pub(super) fn bears(plan: &Plan, limits: Limits, stood: Time, trade: &Trade) -> Bears {
    let units = units(plan, trade);
    let rest = limits.rest.map(|(_, time)| time).unwrap_or_default();
    let mut rests = Vec::new();
    if let Some(limit) = limits.at_stretch.filter(|l| l.time.0 > 0) {
        let mut start = 0;
        // However long it was, before anything more the dog rests.
        let mut stood = Some(stood.min(limit.time)).filter(|stood| stood.0 > 0);
        for end in 0..=units.len() {
            // What the dog needn't stand for is a rest by itself, if it is as long as one.
            let lies = units.get(end).is_none_or(|u| !u.stands && u.time.low >= rest.low && u.time.low.0 > 0);
            if lies {
                let part = units.get(start..end).unwrap_or_default();
                let before = stood.take().map(Unit::stood);
                let part: Vec<Unit> = before.into_iter().chain(part.iter().copied()).collect();
                let shift = usize::from(before.is_some());
                // What was before is no group of this order.
                let real = placed(&part, limit.time).into_iter().filter(|r| r.times == 0 || r.group >= shift);
                rests.extend(real.map(|r| Rest { group: r.group + start - shift, ..r }));
                start = end + 1;
            }
        }
    }
    let count: i64 = rests.iter().map(|r| r.times.max(1)).sum();
    let all = sum(plan.tasks.iter().map(|t| t.time));
    Bears {
        stands: standing(&units),
        takes: Interval { low: Time(all.low.0 + count * rest.low.0), high: Time(all.high.0 + count * rest.high.0) },
        limits,
        rests,
    }
}

/// Times together. Each piece is fast or slow for itself, so their spreads add up as independent ones do (the root of the sum
/// of squares), not as if all went worst at once.
pub fn sum(times: impl Iterator<Item = Interval<Time>>) -> Interval<Time> {
    let (mut twice, mut squares) = (0_i64, 0_i64);
    for time in times {
        twice += time.low.0 + time.high.0;
        squares += (time.high.0 - time.low.0) * (time.high.0 - time.low.0);
    }
    let spread = squares.max(0).isqrt();
    Interval { low: Time((twice - spread) / 2), high: Time((twice + spread + 1) / 2) }
}

/// How long the dog stands for groups that follow on one another. What belongs to one task is fast or slow together.
fn standing(units: &[Unit]) -> Interval<Time> {
    let mut standing = units.iter().filter(|u| u.stands).peekable();
    sum(std::iter::from_fn(|| {
        let Unit { task, mut time, .. } = *standing.next()?;
        while let Some(unit) = standing.next_if(|u| u.task == task) {
            time = time + unit.time;
        }
        Some(time)
    }))
}

/// How good some rests are, the less the better: what is left half done, how many there are, how uneven the stretches.
type Cost = (i64, i64, i64);

/// The rests of groups that follow on one another, numbered from nought.
fn placed(units: &[Unit], limit: Time) -> Vec<Rest> {
    // The best for the groups before each, with where its last stretch begins.
    let mut best: Vec<Option<(Cost, usize)>> = vec![None; units.len() + 1];
    if let Some(first) = best.first_mut() {
        *first = Some(((0, 0, 0), 0));
    }
    for end in 1..=units.len() {
        let mut found: Option<(Cost, usize)> = None;
        for start in (0..end).rev() {
            let stretch = units.get(start..end).unwrap_or_default();
            let stands = standing(stretch).high;
            let Some(within) = broken_off(stretch, limit) else { break };
            let Some((before, _)) = best.get(start).copied().flatten() else { continue };
            let half = units.get(start).is_some_and(|u| u.half_done && start > 0);
            // What is broken off is as many stretches as the rests within it make.
            let minutes = stands.0 / 60 / (within + 1);
            let uneven = (within + 1) * minutes * minutes;
            let cost = (before.0 + i64::from(half), before.1 + i64::from(start > 0) + within, before.2 + uneven);
            if found.is_none_or(|(least, _)| cost < least) {
                found = Some((cost, start));
            }
        }
        if let Some(slot) = best.get_mut(end) {
            *slot = found;
        }
    }
    let mut rests = Vec::new();
    let mut end = units.len();
    while let Some((_, start)) = best.get(end).copied().flatten().filter(|_| end > 0) {
        let stretch = units.get(start..end).unwrap_or_default();
        if let (Some(long), Some(times @ 1..)) =
            (stretch.iter().position(|u| u.is_long(limit)), broken_off(stretch, limit))
        {
            rests.push(Rest { group: start + long, times });
        }
        if start > 0 {
            rests.push(Rest { group: start, times: 0 });
        }
        end = start;
    }
    rests.reverse();
    rests
}

/// How often a stretch is broken off within the one piece of work in it that is too long, so that no rest is later than the
/// limit; none if it can't be one stretch.
fn broken_off(stretch: &[Unit], limit: Time) -> Option<i64> {
    let stands = standing(stretch).high;
    let mut long = stretch.iter().enumerate().filter(|(_, u)| u.is_long(limit)).map(|(n, _)| n);
    match (long.next(), long.next()) {
        (None, _) => (stands <= limit).then_some(0),
        (Some(at), None) => {
            // A dog isn't put into the tub on the last minutes of a stretch.
            if at > 0 && stretch.get(at).is_some_and(|u| !u.half_done) {
                return None;
            }
            let (before, after) = (stretch.get(..at).unwrap_or_default(), stretch.get(at + 1..).unwrap_or_default());
            let beside = standing(before).high <= limit && standing(after).high <= limit;
            beside.then_some((stands.0 - 1) / limit.0.max(1))
        }
        (Some(_), Some(_)) => None,
    }
}

fn units(plan: &Plan, trade: &Trade) -> Vec<Unit> {
    let step = |n: usize| match plan.tasks.get(n).map(|t| &t.kind) {
        Some(TaskKind::Step { step, .. }) => trade.step(*step),
        _ => None,
    };
    let stage = |n: usize| step(n).and_then(|s| s.stage);
    let groups = &plan.order.groups;
    let unit = |(number, time): (usize, Interval<Time>)| {
        let task = groups.get(number).map_or(0, |g| g.task);
        let before = number.checked_sub(1).and_then(|n| groups.get(n)).map(|g| g.task);
        let wet = matches!(stage(task), Some(Stage::Wash | Stage::Dry))
            && matches!(before.and_then(stage), Some(Stage::Wash | Stage::Dry));
        Unit { task, time, stands: step(task).is_none_or(|s| s.stands), half_done: before == Some(task) || wet }
    };
    plan.group_times().into_iter().enumerate().map(unit).collect()
}

impl Plan {
    /// How long each group takes: its share of its task, by the middles of what its lines take.
    #[must_use]
    pub fn group_times(&self) -> Vec<Interval<Time>> {
        let own = |group: &super::Group| -> i64 {
            let both = |time: Interval<Time>| time.low.0 + time.high.0;
            match (self.tasks.get(group.task).map(|t| &t.kind), &group.lines) {
                (Some(TaskKind::Part { works, .. } | TaskKind::SetIn(works)), super::Lines::Works(lines)) => {
                    lines.iter().filter_map(|n| works.get(*n)).map(|w| both(w.time)).sum()
                }
                (Some(TaskKind::Part { blends, .. }), super::Lines::Blends(lines)) => {
                    lines.iter().filter_map(|n| blends.get(*n)).map(|b| both(b.time)).sum()
                }
                _ => 0,
            }
        };
        let groups = &self.order.groups;
        let owns: Vec<i64> = groups.iter().map(|g| own(g).max(1)).collect();
        let mut of_task = vec![0_i64; self.tasks.len()];
        for (group, own) in groups.iter().zip(&owns) {
            if let Some(sum) = of_task.get_mut(group.task) {
                *sum += own;
            }
        }
        let mut times = Vec::with_capacity(groups.len());
        for (group, own) in groups.iter().zip(&owns) {
            let all = of_task.get(group.task).copied().unwrap_or_default();
            let time = self.tasks.get(group.task).map(|t| t.time).unwrap_or_default();
            times.push(time.map(|t| Time(t.0 * own / all.max(1))));
        }
        times
    }
}

#[cfg(test)]
mod tests;
