//! Why a run ended before its end.

use std::{io, path::Path};

/// Why a run ended.
#[derive(Debug)]
pub(super) enum Stop {
    /// It couldn't run, in words for the user: exit code 2.
    Told(String),
    /// The reader of the output went away (`| head`): that is no mistake.
    NobodyReads,
}

impl Stop {
    /// It couldn't run, because…
    pub(super) fn because(words: impl Into<String>) -> Self {
        Self::Told(words.into())
    }

    /// A file couldn't be read or written.
    pub(super) fn file(doing: &str, path: &Path, error: &io::Error) -> Self {
        Self::Told(format!("can't {doing} {}: {}", path.display(), reason(error)))
    }
}

impl From<io::Error> for Stop {
    /// An error while writing to the terminal or pipe.
    fn from(error: io::Error) -> Self {
        if error.kind() == io::ErrorKind::BrokenPipe {
            Self::NobodyReads
        } else {
            Self::Told(format!("can't write the output: {}", reason(&error)))
        }
    }
}

/// A system's error in plain words.
fn reason(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "there is no such file or folder".into(),
        io::ErrorKind::PermissionDenied => "you have no right to do that here".into(),
        io::ErrorKind::AlreadyExists => "there is one already".into(),
        io::ErrorKind::InvalidData => "it isn't plain text (UTF-8)".into(),
        io::ErrorKind::StorageFull => "the disk is full".into(),
        io::ErrorKind::IsADirectory => "it is a folder".into(),
        io::ErrorKind::ReadOnlyFilesystem => "the disk is read-only".into(),
        _ => {
            let words = error.to_string();
            words.split(" (os error").next().unwrap_or(&words).to_lowercase()
        }
    }
}
