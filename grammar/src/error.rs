//! What can be wrong with the text itself.

use crate::tree::Span;

/// A mistake in the text, with what to say and how to mend it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SyntaxError {
    /// The rule's code, such as `W001`.
    pub code: &'static str,
    /// What is wrong, in a groomer's words.
    pub message: String,
    /// What to write instead.
    pub help: Option<String>,
    /// Where.
    pub span: Span,
    /// A second place that matters (the brace that was never closed).
    pub related: Option<(Span, String)>,
    /// An edit that mends it, if there is exactly one good one.
    pub fix: Option<Fix>,
}

/// Replace `span` by `text`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fix {
    /// What the edit does, as a short title: `write "clip"`.
    pub title: String,
    /// Where.
    pub span: Span,
    /// The new text.
    pub text: String,
}
