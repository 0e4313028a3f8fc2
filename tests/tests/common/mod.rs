//! What several tests use: the project's files, and a house of one text in memory.
#![allow(dead_code)]

use coatwright::diagnostic::Diagnostic;
use coatwright::workspace::Workspace;
use std::fs;
use std::path::{Path, PathBuf};

/// The project's top folder.
pub fn root() -> PathBuf {
    coatwright_tests::root()
}

/// The files under a folder of the project whose name ends so, sorted; build products and hidden folders left out.
pub fn files(folder: &str, ending: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut stack = vec![root().join(folder)];
    while let Some(folder) = stack.pop() {
        for entry in fs::read_dir(&folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display())) {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            if name.starts_with('.') || name == "target" || name == "node_modules" {
                continue;
            }
            if path.is_dir() {
                stack.push(path);
            } else if name.ends_with(ending) {
                found.push(path);
            }
        }
    }
    found.sort();
    found
}

pub fn read(path: &Path) -> String {
    fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// A path as people say it, from the top folder.
pub fn short(path: &Path) -> String {
    path.strip_prefix(root()).unwrap_or(path).display().to_string()
}

/// Every text in the language that the project ships: name from the top folder, and text.
pub fn shipped() -> Vec<(String, String)> {
    let mut all = files("recipes", ".trim");
    all.extend(files("grammar/samples", ".trim"));
    assert!(all.len() > 20, "where are the recipes? {all:?}");
    all.iter().map(|p| (short(p), read(p))).collect()
}

/// The demo salon in memory, its names as they are in the project.
pub fn saltmarsh() -> Vec<(PathBuf, String)> {
    files("recipes/saltmarsh", ".trim").iter().map(|p| (PathBuf::from(short(p)), read(p))).collect()
}

/// A workspace over texts in memory, all of them asked for.
pub fn workspace(texts: Vec<(PathBuf, String)>) -> Workspace {
    let asked = texts.len();
    Workspace::from_texts(texts, asked)
}

/// A house of one file, `house.trim`, in a folder of its own.
pub fn house(text: &str) -> Workspace {
    workspace(vec![(PathBuf::from("h/house.trim"), text.to_owned())])
}

/// The codes of messages, in their order.
pub fn codes(said: &[Diagnostic]) -> Vec<&'static str> {
    said.iter().map(|d| d.code).collect()
}
