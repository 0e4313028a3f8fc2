//! Two visits for what a dog doesn't bear at once: what it needs today, then what fits; the rest waits.
//!
//! First the mats, as many as there is time for; then the steps of which the basics say `waits no`, and the parts that such steps
//! work; then the bath with its drying; then part
//! after part as the whole order has them, each whole or not at all. Whatever doesn't fit even where everything goes slowly
//! waits.

use super::chosen::{Chosen, Piece, Region};
use super::order::sites_of;
use super::stood::at_least;
use super::{Body, Plan, Task, TaskKind, Without, plan_within, stage};
use crate::finish::{Did, Finish, Finishes, Outcome, Reason, Stroke};
use crate::measure::{Interval, Time};
use crate::names::card::{Dog, Mat};
use crate::names::sites::Sites;
use crate::names::trade::{Stage, Step, StepId, Trade, Verb, Zone};
use crate::names::zone_words::zone_words;
use std::collections::BTreeSet;

/// What is done today of a trim that the dog doesn't bear at once.
#[derive(Clone, Debug)]
pub struct Today {
    /// Today's order.
    pub plan: Plan,
    /// The finishes; what waits is left as it is.
    pub finishes: Finishes,
    /// What waits.
    pub waits: Waits,
}

/// What waits for another visit.
#[derive(Clone, Debug, Default)]
pub struct Waits {
    /// What came first, since it can't wait: the steps that the basics or a house mark so and those that a finding asks for, in
    /// the order in which they were chosen.
    pub first: Vec<StepId>,
    /// Steps.
    pub steps: Vec<StepId>,
    /// Places that aren't finished.
    pub sites: Sites,
    /// The steps that work those.
    pub parts: Vec<StepId>,
    /// The finishes of the whole.
    pub finishes: Finishes,
    /// How long the dog would stand for all of it.
    pub time: Interval<Time>,
    /// How many visits that takes, if each is as long as the dog bears.
    pub visits: i64,
    /// Where mats wait.
    pub mats_on: Sites,
    /// Whether bath and drying are more than any visit holds.
    pub no_bath: bool,
}

/// The dog with its mats parted into what there is time for today and what waits, where one of them is more than a visit holds; none
/// if none is. The worst come first, and of one the largest zone, then what lies beside it.
#[must_use]
pub fn parted_mats(body: &Body<'_>, whole: &Plan, without: &Without, first: &Today) -> Option<Dog> {
    if first.waits.mats_on.is_empty() {
        return None;
    }
    let Body { trade, dog, choices, finishes, .. } = *body;
    let mut split = Dog { mats: Vec::new(), ..dog.clone() };
    let mut of: Vec<usize> = Vec::new();
    let desk = Desk { trade, dog, body, whole, without, bears: Time(0) };
    for (number, mat) in dog.mats.iter().enumerate() {
        for sites in desk.grown(mat.sites) {
            split.mats.push(Mat { sites, ..mat.clone() });
            of.push(number);
        }
    }
    // What is done already has no place among these.
    let done: BTreeSet<usize> =
        (0..of.len()).filter(|n| of.get(*n).is_some_and(|m| without.mats.contains(m))).collect();
    let without = Without { mats: done, ..without.clone() };
    let body = Body::of(choices, trade, &split, finishes);
    let plan = body.plan(&without);
    let today = today(&body, &plan, &without)?;
    let taken = |n: usize| {
        let in_plan = |t: &Task| matches!(&t.kind, TaskKind::Mats(mats) if mats.contains(&n));
        today.plan.tasks.iter().any(in_plan)
    };
    let mut parted = Dog { mats: Vec::new(), ..dog.clone() };
    for (number, mat) in dog.mats.iter().enumerate() {
        let own = || of.iter().zip(&split.mats).enumerate().filter(|(_, (m, _))| **m == number);
        let sites = |now: bool| {
            own().filter(|(n, _)| taken(*n) == now).fold(Sites::NONE, |all, (_, (_, piece))| all | piece.sites)
        };
        let (now, later) = (sites(true), sites(false));
        if without.mats.is_empty() && !now.is_empty() && !later.is_empty() {
            for sites in [now, later] {
                parted.mats.push(Mat { sites, words: zone_words(trade, sites), ..mat.clone() });
            }
        } else {
            parted.mats.push(mat.clone());
        }
    }
    (parted.mats.len() > dog.mats.len()).then_some(parted)
}

/// What is done today, if the plan of the whole is more than the dog bears.
#[must_use]
pub fn today(body: &Body<'_>, whole: &Plan, without: &Without) -> Option<Today> {
    let bears = whole.bears.limits.in_all?.time;
    if whole.bears.fits() {
        return None;
    }
    let Body { trade, dog, choices, finishes, .. } = *body;
    let desk = Desk { trade, dog, body, whole, without, bears };
    let bathed = !desk.steps().any(|s| is_bath(stage(trade, s)));
    let mut chosen = Chosen { steps: desk.base(), bathed, wet: without.is_wet(), ..Chosen::default() };
    let (mut borne, mut off) = (None, 0);
    let pieces = desk.pieces();
    let mut left = pieces.as_slice();
    while !left.is_empty() {
        let more = desk.longer(&chosen, left);
        let (taken, plan) = desk.most(&chosen, &more, &mut off);
        borne = plan.or(borne);
        chosen = taken.checked_sub(1).and_then(|last| more.get(last)).unwrap_or(&chosen).clone();
        // The next of them is one too many.
        left = left.get(taken + 1..).unwrap_or_default();
    }
    let plan = borne.or_else(|| desk.plan(&chosen, None)).unwrap_or_default();
    let sites = desk.worked() - chosen.sites;
    let part = |task: &Task| match &task.kind {
        TaskKind::Part { step, .. } if sites_of(task).meets(sites) => Some(*step),
        _ => None,
    };
    let steps = desk.steps().filter(|s| !chosen.steps.contains(s)).collect();
    let less = |a: Time, b: Time| Time((a.0 - b.0).max(0));
    let time = Interval {
        low: less(whole.bears.stands.low, plan.bears.stands.low),
        high: less(whole.bears.stands.high, plan.bears.stands.high),
    };
    let limit = super::limits(choices, trade, dog).in_all.map_or(1, |l| l.time.0.max(1));
    Some(Today {
        waits: Waits {
            first: desk.first(),
            steps,
            mats_on: desk
                .mats()
                .iter()
                .filter(|n| !chosen.mats.contains(n))
                .filter_map(|n| dog.mats.get(*n))
                .fold(Sites::NONE, |all, m| all | m.sites),
            no_bath: desk.no_bath(&chosen),
            sites,
            parts: whole.tasks.iter().filter_map(part).collect(),
            finishes: finishes.clone(),
            time,
            visits: (time.high.0 + limit - 1) / limit,
        },
        plan,
        finishes: Finishes {
            all: finishes.all.iter().map(|f| if sites.has(f.site) { waiting(f) } else { f.clone() }).collect(),
            referred: finishes.referred,
        },
    })
}

const fn is_bath(stage: Option<Stage>) -> bool {
    matches!(stage, Some(Stage::Wash | Stage::Dry | Stage::Check))
}

struct Desk<'a> {
    trade: &'a Trade,
    dog: &'a Dog,
    body: &'a Body<'a>,
    whole: &'a Plan,
    without: &'a Without,
    /// For how long the dog may still stand.
    bears: Time,
}

impl Desk<'_> {
    /// The steps of the whole.
    fn steps(&self) -> impl Iterator<Item = StepId> + '_ {
        self.whole.tasks.iter().filter_map(|t| match &t.kind {
            TaskKind::Step { step, .. } => Some(*step),
            _ => None,
        })
    }

    /// The mats of the whole, the worst first.
    fn mats(&self) -> Vec<usize> {
        let of = |t: &Task| if let TaskKind::Mats(mats) = &t.kind { mats.clone() } else { Vec::new() };
        let mut mats: Vec<usize> = self.whole.tasks.iter().flat_map(of).collect();
        mats.sort_by_key(|n| std::cmp::Reverse(self.dog.mats.get(*n).map(|m| m.grade)));
        mats
    }

    /// Whether the bath waits, and would even if a visit were for nothing else.
    fn no_bath(&self, chosen: &Chosen) -> bool {
        let bath: BTreeSet<StepId> = self.steps().filter(|s| is_bath(stage(self.trade, *s))).collect();
        let washes = bath.iter().any(|s| stage(self.trade, *s) == Some(Stage::Wash));
        if !washes || bath.is_subset(&chosen.steps) {
            return false;
        }
        let limit = super::limits(self.body.choices, self.trade, self.dog).in_all.map(|l| l.time);
        let alone = Chosen { steps: self.base().into_iter().chain(bath).collect(), ..Chosen::default() };
        let without = Without { stood: Time(0), at_stretch: Time(0), ..self.without(&alone) };
        plan_within(self.body, &without, limit).is_none()
    }

    /// Every place that the whole works.
    fn worked(&self) -> Sites {
        self.whole.tasks.iter().fold(Sites::NONE, |all, t| all | sites_of(t))
    }

    /// Without these there is no visit: looked over, agreed, and looked at in the end.
    fn base(&self) -> BTreeSet<StepId> {
        let always = |s: &StepId| {
            let ends = matches!(stage(self.trade, *s), Some(Stage::Intake | Stage::LastLook));
            ends && !self.may_wait(*s)
        };
        self.steps().filter(always).collect()
    }

    fn may_wait(&self, step: StepId) -> bool {
        self.trade.step(step).is_none_or(|s| s.waits)
    }

    /// The parts that can't wait, each with the step that works it.
    fn needed_parts(&self) -> Vec<(StepId, Sites)> {
        let finishing = self.parts(Sites::NONE, true);
        let worked =
            finishing.iter().fold(Sites::NONE, |all, p| if let Piece::Part(r) = p { all | r.sites } else { all });
        let mut needs = Sites::NONE;
        let mut parts = Vec::new();
        // What is only done somewhere, such as nails, is no part that is finished.
        let part = |s: &Step| s.stage.is_none_or(|stage| stage == Stage::Finish) && !s.on.is_empty();
        for (number, step) in self.trade.steps.iter().enumerate().filter(|(_, s)| !s.waits && part(s)) {
            let Ok(number) = u16::try_from(number) else { continue };
            let here = (step.on & worked) - needs;
            needs = needs | here;
            parts.extend((!here.is_empty()).then_some((StepId(number), here)));
        }
        parts
    }

    /// The steps that a finding asks for.
    fn asked(&self) -> BTreeSet<StepId> {
        self.dog.asked_steps(self.trade).collect()
    }

    /// The bath, if a finding asks for it.
    fn asked_bath(&self) -> Option<StepId> {
        let asked = self.asked();
        self.steps().find(|s| asked.contains(s) && stage(self.trade, *s) == Some(Stage::Wash))
    }

    /// The steps that can't wait, or that a finding asks for.
    fn needed_steps(&self) -> Vec<StepId> {
        let asked = self.asked();
        let bath = |s: &StepId| is_bath(stage(self.trade, *s));
        self.steps().filter(|s| !self.may_wait(*s) || (asked.contains(s) && !bath(s))).collect()
    }

    /// Both, without what frames every visit.
    fn first(&self) -> Vec<StepId> {
        let frame = self.base();
        let steps = self.needed_steps().into_iter().filter(|s| !frame.contains(s));
        let mut all: Vec<StepId> = self.asked_bath().into_iter().collect();
        for step in self.needed_parts().into_iter().map(|(step, _)| step).chain(steps) {
            if !all.contains(&step) {
                all.push(step);
            }
        }
        all
    }

    /// What may be chosen, the most needed first.
    fn pieces(&self) -> Vec<Piece> {
        let bath = |s: &StepId| is_bath(stage(self.trade, *s));
        // What a finding asks for before the mats, such as ticks out, is done before a blade comes near.
        let mats = self.trade.index.steps.get(super::PELTS_OFF).copied();
        let needed = self.needed_steps();
        let asked = self.asked();
        let early =
            |s: &&StepId| asked.contains(s) && Some(**s) < mats && stage(self.trade, **s) <= Some(Stage::DryPrep);
        let mut pieces: Vec<Piece> = Vec::new();
        if self.without.is_wet() {
            pieces.push(Piece::Bath(self.steps().filter(bath).collect()));
        }
        pieces.extend(needed.iter().filter(early).map(|s| Piece::Steps(vec![*s])));
        pieces.extend(self.mats().into_iter().map(Piece::Mat));
        // A bath that a finding asks for comes before all that doesn't hurt to wait.
        pieces.extend(self.asked_bath().map(|_| Piece::Bath(self.steps().filter(bath).collect())));
        let parts = self.needed_parts();
        let needs = parts.iter().fold(Sites::NONE, |all, (_, sites)| all | *sites);
        pieces.extend(parts.into_iter().map(|(_, sites)| Piece::Needs(sites)));
        pieces.extend(needed.into_iter().map(|s| Piece::Steps(vec![s])));
        // Whatever is stripped or carded is so before the bath.
        pieces.extend(self.parts(needs, false));
        pieces.push(Piece::Bath(self.steps().filter(bath).collect()));
        pieces.extend(self.parts(needs, true));
        pieces.extend(self.steps().filter(|s| !bath(s)).map(|s| Piece::Steps(vec![s])));
        pieces
    }

    /// The parts beside what can't wait: those that want a clean coat, or an unwashed one. One that no visit can hold is taken
    /// zone by zone, up to the first that there is no time for: a jacket isn't left in patches.
    fn parts(&self, needs: Sites, clean: bool) -> Vec<Piece> {
        let mut pieces = Vec::new();
        for task in &self.whole.tasks {
            let TaskKind::Part { step, .. } = &task.kind else { continue };
            let here = sites_of(task) - needs;
            if here.is_empty() || (stage(self.trade, *step) >= Some(Stage::Finish)) != clean {
                continue;
            }
            if task.time.high > self.bears {
                let mut after = Sites::NONE;
                for sites in self.grown(here) {
                    pieces.push(Piece::Part(Region { sites, clean, after }));
                    after = after | sites;
                }
            } else {
                pieces.push(Piece::Part(Region { sites: here, clean, after: Sites::NONE }));
            }
        }
        pieces
    }

    /// The zones of these places: the largest first, then always the largest beside what is there already.
    fn grown(&self, here: Sites) -> Vec<Sites> {
        let mut left: Vec<&Zone> = self.trade.zones.iter().filter(|z| z.sites().meets(here)).collect();
        let (mut grown, mut order) = (Sites::NONE, Vec::new());
        while !left.is_empty() {
            let beside =
                |z: &Zone| z.borders.iter().filter_map(|id| self.trade.zone(*id)).any(|b| b.sites().meets(grown));
            // Of equal ones the first of the body.
            let next = (0..left.len()).rev().max_by_key(|n| left.get(*n).map(|z| (beside(z), z.share)));
            let zone = left.remove(next.unwrap_or(0));
            grown = grown | (zone.sites() & here);
            order.push(zone.sites() & here);
        }
        order
    }

    /// What is chosen with the first of these pieces, with the first two, and so on.
    fn longer(&self, chosen: &Chosen, pieces: &[Piece]) -> Vec<Chosen> {
        let mut more = chosen.clone();
        let taken = pieces.iter().map(|piece| {
            more.take(piece);
            more.clone()
        });
        taken.collect()
    }

    /// How many of these choices, each with more than the one before, the dog bears, and the plan of the last of them where it holds
    /// more than what is chosen already. Where the dog bears a long visit it bears its beginning, so that few need a plan.
    ///
    /// `off` is by how much the last guess was too low.
    fn most(&self, chosen: &Chosen, longer: &[Chosen], off: &mut i64) -> (usize, Option<Plan>) {
        let (mut low, mut found) = (longer.partition_point(|more| more == chosen), None);
        let mut high = longer.len();
        let guessed = |off: i64| longer.partition_point(|more| self.guess(more).0 + off <= self.bears.0);
        // The guess is mostly right, or nearly: from there on one more, or one less, then two …
        let (mut at, mut stride) = (guessed(*off), 1);
        while low < high {
            at = at.clamp(low + 1, high);
            let Some(more) = longer.get(at - 1) else { break };
            match self.plan(more, Some(self.bears)) {
                Some(plan) => {
                    *off = plan.bears.stands.high.0 - self.guess(more).0;
                    (low, found) = (at, Some(plan));
                    at = guessed(*off).max(at + stride);
                }
                None => {
                    high = at - 1;
                    at = high.saturating_sub(stride - 1);
                }
            }
            stride *= 2;
        }
        (low, found)
    }

    /// For how long the dog stands for what is chosen, about, from what its steps take in the whole.
    fn guess(&self, chosen: &Chosen) -> Time {
        let share = |task: &Task| {
            let (some, all) = match &task.kind {
                TaskKind::Step { step, .. } => (u32::from(chosen.steps.contains(step)), 1),
                TaskKind::Mats(mats) => {
                    let share = |n: &usize| self.dog.mats.get(*n).map_or(0, |m| m.sites.len());
                    (mats.iter().filter(|n| chosen.mats.contains(n)).map(share).sum(), mats.iter().map(share).sum())
                }
                TaskKind::SetIn(_) | TaskKind::Part { .. } => {
                    let sites = sites_of(task);
                    ((sites & chosen.sites).len(), sites.len())
                }
            };
            task.time.map(|t| Time(t.0 * i64::from(some) / i64::from(all.max(1))))
        };
        at_least(self.whole.tasks.iter().map(|task| (&task.kind, share(task))), self.trade)
    }

    /// The plan of what is chosen; none if the dog stands for longer than this.
    fn plan(&self, chosen: &Chosen, most: Option<Time>) -> Option<Plan> {
        plan_within(self.body, &self.without(chosen), most)
    }

    /// All that isn't chosen.
    fn without(&self, chosen: &Chosen) -> Without {
        let mut without = self.without.clone();
        without.steps.extend(self.steps().filter(|s| !chosen.steps.contains(s)));
        // What is stripped or carded by parts is a plain step where no part is left, and waits then, too.
        without.steps.extend(self.whole.tasks.iter().filter_map(|t| match &t.kind {
            TaskKind::Part { step, .. } if !sites_of(t).meets(chosen.sites) => Some(*step),
            _ => None,
        }));
        without.mats.extend((0..self.dog.mats.len()).filter(|n| !chosen.mats.contains(n)));
        without.waits = self.worked() - chosen.sites;
        without
    }
}

/// A place as it comes.
pub(crate) fn waiting(finish: &Finish) -> Finish {
    let mut reasons = finish.reasons.clone();
    reasons.push(Reason { what: Did::Waits, place: finish.statement });
    let fine = Stroke {
        verb: Verb::Leave,
        tool: None,
        over: None,
        direction: None,
        passes: 1,
        leaves: None,
        closeness: None,
        gap: None,
        manners: Vec::new(),
    };
    Finish { rough: None, fine, outcome: Outcome::Waits, reasons, ..finish.clone() }
}
