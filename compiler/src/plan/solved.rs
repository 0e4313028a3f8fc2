//! Orders that were found before: of many dogs with one recipe most ask the same question.
//!
//! An answer hangs on its question alone, so nobody can tell whether it was found anew.

use super::sequence::{Budget, Order, Problem, solve};
use rustc_hash::FxHashMap;
use std::sync::{Arc, Mutex, PoisonError};

/// How much is looked at for one visit: far more than any trim of the demo needs, and well under a second.
pub(super) const BUDGET: Budget = Budget { states: 200_000, kicks: 100 };

/// So many questions are known at once: a few megabytes, whatever comes.
const MOST: usize = 512;

type Known = FxHashMap<Arc<Problem>, Option<Arc<Order>>>;

static KNOWN: Mutex<Option<Known>> = Mutex::new(None);

/// The best order that the one budget of all visits finds; none if there is none.
pub(super) fn solved(problem: &Problem) -> Option<Arc<Order>> {
    let lock = || KNOWN.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(found) = lock().as_ref().and_then(|known| known.get(problem)) {
        return found.clone();
    }
    let found = solve(problem, BUDGET).ok().map(Arc::new);
    let mut known = lock();
    let known = known.get_or_insert_with(Known::default);
    if known.len() >= MOST {
        known.clear();
    }
    known.insert(Arc::new(problem.clone()), found.clone());
    found
}
