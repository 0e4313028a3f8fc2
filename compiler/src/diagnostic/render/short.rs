//! One line a message: `recipe.trim:12:3: error[C001]: …`.

use super::{Look, plain};
use crate::{diagnostic::Diagnostic, source::Sources};
use codespan_reporting::term::{Config, DisplayStyle};

/// Shows the messages in their order, one a line.
#[must_use]
pub fn render(messages: &[Diagnostic], sources: &Sources, look: Look) -> String {
    let config = Config { display_style: DisplayStyle::Short, ..Config::default() };
    plain::with(&config, messages, sources, look)
}

/// One message as a line without colour.
#[must_use]
pub fn one(message: &Diagnostic, sources: &Sources) -> String {
    render(std::slice::from_ref(message), sources, Look::default())
}
