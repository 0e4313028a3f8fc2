//! For programs: one JSON object a message and a line.

use super::{bytes, line_column, page};
use crate::{
    diagnostic::{Diagnostic, Severity},
    source::{Place, Sources},
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A message as `check --format json` writes it, one a line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(title = "Coatwright message")]
pub struct MessageJson {
    /// The rule, such as `C002`; `coatwright explain C002` shows its page.
    pub code: String,
    /// How bad it is.
    pub severity: SeverityJson,
    /// What is wrong, in one line that can stand alone.
    pub message: String,
    /// Where.
    pub place: PlaceJson,
    /// A few words for the place.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub label: Option<String>,
    /// Why it matters.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub why: Option<String>,
    /// What to write or do instead.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub help: Option<String>,
    /// The page of the rule, as a path from the project's root.
    pub page: String,
    /// Other places that matter.
    pub related: Vec<RelatedJson>,
    /// Ways to mend it, the best first.
    pub fixes: Vec<FixJson>,
    /// The simplest dog that it fails for, as a card to paste.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dog: Option<String>,
}

/// How bad it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum SeverityJson {
    /// Worth knowing.
    Note,
    /// May look or work less well; a sheet is still made.
    Warning,
    /// No sheet while it stands.
    Error,
}

/// A place in a file.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct PlaceJson {
    /// The file's name as it was given; names that begin with `basics/` are built in.
    pub file: String,
    /// Where it begins.
    pub start: PointJson,
    /// Where it ends: the first point that is no longer part of it.
    pub end: PointJson,
}

/// A point in a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct PointJson {
    /// Bytes from the file's start, from 0.
    pub byte: usize,
    /// The line, from 1.
    pub line: usize,
    /// The character of the line, from 1.
    pub column: usize,
}

/// Another place that matters.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct RelatedJson {
    /// Where.
    pub place: PlaceJson,
    /// What it has to do with it.
    pub message: String,
}

/// A way to mend the text.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct FixJson {
    /// What it does, as a short title.
    pub title: String,
    /// Whether `check --fix` applies it without asking.
    pub safe: bool,
    /// The edits, not overlapping, in the order of the text.
    pub edits: Vec<EditJson>,
}

/// Replace a place by a text.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct EditJson {
    /// Where.
    pub place: PlaceJson,
    /// The new text.
    pub text: String,
}

/// Shows the messages in their order, one a line.
#[must_use]
pub fn render(messages: &[Diagnostic], sources: &Sources) -> String {
    let mut out = String::new();
    for message in messages {
        // INVARIANT: the value holds nothing but texts and numbers, which always have a JSON form.
        if let Ok(line) = serde_json::to_string(&message_json(message, sources)) {
            out.push_str(&line);
            out.push('\n');
        }
    }
    out
}

/// A message as a value with names and line numbers instead of file numbers.
#[must_use]
pub fn message_json(message: &Diagnostic, sources: &Sources) -> MessageJson {
    let related = |r: &crate::diagnostic::Related| RelatedJson {
        place: place_json(sources, r.place),
        message: r.message.clone(),
    };
    let edit = |e: &crate::diagnostic::Edit| EditJson { place: place_json(sources, e.place), text: e.text.clone() };
    let fix = |f: &crate::diagnostic::Fix| FixJson {
        title: f.title.clone(),
        safe: f.safe,
        edits: f.edits.iter().map(edit).collect(),
    };
    MessageJson {
        code: message.code.to_owned(),
        severity: match message.severity {
            Severity::Note => SeverityJson::Note,
            Severity::Warning => SeverityJson::Warning,
            Severity::Error => SeverityJson::Error,
        },
        message: message.message.clone(),
        place: place_json(sources, message.place),
        label: message.label.clone(),
        why: message.why.clone(),
        help: message.help.clone(),
        page: page(message.code),
        related: message.related.iter().map(related).collect(),
        fixes: message.fixes.iter().map(fix).collect(),
        dog: message.dog.clone(),
    }
}

/// A place with names and line numbers instead of a file number.
#[must_use]
pub fn place_json(sources: &Sources, place: Place) -> PlaceJson {
    let range = bytes(sources, place);
    let point = |byte: usize| {
        let (line, column) = line_column(sources, place.file, byte);
        PointJson { byte, line, column }
    };
    PlaceJson { file: sources.name(place.file).to_owned(), start: point(range.start), end: point(range.end) }
}
