//! The sample files and the code of the language guide: no mistakes, the expected trees, and a layout that stands.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

use std::fs;
use std::path::PathBuf;

fn dir() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn samples() -> Vec<(String, String)> {
    let mut out: Vec<(String, String)> = fs::read_dir(dir().join("samples"))
        .unwrap()
        .map(|e| e.unwrap().path())
        .filter(|p| p.extension().is_some_and(|e| e == "trim"))
        .map(|p| (p.file_stem().unwrap().to_string_lossy().into_owned(), fs::read_to_string(&p).unwrap()))
        .collect();
    out.sort();
    out
}

fn guide() -> Vec<String> {
    let text = fs::read_to_string(dir().join("../docs/language.md")).unwrap();
    text.split("```trim\n").skip(1).map(|b| b.split("```").next().unwrap().to_owned()).collect()
}

fn clean(name: &str, text: &str) {
    let file = grammar::parse(text);
    let errors = grammar::errors(&file);
    assert!(errors.is_empty(), "{name}: {errors:#?}");
}

#[test]
fn every_sample_reads_without_a_mistake() {
    for (name, text) in samples() {
        clean(&name, &text);
    }
}

#[test]
fn the_guide_reads_without_a_mistake() {
    let blocks = guide();
    assert!(blocks.len() >= 3);
    for b in &blocks {
        clean("guide", b);
        clean("guide with CRLF", &b.replace('\n', "\r\n"));
        clean("guide with tabs", &b.replace("  ", "\t"));
    }
}

#[test]
fn the_guide_is_written_as_the_formatter_writes_it() {
    for b in guide() {
        let made = grammar::format(&b).unwrap();
        assert_eq!(grammar::format(&made).unwrap(), made);
        assert_eq!(grammar::shape(&grammar::parse(&b)), grammar::shape(&grammar::parse(&made)));
    }
}

#[test]
fn every_kind_of_declaration_has_a_sample() {
    let names: Vec<String> = samples().into_iter().map(|(n, _)| n).collect();
    for (word, _) in grammar::words::BLOCKS {
        assert!(names.iter().any(|n| n == word), "no sample of {word}");
    }
}

#[test]
fn trees() {
    for (name, text) in samples() {
        insta::assert_snapshot!(format!("tree_{name}"), grammar::shape(&grammar::parse(&text)));
    }
}

#[test]
fn layouts() {
    for (name, text) in samples() {
        let made = grammar::format(&text).unwrap();
        assert_eq!(grammar::format(&made).unwrap(), made, "{name}: not stable");
        insta::assert_snapshot!(format!("layout_{name}"), made);
    }
}

#[test]
fn crlf_and_lf_give_one_tree() {
    for (_, text) in samples() {
        let crlf = text.replace('\n', "\r\n");
        assert_eq!(grammar::shape(&grammar::parse(&text)), grammar::shape(&grammar::parse(&crlf)));
    }
}
