//! Cases: what a text expects of one dog, held against what is worked out for it.
//!
//! A case runs what a sheet runs but for the plan: card and recipe, finishes, and every rule. It passes if each of its `expect`
//! lines holds, and if nothing is said that would hold the sheet up and that it doesn't expect.

mod cover;
mod expect;
mod json;

pub use cover::{Cover, uncovered};
pub use json::CaseJson;

use crate::check::{self, unknown_recipe};
use crate::diagnostic::{Diagnostic, Severity, code, in_order};
use crate::finish::Did;
use crate::names::card::{self, Dog};
use crate::names::lower::Decl;
use crate::sheet::{Card, Worked, worked};
use crate::source::Place;
use crate::workspace::{Salon, Workspace};
use expect::{Held, no_other, of_line};
use grammar::tree::{Expect, Stmt, StmtKind, Word};
use rayon::prelude::*;
use rustc_hash::FxHashSet;
use smol_str::SmolStr;

/// A case that was run.
#[derive(Clone, Debug)]
pub struct Ran {
    /// Its name.
    pub name: SmolStr,
    /// Its head.
    pub place: Place,
    /// The recipe, if it is known.
    pub recipe: Option<SmolStr>,
    /// How many lines it expects something with.
    pub expects: usize,
    /// How many of them don't hold.
    pub fails: usize,
    /// What doesn't hold, or why it couldn't be run. It passed if this is empty.
    pub said: Vec<Diagnostic>,
    /// What its dog had worked out.
    pub cover: Cover,
}

impl Ran {
    /// Whether all that it expects holds.
    #[must_use]
    pub fn passed(&self) -> bool {
        self.said.is_empty()
    }
}

/// Runs the cases of the asked files whose name holds `only`, on all cores, in the order of the files.
#[must_use]
pub fn run(workspace: &Workspace, salons: &[Salon<'_>], only: &str) -> Vec<Ran> {
    let asked: FxHashSet<_> = workspace.asked().iter().copied().collect();
    let mut all: Vec<(Place, usize, Decl<'_>)> = Vec::new();
    for (number, salon) in salons.iter().enumerate() {
        let cases = salon.cases.within(&asked).filter(|c| c.name().contains(only));
        all.extend(cases.map(|case| (case.place(), number, case)));
    }
    all.sort_by_key(|(place, ..)| (place.file, place.start));
    let of = |(_, salon, case): &(Place, usize, Decl<'_>)| salons.get(*salon).map(|salon| one(workspace, salon, *case));
    all.par_iter().filter_map(of).collect()
}

/// Runs one case.
#[must_use]
pub fn one(workspace: &Workspace, salon: &Salon<'_>, case: Decl<'_>) -> Ran {
    let (name, place) = (case.name(), case.place());
    tried(workspace, salon, case).unwrap_or_else(|why| Ran {
        name,
        place,
        recipe: None,
        expects: 0,
        fails: 0,
        said: vec![*why],
        cover: Cover::default(),
    })
}

/// The same, or why it can't be run.
fn tried(workspace: &Workspace, salon: &Salon<'_>, case: Decl<'_>) -> Result<Ran, Box<Diagnostic>> {
    // What can't be read says nothing of the dog.
    let broken =
        workspace.part(&case).is_some_and(|(_, placed)| placed.block.broken || !placed.block.errors.is_empty());
    if broken {
        return Err(unable(case, "it has mistakes of its own").help("See what `check` says of it.").into());
    }
    let (card, dog) = given(salon, case)?;
    let Some((word, place)) = recipe_word(case).or_else(|| dog.wants.clone()) else {
        return Err(unable(case, "it names no recipe, and its dog's card doesn't either")
            .help("Write `recipe NAME` in the case, or `wants NAME` on the card.")
            .into());
    };
    let recipe = salon.recipes.get(&word.text);
    let recipe = recipe.ok_or_else(|| Box::new(unknown_recipe(salon, &word.text, place)))?;
    if let Some(first) = check::mistake(salon, recipe) {
        let diagnostic = unable(case, &format!("{} has mistakes", recipe.name())).related(first.place, first.message);
        return Err(diagnostic.help("See what `check` says of it.").into());
    }
    let lines = expects(case);
    if lines.is_empty() {
        let help = "Write what the dog gets: `expect belly-rear left`, or `expect no message`.";
        return Err(unable(case, "it expects nothing").help(help).into());
    }
    let mut messages = Vec::new();
    let done = worked(salon, card, recipe, dog, None, &mut messages);
    in_order(&mut messages);
    let held = Held { salon, case, done: &done, card, messages: &messages };
    let (mut said, mut fails) = (Vec::new(), 0);
    for (stmt, line) in &lines {
        let mut wrong = Vec::new();
        of_line(&held, stmt, line, &mut wrong);
        fails += usize::from(!wrong.is_empty());
        said.extend(wrong);
    }
    let others = no_other(&held, &lines);
    let none = lines.iter().any(|(_, line)| matches!(line, Expect::NoMessage));
    fails += usize::from(none && !others.is_empty());
    said.extend(others);
    let (name, place) = (case.name(), case.place());
    Ok(Ran { name, place, recipe: Some(recipe.name()), expects: lines.len(), fails, said, cover: covered(&done) })
}

/// The dog of a case, and the lines that tell of it.
fn given<'t>(salon: &Salon<'t>, case: Decl<'t>) -> Result<(Card<'t>, Dog), Box<Diagnostic>> {
    let units = check::units(&salon.trade);
    for stmt in &case.block.body {
        let StmtKind::Given { dog, body } = &stmt.kind else { continue };
        let mut said = Vec::new();
        let found = match (dog, body) {
            (Some(word), _) => {
                let Some(decl) = salon.dogs.get(&word.text) else {
                    let help =
                        "Write the card, or give the dog on the spot: `given { coat curl, 30 mm; weight 6 kg }`.";
                    return Err(unable(case, &format!("no card here is called `{}`", word.text)).help(help).into());
                };
                (Card::of(decl), card::read(decl, &salon.trade, units, None, &mut said))
            }
            (None, Some(body)) => {
                let card = Card { decl: case, lines: &body.stmts };
                (card, card::read_lines(case, &body.stmts, &salon.trade, units, None, &mut said))
            }
            (None, None) => continue,
        };
        return match said.iter().find(|d| d.severity == Severity::Error) {
            None => Ok(found),
            Some(wrong) => Err(unable(case, "its dog's lines have mistakes")
                .related(wrong.place, wrong.message.clone())
                .help("See what `check` says of them.")
                .into()),
        };
    }
    Err(unable(case, "it gives no dog")
        .help("Write `given dog NAME`, or `given { coat curl, 30 mm; weight 6 kg }`.")
        .into())
}

fn recipe_word(case: Decl<'_>) -> Option<(Word, Place)> {
    case.block.body.iter().find_map(|stmt| match &stmt.kind {
        StmtKind::Field(field) if field.name.text == "recipe" => {
            let word = field.values.first().and_then(crate::names::fields::value_name)?;
            let place = Place { file: case.file, start: case.at + word.span.start, end: case.at + word.span.end };
            Some((word.clone(), place))
        }
        _ => None,
    })
}

fn expects(case: Decl<'_>) -> Vec<(&Stmt, &Expect)> {
    let lines = case.block.body.iter();
    lines.filter_map(|stmt| if let StmtKind::Expect(line) = &stmt.kind { Some((stmt, line)) } else { None }).collect()
}

fn unable(case: Decl<'_>, why: &str) -> Diagnostic {
    Diagnostic::error(code::T004, case.place(), format!("the case `{}` can't be run: {why}", case.name()))
}

/// The statements that took part, and the findings that the dog has.
fn covered(done: &Worked<'_>) -> Cover {
    let mut cover = Cover::default();
    for reason in done.finishes.all.iter().flat_map(|f| &f.reasons) {
        if !matches!(reason.what, Did::WonOver) {
            cover.places.insert(reason.place);
        }
    }
    cover.findings = done.dog.findings.iter().map(|f| f.finding).collect();
    cover.layers = done.layers.iter().map(|l| l.decl.place()).collect();
    cover
}
