//! The rest of a visit made anew, mid-groom: what is done is gone, what was found counts, and what the dog bears is what is left.

use super::make::{At, Card, Known, Part, Request, card_of, finished_part, planned, trade_texts};
use super::soiled::Soiled;
use super::{Made, Sheet, build, owner, words};
use crate::check;
use crate::diagnostic::{Diagnostic, Severity, code};
use crate::finish::Finish;
use crate::measure::Time;
use crate::names::card::{self, Dog, Mat};
use crate::names::lower::Decl;
use crate::names::sites::Sites;
use crate::names::trade::{self, StepId};
use crate::names::zone_words::zone_words;
use crate::plan::{Dealt, TaskKind, Without, dealt, sum};
use crate::source::Sources;
use crate::visit::card_with;
use crate::workspace::Workspace;
use std::collections::BTreeSet;

/// What has happened so far, in the order in which it did.
#[derive(Clone, Debug, Default)]
pub struct Happened {
    /// What was done, then found; then done by the sheet of the rest that was made after it, and so on.
    pub stages: Vec<Stage>,
    /// How long the dog has stood by the clock; none is what the steps that are done take if it goes slowly.
    pub stood: Option<Time>,
}

/// What was done by one sheet, and what was found then.
#[derive(Clone, Debug, Default)]
pub struct Stage {
    /// The numbers of the steps that are done, as that sheet printed them.
    pub done: Vec<u32>,
    /// What was found, each a line of a card: `mats pelted on breeches`; a line without its first word is a finding.
    pub found: Vec<String>,
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

/// What of a visit was before the rest of it, as far as that rest must know.
#[derive(Clone, Debug, Default)]
pub struct Earlier {
    /// The numbers that its steps had.
    pub(super) numbers: Numbers,
    /// What soiled the tools.
    pub(super) soiled: Soiled,
    /// What the owner reads of what was done beside the trim.
    pub(super) told: Vec<String>,
    /// Whether the dog was bathed.
    pub(super) bathed: bool,
}

/// The numbers that steps had on the sheet before.
#[derive(Clone, Debug, Default)]
pub(super) struct Numbers {
    known: Vec<(Key, u32)>,
    last: u32,
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
    let first = finished_part(workspace, request, &Part::Today).map_err(refused)?;
    let salons = workspace.salons();
    let (salon, decl) = card_of(&salons, request, workspace).map_err(refused)?;
    let name = request.recipe.clone().or_else(|| first.dog.wants.as_ref().map(|(w, _)| w.text.to_string()));
    let recipe = name.and_then(|n| salon.recipes.get(n.as_str()));
    let Some(recipe) = recipe else { return Err(refused(vec![super::make::which_recipe(decl)])) };
    let known = Known::of(salon, recipe);
    let texts = trade_texts(workspace, salon);
    // Those of the file: on the sheet some may be parted.
    let of_file = card::read(decl, &salon.trade, check::units(&salon.trade), request.on, &mut Vec::new()).mats.len();
    let mut progress =
        Progress { mats: vec![of_file], same_day: happened.stood != Some(Time(0)), ..Progress::default() };
    let known_first: Vec<Diagnostic> = first.said.clone();
    let mut before = first;
    let mut sources = workspace.sources().clone();
    for (number, stage) in happened.stages.iter().enumerate() {
        let unknown = |d: Box<Diagnostic>| Box::new((vec![*d], sources.clone()));
        progress.stage(&before, (&sources, request), stage, decl).map_err(unknown)?;
        let last = number + 1 == happened.stages.len();
        let by_clock = happened.stood.map(|stood| if last { stood } else { stood.min(progress.stood) });
        progress.without.stood = by_clock.unwrap_or(progress.stood);
        progress.without.at_stretch = progress.stretch.min(progress.without.stood);

        sources = workspace.sources().clone();
        let text = card_with(sources.text(decl.file), decl, &progress.found);
        // The card and what was found, as a text of its own: the file stays as it is until the visit is written down.
        let file = sources.add(format!("{} with what was found", sources.name(decl.file)), text.as_str().into());
        let tree = grammar::parse(&text);
        let told = |said: Vec<Diagnostic>, sources: &Sources| Box::new((said, sources.clone()));
        let mut said =
            crate::visit::new_lines(&tree, file, decl, &progress.found).map_err(|said| told(said, &sources))?;
        let Some(placed) = crate::visit::same(&tree, decl) else {
            return Err(told(vec![crate::visit::odd(file, decl)], &sources));
        };
        let own = Decl { file, at: placed.at, block: &placed.block.block };
        let mut dog = card::read(own, &salon.trade, check::units(&salon.trade), request.on, &mut said);
        if said.iter().any(|d| d.severity == Severity::Error) {
            return Err(told(said, &sources));
        }
        progress.left_of_mats(&mut dog, &salon.trade);
        let at = At { workspace, sources: &sources, salon, texts: &texts, read: None };
        let part = Part::Rest(progress.without.clone());
        before = planned(&at, &known, Card::of(own), dog, (request.on, &part), said).map_err(|s| told(s, &sources))?;
        before.earlier = Some(progress.earlier.clone());
        // What is done was done by what was known then.
        for finish in &mut before.finishes.all {
            if let Some(done) = progress.finishes.iter().find(|done| done.site == finish.site) {
                *finish = done.clone();
            }
        }
    }
    let mut sheet = build::sheet(&before, &sources, request);
    sheet.replanned = Some(summary(happened, progress.without.stood));
    // What the sheet of the day said isn't news.
    let news = |d: &Diagnostic| !known_first.iter().any(|t| (t.code, &t.message) == (d.code, &d.message));
    let said = progress.said.into_iter().chain(before.said.into_iter().filter(news)).collect();
    Ok(Replanned { sheet, said, sources })
}

/// What is done and found, in terms of the plan.
#[derive(Default)]
struct Progress {
    /// Whether the dog has stood today.
    same_day: bool,
    without: Without,
    earlier: Earlier,
    /// The lines that were found.
    found: Vec<String>,
    /// How many mats the card has after each stage, that of the file first.
    mats: Vec<usize>,
    /// The mats that are done, each with the stage in which they were.
    mats_done: Vec<(usize, Mat)>,
    /// Those that were left because the owner hadn't agreed, likewise: done only for as long as that holds.
    mats_left: Vec<(usize, Mat)>,
    /// What is finished, as it was done.
    finishes: Vec<Finish>,
    /// What there is to say about what is done.
    said: Vec<Diagnostic>,
    /// How long the dog has stood at the slow end, in all and since its last rest.
    stood: Time,
    stretch: Time,
}

impl Progress {
    /// Takes in what was done by a sheet, and what was found then.
    fn stage(
        &mut self,
        before: &Made,
        (sources, request): (&Sources, &Request),
        stage: &Stage,
        card: Decl<'_>,
    ) -> Result<(), Box<Diagnostic>> {
        let steps = build::numbered(before, sources, request);
        if let Some(wrong) = stage.done.iter().find(|n| !steps.iter().any(|(m, _, _)| m == *n)) {
            return Err(Box::new(self.no_step(*wrong, before, &steps, card)));
        }
        let first = steps.iter().map(|(n, _, _)| *n).next().unwrap_or(0);
        // On another day the check that every visit begins with is made anew.
        let same_day = self.same_day && before.earlier.is_none();
        if let Some(only) = stage.done.iter().min().filter(|n| **n > first && same_day) {
            self.said.push(
                Diagnostic::note(
                    code::D012,
                    card.place(),
                    format!("step {first} isn't said to be done, and step {only} is"),
                )
                .help(format!("If all up to there is done, write `--done {first}-{only}`.")),
            );
        }
        let last = steps.iter().map(|(n, _, _)| *n).max().unwrap_or(0).max(self.earlier.numbers.last);
        let number = self.mats.len();
        let mut known = Vec::new();
        let mut done = BTreeSet::new();
        for (step, _, tasks) in &steps {
            for task in tasks {
                let Some(kind) = before.plan.tasks.get(*task).map(|t| &t.kind) else { continue };
                if !stage.done.contains(step) {
                    known.push((Key::of(kind), *step));
                    continue;
                }
                done.insert(*task);
                self.earlier.soiled.through(before, kind);
                self.earlier.told.extend(owner::besides(before, kind));
                match kind {
                    TaskKind::Step { step, .. } => {
                        self.without.steps.insert(*step);
                        let stage = before.trade.step(*step).and_then(|s| s.stage);
                        self.without.bathed |= stage == Some(trade::Stage::Wash);
                        self.without.dried |= stage == Some(trade::Stage::Dry);
                    }
                    TaskKind::Mats(all) => {
                        let Made { dog, choices, trade, .. } = before;
                        for mat in all.iter().filter_map(|n| dog.mats.get(*n)) {
                            let stays = matches!(dealt(mat, choices, trade, dog, before.whole()), Dealt::Stays(_));
                            let of = if stays && dog.agreed("clip-off") != Some(true) {
                                &mut self.mats_left
                            } else {
                                &mut self.mats_done
                            };
                            of.push((number, mat.clone()));
                        }
                    }
                    TaskKind::SetIn(works) => {
                        works.iter().for_each(|w| self.without.set_in = self.without.set_in | w.sites);
                    }
                    TaskKind::Part { step, works, .. } => {
                        // A coat that is stripped in full leaves no plain step behind.
                        self.without.steps.insert(*step);
                        for site in works.iter().flat_map(|w| w.sites.iter()) {
                            self.without.finished = self.without.finished | Sites::one(site);
                            self.finishes.extend(before.finishes.at(site).cloned());
                        }
                    }
                }
            }
        }
        self.earlier.bathed = self.without.bathed;
        let (all, stretch) = before.stood(&done, self.stretch);
        (self.stood, self.stretch) = (Time(self.stood.0 + all.0), stretch);
        self.earlier.numbers = Numbers { known, last };
        self.found.extend(stage.found.iter().map(|f| line(f)));
        Ok(())
    }

    /// D012: a number that the sheet doesn't have.
    fn no_step(&self, wrong: u32, before: &Made, steps: &[(u32, String, Vec<usize>)], card: Decl<'_>) -> Diagnostic {
        let numbers: Vec<String> = steps.iter().map(|(n, _, _)| n.to_string()).collect();
        let numbers = numbers.join(", ");
        let (sheet, more) = if before.earlier.is_some() {
            ("that sheet of the rest", "What was done before it stands before what was found.")
        } else {
            (
                "the sheet",
                "A step of a later sheet comes after what was found: `--done 1-3 --found \"mats pelted on breeches\" --done 8`.",
            )
        };
        Diagnostic::error(code::D012, card.place(), format!("{sheet} of {} has no step {wrong}", before.dog.name))
            .why("What is taken for done isn't done any more today.")
            .help(format!("Its steps are {numbers}: `--done 1,2,3` or `--done 1-3`. {more}"))
    }

    /// A worse mat takes the place of what was known there; what is done stays done.
    fn left_of_mats(&mut self, dog: &mut Dog, trade: &trade::Trade) {
        self.mats.push(dog.mats.len());
        self.without.mats.clear();
        let all = std::mem::take(&mut dog.mats);
        for (number, mat) in all.iter().enumerate() {
            if all.iter().skip(number + 1).zip(number + 1..).any(|(w, n)| self.is_found(n) && mat.sites.within(w.sites))
            {
                continue;
            }
            // Only what was known by then can have been done then, all of it or a part.
            let since = self.mats.iter().position(|count| number < *count).unwrap_or_default();
            let left = self.mats_left.iter().filter(|_| dog.agreed("clip-off") != Some(true));
            let done = self.mats_done.iter().chain(left);
            let done = done.filter(|(stage, done)| *stage > since && done.grade == mat.grade);
            let done = done.fold(Sites::NONE, |all, (_, done)| all | done.sites);
            let left = mat.sites - done;
            if left.is_empty() {
                self.without.mats.insert(dog.mats.len());
                dog.mats.push(mat.clone());
            } else if left == mat.sites {
                dog.mats.push(mat.clone());
            } else {
                dog.mats.push(Mat { sites: left, words: zone_words(trade, left), ..mat.clone() });
            }
        }
    }

    /// Whether a mat, by its number on the card with what was found, isn't one of the file's.
    fn is_found(&self, mat: usize) -> bool {
        self.mats.first().is_some_and(|of_file| mat >= *of_file)
    }
}

impl Made {
    /// How long the dog has stood if these tasks are done, at their slow end: in all, and since the last rest, if it has stood
    /// for so long before.
    fn stood(&self, done: &BTreeSet<usize>, before: Time) -> (Time, Time) {
        let groups = &self.plan.order.groups;
        let stands = |task: usize| match self.plan.tasks.get(task).map(|t| &t.kind) {
            Some(TaskKind::Step { step, .. }) => self.trade.step(*step).is_none_or(|s| s.stands),
            _ => true,
        };
        let mut stretch = before.0;
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

/// A line of a card; what begins with none of its words is a finding.
fn line(found: &str) -> String {
    let first = found.split_whitespace().next().unwrap_or_default().to_lowercase();
    let known = ["finding", "mats"].contains(&first.as_str()) || grammar::words::DOG_LINES.contains(&first.as_str());
    if known { found.to_owned() } else { format!("finding {found}") }
}

fn summary(happened: &Happened, stood: Time) -> String {
    let mut words = Vec::new();
    for (number, stage) in happened.stages.iter().enumerate() {
        let then = if number > 0 { "then " } else { "" };
        let done: Vec<String> = stage.done.iter().map(ToString::to_string).collect();
        match done.as_slice() {
            [] if number == 0 => words.push("nothing done yet".to_owned()),
            [] => {}
            [one] => words.push(format!("{then}step {one} is done")),
            many => words.push(format!("{then}steps {} are done", many.join(", "))),
        }
        if !stage.found.is_empty() {
            words.push(format!("found: {}", stage.found.join("; ")));
        }
    }
    words.push(format!("stood {}", words::plain_time(Time((stood.0 + 59) / 60 * 60))));
    words::sentence(&words.join("; "))
}
