//! The dog that a message fails for: its card, compiled, shows the same message at the same place.

mod common;

use coatwright::check::check;
use coatwright::date::Day;
use coatwright::diagnostic::Diagnostic;
use coatwright::sheet::{Request, finished};
use coatwright::workspace::Workspace;
use std::path::PathBuf;

/// Faults in recipes of the demo: file, what stands there, what a tired author writes, and the code that it has to give.
const FAULTS: [(&str, &str, &str, &str); 16] = [
    ("harbour-short", "topknot to 25 mm by shears", "topknot to 40 mm by shears", "U002"),
    ("harbour-short", "brows to 8 mm", "brows to 20 mm", "U003"),
    ("harbour-short", "cheeks, foreface with #10 in reverse", "cheeks, foreface with #40 in reverse", "C006"),
    ("dune-column", "with #7F with the coat, blade cool", "with #4F with the coat", "C002"),
    ("dune-column", "foot tops with #15 in reverse", "foot tops, between-toes with #7F in reverse", "M015"),
    (
        "dune-column",
        "  line     between foot tops and pasterns, rear pasterns",
        "  -- line between foot tops and pasterns",
        "J001",
    ),
    ("dune-column", "  line     between cheeks and neck sides", "  -- no line", "J001"),
    ("marsh-spaniel", "underline to 50 mm by shears, skirt", "underline to 70 mm by shears, skirt", "U002"),
    (
        "marsh-spaniel",
        "ear-bases, behind ears, ear-backs, inside-ear with #10",
        "ear-bases, behind ears, ear-backs, inside-ear with #5F",
        "C002",
    ),
    ("pebble-round", "belly front with #7F with the coat, blade cool", "belly front with #3F with the coat", "C002"),
    ("pebble-round", "throat by 10 mm comb with the coat", "throat with #5 with the coat", "C002"),
    ("short-tide", "  clip     topknot, occiput with #7F with the coat", "  -- nothing on the topknot", "M016"),
    ("short-tide", "tail coat with #7F with the coat", "tail coat, tail-underset with #4F with the coat", "M015"),
    ("short-tide", "  leave    ear-opening", "  clip ear-opening with #5F", "C002"),
    ("samphire-terrier", "brows to 20 mm", "brows to 39 mm", "U003"),
    (
        "dune-column",
        "topknot, occiput to 45 mm by curved shears, dome\n  clip",
        "topknot, occiput to 58 mm by curved shears, dome\n  clip",
        "U002",
    ),
];

fn faulty(file: &str, was: &str, is: &str) -> Vec<(PathBuf, String)> {
    let mut texts = common::saltmarsh();
    let (_, text) = texts.iter_mut().find(|(p, _)| p.ends_with(format!("{file}.trim"))).unwrap();
    assert!(text.contains(was), "{file} has no `{was}`:\n{text}");
    *text = text.replacen(was, is, 1);
    texts
}

/// File, start, code: what a message is about, whatever the numbers of files.
fn about(workspace: &Workspace, message: &Diagnostic) -> (String, u32, &'static str) {
    (workspace.sources().name(message.place.file).to_owned(), message.place.start, message.code)
}

#[test]
fn each_fault_is_caught_and_its_dog_shows_it() {
    let mut wrong = Vec::new();
    for (file, was, is, code) in FAULTS {
        let texts = faulty(file, was, is);
        let workspace = common::workspace(texts.clone());
        let messages = check(&workspace);
        let found: Vec<&Diagnostic> = messages.iter().filter(|m| m.code == code).collect();
        if found.is_empty() {
            let codes: Vec<&str> = messages.iter().map(|m| m.code).collect();
            wrong.push(format!("{file}: `{is}` gives no {code}, but {codes:?}"));
            continue;
        }
        for message in found {
            let Some(card) = &message.dog else {
                wrong.push(format!("{file}: `{is}`: no dog for {code}"));
                continue;
            };
            let mut with_dog = texts.clone();
            with_dog.push((PathBuf::from("recipes/saltmarsh/zz-failing.trim"), card.clone()));
            let with_dog = common::workspace(with_dog);
            let name = card.split_whitespace().nth(1).unwrap().to_owned();
            let request = Request { recipe: None, dog: name, on: Day::new(2026, 1, 1), learner: false };
            let said = match finished(&with_dog, &request) {
                Ok(made) => made.said,
                Err(said) => said,
            };
            let shown: Vec<_> = said.iter().map(|m| about(&with_dog, m)).collect();
            let expected = about(&workspace, message);
            match said.iter().find(|m| about(&with_dog, m) == expected) {
                None => wrong.push(format!("{file}: `{is}`: {expected:?} is not among {shown:?} of\n{card}")),
                Some(again) => {
                    let modality = |m: &str| (m.contains(" will "), m.contains(" may "));
                    if again.severity != message.severity || modality(&again.message) != modality(&message.message) {
                        wrong.push(format!("{file}: {} became {}", message.message, again.message));
                    }
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// The dog is as simple as can be: no finding where none is needed, round numbers, nothing that plays no part.
#[test]
fn the_dog_is_simple() {
    let texts = faulty("pebble-round", "brows to 8 mm by thinners-46", "brows to 20 mm by thinners-46");
    let messages = check(&common::workspace(texts));
    let card = messages.iter().find(|m| m.code == "U003").and_then(|m| m.dog.as_deref()).unwrap();
    assert!(!card.contains("finding") && !card.contains("height") && !card.contains("born"), "{card}");
    let weight = card.lines().find(|l| l.contains("weight")).unwrap();
    assert!(weight.ends_with(".0 kg"), "{card}");
}
