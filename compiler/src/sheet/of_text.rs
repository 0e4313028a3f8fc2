//! A sheet for a card that stands in no file.

use super::make::{At, Card, Known, Made, Part, Request, planned, trade_texts};
use super::{Sheet, build};
use crate::check;
use crate::diagnostic::Diagnostic;
use crate::names::card;
use crate::names::lower::Decl;
use crate::workspace::{Salon, Workspace};

/// What is worked out for a card by a recipe, with its sheet.
///
/// # Errors
/// The messages that keep the sheet from being made; none if the text holds no card.
pub(crate) fn of_text<'w>(
    workspace: &'w Workspace,
    salon: &Salon<'w>,
    recipe: Decl<'w>,
    text: &str,
) -> Result<(Made, Sheet), Vec<Diagnostic>> {
    let file = grammar::parse(text);
    let Some(placed) = file.blocks.first() else { return Err(Vec::new()) };
    let mut sources = workspace.sources().clone();
    let id = sources.add("card".to_owned(), text.into());
    let decl = Decl { file: id, at: placed.at, block: &placed.block.block };
    let mut said = Vec::new();
    let dog = card::read(decl, &salon.trade, check::units(&salon.trade), None, &mut said);
    let texts = trade_texts(workspace, salon);
    let at = At { workspace, sources: &sources, salon, texts: &texts, read: None };
    let made = planned(&at, &Known::of(salon, recipe), Card::of(decl), dog, (None, &Part::Whole), said)?;
    let request = Request { recipe: None, dog: decl.name().to_string(), on: None, learner: false };
    let sheet = build::sheet(&made, &sources, &request);
    Ok((made, sheet))
}
