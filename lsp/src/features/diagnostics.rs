//! The compiler's messages for the open documents.

use crate::house::{Disk, Root};
use crate::lines::{Columns, Lines, Range};
use crate::state::{Documents, Uri};
use coatwright::check::check;
use coatwright::diagnostic::{Diagnostic, Severity};
use coatwright::source::{FileId, Place};
use coatwright::workspace::Workspace;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::path::PathBuf;

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
}

/// What to look at.
#[derive(Clone, Copy, Debug)]
pub struct Ask<'a> {
    /// The open documents.
    pub documents: &'a Documents,
    /// The documents that changed, or that are asked about.
    pub about: &'a [Uri],
    /// These alone, and not the other open documents of their houses.
    pub only: bool,
    /// How columns are counted.
    pub columns: Columns,
}

/// The messages of the documents asked about and, unless only those are wanted, of all open documents beside them.
pub fn report(ask: &Ask<'_>, disk: &mut Disk) -> Vec<Report> {
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
    let mut out = Vec::new();
    for (root, asked) in houses {
        run(ask, Some((&root, &mut *disk)), &asked.into_iter().collect::<Vec<_>>(), &mut out);
    }
    for uri in alone {
        run(ask, None, &[uri], &mut out);
    }
    out
}

/// One run of the compiler over the documents asked about and the files around them.
fn run(ask: &Ask<'_>, around: Option<(&Root, &mut Disk)>, asked: &[&Uri], out: &mut Vec<Report>) {
    // By path, so that a document that is open under two names is one file.
    let mut texts: Vec<(PathBuf, String)> = Vec::new();
    let mut names: HashMap<PathBuf, FileName> = HashMap::new();
    let mut add = |path: PathBuf, text: String, name: FileName| {
        names.entry(path.clone()).or_insert_with(|| {
            texts.push((path, text));
            name
        });
    };
    let path_of =
        |uri: &Uri| ask.documents.get(uri).and_then(|d| d.path.clone()).unwrap_or_else(|| PathBuf::from(&**uri));
    for uri in asked {
        if let Some(document) = ask.documents.get(*uri) {
            add(path_of(uri), document.text.as_ref().clone(), FileName::Open(Uri::clone(uri)));
        }
    }
    if let Some((root, disk)) = around {
        for (uri, document) in ask.documents {
            if let Some(path) = document.path.as_ref().filter(|path| root.holds(path)) {
                add(path.clone(), document.text.as_ref().clone(), FileName::Open(Uri::clone(uri)));
            }
        }
        for (path, text) in disk.texts(root) {
            let name = FileName::Path(path.clone());
            add(path, text.as_ref().to_owned(), name);
        }
    }
    let many = asked.iter().map(|uri| path_of(uri)).collect::<BTreeSet<_>>().len();
    let workspace = Workspace::from_texts(texts, many);
    // The compiler numbers files by their paths, in whatever order they were given.
    let ids: HashMap<&PathBuf, FileId> = workspace.files().iter().map(|f| (&f.path, f.id)).collect();
    let names: HashMap<FileId, &FileName> =
        names.iter().filter_map(|(path, name)| Some((*ids.get(path)?, name))).collect();
    let mut shown = Shown { workspace: &workspace, names, lines: HashMap::new(), columns: ask.columns };
    let mut by_file: HashMap<FileId, Vec<Message>> = HashMap::new();
    for diagnostic in check(&workspace) {
        let message = shown.message(&diagnostic);
        by_file.entry(diagnostic.place.file).or_default().push(message);
    }
    for uri in asked {
        let id = ids.get(&path_of(uri));
        out.push(Report {
            uri: Uri::clone(uri),
            version: ask.documents.get(*uri).map(|d| d.version),
            messages: id.and_then(|id| by_file.get(id).cloned()).unwrap_or_default(),
        });
    }
}

struct Shown<'w> {
    workspace: &'w Workspace,
    names: HashMap<FileId, &'w FileName>,
    lines: HashMap<FileId, Lines<'w>>,
    columns: Columns,
}

impl Shown<'_> {
    fn range(&mut self, place: Place) -> Range {
        let text = self.workspace.sources().text(place.file);
        self.lines.entry(place.file).or_insert_with(|| Lines::new(text)).range(place.range(), self.columns)
    }

    fn message(&mut self, diagnostic: &Diagnostic) -> Message {
        let mut text = diagnostic.message.clone();
        let mut line = |words: &str| {
            text.push('\n');
            text.push_str(words);
        };
        for words in [&diagnostic.label, &diagnostic.why, &diagnostic.help].into_iter().flatten() {
            line(words);
        }
        let mut related = Vec::new();
        for other in &diagnostic.related {
            match self.names.get(&other.place.file) {
                Some(name) => {
                    let file = (*name).clone();
                    related.push(Related { file, range: self.range(other.place), text: other.message.clone() });
                }
                // The basics are inside the compiler: there is no file to open.
                None => {
                    let (number, _) = self.workspace.sources().line_column(other.place);
                    line(&format!(
                        "{} ({}, line {number})",
                        other.message,
                        self.workspace.sources().name(other.place.file)
                    ));
                }
            }
        }
        let severity = match diagnostic.severity {
            Severity::Error => Level::Error,
            Severity::Warning => Level::Warning,
            Severity::Note => Level::Note,
        };
        Message { range: self.range(diagnostic.place), severity, code: Some(diagnostic.code), text, related }
    }
}
