//! The blade's stops on a sheet: felt, swapped for a cool one, left to cool; and how many of a blade are laid out.

use super::build::Builder;
use super::make::Made;
use super::{Line, words};
use crate::names::trade::ToolId;
use crate::plan::{ForBlade, Line as Part, Stop};

impl Builder<'_> {
    /// The stops before a line of a task, or within it.
    pub(super) fn stops(&self, task: usize, part: Part, within: bool) -> Vec<Line> {
        let plan = &self.made.plan;
        let here = |s: &&Stop| {
            let of = plan.order.groups.get(s.group).map(|g| g.task);
            of == Some(task) && s.line == part && (s.part.0 > 0) == within
        };
        let stops: Vec<&Stop> = plan.stops.iter().filter(here).collect();
        let alike = |a: &Stop, b: &Stop| (a.what, a.blade, a.comb) == (b.what, b.blade, b.comb);
        let mut lines = Vec::new();
        for (n, stop) in stops.iter().enumerate() {
            // Several of one kind within a line are told once.
            let same = stops.iter().filter(|s| within && alike(s, stop)).count();
            if stops.iter().take(n).any(|s| within && alike(s, stop)) {
                continue;
            }
            lines.push(self.stop(stop, same));
        }
        lines
    }

    /// A hand in the air of the dryer that runs in a task.
    pub(super) fn airs(&self, task: usize) -> Vec<Line> {
        let Made { trade, plan, .. } = self.made;
        let of = plan.airs(trade).filter(|air| air.task == task);
        of.map(|air| {
            let again = air.every.map(|every| format!(", and again every {}", words::plain_time(every.low)));
            let declared = trade.step_called("feel-air");
            Line {
                tool: trade.tool(air.dryer).map(|t| t.name.replace('-', " ")),
                work: format!("your hand in the air where it meets the dog{}", again.unwrap_or_default()),
                caution: declared.and_then(|s| s.cautions.first().cloned()),
                ..Line::default()
            }
        })
        .collect()
    }

    /// The stops within a line, said at its end: a line of their own would read as work that comes after it.
    pub(super) fn within(&self, task: usize, part: Part, lines: &mut [Line]) {
        let Some(last) = lines.last_mut() else { return };
        for stop in self.stops(task, part, true) {
            let words = match stop.tool {
                // Short, since it stands at the end of a line: `half-way a cool #5F`.
                Some(blade) => stop.work.replacen("swap it for the cool one", &format!("a cool {blade}"), 1).replacen(
                    " it ",
                    &format!(" the {blade} "),
                    1,
                ),
                None => stop.work,
            };
            last.how = Some(last.how.take().map_or_else(|| words.clone(), |how| format!("{how}, {words}")));
        }
    }

    fn stop(&self, stop: &Stop, same: usize) -> Line {
        let trade = &self.made.trade;
        let name = trade.tool(stop.blade).map(|t| t.name.to_string());
        let when = when(stop, same, self.piece(stop));
        let when = when.map(|w| format!("{w} ")).unwrap_or_default();
        let (step, work) = match stop.what {
            ForBlade::Feel(None) => ("feel-blade", "feel it on the inside of the wrist".to_owned()),
            ForBlade::Feel(Some(every)) => (
                "feel-blade",
                format!("feel it on the inside of the wrist, and again every {}", words::plain_time(every)),
            ),
            ForBlade::Swap => ("blade-change", format!("{when}swap it for the cool one")),
            ForBlade::Cool => {
                let time = words::minutes(stop.time).unwrap_or_default();
                ("cool-blade", format!("{when}let it cool on a tile, {time}"))
            }
        };
        // What is minded at each of them is said at the first.
        let kind = |s: &Stop| (std::mem::discriminant(&s.what), s.part.0 > 0);
        let first = self.made.plan.stops.iter().find(|s| kind(s) == kind(stop)) == Some(stop);
        let declared = trade.step_called(step);
        let caution = declared.filter(|_| first).and_then(|s| s.cautions.first().cloned());
        Line { tool: name, work, caution, ..Line::default() }
    }

    /// The whole minutes of work between two stops within a line.
    fn piece(&self, stop: &Stop) -> i64 {
        let run = self.made.plan.run_at(stop);
        run.map_or(0, |r| r.time.0 / i64::from(stop.part.1.max(1)) / 60)
    }

    /// How many of a blade are used: more than one if it is swapped.
    pub(super) fn laid_out_of(&self, blade: ToolId) -> u32 {
        let swaps = self.made.plan.stops.iter().filter(|s| s.blade == blade && s.what == ForBlade::Swap).count();
        // The first is cool again before a third is needed, as a rule; who has three lays them out.
        self.made.choices.count_of(blade).min(u32::try_from(swaps).unwrap_or(u32::MAX).saturating_add(1)).max(1)
    }
}

/// Where in the line: `half-way`, `every 4 min`.
fn when(stop: &Stop, same: usize, minutes: i64) -> Option<String> {
    let (at, of) = stop.part;
    match (at, of) {
        (0, _) => None,
        _ if same > 1 && minutes > 0 => Some(format!("every {minutes} min")),
        (1, 2) | (2, 4) => Some("half-way".to_owned()),
        _ => Some(format!("when {at} of {of} parts are done")),
    }
}

/// `two`, `three`; none for one.
pub(super) fn many(count: u32) -> Option<String> {
    match count {
        0 | 1 => None,
        2 => Some("two".to_owned()),
        3 => Some("three".to_owned()),
        n => Some(n.to_string()),
    }
}
