//! What changed, for a terminal, a review and a program.

use super::{Change, Compared, Rank, Status};
use crate::diagnostic::render::Look;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt::Write as _;

/// A recipe as `diff --format json` writes it, one a line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(title = "Coatwright difference")]
pub struct DiffJson {
    /// The recipe, or the house.
    pub name: String,
    /// Whether it is a house, with what it adds to the basics.
    pub house: bool,
    /// What it was called, if otherwise.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub was: Option<String>,
    /// Its file now; of what is gone, where it was.
    pub file: String,
    /// The file that it was in, if another.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub was_in: Option<String>,
    /// `same`, `changed`, `new`, `gone` or `unreadable`.
    pub status: String,
    /// The mistake that keeps one of the two from being read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub why: Option<String>,
    /// The version that the old text names.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub version_before: Option<i64>,
    /// The version that the new text names.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub version_now: Option<i64>,
    /// Whether words of it, or of what it builds on, are other ones.
    pub reworded: bool,
    /// What changed on the dog, the gravest first.
    pub changes: Vec<ChangeJson>,
}

/// A change.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct ChangeJson {
    /// `looser`, `closer`, `wider teeth`, `shorter`, `rougher`, `more dogs`, `other`, `longer`, `gentler`, `tighter` or `fewer dogs`.
    pub kind: String,
    /// What it is about: parts of the dog, or a line of the recipe.
    pub what: String,
    /// How it was.
    pub before: String,
    /// How it is now.
    pub now: String,
    /// Whether it is so on every dog that is served.
    pub on_every_dog: bool,
    /// The dog for which it is largest, in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dog: Option<String>,
    /// The same as a card to try.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub card: Option<String>,
}

const fn status(status: &Status) -> &'static str {
    match status {
        Status::Same => "same",
        Status::Changed(_) => "changed",
        Status::New => "new",
        Status::Gone => "gone",
        Status::Unreadable(_) => "unreadable",
    }
}

impl DiffJson {
    /// A recipe that was compared.
    #[must_use]
    pub fn of(one: &Compared) -> Self {
        let change = |c: &Change| ChangeJson {
            kind: c.rank.word().to_owned(),
            what: c.what.clone(),
            before: c.old.clone(),
            now: c.new.clone(),
            on_every_dog: c.on_all,
            dog: c.whom.clone(),
            card: c.dog.clone(),
        };
        Self {
            name: one.name.to_string(),
            house: one.house,
            was: one.was.as_ref().map(ToString::to_string),
            file: one.file.clone(),
            was_in: one.was_in.clone(),
            status: status(&one.status).to_owned(),
            why: if let Status::Unreadable(why) = &one.status { Some(why.clone()) } else { None },
            version_before: one.versions.0,
            version_now: one.versions.1,
            reworded: one.reworded,
            changes: one.changes().iter().map(change).collect(),
        }
    }
}

/// One JSON object a recipe and line.
///
/// # Errors
/// What can't be written as JSON.
pub fn json(all: &[Compared]) -> Result<String, serde_json::Error> {
    all.iter().map(|one| serde_json::to_string(&DiffJson::of(one)).map(|line| line + "\n")).collect()
}

/// Whether two changes are one, whatever dogs they are shown on.
fn same(a: &Change, b: &Change) -> bool {
    (a.rank, &a.what, &a.old, &a.new) == (b.rank, &b.what, &b.old, &b.new)
}

/// What is told of recipes: those on which just the same changed together, and what changed in their house already only there.
struct Group<'c> {
    of: Vec<&'c Compared>,
    changes: Vec<&'c Change>,
    /// Of a house: the recipes on which one of its changes shows.
    touches: Vec<&'c str>,
}

/// The groups, the gravest first. Recipes that read and stay as they were are left out.
fn grouped(all: &[Compared]) -> Vec<Group<'_>> {
    let houses: Vec<&Compared> = all.iter().filter(|c| c.house).collect();
    let told = |one: &Compared, change: &Change| {
        !one.house && houses.iter().any(|h| h.changes().iter().any(|c| same(c, change)))
    };
    let mut groups: Vec<Group<'_>> = Vec::new();
    for one in all.iter().filter(|c| c.status != Status::Same || c.reworded || c.was.is_some()) {
        let changes: Vec<&Change> = one.changes().iter().filter(|c| !told(one, c)).collect();
        let changed = matches!(one.status, Status::Changed(_));
        if changed && changes.is_empty() {
            continue;
        }
        let alike = |g: &&mut Group<'_>| {
            changed
                && !one.house
                && g.of.first().is_some_and(|first| !first.house && matches!(first.status, Status::Changed(_)))
                && g.changes.len() == changes.len()
                && g.changes.iter().zip(&changes).all(|(a, b)| same(a, b))
        };
        match groups.iter_mut().find(alike) {
            Some(group) => group.of.push(one),
            None => {
                let touched =
                    |c: &&Compared| one.house && c.changes().iter().any(|c| changes.iter().any(|o| same(o, c)));
                let touches = all.iter().filter(|c| !c.house).filter(touched).map(|c| c.name.as_str()).collect();
                groups.push(Group { of: vec![one], changes, touches });
            }
        }
    }
    let house = |g: &Group<'_>| g.of.first().is_some_and(|c| c.house);
    groups.sort_by_key(|g| (!house(g), g.changes.first().map_or(Rank::Other, |c| c.rank)));
    groups
}

/// `harbour-short, was dune, version 4 to 5 (short.trim)`.
fn heading(one: &Compared) -> String {
    let mut words = if one.house { format!("house {}", one.name) } else { one.name.to_string() };
    if let Some(was) = &one.was {
        let _ = write!(words, ", was {was}");
    }
    match one.versions {
        (Some(a), Some(b)) if a != b => {
            let _ = write!(words, ", version {a} to {b}");
        }
        _ => {}
    }
    let _ = match &one.was_in {
        Some(was) => write!(words, " ({}, was in {was})", one.file),
        None => write!(words, " ({})", one.file),
    };
    words
}

/// For a terminal.
#[must_use]
pub fn text(all: &[Compared], look: Look) -> String {
    let mut out = String::new();
    let tint =
        |code: &str, words: &str| if look.colour { format!("\x1b[{code}m{words}\x1b[0m") } else { words.to_owned() };
    for group in grouped(all) {
        for one in &group.of {
            let _ = writeln!(out, "{}", tint("1", &heading(one)));
        }
        let Some(first) = group.of.first() else { continue };
        match &first.status {
            Status::New => out.push_str("  new\n"),
            Status::Gone => out.push_str("  gone\n"),
            Status::Unreadable(why) => out.push_str(&wrapped("unreadable", why, look.width)),
            Status::Same => out.push_str("  the same trim on every dog\n"),
            Status::Changed(_) => {}
        }
        for change in &group.changes {
            let colour = match change.rank {
                Rank::Looser | Rank::Closer | Rank::WiderTeeth => "31",
                Rank::Shorter | Rank::Rougher | Rank::MoreDogs => "33",
                _ => "36",
            };
            let lines = wrapped(change.rank.word(), &sentence(change), look.width);
            let word = change.rank.word();
            out.push_str(&lines.replacen(word, &tint(colour, word), 1));
        }
        if !group.touches.is_empty() {
            out.push_str(&wrapped("shows on", &group.touches.join(", "), look.width));
        }
        out.push('\n');
    }
    out
}

impl Change {
    /// In a sentence, without the dog: `belly: clip with #10 -> clip with #15`.
    #[must_use]
    pub fn sentence(&self) -> String {
        let Self { what, old, new, .. } = self;
        if what.ends_with(old.as_str()) || what.contains(&format!("{old},")) {
            // The line itself says how it was.
            format!("{what} -> {new}")
        } else if what.starts_with("keep ") {
            format!("{what} (before: {old})")
        } else {
            format!("{what}: {old} -> {new}")
        }
    }
}

/// The sentence with the dog.
fn sentence(change: &Change) -> String {
    let mut words = change.sentence();
    match (&change.whom, change.on_all) {
        (Some(whom), true) if change.size > 0 => {
            let _ = write!(words, ". On every dog, most on {whom}");
        }
        (Some(_), true) => words.push_str(". On every dog"),
        (Some(whom), false) => {
            let _ = write!(words, ". The dog: {whom}");
        }
        (None, _) => {}
    }
    words
}

fn wrapped(word: &str, words: &str, width: usize) -> String {
    let first = format!("  {word:<12} ");
    let rest = " ".repeat(15);
    let options = textwrap::Options::new(width).initial_indent(&first).subsequent_indent(&rest);
    textwrap::fill(words, options) + "\n"
}

/// For a review: a table a recipe, with the dogs to unfold.
#[must_use]
pub fn markdown(all: &[Compared]) -> String {
    let mut out = String::new();
    let cell = |words: &str| words.replace('|', "\\|").replace('\n', " ");
    for group in grouped(all) {
        let names: Vec<String> = group.of.iter().map(|one| heading(one)).collect();
        let _ = writeln!(out, "### {}\n", names.join("; "));
        let Some(first) = group.of.first() else { continue };
        match &first.status {
            Status::New => out.push_str("New.\n\n"),
            Status::Gone => out.push_str("Gone.\n\n"),
            Status::Unreadable(why) => {
                let _ = writeln!(out, "Can't be compared: {why}\n");
            }
            Status::Same => out.push_str("The same trim on every dog.\n\n"),
            Status::Changed(_) => {}
        }
        if group.changes.is_empty() {
            continue;
        }
        out.push_str("| | where | before | now | the dog |\n| --- | --- | --- | --- | --- |\n");
        for change in &group.changes {
            let kind = if change.rank.is_grave() {
                format!("**{}**", change.rank.word())
            } else {
                change.rank.word().to_owned()
            };
            let on = match (&change.whom, change.on_all) {
                (Some(whom), true) if change.size > 0 => format!("every dog, most on {whom}"),
                (_, true) => "every dog".to_owned(),
                (Some(whom), false) => whom.clone(),
                (None, false) => String::new(),
            };
            let _ = writeln!(
                out,
                "| {kind} | {} | {} | {} | {} |",
                cell(&change.what),
                cell(&change.old),
                cell(&change.new),
                cell(&on)
            );
        }
        let mut cards: Vec<&str> = group.changes.iter().filter_map(|c| c.dog.as_deref()).collect();
        cards.dedup();
        if !cards.is_empty() {
            out.push_str("\n<details><summary>The dogs as cards</summary>\n\n```trim\n");
            out.push_str(&super::cards(&cards));
            out.push_str("```\n\n</details>\n");
        }
        if !group.touches.is_empty() {
            let _ = writeln!(out, "\nShows on {}.", group.touches.join(", "));
        }
        out.push('\n');
    }
    let same = all.iter().filter(|c| c.status == Status::Same).count();
    if same > 0 {
        let _ = writeln!(out, "{same} recipe{} the same trim on every dog.", if same == 1 { " is" } else { "s are" });
    }
    out
}
