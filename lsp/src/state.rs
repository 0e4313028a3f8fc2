//! What the editor has open: texts and versions, and what was agreed at the start.
//!
//! Changes are applied in the order of the wire, without waiting for anything. A [`Snapshot`] is the state of one
//! moment and never changes.

use crate::features::diagnostics::Report;
use crate::lines::{Columns, Lines, Range};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Instant;

/// A document's address as the editor writes it.
pub type Uri = Arc<str>;

/// What the editor can do, said when it begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(clippy::struct_excessive_bools)]
pub struct Client {
    /// How it counts columns.
    pub columns: Columns,
    /// It asks for messages, and can be told to ask again; otherwise they are sent to it. Never both. Whoever asks and can't be told
    /// to ask again would show what was true before another file changed, and never what was held back while a word was written.
    pub pulls: bool,
    /// It shows other places beside a message.
    pub related: bool,
    /// It can tell of changed files when asked to.
    pub watches: bool,
    /// It shows words that change nothing in a way of their own.
    pub tags: bool,
    /// It shows where more is said about a code.
    pub code_links: bool,
    /// It takes changes with the version of the text that they are for.
    pub versions: bool,
    /// It takes code actions that are more than commands.
    pub actions: bool,
    /// It shows symbols as a tree.
    pub nests: bool,
    /// It shows Markdown.
    pub markdown: bool,
    /// It shows what a definition was asked for.
    pub links: bool,
    /// It asks whether a name can be changed.
    pub prepares: bool,
    /// It can be told to open a page.
    pub shows: bool,
    /// It can be told to ask for hints again.
    pub hints_again: bool,
    /// It can be told to ask for lenses again.
    pub lenses_again: bool,
}

impl Default for Client {
    /// An editor that knows only what all know.
    fn default() -> Self {
        Self {
            columns: Columns::Utf16,
            pulls: false,
            related: false,
            watches: false,
            tags: false,
            code_links: false,
            versions: false,
            actions: false,
            nests: false,
            markdown: false,
            links: false,
            prepares: false,
            shows: false,
            hints_again: false,
            lenses_again: false,
        }
    }
}

/// An open document.
#[derive(Clone, Debug)]
pub struct Document {
    /// Its file, if it has one.
    pub path: Option<PathBuf>,
    /// The editor's number of the text.
    pub version: i32,
    /// Which opening this is: a document that was closed and opened again is another one.
    pub opening: u64,
    /// The text.
    pub text: Arc<String>,
    /// Where the author wrote last: most likely the cursor is there.
    pub written: Option<Written>,
}

/// Where something was written last, and when.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Written {
    /// The byte after it.
    pub at: usize,
    /// The moment.
    pub when: Instant,
}

/// A change of a text: a range replaced, or all of it.
#[derive(Clone, Debug)]
pub struct Change {
    /// What is replaced; the whole text if there is no range.
    pub range: Option<Range>,
    /// The new words.
    pub text: String,
}

/// The open documents by address.
pub type Documents = BTreeMap<Uri, Document>;

/// The open documents of one moment.
pub type Snapshot = Arc<Documents>;

/// The state of a session.
#[derive(Debug, Default)]
pub struct State(Mutex<Inner>);

#[derive(Debug, Default)]
struct Inner {
    client: Client,
    openings: u64,
    documents: Snapshot,
    table: Option<String>,
    watched: bool,
    beside: BTreeMap<PathBuf, Report>,
}

impl State {
    fn lock(&self) -> MutexGuard<'_, Inner> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Keeps what was agreed.
    pub fn agree(&self, client: Client) {
        self.lock().client = client;
    }

    /// What was agreed.
    #[must_use]
    pub fn client(&self) -> Client {
        self.lock().client
    }

    /// Puts a dog on the table, by name, or takes it off.
    pub fn put_on_table(&self, dog: Option<String>) {
        self.lock().table = dog;
    }

    /// The dog on the table.
    #[must_use]
    pub fn table(&self) -> Option<String> {
        self.lock().table.clone()
    }

    /// The client has agreed to tell of every file that is made, changed or taken away.
    pub fn files_are_watched(&self) {
        self.lock().watched = true;
    }

    /// Whether it has.
    #[must_use]
    pub fn watched(&self) -> bool {
        self.lock().watched
    }

    /// The documents as they are now.
    #[must_use]
    pub fn snapshot(&self) -> Snapshot {
        Arc::clone(&self.lock().documents)
    }

    /// What there is to say of files that aren't open.
    #[must_use]
    pub fn beside(&self) -> Vec<Report> {
        self.lock().beside.values().cloned().collect()
    }

    /// Keeps what there is to say of a file that isn't open; whether that is new.
    pub fn keep_beside(&self, path: PathBuf, report: &Report) -> bool {
        let beside = &mut self.lock().beside;
        if report.messages.is_empty() {
            return beside.remove(&path).is_some();
        }
        beside.insert(path, report.clone()).as_ref() != Some(report)
    }

    /// Forgets what was kept of some files, and says what it was.
    pub fn forget_beside(&self, stale: impl Fn(&Path) -> bool) -> Vec<Report> {
        let beside = &mut self.lock().beside;
        let paths: Vec<PathBuf> = beside.keys().filter(|path| stale(path)).cloned().collect();
        paths.iter().filter_map(|path| beside.remove(path)).collect()
    }

    /// A document was opened.
    pub fn open(&self, uri: Uri, path: Option<PathBuf>, version: i32, text: String) {
        let mut inner = self.lock();
        inner.openings += 1;
        let opening = inner.openings;
        let document = Document { path, version, opening, text: Arc::new(text), written: None };
        Arc::make_mut(&mut inner.documents).insert(uri, document);
    }

    /// A document was changed. Says whether it is open at all.
    pub fn change(&self, uri: &str, version: i32, changes: Vec<Change>) -> bool {
        let mut inner = self.lock();
        let columns = inner.client.columns;
        let Some(document) = Arc::make_mut(&mut inner.documents).get_mut(uri) else { return false };
        document.version = version;
        document.written = None;
        let text = Arc::make_mut(&mut document.text);
        for change in changes {
            match change.range {
                Some(range) => {
                    let bytes = Lines::new(text).bytes(range, columns);
                    document.written = Some(Written { at: bytes.start + change.text.len(), when: Instant::now() });
                    text.replace_range(bytes, &change.text);
                }
                None => {
                    document.written = None;
                    *text = change.text;
                }
            }
        }
        true
    }

    /// A document was closed.
    pub fn close(&self, uri: &str) {
        Arc::make_mut(&mut self.lock().documents).remove(uri);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lines::Position;

    fn put(line: u32, from: u32, to: u32, text: &str) -> Change {
        let at = |column| Position { line, column };
        Change { range: Some(Range { start: at(from), end: at(to) }), text: text.to_owned() }
    }

    fn text(state: &State) -> String {
        state.snapshot().get("u").map(|d| d.text.as_ref().clone()).unwrap_or_default()
    }

    #[test]
    fn changes_of_one_message_follow_each_other() {
        let state = State::default();
        state.open("u".into(), None, 1, "🐩 clpi\r\nbody".to_owned());
        assert!(state.change("u", 2, vec![put(0, 3, 7, "clip"), put(0, 7, 7, " it"), put(1, 0, 99, "neck")]));
        assert_eq!(text(&state), "🐩 clip it\r\nneck");
        assert!(state.change("u", 3, vec![Change { range: None, text: "new".to_owned() }, put(0, 3, 3, "er")]));
        assert_eq!(text(&state), "newer");
    }

    #[test]
    fn a_snapshot_stays_as_it_was() {
        let state = State::default();
        state.open("u".into(), None, 1, "old".to_owned());
        let before = state.snapshot();
        state.change("u", 2, vec![put(0, 0, 3, "new")]);
        assert_eq!(before.get("u").map(|d| d.text.as_str()), Some("old"));
        state.close("u");
        assert!(!state.change("u", 3, Vec::new()), "a closed document isn't changed");
    }

    #[test]
    fn columns_are_bytes_when_agreed() {
        let state = State::default();
        state.agree(Client { columns: Columns::Utf8, ..Client::default() });
        state.open("u".into(), None, 1, "🐩x".to_owned());
        state.change("u", 2, vec![put(0, 4, 5, "y")]);
        assert_eq!(text(&state), "🐩y");
    }

    #[test]
    fn opening_again_is_another_document() {
        let state = State::default();
        state.open("u".into(), None, 1, String::new());
        let first = state.snapshot();
        state.close("u");
        state.open("u".into(), None, 1, String::new());
        assert_ne!(first.get("u").map(|d| d.opening), state.snapshot().get("u").map(|d| d.opening));
    }
}
