//! The checks of a run: names, then each recipe over the dogs without findings that it serves and each answer in it.
//!
//! Conditions cut weight, height and age into pieces; one dog of each piece, coat, build and sex stands for all dogs of
//! that piece that have no findings, since no statement tells them apart. Dogs with findings are proved in a later stage;
//! here each finding that a recipe answers is tried by itself, and each two whose answers meet.

mod charts;
mod dog_card;
mod dogs;
mod found;

pub use dogs::representatives;

use crate::choices::{self, Choices, Layer, Level};
use crate::diagnostic::{Diagnostic, Severity, code, in_order};
use crate::finish::{Did, Finishes, finish, finish_at, sites_of};
use crate::measure::{BodyUnits, Length};
use crate::names::card;
use crate::names::lower::Decl;
use crate::names::nearest;
use crate::names::trade::{Bound, KeepOn, Trade};
use crate::rules::RULES;
use crate::source::{FileId, Place};
use crate::workspace::{Salon, Workspace};
use charts::blade_charts;
use dogs::answered;
use found::{Found, weighed};
use grammar::tree::{StmtKind, ValueKind};
use rayon::prelude::*;
use smol_str::SmolStr;
use std::collections::HashSet;

/// Everything that is wrong in the files that the user named, in the order in which a reader meets it.
#[must_use]
pub fn check(workspace: &Workspace) -> Vec<Diagnostic> {
    let mut out = workspace.syntax();
    let asked: HashSet<FileId> = workspace.asked().iter().copied().collect();
    for salon in workspace.salons() {
        out.extend(self::salon(&salon, &asked));
    }
    in_order(&mut out);
    out
}

/// Everything that is wrong in the asked files of one salon, beside the words themselves.
#[must_use]
pub fn salon(salon: &Salon<'_>, asked: &HashSet<FileId>) -> Vec<Diagnostic> {
    let mut out: Vec<Diagnostic> = salon.said.clone();
    if let Some(house) = salon.house {
        out.extend(self::house(salon, house));
    }
    let recipes: Vec<&Decl<'_>> = salon.recipes.values().collect();
    let of_recipe = |decl: &Decl<'_>| recipe(salon, *decl, asked);
    if recipes.len() > 8 {
        out.par_extend(recipes.par_iter().flat_map_iter(|d| of_recipe(d)));
    } else {
        out.extend(recipes.iter().flat_map(|d| of_recipe(d)));
    }
    let sound = out.iter().all(|d| d.severity < Severity::Error);
    for decl in salon.dogs.values().filter(|d| asked.contains(&d.file)) {
        let dog = card::read(*decl, &salon.trade, units(&salon.trade), None, &mut out);
        let Some((word, place)) = dog.wants.clone() else { continue };
        match salon.recipes.get(&word.text) {
            // What stands between this dog and its sheet is better known before it stands on the table.
            Some(recipe) if sound => {
                let mut said = Vec::new();
                crate::sheet::worked(salon, *decl, *recipe, dog, None, &mut said);
                said.retain(|d| d.code.starts_with('D') && d.severity > Severity::Note);
                out.extend(said);
            }
            Some(_) => {}
            None => out.push(unknown_recipe(salon, &word.text, place)),
        }
    }
    for case in salon.cases.iter().filter(|c| asked.contains(&c.file)) {
        self::case(salon, *case, &mut out);
    }
    out.retain(|d| asked.contains(&d.place.file));
    out
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

/// The chain of a recipe: house, bases from the farthest, the recipe itself.
pub fn chain<'t>(salon: &Salon<'t>, recipe: Decl<'t>, out: &mut Vec<Diagnostic>) -> Vec<Layer<'t>> {
    let mut bases: Vec<Decl<'t>> = Vec::new();
    let mut at = recipe;
    while let Some((word, version)) = extends(at) {
        let place = Place { file: at.file, start: at.at + word.span.start, end: at.at + word.span.end };
        let Some(base) = salon.recipes.get(&word.text).copied() else {
            out.push(unknown_recipe(salon, &word.text, place));
            break;
        };
        if base.place() == recipe.place() || bases.iter().any(|b| b.place() == base.place()) {
            out.push(
                Diagnostic::error(code::M019, place, format!("{} builds on itself", recipe.name()))
                    .help("Let the base stand on its own, or build on another recipe."),
            );
            break;
        }
        if let (Some(seen), Some(now)) = (version, version_of(base))
            && seen != now
        {
            out.push(
                Diagnostic::warning(code::M020, place, format!("{} is at version {now} now, not {seen}", base.name()))
                    .why("What it says may have changed since this recipe was written.")
                    .help(format!("Read the base again, then write `version {now}`.")),
            );
        }
        bases.push(base);
        at = base;
    }
    let mut layers = Vec::new();
    if let Some(house) = salon.house {
        layers.push(Layer { level: Level::House, decl: house, stmts: &house.block.body });
    }
    for (number, base) in (0u16..).zip(bases.iter().rev()) {
        layers.push(Layer { level: Level::Base(number), decl: *base, stmts: &base.block.body });
    }
    layers.push(Layer { level: Level::Recipe, decl: recipe, stmts: &recipe.block.body });
    layers
}

fn extends<'t>(decl: Decl<'t>) -> Option<(&'t grammar::tree::Word, Option<i64>)> {
    decl.block.body.iter().find_map(|stmt| match &stmt.kind {
        StmtKind::Extends { base, version } => Some((base, version.as_ref().map(|v| v.num / v.den.max(1)))),
        _ => None,
    })
}

fn version_of(decl: Decl<'_>) -> Option<i64> {
    decl.block.body.iter().find_map(|stmt| match &stmt.kind {
        StmtKind::Field(field) if field.name.text == "version" => field.values.first().and_then(|v| match &v.kind {
            ValueKind::Number(n) => Some(n.num / n.den.max(1)),
            _ => None,
        }),
        _ => None,
    })
}

fn house(salon: &Salon<'_>, house: Decl<'_>) -> Vec<Diagnostic> {
    let mut out = Vec::new();
    let layer = Layer { level: Level::House, decl: house, stmts: &house.block.body };
    let choices = choices::build(&[layer], &salon.trade, units(&salon.trade), &mut out);
    loosened(&choices, &salon.trade, &mut out);
    out.extend(blade_charts(salon));
    out
}

fn case(salon: &Salon<'_>, case: Decl<'_>, out: &mut Vec<Diagnostic>) {
    let place =
        |span: grammar::tree::Span| Place { file: case.file, start: case.at + span.start, end: case.at + span.end };
    for stmt in &case.block.body {
        match &stmt.kind {
            StmtKind::Field(field) if field.name.text == "recipe" => {
                if let Some(word) = field.values.first().and_then(crate::names::fields::value_name)
                    && !salon.recipes.contains_key(&word.text)
                {
                    out.push(unknown_recipe(salon, &word.text, place(word.span)));
                }
            }
            StmtKind::Given { dog: Some(word), .. } if !salon.dogs.contains_key(&word.text) => {
                let place = place(word.span);
                let diagnostic =
                    Diagnostic::error(code::D003, place, format!("no card here is called `{}`", word.text));
                out.push(match nearest(&word.text, salon.dogs.keys().map(SmolStr::as_str)) {
                    Some(near) => {
                        diagnostic.help(format!("Did you mean `{near}`?")).fix(format!("write `{near}`"), place, near)
                    }
                    None => diagnostic.help("Write the card, or give the dog on the spot: `given { coat curl; … }`."),
                });
            }
            StmtKind::Given { body: Some(body), .. } => {
                let mut scope = crate::names::scope::Scope::new(case.file, case.at, out);
                card::lines(&body.stmts, &salon.trade, units(&salon.trade), &mut scope);
            }
            _ => {}
        }
    }
}

/// The messages of one recipe. A recipe in a file that wasn't asked for is read for the sake of the bases that were.
fn recipe(salon: &Salon<'_>, decl: Decl<'_>, asked: &HashSet<FileId>) -> Vec<Diagnostic> {
    let mut out = Vec::new();
    let layers = chain(salon, decl, &mut out);
    if !layers.iter().any(|l| asked.contains(&l.decl.file)) {
        return Vec::new();
    }
    let choices = choices::build(&layers, &salon.trade, units(&salon.trade), &mut out);
    loosened(&choices, &salon.trade, &mut out);
    // A recipe that serves nobody in particular is a base: it is checked through those that build on it.
    if choices.serves.is_always() || out.iter().any(|d| d.severity == Severity::Error) {
        return out;
    }
    let dogs = representatives(&choices, &salon.trade);
    let mut found = Found { of: dogs.len(), weighed: weighed(&dogs), recipe: decl.name(), ..Found::default() };
    let mut applied = Applied::default();
    for dog in &dogs {
        let mut said = Vec::new();
        let finishes = finish(&choices, &salon.trade, dog, &mut said);
        applied.add(&finishes);
        for rule in RULES {
            rule(&choices, &salon.trade, dog, &finishes, &mut said);
        }
        found.add(said, dog, &salon.trade);
    }
    out.extend(found.told());
    let seen: HashSet<(&'static str, Place)> = out.iter().map(|d| (d.code, d.place)).collect();
    let answered = answered(&choices, &salon.trade, &dogs);
    let weighed = weighed(&dogs);
    let mut found = Found { of: answered.len(), weighed, recipe: decl.name(), ..Found::default() };
    for (dog, sites) in &answered {
        let mut said = Vec::new();
        let finishes = finish_at(*sites & sites_of(&salon.trade, dog), &choices, &salon.trade, dog, &mut said);
        applied.add(&finishes);
        said.retain(|d| !seen.contains(&(d.code, d.place)));
        found.add(said, dog, &salon.trade);
    }
    out.extend(found.told());
    if out.iter().all(|d| d.severity < Severity::Error) {
        idle(&choices, &applied, &mut out);
    }
    out
}

/// The statements that set what is done somewhere, sorted: a few dozen, told again and again.
#[derive(Default)]
struct Applied(Vec<Place>);

impl Applied {
    fn add(&mut self, finishes: &Finishes) {
        let mut last = None;
        for finish in &finishes.all {
            let set = finish.reasons.iter().filter(|r| matches!(r.what, Did::Set | Did::SetRough));
            for place in set.map(|r| r.place).chain([finish.statement]) {
                // Neighbours are mostly set by one statement.
                if last.replace(place) != Some(place)
                    && let Err(at) = self.0.binary_search(&place)
                {
                    self.0.insert(at, place);
                }
            }
        }
    }

    fn has(&self, place: Place) -> bool {
        self.0.binary_search(&place).is_ok()
    }
}

/// M025: a statement of the recipe itself that sets nothing on any dog.
fn idle(choices: &Choices, applied: &Applied, out: &mut Vec<Diagnostic>) {
    let mut told: HashSet<Place> = HashSet::new();
    for choice in choices.finishes.iter().filter(|c| c.level == Level::Recipe && !c.sites.is_empty()) {
        // The dogs that were tried have no mats, and no finding beside the one that is answered.
        let tried = choice.cond.mats.is_none() && choice.cond.findings.is_empty();
        if tried && !applied.has(choice.place) && told.insert(choice.place) {
            out.push(
                Diagnostic::warning(code::M025, choice.place, "this line changes nothing on any dog that is served")
                    .why("Other lines that speak of the same parts more closely count wherever this one could.")
                    .help("Take it away, or take its parts out of the other lines."),
            );
        }
    }
}

/// H002: a keep of a recipe that asks for less than what already binds there.
fn loosened(choices: &Choices, trade: &Trade, out: &mut Vec<Diagnostic>) {
    for (number, entry) in choices.keeps.iter().enumerate().skip(trade.keeps.len()) {
        let KeepOn::Sites(sites) = entry.line.on else { continue };
        let stronger = choices.keeps.iter().take(number).find(|other| {
            let KeepOn::Sites(wider) = other.line.on else { return false };
            other.finding.is_none()
                && entry.finding.is_none()
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
                .help("Take it away, or ask for more than that."),
            );
        }
    }
}
