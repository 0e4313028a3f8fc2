//! Names of files and anchors, and the ways between them.

use super::gather::House;
use crate::basics;
use crate::finish::tool_words;
use crate::names::trade::{Coat, Finding, Tool, Trade};
use crate::source::Place;

/// A name as a file or an anchor can bear it on every system; two names never come to the same.
pub(super) fn slug(name: &str) -> String {
    let mut out = String::new();
    for letter in name.chars() {
        if letter.is_ascii_lowercase() || letter.is_ascii_digit() || letter == '-' {
            out.push(letter);
        } else {
            out.push_str(&format!("_{:x}_", u32::from(letter)));
        }
    }
    out
}

/// The file of a recipe within the folder of its house.
pub(super) fn file(recipe: &str) -> String {
    // The house's own page has that name.
    if recipe == "index" { "_index".to_owned() } else { slug(recipe) }
}

/// The way from a folder of a house to the top.
pub(super) const UP: &str = "../";

/// Whether something is of the basics.
pub(super) const fn of_basics(place: Place) -> bool {
    basics::holds(place.file)
}

/// The way to a page of words: that of the basics, or that of the house which added the word. `root` leads to the top.
fn way(root: &str, page: &str, house: &House<'_>, place: Place, anchor: &str) -> String {
    if of_basics(place) {
        format!("{root}{page}#{anchor}")
    } else {
        format!("{root}{}/index.html#{anchor}", house.slug)
    }
}

/// The way to a finding.
pub(super) fn finding(root: &str, house: &House<'_>, finding: &Finding) -> String {
    way(root, "findings.html", house, finding.place, &anchor("finding", &finding.name))
}

/// The way to a tool.
pub(super) fn tool(root: &str, house: &House<'_>, tool: &Tool) -> String {
    way(root, "tools.html", house, tool.place, &anchor("tool", &tool.name))
}

/// The way to a coat.
pub(super) fn coat(root: &str, house: &House<'_>, coat: &Coat) -> String {
    way(root, "coats.html", house, coat.place, &anchor("coat", &coat.name))
}

/// The anchor of a word.
pub(super) fn anchor(kind: &str, name: &str) -> String {
    format!("{kind}-{}", slug(name))
}

/// A name as it is read: `hind legs`.
pub(super) fn spoken(name: &str) -> String {
    name.replace('-', " ")
}

/// What a tool is called; of two that are called alike, with its name.
pub(super) fn tool_name(tool: &Tool, trade: &Trade) -> String {
    let words = tool_words(tool);
    let twin = trade.tools.iter().any(|other| other.name != tool.name && tool_words(other) == words);
    let own = spoken(&tool.name);
    if twin { format!("{words} ({own})") } else { words }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_names_share_a_file() {
        let names = ["a", "a-b", "a_b", "#10", "_23_10", "10", "schön", "sch_f6_n", "index", "_index", "con", "."];
        let files: std::collections::BTreeSet<String> = names.iter().map(|n| file(n)).collect();
        assert_eq!(files.len(), names.len());
        assert!(files.iter().all(|f| f.chars().all(|c| c.is_ascii_alphanumeric() || c == '-' || c == '_')));
    }
}
