//! The rest of a visit made anew, mid-groom: what is done is gone, what was found counts, and what the dog bears is what is left.

use super::make::{At, Card, Known, Part, Request, card_of, finished_part, planned, trade_texts};
use super::{Made, Sheet, build, words};
use crate::check;
use crate::diagnostic::{Diagnostic, Severity, code};
use crate::measure::Time;
use crate::names::card::{self, Dog, Mat};
use crate::names::lower::Decl;
use crate::names::trade::StepId;
use crate::plan::{TaskKind, Without, sum};
use crate::source::Sources;
use crate::visit::card_with;
use crate::workspace::Workspace;
use std::collections::BTreeSet;

/// What has happened so far.
#[derive(Clone, Debug, Default)]
pub struct Happened {
    /// The numbers of the steps that are done, as the sheet printed them.
    pub done: Vec<u32>,
    /// What was found, each a line of a card: `mats pelted on breeches`; a line without its first word is a finding.
    pub found: Vec<String>,
    /// How long the dog has stood by the clock; none is what the steps that are done take if it goes slowly.
    pub stood: Option<Time>,
}

/// A task, as far as two plans share it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Key {
    Step(StepId),
    Mats,
    SetIn,
}

impl Key {
    pub(super) const fn of(kind: &TaskKind) -> Self {
        match kind {
            TaskKind::Step { step, .. } | TaskKind::Part { step, .. } => Self::Step(*step),
            TaskKind::Mats(_) => Self::Mats,
            TaskKind::SetIn(_) => Self::SetIn,
        }
    }
}

/// The numbers that steps had on the sheet before.
#[derive(Clone, Debug, Default)]
pub struct Numbers {
    pub(super) known: Vec<(Key, u32)>,
    pub(super) last: u32,
}

impl Numbers {
    /// The number of a step that holds these tasks: as before, or one that no step had.
    pub(super) fn of(&mut self, tasks: impl Iterator<Item = Key>) -> u32 {
        for key in tasks {
            if let Some(at) = self.known.iter().position(|(k, _)| *k == key) {
                return self.known.remove(at).1;
            }
        }
        self.last += 1;
        self.last
    }
}

/// A sheet of the rest, and what there is to say about what was found.
#[derive(Debug)]
pub struct Replanned {
    /// The sheet.
    pub sheet: Sheet,
    /// What there is to say; no error among it.
    pub said: Vec<Diagnostic>,
    /// The texts that it is about.
    pub sources: Sources,
}

/// Why there is no new sheet: messages, and the texts that they are about.
pub type NotReplanned = Box<(Vec<Diagnostic>, Sources)>;

/// The sheet of what is left of a visit.
///
/// # Errors
/// As [`make`](super::make); a step that the sheet doesn't have; a found thing that no card can say.
pub fn replan(workspace: &Workspace, request: &Request, happened: &Happened) -> Result<Replanned, NotReplanned> {
    let refused = |said: Vec<Diagnostic>| Box::new((said, workspace.sources().clone()));
    let before = finished_part(workspace, request, &Part::Today).map_err(refused)?;
    let salons = workspace.salons();
    let (salon, decl) = card_of(&salons, request, workspace).map_err(refused)?;
    let mut progress = progress(&before, workspace, request, happened, decl).map_err(|d| refused(vec![*d]))?;
    let name = request.recipe.clone().or_else(|| before.dog.wants.as_ref().map(|(w, _)| w.text.to_string()));
    let recipe = name.and_then(|n| salon.recipes.get(n.as_str()));
    let Some(recipe) = recipe else { return Err(refused(vec![super::make::which_recipe(decl)])) };

    let lines: Vec<String> = happened.found.iter().map(|f| line(f)).collect();
    let mut sources = workspace.sources().clone();
    let text = card_with(sources.text(decl.file), decl, &lines);
    // The card and what was found, as a text of its own: the file stays as it is until the visit is written down.
    let file = sources.add(format!("{} with what was found", sources.name(decl.file)), text.as_str().into());
    let tree = grammar::parse(&text);
    let told = |said: Vec<Diagnostic>, sources: &Sources| Box::new((said, sources.clone()));
    let mut said = crate::visit::new_lines(&tree, file, decl, &lines).map_err(|said| told(said, &sources))?;
    let Some(placed) = crate::visit::same(&tree, decl) else {
        return Err(told(vec![crate::visit::odd(file, decl)], &sources));
    };
    let own = Decl { file, at: placed.at, block: &placed.block.block };
    let mut dog = card::read(own, &salon.trade, check::units(&salon.trade), request.on, &mut said);
    if said.iter().any(|d| d.severity == Severity::Error) {
        return Err(told(said, &sources));
    }
    let worse = dog.mats.iter().skip(before.dog.mats.len()).cloned().collect::<Vec<_>>();
    mats(&before.dog, &mut dog, &worse, &mut progress);
    let known = Known::of(salon, recipe);
    let texts = trade_texts(workspace, salon);
    let at = At { workspace, sources: &sources, salon, texts: &texts, read: None };
    let part = Part::Rest(progress.without);
    let mut made =
        planned(&at, &known, Card::of(own), dog, (request.on, &part), said).map_err(|s| told(s, &sources))?;
    made.numbers = Some(progress.numbers);
    let mut sheet = build::sheet(&made, &sources, request);
    sheet.replanned = Some(summary(&happened.done, &lines, progress.stood));
    Ok(Replanned { sheet, said: made.said, sources })
}

/// What is done, in terms of the plan.
struct Progress {
    without: Without,
    numbers: Numbers,
    /// The mats that are done, by their numbers before.
    mats: BTreeSet<usize>,
    stood: Time,
}

fn progress(
    before: &Made,
    workspace: &Workspace,
    request: &Request,
    happened: &Happened,
    card: Decl<'_>,
) -> Result<Progress, Box<Diagnostic>> {
    let steps = build::numbered(before, workspace.sources(), request);
    let last = steps.iter().map(|(n, _, _)| *n).max().unwrap_or(0);
    if let Some(wrong) = happened.done.iter().find(|n| !steps.iter().any(|(m, _, _)| m == *n)) {
        let message = format!("the sheet of {} has no step {wrong}", before.dog.name);
        return Err(Box::new(
            Diagnostic::error(code::D012, card.place(), message)
                .why("What is taken for done isn't done any more today.")
                .help(format!("The steps are 1 to {last}, as the sheet prints them: `--done 1,2,3` or `--done 1-3`.")),
        ));
    }
    let mut without = Without::default();
    let mut mats = BTreeSet::new();
    let mut known = Vec::new();
    let mut done = BTreeSet::new();
    for (number, _, tasks) in &steps {
        let is_done = happened.done.contains(number);
        for task in tasks {
            let Some(kind) = before.plan.tasks.get(*task).map(|t| &t.kind) else { continue };
            if !is_done {
                known.push((Key::of(kind), *number));
                continue;
            }
            done.insert(*task);
            match kind {
                TaskKind::Step { step, .. } => {
                    without.steps.insert(*step);
                }
                TaskKind::Mats(all) => mats.extend(all.iter().copied()),
                TaskKind::SetIn(works) => works.iter().for_each(|w| without.set_in = without.set_in | w.sites),
                TaskKind::Part { step, works, .. } => {
                    // A coat that is stripped in full leaves no plain step behind.
                    without.steps.insert(*step);
                    works.iter().for_each(|w| without.finished = without.finished | w.sites);
                }
            }
        }
    }
    let (all, stretch) = before.stood(&done);
    without.stood = happened.stood.unwrap_or(all);
    without.at_stretch = stretch.min(without.stood);
    Ok(Progress { stood: without.stood, without, numbers: Numbers { known, last }, mats })
}

impl Made {
    /// How long the dog has stood if these tasks are done, at their slow end: in all, and since the last rest.
    fn stood(&self, done: &BTreeSet<usize>) -> (Time, Time) {
        let groups = &self.plan.order.groups;
        let stands = |task: usize| match self.plan.tasks.get(task).map(|t| &t.kind) {
            Some(TaskKind::Step { step, .. }) => self.trade.step(*step).is_none_or(|s| s.stands),
            _ => true,
        };
        let mut stretch = 0;
        for (number, (group, time)) in groups.iter().zip(self.plan.group_times()).enumerate() {
            if !done.contains(&group.task) || !stands(group.task) {
                continue;
            }
            let rests: Vec<i64> = self.plan.bears.rests.iter().filter(|r| r.group == number).map(|r| r.times).collect();
            if rests.contains(&0) {
                stretch = 0;
            }
            stretch = match rests.iter().max().copied().filter(|n| *n > 0) {
                Some(times) => time.high.0 / (times + 1),
                None => stretch + time.high.0,
            };
        }
        let tasks = self.plan.tasks.iter().enumerate().filter(|(n, _)| done.contains(n) && stands(*n));
        (sum(tasks.map(|(_, t)| t.time)).high, Time(stretch))
    }
}

/// A worse mat takes the place of what the card said there; what is done stays done.
fn mats(before: &Dog, dog: &mut Dog, worse: &[Mat], progress: &mut Progress) {
    let same = |a: &Mat, b: &Mat| a.grade == b.grade && a.sites == b.sites && a.words == b.words;
    let first = before.mats.len();
    let mut kept = Vec::new();
    for (number, mat) in dog.mats.drain(..).enumerate() {
        let replaced = number < first && worse.iter().any(|w| mat.sites.within(w.sites));
        let done = number < first && progress.mats.iter().filter_map(|n| before.mats.get(*n)).any(|m| same(m, &mat));
        if !replaced {
            if done {
                progress.without.mats.insert(kept.len());
            }
            kept.push(mat);
        }
    }
    dog.mats = kept;
}

/// A line of a card; what begins with none of its words is a finding.
fn line(found: &str) -> String {
    let first = found.split_whitespace().next().unwrap_or_default().to_lowercase();
    let known = ["finding", "mats"].contains(&first.as_str()) || grammar::words::DOG_LINES.contains(&first.as_str());
    if known { found.to_owned() } else { format!("finding {found}") }
}

fn summary(done: &[u32], found: &[String], stood: Time) -> String {
    let done: Vec<String> = done.iter().map(ToString::to_string).collect();
    let mut words = match done.as_slice() {
        [] => "Nothing done yet".to_owned(),
        [one] => format!("Step {one} is done"),
        many => format!("Steps {} are done", many.join(", ")),
    };
    words.push_str(&format!("; stood {}", words::plain_time(Time((stood.0 + 59) / 60 * 60))));
    if !found.is_empty() {
        words.push_str(&format!("; found: {}", found.join("; ")));
    }
    words
}
