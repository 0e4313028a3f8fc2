//! The cheapest order of things that must be done one after the other, some before others, where the cost of each depends on
//! what came before it: the sequential ordering problem.
//!
//! Nothing here knows of dogs. An order is found first (greedy, then by exchanging neighbouring stretches), bounded from below
//! by an assignment, and then searched for by layers: of all beginnings that have done the same things and ended with the same
//! one only the cheapest counts, and a beginning whose best possible end costs no less than an order already known is given
//! up. While nothing else was given up the best order is proved. Effort is counted in beginnings looked at, never in time, so
//! that the same question has the same answer on every machine.
//!
//! Sources: the problem and its instances, TSPLIB95 (G. Reinelt); exchange of neighbouring stretches under precedence,
//! Gambardella and Dorigo, INFORMS Journal on Computing 12 (2000), 237–255; keeping the best of what did the same, Held and Karp,
//! SIAM Journal 10 (1962), 196–210. From memory: the last two.

mod assign;
mod before;
mod layers;
mod local;
mod set;

pub use before::shortest_circle;

use before::Before;

/// A change that can't be made, or mustn't.
pub const NEVER: u32 = u32::MAX;

/// What such a change counts where costs are summed: more than any order of changes that can be made.
const FAR: i64 = 1 << 50;

/// Most things that can be put in order.
pub const MOST: usize = 512;

/// What is asked: things by number, what each change costs, and what must come before what.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Problem {
    count: usize,
    /// Row by row; the last row is the beginning, the last column the end.
    change: Vec<u32>,
    /// What comes before what.
    before: Vec<(usize, usize)>,
    /// Of each thing the block that it belongs to.
    block: Vec<usize>,
}

/// How much may be looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Budget {
    /// Beginnings of an order, in all.
    pub states: usize,
    /// How often the best order known is shaken and mended, if it isn't proved soon.
    pub kicks: u32,
}

/// The best order found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Order {
    /// The things by number, the first first.
    pub order: Vec<usize>,
    /// What it costs.
    pub cost: u64,
    /// What every order costs at least. Equal to the cost where the order is proved.
    pub bound: u64,
    /// How many beginnings were looked at.
    pub states: usize,
}

impl Order {
    /// Whether no order costs less.
    #[must_use]
    pub const fn is_proved(&self) -> bool {
        self.cost == self.bound
    }
}

/// Why there is no order.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Trouble {
    /// These come each before the next, and the last before the first: the fewest that do. What belongs together counts as
    /// one: what comes before one of a block comes before all of it.
    #[error("what comes before what goes round in a circle")]
    Circle(Vec<usize>),
    /// Every order asks for a change that can't be made, or the budget ended before one without was found.
    #[error("no order can be made without a change that can't be made")]
    Stuck,
    /// More than [`MOST`].
    #[error("more things than can be put in order")]
    TooMany,
}

impl Problem {
    /// So many things; every change is free, and nothing comes before anything.
    #[must_use]
    pub fn new(count: usize) -> Self {
        Self { count, change: vec![0; (count + 1) * (count + 1)], before: Vec::new(), block: (0..count).collect() }
    }

    /// How many things there are.
    #[must_use]
    pub const fn count(&self) -> usize {
        self.count
    }

    /// What it costs to go from one thing straight to another.
    pub fn change(&mut self, from: usize, to: usize, cost: u32) {
        if from < self.count && to < self.count {
            self.set(from, to, cost);
        }
    }

    /// What it costs to begin with a thing.
    pub fn first(&mut self, thing: usize, cost: u32) {
        if thing < self.count {
            self.set(self.count, thing, cost);
        }
    }

    /// What it costs to end with a thing.
    pub fn last(&mut self, thing: usize, cost: u32) {
        if thing < self.count {
            self.set(thing, self.count, cost);
        }
    }

    /// One thing comes before another, straight before it or not.
    pub fn before(&mut self, thing: usize, other: usize) {
        if thing < self.count && other < self.count {
            self.before.push((thing, other));
        }
    }

    /// These are done without anything else between them. A thing is in one block: the last one named counts.
    pub fn together(&mut self, things: &[usize]) {
        let Some(name) = things.iter().copied().filter(|t| *t < self.count).min() else { return };
        for thing in things {
            if let Some(slot) = self.block.get_mut(*thing) {
                *slot = name;
            }
        }
    }

    /// What was said to come before what.
    #[must_use]
    pub fn pairs(&self) -> &[(usize, usize)] {
        &self.before
    }

    /// Of each thing the block that it belongs to.
    #[must_use]
    pub fn blocks(&self) -> &[usize] {
        &self.block
    }

    /// The cost of a change as it was told.
    #[must_use]
    pub fn cost(&self, from: Option<usize>, to: Option<usize>) -> u32 {
        self.get(from.unwrap_or(self.count), to.unwrap_or(self.count))
    }

    /// What an order costs; none if it leaves something out, breaks what comes before what, parts what belongs together, or
    /// asks for a change that can't be made.
    #[must_use]
    pub fn cost_of(&self, order: &[usize]) -> Option<u64> {
        let mut place = vec![usize::MAX; self.count];
        for (at, thing) in order.iter().enumerate() {
            let slot = place.get_mut(*thing)?;
            if *slot != usize::MAX {
                return None;
            }
            *slot = at;
        }
        if order.len() != self.count || self.before.iter().any(|(a, b)| place.get(*a) >= place.get(*b)) {
            return None;
        }
        let mut closed: Vec<usize> = Vec::new();
        for block in order.iter().filter_map(|n| self.block.get(*n)) {
            if closed.last() != Some(block) {
                if closed.contains(block) {
                    return None;
                }
                closed.push(*block);
            }
        }
        if self.count == 0 {
            return Some(0);
        }
        let (mut sum, mut from) = (0u64, self.count);
        for to in order.iter().copied().chain([self.count]) {
            let cost = self.get(from, to);
            if cost == NEVER {
                return None;
            }
            sum += u64::from(cost);
            from = to;
        }
        Some(sum)
    }

    fn set(&mut self, from: usize, to: usize, cost: u32) {
        if let Some(slot) = self.change.get_mut(from * (self.count + 1) + to) {
            *slot = cost;
        }
    }

    fn get(&self, from: usize, to: usize) -> u32 {
        self.change.get(from * (self.count + 1) + to).copied().unwrap_or(NEVER)
    }
}

/// Costs of changes; [`FAR`] where one can't follow the other in any order.
#[derive(Clone, Debug)]
struct Costs {
    /// With the beginning or the end.
    size: usize,
    all: Vec<i64>,
}

impl Costs {
    fn of(problem: &Problem, before: &Before) -> Self {
        let size = problem.count + 1;
        let mut all = Vec::with_capacity(size * size);
        for from in 0..size {
            for to in 0..size {
                let cost = problem.get(from, to);
                let can = match (from == problem.count, to == problem.count) {
                    (true, true) => problem.count == 0,
                    (true, false) => before.earlier(to).is_empty(),
                    (false, true) => before.later(from).is_empty(),
                    (false, false) => from != to && before.may_follow(from, to) && before.may_leave(from, to),
                };
                all.push(if can && cost != NEVER { i64::from(cost) } else { FAR });
            }
        }
        Self { size, all }
    }

    fn at(&self, from: usize, to: usize) -> i64 {
        self.all.get(from * self.size + to).copied().unwrap_or(FAR)
    }

    /// What an order costs, [`FAR`] and more if it can't be made.
    fn sum(&self, order: &[usize]) -> i64 {
        let end = self.size - 1;
        let (mut sum, mut from) = (0, end);
        for to in order.iter().copied().chain([end]) {
            sum += self.at(from, to);
            from = to;
        }
        sum
    }
}

/// The cheapest order, or the best that the budget finds with what every order costs at least.
///
/// # Errors
/// [`Trouble`] if there is no order.
pub fn solve(problem: &Problem, budget: Budget) -> Result<Order, Trouble> {
    if problem.count > MOST {
        return Err(Trouble::TooMany);
    }
    let before = Before::of(problem.block.clone(), &problem.before)?;
    let costs = Costs::of(problem, &before);
    let duals = assign::duals(&costs);
    let floor: i64 = duals.rows.iter().chain(&duals.columns).sum();
    if floor >= FAR {
        return Err(Trouble::Stuck);
    }
    let mut best = local::greedy(&costs, &before);
    local::improve(&mut best, &costs, &before);
    let mut search = layers::Search::new(&costs, &before, &duals, best, floor);
    for width in [64, 512] {
        search.go(width, budget.states);
    }
    if !search.is_done() {
        local::shake(&mut search.best, &costs, &before, budget.kicks);
        search.known();
        let mut width = 4096;
        while !search.is_done() && width < budget.states {
            search.go(width, budget.states);
            width = width.saturating_mul(8);
        }
        search.go(usize::MAX, budget.states);
    }
    let (order, cost, bound, states) = search.end();
    if cost >= FAR {
        return Err(Trouble::Stuck);
    }
    let number = |n: i64| u64::try_from(n).unwrap_or(0);
    Ok(Order { order, cost: number(cost), bound: number(bound), states })
}
