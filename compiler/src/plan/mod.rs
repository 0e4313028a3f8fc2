//! The order of work: the backbone of a visit, as the steps of the basics give it, with the recipe's `order`, `first` and
//! `last`.
//!
//! Prep, then set-ins, then the finishing steps, each working its own part of the dog; a blend comes with the later of its
//! two sides. Within what must come before what the order is the cheapest in changes of tool and place (`groups.rs`), found by
//! a search that knows nothing of dogs (`sequence/`).

mod air;
mod bands;
mod bears;
mod blends;
mod body;
mod chosen;
mod groups;
mod heat;
mod mats;
mod order;
mod prep;
pub mod sequence;
mod setup;
mod solved;
mod stood;
mod visits;

pub use air::Air;
pub use bears::{Bears, By, Limit, Limits, Rest, limits, sum};
pub use blends::blend_stroke;
pub use body::Body;
pub use groups::{Edge, Group, Lines, Why, WorkOrder};
pub use heat::{ForBlade, Line, Moment, Run, Stop};
pub use mats::{Dealt, clipped_off, dealt, dematt_most};
pub use order::Wish;
pub(crate) use prep::{DEMATT, PELTS_OFF};
pub use prep::{forbidden, is_felted_for_good};
pub(crate) use setup::CLEAN_TOOL;
pub use setup::{Change, SetUp};
pub(crate) use visits::waiting;
pub use visits::{Today, Waits, parted_mats, today};

use crate::choices::Choices;
use crate::finish::{Finish, Finishes, Stroke};
use crate::joins::Rung;
use crate::measure::{Interval, Rate, Time};
use crate::names::card::Dog;
use crate::names::sites::{Site, Sites};
use crate::names::trade::{FindingId, Hygiene, MarkId, Stage, StepId, ToolId, Trade};
use crate::source::Place;
use blends::blends;
use body::area;
use order::arrange;
use std::collections::BTreeSet;

use prep::{UNWASHED, before, steps_of, usual};

/// The order of one visit.
#[derive(Clone, Debug, Default)]
pub struct Plan {
    /// The steps in working order.
    pub tasks: Vec<Task>,
    /// The groups of which the order was made, and why it is so.
    pub order: WorkOrder,
    /// When which blade runs, and over what.
    pub runs: Vec<Moment>,
    /// Where a blade is felt or changed, in working order.
    pub stops: Vec<Stop>,
    /// What it asks of the dog, and the rests.
    pub bears: Bears,
}

/// What of a visit is left out: it waits for another day, or is done already.
#[derive(Clone, Debug, Default)]
pub struct Without {
    /// Steps.
    pub steps: BTreeSet<StepId>,
    /// Mats, by their numbers on the card.
    pub mats: BTreeSet<usize>,
    /// Places that are set in already.
    pub set_in: Sites,
    /// Places that are finished already.
    pub finished: Sites,
    /// Places that wait: not worked, nor blended into.
    pub waits: Sites,
    /// Whether it is bathed already.
    pub bathed: bool,
    /// And dried.
    pub dried: bool,
    /// How long the dog has stood today, of what it bears in all.
    pub stood: Time,
    /// And of that since its last rest.
    pub at_stretch: Time,
}

/// One step.
#[derive(Clone, Debug)]
pub struct Task {
    /// What it is.
    pub kind: TaskKind,
    /// How long it takes.
    pub time: Interval<Time>,
}

/// The kinds of step.
#[derive(Clone, Debug)]
pub enum TaskKind {
    /// A step of preparation, drying or ending.
    Step {
        /// Which.
        step: StepId,
        /// What more is said of it: `short, grind`.
        words: String,
        /// Where a keep rules it out on this dog.
        not_on: Sites,
    },
    /// Mats: by hand or comb, or clipped off.
    Mats(Vec<usize>),
    /// Everything that is set in.
    SetIn(Vec<Work>),
    /// A part of the dog, finished.
    Part {
        /// The step of the basics that works it.
        step: StepId,
        /// The work.
        works: Vec<Work>,
        /// The blends that end here.
        blends: Vec<BlendWork>,
    },
}

/// A blend on this dog.
#[derive(Clone, Debug)]
pub struct BlendWork {
    /// Its number among the choices' blends.
    pub ask: usize,
    /// From: the sites that a tool touches and that the blend's own tool may.
    pub from: Sites,
    /// Into: likewise.
    pub into: Sites,
    /// The tool, if the author names one; a motion uses what is in the hand.
    pub tool: Option<ToolId>,
    /// What is in the hand.
    pub hand: Option<ToolId>,
    /// What is taken between, the shortest first.
    pub rungs: Vec<Rung>,
    /// Where those lie: the longer sides.
    pub longer: Sites,
    /// The mark from which it starts.
    pub landmark: Option<MarkId>,
    /// How long it takes.
    pub time: Interval<Time>,
}

/// The same stroke over several sites.
#[derive(Clone, Debug)]
pub struct Work {
    /// Where.
    pub sites: Sites,
    /// What.
    pub stroke: Stroke,
    /// How long it takes.
    pub time: Interval<Time>,
    /// The statement of the first site, for the order of lines.
    pub statement: Place,
}

/// Plans a visit.
#[must_use]
pub fn plan(choices: &Choices, trade: &Trade, dog: &Dog, finishes: &Finishes) -> Plan {
    Body::of(choices, trade, dog, finishes).plan(&Without::default())
}

/// Plans a visit without some of it; none if the dog would stand for longer than `most`.
fn plan_within(body: &Body<'_>, without: &Without, most: Option<Time>) -> Option<Plan> {
    let Body { trade, dog, choices, .. } = *body;
    let mut plan = if dog.stops_visit(trade) {
        // The look over and the talk are left, and no order.
        let mut tasks: Vec<Task> = usual(trade, "check").into_iter().filter(|t| !without.leaves_out(t)).collect();
        towelled(&mut tasks, trade, without);
        Plan { tasks, ..Plan::default() }
    } else {
        ordered_within(body, without, most)?
    };
    let mut limits = limits(choices, trade, dog);
    limits.in_all = limits.in_all.map(|l| Limit { time: Time((l.time.0 - without.stood.0).max(0)), ..l });
    plan.bears = bears::bears(&plan, limits, without.at_stretch, trade);
    Some(plan)
}

/// The work in order, before anybody rests. What is too long is given up as early as that is certain.
fn ordered_within(body: &Body<'_>, without: &Without, most: Option<Time>) -> Option<Plan> {
    let Body { trade, dog, choices, finishes, .. } = *body;
    let too_long = |stands: Time| most.is_some_and(|most| stands > most);
    let at_least = |tasks: &[Task]| stood::at_least(tasks.iter().map(|t| (&t.kind, t.time)), trade);
    let mut tasks = tasks(body, without);
    let unblended = at_least(&tasks);
    if too_long(unblended) {
        return None;
    }
    blended(&mut tasks, body, without);
    let least = at_least(&tasks);
    if too_long(least) {
        return None;
    }
    let mut plan = groups::ordered(tasks, choices, trade, dog);
    if too_long(at_least(&plan.tasks)) {
        return None;
    }
    heat::place(&mut plan, choices, body, finishes);
    let stands = bears::stands(&plan, trade).high;
    // Pieces are given up by these bounds, so they are held to every plan that any test makes.
    debug_assert!(least <= stands && unblended <= stands, "{unblended:?} {least:?} {stands:?}");
    (!too_long(stands)).then_some(plan)
}

/// The steps of a visit without some of it, in the usual order, without blends.
fn tasks(body: &Body<'_>, without: &Without) -> Vec<Task> {
    let Body { trade, dog, choices, finishes, .. } = *body;
    let left = Among { finishes, but: without.finished | without.waits };
    let mut tasks = before(body, left, without);
    tasks.retain(|t| !without.leaves_out(t));
    towelled(&mut tasks, trade, without);
    let rough = left.iter().filter(|f| !without.set_in.has(f.site));
    let set_in = works(body, rough.filter_map(|f| f.rough.as_ref().map(|r| (f, r))));
    if !set_in.is_empty() {
        tasks.push(Task { time: total(&set_in), kind: TaskKind::SetIn(set_in) });
    }
    let mut parts = parts(body, left);
    arrange(&mut parts, choices, trade, dog);
    tasks.extend(parts);
    let mut ends = steps_of(body, &[Stage::LastLook]);
    ends.retain(|t| !without.leaves_out(t));
    tasks.extend(ends);
    // What a finding asks for at the end is no last look by itself.
    let looks = |t: &Task| match t.kind {
        TaskKind::Step { step, .. } => {
            stage(trade, step) == Some(Stage::LastLook) && !dog.asked_steps(trade).any(|asked| asked == step)
        }
        _ => false,
    };
    if !tasks.iter().any(looks) {
        tasks.extend(usual(trade, "last-look"));
    }
    tasks
}

/// A dog that is wet and isn't dried today for want of time, or since the visit stops, is at least towelled.
fn towelled(tasks: &mut Vec<Task>, trade: &Trade, without: &Without) {
    let stage = |t: &Task| match &t.kind {
        TaskKind::Step { step, .. } | TaskKind::Part { step, .. } => stage(trade, *step),
        TaskKind::Mats(_) => Some(Stage::Check),
        TaskKind::SetIn(_) => None,
    };
    if without.is_wet() && !tasks.iter().any(|t| stage(t) == Some(Stage::Dry)) {
        let at = tasks.iter().position(|t| stage(t) > Some(Stage::Dry)).unwrap_or(tasks.len());
        tasks.splice(at..at, usual(trade, "dry-towel"));
    }
}

impl Without {
    /// Whether it is a step that is left out.
    fn leaves_out(&self, task: &Task) -> bool {
        matches!(&task.kind, TaskKind::Step { step, .. } if self.steps.contains(step))
    }

    /// Whether the dog is wet.
    #[must_use]
    pub const fn is_wet(&self) -> bool {
        self.bathed && !self.dried
    }
}

/// Adds the blends to those steps.
fn blended(tasks: &mut [Task], body: &Body<'_>, without: &Without) {
    // A blend needs the finishes of both its sides, whenever they were made; the rest only what is still to do.
    let made = Among { finishes: body.finishes, but: without.waits };
    let finish = |task: &Task| match task.kind {
        TaskKind::Part { step, .. } => stage(body.trade, step) >= Some(Stage::Finish),
        _ => false,
    };
    let from = tasks.iter().position(finish).unwrap_or(tasks.len());
    let to = tasks.iter().rposition(finish).map_or(from, |last| last + 1);
    let parts = tasks.get_mut(from..to).unwrap_or_default();
    blends(parts, body, made);
    bands::times(parts, body);
}

/// Finishes without those of some places.
#[derive(Clone, Copy)]
struct Among<'a> {
    finishes: &'a Finishes,
    but: Sites,
}

impl<'a> Among<'a> {
    fn iter(self) -> impl Iterator<Item = &'a Finish> {
        self.finishes.all.iter().filter(move |f| !self.but.has(f.site))
    }

    fn at(self, site: Site) -> Option<&'a Finish> {
        self.finishes.at(site).filter(|_| !self.but.has(site))
    }
}

fn stage(trade: &Trade, step: StepId) -> Option<Stage> {
    trade.step(step).and_then(|s| s.stage)
}

fn total(works: &[Work]) -> Interval<Time> {
    works.iter().map(|work| work.time).sum()
}

/// The finishes, by the step of the basics that works their part.
fn parts(body: &Body<'_>, finishes: Among<'_>) -> Vec<Task> {
    let trade = body.trade;
    let steps: Vec<(StepId, Sites)> = trade
        .steps
        .iter()
        .enumerate()
        .filter(|(_, s)| s.stage == Some(Stage::Finish) && !s.on.is_empty())
        .filter_map(|(i, s)| Some((StepId(u16::try_from(i).ok()?), s.on)))
        .collect();
    let mut taken = Sites::NONE;
    let mut tasks = Vec::new();
    for (step, on) in steps {
        let here = on - taken;
        taken = taken | on;
        let works = works(
            body,
            finishes
                .iter()
                .filter(|f| {
                    here.has(f.site) && f.fine.tool.is_some() && !UNWASHED.iter().any(|(v, _)| *v == f.fine.verb)
                })
                .map(|f| (f, &f.fine)),
        );
        if !works.is_empty() {
            // What a part takes at least, whatever its area: looking, holding, turning.
            let usual = trade.step(step).and_then(|s| s.minutes).unwrap_or_default();
            let mut time = total(&works);
            let done = works.iter().fold(Sites::NONE, |set, w| set | w.sites);
            if share(trade, done) * 2 >= share(trade, here) {
                time = Interval { low: time.low.max(usual.low), high: time.high.max(usual.high) };
            }
            tasks.push(Task { time, kind: TaskKind::Part { step, works, blends: Vec::new() } });
        }
    }
    tasks
}

/// Equal strokes together, in the order of the text.
fn works<'f>(body: &Body<'_>, strokes: impl Iterator<Item = (&'f Finish, &'f Stroke)>) -> Vec<Work> {
    let mut works: Vec<Work> = Vec::new();
    for (finish, stroke) in strokes {
        let one = Sites::from_iter([finish.site]);
        match works.iter_mut().find(|w| w.stroke == *stroke) {
            Some(work) => {
                work.sites = work.sites | one;
                work.statement = work.statement.min(finish.statement);
            }
            None => works.push(Work {
                sites: one,
                stroke: stroke.clone(),
                time: Interval::point(Time(0)),
                statement: finish.statement,
            }),
        }
    }
    // Where a line would take a tool from what soils it to what wants it clean, the first is a line of its own, for later.
    let (mut soiling, mut sick) = (Vec::new(), Vec::new());
    let ill = body.dog.soiling(body.trade);
    for work in &mut works {
        let soils = work.sites & ill;
        if !soils.is_empty() && soils != work.sites {
            work.sites = work.sites - soils;
            sick.push(Work { sites: soils, ..work.clone() });
        }
        let soils = body.trade.of_hygiene(work.sites, Hygiene::Soils);
        if !soils.is_empty() && body.trade.hygiene_at(work.sites, Hygiene::Clean) {
            work.sites = work.sites - soils;
            soiling.push(Work { sites: soils, ..work.clone() });
        }
    }
    works.extend(soiling.into_iter().chain(sick));
    for work in &mut works {
        work.time = time(body, work);
    }
    works.sort_by_key(|w| w.statement);
    works
}

/// Area by rate, for each pass.
fn time(body: &Body<'_>, work: &Work) -> Interval<Time> {
    let Body { trade, dog, .. } = body;
    let (Some(weight), Some(rate)) = (dog.weight, work.stroke.tool.and_then(|t| trade.tool(t)).and_then(|t| t.rate))
    else {
        return Interval::point(Time(0));
    };
    let area = area(body, weight, work.sites);
    // The rates of the basics are for all passes together.
    at_rate(area, rate)
}

/// The share of the body that a set of sites is, in millionths.
fn share(trade: &Trade, sites: Sites) -> i64 {
    sites
        .iter()
        .filter_map(|s| trade.zone_of(s))
        .map(|(zone, side)| zone.share.0 / if side.is_some() { 2 } else { 1 })
        .sum()
}

/// How long an area takes at a rate.
fn at_rate(area: f64, rate: Interval<Rate>) -> Interval<Time> {
    let seconds = |rate: Rate| {
        #[allow(clippy::cast_precision_loss)]
        let per_minute = rate.0.max(1) as f64;
        #[allow(clippy::cast_possible_truncation)]
        let seconds = (area / per_minute * 60.0).round() as i64;
        Time(seconds)
    };
    Interval { low: seconds(rate.high), high: seconds(rate.low) }
}

/// Whether a statement in a guard is meant for this dog.
fn meant(finding: Option<FindingId>, dog: &Dog) -> bool {
    finding.is_none_or(|f| dog.has(f))
}
