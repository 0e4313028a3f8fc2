//! Finding and reading the texts that were named.

use super::stop::Stop;
use std::{
    ffi::OsStr,
    fs,
    io::{self, Read},
    path::{Path, PathBuf},
};

/// The path that stands for standard input.
pub(super) const STDIN: &str = "-";

/// The files named, and every `.trim` file in and below the folders named, in the order of their names.
pub(super) fn find(paths: &[PathBuf]) -> Result<Vec<PathBuf>, Stop> {
    let mut found = Vec::new();
    for path in paths {
        let kind = fs::metadata(path).map_err(|e| Stop::file("read", path, &e))?;
        if kind.is_dir() {
            let before = found.len();
            below(path, &mut found)?;
            if found.len() == before {
                return Err(Stop::because(format!("there is no .trim file in {}", path.display())));
            }
        } else {
            found.push(path.clone());
        }
    }
    let mut seen = std::collections::HashSet::new();
    found.retain(|path| seen.insert(path.clone()));
    Ok(found)
}

/// Hidden folders are left out; links to folders aren't followed, so that no walk goes in a circle.
fn below(folder: &Path, found: &mut Vec<PathBuf>) -> Result<(), Stop> {
    let told = |e: &io::Error| Stop::file("read", folder, e);
    let entries = fs::read_dir(folder).and_then(Iterator::collect::<io::Result<Vec<_>>>);
    let mut entries = entries.map_err(|e| told(&e))?;
    entries.sort_by_key(fs::DirEntry::file_name);
    for entry in entries {
        let hidden = entry.file_name().as_encoded_bytes().starts_with(b".");
        let path = if folder == Path::new(".") { PathBuf::from(entry.file_name()) } else { entry.path() };
        if entry.file_type().map_err(|e| told(&e))?.is_dir() {
            if !hidden && !matches!(entry.file_name().to_str(), Some("target" | "node_modules")) {
                below(&path, found)?;
            }
        } else if !hidden && path.extension() == Some(OsStr::new("trim")) {
            found.push(path);
        }
    }
    Ok(())
}

/// A file's text.
pub(super) fn read(path: &Path) -> Result<String, Stop> {
    fs::read_to_string(path).map_err(|e| Stop::file("read", path, &e))
}

/// The text on standard input.
pub(super) fn read_stdin() -> Result<String, Stop> {
    let mut text = String::new();
    io::stdin().lock().read_to_string(&mut text).map_err(|e| Stop::file("read", Path::new("standard input"), &e))?;
    Ok(text)
}

/// Whether the text comes from standard input, which then stands alone.
pub(super) fn from_stdin(paths: &[PathBuf]) -> Result<bool, Stop> {
    match paths {
        [path] => Ok(path == Path::new(STDIN)),
        _ if paths.iter().any(|p| p == Path::new(STDIN)) => {
            Err(Stop::because("`-` reads one text from standard input; name no files beside it"))
        }
        _ => Ok(false),
    }
}

/// The paths named, or the folder we are in.
pub(super) fn or_here(paths: &[PathBuf]) -> Vec<PathBuf> {
    if paths.is_empty() { vec![PathBuf::from(".")] } else { paths.to_vec() }
}

/// How a file's name ends, in small letters: `html`; empty if it has no end.
pub(super) fn ending(path: &Path) -> String {
    path.extension().and_then(|end| end.to_str()).unwrap_or_default().to_lowercase()
}
