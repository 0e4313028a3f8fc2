//! Showing messages: five forms of one value.
//!
//! Each form shows the same message at the same place: [`rich`] for a terminal, [`plain`] for a pipe or a log,
//! [`short`] for one line a message, [`json`] for programs, [`sarif`] for code hosts. Whether there is colour and how wide the page is, the
//! caller says.

pub mod json;
pub mod plain;
pub mod rich;
pub mod sarif;
pub mod short;

use super::{Diagnostic, Fix, Severity};
use crate::source::{FileId, Place, Sources};
use std::ops::Range;

/// Where the page of a code lies.
pub const PAGES: &str = "docs/codes/";

/// The form in which messages are shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// With the text around it, lines and colours.
    Rich,
    /// One line a message.
    Short,
    /// With the text around it, in plain letters.
    Plain,
    /// One JSON object a line.
    Json,
    /// One SARIF log, for code hosts and build servers.
    Sarif,
}

/// How the page looks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Look {
    /// Whether colours may be used.
    pub colour: bool,
    /// How many columns there are.
    pub width: usize,
}

impl Default for Look {
    fn default() -> Self {
        Self { colour: false, width: 80 }
    }
}

/// Shows the messages in their order.
#[must_use]
pub fn render(messages: &[Diagnostic], sources: &Sources, format: Format, look: Look) -> String {
    match format {
        Format::Rich => rich::render(messages, sources, look),
        Format::Short => short::render(messages, sources, look),
        Format::Plain => plain::render(messages, sources, look),
        Format::Json => json::render(messages, sources),
        Format::Sarif => sarif::render(messages, sources),
    }
}

/// The page of a code, as a path from the project's root.
#[must_use]
pub fn page(code: &str) -> String {
    format!("{PAGES}{code}.md")
}

impl Severity {
    /// The word for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Note => "note",
            Self::Warning => "warning",
            Self::Error => "error",
        }
    }
}

/// A place's bytes, kept inside the text and between whole characters, so that no form can trip over it.
fn bytes(sources: &Sources, place: Place) -> Range<usize> {
    let text = sources.text(place.file);
    let mut start = (place.start as usize).min(text.len());
    while !text.is_char_boundary(start) {
        start -= 1;
    }
    let mut end = (place.end as usize).clamp(start, text.len());
    while !text.is_char_boundary(end) {
        end += 1;
    }
    start..end
}

/// Line and column of a byte, both from 1, the column in characters.
fn line_column(sources: &Sources, file: FileId, byte: usize) -> (usize, usize) {
    let byte = u32::try_from(byte).unwrap_or(u32::MAX);
    sources.line_column(Place { file, start: byte, end: byte })
}

/// Words on one line: a message never breaks the form that it is shown in.
fn one_line(words: &str) -> String {
    words.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// What stands under a message: why, what instead, and how to mend it, each with its head.
fn remarks(message: &Diagnostic) -> Vec<(&'static str, String)> {
    let mut all = Vec::new();
    if let Some(why) = &message.why {
        all.push(("why", why.clone()));
    }
    if let Some(help) = &message.help {
        all.push(("instead", help.clone()));
    }
    // The words of a new line stand in the way out already.
    let told = |fix: &&Fix| fix.safe || fix.edits.iter().any(|e| e.place.start < e.place.end);
    for fix in message.fixes.iter().filter(told) {
        all.push(if fix.safe {
            ("fix", format!("{} (`check --fix` does it)", fix.title))
        } else {
            ("perhaps", fix.title.clone())
        });
    }
    all
}

#[cfg(test)]
mod tests;
