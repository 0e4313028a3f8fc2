//! The order of work: the backbone of a visit, as the steps of the basics give it, with the recipe's `order`, `first` and
//! `last`.
//!
//! Prep, then set-ins, then the finishing steps, each working its own part of the dog; a blend comes with the later of its
//! two sides. Planning by cost is a stage of its own, later.

use crate::choices::Choices;
use crate::finish::{ActiveKeep, Breach, Finish, Finishes, Stroke, active_keeps, breach};
use crate::measure::{Interval, Rate, Time};
use crate::models::surface;
use crate::names::card::Dog;
use crate::names::condition::Grade;
use crate::names::sites::Sites;
use crate::names::trade::{Ban, Bound, FindingId, KeepOn, Stage, Step, StepId, ToolId, ToolKind, Trade, Verb};
use crate::source::Place;

/// The order of one visit.
#[derive(Clone, Debug, Default)]
pub struct Plan {
    /// The steps in working order.
    pub tasks: Vec<Task>,
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
    // A finding that stops the visit leaves the look over and the talk.
    if dog.findings.iter().any(|f| trade.finding(f.finding).is_some_and(|f| f.stops_visit)) {
        return Plan { tasks: usual(trade, "check").into_iter().collect() };
    }
    let mut tasks = before(choices, trade, dog, finishes);
    let set_in = works(trade, dog, finishes.all.iter().filter_map(|f| f.rough.as_ref().map(|r| (f, r))));
    if !set_in.is_empty() {
        tasks.push(Task { time: total(&set_in), kind: TaskKind::SetIn(set_in) });
    }
    let mut parts = parts(trade, dog, finishes);
    arrange(&mut parts, choices, trade, dog);
    blends(&mut parts, choices, trade, dog, finishes);
    tasks.extend(parts);
    tasks.extend(steps_of(choices, trade, dog, &[Stage::LastLook]));
    if !tasks.iter().any(|t| matches!(&t.kind, TaskKind::Step { step, .. } if stage(trade, *step) == Some(Stage::LastLook))) {
        tasks.extend(usual(trade, "last-look"));
    }
    Plan { tasks }
}

fn stage(trade: &Trade, step: StepId) -> Option<Stage> {
    trade.steps.get(step.0 as usize).and_then(|s| s.stage)
}

fn total(works: &[Work]) -> Interval<Time> {
    works.iter().fold(Interval::point(Time(0)), |sum, work| Interval {
        low: Time(sum.low.0 + work.time.low.0),
        high: Time(sum.high.0 + work.time.high.0),
    })
}

/// Everything before the first finish: intake, nails and ears, mats, bath, drying, the comb test.
fn before(choices: &Choices, trade: &Trade, dog: &Dog, finishes: &Finishes) -> Vec<Task> {
    let mut tasks = steps_of(choices, trade, dog, &[Stage::Intake]);
    if tasks.is_empty() {
        tasks.extend(usual(trade, "check"));
    }
    tasks.extend(steps_of(choices, trade, dog, &[Stage::DryPrep]));
    let mats: Vec<usize> = (0..dog.mats.len()).filter(|i| dog.mats.get(*i).is_some_and(|m| m.grade > Grade::None)).collect();
    if !mats.is_empty() {
        let step = if dog.worst_mats() >= Grade::Tight { "pelts-off" } else { "dematt" };
        let time = trade
            .index
            .steps
            .get(step)
            .and_then(|id| trade.steps.get(id.0 as usize))
            .and_then(|s| s.minutes)
            .unwrap_or(Interval::point(Time(900)));
        // The step of the basics says it once, with the mats' places.
        tasks.retain(|t| !matches!(&t.kind, TaskKind::Step { step: id, .. } if trade.steps.get(id.0 as usize).is_some_and(|s| s.name == step)));
        // Mats come off before the coat is raked or carded, as the basics list those steps.
        let dematt = trade.index.steps.get("dematt").copied();
        let at = tasks
            .iter()
            .position(|t| matches!(&t.kind, TaskKind::Step { step, .. } if stage(trade, *step) == Some(Stage::DryPrep) && Some(*step) > dematt))
            .unwrap_or(tasks.len());
        tasks.insert(at, Task { kind: TaskKind::Mats(mats), time });
    }
    tasks.extend(steps_of(choices, trade, dog, &[Stage::Rough]));
    for (verb, name) in UNWASHED {
        unwashed(&mut tasks, *verb, name, trade, dog, finishes);
    }
    tasks.extend(steps_of(choices, trade, dog, &[Stage::Wash, Stage::Dry, Stage::Check]));
    tasks
}

/// Work that wants a dry, unwashed coat, and the step of the basics that it belongs to: washed hair slips, and dead coat
/// comes out before the water sets it.
const UNWASHED: &[(Verb, &str)] =
    &[(Verb::HandStrip, "hand-stripping"), (Verb::Card, "carding"), (Verb::Rake, "undercoat-out")];

fn unwashed(tasks: &mut Vec<Task>, verb: Verb, name: &str, trade: &Trade, dog: &Dog, finishes: &Finishes) {
    let strokes = finishes.all.iter().filter(|f| f.fine.verb == verb).map(|f| (f, &f.fine));
    let works = works(trade, dog, strokes);
    let Some(step) = trade.index.steps.get(name).copied().filter(|_| !works.is_empty()) else { return };
    let task = Task { time: total(&works), kind: TaskKind::Part { step, works, blends: Vec::new() } };
    match tasks.iter().position(|t| matches!(&t.kind, TaskKind::Step { step: s, .. } if *s == step)) {
        Some(at) => {
            if let Some(slot) = tasks.get_mut(at) {
                *slot = task;
            }
        }
        None => tasks.push(task),
    }
}

fn usual(trade: &Trade, name: &str) -> Option<Task> {
    let id = *trade.index.steps.get(name)?;
    let step = trade.steps.get(id.0 as usize)?;
    let time = step.minutes.unwrap_or(Interval::point(Time(0)));
    Some(Task { kind: TaskKind::Step { step: id, words: String::new(), not_on: Sites::NONE }, time })
}

/// The steps that the recipe, its bases and its house ask for in these stages. Of two texts that name one step the nearer
/// counts; `dry` alone is what the coat asks for.
fn steps_of(choices: &Choices, trade: &Trade, dog: &Dog, stages: &[Stage]) -> Vec<Task> {
    let mut tasks: Vec<(Stage, usize, Task)> = Vec::new();
    let site = trade.all_sites().iter().next();
    let nearest_drying = choices
        .prep
        .iter()
        .filter(|p| stage(trade, p.step) == Some(Stage::Dry))
        .map(|p| p.level)
        .max();
    let mut seen: Vec<StepId> = Vec::new();
    for ask in choices.prep.iter().rev() {
        let Some(stage) = stage(trade, ask.step).filter(|s| stages.contains(s)) else { continue };
        if !site.is_none_or(|s| ask.cond.holds(dog, s)) || (stage == Stage::Dry && Some(ask.level) != nearest_drying) {
            continue;
        }
        let mut step = ask.step;
        let plain_dry = trade.steps.get(step.0 as usize).is_some_and(|s| s.name == "dry");
        if plain_dry && let Some(by_coat) = dog.coat.and_then(|c| trade.coat(c)).and_then(|c| c.dries) {
            step = by_coat;
        }
        let mut not_on = forbidden(step, choices, trade, dog);
        if not_on == trade.all_sites() {
            // Another way to dry, if there is one; any other step is left out, and the sheet says so.
            let gentler = ["dry-stand", "dry-towel"].into_iter().filter_map(|n| trade.index.steps.get(n).copied());
            let other = gentler.filter(|_| stage == Stage::Dry).find(|s| forbidden(*s, choices, trade, dog) != trade.all_sites());
            let Some(other) = other else { continue };
            step = other;
            not_on = forbidden(step, choices, trade, dog);
        }
        if seen.contains(&step) || (stage == Stage::Dry && !washed(choices, trade, dog)) {
            continue;
        }
        seen.push(step);
        let Some(declared) = trade.steps.get(step.0 as usize) else { continue };
        let mut time = declared.minutes.unwrap_or_else(|| by_surface(declared, trade, dog));
        if let Some(most) = ask.at_most {
            time = Interval { low: time.low.min(most), high: time.high.min(most) };
        }
        // Declared later in the basics is later in the stage.
        tasks.push((
            stage,
            usize::from(step.0),
            Task { kind: TaskKind::Step { step, words: ask.words.clone(), not_on }, time },
        ));
    }
    tasks.sort_by_key(|(stage, step, _)| (*stage, *step));
    tasks.into_iter().map(|(_, _, task)| task).collect()
}

/// Whether some bath is left to dry after.
fn washed(choices: &Choices, trade: &Trade, dog: &Dog) -> bool {
    choices
        .prep
        .iter()
        .any(|p| stage(trade, p.step) == Some(Stage::Wash) && forbidden(p.step, choices, trade, dog) != trade.all_sites())
}

/// Where the keeps on this dog rule a step out, by its own name or by the tool that it uses.
#[must_use]
pub fn forbidden(step: StepId, choices: &Choices, trade: &Trade, dog: &Dog) -> Sites {
    let uses = trade.steps.get(usize::from(step.0)).and_then(|s| s.uses);
    let names = |bound: &Bound| match bound {
        Bound::Never(bans) => bans.iter().any(|ban| match ban {
            Ban::Step(s) => *s == step,
            other => uses.is_some_and(|tool| trade.names(*other, tool)),
        }),
        _ => false,
    };
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

/// A step that goes over the whole dog takes its surface over the rate of the tool that it uses.
fn by_surface(step: &Step, trade: &Trade, dog: &Dog) -> Interval<Time> {
    let rate = step.uses.and_then(|t| trade.tool(t)).and_then(|t| t.rate);
    match (rate, dog.weight) {
        (Some(rate), Some(weight)) => at_rate(surface::surface(weight), rate),
        _ => Interval::point(Time(0)),
    }
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

/// The finishes, by the step of the basics that works their part.
fn parts(trade: &Trade, dog: &Dog, finishes: &Finishes) -> Vec<Task> {
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
            trade,
            dog,
            finishes
                .all
                .iter()
                .filter(|f| here.has(f.site) && f.fine.tool.is_some() && !UNWASHED.iter().any(|(v, _)| *v == f.fine.verb))
                .map(|f| (f, &f.fine)),
        );
        if !works.is_empty() {
            // What a part takes at least, whatever its area: looking, holding, turning.
            let usual = trade.steps.get(step.0 as usize).and_then(|s| s.minutes).unwrap_or_default();
            let time = total(&works);
            let time = Interval { low: time.low.max(usual.low), high: time.high.max(usual.high) };
            tasks.push(Task { time, kind: TaskKind::Part { step, works, blends: Vec::new() } });
        }
    }
    tasks
}

/// Equal strokes together, in the order of the text.
fn works<'f>(trade: &Trade, dog: &Dog, strokes: impl Iterator<Item = (&'f Finish, &'f Stroke)>) -> Vec<Work> {
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
    for work in &mut works {
        work.time = time(trade, dog, work);
    }
    works.sort_by_key(|w| w.statement);
    works
}

/// Area by rate, for each pass.
fn time(trade: &Trade, dog: &Dog, work: &Work) -> Interval<Time> {
    let (Some(weight), Some(rate)) = (dog.weight, work.stroke.tool.and_then(|t| trade.tool(t)).and_then(|t| t.rate)) else {
        return Interval::point(Time(0));
    };
    let area: f64 = work
        .sites
        .iter()
        .filter_map(|s| trade.zone_of(s))
        .map(|(zone, side)| surface::area(weight, zone.share) / if side.is_some() { 2.0 } else { 1.0 })
        .sum();
    // The rates of the basics are for all passes together.
    at_rate(area, rate)
}

fn sites_of(task: &Task) -> Sites {
    match &task.kind {
        TaskKind::Part { works, .. } | TaskKind::SetIn(works) => {
            works.iter().fold(Sites::NONE, |set, w| set | w.sites)
        }
        _ => Sites::NONE,
    }
}

/// `first`, `last` and `order` over the parts; what they don't say stays as the basics have it.
fn arrange(parts: &mut Vec<Task>, choices: &Choices, trade: &Trade, dog: &Dog) {
    let sites: Vec<Sites> = parts.iter().map(sites_of).collect();
    let mut edges: Vec<(usize, usize)> = Vec::new();
    for (bound, on) in order_keeps(choices, trade, dog) {
        for (number, own) in sites.iter().enumerate() {
            // A part follows the wish of most of its sites.
            if (*own & on).len() * 2 <= own.len() {
                continue;
            }
            for (other, theirs) in sites.iter().enumerate() {
                if other != number && (*theirs & on).len() * 2 <= theirs.len() {
                    edges.push(if bound { (number, other) } else { (other, number) });
                }
            }
        }
    }
    for order in &choices.orders {
        let holds = meant(order.finding, dog) && order.first.iter().next().is_none_or(|s| order.cond.holds(dog, s));
        for (a, first) in sites.iter().enumerate().filter(|_| holds) {
            for (b, then) in sites.iter().enumerate() {
                if a != b && first.meets(order.first) && then.meets(order.then) {
                    edges.push((a, b));
                }
            }
        }
    }
    let mut rest: Vec<usize> = (0..parts.len()).collect();
    let mut sorted = Vec::new();
    while !rest.is_empty() {
        // Contradictions have messages of their own; here the first part of a circle goes ahead.
        let next = rest
            .iter()
            .position(|n| !edges.iter().any(|(a, b)| b == n && a != n && rest.contains(a)))
            .unwrap_or(0);
        sorted.push(rest.remove(next));
    }
    let mut slots: Vec<Option<Task>> = parts.drain(..).map(Some).collect();
    parts.extend(sorted.into_iter().filter_map(|n| slots.get_mut(n).and_then(Option::take)));
}

/// `first` (true) and `last` (false) that bind this dog, with their sites.
fn order_keeps(choices: &Choices, trade: &Trade, dog: &Dog) -> Vec<(bool, Sites)> {
    let mut found = Vec::new();
    for entry in &choices.keeps {
        let first = match entry.line.bound {
            Bound::First => true,
            Bound::Last => false,
            _ => continue,
        };
        let KeepOn::Sites(sites) = entry.line.on else { continue };
        let known = entry.finding.is_none_or(|f| dog.findings.iter().any(|fact| fact.finding == f));
        if known && sites.iter().next().is_some_and(|s| entry.cond.holds(dog, s)) {
            found.push((first, sites));
        }
    }
    for fact in &dog.findings {
        let Some(finding) = trade.finding(fact.finding) else { continue };
        for line in &finding.keeps {
            let sites = match line.on {
                KeepOn::Sites(sites) => sites,
                KeepOn::Place => fact.sites,
                KeepOn::Dog => continue,
            };
            match line.bound {
                Bound::First => found.push((true, sites)),
                Bound::Last => found.push((false, sites)),
                _ => {}
            }
        }
    }
    found
}

/// Whether a statement in a guard is meant for this dog.
fn meant(finding: Option<FindingId>, dog: &Dog) -> bool {
    finding.is_none_or(|f| dog.findings.iter().any(|fact| fact.finding == f))
}

/// Whether a blend's own tool may come to a site: its keeps hold for a blend as for any other stroke.
fn blends_with(finish: &Finish, tool: Option<ToolId>, choices: &Choices, trade: &Trade, dog: &Dog) -> bool {
    let Some(tool) = tool else { return true };
    active_keeps(choices, trade, dog, finish.site).iter().all(|keep| blend_breach(finish, tool, keep, trade).is_none())
}

/// Whether a finish takes length off: what is left, raked or carded has no step to blend.
#[must_use]
pub fn shortens(finish: &Finish, trade: &Trade) -> bool {
    finish.fine.kind(trade).is_some_and(|k| !matches!(k, ToolKind::Rake | ToolKind::Brush | ToolKind::Carder))
}

/// What a blend's own tool breaks where a site is finished so.
#[must_use]
pub fn blend_breach(finish: &Finish, tool: ToolId, keep: &ActiveKeep<'_>, trade: &Trade) -> Option<Breach> {
    let declared = trade.tool(tool)?;
    let hair = finish.fine.leaves.map(|l| l.low);
    let closeness = match declared.kind {
        ToolKind::Shears | ToolKind::Thinners => hair.max(declared.closeness),
        _ => declared.closeness,
    };
    let stroke = Stroke {
        tool: Some(tool),
        over: None,
        direction: None,
        passes: 1,
        closeness,
        gap: declared.gap,
        ..finish.fine.clone()
    };
    breach(&stroke, keep.bound(), keep.fact().and_then(|f| f.after), trade)
}

/// A blend is made where the later of its two sides is finished.
fn blends(parts: &mut [Task], choices: &Choices, trade: &Trade, dog: &Dog, finishes: &Finishes) {
    let sites: Vec<Sites> = parts.iter().map(sites_of).collect();
    for (number, blend) in choices.blends.iter().enumerate() {
        if !meant(blend.finding, dog) || !blend.from.iter().next().is_none_or(|s| blend.cond.holds(dog, s)) {
            continue;
        }
        // A nearer text that blends the same parts replaces a base's way.
        let replaced = choices.blends.iter().any(|other| {
            other.level > blend.level && blend.from.within(other.from) && blend.into.within(other.into)
        });
        let tool = blend.by.as_ref().and_then(|name| trade.index.tools.get(name)).copied();
        let worked = |set: Sites| -> Sites {
            set.iter().filter(|s| finishes.at(*s).is_some_and(|f| shortens(f, trade) && blends_with(f, tool, choices, trade, dog))).collect()
        };
        let (from, into) = (worked(blend.from), worked(blend.into));
        if from.is_empty() || into.is_empty() {
            continue;
        }
        let last = sites.iter().rposition(|s| s.meets(from | into));
        if let (false, Some(last)) = (replaced, last)
            && let Some(TaskKind::Part { blends, .. }) = parts.get_mut(last).map(|t| &mut t.kind)
        {
            blends.push(BlendWork { ask: number, from, into, tool });
        }
    }
}
