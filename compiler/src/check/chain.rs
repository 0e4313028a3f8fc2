//! The texts of which a recipe is made: the houses that bind in it, its bases, itself.

use super::unknown_recipe;
use crate::choices::{Layer, Level};
use crate::diagnostic::{Diagnostic, code};
use crate::names::lower::Decl;
use crate::names::nearest;
use crate::source::Place;
use crate::workspace::{Extends, Missing, Salon, extends};
use grammar::tree::{StmtKind, ValueKind};

/// The houses of a salon, the outermost first.
pub(crate) fn houses<'t>(salon: &Salon<'t>) -> impl Iterator<Item = Layer<'t>> {
    // Each stands in the folders of those before it.
    (0..).zip(salon.houses()).map(|(number, decl)| Layer::of(Level::House(number), decl, (0..=number.into()).collect()))
}

/// The chain of a recipe: houses, bases from the farthest, the recipe itself.
pub fn chain<'t>(salon: &Salon<'t>, recipe: Decl<'t>, out: &mut Vec<Diagnostic>) -> Vec<Layer<'t>> {
    let mut bases: Vec<Decl<'t>> = Vec::new();
    let mut at = recipe;
    while let Some((line, found)) = extends(at).zip(salon.base(at)) {
        let place = Place { file: at.file, start: at.at + line.name.span.start, end: at.at + line.name.span.end };
        let base = match found {
            Ok(base) => base,
            Err(why) => {
                out.push(no_base(salon, line, why, (at, place)));
                break;
            }
        };
        if base.place() == recipe.place() || bases.iter().any(|b| b.place() == base.place()) {
            out.push(
                Diagnostic::error(code::M019, place, format!("{} builds on itself", recipe.name()))
                    .help("Let the base stand on its own, or build on another recipe."),
            );
            break;
        }
        if let (Some(seen), Some(now)) = (line.version, version_of(base))
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
    let binding = binding(salon, recipe, &bases).into_iter();
    let houses: Vec<(usize, Decl<'_>)> = binding.filter_map(|house| Some((house, salon.house(house)?))).collect();
    let within = |decl: Decl<'_>| {
        let own = salon.binding(decl.file);
        (0..).zip(&houses).filter(|(_, (house, _))| own.contains(house)).map(|(number, _)| number).collect()
    };
    let numbered = (0..).zip(&houses);
    let mut layers: Vec<Layer<'_>> =
        numbered.map(|(number, (_, house))| Layer::of(Level::House(number), *house, within(*house))).collect();
    let bases = (0..).zip(bases.iter().rev());
    layers.extend(bases.map(|(number, base)| Layer::of(Level::Base(number), *base, within(*base))));
    layers.push(Layer::of(Level::Recipe, recipe, within(recipe)));
    layers
}

/// The houses that bind in a recipe: those around it, the outermost first; beside them, before its own, those of its bases.
fn binding(salon: &Salon<'_>, recipe: Decl<'_>, bases: &[Decl<'_>]) -> Vec<usize> {
    let own = salon.binding(recipe.file);
    let mut others: Vec<usize> = Vec::new();
    // Around them all: so many of its own houses are around a house beside.
    let mut shared = own.len();
    for base in bases.iter().rev() {
        let of = salon.binding(base.file);
        if of.iter().any(|house| !own.contains(house)) {
            shared = shared.min(own.iter().take_while(|house| of.contains(house)).count());
        }
        for house in of {
            if !own.contains(&house) && !others.contains(&house) {
                others.push(house);
            }
        }
    }
    let (around, inner) = own.split_at(shared);
    around.iter().copied().chain(others).chain(inner.iter().copied()).collect()
}

/// The message for a base that isn't found.
fn no_base(salon: &Salon<'_>, line: Extends<'_>, why: Missing, (at, name): (Decl<'_>, Place)) -> Diagnostic {
    let called = line.name.text.as_str();
    let beside = || salon.beside_in(at.file, called);
    let Some(from) = line.from else {
        let unknown = unknown_recipe(salon, called, name);
        return match beside() {
            Some(folder) => {
                let there = format!("{called} from \"{folder}\"");
                let help = format!(
                    "A house beside has one: write `extends {there}`; what that house keeps then binds here, too."
                );
                Diagnostic { fixes: Vec::new(), ..unknown }.help(help).fix(format!("write `{there}`"), name, &there)
            }
            None => unknown,
        };
    };
    let place = Place { file: at.file, start: at.at + from.span.start, end: at.at + from.span.end };
    let elsewhere = |said: Diagnostic| match beside() {
        Some(folder) => {
            let folder = format!("\"{folder}\"");
            said.help(format!("It is in {folder}.")).fix(format!("write {folder}"), place, &folder)
        }
        None => said.help("Name the file or folder in which it is, as seen from this file: `..` is the folder above."),
    };
    match why {
        Missing::Outside => Diagnostic::error(code::H008, place, "this leads out of the folder of the outermost house")
            .why("Beyond it nothing is read: what a sheet hangs on must be there on every machine that has the folder.")
            .help("Name a folder as seen from this file, and put a `house.trim` into the folder that holds both."),
        Missing::Nowhere => elsewhere(Diagnostic::error(
            code::M005,
            place,
            format!("there is no recipe at `{}`, neither a file nor a folder", from.text),
        )),
        Missing::Unknown => {
            let said =
                Diagnostic::error(code::M005, name, format!("no recipe in `{}` is called `{called}`", from.text));
            let names = salon.names_in(at.file, &from.text);
            match nearest(called, names.iter().map(|name| name.as_str())) {
                Some(near) => said.help(format!("Did you mean `{near}`?")).fix(format!("write `{near}`"), name, near),
                None => elsewhere(said),
            }
        }
    }
}

/// The version that a recipe says it is.
pub(crate) fn version_of(decl: Decl<'_>) -> Option<i64> {
    decl.block.body.iter().find_map(|stmt| match &stmt.kind {
        StmtKind::Field(field) if field.name.text == "version" => field.values.first().and_then(|v| match &v.kind {
            ValueKind::Number(n) => Some(n.num / n.den.max(1)),
            _ => None,
        }),
        _ => None,
    })
}
