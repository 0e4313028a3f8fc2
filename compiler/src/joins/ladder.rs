//! The rungs of a blend: the lengths between its two sides, each made by a comb or a blade, none further from the next than the
//! way of blending closes.
//!
//! Fewest by farthest reach: from the shorter side always the longest rung that one can still close. No other choice gets
//! further with as many rungs, so that none gets there with fewer (a property test tries all subsets). Units: nanometres.

use crate::choices::Choices;
use crate::finish::{ActiveKeep, Stroke, active_keeps, bears, coat_factor};
use crate::measure::{Interval, Length};
use crate::names::card::Dog;
use crate::names::sites::Site;
use crate::names::trade::{Direction, Tool, ToolId, ToolKind, Trade, Verb};

/// A rung: what is taken in hand, and what it leaves there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rung {
    /// The comb or blade.
    pub tool: ToolId,
    /// The blade under a comb.
    pub over: Option<ToolId>,
    /// What it leaves on this coat with the coat.
    pub leaves: Interval<Length>,
}

/// The fewest of `rungs`, by their places among them, that lead from one length up to another so that no step is over `closes`;
/// none if they don't lead there.
#[must_use]
pub fn fewest(from: Length, to: Length, rungs: &[Length], closes: Length) -> Option<Vec<usize>> {
    let mut taken = Vec::new();
    let mut at = from;
    while to.0 - at.0 > closes.0 {
        let reached = rungs.iter().enumerate().filter(|(_, r)| **r > at && r.0 - at.0 <= closes.0);
        // Of equals the first.
        let (number, next) = reached.min_by_key(|(number, r)| (std::cmp::Reverse(**r), *number))?;
        taken.push(number);
        at = *next;
    }
    Some(taken)
}

/// Every rung that the kit has at a site of this dog: the combs and blades that taper, in their usual direction, that every
/// keep there allows and whose teeth its skin bears. The shortest first.
#[must_use]
pub fn rungs(choices: &Choices, trade: &Trade, dog: &Dog, site: Site) -> Vec<Rung> {
    let keeps = active_keeps(choices, trade, dog, site);
    let tools = choices.kit.iter().filter_map(|id| Some((*id, trade.tool(*id)?)));
    let mut rungs: Vec<Rung> =
        tools.filter_map(|(id, tool)| rung(id, tool, &keeps, choices, trade, dog, site)).collect();
    rungs.sort_by_key(|r| (r.leaves.middle(), r.tool));
    rungs
}

fn rung(
    id: ToolId,
    tool: &Tool,
    keeps: &[ActiveKeep<'_>],
    choices: &Choices,
    trade: &Trade,
    dog: &Dog,
    site: Site,
) -> Option<Rung> {
    if !matches!(tool.kind, ToolKind::Blade | ToolKind::Comb) || !tool.does_work(Verb::Taper) {
        return None;
    }
    // A comb sits on a blade.
    let over = match tool.kind {
        ToolKind::Comb => Some(choices.beneath(tool, |_| true)?),
        _ => None,
    };
    let coat = dog.coat_at(site).and_then(|c| trade.coat(c));
    let leaves = tool.leaves?.times(coat_factor(coat, tool.kind, Direction::With, false));
    let stroke = Stroke {
        verb: Verb::Taper,
        tool: Some(id),
        over,
        direction: Some(Direction::With),
        passes: 1,
        leaves: Some(leaves),
        closeness: tool.closeness,
        gap: tool.gap,
        manners: Vec::new(),
    };
    let kept = keeps.iter().all(|keep| keep.breach(&stroke, trade).is_none());
    (kept && tool.gap.is_some_and(|g| g <= bears(trade, site))).then_some(Rung { tool: id, over, leaves })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Common practice, no source: from 9 mm to 25 mm in steps of 6 mm one takes the combs of 13 and 19 mm.
    #[test]
    fn from_a_short_body_to_a_leg() {
        let combs = [6, 10, 13, 16, 19, 22, 25].map(Length::mm);
        assert_eq!(fewest(Length::mm(9), Length::mm(25), &combs, Length::mm(6)), Some(vec![2, 4]));
        assert_eq!(fewest(Length::mm(9), Length::mm(15), &combs, Length::mm(6)), Some(vec![]));
        assert_eq!(fewest(Length::mm(9), Length::mm(40), &combs, Length::mm(6)), None, "no comb leads so far");
        assert_eq!(fewest(Length::mm(20), Length::mm(9), &combs, Length::mm(6)), Some(vec![]));
    }
}
