//! What an edit does to recipes of files that aren't open: they are checked, a few at a time, when nobody waits for anything.

use super::diagnostics::{Report, Shown};
use crate::around::Around;
use crate::convert;
use coatwright::diagnostic::{Diagnostic, in_order};
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
    /// What each of them had to say in other files: a base's fault on the dogs of its children.
    beyond: BTreeMap<FileId, Vec<Diagnostic>>,
    /// Some of it is new, and in a document that is open.
    news: bool,
}

impl Dependants {
    /// Some files changed, on which others hang: these are due, unless they are open and so looked at anyway. What one of them
    /// said elsewhere is said no longer, and where it was said is due, too; what is open says it itself.
    pub fn changed(&mut self, hanging: &Files, open: &Files) {
        self.due.extend(hanging);
        let due = &mut self.due;
        self.beyond.retain(|file, said| {
            let stays = !due.contains(file) && !open.contains(file);
            if !stays {
                due.extend(said.iter().map(|d| d.place.file));
            }
            stays
        });
        due.retain(|file| !open.contains(file));
    }

    /// What a file says elsewhere now. Where that differs from what it said before is due, unless it is open.
    fn says(&mut self, file: FileId, beyond: Vec<Diagnostic>, open: &Files) {
        let before = self.beyond.remove(&file).unwrap_or_default();
        let differ = |d: &&Diagnostic| before.contains(d) != beyond.contains(d);
        let places: Files = before.iter().chain(&beyond).filter(differ).map(|d| d.place.file).collect();
        self.news |= places.iter().any(|file| open.contains(file));
        self.due.extend(places.iter().filter(|file| !open.contains(file)));
        if !beyond.is_empty() {
            self.beyond.insert(file, beyond);
        }
    }

    /// What is due, and whatever said something elsewhere.
    pub fn unsettled(&self) -> impl Iterator<Item = FileId> {
        self.due.iter().chain(self.beyond.keys()).copied()
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

    /// What was said in other files than its own.
    pub fn beyond(&self) -> impl Iterator<Item = &Diagnostic> {
        self.beyond.values().flatten()
    }

    /// Whether something new was said in open documents since this was asked last.
    pub fn news(&mut self) -> bool {
        std::mem::take(&mut self.news)
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
    let open = around.open();
    let mut own: BTreeMap<FileId, Vec<Diagnostic>> = BTreeMap::new();
    for (file, said) in around.check_beside(&files) {
        let (here, mut beyond): (Vec<_>, Vec<_>) = said.into_iter().partition(|d| d.place.file == file);
        // The basics are inside the compiler.
        beyond.retain(|said| around.workspace().file(said.place.file).is_some());
        own.insert(file, here);
        around.dependants.says(file, beyond, &open);
    }
    // What others say in one of these is told below.
    around.dependants.due.retain(|file| !files.contains(file));
    for said in around.dependants.beyond() {
        own.entry(said.place.file).and_modify(|own| own.push(said.clone()));
    }
    let mut shown = Shown::new(around);
    let mut report = |(file, mut said): (FileId, Vec<Diagnostic>)| {
        // Several recipes may say the same of their base: each is told once.
        in_order(&mut said);
        let path = around.workspace().file(file)?.path.clone();
        let uri = convert::name_of(&path)?;
        let messages = said.iter().map(|said| shown.message(said)).collect();
        Some(Beside { path, report: Report { uri, version: None, messages, held: false } })
    };
    own.into_iter().filter_map(&mut report).collect()
}
