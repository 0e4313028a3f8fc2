//! Every call into the library, in one file.

use super::{
    stop::Stop,
    target::{self, Target},
};
use coatwright::{
    batch,
    cards::{self, CardJson},
    cases::{self, Ran},
    date::Day,
    day,
    diagnostic::{
        Diagnostic, in_order, laid_out,
        render::{Look, render},
    },
    handbook::{self, Handbook},
    measure::Time,
    memo::Memo,
    picture::{self, Standalone},
    sheet::{self, Sheet},
    source::FileId,
    why, why_order,
    workspace::{OpenError, Workspace},
};
use grammar::tree::{BlockKind, Stmt};
use std::{
    path::{Path, PathBuf},
    sync::Arc,
};

pub(super) use coatwright::picture::{View, png};
pub(super) use coatwright::sheet::render::{Options, Units};

/// What a text may declare that the command line asks for by name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Recipe,
    Card,
}

impl Kind {
    pub(super) const fn word(self) -> &'static str {
        match self {
            Self::Recipe => "recipe",
            Self::Card => "card",
        }
    }

    const fn block(self) -> BlockKind {
        match self {
            Self::Recipe => BlockKind::Recipe,
            Self::Card => BlockKind::Dog,
        }
    }
}

/// Reads files and folders, with the houses and bases that belong to them.
pub(super) fn open(paths: &[PathBuf]) -> Result<Workspace, Stop> {
    Workspace::open(paths).map_err(stop)
}

/// Reads what some recipes and cards are looked for in. That this folder holds nothing matters only if nothing else was
/// named.
pub(super) fn open_for(targets: &[Option<&Target>]) -> Result<Workspace, Stop> {
    let paths = target::places(targets);
    match Workspace::open(&paths) {
        Err(OpenError::Nothing(_)) if paths.len() > 1 => {
            open(&paths.into_iter().filter(|p| p != Path::new(".")).collect::<Vec<_>>())
        }
        opened => opened.map_err(stop),
    }
}

/// A run over texts that may be older than those on disk.
pub(super) fn of_texts(texts: Vec<(PathBuf, Arc<str>)>) -> Workspace {
    let all = texts.len();
    Workspace::from_known(texts, all, &mut Memo::default())
}

pub(super) fn stop(error: OpenError) -> Stop {
    match error {
        OpenError::Unreadable(path, why) => Stop::file("read", &path, &why),
        other => Stop::because(other.to_string()),
    }
}

/// The file in which a house stands.
pub(super) use coatwright::workspace::HOUSE;

/// A text that lies in no file, or stands for the one at `near`.
pub(super) fn with_text(name: String, text: String, near: Option<&Path>) -> Result<Workspace, Stop> {
    Workspace::with_text(name, text, near).map_err(stop)
}

/// All messages about what was asked for, sorted.
pub(super) fn check(workspace: &Workspace) -> Vec<Diagnostic> {
    coatwright::check::check_through(workspace)
}

/// The cases whose name holds some letters, each run, and their messages laid out for their texts.
pub(super) fn cases(workspace: &Workspace, only: &str) -> Vec<Ran> {
    let mut all = cases::run(workspace, &workspace.salons(), only);
    for ran in &mut all {
        in_order(&mut ran.said);
        laid_out(&mut ran.said, workspace.sources());
    }
    all
}

/// How many lines and guards the recipes that were asked for have, and a note on each that none of these cases proves.
pub(super) fn uncovered(workspace: &Workspace, all: &[Ran]) -> (usize, Vec<Diagnostic>) {
    cases::uncovered(workspace, &workspace.salons(), all)
}

/// The sheet for a dog, or why there is none.
pub(super) fn make(
    workspace: &Workspace,
    recipe: Option<String>,
    dog: String,
    on: Day,
    (learner, whole): (bool, bool),
) -> Result<Sheet, Vec<Diagnostic>> {
    let part = if whole { sheet::Part::Whole } else { sheet::Part::Today };
    sheet::make_part(workspace, &sheet::Request { recipe, dog, on: Some(on), learner }, &part)
}

/// What was done at a visit by one sheet, and what was found then.
pub(super) use coatwright::sheet::Stage;

/// What has happened at a visit so far.
pub(super) fn happened(stages: Vec<Stage>, stood: Option<u16>) -> sheet::Happened {
    sheet::Happened { stages, stood: stood.map(|minutes| Time(i64::from(minutes) * 60)) }
}

/// The sheet for the rest of a visit: by the recipe, if one is named, for a dog.
pub(super) fn replan(
    workspace: &Workspace,
    (recipe, dog): (Option<String>, String),
    on: Day,
    happened: sheet::Happened,
) -> Result<sheet::Replanned, sheet::NotReplanned> {
    sheet::replan(workspace, &sheet::Request { recipe, dog, on: Some(on), learner: false }, &happened)
}

/// A dog's visit on a day.
pub(super) fn visit_of(workspace: &Workspace, dog: String, on: Day) -> Result<day::Visit, Vec<Diagnostic>> {
    let request = sheet::Request { recipe: None, dog: dog.clone(), on: Some(on), learner: false };
    let (sheet, made) = sheet::make_today(workspace, &request)?;
    Ok(day::Visit::of(dog, sheet, &made))
}

/// A day's dogs with their times.
pub(super) fn day(on: Day, visits: &[day::Visit], no_sheet: &[String], hours: &day::Hours) -> day::DayJson {
    day::day(on, visits, no_sheet, hours, &coatwright::basics::shared())
}

/// The sheet as text for a terminal or printer.
pub(super) fn text(sheet: &Sheet, options: &Options) -> String {
    sheet::render::text(sheet, options)
}

/// The sheet as Markdown.
pub(super) fn markdown(sheet: &Sheet, options: &Options) -> String {
    sheet::render::markdown(sheet, options)
}

/// The sheet as JSON.
pub(super) fn json(sheet: &Sheet, options: &Options) -> String {
    sheet::render::json(sheet, options)
}

/// The sheet as a page to be printed.
pub(super) fn html(sheet: &Sheet, options: &Options, large: bool) -> String {
    picture::page(sheet, options.units, large, &coatwright::basics::shared())
}

/// The pictures of a sheet, side by side; without views those that the sheet prints.
pub(super) fn picture(sheet: &Sheet, views: &[View], numbers: bool, units: Units) -> Standalone {
    let trade = coatwright::basics::shared();
    let shown = picture::shown(&sheet.seen, &trade);
    let needed = if views.is_empty() { shown.needed() } else { views.to_vec() };
    picture::standalone(&shown, &format!("{}, {}", sheet.dog.name, sheet.title), &needed, numbers, units)
}

/// A view in half blocks, or in signs where there is no colour.
pub(super) fn blocks(sheet: &Sheet, view: View, columns: usize, colour: bool) -> String {
    let trade = coatwright::basics::shared();
    picture::shown(&sheet.seen, &trade).blocks(view, columns, colour).unwrap_or_default()
}

pub(super) use coatwright::batch::{Answer, Batch, Shared};
pub(super) use coatwright::visit::{Done, visited};

/// What is asked of every card of a batch.
pub(super) fn asked(recipe: Option<String>, on: Day, sheets: bool, units: Units) -> batch::Asked {
    batch::Asked { recipe, on, sheets, units }
}

/// The cards of a text.
pub(super) fn cards_of(text: &str) -> Result<Vec<CardJson>, cards::NoJson> {
    cards::from_text(text)
}

/// Cards as JSON, one a line.
pub(super) fn cards_as_json(all: &[CardJson]) -> Result<String, Stop> {
    let line = |card: &CardJson| serde_json::to_string(card).map(|line| line + "\n");
    all.iter().map(line).collect::<Result<_, _>>().map_err(|_| Stop::because("the cards can't be written"))
}

/// Cards in JSON, one a line, as texts laid out; or which line is none, and why.
pub(super) fn cards_as_text(json: &str) -> Result<String, (usize, String)> {
    let mut out = String::new();
    for (number, line) in (1..).zip(json.lines()).filter(|(_, line)| !line.trim().is_empty()) {
        let told = |d: &Diagnostic| (number, format!("{} [{}]", d.message, d.code));
        let card = cards::parse(line).map_err(|why| (number, why))?;
        let written = card.text().map_err(|d| told(&d))?;
        written
            .read(FileId(0))
            .map_err(|said| said.first().map_or_else(|| (number, "it can't be read as a card".to_owned()), told))?;
        if !out.is_empty() {
            out.push('\n');
        }
        out.push_str(&format(&written.text).map_err(|why| (number, why))?);
    }
    Ok(out)
}

/// A card as it stands in a file.
pub(super) struct CardText {
    pub(super) name: String,
    pub(super) text: String,
    /// The recipe that it wants.
    pub(super) wants: Option<String>,
}

/// The card that is meant.
pub(super) fn card_text(target: &Target) -> Result<CardText, Stop> {
    let name = target.named(Kind::Card)?;
    let workspace = open_for(&[Some(target)])?;
    let salons = workspace.salons();
    let found = salons.iter().find_map(|salon| salon.dogs.get(&name));
    let decl = found.ok_or_else(|| Stop::because(format!("no card here is called `{name}`")))?;
    let span = decl.block.span.shifted(decl.at);
    let text = workspace.sources().text(decl.file).get(span.start as usize..span.end as usize);
    let wants = decl.block.body.iter().find_map(|stmt| match &stmt.kind {
        grammar::tree::StmtKind::Wants { recipe, .. } => Some(recipe.text.to_string()),
        _ => None,
    });
    Ok(CardText { name, text: text.unwrap_or_default().to_owned(), wants })
}

/// The page with a dog before and now.
pub(super) fn pair(shown: &coatwright::compare::Shown) -> String {
    picture::pair(shown, Units::Metric)
}

/// The same as a picture.
pub(super) fn pair_alone(shown: &coatwright::compare::Shown) -> Standalone {
    picture::pair_alone(shown, Units::Metric)
}

/// The site for learners, or why there is none.
pub(super) fn handbook(workspace: &mut Workspace) -> Result<Handbook, Vec<Diagnostic>> {
    handbook::handbook(workspace)
}

pub(super) use coatwright::diagnostic::render::Format;

/// Messages, laid out for their texts.
pub(super) fn rendered(messages: &[Diagnostic], workspace: &Workspace, format: Format, look: Look) -> String {
    let mut messages = messages.to_vec();
    in_order(&mut messages);
    laid_out(&mut messages, workspace.sources());
    render(&messages, workspace.sources(), format, look)
}

/// What a sheet's JSON looks like.
pub(super) fn sheet_schema() -> schemars::Schema {
    schemars::schema_for!(Sheet)
}

/// What led to a zone's finish, a line for each reason.
pub(super) fn why(
    workspace: &Workspace,
    recipe: Option<&str>,
    dog: Option<&str>,
    zone: &str,
) -> Result<Vec<String>, Vec<Diagnostic>> {
    why::why(workspace, recipe, dog, zone).map(|answer| answer.lines().to_vec())
}

/// Whether some salon has a recipe of this name.
pub(super) fn has_recipe(workspace: &Workspace, name: &str) -> bool {
    workspace.salons().iter().any(|salon| salon.recipes.contains_key(name))
}

/// Why the steps of a sheet stand where they stand, or the messages that keep it from being made.
pub(super) fn why_order(
    workspace: &Workspace,
    recipe: Option<String>,
    dog: String,
    on: Option<Day>,
    step: Option<&str>,
) -> Result<Result<Vec<String>, String>, Vec<Diagnostic>> {
    let request = sheet::Request { recipe, dog, on, learner: false };
    let made = sheet::finished_part(workspace, &request, &sheet::Part::Today)?;
    Ok(why_order::why_order(&made, workspace.sources(), &request, step))
}

/// The text as the formatter writes it, or why it won't.
pub(super) fn format(text: &str) -> Result<String, String> {
    grammar::format_with_its_ends(text).map_err(|refused| refused.to_string())
}

/// The names of what a text declares.
pub(super) fn declared(text: &str, kind: Kind) -> Vec<String> {
    let blocks = grammar::parse(text).blocks;
    let of_kind = blocks.iter().map(|b| &b.block.block).filter(|b| b.kind == kind.block());
    of_kind.filter_map(|b| b.name.as_ref()).map(|name| name.text.to_string()).collect()
}

/// The statements of one declaration, each as written, and whether all of it could be read.
pub(super) fn statements(text: &str, kind: Kind, name: &str) -> Option<(Vec<String>, bool)> {
    let blocks = grammar::parse(text).blocks;
    let is_it = |b: &grammar::tree::Block| b.kind == kind.block() && b.name.as_ref().is_some_and(|n| n.text == name);
    let placed = blocks.iter().find(|b| is_it(&b.block.block))?;
    let words = |stmt: &Stmt| {
        let span = stmt.span.shifted(placed.at);
        text.get(span.start as usize..span.end as usize).map(str::to_owned)
    };
    let statements = placed.block.block.body.iter().filter_map(words).collect();
    Some((statements, !placed.block.broken && placed.block.errors.is_empty()))
}
