//! The order of work on the demo's dogs: proved, whole parts, what must come first first, and what the changes take.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

mod common;

use coatwright::names::trade::ToolKind;
use coatwright::plan::{Lines, TaskKind, Why};
use coatwright::sheet::render::{Options, text};
use coatwright::sheet::{Line, Made, Part, Request, finished, finished_part, make, numbered};
use coatwright::why_order::why_order;
use coatwright::workspace::Workspace;

const DOGS: [&str; 4] = ["bramble", "kelp", "flint", "pearl"];

fn salon() -> Workspace {
    common::workspace(common::saltmarsh())
}

fn made(workspace: &Workspace, dog: &str) -> Made {
    let request = Request { recipe: None, dog: dog.to_owned(), on: None, learner: false };
    finished(workspace, &request).unwrap_or_else(|said| panic!("{dog}: {said:#?}"))
}

/// No order costs less, ties included, and none that keeps all edges was passed over: each group after what it must follow,
/// each part in one go.
#[test]
fn demo_orders_are_proved() {
    let workspace = salon();
    for dog in DOGS {
        let made = made(&workspace, dog);
        let order = &made.plan.order;
        assert!(order.proved && order.cost == order.bound, "{dog}");
        assert!(order.groups.len() > 10, "{dog}");
        for edge in &order.edges {
            assert!(edge.before < edge.after, "{dog}: {edge:?}");
        }
        let mut tasks: Vec<usize> = order.groups.iter().map(|g| g.task).collect();
        tasks.dedup();
        assert_eq!(tasks, (0..made.plan.tasks.len()).collect::<Vec<_>>(), "{dog}");
        // The lines of each part are told group by group, and all of them.
        for (number, task) in made.plan.tasks.iter().enumerate() {
            let (works, blends) = match &task.kind {
                TaskKind::SetIn(works) => (works.len(), 0),
                TaskKind::Part { works, blends, .. } => (works.len(), blends.len()),
                _ => continue,
            };
            let told = |pick: &dyn Fn(&Lines) -> Vec<usize>| -> Vec<usize> {
                order.groups.iter().filter(|g| g.task == number).flat_map(|g| pick(&g.lines)).collect()
            };
            let of_works = told(&|l| if let Lines::Works(n) = l { n.clone() } else { Vec::new() });
            let of_blends = told(&|l| if let Lines::Blends(n) = l { n.clone() } else { Vec::new() });
            assert_eq!(of_works, (0..works).collect::<Vec<_>>(), "{dog}");
            assert_eq!(of_blends, (0..blends).collect::<Vec<_>>(), "{dog}");
        }
    }
}

/// What the changes take together is what they take one by one, the middle of each range.
#[test]
fn the_cost_is_that_of_the_changes() {
    let workspace = salon();
    for dog in DOGS {
        let made = made(&workspace, dog);
        let order = &made.plan.order;
        let times = (0..order.groups.len()).map(|n| order.change_before(n, &made.trade).time);
        let tenths: i64 = times.map(|t| (t.low.0 + t.high.0) * 5).sum();
        assert_eq!(u64::try_from(tenths).unwrap(), order.cost, "{dog}");
    }
}

/// In a part the clipper is put down for shears, and not the other way round; a blend follows both its sides.
#[test]
fn clip_then_scissor_then_blend() {
    let workspace = salon();
    let made = made(&workspace, "bramble");
    let mut both = 0;
    for task in &made.plan.tasks {
        let TaskKind::Part { works, .. } = &task.kind else { continue };
        let free: Vec<bool> = works
            .iter()
            .filter_map(|w| made.trade.tool(w.stroke.tool?))
            .map(|t| matches!(t.kind, ToolKind::Shears | ToolKind::Thinners))
            .collect();
        assert!(free.is_sorted(), "{free:?}");
        both += usize::from(free.contains(&true) && free.contains(&false));
    }
    assert!(both >= 2, "nothing was tried");
    let worked = |n: usize| match &made.plan.tasks[n].kind {
        TaskKind::Part { works, .. } => works.iter().fold(Default::default(), |all, w| all | w.sites),
        _ => coatwright::names::sites::Sites::NONE,
    };
    for (number, task) in made.plan.tasks.iter().enumerate() {
        let TaskKind::Part { blends, .. } = &task.kind else { continue };
        for later in number + 1..made.plan.tasks.len() {
            assert!(blends.iter().all(|b| !(b.from | b.into).meets(worked(later))), "{number} before {later}");
        }
    }
}

/// `head last` of the house is why the head comes after the tail.
#[test]
fn a_wish_is_the_reason() {
    let workspace = salon();
    let made = made(&workspace, "bramble");
    let wished = made.plan.order.edges.iter().filter(|e| matches!(e.why, Why::Wish(_)));
    let head = made.plan.order.groups.iter().position(|g| match &made.plan.tasks[g.task].kind {
        TaskKind::Part { step, .. } => made.trade.steps[usize::from(step.0)].name == "head-work",
        _ => false,
    });
    assert!(wished.clone().any(|e| Some(e.after) == head));
}

/// What `why-order` says: the reason with its place, what is changed, what another order takes.
#[test]
fn the_order_is_explained() {
    let workspace = salon();
    let made = made(&workspace, "bramble");
    let request = Request { recipe: None, dog: "bramble".to_owned(), on: None, learner: false };
    let ask = |step: Option<&str>| why_order(&made, workspace.sources(), &request, step);
    let whole = ask(None).unwrap();
    assert!(whole[0].contains("No order that keeps what is said below takes less."), "{}", whole[0]);
    let head = ask(Some("head")).unwrap().join("\n");
    assert!(head.contains("last, ") && head.contains("house.trim:10"), "{head}");
    assert!(head.contains("clipped before it is scissored"), "{head}");
    let pads = ask(Some("9")).unwrap().join("\n");
    assert!(pads.contains("next best: ") && pads.contains(" more"), "{pads}");
    for unknown in ["44", "", "moon", "-1"] {
        assert!(ask(Some(unknown)).is_err(), "{unknown}");
    }
}

/// Forbidding a change never makes an order cheaper, and what comes out keeps what was asked.
#[test]
fn the_next_best_is_no_better() {
    let workspace = salon();
    let made = made(&workspace, "flint");
    let order = &made.plan.order;
    let mut other = 0;
    for pair in (1..order.groups.len()).map(|n| (n - 1, n)) {
        let Some((groups, cost)) = order.otherwise(&[pair]) else { continue };
        assert!(cost >= order.cost, "{pair:?}");
        assert!(groups.windows(2).all(|w| (w[0], w[1]) != pair), "{pair:?}");
        other += 1;
    }
    assert!(other > 3, "nothing was tried");
}

/// Where a tool is taken up the sheet says so, and nowhere else; a comb stays on whether or not the blade beneath it is named again.
#[test]
fn the_sheet_says_where_a_tool_is_taken_up() {
    let request = Request { recipe: None, dog: "bramble".to_owned(), on: None, learner: false };
    let sheet = make(&salon(), &request).unwrap();
    let lines: Vec<_> = sheet.steps.iter().flat_map(|s| &s.lines).filter(|l| l.tool.is_some()).collect();
    let comb = |l: &&&Line| l.tool.as_deref().is_some_and(|t| t.starts_with("6 mm comb"));
    let combs: Vec<(Option<&str>, bool)> =
        lines.iter().filter(comb).take(2).map(|l| (l.tool.as_deref(), l.takes_up)).collect();
    assert_eq!(combs, [(Some("6 mm comb over #30"), true), (Some("6 mm comb"), false)]);
    assert!(lines.first().unwrap().takes_up);
    for pair in lines.windows(2) {
        let bare = |l: &Line| l.tool.clone().unwrap().replace(" over #30", "");
        assert_eq!(pair[1].takes_up, bare(pair[0]) != bare(pair[1]), "{:?} {:?}", pair[0].tool, pair[1].tool);
    }
    let text = text(&sheet, &Options::default());
    assert_eq!(text.lines().filter(|l| l.starts_with("     > ")).count(), lines.iter().filter(|l| l.takes_up).count());
}

/// Steps that stand together on paper are parted where the dog rests between them: else it would rest before both.
#[test]
fn a_rest_is_printed_where_it_is_meant() {
    let workspace = salon();
    let mut between = 0;
    for (dog, part) in DOGS.iter().flat_map(|dog| [(dog, Part::Today), (dog, Part::Whole)]) {
        let request = Request { recipe: None, dog: (*dog).to_owned(), on: None, learner: false };
        let made = finished_part(&workspace, &request, &part).unwrap();
        let steps = numbered(&made, workspace.sources(), &request);
        let groups = &made.plan.order.groups;
        for rest in made.plan.bears.rests.iter().filter(|r| r.times == 0) {
            let task = groups[rest.group].task;
            if rest.group > 0 && groups[rest.group - 1].task == task {
                continue;
            }
            between += 1;
            assert!(steps.iter().any(|(_, _, tasks)| tasks[0] == task), "{dog}: {rest:?} in {steps:?}");
        }
    }
    assert!(between > 5, "{between} rests");
}
