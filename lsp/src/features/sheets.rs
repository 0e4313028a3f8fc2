//! The live sheet, and what stands above a declaration: whom it is safe for, and what can be asked for there.

use super::cases;
use super::resolve::recipe_of;
use crate::around::Here;
use crate::lines::Range;
use coatwright::basics;
use coatwright::diagnostic::Severity;
use coatwright::measure::Weight;
use coatwright::names::condition::Bounds;
use coatwright::names::lower::Decl;
use coatwright::picture;
use coatwright::sheet::render::Units;
use coatwright::sheet::{Part, Request, make_part};
use grammar::tree::{BlockKind, StmtKind};

/// A sheet, or why there is none.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Made {
    /// A page of HTML that needs nothing else, with a title.
    Page {
        /// `bramble: Harbour short`.
        title: String,
        /// The page.
        html: String,
    },
    /// What stands against it.
    Refused(Vec<String>),
}

/// The sheet for a dog; of a recipe, or of the one that its card wants.
#[must_use]
pub fn sheet(here: &Here<'_>, dog: &str, recipe: Option<String>) -> Made {
    let request = Request { recipe, dog: dog.to_owned(), on: None, learner: false };
    match make_part(here.around.workspace(), &request, &Part::Today) {
        Ok(sheet) => Made::Page {
            title: format!("{}: {}", sheet.dog.name, sheet.title),
            html: picture::page(&sheet, Units::Metric, false, &basics::shared()),
        },
        Err(messages) => {
            let errors = messages.iter().filter(|m| m.severity == Severity::Error);
            Made::Refused(
                errors
                    .map(|m| {
                        [Some(&m.message), m.help.as_ref()]
                            .into_iter()
                            .flatten()
                            .cloned()
                            .collect::<Vec<_>>()
                            .join("\n")
                    })
                    .collect(),
            )
        }
    }
}

/// For which dog, by which recipe: the dog that is named, or that of the card at a byte; in a recipe the dog on the table,
/// else one that wants it. None where there is no such dog.
#[must_use]
pub fn whose(
    here: &Here<'_>,
    at: Option<u32>,
    dog: Option<String>,
    recipe: Option<String>,
) -> Option<(String, Option<String>)> {
    let salon = here.salon()?;
    if let Some(dog) = dog {
        return salon.dogs.contains_key(dog.as_str()).then_some((dog, recipe));
    }
    let decl = here.decl(at?)?;
    let name = decl.name().to_string();
    match decl.block.kind {
        BlockKind::Dog => Some((name, recipe)),
        BlockKind::Recipe => {
            let wants = |d: &Decl<'_>| recipe_of(&salon, *d).is_some_and(|r| r.place() == decl.place());
            let table = here.around.table().filter(|t| salon.dogs.contains_key(t)).map(str::to_owned);
            let dog = table.or_else(|| salon.dogs.mentioning(&[&name]).find(wants).map(|d| d.name().to_string()))?;
            Some((dog, Some(recipe.unwrap_or(name))))
        }
        _ => None,
    }
}

/// What can be done above a declaration.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Does {
    /// Nothing: it only tells.
    Tells,
    /// Shows the sheet for a dog.
    Sheet {
        /// The dog.
        dog: String,
        /// The recipe, where it isn't the one that the card wants.
        recipe: Option<String>,
    },
    /// Puts a dog on the table, or takes it off.
    Table(Option<String>),
    /// Runs the case.
    Case,
}

/// A line above a declaration.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lens {
    /// The declaration's name.
    pub range: Range,
    /// The words.
    pub words: String,
    /// What it does.
    pub does: Does,
}

/// The most dogs that are offered above one recipe.
const MOST: usize = 4;

/// The lines above the declarations of a document.
#[must_use]
pub fn lenses(here: &Here<'_>) -> Vec<Lens> {
    let (Some(tree), Some(salon)) = (here.tree(), here.salon()) else { return Vec::new() };
    let mut out = Vec::new();
    for placed in &tree.blocks {
        let decl = Decl { file: here.file, at: placed.at, block: &placed.block.block };
        let range = here.around.range(decl.place());
        let mut lens = |words: String, does: Does| out.push(Lens { range, words, does });
        match decl.block.kind {
            BlockKind::Recipe => {
                if let Some(words) = safe(here, &salon, decl) {
                    lens(words, Does::Tells);
                }
                let wants = |d: &Decl<'_>| recipe_of(&salon, *d).is_some_and(|r| r.place() == decl.place());
                for dog in salon.dogs.mentioning(&[&decl.name()]).filter(wants).take(MOST) {
                    let name = dog.name().to_string();
                    lens(format!("Sheet for {name}"), Does::Sheet { dog: name, recipe: None });
                }
            }
            BlockKind::Dog if decl.block.name.is_some() => {
                let name = decl.name().to_string();
                if decl.block.body.iter().any(|s| matches!(s.kind, StmtKind::Wants { .. })) {
                    lens("Sheet".to_owned(), Does::Sheet { dog: name.clone(), recipe: None });
                }
                if here.around.table() == Some(name.as_str()) {
                    lens("On the table: take off".to_owned(), Does::Table(None));
                } else {
                    lens("Put on the table".to_owned(), Does::Table(Some(name)));
                }
            }
            BlockKind::Case if decl.block.name.is_some() => lens(cases::above(here, &salon, decl), Does::Case),
            _ => {}
        }
    }
    out
}

/// `safe for 3 coats, 3 kg to 35 kg`; none where a mistake stands against it, or for a base, which serves nobody itself.
fn safe(here: &Here<'_>, salon: &coatwright::workspace::Salon<'_>, decl: Decl<'_>) -> Option<String> {
    let (start, end) = (decl.at, decl.at + decl.block.span.end);
    let wrong = here.around.messages().iter().any(|m| {
        m.severity == Severity::Error && m.place.file == here.file && m.place.start < end && start < m.place.end
    });
    if wrong {
        return None;
    }
    let served = super::effect::served(salon, decl)?;
    if served.choices.serves.is_always() {
        return None;
    }
    let many = served.dogs.len();
    let coats = if many == 1 { "1 coat".to_owned() } else { format!("{many} coats") };
    let weight = weights(&served.choices.serves.weight).map(|w| format!(", {w}")).unwrap_or_default();
    Some(format!("Safe for {coats}{weight}"))
}

fn weights(bounds: &Bounds) -> Option<String> {
    let low = bounds.low.map(|(low, _)| Weight(low));
    let high = bounds.high.map(|(high, _)| Weight(high));
    match (low, high) {
        (Some(low), Some(high)) => Some(format!("{low} to {high}")),
        (Some(low), None) => Some(format!("from {low}")),
        (None, Some(high)) => Some(format!("up to {high}")),
        (None, None) => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::around::tests::with;

    const DOG: &str = "dog d {\n  sex dog\n  coat curl, 40 mm\n  weight 9 kg\n  seen 2026-11-20\n  asked skin, ears, heart, joints\n  wants t\n}\n";
    const RECIPE: &str = "recipe t {\n  title \"T\"\n  serves coat curl, weight 3 kg to 9 kg\n  leave whole coat\n}\n|";

    #[test]
    fn a_recipe_says_for_whom_it_is_safe() {
        with(RECIPE, DOG, |here, _| {
            let words: Vec<String> = lenses(here).into_iter().map(|l| l.words).collect();
            assert_eq!(words, ["Safe for 1 coat, 3 kg to 9 kg", "Sheet for d"], "{:?}", here.around.messages());
        });
        with(&RECIPE.replace("leave whole coat", "clip belly with #40 in reverse"), "", |here, _| {
            assert_eq!(lenses(here), []);
        });
        with(DOG, RECIPE, |here, _| {
            let does: Vec<Does> = lenses(here).into_iter().map(|l| l.does).collect();
            let sheet = Does::Sheet { dog: "d".into(), recipe: None };
            assert_eq!(does, [sheet, Does::Table(Some("d".into()))]);
        });
    }

    #[test]
    fn a_sheet_is_a_page_or_its_reasons() {
        with(RECIPE, DOG, |here, _| {
            let by = |at: Option<u32>, dog: Option<&str>| whose(here, at, dog.map(str::to_owned), None);
            assert_eq!(by(Some(9), None), Some(("d".into(), Some("t".into()))), "one that wants the recipe");
            assert_eq!(by(None, Some("d")), Some(("d".into(), None)));
            assert_eq!((by(None, None), by(None, Some("e"))), (None, None));
            let Made::Page { title, html } = sheet(here, "d", None) else { unreachable!() };
            assert_eq!(title, "D: T");
            assert!(html.starts_with("<!DOCTYPE html>"));
            assert!(matches!(sheet(here, "e", None), Made::Refused(why) if why.len() == 1));
        });
    }
}
