//! What comes before what, with everything that follows from it.

use super::Trouble;
use std::collections::VecDeque;

/// What comes before what, closed: if a before b and b before c, then a before c.
#[derive(Clone, Debug)]
pub(super) struct Before {
    count: usize,
    block: Vec<usize>,
    /// For each thing, what comes somewhere before it, in rising order.
    earlier: Vec<Vec<usize>>,
    /// And after it.
    later: Vec<Vec<usize>>,
    /// Row by row: whether one comes somewhere before the other.
    is: Vec<bool>,
    /// Likewise, and something must come between.
    between: Vec<bool>,
}

impl Before {
    pub(super) fn of(block: Vec<usize>, pairs: &[(usize, usize)]) -> Result<Self, Trouble> {
        let count = block.len();
        let mut next: Vec<Vec<usize>> = vec![Vec::new(); count];
        let of_block = |name: Option<&usize>| -> Vec<usize> {
            block.iter().enumerate().filter(|(_, b)| Some(*b) == name).map(|(n, _)| n).collect()
        };
        for (a, b) in pairs {
            let (one, other) = (block.get(*a), block.get(*b));
            let (firsts, thens) = if one == other { (vec![*a], vec![*b]) } else { (of_block(one), of_block(other)) };
            for a in firsts {
                let Some(list) = next.get_mut(a) else { continue };
                for b in &thens {
                    if !list.contains(b) {
                        list.push(*b);
                    }
                }
            }
        }
        if let Some(circle) = circle(&next) {
            return Err(Trouble::Circle(circle));
        }
        let mut is = vec![false; count * count];
        let mut mark =
            |a: usize, b: usize| is.get_mut(a * count + b).is_some_and(|slot| !std::mem::replace(slot, true));
        for from in 0..count {
            let mut open: Vec<usize> = next.get(from).cloned().unwrap_or_default();
            while let Some(at) = open.pop() {
                if mark(from, at) {
                    open.extend(next.get(at).into_iter().flatten());
                }
            }
        }
        let known = |a: usize, b: usize| is.get(a * count + b).copied().unwrap_or(false);
        let of = |f: &dyn Fn(usize, usize) -> bool| -> Vec<Vec<usize>> {
            (0..count).map(|a| (0..count).filter(|b| f(a, *b)).collect()).collect()
        };
        let (earlier, later) = (of(&|a, b| known(b, a)), of(&known));
        let mut between = vec![false; count * count];
        for (a, list) in later.iter().enumerate() {
            for b in list {
                for c in later.get(*b).into_iter().flatten() {
                    if let Some(slot) = between.get_mut(a * count + c) {
                        *slot = true;
                    }
                }
            }
        }
        Ok(Self { count, block, earlier, later, is, between })
    }

    /// Everything that comes somewhere before it.
    pub(super) fn earlier(&self, thing: usize) -> &[usize] {
        self.earlier.get(thing).map_or(&[], Vec::as_slice)
    }

    /// Everything that comes somewhere after it.
    pub(super) fn later(&self, thing: usize) -> &[usize] {
        self.later.get(thing).map_or(&[], Vec::as_slice)
    }

    /// Whether one comes somewhere before the other.
    pub(super) fn is(&self, thing: usize, other: usize) -> bool {
        self.is.get(thing * self.count + other).copied().unwrap_or(false)
    }

    /// The block of a thing; none at the beginning and the end.
    pub(super) fn block(&self, thing: usize) -> Option<usize> {
        self.block.get(thing).copied()
    }

    /// Everything that is done without anything else between.
    pub(super) fn mates(&self, thing: usize) -> impl Iterator<Item = usize> {
        let name = self.block(thing);
        self.block.iter().enumerate().filter(move |(_, b)| Some(**b) == name).map(|(n, _)| n)
    }

    /// Whether a block may be left from one thing to another: nothing of it comes after the one, or before the other in its.
    pub(super) fn may_leave(&self, thing: usize, other: usize) -> bool {
        self.block(thing) == self.block(other)
            || !(self.mates(thing).any(|m| self.is(thing, m)) || self.mates(other).any(|m| self.is(m, other)))
    }

    /// Whether some order has the one straight before the other.
    pub(super) fn may_follow(&self, thing: usize, other: usize) -> bool {
        !self.is(other, thing) && !self.between.get(thing * self.count + other).copied().unwrap_or(false)
    }
}

/// The shortest circle among so many things of which some come before others: each before the next, and the last before the
/// first. Of equal ones that through the smallest number.
#[must_use]
pub fn shortest_circle(count: usize, pairs: &[(usize, usize)]) -> Option<Vec<usize>> {
    let mut next: Vec<Vec<usize>> = vec![Vec::new(); count];
    for (a, b) in pairs.iter().filter(|(_, b)| *b < count) {
        if let Some(list) = next.get_mut(*a) {
            list.push(*b);
        }
    }
    circle(&next)
}

fn circle(next: &[Vec<usize>]) -> Option<Vec<usize>> {
    let mut best: Option<Vec<usize>> = None;
    for start in 0..next.len() {
        let mut from: Vec<Option<usize>> = vec![None; next.len()];
        let mut open = VecDeque::from([start]);
        'search: while let Some(at) = open.pop_front() {
            for to in next.get(at).into_iter().flatten() {
                if *to == start {
                    let mut circle = vec![at];
                    while let Some(earlier) = circle.last().and_then(|n| from.get(*n).copied().flatten()) {
                        circle.push(earlier);
                    }
                    circle.reverse();
                    if best.as_ref().is_none_or(|b| circle.len() < b.len()) {
                        best = Some(circle);
                    }
                    break 'search;
                }
                if let Some(slot) = from.get_mut(*to).filter(|s| s.is_none()) {
                    *slot = Some(at);
                    open.push_back(*to);
                }
            }
        }
    }
    best
}
