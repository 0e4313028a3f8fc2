//! Finding the files of a run: what was named, and the houses around it.

use super::{HOUSE, MOST, OpenError};
use rustc_hash::FxHashSet;
use std::borrow::Cow;
use std::path::{Component, Path, PathBuf};
use std::sync::Arc;

/// The texts of some files and folders, with those of the houses around them.
#[derive(Debug)]
pub struct Gathered {
    /// The texts with their paths, those that were named first.
    pub texts: Vec<(PathBuf, Arc<str>)>,
    /// How many were named.
    pub asked: usize,
    /// The folders of the houses around them.
    pub(super) roots: Vec<PathBuf>,
}

/// Reads the files and folders named, and the houses around them.
///
/// # Errors
/// A path that can't be read, a file that isn't text, a folder without recipes.
pub fn gather(paths: &[PathBuf]) -> Result<Gathered, OpenError> {
    let mut asked = Vec::new();
    for path in paths {
        let meta = std::fs::metadata(path).map_err(|e| OpenError::Unreadable(path.clone(), e))?;
        if meta.is_dir() {
            let before = asked.len();
            trims_under(path, true, &mut asked)?;
            if asked.len() == before {
                return Err(OpenError::Nothing(path.clone()));
            }
        } else {
            asked.push(path.strip_prefix("./").unwrap_or(path).to_path_buf());
        }
    }
    // One file may be named in several ways.
    let (here, mut seen, mut folders) = (Here::new(), FxHashSet::default(), FxHashSet::default());
    asked.retain(|path| seen.insert(here.full(path).into_owned()));
    let mut around = Vec::new();
    let mut roots: Vec<PathBuf> = Vec::new();
    for path in &asked {
        if !folders.insert(path.parent()) {
            continue;
        }
        let root = root_of(path);
        if !roots.contains(&root.0) {
            trims_under(&root.0, root.1, &mut around)?;
            roots.push(root.0);
        }
    }
    around.retain(|path| seen.insert(here.full(path).into_owned()));
    let many = asked.len();
    let texts = asked.into_iter().chain(around).map(|path| read(&path).map(|text| (path, text.into())));
    Ok(Gathered { texts: texts.collect::<Result<_, _>>()?, asked: many, roots })
}

/// A path from the top, by name alone: without `.` and `..`, links as they are called.
#[must_use]
pub fn full(path: &Path) -> PathBuf {
    Here::new().full(path).into_owned()
}

/// The way from a folder to a path, both from the top: `../harbour`.
#[must_use]
pub fn way(from: &Path, to: &Path) -> PathBuf {
    let shared = from.components().zip(to.components()).take_while(|(a, b)| a == b).count();
    let up = from.components().skip(shared).map(|_| Component::ParentDir);
    up.chain(to.components().skip(shared)).collect()
}

/// A way as a text has it, the same on every system.
#[must_use]
pub fn way_words(way: &Path) -> String {
    way.components().map(|part| part.as_os_str().to_string_lossy()).collect::<Vec<_>>().join("/")
}

/// Where the run began: paths are compared from the top, by name alone.
pub(super) struct Here(PathBuf);

impl Here {
    pub(super) fn new() -> Self {
        Self(std::env::current_dir().unwrap_or_default())
    }

    pub(super) fn full<'p>(&self, path: &'p Path) -> Cow<'p, Path> {
        let plain = |part| matches!(part, Component::Normal(_) | Component::RootDir | Component::Prefix(_));
        if path.is_absolute() && path.components().all(plain) {
            return Cow::Borrowed(path);
        }
        let mut out = self.0.clone();
        for part in path.components() {
            match part {
                Component::ParentDir => {
                    out.pop();
                }
                Component::CurDir => {}
                other => out.push(other),
            }
        }
        Cow::Owned(out)
    }
}

pub(super) fn read(path: &Path) -> Result<String, OpenError> {
    let bytes = std::fs::read(path).map_err(|e| OpenError::Unreadable(path.to_path_buf(), e))?;
    String::from_utf8(bytes).map_err(|_| OpenError::NotText(path.to_path_buf()))
}

/// The folder of the outermost house around a file, whose rules bind there, too, and whether it is read with its sub-folders:
/// without a house, only the file's own folder counts.
#[must_use]
pub fn root_of(path: &Path) -> (PathBuf, bool) {
    let own = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent.to_path_buf(),
        _ => PathBuf::from("."),
    };
    // Upwards by name alone, so that the answer doesn't depend on where the run began.
    let here = Here::new();
    let full = here.full(&own);
    let Some((up, _)) = outermost(&full, |folder| folder.join(HOUSE).is_file()) else { return (own, false) };
    let mut root = own;
    for _ in 0..up {
        root = if root.as_os_str().is_empty() || root.ends_with("..") || root == Path::new(".") {
            root.join("..")
        } else {
            root.parent().map(Path::to_path_buf).unwrap_or_default()
        };
    }
    if root.as_os_str().is_empty() {
        root = PathBuf::from(".");
    }
    (root, true)
}

/// The outermost folder around one that has a house, and so many folders up: within the repository, if there is one, and never the
/// whole disk.
pub fn outermost(folder: &Path, has_house: impl Fn(&Path) -> bool) -> Option<(usize, &Path)> {
    let mut found = None;
    for (up, folder) in folder.ancestors().take(32).enumerate().filter(|(_, folder)| folder.parent().is_some()) {
        if has_house(folder) {
            found = Some((up, folder));
        }
        if folder.join(".git").exists() {
            break;
        }
    }
    found
}

pub(super) fn trims_under(folder: &Path, deep: bool, out: &mut Vec<PathBuf>) -> Result<(), OpenError> {
    let mut stack = vec![folder.to_path_buf()];
    while let Some(folder) = stack.pop() {
        let entries = std::fs::read_dir(&folder).map_err(|e| OpenError::Unreadable(folder.clone(), e))?;
        let mut here: Vec<(PathBuf, bool)> = Vec::new();
        for entry in entries.flatten() {
            let name = entry.file_name();
            if name.to_string_lossy().starts_with('.') || name == "target" || name == "node_modules" {
                continue;
            }
            // Links are not followed: a workspace ends at its folder.
            let Ok(kind) = entry.file_type() else { continue };
            if kind.is_dir() || (kind.is_file() && entry.path().extension().is_some_and(|e| e == "trim")) {
                let path = entry.path();
                let path = path.strip_prefix("./").map(Path::to_path_buf).unwrap_or(path);
                here.push((path, kind.is_dir()));
            }
        }
        here.sort();
        for (path, is_dir) in here.into_iter().rev() {
            if !is_dir {
                out.push(path);
            } else if deep {
                stack.push(path);
            }
        }
        if out.len() > MOST {
            return Err(OpenError::TooMany(folder));
        }
    }
    out.sort();
    Ok(())
}
