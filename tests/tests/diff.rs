//! `diff` against fresh compiles: random recipes, each with one of its lines changed, and random dogs that both versions serve.
//!
//! * Where no change is told of a part, what is done there is the same on every dog.
//! * Each dog that is shown really is done otherwise where it is said to be.
//! * Where no keep is told to be looser, what was ruled out on a dog still is.
//! * Two lines that change places, and a name that is another one, are no change.
//!
//! A few hundred pairs are tried, with `MANY=1` or `LONG=1` many more. What fails can be pasted.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

mod common;
#[path = "common/dice.rs"]
mod dice;
#[path = "common/recipes.rs"]
mod recipes;

use coatwright::check::{chain, check, units};
use coatwright::choices::{self, Choices};
use coatwright::compare::{Compared, Rank, Status, Version, compare, gravest, shown};
use coatwright::diagnostic::{Severity, code};
use coatwright::finish::{Finishes, Outcome, Stroke, active_keeps, finish, sites_of};
use coatwright::memo::Memo;
use coatwright::names::card::{self, Dog};
use coatwright::names::lower::Decl;
use coatwright::names::sites::{Site, Sites};
use coatwright::names::trade::{Direction, ToolId, Trade, Verb, Where};
use coatwright::picture::{pair, pair_alone};
use coatwright::sheet::render::Units;
use coatwright::source::FileId;
use coatwright::workspace::Workspace;
use coatwright_tests::{Effort, effort};
use dice::Dice;
use proptest::strategy::{Strategy, ValueTree};
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use std::path::PathBuf;
use std::sync::Arc;

fn pairs() -> usize {
    match effort() {
        Effort::Quick => 150,
        Effort::Many => 2_000,
        Effort::Long => 20_000,
    }
}

fn version(text: &str) -> Version {
    Version::of(vec![(PathBuf::from("short.trim"), Arc::from(text))], &|_| true, &mut Memo::default())
}

fn compared(old: &str, new: &str) -> Vec<Compared> {
    compare(&version(old), &version(new), false)
}

/// What a text's recipe `short` says, freshly compiled; none with a mistake.
fn compiled(text: &str) -> Option<(Choices, Arc<Trade>)> {
    let workspace = Workspace::from_texts(vec![(PathBuf::from("short.trim"), text.to_owned())], 1);
    let salon = workspace.salons().remove(0);
    let mut said = workspace.syntax(&workspace.asked().iter().copied().collect());
    let layers = chain(&salon, salon.recipes.get("short").unwrap(), &mut said);
    let choices = choices::build(&layers, &salon.trade, units(&salon.trade), &mut said);
    // Where two statements want one part, or no length is known, nothing is done: no trim that another could be compared to.
    said.extend(check(&workspace).into_iter().filter(|d| [code::M015, code::M022].contains(&d.code)));
    said.iter().all(|d| d.severity < Severity::Error).then(|| (choices, Arc::clone(&salon.trade)))
}

/// A dog, as a card.
fn a_dog(choices: &Choices, trade: &Trade, dice: &mut Dice) -> String {
    let coats: Vec<&str> = match &choices.serves.coats {
        Some(any) => any.iter().map(|c| trade.coat(*c).unwrap().name.as_str()).collect(),
        None => trade.coats.iter().map(|c| c.name.as_str()).collect(),
    };
    let zone = |dice: &mut Dice| {
        let zone = dice.of(&trade.zones);
        let side = if zone.paired { *dice.of(&["", "left ", "right "]) } else { "" };
        format!("{side}{}", zone.name)
    };
    let mut lines = vec![
        format!("sex {}", dice.of(&["dog", "bitch"])),
        format!("build {}", dice.of(&["square", "long", "deep-chested", "short-faced"])),
        format!("coat {}, 45 mm", dice.of(&coats)),
        format!("weight {} kg", dice.of(&["3", "4.5", "5.9", "6", "6.1", "8", "9", "9.1", "11.5", "12", "20", "30"])),
        format!("height {} cm", dice.of(&["20", "28", "34", "35", "36", "45", "60"])),
        format!("born {}-{:02}", dice.of(&[2026, 2025, 2024, 2022, 2019, 2015, 2013]), 1 + dice.roll(11)),
    ];
    if dice.roll(4) == 0 {
        lines.push(format!("coat {} on {}", dice.of(&coats), zone(dice)));
    }
    // What the recipe itself speaks of comes up more often than all the rest.
    let spoken: Vec<_> = choices.finishes.iter().filter_map(|c| c.finding).collect();
    let kept: Vec<_> = choices.keeps.iter().filter_map(|k| k.finding).collect();
    for _ in 0..dice.roll(4) {
        let of = if dice.roll(2) == 0 { &spoken } else { &kept };
        let finding = if of.is_empty() || dice.roll(3) == 0 {
            dice.of(&trade.findings)
        } else {
            trade.finding(*dice.of(of)).unwrap()
        };
        let mut line = format!("finding {}", finding.name);
        if finding.on == Where::Card {
            let near: Vec<_> = choices.finishes.iter().filter(|c| c.sites.len() < 40).map(|c| c.sites).collect();
            let place = if near.is_empty() || dice.roll(3) == 0 {
                zone(dice)
            } else {
                let sites = *dice.of(&near);
                let zones: Vec<&str> =
                    trade.zones.iter().filter(|z| z.sites().meets(sites)).map(|z| z.name.as_str()).collect();
                (*dice.of(&zones)).to_owned()
            };
            line = format!("{line} on {place}");
        }
        if finding.by_tool && dice.roll(3) > 0 {
            line = format!("{line} after {}", dice.of(&["#10", "#7F", "#30", "#15", "#5F"]));
        }
        lines.push(line);
    }
    if dice.roll(3) == 0 {
        lines.push(format!("mats {} on {}", dice.of(&["tangle", "knots", "tight"]), zone(dice)));
    }
    format!("dog any {{\n  {}\n  seen 2026-11-20\n}}\n", lines.join("\n  "))
}

fn read(text: &str, trade: &Trade) -> Dog {
    read_on(text, trade, coatwright::date::Day::new(2026, 11, 25))
}

/// A card on a day; without one, on that on which it was written.
fn read_on(text: &str, trade: &Trade, day: Option<coatwright::date::Day>) -> Dog {
    let file = grammar::parse(text);
    assert!(grammar::errors(&file).is_empty(), "{text}\n{:?}", grammar::errors(&file));
    let decl = Decl { file: FileId(9_999), at: 0, block: &file.blocks[0].block.block };
    card::read(decl, trade, units(trade), day, &mut Vec::new())
}

fn is_served(choices: &Choices, trade: &Trade, dog: &Dog) -> bool {
    trade.all_sites().iter().all(|site| choices.serves.holds(dog, site))
}

fn done(choices: &Choices, trade: &Trade, dog: &Dog) -> Finishes {
    finish(choices, trade, dog, &mut Vec::new())
}

/// Whether a groomer would do otherwise at a site.
fn differs(a: &Finishes, b: &Finishes, site: Site) -> bool {
    match (a.at(site), b.at(site)) {
        (None, None) => false,
        (Some(a), Some(b)) => {
            let vet = |o: Outcome| o == Outcome::Referred;
            vet(a.outcome) != vet(b.outcome) || a.fine != b.fine || a.rough != b.rough
        }
        _ => true,
    }
}

/// A random recipe, and the same with one or two lines taken from another, or away.
fn two_versions(runner: &mut TestRunner, dice: &mut Dice) -> (String, String) {
    let mut of = || recipes::a_recipe().new_tree(runner).unwrap().current();
    let (a, other) = (of(), of());
    let mut b = a.clone();
    for _ in 0..=dice.roll(2) {
        let lines = if b.base.is_empty() || dice.roll(3) > 0 { &mut b.lines } else { &mut b.base };
        let at = dice.roll(lines.len());
        match dice.roll(4) {
            0 if lines.len() > 1 => drop(lines.remove(at)),
            1 => lines.insert(at, dice.of(&other.lines).clone()),
            // The same line with other words in it.
            2 if !lines.is_empty() => lines[at].dice[2] = dice.roll(997),
            _ if !lines.is_empty() => lines[at] = dice.of(&other.lines).clone(),
            _ => {}
        }
    }
    (a.text(), b.text())
}

/// Strokes that keeps rule out or let pass.
fn strokes(trade: &Trade) -> Vec<Stroke> {
    let mut out = Vec::new();
    for name in ["#10", "#7F", "#30", "#5F", "comb-13", "shears", "thinners-46"] {
        let id = trade.index.tools[name];
        let tool = trade.tool(id).unwrap();
        for direction in [Some(Direction::With), Some(Direction::Reverse)] {
            for passes in [1, 2] {
                let leaves = tool.leaves;
                let (closeness, gap) = (tool.closeness, tool.gap);
                let (tool, over): (Option<ToolId>, _) = (Some(id), None);
                out.push(Stroke {
                    verb: Verb::Clip,
                    tool,
                    over,
                    direction,
                    passes,
                    leaves,
                    closeness,
                    gap,
                    manners: Vec::new(),
                });
            }
        }
    }
    out
}

#[test]
fn what_is_told_is_what_two_compiles_say() {
    let mut runner = TestRunner::new_with_rng(Config::default(), TestRng::deterministic_rng(RngAlgorithm::ChaCha));
    let mut dice = Dice(20);
    let (mut tried, mut changed, mut shown, mut same, mut dogs, mut kept) = (0, 0, 0, 0, 0, 0);
    while tried < pairs() {
        let (old, new) = two_versions(&mut runner, &mut dice);
        let Some(((a, trade), (b, _))) = compiled(&old).zip(compiled(&new)) else { continue };
        tried += 1;
        let all = compared(&old, &new);
        let one = all.iter().find(|c| c.name == "short").expect("the recipe is told of");
        assert!(!matches!(one.status, Status::Unreadable(_)), "{one:#?}\n{old}\n{new}");
        let changes = one.changes();
        changed += usize::from(!changes.is_empty());
        same += usize::from(changes.is_empty());
        // A keep that changed says itself that something else may stand in for what other findings rule out.
        let told = changes.iter().fold(Sites::NONE, |all, c| all | c.sites);
        let looser = changes.iter().any(|c| c.rank == Rank::Looser);
        // Each dog that is shown is done otherwise somewhere where it is said.
        for change in changes.iter().filter(|c| c.is_work) {
            let dog = read_on(change.dog.as_ref().unwrap(), &trade, None);
            assert!(is_served(&a, &trade, &dog) && is_served(&b, &trade, &dog), "{change:#?}\n{old}\n{new}");
            let (x, y) = (done(&a, &trade, &dog), done(&b, &trade, &dog));
            assert!(change.sites.iter().any(|site| differs(&x, &y, site)), "{change:#?}\n{old}\n{new}");
            shown += 1;
        }
        for _ in 0..30 {
            let text = a_dog(&a, &trade, &mut dice);
            let dog = read(&text, &trade);
            if !is_served(&a, &trade, &dog) || !is_served(&b, &trade, &dog) {
                continue;
            }
            dogs += 1;
            let (x, y) = (done(&a, &trade, &dog), done(&b, &trade, &dog));
            for site in trade.all_sites().iter().filter(|site| !told.has(*site)) {
                let zone = &trade.zone_of(site).unwrap().0.name;
                assert!(!differs(&x, &y, site), "nothing is told of the {zone}:\n{text}{old}\n{new}\n{changes:#?}");
            }
            if looser {
                continue;
            }
            for site in sites_of(&trade, &dog).iter().filter(|_| dice.roll(8) == 0) {
                let (x, y) = (active_keeps(&a, &trade, &dog, site), active_keeps(&b, &trade, &dog, site));
                for stroke in strokes(&trade) {
                    let out = |keeps: &[coatwright::finish::ActiveKeep<'_>]| {
                        keeps.iter().any(|k| k.breach(&stroke, &trade).is_some())
                    };
                    kept += usize::from(out(&x));
                    let zone = &trade.zone_of(site).unwrap().0.name;
                    assert!(!out(&x) || out(&y), "{zone} is less kept:\n{stroke:?}\n{text}{old}\n{new}\n{changes:#?}");
                }
            }
        }
    }
    assert!(changed * 3 > tried && same * 20 > tried, "{changed} changed, {same} the same of {tried}");
    assert!(shown > tried / 2 && dogs > 2 * tried && kept > 0, "{shown} shown, {dogs} dogs, {kept} kept");
}

#[test]
fn a_rewording_is_no_change() {
    let old = "recipe short {\n  serves coat curl\n  param size is 9 mm, within 6 mm to 13 mm\n  leave whole-coat\n  clip torso to \
               size with the coat\n  keep belly no closer than #10\n  blend torso into legs over two fingers by skimming\n}\n";
    let new = "-- Said otherwise.\nrecipe short {\n  title \"Short\"\n  version 2\n  serves coat curl\n  let half is 3 mm\n  blend legs into torso \
               over two fingers by skimming\n  keep belly-front no closer than #10\n  keep belly-rear no closer than 1.5 mm\n  clip back, \
               loin, withers, croup, ribs, flank, shoulder, tuck-up, forechest, breastbone, underline, belly with #7F with the coat\n  \
               clip torso to 3 times half with the coat\n  leave whole-coat\n}\n";
    let all = compared(old, &new.replace("  clip back, loin, withers, croup, ribs, flank, shoulder, tuck-up, forechest, breastbone, underline, belly with #7F with the coat\n", ""));
    assert_eq!(all.len(), 1);
    assert_eq!(all[0].status, Status::Same, "{all:#?}");
    assert!(all[0].reworded);
    // The same under another name, in another file.
    let twin = old.replace("recipe short", "recipe brief").replace("size", "length");
    let new = Version::of(vec![(PathBuf::from("brief.trim"), twin.into())], &|_| true, &mut Memo::default());
    let all = compare(&version(old), &new, false);
    assert_eq!(all.len(), 1, "{all:#?}");
    assert_eq!((all[0].status.clone(), all[0].was.as_deref()), (Status::Same, Some("short")));
    assert_eq!(all[0].was_in.as_deref(), Some("short.trim"));
}

#[test]
fn the_gravest_comes_first() {
    let old = "recipe short {\n  serves coat curl or fleece, weight 3 kg to 30 kg\n  leave whole-coat\n  clip torso with #7F with the coat\n  \
               keep torso no closer than #10\n  guard sensitive-skin { leave ribs }\n  lasts 6 weeks\n}\n";
    let new = "recipe short {\n  serves coat curl, weight 3 kg to 40 kg\n  leave whole-coat\n  clip torso with #10 with the coat\n  clip \
               croup with #4F with the coat\n  lasts 7 weeks\n}\n";
    let all = compared(old, new);
    let told: Vec<(Rank, &str)> = all[0].changes().iter().map(|c| (c.rank, c.what.as_str())).collect();
    assert_eq!(told[0], (Rank::Looser, "ribs"), "{told:#?}");
    assert_eq!(told[1].0, Rank::Looser);
    assert!(told[1].1.starts_with("keep ") && told[1].1.ends_with("no closer than #10"), "{told:#?}");
    assert_eq!(told[2].0, Rank::Closer);
    assert!(told.windows(2).all(|w| w[0].0 <= w[1].0), "{told:#?}");
    let of = |rank: Rank| told.iter().find(|t| t.0 == rank).map(|t| t.1);
    assert_eq!((of(Rank::Longer), of(Rank::MoreDogs)), (Some("croup"), Some("serves weight")), "{told:#?}");
    assert!(told.contains(&(Rank::Other, "lasts")));
    // A dog of 40 kg is served only now, and no fleece any more.
    let heavy = all[0].changes().iter().find(|c| c.rank == Rank::MoreDogs).unwrap();
    assert!(heavy.dog.as_ref().unwrap().contains("weight   40.0 kg"), "{heavy:#?}");
}

/// A keep that two others say together is no looser.
#[test]
fn keeps_are_weighed_by_what_they_bind() {
    let recipe = |keeps: &str| {
        format!(
            "recipe short {{\n  serves coat curl, weight 3 kg to 30 kg\n  leave whole-coat\n  clip torso with #7F with the coat\n  {keeps}\n}}\n"
        )
    };
    let rank = |old: &str, new: &str| compared(&recipe(old), &recipe(new))[0].changes().first().map(|c| c.rank);
    let split = "when weight under 6 kg { keep ribs no closer than #10 }\n  else { keep ribs no closer than #7F }";
    assert_eq!(rank("keep ribs no closer than #10", split), Some(Rank::Tighter));
    assert_eq!(rank(split, "keep ribs no closer than #10"), Some(Rank::Looser));
    assert_eq!(rank("keep ribs never clipper", "keep ribs only shears"), Some(Rank::Tighter));
    assert_eq!(rank("keep ribs never shears", "keep ribs only thinners"), Some(Rank::Tighter));
    assert_eq!(rank("keep ribs only shears or thinners", "keep ribs only shears, thinners, knife"), Some(Rank::Looser));
    assert_eq!(rank("keep ribs one pass", "keep ribs, loin one pass"), Some(Rank::Tighter));
    assert_eq!(rank("keep loin, ribs one pass", "keep ribs one pass"), Some(Rank::Looser));
    assert_eq!(rank("keep loin, ribs one pass", "keep ribs one pass\n  keep loin one pass"), None);
    assert_eq!(rank("guard redness { keep ribs one pass }", ""), Some(Rank::Looser));
    // The basics ask for it anyway.
    assert_eq!(rank("keep groin gap fine", ""), None);
    assert_eq!(rank("", "lasts 6 weeks { ribs at most 30 mm }"), Some(Rank::Other));
}

/// The page with the dog before and now tells what differs, and marks it in both pictures; what stands in it comes from the two texts.
#[test]
fn the_picture_tells_and_marks_what_differs() {
    let old = "recipe short { version 1; serves coat curl; serves weight 10 kg to 20 kg; leave whole-coat; clip back with #7F with the coat }";
    let new = old.replace("#7F", "#4F").replace("version 1", "version 2");
    let (a, b) = (version(old), version(&new));
    let all = compare(&a, &b, false);
    let (compared, card, whom) = gravest(&all).unwrap();
    let shown = shown(&a, &b, compared, card, whom).unwrap();
    assert_eq!(shown.places.len(), 1);
    assert_eq!(shown.places[0].what, "back");
    assert!(shown.places[0].old.contains("#7F") && shown.places[0].new.contains("#4F"));
    let page = pair(&shown, Units::Metric);
    assert!(page.contains("<td>A</td><th scope=\"row\">back</th>"));
    assert!(page.contains("Before, version 1: left side") && page.contains("Now, version 2: left side"));
    let pictures: Vec<&str> = page.split("role=\"img\"").skip(1).collect();
    assert_eq!(pictures.len(), 2, "only the left side shows the back");
    for picture in &pictures {
        assert!(picture.contains(">A</text>"), "no letter");
        assert!(picture.contains("#b3000c"), "no line round it");
    }
    // As a picture by itself: both dogs, the letter in each, and the words beneath; a drawing program can read it.
    let alone = pair_alone(&shown, Units::Metric).svg;
    assert_eq!(alone.matches(">A</text>").count(), 2, "a letter in each");
    assert!(alone.contains("Before, version 1: left side") && alone.contains("Now, version 2: left side"));
    assert!(alone.contains("A  back: ") && alone.contains("#4F") && alone.contains("before: "));
    let ids: Vec<&str> = alone.split(" id=\"").skip(1).filter_map(|t| t.split('"').next()).collect();
    assert!(!ids.is_empty() && ids.iter().all(|id| ids.iter().filter(|i| i == &id).count() == 1), "{ids:?}");
    assert!(coatwright::picture::png(&alone, 800).is_ok_and(|png| png.starts_with(b"\x89PNG")));
    // The same dog on the same recipe: nothing is marked.
    let same = compare(&a, &a, false);
    assert!(gravest(&same).is_none());
}

/// Every recipe of the demo by name, with its choices and its words.
fn house(files: &[(PathBuf, String)]) -> Vec<(String, Choices, Arc<Trade>)> {
    let workspace = Workspace::from_texts(files.to_vec(), files.len());
    let salon = workspace.salons().remove(0);
    let built = |decl| {
        choices::build(&chain(&salon, decl, &mut Vec::new()), &salon.trade, units(&salon.trade), &mut Vec::new())
    };
    salon.recipes.values().map(|d| (d.name().to_string(), built(d), Arc::clone(&salon.trade))).collect()
}

/// What a kit lost is found once for all recipes that say the same of a site; still no dog notices what isn't told, and each that
/// is shown does.
#[test]
fn a_lost_tool_is_told_where_a_dog_notices() {
    let old = common::saltmarsh();
    let texts = |files: &[(PathBuf, String)]| files.iter().map(|(p, t)| (p.clone(), Arc::from(t.as_str()))).collect();
    let mut dice = Dice(31);
    let (mut noticed, mut shown, mut still) = (0, 0, 0);
    for tool in [" #30,", " #10,", " #7F,", " #5F,", " #4F,", " comb-13,", " comb-19,", " thinners-46,"] {
        let mut new = old.clone();
        let (_, text) = new.iter_mut().find(|(_, text)| text.contains("kit saltmarsh-kit {")).unwrap();
        // With the number before it, if there is one.
        let at = text.find(tool).unwrap();
        let from = if text[..at].ends_with("two") {
            at - 4
        } else if text[..at].ends_with("three") {
            at - 6
        } else {
            at
        };
        text.replace_range(from..at + tool.len(), "");
        let all = compare(
            &Version::of(texts(&old), &|_| true, &mut Memo::default()),
            &Version::of(texts(&new), &|_| true, &mut Memo::default()),
            false,
        );
        for ((name, a, trade), (_, b, _)) in house(&old).into_iter().zip(house(&new)) {
            let one = all.iter().find(|c| c.name == name.as_str()).unwrap();
            assert!(!matches!(one.status, Status::Unreadable(_)), "{tool}: {one:#?}");
            let told = one.changes().iter().fold(Sites::NONE, |all, c| all | c.sites);
            for change in one.changes().iter().filter(|c| c.is_work) {
                let dog = read_on(change.dog.as_ref().unwrap(), &trade, None);
                let (x, y) = (done(&a, &trade, &dog), done(&b, &trade, &dog));
                assert!(change.sites.iter().any(|site| differs(&x, &y, site)), "{tool} {name}: {change:#?}");
                shown += 1;
            }
            for _ in 0..60 {
                let text = a_dog(&a, &trade, &mut dice);
                let dog = read(&text, &trade);
                if !is_served(&a, &trade, &dog) {
                    continue;
                }
                let (x, y) = (done(&a, &trade, &dog), done(&b, &trade, &dog));
                let differ: Sites = trade.all_sites().iter().filter(|site| differs(&x, &y, *site)).collect();
                assert!(differ.within(told), "{tool} {name}: {:?} isn't told\n{text}", differ - told);
                noticed += usize::from(!differ.is_empty());
                still += usize::from(differ.is_empty());
            }
        }
    }
    assert!(noticed > 200 && shown > 40 && still > 200, "{noticed} noticed, {shown} shown, {still} didn't");
}
