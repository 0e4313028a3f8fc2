//! The search by layers: all beginnings of one thing, of two, of three, each the cheapest that has done the same and ended
//! with the same.
//!
//! A beginning costs what its changes cost over the prices of the assignment; with the assignment's own sum that is a bound on
//! every order that begins so. To it is added what the rest still costs over those prices: for each thing its cheapest change
//! from what is left, then for each thing left its cheapest change on. What can't beat the best order known is given up. A
//! layer may be cut to a width; then the least bound that was cut stays as the bound of the whole.

use super::assign::Duals;
use super::before::Before;
use super::set::Set;
use super::{Costs, FAR, local};
use rustc_hash::FxHashMap;
use std::collections::hash_map::Entry;

/// One beginning.
#[derive(Clone, Copy, Debug)]
struct State<const W: usize> {
    done: Set<W>,
    /// Its cost over the prices, with their sum.
    cost: i64,
    /// What the rest costs over the prices at least.
    rest: i64,
    last: u16,
    /// Which of the layer before it goes on from.
    from: u32,
}

/// What stays of a layer: the last thing and where it came from.
#[derive(Clone, Copy, Debug)]
struct Closed {
    last: u16,
    from: u32,
}

/// The search with what is known so far.
pub(super) struct Search<'a> {
    costs: &'a Costs,
    before: &'a Before,
    /// Costs over the prices.
    over: Costs,
    /// For each column the rows that may come before it, the cheapest first.
    into: Vec<Vec<(i64, usize)>>,
    /// For each row the columns that may follow.
    on: Vec<Vec<(i64, usize)>>,
    floor: i64,
    /// The best order known.
    pub(super) best: Vec<usize>,
    cost: i64,
    bound: i64,
    states: usize,
}

impl<'a> Search<'a> {
    pub(super) fn new(costs: &'a Costs, before: &'a Before, duals: &Duals, best: Vec<usize>, floor: i64) -> Self {
        let size = costs.size;
        let price = |list: &[i64], n: usize| list.get(n).copied().unwrap_or(0);
        let mut over = costs.clone();
        for (n, slot) in over.all.iter_mut().enumerate().filter(|(_, slot)| **slot < FAR) {
            *slot -= price(&duals.rows, n / size) + price(&duals.columns, n % size);
        }
        let sorted = |f: &dyn Fn(usize) -> (i64, usize)| {
            let mut list: Vec<(i64, usize)> = (0..size).map(f).filter(|(_, n)| *n < size).collect();
            list.sort_unstable();
            list
        };
        let real = |a: usize, b: usize, n: usize| if costs.at(a, b) < FAR { (over.at(a, b), n) } else { (FAR, size) };
        let into = (0..size).map(|to| sorted(&|from| real(from, to, from))).collect();
        let on = (0..size).map(|from| sorted(&|to| real(from, to, to))).collect();
        let cost = costs.sum(&best);
        Self { costs, before, over, into, on, floor, best, cost, bound: floor.min(cost), states: 0 }
    }

    /// Whether the best order is proved.
    pub(super) const fn is_done(&self) -> bool {
        self.bound >= self.cost
    }

    /// Takes the cost of the best order, after somebody else made it better.
    pub(super) fn known(&mut self) {
        self.cost = self.costs.sum(&self.best);
        self.bound = self.bound.min(self.cost);
    }

    /// The best order, its cost, the bound, and how many beginnings were looked at.
    pub(super) fn end(self) -> (Vec<usize>, i64, i64, usize) {
        (self.best, self.cost, self.bound, self.states)
    }

    /// One search with layers of at most this width, within so many states in all.
    pub(super) fn go(&mut self, width: usize, budget: usize) {
        if self.is_done() || self.states >= budget {
            return;
        }
        let cut = match self.costs.size {
            0..=64 => self.layers::<1>(width, budget),
            65..=128 => self.layers::<2>(width, budget),
            129..=256 => self.layers::<4>(width, budget),
            _ => self.layers::<9>(width, budget),
        };
        // Every order cheaper than the best goes through what was cut.
        self.bound = self.bound.max(cut.min(self.cost));
    }

    /// Goes through the layers; the least bound of what was cut.
    fn layers<const W: usize>(&mut self, width: usize, budget: usize) -> i64 {
        let count = self.costs.size - 1;
        let needs: Vec<Set<W>> =
            (0..count).map(|n| self.before.earlier(n).iter().fold(Set::NONE, |set, e| set.with(*e))).collect();
        let mates: Vec<Set<W>> =
            (0..count).map(|n| self.before.mates(n).fold(Set::NONE, |set, m| set.with(m))).collect();
        let mut cut = i64::MAX;
        let mut closed: Vec<Vec<Closed>> = Vec::with_capacity(count);
        let start = u16::try_from(count).unwrap_or(u16::MAX);
        let mut layer = vec![State { done: Set::NONE, cost: self.floor, rest: 0, last: start, from: 0 }];
        for _ in 0..count {
            let mut next: Vec<State<W>> = Vec::new();
            let mut known: FxHashMap<(Set<W>, u16), u32> = FxHashMap::default();
            // Twice the width before it is cut again, so that the best of all stay.
            let room = width.min(budget.saturating_sub(self.states)).max(1);
            for (number, state) in layer.iter().enumerate() {
                let row = usize::from(state.last);
                let from = u32::try_from(number).unwrap_or(u32::MAX);
                // A block that was begun is done before anything else.
                let begun = mates.get(row).is_some_and(|m| !m.within(&state.done));
                for (step, to) in self.on.get(row).into_iter().flatten() {
                    let cost = state.cost + step;
                    if cost >= self.cost {
                        break;
                    }
                    if *to == count || state.done.has(*to) || !needs.get(*to).is_some_and(|n| n.within(&state.done)) {
                        continue;
                    }
                    if begun && self.before.block(*to) != self.before.block(row) {
                        continue;
                    }
                    let last = u16::try_from(*to).unwrap_or(u16::MAX);
                    let done = state.done.with(*to);
                    match known.entry((done, last)) {
                        Entry::Occupied(slot) => {
                            if let Some(old) = next.get_mut(*slot.get() as usize).filter(|old| old.cost > cost) {
                                (old.cost, old.from) = (cost, from);
                            }
                        }
                        Entry::Vacant(slot) => {
                            let rest = self.rest(&done, *to, &needs);
                            if cost + rest < self.cost {
                                slot.insert(u32::try_from(next.len()).unwrap_or(u32::MAX));
                                next.push(State { done, cost, rest, last, from });
                            }
                        }
                    }
                }
                if next.len() > room.saturating_mul(2) {
                    cut = cut.min(narrow(&mut next, room));
                    known = next.iter().zip(0..).map(|(s, n)| ((s.done, s.last), n)).collect();
                }
            }
            drop(known);
            if next.len() > room {
                cut = cut.min(narrow(&mut next, room));
            }
            self.states += next.len();
            closed.push(layer.iter().map(|s| Closed { last: s.last, from: s.from }).collect());
            layer = next;
            if layer.is_empty() {
                return cut;
            }
        }
        let total = |s: &State<W>| s.cost + self.over.at(usize::from(s.last), count);
        let ends = layer.iter().filter(|s| self.costs.at(usize::from(s.last), count) < FAR);
        if let Some(end) = ends.min_by_key(|s| (total(s), s.last)).filter(|s| total(s) < self.cost) {
            let mut order = vec![usize::from(end.last)];
            let mut from = end.from;
            for layer in closed.iter().skip(1).rev() {
                let Some(state) = layer.get(from as usize) else { break };
                order.push(usize::from(state.last));
                from = state.from;
            }
            order.reverse();
            local::improve(&mut order, self.costs, self.before);
            self.cost = self.costs.sum(&order);
            self.best = order;
        }
        cut
    }

    /// What the things not yet done cost over the prices at least.
    fn rest<const W: usize>(&self, done: &Set<W>, last: usize, needs: &[Set<W>]) -> i64 {
        let end = self.costs.size - 1;
        let left = |n: usize| n == last || (n != end && !done.has(n));
        let is_last = (0..end).all(|n| done.has(n));
        let mut sum = 0;
        let mut least = vec![0i64; self.costs.size];
        let mut most = 0;
        for to in (0..=end).filter(|to| *to == end || !done.has(*to)) {
            // What isn't free yet can't follow straight on.
            let free = if to == end { is_last } else { needs.get(to).is_some_and(|n| n.within(done)) };
            let mut rows = self.into.get(to).into_iter().flatten();
            let cheapest = rows.find(|(_, from)| left(*from) && (*from != last || free)).map_or(FAR, |(cost, _)| *cost);
            if cheapest >= FAR {
                return FAR;
            }
            if let Some(slot) = least.get_mut(to) {
                *slot = cheapest;
            }
            most = most.max(cheapest);
            sum += cheapest;
        }
        for from in (0..end).filter(|n| left(*n)) {
            let mut cheapest = FAR;
            for (cost, to) in self.on.get(from).into_iter().flatten() {
                // The columns' own part is at most so much, so nothing further on is cheaper.
                if cost - most >= cheapest {
                    break;
                }
                let may = if *to == end { from != last || is_last } else { !done.has(*to) };
                let free = from != last || *to == end || needs.get(*to).is_some_and(|n| n.within(done));
                if may && free {
                    cheapest = cheapest.min(cost - least.get(*to).copied().unwrap_or(0));
                }
            }
            if cheapest >= FAR {
                return FAR;
            }
            sum += cheapest;
        }
        sum
    }
}

/// Keeps the states with the least bounds; the least of those that go. Of equal ones the order of the sets decides.
fn narrow<const W: usize>(states: &mut Vec<State<W>>, width: usize) -> i64 {
    let key = |s: &State<W>| (s.cost + s.rest, s.cost, s.last, s.done);
    if width >= states.len() {
        return i64::MAX;
    }
    states.select_nth_unstable_by_key(width, key);
    let cut = states.iter().skip(width).map(|s| s.cost + s.rest).min().unwrap_or(i64::MAX);
    states.truncate(width);
    states.sort_unstable_by_key(key);
    cut
}
