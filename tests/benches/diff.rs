//! What it costs to tell what changed: `cargo bench -p coatwright-tests --bench diff`.
//!
//! A house of 500 recipes, all different, each in a file of its own, at two times: read, matched and compared over every dog that both
//! serve, in this process, on all cores. Between the two times changes one recipe; a base on which all others build; a keep of the
//! house; what its kit owns; or the words of every recipe and nothing else.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

use coatwright::compare::{Status, Texts, Version, compare};
use coatwright::memo::Memo;
use std::hint::black_box;
use std::path::PathBuf;
use std::time::Instant;

/// The program's own.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

#[path = "corpus.rs"]
mod corpus;

const RECIPES: usize = 500;

/// A house, a base, and recipes on it.
fn house() -> Texts {
    let read = |file: &str| std::fs::read_to_string(corpus::root().join("recipes/saltmarsh").join(file)).unwrap();
    let mut texts: Texts = ["house.trim", "saltmarsh-base.trim"]
        .into_iter()
        .map(|file| (PathBuf::from(file), read(file).into()))
        .collect();
    let parts = [corpus::statements("harbour-short.trim")];
    for number in 0..RECIPES {
        let text = corpus::recipe(number, &parts);
        let text = text.replacen("{\n", "{\n  extends saltmarsh-base\n", 1);
        texts.push((PathBuf::from(format!("bench-{number:03}.trim")), text.into()));
    }
    texts
}

/// The same, with one piece of one text, or of all of them, put otherwise.
fn edited(texts: &Texts, file: Option<&str>, from: &str, to: &str) -> Texts {
    let mut edited = 0;
    let texts = texts
        .iter()
        .map(|(path, text)| {
            if file.is_none_or(|file| path.as_os_str() == file) && text.contains(from) {
                edited += 1;
                (path.clone(), text.replacen(from, to, 1).into())
            } else {
                (path.clone(), text.clone())
            }
        })
        .collect();
    assert!(edited > 0, "nothing says `{from}`");
    texts
}

fn main() {
    let old = house();
    let (house, base) = (Some("house.trim"), Some("saltmarsh-base.trim"));
    let cases = [
        ("a recipe", edited(&old, Some("bench-007.trim"), "stop with #10", "stop with #15")),
        ("every recipe's words", edited(&old, None, "  about\n    Number", "  -- Read again.\n  about\n    Number")),
        ("a length of the base", edited(&old, base, "tail-length is 16 mm", "tail-length is 19 mm")),
        ("a keep of the house", edited(&old, house, "  keep     ears never plucking\n", "")),
        ("a blade of the kit", edited(&old, house, "#4F, #3F", "#4F")),
    ];
    println!("{:<22} {:>9} {:>9} {:>9}", "changed", "ms", "recipes", "changes");
    for (what, new) in cases {
        let run = || {
            let mut memo = Memo::default();
            let (old, new) =
                (Version::of(old.clone(), &|_| true, &mut memo), Version::of(new.clone(), &|_| true, &mut memo));
            compare(&old, &new, false)
        };
        let all = run();
        let unread = all.iter().find(|c| matches!(c.status, Status::Unreadable(_)));
        assert!(unread.is_none(), "{unread:?}");
        let touched = all.iter().filter(|c| matches!(c.status, Status::Changed(_))).count();
        let changes: usize = all.iter().map(|c| c.changes().len()).sum();
        let time = |()| {
            let began = Instant::now();
            black_box(run());
            began.elapsed().as_secs_f64() * 1e3
        };
        let best = [(), (), ()].map(time).into_iter().fold(f64::INFINITY, f64::min);
        println!("{what:<22} {best:>9.0} {touched:>9} {changes:>9}");
    }
}
