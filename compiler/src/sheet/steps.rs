//! The steps of a sheet: what is done where, with which tool, and the one thing to mind.

use super::build::Builder;
use super::cautions::Said;
use super::details::did_words;
use super::make::Made;
use super::replan::Key;
use super::titles::{part_title, step_title, together};
use super::words::joined;
use super::{Line, Step, words};
use crate::finish::active_keeps;
use crate::names::condition::Grade;
use crate::names::sites::Sites;
use crate::names::trade::{Bound, Stage, ToolKind, Trade};
use crate::names::zone_words::zone_words;
use crate::plan::{BlendWork, Dealt, Line as Part, TaskKind, Work, dealt, dematt_most};

/// A step of the sheet with what it stands for.
pub(super) struct Placed {
    pub(super) step: Step,
    /// The places that it finishes.
    pub(super) finished: Sites,
    /// The tasks of the plan that it holds.
    pub(super) tasks: Vec<usize>,
}

impl Builder<'_> {
    /// The steps, each with the places that it finishes and the tasks that it holds.
    pub(super) fn steps(&self) -> Vec<Placed> {
        let Made { trade, dog, .. } = self.made;
        let mut steps: Vec<Placed> = Vec::new();
        let earlier = self.made.earlier.clone().unwrap_or_default();
        let mut said = Said::after(earlier.soiled);
        for (number, task) in self.made.plan.tasks.iter().enumerate() {
            let minutes = words::minutes(task.time);
            let step = match &task.kind {
                TaskKind::Step { step, words, not_on } => {
                    let Some(declared) = trade.step(*step) else { continue };
                    let title = step_title(&declared.name, words);
                    let mut caution = self.step_caution(declared, &mut said);
                    if matches!(declared.stage, Some(Stage::Wash | Stage::Dry | Stage::Check)) {
                        caution = joined(self.kept_dry(), caution);
                    }
                    if steps.is_empty() {
                        caution = joined(caution, self.beyond_the_strip());
                    }
                    let not_on = (!not_on.is_empty()).then(|| format!("Not on the {}.", zone_words(trade, *not_on)));
                    caution = joined(not_on, caution);
                    plain_step(title, minutes, self.airs(number), caution)
                }
                TaskKind::Mats(mats) => {
                    let mut lines = Vec::new();
                    for (at, mat) in mats.iter().filter_map(|i| Some((*i, dog.mats.get(*i)?))) {
                        lines.extend(self.stops(number, Part::Mat(at), false));
                        lines.push(self.mat_line(mat, &mut said));
                        self.within(number, Part::Mat(at), &mut lines);
                    }
                    let caution = dog.mats.iter().any(|m| m.grade >= Grade::Tight).then(|| {
                        "Dry, skin flat; never shears under a mat. Stop if it is worse than the card says.".to_owned()
                    });
                    let title = if self.made.is_bathed() { "Mats, once it is dry" } else { "Mats, before any water" };
                    plain_step(title.to_owned(), minutes, lines, caution)
                }
                TaskKind::SetIn(works) => {
                    let lines = self.lines_between(number, works, &mut said);
                    plain_step("Set in".to_owned(), minutes, lines, None)
                }
                TaskKind::Part { step, works, blends } => {
                    let Some(declared) = trade.step(*step) else { continue };
                    let mut lines = self.lines_between(number, works, &mut said);
                    lines.extend(self.blends_between(number, blends, &mut said));
                    let title = part_title(&declared.name);
                    plain_step(title, minutes, lines, self.step_caution(declared, &mut said))
                }
            };
            let finished = match &task.kind {
                TaskKind::Part { works, .. } => works.iter().fold(Sites::NONE, |all, w| all | w.sites),
                _ => Sites::NONE,
            };
            steps.push(Placed { step, finished, tasks: vec![number] });
        }
        let mut steps = together(steps, &self.made.plan);
        let mut numbers = earlier.numbers;
        for placed in &mut steps {
            let kinds = placed.tasks.iter().filter_map(|t| self.made.plan.tasks.get(*t)).map(|t| Key::of(&t.kind));
            placed.step.number = numbers.of(kinds);
        }
        self.paced(&mut steps);
        taken_up(&mut steps);
        steps
    }

    /// The lines of a task; where the dog rests within it, a line begins.
    fn lines_between(&self, task: usize, works: &[Work], said: &mut Said) -> Vec<Line> {
        between(works, &self.breaks(task).0, |first, part| self.lines((task, first), part, said))
    }

    fn blends_between(&self, task: usize, blends: &[BlendWork], said: &mut Said) -> Vec<Line> {
        between(blends, &self.breaks(task).1, |first, part| {
            let stops = (first..first + part.len()).flat_map(|blend| {
                [false, true].into_iter().flat_map(move |within| self.stops(task, Part::Blend(blend), within))
            });
            stops.chain(self.blend_lines(part, said)).collect()
        })
    }

    /// The blends of a part, one line for each way of blending, as a groomer says it: over how much, how, and from where.
    pub(super) fn blend_lines(&self, blends: &[BlendWork], said: &mut Said) -> Vec<Line> {
        let Made { trade, choices, .. } = self.made;
        let mut ways: Vec<(Vec<String>, Line)> = Vec::new();
        for work in blends {
            let Some(blend) = choices.blends.get(work.ask) else { continue };
            let mut words = format!("{} into {}", zone_words(trade, work.from), zone_words(trade, work.into));
            let tool = words::blends_with(trade, work);
            // Thinners say by themselves that one thins in.
            let hand = work.hand.filter(|_| work.rungs.is_empty()).and_then(|id| trade.tool(id)).and_then(|t| t.blends);
            let motion = blend.by.as_ref().filter(|_| blend.tool.is_none()).filter(|by| {
                let by = trade.index.manners.get(*by).copied();
                by != hand || !by.and_then(|m| trade.manner(m)).is_some_and(|m| m.freehand)
            });
            let motion = motion.map(|b| b.replace('-', " "));
            // A part that is named already is no news.
            let mark = work.landmark.and_then(|id| trade.marks.get(usize::from(id.0)));
            let mark = mark
                .and_then(|m| m.landmark.as_ref())
                .filter(|m| !words.contains(m.trim_start_matches("the ")))
                .cloned();
            if let Some(mark) = mark {
                words.push_str(&format!(" from {mark}"));
            }
            let how: Vec<String> = blend.room.as_ref().map(|r| format!("over {r}")).into_iter().chain(motion).collect();
            let how = (!how.is_empty()).then(|| how.join(", "));
            let clean = self.cleaned_for(work, said);
            match ways.iter_mut().find(|(_, line)| line.tool == tool && line.how == how) {
                Some((all, line)) => {
                    all.push(words);
                    line.caution = line.caution.take().or(clean);
                }
                None => ways.push((vec![words], Line { tool, how, caution: clean, ..Line::default() })),
            }
        }
        let line = |(all, line): (Vec<String>, Line)| Line { work: format!("blend {}", all.join("; ")), ..line };
        ways.into_iter().map(line).collect()
    }

    /// The work on one mat. Where another finding keeps the place, nothing comes near it.
    fn mat_line(&self, mat: &crate::names::card::Mat, said: &mut Said) -> Line {
        let Made { trade, dog, choices, .. } = self.made;
        let (grade, off) = (mat.grade.word(), mat.off_skin.map(|l| format!("{l} off the skin")));
        let line = |work: String, tool: Option<String>, caution: Option<String>| Line {
            tool,
            work,
            leaves: off.clone(),
            caution,
            ..Line::default()
        };
        let on = |sites| format!("{grade} on the {}", zone_words(trade, sites));
        let agreed = dog.agreed("clip-off");
        match dealt(mat, choices, trade, dog, self.made.whole()) {
            Dealt::Kept => {
                let caution = "What is beneath comes first: a vet, or another day.";
                line(format!("leave the {}", on(mat.sites)), None, Some(caution.to_owned()))
            }
            Dealt::Off(sites, stroke) => {
                let clean = self.cleaned(stroke, sites, said);
                let caution = joined(clean, self.minded(sites, Some(stroke), true, said));
                line(format!("clip off the {}", on(sites)), words::tool(trade, stroke), caution)
            }
            Dealt::Stays(sites) => {
                let caution = match agreed {
                    Some(true) => {
                        "No blade of the kit goes under it safely on this dog: show it to the owner; it may be one for the vet."
                    }
                    Some(false) => "The owner said no to a clip-off: show it to them at the end.",
                    None => "Not picked at on this dog; ask the owner about clipping it off.",
                };
                line(format!("leave the {}", on(sites)), None, Some(caution.to_owned()))
            }
            Dealt::Out(sites) => {
                let most = dematt_most(choices, trade, dog).map(words::plain_time);
                let then = match agreed {
                    Some(true) => "clip off the rest, as the owner agreed",
                    Some(false) => "leave the rest, and show it to the owner, who said no to a clip-off",
                    None => "stop, and clip off the rest only if the owner agrees",
                };
                let most = most.map(|m| format!("At most {m} in all; then {then}."));
                let caution = joined(most, self.minded(sites, None, false, said));
                line(format!("work out the {}", on(sites)), None, caution)
            }
        }
    }

    /// One line a stroke; a stroke that findings changed stands by itself with what differs.
    pub(super) fn lines(&self, (task, first): (usize, usize), works: &[Work], said: &mut Said) -> Vec<Line> {
        let mut lines = Vec::new();
        for (number, work) in (first..).zip(works) {
            lines.extend(self.stops(task, Part::Work(number), false));
            let (mut changed, mut plain) = (Vec::new(), Sites::NONE);
            for site in work.sites.iter() {
                match self.made.finishes.at(site) {
                    Some(finish) => match self.differs(finish) {
                        None => plain = plain | Sites::one(site),
                        Some(words) => match changed.iter_mut().find(|(w, _): &&mut (String, Sites)| *w == words) {
                            Some((_, sites)) => *sites = *sites | Sites::one(site),
                            None => changed.push((words, Sites::one(site))),
                        },
                    },
                    None => plain = plain | Sites::one(site),
                }
            }
            if !plain.is_empty() {
                lines.push(self.line(work, plain, None, said));
            }
            for (words, sites) in changed {
                lines.push(self.line(work, sites, Some(words), said));
            }
            self.within(task, Part::Work(number), &mut lines);
        }
        lines
    }

    pub(super) fn line(&self, work: &Work, sites: Sites, differs: Option<String>, said: &mut Said) -> Line {
        let trade = &self.made.trade;
        Line {
            tool: words::tool(trade, &work.stroke),
            direction: work.stroke.direction.map(|d| words::direction(d).to_owned()),
            work: format!("{} {}", words::verb(work.stroke.verb), zone_words(trade, sites)),
            leaves: words::leaves(&work.stroke),
            how: self.how(work, sites),
            caution: joined(
                self.cleaned(&work.stroke, sites, said),
                self.minded(sites, Some(&work.stroke), cuts_close(work, trade), said),
            ),
            differs,
            because: self.because(sites),
            ..Line::default()
        }
    }

    /// How a stroke is worked, with the manners that keeps ask for on all of its parts: `in short turns`.
    fn how(&self, work: &Work, sites: Sites) -> Option<String> {
        let Made { trade, dog, choices, .. } = self.made;
        let mut manners: Vec<String> = Vec::new();
        let asked = |site| {
            active_keeps(choices, trade, dog, site).into_iter().filter_map(|keep| match keep.bound() {
                Bound::Manner(name) if !keep.is_for_every_dog() => Some(name.replace('-', " ")),
                _ => None,
            })
        };
        for name in sites.iter().next().into_iter().flat_map(asked) {
            let everywhere = sites.iter().all(|site| asked(site).any(|n| n == name));
            let said = work.stroke.manners.iter().any(|(m, _)| m.replace('-', " ") == name);
            if everywhere && !said && !manners.contains(&name) {
                manners.push(name);
            }
        }
        let all: Vec<String> = words::how(&work.stroke).into_iter().chain(manners).collect();
        (!all.is_empty()).then(|| all.join(", "))
    }

    /// For a learner's sheet: the statements that led to a line, each with its place.
    fn because(&self, sites: Sites) -> Option<String> {
        if !self.request.learner {
            return None;
        }
        let finish = sites.iter().find_map(|s| self.made.finishes.at(s))?;
        let reasons = finish.reasons.iter().map(|r| format!("{} {}", did_words(&r.what), self.at(r.place)));
        Some(reasons.collect::<Vec<_>>().join("; "))
    }
}

/// Marks where a tool is taken up.
fn taken_up(steps: &mut [Placed]) {
    let mut hand: Option<String> = None;
    for line in steps.iter_mut().flat_map(|placed| &mut placed.step.lines).filter(|line| line.tool.is_some()) {
        // The blade beneath a comb is told once.
        let own = line.tool.as_deref().map(|tool| words::without_blade(tool).to_owned());
        line.takes_up = own != hand;
        hand = own;
    }
}

fn cuts_close(work: &Work, trade: &Trade) -> bool {
    work.stroke.kind(trade).is_some_and(|k| k.on_clipper() || k == ToolKind::Shears)
}

/// A step that is numbered later.
const fn plain_step(title: String, minutes: Option<String>, lines: Vec<Line>, caution: Option<String>) -> Step {
    Step { number: 0, title, minutes, lines, caution, station: None, begins: None, rest: None, breaks: None }
}

/// The lines of things that are parted at some of them; the first line after each parting has a rest before it, whose words
/// come later.
fn between<T>(all: &[T], at: &[usize], mut lines: impl FnMut(usize, &[T]) -> Vec<Line>) -> Vec<Line> {
    let mut out = Vec::new();
    let mut start = 0;
    for end in at.iter().copied().chain([all.len()]) {
        let mut part = lines(start, all.get(start..end).unwrap_or_default());
        if at.contains(&start)
            && let Some(first) = part.first_mut()
        {
            first.rest = Some(String::new());
        }
        out.extend(part);
        start = end;
    }
    out
}
