//! The files around an open document: the house it belongs to, read from disk and kept.

use crate::around::Around;
use crate::state::Documents;
use coatwright::basics;
use coatwright::explain;
use coatwright::memo::Memo;
use coatwright::workspace::{HOUSE, MOST, outermost};
use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::sync::{Arc, OnceLock};
use std::time::{Duration, Instant, SystemTime};

/// Where the files that share names with a document are.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Root {
    /// The folder.
    pub folder: PathBuf,
    /// With its sub-folders: it holds a house.
    pub deep: bool,
}

impl Root {
    /// The folder of the outermost house around a file; without a house, the file's own folder. The same as the compiler's
    /// `root_of`, but a house that was only just written in the editor counts too.
    #[must_use]
    pub fn of(path: &Path, documents: &Documents) -> Option<Self> {
        let own = path.parent()?;
        let open = |house: &Path| documents.values().any(|d| d.path.as_deref() == Some(house));
        let house = outermost(own, |folder| {
            let house = folder.join(HOUSE);
            house.is_file() || open(&house)
        });
        Some(match house {
            Some((_, folder)) => Self { folder: folder.to_path_buf(), deep: true },
            None => Self { folder: own.to_path_buf(), deep: false },
        })
    }

    /// Whether a file is read with this root.
    #[must_use]
    pub fn holds(&self, path: &Path) -> bool {
        if self.deep { path.starts_with(&self.folder) } else { path.parent() == Some(&self.folder) }
    }
}

/// After how long a folder is looked through again where no one tells of a change: when nobody waits for anything.
pub const TRUSTED: Duration = Duration::from_secs(1);

/// After how long at the latest, as soon as nothing waits.
pub const AT_LAST: Duration = Duration::from_secs(5);

/// After how long without any use it is looked through again at once: as soon as what was asked is answered.
const PAUSE: Duration = Duration::from_secs(10);

/// The files on disk, by root, and what the compiler knows of texts. A file is read again when its time or length has changed, and
/// when it had only just been written when it was read: another write may bear the same time.
#[derive(Debug, Default)]
pub struct Disk {
    /// What was read and proved before.
    pub memo: Rc<RefCell<Memo>>,
    /// The client tells of every file that is made, changed or taken away.
    pub watched: bool,
    /// A listing was used of which nobody knows whether it still holds.
    pub stale: bool,
    /// With when each was used last.
    listings: BTreeMap<Root, (Instant, Listing)>,
    /// The roots whose files are kept, once some were asked for.
    roots: Option<BTreeSet<Root>>,
    /// Those whose files were kept before, and aren't any more: what is told of them isn't kept true.
    pub dropped: BTreeSet<Root>,
    texts: BTreeMap<PathBuf, Kept>,
    /// What was made of them last, by root.
    pub(crate) arounds: BTreeMap<Option<Root>, Around>,
}

/// The texts of a root, in the order of their paths.
pub type Listing = Arc<[(PathBuf, Arc<str>)]>;

#[derive(Debug)]
struct Kept {
    changed: Option<SystemTime>,
    /// When it was read.
    read: SystemTime,
    size: u64,
    text: Arc<str>,
}

/// Two writes may bear the same time if they are so close; the coarsest times that file systems keep are of two seconds.
const TICK: Duration = Duration::from_secs(2);

impl Kept {
    /// Whether a file of this time and length is the one that was read.
    fn is(&self, changed: Option<SystemTime>, size: u64) -> bool {
        let settled = changed.and_then(|changed| self.read.duration_since(changed).ok()).is_some_and(|age| age > TICK);
        settled && self.changed == changed && self.size == size
    }
}

impl Disk {
    /// Trust no listing any more: a file was made, changed or taken away.
    pub fn doubt(&mut self) {
        self.listings.clear();
    }

    /// Forgets the files of every root but these.
    pub fn keep_only(&mut self, roots: &BTreeSet<Root>) {
        if self.roots.as_ref() == Some(roots) {
            return;
        }
        self.roots = Some(roots.clone());
        self.dropped.extend(self.arounds.keys().flatten().filter(|root| !roots.contains(root)).cloned());
        self.listings.retain(|root, _| roots.contains(root));
        self.arounds.retain(|root, _| root.as_ref().is_none_or(|root| roots.contains(root)));
        self.texts.retain(|path, _| roots.iter().any(|root| root.holds(path)));
    }

    /// The texts of a root. Files that can't be read or hold no text are left out: the compiler tells of them.
    pub fn texts(&mut self, root: &Root) -> Listing {
        if let Some((used, known)) = self.listings.get_mut(root) {
            self.stale |= !self.watched && used.elapsed() >= PAUSE;
            *used = Instant::now();
            return Arc::clone(known);
        }
        self.list(root)
    }

    /// Looks through the folders again that nobody watches; whether anything has changed there.
    pub fn look_again(&mut self) -> bool {
        let mut changed = false;
        self.stale = false;
        for (root, (_, before)) in self.listings.clone() {
            let now = self.list(&root);
            changed |= before != now;
        }
        changed
    }

    fn list(&mut self, root: &Root) -> Listing {
        let mut found = BTreeSet::new();
        list(root, &mut found);
        for path in &found {
            self.read(path);
        }
        let text = |path: PathBuf| self.texts.get(&path).map(|kept| Arc::clone(&kept.text)).map(|text| (path, text));
        let listing: Listing = found.into_iter().filter_map(text).collect();
        self.listings.insert(root.clone(), (Instant::now(), Arc::clone(&listing)));
        listing
    }

    fn read(&mut self, path: &Path) {
        let before = self.texts.remove(path);
        let text = std::fs::metadata(path).ok().and_then(|meta| {
            let (changed, size) = (meta.modified().ok(), meta.len());
            if before.as_ref().is_some_and(|kept| kept.is(changed, size)) {
                return before;
            }
            if size > grammar::MAX_SIZE as u64 {
                return None;
            }
            let read = SystemTime::now();
            let text = std::fs::read_to_string(path).ok()?;
            // The same text stays the same one: whoever compares needn't read it.
            let same = before.map(|kept| kept.text).filter(|before| **before == *text);
            Some(Kept { changed, read, size, text: same.unwrap_or_else(|| Arc::from(text)) })
        });
        if let Some(kept) = text {
            self.texts.insert(path.to_path_buf(), kept);
        }
    }
}

/// Copies of the basics that an editor can open, in the order of their file numbers; none if they can't be written.
pub fn basics() -> &'static [PathBuf] {
    static WRITTEN: OnceLock<Vec<PathBuf>> = OnceLock::new();
    let names = || basics::TEXTS.iter().map(|(name, text)| ((*name).to_owned(), *text));
    WRITTEN.get_or_init(|| copies("basics", names()).unwrap_or_default())
}

/// A copy of the page about a rule that an editor can open.
pub fn rule(code: &str) -> Option<&'static Path> {
    static WRITTEN: OnceLock<BTreeMap<&'static str, PathBuf>> = OnceLock::new();
    let pages = || explain::pages().filter_map(|code| Some((format!("{code}.md"), explain::page(code)?)));
    let written = WRITTEN.get_or_init(|| {
        let paths = copies("codes", pages()).unwrap_or_default();
        explain::pages().filter(|code| explain::page(code).is_some()).zip(paths).collect()
    });
    written.get(code).map(PathBuf::as_path)
}

/// Texts that are inside the compiler, written to files of a folder that every server of this version shares.
fn copies(of: &str, texts: impl Iterator<Item = (String, &'static str)>) -> std::io::Result<Vec<PathBuf>> {
    let folder = own().join(format!("{of}-{}", env!("CARGO_PKG_VERSION")));
    std::fs::create_dir_all(&folder)?;
    let mut written = Vec::new();
    for (name, text) in texts {
        let path = folder.join(&name);
        // Beside its target and renamed: two servers may begin at once.
        if std::fs::read_to_string(&path).ok().as_deref() != Some(text) {
            let beside = folder.join(format!(".{name}.{}", std::process::id()));
            std::fs::write(&beside, text)?;
            std::fs::rename(&beside, &path)?;
        }
        written.push(path);
    }
    Ok(written)
}

/// The user's own folder for what can be made again: a sheet holds what owners told, which isn't for everybody's eyes.
fn own() -> PathBuf {
    let named = |name: &str| std::env::var_os(name).map(PathBuf::from).filter(|path| path.is_absolute());
    let cache = named("XDG_CACHE_HOME")
        .or_else(|| named("LOCALAPPDATA"))
        .or_else(|| named("HOME").map(|home| home.join(".cache")))
        .unwrap_or_else(std::env::temp_dir);
    cache.join("coatwright")
}

/// Writes a page where a browser can open it.
///
/// # Errors
/// The folder for such files can't be written.
pub fn page(title: &str, html: &str) -> std::io::Result<PathBuf> {
    let folder = own().join("sheets");
    std::fs::create_dir_all(&folder)?;
    let plain: String = title.chars().map(|c| if c.is_alphanumeric() { c } else { '-' }).take(60).collect();
    let path = folder.join(format!("{plain}.html"));
    let beside = folder.join(format!(".{plain}.{}", std::process::id()));
    std::fs::write(&beside, html)?;
    std::fs::rename(&beside, &path)?;
    Ok(path)
}

/// The `.trim` files of a root, as the compiler finds them: hidden folders are left out, links aren't followed.
fn list(root: &Root, found: &mut BTreeSet<PathBuf>) {
    let mut folders = vec![root.folder.clone()];
    while let Some(folder) = folders.pop() {
        let Ok(entries) = std::fs::read_dir(&folder) else { continue };
        for entry in entries.flatten() {
            let name = entry.file_name();
            if name.as_encoded_bytes().starts_with(b".") || name == "target" || name == "node_modules" {
                continue;
            }
            let Ok(kind) = entry.file_type() else { continue };
            let path = entry.path();
            if kind.is_dir() && root.deep {
                folders.push(path);
            } else if kind.is_file() && path.extension().is_some_and(|e| e == "trim") && found.len() < MOST {
                found.insert(path);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::state::State;

    fn folder(name: &str) -> PathBuf {
        let folder = std::env::temp_dir().join(format!("coatwright-lsp-{name}-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&folder);
        assert!(std::fs::create_dir_all(folder.join("dogs")).is_ok());
        folder
    }

    fn write(path: &Path, text: &str) {
        assert!(std::fs::write(path, text).is_ok());
    }

    #[test]
    fn a_house_reaches_below_and_a_plain_folder_does_not() {
        let folder = folder("reach");
        let card = folder.join("dogs/bramble.trim");
        write(&card, "");
        write(&folder.join("a.trim"), "");
        let state = State::default();
        let root = Root::of(&card, &state.snapshot());
        assert_eq!(root, Some(Root { folder: folder.join("dogs"), deep: false }));
        // A house that isn't saved yet.
        state.open("h".into(), Some(folder.join(HOUSE)), 1, String::new());
        let root = Root::of(&card, &state.snapshot());
        assert_eq!(root, Some(Root { folder: folder.clone(), deep: true }));
        let mut disk = Disk::default();
        assert_eq!(root.map(|r| disk.texts(&r).len()), Some(2));
        let _ = std::fs::remove_dir_all(&folder);
    }

    #[test]
    fn what_is_inside_the_compiler_can_be_opened() {
        assert_eq!(basics().len(), basics::TEXTS.len());
        assert!(
            basics().iter().zip(basics::TEXTS).all(|(p, (_, t))| std::fs::read_to_string(p).is_ok_and(|r| r == *t))
        );
        let page = rule("C003").and_then(|path| std::fs::read_to_string(path).ok());
        assert_eq!(page.as_deref(), explain::page("C003"));
        assert_eq!(rule("C999"), None);
    }

    #[test]
    fn a_changed_file_is_read_again_when_told() {
        let folder = folder("again");
        let (a, b) = (folder.join("a.trim"), folder.join("b.trim"));
        write(&a, "one");
        let root = Root { folder: folder.clone(), deep: false };
        let mut disk = Disk::default();
        let texts = |disk: &mut Disk| disk.texts(&root).iter().map(|(_, t)| t.to_string()).collect::<Vec<_>>();
        assert_eq!(texts(&mut disk), ["one"]);
        write(&a, "longer");
        write(&b, "two");
        disk.doubt();
        assert_eq!(texts(&mut disk), ["longer", "two"]);
        assert!(std::fs::remove_file(&a).is_ok());
        disk.doubt();
        assert_eq!(texts(&mut disk), ["two"]);
        // Another text of the same length, written in the same tick of the clock.
        let time = std::fs::metadata(&b).and_then(|meta| meta.modified());
        write(&b, "2.0");
        let again = std::fs::File::options().write(true).open(&b);
        assert!(again.and_then(|file| file.set_modified(time?)).is_ok());
        disk.doubt();
        assert_eq!(texts(&mut disk), ["2.0"]);
        disk.keep_only(&BTreeSet::new());
        assert!(disk.texts.is_empty() && disk.listings.is_empty());
        let _ = std::fs::remove_dir_all(&folder);
    }
}
