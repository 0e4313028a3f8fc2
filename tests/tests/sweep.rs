//! Texts that are only half there: every shipped file cut short, with a word missing, or harmed at random, through the
//! whole way: read, format, check, and the sheet of a dog.
//!
//! Nothing panics; every message has a place inside its text, between whole characters; nothing takes a second. In CI the
//! cuts are taken in steps that spread over each file (`LONG=1` takes every one, and 100 000 random texts). A cut in a long
//! file is tried with the declarations just before it; those further up are read by themselves anyhow. Whatever the number,
//! the texts are the same each time.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod common;
#[path = "../../grammar/tests/pieces/mod.rs"]
mod pieces;

use coatwright::check::check;
use coatwright::date::Day;
use coatwright::diagnostic::render::{Format, Look, render};
use coatwright::diagnostic::{CODES, Diagnostic};
use coatwright::sheet::render::{Options, json, markdown, text};
use coatwright::sheet::{Request, make};
use coatwright::source::{Place, Sources};
use coatwright::workspace::Workspace;
use coatwright_tests::{Effort, effort};
use pieces::PIECES;
use std::path::PathBuf;
use std::time::{Duration, Instant};

/// The longest that one text may take, from text to sheet: what hangs or grows with the square of the text takes longer. Debug builds
/// are ten times slower than what is shipped, and six thousand messages in three formats take one of them most of a second.
const LONGEST: Duration = Duration::from_secs(3);

/// How long this thread has really worked, where the system tells (Linux); the time on the wall elsewhere. Other programs
/// that run beside this one don't count.
struct Clock(Option<Duration>, Instant);

impl Clock {
    fn now() -> Self {
        Self(Self::worked(), Instant::now())
    }

    fn worked() -> Option<Duration> {
        let text = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
        text.split_whitespace().next()?.parse().ok().map(Duration::from_nanos)
    }

    fn elapsed(&self) -> Duration {
        match (self.0, Self::worked()) {
            (Some(then), Some(now)) => now.saturating_sub(then),
            _ => self.1.elapsed(),
        }
    }
}

fn long() -> bool {
    effort() == Effort::Long
}

/// A small generator with its own state: xorshift64* (Vigna 2016, doi 10.1145/2845077), so that every run is the same.
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D)
    }

    /// A number below `most`.
    fn below(&mut self, most: usize) -> usize {
        usize::try_from(self.next() % most.max(1) as u64).unwrap()
    }
}

/// How far a text goes down the way.
#[derive(Clone, Copy, PartialEq)]
enum Way {
    /// Read and formatted.
    Words,
    /// Also checked and made into a sheet, in the salon that its name belongs to.
    Whole,
}

struct Sweep {
    /// The demo salon, in which a harmed file takes the place of its own.
    salon: Vec<(PathBuf, String)>,
    tried: usize,
    messages: usize,
    slowest: (Duration, String),
}

impl Sweep {
    fn new() -> Self {
        Self { salon: common::saltmarsh(), tried: 0, messages: 0, slowest: (Duration::ZERO, String::new()) }
    }

    /// Sends a text through; `what` says which one it is.
    fn send(&mut self, name: &str, harmed: &str, way: Way, what: &str) {
        let began = Clock::now();
        let outcome = std::panic::catch_unwind(|| self.all(name, harmed, way));
        let took = began.elapsed();
        match outcome {
            Ok(messages) => self.messages += messages,
            Err(_) => panic!("{name}, {what}: see above\n----\n{}", tail(harmed)),
        }
        self.tried += 1;
        if took > self.slowest.0 {
            self.slowest = (took, format!("{name}, {what}"));
        }
        assert!(took < LONGEST, "{name}, {what}: {took:?}\n----\n{}", tail(harmed));
    }

    fn all(&self, name: &str, harmed: &str, way: Way) -> usize {
        let file = grammar::parse(harmed);
        for e in grammar::errors(&file) {
            let (start, end) = (e.span.start as usize, e.span.end as usize);
            assert!(start <= end && end <= harmed.len(), "{} at {start}..{end} of {}", e.code, harmed.len());
            assert!(harmed.is_char_boundary(start) && harmed.is_char_boundary(end), "{} splits a letter", e.code);
            assert!(grammar::CODES.iter().any(|(c, _)| *c == e.code), "{} is in no register", e.code);
        }
        if let Ok(once) = grammar::format(harmed) {
            assert!(grammar::format(&once).as_ref() == Ok(&once), "formatting twice changes it again");
        }
        if way == Way::Words {
            return grammar::errors(&file).len();
        }
        let path = PathBuf::from(name);
        // A file of the demo stands in its salon; any other alone, as a file of the salon of its own.
        let workspace = if self.salon.iter().any(|(p, _)| *p == path) {
            let mut texts = self.salon.clone();
            texts.retain(|(p, _)| *p != path);
            texts.insert(0, (path, harmed.to_owned()));
            Workspace::from_texts(texts, 1)
        } else {
            Workspace::from_texts(vec![(path, harmed.to_owned())], 1)
        };
        let said = check(&workspace);
        places(&said, workspace.sources());
        for format in [Format::Short, Format::Json, Format::Plain] {
            let shown = render(&said, workspace.sources(), format, Look { colour: false, width: 80 });
            assert_eq!(shown.is_empty(), said.is_empty());
        }
        let mut messages = said.len();
        let dogs: Vec<String> =
            workspace.salons().iter().flat_map(|s| s.dogs.keys().map(ToString::to_string)).collect();
        // A harmed card makes its own sheet; a harmed recipe or house that of the dog who wants it.
        let harms_cards = name.ends_with("dogs.trim");
        for dog in dogs.iter().filter(|d| !harms_cards || harmed.contains(d.as_str())).take(if long() { 4 } else { 1 })
        {
            let request = Request { recipe: None, dog: dog.clone(), on: Some(Day(20_782)), learner: true };
            match make(&workspace, &request) {
                Ok(sheet) => {
                    let options = Options::default();
                    let made = text(&sheet, &options) + &markdown(&sheet, &options) + &json(&sheet, &options);
                    assert!(made.len() > 1_000, "an empty sheet");
                }
                Err(said) => {
                    assert!(!said.is_empty(), "no sheet, and no word why");
                    assert!(!common::codes(&said).contains(&"V001"), "{said:#?}");
                    places(&said, workspace.sources());
                    messages += said.len();
                }
            }
        }
        messages
    }
}

/// Every place of every message lies in its text, between whole characters; every code is in the register.
fn places(said: &[Diagnostic], sources: &Sources) {
    let inside = |place: Place, d: &Diagnostic| {
        let text = sources.text(place.file);
        assert!(!sources.name(place.file).is_empty(), "in no file: {d:#?}");
        assert!(
            place.start <= place.end && place.end as usize <= text.len(),
            "outside of {}: {d:#?}",
            sources.name(place.file)
        );
        assert!(text.get(place.range()).is_some(), "splits a letter: {d:#?}");
    };
    for d in said {
        inside(d.place, d);
        d.related.iter().for_each(|r| inside(r.place, d));
        d.fixes.iter().flat_map(|f| &f.edits).for_each(|e| inside(e.place, d));
        assert!(!d.message.is_empty() && !d.message.contains('\n'), "{d:#?}");
        let known = CODES.iter().any(|c| c.code == d.code) || grammar::CODES.iter().any(|(c, _)| *c == d.code);
        assert!(known, "{} is in no register", d.code);
    }
}

fn tail(text: &str) -> String {
    let lines: Vec<&str> = text.lines().collect();
    lines[lines.len().saturating_sub(12)..].join("\n")
}

/// Boundaries of characters, about `many` of them, spread over the text with an odd step so that they fall anywhere in a
/// line; all of them if so many are asked for.
fn spread(text: &str, many: usize) -> Vec<usize> {
    let all: Vec<usize> = text.char_indices().map(|(i, _)| i).collect();
    let step = (all.len() / many.max(1)).max(1) | 1;
    if all.len() <= many { all } else { all.into_iter().step_by(step).collect() }
}

/// The words of a text with their places, and runs of signs as words too.
fn words(text: &str) -> Vec<(usize, usize)> {
    let mut found = Vec::new();
    let mut start = None;
    for (i, c) in text.char_indices() {
        match (c.is_whitespace(), start) {
            (false, None) => start = Some(i),
            (true, Some(from)) => {
                found.push((from, i));
                start = None;
            }
            _ => {}
        }
    }
    found.extend(start.map(|from| (from, text.len())));
    found
}

/// Most cuts only read and format: that is where a cut hurts. The others go the whole way.
fn way(number: usize) -> Way {
    if number.is_multiple_of(if long() { 32 } else { 4 }) { Way::Whole } else { Way::Words }
}

/// Where a text that ends at `cut` may begin, so that the cut's declaration and the two before it are in it. What goes the
/// whole way is always a whole file.
fn beginning(blocks: &[u32], cut: usize, way: Way) -> usize {
    if way == Way::Whole {
        return 0;
    }
    let before = blocks.partition_point(|at| *at as usize <= cut);
    before.checked_sub(3).and_then(|n| blocks.get(n)).map_or(0, |at| *at as usize)
}

/// Where the declarations of a text begin.
fn blocks(text: &str) -> Vec<u32> {
    grammar::parse(text).blocks.iter().map(|b| b.at).collect()
}

fn report(sweep: &Sweep, name: &str) {
    println!(
        "{name}: {} texts, {} messages, slowest {:?} ({})",
        sweep.tried, sweep.messages, sweep.slowest.0, sweep.slowest.1
    );
}

/// Every shipped file, cut short.
#[test]
fn every_beginning_of_every_file() {
    let mut sweep = Sweep::new();
    for (name, whole) in common::shipped() {
        let many = if long() { usize::MAX } else { 24 };
        let blocks = blocks(&whole);
        for (number, cut) in spread(&whole, many).into_iter().enumerate() {
            let from = beginning(&blocks, cut, way(number));
            sweep.send(&name, &whole[from..cut], way(number), &format!("from byte {from}, cut at byte {cut}"));
        }
    }
    report(&sweep, "beginnings");
    assert!(sweep.tried > 600 && sweep.messages > 600, "{} texts, {} messages", sweep.tried, sweep.messages);
}

/// Every shipped file, one word missing.
#[test]
fn every_word_missing_from_every_file() {
    let mut sweep = Sweep::new();
    for (name, whole) in common::shipped() {
        let all = words(&whole);
        let blocks = blocks(&whole);
        let many = if long() { usize::MAX } else { 24 };
        let step = if all.len() <= many { 1 } else { (all.len() / many).max(1) | 1 };
        for (number, (start, end)) in all.into_iter().step_by(step).enumerate() {
            let from = beginning(&blocks, start, way(number));
            let after = blocks.partition_point(|at| *at as usize <= end);
            let to = blocks.get(after + 1).filter(|_| way(number) == Way::Words).map_or(whole.len(), |at| *at as usize);
            let harmed = format!("{}{}", &whole[from..start], &whole[end..to]);
            let line = whole[..start].matches('\n').count() + 1;
            sweep.send(&name, &harmed, way(number), &format!("line {line} without `{}`", &whole[start..end]));
        }
    }
    report(&sweep, "missing words");
    assert!(sweep.tried > 500 && sweep.messages > 500, "{} texts, {} messages", sweep.tried, sweep.messages);
}

/// Shipped files harmed at random: pieces put in, stretches cut, moved, doubled, two files run together.
#[test]
fn random_harm() {
    let mut sweep = Sweep::new();
    let mut dice = Dice(0x5A17_3A25_0B0A_7001);
    let all = common::shipped();
    let number = if long() { 100_000 } else { 2_000 };
    for round in 0..number {
        let (name, whole) = &all[dice.below(all.len())];
        let mut harmed = whole.clone();
        // The long files are taken in parts, or they would be all that is tried.
        if harmed.len() > 6_000 && dice.below(8) != 0 {
            let from = boundary(&harmed, dice.below(harmed.len()));
            let to = boundary(&harmed, from + 3_000);
            harmed = harmed[from..to].to_owned();
        }
        let mut done = Vec::new();
        for _ in 0..=dice.below(6) {
            let at = boundary(&harmed, dice.below(harmed.len() + 1));
            match dice.below(6) {
                0 | 1 => {
                    let piece = PIECES[dice.below(PIECES.len())];
                    harmed.insert_str(at, piece);
                    done.push(format!("put {piece:?} at {at}"));
                }
                2 => {
                    let to = boundary(&harmed, at + dice.below(40));
                    harmed.replace_range(at..to, "");
                    done.push(format!("cut {at}..{to}"));
                }
                3 => {
                    let to = boundary(&harmed, at + dice.below(200));
                    let copy = harmed[at..to].to_owned();
                    let into = boundary(&harmed, dice.below(harmed.len() + 1));
                    harmed.insert_str(into, &copy);
                    done.push(format!("copied {at}..{to} to {into}"));
                }
                4 => {
                    let other = &all[dice.below(all.len())].1;
                    let from = boundary(other, dice.below(other.len()));
                    let to = boundary(other, from + dice.below(300));
                    harmed.insert_str(at, &other[from..to]);
                    done.push(format!("ran another file in at {at}"));
                }
                _ => {
                    let c = char::from_u32(u32::try_from(dice.below(0x2_FFFF)).unwrap()).unwrap_or('?');
                    harmed.insert(at, c);
                    done.push(format!("put {c:?} at {at}"));
                }
            }
        }
        sweep.send(
            name,
            &harmed,
            if round % (if long() { 32 } else { 10 }) == 0 { Way::Whole } else { Way::Words },
            &format!("round {round}: {}", done.join(", ")),
        );
    }
    report(&sweep, "random harm");
    assert!(sweep.messages > number, "{} messages", sweep.messages);
}

/// Texts that nobody wrote: signs and letters in any order.
#[test]
fn random_letters() {
    let mut sweep = Sweep::new();
    let mut dice = Dice(0x0DD5_EED0_0BEE_F001);
    for round in 0..if long() { 20_000 } else { 500 } {
        let mut made = String::new();
        for _ in 0..dice.below(120) {
            match dice.below(4) {
                0 => made.push(char::from_u32(u32::try_from(dice.below(0x11_0000)).unwrap()).unwrap_or('\n')),
                1 => made.push(char::from(u8::try_from(32 + dice.below(95)).unwrap())),
                _ => made.push_str(PIECES[dice.below(PIECES.len())]),
            }
        }
        sweep.send(
            "random.trim",
            &made,
            if round % 4 == 0 { Way::Whole } else { Way::Words },
            &format!("round {round}"),
        );
    }
    report(&sweep, "random letters");
}

fn boundary(text: &str, mut at: usize) -> usize {
    at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

/// The classic ways to make a reader slow: depth, length, and things left open.
#[test]
fn deep_long_and_open() {
    let mut sweep = Sweep::new();
    let many = 50_000;
    let texts: Vec<(&str, String)> = vec![
        ("braces opened", "{".repeat(many)),
        ("braces closed", "}".repeat(many)),
        ("braces both", "{}".repeat(many)),
        ("nested blocks left open", "recipe a {\n  when coat curl {\n".repeat(20)),
        ("nested whens left open", format!("recipe a {{\n{}", "when coat curl {\n".repeat(5_000))),
        ("nested groups", format!("{}{}", "group a {\n".repeat(3_000), "}\n".repeat(3_000))),
        ("brackets left open", format!("recipe a {{\n  clip belly {}", "(".repeat(many))),
        ("quotes", "\"".repeat(many)),
        ("quotes on lines of their own", "\"\n".repeat(many)),
        ("commas", format!("recipe a {{\n  clip {} with #10\n}}\n", "belly, ".repeat(5_000))),
        ("a long sum", format!("recipe a {{\n  let x is {}1 mm\n}}\n", "1 mm + ".repeat(5_000))),
        ("a long word", format!("recipe {} {{\n}}\n", "a".repeat(many))),
        ("a word of hyphens", format!("recipe a{} {{\n}}\n", "-a".repeat(20_000))),
        ("a long comment", format!("--{}\nrecipe a {{\n}}\n", "-".repeat(many))),
        ("a long line", format!("recipe a {{\n  about {}\n}}\n", "word ".repeat(10_000))),
        ("empty lines", "\n".repeat(many)),
        ("carriage returns", "\r".repeat(many)),
        ("many small blocks", "dog a { sex dog }\n".repeat(1_000)),
        ("many unknown blocks", "bake a { cake }\n".repeat(1_000)),
        ("blanks of another kind", "\u{a0}\u{2003}\u{3000}".repeat(10_000)),
        ("numbers", format!("recipe a {{\n  clip belly to {} mm\n}}\n", "9".repeat(many))),
        // Found at random: the place of the inner head ended within the letter.
        ("a letter of four bytes before a brace", "cipe x{one ass over 99999999999999999999 mme\u{7de0b}{".to_owned()),
        ("elses", format!("recipe a {{\n  when coat curl {{ }}\n{}}}\n", "  else when coat wire { }\n".repeat(400))),
    ];
    for (what, text) in &texts {
        sweep.send("h/house.trim", text, Way::Whole, what);
    }
    report(&sweep, "deep, long and open");
}
