//! The lock of a salon's texts, with the real git and the system's `sha256sum`.
//!
//! It runs `target/debug/coatwright` beside this test's own folder: build it first (`cargo build -p coatwright`).
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

mod common;
#[path = "common/repo.rs"]
mod repo;

use repo::{Ran, Repo};
use std::fs;
use std::path::Path;

const SHEET: &str = "sheet --dog kelp --on 2026-11-25";

/// The name of a lock, as a sheet or a message tells it.
fn name(words: &str) -> String {
    let at = words.find("lock ").unwrap_or_else(|| panic!("no lock in {words}"));
    words[at + 5..].chars().take_while(char::is_ascii_hexdigit).collect()
}

#[test]
fn a_sheet_is_made_again_from_what_was_locked() {
    let repo = Repo::demo();
    assert!(!repo.run(SHEET).ends(0).out.contains("lock "), "nothing is locked");
    let first = name(&repo.run("lock").ends(0).err);
    repo.commit("locked");
    let sheet = repo.run(SHEET).ends(0).out;
    assert_eq!(name(&sheet), first);
    // Another style, under other names, locked anew, and the last of it not at all.
    repo.change("short-tide.trim", "clip     throat with #7F", "clip     throat with #5F");
    repo.git("mv short-tide.trim shorter.trim").ends(0);
    assert!(!repo.run(SHEET).out.contains("lock "), "it isn't what was locked");
    let second = name(&repo.run("lock").ends(0).err);
    assert_ne!(first, second);
    repo.commit("another style");
    repo.change("shorter.trim", "clip     throat with #5F", "clip     throat with #4F");
    assert_eq!(repo.run(&format!("{SHEET} --lock {first}")).ends(0).out, sheet);
    // By the file, too, wherever it lies; and in another branch's past.
    let old = repo.git("show HEAD~1:coatwright.lock").ends(0).out;
    repo.write("old.lock", &old);
    assert_eq!(repo.run(&format!("{SHEET} --lock old.lock")).ends(0).out, sheet);
    fs::remove_file(repo.path("old.lock")).unwrap();
    repo.git("checkout -q -f --orphan other").ends(0);
    repo.git("rm -rfq --cached .").ends(0);
    assert_eq!(repo.run(&format!("{SHEET} --lock {first}")).ends(0).out, sheet);
    // With line ends of another machine.
    repo.git("checkout -q -f main").ends(0);
    for file in ["house.trim", "saltmarsh-base.trim", "shorter.trim"] {
        repo.write(file, &repo.read(file).replace('\n', "\r\n"));
    }
    assert_eq!(name(&repo.run("lock --check").ends(0).err), second);
}

#[test]
fn what_was_locked_is_held_to_what_is_there() {
    let repo = Repo::demo();
    let refused = |line: &str, code: &str| {
        let ran = repo.run(line);
        assert!(ran.code == Some(2) && ran.err.contains(&format!("error[{code}]")), "{line}: {ran:#?}");
    };
    refused("lock --check", "G008");
    repo.run("lock").ends(0);
    repo.run("lock --check").ends(0);
    // A card changes with every visit; it is locked where that is asked for.
    repo.change("dogs.trim", "weight", "note \"an old dog\"\n  weight");
    repo.run("lock --check").ends(0);
    repo.run("lock --cards").ends(0);
    repo.change("dogs.trim", "an old dog", "a dog");
    assert_eq!(repo.run("lock --check").ends(1).out, "changed  dogs.trim\n");
    repo.run("lock").ends(0);
    repo.write("new/extra.trim", "finding sea-legs {\n}\n");
    fs::remove_file(repo.path("bath-and-tidy.trim")).unwrap();
    repo.change("house.trim", "house ", "-- mine\nhouse ");
    let ran = repo.run("lock --check").ends(1);
    assert_eq!(ran.out, "gone     bath-and-tidy.trim\nchanged  house.trim\nnew      new/extra.trim\n");
    assert!(ran.err.contains("error[G005]"), "{ran:#?}");
    // What it locks was never committed.
    repo.run("lock").ends(0);
    repo.change("house.trim", "-- mine", "-- ours");
    refused(&format!("{SHEET} --lock coatwright.lock"), "G006");
    for name in ["0123456789ab", "nobody", "012"] {
        refused(&format!("{SHEET} --lock {name}"), "G008");
    }
    let lock = repo.read("coatwright.lock");
    let basics = lock.lines().nth(2).unwrap();
    repo.write("coatwright.lock", &lock.replace(basics, &format!("# basics {}", "0".repeat(64))));
    refused(&format!("{SHEET} --lock coatwright.lock"), "G007");
    assert!(repo.run("lock --check").ends(1).out.contains("changed  the basics"));
    repo.write("coatwright.lock", &lock.replace("house.trim", "../house.trim"));
    refused("lock --check", "G008");
    refused(&format!("{SHEET} --lock coatwright.lock"), "G008");
}

/// A peer: GNU coreutils' `sha256sum`.
#[test]
fn sha256sum_reads_a_lock() {
    let repo = Repo::demo();
    repo.run("lock").ends(0);
    let check = || {
        Ran::of(&repo.command(Path::new("sha256sum"), &["--check", "--strict", "coatwright.lock"]).output().unwrap())
    };
    assert_eq!(check().ends(0).out.lines().filter(|l| l.ends_with(": OK")).count(), 9);
    repo.change("house.trim", "house ", "-- mine\nhouse ");
    assert!(check().ends(1).out.contains("house.trim: FAILED"));
}
