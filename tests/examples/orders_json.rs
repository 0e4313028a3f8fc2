//! Prints questions of order as data for `tests/proof/orders_check.py`, with the answers: the demo's sheets, and so many generated
//! ones of about so many groups. The time of each goes to the error stream.
//!
//! `cargo run -p coatwright-tests --example orders_json -- 200 20`
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

#[path = "../tests/common/mod.rs"]
mod common;

use coatwright::basics;
use coatwright::names::trade::{Stage, Step, ToolId, ToolKind, Trade};
use coatwright::plan::SetUp;
use coatwright::plan::sequence::{Budget, NEVER, Order, Problem, solve};
use coatwright::sheet::{Request, finished};
use proptest::prelude::Rng;
use proptest::test_runner::{RngAlgorithm, TestRng};
use serde_json::{Value, json};
use std::time::Instant;

/// What a sheet may look at.
const BUDGET: Budget = Budget { states: 200_000, kicks: 100 };

fn value(name: &str, problem: &Problem, found: &Order, ms: f64) -> Value {
    let at = |n: usize| (n < problem.count()).then_some(n);
    let size = problem.count() + 1;
    let costs: Vec<Option<u32>> = (0..size * size)
        .map(|n| problem.cost(at(n / size), at(n % size)))
        .map(|cost| (cost != NEVER).then_some(cost))
        .collect();
    json!({
        "name": name, "count": problem.count(), "costs": costs, "before": problem.pairs(), "blocks": problem.blocks(),
        "cost": found.cost, "bound": found.bound, "states": found.states, "ms": ms,
    })
}

fn answered(name: &str, problem: &Problem) -> Value {
    let began = Instant::now();
    let found = solve(problem, BUDGET).unwrap();
    let ms = began.elapsed().as_secs_f64() * 1e3;
    assert_eq!(problem.cost_of(&found.order), Some(found.cost), "{name}");
    value(name, problem, &found, ms)
}

/// A sheet of the basics' finishing steps, each with a few tools of the usual kit, until there are so many groups.
fn generated(trade: &Trade, dice: &mut impl Rng, groups: usize) -> Problem {
    let mut below = |n: usize| usize::try_from(dice.next_u64() % n as u64).unwrap();
    let steps: Vec<&Step> = trade.steps.iter().filter(|s| s.stage == Some(Stage::Finish) && !s.on.is_empty()).collect();
    let usable = |t: &ToolId| {
        let kind = trade.tool(*t).map(|t| t.kind);
        matches!(kind, Some(ToolKind::Blade | ToolKind::Comb | ToolKind::Shears | ToolKind::Thinners))
    };
    let tools: Vec<ToolId> = trade.kits[0].owns.iter().map(|(t, _)| *t).filter(usable).collect();
    let mut all: Vec<(usize, SetUp, bool)> = Vec::new();
    let mut counts = vec![1; steps.len()];
    while counts.iter().sum::<usize>() < groups {
        counts[below(steps.len())] += 1;
    }
    for (step, count) in counts.into_iter().enumerate() {
        let mut taken: Vec<ToolId> = Vec::new();
        while taken.len() < count.min(tools.len()) {
            let tool = tools[below(tools.len())];
            if taken.contains(&tool) {
                continue;
            }
            taken.push(tool);
            let declared = trade.tool(tool).unwrap();
            let over = declared.over.first().copied();
            let clips = declared.kind.on_clipper();
            all.push((step, SetUp::at(trade, steps[step].on, Some(tool), over), clips));
        }
    }
    let mut problem = Problem::new(all.len());
    let cost = |from: &SetUp, to: &SetUp, jump: usize| {
        let time = from.change(to, trade).time;
        u32::try_from((time.low.0 + time.high.0) * 50_000).unwrap() + u32::try_from(jump).unwrap()
    };
    for (a, (step, from, clips)) in all.iter().enumerate() {
        problem.first(a, cost(&SetUp::default(), from, a));
        for (b, (other, to, theirs)) in all.iter().enumerate().filter(|(b, _)| *b != a) {
            problem.change(a, b, cost(from, to, (a + 1).abs_diff(b)));
            let listed = steps[*other].after.contains(&steps[*step].name);
            if (step != other && listed) || (step == other && *clips && !theirs) {
                problem.before(a, b);
            }
        }
        problem.together(&all.iter().enumerate().filter(|(_, o)| o.0 == *step).map(|(n, _)| n).collect::<Vec<_>>());
    }
    problem
}

fn main() {
    let mut args = std::env::args().skip(1).map(|a| a.parse::<usize>().unwrap());
    let (many, groups) = (args.next().unwrap_or(60), args.next().unwrap_or(20));
    let mut out: Vec<Value> = Vec::new();
    let workspace = common::workspace(common::saltmarsh());
    for dog in ["bramble", "kelp", "flint", "pearl"] {
        let request = Request { recipe: None, dog: dog.to_owned(), on: None, learner: false };
        let made = finished(&workspace, &request).unwrap();
        out.push(answered(dog, made.plan.order.question().unwrap()));
    }
    let trade = &basics::trade();
    let mut dice = TestRng::from_seed(RngAlgorithm::ChaCha, &[7; 32]);
    for number in 0..many {
        out.push(answered(&format!("generated {number}"), &generated(trade, &mut dice, groups)));
    }
    let mut times: Vec<f64> = out.iter().skip(4).map(|v| v["ms"].as_f64().unwrap()).collect();
    times.sort_by(f64::total_cmp);
    let proved = out.iter().skip(4).filter(|v| v["cost"] == v["bound"]).count();
    for demo in out.iter().take(4) {
        eprintln!(
            "{}: {} groups, {:.1} ms, {} states",
            demo["name"],
            demo["count"],
            demo["ms"].as_f64().unwrap(),
            demo["states"]
        );
    }
    if let (Some(most), Some(middle)) = (times.last(), times.get(times.len() / 2)) {
        eprintln!("{proved} of {many} generated are proved; {middle:.1} ms in the middle, {most:.1} ms at most");
    }
    println!("{}", Value::Array(out));
}
