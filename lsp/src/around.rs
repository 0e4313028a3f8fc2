//! A document and the files around it, read once for all that is asked about them.

use crate::features::dependants::Dependants;
use crate::features::diagnostics::FileName;
use crate::house::{self, Disk, Listing, Root};
use crate::lines::{Columns, Lines, Position, Range};
use crate::state::{Documents, Uri};
use coatwright::check::{Early, check_beside, check_salons};
use coatwright::diagnostic::Diagnostic;
use coatwright::memo::Memo;
use coatwright::names::lower::Decl;
use coatwright::source::{FileId, Place};
use coatwright::workspace::{Files, Parsed, Salon, Workspace};
use grammar::tree::{File, Placed, Span};
use std::cell::{OnceCell, RefCell};
use std::collections::{BTreeMap, HashMap};
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::sync::Arc;

/// Where a text is: a file, and where in it.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Location {
    /// Which text.
    pub file: FileName,
    /// Where in it.
    pub range: Range,
}

/// Some documents and the files around them.
#[derive(Debug)]
pub struct Around {
    workspace: Workspace,
    from: From,
    /// The open ones among the files, by the name under which they are open.
    open: HashMap<FileId, Uri>,
    columns: Columns,
    table: Option<String>,
    memo: Rc<RefCell<Memo>>,
    checked: OnceCell<Vec<Diagnostic>>,
    /// What hangs on the open documents.
    pub(crate) dependants: Dependants,
}

/// From what the files were read.
#[derive(Debug)]
struct From {
    root: Option<Root>,
    /// The files on disk.
    listing: Option<Listing>,
    /// The open documents, whose texts stand before those on disk.
    texts: BTreeMap<PathBuf, (Uri, Arc<String>)>,
}

/// Files that aren't open keep their trees after they were checked as long as all that is read has at most so many bytes of
/// text; trees are some 25 times as large.
const TREES: usize = 5 << 20;

/// So many recipes of other files are proved at once for an edit of their base or house; of more it is told when nobody waits.
const SOON: usize = 24;

fn path_of(documents: &Documents, uri: &Uri) -> PathBuf {
    documents.get(uri).and_then(|d| d.path.clone()).unwrap_or_else(|| PathBuf::from(&**uri))
}

impl From {
    fn of(documents: &Documents, root: Option<&Root>, disk: &mut Disk, asked: &[&Uri]) -> Self {
        // By path, so that a document that is open under two names is one file.
        let mut texts: BTreeMap<PathBuf, (Uri, Arc<String>)> = BTreeMap::new();
        let own = asked.iter().filter_map(|uri| Some((*uri, documents.get(*uri)?)));
        let own = own.map(|(uri, document)| (path_of(documents, uri), uri, document));
        let beside = documents.iter().filter_map(|(uri, document)| {
            let path = document.path.as_ref().filter(|path| root.is_some_and(|root| root.holds(path)))?;
            Some((path.clone(), uri, document))
        });
        for (path, uri, document) in own.chain(beside) {
            texts.entry(path).or_insert_with(|| (Uri::clone(uri), Arc::clone(&document.text)));
        }
        Self { root: root.cloned(), listing: root.map(|root| disk.texts(root)), texts }
    }

    /// What is on disk under a path.
    fn on_disk(&self, path: &Path) -> Option<&Arc<str>> {
        let listing = self.listing.as_ref()?;
        let at = listing.binary_search_by(|(other, _)| other.as_path().cmp(path)).ok()?;
        listing.get(at).map(|(_, text)| text)
    }

    /// Whether it is of the same files as another, whatever they say.
    fn same_files(&self, other: &Self) -> bool {
        let disk = match (&self.listing, &other.listing) {
            (Some(a), Some(b)) => {
                Arc::ptr_eq(a, b) || a.iter().map(|(path, _)| path).eq(b.iter().map(|(path, _)| path))
            }
            (None, None) => true,
            _ => false,
        };
        let unsaved =
            |from: &Self| from.texts.keys().filter(|p| from.on_disk(p).is_none()).cloned().collect::<Vec<_>>();
        disk && self.root == other.root && unsaved(self) == unsaved(other)
    }

    /// All texts: those asked about first.
    fn all(&self, asked: &[PathBuf]) -> Vec<(PathBuf, Arc<str>)> {
        let (own, beside): (Vec<_>, Vec<_>) = self.texts.iter().partition(|(path, _)| asked.contains(path));
        let open = own.into_iter().chain(beside).map(|(path, (_, text))| (path.clone(), text.as_str().into()));
        let disk = self.listing.iter().flat_map(|listing| listing.iter());
        open.chain(disk.filter(|(path, _)| !self.texts.contains_key(path)).cloned()).collect()
    }
}

impl Around {
    /// Reads the documents asked about, the other open ones of their house, and the files beside them. What was kept of the
    /// same files is changed where they have changed.
    #[must_use]
    pub fn read(
        documents: &Documents,
        root: Option<&Root>,
        disk: &mut Disk,
        asked: &[&Uri],
        columns: Columns,
        table: Option<String>,
    ) -> Self {
        let from = From::of(documents, root, disk, asked);
        let mut asked: Vec<PathBuf> = asked.iter().map(|uri| path_of(documents, uri)).collect();
        asked.sort();
        asked.dedup();
        let memo = Rc::clone(&disk.memo);
        let mut around = match disk.arounds.remove(&from.root) {
            Some(known) if known.from.same_files(&from) => known.now(from),
            before => {
                let workspace = Workspace::from_known(from.all(&asked), asked.len(), &mut memo.borrow_mut());
                let (open, dependants) = (HashMap::new(), Dependants::default());
                let checked = OnceCell::new();
                let mut new = Self { workspace, from, open, columns, table: None, memo, checked, dependants };
                let mut changed: Files = new.from.texts.keys().filter_map(|path| new.workspace.file_at(path)).collect();
                let hung = before.map(|before| new.differing(&before, &mut changed)).unwrap_or_default();
                new.changed(&changed, hung);
                new
            }
        };
        let files: Vec<FileId> = asked.iter().filter_map(|path| around.workspace.file_at(path)).collect();
        if files != around.workspace.asked() || table != around.table || columns != around.columns {
            around.checked = OnceCell::new();
            around.workspace.ask(files);
        }
        let workspace = &around.workspace;
        let open =
            around.from.texts.iter().filter_map(|(path, (uri, _))| Some((workspace.file_at(path)?, Uri::clone(uri))));
        around.open = open.collect();
        Self { columns, table, ..around }
    }

    /// The same files as they are now.
    fn now(mut self, from: From) -> Self {
        let mut changed: BTreeMap<FileId, Arc<str>> = BTreeMap::new();
        let mut put = |path: &Path, text: Arc<str>| {
            changed.extend(self.workspace.file_at(path).map(|file| (file, text)));
        };
        let (old, new) = (self.from.listing.iter().flat_map(|l| l.iter()), from.listing.iter().flat_map(|l| l.iter()));
        for ((path, old), (_, new)) in old.zip(new) {
            if !Arc::ptr_eq(old, new) && old != new && !from.texts.contains_key(path) {
                put(path, Arc::clone(new));
            }
        }
        for path in self.from.texts.keys().filter(|path| !from.texts.contains_key(*path)) {
            from.on_disk(path).into_iter().for_each(|text| put(path, Arc::clone(text)));
        }
        for (path, (_, text)) in &from.texts {
            let before = self.from.texts.get(path);
            if before.is_none_or(|(_, before)| !Arc::ptr_eq(before, text)) {
                put(path, text.as_str().into());
            }
        }
        if changed.is_empty() {
            return Self { from, ..self };
        }
        self.checked = OnceCell::new();
        let files: Files = changed.keys().copied().collect();
        // What hung on them as they were may be told otherwise now, too: its base may be gone.
        let hung = self.workspace.hanging_on(&files);
        for (file, text) in changed {
            let (names, declares) = self.workspace.put(file, &text, &mut self.memo.borrow_mut());
            self.dependants.names.extend(names);
            self.dependants.renamed |= declares;
        }
        let mut now = Self { from, ..self };
        now.changed(&files, hung);
        now
    }

    /// Where other files stood before: those that differ now have changed. Gives what hung on them as they were, and what wasn't settled.
    fn differing(&mut self, before: &Self, changed: &mut Files) -> Files {
        let (was, is) = (&before.workspace, &self.workspace);
        let text = |path: &Path| is.file_at(path).and_then(|id| is.file(id)).map(Parsed::text);
        let mut old = Files::default();
        for file in was.files().iter().filter(|file| text(&file.path) != Some(file.text())) {
            old.insert(file.id);
            changed.extend(is.file_at(&file.path));
        }
        changed.extend(is.files().iter().filter(|file| was.file_at(&file.path).is_none()).map(|file| file.id));
        let gone = was.files().iter().filter(|file| old.contains(&file.id));
        let come = is.files().iter().filter(|file| changed.contains(&file.id));
        let declared =
            |file: &Parsed| file.tree().blocks.iter().filter_map(|p| p.block.block.name.clone()).collect::<Vec<_>>();
        let names: Vec<_> = gone.chain(come).flat_map(declared).map(|name| name.text).collect();
        let hung = was.hanging_on(&old).into_iter().chain(before.dependants.unsettled());
        let hung = hung.filter_map(|id| is.file_at(&was.file(id)?.path)).collect();
        self.dependants.names.extend(names);
        self.dependants.renamed = true;
        hung
    }

    /// Some files have changed: what hangs on them and isn't open is due.
    fn changed(&mut self, files: &Files, hung: Files) {
        if files.is_empty() {
            return;
        }
        let open: Files = self.from.texts.keys().filter_map(|path| self.workspace.file_at(path)).collect();
        let mut hanging = self.workspace.hanging_on(files);
        hanging.extend(hung);
        self.dependants.changed(&hanging, &open);
    }

    /// Keeps it for the next question about the same files.
    pub fn keep(self, disk: &mut Disk) {
        disk.arounds.insert(self.from.root.clone(), self);
    }

    /// What recipes of files that aren't open have to say in open ones.
    pub(crate) fn inherited(&self) -> impl Iterator<Item = &Diagnostic> {
        self.dependants.beyond().filter(|said| self.open.contains_key(&said.place.file))
    }

    /// By what names files are open.
    pub(crate) fn open_uris(&self) -> impl Iterator<Item = Uri> {
        self.open.values().cloned()
    }

    /// The open ones among the files.
    #[must_use]
    pub fn open(&self) -> Files {
        self.open.keys().copied().collect()
    }

    /// The file of an open document.
    #[must_use]
    pub fn file(&self, documents: &Documents, uri: &Uri) -> Option<FileId> {
        self.workspace.file_at(&path_of(documents, uri))
    }

    /// The files.
    #[must_use]
    pub fn workspace(&self) -> &Workspace {
        &self.workspace
    }

    /// The name of the dog on the table, if one was put there.
    #[must_use]
    pub fn table(&self) -> Option<&str> {
        self.table.as_deref()
    }

    /// The compiler's messages for the documents asked about, worked out once.
    #[must_use]
    pub fn messages(&self) -> &[Diagnostic] {
        self.messages_of(&self.workspace.salons())
    }

    /// The same where the salons are known already.
    #[must_use]
    pub fn messages_of(&self, salons: &[Salon<'_>]) -> &[Diagnostic] {
        self.messages_words_first(salons, None)
    }

    /// The same; `early` is given what is known before something is proved.
    #[must_use]
    pub fn messages_words_first(&self, salons: &[Salon<'_>], early: Option<Early<'_>>) -> &[Diagnostic] {
        let check = || check_salons(&self.workspace, salons, &mut self.memo.borrow_mut(), SOON, early);
        self.checked.get_or_init(check)
    }

    /// What files that aren't open have to say, of themselves and of others. No message is kept, and trees while there is room.
    #[must_use]
    pub fn check_beside(&mut self, files: &Files) -> BTreeMap<FileId, Vec<Diagnostic>> {
        let unread = |file: &&FileId| self.workspace.file(**file).is_some_and(|file| !file.is_read());
        let unread: Files = files.iter().filter(unread).copied().collect();
        let read: usize = self.workspace.files().iter().filter(|f| f.is_read()).map(|f| f.text().len()).sum();
        self.workspace.ask(self.open.keys().copied().collect());
        self.checked = OnceCell::new();
        let said = check_beside(&self.workspace, files);
        if read > TREES {
            self.workspace.let_go(&unread, &mut self.memo.borrow_mut());
        }
        said
    }

    /// The name by which an editor opens a file; none for one that it can't open.
    #[must_use]
    pub fn name(&self, file: FileId) -> Option<FileName> {
        if let Some(uri) = self.open.get(&file) {
            return Some(FileName::Open(Uri::clone(uri)));
        }
        // The basics are inside the compiler; a copy of them can be opened.
        let path = self.workspace.file(file).map(|f| &f.path).or_else(|| house::basics().get(file.0 as usize))?;
        Some(FileName::Path(path.clone()))
    }

    /// The lines of a file.
    #[must_use]
    pub fn lines(&self, file: FileId) -> Lines<'_> {
        Lines::new(self.workspace.sources().text(file))
    }

    /// Where a place is, for an editor; none for a file that it can't open.
    #[must_use]
    pub fn location(&self, place: Place) -> Option<Location> {
        Some(Location { file: self.name(place.file)?, range: self.range(place) })
    }

    /// The lines and columns of a place.
    #[must_use]
    pub fn range(&self, place: Place) -> Range {
        self.lines(place.file).range(place.range(), self.columns)
    }

    /// The line of the text in which a place begins, without the blanks around and between its words.
    #[must_use]
    pub fn line(&self, place: Place) -> String {
        let sources = self.workspace().sources();
        let (number, _) = sources.line_column(place);
        let line = sources.text(place.file).lines().nth(number.saturating_sub(1)).unwrap_or("");
        line.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    /// Where a place is, for a person: `house.trim, line 3`.
    #[must_use]
    pub fn where_is(&self, place: Place) -> String {
        let sources = self.workspace().sources();
        let (number, _) = sources.line_column(place);
        let name = sources.name(place.file).rsplit(['/', '\\']).next().unwrap_or_default();
        format!("{name}, line {number}")
    }

    /// How the editor counts columns.
    #[must_use]
    pub fn columns(&self) -> Columns {
        self.columns
    }

    /// The tree of a file.
    #[must_use]
    pub fn tree(&self, file: FileId) -> Option<&File> {
        self.workspace.file(file).map(Parsed::tree)
    }
}

/// One document of several, about which something is asked.
#[derive(Clone, Copy, Debug)]
pub struct Here<'a> {
    /// It, and what is around it.
    pub around: &'a Around,
    /// Its file.
    pub file: FileId,
}

impl<'a> Here<'a> {
    /// Its text.
    #[must_use]
    pub fn text(&self) -> &'a str {
        self.around.workspace.sources().text(self.file)
    }

    /// Its tree.
    #[must_use]
    pub fn tree(&self) -> Option<&'a File> {
        self.around.tree(self.file)
    }

    /// The byte at a line and column.
    #[must_use]
    pub fn byte(&self, at: Position) -> u32 {
        let byte = self.around.lines(self.file).byte(at, self.around.columns);
        u32::try_from(byte).unwrap_or(u32::MAX)
    }

    /// The bytes of a range.
    #[must_use]
    pub fn bytes(&self, range: Range) -> Span {
        Span::new(self.byte(range.start), self.byte(range.end).max(self.byte(range.start)))
    }

    /// The place of some bytes.
    #[must_use]
    pub fn place(&self, span: Span) -> Place {
        Place { file: self.file, start: span.start, end: span.end }
    }

    /// The lines and columns of some bytes.
    #[must_use]
    pub fn range(&self, span: Span) -> Range {
        self.around.range(self.place(span))
    }

    /// The house it belongs to, or the files beside it.
    #[must_use]
    pub fn salon(&self) -> Option<Salon<'a>> {
        self.around.workspace.salon_of(self.file)
    }

    /// The block around a byte, its end included: there one still writes in it.
    #[must_use]
    pub fn block(&self, at: u32) -> Option<&'a Placed> {
        let blocks = &self.tree()?.blocks;
        let holds = |p: &Placed| {
            let span = p.block.block.span.shifted(p.at);
            span.start <= at && at <= span.end
        };
        blocks.iter().rev().map(|p| &**p).find(|p| holds(p))
    }

    /// The declaration around a byte.
    #[must_use]
    pub fn decl(&self, at: u32) -> Option<Decl<'a>> {
        self.block(at).map(|p| Decl { file: self.file, at: p.at, block: &p.block.block })
    }

    /// The block around a place, in whichever file.
    #[must_use]
    pub fn decl_at(&self, place: Place) -> Option<Decl<'a>> {
        Here { file: place.file, ..*self }.decl(place.start)
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::state::State;

    /// A house of two files, with a `|` in the first for the cursor.
    pub fn with(marked: &str, other: &str, test: impl FnOnce(&Here<'_>, u32)) {
        let at = marked.find('|').unwrap_or(marked.len());
        let state = State::default();
        state.open("a.trim".into(), Some("/h/a.trim".into()), 1, marked.replacen('|', "", 1));
        state.open("b.trim".into(), Some("/h/b.trim".into()), 1, other.to_owned());
        let documents = state.snapshot();
        let root = Root { folder: "/h".into(), deep: true };
        let uri: Uri = "a.trim".into();
        let mut disk = Disk::default();
        let around = Around::read(&documents, Some(&root), &mut disk, &[&uri], Columns::Utf16, None);
        let Some(file) = around.file(&documents, &uri) else { unreachable!() };
        test(&Here { around: &around, file }, u32::try_from(at).unwrap_or_default());
    }
}
