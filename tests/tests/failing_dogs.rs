//! The dog that a message fails for: its card, compiled, shows the same message at the same place.

mod common;

use coatwright::check::check;
use coatwright::date::Day;
use coatwright::diagnostic::Diagnostic;
use coatwright::sheet::{Request, finished};
use coatwright::workspace::Workspace;
use std::path::PathBuf;

/// Faults in texts of the demo, over all families of messages: file, what stands there, what a tired author writes or leaves out,
/// and the code that it has to give.
const FAULTS: [(&str, &str, &str, &str); 102] = [
    // A blend too short for its step, and one that small dogs have no room for, one of them on one build alone.
    (
        "harbour-short",
        "loin, flank into thigh over two fingers by scooping",
        "loin, flank into thigh over one finger by skimming",
        "J003",
    ),
    ("harbour-short", "weight 3 kg to 35 kg", "weight 1 kg to 35 kg", "J004"),
    ("harbour-short", "topknot into brows over one finger", "topknot into brows over two fingers", "J004"),
    ("dune-column", "occiput into crest over three fingers", "occiput into crest over two hands", "J004"),
    // What only some dogs show: two findings at once, an answer beside its neighbour, an age, a grade of mats, a coat elsewhere.
    (
        "harbour-short",
        "  guard    sensitive-belly {",
        "  guard    clipper-fear { keep thighs never clipper, thinners }\n  guard    deaf { keep thighs never shears, hand, carder }\n  guard    sensitive-belly {",
        "C010",
    ),
    (
        "harbour-short",
        "  guard    sensitive-belly {",
        "  guard    deaf { scissor back to 30 mm }\n  guard    sensitive-belly {",
        "J001",
    ),
    (
        "harbour-short",
        "  guard    sensitive-belly {",
        "  guard    deaf { shape topknot to 40 mm by shears }\n  guard    blind { keep topknot at most 35 mm }\n  guard    sensitive-belly {",
        "U001",
    ),
    (
        "harbour-short",
        "  when     weight under 6 kg {",
        "  when     age under 8 months { shape topknot to 20 mm by shears }\n  when     weight under 6 kg {",
        "M015",
    ),
    (
        "harbour-short",
        "  when     weight under 6 kg {",
        "  when     mats up to tangles { shape topknot to 20 mm by shears }\n  when     weight under 6 kg {",
        "M015",
    ),
    (
        "harbour-short",
        "  when     weight under 6 kg {",
        "  when     height under 30 cm { clip belly rear with #5F with the coat }\n  when     weight under 6 kg {",
        "C002",
    ),
    ("pebble-round", "  blend    topknot into occiput over one finger by thinning-in\n", "", "J001"),
    ("harbour-short", "  clip     cheeks, foreface with #10", "  clpi     cheeks, foreface with #10", "W006"),
    ("harbour-short", "serves   weight 3 kg to 35 kg", "serves   weigth 3 kg to 35 kg", "W012"),
    ("harbour-short", "shape    topknot to 25 mm by shears\n", "shape    topknot to 1,5 mm by shears\n", "W013"),
    ("dune-column", "foot tops with #15 in reverse", "foot tops with 15 in reverse", "W027"),
    (
        "dune-column",
        "  lasts    4 weeks { topknot at most 60 mm; eyes open }\n}",
        "  lasts    4 weeks { topknot at most 60 mm; eyes open \n}",
        "W001",
    ),
    ("pebble-round", "title    \"Pebble round\"", "title    \"Pebble round", "W004"),
    ("marsh-spaniel", "brows to 4 mm by thinners-46", "brows to mm by thinners-46", "M008"),
    ("harbour-short", "leave    lashes", "leave    lahses", "M001"),
    ("harbour-short", "serves   coat curl, fleece or wavy", "serves   coat curl, flece or wavy", "M004"),
    ("harbour-short", "guard    sensitive-belly", "guard    sensitiv-belly", "M003"),
    ("harbour-short", "extends  saltmarsh-base version 3", "extends  saltmarsh-bass version 3", "M005"),
    ("harbour-short", "extends  saltmarsh-base version 3", "extends  saltmarsh-base version 2", "M020"),
    (
        "harbour-short",
        "param    body-length is 9 mm, within 6 mm to 13 mm",
        "param    body-length is 19 mm, within 6 mm to 13 mm",
        "M021",
    ),
    ("harbour-short", "torso to body-length with", "torso to body-lenght with", "M008"),
    (
        "samphire-terrier",
        "hand-strip  forechest, upper arms, elbows to jacket-length by hand",
        "hand-strip  forechest, upper arms, elbows to jacket-length by hend",
        "M002",
    ),
    (
        "pebble-round",
        "let      muzzle-length is head-length - 6 mm",
        "let      muzzle-length is head-length - 6 kg",
        "M009",
    ),
    ("dune-column", "serves   weight 3 kg to 32 kg", "serves   weight 32 kg to 3 kg", "W025"),
    ("dune-column", "without puppy", "without pupy", "M003"),
    ("samphire-terrier", "order       torso before legs", "order       torsoo before legs", "M001"),
    (
        "marsh-spaniel",
        "blend    ribs, flank into underline over three fingers by thinning-in",
        "blend    ribs, flank into topknot over three fingers by thinning-in",
        "J002",
    ),
    (
        "pebble-round",
        "set in   legs by 19 mm comb with the coat, comb up, again",
        "set in   legs by 18 mm comb with the coat, comb up, again",
        "M002",
    ),
    (
        "harbour-short",
        "finish   forelegs by shears, column",
        "finish   forelegs except thigh by shears, column",
        "M018",
    ),
    ("harbour-short", "skim     stop with #10 with the coat", "skim     stop with #50 with the coat", "C006"),
    ("harbour-short", "breastbone, belly front with #7F", "breastbone, belly front with #4F", "C002"),
    (
        "harbour-short",
        "torso to body-length with the coat, comb up, again",
        "torso, tuck-up to body-length with the coat, comb up, again",
        "C002",
    ),
    ("saltmarsh-base", "skim     groin with #10", "skim     groin with #7F", "C002"),
    ("saltmarsh-base", "skim     under tail with #10", "skim     under tail with #30", "C001"),
    (
        "saltmarsh-base",
        "skim     under tail with #10 with the coat, one pass, away",
        "scissor  under tail to 6 mm by shears",
        "C003",
    ),
    (
        "saltmarsh-base",
        "skim     armpits with #10 with the coat, one pass, crossing the fold",
        "clip     armpits by 10 mm comb with the coat",
        "C002",
    ),
    (
        "saltmarsh-base",
        "skim     pads, between-toes with #15 with",
        "skim     pads, between-toes with #5F with",
        "C002",
    ),
    (
        "saltmarsh-base",
        "skim     belly rear with #10 with the coat, one pass, blade cool",
        "skim     belly rear with #10 in reverse, one pass, blade cool",
        "C003",
    ),
    (
        "dune-column",
        "cheeks, foreface, stop with #10 in reverse",
        "cheeks, foreface, stop, under-eye with #40 in reverse",
        "C006",
    ),
    (
        "short-tide",
        "skim     ears with #10 with the coat, past the edge",
        "clip     ears with #5F with the coat, past the edge",
        "C002",
    ),
    ("short-tide", "skim     ears with #10", "skim     ears with #40", "C006"),
    ("pebble-round", "guard    face-shy", "guard    face-shi", "M003"),
    (
        "harbour-short",
        "clip   cheeks, foreface by 6 mm comb with the coat, low speed, helper",
        "clip   cheeks, foreface with #15 in reverse, low speed, helper",
        "C004",
    ),
    (
        "harbour-short",
        "  guard    face-shy {\n    clip   cheeks, foreface by 6 mm comb with the coat, low speed, helper\n    blend  cheeks, chin into throat over two fingers by skimming\n    blend  cheeks, foreface into under-eye, stop over one finger by thinners-46\n    line   between foreface and eye corners\n    keep   head in short turns\n  }\n",
        "",
        "C005",
    ),
    (
        "short-tide",
        "keep     whole coat never in reverse",
        "keep     whole coat never in reverse\n  keep     groin no closer than #30",
        "H002",
    ),
    (
        "bath-and-tidy",
        "rake     jacket, forechest, upper arms by undercoat rake",
        "clip     jacket, forechest, upper arms with #7F with the coat",
        "K001",
    ),
    ("harbour-short", "serves   coat curl, fleece or wavy", "serves   coat curl, fleece, wavy or double", "K001"),
    (
        "marsh-spaniel",
        "card     jacket, upper arms, forechest by carding knife",
        "hand-strip jacket, upper arms, forechest to 13 mm by coarse knife",
        "J001",
    ),
    ("short-tide", "woolly or puppy-coat", "woolly, double or puppy-coat", "K001"),
    ("harbour-short", "  blend    loin, flank into thigh over two fingers by scooping\n", "", "J001"),
    ("harbour-short", "  blend    upper arms, elbows into forelegs over two fingers by scooping\n", "", "J001"),
    (
        "harbour-short",
        "  line     between cheeks and topknot  -- meant to show: ear to corner of the eye\n",
        "",
        "J001",
    ),
    ("pebble-round", "  blend    croup into tail-set over two fingers by scooping\n", "", "J001"),
    ("samphire-terrier", "  line        between cheeks and neck sides\n", "", "J001"),
    (
        "samphire-terrier",
        "  blend       upper arms, elbows into forelegs over two fingers by thinning-in\n",
        "",
        "J001",
    ),
    ("marsh-spaniel", "  line     between tail coat and tail-underset\n", "", "J001"),
    (
        "saltmarsh-base",
        "blend    tuck-up into belly rear, groin over one finger by thinners-46",
        "blend    tuck-up into belly rear, groin over one finger by shears",
        "C003",
    ),
    (
        "dune-column",
        "topknot, occiput to 45 mm by curved shears, dome\n  clip",
        "topknot, occiput to 58 mm by curved shears, dome\n  clip",
        "U002",
    ),
    ("dune-column", "lasts    4 weeks", "lasts    9 weeks", "U002"),
    ("harbour-short", "lasts    6 weeks", "lasts    12 weeks", "U002"),
    ("harbour-short", "shape    topknot to 25 mm by shears", "shape    topknot to 50 mm by shears", "U001"),
    ("pebble-round", "topknot at most 55 mm", "topknot at most 20 mm", "U001"),
    (
        "samphire-terrier",
        "order       torso before legs",
        "order       torso before legs\n  order       legs before torso",
        "O001",
    ),
    ("harbour-short", "last     head", "first    head", "O002"),
    ("dune-column", "first    foot tops", "first    foot tops\n  last     foot tops", "O002"),
    ("house", "keep     ears never plucking", "keep     ears never pluking", "M002"),
    (
        "house",
        "owns   #40, two #30, two #15, three #10, two #7F, two #5F, #4F, #3F",
        "owns   #40, two #30, two #15, three #10, two #7F, #4F, #3F",
        "M022",
    ),
    (
        "house",
        "owns   shears, curved-shears, ball-tip-shears, thinners-46, blender-28",
        "owns   shears, ball-tip-shears, thinners-46, blender-28",
        "H001",
    ),
    (
        "house",
        "zones  tail-set, tail-top, tail-feather, tail-underside, tail-tip",
        "zones  tail-set, tail-top, tail-fether, tail-underside, tail-tip",
        "M001",
    ),
    ("house", "on       wave-line", "on       wave-lime", "M001"),
    ("dogs", "finding  wart on left lip", "finding  wart on left lipp", "M001"),
    ("dogs", "finding  wart on left lip", "finding  wart", "D003"),
    ("dogs", "weight   12.4 kg", "weight   12.4 mm", "M009"),
    (
        "dogs",
        "coat     fleece, undercoat some, 48 mm; topknot 70 mm",
        "coat     double, undercoat some, 48 mm; topknot 70 mm",
        "D001",
    ),
    ("dogs", "sex      dog, neutered", "sex      cat, neutered", "M023"),
    ("dogs", "wants    harbour-short but { leave ears }", "wants    harbor-short but { leave ears }", "M005"),
    ("dogs", "born     2019-05", "born     2029-05", "D009"),
    ("dogs", "carries   ears button, tail carrot", "carries   ears buttom, tail carrot", "M023"),
    ("cases", "harbour-short", "harbour-shrot", "M005"),
    (
        "saltmarsh-base",
        "shape    ears to ear-length by thinners-46, ear-edged",
        "skim     ears, lashes with #10 with the coat\n  skim     lashes with #10 with the coat",
        "C003",
    ),
    ("samphire-terrier", "last        head", "last        head\n  order       head before torso", "O003"),
    ("harbour-short", "topknot to 25 mm by shears", "topknot to 40 mm by shears", "U002"),
    ("harbour-short", "brows to 8 mm", "brows to 20 mm", "U003"),
    ("harbour-short", "cheeks, foreface with #10 in reverse", "cheeks, foreface with #40 in reverse", "C006"),
    ("dune-column", "with #7F with the coat, blade cool", "with #4F with the coat", "C002"),
    ("dune-column", "foot tops with #15 in reverse", "foot tops, between-toes with #7F in reverse", "M015"),
    (
        "dune-column",
        "  line     between foot tops and pasterns, rear pasterns",
        "  -- line between foot tops and pasterns",
        "J001",
    ),
    ("dune-column", "  line     between cheeks and neck sides", "  -- no line", "J001"),
    ("marsh-spaniel", "underline to 50 mm by shears, skirt", "underline to 70 mm by shears, skirt", "U002"),
    (
        "marsh-spaniel",
        "ear-bases, behind ears, ear-backs, inside-ear with #10",
        "ear-bases, behind ears, ear-backs, inside-ear with #5F",
        "C002",
    ),
    ("pebble-round", "belly front with #7F with the coat, blade cool", "belly front with #3F with the coat", "C002"),
    ("pebble-round", "throat by 10 mm comb with the coat", "throat with #5 with the coat", "C002"),
    ("short-tide", "  clip     topknot, occiput with #7F with the coat", "  -- nothing on the topknot", "M016"),
    ("short-tide", "tail coat with #7F with the coat", "tail coat, tail-underset with #4F with the coat", "M015"),
    ("short-tide", "  leave    ear-opening", "  clip ear-opening with #5F", "C002"),
    ("samphire-terrier", "brows to 20 mm", "brows to 39 mm", "U003"),
    (
        "dune-column",
        "set in   legs by 25 mm comb with the coat, comb up, again",
        "hand-strip legs to 25 mm by coarse knife",
        "M025",
    ),
    ("dune-column", "finish   forelegs by shears, column", "hand-strip forelegs to 25 mm by coarse knife", "K002"),
];

fn faulty(file: &str, was: &str, is: &str) -> Vec<(PathBuf, String)> {
    let mut texts = common::saltmarsh();
    let (_, text) = texts.iter_mut().find(|(p, _)| p.ends_with(format!("{file}.trim"))).unwrap();
    assert!(text.contains(was), "{file} has no `{was}`:\n{text}");
    *text = text.replacen(was, is, 1);
    texts
}

/// File, start, code: what a message is about, whatever the numbers of files.
fn about(workspace: &Workspace, message: &Diagnostic) -> (String, u32, &'static str) {
    (workspace.sources().name(message.place.file).to_owned(), message.place.start, message.code)
}

#[test]
fn each_fault_is_caught_and_its_dog_shows_it() {
    let (mut wrong, mut dogs) = (Vec::new(), 0);
    for (file, was, is, code) in FAULTS {
        let texts = faulty(file, was, is);
        let workspace = common::workspace(texts.clone());
        let messages = check(&workspace);
        let found: Vec<&Diagnostic> = messages.iter().filter(|m| m.code == code).collect();
        if found.is_empty() {
            let codes: Vec<&str> = messages.iter().map(|m| m.code).collect();
            wrong.push(format!("{file}: `{is}` gives no {code}, but {codes:?}"));
            continue;
        }
        for message in found {
            // A word that is wrong is wrong on every dog.
            let Some(card) = &message.dog else { continue };
            dogs += 1;
            let mut with_dog = texts.clone();
            with_dog.push((PathBuf::from("recipes/saltmarsh/zz-failing.trim"), card.clone()));
            let with_dog = common::workspace(with_dog);
            let name = card.split_whitespace().nth(1).unwrap().to_owned();
            let request = Request { recipe: None, dog: name, on: Day::new(2026, 1, 1), learner: false };
            let said = match finished(&with_dog, &request) {
                Ok(made) => made.said,
                Err(said) => said,
            };
            let shown: Vec<_> = said.iter().map(|m| about(&with_dog, m)).collect();
            let expected = about(&workspace, message);
            match said.iter().find(|m| about(&with_dog, m) == expected) {
                None => wrong.push(format!("{file}: `{is}`: {expected:?} is not among {shown:?} of\n{card}")),
                Some(again) => {
                    let modality = |m: &str| (m.contains(" will "), m.contains(" may "));
                    if again.severity != message.severity || modality(&again.message) != modality(&message.message) {
                        wrong.push(format!("{file}: {} became {}", message.message, again.message));
                    }
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(dogs >= 40, "only {dogs} messages have a dog");
}

/// Each fix, put into the text, takes away the message that it was offered for and brings no mistake in the text; those that
/// `check --fix` applies by itself change no sheet, and no comment is lost by any.
#[test]
fn each_fix_mends_what_it_is_offered_for() {
    let (mut wrong, mut fixes, mut titles) = (Vec::new(), 0, std::collections::BTreeSet::new());
    let comments = |text: &str| text.matches("-- ").count();
    for (file, was, is, code) in FAULTS {
        let texts = faulty(file, was, is);
        let workspace = common::workspace(texts.clone());
        let messages = check(&workspace);
        let count = |messages: &[Diagnostic], about: &Diagnostic| {
            messages.iter().filter(|m| m.code == about.code && m.message == about.message).count()
        };
        for message in messages.iter().filter(|m| m.code == code) {
            for fix in &message.fixes {
                let mut mended = texts.clone();
                for edit in fix.edits.iter().rev() {
                    let name = PathBuf::from(workspace.sources().name(edit.place.file));
                    let (_, text) = mended.iter_mut().find(|(p, _)| *p == name).unwrap();
                    text.replace_range(edit.place.range(), &edit.text);
                }
                fixes += 1;
                titles.insert(fix.title.clone());
                let before: usize = texts.iter().map(|(_, t)| comments(t)).sum();
                let after: usize = mended.iter().map(|(_, t)| comments(t)).sum();
                let now = check(&common::workspace(mended.clone()));
                let broken: Vec<&str> = now.iter().map(|m| m.code).filter(|c| c.starts_with('W')).collect();
                let words = messages.iter().any(|m| m.code.starts_with('W'));
                if count(&now, message) >= count(&messages, message) {
                    wrong.push(format!(
                        "{file}: `{is}`: {} {}: still there after `{}`",
                        code, message.message, fix.title
                    ));
                } else if (!broken.is_empty() && !words) || before != after {
                    wrong.push(format!(
                        "{file}: `{is}`: `{}` breaks the text: {broken:?}, {before} comments, {after}",
                        fix.title
                    ));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(fixes >= 40, "only {fixes} fixes were offered: {titles:?}");
    for title in [
        "blend the two",
        "say that the line is meant to show",
        "leave those parts on such a dog",
        "take this keep away",
    ] {
        assert!(titles.contains(title), "no fix `{title}` among {titles:?}");
    }
}

/// Without a fault nothing is said, and every family of messages is among the faults.
#[test]
fn the_demo_is_silent_and_every_family_is_tried() {
    assert_eq!(check(&common::workspace(common::saltmarsh())), Vec::new());
    for family in ["W", "M", "C", "K", "J", "U", "O", "H", "D"] {
        let tried = FAULTS.iter().filter(|(.., code)| code.starts_with(family)).count();
        assert!(tried >= 2, "{family}: {tried}");
    }
}

/// The dog is as simple as can be: no finding where none is needed, round numbers, nothing that plays no part.
#[test]
fn the_dog_is_simple() {
    let texts = faulty("pebble-round", "brows to 8 mm by thinners-46", "brows to 20 mm by thinners-46");
    let messages = check(&common::workspace(texts));
    let card = messages.iter().find(|m| m.code == "U003").and_then(|m| m.dog.as_deref()).unwrap();
    assert!(!card.contains("finding") && !card.contains("height") && !card.contains("born"), "{card}");
    let weight = card.lines().find(|l| l.contains("weight")).unwrap();
    assert!(weight.ends_with(".0 kg"), "{card}");
}
