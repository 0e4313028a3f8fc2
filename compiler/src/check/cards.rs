//! The checks of cards and cases.

use super::{Of, mistake, units, unknown_recipe};
use crate::diagnostic::{Diagnostic, Severity, code};
use crate::names::lower::Decl;
use crate::names::{card, nearest};
use crate::sheet;
use crate::source::Place;
use crate::workspace::{Files, Salon};
use grammar::tree::StmtKind;
use smol_str::SmolStr;

/// What there is to say of cards and cases.
pub(super) fn cards(salon: &Salon<'_>, asked: &Files) -> Vec<Of> {
    let sound = salon.said.iter().all(|d| d.severity < Severity::Error);
    let dogs = salon.dogs.within(asked).map(|decl| (decl.file, self::card(salon, decl, sound)));
    dogs.chain(salon.cases.within(asked).map(|case| (case.file, self::case(salon, case)))).collect()
}

/// What there is to say of a card; of a salon that isn't `sound` only what its own words say.
fn card(salon: &Salon<'_>, decl: Decl<'_>, sound: bool) -> Vec<Diagnostic> {
    let mut out = Vec::new();
    let dog = card::read(decl, &salon.trade, units(&salon.trade), None, &mut out);
    let Some((word, place)) = dog.wants.clone() else { return out };
    match salon.recipes.get(&word.text) {
        // What stands between this dog and its sheet is better known before it stands on the table.
        Some(recipe) if sound => {
            if mistake(salon, recipe).is_some() {
                return out;
            }
            let mut said = Vec::new();
            sheet::worked(salon, sheet::Card::of(decl), recipe, dog, None, &mut said);
            // An override among the owner's wishes stands on the card alone.
            let wished =
                |d: &Diagnostic| matches!(d.code, code::H007 | code::H005 | code::H006) && d.place.file == decl.file;
            said.retain(|d| d.code.starts_with('D') && d.severity > Severity::Note || wished(d));
            out.extend(said);
        }
        Some(_) => {}
        None => out.push(unknown_recipe(salon, &word.text, place)),
    }
    out
}

fn case(salon: &Salon<'_>, case: Decl<'_>) -> Vec<Diagnostic> {
    let mut out = Vec::new();
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
                let mut scope = crate::names::scope::Scope::new(case.file, case.at, &mut out);
                card::lines(&body.stmts, &salon.trade, units(&salon.trade), &mut scope);
            }
            _ => {}
        }
    }
    out
}
