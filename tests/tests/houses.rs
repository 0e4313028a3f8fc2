//! Houses: their own findings, groups and tools, what a senior overrides, which messages are errors there, and several of them in
//! one workspace.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

use coatwright::check::check;
use coatwright::compare::{Rank, Version, compare};
use coatwright::date::Day;
use coatwright::diagnostic::{Diagnostic, Severity};
use coatwright::memo::Memo;
use coatwright::merge::{Around, merge};
use coatwright::sheet::{Request, Sheet, make, render};
use coatwright::why::why;
use coatwright::workspace::Workspace;
use std::path::PathBuf;
use std::sync::Arc;

fn workspace(texts: &[(&str, &str)]) -> Workspace {
    let many = texts.len();
    Workspace::from_texts(texts.iter().map(|(p, t)| (PathBuf::from(p), (*t).to_owned())).collect(), many)
}

/// The texts in a folder of their own.
fn on_disk(texts: &[(&str, &str)]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for (path, text) in texts {
        let path = folder.path().join(path);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    }
    folder
}

fn said(texts: &[(&str, &str)]) -> Vec<Diagnostic> {
    check(&workspace(texts))
}

/// Code, file and line of each message.
fn told(texts: &[(&str, &str)]) -> Vec<String> {
    let workspace = workspace(texts);
    let line = |d: &Diagnostic| {
        let sources = workspace.sources();
        format!(
            "{} {}:{} {}",
            d.code,
            sources.name(d.place.file),
            sources.line_column(d.place).0,
            format!("{:?}", d.severity).to_lowercase()
        )
    };
    check(&workspace).iter().map(line).collect()
}

fn sheet(texts: &[(&str, &str)], dog: &str) -> Result<Sheet, Vec<Diagnostic>> {
    let request = Request { recipe: None, dog: dog.to_owned(), on: Day::parse("2026-11-25"), learner: false };
    make(&workspace(texts), &request)
}

const HOUSE: &str = "house dunes {
  title    \"Dunes\"
  seniors  \"Head groomer\"
  keep     under tail never in reverse
  keep     belly no closer than #7F
  guard    sensitive-skin { keep back no closer than #5F }
}

finding sand-rub {
  about    \"Rubbed by sand under a harness.\"
  on       any zone
  keep     no closer than #7F          (invented for the demo)
  reply    raise
  caution  \"Look twice.\"
}
";

const CARD: &str = "dog fern {
  sex     dog
  coat    fleece, 30 mm
  weight  12 kg
  asked   skin, ears, heart, joints
  wants   short
}
";

fn recipe(lines: &str) -> String {
    format!(
        "recipe short {{\n  serves coat fleece, without face-shy\n  leave whole-coat\n  clip back, loin with #7F with the coat\n{lines}}}\n"
    )
}

const BY: &str = "by \"head groomer\" because \"The vet looked at it.\"";

#[test]
fn an_override_needs_a_senior_a_reason_and_a_rule_of_the_house() {
    let run = |line: &str| told(&[("house.trim", HOUSE), ("short.trim", &recipe(&format!("  {line}\n")))]);
    assert_eq!(run(&format!("override under tail never in reverse {BY}")), Vec::<String>::new());
    assert_eq!(run("override under tail never in reverse because \"x\""), ["H007 short.trim:5 error"]);
    assert_eq!(run("override under tail never in reverse by \"head groomer\""), ["H007 short.trim:5 error"]);
    assert_eq!(
        run("override under tail never in reverse by \"head groomer\" because \" \""),
        ["H007 short.trim:5 error"]
    );
    assert_eq!(
        run("override under tail never in reverse by \"the new one\" because \"x\""),
        ["H007 short.trim:5 error"]
    );
    assert_eq!(run(&format!("override belly no closer than #5F {BY}")), ["H006 short.trim:5 error"]);
    // Not in a `when`, and only what a text above says, not its own.
    assert_eq!(
        run(&format!("when weight under 6 kg {{ override under tail never in reverse {BY} }}")),
        ["M024 short.trim:5 error"]
    );
    assert_eq!(run(&format!("keep loin one pass\n  override loin one pass {BY}")), ["H006 short.trim:6 error"]);
}

/// The hard limits: what the basics keep for every dog, what a finding keeps, be it the house's, and what is for a vet.
#[test]
fn the_basics_a_finding_and_the_vet_stand() {
    let run = |house: &str, line: &str| {
        told(&[("house.trim", &format!("{HOUSE}{house}")), ("short.trim", &recipe(&format!("  {line}\n")))])
    };
    assert_eq!(run("", &format!("override groin gap fine {BY}")), ["H005 short.trim:5 error"]);
    assert_eq!(
        run("", &format!("guard sensitive-belly {{ override with the coat {BY} }}")),
        ["H005 short.trim:5 error"]
    );
    assert_eq!(run("", &format!("guard sand-rub {{ override no closer than #7F {BY} }}")), ["H005 short.trim:5 error"]);
    let house = HOUSE.replace("  keep     belly", "  keep     tail refer\n  keep     belly");
    let texts = [("house.trim", house.as_str()), ("short.trim", &recipe(&format!("  override tail refer {BY}\n")))];
    assert_eq!(told(&texts), ["H005 short.trim:5 error"]);
    // A house has nothing above it that it could take back.
    let house = HOUSE.replace("  keep     belly", &format!("  override groin gap fine {BY}\n  keep     belly"));
    assert_eq!(told(&[("house.trim", &house)]), ["H005 house.trim:5 error"]);
}

/// What the override frees is free, on the sheet too, where the separate check reads the texts anew; all else still binds.
#[test]
fn what_is_overridden_is_on_every_rendering_of_the_sheet() {
    let bare = recipe("  skim under tail with #10 in reverse, one pass\n");
    let taken = recipe(&format!(
        "  skim under tail with #10 in reverse, one pass\n  override under tail never in reverse {BY}\n"
    ));
    let texts = |recipe: &str| {
        [("house.trim", HOUSE.to_owned()), ("short.trim", recipe.to_owned()), ("z.trim", CARD.to_owned())]
    };
    fn at<'a>(texts: &'a [(&'a str, String); 3]) -> Vec<(&'a str, &'a str)> {
        texts.iter().map(|(p, t)| (*p, t.as_str())).collect()
    }
    assert_eq!(told(&at(&texts(&bare))), ["C003 short.trim:5 error"]);
    let texts = texts(&taken);
    let texts = at(&texts);
    assert_eq!(told(&texts), Vec::<String>::new());
    let made = sheet(&texts, "fern").unwrap();
    let line = "under tail never in reverse (a rule of dunes): The vet looked at it. Answers for it: head groomer";
    assert_eq!(made.overridden, [line]);
    let options = render::Options::default();
    let one_line = |text: String| text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(one_line(render::text(&made, &options)).contains(&format!("Overridden {line}")));
    assert!(render::markdown(&made, &options).contains(line));
    assert!(render::json(&made, &options).contains(line));
    let page = coatwright::picture::page(&made, options.units, false, &coatwright::basics::shared());
    assert!(page.contains(line));
    // At the step as well, and in `why`.
    let steps: Vec<_> = made.steps.iter().flat_map(|s| &s.lines).filter_map(|l| l.differs.as_deref()).collect();
    assert_eq!(steps, ["never in reverse is overridden: head groomer"]);
    let answer = why(&workspace(&texts), Some("short"), Some("fern"), "under-tail").unwrap();
    assert!(
        answer.lines().iter().any(|l| l.contains("overridden on the word of head groomer short.trim:6")),
        "{answer:?}"
    );
    // Elsewhere nothing was taken back.
    let why = why(&workspace(&texts), Some("short"), Some("fern"), "back").unwrap();
    assert!(!why.lines().iter().any(|l| l.contains("overridden")));
}

/// Of a rule for more parts than are overridden the rest still binds: for the proof and for the separate check.
#[test]
fn the_rest_of_a_rule_still_binds() {
    let lines = |part: &str| {
        recipe(&format!(
            "  skim belly front, belly rear with #10 with the coat, one pass\n  override {part} no closer than #7F {BY}\n"
        ))
    };
    let run = |part: &str| told(&[("house.trim", HOUSE), ("short.trim", &lines(part))]);
    assert_eq!(run("belly"), Vec::<String>::new());
    assert_eq!(run("belly rear"), ["C001 short.trim:5 error"]);
}

/// A guard's keep is overridden in a guard of the same findings; a sheet tells of it where the dog has one.
#[test]
fn a_guard_is_overridden_in_its_own_words() {
    let plain = recipe(&format!("  override back no closer than #5F {BY}\n"));
    assert_eq!(told(&[("house.trim", HOUSE), ("short.trim", &plain)]), ["H006 short.trim:5 error"]);
    let guard = recipe(&format!(
        "  guard tender-skin {{ }}\n  guard sensitive-skin {{ override back no closer than #5F {BY} }}\n"
    ))
    .replace("  guard tender-skin { }\n", "");
    let tender = CARD.replace("  wants", "  finding  sensitive-skin on back\n  wants");
    let texts = [("house.trim", HOUSE), ("short.trim", guard.as_str()), ("z.trim", tender.as_str())];
    assert_eq!(told(&texts), Vec::<String>::new());
    let made = sheet(&texts, "fern").unwrap();
    assert_eq!(made.overridden.len(), 1);
    assert!(made.overridden[0].starts_with("back no closer than #5F, for sensitive skin"), "{:?}", made.overridden);
    let back = |sheet: &Sheet| {
        sheet
            .details
            .reasons
            .iter()
            .find(|r| r.zones.split(" and ").flat_map(|z| z.split(", ")).any(|z| z == "back"))
            .unwrap()
            .work
            .clone()
    };
    assert!(back(&made).contains("#7F"), "{}", back(&made));
    let bound = recipe("");
    let texts = [("house.trim", HOUSE), ("short.trim", bound.as_str()), ("z.trim", tender.as_str())];
    assert!(back(&sheet(&texts, "fern").unwrap()).contains("#5F"));
    let texts = [("house.trim", HOUSE), ("short.trim", guard.as_str()), ("z.trim", CARD)];
    assert_eq!(sheet(&texts, "fern").unwrap().overridden, Vec::<String>::new());
}

/// At the table: on one dog's card, checked there.
#[test]
fn an_override_on_a_card_is_for_that_dog() {
    let card = |line: &str| {
        CARD.replace(
            "wants   short",
            &format!("wants   short but {{ skim under tail with #10 in reverse, one pass; {line} }}"),
        )
    };
    let recipe = recipe("");
    let good = card(&format!("override under tail never in reverse {BY}"));
    let texts = [("house.trim", HOUSE), ("short.trim", recipe.as_str()), ("z.trim", good.as_str())];
    assert_eq!(told(&texts), Vec::<String>::new());
    assert_eq!(sheet(&texts, "fern").unwrap().overridden.len(), 1);
    let bad = card("override under tail never in reverse by \"me\" because \"x\"");
    let texts = [("house.trim", HOUSE), ("short.trim", recipe.as_str()), ("z.trim", bad.as_str())];
    assert_eq!(told(&texts), ["H007 z.trim:6 error"]);
    assert!(sheet(&texts, "fern").is_err());
}

fn versions(old: &[(&str, &str)], new: &[(&str, &str)]) -> Vec<(Rank, String)> {
    let version = |texts: &[(&str, &str)]| {
        let texts = texts.iter().map(|(p, t)| (PathBuf::from(p), Arc::from(*t))).collect();
        Version::of(texts, &|_| true, &mut Memo::default())
    };
    let all = compare(&version(old), &version(new), false);
    all.iter().flat_map(|c| c.changes().iter().map(|x| (x.rank, x.sentence()))).collect()
}

#[test]
fn a_diff_calls_an_override_looser() {
    let (bare, taken) = (recipe(""), recipe(&format!("  override under tail never in reverse {BY}\n")));
    let (old, new) = (
        [("house.trim", HOUSE), ("short.trim", bare.as_str())],
        [("house.trim", HOUSE), ("short.trim", taken.as_str())],
    );
    let found = versions(&old, &new);
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0].0, Rank::Looser);
    assert!(found[0].1.contains("overridden on the word of head groomer"), "{found:?}");
    assert_eq!(versions(&new, &old)[0].0, Rank::Tighter);
    assert_eq!(versions(&new, &new), Vec::new());
}

#[test]
fn an_override_is_never_merged_in_silence() {
    let (bare, taken) = (recipe(""), recipe(&format!("  override under tail never in reverse {BY}\n")));
    let other = bare.replace("clip back, loin", "clip loin");
    let run = |base: &str, ours: &str, theirs: &str| {
        merge(
            base,
            ours,
            theirs,
            &Around { path: "short.trim".into(), texts: vec![("house.trim".into(), Arc::from(HOUSE))] },
        )
        .unwrap()
    };
    let merged = run(&bare, &other, &taken);
    assert_eq!(merged.conflicts.len(), 1, "{merged:?}");
    assert!(merged.text.contains("<<<<<<<") && merged.text.contains("override under tail"));
    // One that is taken away takes no care away.
    let merged = run(&taken, &taken.replace("clip back, loin", "clip loin"), &bare);
    assert_eq!(merged.conflicts.len(), 0, "{merged:?}");
    assert!(!merged.text.contains("override"));
}

#[test]
fn a_house_says_which_messages_are_errors() {
    let recipe = recipe("  keep left loin, croup one pass\n")
        .replace("clip back, loin with", "clip left withers, back, loin with");
    let bare = told(&[("house.trim", HOUSE), ("short.trim", &recipe)]);
    let strict = HOUSE.replace("  seniors", "  errors   M018\n  seniors");
    let raised = told(&[("house.trim", &strict), ("short.trim", &recipe)]);
    assert!(bare.contains(&"M018 short.trim:4 warning".to_owned()), "{bare:?}");
    assert!(raised.contains(&"M018 short.trim:4 error".to_owned()), "{raised:?}");
    // A sheet is refused as well.
    let texts = [("house.trim", HOUSE), ("short.trim", recipe.as_str()), ("z.trim", CARD)];
    assert!(sheet(&texts, "fern").is_ok());
    let texts = [("house.trim", strict.as_str()), ("short.trim", recipe.as_str()), ("z.trim", CARD)];
    assert!(sheet(&texts, "fern").unwrap_err().iter().any(|d| d.code == "M018" && d.severity == Severity::Error));
    let strange = HOUSE.replace("  seniors", "  errors   M999, c001\n  seniors");
    assert_eq!(told(&[("house.trim", &strange)]), ["M023 house.trim:3 error"]);
}

/// S11: what a house finds out later binds at once and leaves recipes that were written before valid. One that asks for an answer is a
/// warning, and its dogs are refused.
#[test]
fn a_finding_that_a_house_adds_later() {
    let recipe = recipe("");
    let finding = |reply: &str| {
        format!(
            "{HOUSE}\nfinding gull-peck {{\n  about \"Pecked by gulls.\"\n  on back\n  keep no closer than #5F (invented for the demo)\n  reply {reply}\n}}\n"
        )
    };
    let pecked = CARD.replace("  wants", "  finding  gull-peck\n  wants");
    for reply in ["raise", "leave", "refer"] {
        let house = finding(reply);
        let texts = [("house.trim", house.as_str()), ("short.trim", recipe.as_str()), ("z.trim", pecked.as_str())];
        let errors: Vec<String> =
            said(&texts).iter().filter(|d| d.severity == Severity::Error).map(|d| d.message.clone()).collect();
        assert_eq!(errors, Vec::<String>::new(), "{reply}");
        let made = sheet(&texts, "fern").unwrap();
        let back = made
            .details
            .reasons
            .iter()
            .find(|r| r.zones.split(" and ").flat_map(|z| z.split(", ")).any(|z| z == "back"))
            .unwrap();
        assert!(!back.work.contains("#7F"), "{back:?}");
    }
    let house = finding("answer");
    let texts = [("house.trim", house.as_str()), ("short.trim", recipe.as_str())];
    assert_eq!(told(&texts), ["C005 short.trim:1 warning"]);
    let texts = [("house.trim", house.as_str()), ("short.trim", recipe.as_str()), ("z.trim", pecked.as_str())];
    assert!(sheet(&texts, "fern").unwrap_err().iter().any(|d| d.code == "C005" && d.severity == Severity::Error));
    assert!(sheet(&[texts[0], texts[1], ("z.trim", CARD)], "fern").is_ok());
    // A house that wants it answered at once says so.
    let strict = house.replace("  seniors", "  errors   C005\n  seniors");
    assert_eq!(told(&[("house.trim", &strict), texts[1]]), ["C005 short.trim:1 error"]);
}

/// The folder in which one stands, and a house right below it: two houses, whichever is read first.
#[test]
fn a_house_below_the_one_in_which_one_stands() {
    let house = |name: &str| format!("house {name} {{\n  title \"{name}\"\n}}\n");
    let (outer, inner) = (house("outer"), house("inner"));
    let recipe = "recipe short {\n  serves coat curl, without face-shy\n  leave whole-coat\n}\n";
    for folder in ["a", "z"] {
        let (its_house, its_recipe) = (format!("{folder}/house.trim"), format!("{folder}/short.trim"));
        let texts: [(&str, &str); 4] =
            [("house.trim", &outer), ("short.trim", recipe), (&its_house, &inner), (&its_recipe, recipe)];
        assert_eq!(told(&texts), Vec::<String>::new(), "{folder}");
    }
}

/// A house with a base and a finding; a house in its folder; one beside that.
const OUTER: &str = "house coast {
  seniors  \"Head groomer\"
  keep     torso no closer than 3 mm
}

finding sea-legs {
  about    \"Legs that tire in the sea.\"
  on       any zone
  keep     no closer than 9 mm
  reply    raise
}

recipe low {
  leave  whole-coat
  clip   torso with #7F with the coat
}
";
const INNER: &str = "house creek {\n  seniors  \"creek lead\"\n  keep     ribs no closer than 6 mm\n}\n";

fn nested<'t>(inner: &'t str, house: &'t str) -> [(&'t str, &'t str); 4] {
    let beside = "recipe dry {\n  serves coat curl\n  leave whole-coat\n  clip ribs with #7F with the coat\n}\n";
    [("house.trim", OUTER), ("creek/house.trim", house), ("creek/one.trim", inner), ("dune/dry.trim", beside)]
}

#[test]
fn a_house_keeps_what_the_houses_around_it_keep() {
    // Its own keep and the outer one's, on the outer one's base; beside it the outer one's alone.
    let child = "recipe one {\n  extends low\n  serves coat curl\n}\n";
    assert_eq!(told(&nested(child, INNER)), ["C001 house.trim:15 error"]);
    assert!(told(&nested(child, "house creek {\n}\n")).is_empty());
    let close = "recipe one {\n  serves coat curl\n  leave whole-coat\n  clip back with #10 with the coat\n}\n";
    assert_eq!(told(&nested(close, INNER)), ["C001 creek/one.trim:4 error"]);
    // It only ever tightens.
    let loose = "house creek {\n  keep torso no closer than 2 mm\n}\n";
    assert_eq!(told(&nested(child, loose)), ["H002 creek/house.trim:2 error"]);
    // What the outer one adds is known, and can't be another thing.
    let twice = "house creek {\n}\n\nfinding sea-legs {\n  about \"Other.\"\n  reply raise\n}\n";
    assert!(told(&nested(child, twice)).iter().any(|m| m.starts_with("M011 creek/house.trim:4")));
    // What is an error around is one here.
    let raised = OUTER.replace("  keep ", "  errors M016\n  keep ");
    let idle = "recipe one {\n  serves coat curl\n  clip torso with #7F with the coat\n}\n";
    let of =
        |house: &'static str| [("house.trim", raised.as_str()), ("creek/house.trim", house), ("creek/one.trim", idle)];
    assert!(told(&of("house creek {\n}\n")).contains(&"M016 creek/one.trim:1 error".to_owned()));
}

#[test]
fn names_are_found_here_and_around_and_not_beside() {
    let here = "recipe low {\n  leave whole-coat\n}\n\nrecipe one {\n  extends low\n  serves coat curl\n}\n";
    // The nearest of a name.
    assert!(told(&nested(here, INNER)).is_empty());
    let beside = "recipe one {\n  extends dry\n  serves coat curl\n}\n";
    let other =
        [("dune/house.trim", "house dune {\n}\n"), ("dune/dry.trim", "recipe dry {\n}\n"), ("creek/one.trim", beside)];
    assert_eq!(told(&other), ["M005 creek/one.trim:2 error"]);
    // A folder without a house has its names to itself.
    let plain = [("a/base.trim", "recipe dry {\n}\n"), ("a/b/one.trim", beside), ("a/b/house.trim", "house b {\n}\n")];
    assert_eq!(told(&plain), ["M005 a/b/one.trim:2 error"]);
}

#[test]
fn who_answers_for_a_house_answers_for_those_inside_it_alone() {
    let with = |what: &str, by: &str| {
        format!(
            "recipe brook {{\n  serves coat curl\n  leave whole-coat\n  clip ribs, back with #7F with the coat\n  blend ribs, back into shoulder, thigh, croup, withers, flank over one hand by skimming\n  override {what} by \"{by}\" because \"We know.\"\n}}\n\ndog fern {{\n  sex dog\n  coat curl, 30 mm\n  weight 12 kg\n  asked skin, ears, heart, joints\n  wants brook\n}}\n"
        )
    };
    let codes = |text: &str| said(&nested(text, INNER)).iter().map(|d| d.code).collect::<Vec<_>>();
    assert_eq!(codes(&with("torso no closer than 3 mm", "creek lead")), ["H007"]);
    for (what, by) in [("ribs no closer than 6 mm", "creek lead"), ("ribs no closer than 6 mm", "head groomer")] {
        let text = with(what, by);
        assert!(codes(&text).is_empty(), "{what} {by}: {:?}", codes(&text));
        // The separate check reads the houses by itself, or there were no sheet.
        let sheet = sheet(&nested(&text, INNER), "fern").unwrap();
        for house in ["house coast ", "house creek "] {
            assert!(sheet.details.made_from.iter().any(|text| text.starts_with(house)), "{house}");
        }
    }
    // The ribs' own rule binds there still.
    assert_eq!(codes(&with("torso no closer than 3 mm", "head groomer")), ["C001"]);
}

#[test]
fn an_edit_of_the_house_around_is_checked_inside_it() {
    let texts =
        nested("recipe one {\n  serves coat curl\n  leave whole-coat\n  clip back with #7F with the coat\n}\n", INNER);
    let texts: Vec<(PathBuf, Arc<str>)> = texts.iter().map(|(p, t)| (PathBuf::from(p), (*t).into())).collect();
    let many = texts.len();
    let mut memo = Memo::default();
    let mut workspace = Workspace::from_known(texts.clone(), many, &mut memo);
    assert_eq!(coatwright::check::check_with(&workspace, &mut memo), []);
    let house = workspace.file_at(std::path::Path::new("house.trim")).unwrap();
    let inside = workspace.file_at(std::path::Path::new("creek/one.trim")).unwrap();
    assert!(workspace.hanging_on(&std::iter::once(house).collect()).contains(&inside));
    let text: Arc<str> = OUTER.replace("no closer than 3 mm", "no closer than 5 mm").into();
    workspace.put(house, &text, &mut memo);
    let said = coatwright::check::check_with(&workspace, &mut memo);
    let mut fresh = texts;
    fresh[0].1 = text;
    assert_eq!(said, check(&Workspace::from_known(fresh, many, &mut Memo::default())));
    assert!(said.iter().any(|d| d.code == "C001" && d.place.file == inside), "{said:#?}");
    // Asked about the house alone, what is inside is told at the house's own lines only.
    workspace.ask(vec![house]);
    assert!(coatwright::check::check_with(&workspace, &mut memo).iter().all(|d| d.place.file == house));
}

#[test]
fn a_diff_sees_the_house_around() {
    let child = "recipe one {\n  serves coat curl\n  leave whole-coat\n  clip back with #7F with the coat\n}\n";
    let looser = OUTER.replace("no closer than 3 mm", "no closer than 2 mm");
    let (old, mut new) = (nested(child, INNER), nested(child, INNER));
    new[0].1 = &looser;
    let found = versions(&old, &new);
    assert!(found.iter().filter(|(rank, _)| *rank == Rank::Looser).count() >= 2, "{found:?}");
}

/// However a file is named, the houses around it are found: up to the top of its repository.
#[test]
fn a_rule_of_the_house_around_is_found_from_anywhere() {
    let close = "recipe one {\n  serves coat curl\n  leave whole-coat\n  clip back with #10 with the coat\n}\n";
    let folder = on_disk(&nested(close, INNER));
    let codes = |path: &str| {
        let workspace = Workspace::open(&[folder.path().join(path)]).unwrap();
        check(&workspace).into_iter().map(|d| d.code).collect::<Vec<_>>()
    };
    for path in ["", "creek", "creek/one.trim", "dune/../creek", "creek/../creek/one.trim"] {
        assert_eq!(codes(path), ["C001"], "{path}");
    }
    std::fs::create_dir(folder.path().join("creek/.git")).unwrap();
    assert!(codes("creek").is_empty(), "a repository of its own");
}

/// A house around two: one with a base, a finding and a tool, and one beside it that builds on that base.
fn beside<'t>(house: &'t str, recipe: &'t str) -> [(&'t str, &'t str); 4] {
    let harbour = "house harbour {
  seniors  \"pier lead\"
  keep     ribs no closer than 6 mm
}

finding salt-itch {
  about    \"Dry, itchy legs.\"
  on       any zone
  keep     no closer than 9 mm
  reply    raise
}

recipe low {
  leave  whole-coat
  clip   back with #5F with the coat
  keep   back no closer than 4 mm
}
";
    [
        ("house.trim", "house chain {\n  seniors \"head groomer\"\n  keep loin no closer than 3 mm\n}\n"),
        ("harbour/house.trim", harbour),
        ("dune/house.trim", house),
        ("dune/one.trim", recipe),
    ]
}

const DUNE: &str = "house dune {\n  seniors \"dune lead\"\n}\n";

fn on_low(lines: &str) -> String {
    format!("recipe easy {{\n  extends low from \"../harbour\"\n  serves coat curl\n{lines}}}\n")
}

#[test]
fn a_base_of_a_house_beside_brings_its_keeps() {
    let codes = |lines: &str| told(&beside(DUNE, &on_low(lines)));
    assert_eq!(
        codes("  blend back into shoulder, withers, ribs, flank, croup, loin over one hand by skimming\n"),
        Vec::<String>::new()
    );
    // Its house's keep and the base's own bind; so does the one around both.
    for zone in ["ribs", "back", "loin"] {
        assert!(
            codes(&format!("  clip {zone} with #10 with the coat\n"))
                .contains(&"C001 dune/one.trim:4 error".to_owned()),
            "{zone}"
        );
    }
    // Not in what doesn't build on it.
    let own = "recipe easy {\n  serves coat curl\n  leave whole-coat\n  clip ribs with #7F with the coat\n  blend ribs into shoulder, back, flank, breastbone, belly-front over one hand by skimming\n}\n";
    assert!(!told(&beside(DUNE, own)).iter().any(|m| m.starts_with("C001")));
    // Its words are known where its bases are built on, and nowhere else.
    let itchy = |recipe: &str| {
        format!(
            "{recipe}\ndog fern {{\n  sex dog\n  coat curl, 30 mm\n  weight 12 kg\n  finding salt-itch on back\n}}\n"
        )
    };
    assert!(!told(&beside(DUNE, &itchy(&on_low("")))).iter().any(|m| m.starts_with("D002 ")));
    assert!(told(&beside(DUNE, &itchy(own))).iter().any(|m| m.starts_with("D002 ")));
    // Both can't mean something by one word.
    let twice = format!("{DUNE}\nfinding salt-itch {{\n  about \"Other.\"\n  reply raise\n}}\n");
    assert!(told(&beside(&twice, &on_low(""))).iter().any(|m| m.starts_with("M011 ")));
}

#[test]
fn a_base_is_found_by_its_folder_or_file() {
    let codes = |from: &str| told(&beside(DUNE, &on_low("").replace("../harbour", from)));
    let plain = codes("../harbour");
    for from in [
        "../harbour/",
        "../harbour/house.trim",
        "./../harbour",
        "../dune/../harbour",
        "..\\harbour",
        "..",
        "../harbour/.",
    ] {
        assert_eq!(codes(from), plain, "{from}");
    }
    for (from, code) in [
        ("../../harbour", "H008"),
        ("/harbour", "H008"),
        ("../..", "H008"),
        (".", "M005"),
        ("../harbour/low.trim", "M005"),
        ("../harbor", "M005"),
        ("", "M005"),
    ] {
        assert!(codes(from).contains(&format!("{code} dune/one.trim:2 error")), "{from}: {:?}", codes(from));
    }
    // What is there is told, and mended.
    let fix = |recipe: &str| {
        let said = said(&beside(DUNE, recipe));
        let found = said.iter().find(|d| d.code == "M005").unwrap();
        found.fixes[0].edits[0].text.clone()
    };
    let plain = on_low("");
    assert_eq!(fix(&plain.replace(" from \"../harbour\"", "")), "low from \"../harbour\"");
    assert_eq!(fix(&plain.replace("../harbour", "../harbor")), "\"../harbour\"");
    assert_eq!(fix(&plain.replace("extends low", "extends lowe")), "low");
    // The nearest of a name: a base's own base is one of its own house.
    let low = "recipe low {\n  leave whole-coat\n}\n";
    let two = format!("{low}\n{}", on_low("").replace("extends low", "extends mid"));
    let mut texts = beside(DUNE, &two).to_vec();
    texts.push(("harbour/mid.trim", "recipe mid {\n  extends low\n}\n"));
    let back = "  clip back with #10 with the coat\n}";
    let closer = two.trim_end().strip_suffix('}').map(|text| format!("{text}{back}\n")).unwrap();
    texts[3].1 = &closer;
    assert!(told(&texts).iter().any(|m| m.starts_with("C001 dune/one.trim")), "{:?}", told(&texts));
}

#[test]
fn who_answers_for_a_house_beside() {
    let lines = |by: &str, what: &str| {
        format!(
            "  clip ribs, back with #7F with the coat\n  blend ribs, back into shoulder, thigh, croup, withers, flank, loin, breastbone, belly-front over one hand by skimming\n  override {what} by \"{by}\" because \"We know.\"\n"
        )
    };
    let refused =
        |by: &str, what: &str| told(&beside(DUNE, &on_low(&lines(by, what)))).iter().any(|m| m.starts_with("H007"));
    for what in ["ribs no closer than 6 mm", "back no closer than 4 mm"] {
        assert!(refused("dune lead", what), "{what}");
        assert!(!refused("pier lead", what) && !refused("head groomer", what), "{what}");
    }
    assert!(refused("pier lead", "loin no closer than 3 mm") && !refused("head groomer", "loin no closer than 3 mm"));
    let help = |by: &str, what: &str| {
        let all = said(&beside(DUNE, &on_low(&lines(by, what))));
        all.into_iter().find(|d| d.code == "H007").and_then(|d| d.help).unwrap()
    };
    assert!(help("dune lead", "ribs no closer than 6 mm").contains("It may be: head groomer, pier lead."));
    assert!(help("pier lead", "loin no closer than 3 mm").contains("It may be: head groomer."));
    // What it comes to is checked by the separate check, too, and the sheet names the house.
    let both = "  clip back with #5F with the coat\n  clip ribs with #7F with the coat\n  blend ribs, back into shoulder, thigh, croup, withers, flank, loin, breastbone, belly-front over one hand by skimming\n  override ribs no closer than 6 mm by \"pier lead\" because \"We know.\"\n";
    let card = "\ndog fern {\n  sex dog\n  coat curl, 30 mm\n  weight 12 kg\n  asked skin, ears, heart, joints\n  wants easy\n}\n";
    let sheet = sheet(&beside(DUNE, &format!("{}{card}", on_low(both))), "fern").unwrap();
    for house in ["house chain ", "house harbour ", "house dune "] {
        assert!(sheet.details.made_from.iter().any(|text| text.starts_with(house)), "{house}");
    }
    // In which house a line stands is on page two.
    let reasons: Vec<&String> = sheet.details.reasons.iter().flat_map(|zone| &zone.why).collect();
    for place in ["(one.trim:", "(../harbour/house.trim:"] {
        assert!(reasons.iter().any(|reason| reason.contains(place)), "{place}: {reasons:#?}");
    }
}

#[test]
fn an_edit_of_a_house_beside_is_checked_where_it_binds() {
    let recipe = on_low("");
    let texts: Vec<(PathBuf, Arc<str>)> =
        beside(DUNE, &recipe).iter().map(|(p, t)| (PathBuf::from(p), (*t).into())).collect();
    let mut memo = Memo::default();
    let mut workspace = Workspace::from_known(texts.clone(), texts.len(), &mut memo);
    let run = |workspace: &Workspace, memo: &mut Memo| coatwright::check::check_with(workspace, memo);
    run(&workspace, &mut memo);
    let id = |workspace: &Workspace, path: &str| workspace.file_at(std::path::Path::new(path)).unwrap();
    let (house, one) = (id(&workspace, "harbour/house.trim"), id(&workspace, "dune/one.trim"));
    assert!(workspace.hanging_on(&std::iter::once(house).collect()).contains(&one));
    let mut now = texts;
    for (number, from, to) in [
        (1, "keep     ribs no", "keep     torso no"),
        (1, "recipe low", "recipe lower"),
        (3, "extends low", "extends lower"),
        (3, "../harbour", "../.."),
        (3, "../..", ".."),
    ] {
        now[number].1 = now[number].1.replace(from, to).into();
        let id = if number == 1 { house } else { one };
        workspace.put(id, &now[number].1, &mut memo);
        let fresh = Workspace::from_known(now.clone(), now.len(), &mut Memo::default());
        assert_eq!(run(&workspace, &mut memo), check(&fresh), "{to}");
    }
}

/// What hangs at the tables of a house beside is elsewhere: its tools are known, and not at hand.
#[test]
fn the_kit_is_ones_own() {
    let kit = |name: &str, owns: &str| format!("\nkit {name} {{\n  owns {owns}\n}}\n");
    let [chain, (path, harbour), _, (recipe_path, _)] = beside(DUNE, "");
    let harbour = format!(
        "{}{}",
        harbour.replace("  keep     ribs", "  kit pier-kit\n  keep     ribs"),
        kit("pier-kit", "#5F, #10")
    );
    let recipe = on_low("");
    let codes = |owns: &str| {
        let dune = format!("{}{}", DUNE.replace("  seniors", "  kit dune-kit\n  seniors"), kit("dune-kit", owns));
        told(&[chain, (path, &harbour), ("dune/house.trim", &dune), (recipe_path, &recipe)])
    };
    assert!(!codes("#5F, #10").iter().any(|m| m.starts_with("H001")), "{:?}", codes("#5F, #10"));
    assert!(codes("#7F, #10").iter().any(|m| m.starts_with("H001")), "{:?}", codes("#7F, #10"));
}

/// Asked about one house alone, whatever keeps its recipes from being worked from is told, in whichever house it stands.
#[test]
fn what_stands_in_the_way_elsewhere_is_told() {
    let recipe = on_low("");
    let codes = |texts: &[(&str, &str)], path: &str| {
        let folder = on_disk(texts);
        let workspace = Workspace::open(&[folder.path().join(path)]).unwrap();
        let all = coatwright::check::check_through(&workspace);
        all.into_iter().filter(|d| d.severity == Severity::Error).map(|d| d.code).collect::<Vec<_>>()
    };
    let sound = beside(DUNE, &recipe);
    assert_eq!(codes(&sound, "dune"), [""; 0]);
    let with = |number: usize, from: &str, to: &str| {
        let text = sound[number].1.replace(from, to);
        assert_ne!(text, sound[number].1);
        let mut texts = sound;
        texts[number].1 = &text;
        (codes(&texts, "dune"), codes(&texts, "dune/one.trim"), codes(&texts, "harbour"))
    };
    let all = |code: &'static str| (vec![code], vec![code], vec![code]);
    // A part that nobody knows in the base, a slip in its house, one in the house around.
    assert_eq!(with(1, "clip   back", "clip   bakc"), all("M001"));
    assert_eq!(with(1, "  keep     ribs", "  kep      ribs"), all("W006"));
    assert_eq!(with(0, "  keep loin", "  kep loin"), all("W006"));
    // One's own house asks for more than the base leaves: told at the base, of whoever builds on it. That the base
    // keeps less is no fault of its own.
    assert_eq!(with(2, "}", "  keep back no closer than 12 mm\n}"), all("C001"));
}
