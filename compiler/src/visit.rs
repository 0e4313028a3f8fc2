//! What was done, written back into the dog's card, so that the next visit starts from it.

use crate::check;
use crate::date::Day;
use crate::diagnostic::{Diagnostic, Severity, code};
use crate::finish::{Stroke, tool_words};
use crate::names::card;
use crate::names::condition::Grade;
use crate::names::lower::Decl;
use crate::names::trade::{Stage, Tool, ToolId, ToolKind};
use crate::plan::{TaskKind, clipped_off};
use crate::sheet::planning::{card_of, which_recipe};
use crate::sheet::{Made, Part, Request, finished_part, numbered};
use crate::source::{FileId, Place, Sources};
use crate::workspace::{Workspace, syntax};
use grammar::tree::{BlockKind, File, Placed, StmtKind};
use std::fmt::Write as _;

/// What was done at a visit.
#[derive(Clone, Debug)]
pub struct Done {
    /// The card's name.
    pub dog: String,
    /// The recipe; none is what the card wants.
    pub recipe: Option<String>,
    /// The day.
    pub on: Day,
    /// The tools that were really used, as one says them; none are those of the sheet.
    pub used: Vec<String>,
    /// What was found, each as on a card without its day: `irritation on throat after #10 in reverse`.
    pub found: Vec<String>,
}

/// A card with a visit more.
#[derive(Clone, Debug)]
pub struct Visited {
    /// The name of its file.
    pub file: String,
    /// The whole new text of that file, laid out.
    pub text: String,
    /// The line of the visit.
    pub line: String,
    /// The steps of its sheet, by number, that leave something for another day; none if nothing waits.
    pub rest: Option<Vec<u32>>,
    /// What there is to say about the new lines, and the texts that it is about.
    pub said: Vec<Diagnostic>,
    /// Those texts.
    pub sources: Sources,
}

/// Why nothing is written: messages, and the texts that they are about.
pub type Refused = Box<(Vec<Diagnostic>, Sources)>;

/// Writes a visit into the text of a card. Nothing is written to the disk here.
///
/// # Errors
/// The card or the recipe is unknown, no sheet can be made and the tools weren't said, the visit stands there already, or what
/// was found can't be read.
pub fn visited(workspace: &Workspace, done: &Done) -> Result<Visited, Refused> {
    let refused = |said: Vec<Diagnostic>| Box::new((said, workspace.sources().clone()));
    let request = Request { recipe: done.recipe.clone(), dog: done.dog.clone(), on: Some(done.on), learner: false };
    let salons = workspace.salons();
    let (salon, decl) = card_of(&salons, &request, workspace).map_err(refused)?;
    let mut before = Vec::new();
    let dog = card::read(decl, &salon.trade, check::units(&salon.trade), Some(done.on), &mut before);
    let (recipe, place) = match (&done.recipe, &dog.wants) {
        (Some(name), _) => (name.as_str(), decl.place()),
        (None, Some((word, place))) => (word.text.as_str(), *place),
        (None, None) => return Err(refused(vec![which_recipe(decl)])),
    };
    let Some(of_recipe) = salon.recipes.get(recipe) else {
        return Err(refused(vec![check::unknown_recipe(salon, recipe, place)]));
    };
    if dog.visits.iter().any(|v| v.on == done.on && v.recipe.as_deref() == Some(recipe)) {
        let message = format!("{} was there on {} for {recipe} already", dog.name, done.on);
        let said = Diagnostic::error(code::D009, decl.place(), message);
        return Err(refused(vec![
            said.why("A visit that is told twice makes the next card count from a wrong day.")
                .help("Change the line `visit` by hand, or give another day: `--on DATE`."),
        ]));
    }
    let made = finished_part(workspace, &request, &Part::Today);
    // With what was found on the card its sheet would have other numbers.
    let rest = made
        .as_ref()
        .ok()
        .filter(|made| made.waits.is_some() && done.found.is_empty())
        .map(|made| worked(made, workspace, &request));
    let used = if done.used.is_empty() { tools(&made.map_err(refused)?) } else { done.used.clone() };
    let version = check::version_of(of_recipe).map(|v| format!(" version {v}")).unwrap_or_default();
    let mut visit = format!("visit {}, {recipe}{version}", done.on);
    used.iter().for_each(|tool| {
        let _ = write!(visit, ", {tool}");
    });
    let found: Vec<String> = done
        .found
        .iter()
        .map(|f| if f.contains(" seen ") { format!("finding {f}") } else { format!("finding {f} seen {}", done.on) })
        .collect();
    let mut lines = found;
    lines.push(visit.clone());
    let text = workspace.sources().text(decl.file);
    let name = workspace.sources().name(decl.file).to_owned();
    let mut sources = workspace.sources().clone();
    let joined = with_lines(text, decl, &lines);
    let file = sources.add(name.clone(), joined.as_str().into());
    let tree = grammar::parse(&joined);
    let said = new_lines(&tree, file, decl, &lines).map_err(|said| Box::new((said, sources.clone())))?;
    let text = grammar::format_with_its_ends(&joined).map_err(|why| {
        let place = Place { file, start: decl.at, end: decl.at };
        let said = Diagnostic::error(code::D009, place, format!("the file of {} can't be laid out: {why}", dog.name));
        Box::new((vec![said.help("Mend what `check` says of it, then write the visit.")], sources.clone()))
    })?;
    // The names in the new lines; what the card said before is told by `check`.
    let mut after = said;
    if let Some(placed) = same(&tree, decl) {
        let decl = Decl { file, at: placed.at, block: &placed.block.block };
        let mut all = Vec::new();
        let dog = card::read(decl, &salon.trade, check::units(&salon.trade), Some(done.on), &mut all);
        all.retain(|d| before.iter().all(|b| b.message != d.message));
        after.extend(all);
        // The next sheet works from what the card says.
        after.extend(dog.mats.iter().find(|m| m.grade > Grade::None).map(|mat| {
            Diagnostic::note(
                code::D008,
                mat.place,
                format!("the card still says: {} on {}", mat.grade.word(), mat.words),
            )
            .why("Mats that are off would be clipped off again, and the next visit would be planned round them.")
            .help("Change the lines `mats` to what is left of them, or take them out.")
        }));
    }
    if after.iter().any(|d| d.severity == Severity::Error) {
        return Err(Box::new((after, sources)));
    }
    Ok(Visited { file: name, text, line: visit, rest, said: after, sources })
}

/// The numbers of the steps that aren't done anew on another day: all but those with which every visit begins and ends.
fn worked(made: &Made, workspace: &Workspace, request: &Request) -> Vec<u32> {
    let frame = |task: &usize| match made.plan.tasks.get(*task).map(|t| &t.kind) {
        Some(TaskKind::Step { step, .. }) => {
            let stage = made.trade.step(*step).and_then(|s| s.stage);
            matches!(stage, Some(Stage::Intake | Stage::LastLook))
        }
        _ => false,
    };
    let steps = numbered(made, workspace.sources(), request).into_iter();
    steps.filter(|(_, _, tasks)| !tasks.iter().all(frame)).map(|(number, _, _)| number).collect()
}

/// The tools of a plan in order of use, as one says them; a blade beneath a comb is one of them.
fn tools(made: &Made) -> Vec<String> {
    let mut all: Vec<ToolId> = Vec::new();
    for task in &made.plan.tasks {
        let Made { dog, choices, trade, .. } = made;
        let strokes: Vec<&Stroke> = match &task.kind {
            TaskKind::SetIn(works) | TaskKind::Part { works, .. } => works.iter().map(|w| &w.stroke).collect(),
            TaskKind::Mats(mats) => {
                let off = mats.iter().filter_map(|n| clipped_off(dog.mats.get(*n)?, choices, trade, dog, made.whole()));
                off.map(|(_, stroke)| stroke).collect()
            }
            TaskKind::Step { .. } => continue,
        };
        for tool in strokes.into_iter().flat_map(|s| [s.tool, s.over]).flatten() {
            if !all.contains(&tool) {
                all.push(tool);
            }
        }
    }
    all.into_iter().filter_map(|tool| made.trade.tool(tool)).map(words).collect()
}

fn words(tool: &Tool) -> String {
    if tool.kind == ToolKind::Comb && tool.leaves.is_some() { tool_words(tool) } else { tool.name.to_string() }
}

/// The text with lines more at the end of a card. They stand on lines of their own, so that a remark stays with its line.
fn with_lines(text: &str, card: Decl<'_>, lines: &[String]) -> String {
    let close = (card.at + card.block.span.end).saturating_sub(1) as usize;
    // A finding goes to the findings, if nothing but a remark follows there on the line.
    let last = card.block.body.iter().rfind(|s| matches!(s.kind, StmtKind::CardFinding(_)));
    let beside = last.and_then(|stmt| {
        let end = (card.at + stmt.span.end) as usize;
        let rest = text.get(end..)?.split('\n').next()?;
        (rest.trim().is_empty() || rest.trim_start().starts_with("--")).then_some(end + rest.len())
    });
    let beside = beside.filter(|at| *at < close).unwrap_or(close);
    let block = |lines: &[String]| lines.iter().map(|l| format!("\n  {l}")).collect::<String>();
    let (visit, found) =
        lines.split_last().map_or((&[] as &[String], lines), |(last, found)| (std::slice::from_ref(last), found));
    let part = |from: usize, to: usize| text.get(from..to).unwrap_or_default();
    // The brace of a card over several lines stands on its own, and no empty line comes between.
    let before = part(beside, close).trim_end();
    let head = if beside == close { part(0, beside).trim_end() } else { part(0, beside) };
    format!("{head}{}{before}{}\n{}", block(found), block(visit), part(close, text.len()))
}

/// The text with lines more at the end of a card, whatever they are.
pub(crate) fn card_with(text: &str, card: Decl<'_>, lines: &[String]) -> String {
    let close = (card.at + card.block.span.end).saturating_sub(1) as usize;
    let part = |from: usize, to: usize| text.get(from..to).unwrap_or_default();
    let lines: String = lines.iter().map(|l| format!("\n  {l}")).collect();
    format!("{}{lines}\n{}", part(0, close).trim_end(), part(close, text.len()))
}

pub(crate) fn same<'f>(tree: &'f File, card: Decl<'_>) -> Option<&'f Placed> {
    // What stands before the card hasn't changed.
    tree.blocks.iter().map(|p| &**p).find(|p| p.at == card.at && p.block.block.kind == BlockKind::Dog)
}

/// Whether the new lines came out as so many statements of a card, and nothing else changed.
pub(crate) fn new_lines(
    tree: &File,
    file: FileId,
    card: Decl<'_>,
    lines: &[String],
) -> Result<Vec<Diagnostic>, Vec<Diagnostic>> {
    // A brace would end the card before its time, or begin something else in it.
    let braces = lines.iter().any(|line| line.contains(['{', '}']));
    let Some(placed) = same(tree, card).filter(|_| !braces) else { return Err(vec![odd(file, card)]) };
    let errors: Vec<Diagnostic> = placed.block.errors.iter().map(|e| syntax(file, placed.at, e)).collect();
    if errors.iter().any(|d| d.severity == Severity::Error) {
        return Err(errors);
    }
    if placed.block.block.body.len() != card.block.body.len() + lines.len() {
        return Err(vec![odd(file, card)]);
    }
    Ok(errors)
}

pub(crate) fn odd(file: FileId, card: Decl<'_>) -> Diagnostic {
    let place = Place { file, start: card.at, end: card.at };
    Diagnostic::error(code::D009, place, "what was found doesn't fit into one line of the card")
        .help("Say one finding at a time, such as `--found \"irritation on throat after #10 in reverse\"`.")
}
