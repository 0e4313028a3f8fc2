//! For a terminal: the text around the place, by miette's graphical handler.

use super::{Look, bytes, line_column, one_line, page, remarks};
use crate::{
    diagnostic::{Diagnostic, Related, Severity},
    source::{FileId, Place, Sources},
};
use codespan_reporting::files::Files;
use miette::{
    GraphicalReportHandler, GraphicalTheme, LabeledSpan, MietteError, MietteSpanContents, SourceCode, SourceSpan,
    SpanContents, ThemeCharacters, ThemeStyles,
};
use std::{borrow::Cow, fmt, ops::Range};

/// Lines shown before and after a place.
const AROUND: usize = 1;
/// A place over more lines than this is marked on its first line only.
const LONG: usize = 5;

/// Shows the messages in their order, an empty line between them.
#[must_use]
pub fn render(messages: &[Diagnostic], sources: &Sources, look: Look) -> String {
    let styles = if look.colour { ThemeStyles::ansi() } else { ThemeStyles::none() };
    let handler = GraphicalReportHandler::new_themed(GraphicalTheme { characters: ThemeCharacters::unicode(), styles })
        .with_width(look.width)
        .with_links(false)
        .with_context_lines(AROUND)
        .with_break_words(false)
        .without_syntax_highlighting();
    let mut out = String::new();
    for message in messages {
        if !out.is_empty() {
            out.push('\n');
        }
        one(&handler, message, sources, look, &mut out);
    }
    out
}

/// One message: its place, the other places, then why and what instead.
fn one(handler: &GraphicalReportHandler, message: &Diagnostic, sources: &Sources, look: Look, out: &mut String) {
    let (near, far): (Vec<_>, Vec<_>) = message.related.iter().partition(|r| is_near(sources, message.place, r.place));
    let mut reports = vec![Report::main(message, &near, sources)];
    reports.extend(far.iter().map(|related| Report::other(related, sources)));
    for report in &reports {
        // INVARIANT: writing to a string can't fail, and every place lies inside its text.
        if handler.render_report(out, report).is_err() {
            out.push_str(&super::short::one(message, sources));
        }
    }
    for (head, words) in remarks(message) {
        let head = format!("{head}:");
        let padded = format!("{head:<9}");
        let first = if look.colour { format!("  \x1b[36m{padded}\x1b[0m") } else { format!("  {padded}") };
        let options = textwrap::Options::new(look.width.saturating_sub(1))
            .initial_indent(&first)
            .subsequent_indent("           ")
            .break_words(false)
            // What is offered to be written is copied from here.
            .word_splitter(textwrap::WordSplitter::NoHyphenation);
        out.push_str(&textwrap::fill(&words, options));
        out.push('\n');
    }
}

/// Whether two places can be shown in one piece of text.
fn is_near(sources: &Sources, a: Place, b: Place) -> bool {
    let line = |place: Place| line_column(sources, place.file, bytes(sources, place).start).0;
    a.file == b.file && line(a).abs_diff(line(b)) <= 2 * AROUND + 1
}

/// A message in miette's words: the adapter.
#[derive(Debug)]
struct Report<'a> {
    words: String,
    code: Option<&'static str>,
    severity: Severity,
    snippet: Snippet<'a>,
    labels: Vec<LabeledSpan>,
}

impl<'a> Report<'a> {
    fn main(message: &'a Diagnostic, near: &[&Related], sources: &'a Sources) -> Self {
        let snippet = Snippet::new(sources, message.place.file);
        let mut labels = vec![LabeledSpan::new_primary_with_span(
            message.label.as_deref().map(one_line),
            snippet.span(message.place),
        )];
        labels
            .extend(near.iter().map(|r| LabeledSpan::new_with_span(Some(one_line(&r.message)), snippet.span(r.place))));
        let words = one_line(&message.message);
        Self {
            words,
            code: Some(message.code),
            severity: message.severity,
            snippet: snippet.for_labels(&labels),
            labels,
        }
    }

    fn other(related: &'a Related, sources: &'a Sources) -> Self {
        let snippet = Snippet::new(sources, related.place.file);
        let labels = vec![LabeledSpan::new_primary_with_span(None, snippet.span(related.place))];
        let words = one_line(&related.message);
        Self { words, code: None, severity: Severity::Note, snippet: snippet.for_labels(&labels), labels }
    }
}

impl fmt::Display for Report<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.words)
    }
}

impl std::error::Error for Report<'_> {}

impl miette::Diagnostic for Report<'_> {
    fn code(&self) -> Option<Box<dyn fmt::Display + '_>> {
        let code = self.code?;
        Some(Box::new(format!("{}[{code}]", self.severity.word())))
    }

    fn severity(&self) -> Option<miette::Severity> {
        Some(match self.severity {
            Severity::Note => miette::Severity::Advice,
            Severity::Warning => miette::Severity::Warning,
            Severity::Error => miette::Severity::Error,
        })
    }

    fn url(&self) -> Option<Box<dyn fmt::Display + '_>> {
        self.code.map(|code| Box::new(page(code)) as Box<dyn fmt::Display>)
    }

    fn source_code(&self) -> Option<&dyn SourceCode> {
        Some(&self.snippet)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        Some(Box::new(self.labels.iter().cloned()))
    }
}

/// A file as miette reads it. Lines come from the file table, which knows where they begin; miette's own reader
/// counts them from the top for every label.
struct Snippet<'a> {
    sources: &'a Sources,
    file: FileId,
    /// The text; with a blank at its end if a label points there.
    text: Cow<'a, str>,
}

impl fmt::Debug for Snippet<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.sources.name(self.file))
    }
}

impl<'a> Snippet<'a> {
    fn new(sources: &'a Sources, file: FileId) -> Self {
        Self { sources, file, text: Cow::Borrowed(sources.text(file)) }
    }

    /// Adds the blank that a label at the very end of the text needs to stand under.
    fn for_labels(mut self, labels: &[LabeledSpan]) -> Self {
        if labels.iter().any(|l| l.offset() == self.text.len()) {
            self.text.to_mut().push(' ');
        }
        self
    }

    fn span(&self, place: Place) -> SourceSpan {
        let mut range = bytes(self.sources, place);
        let words = self.text.get(range.clone()).unwrap_or("");
        if words.lines().count() > LONG {
            range.end = range.start + words.lines().next().map_or(0, str::len);
        }
        (range.start, range.len()).into()
    }

    fn lines(&self, byte: usize) -> usize {
        self.sources.line_index(self.file, byte).unwrap_or(0)
    }

    fn line(&self, line: usize) -> Range<usize> {
        self.sources.line_range(self.file, line).unwrap_or(0..0)
    }
}

impl SourceCode for Snippet<'_> {
    fn read_span<'a>(
        &'a self,
        span: &SourceSpan,
        before: usize,
        after: usize,
    ) -> Result<Box<dyn SpanContents<'a> + 'a>, MietteError> {
        let end_of_text = self.text.len();
        let (start, end) = (span.offset(), span.offset() + span.len());
        let first = self.lines(start).saturating_sub(before);
        let last_of_text = self.lines(end_of_text);
        let last = (self.lines(end.max(start + 1) - 1) + after).min(last_of_text);
        let stop = if last == last_of_text { end_of_text } else { self.line(last).end };
        let range = if before == 0 { start..end } else { self.line(first).start..stop };
        let (_, column) = line_column(self.sources, self.file, range.start);
        let data = self.text.as_bytes().get(range.clone()).ok_or(MietteError::OutOfBounds)?;
        Ok(Box::new(MietteSpanContents::new_named(
            self.sources.name(self.file).to_owned(),
            data,
            (range.start, range.len()).into(),
            first,
            column - 1,
            last - first + 1,
        )))
    }
}
