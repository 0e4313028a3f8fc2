//! The cheapest assignment of a follower to each thing: what every order costs at least.
//!
//! In an order each thing has one follower, and each is the follower of one; drop that they hang together, and the cheapest
//! such assignment is found by shortest augmenting paths (the Hungarian method). Its prices, one a row and one a column, stay
//! below every change together (`row + column ≤ cost`), so their sum is a bound, for the rest of an order as for all of it.

use super::Costs;

/// The prices of the cheapest assignment.
#[derive(Clone, Debug)]
pub(super) struct Duals {
    pub(super) rows: Vec<i64>,
    pub(super) columns: Vec<i64>,
}

/// Prices by shortest augmenting paths, a row at a time.
pub(super) fn duals(costs: &Costs) -> Duals {
    let n = costs.size;
    let mut rows = vec![0i64; n];
    let mut columns = vec![0i64; n];
    // The row that a column is given to; column `n` is where the path of a new row begins.
    let mut given: Vec<Option<usize>> = vec![None; n + 1];
    for row in 0..n {
        put(&mut given, n, Some(row));
        let mut least = vec![i64::MAX; n];
        let mut way = vec![n; n];
        let mut seen = vec![false; n + 1];
        let mut at = n;
        loop {
            put(&mut seen, at, true);
            let Some(from) = given.get(at).copied().flatten() else { break };
            let price = get(&rows, from);
            let (mut step, mut to) = (i64::MAX, n);
            for column in 0..n {
                if seen.get(column).copied().unwrap_or(true) {
                    continue;
                }
                let cost = costs.at(from, column) - price - get(&columns, column);
                if cost < get(&least, column) {
                    put(&mut least, column, cost);
                    put(&mut way, column, at);
                }
                if get(&least, column) < step {
                    (step, to) = (get(&least, column), column);
                }
            }
            if to == n {
                break;
            }
            for column in 0..=n {
                if seen.get(column).copied().unwrap_or(false) {
                    if let Some(row) = given.get(column).copied().flatten() {
                        let price = get(&rows, row);
                        put(&mut rows, row, price + step);
                    }
                    if column < n {
                        let price = get(&columns, column);
                        put(&mut columns, column, price - step);
                    }
                } else if column < n {
                    let left = get(&least, column);
                    put(&mut least, column, left - step);
                }
            }
            at = to;
        }
        // Along the path each column goes over to the row before it.
        while at != n {
            let earlier = way.get(at).copied().unwrap_or(n);
            let row = given.get(earlier).copied().flatten();
            put(&mut given, at, row);
            at = earlier;
        }
    }
    Duals { rows, columns }
}

fn get(list: &[i64], at: usize) -> i64 {
    list.get(at).copied().unwrap_or(0)
}

fn put<T>(list: &mut [T], at: usize, value: T) {
    if let Some(slot) = list.get_mut(at) {
        *slot = value;
    }
}
