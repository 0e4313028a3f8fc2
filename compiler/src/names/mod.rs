//! Names: what each word of a text stands for.
//!
//! [`trade`] is the vocabulary (zones, coats, findings, tools …), [`lower`] reads declarations of it, and
//! [`card`] reads cards against it; recipes are read by [`crate::choices`].

mod bound;
pub mod card;
pub mod condition;
pub mod fields;
pub mod keeps;
pub mod lower;
pub mod scope;
pub mod sites;
pub mod sums;
pub mod trade;
pub mod zone_words;

/// The one candidate nearest to `word`, if it is near enough to be meant.
#[must_use]
pub fn nearest<'a>(word: &str, candidates: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let limit = match word.chars().count() {
        0..=2 => return None,
        3..=5 => 1,
        6..=8 => 2,
        _ => 3,
    };
    // A slip seldom hits the first letter, and a wrong part of the dog is worse than no guess: `breast` isn't `crest`.
    let first = word.chars().next();
    let mut best: Option<(usize, &str)> = None;
    let mut tie = false;
    for candidate in candidates {
        let distance = strsim::osa_distance(word, candidate);
        if distance > limit || (distance > 1 && candidate.chars().next() != first) {
            continue;
        }
        match best {
            Some((known, _)) if distance > known => {}
            Some((known, other)) if distance == known => tie |= other != candidate,
            _ => {
                best = Some((distance, candidate));
                tie = false;
            }
        }
    }
    // Two that are equally near are a question, not an answer.
    best.filter(|_| !tie).map(|(_, candidate)| candidate)
}
