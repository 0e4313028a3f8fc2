//! Dryers: wherever one runs, a hand goes into its air as often as the steps of the trade say, read from them anew.

use super::trade::{fields, word};
use super::{Breach, Case, StepDone, heat};
use grammar::tree::{Block, BlockKind};

/// A hand in the air of a dryer, as the sheet says it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct AirFelt {
    /// The number of the step in working order.
    pub order: u32,
    /// How often, in seconds; none is once.
    pub every: Option<i64>,
}

/// Every step in which a dryer runs and nobody feels its air often enough.
#[must_use]
pub fn air(case: &Case<'_>, steps: &[StepDone], felt: &[AirFelt]) -> Vec<Breach> {
    let all = || case.trade.iter().flat_map(|text| text.blocks.iter().map(move |(at, block)| (text.file, *at, *block)));
    let called = |kind: BlockKind, name: &str| {
        all().find(|(_, _, block)| block.kind == kind && block.name.as_ref().is_some_and(|n| n.text == name))
    };
    let Some((file, at, rule)) = called(BlockKind::Step, "feel-air") else { return Vec::new() };
    let most = heat::ends(&rule.body, "every").map_or(f64::INFINITY, |(_, high)| high);
    let runs = |step: &Block| {
        let dryer = word(&step.body, "uses").and_then(|name| called(BlockKind::Tool, &name));
        dryer.is_some_and(|(_, _, tool)| {
            word(&tool.body, "kind").is_some_and(|kind| kind == "dryer") && fields(&tool.body, "rate").next().is_some()
        })
    };
    let often = |order: u32| {
        felt.iter().any(|f| {
            f.order == order && f.every.is_some_and(|every| i32::try_from(every).is_ok_and(|s| f64::from(s) <= most))
        })
    };
    let due = |step: &&StepDone| {
        called(BlockKind::Step, &step.name).is_some_and(|(_, _, block)| runs(block)) && !often(step.order)
    };
    let span = rule.span.shifted(at);
    let breach = |step: &StepDone| Breach {
        done: 0,
        file,
        start: span.start,
        end: span.end,
        words: format!("nobody feels the air of `{}` often enough", step.name.replace('-', " ")),
    };
    steps.iter().filter(due).map(breach).collect()
}
