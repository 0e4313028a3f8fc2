//! How a line goes on: its parts in their order, and at which of them the cursor is.

use super::complete::Line;
use crate::around::Here;
use grammar::words::VERBS;

/// A line's form.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Form {
    /// The whole form.
    pub words: String,
    /// The parts, as bytes of the form.
    pub parts: Vec<(usize, usize)>,
    /// At which part the cursor is.
    pub now: Option<usize>,
}

/// Lines by their first word: the word, and each part with the words that begin it.
type Known = (&'static str, &'static [(&'static str, &'static [&'static str])]);

const WORK: &[(&str, &[&str])] = &[
    ("ZONES", &["except", "and", "left", "right"]),
    ("to LENGTH", &["to"]),
    ("with TOOL", &["with", "by", "comb"]),
    ("in reverse", &["in", "across"]),
    (", WAY OF WORKING", &[]),
    ("because \"REASON\"", &["because"]),
];

const LINES: &[Known] = &[
    (
        "blend",
        &[("ZONES", &[]), ("into ZONES", &["into"]), ("over ROOM", &["over"]), ("by TOOL or MOTION", &["by", "with"])],
    ),
    ("line", &[("between ZONES", &["between"]), ("and ZONES", &["and"])]),
    (
        "keep",
        &[
            ("ZONES", &["and"]),
            (
                "BOUND, such as no closer than #10",
                &[
                    "no",
                    "closer",
                    "shorter",
                    "than",
                    "at",
                    "most",
                    "least",
                    "never",
                    "only",
                    "gap",
                    "untouched",
                    "with",
                    "one",
                    "in",
                ],
            ),
        ],
    ),
    (
        "override",
        &[
            ("ZONES", &["and"]),
            ("BOUND, as the keep is written", &["no", "at", "never", "only", "gap", "untouched", "with", "one", "in"]),
            ("by \"WHO ANSWERS FOR IT\"", &["by"]),
            ("because \"REASON\"", &["because"]),
        ],
    ),
    ("order", &[("ZONES", &[]), ("before ZONES", &["before"])]),
    ("guard", &[("FINDING, FINDING", &[]), ("{ ANSWER; keep BOUND }", &[])]),
    ("when", &[("CONDITION, such as weight under 6 kg", &[]), ("{ WORK }", &[])]),
    ("serves", &[("coat A, B or C, weight RANGE, mats up to GRADE", &[])]),
    ("extends", &[("RECIPE", &[]), ("from \"FOLDER\"", &["from"]), ("version NUMBER", &["version"])]),
    ("param", &[("NAME", &[]), ("is VALUE", &["is"]), (", within RANGE", &["within"])]),
    ("let", &[("NAME", &[]), ("is VALUE", &["is"])]),
    ("lasts", &[("TIME", &[]), ("{ ZONES at most LENGTH }", &[])]),
    (
        "finding",
        &[("NAME", &[]), ("on ZONES", &["on"]), ("after TOOL", &["after", "in", "reverse"]), ("seen DATE", &["seen"])],
    ),
    ("coat", &[("NAME", &[]), ("on ZONES", &["on"]), (", undercoat AMOUNT", &["undercoat"]), (", LENGTH", &[])]),
    ("mats", &[("GRADE", &[]), ("on ZONES", &["on"]), (", LENGTH off the skin", &["off"])]),
    ("wants", &[("RECIPE", &[]), ("but { CHANGES }", &["but"])]),
    ("expect", &[("ZONES", &[]), ("VERB or left longer", &["left", "referred"]), ("with TOOL", &["with", "by", "to"])]),
];

/// The form of the line at a byte.
#[must_use]
pub fn form(here: &Here<'_>, at: u32) -> Option<Form> {
    let line = Line::before(here.text().get(..at as usize)?)?;
    here.block(at)?;
    let first = line.words.first().copied()?;
    let two = line.words.get(..2).map(|w| w.join("-")).unwrap_or_default();
    let verb = VERBS.iter().find(|(word, _)| *word == first || *word == two);
    let (opening, skip, parts) = match verb {
        // Nothing follows what is left.
        Some((word, verb)) if *word == "leave" => (verb.as_str(), 1, WORK.get(..1)?),
        Some((word, verb)) => (verb.as_str(), if *word == first { 1 } else { 2 }, WORK),
        None => {
            let (word, parts) = LINES.iter().find(|(word, _)| *word == first)?;
            (*word, 1, *parts)
        }
    };
    let mut form = Form { words: opening.to_owned(), parts: Vec::new(), now: None };
    for (part, _) in parts {
        if !part.starts_with(',') {
            form.words.push(' ');
        }
        let start = form.words.len();
        form.words.push_str(part);
        form.parts.push((start, form.words.len()));
    }
    // The last word that begins a part says where one is; a comma after the tool leads to the ways of working.
    let said = line.words.get(skip..).unwrap_or(&[]);
    let begun = said.iter().rev().find_map(|w| parts.iter().position(|(_, words)| words.contains(w)));
    let manner = parts.iter().position(|(part, _)| part.starts_with(", WAY"));
    form.now = match (begun, manner) {
        (Some(at), Some(manner)) if at > 0 && line.comma => Some(manner),
        (Some(at), _) => Some(at),
        (None, _) => Some(0),
    };
    Some(form)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::around::tests::with;

    fn now(marked: &str) -> String {
        let mut out = String::new();
        with(marked, "", |here, at| {
            if let Some(form) = form(here, at) {
                let part = form.now.and_then(|n| form.parts.get(n)).and_then(|(a, b)| form.words.get(*a..*b));
                out = part.unwrap_or_default().to_owned();
            }
        });
        out
    }

    #[test]
    fn the_part_at_the_cursor_is_known() {
        assert_eq!(now("recipe t {\n  clip |\n}"), "ZONES");
        assert_eq!(now("recipe t {\n  clip belly, neck |\n}"), "ZONES");
        assert_eq!(now("recipe t {\n  clip belly with |\n}"), "with TOOL");
        assert_eq!(now("recipe t {\n  set in legs by |\n}"), "with TOOL");
        assert_eq!(now("recipe t {\n  clip belly with #10 in |\n}"), "in reverse");
        assert_eq!(now("recipe t {\n  clip belly with #10, |\n}"), ", WAY OF WORKING");
        assert_eq!(now("recipe t {\n  blend neck into |\n}"), "into ZONES");
        assert_eq!(now("dog d {\n  finding wart on |\n}"), "on ZONES");
        assert_eq!(now("recipe t {\n  leave ears |\n}"), "ZONES");
        assert_eq!(now("recipe t {\n  title |\n}"), "");
        assert_eq!(now("recipe t {\n  -- clip |\n}"), "");
    }
}
