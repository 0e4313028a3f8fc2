//! What a groomer and an owner read, where a wrong word would hurt: clean tools, fears, ticks, margins, a clip-off that is
//! refused, and what wasn't come to.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

mod common;
#[path = "common/visit.rs"]
mod visit;

use coatwright::names::sites::Sites;
use coatwright::names::trade::Verb;
use coatwright::plan::{Lines, TaskKind};
use coatwright::sheet::{Happened, Line, Part, Sheet, make_part, replan};
use coatwright::workspace::Workspace;
use std::collections::BTreeMap;
use visit::{DOGS, made, request, stage};

/// The demo's salon with something in its cards written otherwise.
fn salon(changes: &[(&str, &str)]) -> Workspace {
    let mut files = common::saltmarsh();
    for (from, to) in changes {
        assert!(files.iter().any(|(_, text)| text.contains(from)), "{from}");
        files.iter_mut().for_each(|(_, text)| *text = text.replace(from, to));
    }
    common::workspace(files)
}

fn sheet(workspace: &Workspace, dog: &str, part: &Part) -> Sheet {
    make_part(workspace, &request(dog), part).unwrap_or_else(|said| panic!("{dog}: {said:#?}"))
}

fn step<'s>(sheet: &'s Sheet, title: &str) -> &'s coatwright::sheet::Step {
    let found = sheet.steps.iter().find(|s| s.title.contains(title));
    found.unwrap_or_else(|| panic!("{title}: {:?}", sheet.steps.iter().map(|s| &s.title).collect::<Vec<_>>()))
}

fn lines(sheet: &Sheet) -> impl Iterator<Item = &Line> {
    sheet.steps.iter().flat_map(|s| &s.lines)
}

fn caution(line: &Line) -> &str {
    line.caution.as_deref().unwrap_or_default()
}

/// A tool that was under the tail or between the toes is cleaned before it comes to the eyes, the mouth or the soft parts, on
/// every sheet of the demo. Counted anew on the plan, with the places of this list; common practice, no source.
#[test]
fn no_tool_goes_from_under_the_tail_to_the_eyes() {
    const SOIL: [&str; 4] = ["under-tail", "cushion", "pads", "between-toes"];
    const CLEAN: [&str; 14] = [
        "eye-corner",
        "under-eye",
        "brow",
        "lashes",
        "bridge",
        "stop",
        "muzzle",
        "chin",
        "vulva",
        "prepuce",
        "armpit",
        "groin",
        "belly-front",
        "belly-rear",
    ];
    let workspace = salon(&[]);
    let mut all = 0;
    for dog in DOGS {
        for part in [Part::Today, Part::Whole] {
            let made = made(&workspace, dog, &part);
            let of =
                |names: &[&str]| names.iter().map(|n| made.trade.sites_of(n).unwrap()).fold(Sites::NONE, |a, b| a | b);
            let (soil, clean) = (of(&SOIL), of(&CLEAN));
            let mut soiled: BTreeMap<u16, bool> = BTreeMap::new();
            let mut due = 0;
            for task in &made.plan.tasks {
                let strokes = |works: &[coatwright::plan::Work]| -> Vec<(Vec<u16>, Sites)> {
                    let tools =
                        |w: &coatwright::plan::Work| [w.stroke.tool, w.stroke.over].into_iter().flatten().map(|t| t.0);
                    works.iter().map(|w| (tools(w).collect(), w.sites)).collect()
                };
                let gone: Vec<(Vec<u16>, Sites)> = match &task.kind {
                    TaskKind::SetIn(works) => strokes(works),
                    TaskKind::Part { works, blends, .. } => {
                        let hands = blends.iter().map(|b| {
                            let rungs = b.rungs.iter().flat_map(|r| [Some(r.tool), r.over]);
                            let tools: Vec<u16> = rungs.chain([b.hand]).flatten().map(|t| t.0).collect();
                            (tools, b.from | b.into)
                        });
                        strokes(works).into_iter().chain(hands).collect()
                    }
                    _ => continue,
                };
                for (tools, sites) in gone {
                    if sites.meets(clean) && tools.iter().any(|t| soiled.get(t) == Some(&true)) {
                        due += 1;
                        tools.iter().for_each(|t| {
                            soiled.insert(*t, false);
                        });
                    }
                    if sites.meets(soil) {
                        tools.iter().for_each(|t| {
                            soiled.insert(*t, true);
                        });
                    }
                }
            }
            let sheet = sheet(&workspace, dog, &part);
            let said = lines(&sheet).filter(|l| caution(l).contains("Clean the tool first")).count();
            assert_eq!(said, due, "{dog} {part:?}");
            all += due;
            // How is said once.
            let how = lines(&sheet).filter(|l| caution(l).contains("disinfected")).count();
            assert_eq!(how, usize::from(due > 0), "{dog} {part:?}");
            // In one go, what soils comes last.
            for group in &made.plan.order.groups {
                let (Lines::Works(lines), TaskKind::Part { works, .. }) =
                    (&group.lines, &made.plan.tasks[group.task].kind)
                else {
                    continue;
                };
                let soils: Vec<bool> = lines.iter().map(|n| works[*n].sites.meets(soil)).collect();
                assert!(soils.is_sorted(), "{dog} {part:?}: {soils:?}");
            }
        }
    }
    assert!(all >= 4, "{all}");
}

/// To clean a tool takes its time: the order that has it where another has it not is the dearer one by that.
#[test]
fn cleaning_is_a_change() {
    use coatwright::plan::SetUp;
    let made = made(&salon(&[]), "bramble", &Part::Whole);
    let trade = &made.trade;
    let at = |zone: &str, tool: &str| {
        let tool = trade.index.tools.get(tool).copied();
        assert!(tool.is_some());
        SetUp::at(trade, trade.sites_of(zone).unwrap(), tool, None)
    };
    let steps = |from: SetUp, to: SetUp| from.change(&to, trade).steps;
    assert!(steps(at("under-tail", "#10"), at("eye-corner", "#10")).contains(&"clean-tool"));
    assert!(!steps(at("eye-corner", "#10"), at("under-tail", "#10")).contains(&"clean-tool"));
    assert!(!steps(at("under-tail", "#10"), at("eye-corner", "thinners-46")).contains(&"clean-tool"));
    assert!(!steps(at("under-tail", "#10"), at("croup", "#10")).contains(&"clean-tool"));
    let (from, to) = (at("under-tail", "#10"), at("eye-corner", "#10"));
    let others =
        steps(from, to).iter().filter(|s| **s != "clean-tool").map(|s| trade.minutes_of(s).high.0).sum::<i64>();
    assert_eq!(from.change(&to, trade).time.high.0, others + trade.minutes_of("clean-tool").high.0);
}

/// Foot-shy is said where the feet are first held, at the nails, and by name only after that; what concerns the whole dog and
/// has no room in the strip stands at the first step.
#[test]
fn fears_are_told_where_they_begin() {
    let sheet = sheet(&salon(&[]), "flint", &Part::Today);
    let nails = step(&sheet, "Nails").caution.clone().unwrap();
    assert!(nails.contains("Foot shy: Leg low") && nails.contains("dewclaw"), "{nails}");
    assert!(lines(&sheet).all(|l| !caution(l).contains("Leg low and near")));
    assert!(lines(&sheet).any(|l| caution(l).contains("Foot shy.")));
    assert!(sheet.also.as_ref().unwrap().contains("Clipper fear"), "{:?}", sheet.also);
    let first = sheet.steps[0].caution.as_ref().unwrap();
    assert!(first.contains("Clipper fear. Lowest speed"), "{first}");
}

/// Ticks have a step of their own before any tool, with the place, and the owner is told of one only then.
#[test]
fn ticks_come_out_first() {
    let with = sheet(&salon(&[]), "flint", &Part::Today);
    let ticks = step(&with, "Ticks out");
    assert!(ticks.caution.as_ref().unwrap().contains("right shoulder"), "{ticks:?}");
    let before = with.steps.iter().take_while(|s| s.title != "Ticks out");
    assert!(before.flat_map(|s| &s.lines).all(|l| l.tool.is_none()));
    let told =
        |s: &Sheet| (s.owner.found.iter().any(|l| l.contains("tick")), s.owner.done.iter().any(|l| l.contains("tick")));
    assert_eq!(told(&with), (true, true));
    let without =
        sheet(&salon(&[("  finding   ticks on right shoulder seen 2026-11-23\n", "")]), "flint", &Part::Today);
    assert_eq!(told(&without), (false, false));
    assert!(without.steps.iter().all(|s| s.title != "Ticks out"));
}

/// Where the owner said no, no line speaks of clipping off; a pelt that is only left takes no time and is told.
#[test]
fn no_means_no() {
    let knots = sheet(&salon(&[]), "flint", &Part::Today);
    let pelt =
        sheet(&salon(&[("mats      tangle on breeches", "mats      pelted on breeches")]), "flint", &Part::Today);
    for sheet in [&knots, &pelt] {
        let text = serde_json::to_string(sheet).unwrap();
        assert!(!text.contains("if the owner agrees") && !text.contains("short where mats came off"), "{text}");
        assert!(lines(sheet).all(|l| !l.work.starts_with("clip off")));
    }
    assert!(step(&knots, "Mats").minutes.is_some());
    let left = step(&pelt, "Mats");
    assert_eq!(left.minutes, None, "{left:?}");
    assert!(
        left.lines[0].work.starts_with("leave the pelt") && caution(&left.lines[0]).contains("said no"),
        "{left:?}"
    );
    assert!(pelt.owner.done.iter().all(|l| !l.contains("clipped off")));
    // Consent makes it a step with a blade and a time.
    let agreed = salon(&[
        ("consent   clip-off no, muzzle yes", "consent   clip-off yes, muzzle yes"),
        ("mats      tangle on breeches", "mats      pelted on breeches"),
    ]);
    let off = sheet(&agreed, "flint", &Part::Today);
    assert!(
        step(&off, "Mats").minutes.is_some() && step(&off, "Mats").lines.iter().any(|l| l.work.starts_with("clip off"))
    );
    assert!(off.owner.done.iter().any(|l| l.contains("mats clipped off on the breeches")), "{:?}", off.owner.done);
}

/// A margin that is worked with care isn't called one to stay off; a blade that the finding forbids stays off it beside it, and
/// what nothing may touch keeps its distance.
#[test]
fn a_margin_is_what_the_finding_makes_of_it() {
    let workspace = salon(&[]);
    let found = |line: &str| {
        let stages = vec![stage(&[1, 2, 3], &[line])];
        replan(&workspace, &request("bramble"), &Happened { stages, stood: None }).unwrap().sheet
    };
    let red = found("redness on belly front");
    let danger = |s: &Sheet, of: &str| s.dangers.iter().find(|d| d.starts_with(of)).unwrap().clone();
    assert!(danger(&red, "Redness").contains("With 30 mm round it"), "{:?}", red.dangers);
    let worked = lines(&red).find(|l| l.work.contains("belly front")).unwrap();
    assert!(
        worked.tool.as_deref() == Some("thinners 46") && caution(worked).contains("with 30 mm round it"),
        "{worked:?}"
    );
    let beside = lines(&red).find(|l| l.work == "skim belly rear").unwrap();
    assert!(caution(beside).contains("Redness, belly front beside it: 30 mm off"), "{beside:?}");
    let sore = found("hot-spot on belly front");
    assert!(danger(&sore, "Hot spot").contains("Stay 50 mm off"), "{:?}", sore.dangers);
    assert!(lines(&sore).all(|l| !l.work.contains("belly front")));
    assert!(lines(&sore).any(|l| caution(l).contains("Hot spot, belly front") && caution(l).contains("50 mm off")));
}

/// The owner reads of every finding, in words that are true whatever was done that day, and of nails and ears where they were done.
#[test]
fn the_owner_reads_what_was_done() {
    let workspace = salon(&[]);
    for dog in DOGS {
        let (made, sheet) = (made(&workspace, dog, &Part::Today), sheet(&workspace, dog, &Part::Today));
        for fact in &made.dog.findings {
            for words in &made.trade.finding(fact.finding).unwrap().owner {
                assert!(sheet.owner.found.iter().any(|l| l.contains(words.as_str())), "{dog}: {words}");
            }
        }
        let is_nails = |t: &coatwright::plan::Task| matches!(&t.kind, TaskKind::Step { step, .. } if made.trade.step(*step).unwrap().name == "nails");
        let nails = made.plan.tasks.iter().any(is_nails);
        let told = |w: &str| sheet.owner.done.iter().any(|l| l.to_lowercase().contains(w));
        assert_eq!(told("nails cut"), nails, "{dog}: {:?}", sheet.owner.done);
        assert!(told("under the tail"), "{dog}: {:?}", sheet.owner.done);
    }
    // None of the basics' words tells of work as done: whether it was hangs on the day.
    let trade = coatwright::basics::shared();
    for words in trade.findings.iter().flat_map(|f| &f.owner) {
        for claim in [
            "we clipped",
            "we cleaned",
            "we filed",
            "we did ",
            "we took",
            "we bathed",
            "we dried",
            "we lifted",
            "we left",
            "we kept",
        ] {
            assert!(!words.to_lowercase().contains(claim), "{words}");
        }
    }
}

/// What is stripped of a coat that no visit can hold is one piece, however much there is time for, and its edge is told as what
/// it is until the rest is done.
#[test]
fn a_coat_is_not_stripped_in_patches() {
    let mut sizes = Vec::new();
    for minutes in (60..=300).step_by(15) {
        let bears = format!("stands    50 min at a stretch, {minutes} min in all");
        let workspace = salon(&[("stands    50 min at a stretch, 90 min in all", &bears)]);
        let made = made(&workspace, "flint", &Part::Today);
        let stripped = |f: &&coatwright::finish::Finish| f.fine.verb == Verb::HandStrip;
        let zones: Vec<_> = made
            .finishes
            .all
            .iter()
            .filter(stripped)
            .filter_map(|f| made.trade.zone_of(f.site))
            .map(|(z, _)| z)
            .collect();
        let mut names: Vec<&str> = zones.iter().map(|z| z.name.as_str()).collect();
        names.dedup();
        sizes.push(names.len());
        let Some(first) = zones.first() else { continue };
        let (mut reached, mut grown) = (vec![first.name.as_str()], true);
        while grown {
            grown = false;
            for zone in &zones {
                let beside = zone
                    .borders
                    .iter()
                    .filter_map(|id| made.trade.zone(*id))
                    .any(|b| reached.contains(&b.name.as_str()));
                if beside && !reached.contains(&zone.name.as_str()) {
                    reached.push(&zone.name);
                    grown = true;
                }
            }
        }
        assert_eq!(reached.len(), names.len(), "{minutes} min: {names:?}");
        let sheet = sheet(&workspace, "flint", &Part::Today);
        assert!(
            sheet.will_show.iter().all(|l| !l.contains("(45 mm)") || l.contains("until the rest is done")),
            "{:?}",
            sheet.will_show
        );
    }
    // Where another visit would hold it whole it waits for that.
    sizes.retain(|size| *size > 0);
    sizes.dedup();
    assert!(sizes.len() > 4 && sizes.is_sorted(), "{sizes:?}");
}

/// What a senior takes back is told where it is done, and not on the sheet of a day on which that part waits.
#[test]
fn an_override_is_told_with_its_part() {
    let house = (
        "  keep     head last\n",
        "  keep     head last\n  seniors  \"head groomer\"\n  keep     back never in reverse\n",
    );
    let line = "  override back never in reverse by \"head groomer\" because \"The owner wants it so.\"\n  serves   weight 1.5 kg to 45 kg\n";
    let workspace = salon(&[house, ("  serves   weight 1.5 kg to 45 kg\n", line)]);
    assert_eq!(sheet(&workspace, "kelp", &Part::Whole).overridden.len(), 1);
    assert_eq!(sheet(&workspace, "kelp", &Part::Today).overridden, Vec::<String>::new());
}

/// The rest of a visit from every step on, by the clock or not, with something found or not: there is a sheet, whose stretches the
/// separate check passes, unless the dog bears no more at all.
#[test]
fn there_is_a_rest_from_every_step_on() {
    let workspace = salon(&[]);
    let (mut made, mut none) = (0, 0);
    for dog in DOGS {
        let today = sheet(&workspace, dog, &Part::Today);
        for last in 1..=today.steps.len() {
            for (found, minutes) in [("", None), ("", Some(35)), ("wart on left ribs", None), ("heart", Some(20))] {
                let done: Vec<u32> = today.steps.iter().take(last).map(|s| s.number).collect();
                let found = if found.is_empty() { Vec::new() } else { vec![found] };
                let stood = minutes.map(|m: i64| coatwright::measure::Time(m * 60));
                let happened = Happened { stages: vec![stage(&done, &found)], stood };
                match replan(&workspace, &request(dog), &happened) {
                    Ok(_) => made += 1,
                    Err(said) => {
                        let codes: Vec<_> = said.0.iter().map(|d| d.code).collect();
                        assert!(codes.contains(&"D011"), "{dog} 1-{last}: {:#?}", said.0);
                        none += 1;
                    }
                }
            }
        }
    }
    assert!(made > 100 && none < made / 4, "{made} {none}");
}

/// What is done counts in the rest: the tools that it soiled, and what the owner reads.
#[test]
fn the_rest_knows_what_was_done() {
    let workspace = salon(&[]);
    let today = sheet(&workspace, "bramble", &Part::Today);
    let belly = step(&today, "under the tail").number;
    let done: Vec<u32> = today.steps.iter().map(|s| s.number).filter(|n| *n <= belly).collect();
    let stages = |found: &[&str]| vec![stage(&done, found)];
    let rest = |found: &[&str]| {
        let happened = Happened { stages: stages(found), stood: None };
        replan(&workspace, &request("bramble"), &happened).unwrap_or_else(|said| panic!("{:#?}", said.0)).sheet
    };
    let after = rest(&[]);
    let eyes = lines(&after).find(|l| l.work.contains("eye corner")).unwrap();
    assert!(caution(eyes).contains("Clean the tool first"), "{eyes:?}");
    let told = |s: &Sheet| {
        s.owner.done.iter().any(|l| l.to_lowercase().contains("nails cut") && l.contains("mats clipped off"))
    };
    assert!(told(&today) && told(&after), "{:?}", after.owner.done);
    // A visit that stops tells what was done before, has no step again that is done, and no word of work that wasn't.
    let stopped = rest(&["cough"]);
    assert!(told(&stopped) && stopped.steps.iter().all(|s| !done.contains(&s.number)), "{stopped:#?}");
    assert!(stopped.steps.iter().all(|s| s.title != "Check"), "{stopped:#?}");
}

/// Mats that are found on a wet dog come off when it is dry, and nowhere is water ahead of them.
#[test]
fn mats_on_a_wet_dog_wait_until_it_is_dry() {
    let bears = ("stands   40 min at a stretch, 2 h in all", "stands   1 h at a stretch, 5 h in all");
    let workspace = salon(&[bears]);
    let today = sheet(&workspace, "bramble", &Part::Today);
    let bath = step(&today, "Bath").number;
    let done: Vec<u32> = today.steps.iter().map(|s| s.number).filter(|n| *n <= bath).collect();
    let stages = vec![stage(&done, &["mats pelted on left armpit"])];
    let rest = replan(&workspace, &request("bramble"), &Happened { stages, stood: None });
    let rest = rest.unwrap_or_else(|said| panic!("{:#?}", said.0)).sheet;
    let at = |title: &str| {
        rest.steps.iter().position(|s| s.title.contains(title)).unwrap_or_else(|| panic!("{title}: {rest:#?}"))
    };
    assert!(at("Dry stretch") < at("Mats, once it is dry") && at("Mats, once it is dry") < at("Comb to skin"));
    assert!(rest.steps.iter().all(|s| !s.title.contains("before any water")));
}

/// A pelt that is more than one visit comes off by parts, ticks before it, and who takes the dog home knows what is still there.
#[test]
fn pelts_come_off_by_parts() {
    let card = "dog sedge {\n  sex      bitch, spayed\n  coat     wavy, 70 mm\n  weight   11 kg\n  asked    skin, ears, heart, joints\n  \
                finding  ticks on left shoulder\n  mats     pelted on body, 3 mm off the skin\n  mats     tight on forelegs, hind legs, 8 mm off \
                the skin\n  consent  clip-off yes\n  stands   30 min at a stretch, 60 min in all\n  wants    short-tide\n}\n";
    let mut files = common::saltmarsh();
    files.push((std::path::PathBuf::from("recipes/saltmarsh/sedge.trim"), card.to_owned()));
    let workspace = common::workspace(files);
    let (made, sheet) = (made(&workspace, "sedge", &Part::Today), sheet(&workspace, "sedge", &Part::Today));
    let of = |t: &&coatwright::plan::Task| matches!(t.kind, TaskKind::Mats(_));
    let Some(TaskKind::Mats(now)) = made.plan.tasks.iter().find(of).map(|t| &t.kind) else { panic!("{sheet:#?}") };
    let body = made.trade.sites_of("body").unwrap();
    let sites =
        |all: &mut dyn Iterator<Item = usize>| all.map(|n| made.dog.mats[n].sites).fold(Sites::NONE, |a, b| a | b);
    let (off, all) = (sites(&mut now.iter().copied()), sites(&mut (0..made.dog.mats.len())));
    assert!(off.meets(body) && (all - off).meets(body) && body.within(all), "{:?}", made.dog.mats);
    // The felt before the tight ones, and nearly all the time that there is.
    assert!(!(all - off).is_empty() && made.plan.bears.stands.high.0 > 50 * 60, "{:?}", made.plan.bears.stands);
    let at = |title: &str| sheet.steps.iter().position(|s| s.title.contains(title));
    assert!(at("Ticks out").unwrap() < at("Mats").unwrap(), "{sheet:#?}");
    assert!(sheet.waits[0].starts_with("The rest of the mats"), "{:?}", sheet.waits);
    assert!(sheet.owner.not_done.iter().any(|l| l.contains("still there")), "{:?}", sheet.owner.not_done);
    // What of a felt is off is off: the rest of the visit has only what is left of it, and a felt that is found is one more.
    let done: Vec<u32> = sheet.steps.iter().map(|s| s.number).take(at("Mats").unwrap() + 1).collect();
    let stages = |found: &[&str]| vec![stage(&done, found)];
    for found in [&[][..], &["mats pelted on left ear-back"][..]] {
        let happened = Happened { stages: stages(found), stood: Some(coatwright::measure::Time(20 * 60)) };
        let rest =
            replan(&workspace, &request("sedge"), &happened).unwrap_or_else(|said| panic!("{:#?}", said.0)).sheet;
        let mats: Vec<&Line> =
            rest.steps.iter().filter(|s| s.title.starts_with("Mats")).flat_map(|s| &s.lines).collect();
        assert!(!mats.is_empty(), "{rest:#?}");
        let first = lines(&sheet).find(|l| l.work.contains("clip off the pelt")).unwrap();
        assert!(mats.iter().all(|l| l.work != first.work), "{mats:#?}");
        assert_eq!(mats.iter().any(|l| l.work.contains("ear back")), !found.is_empty(), "{mats:#?}");
    }
    // A bath that no visit holds isn't promised.
    assert!(sheet.waits.iter().any(|l| l.starts_with("A bath with its drying is more than")), "{:?}", sheet.waits);
}

/// A time for de-matting that recipe or house says is kept on the sheet and in its minutes; without mats there is no empty box for it.
#[test]
fn dematting_ends_when_it_is_said_to() {
    let pearl = |changes: &[(&str, &str)]| sheet(&salon(changes), "pearl", &Part::Today);
    let minutes = |s: &Sheet| (step(s, "Mats").minutes.clone().unwrap(), caution(&step(s, "Mats").lines[0]).to_owned());
    let (usual, short) = (pearl(&[]), pearl(&[("dematt at most 10 min", "dematt at most 4 min")]));
    assert!(minutes(&usual).1.contains("At most 10 min in all"), "{usual:#?}");
    assert!(minutes(&short).1.contains("At most 4 min in all") && minutes(&short).0.ends_with("4 min"), "{short:#?}");
    let none = pearl(&[("  mats        knot on breeches, 15 mm off the skin\n", "")]);
    assert!(none.steps.iter().all(|s| !s.title.contains("Dematt") && !s.title.contains("Mats")), "{none:#?}");
}

/// Ear tips are looked at beside the last look, not in its place.
#[test]
fn every_visit_ends_with_a_last_look() {
    for dog in DOGS {
        for part in [Part::Today, Part::Whole] {
            let sheet = sheet(&salon(&[]), dog, &part);
            assert!(sheet.steps.iter().any(|s| s.title.starts_with("Last look")), "{dog}");
        }
    }
}

/// A male isn't in season; whoever writes it is told where.
#[test]
fn a_male_is_not_in_season() {
    let workspace = salon(&[("  finding   entire-male\n", "  finding   in-season\n")]);
    let said = make_part(&workspace, &request("flint"), &Part::Today).unwrap_err();
    assert!(said.iter().any(|d| d.code == "D009" && d.message.contains("in season is for bitches")), "{said:#?}");
}

/// A wet dog is dried, whatever is found: it may keep the next one from a bath, not this one from the dryer; where there is no time,
/// or the visit stops, it is towelled, and nothing else is done on a wet coat. The owner reads of what was done and no more.
#[test]
fn a_wet_dog_is_dried() {
    let workspace = salon(&[("stands   40 min at a stretch, 2 h in all", "stands   1 h at a stretch, 5 h in all")]);
    let today = sheet(&workspace, "bramble", &Part::Today);
    let bath = step(&today, "Bath").number;
    let rest = |found: &str, stood: i64| {
        let done: Vec<u32> = today.steps.iter().map(|s| s.number).filter(|n| *n <= bath).collect();
        let stages = vec![stage(&done, &[found])];
        let stood = (stood > 0).then_some(coatwright::measure::Time(stood * 60));
        let rest = replan(&workspace, &request("bramble"), &Happened { stages, stood });
        rest.unwrap_or_else(|said| panic!("{found}: {:#?}", said.0)).sheet
    };
    let worked = |s: &Sheet| lines(s).any(|l| l.direction.is_some());
    let dried = |s: &Sheet| s.owner.done.iter().any(|l| l.to_lowercase().contains("dried") || l.contains("towelled"));
    let wound = rest("wound on left ribs", 0);
    let first = wound.steps.iter().position(|s| s.title.starts_with("Dry")).unwrap();
    assert!(wound.steps[..first].iter().all(|s| s.lines.is_empty()), "{wound:#?}");
    assert!(wound.left_out.iter().all(|l| !l.contains("bath")) && dried(&wound), "{:?}", wound.left_out);
    for (found, stood) in [("heart", 35), ("maggots on under tail", 0), ("cough", 0)] {
        let sheet = rest(found, stood);
        assert!(sheet.steps.iter().any(|s| s.title.starts_with("Dry towel")), "{found}: {sheet:#?}");
        assert!(!worked(&sheet), "{found}: {sheet:#?}");
        let told = sheet.owner.done.iter().find(|l| l.contains("bathed")).unwrap();
        assert!(told.contains("towelled") && !told.contains("dried"), "{found}: {told}");
    }
}

/// A visit that a finding stops tells of no work as done, to the owner or to the file, but of what was done before.
#[test]
fn a_stopped_visit_tells_what_was_done() {
    let cough = salon(&[("  finding  sensitive-belly\n", "  finding  cough\n  finding  ticks on left cheek\n")]);
    let stopped = sheet(&cough, "bramble", &Part::Today);
    assert_eq!(stopped.owner.done, Vec::<String>::new());
    assert!(stopped.details.reasons.iter().all(|r| r.work == "leave"), "{:#?}", stopped.details.reasons);
    assert!(stopped.will_show.is_empty(), "{:?}", stopped.will_show);
    assert!(stopped.owner.found.iter().any(|l| l.contains("if it is still in")), "{:?}", stopped.owner.found);
    let workspace = salon(&[]);
    let today = sheet(&workspace, "bramble", &Part::Today);
    let done: Vec<u32> = today.steps.iter().map(|s| s.number).filter(|n| *n <= step(&today, "Pads").number).collect();
    let stages = vec![stage(&done, &["cough"])];
    let later = replan(&workspace, &request("bramble"), &Happened { stages, stood: None }).unwrap().sheet;
    let worked: Vec<&str> =
        later.details.reasons.iter().filter(|r| r.work != "leave").map(|r| r.zones.as_str()).collect();
    assert_eq!(worked, ["between toes and pads"]);
    assert!(
        later.owner.done.iter().any(|l| l.starts_with("Feet: only between toes and pads")),
        "{:?}",
        later.owner.done
    );
}

/// Where no blade goes under a mat safely it is left, consent or not: no line tells to clip it, and water and air keep off it.
#[test]
fn a_mat_that_no_blade_takes_is_left() {
    let workspace = salon(&[
        ("  finding  sensitive-belly\n", "  finding  thin-skin on belly-rear\n  finding  clotting-medicine\n"),
        ("mats     tight on breeches, 20 mm off the skin", "mats     pelted on belly-rear, 1 mm off the skin"),
    ]);
    let whole = sheet(&workspace, "bramble", &Part::Whole);
    let line = &step(&whole, "Mats").lines[0];
    assert!(
        line.tool.is_none() && line.work.starts_with("leave the pelt") && caution(line).contains("No blade"),
        "{line:?}"
    );
    assert!(lines(&whole).all(|l| !l.work.starts_with("clip off") || l.tool.is_some()));
    for title in ["Dry", "Comb to skin"] {
        let told = step(&whole, title).caution.clone().unwrap();
        assert!(
            told.contains("Not there") && told.contains("belly-rear") || told.contains("belly rear"),
            "{title}: {told}"
        );
    }
    assert!(whole.owner.done.iter().all(|l| !l.contains("mats clipped off")), "{:?}", whole.owner.done);
}

/// Beside its own place a finding is minded where it says what a tool may be, and not where it only keeps a dryer away.
#[test]
fn a_finding_is_minded_where_it_binds_a_tool() {
    let shy = salon(&[("  finding  sensitive-belly\n", "  finding  face-shy\n")]);
    let eyes = sheet(&shy, "bramble", &Part::Today);
    let eyes = lines(&eyes).find(|l| l.work.contains("eye corner")).unwrap();
    assert!(caution(eyes).contains("Face shy"), "{eyes:?}");
    let kelp = sheet(&salon(&[]), "kelp", &Part::Today);
    let ears = lines(&kelp).find(|l| l.work.contains("pelt on the ears")).unwrap();
    assert!(caution(ears).contains("With consent") && !caution(ears).contains("Dry eyes"), "{ears:?}");
}

/// A finding's caution comes before the step's own and never in its stead.
#[test]
fn a_step_keeps_its_own_caution() {
    let nails = salon(&[("  finding   foot-shy\n", "  finding   foot-shy\n  finding   overgrown-nail on left feet\n")]);
    let told = step(&sheet(&nails, "flint", &Part::Today), "Nails").caution.clone().unwrap();
    assert!(told.contains("dewclaw") && told.contains("Foot shy") && told.contains("Overgrown nail"), "{told}");
    let dryer = salon(&[("  finding  sensitive-belly\n", "  finding  dryer-fits\n  finding  redness on left ribs\n")]);
    let dry = sheet(&dryer, "bramble", &Part::Whole);
    let told = step(&dry, "Dry").caution.clone().unwrap();
    assert!(told.contains("never unattended") && told.contains("Redness"), "{told}");
}

/// A dog isn't put into the tub on the last minutes of a stretch: what is longer than one begins after a rest.
#[test]
fn who_is_bathed_has_rested() {
    let workspace = salon(&[("stands   40 min at a stretch, 2 h in all", "stands   18 min at a stretch, 9 h in all")]);
    let made = made(&workspace, "bramble", &Part::Today);
    let groups = &made.plan.order.groups;
    let mut long = 0;
    for rest in made.plan.bears.rests.iter().filter(|r| r.times > 0) {
        let task = groups[rest.group].task;
        let TaskKind::Step { step, .. } = &made.plan.tasks[task].kind else { continue };
        let name = &made.trade.step(*step).unwrap().name;
        let rested = made.plan.bears.rests.iter().any(|r| r.times == 0 && r.group == rest.group);
        // Between tub and dryer there is none: a wet dog isn't put down.
        assert!(rested || name.starts_with("dry"), "{name}: {:?}", made.plan.bears.rests);
        long += 1;
    }
    assert!(long > 0, "{:?}", made.plan.bears.rests);
}

/// A line that names what wants a clean tool and what soils it is done in that order, as two.
#[test]
fn one_line_ends_with_what_soils() {
    let workspace = salon(&[
        ("  skim     under tail with #10 with the coat, one pass, away\n", ""),
        (
            "skim     groin with #10 with the coat, one pass",
            "skim     under tail, groin with #10 with the coat, one pass",
        ),
    ]);
    let made = made(&workspace, "bramble", &Part::Whole);
    let of = |name: &str| made.trade.sites_of(name).unwrap();
    let mut found = [0, 0];
    for task in &made.plan.tasks {
        let TaskKind::Part { works, .. } = &task.kind else { continue };
        assert!(works.iter().all(|w| !(w.sites.meets(of("under-tail")) && w.sites.meets(of("groin")))));
        for (found, name) in found.iter_mut().zip(["under-tail", "groin"]) {
            *found += works.iter().filter(|w| w.sites.meets(of(name))).count();
        }
    }
    assert_eq!(found, [1, 1]);
    let sheet = sheet(&workspace, "bramble", &Part::Whole);
    let skims: Vec<&str> = lines(&sheet).filter(|l| l.work.starts_with("skim")).map(|l| l.work.as_str()).collect();
    let at = |place: &str| skims.iter().position(|s| s.contains(place)).unwrap_or_else(|| panic!("{place}: {skims:?}"));
    assert!(at("groin") < at("under tail"), "{skims:?}");
}

/// What is caked under the tail comes off before anything that may wait, the mats too.
#[test]
fn a_caked_rear_does_not_wait() {
    let short = ("stands   40 min at a stretch, 2 h in all", "stands   15 min at a stretch, 15 min in all");
    let caked = ("  finding  sensitive-belly\n", "  finding  soiled-rear\n");
    let sheet = sheet(&salon(&[short, caked]), "bramble", &Part::Today);
    let titles: Vec<&str> = sheet.steps.iter().map(|s| s.title.as_str()).collect();
    let at =
        |title: &str| titles.iter().position(|t| t.contains(title)).unwrap_or_else(|| panic!("{title}: {titles:?}"));
    assert!(at("Rear off") < at("Last look") && titles.iter().all(|t| !t.contains("Mats")), "{titles:?}");
    assert!(
        sheet.owner.done.iter().any(|l| l.contains("caked hair under the tail taken off")),
        "{:?}",
        sheet.owner.done
    );
}

/// A dog with fleas is bathed and dried, whatever its recipe says, before what can wait; one that must not be bathed isn't.
#[test]
fn fleas_are_washed_off() {
    let fleas = ("  finding  sensitive-belly\n", "  finding  fleas\n");
    let titles = |changes: &[(&str, &str)]| -> Vec<String> {
        sheet(&salon(changes), "bramble", &Part::Today).steps.iter().map(|s| s.title.clone()).collect()
    };
    let has = |titles: &[String], title: &str| titles.iter().any(|t| t.starts_with(title));
    let all = ("stands   40 min at a stretch, 2 h in all", "stands   100 min in all");
    let (with, without) = (titles(&[fleas, all]), titles(&[all]));
    assert!(has(&with, "Bath") && has(&with, "Dry") && !has(&without, "Bath"), "{with:?} {without:?}");
    let no_bath = ("bath; dry", "dematt");
    let unasked = titles(&[fleas, no_bath]);
    assert!(has(&unasked, "Bath") && has(&unasked, "Dry"), "{unasked:?}");
    assert!(!has(&titles(&[no_bath]), "Bath"));
    let ill = ("  finding  sensitive-belly\n", "  finding  fleas\n  finding  surgery on left thigh\n");
    assert!(!has(&titles(&[ill, no_bath]), "Bath"));
}

/// Felt that was left because the owner said no comes off when the owner says yes in the middle of the visit; till then what was
/// left is dealt with.
#[test]
fn an_owner_may_relent() {
    let changes = [("consent  clip-off yes\n", "consent  clip-off no\n")];
    let workspace = salon(&changes);
    let request = request("bramble");
    let rest = |found: &str| {
        let stages = vec![stage(&[1, 2, 3], &[found])];
        replan(&workspace, &request, &Happened { stages, stood: None }).unwrap().sheet
    };
    let relented = rest("consent clip-off yes");
    assert!(lines(&relented).any(|l| l.work.contains("clip off") && l.tool.is_some()), "{:?}", relented.steps);
    let refused = rest("face-shy");
    assert!(refused.steps.iter().all(|s| !s.title.contains("Mats")), "{:?}", refused.steps);
}

/// Water and air stay off a dog most of which is under felt that its owner keeps.
#[test]
fn felt_that_stays_is_not_bathed() {
    let felt = |consent: &str| {
        let with = format!("mats     pelted on body, legs\n  consent  clip-off {consent}");
        let from = "mats     tight on breeches, 20 mm off the skin\n  consent  clip-off yes";
        salon(&[(from, with.as_str()), ("mats up to tight", "mats up to pelted")])
    };
    let washed = |sheet: &Sheet| sheet.steps.iter().any(|s| s.title.starts_with("Bath") || s.title.starts_with("Dry"));
    let (kept, off) = (sheet(&felt("no"), "bramble", &Part::Whole), sheet(&felt("yes"), "bramble", &Part::Whole));
    assert!(!washed(&kept) && washed(&off));
    assert!(kept.left_out.iter().any(|l| l.contains("bath") && l.contains("felt that stays")), "{:?}", kept.left_out);
    assert!(kept.owner.not_done.iter().any(|l| l.starts_with("There was no bath")), "{:?}", kept.owner.not_done);
}

/// Who was bathed before it was stripped is dried first; the ears are wrapped after they are freed.
#[test]
fn what_wants_a_dry_coat_waits_until_it_is_dry() {
    let workspace =
        salon(&[("stands    50 min at a stretch, 90 min in all", "stands    2 h at a stretch, 12 h in all")]);
    let whole = sheet(&workspace, "flint", &Part::Today);
    let number = |title: &str| step(&whole, title).number;
    let (strip, bath) = (number("Hand stripping"), number("Bath"));
    let done: Vec<u32> = (1..strip).chain([bath]).collect();
    let stages = vec![stage(&done, &["mats pelted on left ear-back", "consent clip-off yes"])];
    let rest = replan(&workspace, &request("flint"), &Happened { stages, stood: None }).unwrap().sheet;
    let titles: Vec<&str> = rest.steps.iter().map(|s| s.title.as_str()).collect();
    let at =
        |title: &str| titles.iter().position(|t| t.contains(title)).unwrap_or_else(|| panic!("{title}: {titles:?}"));
    assert!(at("Dry") < at("Mats") && at("Mats") < at("Wrap ears"), "{titles:?}");
    assert!(at("Dry") < at("Hand stripping"), "{titles:?}");
}

/// A tool goes from a place with something catching nowhere else before it is cleaned, and there last.
#[test]
fn what_is_catching_stays_where_it_is() {
    let workspace = salon(&[("  finding  sensitive-belly\n", "  finding  yeasty-skin on left ribs\n")]);
    let made = made(&workspace, "bramble", &Part::Whole);
    let sick =
        made.trade.zones.iter().find(|z| z.name == "ribs").unwrap().site_on(coatwright::names::trade::Side::Left);
    let mut alone = 0;
    for group in &made.plan.order.groups {
        let (Lines::Works(lines), TaskKind::Part { works, .. }) = (&group.lines, &made.plan.tasks[group.task].kind)
        else {
            continue;
        };
        if let Some(at) = lines.iter().position(|n| works[*n].sites.has(sick)) {
            assert!(at + 1 == lines.len() && works[lines[at]].sites == Sites::one(sick));
            alone += 1;
        }
    }
    assert!(alone > 0);
    let sheet = sheet(&workspace, "bramble", &Part::Whole);
    assert!(lines(&sheet).any(|l| caution(l).contains("left ribs") && caution(l).contains("Clean the tool")));
}

/// A pup of three months is a puppy and no young dog; one of eight months the other way round. Both get no force dryer where
/// the basics say so.
#[test]
fn a_puppy_is_no_young_dog_yet() {
    let born = |born: &str| {
        let sheet =
            sheet(&salon(&[("  born     2019-05\n", &format!("  born     {born}\n"))]), "bramble", &Part::Whole);
        ["Puppy", "Young dog"].map(|name| sheet.dangers.iter().any(|w| w.contains(name)))
    };
    assert_eq!(born("2026-08-20"), [true, false]);
    assert_eq!(born("2026-03-20"), [false, true]);
    assert_eq!(born("2024-03-20"), [false, false]);
}

/// That the vet may be called in an emergency is asked whatever else is.
#[test]
fn the_vet_in_an_emergency_is_always_asked() {
    let sheet = sheet(&salon(&[("  finding  sensitive-belly\n", "  finding  heart\n")]), "bramble", &Part::Today);
    let asked: Vec<&str> = sheet.consents.iter().map(|c| c.what.as_str()).collect();
    assert!(asked.contains(&"vets leave") && asked.contains(&"vet in an emergency"), "{asked:?}");
}

/// What waits has a sheet on another day, and what then waits again on a third; `visit` says how it is made.
#[test]
fn what_waits_is_done_on_another_day() {
    let workspace = salon(&[]);
    let done = coatwright::visit::Done {
        dog: "bramble".to_owned(),
        recipe: None,
        on: request("bramble").on.unwrap(),
        used: Vec::new(),
        found: Vec::new(),
    };
    let visited = coatwright::visit::visited(&workspace, &done).unwrap_or_else(|said| panic!("{:#?}", said.0));
    assert!(visited.line.contains("#4F"), "the blade of the mats: {}", visited.line);
    let first = visited.rest.unwrap();
    let mut stages = vec![stage(&first, &[])];
    let mut all: Vec<String> = Vec::new();
    for day in 1..=2 {
        let happened = Happened { stages: stages.clone(), stood: Some(coatwright::measure::Time(0)) };
        let rest = replan(&workspace, &request("bramble"), &happened).unwrap_or_else(|said| panic!("{:#?}", said.0));
        let (sheet, told) = (rest.sheet, rest.said);
        assert!(told.iter().all(|d| d.code != "D012"), "{told:?}");
        assert!(sheet.steps[0].title.starts_with("Check") && !sheet.stands.as_ref().unwrap().is_empty());
        let worked = sheet.steps.iter().filter(|s| !s.title.starts_with("Check") && s.title != "Last look");
        let titles: Vec<&str> = worked.clone().map(|s| s.title.as_str()).collect();
        assert!(titles.iter().all(|t| !all.iter().any(|known| known == t)), "day {day}: {titles:?} after {all:?}");
        all.extend(titles.iter().map(|t| (*t).to_owned()));
        stages.push(stage(&worked.map(|s| s.number).collect::<Vec<_>>(), &[]));
        assert_eq!(sheet.waits.is_empty(), day == 2, "day {day}: {:?}", sheet.waits);
    }
    for title in ["Bath", "Body", "Hind legs", "Head and ears"] {
        assert!(all.iter().any(|t| t == title), "{title}: {all:?}");
    }
}
