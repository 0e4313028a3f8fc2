//! Writing files: whole or not at all.

use super::{out::Out, stop::Stop};
use std::{
    ffi::OsString,
    fs::{self, File, OpenOptions},
    io::{self, Write},
    path::{Path, PathBuf},
};

/// Replaces a file's text: writes beside it and renames, so that nobody ever sees half of it. Permissions stay, and a
/// link stays a link.
pub(super) fn replace(path: &Path, text: impl AsRef<[u8]>) -> Result<(), Stop> {
    write_beside(path, text.as_ref()).map_err(|e| Stop::file("write", path, &e))
}

/// Puts a text where it was asked for: in place of a file, which is then told of, or out.
pub(super) fn deliver(output: Option<&Path>, text: &str, out: &mut Out) -> Result<(), Stop> {
    let Some(path) = output else { return out.write(text) };
    replace(path, text)?;
    out.say(&format!("Written to {}.", path.display()));
    Ok(())
}

/// Writes a file that isn't there yet; one that is there is left alone.
pub(super) fn create(path: &Path, text: &str) -> Result<(), Stop> {
    let mut file = OpenOptions::new().write(true).create_new(true).open(path).map_err(|e| match e.kind() {
        io::ErrorKind::AlreadyExists => Stop::because(format!(
            "{} is there already and is left as it is; give another name or `-o`",
            path.display()
        )),
        _ => Stop::file("write", path, &e),
    })?;
    file.write_all(text.as_bytes()).map_err(|e| Stop::file("write", path, &e))
}

fn write_beside(path: &Path, text: &[u8]) -> io::Result<()> {
    let path = match fs::canonicalize(path) {
        Err(e) if e.kind() == io::ErrorKind::NotFound => path.to_owned(),
        found => found?,
    };
    let old = match fs::metadata(&path) {
        Ok(old) if !old.is_file() && !old.is_dir() => return File::create(&path)?.write_all(text),
        Ok(old) if old.permissions().readonly() => return Err(io::ErrorKind::PermissionDenied.into()),
        Ok(old) => Some(old.permissions()),
        Err(_) => None,
    };
    let (beside, mut file) = open_beside(&path)?;
    let written = file
        .write_all(text)
        .and_then(|()| old.map_or(Ok(()), |permissions| fs::set_permissions(&beside, permissions)))
        .and_then(|()| file.sync_all())
        .and_then(|()| fs::rename(&beside, &path));
    if written.is_err() {
        // The text that was there still is; the new one must not stay beside it.
        let _ = fs::remove_file(&beside);
    }
    written
}

/// A new file in the same folder, so that the rename stays on one disk.
fn open_beside(path: &Path) -> io::Result<(PathBuf, File)> {
    let mut last = io::ErrorKind::AlreadyExists.into();
    for number in 0..16 {
        let mut name = OsString::from(".");
        name.push(path.file_name().unwrap_or_default());
        name.push(format!(".{}-{number}.new", std::process::id()));
        let beside = path.with_file_name(name);
        match OpenOptions::new().write(true).create_new(true).open(&beside) {
            Ok(file) => return Ok((beside, file)),
            Err(e) if e.kind() == io::ErrorKind::AlreadyExists => last = e,
            Err(e) => return Err(e),
        }
    }
    Err(last)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder(name: &str) -> PathBuf {
        let folder = std::env::temp_dir().join(format!("coatwright-write-{}-{name}", std::process::id()));
        let _ = fs::remove_dir_all(&folder);
        assert!(fs::create_dir_all(&folder).is_ok());
        folder
    }

    fn names(folder: &Path) -> Vec<OsString> {
        fs::read_dir(folder).into_iter().flatten().flatten().map(|e| e.file_name()).collect()
    }

    #[test]
    fn replacing_leaves_one_file() {
        let folder = folder("replace");
        let path = folder.join("a.trim");
        for text in ["one", "two"] {
            assert!(replace(&path, text).is_ok());
            assert_eq!(fs::read_to_string(&path).ok().as_deref(), Some(text));
            assert_eq!(names(&folder), ["a.trim"]);
        }
        let _ = fs::remove_dir_all(folder);
    }

    #[test]
    fn what_cannot_be_replaced_stays() {
        let folder = folder("stays");
        let inner = folder.join("inner");
        assert!(fs::create_dir(&inner).is_ok());
        assert!(matches!(replace(&inner, "x"), Err(Stop::Told(_))));
        assert_eq!(names(&folder), ["inner"]);
        assert!(matches!(replace(&folder.join("no").join("a.trim"), "x"), Err(Stop::Told(_))));
        let _ = fs::remove_dir_all(folder);
    }

    #[test]
    fn creating_never_overwrites() {
        let folder = folder("create");
        let path = folder.join("a.trim");
        assert!(create(&path, "one").is_ok());
        let Err(Stop::Told(words)) = create(&path, "two") else { unreachable!("it was overwritten") };
        assert!(words.contains("is there already"), "{words}");
        assert_eq!(fs::read_to_string(&path).ok().as_deref(), Some("one"));
        let _ = fs::remove_dir_all(folder);
    }

    #[cfg(unix)]
    #[test]
    fn permissions_and_links_stay() {
        use std::os::unix::fs::{PermissionsExt, symlink};
        let folder = folder("links");
        let (path, link) = (folder.join("a.trim"), folder.join("b.trim"));
        assert!(create(&path, "one").is_ok());
        assert!(fs::set_permissions(&path, fs::Permissions::from_mode(0o640)).is_ok());
        assert!(symlink("a.trim", &link).is_ok());
        assert!(replace(&link, "two").is_ok());
        assert_eq!(fs::read_to_string(&path).ok().as_deref(), Some("two"));
        assert_eq!(fs::metadata(&path).map(|m| m.permissions().mode() & 0o777).ok(), Some(0o640));
        assert!(fs::symlink_metadata(&link).is_ok_and(|m| m.is_symlink()));
        assert!(fs::set_permissions(&path, fs::Permissions::from_mode(0o440)).is_ok());
        assert!(replace(&path, "three").is_err());
        let _ = fs::remove_dir_all(folder);
    }
}
