//! Writing a folder: whole or not at all, and never over anything that isn't an earlier one.

use super::stop::Stop;
use std::{
    collections::BTreeSet,
    ffi::OsString,
    fs, io,
    path::{Path, PathBuf},
};

/// The file that tells what a handbook holds, so that nothing else is ever taken for one.
const LIST: &str = "handbook-files.txt";
const HEAD: &str =
    "These files are a handbook that `coatwright handbook` writes anew as a whole; don't put others beside them.";

/// Whether a folder may be written: it isn't there, it is empty, or it holds an earlier handbook and nothing else.
pub(super) fn may_write(folder: &Path) -> Result<(), Stop> {
    let told = |e: &io::Error| Stop::file("read", folder, e);
    let is_folder = match fs::metadata(folder) {
        Ok(meta) => meta.is_dir(),
        Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(()),
        Err(e) => return Err(told(&e)),
    };
    let shown = folder.display();
    let other = "name a folder that isn't there yet, such as `coatwright handbook handbook SALON`";
    if !is_folder {
        return Err(Stop::because(format!("{shown} is a file and is left as it is; {other}")));
    }
    let mut there = BTreeSet::new();
    below(folder, Path::new(""), &mut there).map_err(|e| told(&e))?;
    if there.is_empty() {
        return Ok(());
    }
    let list = match fs::read_to_string(folder.join(LIST)) {
        Ok(list) if list.starts_with(HEAD) => list,
        _ => {
            return Err(Stop::because(format!(
                "{shown} holds something else than a handbook and is left as it is; {other}"
            )));
        }
    };
    let known: BTreeSet<&str> = list.lines().skip(1).collect();
    match there.iter().find(|name| *name != LIST && !known.contains(name.as_str())) {
        None => Ok(()),
        Some(more) => Err(Stop::because(format!(
            "{shown} holds {more}, which isn't the handbook's own, and is left as it is; move that away, or {other}"
        ))),
    }
}

/// The files below a folder, with `/` between the parts. A folder that holds none counts as one, and so does a link.
fn below(folder: &Path, within: &Path, found: &mut BTreeSet<String>) -> io::Result<()> {
    let mut any = false;
    for entry in fs::read_dir(folder.join(within))? {
        let entry = entry?;
        any = true;
        let name = within.join(entry.file_name());
        if entry.file_type()?.is_dir() {
            below(folder, &name, found)?;
        } else {
            found.insert(name.to_string_lossy().replace('\\', "/"));
        }
    }
    if !any && within != Path::new("") {
        found.insert(within.to_string_lossy().replace('\\', "/"));
    }
    Ok(())
}

/// Puts these files into the place of a folder: they are written beside it, then the folder is renamed. Whatever fails, what was
/// there still is.
pub(super) fn replace(folder: &Path, files: &[(&str, &str)]) -> Result<(), Stop> {
    may_write(folder)?;
    // A link stays a link.
    let target = fs::canonicalize(folder).unwrap_or_else(|_| folder.to_path_buf());
    let (new, old) = (beside(&target, "new"), beside(&target, "old"));
    let written = fill(&new, files).and_then(|()| swap(&target, &new, &old));
    // The new folder has its name by now, or must not stay; the old one is of no more use.
    let _ = fs::remove_dir_all(&new);
    if written.is_ok() {
        let _ = fs::remove_dir_all(&old);
    }
    written.map_err(|e| Stop::file("write", folder, &e))
}

fn beside(folder: &Path, end: &str) -> PathBuf {
    let mut name = OsString::from(".");
    name.push(folder.file_name().unwrap_or_default());
    name.push(format!(".{}.{end}", std::process::id()));
    folder.with_file_name(name)
}

fn fill(folder: &Path, files: &[(&str, &str)]) -> io::Result<()> {
    fs::create_dir(folder)?;
    let names: Vec<&str> = files.iter().map(|(name, _)| *name).collect();
    let list = format!("{HEAD}\n{}\n", names.join("\n"));
    for (name, text) in files.iter().chain([&(LIST, list.as_str())]) {
        let path = folder.join(name);
        if let Some(parent) = path.parent() {
            fs::create_dir_all(parent)?;
        }
        fs::write(path, text)?;
    }
    Ok(())
}

fn swap(target: &Path, new: &Path, old: &Path) -> io::Result<()> {
    match fs::rename(target, old) {
        Err(e) if e.kind() == io::ErrorKind::NotFound => return fs::rename(new, target),
        moved => moved?,
    }
    fs::rename(new, target).inspect_err(|_| {
        // Back to where it was: half a change is worse than none.
        let _ = fs::rename(old, target);
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn room(name: &str) -> PathBuf {
        let folder = std::env::temp_dir().join(format!("coatwright-folder-{}-{name}", std::process::id()));
        let _ = fs::remove_dir_all(&folder);
        assert!(fs::create_dir_all(&folder).is_ok());
        folder
    }

    fn told(result: Result<(), Stop>) -> String {
        match result {
            Err(Stop::Told(words)) => words,
            other => unreachable!("{other:?}"),
        }
    }

    #[test]
    fn an_earlier_handbook_is_replaced_whole() {
        let room = room("whole");
        let folder = room.join("book");
        assert!(replace(&folder, &[("index.html", "one"), ("dunes/a.html", "a")]).is_ok());
        assert!(replace(&folder, &[("index.html", "two")]).is_ok());
        let mut there = BTreeSet::new();
        assert!(below(&folder, Path::new(""), &mut there).is_ok());
        assert_eq!(there.into_iter().collect::<Vec<_>>(), [LIST, "index.html"]);
        assert_eq!(fs::read_to_string(folder.join("index.html")).ok().as_deref(), Some("two"));
        assert_eq!(fs::read_dir(&room).map(Iterator::count).ok(), Some(1));
        let _ = fs::remove_dir_all(room);
    }

    #[test]
    fn anything_else_is_left_alone() {
        let room = room("else");
        let folder = room.join("book");
        assert!(fs::create_dir(&folder).is_ok() && may_write(&folder).is_ok());
        assert!(fs::write(folder.join("house.trim"), "x").is_ok());
        assert!(told(replace(&folder, &[("index.html", "one")])).contains("something else than a handbook"));
        assert!(fs::remove_file(folder.join("house.trim")).is_ok());
        assert!(replace(&folder, &[("index.html", "one")]).is_ok());
        assert!(fs::create_dir(folder.join("notes")).is_ok());
        assert!(told(replace(&folder, &[("index.html", "two")])).contains("holds notes"));
        assert!(fs::write(folder.join("notes/mine.txt"), "x").is_ok());
        assert!(told(replace(&folder, &[("index.html", "two")])).contains("holds notes/mine.txt"));
        assert_eq!(fs::read_to_string(folder.join("index.html")).ok().as_deref(), Some("one"));
        assert!(told(may_write(&folder.join("index.html"))).contains("is a file"));
        let _ = fs::remove_dir_all(room);
    }

    #[test]
    fn what_cannot_be_written_leaves_what_was_there() {
        let room = room("fails");
        let folder = room.join("book");
        assert!(replace(&folder, &[("index.html", "one")]).is_ok());
        // A file can't be a folder as well.
        assert!(matches!(replace(&folder, &[("a", "x"), ("a/b", "y")]), Err(Stop::Told(_))));
        assert_eq!(fs::read_to_string(folder.join("index.html")).ok().as_deref(), Some("one"));
        assert_eq!(fs::read_dir(&room).map(Iterator::count).ok(), Some(1));
        let _ = fs::remove_dir_all(room);
    }
}
