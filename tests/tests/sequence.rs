//! The cheapest order against every order there is: what is called proved is the least, what isn't has a true bound.
#![allow(clippy::unwrap_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

use coatwright::plan::sequence::{Budget, MOST, NEVER, Problem, Trouble, solve};
use proptest::prelude::*;

const PLENTY: Budget = Budget { states: 1_000_000, kicks: 50 };

/// A question in plain data, so that the oracle reads none of the code under test.
#[derive(Clone, Debug)]
struct Asked {
    count: usize,
    /// Row by row with the beginning as the last row and the end as the last column; none can't be made.
    change: Vec<Option<u32>>,
    before: Vec<(usize, usize)>,
    /// Of each thing its block.
    block: Vec<usize>,
}

impl Asked {
    fn problem(&self) -> Problem {
        let mut problem = Problem::new(self.count);
        let cost = |a: usize, b: usize| self.change[a * (self.count + 1) + b].unwrap_or(NEVER);
        for a in 0..self.count {
            problem.first(a, cost(self.count, a));
            problem.last(a, cost(a, self.count));
            (0..self.count).for_each(|b| problem.change(a, b, cost(a, b)));
        }
        self.before.iter().for_each(|(a, b)| problem.before(*a, *b));
        for block in 0..self.count.max(4) {
            let things: Vec<usize> = (0..self.count).filter(|n| self.block[*n] == block).collect();
            problem.together(&things);
        }
        problem
    }

    /// The least over all orders, one thing after the other.
    fn brute(&self) -> Option<u64> {
        let mut done = vec![false; self.count];
        if self.count == 0 {
            return Some(0);
        }
        self.rest(self.count, &mut done)
    }

    fn rest(&self, from: usize, done: &mut [bool]) -> Option<u64> {
        let cost = |b: usize| self.change[from * (self.count + 1) + b].map(u64::from);
        if done.iter().all(|d| *d) {
            return cost(self.count);
        }
        let mut best: Option<u64> = None;
        for next in 0..self.count {
            if done[next] || self.before.iter().any(|(a, b)| *b == next && !done[*a]) {
                continue;
            }
            let begun = from < self.count && (0..self.count).any(|n| !done[n] && self.block[n] == self.block[from]);
            if begun && self.block[next] != self.block[from] {
                continue;
            }
            let Some(step) = cost(next) else { continue };
            done[next] = true;
            if let Some(rest) = self.rest(next, done) {
                best = Some(best.map_or(step + rest, |b| b.min(step + rest)));
            }
            done[next] = false;
        }
        best
    }
}

/// Questions of up to seven things; what comes before what follows a hidden order, so that there is one.
fn asked() -> impl Strategy<Value = Asked> {
    let hidden = |count: usize| Just((0..count).collect::<Vec<_>>()).prop_shuffle();
    (0usize..8).prop_flat_map(move |count| {
        let change = prop_oneof![1 => Just(None), 12 => (0u32..30).prop_map(Some)];
        let pairs = prop::collection::vec((0usize..8, 0usize..8), 0..10);
        let blocks = prop_oneof![Just((0..count).collect::<Vec<usize>>()), prop::collection::vec(0usize..4, count),];
        (prop::collection::vec(change, (count + 1) * (count + 1)), pairs, hidden(count), blocks).prop_map(
            move |(change, pairs, hidden, block)| {
                let pairs = pairs.into_iter().filter(|(a, b)| a < b && *b < count);
                Asked { count, change, before: pairs.map(|(a, b)| (hidden[a], hidden[b])).collect(), block }
            },
        )
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2000, ..ProptestConfig::default() })]

    /// With plenty of states the order is proved, and no order is cheaper; where there is none, that is said.
    #[test]
    fn no_order_is_cheaper(asked in asked()) {
        let problem = asked.problem();
        match (solve(&problem, PLENTY), asked.brute()) {
            (Ok(found), Some(least)) => {
                prop_assert!(found.is_proved());
                prop_assert_eq!(found.cost, least);
                prop_assert_eq!(problem.cost_of(&found.order), Some(least));
            }
            (Err(Trouble::Stuck), None) => {}
            // What belongs together may ask for a circle.
            (Err(Trouble::Circle(_)), None) => prop_assert!(asked.block.iter().enumerate().any(|(n, b)| n != *b)),
            (found, least) => prop_assert!(false, "{found:?} against {least:?}"),
        }
    }

    /// With next to no states nothing false is called proved, and the bound is below every order.
    #[test]
    fn a_small_budget_tells_no_lie(asked in asked(), states in 0usize..12) {
        if let Ok(found) = solve(&asked.problem(), Budget { states, kicks: 0 }) {
            let least = asked.brute();
            prop_assert!(least.is_some_and(|least| found.bound <= least && least <= found.cost));
            prop_assert_eq!(asked.problem().cost_of(&found.order), Some(found.cost));
        }
    }

    /// The same question has the same answer.
    #[test]
    fn the_same_question_has_the_same_answer(asked in asked(), states in 0usize..200) {
        let budget = Budget { states, kicks: 20 };
        prop_assert_eq!(solve(&asked.problem(), budget), solve(&asked.problem(), budget));
    }

    /// What goes round is told as the shortest way round: each before the next, and none shorter.
    #[test]
    fn a_circle_is_the_shortest(pairs in prop::collection::vec((0usize..7, 0usize..7), 1..14)) {
        let mut problem = Problem::new(7);
        pairs.iter().for_each(|(a, b)| problem.before(*a, *b));
        // Powers of the pairs: the first that leads from something to itself.
        let step = |reach: &[[bool; 7]; 7]| {
            let mut next = [[false; 7]; 7];
            for (a, b) in &pairs {
                (0..7).for_each(|from| next[from][*b] |= reach[from][*a]);
            }
            next
        };
        let mut reach = [[false; 7]; 7];
        (0..7).for_each(|n| reach[n][n] = true);
        let shortest = (1..=7).find(|_| {
            reach = step(&reach);
            (0..7).any(|n| reach[n][n])
        });
        match (solve(&problem, PLENTY), shortest) {
            (Err(Trouble::Circle(circle)), Some(long)) => {
                prop_assert_eq!(circle.len(), long);
                for (n, a) in circle.iter().enumerate() {
                    prop_assert!(pairs.contains(&(*a, circle[(n + 1) % circle.len()])));
                }
            }
            (Ok(_), None) => {}
            (found, shortest) => prop_assert!(false, "{found:?} against {shortest:?}"),
        }
    }
}

/// ESC07 of TSPLIB95, the smallest instance published; its best value is 2125 (two public lists agree).
#[test]
fn the_smallest_published_instance() {
    const ROWS: [[i64; 9]; 9] = [
        [0, 0, 0, 0, 0, 0, 0, 0, 1_000_000],
        [-1, 0, 100, 200, 75, 0, 300, 100, 0],
        [-1, 400, 0, 500, 325, 400, 600, 0, 0],
        [-1, 700, 800, 0, 550, 700, 900, 800, 0],
        [-1, -1, 250, 225, 0, 275, 525, 250, 0],
        [-1, -1, 100, 200, -1, 0, -1, -1, 0],
        [-1, -1, 1100, 1200, 1075, 1000, 0, 1100, 0],
        [-1, -1, 0, 500, 325, 400, 600, 0, 0],
        [-1, -1, -1, -1, -1, -1, -1, -1, 0],
    ];
    let mut problem = Problem::new(7);
    for a in 0..7 {
        let cost = |n: i64| u32::try_from(n).unwrap_or(NEVER);
        problem.first(a, cost(ROWS[0][a + 1]));
        problem.last(a, cost(ROWS[a + 1][8]));
        for b in (0..7).filter(|b| *b != a) {
            if ROWS[a + 1][b + 1] < 0 {
                problem.before(b, a);
            } else {
                problem.change(a, b, cost(ROWS[a + 1][b + 1]));
            }
        }
    }
    let found = solve(&problem, PLENTY).unwrap();
    assert_eq!((found.cost, found.is_proved()), (2125, true));
}

/// Large questions are answered within their budget, also where nothing comes before anything and all changes cost alike.
#[test]
fn the_largest_questions_end() {
    let mut problem = Problem::new(130);
    for a in 0..130usize {
        (0..130).for_each(|b| problem.change(a, b, u32::try_from((a * 7 + b * 13) % 11).unwrap()));
    }
    let found = solve(&problem, Budget { states: 2000, kicks: 2 }).unwrap();
    assert_eq!(problem.cost_of(&found.order), Some(found.cost));
    assert!(found.bound <= found.cost);
    assert_eq!(solve(&Problem::new(MOST + 1), PLENTY), Err(Trouble::TooMany));
}
