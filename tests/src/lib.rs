//! What the tests share: the project's folders and its binary.

pub mod export;
pub mod spec;

use std::path::{Path, PathBuf};

/// The project's top folder.
#[must_use]
pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().map(Path::to_path_buf).unwrap_or_default()
}
