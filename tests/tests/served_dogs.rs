//! Where `check` is silent, no served dog is let down: tens of thousands of random cards for the recipes of the demo and for random
//! recipes on which `check` is silent, each through finishes, rules and the independent check.
//!
//! * No error: no sheet is refused for the recipe's sake.
//! * No step that shows and that the recipe made (J001), and nothing out of shape today or before the next visit (U001 to U003).
//! * No breach by the independent check, which reads the trees anew.
//! * No finding more that brings an edge closer (S4).
//!
//! A card has any coat that is served (and another one on some part), any weight, height, age, build and sex that is served, up to
//! four findings anywhere, mats, lengths and consents. Choices are built once a recipe. A thousand cards are
//! tried, with `MANY=1` 50 000, with `LONG=1` a million. What fails is printed with every line of the card that isn't
//! needed taken away.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

mod common;
#[path = "common/dice.rs"]
mod dice;
#[path = "common/dogs.rs"]
mod dogs;
#[path = "common/recipes.rs"]
mod recipes;

use coatwright::check::{chain, check, units};
use coatwright::choices::{self, Choices};
use coatwright::diagnostic::Severity;
use coatwright::finish::{Finish, Finishes, Outcome, Stroke, finish};
use coatwright::names::card::{self, Dog};
use coatwright::names::condition::Bounds;
use coatwright::names::lower::Decl;
use coatwright::names::trade::{ToolKind, Trade, Where};
use coatwright::rules::on_dog;
use coatwright::source::FileId;
use coatwright::verify::{Case, Done, Pass, Text, verify};
use coatwright::workspace::{Salon, Workspace};
use coatwright_tests::{Effort, effort};
use dice::Dice;
use dogs::{demo, today};
use grammar::tree::{File, Stmt};
use proptest::strategy::{Strategy, ValueTree};
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use std::collections::BTreeMap;
use std::fmt::Write;
use std::sync::OnceLock;

/// How many cards are tried in each of the two tests.
fn many() -> u32 {
    match effort() {
        Effort::Quick => 600,
        Effort::Many => 25_000,
        Effort::Long => 500_000,
    }
}

/// A recipe with all that a card is tried against.
struct Tried<'w> {
    name: String,
    text: String,
    salon: &'w Salon<'w>,
    trade: Vec<Text<'w>>,
    chain: Vec<(u32, u32, &'w [Stmt])>,
    houses: Vec<u64>,
    choices: Choices,
}

fn basics() -> &'static [File] {
    static BASICS: OnceLock<Vec<File>> = OnceLock::new();
    BASICS.get_or_init(|| coatwright::basics::TEXTS.iter().map(|(_, text)| grammar::parse(text)).collect())
}

/// The recipes of a salon that serve dogs.
fn recipes_of(workspace: &'static Workspace, salon: &'static Salon<'static>, text: &str) -> Vec<Tried<'static>> {
    let blocks = |file: &'static File| file.blocks.iter().map(|p| (p.at, &p.block.block)).collect();
    let mut trade: Vec<Text<'static>> =
        (0_u32..).zip(basics()).map(|(file, f)| Text { file, blocks: blocks(f) }).collect();
    trade.extend(workspace.files().iter().map(|f| Text { file: f.id.0, blocks: blocks(f.tree()) }));
    let mut out = Vec::new();
    for (name, decl) in salon.recipes.iter() {
        let layers = chain(salon, decl, &mut Vec::new());
        let choices = choices::build(&layers, &salon.trade, units(&salon.trade), &mut Vec::new());
        if !choices.serves.is_always() {
            let chain = layers.iter().map(|l| (l.decl.file.0, l.decl.at, l.stmts)).collect();
            let houses = layers.iter().map(|l| l.houses.0).collect();
            let (name, text) = (name.to_string(), text.to_owned());
            out.push(Tried { name, text, salon, trade: trade.clone(), chain, houses, choices });
        }
    }
    out
}

/// Random recipes on which `check` has nothing to say, each with a condition or a guard.
fn silent_recipes() -> &'static [Tried<'static>] {
    static SILENT: OnceLock<Vec<Tried<'static>>> = OnceLock::new();
    SILENT.get_or_init(|| {
        let mut runner = TestRunner::new_with_rng(Config::default(), TestRng::deterministic_rng(RngAlgorithm::ChaCha));
        let mut out = Vec::new();
        for _ in 0..4_000 {
            let text = recipes::a_recipe().new_tree(&mut runner).unwrap().current().text();
            if !text.contains("  when ") && !text.contains("  guard ") {
                continue;
            }
            let workspace = common::workspace(vec![("h/short.trim".into(), text.clone())]);
            if check(&workspace).is_empty() {
                let workspace: &'static Workspace = Box::leak(Box::new(workspace));
                let salon: &'static Salon<'static> = Box::leak(Box::new(workspace.salons().remove(0)));
                out.extend(recipes_of(workspace, salon, &text));
                if out.len() == 40 {
                    return out;
                }
            }
        }
        panic!("only {} random recipes are silent", out.len());
    })
}

/// A value inside some bounds, now and then at their ends and at the ends that other conditions have.
fn inside(bounds: &Bounds, grid: i64, low: i64, high: i64, dice: &mut Dice) -> i64 {
    let low = bounds.low.map_or(low, |(v, out)| v + if out { grid } else { 0 });
    let high = bounds.high.map_or(high, |(v, out)| v - if out { grid } else { 0 });
    match dice.roll(8) {
        0 => low,
        1 => high,
        // Where conditions of random recipes begin and end.
        2 => (*dice.of(&[5_900, 6_000, 6_100, 9_000, 9_100, 12_000])).clamp(low, high),
        _ => (dice.between(low, high) / grid * grid).clamp(low, high),
    }
}

/// A card of a dog that the recipe serves, line by line.
fn card_lines(tried: &Tried<'_>, dice: &mut Dice) -> Vec<String> {
    let trade = &tried.salon.trade;
    let serves = &tried.choices.serves;
    let coats: Vec<&str> = match &serves.coats {
        Some(any) => any.iter().map(|c| trade.coat(*c).unwrap().name.as_str()).collect(),
        None => trade.coats.iter().map(|c| c.name.as_str()).collect(),
    };
    let zone = |dice: &mut Dice| {
        let zone = dice.of(&trade.zones);
        let side = if zone.paired { *dice.of(&["", "left ", "right "]) } else { "" };
        format!("{side}{}", zone.name)
    };
    let mut lines = Vec::new();
    let sex = serves.sex.map_or_else(|| *dice.of(&["dog", "bitch"]), |s| if s as u8 == 0 { "dog" } else { "bitch" });
    lines.push(format!("sex {sex}"));
    let builds = ["square", "long", "deep-chested", "short-faced"];
    let build = match &serves.builds {
        Some(any) => dice.of(any).as_str(),
        None => *dice.of(&builds),
    };
    lines.push(format!("build {build}"));
    lines.push(format!("coat {}, {} mm", dice.of(&coats), dice.of(&[20, 45, 70])));
    let grams = inside(&serves.weight, 100, 1_500, 60_000, dice);
    lines.push(format!("weight {}.{} kg", grams / 1000, grams % 1000 / 100));
    let cm = inside(&serves.height, 10_000_000, 150_000_000, 800_000_000, dice) / 10_000_000;
    lines.push(format!("height {cm} cm"));
    lines.push(format!("born {}-{:02}", dice.of(&[2026, 2025, 2024, 2022, 2019, 2015, 2013]), 1 + dice.roll(11)));
    if dice.roll(4) == 0 {
        lines.push(format!("coat {} on {}", dice.of(&coats), zone(dice)));
    }
    for _ in 0..dice.roll(5) {
        let finding = dice.of(&trade.findings);
        let mut line = format!("finding {}", finding.name);
        if finding.on == Where::Card {
            let places: Vec<String> = (0..=dice.roll(3)).map(|_| zone(dice)).collect();
            line = format!("{line} on {}", places.join(", "));
        }
        if finding.by_tool && dice.roll(4) > 0 {
            let blades: Vec<&str> = trade
                .tools
                .iter()
                .filter(|t| t.kind == ToolKind::Blade && t.name.starts_with('#'))
                .map(|t| t.name.as_str())
                .collect();
            line = format!("{line} after {}{}", dice.of(&blades), dice.of(&["", " in reverse", " across"]));
        }
        lines.push(line);
    }
    // What the recipe itself speaks of comes up more often than all the rest.
    let spoken: Vec<_> = tried.choices.finishes.iter().filter_map(|c| c.finding.map(|f| (f, c.sites))).collect();
    for _ in 0..if spoken.is_empty() { 0 } else { dice.roll(3) } {
        let (finding, sites) = *dice.of(&spoken);
        let finding = trade.finding(finding).unwrap();
        let zones: Vec<&str> = trade.zones.iter().filter(|z| z.sites().meets(sites)).map(|z| z.name.as_str()).collect();
        lines.push(match finding.on {
            Where::Card => format!("finding {} on {}", finding.name, dice.of(&zones)),
            _ => format!("finding {}", finding.name),
        });
    }
    for _ in 0..dice.roll(6).saturating_sub(3) {
        let off = dice.of(&["", ", 4 mm off the skin", ", 8 mm off the skin", ", 20 mm off the skin"]);
        lines.push(format!("mats {} on {}{off}", dice.of(&["tangle", "knots", "tight", "pelted"]), zone(dice)));
    }
    if dice.roll(2) == 0 {
        lines.push(format!("consent clip-off {}", dice.of(&["yes", "no"])));
    }
    if dice.roll(30) == 0 {
        lines.push(format!("finding other \"blue spot\" on {}", zone(dice)));
    }
    lines
}

/// What is done at each site, as the independent check wants it told.
fn done(finishes: &Finishes, trade: &Trade) -> Vec<Done> {
    let mut out = Vec::new();
    for finish in &finishes.all {
        let (zone, side) = trade.zone_of(finish.site).unwrap();
        let mut add = |stroke: &Stroke, pass: Pass| {
            let name = |id| trade.tool(id).unwrap().name.clone();
            out.push(Done {
                zone: zone.name.clone(),
                side,
                tool: stroke.tool.map(name),
                over: stroke.over.map(name),
                direction: stroke.direction,
                passes: stroke.passes,
                length: stroke.leaves.map(|l| l.low.0),
                order: u32::from(pass == Pass::Finish),
                pass,
            });
        };
        finish.rough.iter().for_each(|s| add(s, Pass::Rough));
        add(&finish.fine, Pass::Finish);
    }
    out
}

fn text_of(lines: &[String]) -> String {
    format!("dog any {{\n  {}\n  seen 2026-11-20\n}}\n", lines.join("\n  "))
}

/// The dog of a card, if the recipe serves it.
fn dog_of(tried: &Tried<'_>, text: &str, file: &File) -> Option<Dog> {
    assert!(grammar::errors(file).is_empty(), "{text}\n{:?}", grammar::errors(file));
    let trade = &tried.salon.trade;
    let decl = Decl { file: FileId(9_999), at: 0, block: &file.blocks[0].block.block };
    let dog = card::read(decl, trade, units(trade), Some(today()), &mut Vec::new());
    let whole = dog.coat.is_some() && dog.weight.is_some() && dog.sex.is_some();
    (whole && trade.all_sites().iter().all(|site| tried.choices.serves.holds(&dog, site))).then_some(dog)
}

/// How a card fares: not served, or what is wrong with it.
fn wrong(tried: &Tried<'_>, lines: &[String]) -> Option<Vec<String>> {
    let text = text_of(lines);
    let file = grammar::parse(&text);
    let (trade, dog) = (&tried.salon.trade, dog_of(tried, &text, &file)?);
    let block = &file.blocks[0].block.block;
    let mut said = Vec::new();
    let finishes = finish(&tried.choices, trade, &dog, &mut said);
    on_dog(&tried.choices, trade, &dog, &finishes, &mut said);
    let looks = |code: &str| code == "J001" || code.starts_with('U');
    let refused = said.iter().filter(|d| d.severity == Severity::Error || looks(d.code));
    let mut out: Vec<String> = refused.map(|d| format!("{} {}", d.code, d.message)).collect();
    let days_old = dog.age.map(|a| a.0 / 86_400);
    let case = Case {
        trade: &tried.trade,
        chain: &tried.chain,
        houses: &tried.houses,
        card: (9_999, 0, &block.body),
        days_old,
    };
    out.extend(verify(&case, &done(&finishes, trade)).into_iter().map(|b| format!("V001 {}", b.words)));
    out.sort();
    out.dedup();
    Some(out)
}

/// The lines of a card without which nothing would be wrong with it.
fn least(tried: &Tried<'_>, lines: &[String]) -> Vec<String> {
    let codes = |lines: &[String]| -> Vec<String> {
        wrong(tried, lines).unwrap_or_default().iter().map(|w| w[..4].to_owned()).collect()
    };
    let first = codes(lines)[0].clone();
    let mut kept = lines.to_vec();
    let mut at = 0;
    while at < kept.len() {
        let mut fewer = kept.clone();
        fewer.remove(at);
        if codes(&fewer).contains(&first) {
            kept = fewer;
        } else {
            at += 1;
        }
    }
    kept
}

/// Tries many cards on these recipes in turn; what fails is told once a recipe and code.
fn try_all(all: &[Tried<'_>], seed: u64) {
    let mut dice = Dice(seed);
    let (mut tried, mut with_findings, mut skipped) = (0_u32, 0_u32, 0_u32);
    let mut failures: BTreeMap<(String, String), String> = BTreeMap::new();
    let mut failed = 0_u32;
    while tried < many() {
        let recipe = &all[usize::try_from(tried).unwrap() % all.len()];
        let lines = card_lines(recipe, &mut dice);
        let Some(wrong) = wrong(recipe, &lines) else {
            skipped += 1;
            assert!(skipped < 40 * many(), "hardly a card is served: {}", recipe.name);
            continue;
        };
        tried += 1;
        with_findings += u32::from(lines.iter().any(|l| l.starts_with("finding")));
        let Some(first) = wrong.first() else { continue };
        failed += 1;
        let key = (first[..4].to_owned(), format!("{}{}", recipe.name, recipe.text));
        if failures.len() < 12 && !failures.contains_key(&key) {
            let mut words = String::new();
            let _ = writeln!(words, "{}\n{}{}", wrong.join("\n"), recipe.name, recipe.text.replace(recipes::OWN, "\n"));
            let _ = writeln!(words, "dog any {{\n  {}\n}}", least(recipe, &lines).join("\n  "));
            failures.insert(key, words);
        }
    }
    assert!(with_findings * 2 > tried, "{with_findings} of {tried} cards have a finding");
    let words: Vec<&str> = failures.values().map(String::as_str).collect();
    assert!(failures.is_empty(), "{failed} of {tried} cards of served dogs fail, among them\n{}", words.join("\n"));
}

#[test]
fn the_demo_serves_whom_it_says() {
    let demo = demo();
    try_all(&recipes_of(demo.workspace, demo.salon, ""), 1);
}

#[test]
fn silent_recipes_serve_whom_they_say() {
    try_all(silent_recipes(), 2);
}

/// How near the skin an edge comes at a site. What is left is as far as can be; a knife or a hand has no edge to speak of.
fn nearest(finish: &Finish) -> Option<i64> {
    if finish.fine.tool.is_none() {
        return Some(i64::MAX);
    }
    finish.rough.iter().chain([&finish.fine]).filter_map(|s| s.closeness).map(|c| c.0).min()
}

/// S4, for any recipe on which `check` is silent: one finding more on a card brings no edge closer to the skin. What is cut off
/// beneath a mat either way goes by the mat and the skin: a finding may ask for finer teeth there, and those run closer (`#10`
/// where `#7F` would do: common practice, no source).
#[test]
fn a_finding_brings_no_edge_closer() {
    let all = silent_recipes();
    let mut dice = Dice(3);
    let (mut compared, mut moved) = (0_u32, 0_u32);
    let mut wrong: BTreeMap<String, String> = BTreeMap::new();
    while compared < many() {
        let tried = &all[dice.roll(all.len())];
        let trade = &tried.salon.trade;
        let lines = card_lines(tried, &mut dice);
        let done = |lines: &[String]| -> Option<Finishes> {
            let text = text_of(lines);
            let dog = dog_of(tried, &text, &grammar::parse(&text))?;
            let mut said = Vec::new();
            let finishes = finish(&tried.choices, trade, &dog, &mut said);
            // Where a message refuses the sheet nobody works from it.
            said.iter().all(|d| d.severity < Severity::Error).then_some(finishes)
        };
        let Some(with) = done(&lines) else { continue };
        for at in (0..lines.len()).filter(|at| lines[*at].starts_with("finding")) {
            let mut fewer = lines.clone();
            fewer.remove(at);
            let Some(without) = done(&fewer) else { continue };
            compared += 1;
            for after in &with.all {
                let Some(before) = without.at(after.site) else { continue };
                moved += u32::from(before.fine != after.fine);
                if before.outcome == Outcome::Shortened && after.outcome == Outcome::Shortened {
                    continue;
                }
                if let (Some(a), Some(b)) = (nearest(after), nearest(before))
                    && a < b
                {
                    let (zone, _) = trade.zone_of(after.site).unwrap();
                    let text = tried.text.replace(recipes::OWN, "\n");
                    let words = format!("{} brings it closer on {}\n{text}{}", lines[at], zone.name, text_of(&lines));
                    wrong.entry(tried.text.clone()).or_insert(words);
                }
            }
        }
    }
    assert!(moved * 30 > compared, "{moved} sites moved in {compared} comparisons");
    let words: Vec<&str> = wrong.values().map(String::as_str).collect();
    assert!(wrong.is_empty(), "in {} of {} recipes:\n{}", wrong.len(), all.len(), words.join("\n"));
}
