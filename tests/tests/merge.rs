//! Many edits on each of two branches, merged by statement: no statement is lost, and no guard is loosened without a conflict.
//!
//! The text holds forty recipes of a dozen lines, every one of them told apart by its words. Each branch gets 200 edits: lines changed,
//! added, taken away, moved, with comments; keeps and guards made stronger and weaker; a senior's overrides of the house's keeps
//! written, put otherwise and withdrawn. What became of each line is looked up in the outcome as plain text, without the merge's own
//! notion of a statement.
//!
//! Few rounds are tried; with `LONG=1` fifty.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

#[path = "common/dice.rs"]
mod dice;

use coatwright::compare::{Version, compare};
use coatwright::memo::Memo;
use coatwright::merge::{Around, merge};
use coatwright_tests::{Effort, effort};
use dice::Dice;
use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;
use std::sync::Arc;

const RECIPES: usize = 40;
const EDITS: usize = 200;

fn rounds() -> u64 {
    if effort() == Effort::Long { 50 } else { 2 }
}

/// The house around them: what it keeps a senior may take back.
const HOUSE: &str =
    "house bench {\n  seniors \"head groomer\"\n  keep back no closer than #10\n  keep loin no closer than #10\n}\n";

/// The lines of each recipe. A line's first words tell what it speaks of; its last are unlike those of any other line.
type Text = Vec<Vec<String>>;

fn base() -> Text {
    (0..RECIPES)
        .map(|n| {
            vec![
                format!("title \"Recipe {n}\""),
                "version 1".to_owned(),
                "serves coat curl".to_owned(),
                "serves weight 3 kg to 30 kg".to_owned(),
                "leave whole-coat".to_owned(),
                format!("clip back with #7F with the coat because \"back {n}\""),
                format!("clip loin with #7F with the coat because \"loin {n}\""),
                format!("scissor thighs to 25 mm by shears because \"thighs {n}\""),
                format!("shape topknot to 30 mm by shears because \"topknot {n}\""),
                format!("keep ribs no closer than #10 because \"keep {n}\""),
                format!("guard redness {{\n  leave back because \"guard {n}\"\n}}"),
                format!("when weight under 6 kg {{\n  shape occiput to 18 mm by shears because \"when {n}\"\n}}"),
                over("back", &n.to_string()),
            ]
        })
        .collect()
}

/// An override, as only one reason has it.
fn over(part: &str, reason: &str) -> String {
    format!("override {part} no closer than #10 by \"head groomer\" because \"Asked for, {reason}.\"")
}

fn written(text: &Text) -> String {
    let recipe = |(n, lines): (usize, &Vec<String>)| {
        let lines: String = lines.iter().map(|l| format!("  {}\n", l.replace('\n', "\n  "))).collect();
        format!("recipe r{n} {{\n{lines}}}\n\n")
    };
    text.iter().enumerate().map(recipe).collect()
}

/// Two hundred edits. `who` tells whose they are.
fn edited(base: &Text, who: &str, dice: &mut Dice) -> Text {
    let mut text = base.clone();
    for number in 0..EDITS {
        let lines = &mut text[dice.roll(RECIPES)];
        let at = dice.roll(lines.len());
        let mm = 10 + dice.roll(30);
        match dice.roll(14) {
            0 => lines.insert(at, format!("let own{who}{number} is {mm} mm")),
            1 => lines.insert(at, format!("-- A remark of {who} {number}.\nlet said{who}{number} is {mm} mm")),
            2 => {
                let line = lines.remove(at);
                let to = dice.roll(lines.len() + 1);
                lines.insert(to, line);
            }
            3 => drop(lines.remove(at)),
            4..=7 => {
                let line = &mut lines[at];
                for (old, new) in [("25 mm", mm), ("30 mm", mm), ("18 mm", mm)] {
                    *line = line.replace(old, &format!("{new} mm"));
                }
            }
            // Blades: closer or further.
            8 | 9 => lines[at] = lines[at].replace("#7F with", ["#5F with", "#10 with", "#4F with"][dice.roll(3)]),
            // Keeps and guards: stronger, weaker.
            10 => lines[at] = lines[at].replace("than #10", ["than #7F", "than #15", "than #30"][dice.roll(3)]),
            11 if !lines.iter().any(|l| l.starts_with("override loin")) => {
                lines.insert(at, over("loin", &format!("{who}{number}")));
            }
            12 => lines[at] = lines[at].replace("Asked for, ", &format!("Asked again by {who}{number}, ")),
            _ => {
                lines[at] = lines[at].replace(
                    "leave back because",
                    ["clip back with #10 with the coat because", "leave back, loin because"][dice.roll(2)],
                )
            }
        }
    }
    text
}

/// The lines of each recipe of a text, blanks and layout aside.
fn lines_of(text: &str) -> BTreeMap<String, Vec<String>> {
    let mut out: BTreeMap<String, Vec<String>> = BTreeMap::new();
    let mut name = String::new();
    for line in text.lines().map(|l| l.split_whitespace().collect::<Vec<_>>().join(" ")) {
        if let Some(head) = line.strip_prefix("recipe ") {
            name = head.trim_end_matches(" {").to_owned();
            out.entry(name.clone()).or_default();
        } else if !line.is_empty() && line != "}" {
            out.entry(name.clone()).or_default().push(line);
        }
    }
    out
}

fn version(text: &str) -> Version {
    let house = (PathBuf::from("house.trim"), Arc::from(HOUSE));
    Version::of(vec![(PathBuf::from("all.trim"), Arc::from(text)), house], &|_| true, &mut Memo::default())
}

fn around() -> Around {
    Around { path: PathBuf::from("all.trim"), texts: vec![(PathBuf::from("house.trim"), Arc::from(HOUSE))] }
}

/// The lines that stand between no markers.
fn agreed(lines: &[String]) -> Vec<&String> {
    let mut between = false;
    let mut all = Vec::new();
    for line in lines {
        between |= line.starts_with("<<<<<<<");
        if !between {
            all.push(line);
        }
        between &= !line.starts_with(">>>>>>>");
    }
    all
}

#[test]
fn many_edits_lose_nothing() {
    let (around, base) = (around(), base());
    let (mut conflicts, mut clean, mut kept, mut taken, mut withdrawn) = (0, 0, 0, 0, 0);
    for round in 0..rounds() {
        let mut dice = Dice(round + 1);
        let (ours, theirs) = (edited(&base, "a", &mut dice), edited(&base, "b", &mut dice));
        let (b, o, t) = (written(&base), written(&ours), written(&theirs));
        for text in [&b, &o, &t] {
            assert!(grammar::errors(&grammar::parse(text)).is_empty(), "{text}");
        }
        let merged = merge(&b, &o, &t, &around).expect("all three can be read");
        conflicts += merged.conflicts.len();
        let result = lines_of(&merged.text);
        let (b, o, t) = (lines_of(&b), lines_of(&o), lines_of(&t));
        for (name, lines) in &result {
            let marked = lines.iter().any(|l| l.starts_with("<<<<<<<"));
            clean += usize::from(!marked);
            let has = |all: &BTreeMap<String, Vec<String>>, line: &String| all[name].contains(line);
            for (side, other) in [(&o, &t), (&t, &o)] {
                for line in &side[name] {
                    // Only what the other side took away or wrote otherwise may be missing.
                    let gone = has(&b, line) && !has(other, line);
                    assert!(lines.contains(line) || gone, "round {round}, {name}: {line} is lost in\n{lines:#?}");
                }
            }
            // A keep or guard that either side still has as it was stands there still, or something stronger, or between markers.
            for line in b[name].iter().filter(|l| l.starts_with("keep ") || l.contains("\"guard ")) {
                if has(&o, line) || has(&t, line) {
                    kept += 1;
                    let stronger = ["than #7F", "leave back, loin"];
                    let stands = lines.contains(line)
                        || lines.iter().any(|l| {
                            l.split(' ').next() == line.split(' ').next() && stronger.iter().any(|s| l.contains(s))
                        });
                    assert!(stands, "round {round}, {name}: {line} isn't in\n{lines:#?}");
                }
            }
            // What a senior takes back counts only where both sides have it so; who writes or rewrites one is asked.
            for line in agreed(lines).into_iter().filter(|l| l.starts_with("override ")) {
                taken += 1;
                assert!(
                    has(&o, line) && has(&t, line),
                    "round {round}, {name}: {line} came by itself into\n{lines:#?}"
                );
            }
            // One that a side withdrew, and the other left as it was, is withdrawn: that asks for more.
            for line in b[name].iter().filter(|l| l.starts_with("override ") && (has(&o, l) != has(&t, l))) {
                let gone =
                    |all: &BTreeMap<String, Vec<String>>| all[name].iter().all(|l| !l.starts_with("override back"));
                if gone(&o) || gone(&t) {
                    withdrawn += 1;
                    assert!(!agreed(lines).contains(&line), "round {round}, {name}: {line} is still in\n{lines:#?}");
                }
            }
            let once: BTreeSet<&String> = lines.iter().filter(|l| l.starts_with("let ")).collect();
            assert_eq!(once.len(), lines.iter().filter(|l| l.starts_with("let ")).count(), "{lines:#?}");
        }
        assert_eq!(result.len(), RECIPES);
        // Without markers nothing asks for less than on either side.
        if merged.conflicts.is_empty() {
            for side in [&ours, &theirs] {
                let all = compare(&version(&written(side)), &version(&merged.text), false);
                assert!(all.iter().all(|c| !c.is_looser()), "{all:#?}");
            }
        }
    }
    let rounds = usize::try_from(rounds()).unwrap();
    assert!(
        conflicts > rounds && clean > rounds && kept > 20 * rounds && taken > rounds && withdrawn > rounds,
        "{conflicts} conflicts, {clean} clean, {kept} kept, {taken} taken back, {withdrawn} withdrawn"
    );
}

/// With edits that don't meet there is no conflict at all, and the outcome is the same whoever's is ours.
#[test]
fn what_does_not_meet_merges() {
    let (around, base) = (around(), base());
    let (mut ours, mut theirs) = (base.clone(), base.clone());
    for n in 0..RECIPES {
        ours[n][5] = ours[n][5].replace("#7F", "#5F");
        ours[n].insert(5, format!("-- Ours {n}.\nlet a{n} is 9 mm"));
        theirs[n][6] = theirs[n][6].replace("#7F", "#4F");
        theirs[n][9] = theirs[n][9].replace("than #10", "than #7F");
        theirs[n].swap(3, 8);
        theirs[n].insert(6, format!("let b{n} is 9 mm"));
    }
    let merge = |o: &Text, t: &Text| merge(&written(&base), &written(o), &written(t), &around).unwrap();
    let (one, other) = (merge(&ours, &theirs), merge(&theirs, &ours));
    assert_eq!(one.conflicts, Vec::<String>::new());
    assert_eq!(other.conflicts, Vec::<String>::new());
    let sorted = |text: &str| {
        let mut all = lines_of(text);
        all.values_mut().for_each(|l| l.sort());
        all
    };
    assert_eq!(sorted(&one.text), sorted(&other.text));
    assert_eq!(one.text, grammar::format(&one.text).unwrap());
    for n in 0..RECIPES {
        let lines = &lines_of(&one.text)[&format!("r{n}")];
        for part in [format!("-- Ours {n}."), format!("let b{n} is 9 mm")] {
            assert!(lines.contains(&part), "{lines:#?}");
        }
        assert!(
            lines.iter().any(|l| l.starts_with("clip back with #5F"))
                && lines.iter().any(|l| l.starts_with("clip loin with #4F"))
        );
        assert!(lines.iter().any(|l| l.starts_with("keep ribs no closer than #7F")));
    }
    // A text merged with itself, or with its base, is itself.
    assert_eq!(merge(&ours, &ours).text, grammar::format(&written(&ours)).unwrap());
}
