//! The corpus of the benches: the demo's own words, about 80 statements a recipe, every number of a recipe its own.
#![allow(dead_code)]

use std::fmt::Write as _;
use std::fs;
use std::path::PathBuf;

pub fn root() -> PathBuf {
    coatwright_tests::root()
}

/// The statements of a recipe of the demo, without those that tie it to others.
pub fn statements(file: &str) -> Vec<String> {
    let path = root().join("recipes/saltmarsh").join(file);
    let text = fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    let parsed = grammar::parse(&text);
    let placed = &parsed.blocks[0];
    let body = placed.block.block.body.iter();
    let words = body.map(|s| text[(placed.at + s.span.start) as usize..(placed.at + s.span.end) as usize].to_owned());
    let own = ["title", "version", "about", "extends"];
    words
        .filter(|w| !own.iter().any(|o| w.starts_with(o)))
        .map(|w| w.replace("tail coat", "tail-set, tail-top, tail-feather, tail-underside, tail-tip"))
        .collect()
}

/// A recipe that stands on its own: the demo's base and its short trim in one, with numbers of its own.
pub fn recipe(number: usize, parts: &[Vec<String>]) -> String {
    let mut text = format!(
        "-- Recipe {number}.\nrecipe bench-{number:05} {{\n  title    \"Bench trim {number}\"\n  version  {}\n",
        number % 90 + 1
    );
    let _ = writeln!(text, "  about\n    Number {number} of a corpus that was made for measuring.");
    let vary = |words: &str| {
        words
            .replace("body-length is 9 mm", &format!("body-length is 9.{:02} mm", number % 100))
            .replace(
                "foot-length is 16 mm",
                &format!("foot-length is {}.{:02} mm", 14 + number % 4, (number * 7) % 100),
            )
            .replace(
                "topknot        to 25 mm",
                &format!("topknot        to {}.{:02} mm", 22 + number % 8, (number * 11) % 100),
            )
            .replace("weight under 6 kg", &format!("weight under {}.{} kg", 4 + number % 3, number % 10))
    };
    // To 80 statements, as long as a trim with everything in it gets.
    for n in 0..9 {
        let _ = writeln!(text, "  let      spare-{n} is {}.{:02} mm", 6 + n, number % 100);
    }
    for words in parts.iter().flatten() {
        let _ = writeln!(text, "  {}", vary(words));
    }
    text.push_str("}\n\n");
    text
}

/// A corpus of about so many bytes, and how many recipes it holds.
pub fn corpus(bytes: usize) -> (String, usize) {
    let parts = [statements("saltmarsh-base.trim"), statements("harbour-short.trim")];
    let mut text = String::new();
    let mut number = 0;
    while text.len() < bytes {
        text.push_str(&recipe(number, &parts));
        number += 1;
    }
    (text, number)
}
