//! What an edit does to recipes of files that aren't open: they are checked, a few at a time, when nobody waits for anything.

use super::diagnostics::{Report, Shown};
use crate::around::Around;
use crate::convert;
use coatwright::diagnostic::Diagnostic;
use coatwright::source::FileId;
use coatwright::workspace::Files;
use smol_str::SmolStr;
use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;

/// The files that aren't open and hang on those that are.
#[derive(Debug, Default)]
pub struct Dependants {
    /// Those that weren't checked since something changed on which they hang.
    due: BTreeSet<FileId>,
    /// Those of them that come first.
    first: BTreeSet<FileId>,
    /// What changed on which they hang: whoever mentions it comes first.
    pub names: BTreeSet<SmolStr>,
    /// Something is declared that wasn't, or is no longer: whoever mentions it is due, too. A case or a declaration of the same
    /// name doesn't build on it, and yet has something else to say.
    pub renamed: bool,
    /// What recipes of others have to say in documents that are open, with the files of these, which were checked together.
    inherited: Vec<(Files, Vec<Diagnostic>)>,
}

impl Dependants {
    /// Some files changed, on which others hang: these are due, unless they are open and so looked at anyway. What was said
    /// together with one of them is said no longer, and what is open says it itself.
    pub fn changed(&mut self, hanging: &Files, open: &Files) {
        self.due.extend(hanging);
        let due = &mut self.due;
        self.inherited.retain(|(together, _)| {
            let stays = together.iter().all(|file| !due.contains(file) && !open.contains(file));
            if !stays {
                due.extend(together);
            }
            stays
        });
        due.retain(|file| !open.contains(file));
    }

    /// What is due.
    pub fn due(&self) -> impl Iterator<Item = FileId> {
        self.due.iter().copied()
    }

    /// Whether anything is due.
    #[must_use]
    pub fn waits(&self) -> bool {
        self.renamed || !self.due.is_empty()
    }

    /// Nothing is due any more.
    pub fn give_up(&mut self) {
        self.due.clear();
        self.renamed = false;
    }

    /// What was said in open documents for the sake of recipes of others.
    pub fn inherited(&self) -> impl Iterator<Item = &Diagnostic> {
        self.inherited.iter().flat_map(|(_, said)| said)
    }

    /// Whether there is any.
    #[must_use]
    pub fn inherits(&self) -> bool {
        !self.inherited.is_empty()
    }
}

/// So many files are checked before it is looked whether somebody waits.
const AT_ONCE: usize = 12;

/// The messages of a file that isn't open, as the editor would call it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Beside {
    /// The file.
    pub path: PathBuf,
    /// Its messages.
    pub report: Report,
}

/// Checks a few of the files that are due.
pub fn some(around: &mut Around) -> Vec<Beside> {
    if around.dependants.names.is_empty() {
        around.dependants.renamed = false;
    } else {
        let names = std::mem::take(&mut around.dependants.names);
        let names: Vec<&str> = names.iter().map(SmolStr::as_str).collect();
        let salons = around.workspace().salons();
        let open = around.open();
        let mentions = salons.iter().flat_map(|salon| salon.files_mentioning(&names));
        let mentions: BTreeSet<FileId> = mentions.filter(|file| !open.contains(file)).collect();
        if std::mem::take(&mut around.dependants.renamed) {
            around.dependants.due.extend(&mentions);
        }
        around.dependants.first = mentions;
    }
    let Dependants { due, first, .. } = &mut around.dependants;
    let files: Files =
        first.iter().filter(|file| due.contains(file)).chain(due.iter()).take(AT_ONCE).copied().collect();
    due.retain(|file| !files.contains(file));
    first.retain(|file| due.contains(file));
    let said = around.check_beside(&files);
    let mut shown = Shown::new(around);
    let mut messages: BTreeMap<FileId, Vec<_>> = files.iter().map(|file| (*file, Vec::new())).collect();
    let mut inherited: Vec<Diagnostic> = Vec::new();
    for diagnostic in said {
        match messages.get_mut(&diagnostic.place.file) {
            Some(own) => own.push(shown.message(&diagnostic)),
            None => inherited.push(diagnostic),
        }
    }
    let report = |(file, messages)| {
        let path = around.workspace().file(file)?.path.clone();
        let uri = convert::name_of(&path)?;
        Some(Beside { path, report: Report { uri, version: None, messages, held: false } })
    };
    let out = messages.into_iter().filter_map(report).collect();
    if !inherited.is_empty() {
        around.dependants.inherited.push((files, inherited));
    }
    out
}
