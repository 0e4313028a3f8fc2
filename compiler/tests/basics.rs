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

/// Every number of the trade has its source beside it; what a kit holds, and how many, is a choice and not a fact.
#[test]
fn every_number_has_its_source() {
    use grammar::tree::{Block, BoundKind, Stmt, StmtKind, ValueKind};
    fn numbers(stmt: &Stmt) -> bool {
        match &stmt.kind {
            StmtKind::Field(field) => {
                field.name.text != "owns"
                    && field.values.iter().any(|v| {
                        matches!(v.kind, ValueKind::Number(_) | ValueKind::Range(_) | ValueKind::Measure { .. })
                    })
            }
            StmtKind::Keep(keep) => keep.bounds.iter().any(|b| {
                matches!(
                    b.kind,
                    BoundKind::NoCloser(_)
                        | BoundKind::NoShorter(_)
                        | BoundKind::AtMost(_)
                        | BoundKind::AtStretch(_)
                        | BoundKind::InAll(_)
                )
            }),
            _ => false,
        }
    }
    const KNOWN: [&str; 5] = ["published", "common practice", "computed", "from memory", "invented for the demo"];
    fn walk(block: &Block, text: &str, at: usize, bad: &mut Vec<String>, seen: &mut usize) {
        for stmt in &block.body {
            if let StmtKind::Block(inner) = &stmt.kind {
                walk(inner, text, at, bad, seen);
            }
            if numbers(stmt) {
                *seen += 1;
                let known = stmt.source.as_ref().is_some_and(|s| KNOWN.iter().any(|k| s.text.starts_with(k)));
                if !known {
                    let start = at + stmt.span.start as usize;
                    bad.push(text.get(start..at + stmt.span.end as usize).unwrap_or("").to_owned());
                }
            }
        }
    }
    let (mut bad, mut seen) = (Vec::new(), 0);
    for (_, text) in basics::TEXTS {
        for placed in &grammar::parse(text).blocks {
            walk(&placed.block.block, text, placed.at as usize, &mut bad, &mut seen);
        }
    }
    assert!(bad.is_empty(), "without a source:\n{}", bad.join("\n"));
    assert!(seen > 400, "only {seen} numbers found: does the walk still see them?");
}
