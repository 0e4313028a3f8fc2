//! How long the dog stands, when it rests, and what waits for another visit, in words.

use super::build::Builder;
use super::make::Made;
use super::steps::Placed;
use super::words::{hours, minutes, plain_time, sentence};
use crate::finish::Outcome;
use crate::measure::{Interval, Time};
use crate::names::sites::Sites;
use crate::names::trade::{Stage, StepId};
use crate::names::zone_words::{list_words, zone_words};
use crate::plan::{By, Limit, Lines, Rest, TaskKind, clipped_off, sum};

impl Builder<'_> {
    /// How long the dog bears it, who says so, and how long it stands.
    pub(super) fn stands(&self) -> Option<String> {
        let bears = &self.made.plan.bears;
        let (stretch, all) = (bears.limits.at_stretch, bears.limits.in_all);
        let said = |limit: &Limit| plain_time(limit.time);
        let words = match (&stretch, &all) {
            (Some(s), Some(a)) if s.by == a.by => {
                format!("{} at a stretch, {} in all ({})", said(s), said(a), self.by(s.by))
            }
            (Some(s), Some(a)) => {
                format!("{} at a stretch ({}), {} in all ({})", said(s), self.by(s.by), said(a), self.by(a.by))
            }
            (Some(s), None) => format!("{} at a stretch ({})", said(s), self.by(s.by)),
            (None, Some(a)) => format!("{} in all ({})", said(a), self.by(a.by)),
            (None, None) => return None,
        };
        let count: i64 = bears.rests.iter().map(|r| r.times.max(1)).sum();
        let rests = match (count, self.rest()) {
            (0, _) | (_, None) => "no rest needed".to_owned(),
            (1, Some(rest)) => format!("1 rest of {rest}"),
            (n, Some(rest)) => format!("{n} rests of {rest}"),
        };
        let on_feet = hours(bears.stands);
        let left = if self.made.earlier.is_some() { "Still bears" } else { "Bears" };
        let mut line = format!("{left} {words}: {rests}; on its feet {on_feet}");
        if !bears.fits() {
            line.push_str(". This doesn't fit into one visit: the sheet of the day begins with what the dog needs");
        }
        Some(line)
    }

    fn by(&self, by: By) -> String {
        match by {
            By::Card => "card".to_owned(),
            By::Finding(id) => self.made.trade.finding(id).map(|f| f.name.replace('-', " ")).unwrap_or_default(),
            By::Text => "house or recipe".to_owned(),
            By::Basics => "any dog".to_owned(),
        }
    }

    /// How long a rest is.
    fn rest(&self) -> Option<String> {
        minutes(self.made.plan.bears.limits.rest?.1)
    }

    /// A rest in words; the first on the sheet says how.
    fn rest_words(&self, first: bool) -> Option<String> {
        let (id, time) = self.made.plan.bears.limits.rest?;
        let step = self.made.trade.step(id)?;
        let long = minutes(time)?;
        Some(if first {
            let caution = step.cautions.first().map(|c| format!(" {c}")).unwrap_or_default();
            format!("Rest {long}. {}{caution}", step.about)
        } else {
            format!("Rest {long}")
        })
    }

    /// The rests before groups of a task other than its first, each with the work or blend before which it stands: what is
    /// left for a rest is left between two tools.
    pub(super) fn breaks(&self, task: usize) -> (Vec<usize>, Vec<usize>) {
        let order = &self.made.plan.order;
        let (mut works, mut blends) = (Vec::new(), Vec::new());
        for rest in self.made.plan.bears.rests.iter().filter(|r| r.times == 0) {
            let Some(group) = order.groups.get(rest.group).filter(|g| g.task == task) else { continue };
            match &group.lines {
                Lines::Works(lines) => works.extend(lines.first().filter(|n| **n > 0)),
                Lines::Blends(lines) if self.inside(rest) => blends.extend(lines.first()),
                _ => {}
            }
        }
        (works, blends)
    }

    /// Whether a rest stands within a task.
    fn inside(&self, rest: &Rest) -> bool {
        let task = |n: usize| self.made.plan.order.groups.get(n).map(|g| g.task);
        rest.times == 0 && rest.group.checked_sub(1).is_some_and(|before| task(before) == task(rest.group))
    }

    /// Writes the rests, the headings and the running time to the steps.
    pub(super) fn paced(&self, steps: &mut [Placed]) {
        let Made { plan, trade, .. } = self.made;
        let mut told = false;
        let mut heading = "";
        let mut begun: Vec<Interval<Time>> = Vec::new();
        let rest_time = plan.bears.limits.rest.map(|(_, time)| time).unwrap_or_default();
        for placed in steps {
            let stage = placed.tasks.first().and_then(|t| plan.tasks.get(*t)).and_then(|t| match &t.kind {
                TaskKind::Step { step, .. } | TaskKind::Part { step, .. } => trade.step(*step).and_then(|s| s.stage),
                TaskKind::Mats(_) => Some(Stage::DryPrep),
                TaskKind::SetIn(_) => Some(Stage::Rough),
            });
            let own: Vec<Rest> = {
                let task = |r: &&Rest| plan.order.groups.get(r.group).is_some_and(|g| placed.tasks.contains(&g.task));
                plan.bears.rests.iter().filter(task).copied().collect()
            };
            for rest in &own {
                if rest.times > 0 {
                    placed.step.breaks = self.within_words(rest, stage);
                } else if !self.inside(rest) {
                    placed.step.rest = self.rest_words(!told);
                    told = true;
                    begun.push(rest_time);
                }
            }
            if let Some(station) = station(stage).filter(|s| *s != heading) {
                heading = station;
                placed.step.station = Some(station.to_owned());
                placed.step.begins = Some(sum(begun.iter().copied())).filter(|time| time.high.0 > 0).map(hours);
            }
            for line in placed.step.lines.iter_mut().filter(|l| l.rest.is_some()) {
                line.rest = self.rest_words(!told);
                told = true;
            }
            begun.extend(placed.tasks.iter().filter_map(|t| plan.tasks.get(*t)).map(|t| t.time));
            let inner: i64 = own.iter().filter(|r| self.inside(r) || r.times > 0).map(|r| r.times.max(1)).sum();
            begun.extend((0..inner).map(|_| rest_time));
        }
    }

    /// How often one rests within what is longer than a stretch.
    fn within_words(&self, rest: &Rest, stage: Option<Stage>) -> Option<String> {
        let limit = plain_time(self.made.plan.bears.limits.at_stretch?.time);
        let long = self.rest()?;
        Some(match stage {
            // A wet dog isn't put down half washed.
            Some(Stage::Wash) => format!(
                "Done within {limit} if you can; else water off after {limit}, a hand on it, and let it sit or lie in the tub, {long}"
            ),
            Some(Stage::Dry) => {
                format!(
                    "Rest {long} when {limit} are up since the last rest{}: in a towel, out of the draught",
                    often(rest.times)
                )
            }
            _ => format!(
                "Rest {long} when {limit} are up since the last rest{}, at the end of a part",
                often(rest.times)
            ),
        })
    }

    /// What waits for another visit, why, and how the dog goes home.
    pub(super) fn waits(&self) -> Vec<String> {
        let Made { trade, dog, choices, plan, waits, .. } = self.made;
        let Some(waits) = waits else { return Vec::new() };
        let mut what: Vec<String> = waits.steps.iter().filter_map(|s| self.step_name(*s)).collect();
        let matted = |t: &crate::plan::Task| matches!(t.kind, TaskKind::Mats(_));
        if !waits.mats_on.is_empty() {
            let some = if plan.tasks.iter().any(matted) { "the rest of the mats" } else { "the mats" };
            what.insert(0, some.to_owned());
        }
        for (id, part) in waits.parts.iter().filter_map(|id| Some((id, trade.step(*id)?))) {
            let title = super::titles::part_title(&part.name).to_lowercase();
            let begun = plan.tasks.iter().any(|t| matches!(&t.kind, TaskKind::Part { step, .. } if step == id));
            what.push(if begun { format!("the rest of {title}") } else { title });
        }
        let more = match waits.visits {
            1 => "one more visit".to_owned(),
            n => format!("{n} more visits"),
        };
        let mut lines =
            vec![format!("{}: about {} on its feet, {more}", sentence(&list_words(&what)), hours(waits.time))];
        if let Some(limit) = plan.bears.limits.in_all {
            lines.push(format!(
                "Why: all of it is {} on its feet, and {} {} {} in all ({}){}",
                hours(waits.time + plan.bears.stands),
                sentence(&dog.name.replace('-', " ")),
                if self.made.earlier.is_some() { "still bears" } else { "bears" },
                plain_time(limit.time),
                self.by(limit.by),
                self.comes_first()
            ));
        }
        if waits.no_bath {
            lines.push(format!(
                "A bath with its drying is more than {} bears in any visit: ask the vet, and wash by parts or with a cloth",
                sentence(&dog.name.replace('-', " "))
            ));
        }
        let done: Sites = self.made.finishes.all.iter().filter(|f| f.fine.tool.is_some()).map(|f| f.site).collect();
        let came = dog.length.map(|l| format!(" ({l} or what the card says)")).unwrap_or_default();
        lines.push(if done.is_empty() {
            format!("Goes home in the coat that it came in{came}")
        } else {
            let off = |mat| clipped_off(mat, choices, trade, dog, self.made.whole()).is_some();
            let now = |t: &crate::plan::Task| match &t.kind {
                TaskKind::Mats(mats) => mats.iter().filter_map(|n| dog.mats.get(*n)).any(off),
                _ => false,
            };
            let mats = if plan.tasks.iter().any(now) { ", short where mats came off" } else { "" };
            format!(
                "Goes home done on the {}{mats}; elsewhere in the coat that it came in{came}",
                zone_words(trade, done)
            )
        });
        lines
    }

    /// What came first since it can't wait, as the basics, the house and the findings have it for this dog.
    fn comes_first(&self) -> String {
        let Made { trade, plan, waits, .. } = self.made;
        let Some(waits) = waits else { return String::new() };
        let matted = plan.tasks.iter().any(|t| matches!(t.kind, TaskKind::Mats(_)));
        // Of what there was no time for that is no longer so.
        let worked = plan.tasks.iter().fold(Sites::NONE, |all, t| match &t.kind {
            TaskKind::Part { works, .. } => works.iter().fold(all, |all, w| all | w.sites),
            _ => all,
        });
        let steps = waits.first.iter().filter(|id| !waits.steps.contains(id)).filter_map(|id| trade.step(*id));
        let steps =
            steps.filter(|s| s.on.is_empty() || s.stage.is_some_and(|s| s < Stage::Finish) || s.on.meets(worked));
        let steps = steps.map(|s| super::titles::part_title(&s.name).to_lowercase());
        let all: Vec<String> = matted.then(|| "mats".to_owned()).into_iter().chain(steps).collect();
        if all.is_empty() { String::new() } else { format!(". What it needs comes first: {}", all.join(", ")) }
    }

    fn step_name(&self, step: StepId) -> Option<String> {
        self.made.trade.step(step).map(|s| s.name.replace('-', " "))
    }
}

impl Made {
    /// Whether the dog was bathed before.
    pub(super) fn is_bathed(&self) -> bool {
        self.earlier.as_ref().is_some_and(|e| e.bathed)
    }

    /// The finishes of the whole trim: a mat comes off with the blade of the finish beneath, though that waits.
    pub(crate) fn whole(&self) -> &crate::finish::Finishes {
        self.waits.as_ref().map_or(&self.finishes, |w| &w.finishes)
    }

    /// The places that wait for another visit.
    pub(super) fn waiting(&self) -> Sites {
        self.finishes.all.iter().filter(|f| f.outcome == Outcome::Waits).map(|f| f.site).collect()
    }
}

fn often(times: i64) -> String {
    if times > 1 { format!(", {times} times") } else { String::new() }
}

/// Where the work of a stage is done, as a heading.
const fn station(stage: Option<Stage>) -> Option<&'static str> {
    Some(match stage {
        Some(Stage::Intake) => "Before anything",
        Some(Stage::DryPrep) => "On the table, prep",
        Some(Stage::Rough) => "On the table, roughing in",
        Some(Stage::Wash) => "In the tub",
        Some(Stage::Dry) => "Drying",
        Some(Stage::Check | Stage::Finish) => "On the table, finishing",
        Some(Stage::LastLook) => "Before home",
        None => return None,
    })
}
