//! The table of rooms is what the drawing gives, and what it gives is a dog.
#![allow(clippy::unwrap_used, clippy::panic, missing_docs)]

use coatwright::joins::rooms;
use coatwright::measure::{Factor, Length, Weight};
use coatwright::names::card::Dog;
use coatwright::{atlas, basics};
use std::collections::BTreeSet;

const HEAD: &str = "\
-- The room for a blend: how far the two parts of a border run away from it, over the height at the withers, by build; and
-- how high a dog of each build stands at a weight.
--
-- Computed from the drawing in this folder. Don't edit: `UPDATE=1 cargo test -p coatwright --test room` writes it anew.

";

#[test]
fn the_table_is_what_the_drawing_gives() {
    let text = format!("{HEAD}{}", atlas::room_table(atlas::drawing(), &basics::trade()));
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../recipes/prelude/atlas/room.table");
    if std::env::var_os("UPDATE").is_some() {
        std::fs::write(path, &text).unwrap();
        return;
    }
    let is = std::fs::read_to_string(path).unwrap();
    let differs = is.lines().zip(text.lines()).find(|(a, b)| a != b);
    assert!(is == text, "run `UPDATE=1 cargo test -p coatwright --test room`; the first line: {differs:?}");
}

/// Between the weights of the table too.
#[test]
fn heights_are_those_of_the_drawing() {
    for (build, ..) in &atlas::drawing().weighs {
        for grams in (1000..60_000).step_by(700) {
            let dog = Dog { weight: Some(Weight(grams)), build: Some(build.clone()), ..Dog::default() };
            let exact = atlas::Measures::of(&dog, atlas::drawing()).height;
            let read = rooms().height(build, Weight(grams)).unwrap().0 as f64 / 1e6;
            assert!((exact - read).abs() < 1.5, "{build} {grams}: {exact} and {read}");
        }
    }
}

/// What a groomer finds under the hand on a dog of 3 kg and one of 25 kg, in mm, within a third. Common practice, no source: they
/// were judged with the table at hand, so they keep it from turning absurd and don't measure it.
#[test]
fn rooms_are_those_of_a_dog() {
    let trade = basics::trade();
    for (a, b, small, large) in [
        ("croup", "tail-set", 55, 145),
        ("loin", "croup", 95, 250),
        ("flank", "thigh", 105, 270),
        ("neck-side", "shoulder", 115, 300),
        ("crest", "withers", 85, 230),
        ("forechest", "breastbone", 120, 310),
        ("topknot", "occiput", 40, 115),
        ("cheek", "under-eye", 42, 115),
        ("upper-arm", "forearm", 85, 225),
        ("pastern", "foot-top", 60, 150),
        ("belly-front", "belly-rear", 85, 220),
        ("point-of-buttock", "cushion", 45, 120),
        ("forearm", "forearm-inside", 25, 65),
        ("breeches", "cushion", 42, 110),
    ] {
        for (kg, mm) in [(3, small), (25, large)] {
            let height = rooms().height("square", Weight(kg * 1000)).unwrap();
            let room = rooms().room("square", a, b, height).unwrap_or_else(|| panic!("no room at {a} and {b}"));
            let ratio = room.0 as f64 / Length::mm(mm).0 as f64;
            assert!((0.67..1.5).contains(&ratio), "{a} and {b} at {kg} kg: {room}, and about {mm} mm are expected");
        }
    }
    // Every border of the basics has its room on every build, beside those that are drawn in two views, a part in each.
    let mut without = BTreeSet::new();
    for zone in &trade.zones {
        for other in zone.borders.iter().filter_map(|id| trade.zone(*id)) {
            for (build, ..) in &atlas::drawing().weighs {
                match rooms().shares(build, &zone.name, &other.name) {
                    Some((a, b)) => {
                        let within = |f: Factor| (10_000..800_000).contains(&f.0);
                        assert!(within(a) && within(b), "{} and {}: {a:?} {b:?}", zone.name, other.name);
                    }
                    None => {
                        let (a, b) = (&zone.name, &other.name);
                        without.insert(format!("{} {}", a.min(b), a.max(b)));
                    }
                }
            }
        }
    }
    let without: Vec<&str> = without.iter().map(String::as_str).collect();
    let apart = ["between-toes foot-top", "cushion vulva", "foot-top pads", "forearm-inside foreleg-feather"];
    assert_eq!(without, apart);
}
