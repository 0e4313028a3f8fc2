//! A good order soon: greedy, then by exchanging neighbouring stretches as long as that is cheaper.

use super::before::Before;
use super::{Costs, FAR};

/// Always the cheapest change to what may come next; of equal ones the smallest number.
pub(super) fn greedy(costs: &Costs, before: &Before) -> Vec<usize> {
    let count = costs.size - 1;
    let mut waits: Vec<usize> = (0..count).map(|n| before.earlier(n).len()).collect();
    let mut rest: Vec<usize> = (0..count).collect();
    let (mut order, mut from) = (Vec::with_capacity(count), count);
    while !rest.is_empty() {
        let free = |n: &usize| waits.get(*n).is_none_or(|w| *w == 0);
        // A block that was begun is done before anything else.
        let begun = rest.iter().any(|n| before.block(*n) == before.block(from));
        let mate = |n: &usize| !begun || before.block(*n) == before.block(from);
        let next = rest.iter().copied().filter(|n| free(n) && mate(n)).min_by_key(|n| (costs.at(from, *n), *n));
        // What comes before what has no circle, so something is free.
        let Some(next) = next else { break };
        rest.retain(|n| *n != next);
        for later in before.later(next) {
            if let Some(w) = waits.get_mut(*later) {
                *w = w.saturating_sub(1);
            }
        }
        order.push(next);
        from = next;
    }
    order
}

/// Exchanges two neighbouring stretches wherever the order gets cheaper, until none does. Neither is turned round, so what
/// comes before what holds if nothing of the first must precede something of the second.
pub(super) fn improve(order: &mut [usize], costs: &Costs, before: &Before) {
    let count = order.len();
    let end = costs.size - 1;
    loop {
        let mut found = false;
        for start in 0..count {
            'exchange: loop {
                let at = |n: usize| order.get(n).copied().unwrap_or(end);
                let head = if start == 0 { end } else { at(start - 1) };
                // What something of the first stretch must precede; the stretch only grows.
                let mut barred = vec![false; count];
                for middle in start + 1..count {
                    for later in before.later(at(middle - 1)) {
                        if let Some(slot) = barred.get_mut(*later) {
                            *slot = true;
                        }
                    }
                    let cut = costs.at(head, at(start)) + costs.at(at(middle - 1), at(middle));
                    let joined = costs.at(head, at(middle));
                    for stop in middle + 1..=count {
                        let moved = at(stop - 1);
                        if barred.get(moved).copied().unwrap_or(true) {
                            break;
                        }
                        let old = cut + costs.at(moved, at(stop));
                        let new = joined + costs.at(moved, at(start)) + costs.at(at(middle - 1), at(stop));
                        if new < old
                            && stays_together(before, [head, at(start), at(middle - 1), at(middle), moved, at(stop)])
                        {
                            if let Some(stretch) = order.get_mut(start..stop) {
                                stretch.rotate_left(middle - start);
                            }
                            found = true;
                            continue 'exchange;
                        }
                    }
                }
                break;
            }
        }
        if !found {
            return;
        }
    }
}

/// Whether blocks stay whole if two neighbouring stretches, given by what is before them, their ends and what is after them,
/// change places: then as many blocks end at the seams as before.
fn stays_together(before: &Before, [head, a, b, c, d, tail]: [usize; 6]) -> bool {
    let parts = |pairs: [(usize, usize); 3]| pairs.iter().filter(|(x, y)| before.block(*x) != before.block(*y)).count();
    parts([(head, c), (d, a), (b, tail)]) == parts([(head, a), (b, c), (d, tail)])
}

/// Shakes the best order and mends it, so often; what comes out is never dearer.
pub(super) fn shake(best: &mut Vec<usize>, costs: &Costs, before: &Before, kicks: u32) {
    let count = best.len();
    if count < 4 {
        return;
    }
    let mut dice = Dice(0);
    let (mut now, mut now_cost) = (best.clone(), costs.sum(best));
    let mut best_cost = now_cost;
    for _ in 0..kicks {
        let mut next = now.clone();
        for _ in 0..3 {
            exchange_somewhere(&mut next, before, &mut dice);
        }
        improve(&mut next, costs, before);
        let cost = costs.sum(&next);
        // A little dearer is taken now and then, to get out of a hollow.
        let slack = if dice.below(8) == 0 { best_cost.min(FAR) / 100 } else { 0 };
        if cost <= now_cost.max(best_cost + slack) {
            (now, now_cost) = (next, cost);
        }
        if now_cost < best_cost {
            best.clone_from(&now);
            best_cost = now_cost;
        }
    }
}

/// Exchanges two short neighbouring stretches that may be exchanged.
fn exchange_somewhere(order: &mut [usize], before: &Before, dice: &mut Dice) {
    let count = order.len();
    for _ in 0..64 {
        let start = dice.below(count - 1);
        let middle = start + 1 + dice.below((count - start - 1).min(8));
        let stop = (middle + 1 + dice.below(8)).min(count);
        let at = |n: Option<usize>| n.and_then(|n| order.get(n)).copied().unwrap_or(count);
        let (head, tail) = (at(start.checked_sub(1)), at(Some(stop)));
        let Some(stretch) = order.get_mut(start..stop) else { continue };
        let (left, right) = stretch.split_at(middle - start);
        let ends = [left.first(), left.last(), right.first(), right.last()].map(|n| n.copied().unwrap_or(count));
        let [a, b, c, d] = ends;
        if left.iter().all(|a| right.iter().all(|b| !before.is(*a, *b)))
            && stays_together(before, [head, a, b, c, d, tail])
        {
            stretch.rotate_left(middle - start);
            return;
        }
    }
}

/// Numbers that look like chance and are the same each time. Source: SplitMix64, Steele, Lea and Flood, OOPSLA 2014.
struct Dice(u64);

impl Dice {
    fn below(&mut self, limit: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^= z >> 31;
        let limit = u64::try_from(limit.max(1)).unwrap_or(1);
        usize::try_from(z % limit).unwrap_or(0)
    }
}
