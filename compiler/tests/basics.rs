//! The embedded basics are what their texts say, and their texts are without a mistake.
#![allow(clippy::unwrap_used, clippy::panic, missing_docs)]

use coatwright::{basics, source::Sources};

#[test]
fn the_texts_are_without_a_mistake() {
    let (_, said) = basics::from_text();
    let sources = Sources::with_basics();
    let lines: Vec<String> = said
        .iter()
        .map(|d| {
            let (line, column) = sources.line_column(d.place);
            format!("{}:{line}:{column}: {} {}", sources.name(d.place.file), d.code, d.message)
        })
        .collect();
    assert!(lines.is_empty(), "{} messages:\n{}", lines.len(), lines.join("\n"));
}

#[test]
fn the_embedded_form_is_what_the_texts_say() {
    let (trade, _) = basics::from_text();
    let bytes = postcard::to_stdvec(&trade).unwrap();
    if std::env::var_os("UPDATE").is_some() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/src/basics/lowered.bin");
        std::fs::write(path, &bytes).unwrap();
        return;
    }
    assert!(bytes == basics::embedded(), "run `UPDATE=1 cargo test -p coatwright --test basics` and build again");
}
