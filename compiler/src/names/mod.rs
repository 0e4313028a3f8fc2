//! Names: what each word of a text stands for.
//!
//! [`trade`] is the vocabulary (zones, coats, findings, tools …), [`lower`] reads declarations of it, and
//! [`card`] reads cards against it; recipes are read by [`crate::choices`].

mod bound;
pub mod card;
pub mod condition;
mod due;
pub mod fields;
mod finding;
mod heat;
pub mod keeps;
pub mod lower;
pub mod scope;
pub mod sites;
pub mod sums;
pub mod tool;
pub mod trade;
pub mod visit;
pub mod zone_words;

/// The one candidate nearest to `word`, if it is near enough to be meant.
#[must_use]
pub fn nearest<'a>(word: &str, candidates: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let limit = slack(word);
    if limit == 0 {
        return None;
    }
    // A slip seldom hits the first letter, and a wrong part of the dog is worse than no guess: `breast` isn't `crest`.
    let first = word.chars().next();
    let mut best: Option<(usize, &str)> = None;
    let mut tie = false;
    let (own, many) = letters(word);
    for candidate in candidates {
        // Most are told apart by their letters: an edit changes their number by one at most, and which they are by two.
        let limit = if candidate.chars().next() == first { limit } else { 1 };
        let (others, length) = letters(candidate);
        if length.abs_diff(many) > limit || (own ^ others).count_ones() as usize > 2 * limit {
            continue;
        }
        let distance = strsim::osa_distance(word, candidate);
        if distance > limit || !by_words(word, candidate) {
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

/// How many slips a word of its length may hold and still be recognised.
fn slack(word: &str) -> usize {
    match word.chars().count() {
        0..=2 => 0,
        3..=5 => 1,
        6..=8 => 2,
        _ => 3,
    }
}

/// Whether each of several words may be meant by the other's: `poodle-feet` is no slip for `poodle-face`.
fn by_words(word: &str, candidate: &str) -> bool {
    let (own, others) = (word.split('-'), candidate.split('-'));
    if own.clone().count() != others.clone().count() {
        return true;
    }
    own.zip(others).all(|(a, b)| a == b || strsim::osa_distance(a, b) <= slack(a).max(slack(b)))
}

/// Which letters a word has, as bits, and how many.
fn letters(word: &str) -> (u64, usize) {
    word.chars().fold((0, 0), |(set, many), letter| (set | 1 << (u32::from(letter) % 64), many + 1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_word_is_near_by_itself() {
        let near = |word| nearest(word, ["poodle-face", "left-thigh", "sensitive-belly"].into_iter());
        assert_eq!(near("poodle-feet"), None);
        assert_eq!(near("podle-face"), Some("poodle-face"));
        assert_eq!(near("sensitve-bely"), Some("sensitive-belly"));
        assert_eq!(near("sensitivebelly"), Some("sensitive-belly"));
    }

    /// What the letters rule out is never near: source of the distance is `strsim`.
    #[test]
    fn no_near_name_is_passed_over() {
        let trade = crate::basics::shared();
        let names: Vec<&str> = trade.index.places.keys().chain(trade.index.tools.keys()).map(|n| n.as_str()).collect();
        let mut near = 0;
        for word in &names {
            for other in &names {
                let distance = strsim::osa_distance(word, other);
                let ((a, m), (b, n)) = (letters(word), letters(other));
                assert!(m.abs_diff(n) <= distance && (a ^ b).count_ones() as usize <= 2 * distance, "{word} {other}");
                near += usize::from((1..=3).contains(&distance));
            }
        }
        assert!(near > 100);
        assert_eq!(nearest("bely", names.iter().copied()), Some("belly"));
        assert_eq!(nearest("xx", names.iter().copied()), None);
    }
}
