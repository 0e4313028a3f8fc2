//! Gathers the pages of `docs/codes/` into one sorted table, which `explain` embeds.

use std::{
    env,
    ffi::OsStr,
    fmt::Write as _,
    fs, io,
    path::{Path, PathBuf},
};

fn main() -> io::Result<()> {
    let root = PathBuf::from(env::var_os("CARGO_MANIFEST_DIR").unwrap_or_default());
    let docs = root.join("..").join("docs");
    let codes = docs.join("codes");
    // A path that doesn't exist would make every build a new one.
    println!("cargo::rerun-if-changed={}", if codes.is_dir() { &codes } else { &docs }.display());
    println!("cargo::rerun-if-changed=build.rs");
    let mut table = String::from("&[\n");
    for page in pages(&codes)? {
        println!("cargo::rerun-if-changed={}", page.display());
        let code = page.file_stem().and_then(OsStr::to_str).unwrap_or_default();
        let path = page.canonicalize()?;
        let _ = writeln!(table, "    ({code:?}, include_str!({:?})),", path.display().to_string());
    }
    table.push_str("]\n");
    let out = PathBuf::from(env::var_os("OUT_DIR").unwrap_or_default()).join("pages.rs");
    fs::write(out, table)
}

/// The files named after a code (`C001.md`), sorted.
fn pages(folder: &Path) -> io::Result<Vec<PathBuf>> {
    if !folder.is_dir() {
        return Ok(Vec::new());
    }
    let mut pages = fs::read_dir(folder)?.map(|e| e.map(|e| e.path())).collect::<io::Result<Vec<_>>>()?;
    pages.retain(|p| {
        let code = p.file_stem().and_then(OsStr::to_str).unwrap_or_default();
        let digits = code.trim_start_matches(|c: char| c.is_ascii_uppercase());
        p.extension() == Some(OsStr::new("md"))
            && code.len() == digits.len() + 1
            && !digits.is_empty()
            && digits.bytes().all(|b| b.is_ascii_digit())
    });
    pages.sort();
    Ok(pages)
}
