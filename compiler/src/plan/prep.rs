//! Preparation: intake, nails and ears, mats, stripping, bath, drying, the comb test.

use super::mats::{Dealt, dealt, dematt_most};
use super::{Among, Body, Task, TaskKind, Without, area, at_rate, meant, share, stage, total, works};
use crate::choices::Choices;
use crate::measure::{Interval, Rate, Time};
use crate::models::surface;
use crate::names::card::{Dog, Mat};
use crate::names::condition::Grade;
use crate::names::sites::Sites;
use crate::names::trade::{Bound, KeepOn, Stage, Step, StepId, Trade, Verb};

/// Everything before the first finish: intake, nails and ears, mats, bath, drying, the comb test.
pub(super) fn before(body: &Body<'_>, finishes: Among<'_>, without: &Without) -> Vec<Task> {
    let Body { trade, dog, choices, .. } = *body;
    let mut tasks = steps_of(body, &[Stage::Intake]);
    if tasks.is_empty() {
        tasks.extend(usual(trade, "check"));
    }
    tasks.extend(steps_of(body, &[Stage::DryPrep]));
    let mats: Vec<usize> = (0..dog.mats.len())
        .filter(|n| !without.mats.contains(n) && dog.mats.get(*n).is_some_and(|m| m.grade > Grade::None))
        .collect();
    if !mats.is_empty() {
        // What is only left takes no time.
        let worked =
            |mat: &&Mat| matches!(dealt(mat, choices, trade, dog, finishes.finishes), Dealt::Off(..) | Dealt::Out(_));
        let worked: Vec<&Mat> = mats.iter().filter_map(|n| dog.mats.get(*n)).filter(worked).collect();
        let worst = worked.iter().map(|m| m.grade).max().unwrap_or_else(|| dog.worst_mats()).min(Grade::Tight);
        let step = if worst >= Grade::Tight { PELTS_OFF } else { DEMATT };
        let under = worked.iter().filter(|m| m.grade >= worst).fold(Sites::NONE, |set, m| set | m.sites);
        let under = dog.weight.filter(|_| !worked.is_empty()).map(|weight| area(body, weight, under));
        let time = under.and_then(|under| trade.step_called(step).map(|s| over(s, s.rate, Some(under))));
        let most = dematt_most(choices, trade, dog).filter(|_| step == DEMATT);
        let time = time.map(|time| most.map_or(time, |most| time.map(|t| t.min(most)))).unwrap_or_default();
        // Mats come off before the coat is raked or carded, as the basics list those steps.
        let pelts = trade.index.steps.get(PELTS_OFF).copied();
        let at = tasks
            .iter()
            .position(|t| matches!(&t.kind, TaskKind::Step { step, .. } if stage(trade, *step) == Some(Stage::DryPrep) && Some(*step) > pelts))
            .unwrap_or(tasks.len());
        tasks.insert(at, Task { kind: TaskKind::Mats(mats), time });
    }
    tasks.extend(steps_of(body, &[Stage::Rough]));
    for (verb, name) in UNWASHED {
        unwashed(&mut tasks, *verb, name, body, finishes);
    }
    // On a dog that is bathed already they wait until it is dry: water tightens mats, and wet hair slips.
    let wants_dry = |task: &Task| match &task.kind {
        TaskKind::Mats(_) => true,
        TaskKind::Step { step, .. } | TaskKind::Part { step, .. } => trade.step(*step).is_some_and(|s| !s.wet),
        TaskKind::SetIn(_) => false,
    };
    let (held, mut tasks): (Vec<Task>, Vec<Task>) = tasks.into_iter().partition(|t| without.bathed && wants_dry(t));
    tasks.extend(steps_of(body, &[Stage::Wash]));
    tasks.extend(drying(body, without.bathed));
    tasks.extend(held);
    tasks.extend(steps_of(body, &[Stage::Check]));
    tasks
}

/// Work that wants a dry, unwashed coat, and the step of the basics that it belongs to: washed hair slips, and dead coat
/// comes out before the water sets it.
pub(super) const UNWASHED: &[(Verb, &str)] =
    &[(Verb::HandStrip, "hand-stripping"), (Verb::Card, "carding"), (Verb::Rake, "undercoat-out")];

fn unwashed(tasks: &mut Vec<Task>, verb: Verb, name: &str, body: &Body<'_>, finishes: Among<'_>) {
    let strokes = finishes.iter().filter(|f| f.fine.verb == verb).map(|f| (f, &f.fine));
    let works = works(body, strokes);
    let Some(step) = body.trade.index.steps.get(name).copied() else { return };
    if works.is_empty() {
        // An empty step would read as leave to do it.
        tasks.retain(|t| !matches!(&t.kind, TaskKind::Step { step: s, .. } if *s == step && verb == Verb::HandStrip));
        return;
    }
    let task = Task { time: total(&works), kind: TaskKind::Part { step, works, blends: Vec::new() } };
    match tasks.iter().position(|t| matches!(&t.kind, TaskKind::Step { step: s, .. } if *s == step)) {
        Some(at) => {
            if let Some(slot) = tasks.get_mut(at) {
                *slot = task;
            }
        }
        None => {
            // Where the basics list it: stages in their order, steps of one stage as they are declared.
            let place = |step: StepId| (stage(body.trade, step), step);
            let later = |t: &Task| match &t.kind {
                TaskKind::Step { step: other, .. } | TaskKind::Part { step: other, .. } => place(*other) > place(step),
                _ => false,
            };
            let at = tasks.iter().position(later).unwrap_or(tasks.len());
            tasks.insert(at, task);
        }
    }
}

pub(super) fn usual(trade: &Trade, name: &str) -> Option<Task> {
    let id = *trade.index.steps.get(name)?;
    let time = trade.minutes_of(name);
    Some(Task { kind: TaskKind::Step { step: id, words: String::new(), not_on: Sites::NONE }, time })
}

/// The steps that the recipe, its bases and its house ask for in these stages. Of two texts that name one step the nearer
/// counts; `dry` alone is what the coat asks for.
pub(super) fn steps_of(body: &Body<'_>, stages: &[Stage]) -> Vec<Task> {
    let all = body.steps.get_or_init(|| asked(body));
    all.iter().filter(|asked| stages.contains(&asked.stage)).map(|asked| asked.task.clone()).collect()
}

/// The drying that somebody asks for: after a bath that is done, or one that is to come.
fn drying(body: &Body<'_>, bathed: bool) -> Vec<Task> {
    let all = body.steps.get_or_init(|| asked(body));
    let dry = all.iter().filter(|asked| asked.stage == Stage::Dry && (bathed || !asked.no_bath));
    dry.map(|asked| asked.task.clone()).collect()
}

/// A step that somebody asks for.
pub(super) struct Asked {
    stage: Stage,
    /// Whether it is drying after no bath.
    no_bath: bool,
    task: Task,
}

fn asked(body: &Body<'_>) -> Vec<Asked> {
    let Body { trade, dog, choices, .. } = *body;
    let mut all: Vec<(usize, Asked)> = Vec::new();
    // One step deals with the mats that there are; without any it would be an empty box.
    let of_mats = |step: StepId| trade.step(step).is_some_and(|s| [PELTS_OFF, DEMATT].contains(&s.name.as_str()));
    let site = trade.all_sites().iter().next();
    let nearest_drying =
        choices.prep.iter().filter(|p| stage(trade, p.step) == Some(Stage::Dry)).map(|p| p.level).max();
    let mut seen: Vec<StepId> = Vec::new();
    let no_bath = !washed(choices, trade, dog);
    for ask in choices.prep.iter().rev() {
        let Some(stage) = stage(trade, ask.step) else { continue };
        if !site.is_none_or(|s| ask.cond.holds(dog, s)) || (stage == Stage::Dry && Some(ask.level) != nearest_drying) {
            continue;
        }
        let (mut step, mut words) = (by_coat(ask.step, trade, dog), ask.words.clone());
        let mut not_on = forbidden(step, choices, trade, dog);
        if not_on == trade.all_sites() {
            // Another way, if the basics know one; else the step is left out, and the sheet says so.
            let ways = trade.step(step).map(|s| s.or_else.as_slice()).unwrap_or_default();
            let other = ways.iter().copied().find(|s| forbidden(*s, choices, trade, dog) != trade.all_sites());
            let Some(other) = other else { continue };
            step = other;
            // What was said of the one way isn't meant for the other.
            words = String::new();
            not_on = forbidden(step, choices, trade, dog);
        }
        if seen.contains(&step) || of_mats(step) {
            continue;
        }
        seen.push(step);
        let Some(declared) = trade.step(step) else { continue };
        let mut time = on_the_dog(declared, trade, dog);
        if let Some(most) = ask.at_most {
            time = time.map(|t| t.min(most));
        }
        let task = Task { kind: TaskKind::Step { step, words, not_on }, time };
        all.push((usize::from(step.0), Asked { stage, no_bath: no_bath && stage == Stage::Dry, task }));
    }
    // What a finding on the card asks for, whatever the recipe says.
    for step in dog.asked_steps(trade).map(|s| by_coat(s, trade, dog)).filter(|s| !of_mats(*s)) {
        let not_on = forbidden(step, choices, trade, dog);
        let Some(stage) = stage(trade, step).filter(|_| !seen.contains(&step) && not_on != trade.all_sites()) else {
            continue;
        };
        // However it is dried, it is dried once, and only if it is bathed.
        if stage == Stage::Dry && (no_bath || all.iter().any(|(_, asked)| asked.stage == Stage::Dry)) {
            continue;
        }
        seen.push(step);
        let time = trade.step(step).map(|s| on_the_dog(s, trade, dog)).unwrap_or_default();
        let kind = TaskKind::Step { step, words: String::new(), not_on };
        all.push((usize::from(step.0), Asked { stage, no_bath: false, task: Task { kind, time } }));
    }
    // Declared later in the basics is later in the stage.
    all.sort_by_key(|(step, asked)| (asked.stage, *step));
    all.into_iter().map(|(_, asked)| asked).collect()
}

/// The step itself; for `dry` alone the way in which this dog's coat is dried.
fn by_coat(step: StepId, trade: &Trade, dog: &Dog) -> StepId {
    let plain = trade.step(step).is_some_and(|s| s.name == "dry");
    let way = dog.coat.filter(|_| plain).and_then(|c| trade.coat(c)).and_then(|c| c.dries);
    way.unwrap_or(step)
}

/// Whether some bath is left to dry after.
fn washed(choices: &Choices, trade: &Trade, dog: &Dog) -> bool {
    let mut steps = choices.prep.iter().map(|p| p.step).chain(dog.asked_steps(trade));
    steps.any(|step| {
        stage(trade, step) == Some(Stage::Wash) && forbidden(step, choices, trade, dog) != trade.all_sites()
    })
}

/// Whether a step is water or air for a dog most of which is under felt that its owner keeps: there both stay away.
#[must_use]
pub fn is_felted_for_good(step: StepId, trade: &Trade, dog: &Dog) -> bool {
    if !matches!(stage(trade, step), Some(Stage::Wash | Stage::Dry)) || dog.agreed("clip-off") != Some(false) {
        return false;
    }
    let felt = dog.mats.iter().filter(|m| m.grade >= Grade::Tight).fold(Sites::NONE, |all, m| all | m.sites);
    share(trade, felt) * 2 > share(trade, trade.all_sites())
}

/// Where the keeps on this dog rule a step out, by its own name or by the tool that it uses.
#[must_use]
pub fn forbidden(step: StepId, choices: &Choices, trade: &Trade, dog: &Dog) -> Sites {
    if is_felted_for_good(step, trade, dog) {
        return trade.all_sites();
    }
    let names = |bound: &Bound| trade.rules_out(bound, step);
    let mut sites = Sites::NONE;
    for entry in choices.keeps.iter().filter(|k| names(&k.line.bound) && meant(k.finding, dog)) {
        if let KeepOn::Sites(on) = entry.line.on
            && on.iter().next().is_some_and(|s| entry.cond.holds(dog, s))
        {
            sites = sites | on;
        }
    }
    for fact in &dog.findings {
        for line in trade.finding(fact.finding).iter().flat_map(|f| &f.keeps).filter(|l| names(&l.bound)) {
            sites = sites
                | match line.on {
                    KeepOn::Sites(on) => on,
                    KeepOn::Place | KeepOn::Dog => fact.sites,
                };
        }
    }
    sites
}

/// What mats are dealt with by, as the basics call it; how long that takes hangs on the mats.
pub(crate) const PELTS_OFF: &str = "pelts-off";
pub(crate) const DEMATT: &str = "dematt";

/// How long a step takes over the whole dog: at its own rate, or, if the basics say no minutes either, at that of the tool that it
/// uses; the coat's own way of drying at the coat's.
fn on_the_dog(step: &Step, trade: &Trade, dog: &Dog) -> Interval<Time> {
    let own_way = || {
        let coat = trade.coat(dog.coat?)?;
        let dries = trade.step(coat.dries?)?;
        coat.dries_at.filter(|_| dries.name == step.name)
    };
    let by_tool = || own_way().or_else(|| trade.tool(step.uses?)?.rate).filter(|_| step.minutes.is_none());
    over(step, step.rate.or_else(by_tool), dog.weight.map(surface::surface))
}

/// The minutes of a step and what comes on top for an area in square millimetres, no longer than its most.
fn over(step: &Step, rate: Option<Interval<Rate>>, area: Option<f64>) -> Interval<Time> {
    let by_area = area.zip(rate).map(|(area, rate)| at_rate(area, rate)).unwrap_or_default();
    let time = step.minutes.unwrap_or_default() + by_area;
    step.most.map_or(time, |most| time.map(|t| t.min(most)))
}
