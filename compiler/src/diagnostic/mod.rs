//! Messages: one value, whoever shows it.
//!
//! A [`Diagnostic`] speaks to a groomer: what is wrong, on which dog, why it matters and what to write instead.
//! Terminal, plain text, JSON and editors all show this value; none adds a place or a word of its own.

mod codes;
pub mod render;

pub use codes::{CODES, Code, code};

use crate::source::Place;
use serde::Serialize;

/// How bad it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Worth knowing.
    Note,
    /// May look or work less well; a sheet is still made.
    Warning,
    /// No sheet while it stands.
    Error,
}

/// A message.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Diagnostic {
    /// The rule, such as `C002`.
    pub code: &'static str,
    /// How bad it is.
    pub severity: Severity,
    /// What is wrong, in one line that can stand alone.
    pub message: String,
    /// Where.
    pub place: Place,
    /// A few words under the place, if the message doesn't already say them.
    pub label: Option<String>,
    /// Other places that matter, each with its words.
    pub related: Vec<Related>,
    /// Why it matters.
    pub why: Option<String>,
    /// What to write or do instead.
    pub help: Option<String>,
    /// Edits that mend it, the best first.
    pub fixes: Vec<Fix>,
    /// The simplest dog that it fails for, as a card.
    pub dog: Option<String>,
}

/// Another place that matters.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Related {
    /// Where.
    pub place: Place,
    /// What it has to do with it.
    pub message: String,
}

/// A way to mend the text.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Fix {
    /// What it does, as a short title.
    pub title: String,
    /// Whether it can be applied without asking (`check --fix`).
    pub safe: bool,
    /// The edits, not overlapping, in the order of the text.
    pub edits: Vec<Edit>,
}

/// Replace a place by a text.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Edit {
    /// Where.
    pub place: Place,
    /// The new text.
    pub text: String,
}

impl Diagnostic {
    /// An error.
    #[must_use]
    pub fn error(code: &'static str, place: Place, message: impl Into<String>) -> Self {
        Self::new(Severity::Error, code, place, message.into())
    }

    /// A warning.
    #[must_use]
    pub fn warning(code: &'static str, place: Place, message: impl Into<String>) -> Self {
        Self::new(Severity::Warning, code, place, message.into())
    }

    /// A note.
    #[must_use]
    pub fn note(code: &'static str, place: Place, message: impl Into<String>) -> Self {
        Self::new(Severity::Note, code, place, message.into())
    }

    fn new(severity: Severity, code: &'static str, place: Place, message: String) -> Self {
        Self {
            code,
            severity,
            message,
            place,
            label: None,
            related: Vec::new(),
            why: None,
            help: None,
            fixes: Vec::new(),
            dog: None,
        }
    }

    /// With a few words under the place.
    #[must_use]
    pub fn label(mut self, words: impl Into<String>) -> Self {
        self.label = Some(words.into());
        self
    }

    /// With why it matters.
    #[must_use]
    pub fn why(mut self, words: impl Into<String>) -> Self {
        self.why = Some(words.into());
        self
    }

    /// With what to do instead.
    #[must_use]
    pub fn help(mut self, words: impl Into<String>) -> Self {
        self.help = Some(words.into());
        self
    }

    /// With another place.
    #[must_use]
    pub fn related(mut self, place: Place, message: impl Into<String>) -> Self {
        self.related.push(Related { place, message: message.into() });
        self
    }

    /// With an edit that mends it and that can be applied without asking.
    #[must_use]
    pub fn fix(mut self, title: impl Into<String>, place: Place, text: impl Into<String>) -> Self {
        self.fixes.push(Fix { title: title.into(), safe: true, edits: vec![Edit { place, text: text.into() }] });
        self
    }

    /// With an edit that an author should look at first.
    #[must_use]
    pub fn suggest(mut self, title: impl Into<String>, place: Place, text: impl Into<String>) -> Self {
        self.fixes.push(Fix { title: title.into(), safe: false, edits: vec![Edit { place, text: text.into() }] });
        self
    }
}

/// Sorts messages as a reader meets them and drops repeats.
pub fn in_order(messages: &mut Vec<Diagnostic>) {
    messages.sort_by(|a, b| {
        (a.place.file, a.place.start, std::cmp::Reverse(a.severity), a.code, &a.message).cmp(&(
            b.place.file,
            b.place.start,
            std::cmp::Reverse(b.severity),
            b.code,
            &b.message,
        ))
    });
    messages.dedup_by(|a, b| a.code == b.code && a.place == b.place && a.message == b.message);
}
