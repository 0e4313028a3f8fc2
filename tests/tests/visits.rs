//! What a dog bears: two visits on the demo's dogs, the rest made anew, and a day of them.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

mod common;
#[path = "common/visit.rs"]
mod visit;

use coatwright::date::Day;
use coatwright::day::{Clock, DayJson, Hours, Visit, VisitJson, calendar, day};
use coatwright::finish::Outcome;
use coatwright::measure::Time;
use coatwright::sheet::{Happened, Part, Sheet, Stage, make_part, make_today, replan};
use coatwright::workspace::Workspace;
use visit::{DOGS, made, request, stage};

fn salon() -> Workspace {
    common::workspace(common::saltmarsh())
}

fn titles(sheet: &Sheet) -> Vec<(u32, &str)> {
    sheet.steps.iter().map(|s| (s.number, s.title.as_str())).collect()
}

/// The numbers on the cards of the demo (`recipes/saltmarsh/dogs.trim`), in minutes.
const BEARS: [(i64, i64); 4] = [(40, 120), (15, 45), (50, 90), (60, 120)];

/// No more than the card says, even where all goes slowly; each place is finished today or waits, and no other is; what the
/// basics say can't wait is there.
#[test]
fn today_and_what_waits() {
    let workspace = salon();
    for (dog, (stretch, all)) in DOGS.into_iter().zip(BEARS) {
        let (whole, today) = (made(&workspace, dog, &Part::Whole), made(&workspace, dog, &Part::Today));
        assert!(!whole.plan.bears.fits(), "{dog}");
        assert!(today.plan.bears.fits() && today.plan.bears.stands.high <= Time(all * 60), "{dog}");
        assert_eq!(today.plan.bears.limits.at_stretch.unwrap().time, Time(stretch * 60), "{dog}");
        let waits = today.waits.as_ref().unwrap();
        let (mut waiting, mut worked) = (0, 0);
        for (before, after) in whole.finishes.all.iter().zip(&today.finishes.all) {
            assert_eq!(before.site, after.site);
            if waits.sites.has(after.site) {
                assert!(after.outcome == Outcome::Waits && after.fine.tool.is_none(), "{dog}");
                waiting += 1;
            } else {
                assert_eq!((&before.fine, before.outcome), (&after.fine, after.outcome), "{dog}");
                worked += usize::from(after.fine.tool.is_some());
            }
        }
        assert!(waiting > 0 && worked > 0, "{dog}: {waiting} {worked}");
        // Mats, and under the tail unless a finding keeps the blade off.
        let sheet = make_part(&workspace, &request(dog), &Part::Today).unwrap();
        let has = |title: &str| sheet.steps.iter().any(|s| s.title.starts_with(title));
        // Kelp's house ends with another look than the usual one: at the tips of her ears.
        let ends = has("Last look") || has("Ear tips");
        assert!(has("Mats") && has("Nails") && ends, "{dog}: {:?}", titles(&sheet));
        // Whatever is taken into the hand lies there.
        for tool in sheet.steps.iter().flat_map(|step| &step.lines).filter_map(|line| line.tool.as_deref()) {
            let first = tool.split(" over ").next().unwrap();
            assert!(sheet.lay_out.iter().any(|t| t.starts_with(first)), "{dog}: {tool} in {:?}", sheet.lay_out);
        }
        let first = made(&workspace, dog, &Part::Whole);
        let vent = first.trade.sites_of("under-tail").unwrap();
        assert!(!waits.sites.meets(vent), "{dog}");
        // The owner is told.
        assert!(
            sheet.owner.not_done[0].contains("another visit")
                || sheet.owner.not_done.iter().any(|l| l.contains("another visit"))
        );
    }
}

/// The line of the sheet that says what comes first, from the words on.
fn comes_first(workspace: &Workspace, dog: &str) -> String {
    let sheet = serde_json::to_string(&make_part(workspace, &request(dog), &Part::Today).unwrap()).unwrap();
    let (_, after) = sheet.split_once("What it needs comes first: ").unwrap_or_else(|| panic!("{dog}: {sheet}"));
    after.split('"').next().unwrap().to_owned()
}

/// What comes first is read from `waits no`: a house that adds such a step sees it on the sheet, and that part is done today.
#[test]
fn what_cannot_wait_is_the_basics_word() {
    let plain = salon();
    let mut files = common::saltmarsh();
    let own = "step clear-lips {\n  about    \"Hair out of the mouth, when the rest of the head waits.\"\n  on       muzzle\n  \
               waits    no\n  caution  \"Points away from the lip.\"\n}\n";
    files.push((std::path::PathBuf::from("recipes/saltmarsh/own-steps.trim"), own.to_owned()));
    let house = common::workspace(files);
    let mut seen = 0;
    for dog in DOGS {
        let (before, after) = (comes_first(&plain, dog), comes_first(&house, dog));
        let words: Vec<&str> = before.split(", ").collect();
        assert!(words.contains(&"mats") && words.contains(&"nails"), "{dog}: {before}");
        assert!(!before.contains("clear lips"), "{dog}: {before}");
        let muzzle = made(&plain, dog, &Part::Whole);
        let here = muzzle.trade.sites_of("muzzle").unwrap();
        let works = muzzle.finishes.all.iter().any(|f| here.has(f.site) && f.fine.tool.is_some());
        assert_eq!(after.contains("clear lips"), works, "{dog}: {after}");
        let today = made(&house, dog, &Part::Today);
        let done = !today.waits.is_some_and(|w| w.sites.meets(here));
        assert!(done || !works, "{dog}: the muzzle waits");
        seen += u32::from(works);
    }
    assert!(seen > 0, "no dog of the demo has its muzzle worked");
}

/// A dog that bears it has no second visit, and nothing about its trim is different.
#[test]
fn who_bears_it_all_is_done_in_one() {
    let mut files = common::saltmarsh();
    for (_, text) in &mut files {
        *text = text.replace("stands   40 min at a stretch, 2 h in all", "stands   1 h at a stretch, 5 h in all");
    }
    let workspace = common::workspace(files);
    let (whole, today) = (made(&workspace, "bramble", &Part::Whole), made(&workspace, "bramble", &Part::Today));
    assert!(today.waits.is_none());
    assert_eq!(whole.finishes.all, today.finishes.all);
    assert!(!today.plan.bears.rests.is_empty());
}

/// What was done by one sheet and found then.
fn so_far(done: &[u32], found: &[&str], stood: Option<Time>) -> Happened {
    Happened { stages: vec![stage(done, found)], stood }
}

/// Steps that are done are gone, the others keep their numbers, what was found is on the sheet, and less is left to bear.
#[test]
fn the_rest_keeps_its_numbers() {
    let workspace = salon();
    let sheet = make_part(&workspace, &request("bramble"), &Part::Today).unwrap();
    let happened = so_far(&[1, 2], &["wart on left ribs"], Some(Time(900)));
    let rest = replan(&workspace, &request("bramble"), &happened).unwrap_or_else(|said| panic!("{:#?}", said.0));
    let before = titles(&sheet);
    for step in titles(&rest.sheet) {
        assert!(step.0 > 2 && before.contains(&step), "{step:?} in {before:?}");
    }
    assert!(rest.sheet.dangers.iter().any(|d| d.starts_with("Wart, left ribs")));
    assert!(rest.sheet.stands.as_ref().unwrap().contains("1 h 45 in all"), "{:?}", rest.sheet.stands);
    // A mat that turns out pelted is one mat, not two.
    let happened = so_far(&[1], &["mats pelted on breeches"], None);
    let rest = replan(&workspace, &request("bramble"), &happened).unwrap();
    let mats = rest.sheet.steps.iter().find(|s| s.title.starts_with("Mats")).unwrap();
    assert_eq!((mats.number, mats.lines.len()), (3, 1), "{mats:#?}");
    assert!(mats.lines[0].work.contains("pelt"));
    // One that is found when the mats are done is a step that no sheet had.
    let happened = so_far(&[1, 2, 3], &["mats tight on left armpit"], None);
    let rest = replan(&workspace, &request("bramble"), &happened).unwrap();
    let mats = rest.sheet.steps.iter().find(|s| s.title.starts_with("Mats")).unwrap();
    assert!(before.iter().all(|(number, _)| *number != mats.number) && mats.lines.len() == 1, "{mats:#?}");
    // Nothing was written.
    assert!(!workspace.sources().text(coatwright::source::FileId(0)).contains("left armpit"));
}

/// The second time the steps of the sheet of the rest count: a step that it added is done by its number there, and what was
/// done before something was found isn't done again by that.
#[test]
fn the_rest_of_the_rest() {
    let workspace = salon();
    let after = |stages: &[Stage]| {
        let happened = Happened { stages: stages.to_vec(), stood: None };
        replan(&workspace, &request("bramble"), &happened).unwrap_or_else(|said| panic!("{:#?}", said.0)).sheet
    };
    let first = stage(&[1, 2, 3], &["mats pelted on breeches"]);
    let once = after(std::slice::from_ref(&first));
    let mats = once.steps.iter().find(|s| s.title.starts_with("Mats")).unwrap();
    let today = make_part(&workspace, &request("bramble"), &Part::Today).unwrap();
    assert!(titles(&today).iter().all(|(number, _)| *number != mats.number), "{mats:?}");
    let twice = after(&[first.clone(), stage(&[mats.number, 4], &["wart on left ribs"])]);
    let expected: Vec<_> = titles(&once).into_iter().filter(|(n, _)| *n != mats.number && *n != 4).collect();
    assert_eq!(titles(&twice), expected);
    assert!(twice.replanned.as_ref().unwrap().contains("then steps"), "{:?}", twice.replanned);
    assert!(twice.dangers.iter().any(|d| d.starts_with("Wart, left ribs")));
    // Both times count against what the dog bears.
    let bears = |sheet: &Sheet| {
        let all = sheet.stands.clone().unwrap();
        let words = all.split("stretch, ").nth(1).and_then(|t| t.split(" in all").next()).unwrap().to_owned();
        let (hours, minutes) = words.split_once(" h ").unwrap_or(("0", words.trim_end_matches(" min")));
        hours.parse::<i64>().unwrap() * 60 + minutes.parse::<i64>().unwrap()
    };
    assert!(bears(&twice) < bears(&once), "{:?} {:?}", twice.stands, once.stands);
    // Worse still: the pelt that is done is done, the one that is found now isn't.
    let worse = after(&[first.clone(), stage(&[mats.number], &["mats tight on left armpit"])]);
    let again = worse.steps.iter().find(|s| s.title.starts_with("Mats")).unwrap();
    assert!(again.number > mats.number && again.lines.len() == 1, "{again:?}");
    // Who names it too early is told how it is said.
    let early = Happened { stages: vec![stage(&[1, 2, 3, mats.number], &["mats pelted on breeches"])], stood: None };
    let said = replan(&workspace, &request("bramble"), &early).err().unwrap().0;
    assert!(said[0].code == "D012" && said[0].help.iter().any(|h| h.contains("after what was found")), "{said:?}");
    // What the sheet of the day said isn't said again, and what is new is.
    let rest = replan(&workspace, &request("bramble"), &Happened { stages: vec![first], stood: None }).unwrap();
    assert!(
        rest.said.iter().all(|d| d.code != "D004") && rest.said.iter().any(|d| d.code == "D001"),
        "{:?}",
        rest.said
    );
}

/// A finding on a part that is done says nothing about what was done there, in the file or to the owner.
#[test]
fn what_is_done_was_done_by_what_was_known() {
    let workspace = salon();
    let today = make_part(&workspace, &request("bramble"), &Part::Today).unwrap();
    let pads = today.steps.iter().find(|s| s.title == "Pads").unwrap();
    let done: Vec<u32> = today.steps.iter().map(|s| s.number).filter(|n| *n <= pads.number).collect();
    let why = |sheet: &Sheet| {
        let zones = |r: &&coatwright::sheet::ZoneReasons| r.zones.contains("pads");
        sheet.details.reasons.iter().find(zones).map(|r| r.work.clone()).unwrap()
    };
    let feet = |sheet: &Sheet| sheet.owner.done.iter().find(|l| l.starts_with("Feet")).cloned().unwrap();
    let rest =
        |done: &[u32]| replan(&workspace, &request("bramble"), &so_far(done, &["redness on pads"], None)).unwrap();
    let (late, early) = (rest(&done).sheet, rest(&done[..1]).sheet);
    assert_eq!((why(&late), feet(&late)), (why(&today), feet(&today)));
    assert_ne!(why(&early), why(&today));
    assert!(late.owner.found.iter().any(|l| l.contains("red skin")), "{:?}", late.owner.found);
}

/// What can't be: a step too many, a line that no card has, two lines in one, and no time left.
#[test]
fn what_no_rest_is_made_of() {
    let workspace = salon();
    let code = |done: &[u32], found: &[&str], stood: Option<i64>| {
        let happened = so_far(done, found, stood.map(|m| Time(m * 60)));
        replan(&workspace, &request("bramble"), &happened).err().and_then(|said| said.0.iter().map(|d| d.code).next())
    };
    assert_eq!(code(&[99], &[], None), Some("D012"));
    assert_eq!(code(&[1], &["blargh"], None), Some("D002"));
    assert_eq!(code(&[1], &["wart on left ribs; weight 3 kg"], None), Some("D009"));
    assert_eq!(code(&[1], &["wart on left ribs }"], None), Some("D009"));
    assert_eq!(code(&[1], &["mats pelted on breeches"], None), None);
    assert!(
        replan(&workspace, &request("bramble"), &so_far(&[1], &[], Some(Time(120 * 60))))
            .is_err_and(|said| said.0.iter().any(|d| d.code == "D011"))
    );
}

fn visits(workspace: &Workspace) -> Vec<Visit> {
    DOGS.iter()
        .map(|dog| {
            let (sheet, made) = make_today(workspace, &request(dog)).unwrap();
            Visit::of((*dog).to_owned(), sheet, &made)
        })
        .collect()
}

fn planned(visits: &[Visit], opens: &str, closes: &str, groomers: u32) -> DayJson {
    let time = |text| Clock::parse(text).unwrap();
    let hours = Hours { opens: time(opens), closes: time(closes), lunch: Some((time("12:30"), 30)), groomers };
    day(Day::new(2026, 11, 25).unwrap(), visits, &[], &hours, &coatwright::basics::shared())
}

/// At each table one thing at a time, within opening times, in the order of the list; a day that is too short says for whom.
#[test]
fn a_day_of_four_dogs() {
    let visits = visits(&salon());
    for groomers in 1..=4 {
        let day = planned(&visits, "8:30", "18:00", groomers);
        assert!(day.fits && day.visits.len() == 4 && day.no_room.is_empty(), "{day:#?}");
        for table in 1..=groomers {
            let mut taken: Vec<(&str, &str)> =
                day.visits.iter().filter(|v| v.groomer == table).map(|v| (&*v.begins, &*v.ends)).collect();
            taken.extend(day.breaks.iter().filter(|b| b.groomer == table).map(|b| (&*b.begins, &*b.ends)));
            taken.sort_unstable();
            assert!(taken.windows(2).all(|w| w[0].1 <= w[1].0), "{taken:?}");
            assert!(taken.iter().all(|(begins, ends)| begins < ends && *begins >= "08:30" && *ends <= "18:30"));
        }
        for (visit, planned) in
            visits.iter().flat_map(|v| day.visits.iter().filter(|p| p.dog == v.dog).map(move |p| (v, p)))
        {
            let minutes = |t: &str| Clock::parse(t).unwrap().0;
            let long = minutes(&planned.ends) - minutes(&planned.begins);
            assert!(long * 60 >= visit.takes.0 && (long - 15) * 60 < visit.takes.0, "{planned:?}");
            // What the sheet says of the slow end is what is booked.
            let hours = |m: i64| if m % 60 == 0 { format!("{} h", m / 60) } else { format!("{} h {}", m / 60, m % 60) };
            let said = if long <= 60 { format!("{long} min") } else { hours(long) };
            assert!(visit.sheet.takes.ends_with(&said), "{} {long}", visit.sheet.takes);
        }
    }
    let short = planned(&visits, "9:00", "12:00", 1);
    assert!(!short.fits && short.no_room.len() + short.visits.len() == 4 && !short.visits.is_empty());
}

/// A bitch in season and a male are never in the house at one time, whoever comes first and however many tables there are, and
/// there is time to clean between them; the day says why. A dog of which nobody knows whether it is one may be one.
#[test]
fn a_bitch_in_season_and_males_are_kept_apart() {
    let all = visits(&salon());
    let minutes = |t: &str| Clock::parse(t).unwrap().0;
    let clean = coatwright::basics::shared().minutes_of("table-clean").high.0 / 60;
    let mut met = 0;
    for order in orders(all.len()) {
        let visits: Vec<Visit> = order.iter().map(|n| all[*n].clone()).collect();
        for groomers in 1..=4 {
            let day = planned(&visits, "8:30", "20:00", groomers);
            let visit = |dog: &str| day.visits.iter().find(|v| v.dog == dog).unwrap();
            let pearl = visit("pearl");
            for male in ["flint", "bramble"].map(visit) {
                let after = |a: &VisitJson, b: &VisitJson| minutes(&b.begins) >= minutes(&a.ends) + clean;
                assert!(after(pearl, male) || after(male, pearl), "{order:?} {groomers}: {pearl:?} {male:?}");
                assert_eq!(male.apart, ["Pearl: in season"]);
            }
            assert_eq!(pearl.apart.len(), 2, "{:?}", pearl.apart);
            // The two bitches may meet, and with two tables sometimes do.
            let kelp = visit("kelp");
            assert!(kelp.apart.is_empty());
            met += u32::from(kelp.begins < pearl.ends && pearl.begins < kelp.ends);
        }
    }
    assert!(met > 10, "{met}");
    // Who coughs isn't let in at all.
    let cough: Vec<Visit> =
        all.iter().map(|v| Visit { stops: (v.dog == "kelp").then(|| "cough".to_owned()), ..v.clone() }).collect();
    let day = planned(&cough, "8:30", "20:00", 3);
    assert!(day.fits && day.visits.len() == 3 && day.vet_first == ["kelp: cough"], "{day:#?}");
    assert!(coatwright::day::text(&day, 80).contains("a vet comes first"));
    // A break lies where nobody is on the table, as near as may be to when it is wished.
    let pair: Vec<Visit> =
        ["pearl", "flint"].iter().filter_map(|n| all.iter().find(|v| v.dog == *n)).cloned().collect();
    let day = planned(&pair, "8:30", "20:00", 2);
    let second = day.breaks.iter().find(|b| b.groomer == 2);
    assert!(second.is_none_or(|b| minutes(&b.begins) > minutes("9:30")), "{day:#?}");
    let unknown: Vec<Visit> = all.iter().cloned().map(|v| Visit { sex: None, ..v }).collect();
    let day = planned(&unknown, "8:30", "20:00", 1);
    assert_eq!(day.visits.iter().find(|v| v.dog == "kelp").unwrap().apart, ["Pearl: in season"]);
    let text = coatwright::day::text(&day, 80);
    assert!(text.contains("not in the house with") && text.contains("in season"), "{text}");
}

/// All orders of so many things.
fn orders(count: usize) -> Vec<Vec<usize>> {
    match count.checked_sub(1) {
        None => vec![Vec::new()],
        Some(last) => orders(last)
            .iter()
            .flat_map(|rest| {
                (0..count).map(move |at| {
                    let mut order = rest.clone();
                    order.insert(at, last);
                    order
                })
            })
            .collect(),
    }
}

/// The whole calendar is lines of at most 75 octets that end in CRLF, as RFC 5545 has it; an entry is the same when the day is
/// planned anew; of the card nothing but the name is told. Two other readers: `tests/calendar/`.
#[test]
fn a_day_for_the_calendar() {
    let visits = visits(&salon());
    let (one, two) = (planned(&visits, "9:00", "18:00", 1), planned(&visits, "10:00", "19:00", 2));
    let text = calendar(&one, "20261120T120000Z");
    assert!(text.ends_with("\r\n") && !text.replace("\r\n", "").contains(['\r', '\n']));
    assert!(text.split("\r\n").all(|line| line.len() <= 75));
    // Of the visits: breaks are others with another number of tables.
    let ids = |text: &str| {
        let events = text.split("BEGIN:VEVENT").filter(|e| e.contains("SUMMARY:") && !e.contains("SUMMARY:Break"));
        let mut ids: Vec<String> =
            events.flat_map(|e| e.lines().filter(|l| l.starts_with("UID:"))).map(str::to_owned).collect();
        ids.sort();
        ids
    };
    assert_eq!(ids(&text).len(), 4);
    assert_eq!(text.matches("SUMMARY:Break").count(), one.breaks.len());
    assert_eq!(ids(&text), ids(&calendar(&two, "20261121T120000Z")));
    for private in ["01632", "harbour\"", "heart", "oat shampoo"] {
        assert!(!text.contains(private), "{private}");
    }
}

#[test]
fn times_of_day() {
    for (text, minutes) in [("9:00", 540), ("09:05", 545), ("0:00", 0), ("24:00", 1440)] {
        assert_eq!(Clock::parse(text), Some(Clock(minutes)));
    }
    for text in ["", "9", "9:5", "24:01", "25:00", "9:60", "-1:00", "9:000", "+9:00", "nine"] {
        assert_eq!(Clock::parse(text), None, "{text}");
    }
}
