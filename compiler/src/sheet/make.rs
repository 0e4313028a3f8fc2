//! The whole way for one dog.

use super::replan::Earlier;
use super::{Sheet, build, gate, on_card};
use crate::check;
use crate::choices::{self, Choices, Layer, Level};
use crate::date::Day;
use crate::diagnostic::{Diagnostic, Severity, code, in_order};
use crate::finish::{Finish, Finishes, finish};
use crate::names::card::{self, Dog};
use crate::names::lower::Decl;
use crate::names::nearest;
use crate::names::trade::Trade;
use crate::plan::{Body, Plan, Waits, Without, parted_mats, today as planned_today, waiting};
use crate::rules;
use crate::source::{FileId, Place, Sources};
use crate::verify;
use crate::workspace::{Salon, Workspace};
use grammar::tree::{Stmt, StmtKind};
use smol_str::SmolStr;
use std::collections::BTreeSet;
use std::sync::{Arc, LazyLock};

/// What is asked for.
#[derive(Clone, Debug)]
pub struct Request {
    /// The recipe's name; none takes what the card wants.
    pub recipe: Option<String>,
    /// The card's name.
    pub dog: String,
    /// The day of the visit; none takes the day of the card.
    pub on: Option<Day>,
    /// Whether the steps say why.
    pub learner: bool,
}

/// How much of a trim is planned.
#[derive(Clone, Debug, Default)]
pub enum Part {
    /// All of it, as if one visit could hold it.
    Whole,
    /// What the dog bears today; what it needs comes first, and the rest waits.
    #[default]
    Today,
    /// Of that, what is left when some of it is done.
    Rest(Without),
}

/// Everything that was worked out for one dog: for the sheet, for `why`, for tests.
#[derive(Debug)]
pub struct Made {
    /// The recipe's choices.
    pub choices: Arc<Choices>,
    /// The vocabulary.
    pub trade: Arc<Trade>,
    /// The dog.
    pub dog: Dog,
    /// What is done where.
    pub finishes: Finishes,
    /// In which order.
    pub plan: Plan,
    /// What waits for another visit.
    pub waits: Option<Waits>,
    /// What was before it, if it is the rest of a visit.
    pub earlier: Option<Earlier>,
    /// What there is to say; no error among it.
    pub said: Vec<Diagnostic>,
    /// The texts that it was made from: name and fingerprint.
    pub made_from: Vec<String>,
}

/// A sheet for the whole trim of one dog, as if one visit could hold it.
///
/// # Errors
/// The messages that keep a sheet from being made, and the others beside them.
pub fn make(workspace: &Workspace, request: &Request) -> Result<Sheet, Vec<Diagnostic>> {
    make_part(workspace, request, &Part::Whole)
}

/// A sheet for as much of the trim.
///
/// # Errors
/// As [`make`].
pub fn make_part(workspace: &Workspace, request: &Request, part: &Part) -> Result<Sheet, Vec<Diagnostic>> {
    let made = finished_part(workspace, request, part)?;
    Ok(build::sheet(&made, workspace.sources(), request))
}

/// A sheet for what is done today, with what it was made from.
///
/// # Errors
/// As [`make`].
pub fn make_today(workspace: &Workspace, request: &Request) -> Result<(Sheet, Made), Vec<Diagnostic>> {
    let made = finished_part(workspace, request, &Part::Today)?;
    Ok((build::sheet(&made, workspace.sources(), request), made))
}

/// Card and recipe to a plan of the whole trim that the independent check has passed.
///
/// # Errors
/// As [`make`].
pub fn finished(workspace: &Workspace, request: &Request) -> Result<Made, Vec<Diagnostic>> {
    finished_part(workspace, request, &Part::Whole)
}

/// Card and recipe to a plan of as much of it.
///
/// # Errors
/// As [`make`].
pub fn finished_part(workspace: &Workspace, request: &Request, part: &Part) -> Result<Made, Vec<Diagnostic>> {
    let mut out = Vec::new();
    let salons = workspace.salons();
    let (salon, card) = card_of(&salons, request, workspace)?;
    words_of(workspace, &[card], &mut out);
    let units = check::units(&salon.trade);
    let dog = card::read(card, &salon.trade, units, request.on, &mut out);
    let (name, place) = match (&request.recipe, &dog.wants) {
        (Some(name), _) => (SmolStr::from(name.as_str()), card.place()),
        (None, Some((word, place))) => (word.text.clone(), *place),
        (None, None) => {
            out.push(which_recipe(card));
            return Err(out);
        }
    };
    let Some(recipe) = salon.recipes.get(&name) else {
        out.push(check::unknown_recipe(salon, &name, place));
        return Err(out);
    };
    let known = Known::of(salon, recipe);
    let texts = trade_texts(workspace, salon);
    let at = At { workspace, sources: workspace.sources(), salon, texts: &texts, read: None };
    planned(&at, &known, Card::of(card), dog, (request.on, part), out)
}

/// D003: neither the card nor anybody else names a recipe.
pub(crate) fn which_recipe(card: Decl<'_>) -> Diagnostic {
    Diagnostic::error(code::D003, card.place(), format!("which recipe for {}?", card.name()))
        .help("Name it, or add a line such as `wants harbour-short` to the card.")
}

/// Where a plan is made: what is the same for every dog of a salon.
#[derive(Clone, Copy)]
pub(crate) struct At<'a, 't> {
    /// The files.
    pub(crate) workspace: &'t Workspace,
    /// Their texts, and the card's, if it stands in none of them.
    pub(crate) sources: &'a Sources,
    /// The salon.
    pub(crate) salon: &'a Salon<'t>,
    /// What the independent check reads the trade from.
    pub(crate) texts: &'a [verify::Text<'t>],
    /// The trade as that check has read it before.
    pub(crate) read: Option<&'a verify::Known<'t>>,
}

/// A dog and what is known of its recipe, to a plan that the independent check has passed. `out` is what was said of the card.
///
/// # Errors
/// As [`make`].
pub(crate) fn planned(
    at: &At<'_, '_>,
    known: &Known<'_>,
    card: Card<'_>,
    dog: Dog,
    (on, part): (Option<Day>, &Part),
    mut out: Vec<Diagnostic>,
) -> Result<Made, Vec<Diagnostic>> {
    let At { workspace, salon, .. } = *at;
    let Worked { layers, choices, dog, mut finishes } = worked_from(salon, known, card, dog, on, &mut out);
    let decls: Vec<Decl<'_>> = layers.iter().map(|l| l.decl).collect();
    words_of(workspace, &decls, &mut out);
    // Another dog's card or a recipe that isn't worked from may have its faults: they don't keep this dog waiting.
    let elsewhere = |d: &&Diagnostic| {
        let of_others = salon.dogs.values().chain(salon.recipes.values()).any(|x| x.place() == d.place);
        of_others && d.place != card.decl.place() && decls.iter().all(|x| x.place() != d.place)
    };
    out.extend(salon.said.iter().filter(|d| !elsewhere(d)).cloned());
    out.iter_mut().for_each(|d| salon.raise(d));
    in_order(&mut out);
    once(&mut out);
    if out.iter().any(|d| d.severity == Severity::Error) {
        return Err(out);
    }
    let none = Without::default();
    let without = if let Part::Rest(without) = part { without } else { &none };
    let body = Body::of(&choices, &salon.trade, &dog, &finishes);
    let mut plan = body.plan(without);
    let mut waits = None;
    let mut today = if matches!(part, Part::Whole) { None } else { planned_today(&body, &plan, without) };
    let parted = today.as_ref().and_then(|first| parted_mats(&body, &plan, without, first));
    let dog = if let Some(parted) = parted {
        let body = Body::of(&choices, &salon.trade, &parted, &finishes);
        plan = body.plan(without);
        today = planned_today(&body, &plan, without);
        parted
    } else {
        dog
    };
    if let Some(first) = today {
        (plan, finishes, waits) = (first.plan, first.finishes, Some(first.waits));
        if !plan.bears.fits() {
            out.push(too_much(&dog, &plan, card.decl.place(), without.is_wet()));
            return Err(out);
        }
    }
    if dog.stops_visit(&salon.trade) {
        // Nothing more is done: neither the file nor the owner reads of it.
        let stopped = |f: &Finish| if without.finished.has(f.site) { f.clone() } else { waiting(f) };
        finishes.all = finishes.all.iter().map(stopped).collect();
    }
    let breaches = gate::verified(at, &layers, card.decl, &dog, (&plan, &finishes), part);
    if !breaches.is_empty() {
        out.extend(breaches);
        return Err(out);
    }
    let mut made_from: Vec<String> = layers.iter().map(|l| fingerprint(at.sources, l.decl)).collect();
    made_from.push(basics_fingerprint().to_owned());
    Ok(Made {
        choices,
        trade: Arc::clone(&salon.trade),
        dog,
        finishes,
        plan,
        waits,
        earlier: None,
        said: out,
        made_from,
    })
}

/// D011: what no visit is short enough for.
fn too_much(dog: &Dog, plan: &Plan, place: Place, wet: bool) -> Diagnostic {
    let stop = if wet { "Stop here: towel it where it lies, warm and out of the draught" } else { "Stop here" };
    let words = |time: crate::measure::Time| super::words::plain_time(time);
    let bears = plan.bears.limits.in_all.map(|l| words(l.time)).unwrap_or_default();
    let least = words(crate::measure::Time((plan.bears.stands.high.0 + 59) / 60 * 60));
    let message =
        format!("{} bears {bears} more, and what every visit begins and ends with takes up to {least}", dog.name);
    Diagnostic::error(code::D011, place, message)
        .why("No sheet is written for more than the dog bears; a dog that is looked over in haste gets hurt.")
        .help(format!("{stop}, and find another day; or mend the line `stands`, if the dog bears more."))
}

/// The basics' own fingerprint: they are the same in every run.
fn basics_fingerprint() -> &'static str {
    static WORDS: LazyLock<String> = LazyLock::new(|| format!("basics {:016x}", hash(crate::basics::embedded())));
    &WORDS
}

/// What a recipe says before there is a dog: the same for all of its dogs that wish nothing of their own.
pub(crate) struct Known<'t> {
    /// House, bases, recipe.
    pub(crate) layers: Vec<Layer<'t>>,
    recipe: SmolStr,
    choices: Arc<Choices>,
    /// What there is to say about the layers, and about the choices that they come to.
    said: (Vec<Diagnostic>, Vec<Diagnostic>),
}

impl<'t> Known<'t> {
    /// Reads a recipe with house and bases.
    pub(crate) fn of(salon: &Salon<'t>, recipe: Decl<'t>) -> Self {
        let mut said = (Vec::new(), Vec::new());
        let layers = check::chain(salon, recipe, &mut said.0);
        let choices = choices::build(&layers, &salon.trade, check::units(&salon.trade), &mut said.1);
        Self { layers, recipe: recipe.name(), choices: Arc::new(choices), said }
    }
}

/// The lines that tell of a dog, and the block in which they stand: a card, or a case that gives its dog on the spot.
#[derive(Clone, Copy, Debug)]
pub struct Card<'t> {
    /// The block.
    pub decl: Decl<'t>,
    /// The lines.
    pub lines: &'t [Stmt],
}

impl<'t> Card<'t> {
    /// A card of its own.
    #[must_use]
    pub fn of(decl: Decl<'t>) -> Self {
        Self { decl, lines: &decl.block.body }
    }
}

/// A card and a recipe, worked out as far as needs no plan.
pub struct Worked<'t> {
    /// House, bases, recipe and wish.
    pub layers: Vec<Layer<'t>>,
    /// What they say.
    pub choices: Arc<Choices>,
    /// The dog.
    pub dog: Dog,
    /// What is done where.
    pub finishes: Finishes,
}

/// Works a card and a recipe out, with everything that there is to say about the two together.
pub fn worked<'t>(
    salon: &Salon<'t>,
    card: Card<'t>,
    recipe: Decl<'t>,
    dog: Dog,
    on: Option<Day>,
    out: &mut Vec<Diagnostic>,
) -> Worked<'t> {
    worked_from(salon, &Known::of(salon, recipe), card, dog, on, out)
}

fn worked_from<'t>(
    salon: &Salon<'_>,
    known: &Known<'t>,
    card: Card<'t>,
    dog: Dog,
    on: Option<Day>,
    out: &mut Vec<Diagnostic>,
) -> Worked<'t> {
    let (mut layers, mut choices) = (known.layers.clone(), Arc::clone(&known.choices));
    let wish = wish(card.lines, &known.recipe);
    let card = card.decl;
    out.extend(known.said.0.iter().cloned());
    if wish.is_empty() {
        out.extend(known.said.1.iter().cloned());
    } else {
        let houses = layers.last().map(|recipe| recipe.houses).unwrap_or_default();
        layers.push(Layer { stmts: wish, ..Layer::of(Level::Wish, card, houses) });
        choices = Arc::new(choices::build(&layers, &salon.trade, check::units(&salon.trade), out));
    }
    let finishes = finish(&choices, &salon.trade, &dog, out);
    rules::on_dog(&choices, &salon.trade, &dog, &finishes, out);
    on_card::say(&choices, salon, &dog, &finishes, card, on, out);
    Worked { layers, choices, dog, finishes }
}

/// The card that is meant, and its salon: of several cards of one name that whose salon has the recipe that is asked for.
pub(crate) fn card_of<'s, 't>(
    salons: &'s [Salon<'t>],
    request: &Request,
    workspace: &Workspace,
) -> Result<(&'s Salon<'t>, Decl<'t>), Vec<Diagnostic>> {
    let all: Vec<(&Salon<'_>, Decl<'_>)> =
        salons.iter().filter_map(|s| s.dogs.get(request.dog.as_str()).map(|d| (s, d))).collect();
    let knows = |salon: &Salon<'_>| request.recipe.as_ref().is_none_or(|r| salon.recipes.contains_key(r.as_str()));
    let known: Vec<(&Salon<'_>, Decl<'_>)> = all.iter().copied().filter(|(s, _)| knows(s)).collect();
    match (known.as_slice(), all.as_slice()) {
        ([one], _) | ([], [one]) => Ok(*one),
        ([], []) => Err(vec![no_card(salons, &request.dog, workspace)]),
        ([first, second, ..], _) | ([], [first, second, ..]) => {
            let file = |decl: Decl<'_>| workspace.sources().name(decl.file).to_owned();
            let help =
                format!("Say which: `{}#{}`, or run this in the salon's own folder.", file(second.1), request.dog);
            let message = format!("two salons have a card called {}", request.dog);
            let said = Diagnostic::error(code::D003, first.1.place(), message);
            Err(vec![said.related(second.1.place(), "the other one is here").help(help)])
        }
    }
}

fn no_card(salons: &[Salon<'_>], name: &str, workspace: &Workspace) -> Diagnostic {
    let names: Vec<&str> = salons.iter().flat_map(|s| s.dogs.keys()).map(SmolStr::as_str).collect();
    // Nothing is wrong with any text: what is shown is where a card would stand.
    let cards = salons.iter().flat_map(|s| s.dogs.values()).map(|d| d.file).min();
    let file = cards.or_else(|| workspace.asked().first().copied()).unwrap_or(FileId(0));
    let place = Place { file, start: 0, end: 0 };
    let diagnostic = Diagnostic::error(code::D003, place, format!("no card here is called `{name}`"));
    match nearest(name, names.iter().copied()) {
        Some(near) => diagnostic.help(format!("Did you mean `{near}`?")),
        None if names.is_empty() => diagnostic.help(format!("Write one: `coatwright new card {name}`.")),
        None => diagnostic.help(format!("The cards here are: {}.", names.join(", "))),
    }
}

fn wish<'t>(lines: &'t [Stmt], recipe: &str) -> &'t [Stmt] {
    lines
        .iter()
        .find_map(|stmt| match &stmt.kind {
            StmtKind::Wants { recipe: wanted, but: Some(body) } if wanted.text == recipe => Some(body.stmts.as_slice()),
            _ => None,
        })
        .unwrap_or(&[])
}

/// Mistakes in the words of the blocks that a sheet is made from.
fn words_of(workspace: &Workspace, decls: &[Decl<'_>], out: &mut Vec<Diagnostic>) {
    for decl in decls {
        for error in workspace.part(decl).into_iter().flat_map(|(_, placed)| &placed.block.errors) {
            let message = crate::workspace::syntax(decl.file, decl.at, error);
            if !out.contains(&message) {
                out.push(message);
            }
        }
    }
}

/// One message a rule and statement.
fn once(out: &mut Vec<Diagnostic>) {
    let mut seen = std::collections::HashSet::new();
    out.retain(|d| seen.insert((d.code, d.place, d.severity)));
}

/// What the independent check reads the trade from: the basics' texts, and those of the salon that add to them or hold its house.
pub(crate) fn trade_texts<'t>(workspace: &'t Workspace, salon: &Salon<'_>) -> Vec<verify::Text<'t>> {
    static BASICS: LazyLock<Vec<grammar::tree::File>> =
        LazyLock::new(|| crate::basics::TEXTS.iter().map(|(_, text)| grammar::parse(text)).collect());
    let blocks = |file: &'t grammar::tree::File| file.blocks.iter().map(|p| (p.at, &p.block.block)).collect();
    let basics = BASICS.iter().zip(0..).map(|(file, number)| verify::Text { file: number, blocks: blocks(file) });
    let own: BTreeSet<FileId> = salon.added.iter().chain(&salon.house).map(|decl| decl.file).collect();
    let own = own.into_iter().filter_map(|id| workspace.file(id));
    basics.chain(own.map(|f| verify::Text { file: f.id.0, blocks: blocks(f.tree()) })).collect()
}

fn fingerprint(sources: &Sources, decl: Decl<'_>) -> String {
    let text = sources.text(decl.file);
    let start = decl.at as usize;
    let block = text.get(start..start + decl.block.span.end as usize).unwrap_or(text);
    format!("{} {} {:016x}", decl.block.keyword.text, decl.name(), hash(block.as_bytes()))
}

/// FNV-1a with 64 bits: a fingerprint that is the same on every machine. Source: the FNV reference parameters.
pub(crate) fn hash(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0xcbf2_9ce4_8422_2325, |hash, byte| (hash ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3))
}
