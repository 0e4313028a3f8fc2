//! Every feature at every place of the demo salon, and of its texts cut off in the middle: none stumbles, and every range
//! lies in its text.
#![allow(clippy::unwrap_used, clippy::panic)]

use coatwright_lsp::around::{Around, Here};
use coatwright_lsp::features::{
    complete, fixes, format, hints, hover, kin, links, navigate, ranges, sheets, signature, symbols, tokens,
};
use coatwright_lsp::house::{Disk, Root};
use coatwright_lsp::lines::{Columns, Range};
use coatwright_lsp::state::{State, Uri};
use grammar::tree::Span;
use std::path::{Path, PathBuf};

fn saltmarsh() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../recipes/saltmarsh").canonicalize().unwrap()
}

/// A text of the salon, with another in the place of what is on disk.
fn with(name: &str, text: &str, test: impl FnOnce(&Here<'_>)) {
    let folder = saltmarsh();
    let state = State::default();
    let uri: Uri = name.into();
    state.open(uri.clone(), Some(folder.join(name)), 1, text.to_owned());
    let documents = state.snapshot();
    let root = Root { folder, deep: true };
    let mut disk = Disk::default();
    let table = Some("bramble".to_owned());
    let around = Around::read(&documents, Some(&root), &mut disk, &[&uri], Columns::Utf16, table);
    let file = around.file(&documents, &uri).unwrap();
    test(&Here { around: &around, file });
}

fn inside(here: &Here<'_>, range: Range) {
    assert!(range.start <= range.end);
    let end = here.range(Span::new(u32::MAX, u32::MAX)).end;
    assert!(range.end <= end, "{range:?} in {end:?}");
}

/// What is asked about a place.
fn at_a_place(here: &Here<'_>, at: u32) {
    if let Some(found) = hover::hover(here, at) {
        inside(here, found.range);
        assert!(!found.text.is_empty());
    }
    for offer in complete::offers(here, at, at.is_multiple_of(2)) {
        inside(here, offer.range);
        assert!(!offer.word.is_empty());
    }
    if let Some((range, _)) = navigate::definition(here, at) {
        inside(here, range);
        assert!(!navigate::highlights(here, at).is_empty());
    }
    let _ = navigate::can_rename(here, at);
    let growing = ranges::growing(here, at);
    growing.iter().for_each(|r| inside(here, *r));
    assert!(growing.iter().zip(growing.iter().skip(1)).all(|(a, b)| b.start <= a.start && a.end <= b.end));
    let _ = (signature::form(here, at), kin::member_at(here, at), sheets::whose(here, Some(at), None, None));
}

/// What is asked about a text.
fn whole(here: &Here<'_>) {
    let found = tokens::tokens(here, None);
    found.iter().for_each(|t| inside(here, t.range));
    assert!(found.iter().zip(found.iter().skip(1)).all(|(a, b)| a.range.end <= b.range.start));
    symbols::of_document(here).iter().for_each(|s| inside(here, s.range));
    let last = here.range(Span::new(u32::MAX, u32::MAX)).end.line;
    assert!(ranges::folds(here).iter().all(|f| f.first < f.last && f.last <= last));
    hints::hints(here, Span::new(0, u32::MAX)).iter().for_each(|h| assert!(!h.words.is_empty()));
    links::links(here).iter().for_each(|l| inside(here, l.range));
    sheets::lenses(here).iter().for_each(|l| inside(here, l.range));
    let _ = (format::layout(here, None), symbols::of_salon(here, "b"));
    let _ = (fixes::quick(here, Span::new(0, u32::MAX)), fixes::all(here));
}

#[test]
fn every_place_of_the_demo() {
    for name in ["harbour-short.trim", "dogs.trim", "cases.trim", "house.trim"] {
        let text = std::fs::read_to_string(saltmarsh().join(name)).unwrap();
        with(name, &text, |here| {
            whole(here);
            // A prime, so that over the lines most columns are met.
            (0..=text.len()).step_by(47).for_each(|at| at_a_place(here, u32::try_from(at).unwrap()));
        });
    }
}

#[test]
fn texts_that_end_in_the_middle() {
    let text = std::fs::read_to_string(saltmarsh().join("harbour-short.trim")).unwrap();
    let text = text.replace("Harbour", "🐩 Härbour").replace('\n', "\r\n");
    for end in (0..text.len()).step_by(389).filter(|end| text.is_char_boundary(*end)) {
        with("harbour-short.trim", &text[..end], |here| {
            whole(here);
            at_a_place(here, u32::try_from(end).unwrap());
            at_a_place(here, u32::try_from(end / 2).unwrap());
        });
    }
}

#[test]
fn garbage() {
    for text in
        ["", "}}}{{{ \0 \u{feff} 🐩", "recipe t {".repeat(200).as_str(), "clip \"", "recipe {", "dog d { wants", "--"]
    {
        with("harbour-short.trim", text, |here| {
            whole(here);
            (0..=u32::try_from(text.len()).unwrap()).take(25).for_each(|at| at_a_place(here, at));
        });
    }
}
