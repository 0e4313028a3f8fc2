//! `why-order`: why each step stands where it stands, and what the next-best order costs.

use crate::measure::{Interval, Time};
use crate::names::trade::ToolKind;
use crate::names::zone_words::zone_words;
use crate::plan::{Change, ForBlade, Lines, Stop, Why, Wish, WorkOrder};
use crate::sheet::{Made, Request, numbered};
use crate::source::{Place, Sources};

/// The answer for the steps of one sheet, or what is wrong with the step that was asked for.
///
/// # Errors
/// In words, if no step has this number or name.
pub fn why_order(made: &Made, sources: &Sources, request: &Request, step: Option<&str>) -> Result<Vec<String>, String> {
    let steps: Vec<Step> = numbered(made, sources, request)
        .into_iter()
        .map(|(number, title, tasks)| Step { number, title, tasks })
        .collect();
    let answer = Answer { made, sources, steps: &steps };
    let Some(asked) = step else {
        let mut lines = vec![answer.whole()];
        for at in 0..steps.len() {
            lines.extend(answer.step(at));
        }
        return Ok(lines);
    };
    let wanted = asked.trim().to_lowercase();
    let is = |s: &&Step| match wanted.parse::<u32>() {
        Ok(number) => s.number == number,
        Err(_) => !wanted.is_empty() && s.title.to_lowercase().contains(&wanted),
    };
    let mut found = steps.iter().enumerate().filter(|(_, s)| is(s)).map(|(n, _)| n);
    match (found.next(), found.next()) {
        (Some(at), None) => Ok(answer.step(at).into_iter().chain(answer.within(at)).collect()),
        (Some(_), Some(_)) => Err(format!("more than one step is called so: `{asked}`; give its number")),
        (None, _) => Err(format!("no step is called `{asked}`; the sheet has 1 to {}", steps.len())),
    }
}

/// A step of the sheet.
struct Step {
    number: u32,
    title: String,
    tasks: Vec<usize>,
}

struct Answer<'a> {
    made: &'a Made,
    sources: &'a Sources,
    steps: &'a [Step],
}

impl Answer<'_> {
    fn order(&self) -> &WorkOrder {
        &self.made.plan.order
    }

    fn whole(&self) -> String {
        let order = self.order();
        let takes = tenths(order.cost);
        if order.proved {
            format!(
                "Changes of tool and place take about {takes} in all. No order that keeps what is said below takes less."
            )
        } else {
            let least = tenths(order.bound);
            format!(
                "Changes of tool and place take about {takes} in all. This is the best found; no order takes less than {least}."
            )
        }
    }

    /// The groups of a step, in order.
    fn groups(&self, step: &Step) -> Vec<usize> {
        let of = self.order().groups.iter().enumerate().filter(|(_, g)| step.tasks.contains(&g.task));
        of.map(|(n, _)| n).collect()
    }

    /// Why a step stands after the one before it, and what it costs elsewhere.
    fn step(&self, at: usize) -> Vec<String> {
        let Some(step) = self.steps.get(at) else { return Vec::new() };
        let mut lines = vec![format!("{} {}", step.number, step.title)];
        let own = self.groups(step);
        let mut told: Vec<(String, Vec<String>)> = Vec::new();
        for earlier in self.steps.iter().take(at) {
            let theirs = self.groups(earlier);
            let edges = self.order().edges.iter().filter(|e| theirs.contains(&e.before) && own.contains(&e.after));
            // One reason suffices, the strongest; the usual way alone is told only of the step straight before.
            let strength = |w: &Why| match w {
                Why::Wish(_) => 0,
                Why::Basics(..) => 1,
                Why::BothSides => 2,
                _ => 3,
            };
            let Some(edge) = edges.min_by_key(|e| strength(&e.why)) else { continue };
            let straight = self.steps.get(at - 1).is_some_and(|s| s.number == earlier.number);
            if matches!(edge.why, Why::Usual) && !straight {
                continue;
            }
            let name = format!("{} {}", earlier.number, earlier.title);
            let why = self.why(&edge.why);
            match told.iter_mut().find(|(w, _)| *w == why) {
                Some((_, names)) => names.push(name),
                None => told.push((why, vec![name])),
            }
        }
        lines.extend(told.into_iter().map(|(why, names)| format!("  after {}: {why}", names.join(", "))));
        if let Some(first) = own.first().filter(|n| **n > 0) {
            let change = self.order().change_before(*first, &self.made.trade);
            lines.extend(said(&change).map(|words| format!("  to begin it: {words}")));
        }
        lines.extend(self.elsewhere(at, &own));
        lines.extend(self.made.plan.stops.iter().filter(|s| own.contains(&s.group)).map(|s| self.heat(s)));
        lines
    }

    /// Why a blade is felt or changed there.
    fn heat(&self, stop: &Stop) -> String {
        let Made { trade, plan, .. } = self.made;
        let name = trade.tool(stop.blade).map(|t| t.name.as_str()).unwrap_or_default();
        let ran = if stop.ran.0 < 120 { format!("{} s", stop.ran.0) } else { format!("{} min", stop.ran.0 / 60) };
        let warm = format!("may have run {ran} and be at {} °C", stop.warmth);
        let burns = format!("it {warm} by then; longer, and skin that it lay on would redden");
        match stop.what {
            ForBlade::Feel(every) => {
                let thin = plan.run_at(stop).map(|r| zone_words(trade, r.thin)).unwrap_or_default();
                let when = every.map_or_else(|| "at".to_owned(), |t| format!("every {} min over", t.0 / 60));
                format!("  heat: the {name} is felt {when} {thin}, thin or tender skin: it {warm} there")
            }
            ForBlade::Swap => format!("  heat: the {name} is swapped: {burns}"),
            ForBlade::Cool => format!("  heat: the {name} cools, since the kit has no other: {burns}"),
        }
    }

    /// What the next-best order costs in which this step doesn't follow the one before it.
    fn elsewhere(&self, at: usize, own: &[usize]) -> Option<String> {
        let last = self.steps.get(at.checked_sub(1)?)?;
        let theirs = self.groups(last);
        let pairs: Vec<(usize, usize)> = theirs.iter().flat_map(|a| own.iter().map(move |b| (*a, *b))).collect();
        let Some((other, cost)) = self.order().otherwise(&pairs) else {
            return Some(format!("  nowhere else: it must follow straight on {} {}", last.number, last.title));
        };
        // The step that it follows there.
        let first = other.iter().position(|n| own.contains(n))?;
        let follows = first.checked_sub(1).and_then(|n| other.get(n));
        let step = follows.and_then(|n| self.steps.iter().find(|s| self.groups(s).contains(n)));
        let place = step.map_or("first of all".to_owned(), |s| format!("after {} {}", s.number, s.title));
        let more = match cost.saturating_sub(self.order().cost) {
            0 => "costs the same; this one is nearer to the usual order".to_owned(),
            more => format!("takes {} more", tenths(more)),
        };
        Some(format!("  next best: {place}, which {more}"))
    }

    /// The groups of one step: what is changed before each, and why it isn't earlier.
    fn within(&self, at: usize) -> Vec<String> {
        let Some(step) = self.steps.get(at) else { return Vec::new() };
        let groups = self.groups(step);
        let mut lines = Vec::new();
        for (place, number) in groups.iter().enumerate().filter(|_| groups.len() > 1) {
            let mut words = vec![self.group(*number)];
            let change = self.order().change_before(*number, &self.made.trade);
            words.extend(said(&change));
            let last = place.checked_sub(1).and_then(|n| groups.get(n));
            let edge = self.order().edges.iter().find(|e| Some(&e.before) == last && e.after == *number);
            match (edge, last) {
                (Some(edge), _) => words.push(self.why(&edge.why)),
                (None, Some(last)) => {
                    let more = self.order().otherwise(&[(*last, *number)]);
                    let more = more.map(|(_, cost)| cost.saturating_sub(self.order().cost));
                    words.push(match more {
                        None => "nothing else can stand here".to_owned(),
                        Some(0) => "anywhere else it costs the same, so it stands as the recipe has it".to_owned(),
                        Some(more) => format!("anywhere else it costs {} more", tenths(more)),
                    });
                }
                (None, None) => {}
            }
            lines.push(format!("  · {}", words.join("; ")));
        }
        lines
    }

    /// A group by its tool and what it is.
    fn group(&self, number: usize) -> String {
        let trade = &self.made.trade;
        let Some(group) = self.order().groups.get(number) else { return String::new() };
        let tool = group.begins.tool.and_then(|t| trade.tool(t)).map(crate::finish::tool_words);
        let over = group.begins.over.and_then(|t| trade.tool(t)).filter(|t| t.kind == ToolKind::Blade);
        let over = over.map(|t| format!(" over {}", t.name)).unwrap_or_default();
        let blends = if matches!(group.lines, Lines::Blends(_)) { ", blending" } else { "" };
        format!("{}{over}{blends}", tool.unwrap_or_else(|| "by hand".to_owned()))
    }

    fn why(&self, why: &Why) -> String {
        match why {
            Why::Usual => "as a visit goes".to_owned(),
            Why::Basics(_, later) => {
                let place = self.made.trade.step(*later).map(|s| s.place);
                match place.filter(|p| self.is_read(*p)) {
                    Some(place) => format!("the steps say so, {}", self.at(place)),
                    None => "the steps of the basics say so".to_owned(),
                }
            }
            Why::Wish(Wish::First(place)) => format!("it comes first, {}", self.at(*place)),
            Why::Wish(Wish::Last(place)) => format!("last, {}", self.at(*place)),
            Why::Wish(Wish::Order(place)) => format!("`order` says so, {}", self.at(*place)),
            Why::BothSides => "a blend comes when both its sides are finished".to_owned(),
            Why::PartFirst => "the part first, then its blends".to_owned(),
            Why::ClipFirst => "clipped before it is scissored".to_owned(),
        }
    }

    /// Whether a place is in a file that was read, and not in the embedded basics.
    fn is_read(&self, place: Place) -> bool {
        !self.sources.text(place.file).is_empty()
    }

    fn at(&self, place: Place) -> String {
        format!("{}:{}", self.sources.name(place.file), self.sources.line_column(place).0)
    }
}

/// `blade change and walk round, 15 to 20 s`; none if nothing is changed.
fn said(change: &Change) -> Option<String> {
    let names: Vec<String> = change.steps.iter().map(|s| s.replace('-', " ")).collect();
    let Interval { low: Time(low), high: Time(high) } = change.time;
    let time = if low == high { format!("{high} s") } else { format!("{low} to {high} s") };
    (!names.is_empty()).then(|| format!("{}, {time}", names.join(" and ")))
}

/// Tenths of a second as a groomer says them: single seconds up to ten, then fives, and from two minutes on whole minutes.
fn tenths(tenths: u64) -> String {
    match tenths.div_ceil(10) {
        s @ ..=10 => format!("{s} s"),
        s @ ..120 => format!("{} s", s.div_ceil(5) * 5),
        s => format!("{} min", (s + 30) / 60),
    }
}
