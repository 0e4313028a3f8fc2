//! What must come before what for the dog's sake, read from the steps of the trade anew: looked over and agreed before anything;
//! mats off dry; no tool on a wet coat; dried before it is worked, and combed through before it is finished.

use grammar::tree::{Block, BlockKind};
use smol_str::SmolStr;

use super::trade::word;
use super::{Breach, Case, Done};

/// The stages of a visit, in order.
const STAGES: [&str; 8] = ["intake", "dry-prep", "rough", "wash", "dry", "check", "finish", "last-look"];

/// A step of the trade, as far as its place in a visit goes.
struct Known<'t> {
    stage: usize,
    dry_only: bool,
    file: u32,
    at: u32,
    block: &'t Block,
}

/// A step of the sheet: its name among the steps of the trade, and its number.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StepDone {
    /// By its own name.
    pub name: SmolStr,
    /// Its number in working order.
    pub order: u32,
}

fn known<'t>(case: &Case<'t>, name: &str) -> Option<Known<'t>> {
    let blocks = case.trade.iter().flat_map(|text| text.blocks.iter().map(move |(at, block)| (text.file, *at, *block)));
    let is = |block: &Block| block.kind == BlockKind::Step && block.name.as_ref().is_some_and(|n| n.text == name);
    let (file, at, block) = blocks.into_iter().find(|(_, _, block)| is(block))?;
    let stage = word(&block.body, "stage")?;
    let stage = STAGES.iter().position(|s| *s == stage)?;
    let dry_only = word(&block.body, "wet").is_some_and(|w| w == "no");
    Some(Known { stage, dry_only, file, at, block })
}

/// Every place where the order of the steps would hurt the dog. `bathed` says that the bath is done before them: then the coat is
/// wet until it is dried, and what wants it dry comes after that, though its stage is before the bath.
#[must_use]
pub fn order(case: &Case<'_>, steps: &[StepDone], plan: &[Done], bathed: bool) -> Vec<Breach> {
    let mut out = Vec::new();
    let named: Vec<(&StepDone, Known<'_>)> =
        steps.iter().filter_map(|step| Some((step, known(case, &step.name)?))).collect();
    let mut breach = |step: &Known<'_>, words: String| {
        let span = step.block.span.shifted(step.at);
        out.push(Breach { done: 0, file: step.file, start: span.start, end: span.end, words });
    };
    let said = |name: &SmolStr| name.replace('-', " ");
    let number = |stage: &str| STAGES.iter().position(|s| *s == stage);
    let drying = number("dry");
    for (a, first) in &named {
        for (b, then) in &named {
            let late = bathed && then.dry_only && Some(first.stage) == drying;
            if a.order < b.order && first.stage > then.stage && !late {
                breach(then, format!("`{}` comes after `{}`, and belongs before it", said(&b.name), said(&a.name)));
            }
        }
    }
    let at = |stage: &str| {
        let number = number(stage);
        named.iter().filter(move |(_, k)| Some(k.stage) == number)
    };
    let wash = at("wash").map(|(s, _)| i64::from(s.order)).min();
    let Some(wash) = wash.or(bathed.then_some(-1)) else { return out };
    // Who asks for no drying has a coat that dries by itself, or does it elsewhere.
    let Some(dry) = at("dry").map(|(s, _)| s.order).max() else { return out };
    let wet = |order: u32| i64::from(order) > wash && order < dry;
    for (step, known) in named.iter().filter(|(s, k)| k.dry_only && wet(s.order)) {
        breach(known, format!("`{}` needs a dry coat, and stands between the bath and the drying", said(&step.name)));
    }
    let bath = at("wash").next().or_else(|| at("dry").next());
    if let (Some(line), Some((_, bath))) = (plan.iter().find(|d| d.tool.is_some() && wet(d.order)), bath) {
        let words = format!("a tool goes over the {} while the coat is wet", line.zone.replace('-', " "));
        breach(bath, words);
    }
    out
}
