//! Many cards at once: each a line of JSON, each answered by a line of JSON.
//!
//! House, bases and recipes are read and worked out once; a card then costs its own dog only. The independent check stands before
//! every answer, as before every sheet.

mod answer;

pub use answer::{AnswerJson, SaidJson};

use crate::cards::{self, Written};
use crate::check;
use crate::date::Day;
use crate::diagnostic::{Diagnostic, Severity, code};
use crate::names::card;
use crate::names::lower::Decl;
use crate::sheet::planning::{At, Known, build, planned, recipe, summary, trade_texts, which_recipe};
use crate::sheet::render::{Units, in_units};
use crate::sheet::{Card, Made, Part, Request};
use crate::source::{FileId, Place, Sources};
use crate::verify;
use crate::workspace::{Salon, Workspace};
use grammar::tree::{Placed, Stmt, StmtKind};
use std::collections::BTreeMap;
use std::sync::OnceLock;

/// What is asked of every card.
#[derive(Clone, Debug)]
pub struct Asked {
    /// The recipe; none takes what the card wants.
    pub recipe: Option<String>,
    /// The day of the visit.
    pub on: Day,
    /// Whole sheets, or what a day's list needs.
    pub sheets: bool,
    /// Millimetres and kilograms, or inches and pounds.
    pub units: Units,
}

/// The files of a run with all that every card shares. Borrowed by [`Batch`].
pub struct Shared<'t> {
    workspace: &'t Workspace,
    salons: Vec<Salon<'t>>,
    /// For each salon what the independent check reads.
    texts: Vec<Vec<verify::Text<'t>>>,
}

impl<'t> Shared<'t> {
    /// Reads what cards share.
    #[must_use]
    pub fn of(workspace: &'t Workspace) -> Self {
        let salons = workspace.salons();
        let texts = salons.iter().map(|salon| trade_texts(workspace, salon)).collect();
        Self { workspace, salons, texts }
    }
}

/// A recipe, made ready when the first card asks for it.
struct Recipe<'t> {
    salon: usize,
    decl: Decl<'t>,
    ready: OnceLock<Ready<'t>>,
}

struct Ready<'t> {
    known: Known<'t>,
    read: verify::Known<'t>,
}

/// Answers cards. It may be asked from several threads at once.
pub struct Batch<'a, 't> {
    shared: &'a Shared<'t>,
    recipes: BTreeMap<&'a str, Vec<Recipe<'t>>>,
    asked: Asked,
}

/// The answer to a card.
#[derive(Clone, Debug)]
pub struct Answer {
    /// One line of JSON with its end.
    pub line: String,
    /// The code of the first message that keeps the card from being worked from.
    pub refused: Option<&'static str>,
}

/// A card that was refused on the way.
type Refused = Vec<Diagnostic>;

impl<'a, 't> Batch<'a, 't> {
    /// Makes ready for cards.
    #[must_use]
    pub fn new(shared: &'a Shared<'t>, asked: Asked) -> Self {
        let mut recipes: BTreeMap<&'a str, Vec<Recipe<'t>>> = BTreeMap::new();
        for (number, salon) in shared.salons.iter().enumerate() {
            for (name, decl) in salon.recipes.iter() {
                let recipe = Recipe { salon: number, decl, ready: OnceLock::new() };
                recipes.entry(name.as_str()).or_default().push(recipe);
            }
        }
        Self { shared, recipes, asked }
    }

    /// The answer to the card on a line of the input, whose number counts from 1.
    #[must_use]
    pub fn answer(&self, line: u64, json: &str) -> Answer {
        let mut answer = AnswerJson { line, ..AnswerJson::default() };
        let mut sources = self.shared.workspace.sources().clone();
        let card = match cards::parse(json) {
            Ok(card) => card,
            Err(why) => return self.refuse(answer, None, &sources, vec![unreadable(&why)]),
        };
        answer.id.clone_from(&card.id);
        answer.dog = Some(card.dog.clone());
        let written = match card.text() {
            Ok(written) => written,
            Err(why) => return self.refuse(answer, None, &sources, vec![*why]),
        };
        let file = sources.add("card".to_owned(), written.text.as_str().into());
        match self.made(&written, file, &sources) {
            Ok(made) => {
                let request = Request {
                    recipe: self.asked.recipe.clone(),
                    dog: card.dog,
                    on: Some(self.asked.on),
                    learner: false,
                };
                answer.ok = true;
                answer.recipe = Some(recipe(&made));
                answer.messages = made.said.iter().map(|d| SaidJson::of(d, Some((&written, file)), &sources)).collect();
                if self.asked.sheets {
                    answer.sheet = Some(in_units(&build(&made, &sources, &request), self.asked.units).into_owned());
                } else {
                    let summary = summary(&made, &sources, &request);
                    answer.summary = Some(in_units(&summary, self.asked.units).into_owned());
                }
                Answer { line: answer.line(), refused: None }
            }
            Err(said) => self.refuse(answer, Some((&written, file)), &sources, said),
        }
    }

    /// The answer to a line that can't even be looked at.
    #[must_use]
    pub fn no_text(&self, line: u64, why: &str) -> Answer {
        let answer = AnswerJson { line, ..AnswerJson::default() };
        self.refuse(answer, None, self.shared.workspace.sources(), vec![unreadable(why)])
    }

    fn refuse(
        &self,
        mut answer: AnswerJson,
        card: Option<(&Written, FileId)>,
        sources: &Sources,
        said: Refused,
    ) -> Answer {
        answer.messages = said.iter().map(|d| SaidJson::of(d, card, sources)).collect();
        let refused = said.iter().find(|d| d.severity == Severity::Error).map(|d| d.code);
        Answer { line: answer.line(), refused: refused.or(Some(code::D010)) }
    }

    fn made(&self, written: &Written, file: FileId, sources: &Sources) -> Result<Made, Refused> {
        let (_, placed) = written.read(file)?;
        let decl = Decl { file, at: placed.at, block: &placed.block.block };
        let recipe = self.recipe(decl, &placed)?;
        let (Some(salon), Some(texts)) = (self.shared.salons.get(recipe.salon), self.shared.texts.get(recipe.salon))
        else {
            return Err(vec![which_recipe(decl)]);
        };
        let ready = recipe.ready.get_or_init(|| {
            let known = Known::of(salon, recipe.decl);
            let chain: Vec<(u32, u32, &'t [Stmt])> =
                known.layers.iter().map(|l| (l.decl.file.0, l.decl.at, l.stmts)).collect();
            let read = verify::Known::read(texts, &chain);
            Ready { known, read }
        });
        let mut said = Vec::new();
        let dog = card::read(decl, &salon.trade, check::units(&salon.trade), Some(self.asked.on), &mut said);
        let at = At { workspace: self.shared.workspace, sources, salon, texts, read: Some(&ready.read) };
        planned(&at, &ready.known, Card::of(decl), dog, (Some(self.asked.on), &Part::Today), said)
    }

    /// The recipe that is asked for, or that the card wants.
    fn recipe(&self, card: Decl<'_>, placed: &Placed) -> Result<&Recipe<'t>, Refused> {
        let wanted = placed.block.block.body.iter().rev().find_map(|stmt| match &stmt.kind {
            StmtKind::Wants { recipe, .. } => Some(recipe),
            _ => None,
        });
        let (name, place) = match (&self.asked.recipe, wanted) {
            (Some(name), _) => (name.as_str(), card.place()),
            (None, Some(word)) => {
                let at = card.at;
                (word.text.as_str(), Place { file: card.file, start: at + word.span.start, end: at + word.span.end })
            }
            (None, None) => return Err(vec![which_recipe(card)]),
        };
        match self.recipes.get(name).map(Vec::as_slice) {
            Some([one]) => Ok(one),
            Some([first, second, ..]) => {
                let said = Diagnostic::error(code::D003, place, format!("two salons have a recipe called {name}"));
                let said = said.related(first.decl.place(), "one").related(second.decl.place(), "the other one");
                Err(vec![
                    said.why("Each has its own house, and a sheet is made by one of them.")
                        .help("Name the salon's folder: `coatwright batch --salon FOLDER`."),
                ])
            }
            _ => Err(vec![match self.shared.salons.as_slice() {
                [one] => check::unknown_recipe(one, name, place),
                _ => Diagnostic::error(code::M005, place, format!("no recipe here is called `{name}`"))
                    .help("Recipes are found in the folder of the house and below it."),
            }]),
        }
    }
}

fn unreadable(why: &str) -> Diagnostic {
    let place = Place { file: FileId(u32::MAX), start: 0, end: 0 };
    Diagnostic::error(code::D010, place, format!("this line isn't a card in JSON: {why}"))
        .why("A card that is read by halves may miss what hurts the dog.")
        .help("Write one object a line, as `coatwright schema card` shows it.")
}
