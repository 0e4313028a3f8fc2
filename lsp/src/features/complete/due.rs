//! What is due at the cursor: by the braces in which it stands, then by the words of its line.

use super::{Line, Place};
use crate::features::at::{Role, of_field};
use coatwright::names::condition::BUILDS;
use coatwright::names::trade::Verb;
use grammar::tree::BlockKind;
use grammar::words::{BLOCKS, DOG_LINES, RECIPE_FIELDS, RECIPE_LINES, SHORT, VERBS, fields_of};

/// What is due at a place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Due {
    /// Words of the language.
    Words(Vec<&'static str>),
    /// Names of a kind.
    Names(Role),
    /// A tool with which work is done, that of a verb if one is said.
    Tools(Option<Verb>),
    /// A way or a tool that takes a border in.
    Blends,
    /// A blade alone.
    Blades,
}

/// What is due: by the braces, then by the line.
pub(super) fn due(place: &Place<'_>, line: &Line<'_>) -> Vec<Due> {
    let Some(kind) = place.kind else {
        let blocks = BLOCKS.iter().map(|(word, _)| *word).collect();
        return if line.words.is_empty() { vec![Due::Words(blocks)] } else { Vec::new() };
    };
    match place.inside {
        "prep" if line.words.len() <= 1 => return vec![Due::Names(Role::Step)],
        "prep" => return Vec::new(),
        "lasts" if line.words.is_empty() => return vec![Due::Names(Role::Place)],
        "lasts" => return vec![Due::Words(vec!["at most", "open"])],
        _ => {}
    }
    if line.words.is_empty() {
        return vec![Due::Words(openings(kind))];
    }
    match kind {
        BlockKind::Recipe | BlockKind::House => of_work(line),
        BlockKind::Dog => of_card(line),
        BlockKind::Case => of_case(line),
        BlockKind::Unknown => Vec::new(),
        _ if line.first() == "keep" => of_keep(line),
        _ => of_plain(kind, line),
    }
}

/// The words with which a line may begin, the verbs first.
fn openings(kind: BlockKind) -> Vec<&'static str> {
    match kind {
        BlockKind::Recipe | BlockKind::House => {
            let verbs = VERBS.iter().map(|(word, verb)| if word.starts_with("set") { verb.as_str() } else { word });
            verbs
                .chain(RECIPE_LINES.iter().copied())
                .chain(RECIPE_FIELDS.iter().copied())
                .chain(SHORT.iter().copied())
                .collect()
        }
        BlockKind::Dog => DOG_LINES.iter().copied().filter(|w| *w != "color").collect(),
        _ => fields_of(kind).to_vec(),
    }
}

const WAYS: &[&str] = &["with the coat", "in reverse", "across"];

fn of_work(line: &Line<'_>) -> Vec<Due> {
    match line.first() {
        "keep" => of_keep(line),
        "override" => of_override(line),
        "guard" => vec![Due::Names(Role::Finding)],
        "when" | "else" | "serves" => of_condition(line),
        "extends" => match line.words.len() {
            1 => vec![Due::Names(Role::Recipe)],
            2 => vec![Due::Words(vec!["from", "version"])],
            4 if line.has("from") => vec![Due::Words(vec!["version"])],
            _ => Vec::new(),
        },
        "blend" => match line.words.last().copied().unwrap_or("") {
            "by" | "with" => vec![Due::Blends],
            "over" => vec![Due::Words(vec!["one finger", "two fingers", "three fingers"])],
            "blend" | "into" | "and" => vec![Due::Names(Role::Place)],
            _ if line.has("into") && !line.comma => {
                vec![Due::Words(vec!["over", "by"]), Due::Names(Role::Place)]
            }
            _ if !line.comma => vec![Due::Words(vec!["into"]), Due::Names(Role::Place)],
            _ => vec![Due::Names(Role::Place)],
        },
        "line" if line.words.len() == 1 => vec![Due::Words(vec!["between", "from"])],
        "line" => vec![Due::Names(Role::Place)],
        "order" => vec![Due::Names(Role::Place), Due::Words(vec!["before"])],
        "first" | "last" => vec![Due::Names(Role::Place)],
        "param" | "let" => match line.words.last().copied().unwrap_or("") {
            "is" | "than" => vec![Due::Names(Role::Value)],
            _ if line.words.len() == 2 => vec![Due::Words(vec!["is"])],
            _ => Vec::new(),
        },
        "kit" => vec![Due::Names(Role::Kit)],
        "errors" => vec![Due::Names(Role::Code)],
        "lasts" if numeric(line) => vec![Due::Words(vec!["weeks", "days", "months"])],
        "lasts" => Vec::new(),
        "title" | "version" | "about" | "note" | "calls" | "prep" => Vec::new(),
        _ => of_verb(line),
    }
}

/// A line of work: zones first, then how.
fn of_verb(line: &Line<'_>) -> Vec<Due> {
    let last = line.words.last().copied().unwrap_or("");
    let clause = ["with", "by", "to", "in", "across", "twice", "once", "over", "because", "throughout"];
    // `set in` holds a word that begins a clause elsewhere.
    let skip = if line.first() == "set" || line.first() == "hand" { 2 } else { 1 };
    let after_verb = line.words.get(skip..).unwrap_or(&[]);
    let said = after_verb.iter().any(|w| clause.contains(w));
    if after_verb.is_empty() {
        return if skip == 2 && line.words.len() == 1 {
            vec![Due::Words(vec!["in"])]
        } else {
            vec![Due::Names(Role::Place)]
        };
    }
    match last {
        "with" => return vec![Due::Tools(verb(line)), Due::Words(vec!["the coat"])],
        "by" => return vec![Due::Tools(verb(line))],
        _ if said && numeric(line) => {
            let number = line.words.len().saturating_sub(2);
            return match line.words.get(number).copied() {
                Some("by" | "with") => vec![Due::Words(vec!["mm comb"])],
                Some("to") => vec![Due::Words(vec!["mm", "cm", "inch"])],
                _ => Vec::new(),
            };
        }
        "over" if line.has("comb") => return vec![Due::Blades],
        "over" => return Vec::new(),
        "to" => return vec![Due::Names(Role::Value)],
        "in" => return vec![Due::Words(vec!["reverse"])],
        "at" | "except" | "left" | "right" => return vec![Due::Names(Role::Place)],
        "and" | "or" if !said => return vec![Due::Names(Role::Place)],
        _ => {}
    }
    if line.comma {
        return if said {
            vec![Due::Names(Role::Manner), Due::Words(vec!["one pass", "two passes"])]
        } else {
            vec![Due::Names(Role::Place)]
        };
    }
    let mut words = vec!["to", "with", "by"];
    words.extend(WAYS);
    words.extend(["twice", "throughout", "because"]);
    if said {
        return vec![Due::Words(words)];
    }
    words.push("except");
    vec![Due::Words(words), Due::Names(Role::Place)]
}

/// The verb with which a line begins.
fn verb(line: &Line<'_>) -> Option<Verb> {
    let first = line.first();
    VERBS.iter().find(|(word, _)| *word == first || word.split(['-', ' ']).next() == Some(first)).map(|(_, verb)| *verb)
}

/// Whether a line ends in a number.
fn numeric(line: &Line<'_>) -> bool {
    line.words.last().is_some_and(|last| last.chars().all(|c| c.is_ascii_digit() || "./½¼¾–-".contains(c)))
}

fn of_keep(line: &Line<'_>) -> Vec<Due> {
    const BOUNDS: &[&str] = &[
        "no closer than",
        "no shorter than",
        "at most",
        "at least",
        "gap fine",
        "untouched",
        "never",
        "only",
        "never in reverse",
        "with the coat",
        "one pass",
        "first",
        "last",
        "open",
        "refer",
        "in short turns",
    ];
    match line.words.last().copied().unwrap_or("") {
        "never" | "only" => {
            vec![Due::Tools(None), Due::Words(vec!["clipper", "comb", "shears", "in reverse"]), Due::Names(Role::Step)]
        }
        "than" => vec![Due::Blades, Due::Names(Role::Value)],
        "most" | "least" => vec![Due::Names(Role::Value)],
        "gap" => vec![Due::Words(vec!["fine", "medium", "open", "skip"])],
        "keep" | "override" => vec![Due::Names(Role::Place), Due::Words(BOUNDS.to_vec())],
        _ => vec![Due::Words(BOUNDS.to_vec()), Due::Names(Role::Place)],
    }
}

/// A keep, then who answers for it and why.
fn of_override(line: &Line<'_>) -> Vec<Due> {
    let mut due = of_keep(line);
    if line.words.len() > 2 {
        due.push(Due::Words(vec!["by", "because"]));
    }
    due
}

fn of_condition(line: &Line<'_>) -> Vec<Due> {
    let subjects = ["coat", "build", "sex", "weight", "height", "age", "mats", "finding", "without"];
    let subject = line.words.iter().rev().copied().find(|w| subjects.contains(w)).unwrap_or("");
    let last = line.words.last().copied().unwrap_or("");
    let fresh = [line.first(), "when"].contains(&last);
    let mut all = match subject {
        _ if fresh => Vec::new(),
        "coat" if last == "coat" || line.comma || last == "or" => vec![Due::Names(Role::Coat)],
        "finding" | "without" => vec![Due::Names(Role::Finding)],
        "mats" if last == "to" => vec![Due::Words(vec!["tangles", "knots", "tight", "pelted"])],
        "mats" => vec![Due::Words(vec!["up to"])],
        "build" => vec![Due::Words(BUILDS.to_vec())],
        "sex" => vec![Due::Words(vec!["dog", "bitch"])],
        "weight" | "height" | "age" if last == subject => {
            return vec![Due::Words(vec!["under", "over", "from", "up to"])];
        }
        _ => Vec::new(),
    };
    if fresh || line.comma || last == "and" {
        all.push(Due::Words(subjects.to_vec()));
        if line.first() != "serves" {
            all.push(Due::Names(Role::Finding));
        }
    }
    all
}

fn of_card(line: &Line<'_>) -> Vec<Due> {
    let last = line.words.last().copied().unwrap_or("");
    match (line.first(), last) {
        (_, "on") | ("coat", "left" | "right") => vec![Due::Names(Role::Place)],
        (_, "after") => vec![Due::Blades],
        ("coat", "undercoat") => vec![Due::Words(vec!["none", "some", "heavy"])],
        ("coat", "coat") => vec![Due::Names(Role::Coat)],
        ("coat", _) => vec![Due::Words(vec!["undercoat", "on"])],
        ("finding", "finding") => vec![Due::Names(Role::Finding), Due::Words(vec!["other"])],
        ("finding", _) if line.has("on") && line.comma => vec![Due::Names(Role::Place)],
        ("finding", _) => vec![Due::Words(vec!["on", "after", "seen", "in reverse"])],
        ("mats", "mats") => vec![Due::Words(vec!["tangle", "knot", "tight", "pelted"])],
        ("mats", _) => vec![Due::Words(vec!["on"])],
        ("wants", "wants") => vec![Due::Names(Role::Recipe)],
        ("wants", _) => vec![Due::Words(vec!["but"])],
        ("sex", _) => vec![Due::Words(vec!["dog", "bitch", "neutered", "spayed", "entire"])],
        ("build", _) => vec![Due::Words(BUILDS.to_vec())],
        ("consent", _) => vec![Due::Words(vec!["clip-off", "jacket-clip", "yes", "no"])],
        _ => Vec::new(),
    }
}

fn of_case(line: &Line<'_>) -> Vec<Due> {
    let last = line.words.last().copied().unwrap_or("");
    match (line.first(), last) {
        ("recipe", _) => vec![Due::Names(Role::Recipe)],
        ("given", "given") => vec![Due::Words(vec!["dog"])],
        ("given", _) => vec![Due::Names(Role::Dog)],
        ("expect", "expect") => vec![Due::Names(Role::Place), Due::Words(vec!["message", "no message", "takes"])],
        ("expect", "message") => vec![Due::Names(Role::Code)],
        ("expect", "with" | "by") => vec![Due::Tools(None)],
        ("expect", _) if line.has("takes") => Vec::new(),
        ("expect", "on") => vec![Due::Names(Role::Place)],
        ("expect", _) if line.has("message") => vec![Due::Words(vec!["on"])],
        ("expect", _) => {
            let verbs = VERBS.iter().map(|(_, verb)| verb.as_str());
            vec![Due::Words(verbs.chain(["left longer", "left", "referred", "with", "to"]).collect())]
        }
        _ => Vec::new(),
    }
}

fn of_plain(kind: BlockKind, line: &Line<'_>) -> Vec<Due> {
    if line.first() == "calls" {
        return Vec::new();
    }
    match (kind, line.first(), of_field(kind, line.first())) {
        (_, _, Some(Role::Tool)) => vec![Due::Tools(None)],
        (_, _, Some(role)) => vec![Due::Names(role)],
        (BlockKind::Finding, "reply", _) => vec![Due::Words(vec!["raise", "leave", "refer", "answer"])],
        (BlockKind::Finding, "vet", _) => vec![Due::Words(vec!["now", "note"])],
        (BlockKind::Tool, "kind", _) => vec![Due::Words(vec![
            "blade", "comb", "shears", "thinners", "knife", "rake", "carder", "brush", "clipper", "dryer", "hand",
            "nails",
        ])],
        (BlockKind::Tool, "gap", _) => vec![Due::Words(vec!["fine", "medium", "open", "skip"])],
        (BlockKind::Zone, "skin", _) => vec![Due::Words(vec!["flat", "thin", "fold", "edge"])],
        (BlockKind::Zone, "station", _) => vec![Due::Words(vec!["head", "front", "side", "under", "rear"])],
        _ => Vec::new(),
    }
}
