//! Competition: which of the finishes that apply at a site wins there.
//!
//! A beats B if A's zones lie within B's and its kind is no weaker, one of the two strictly; else if their zones and kinds
//! are equal and A's condition implies B's; else if A's text is nearer (recipe over base over house). The order of
//! statements never matters.

use super::{Choice, Kind, Level};
use crate::names::trade::Verb;

/// Two finishes that neither wins.
#[derive(Clone, Debug, PartialEq)]
pub struct Clash<'c> {
    /// One.
    pub a: &'c Choice,
    /// The other.
    pub b: &'c Choice,
}

/// Whether `a` wins over `b` wherever both apply.
#[must_use]
pub fn beats(a: &Choice, b: &Choice) -> bool {
    // What the owner wants on the card counts over what a condition picks, never over an answer to a finding.
    if (a.level == Level::Wish) != (b.level == Level::Wish) && a.sites.meets(b.sites) {
        let (wish, other) = if a.level == Level::Wish { (a, b) } else { (b, a) };
        if other.kind != Kind::Guard {
            return wish.level == a.level;
        }
    }
    if a.throughout && !b.throughout && a.level > b.level && a.kind >= b.kind && b.sites.meets(a.sites) {
        return true;
    }
    if b.throughout && !a.throughout && b.level > a.level && b.kind >= a.kind {
        return false;
    }
    // Leaving a place for a finding is as gentle as can be: it wins over whatever else is said there.
    let leaves = |c: &Choice| c.kind == Kind::Guard && c.ask.verb == Verb::Leave;
    if leaves(a) && b.kind != Kind::Guard {
        return true;
    }
    if leaves(b) && a.kind != Kind::Guard {
        return false;
    }
    let (inside, same) = (a.sites.within(b.sites), a.sites == b.sites);
    if inside && a.kind >= b.kind && (!same || a.kind > b.kind) {
        return true;
    }
    if !same || a.kind != b.kind {
        return false;
    }
    match (a.cond.implies(&b.cond), b.cond.implies(&a.cond)) {
        (true, false) => true,
        (true, true) | (false, false) => a.level > b.level,
        (false, true) => false,
    }
}

/// The finish that wins among those that apply, or the first two that neither wins.
///
/// # Errors
/// Two finishes, neither of which beats the other, that ask for different things. Answers never clash: of two that
/// meet, `gentler` says whether the first is the gentler one.
pub fn winner<'c>(
    active: &[&'c Choice],
    gentler: impl Fn(&Choice, &Choice) -> bool,
) -> Result<Option<&'c Choice>, Clash<'c>> {
    // An answer gives way to a finer one to the same finding only: of answers to two findings the gentler counts, so that
    // no finding more brings an edge closer.
    let rivals = |a: &Choice, b: &Choice| a.kind != Kind::Guard || b.kind != Kind::Guard || a.finding == b.finding;
    let beaten = |a: &Choice| active.iter().any(|b| rivals(a, b) && beats(b, a));
    let mut top: Vec<&'c Choice> = active.iter().copied().filter(|a| !beaten(a)).collect();
    if top.is_empty() {
        // `throughout` and inclusion can chase each other; then nobody is unbeaten and the two first show it.
        if let [a, b, ..] = active {
            return Err(Clash { a, b });
        }
        return Ok(active.first().copied());
    }
    // Of the answers the gentlest stands for all; it is named where another line asks for the same work.
    let answer = top
        .iter()
        .copied()
        .filter(|c| c.kind == Kind::Guard)
        .reduce(|best, other| if gentler(other, best) { other } else { best });
    top.retain(|c| c.kind != Kind::Guard);
    top.splice(0..0, answer);
    let differ = |a: &Choice, b: &Choice| a.ask != b.ask && !same_work(a, b);
    let clash =
        top.iter().enumerate().find_map(|(n, a)| top.iter().skip(n + 1).find(|b| differ(a, b)).map(|b| Clash { a, b }));
    clash.map_or_else(|| Ok(top.first().copied()), Err)
}

/// Whether two statements ask for the same work in other places of the text.
fn same_work(a: &Choice, b: &Choice) -> bool {
    let (x, y) = (&a.ask, &b.ask);
    (x.verb, x.to, x.tool, x.direction, x.passes, &x.manners)
        == (y.verb, y.to, y.tool, y.direction, y.passes, &y.manners)
}
