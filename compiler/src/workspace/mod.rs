//! The files of a run, read in this one place: what the user named, and the house around it.

mod base;
mod gather;
mod index;
mod reading;
mod salon;

pub use base::{Extends, Missing, extends};
pub use gather::{Gathered, full, gather, outermost, root_of, way, way_words};
pub(crate) use reading::{Reading, WIDE};
pub use salon::{Decls, Files, Named, Salon};

use crate::diagnostic::{Diagnostic, Fix};
use crate::memo::{Memo, Part, Read, Trades};
use crate::names::lower::Decl;
use crate::source::{FileId, Place, Sources};
use gather::{Here, read, trims_under};
use grammar::Head;
use grammar::tree::{BlockKind, File};
use index::{At, Index, Names, OfIndex};
use rayon::prelude::*;
use rustc_hash::FxHashSet;
use smol_str::SmolStr;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Why a run could not begin.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// A path that isn't there or can't be read.
    #[error("can't read {path}: {why}", path = .0.display(), why = .1)]
    Unreadable(PathBuf, std::io::Error),
    /// A file that holds no text.
    #[error("{path} isn't a text in UTF-8: save it as plain text", path = .0.display())]
    NotText(PathBuf),
    /// A folder without recipes.
    #[error("there is no .trim file in {path}", path = .0.display())]
    Nothing(PathBuf),
    /// More files than a workspace may hold.
    #[error("{path} holds more than {MOST} .trim files: name a smaller folder", path = .0.display())]
    TooMany(PathBuf),
}

/// Threads cost more than they give on so many files.
const FEW: usize = 8;

/// The most files of one run.
pub const MOST: usize = 20_000;

/// A file.
#[derive(Clone, Debug)]
pub struct Parsed {
    /// Its number in the sources.
    pub id: FileId,
    /// Where it is.
    pub path: PathBuf,
    reading: Arc<Reading>,
}

impl Parsed {
    /// Its tree, made when it is asked for first.
    #[must_use]
    pub fn tree(&self) -> &File {
        self.reading.tree()
    }

    /// What its blocks declare, each with the byte at which it begins; no tree is made for that.
    pub fn heads(&self) -> impl Iterator<Item = (u32, &Head)> {
        self.reading.heads().enumerate().filter_map(|(number, head)| Some((self.reading.starts(number)?, head)))
    }

    /// Whether its tree was made.
    #[must_use]
    pub fn is_read(&self) -> bool {
        self.reading.is_read()
    }

    /// Its text.
    #[must_use]
    pub fn text(&self) -> &str {
        self.reading.text().text()
    }

    fn recipes(&self) -> impl Iterator<Item = &SmolStr> {
        let recipes = self.reading.heads().filter(|head| head.kind == BlockKind::Recipe);
        recipes.filter_map(|head| head.name.as_ref().map(|name| &name.text))
    }
}

/// The files of a run.
#[derive(Debug, Default)]
pub struct Workspace {
    sources: Sources,
    files: Vec<Parsed>,
    asked: Vec<FileId>,
    roots: Vec<PathBuf>,
    /// What the salons declare, those without a house first, and of each file which salon it is of.
    salons: Vec<Index>,
    salon_of: Vec<usize>,
    /// Of each salon those around it, the outermost first.
    around: Vec<Vec<usize>>,
    /// The houses beside each on whose recipes its own build.
    beside: Vec<Vec<usize>>,
    /// The folder of each, from the top of the disk.
    homes: Vec<Option<PathBuf>>,
    trades: Trades,
}

impl Workspace {
    /// Reads the files and folders named, and the houses around them.
    ///
    /// # Errors
    /// A path that can't be read, a file that isn't text, a folder without recipes.
    pub fn open(paths: &[PathBuf]) -> Result<Self, OpenError> {
        let Gathered { texts, asked, roots } = gather(paths)?;
        let mut workspace = Self { sources: Sources::with_basics(), roots, ..Self::default() };
        workspace.add(texts, asked, &mut Memo::default());
        Ok(workspace)
    }

    /// A run over one text that isn't on disk (or not yet), in the house around `near`.
    ///
    /// # Errors
    /// A file around it that can't be read.
    pub fn with_text(name: String, text: String, near: Option<&Path>) -> Result<Self, OpenError> {
        let near = near.map(|n| n.strip_prefix("./").unwrap_or(n));
        let mut texts: Vec<(PathBuf, Arc<str>)> =
            vec![(near.map_or_else(|| PathBuf::from(&name), Path::to_path_buf), text.into())];
        let mut workspace = Self { sources: Sources::with_basics(), ..Self::default() };
        if let Some(near) = near {
            let root = root_of(near);
            let mut around = Vec::new();
            trims_under(&root.0, root.1, &mut around)?;
            let here = Here::new();
            around.retain(|p| here.full(p) != here.full(near));
            for path in around {
                let text = read(&path)?.into();
                texts.push((path, text));
            }
            workspace.roots.push(root.0);
        }
        workspace.add(texts, 1, &mut Memo::default());
        Ok(workspace)
    }

    /// A run over texts alone. The first `asked` of them are checked.
    #[must_use]
    pub fn from_texts(texts: Vec<(PathBuf, String)>, asked: usize) -> Self {
        let texts = texts.into_iter().map(|(path, text)| (path, text.into())).collect();
        Self::from_known(texts, asked, &mut Memo::default())
    }

    /// The same, with what is kept from the runs before.
    #[must_use]
    pub fn from_known(texts: Vec<(PathBuf, Arc<str>)>, asked: usize, memo: &mut Memo) -> Self {
        let mut workspace = Self { sources: Sources::with_basics(), ..Self::default() };
        workspace.add(texts, asked, memo);
        workspace
    }

    /// Files are numbered by their paths, so that nothing depends on the order in which they were named.
    fn add(&mut self, texts: Vec<(PathBuf, Arc<str>)>, asked: usize, memo: &mut Memo) {
        let read = |(number, (path, text))| Read { path, text, asked: number < asked };
        let mut texts: Vec<Read> = texts.into_iter().enumerate().map(read).collect();
        texts.sort_by(|a, b| a.path.cmp(&b.path));
        let known = memo.read(&texts);
        self.trades = memo.trades.clone();
        for (Read { path, asked, .. }, reading) in texts.into_iter().zip(known) {
            let id = self.sources.add_known(Arc::clone(reading.text()));
            if asked {
                self.asked.push(id);
            }
            // A house in a folder below is a house of its own, however the run came upon it.
            if let Some(folder) = path.parent().filter(|_| path.file_name().is_some_and(|n| n == HOUSE)) {
                let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
                if !self.roots.iter().any(|r| r == folder) {
                    self.roots.push(folder.to_path_buf());
                }
            }
            self.files.push(Parsed { id, path, reading });
        }
        self.index();
        self.read(&self.asked);
    }

    /// Puts every file into the salon of the house nearest to it.
    fn index(&mut self) {
        let here = Here::new();
        let folders: Vec<PathBuf> = self.roots.iter().map(|root| here.full(root).into_owned()).collect();
        let root = |file: &Parsed| {
            let path = here.full(&file.path);
            folders.iter().filter(|root| path.starts_with(root)).max_by_key(|root| root.components().count())
        };
        let roots: Vec<Option<&PathBuf>> = self.files.iter().map(root).collect();
        let mut numbers: BTreeMap<Option<&PathBuf>, usize> = roots.iter().map(|root| (*root, 0)).collect();
        numbers.values_mut().zip(0..).for_each(|(slot, number)| *slot = number);
        let salon_of: Vec<usize> = roots.iter().filter_map(|root| numbers.get(root).copied()).collect();
        let mut salons: Vec<Index> = numbers.iter().map(|_| Index::default()).collect();
        for (file, number) in self.files.iter().zip(&salon_of) {
            if let Some(salon) = salons.get_mut(*number) {
                salon.add(file);
            }
        }
        let kept: Vec<Option<&PathBuf>> = numbers.keys().copied().collect();
        self.around = kept.iter().map(|own| around(*own, &kept)).collect();
        self.homes = kept.into_iter().map(Option::<&PathBuf>::cloned).collect();
        (self.salons, self.salon_of) = (salons, salon_of);
        self.beside = self.beside();
    }

    /// Puts another text in the place of one that a file had. Says the names of the blocks that came, went or changed, and
    /// whether the file declares something else than before.
    pub fn put(&mut self, id: FileId, text: &Arc<str>, memo: &mut Memo) -> (Vec<SmolStr>, bool) {
        let Some(number) = self.number(id) else { return (Vec::new(), false) };
        let Some(file) = self.files.get_mut(number) else { return (Vec::new(), false) };
        let reading = memo.again(&file.path, text);
        self.sources.put(id, Arc::clone(reading.text()));
        let before = std::mem::replace(file, Parsed { id, path: file.path.clone(), reading });
        let salon = self.salon_of.get(number).and_then(|number| self.salons.get_mut(*number));
        let declares = salon.is_some_and(|salon| salon.changed(&before, file));
        let differing = before.reading.differing(&file.reading);
        if declares {
            self.beside = self.beside();
        }
        (differing, declares)
    }

    /// Names the files that are asked about.
    pub fn ask(&mut self, mut files: Vec<FileId>) {
        files.sort();
        files.dedup();
        self.asked = files;
    }

    /// The files whose messages may hang on some files: these, those with recipes that build on theirs, and all files of a salon
    /// whose house or words are among them.
    #[must_use]
    pub fn hanging_on(&self, files: &Files) -> Files {
        let mut all = files.clone();
        let binds = |index: &Index| index.houses.iter().chain(&index.added).any(|at| files.contains(&at.file));
        for (number, index) in self.salons.iter().enumerate() {
            if binds(index) || self.around(number).any(binds) || self.beside_of(number).any(binds) {
                all.extend(&index.files);
            } else {
                let mut own = files.clone();
                self.children(&index.children, &mut own);
                all.extend(own);
            }
        }
        all
    }

    /// Adds to some files those in which recipes stand that build, perhaps at some remove, on theirs.
    fn children(&self, children: &Names, files: &mut Files) {
        let declared = |id: &FileId| self.file(*id).into_iter().flat_map(Parsed::recipes).cloned();
        let mut way: Vec<SmolStr> = files.iter().flat_map(declared).collect();
        let mut seen: FxHashSet<SmolStr> = way.iter().cloned().collect();
        while let Some(name) = way.pop() {
            for at in children.get(&name).into_iter().flatten() {
                files.insert(at.file);
                let child = self.file(at.file).and_then(|file| file.reading.heads().nth(at.block));
                if let Some(name) = child.and_then(|head| head.name.as_ref())
                    && seen.insert(name.text.clone())
                {
                    way.push(name.text.clone());
                }
            }
        }
    }

    /// Forgets the trees of some files; they are made again when they are asked for.
    pub fn let_go(&mut self, files: &Files, memo: &mut Memo) {
        for file in self.files.iter_mut().filter(|file| files.contains(&file.id)) {
            file.reading = memo.let_go(&file.path, &file.reading);
        }
    }

    /// Makes the trees of some files, on all cores if they are many.
    pub fn read<'f>(&self, files: impl IntoIterator<Item = &'f FileId>) {
        let files: Vec<&Parsed> = files.into_iter().filter_map(|id| self.file(*id)).collect();
        if files.len() > FEW || files.iter().map(|file| file.text().len()).sum::<usize>() > WIDE {
            files.par_iter().for_each(|file| {
                let _ = file.tree();
            });
        }
    }

    /// The file table.
    #[must_use]
    pub fn sources(&self) -> &Sources {
        &self.sources
    }

    /// The files that the user named.
    #[must_use]
    pub fn asked(&self) -> &[FileId] {
        &self.asked
    }

    /// Every file read.
    #[must_use]
    pub fn files(&self) -> &[Parsed] {
        &self.files
    }

    /// The number of a file.
    #[must_use]
    pub fn file_at(&self, path: &Path) -> Option<FileId> {
        let at = self.files.binary_search_by(|f| f.path.as_path().cmp(path)).ok()?;
        self.files.get(at).map(|f| f.id)
    }

    /// A file by its number; none for the basics.
    #[must_use]
    pub fn file(&self, id: FileId) -> Option<&Parsed> {
        self.files.get(self.number(id)?)
    }

    fn number(&self, id: FileId) -> Option<usize> {
        // Files are numbered in their order.
        Some(id.0.checked_sub(self.files.first()?.id.0)? as usize)
    }

    /// A declaration by the number of its block.
    fn decl(&self, at: At) -> Option<Decl<'_>> {
        let placed = self.file(at.file)?.tree().blocks.get(at.block)?;
        Some(Decl { file: at.file, at: placed.at, block: &placed.block.block })
    }

    /// The words of a block by its number.
    fn words(&self, at: At) -> &str {
        self.file(at.file).map_or("", |file| file.reading.block(at.block))
    }

    /// A declaration's block, with its place.
    #[must_use]
    pub fn part(&self, decl: &Decl<'_>) -> Option<Part<'_>> {
        let blocks = &self.file(decl.file)?.tree().blocks;
        let at = blocks.binary_search_by_key(&decl.at, |placed| placed.at).ok()?;
        blocks.get(at).map(|placed| (decl.file, &**placed))
    }

    /// What is wrong with the texts of some files themselves.
    #[must_use]
    pub fn syntax(&self, files: &Files) -> Vec<Diagnostic> {
        let mut out = Vec::new();
        for file in self.files.iter().filter(|file| files.contains(&file.id)) {
            for placed in &file.tree().blocks {
                out.extend(placed.block.errors.iter().map(|e| syntax(file.id, placed.at, e)));
            }
        }
        out
    }

    /// The houses, each with its files, and the files without one.
    #[must_use]
    pub fn salons(&self) -> Vec<Salon<'_>> {
        (0..self.salons.len()).filter_map(|number| Salon::of(self, number)).collect()
    }

    /// The salons around one, the outermost first.
    fn around(&self, number: usize) -> impl DoubleEndedIterator<Item = &Index> + Clone {
        let all = self.around.get(number).into_iter().flatten().filter_map(|number| self.salons.get(*number));
        // A folder without a house has its names to itself.
        all.filter(|index| !index.houses.is_empty())
    }

    /// The salons beside one on whose recipes its own build, with those around them.
    fn beside_of(&self, number: usize) -> impl Iterator<Item = &Index> + Clone {
        self.beside.get(number).into_iter().flatten().filter_map(|number| self.salons.get(*number))
    }

    /// Whether what one salon declares may count in another.
    #[must_use]
    pub fn nests(&self) -> bool {
        self.around.iter().chain(&self.beside).any(|others| !others.is_empty())
    }

    /// The salon of a file.
    #[must_use]
    pub fn salon_of(&self, file: FileId) -> Option<Salon<'_>> {
        Salon::of(self, self.salon_number(file)?)
    }

    fn salon_number(&self, file: FileId) -> Option<usize> {
        self.salon_of.get(self.number(file)?).copied()
    }

    /// What the nearest salon around one has of a name.
    fn outwards(&self, number: usize, of: OfIndex, name: &str) -> Option<&Vec<At>> {
        self.around(number).rev().find_map(|index| of(index).get(name))
    }
}

/// The file in which a house stands.
pub const HOUSE: &str = "house.trim";

/// A mistake of the text as a message.
#[must_use]
pub fn syntax(file: FileId, at: u32, error: &grammar::SyntaxError) -> Diagnostic {
    let place = |span: grammar::tree::Span| Place { file, start: at + span.start, end: at + span.end };
    let mut diagnostic = Diagnostic::error(error.code, place(error.span), error.message.clone());
    diagnostic.help.clone_from(&error.help);
    if let Some((span, words)) = &error.related {
        diagnostic = diagnostic.related(place(*span), words.clone());
    }
    if let Some(fix) = &error.fix {
        diagnostic.fixes.push(Fix {
            title: fix.title.clone(),
            safe: true,
            edits: vec![crate::diagnostic::Edit { place: place(fix.span), text: fix.text.clone() }],
        });
    }
    diagnostic
}

/// Which of some folders are around one, the outermost first.
fn around(own: Option<&PathBuf>, folders: &[Option<&PathBuf>]) -> Vec<usize> {
    let Some(own) = own else { return Vec::new() };
    let holds = |other: &&PathBuf| *other != own && own.starts_with(other);
    let depth = |(number, other): (usize, &Option<&PathBuf>)| Some((other.filter(holds)?.components().count(), number));
    let mut all: Vec<(usize, usize)> = folders.iter().enumerate().filter_map(depth).collect();
    all.sort_unstable();
    all.into_iter().map(|(_, number)| number).collect()
}
