//! A sheet as text for a terminal, as Markdown and as JSON.

mod imperial;
mod markdown;
mod text;

pub use markdown::markdown;
pub use text::text;

use super::Sheet;
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;
use std::borrow::Cow;

/// How measures are said.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Units {
    /// Millimetres and kilograms.
    #[default]
    Metric,
    /// Inches and pounds.
    Imperial,
}

/// How a sheet is shown.
#[derive(Clone, Copy, Debug)]
pub struct Options {
    /// Measures.
    pub units: Units,
    /// Columns of a terminal or a printed page.
    pub width: usize,
    /// Whether colour may be used.
    pub colour: bool,
}

impl Default for Options {
    fn default() -> Self {
        Self { units: Units::Metric, width: 100, colour: false }
    }
}

/// The sheet as JSON, as its schema says.
#[must_use]
pub fn json(sheet: &Sheet, options: &Options) -> String {
    let mut text = serde_json::to_string_pretty(&*in_units(sheet, options.units)).unwrap_or_default();
    text.push('\n');
    text
}

/// A sheet, or a summary, with its measures said in the units asked for.
pub(crate) fn in_units<T>(sheet: &T, units: Units) -> Cow<'_, T>
where
    T: Clone + Serialize + DeserializeOwned,
{
    if units == Units::Metric {
        return Cow::Borrowed(sheet);
    }
    fn say(value: &mut Value) {
        match value {
            Value::String(text) => *text = imperial::said(text),
            Value::Array(values) => values.iter_mut().for_each(say),
            Value::Object(fields) => fields.values_mut().for_each(say),
            Value::Null | Value::Bool(_) | Value::Number(_) => {}
        }
    }
    let said = serde_json::to_value(sheet).and_then(|mut value| {
        say(&mut value);
        serde_json::from_value(value)
    });
    said.map_or(Cow::Borrowed(sheet), Cow::Owned)
}

pub(crate) fn arrow(direction: &str) -> &'static str {
    match direction {
        "with the coat" => "→",
        "in reverse" => "←",
        _ => "↕",
    }
}

/// The letter by which the picture marks a danger's place; a plain sign for one that has none.
pub(crate) fn danger_sign(sheet: &Sheet, number: usize) -> char {
    sheet.seen.dangers.iter().find(|d| d.danger == number).map_or('!', |d| d.letter)
}

/// The direction in one word, beside its arrow.
pub(crate) fn short(direction: &str) -> &'static str {
    match direction {
        "with the coat" => "with",
        "in reverse" => "reverse",
        _ => "across",
    }
}

pub(crate) fn consent(agreed: Option<bool>) -> &'static str {
    match agreed {
        Some(true) => "yes",
        Some(false) => "NO",
        None => "ask: ____",
    }
}
