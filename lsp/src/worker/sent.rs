//! What the editor was sent last.

use crate::features::diagnostics::{FileName, Message, Report};
use crate::lines::{Columns, Lines, Range};
use crate::state::{Document, Uri};
use coatwright::diagnostic::code;
use std::collections::HashMap;
use std::sync::Arc;

/// What the editor shows of the open documents.
#[derive(Debug, Default)]
pub(super) struct Sent(HashMap<Uri, Shown>);

#[derive(Debug)]
struct Shown {
    opening: u64,
    report: Report,
    /// The text that the report is about.
    text: Arc<String>,
}

impl Sent {
    /// Keeps a report that is to be sent. Whether it says anything new.
    pub(super) fn is_news(&mut self, report: &Report, document: &Document) -> bool {
        let shown = Shown { opening: document.opening, report: report.clone(), text: Arc::clone(&document.text) };
        let before = self.0.insert(Uri::clone(&report.uri), shown);
        before.is_none_or(|before| (before.opening, &before.report) != (document.opening, report))
    }

    /// Whether the editor shows what was told of an open document.
    pub(super) fn shows(&self, uri: &Uri) -> bool {
        self.0.contains_key(uri)
    }

    /// A document was closed. Whether the editor shows anything of it.
    pub(super) fn is_taken_back(&mut self, report: &Report) -> bool {
        self.0.remove(&report.uri).is_some()
    }

    /// A report of words and names alone, with what was proved of the text before: until the new proof is there it stands where its
    /// words stand now. None if words and names say nothing else than before.
    pub(super) fn words_first(&self, mut report: Report, document: &Document, columns: Columns) -> Option<Report> {
        let before = self.0.get(&report.uri).filter(|before| before.opening == document.opening);
        if words(Some(&report)) == words(before.map(|before| &before.report)) {
            return None;
        }
        let Some(before) = before else { return Some(report) };
        let moved = Moved::new(&before.text, &document.text, columns);
        for message in before.report.messages.iter().filter(|message| !is_word(message)) {
            if let Some(message) = moved.message(message, &report.uri).filter(|m| !report.messages.contains(m)) {
                report.messages.push(message);
            }
        }
        report.messages.sort_by_key(|message| message.range.start);
        Some(report)
    }
}

/// Whether a message is about words and names alone, and comes of no proof: that a line changes nothing does, and that nobody is
/// served may.
fn is_word(message: &Message) -> bool {
    message.code.is_some_and(|code| code.starts_with(['W', 'M']) && ![code::M010, code::M025].contains(&code))
}

fn words(report: Option<&Report>) -> Vec<(Option<&'static str>, &str)> {
    let all = report.into_iter().flat_map(|report| &report.messages).filter(|message| is_word(message));
    let mut all: Vec<_> = all.map(|message| (message.code, message.text.as_str())).collect();
    all.sort_unstable();
    all
}

/// The way from a text to the one that took its place.
struct Moved<'t> {
    old: Lines<'t>,
    new: Lines<'t>,
    /// So many bytes are the same at the front,
    front: usize,
    /// and from these on at the back.
    back: (usize, usize),
    columns: Columns,
}

impl<'t> Moved<'t> {
    fn new(old: &'t str, new: &'t str, columns: Columns) -> Self {
        let (was, is) = (old.as_bytes(), new.as_bytes());
        let (front, same) = grammar::alike(was, is);
        let back = (was.len() - same, is.len() - same);
        Self { old: Lines::new(old), new: Lines::new(new), front, back, columns }
    }

    fn byte(&self, byte: usize) -> usize {
        if byte <= self.front {
            byte
        } else if byte >= self.back.0 {
            byte - self.back.0 + self.back.1
        } else {
            self.back.1
        }
    }

    /// Where a range is now; none if nothing is left of it.
    fn range(&self, range: Range) -> Option<Range> {
        let bytes = self.old.bytes(range, self.columns);
        let now = self.byte(bytes.start)..self.byte(bytes.end);
        (now.start < now.end).then(|| self.new.range(now, self.columns))
    }

    fn message(&self, message: &Message, uri: &Uri) -> Option<Message> {
        let mut message = Message { range: self.range(message.range)?, ..message.clone() };
        for related in &mut message.related {
            if matches!(&related.file, FileName::Open(of) if of == uri) {
                related.range = self.range(related.range)?;
            }
        }
        Some(message)
    }
}
