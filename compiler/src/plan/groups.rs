//! The cheapest order of a visit's work: groups where the hand wouldn't stop, what comes before what and why, and what each
//! change costs.
//!
//! A group is all work of one part with one tool. A part is never walked away from half done; its blends come at its end. What
//! comes first, last or before something because the recipe or a finding says so goes before what the basics say, and that
//! before what is cheap. Of orders that cost alike the one nearest to the usual counts, so that the same visit always comes out
//! alike.

use super::order::{Wish, sites_of, wishes};
use super::sequence::{Problem, solve};
use super::setup::{Change, Minutes, SetUp};
use super::solved::{BUDGET, solved};
use super::{Plan, Task, TaskKind, Work};
use crate::choices::Choices;
use crate::measure::{Interval, Time};
use crate::names::card::Dog;
use crate::names::sites::Sites;
use crate::names::trade::{Hygiene, StepId, ToolKind, Trade};

/// Costs are tenths of a second; of equal ones a jump in the usual order decides, counted in this part of a tenth.
const TIE: u64 = 10_000;

/// Work that is done in one go.
#[derive(Clone, Debug)]
pub struct Group {
    /// Which task of the plan it belongs to.
    pub task: usize,
    /// Which lines of it.
    pub lines: Lines,
    /// The set-up with which it begins.
    pub begins: SetUp,
    /// And ends.
    pub ends: SetUp,
}

/// The lines of a group.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Lines {
    /// The whole task.
    Whole,
    /// These works.
    Works(Vec<usize>),
    /// These blends.
    Blends(Vec<usize>),
}

/// One group comes before another.
#[derive(Clone, Debug, PartialEq)]
pub struct Edge {
    /// The one.
    pub before: usize,
    /// The other.
    pub after: usize,
    /// Why.
    pub why: Why,
}

/// Why one piece of work comes before another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Why {
    /// The usual way of a visit: preparation, set-in, finish, a last look.
    Usual,
    /// The basics: the step of the one before that of the other.
    Basics(StepId, StepId),
    /// Somebody says so.
    Wish(Wish),
    /// A blend is made when both its sides are finished.
    BothSides,
    /// The lines of a part before its blends.
    PartFirst,
    /// In a part the clipper before shears and thinners, which finish to what it has set.
    ClipFirst,
}

/// The order of a visit, with what it was found from.
#[derive(Clone, Debug, Default)]
pub struct WorkOrder {
    /// The groups in working order.
    pub groups: Vec<Group>,
    /// What comes before what, among them.
    pub edges: Vec<Edge>,
    /// What all changes take together, in tenths of a second: the middle of their ranges.
    pub cost: u64,
    /// What they take at least in any order.
    pub bound: u64,
    /// How many beginnings of an order were looked at.
    pub states: usize,
    /// Whether no order costs less, ties included.
    pub proved: bool,
    problem: Option<Problem>,
}

impl WorkOrder {
    /// The cheapest order in which, of each of these pairs, the one doesn't follow straight on the other: the groups by their
    /// numbers here, and what the changes take in tenths of a second. None if it can't be otherwise.
    #[must_use]
    pub fn otherwise(&self, pairs: &[(usize, usize)]) -> Option<(Vec<usize>, u64)> {
        let mut problem = self.problem.clone()?;
        pairs.iter().for_each(|(before, after)| problem.change(*before, *after, super::sequence::NEVER));
        let found = solve(&problem, BUDGET).ok()?;
        Some((found.order, found.cost / TIE))
    }

    /// The question whose answer it is, its things numbered as the groups; costs with the part that breaks ties.
    #[must_use]
    pub const fn question(&self) -> Option<&Problem> {
        self.problem.as_ref()
    }

    /// What is changed before a group.
    #[must_use]
    pub fn change_before(&self, group: usize, trade: &Trade) -> Change {
        let at = |n: usize| self.groups.get(n);
        match (group.checked_sub(1).and_then(at), at(group)) {
            (Some(last), Some(next)) => last.ends.change(&next.begins, trade),
            (None, Some(first)) => SetUp::default().change(&first.begins, trade),
            _ => Change::default(),
        }
    }
}

/// Puts the tasks and their lines into the cheapest order, and adds what the changes take.
pub(super) fn ordered(tasks: Vec<Task>, choices: &Choices, trade: &Trade, dog: &Dog) -> Plan {
    let mut groups = Vec::new();
    let mut edges = Vec::new();
    for (number, task) in tasks.iter().enumerate() {
        groups_of(number, task, choices, trade, dog, &mut groups, &mut edges);
    }
    task_edges(&tasks, &groups, choices, trade, dog, &mut edges);
    let problem = problem(&groups, &edges, trade);
    let usual: Vec<usize> = (0..groups.len()).collect();
    // Everything that comes before something does so in the usual order too, so there is an order.
    let (order, cost, bound, states, proved) = match solved(&problem) {
        Some(found) => (found.order.clone(), found.cost, found.bound, found.states, found.is_proved()),
        None => {
            let cost = problem.cost_of(&usual).unwrap_or_default();
            (usual, cost, 0, 0, false)
        }
    };
    let mut plan = Plan::default();
    let mut place = vec![0; order.len()];
    for (at, number) in order.iter().enumerate() {
        if let Some(slot) = place.get_mut(*number) {
            *slot = at;
        }
    }
    let now = |n: usize| place.get(n).copied().unwrap_or(n);
    edges.iter_mut().for_each(|e| (e.before, e.after) = (now(e.before), now(e.after)));
    let sorted: Vec<Group> = order.iter().filter_map(|n| groups.get(*n).cloned()).collect();
    plan.order = WorkOrder {
        problem: Some(renumbered(&problem, &order, &sorted, &edges)),
        groups: sorted,
        edges,
        cost: cost / TIE,
        bound: bound / TIE,
        states,
        proved,
    };
    put_back(tasks, &mut plan);
    add_changes(&mut plan, trade);
    plan
}

/// The groups of a task, and what comes before what among them.
fn groups_of(
    number: usize,
    task: &Task,
    choices: &Choices,
    trade: &Trade,
    dog: &Dog,
    groups: &mut Vec<Group>,
    edges: &mut Vec<Edge>,
) {
    let first = groups.len();
    let (works, blends): (&[Work], &[_]) = match &task.kind {
        TaskKind::SetIn(works) => (works, &[]),
        TaskKind::Part { works, blends, .. } => (works, blends),
        TaskKind::Step { .. } | TaskKind::Mats(_) => {
            let none = SetUp::default();
            groups.push(Group { task: number, lines: Lines::Whole, begins: none, ends: none });
            return;
        }
    };
    let sites: Vec<Sites> = works.iter().map(|w| w.sites).collect();
    // Only what agrees with the order that was made of all wishes: contradictions have messages of their own.
    let said: Vec<(usize, usize, Wish)> =
        wishes(&sites, choices, trade, dog).into_iter().filter(|(a, b, _)| a < b).collect();
    let mut of_line: Vec<usize> = Vec::new();
    for (line, work) in works.iter().enumerate() {
        let setup = SetUp::at(trade, work.sites, work.stroke.tool, work.stroke.over);
        let same = |g: &Group| (g.begins.tool, g.begins.over) == (setup.tool, setup.over);
        let at = groups.iter().skip(first).position(same).filter(|_| said.is_empty());
        match at.and_then(|n| groups.get_mut(first + n)) {
            Some(group) => {
                group.begins = group.begins.and(setup);
                group.ends = group.begins;
                if let Lines::Works(lines) = &mut group.lines {
                    lines.push(line);
                }
            }
            None => groups.push(Group { task: number, lines: Lines::Works(vec![line]), begins: setup, ends: setup }),
        }
        of_line.push(at.map_or(groups.len() - 1, |n| first + n));
    }
    // What somebody wants otherwise in this part goes before the usual way.
    let on_clipper = |g: &Group| g.begins.tool.and_then(|t| trade.tool(t)).map(|t| t.kind.on_clipper());
    let numbered = || groups.iter().enumerate().skip(first);
    if said.is_empty() {
        for (a, _) in numbered().filter(|(_, g)| on_clipper(g) == Some(true)) {
            let freehand = numbered().filter(|(_, g)| {
                let kind = g.begins.tool.and_then(|t| trade.tool(t)).map(|t| t.kind);
                matches!(kind, Some(ToolKind::Shears | ToolKind::Thinners))
            });
            edges.extend(freehand.map(|(b, _)| Edge { before: a, after: b, why: Why::ClipFirst }));
        }
    }
    // What soils a tool comes last of what is done with it in one go.
    let ill = dog.soiling(trade);
    for group in groups.iter_mut().skip(first) {
        if let Lines::Works(lines) = &mut group.lines {
            let soils = |s: &Sites| (s.meets(ill), trade.hygiene_at(*s, Hygiene::Soils));
            lines.sort_by_key(|line| sites.get(*line).map(soils));
        }
    }
    for (a, b, wish) in said {
        if let (Some(a), Some(b)) = (of_line.get(a), of_line.get(b)) {
            edges.push(Edge { before: *a, after: *b, why: Why::Wish(wish) });
        }
    }
    let worked = groups.len();
    for (line, blend) in blends.iter().enumerate() {
        let sites = blend.from | blend.into;
        let rung = |r: Option<&crate::joins::Rung>| match r {
            Some(rung) => SetUp::at(trade, sites, Some(rung.tool), rung.over),
            None => SetUp::at(trade, sites, blend.hand, None),
        };
        let (begins, ends) = (rung(blend.rungs.first()), rung(blend.rungs.last()));
        let same = |g: &Group| {
            (g.begins.tool, g.begins.over, g.ends.tool, g.ends.over) == (begins.tool, begins.over, ends.tool, ends.over)
        };
        match groups.iter_mut().skip(worked).find(|g| same(g)) {
            Some(group) => {
                (group.begins, group.ends) = (group.begins.and(begins), group.ends.and(ends));
                if let Lines::Blends(lines) = &mut group.lines {
                    lines.push(line);
                }
            }
            None => groups.push(Group { task: number, lines: Lines::Blends(vec![line]), begins, ends }),
        }
    }
    for blend in worked..groups.len() {
        edges.extend((first..worked).map(|work| Edge { before: work, after: blend, why: Why::PartFirst }));
    }
}

/// What comes before what among the tasks, as the provisional order has them.
fn task_edges(tasks: &[Task], groups: &[Group], choices: &Choices, trade: &Trade, dog: &Dog, edges: &mut Vec<Edge>) {
    let sites: Vec<Sites> = tasks.iter().map(sites_of).collect();
    let is_finish =
        |n: usize| tasks.get(n).is_some_and(|t| matches!(t.kind, TaskKind::Part { .. }) && !is_unwashed(t, trade));
    let said = wishes(&sites, choices, trade, dog);
    for b in 0..tasks.len() {
        for a in 0..b {
            let both = is_finish(a) && is_finish(b);
            let basics = step_of(tasks.get(a), trade).zip(step_of(tasks.get(b), trade)).filter(|(x, y)| {
                let name = trade.step(*x).map(|s| &s.name);
                trade.step(*y).zip(name).is_some_and(|(s, n)| s.after.contains(n))
            });
            let wish = said.iter().find(|(x, y, _)| both && (*x, *y) == (a, b)).map(|(_, _, wish)| Why::Wish(*wish));
            let blends = both && blends_meet(tasks.get(b), sites.get(a).copied().unwrap_or(Sites::NONE));
            let why = wish
                .or(basics.map(|(x, y)| Why::Basics(x, y)))
                .or(blends.then_some(Why::BothSides))
                .or((!both).then_some(Why::Usual));
            let Some(why) = why else { continue };
            for (x, _) in groups.iter().enumerate().filter(|(_, g)| g.task == a) {
                let later = groups.iter().enumerate().filter(|(_, g)| g.task == b);
                edges.extend(later.map(|(y, _)| Edge { before: x, after: y, why }));
            }
        }
    }
}

/// Whether a part is worked before the bath, such as a coat that is stripped.
fn is_unwashed(task: &Task, trade: &Trade) -> bool {
    step_of(Some(task), trade)
        .and_then(|s| super::stage(trade, s))
        .is_some_and(|s| s < crate::names::trade::Stage::Finish)
}

/// Whether a blend of the task has a side there.
fn blends_meet(task: Option<&Task>, sites: Sites) -> bool {
    match task.map(|t| &t.kind) {
        Some(TaskKind::Part { blends, .. }) => blends.iter().any(|b| (b.from | b.into).meets(sites)),
        _ => false,
    }
}

/// The step of the basics that a task is.
fn step_of(task: Option<&Task>, trade: &Trade) -> Option<StepId> {
    match &task?.kind {
        TaskKind::Step { step, .. } | TaskKind::Part { step, .. } => Some(*step),
        TaskKind::Mats(_) => trade.index.steps.get(super::PELTS_OFF).copied(),
        TaskKind::SetIn(_) => None,
    }
}

/// The question for the search.
fn problem(groups: &[Group], edges: &[Edge], trade: &Trade) -> Problem {
    let mut problem = Problem::new(groups.len());
    let minutes = Minutes::of(trade);
    let tenths = |time: Interval<Time>| u64::try_from(time.low.0 + time.high.0).unwrap_or(0) * 5 * TIE;
    let cost =
        |change: Interval<Time>, jump: usize| u32::try_from(tenths(change) + jump as u64).unwrap_or(u32::MAX - 1);
    for (a, from) in groups.iter().enumerate() {
        problem.first(a, cost(SetUp::default().time(&from.begins, trade, &minutes), a));
        for (b, to) in groups.iter().enumerate().filter(|(b, _)| *b != a) {
            problem.change(a, b, cost(from.ends.time(&to.begins, trade, &minutes), (a + 1).abs_diff(b)));
        }
    }
    edges.iter().for_each(|e| problem.before(e.before, e.after));
    blocks(&mut problem, groups);
    problem
}

/// A part is never walked away from half done.
fn blocks(problem: &mut Problem, groups: &[Group]) {
    for group in groups {
        let of_task = groups.iter().enumerate().filter(|(_, g)| g.task == group.task);
        problem.together(&of_task.map(|(n, _)| n).collect::<Vec<_>>());
    }
}

/// The same question with the groups numbered as they are worked.
fn renumbered(problem: &Problem, order: &[usize], groups: &[Group], edges: &[Edge]) -> Problem {
    let mut new = Problem::new(order.len());
    for (a, from) in order.iter().enumerate() {
        new.first(a, problem.cost(None, Some(*from)));
        new.last(a, problem.cost(Some(*from), None));
        for (b, to) in order.iter().enumerate().filter(|(b, _)| *b != a) {
            new.change(a, b, problem.cost(Some(*from), Some(*to)));
        }
    }
    edges.iter().for_each(|e| new.before(e.before, e.after));
    blocks(&mut new, groups);
    new
}

/// The tasks and their lines as the groups stand; the groups then speak of them as they are.
fn put_back(tasks: Vec<Task>, plan: &mut Plan) {
    let mut old: Vec<Option<Task>> = tasks.into_iter().map(Some).collect();
    let mut number = None;
    for group in &mut plan.order.groups {
        if let Some(task) = old.get_mut(group.task).and_then(Option::take) {
            plan.tasks.push(Task { kind: emptied(&task.kind), time: task.time });
            number = Some((group.task, task.kind));
        }
        group.task = plan.tasks.len().saturating_sub(1);
        let (Some((_, from)), Some(to)) = (&number, plan.tasks.last_mut()) else { continue };
        match (from, &mut to.kind, &mut group.lines) {
            (
                TaskKind::Part { works: all, .. } | TaskKind::SetIn(all),
                TaskKind::Part { works, .. } | TaskKind::SetIn(works),
                Lines::Works(lines),
            ) => {
                let start = works.len();
                works.extend(lines.iter().filter_map(|n| all.get(*n).cloned()));
                *lines = (start..works.len()).collect();
            }
            (TaskKind::Part { blends: all, .. }, TaskKind::Part { blends, .. }, Lines::Blends(lines)) => {
                let start = blends.len();
                blends.extend(lines.iter().filter_map(|n| all.get(*n).cloned()));
                *lines = (start..blends.len()).collect();
            }
            _ => {}
        }
    }
}

/// A task without its lines.
fn emptied(kind: &TaskKind) -> TaskKind {
    match kind {
        TaskKind::Part { step, .. } => TaskKind::Part { step: *step, works: Vec::new(), blends: Vec::new() },
        TaskKind::SetIn(_) => TaskKind::SetIn(Vec::new()),
        other => other.clone(),
    }
}

/// Adds what is changed before and within a task to its time, where that is known at all.
fn add_changes(plan: &mut Plan, trade: &Trade) {
    for (number, group) in plan.order.groups.iter().enumerate() {
        let change = plan.order.change_before(number, trade).time;
        if let Some(task) = plan.tasks.get_mut(group.task).filter(|t| t.time.high.0 > 0) {
            task.time = task.time + change;
        }
    }
}
