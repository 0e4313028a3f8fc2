//! When which blade runs, over what skin, for how long; and when none does.

use super::super::mats::clipped_off;
use super::super::{Body, Lines, PELTS_OFF, Plan, Task, TaskKind, Work, area, at_rate};
use crate::choices::Choices;
use crate::finish::{Finishes, active_keeps};
use crate::measure::Time;
use crate::names::sites::Sites;
use crate::names::trade::{Bound, Skin, ToolId, ToolKind, Trade};

/// A line of a task.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Line {
    /// One of its works.
    Work(usize),
    /// One of its blends.
    Blend(usize),
    /// One of the mats that are clipped off, by its number on the card.
    Mat(usize),
}

/// A stretch of an order in which a blade runs, or none does.
#[derive(Clone, Debug, PartialEq)]
pub enum Moment {
    /// A blade runs.
    Run(Run),
    /// None does, for so long at least.
    Pause(Time),
}

/// A blade that runs.
#[derive(Clone, Debug, PartialEq)]
pub struct Run {
    /// In which group of the order.
    pub group: usize,
    /// For which line.
    pub line: Line,
    /// The blade.
    pub blade: ToolId,
    /// The comb on it.
    pub comb: Option<ToolId>,
    /// Where.
    pub sites: Sites,
    /// Which of those are thin skin, or tender on this dog.
    pub thin: Sites,
    /// How long at most.
    pub time: Time,
}

/// The order as its blades see it.
pub(super) fn moments(plan: &Plan, choices: &Choices, body: &Body<'_>, finishes: &Finishes) -> Vec<Moment> {
    let mut reader = Reader { plan, choices, body, finishes, moments: Vec::new() };
    for number in 0..plan.order.groups.len() {
        reader.group(number);
    }
    reader.moments
}

struct Reader<'a> {
    plan: &'a Plan,
    choices: &'a Choices,
    body: &'a Body<'a>,
    finishes: &'a Finishes,
    moments: Vec<Moment>,
}

impl Reader<'_> {
    fn group(&mut self, number: usize) {
        let Some(group) = self.plan.order.groups.get(number) else { return };
        let Some(task) = self.plan.tasks.get(group.task) else { return };
        match (&task.kind, &group.lines) {
            (TaskKind::Mats(mats), _) => self.mats(number, task, mats),
            (TaskKind::SetIn(works) | TaskKind::Part { works, .. }, Lines::Works(lines)) => {
                for (line, work) in lines.iter().filter_map(|n| Some((*n, works.get(n.to_owned())?))) {
                    self.work(number, line, work);
                }
            }
            (TaskKind::Part { blends, .. }, Lines::Blends(lines)) => {
                for (line, blend) in lines.iter().filter_map(|n| Some((*n, blends.get(*n)?))) {
                    let tools: Vec<(ToolId, Option<ToolId>, Sites)> = if blend.rungs.is_empty() {
                        blend.hand.map(|t| (t, None, blend.from | blend.into)).into_iter().collect()
                    } else {
                        blend.rungs.iter().map(|r| (r.tool, r.over, blend.longer)).collect()
                    };
                    // The slow end of a rung's share: the rungs of one blend are of one kind, and take alike.
                    let count = i64::try_from(tools.len()).unwrap_or(1).max(1);
                    for (tool, over, sites) in tools {
                        let time = Time((blend.time.high.0 + count - 1) / count);
                        self.run(number, Line::Blend(line), (tool, over), sites, time, Time(blend.time.low.0 / count));
                    }
                }
            }
            _ => self.moments.push(Moment::Pause(task.time.low)),
        }
    }

    fn work(&mut self, group: usize, line: usize, work: &Work) {
        match work.stroke.tool {
            Some(tool) => {
                let tools = (tool, work.stroke.over);
                self.run(group, Line::Work(line), tools, work.sites, work.time.high, work.time.low);
            }
            None => self.moments.push(Moment::Pause(work.time.low)),
        }
    }

    /// A line with its tool: a run, or a pause if no blade moves in it.
    fn run(
        &mut self,
        group: usize,
        line: Line,
        (tool, over): (ToolId, Option<ToolId>),
        sites: Sites,
        time: Time,
        least: Time,
    ) {
        let kind = self.body.trade.tool(tool).map(|t| t.kind);
        if !kind.is_some_and(ToolKind::on_clipper) {
            self.moments.push(Moment::Pause(least));
            return;
        }
        // A comb of which nobody says what is beneath stands for its blade.
        let (blade, comb) = over.map_or((tool, None), |blade| (blade, Some(tool)));
        let thin = self.thin(sites);
        self.moments.push(Moment::Run(Run { group, line, blade, comb, sites, thin, time }));
    }

    fn mats(&mut self, group: usize, task: &Task, mats: &[usize]) {
        let Body { trade, dog, .. } = *self.body;
        let rate = trade.step_called(PELTS_OFF);
        let rate = rate.and_then(|s| s.rate).zip(dog.weight);
        let mut any = false;
        for number in mats {
            let Some(mat) = dog.mats.get(*number) else { continue };
            let Some((sites, stroke)) = clipped_off(mat, self.choices, trade, dog, self.finishes) else { continue };
            let Some(tool) = stroke.tool else { continue };
            let time = rate.map(|(rate, weight)| at_rate(area(self.body, weight, sites), rate)).unwrap_or_default();
            any = true;
            self.run(group, Line::Mat(*number), (tool, stroke.over), sites, time.high, time.low);
        }
        if !any {
            self.moments.push(Moment::Pause(task.time.low));
        }
    }

    /// Where the skin isn't as thick as elsewhere: by the zone, or because a finding on the dog keeps blades from going close.
    fn thin(&self, sites: Sites) -> Sites {
        let Body { trade, dog, .. } = *self.body;
        let by_zone = |site| trade.zone_of(site).is_some_and(|(zone, _)| zone.skin != Skin::Flat);
        let tender =
            |site| active_keeps(self.choices, trade, dog, site).iter().any(|k| k.fact().is_some() && floor(k.bound()));
        sites.iter().filter(|s| by_zone(*s) || tender(*s)).collect()
    }
}

const fn floor(bound: &Bound) -> bool {
    matches!(bound, Bound::NoCloser(..) | Bound::NoCloserOverCause(_))
}

/// How many of a blade the kit has.
pub(super) fn owned(choices: &Choices, blade: ToolId, trade: &Trade) -> usize {
    let clips = trade.tool(blade).is_some_and(|t| t.kind == ToolKind::Blade);
    if clips { usize::try_from(choices.count_of(blade)).unwrap_or(1).max(1) } else { 1 }
}
