//! Cards as JSON: another spelling of the `dog` block and nothing else.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod common;
#[path = "common/dogs.rs"]
mod dogs;

use coatwright::batch::{Asked, Batch, Shared};
use coatwright::cards::{self, CardJson, CoatJson, Few, FindingJson, MatsJson, VisitJson, WantsJson, from_text};
use coatwright::check::units;
use coatwright::names::card;
use coatwright::names::lower::Decl;
use coatwright::sheet::render::Units;
use coatwright::sheet::{Part, Request, Sheet, make_part};
use coatwright::source::FileId;
use coatwright::workspace::Workspace;
use proptest::prelude::*;

/// A value without the places in its text: `Place { file: …, start: …, end: … }` and `Span { … }` taken out of its Debug form.
fn no_places(value: &impl std::fmt::Debug) -> String {
    let mut text = format!("{value:?}");
    for name in ["Place {", "Span {"] {
        let mut out = String::new();
        let mut rest = text.as_str();
        while let Some((before, after)) = rest.split_once(name) {
            out.push_str(before);
            rest = after.split_once('}').map_or("", |(_, after)| after);
        }
        out.push_str(rest);
        text = out;
    }
    text
}

/// The dogs of a text, read by the program.
fn dogs_of(text: &str) -> Vec<String> {
    let file = grammar::parse(text);
    let trade = &dogs::demo().salon.trade;
    let read = |placed: &std::sync::Arc<grammar::tree::Placed>| {
        let decl = Decl { file: FileId(9_999), at: placed.at, block: &placed.block.block };
        let mut said = Vec::new();
        let mut dog = card::read(decl, trade, units(trade), Some(dogs::today()), &mut said);
        // Which plain line stands first means nothing; which of two of one name does.
        dog.told.sort_by(|a, b| a.0.cmp(&b.0));
        let mut said: Vec<String> = said.iter().map(|d| format!("{} {}", d.code, d.message)).collect();
        said.sort();
        format!("{}\n{said:#?}", no_places(&dog))
    };
    file.blocks.iter().map(read).collect()
}

/// Text to JSON to text: the same dog and the same messages come out, and the same JSON once more.
fn round(text: &str) -> Result<(), TestCaseError> {
    let all = from_text(text).map_err(|why| TestCaseError::fail(format!("{why}\n{text}")))?;
    let mut back = String::new();
    for card in &all {
        let json = serde_json::to_string(card).unwrap();
        let again = cards::parse(&json).map_err(TestCaseError::fail)?;
        prop_assert_eq!(&again, card);
        let written = again.text().map_err(|d| TestCaseError::fail(d.message))?;
        let (_, placed) =
            written.read(FileId(0)).map_err(|said| TestCaseError::fail(format!("{said:?}\n{}", written.text)))?;
        prop_assert!(!placed.block.broken);
        back.push_str(&written.text);
    }
    prop_assert_eq!(dogs_of(text), dogs_of(&back), "{}\n{}", text, back);
    prop_assert_eq!(from_text(&back).unwrap(), all);
    Ok(())
}

#[test]
fn every_card_of_the_project_comes_round() {
    let mut cards = 0;
    for (name, text) in common::shipped() {
        let Ok(all) = from_text(&text) else { continue };
        cards += all.len();
        let file = grammar::parse(&text);
        let dogs: Vec<&str> = file
            .blocks
            .iter()
            .filter(|p| p.block.block.kind == grammar::tree::BlockKind::Dog && p.block.block.name.is_some())
            .map(|p| &text[p.at as usize..(p.at + p.block.block.span.end) as usize])
            .collect();
        assert_eq!(dogs.len(), all.len(), "{name}");
        for dog in dogs {
            round(dog).unwrap_or_else(|why| panic!("{name}: {why}"));
        }
    }
    assert!(cards >= 5, "{cards}");
}

#[test]
fn random_cards_come_round() {
    dogs::hold(300, &dogs::a_card(), |card| round(&card.text()));
}

#[test]
fn lines_that_stand_twice_and_odd_ones_come_round() {
    for text in [
        "dog a {\n  sex bitch, spayed 2025-09\n  coat curl, changing, 30 mm; topknot 1 1/2 in, left ear 4 cm\n  coat wavy on head except ears, 20 mm\n  weight 27 lb\n}\n",
        "dog a {\n  note \"one\"\n  note \"two -- three; {four}\"\n  phone 01632 960117 ask for Jo\n  color red\n  weight 3 kg\n  weight 4 kg\n}\n",
        "dog a {\n  about\n    He is slow\n    to trust.\n  carries prick ears, curled tail\n  consent photos\n  stands 40 min\n}\n",
        "dog a {\n  finding other „a sore place“ on left thigh\n  mats tangle on legs except feet\n  last spring\n}\n",
        "dog a {\n  visit 2026-08-01, harbour-short version 4, #10, 19 mm comb, #40, thinners 46, ball-tip shears\n  visit 2026-09-01\n}\n",
        "dog a {\n  wants short but {\n    when weight under 6 kg { leave ears; leave tail }\n    keep belly no closer than #7F -- a remark\n  }\n}\n",
        "dog a {\n  finding moon-sickness\n  coat crul\n  weight 0 kg\n  born 2031-01\n  asked skin, \"nothing else\"\n}\n",
    ] {
        round(text).unwrap_or_else(|why| panic!("{why}\n{text}"));
    }
}

/// No value reaches beyond its own line: what comes out has a line for each value, or nothing comes out.
#[test]
fn no_value_becomes_another_line() {
    let pieces = prop::sample::select(vec![
        "left lip",
        "belly",
        "40 mm",
        "#7F",
        "left lip",
        "belly",
        "40 mm",
        "}",
        "{",
        ";",
        "\n",
        "--",
        "\"",
        "“",
        "”",
        ",",
        "dog b {",
        "finding heart",
        "weight 3 kg",
        "but",
        "leave ears",
        "#10",
        "seen",
        "2026-01-01",
        "(",
        ")",
        " ",
        "\t",
        "\u{feff}",
        "\u{2028}",
        "",
        "on",
        "after",
        "}\n}\nrecipe x {",
        "é",
    ]);
    let words = prop::collection::vec(pieces, 1..4).prop_map(|all| all.join(" "));
    // One field or two are odd, the others sound.
    let strategy = (prop::collection::vec((0_usize..12, words), 1..3), 0_usize..3);
    let passed = std::cell::Cell::new(0);
    dogs::hold(3_000, &strategy, |(odd, wishes)| {
        let mut w = [
            "12 kg",
            "skin",
            "ears",
            "belly",
            "40 mm",
            "sore place",
            "left lip",
            "legs",
            "#10",
            "slow",
            "leave ears",
            "leave tail",
        ]
        .map(str::to_owned);
        for (field, words) in odd {
            w[field] = words;
        }
        let some = |n: usize| Some(w[n].clone());
        let card = CardJson {
            dog: "a".into(),
            weight: some(0),
            asked: Few(vec![w[1].clone(), w[2].clone()]),
            coat: Few(vec![CoatJson { coat: "curl".into(), on: some(3), length: some(4), ..CoatJson::default() }]),
            findings: Few(vec![FindingJson {
                finding: "other".into(),
                words: some(5),
                on: some(6),
                ..FindingJson::default()
            }]),
            mats: Few(vec![MatsJson { grade: "knots".into(), on: w[7].clone(), off_skin: None }]),
            visits: Few(vec![VisitJson { on: "2026-01-01".into(), did: Few(vec![w[8].clone()]) }]),
            note: Few(vec![w[9].clone()]),
            wants: Few(vec![WantsJson {
                recipe: "short".into(),
                but: Few(w[10..].iter().take(wishes).cloned().collect()),
            }]),
            ..CardJson::default()
        };
        let Ok(written) = card.text() else { return Ok(()) };
        let Ok((file, placed)) = written.read(FileId(0)) else { return Ok(()) };
        prop_assert_eq!(file.blocks.len(), 1);
        prop_assert_eq!(placed.block.block.body.len(), 8, "{}", written.text);
        let back = from_text(&written.text).map_err(|why| TestCaseError::fail(format!("{why}\n{}", written.text)))?;
        prop_assert_eq!(back[0].findings.0.len(), 1);
        prop_assert_eq!(back[0].wants.0[0].but.0.len(), wishes, "{}", written.text);
        passed.set(passed.get() + 1);
        Ok(())
    });
    assert!(passed.get() > 300, "{} were let through", passed.get());
}

/// A sheet without the places and fingerprints of the texts that it was made from: those of a card in JSON are its own.
fn bare(mut sheet: Sheet) -> serde_json::Value {
    sheet.details.made_from.clear();
    let bare = |words: &mut String| *words = words.rsplit_once(" (").map_or(words.as_str(), |(w, _)| w).to_owned();
    sheet.details.reasons.iter_mut().flat_map(|zone| &mut zone.why).for_each(bare);
    sheet.details.notes.iter_mut().for_each(bare);
    sheet.details.notes.sort();
    serde_json::to_value(sheet).unwrap()
}

fn asked(sheets: bool) -> Asked {
    Asked { recipe: None, on: dogs::today(), sheets, units: Units::Metric }
}

/// What a summary has of a sheet.
fn summarized(sheet: &Sheet) -> serde_json::Value {
    let mut summary = serde_json::json!({
        "title": sheet.title,
        "date": sheet.date,
        "dangers": sheet.all_dangers(),
        "vet-first": sheet.vet_first,
        "ask": sheet.to_ask(),
        "takes": sheet.takes,
        "stands": sheet.stands,
        "waits": sheet.waits,
        "lay-out": sheet.lay_out,
        "leave": sheet.leave,
        "left-out": sheet.left_out,
        "next": sheet.owner.next,
    });
    summary.as_object_mut().unwrap().retain(|_, value| !value.is_null());
    summary
}

/// What `batch` answers is what `sheet` makes of the same card as text, or refuses for the same reasons; a summary is made without
/// its sheet, and says the same.
fn as_alone([sheets, summaries]: &[Batch<'_, '_>; 2], workspace: &Workspace, card: &CardJson) -> bool {
    let json = serde_json::to_string(card).unwrap();
    let of =
        |batch: &Batch<'_, '_>| -> serde_json::Value { serde_json::from_str(&batch.answer(1, &json).line).unwrap() };
    let (answer, summary) = (of(sheets), of(summaries));
    for told in ["ok", "recipe", "messages"] {
        assert_eq!(answer[told], summary[told]);
    }
    let request = Request { recipe: None, dog: card.dog.clone(), on: Some(dogs::today()), learner: false };
    let codes = |list: &serde_json::Value| -> Vec<String> {
        let mut all: Vec<String> =
            list.as_array().unwrap().iter().map(|m| format!("{} {}", m["code"], m["message"])).collect();
        all.sort();
        all
    };
    match make_part(workspace, &request, &Part::Today) {
        Ok(sheet) => {
            assert_eq!(answer["ok"], true, "{answer:#}");
            let got: Sheet = serde_json::from_value(answer["sheet"].clone()).unwrap();
            assert_eq!(summary["summary"], summarized(&got));
            assert_eq!(bare(got), bare(sheet));
            true
        }
        Err(said) => {
            assert_eq!(answer["ok"], false, "{answer:#}");
            let said: Vec<serde_json::Value> =
                said.iter().map(|d| serde_json::json!({ "code": d.code, "message": d.message })).collect();
            assert_eq!(codes(&answer["messages"]), codes(&said.into()));
            false
        }
    }
}

#[test]
fn a_card_in_json_gets_the_sheet_of_its_text() {
    let demo = dogs::demo();
    let shared = Shared::of(demo.workspace);
    let batch = [true, false].map(|sheets| Batch::new(&shared, asked(sheets)));
    let text = common::read(&common::root().join("recipes/saltmarsh/dogs.trim"));
    for card in from_text(&text).unwrap() {
        assert!(as_alone(&batch, demo.workspace, &card), "{}", card.dog);
    }
    let made = std::cell::Cell::new((0, 0));
    dogs::hold(25, &dogs::a_card(), |card| {
        let text = card.text();
        let ok = as_alone(&batch, &dogs::with_card(&text), &from_text(&text).unwrap()[0]);
        let (yes, no) = made.get();
        made.set(if ok { (yes + 1, no) } else { (yes, no + 1) });
        Ok(())
    });
    let (yes, no) = made.get();
    assert!(yes > 2 && no > 2, "{yes} sheets, {no} refusals");
}

#[test]
fn cards_and_answers_keep_their_schemas() {
    let schema = |of: &str| -> serde_json::Value {
        serde_json::from_str(&common::read(&common::root().join(format!("docs/schemas/{of}.schema.json")))).unwrap()
    };
    let (card, answer) =
        (jsonschema::validator_for(&schema("card")).unwrap(), jsonschema::validator_for(&schema("answer")).unwrap());
    let demo = dogs::demo();
    let shared = Shared::of(demo.workspace);
    let text = common::read(&common::root().join("recipes/saltmarsh/dogs.trim"));
    for one in from_text(&text).unwrap() {
        let value = serde_json::to_value(&one).unwrap();
        assert!(card.is_valid(&value), "{value:#}");
        for sheets in [true, false] {
            let line = Batch::new(&shared, asked(sheets)).answer(7, &value.to_string()).line;
            let value: serde_json::Value = serde_json::from_str(&line).unwrap();
            assert!(answer.is_valid(&value) && value["line"] == 7, "{value:#}");
        }
    }
    let refused = Batch::new(&shared, asked(false)).answer(8, "{\"dog\":\"a\",\"id\":\"7\"}");
    let value: serde_json::Value = serde_json::from_str(&refused.line).unwrap();
    assert!(answer.is_valid(&value) && value["id"] == "7" && refused.refused == Some("D003"), "{value:#}");
    for wrong in [r#"{"dog":4}"#, r#"{"dog":"a","wieght":"3 kg"}"#, r#"{"dog":"a","coat":"curl"}"#, r#"{}"#] {
        assert!(!card.is_valid(&serde_json::from_str(wrong).unwrap()) && cards::parse(wrong).is_err(), "{wrong}");
    }
    assert!(!answer.is_valid(&serde_json::json!({ "line": "one" })));
}
