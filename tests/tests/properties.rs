//! What must hold for every dog and every text: tried on random ones, always the same, each printed as a card that can be
//! pasted.
//!
//! * A finding never brings an edge closer to the skin, never leaves a part shorter, never opens the teeth wider than what
//!   was written or than the skin bears whatever its dog has: flat any, thin medium, fold and edge fine (decision 0007).
//! * A finding that a house adds changes no sheet of dogs without it.
//! * The same input gives the same bytes.
//! * Formatting twice is formatting once, and changes no message.
//! * A chain of reasons, replayed, gives the value that it explains.
//! * The independent check passes every plan that is made, and refuses one that was made worse.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod common;
#[path = "common/dogs.rs"]
mod dogs;

use coatwright::check::{chain, check, units};
use coatwright::choices::{self, Layer};
use coatwright::diagnostic::Severity;
use coatwright::finish::{Did, Finish, Outcome, Stroke, finish, site_words, stroke_words};
use coatwright::measure::Length;
use coatwright::names::card::Dog;
use coatwright::names::trade::{Bound, Direction, Gap, KeepOn, Reply, Skin, Stage, Trade};
use coatwright::plan::TaskKind;
use coatwright::sheet::render::{Options, json, markdown, text};
use coatwright::sheet::{Made, Request, finished, make};
use coatwright::source::Place;
use coatwright::verify::{Case, Done, Pass, Text, verify};
use coatwright::workspace::Workspace;
use dogs::{Card, a_card, demo, finding, hold, read, today, with_card};
use grammar::tree::{Stmt, StmtKind};
use proptest::prelude::*;
use std::cell::Cell;

fn request(dog: &str) -> Request {
    Request { recipe: None, dog: dog.to_owned(), on: Some(today()), learner: true }
}

// ---------------------------------------------------------------------------------------------- Findings are gentle

/// How gentle a stroke is. Nothing done is infinitely gentle.
fn closeness(stroke: &Stroke) -> Option<Length> {
    if stroke.tool.is_none() { Some(Length(i64::MAX)) } else { stroke.closeness }
}

fn shortest(stroke: &Stroke) -> Option<Length> {
    if stroke.tool.is_none() { Some(Length(i64::MAX)) } else { stroke.leaves.map(|l| l.low) }
}

/// What is worse about `after` than about `before`, at one site. A tool without an edge near the skin (a rake, a knife, a
/// hand) has no closeness to compare.
fn worse(before: &Finish, after: &Finish, trade: &Trade) -> Option<&'static str> {
    let strokes = |f: &Finish| -> Vec<Stroke> { f.rough.iter().chain([&f.fine]).cloned().collect() };
    let nearest = |f: &Finish| strokes(f).iter().filter_map(closeness).min();
    if let (Some(a), Some(b)) = (nearest(after), nearest(before))
        && a < b
        && before.fine.closeness.is_some() | before.fine.tool.is_none()
    {
        return Some("closer to the skin");
    }
    if let (Some(a), Some(b)) = (shortest(&after.fine), shortest(&before.fine))
        && a < b
        // The length that an author answers is the author's; only its edge is held (an answer that comes closer is C004).
        && after.statement == before.statement
    {
        return Some("shorter");
    }
    let bears = match trade.zone_of(before.site).map_or(Skin::Fold, |(zone, _)| zone.skin) {
        Skin::Flat => Gap::Skip,
        Skin::Thin => Gap::Medium,
        Skin::Fold | Skin::Edge => Gap::Fine,
    };
    let widest = |f: &Finish| strokes(f).iter().filter_map(|s| s.gap).max();
    if widest(after) > Some(bears).max(widest(before)) {
        return Some("wider in the teeth");
    }
    None
}

/// S4: adding a finding never brings an edge closer, shorter or wider in the teeth, at any site of any served dog.
#[test]
fn a_finding_never_makes_it_worse() {
    let (compared, moved) = (Cell::new(0_u32), Cell::new(0_u32));
    let demo = demo();
    let trade = &demo.salon.trade;
    hold(500, &(a_card(), finding()), |(card, more): (Card, dogs::Finding)| {
        let choices = &card.recipe().choices;
        let Some(line) = more.line(trade, choices) else { return Ok(()) };
        let without = card.text();
        // The finding comes first among the lines, so that it can't win by being last.
        let with = without.replacen("  asked ", &format!("{line}  asked "), 1);
        let ((before, _), (after, _)) = (read(&without), read(&with));
        let (mut said_before, mut said_after) = (Vec::new(), Vec::new());
        let plain = finish(choices, trade, &before, &mut said_before);
        let changed = finish(choices, trade, &after, &mut said_after);
        // Where a message refuses the sheet nobody works from it.
        if said_after.iter().chain(&said_before).any(|d| d.severity == Severity::Error) {
            return Ok(());
        }
        for a in &changed.all {
            let Some(b) = plain.at(a.site) else { continue };
            compared.set(compared.get() + 1);
            if a.fine != b.fine {
                moved.set(moved.get() + 1);
            }
            if let Some(what) = worse(b, a, trade) {
                return Err(TestCaseError::fail(format!(
                    "{} makes the {} {what}\n  without: {}\n  with:    {}\n  {:?}\n{with}",
                    line.trim(),
                    site_words(trade, a.site),
                    all_words(b, trade),
                    all_words(a, trade),
                    a.reasons,
                )));
            }
        }
        prop_assert!(changed.all.len() == plain.all.len());
        Ok(())
    });
    // Enough was compared, and findings do something: otherwise this test proves nothing.
    assert!(compared.get() > 20_000 && moved.get() > 500, "{compared:?} sites compared, {moved:?} moved");
}

fn all_words(finish: &Finish, trade: &Trade) -> String {
    let one = |s: &Stroke| {
        let leaves = s.leaves.map_or(String::new(), |l| format!(", leaves {l}"));
        let near = s.closeness.map_or(String::new(), |c| format!(", edge {c}"));
        format!("{}{leaves}{near}, {} passes, gap {:?}", stroke_words(s, trade), s.passes, s.gap)
    };
    let rough = finish.rough.as_ref().map_or(String::new(), |r| format!("{}; then ", one(r)));
    format!("{rough}{} ({:?})", one(&finish.fine), finish.outcome)
}

/// A finding in the card's own words keeps its place untouched: nothing is done there, and nowhere else is touched more.
#[test]
fn a_finding_without_a_name_is_left_alone() {
    let trade = &demo().salon.trade;
    hold(60, &(a_card(), 0_usize..997), |(card, zone): (Card, usize)| {
        let choices = &card.recipe().choices;
        let zone = &trade.zones[zone % trade.zones.len()];
        let with =
            card.text().replacen("  asked ", &format!("  finding  other \"blue spot\" on {}\n  asked ", zone.name), 1);
        let (dog, _) = read(&with);
        let done = finish(choices, trade, &dog, &mut Vec::new());
        for site in zone.sites().iter() {
            let Some(finish) = done.at(site) else { continue };
            prop_assert!(
                finish.fine.tool.is_none() && finish.rough.is_none(),
                "{}: {}\n{with}",
                zone.name,
                all_words(finish, trade)
            );
        }
        Ok(())
    });
}

// ---------------------------------------------------------------------------------------------- A house adds a finding

/// Findings that a house may write one day.
fn house_finding() -> impl Strategy<Value = String> {
    let place = prop::sample::select(vec!["any zone", "whole dog", "torso", "legs, feet", "belly"]);
    let keep = prop::sample::subsequence(
        vec![
            "keep no closer than #7F (invented for the demo)",
            "keep never in reverse",
            "keep untouched",
            "keep one pass (invented for the demo)",
            "keep gap fine (invented for the demo)",
            "keep legs no shorter than 25 mm (invented for the demo)",
            "keep head last",
            "keep never clipper",
            "keep at most 20 min at a stretch (invented for the demo)",
        ],
        1..5,
    );
    let reply = prop::sample::select(vec!["raise", "leave", "refer", "answer"]);
    (place, keep, reply).prop_map(|(place, keeps, reply)| {
        let keeps: String = keeps.iter().map(|k| format!("  {k}\n")).collect();
        format!("\nfinding brine-rash {{\n  about \"Red where the salt dried.\"\n  on {place}\n{keeps}  reply {reply}\n  caution \"Rinse first.\"\n}}\n")
    })
}

fn sheets(workspace: &Workspace, dog: &str) -> String {
    match make(workspace, &request(dog)) {
        Ok(sheet) => {
            let options = Options::default();
            format!("{}{}{}", text(&sheet, &options), markdown(&sheet, &options), json(&sheet, &options))
        }
        Err(said) => format!("{said:#?}"),
    }
}

/// S11: a finding that the house adds changes no sheet of dogs without it, to the byte.
#[test]
fn a_house_finding_changes_no_other_dog() {
    hold(12, &(a_card(), house_finding(), 0_usize..5), |(card, added, which): (Card, String, usize)| {
        let card_text = card.text();
        let dog = ["random", "bramble", "kelp", "flint", "pearl"][which];
        let before = with_card(&card_text);
        let mut texts = common::saltmarsh();
        for (path, text) in &mut texts {
            if path.ends_with("house.trim") {
                text.push_str(&added);
            }
        }
        texts.push(("recipes/saltmarsh/random.trim".into(), card_text.clone()));
        let after = common::workspace(texts);
        assert!(after.salons()[0].trade.index.findings.contains_key("brine-rash"));
        let (a, b) = (sheets(&before, dog), sheets(&after, dog));
        prop_assert!(a == b, "{dog}'s sheet changed by{added}\n{card_text}{}", first_difference(&a, &b));
        Ok(())
    });
}

fn first_difference(a: &str, b: &str) -> String {
    let at = a.lines().zip(b.lines()).find(|(x, y)| x != y);
    format!("{at:#?}")
}

// ---------------------------------------------------------------------------------------------- Same bytes

/// The same texts give the same bytes, whatever ran before, and in whatever order the files were named.
#[test]
fn same_bytes_twice() {
    hold(12, &(a_card(), 0_usize..5), |(card, which): (Card, usize)| {
        let text = card.text();
        let dog = ["random", "bramble", "kelp", "flint", "pearl"][which];
        let once = sheets(&with_card(&text), dog);
        let twice = sheets(&with_card(&text), dog);
        prop_assert!(once == twice, "{}", first_difference(&once, &twice));
        let mut texts = common::saltmarsh();
        texts.push(("recipes/saltmarsh/random.trim".into(), text.clone()));
        texts.reverse();
        let turned = sheets(&common::workspace(texts), dog);
        let (once, turned) = (without_ids(&once), without_ids(&turned));
        prop_assert!(once == turned, "in another order of files: {}\n{text}", first_difference(&once, &turned));
        Ok(())
    });
}

/// Messages in their raw form hold the numbers of files, which follow the order of the files.
fn without_ids(text: &str) -> String {
    if text.starts_with('[') {
        text.lines().filter(|l| l.contains("code:") || l.contains("message:")).collect::<Vec<_>>().join("\n")
    } else {
        text.to_owned()
    }
}

// ---------------------------------------------------------------------------------------------- The formatter

/// Small harm to a text: a word is doubled, dropped, or a blank or a line end comes in between.
fn harm(text: &str, harms: &[(usize, usize)]) -> String {
    let mut words: Vec<String> = text.split_inclusive([' ', '\n']).map(str::to_owned).collect();
    for (at, how) in harms {
        let at = at % words.len();
        match how {
            0 => words[at].push_str("  "),
            1 => words[at] = format!("\n{}", words[at]),
            2 => words[at] = words[at].to_uppercase(),
            3 => words[at] = words[at].replace(' ', "\t "),
            4 => words[at] = format!("{} -- a note\n", words[at].trim_end()),
            5 => {
                words.remove(at);
            }
            6 => {
                let word = words[at].clone();
                words.insert(at, word);
            }
            _ => words[at] = words[at].replace("mm", "cm").replace('"', "”"),
        }
        if words.is_empty() {
            break;
        }
    }
    words.concat()
}

#[track_caller]
fn format_is_settled(name: &str, source: &str) -> Option<String> {
    let once = grammar::format(source).ok()?;
    let twice = grammar::format(&once);
    assert!(
        twice.as_ref() == Ok(&once),
        "{name}: formatting twice changes it again: {}\n----\n{source}",
        twice.map_or_else(|e| e.reason, |t| first_difference(&once, &t))
    );
    Some(once)
}

/// Every shipped text can be formatted, and is settled after one time.
#[test]
fn shipped_texts_are_settled_by_one_format() {
    for (name, source) in common::shipped() {
        assert!(format_is_settled(&name, &source).is_some(), "{name}: {:?}", grammar::format(&source));
    }
}

/// Harmed texts too; the formatter may refuse one, never change its mind.
#[test]
fn harmed_texts_are_settled_by_one_format() {
    let all = common::shipped();
    let (tried, refused) = (Cell::new(0_u32), Cell::new(0_u32));
    let harms = prop::collection::vec((0_usize..100_000, 0_usize..8), 1..6);
    hold(250, &(0..all.len(), harms), |(file, harms)| {
        let (name, source) = &all[file];
        // The long files of the basics would take the time of all others.
        let start = if source.len() > 8_000 {
            source.char_indices().nth(harms[0].0 % source.len()).map_or(0, |(i, _)| i)
        } else {
            0
        };
        let part: String = source[start..].chars().take(6_000).collect();
        let harmed = harm(&part, &harms);
        tried.set(tried.get() + 1);
        match grammar::format(&harmed) {
            Err(_) => refused.set(refused.get() + 1),
            Ok(once) => {
                let twice = grammar::format(&once);
                prop_assert!(twice.as_ref() == Ok(&once), "{name}: {:?}\n----\n{harmed}\n----\n{once}", twice);
            }
        }
        Ok(())
    });
    assert!(refused.get() * 10 < tried.get(), "the formatter refused {} of {} texts", refused.get(), tried.get());
}

/// Formatting a file of the demo changes no message about the salon: the same codes, each as often.
#[test]
fn formatting_changes_no_message() {
    let texts = common::saltmarsh();
    let harms = prop::collection::vec((0_usize..100_000, 0_usize..8), 0..4);
    hold(24, &(0..texts.len(), harms), |(file, harms)| {
        let harmed = harm(&texts[file].1, &harms);
        let Ok(formatted) = grammar::format(&harmed) else { return Ok(()) };
        let outcome = |text: &str| {
            let mut all = texts.clone();
            all[file].1 = text.to_owned();
            all.swap(0, file);
            let mut codes = common::codes(&check(&Workspace::from_texts(all, 1)));
            codes.sort_unstable();
            codes
        };
        let (before, after) = (outcome(&harmed), outcome(&formatted));
        prop_assert!(
            before == after,
            "{}: {before:?} became {after:?}\n{harmed}\n----\n{formatted}",
            texts[file].0.display()
        );
        Ok(())
    });
}

// ---------------------------------------------------------------------------------------------- Reasons

/// The statement that stands at a place, out of the blocks that hold it (`when`, `guard` …).
fn statement_at(stmts: &[Stmt], at: u32, place: Place) -> Option<&Stmt> {
    let stmt = stmts.iter().find(|s| s.span.start + at <= place.start && place.end <= s.span.end + at)?;
    let inner = match &stmt.kind {
        StmtKind::When { body, .. } | StmtKind::Else { body, .. } | StmtKind::Guard { body, .. } => Some(&body.stmts),
        StmtKind::Wants { but, .. } => but.as_ref().map(|b| &b.stmts),
        _ => None,
    };
    inner.and_then(|inner| statement_at(inner, at, place)).or(Some(stmt))
}

/// The dog as it would be without anything on its card that changes a finish.
fn healthy(dog: &Dog) -> Dog {
    Dog { findings: Vec::new(), others: Vec::new(), mats: Vec::new(), ..dog.clone() }
}

/// What the statements at these places make at a site, with no other work in the text: kit, params and lets stay.
fn alone(
    layers: &[Layer<'_>],
    places: &[Place],
    trade: &Trade,
    dog: &Dog,
    site: coatwright::names::sites::Site,
) -> Option<Finish> {
    let keep = |stmt: &Stmt| {
        matches!(
            stmt.kind,
            StmtKind::Field(_)
                | StmtKind::Param { .. }
                | StmtKind::Let { .. }
                | StmtKind::Extends { .. }
                | StmtKind::About(_)
        )
    };
    let bodies: Vec<Vec<Stmt>> = layers
        .iter()
        .map(|layer| {
            let chosen = places
                .iter()
                .filter(|p| p.file == layer.decl.file)
                .filter_map(|p| statement_at(layer.stmts, layer.decl.at, *p));
            layer.stmts.iter().filter(|s| keep(s)).chain(chosen).cloned().collect()
        })
        .collect();
    let few: Vec<Layer<'_>> = layers.iter().zip(&bodies).map(|(l, body)| Layer { stmts: body, ..*l }).collect();
    let choices = choices::build(&few, trade, units(trade), &mut Vec::new());
    finish(&choices, trade, dog, &mut Vec::new()).at(site).cloned()
}

/// The layers of a made sheet: house, bases, recipe, wish.
fn layers<'w>(salon: &coatwright::workspace::Salon<'w>, made: &Made) -> Vec<Layer<'w>> {
    let recipe = salon.recipes.get(made.choices.name.as_str()).unwrap();
    let mut layers = chain(salon, recipe, &mut Vec::new());
    let card = salon.dogs.get(made.dog.name.as_str()).unwrap();
    for stmt in &card.block.body {
        if let StmtKind::Wants { recipe: wanted, but: Some(body) } = &stmt.kind
            && wanted.text == made.choices.name
        {
            let houses = layers.last().map(|recipe| recipe.houses).unwrap_or_default();
            layers.push(Layer { stmts: &body.stmts, ..Layer::of(choices::Level::Wish, card, houses) });
        }
    }
    layers
}

fn replay(workspace: &Workspace, dog: &str) -> Result<usize, String> {
    let Ok(made) = finished(workspace, &request(dog)) else { return Ok(0) };
    let salons = workspace.salons();
    let salon = &salons[0];
    let trade = &made.trade;
    let layers = layers(salon, &made);
    let mut replayed = 0;
    for done in &made.finishes.all {
        let words = || format!("{}: {}\n  {:?}", site_words(trade, done.site), all_words(done, trade), done.reasons);
        let has = |f: &dyn Fn(&Did) -> bool| done.reasons.iter().any(|r| f(&r.what));
        let replied = has(&|d| matches!(d, Did::Replied(..)));
        let mat = has(&|d| matches!(d, Did::Mat));
        let guarded = has(&|d| matches!(d, Did::Guarded(_)));
        // What came out says why.
        let said = match done.outcome {
            Outcome::Written => !replied && !mat,
            Outcome::Raised => has(&|d| matches!(d, Did::Replied(_, Reply::Raise))),
            Outcome::Left => replied || guarded || mat || done.statement.file.0 < 5,
            Outcome::Referred => has(&|d| matches!(d, Did::Replied(_, Reply::Refer))),
            Outcome::Shortened => mat,
            Outcome::Waits => false,
        };
        if !said {
            return Err(format!("{:?} without a reason for it: {}", done.outcome, words()));
        }
        let Some(set) = done.reasons.iter().rev().find(|r| r.what == Did::Set) else {
            return Err(format!("nothing set it: {}", words()));
        };
        // A default guard of the basics that leaves a hidden part alone has no statement to replay.
        if set.place.file.0 < 5 {
            continue;
        }
        let mut places = vec![set.place];
        places.extend(done.reasons.iter().filter(|r| r.what == Did::SetRough).map(|r| r.place));
        let Some(again) = alone(&layers, &places, trade, &healthy(&made.dog), done.site) else {
            return Err(format!("the statement that set it does nothing here alone: {}", words()));
        };
        replayed += 1;
        let same = again.fine == done.fine && (again.rough == done.rough || done.rough.is_none());
        match done.outcome {
            Outcome::Written if !same => {
                return Err(format!("replayed it is {}\nbut it came out as {}", all_words(&again, trade), words()));
            }
            // Gentler than written, in something that a groomer sees.
            Outcome::Raised => {
                if let Some(what) = worse(&again, done, trade) {
                    return Err(format!(
                        "raised, yet {what} than written: {}\nwritten {}",
                        words(),
                        all_words(&again, trade)
                    ));
                }
            }
            Outcome::Left | Outcome::Referred if done.fine.tool.is_some() || done.rough.is_some() => {
                return Err(format!("left, yet worked: {}", words()));
            }
            _ => {}
        }
    }
    Ok(replayed)
}

/// `why` tells the truth: the statements that a finish names, alone in a text, make what it says was written.
#[test]
fn reasons_replayed_give_the_value() {
    for dog in ["bramble", "kelp", "flint", "pearl"] {
        let replayed = replay(demo().workspace, dog).unwrap_or_else(|why| panic!("{dog}: {why}"));
        assert!(replayed > 40, "{dog}: {replayed}");
    }
    let replayed = Cell::new(0_usize);
    hold(25, &a_card(), |card: Card| {
        let text = card.text();
        let count = replay(&with_card(&text), "random").map_err(|why| TestCaseError::fail(format!("{why}\n{text}")))?;
        replayed.set(replayed.get() + count);
        Ok(())
    });
    assert!(replayed.get() > 400, "{replayed:?}");
}

// ---------------------------------------------------------------------------------------------- The independent check

/// What the plan does at each site, told anew from the plan.
fn told(made: &Made) -> Vec<Done> {
    let mut all = Vec::new();
    for (order, task) in (0_u32..).zip(&made.plan.tasks) {
        let (works, pass) = match &task.kind {
            TaskKind::SetIn(works) => (works, Pass::Rough),
            TaskKind::Part { works, step, .. } => {
                let finishes = made.trade.step(*step).is_some_and(|s| s.stage == Some(Stage::Finish));
                (works, if finishes { Pass::Finish } else { Pass::Rough })
            }
            _ => continue,
        };
        for work in works {
            for site in work.sites.iter() {
                let (zone, side) = made.trade.zone_of(site).unwrap();
                let name =
                    |id: Option<coatwright::names::trade::ToolId>| id.map(|t| made.trade.tool(t).unwrap().name.clone());
                all.push(Done {
                    zone: zone.name.clone(),
                    side,
                    tool: name(work.stroke.tool),
                    over: name(work.stroke.over),
                    direction: work.stroke.direction,
                    passes: work.stroke.passes,
                    length: work.stroke.leaves.map(|l| l.low.0),
                    order,
                    pass,
                });
            }
        }
    }
    all
}

/// Asks the independent check about a plan for the dog of a card.
fn ask(workspace: &Workspace, made: &Made, plan: &[Done]) -> Vec<String> {
    let basics: Vec<grammar::tree::File> = coatwright::basics::TEXTS.iter().map(|(_, t)| grammar::parse(t)).collect();
    let mut trade: Vec<Text<'_>> = (0_u32..)
        .zip(&basics)
        .map(|(file, f)| Text { file, blocks: f.blocks.iter().map(|p| (p.at, &p.block.block)).collect() })
        .collect();
    for parsed in workspace.files() {
        trade.push(Text {
            file: parsed.id.0,
            blocks: parsed.tree().blocks.iter().map(|p| (p.at, &p.block.block)).collect(),
        });
    }
    let salons = workspace.salons();
    let layers = layers(&salons[0], made);
    let chain: Vec<(u32, u32, &[Stmt])> = layers.iter().map(|l| (l.decl.file.0, l.decl.at, l.stmts)).collect();
    let houses: Vec<u64> = layers.iter().map(|l| l.houses.0).collect();
    let card = salons[0].dogs.get(made.dog.name.as_str()).unwrap();
    let case = Case {
        trade: &trade,
        chain: &chain,
        houses: &houses,
        card: (card.file.0, card.at, &card.block.body),
        days_old: made.dog.age.map(|a| a.0 / 86_400),
    };
    verify(&case, plan).into_iter().map(|b| b.words).collect()
}

/// Whether the card's recipe serves its dog: age, mats and what follows from the age; coat, weight and findings are drawn so.
fn served(card: &Card) -> bool {
    let (dog, _) = read(&card.text());
    let serves = &card.recipe().choices.serves;
    let age = dog.age.is_some_and(|a| serves.age.has(a.0));
    let worst = serves.mats.is_none_or(|most| dog.worst_mats() <= most);
    let excluded = dog.findings.iter().any(|f| serves.without.contains(&f.finding));
    age && worst && !excluded && serves.sex.is_none_or(|s| dog.sex == Some(s))
}

/// Whatever the dog: a sheet that is refused is refused by a rule, never by the last check, which would be a fault of ours.
#[test]
fn the_last_check_agrees() {
    let made = Cell::new(0_u32);
    hold(60, &a_card(), |card: Card| {
        let text = card.text();
        let workspace = with_card(&text);
        match finished(&workspace, &request("random")) {
            Ok(plan) => {
                made.set(made.get() + 1);
                let breaches = ask(&workspace, &plan, &told(&plan));
                prop_assert!(breaches.is_empty(), "{breaches:?}\n{text}");
            }
            Err(said) => {
                let fault = said.iter().find(|d| d.code == "V001");
                prop_assert!(fault.is_none(), "{fault:#?}\n{text}");
            }
        }
        Ok(())
    });
    assert!(made.get() >= 20, "only {} sheets were made", made.get());
}

/// Where `check` is silent, no served dog is refused for the recipe's sake: a sheet that isn't made is kept back by what only a
/// card can tell (a vet, consent, a line that it needs), never by closeness, gap, coat, order or a part that nobody finished.
#[test]
fn served_dogs_are_not_refused() {
    let made = Cell::new(0_u32);
    hold(400, &a_card(), |card: Card| {
        if !served(&card) {
            return Ok(());
        }
        let text = card.text();
        match finished(&with_card(&text), &request("random")) {
            Ok(_) => made.set(made.get() + 1),
            Err(said) => {
                let recipes: Vec<String> = said
                    .iter()
                    .filter(|d| d.severity == Severity::Error && !d.code.starts_with('D'))
                    .map(|d| format!("{} {}", d.code, d.message))
                    .collect();
                prop_assert!(recipes.is_empty(), "{recipes:#?}\n{text}");
            }
        }
        Ok(())
    });
    assert!(made.get() >= 10, "only {} sheets were made", made.get());
}

/// Cards that once showed a fault keep showing none.
#[test]
fn cards_that_once_failed() {
    let text = common::read(&common::root().join("tests/fixtures/once-failed.trim"));
    let workspace = with_card(&text);
    let own = grammar::parse(&text);
    assert!(own.blocks.len() >= 4);
    let mut wrong = Vec::new();
    for placed in &own.blocks {
        let dog = placed.block.block.name.as_ref().unwrap().text.as_str();
        match finished(&workspace, &request(dog)) {
            Ok(made) => {
                wrong.extend(ask(&workspace, &made, &told(&made)).into_iter().map(|w| format!("{dog}: {w}")));
                wrong.extend(replay(&workspace, dog).err().map(|w| format!("{dog}: {w}")));
            }
            Err(said) => wrong.extend(
                said.iter()
                    .filter(|d| d.severity == Severity::Error)
                    .map(|d| format!("{dog}: {} {}", d.code, d.message)),
            ),
        }
        let mut turned = common::saltmarsh();
        turned.push(("recipes/saltmarsh/random.trim".into(), text.clone()));
        turned.reverse();
        let (a, b) = (sheets(&workspace, dog), sheets(&common::workspace(turned), dog));
        if without_ids(&a) != without_ids(&b) {
            wrong.push(format!("{dog}: in another order of files: {}", first_difference(&a, &b)));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Plans made worse on purpose are refused, each for its own reason.
#[test]
fn a_worsened_plan_is_refused() {
    let workspace = demo().workspace;
    let worsened = |dog: &str, zone: &str, change: &dyn Fn(&mut Done)| -> Vec<String> {
        let made = finished(workspace, &request(dog)).unwrap_or_else(|said| panic!("{dog}: {said:#?}"));
        let mut plan = told(&made);
        assert!(ask(workspace, &made, &plan).is_empty());
        let at = plan.iter().rposition(|d| d.zone == zone);
        let line = match at {
            Some(at) => &mut plan[at],
            None => {
                plan.push(Done {
                    zone: zone.into(),
                    side: None,
                    tool: None,
                    over: None,
                    direction: None,
                    passes: 1,
                    length: None,
                    order: 9,
                    pass: Pass::Rough,
                });
                plan.last_mut().unwrap()
            }
        };
        change(line);
        ask(workspace, &made, &plan)
    };
    let tool = |name: &'static str| {
        move |d: &mut Done| {
            d.tool = Some(name.into());
            d.direction = Some(Direction::With);
            d.length.get_or_insert(3_000_000);
        }
    };
    type Harm = (&'static str, &'static str, &'static str, Box<dyn Fn(&mut Done)>);
    let cases: Vec<Harm> = vec![
        ("bramble", "groin", "skip teeth on a fold", Box::new(tool("#7"))),
        ("bramble", "groin", "a longer blade on a fold", Box::new(tool("#4F"))),
        ("bramble", "throat", "in reverse on irritation", Box::new(|d| d.direction = Some(Direction::Reverse))),
        ("bramble", "throat", "the blade that reddened it", Box::new(tool("#10"))),
        ("bramble", "belly-rear", "closer than a sensitive belly", Box::new(tool("#30"))),
        ("bramble", "belly-rear", "twice over a sensitive belly", Box::new(|d| d.passes = 2)),
        ("bramble", "back", "a surgical blade", Box::new(tool("#50"))),
        ("bramble", "under-tail", "shears where the house bars them", Box::new(tool("shears"))),
        ("bramble", "forearm", "shorter than a hand may cut", Box::new(|d| d.length = Some(3_000_000))),
        (
            "kelp",
            "neck-side",
            "a place with a finding of no name",
            Box::new(|d| {
                d.side = Some(grammar::tree::Side::Right);
                d.tool = Some("#7F".into());
            }),
        ),
        ("pearl", "back", "the clipper on a jacket that doesn't grow back", Box::new(tool("#4F"))),
    ];
    for (dog, zone, what, change) in cases {
        let said = worsened(dog, zone, &*change);
        assert!(!said.is_empty(), "{what}: {dog}, {zone}: passed");
    }
}

/// Random harm to random plans: wherever a keep of the dog forbids a tool outright, the check says so.
#[test]
fn what_is_untouched_stays_untouched() {
    let tried = Cell::new(0_u32);
    hold(30, &(a_card(), 0_usize..997), |(card, tool): (Card, usize)| {
        let text = card.text();
        let workspace = with_card(&text);
        let Ok(made) = finished(&workspace, &request("random")) else { return Ok(()) };
        let tools: Vec<&str> =
            made.trade.tools.iter().filter(|t| t.closeness.is_some()).map(|t| t.name.as_str()).collect();
        for fact in &made.dog.findings {
            let finding = made.trade.finding(fact.finding).unwrap();
            let untouched =
                finding.keeps.iter().any(|k| k.bound == Bound::Untouched && k.on == KeepOn::Place) && !finding.spot;
            let Some(site) = fact.sites.iter().next().filter(|_| untouched) else { continue };
            let (zone, side) = made.trade.zone_of(site).unwrap();
            tried.set(tried.get() + 1);
            let mut plan = told(&made);
            plan.push(Done {
                zone: zone.name.clone(),
                side,
                tool: Some(tools[tool % tools.len()].into()),
                over: None,
                direction: None,
                passes: 1,
                length: Some(40_000_000),
                order: 1,
                pass: Pass::Rough,
            });
            prop_assert!(
                !ask(&workspace, &made, &plan).is_empty(),
                "{} on the {} passed\n{text}",
                tools[tool % tools.len()],
                zone.name
            );
        }
        Ok(())
    });
    assert!(tried.get() > 0);
}
