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

    fn unable(case: Decl<'_>, said: Vec<Diagnostic>) -> Self {
        let (name, place) = (case.name(), case.place());
        Self { name, place, recipe: None, expects: 0, fails: 0, said, cover: Cover::default() }
    }
}

/// Runs the cases of the asked files whose name holds `only`, on all cores, in the order of the files.
#[must_use]
pub fn run(workspace: &Workspace, salons: &[Salon<'_>], only: &str) -> Vec<Ran> {
    let asked: FxHashSet<_> = workspace.asked().iter().copied().collect();
    let mut all: Vec<(Place, usize, Decl<'_>)> = Vec::new();
    for (number, salon) in salons.iter().enumerate() {
        let cases = salon.cases.iter().filter(|c| asked.contains(&c.file) && c.name().contains(only));
        all.extend(cases.map(|case| (case.place(), number, *case)));
    }
    all.sort_by_key(|(place, ..)| (place.file, place.start));
    let of = |(_, salon, case): &(Place, usize, Decl<'_>)| salons.get(*salon).map(|salon| one(workspace, salon, *case));
    all.par_iter().filter_map(of).collect()
}

/// Runs one case.
#[must_use]
pub fn one(workspace: &Workspace, salon: &Salon<'_>, case: Decl<'_>) -> Ran {
    let mut said = Vec::new();
    // What can't be read says nothing of the dog.
    let broken =
        workspace.part(&case).is_some_and(|(_, placed)| placed.block.broken || !placed.block.errors.is_empty());
    if broken {
        return Ran::unable(
            case,
            vec![unable(case, "it has mistakes of its own").help("See what `check` says of it.")],
        );
    }
    let Some(given) = given(salon, case, &mut said) else { return Ran::unable(case, said) };
    let named = recipe_word(case);
    let Some((word, place)) = named.or_else(|| given.dog.wants.clone()) else {
        let help = "Write `recipe NAME` in the case, or `wants NAME` on the card.";
        return Ran::unable(
            case,
            vec![unable(case, "it names no recipe, and its dog's card doesn't either").help(help)],
        );
    };
    let Some(recipe) = salon.recipes.get(&word.text).copied() else {
        return Ran::unable(case, vec![unknown_recipe(salon, &word.text, place)]);
    };
    // A recipe with mistakes says nothing of any dog.
    let mut mistakes = Vec::new();
    let layers = check::chain(salon, recipe, &mut mistakes);
    crate::choices::build(&layers, &salon.trade, check::units(&salon.trade), &mut mistakes);
    if let Some(first) = mistakes.iter().find(|d| d.severity == Severity::Error) {
        let message = format!("{} has mistakes", recipe.name());
        let diagnostic = unable(case, &message).related(first.place, first.message.clone());
        return Ran::unable(case, vec![diagnostic.help("See what `check` says of it.")]);
    }
    let Given { card, dog } = given;
    let mut messages = Vec::new();
    let done = worked(salon, card, recipe, dog, None, &mut messages);
    in_order(&mut messages);
    let mut ran = Ran { recipe: Some(recipe.name()), ..Ran::unable(case, Vec::new()) };
    let lines: Vec<(&Stmt, &Expect)> = expects(case);
    if lines.is_empty() {
        let help = "Write what the dog gets: `expect belly-rear left`, or `expect no message`.";
        return Ran::unable(case, vec![unable(case, "it expects nothing").help(help)]);
    }
    ran.expects = lines.len();
    let held = Held { salon, case, done: &done, card, messages: &messages };
    for (stmt, line) in &lines {
        let mut wrong = Vec::new();
        of_line(&held, stmt, line, &mut wrong);
        ran.fails += usize::from(!wrong.is_empty());
        ran.said.extend(wrong);
    }
    if let Some(wrong) = no_other(&held, &lines) {
        ran.fails += usize::from(lines.iter().any(|(_, line)| matches!(line, Expect::NoMessage)));
        ran.said.extend(wrong);
    }
    ran.cover = covered(&done);
    ran
}

/// The dog of a case, and the lines that tell of it.
struct Given<'t> {
    card: Card<'t>,
    dog: Dog,
}

fn given<'t>(salon: &Salon<'t>, case: Decl<'t>, out: &mut Vec<Diagnostic>) -> Option<Given<'t>> {
    let units = check::units(&salon.trade);
    for stmt in &case.block.body {
        let StmtKind::Given { dog, body } = &stmt.kind else { continue };
        let mut said = Vec::new();
        let (card, dog) = match (dog, body) {
            (Some(word), _) => {
                let Some(decl) = salon.dogs.get(&word.text).copied() else {
                    let help =
                        "Write the card, or give the dog on the spot: `given { coat curl, 30 mm; weight 6 kg }`.";
                    out.push(unable(case, &format!("no card here is called `{}`", word.text)).help(help));
                    return None;
                };
                (Card::of(decl), card::read(decl, &salon.trade, units, None, &mut said))
            }
            (None, Some(body)) => {
                let card = Card { decl: case, lines: &body.stmts };
                (card, card::read_lines(case, &body.stmts, &salon.trade, units, None, &mut said))
            }
            (None, None) => continue,
        };
        if let Some(wrong) = said.iter().find(|d| d.severity == Severity::Error) {
            let diagnostic = unable(case, "its dog's lines have mistakes").related(wrong.place, wrong.message.clone());
            out.push(diagnostic.help("See what `check` says of them."));
            return None;
        }
        return Some(Given { card, dog });
    }
    out.push(
        unable(case, "it gives no dog").help("Write `given dog NAME`, or `given { coat curl, 30 mm; weight 6 kg }`."),
    );
    None
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
    let of = |stmt: &'_ Stmt| matches!(stmt.kind, StmtKind::Expect(_));
    let lines = case.block.body.iter().filter(|stmt| of(stmt));
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
