//! For pipes, logs and old printers: the text around the place, drawn in plain letters.

use super::{Look, bytes, line_column, one_line, remarks};
use crate::{
    diagnostic::{Diagnostic, Severity},
    source::{FileId, Sources},
};
use codespan_reporting::{
    diagnostic as codespan,
    term::{self, Chars, Config, termcolor},
};

/// Shows the messages in their order.
#[must_use]
pub fn render(messages: &[Diagnostic], sources: &Sources, look: Look) -> String {
    let config = Config { chars: Chars::ascii(), start_context_lines: 1, ..Config::default() };
    with(&config, messages, sources, look)
}

/// Shows the messages as `config` says.
pub(super) fn with(config: &Config, messages: &[Diagnostic], sources: &Sources, look: Look) -> String {
    let mut out = String::new();
    for message in messages {
        let shown = convert(message, sources, look.width);
        let done = if look.colour {
            let mut ansi = termcolor::Ansi::new(Vec::new());
            term::emit_to_write_style(&mut ansi, config, sources, &shown)
                .map(|()| out.push_str(&String::from_utf8_lossy(ansi.get_ref())))
        } else {
            let mut text = String::new();
            term::emit_to_string(&mut text, config, sources, &shown).map(|()| out.push_str(&text))
        };
        if done.is_err() {
            // INVARIANT: places are kept inside their texts; what is left is a file that the table doesn't hold.
            let (line, column) = line_column(sources, message.place.file, bytes(sources, message.place).start);
            let (name, word) = (sources.name(message.place.file), message.severity.word());
            out.push_str(&format!(
                "{name}:{line}:{column}: {word}[{}]: {}\n",
                message.code,
                one_line(&message.message)
            ));
        }
    }
    out
}

/// A message in codespan's words.
fn convert(message: &Diagnostic, sources: &Sources, width: usize) -> codespan::Diagnostic<FileId> {
    let severity = match message.severity {
        Severity::Note => codespan::Severity::Note,
        Severity::Warning => codespan::Severity::Warning,
        Severity::Error => codespan::Severity::Error,
    };
    let place = message.place;
    let mut labels = vec![codespan::Label::primary(place.file, bytes(sources, place))];
    if let (Some(label), Some(words)) = (labels.first_mut(), &message.label) {
        label.message = one_line(words);
    }
    labels.extend(message.related.iter().map(|related| {
        codespan::Label::secondary(related.place.file, bytes(sources, related.place))
            .with_message(one_line(&related.message))
    }));
    let notes = remarks(message)
        .into_iter()
        .map(|(head, words)| {
            let options = textwrap::Options::new(width.saturating_sub(6))
                .subsequent_indent("  ")
                .break_words(false)
                // What is offered to be written is copied from here.
                .word_splitter(textwrap::WordSplitter::NoHyphenation);
            textwrap::fill(&format!("{head}: {words}"), options)
        })
        .collect();
    codespan::Diagnostic::new(severity)
        .with_code(message.code)
        .with_message(one_line(&message.message))
        .with_labels(labels)
        .with_notes(notes)
}
