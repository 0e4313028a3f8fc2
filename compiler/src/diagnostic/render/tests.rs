//! One set of messages in all four forms: every form shows every message at the same line and column.

use super::{Format, Look, json::MessageJson, render};
use crate::{
    diagnostic::Diagnostic,
    source::{FileId, Place, Sources},
};
use std::sync::Arc;

const RECIPE: &str =
    "recipe süß {\r\n  title \"Kürzer 🐩\"\r\n\tclip belly with #40\r\n  clip 🐾 groin with #7F\r\n}\r\n";
const BODY: &str = "mark fold {\n  on tuck-up\n  keep gap fine\n}\n";

/// The place of some words: tests name what is underlined, not where.
fn place(sources: &Sources, file: FileId, words: &str) -> Place {
    let start = sources.text(file).find(words).unwrap_or_default();
    Place { file, start: start as u32, end: (start + words.len()) as u32 }
}

fn messages() -> (Sources, Vec<Diagnostic>) {
    let mut sources = Sources::default();
    let body = sources.add("basics/body.trim".into(), Arc::from(BODY));
    let recipe = sources.add("salon/süß.trim".into(), Arc::from(RECIPE));
    let empty = sources.add("empty.trim".into(), Arc::from(""));
    let at = |words| place(&sources, recipe, words);
    let end = RECIPE.len() as u32;
    let all = vec![
        Diagnostic::error("C001", at("#40"), "`#40` is closer than the belly allows")
            .label("leaves 0.3 mm; the belly keeps 1.5 mm")
            .related(at("belly"), "the zone")
            .related(place(&sources, body, "keep gap fine"), "the basics ask for this on every dog")
            .why("The skin of the belly is thin and moves under the blade, and a close blade rashes it within a day.")
            .help("write `with #10`")
            .fix("write `#10`", at("#40"), "#10"),
        Diagnostic::warning("C002", at("🐾 groin"), "teeth too far apart for the groin").suggest(
            "leave it",
            at("clip 🐾 groin with #7F"),
            "leave groin",
        ),
        Diagnostic::note("M016", place(&sources, recipe, RECIPE.trim_end()), "nobody finishes the tail"),
        Diagnostic::note("M014", at("🐾 groin with #7F\r\n}"), "over two lines").label("here"),
        Diagnostic::error("W009", Place { file: recipe, start: end, end }, "the text stops too early"),
        Diagnostic::error("W009", Place { file: empty, start: 0, end: 0 }, "nothing here").label("an empty file"),
        Diagnostic::error("W009", Place { file: recipe, start: 9000, end: 9001 }, "outside\nof the text"),
        Diagnostic::error("W009", Place { file: recipe, start: 9, end: 10 }, "inside of a letter"),
    ];
    (sources, all)
}

/// `name:line:column` of the first place of every message.
fn places(text: &str, open: &str, close: char) -> Vec<String> {
    let cut = |line: &str| line.split_once(open).and_then(|(_, rest)| rest.split(close).next()).map(str::to_owned);
    text.lines().filter_map(cut).collect()
}

#[test]
fn all_forms_show_the_same_places() {
    let (sources, all) = messages();
    let one = |m: &Diagnostic, format| render(std::slice::from_ref(m), &sources, format, Look::default());
    for message in &all {
        let json: MessageJson =
            serde_json::from_str(&one(message, Format::Json)).unwrap_or_else(|e| unreachable!("{e}"));
        let point = json.place.start;
        let wanted = format!("{}:{}:{}", json.place.file, point.line, point.column);
        let short = one(message, Format::Short);
        assert_eq!(short.lines().count(), 1, "{short}");
        assert!(short.starts_with(&format!("{wanted}: ")), "{wanted} in {short}");
        assert_eq!(places(&one(message, Format::Plain), "--> ", ' ').first(), Some(&wanted));
        let rich = one(message, Format::Rich);
        assert_eq!(places(&rich, "─[", ']').first(), Some(&wanted), "{rich}");
        let related = json.related.iter().filter(|r| r.place.file != json.place.file);
        for (other, shown) in related.zip(places(&rich, "─[", ']').iter().skip(1)) {
            let point = other.place.start;
            assert_eq!(*shown, format!("{}:{}:{}", other.place.file, point.line, point.column));
        }
    }
}

#[test]
fn json_is_one_object_a_line_with_the_bytes_of_the_message() {
    let (sources, all) = messages();
    let lines = render(&all, &sources, Format::Json, Look::default());
    let values: Vec<MessageJson> = lines.lines().filter_map(|l| serde_json::from_str(l).ok()).collect();
    assert_eq!(values.len(), all.len());
    for (value, message) in values.iter().zip(&all).take(5) {
        assert_eq!(value.place.start.byte..value.place.end.byte, message.place.range());
        assert_eq!(value.fixes.len(), message.fixes.len());
        assert_eq!(value.related.len(), message.related.len());
    }
    assert_eq!(values.first().map(|v| (v.place.start.line, v.place.start.column)), Some((3, 18)));
}

#[test]
fn a_message_says_what_why_and_what_instead() {
    let (sources, all) = messages();
    for format in [Format::Rich, Format::Plain] {
        let text = render(all.get(..1).unwrap_or_default(), &sources, format, Look { colour: false, width: 60 });
        for words in
            ["error[C001]", "closer than the belly", "leaves 0.3 mm", "basics/body.trim:3:3", "why:", "instead:"]
        {
            assert!(text.contains(words), "{words} in\n{text}");
        }
        assert!(text.lines().skip_while(|l| !l.contains("why:")).all(|l| l.chars().count() <= 60), "{text}");
        assert!(!text.contains('\x1b'), "{text}");
        let coloured = render(&all, &sources, format, Look { colour: true, width: 60 });
        assert!(coloured.contains('\x1b'));
    }
    let plain = render(all.get(..1).unwrap_or_default(), &sources, Format::Plain, Look::default());
    let ours: String = plain.chars().filter(|c| !c.is_ascii()).collect();
    assert_eq!(ours, "üß", "only the file's own letters:\n{plain}");
}

#[test]
fn the_end_of_a_text_can_be_pointed_at() {
    let (sources, all) = messages();
    for message in all.iter().filter(|m| m.code == "W009") {
        let rich = render(std::slice::from_ref(message), &sources, Format::Rich, Look::default());
        assert!(rich.contains('▲') || rich.contains('─'), "{rich}");
        assert!(!rich.contains("Failed"), "{rich}");
    }
}

/// Places at every byte, alone and in pairs, in every form: nothing panics, nothing is lost.
#[test]
fn any_place_can_be_shown() {
    let (sources, _) = messages();
    let len = RECIPE.len() as u32 + 3;
    for file in sources.ids() {
        for start in 0..len {
            for end in [start, start + 1, start + 2, start + 30, len, 0] {
                let place = Place { file, start, end };
                let other = Place { file, start: end, end: start };
                let message = Diagnostic::error("C001", place, "x").label("y").related(other, "z");
                for format in [Format::Rich, Format::Plain, Format::Short, Format::Json, Format::Sarif] {
                    let text = render(std::slice::from_ref(&message), &sources, format, Look::default());
                    assert!(text.contains("C001") && !text.contains("Failed"), "{start} {end}: {text}");
                }
            }
        }
    }
}
