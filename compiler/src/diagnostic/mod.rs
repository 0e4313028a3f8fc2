//! Messages: one value, whoever shows it.
//!
//! A [`Diagnostic`] speaks to a groomer: what is wrong, on which dog, why it matters and what to write instead.
//! Terminal, plain text, JSON and editors all show this value; none adds a place or a word of its own.

mod codes;
pub mod render;

pub use codes::{CODES, Code, code};

use crate::source::{Place, Sources};
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

impl Diagnostic {
    /// Every place that it speaks of.
    pub fn places_mut(&mut self) -> impl Iterator<Item = &mut Place> {
        let edits = self.fixes.iter_mut().flat_map(|f| &mut f.edits).map(|e| &mut e.place);
        std::iter::once(&mut self.place).chain(self.related.iter_mut().map(|r| &mut r.place)).chain(edits)
    }
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

    /// With a way to mend it that takes more than one edit.
    #[must_use]
    pub fn offer(mut self, fix: Option<Fix>) -> Self {
        self.fixes.extend(fix);
        self
    }

    /// With an edit that an author should look at first.
    #[must_use]
    pub fn suggest(mut self, title: impl Into<String>, place: Place, text: impl Into<String>) -> Self {
        self.fixes.push(Fix::rewrite(title, place, text));
        self
    }
}

impl Fix {
    /// A line more before the closing brace at `end`. How it is set apart there depends on the text: see [`laid_out`].
    #[must_use]
    pub fn line(title: impl Into<String>, end: Place, line: impl Into<String>) -> Self {
        Self { title: title.into(), safe: false, edits: vec![Edit { place: end, text: line.into() }] }
    }

    /// Other words in a place, for an author to look at.
    #[must_use]
    pub fn rewrite(title: impl Into<String>, place: Place, text: impl Into<String>) -> Self {
        Self { title: title.into(), safe: false, edits: vec![Edit { place, text: text.into() }] }
    }

    /// A statement less.
    #[must_use]
    pub fn without(title: impl Into<String>, whole: Place) -> Self {
        Self { title: title.into(), safe: true, edits: vec![Edit { place: whole, text: String::new() }] }
    }
}

/// Gives the edits of fixes the line ends that their texts ask for: a new line stands on a line of its own, and a statement that is
/// taken away takes its line with it, but never a comment.
pub fn laid_out(messages: &mut [Diagnostic], sources: &Sources) {
    for edit in messages.iter_mut().flat_map(|m| &mut m.fixes).flat_map(|f| &mut f.edits) {
        let text = sources.text(edit.place.file);
        let (Some(before), Some(after)) = (text.get(..edit.place.start as usize), text.get(edit.place.end as usize..))
        else {
            continue;
        };
        let begins = before.rfind('\n').map_or(0, |at| at + 1);
        let blank = before.get(begins..).is_some_and(|line| line.trim().is_empty());
        if edit.place.start == edit.place.end && after.starts_with('}') && !edit.text.ends_with('\n') {
            // A brace on a line of its own: the new line goes above it.
            if blank {
                edit.place.start = u32::try_from(begins).unwrap_or(edit.place.start);
                edit.place.end = edit.place.start;
            }
            let start = if blank { "  " } else { "\n  " };
            edit.text = format!("{start}{}\n", edit.text.replace('\n', "\n  "));
        } else if edit.text.is_empty() && edit.place.start < edit.place.end {
            let rest = after.find('\n').map_or(after.len(), |at| at + 1);
            let line = after.get(..rest).unwrap_or("").trim();
            if blank && line.is_empty() {
                edit.place.start = u32::try_from(begins).unwrap_or(edit.place.start);
                edit.place.end += u32::try_from(rest).unwrap_or(0);
            } else if after.trim_start_matches(' ').starts_with(';') {
                let skipped = after.find(';').map_or(0, |at| at + 1);
                edit.place.end += u32::try_from(skipped).unwrap_or(0);
            }
        }
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
