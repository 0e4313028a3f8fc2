//! What the tests share: the project's folders and its binary.

pub mod export;
pub mod spec;

use std::path::{Path, PathBuf};

/// The project's top folder.
#[must_use]
pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().map(Path::to_path_buf).unwrap_or_default()
}

/// How much is tried of what has no end: random recipes, dogs, edits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Effort {
    /// What one waits for while one works: `cargo test`.
    Quick,
    /// What CI tries: `MANY=1`.
    Many,
    /// What is tried before a release: `LONG=1`.
    Long,
}

/// How much is asked for.
#[must_use]
pub fn effort() -> Effort {
    let asked = |name| std::env::var_os(name).is_some();
    match (asked("LONG"), asked("MANY")) {
        (true, _) => Effort::Long,
        (false, true) => Effort::Many,
        (false, false) => Effort::Quick,
    }
}
