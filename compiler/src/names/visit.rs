//! An earlier visit on a card: `visit 2026-11-25, harbour-short version 4, #10, 19 mm comb, #40`.

use super::card::Dog;
use super::fields::{spaced, value_name};
use super::scope::Scope;
use crate::date::Day;
use crate::diagnostic::{Diagnostic, code};
use grammar::tree::{ExprKind, Field, ToolRefKind, Value, ValueKind};
use smol_str::SmolStr;

/// A visit that was.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Visit {
    /// Its day.
    pub on: Day,
    /// The recipe that was worked from.
    pub recipe: Option<SmolStr>,
    /// That recipe's version then.
    pub version: Option<SmolStr>,
    /// The tools that were used, as one says them: `#10`, `19 mm comb`.
    pub with: Vec<String>,
}

/// Reads the line. The day comes first; of the rest a word with `version`, or a first lone word, is the recipe. What was used is
/// history: a tool that the kit has no more is no mistake.
pub(super) fn read(dog: &mut Dog, field: &Field, scope: &mut Scope<'_>) {
    let place = |span, scope: &Scope<'_>| scope.place(span);
    let mut values = field.values.iter();
    let on = match values.next().map(|v| (&v.kind, v.span)) {
        Some((ValueKind::Date(date), span)) => match (date.day, Day::of(*date)) {
            (Some(_), Some(day)) => day,
            // A day that no calendar has was told where the text was read.
            (Some(_), None) => return,
            (None, _) => {
                let place = place(span, scope);
                scope.say(
                    Diagnostic::error(code::M013, place, "a visit was on one day, and this is a month")
                        .help("Write the day, too: `visit 2026-11-25, harbour-short version 4`."),
                );
                return;
            }
        },
        other => {
            let place = place(other.map_or(field.name.span, |(_, span)| span), scope);
            scope.say(
                Diagnostic::error(code::M013, place, "a date is due here")
                    .why("A visit is known by its day.")
                    .help("Write the day first: `visit 2026-11-25, harbour-short version 4, #10`."),
            );
            return;
        }
    };
    let mut visit = Visit { on, recipe: None, version: None, with: Vec::new() };
    for (number, value) in values.enumerate() {
        match &value.kind {
            ValueKind::Words(words) if number == 0 => visit.recipe = Some(super::fields::joined(words)),
            ValueKind::Measure { words, range } if number == 0 && words.last().is_some_and(|w| w.text == "version") => {
                let name = words.get(..words.len() - 1).unwrap_or_default();
                visit.recipe = Some(super::fields::joined(name));
                visit.version = range.high.as_ref().and_then(|e| match &e.kind {
                    ExprKind::Number(number) => Some(number.text.clone()),
                    _ => None,
                });
            }
            _ => visit.with.extend(tool(value)),
        }
    }
    dog.visits.push(visit);
}

/// A tool as one says it.
fn tool(value: &Value) -> Option<String> {
    match &value.kind {
        ValueKind::Words(words) => Some(spaced(words)),
        ValueKind::Text(text) => Some(text.text.clone()),
        ValueKind::Measure { words, range } => {
            let number = range.high.as_ref().and_then(|e| match &e.kind {
                ExprKind::Number(number) => Some(number.text.as_str()),
                _ => None,
            });
            Some(format!("{} {}", spaced(words), number.unwrap_or_default()).trim().to_owned())
        }
        ValueKind::Tool(tool) => match &tool.kind {
            ToolRefKind::Comb { length, .. } => {
                Some(length.as_ref().map_or_else(|| "comb".to_owned(), |l| format!("{} comb", l.text)))
            }
            _ => value_name(value).map(|w| w.text.to_string()),
        },
        _ => value_name(value).map(|w| w.text.to_string()),
    }
}
