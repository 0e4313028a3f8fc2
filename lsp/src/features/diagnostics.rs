//! The compiler's messages for the open documents.

use super::cards::{self, Change};
use crate::around::Around;
use crate::house::{self, Disk, Root};
use crate::lines::{Columns, Lines, Position, Range};
use crate::state::{Documents, Uri};
use coatwright::diagnostic::{Diagnostic, Severity, code};
use coatwright::source::{FileId, Place};
use coatwright::workspace::Salon;
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// A message as it is shown.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Message {
    /// Where.
    pub range: Range,
    /// How bad it is.
    pub severity: Level,
    /// The rule; none for a message about the server itself.
    pub code: Option<&'static str>,
    /// What is wrong, why it matters and what to do, each on a line.
    pub text: String,
    /// Other places that matter.
    pub related: Vec<Related>,
    /// Whether it is about words that change nothing.
    pub idle: bool,
    /// The page about the rule.
    pub page: Option<&'static Path>,
}

/// How bad it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Level {
    /// No sheet while it stands.
    Error,
    /// A sheet is still made.
    Warning,
    /// Worth knowing.
    Note,
}

/// Another place that matters.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Related {
    /// Which text.
    pub file: FileName,
    /// Where in it.
    pub range: Range,
    /// What it has to do with it.
    pub text: String,
}

/// A text that can be opened.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum FileName {
    /// An open document.
    Open(Uri),
    /// A file.
    Path(PathBuf),
}

/// The messages of one document.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Report {
    /// The document.
    pub uri: Uri,
    /// The version they are about; none for a document that was closed.
    pub version: Option<i32>,
    /// The messages in the order of the text.
    pub messages: Vec<Message>,
    /// Whether one was held back because its word is still being written.
    pub held: bool,
}

impl Report {
    /// What is told in place of messages when looking for them fails.
    #[must_use]
    pub fn stumbled(uri: &Uri, version: i32) -> Self {
        let start = Position { line: 0, column: 0 };
        let text = "Coatwright stumbled over this text, so its other messages are missing\n\
            That is a mistake in Coatwright. Change the line you wrote last, and please report it.";
        let message = Message {
            range: Range { start, end: start },
            severity: Level::Error,
            code: None,
            text: text.to_owned(),
            related: Vec::new(),
            idle: false,
            page: None,
        };
        Self { uri: Uri::clone(uri), version: Some(version), messages: vec![message], held: false }
    }
}

/// What to look at.
#[derive(Clone, Debug)]
pub struct Ask<'a> {
    /// The open documents.
    pub documents: &'a Documents,
    /// The documents that changed, or that are asked about.
    pub about: &'a [Uri],
    /// These alone, and not the other open documents of their houses.
    pub only: bool,
    /// How columns are counted.
    pub columns: Columns,
    /// The dog on the table, by name.
    pub table: Option<String>,
}

/// Takes a document's messages of words and names, before the proof.
pub type Early<'e> = &'e mut dyn FnMut(Report);

/// The messages of the documents asked about and, unless only those are wanted, of all open documents beside them. What is known of
/// those asked about before a proof is given to `early`.
pub fn report(ask: &Ask<'_>, disk: &mut Disk, mut early: Option<Early<'_>>) -> Vec<Report> {
    let mut out = Vec::new();
    for (root, asked) in grouped(ask, disk) {
        let early: Option<Early<'_>> = match &mut early {
            Some(early) => Some(&mut **early),
            None => None,
        };
        run(ask, root.as_ref(), disk, &asked, early, &mut out);
    }
    out
}

/// The documents, those of one house together.
fn grouped<'a>(ask: &Ask<'a>, disk: &mut Disk) -> Vec<(Option<Root>, Vec<&'a Uri>)> {
    let mut houses: BTreeMap<Root, BTreeSet<&Uri>> = BTreeMap::new();
    let mut alone: Vec<&Uri> = Vec::new();
    let roots: Vec<(&Uri, Option<Root>)> = ask
        .documents
        .iter()
        .map(|(uri, document)| (uri, document.path.as_deref().and_then(|p| Root::of(p, ask.documents))))
        .collect();
    disk.keep_only(&roots.iter().filter_map(|(_, root)| root.clone()).collect());
    for (uri, root) in &roots {
        if ask.about.contains(uri) {
            match root {
                Some(root) => {
                    houses.entry(root.clone()).or_default().insert(uri);
                }
                None => alone.push(uri),
            }
        }
    }
    if !ask.only {
        for (uri, root) in &roots {
            if let Some(asked) = root.as_ref().and_then(|root| houses.get_mut(root)) {
                asked.insert(uri);
            }
        }
    }
    let houses = houses.into_iter().map(|(root, asked)| (Some(root), asked.into_iter().collect()));
    houses.chain(alone.into_iter().map(|uri| (None, vec![uri]))).collect()
}

/// One run of the compiler over the documents asked about and the files around them.
fn run(
    ask: &Ask<'_>,
    root: Option<&Root>,
    disk: &mut Disk,
    asked: &[&Uri],
    early: Option<Early<'_>>,
    out: &mut Vec<Report>,
) {
    let around = Around::read(ask.documents, root, disk, asked, ask.columns, ask.table.clone());
    let salons = around.workspace().salons();
    // What is said of the dog on the table comes of the proof.
    let messages = match early.filter(|_| ask.table.is_none()) {
        Some(early) => {
            let about: Vec<&Uri> = asked.iter().copied().filter(|uri| ask.about.contains(uri)).collect();
            let mut tell = |messages: &[Diagnostic]| {
                reports(ask, &around, &salons, &about, (messages, &[], &[])).into_iter().for_each(&mut *early);
            };
            around.messages_words_first(&salons, Some(&mut tell))
        }
        None => around.messages_of(&salons),
    };
    let table = cards::on_the_table(&around, &salons);
    let changes = cards::changes(&around, &salons);
    out.extend(reports(ask, &around, &salons, asked, (messages, &table, &changes)));
    around.keep(disk);
}

/// Messages, those for the dog on the table, and what its card changes, as the reports of some documents.
fn reports(
    ask: &Ask<'_>,
    around: &Around,
    salons: &[Salon<'_>],
    about: &[&Uri],
    (messages, table, changes): (&[Diagnostic], &[Diagnostic], &[Change]),
) -> Vec<Report> {
    let mut shown = Shown::new(around);
    let mut by_file: HashMap<FileId, Vec<Message>> = HashMap::new();
    let mut held: BTreeSet<FileId> = BTreeSet::new();
    let mut writing: HashMap<FileId, usize> = HashMap::new();
    for uri in about {
        if let Some((id, at)) = around.file(ask.documents, uri).zip(written_at(ask.documents, uri)) {
            writing.insert(id, at);
        }
    }
    // What several recipes inherit is told once.
    let mut told: HashSet<(&str, Place, &str)> =
        messages.iter().map(|d| (d.code, d.place, d.message.as_str())).collect();
    let inherited: Vec<&Diagnostic> =
        around.inherited().filter(|d| told.insert((d.code, d.place, d.message.as_str()))).collect();
    for diagnostic in messages.iter().chain(inherited).chain(table) {
        if writing.get(&diagnostic.place.file).is_some_and(|at| half_written(around, salons, diagnostic, *at)) {
            held.insert(diagnostic.place.file);
            continue;
        }
        let message = shown.message(diagnostic);
        by_file.entry(diagnostic.place.file).or_default().push(message);
    }
    for change in changes {
        by_file.entry(change.place.file).or_default().push(shown.change(change));
    }
    let of = |uri: &&Uri| {
        let id = around.file(ask.documents, uri);
        Report {
            uri: Uri::clone(uri),
            version: ask.documents.get(*uri).map(|d| d.version),
            messages: id.and_then(|id| by_file.get(&id).cloned()).unwrap_or_default(),
            held: id.is_some_and(|id| held.contains(&id)),
        }
    };
    about.iter().map(of).collect()
}

/// How long a word counts as being written after its last letter.
pub const WRITING: Duration = Duration::from_millis(1200);

/// Where something is being written right now.
fn written_at(documents: &Documents, uri: &Uri) -> Option<usize> {
    let written = documents.get(uri)?.written?;
    (written.when.elapsed() < WRITING).then_some(written.at)
}

/// Codes about a line that isn't complete.
const OPEN: &[&str] = &["W010", "W011", "W016", code::M022];
/// Codes about a name, and about a second tool: `with t` may become `with the coat`.
const NAMES: &[&str] = &[
    code::M001,
    code::M002,
    code::M003,
    code::M004,
    code::M005,
    code::M006,
    code::M007,
    code::M008,
    code::M011,
    code::D002,
];

/// Whether a message is only about what isn't written to its end yet: `#1` of `#10`, `bel` of `belly`, `cl`, or `clip belly with`.
fn half_written(around: &Around, salons: &[Salon<'_>], diagnostic: &Diagnostic, at: usize) -> bool {
    let (place, code) = (diagnostic.place.range(), diagnostic.code);
    let text = around.workspace().sources().text(diagnostic.place.file);
    let (before, after) = (text.get(..at).unwrap_or_default(), text.get(at..).unwrap_or_default());
    let begins = before.rfind('\n').map_or(0, |end| end + 1);
    let rest = after.split('\n').next().unwrap_or_default();
    // At the end of a line its author goes on; a name may be of several words, so that a blank doesn't end it.
    if matches!(rest.trim(), "" | "}") && (begins..=at).contains(&place.start) {
        let between = text.get(place.end.min(at)..at).unwrap_or_default();
        return OPEN.contains(&code)
            || NAMES.contains(&code) && between.trim().is_empty()
            || code.starts_with('W') && place.end >= at;
    }
    if !NAMES.contains(&code) || place.end != at {
        return false;
    }
    let word = around.workspace().sources().at(diagnostic.place).split_whitespace().collect::<Vec<_>>().join("-");
    let begins = |name: &str| name.len() > word.len() && name.to_lowercase().starts_with(&word.to_lowercase());
    salons.iter().filter(|s| s.files.contains(&diagnostic.place.file)).any(|salon| {
        let index = &salon.trade.index;
        let names = index.places.keys().chain(index.tools.keys()).chain(index.findings.keys());
        let names = names.chain(index.coats.keys()).chain(index.steps.keys()).chain(index.manners.keys());
        names.chain(salon.recipes.keys()).any(|name| begins(name))
    })
}

/// Messages as an editor shows them.
#[derive(Debug)]
pub struct Shown<'a> {
    around: &'a Around,
    lines: HashMap<FileId, Lines<'a>>,
}

impl<'a> Shown<'a> {
    /// For the messages of some files.
    #[must_use]
    pub fn new(around: &'a Around) -> Self {
        Self { around, lines: HashMap::new() }
    }

    fn range(&mut self, place: Place) -> Range {
        let around = self.around;
        self.lines.entry(place.file).or_insert_with(|| around.lines(place.file)).range(place.range(), around.columns())
    }

    /// What a card changes, as a message of the mildest kind.
    fn change(&mut self, change: &Change) -> Message {
        let mut related = Vec::new();
        if let Some((place, name)) = change.finding.and_then(|p| Some((p, self.around.name(p.file)?))) {
            related.push(Related { file: name, range: self.range(place), text: "the finding on the card".to_owned() });
        }
        let range = self.range(change.place);
        Message {
            range,
            severity: Level::Note,
            code: None,
            text: change.words.clone(),
            related,
            idle: false,
            page: None,
        }
    }

    /// One message.
    pub fn message(&mut self, diagnostic: &Diagnostic) -> Message {
        let mut text = diagnostic.message.clone();
        let mut line = |words: &str| {
            text.push('\n');
            text.push_str(words);
        };
        for words in [&diagnostic.label, &diagnostic.why, &diagnostic.help].into_iter().flatten() {
            line(words);
        }
        let sources = self.around.workspace().sources();
        let mut related = Vec::new();
        for other in &diagnostic.related {
            match self.around.name(other.place.file) {
                Some(file) => {
                    related.push(Related { file, range: self.range(other.place), text: other.message.clone() });
                }
                None => {
                    let (number, _) = sources.line_column(other.place);
                    line(&format!("{} ({}, line {number})", other.message, sources.name(other.place.file)));
                }
            }
        }
        let severity = match diagnostic.severity {
            Severity::Error => Level::Error,
            Severity::Warning => Level::Warning,
            Severity::Note => Level::Note,
        };
        // Words that do nothing are shown faintly.
        let idle = diagnostic.code == code::M025;
        let (code, page) = (Some(diagnostic.code), house::rule(diagnostic.code));
        Message { range: self.range(diagnostic.place), severity, code, text, related, idle, page }
    }
}
