//! The checks of a run: words and names, then each recipe over the dogs that it serves ([`crate::prove`]), cards and cases.

mod cards;
mod chain;
mod charts;

use crate::choices::{self, Choices, Layer};
use crate::diagnostic::{Diagnostic, Fix, Severity, code, in_order, laid_out};
use crate::measure::{BodyUnits, Length};
use crate::memo::{Memo, Part, Parts};
use crate::names::lower::Decl;
use crate::names::nearest;
use crate::names::trade::{Bound, KeepOn, Trade};
use crate::prove::prove;
use crate::source::{FileId, Place};
use crate::workspace::{Files, Salon, Workspace};
use cards::cards;
pub use chain::chain;
pub(crate) use chain::{houses, version_of};
use charts::blade_charts;
use rayon::prelude::*;
use rustc_hash::FxHashMap;
use smol_str::SmolStr;
use std::collections::BTreeMap;

/// Everything that is wrong in the files that the user named, in the order in which a reader meets it.
#[must_use]
pub fn check(workspace: &Workspace) -> Vec<Diagnostic> {
    check_with(workspace, &mut Memo::default())
}

/// The same, with what is kept from the runs before.
#[must_use]
pub fn check_with(workspace: &Workspace, memo: &mut Memo) -> Vec<Diagnostic> {
    check_salons(workspace, &workspace.salons(), memo, usize::MAX, None)
}

/// The same, and whatever in other files stands in the way of the recipes in those that were named: what these have to say at the lines
/// of a base or house, and what can't be read in the texts that bind in them.
#[must_use]
pub fn check_through(workspace: &Workspace) -> Vec<Diagnostic> {
    let (salons, mut memo) = (workspace.salons(), Memo::default());
    let asked: Files = workspace.asked().iter().copied().collect();
    let mut out = workspace.syntax(&asked);
    for (salon, trade) in trades(workspace, &salons, &asked) {
        let mut said = self::salon(workspace, salon, &asked, &trade, (&mut memo, usize::MAX));
        said.prove(salon, &mut memo);
        out.extend(said.words);
        for (file, own) in said.recipes.into_iter().chain(said.cards) {
            out.extend(own.into_iter().filter(|d| asked.contains(&file) || asked.contains(&d.place.file)));
        }
    }
    let (mut binding, mut bad) = (Files::default(), Vec::new());
    for salon in salons.iter().filter(|salon| salon.files.iter().any(|file| asked.contains(file))) {
        let bases = salon.recipes.within(&asked).flat_map(|recipe| chain(salon, recipe, &mut Vec::new()));
        let words = salon.houses().chain(salon.added.iter().copied());
        binding.extend(bases.map(|layer| layer.decl).chain(words).map(|decl| decl.file));
        bad.extend(salon.said.iter().cloned());
    }
    bad.extend(workspace.syntax(&binding));
    out.extend(bad.into_iter().filter(|d| d.severity == Severity::Error && binding.contains(&d.place.file)));
    ordered(workspace, &salons, out)
}

/// Takes what is known before anything is proved.
pub type Early<'e> = &'e mut dyn FnMut(&[Diagnostic]);

/// The same for the salons of a workspace that are known already. Recipes of other files that hang on those asked for are left
/// out if they are more than `soon`: what they have to say in those comes of [`check_beside`]. If there is something to prove, and
/// of few recipes, `early` is given before that what the words and names say, with what was proved in former runs.
#[must_use]
pub fn check_salons(
    workspace: &Workspace,
    salons: &[Salon<'_>],
    memo: &mut Memo,
    soon: usize,
    early: Option<Early<'_>>,
) -> Vec<Diagnostic> {
    let asked: Files = workspace.asked().iter().copied().collect();
    check_files(workspace, salons, &asked, (memo, soon), early)
}

/// Everything that is wrong in some files, and what their recipes have to say in others: by the file whose words, recipes or cards
/// say it. Nothing of it is kept.
#[must_use]
pub fn check_beside(workspace: &Workspace, files: &Files) -> BTreeMap<FileId, Vec<Diagnostic>> {
    let (salons, mut memo) = (workspace.salons(), Memo::default());
    let mut out: BTreeMap<FileId, Vec<Diagnostic>> = files.iter().map(|file| (*file, Vec::new())).collect();
    let mut put = |file: FileId, said: Vec<Diagnostic>| out.entry(file).or_default().extend(said);
    workspace.syntax(files).into_iter().for_each(|said| put(said.place.file, vec![said]));
    for (salon, trade) in trades(workspace, &salons, files) {
        let mut said = self::salon(workspace, salon, files, &trade, (&mut memo, 0));
        said.prove(salon, &mut memo);
        said.words.into_iter().for_each(|said| put(said.place.file, vec![said]));
        said.recipes.into_iter().chain(said.cards).for_each(|(file, said)| put(file, said));
    }
    out.into_iter().map(|(file, said)| (file, ordered(workspace, &salons, said))).collect()
}

fn check_files(
    workspace: &Workspace,
    salons: &[Salon<'_>],
    files: &Files,
    (memo, soon): (&mut Memo, usize),
    early: Option<Early<'_>>,
) -> Vec<Diagnostic> {
    memo.begin();
    let syntax = workspace.syntax(files);
    let trades = trades(workspace, salons, files);
    let mut all: Vec<Said<'_>> =
        trades.iter().map(|(salon, trade)| self::salon(workspace, salon, files, trade, (&mut *memo, soon))).collect();
    if let Some(early) = early.filter(|_| (1..=FEW).contains(&all.iter().map(|said| said.due.len()).sum())) {
        for (said, (salon, _)) in all.iter_mut().zip(&trades) {
            said.due.iter_mut().for_each(|due| due.draft = Some(draft(salon, &due.layers)));
        }
        let of = all.iter().flat_map(Said::messages).filter(|d| files.contains(&d.place.file));
        early(&ordered(workspace, salons, syntax.iter().chain(of).cloned().collect()));
    }
    let mut out = syntax;
    for (mut said, (salon, _)) in all.into_iter().zip(&trades) {
        said.prove(salon, memo);
        out.extend(said.into_messages().filter(|d| files.contains(&d.place.file)));
    }
    ordered(workspace, salons, out)
}

/// The salons to which some of the files belong, with what of them adds to the basics.
fn trades<'s, 't>(
    workspace: &'t Workspace,
    salons: &'s [Salon<'t>],
    files: &Files,
) -> Vec<(&'s Salon<'t>, Vec<Part<'t>>)> {
    // What a house or base says binds in the houses inside its folder, too.
    let hanging = workspace.nests().then(|| workspace.hanging_on(files));
    let files = hanging.as_ref().unwrap_or(files);
    let of = salons.iter().filter(|salon| salon.files.iter().any(|file| files.contains(file)));
    of.map(|salon| (salon, trade_of(workspace, salon))).collect()
}

/// Messages as bad as their house has them, in the order of the texts, each once.
fn ordered(workspace: &Workspace, salons: &[Salon<'_>], mut out: Vec<Diagnostic>) -> Vec<Diagnostic> {
    for salon in salons.iter().filter(|salon| !salon.errors.is_empty()) {
        out.iter_mut().filter(|d| salon.files.contains(&d.place.file)).for_each(|d| salon.raise(d));
    }
    in_order(&mut out);
    laid_out(&mut out, workspace.sources());
    out
}

/// What a declaration of some file has to say, wherever that stands.
type Of = (FileId, Vec<Diagnostic>);

/// What there is to say of a salon's files, and what of it isn't proved yet.
struct Said<'t> {
    words: Vec<Diagnostic>,
    /// Of each recipe, in the order of their names.
    recipes: Vec<Of>,
    due: Vec<Due<'t>>,
    cards: Vec<Of>,
}

impl Said<'_> {
    fn messages(&self) -> impl Iterator<Item = &Diagnostic> {
        let drafts = self.due.iter().filter_map(|due| due.draft.as_ref()).flat_map(|(_, said)| said);
        let of = self.recipes.iter().chain(&self.cards).flat_map(|(_, said)| said);
        self.words.iter().chain(of).chain(drafts)
    }

    /// The same, once all is proved.
    fn into_messages(self) -> impl Iterator<Item = Diagnostic> {
        self.words.into_iter().chain(self.recipes.into_iter().chain(self.cards).flat_map(|(_, said)| said))
    }

    fn prove(&mut self, salon: &Salon<'_>, memo: &mut Memo) {
        let due = std::mem::take(&mut self.due);
        memo.proved(due.len());
        let (places, said) = prove_all(salon, due);
        for ((number, parts), said) in places.into_iter().zip(said) {
            if let Some((_, own)) = self.recipes.get_mut(number) {
                own.extend(said.iter().cloned());
            }
            memo.proofs.put(parts.key(), &parts, said);
        }
    }
}

/// Everything that is wrong in the asked files of one salon, beside the words themselves.
fn salon<'t>(
    workspace: &'t Workspace,
    salon: &Salon<'t>,
    asked: &Files,
    trade: &'t [Part<'t>],
    (memo, soon): (&mut Memo, usize),
) -> Said<'t> {
    // Not of a file that only shows what others' recipes have to say: it is told of when it is asked about.
    let mut words: Vec<Diagnostic> = salon.said.iter().filter(|d| asked.contains(&d.place.file)).cloned().collect();
    // What is said of a house stands in it or in what adds to the basics.
    let in_house = salon.house.iter().chain(&salon.added).any(|decl| asked.contains(&decl.file));
    if salon.house.is_some() && in_house {
        words.extend(self::house(salon).into_iter().filter(|d| asked.contains(&d.place.file)));
    }
    let (recipes, due) = known(workspace, salon, (asked, soon), memo, trade);
    Said { words, recipes, due, cards: cards(salon, asked) }
}

/// What keeps a recipe from being read: then nothing is known of it for any dog.
#[must_use]
pub fn mistake(salon: &Salon<'_>, recipe: Decl<'_>) -> Option<Diagnostic> {
    let mut said = Vec::new();
    let layers = chain(salon, recipe, &mut said);
    choices::build(&layers, &salon.trade, units(&salon.trade), &mut said);
    said.into_iter().find(|d| d.severity == Severity::Error)
}

/// Finger and hand of a trade.
#[must_use]
pub fn units(trade: &Trade) -> BodyUnits {
    trade.units.unwrap_or(BodyUnits { finger: Length(0), hand: Length(0) })
}

/// The message for a recipe that nobody declared.
#[must_use]
pub fn unknown_recipe(salon: &Salon<'_>, name: &str, place: Place) -> Diagnostic {
    let diagnostic = Diagnostic::error(code::M005, place, format!("no recipe here is called `{name}`"));
    match nearest(name, salon.recipes.keys().map(SmolStr::as_str)) {
        Some(near) => diagnostic.help(format!("Did you mean `{near}`?")).fix(format!("write `{near}`"), place, near),
        None => diagnostic.help("Recipes are found in the folder of the house and below it."),
    }
}

fn house(salon: &Salon<'_>) -> Vec<Diagnostic> {
    let mut out = Vec::new();
    let layers: Vec<Layer<'_>> = houses(salon).collect();
    let choices = choices::build(&layers, &salon.trade, units(&salon.trade), &mut out);
    loosened(&choices, &salon.trade, &mut out);
    out.extend(blade_charts(salon));
    out
}

/// Threads cost more than they give on so few recipes.
const FEW: usize = 8;

/// A recipe that wasn't proved before, and where its messages go.
struct Due<'t> {
    number: usize,
    layers: Vec<Layer<'t>>,
    parts: Parts<'t>,
    draft: Option<Draft>,
}

/// A recipe that isn't proved yet, and what its names say.
type Draft = (Choices, Vec<Diagnostic>);

fn trade_of<'w>(workspace: &'w Workspace, salon: &Salon<'_>) -> Vec<Part<'w>> {
    salon.added.iter().filter_map(|decl| workspace.part(decl)).collect()
}

/// What is known of the recipes that hang on the asked files, and those that weren't proved before. One in a file that wasn't asked
/// for is read for the sake of the bases that were, unless they are more than `soon`.
fn known<'t>(
    workspace: &'t Workspace,
    salon: &Salon<'t>,
    (asked, soon): (&Files, usize),
    memo: &mut Memo,
    trade: &'t [Part<'t>],
) -> (Vec<Of>, Vec<Due<'t>>) {
    // In the order of the names, so that of two recipes that inherit one mistake the same one always tells it.
    let mut all: Vec<Of> = Vec::new();
    let mut anew: Vec<Due<'_>> = Vec::new();
    let house = salon.houses().any(|house| asked.contains(&house.file));
    let mut seen = FxHashMap::default();
    let mut files = if soon == 0 { asked.clone() } else { salon.hanging_on(asked) };
    if soon > 0 && salon.recipes.count_in(&files) > salon.recipes.count_in(asked).saturating_add(soon) {
        files.clone_from(asked);
    }
    workspace.read(&files);
    for decl in salon.recipes.within(&files).filter(|decl| house || hangs_on(salon, *decl, asked, &mut seen)) {
        let mut said = Vec::new();
        let layers = chain(salon, decl, &mut said);
        let sound = said.iter().all(|d| d.severity < Severity::Error);
        let parts = layers.iter().filter_map(|l| workspace.part(&l.decl)).collect();
        let houses = layers.iter().map(|layer| layer.houses).collect();
        let parts = Parts { trade, layers: parts, houses, sound };
        match memo.proofs.get(&parts.key(), &parts) {
            Some(known) => said.extend(known),
            None => anew.push(Due { number: all.len(), layers, parts, draft: None }),
        }
        all.push((decl.file, said));
    }
    (all, anew)
}

/// Some recipes with their blocks, and the messages of each.
type Proved<'t> = (Vec<(usize, Parts<'t>)>, Vec<Vec<Diagnostic>>);

/// The messages of some recipes, in their order.
fn prove_all<'t>(salon: &Salon<'_>, due: Vec<Due<'t>>) -> Proved<'t> {
    let of = |due: Due<'t>| {
        let draft = due.draft.unwrap_or_else(|| draft(salon, &due.layers));
        let said = recipe(salon, draft, due.parts.sound);
        ((due.number, due.parts), said)
    };
    if due.len() > FEW { due.into_par_iter().map(of).unzip() } else { due.into_iter().map(of).unzip() }
}

/// Whether a recipe or one of its bases stands in a file that was asked for. `known` is what was found of others.
fn hangs_on(salon: &Salon<'_>, decl: Decl<'_>, asked: &Files, known: &mut FxHashMap<(FileId, u32), bool>) -> bool {
    let mut way = Vec::new();
    let mut at = Some(decl);
    let hangs = loop {
        let Some(decl) = at else { break false };
        let key = (decl.file, decl.at);
        if let Some(known) = known.get(&key) {
            break *known;
        }
        // One that builds on itself comes back here.
        known.insert(key, false);
        way.push(key);
        if asked.contains(&decl.file) {
            break true;
        }
        at = salon.base(decl).and_then(Result::ok);
    };
    known.extend(way.into_iter().map(|key| (key, hangs)));
    hangs
}

/// A recipe as its names say, and what is wrong with them.
fn draft(salon: &Salon<'_>, layers: &[Layer<'_>]) -> Draft {
    let mut out = Vec::new();
    let choices = choices::build(layers, &salon.trade, units(&salon.trade), &mut out);
    loosened(&choices, &salon.trade, &mut out);
    (choices, out)
}

/// The messages of one recipe.
fn recipe(salon: &Salon<'_>, (choices, mut out): Draft, sound: bool) -> Vec<Diagnostic> {
    // A recipe that serves nobody in particular is a base: it is checked through those that build on it.
    if choices.serves.is_always() || !sound || out.iter().any(|d| d.severity == Severity::Error) {
        return out;
    }
    let mut found = prove(&choices, &salon.trade);
    // What a house found out later: its keeps bind at once, and a dog that has it is refused until the recipe answers; the recipe
    // itself stays good for all other dogs.
    let late = |d: &&mut Diagnostic| {
        d.code == code::C005 && d.related.first().is_some_and(|r| !crate::basics::holds(r.place.file))
    };
    found.iter_mut().filter(late).for_each(|d| d.severity = Severity::Warning);
    out.extend(found);
    out
}

/// H002: a keep of a recipe that asks for less than what already binds there.
fn loosened(choices: &Choices, trade: &Trade, out: &mut Vec<Diagnostic>) {
    for (number, entry) in choices.keeps.iter().enumerate().skip(trade.keeps.len()) {
        let KeepOn::Sites(sites) = entry.line.on else { continue };
        let stronger = choices.keeps.iter().take(number).find(|other| {
            let KeepOn::Sites(wider) = other.line.on else { return false };
            other.finding.is_none()
                && entry.finding.is_none()
                && entry.is_under(other)
                && sites.within(wider)
                && entry.cond.implies(&other.cond)
                && match (&entry.line.bound, &other.line.bound) {
                    (Bound::NoCloser(a, _), Bound::NoCloser(b, _)) => a < b,
                    (Bound::Gap(a), Bound::Gap(b)) => a > b,
                    (Bound::NoShorter(a), Bound::NoShorter(b)) => a < b,
                    (Bound::Passes(a), Bound::Passes(b)) => a > b,
                    _ => false,
                }
        });
        if let Some(other) = stronger {
            out.push(
                Diagnostic::error(
                    code::H002,
                    entry.line.place,
                    "this keep asks for less than one that already binds here",
                )
                .related(other.line.place, format!("{} asks for more", other.line.owner.replace('-', " ")))
                .why("A keep only ever tightens: a recipe can't loosen its base or house, nor a house the basics.")
                .help("Take it away, or ask for more than that.")
                .offer(entry.whole.map(|whole| Fix::without("take this keep away", whole))),
            );
        }
    }
}
