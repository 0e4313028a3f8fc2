//! Every mistake is found, every intact statement kept, and an open brace or quote stays in its own declaration.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

use std::time::Instant;

fn codes(text: &str) -> Vec<&'static str> {
    grammar::errors(&grammar::parse(text)).iter().map(|e| e.code).collect()
}

fn tree(text: &str) -> String {
    grammar::shape(&grammar::parse(text))
}

const GOOD: &str = "recipe good {\n  clip torso to 9 mm\n  keep head last\n}\n";

#[test]
fn one_misspelt_word_is_one_message() {
    assert_eq!(codes("recipe a {\n  clpi torso to 9 mm\n  keep head last\n}\n"), ["W006"]);
    assert_eq!(codes("recpie a {\n  clip torso to 9 mm\n  keep head last\n  prep { bath }\n}\n"), ["W007"]);
    assert_eq!(codes("group a {\n  zoen b { paired; station head }\n}\n"), ["W007"]);
    assert_eq!(codes("banana a {\n  clip torso to 9 mm\n  keep head last\n  zork b\n}\n"), ["W007"]);
}

#[test]
fn three_mistakes_are_three_messages_in_order() {
    let text = "recipe a {\n  clpi torso to 9 mm\n  skim belly wiht #10\n  keep head last\n  title \"open\n}\n";
    assert_eq!(codes(text), ["W006", "W012", "W004"]);
    assert!(tree(text).contains("keep [head]; last"));
    assert!(tree(text).contains("work clip [torso]; to 9Mm"));
    assert!(tree(text).contains("work skim [belly]; tool #10"));
}

#[test]
fn a_misspelt_keyword_keeps_its_body() {
    assert_eq!(tree("recpie a {\n  clip torso to 9 mm\n}\n"), "recipe \"a\"\n  work clip [torso]; to 9Mm\n");
    assert_eq!(tree("banana a {\n  clip torso to 9 mm\n}\n"), "unknown banana \"a\"\n  work clip [torso]; to 9Mm\n");
}

#[test]
fn an_open_brace_stays_in_its_declaration() {
    let text = format!("recipe a {{\n  when weight under 6 kg {{\n    clip torso to 9 mm\n\n{GOOD}\n{GOOD}");
    assert_eq!(codes(&text), ["W001"]);
    assert!(tree(&text).ends_with(&tree(&format!("{GOOD}\n{GOOD}"))));
    let two = format!("recipe a {{\n  clip torso to 9 mm\n{GOOD}recipe c {{\n  clip torso to 9 mm\n{GOOD}");
    assert_eq!(codes(&two), ["W001", "W001"]);
}

#[test]
fn the_brace_left_open_is_pointed_out() {
    let text = "recipe a {\n  when weight under 6 kg {\n    clip torso to 9 mm\n  clip b to 3 mm\n}\n";
    let errors = grammar::errors(&grammar::parse(text));
    assert_eq!(errors.len(), 1);
    let (span, _) = errors[0].related.clone().unwrap();
    assert_eq!(&text[..span.start as usize], "recipe a {\n  when weight under 6 kg ");
}

#[test]
fn an_open_quote_stays_on_its_line() {
    let text = format!("recipe a {{\n  title \"open\n  clip torso to 9 mm\n}}\n{GOOD}");
    assert_eq!(codes(&text), ["W004"]);
    assert!(tree(&text).contains("work clip [torso]; to 9Mm"));
    let head = format!("tool \"open {{\n  kind blade\n}}\n{GOOD}");
    assert_eq!(codes(&head), ["W004"]);
    let one = format!("form a {{ about \"open; on forelegs }}\n{GOOD}");
    assert_eq!(codes(&one), ["W004"]);
    assert!(tree(&one).contains("field on | forelegs"));
}

#[test]
fn inches_never_open_a_text() {
    let text = format!(
        "recipe a {{\n  clip torso to 1/4\"\n  clip back to 1½\" with the coat\n  clip b to 2\", comb up\n}}\n{GOOD}"
    );
    assert_eq!(codes(&text), Vec::<&str>::new());
}

#[test]
fn a_forgotten_brace_is_one_message() {
    assert_eq!(codes(&format!("recipe a\n  clip torso to 9 mm\n  keep head last\n}}\n{GOOD}")), ["W003"]);
    assert_eq!(codes(&format!("{GOOD}}}\n{GOOD}")), ["W002"]);
    assert_eq!(codes("recipe a\n{\n  clip torso to 9 mm\n}\n"), Vec::<&str>::new());
    assert_eq!(
        codes("recipe a {\n  when weight under 6 kg\n  {\n    clip torso to 9 mm\n  }\n}\n"),
        Vec::<&str>::new()
    );
}

#[test]
fn heads_in_prose_split_and_other_words_do_not() {
    let text = "recipe a {\n  about\n    The dog must stand.\n    A coat of curls; { or not } \"quoted\n  clip torso to 9 mm\n}\n";
    assert_eq!(codes(text), Vec::<&str>::new());
    assert!(tree(text).contains("work clip [torso]"));
}

#[test]
fn prepositions_and_commas_continue_a_line() {
    let a = tree("recipe a {\n  clip torso,\n    back\n    to 9 mm -- short\n    with #10,\n    again\n}\n");
    assert_eq!(a, "recipe \"a\"\n  work clip [torso, back]; to 9Mm; tool #10; manner again\n");
    let t = tree("tool comb-19 {\n  leaves 19 mm\n  over #40, #30\n}\n");
    assert!(t.contains("field over | #40 | #30"), "{t}");
    let m = tree("motion x {\n  closes 3 mm\n  along 2 to 3 cm\n}\n");
    assert!(m.contains("field along | 2..3Cm"), "{m}");
}

#[test]
fn many_independent_mistakes_are_all_found() {
    let mut text = String::new();
    let slips = [
        "clpi torso to 9 mm",
        "clip torso wiht #10",
        "title \"open",
        "clip torso to 1,5 mm",
        "clip torso with #3/4",
        "head last",
        "clip torso -> 9 mm",
    ];
    for i in 0..50 {
        text.push_str(&format!(
            "recipe r{i} {{\n  clip torso to 9 mm\n  {}\n  keep head last\n}}\n\n",
            slips[i % slips.len()]
        ));
    }
    assert_eq!(codes(&text).len(), 50);
    assert_eq!(tree(&text).matches("keep [head]; last").count(), 50);
    assert_eq!(tree(&text).matches("recipe \"r").count(), 50);
}

#[test]
fn twenty_open_blocks_are_read_at_once() {
    let mut text = String::from("group g {\n");
    for i in 0..20 {
        text.push_str(&format!("zone z{i} {{\n"));
    }
    let text = text.replace("\nzone", "\n zone");
    let t = Instant::now();
    let n = codes(&text).len();
    let took = t.elapsed();
    assert_eq!(n, 1);
    let limit = if cfg!(debug_assertions) { 50 } else { 1 };
    assert!(took.as_millis() <= limit, "{took:?}");
}

#[test]
fn depth_and_size_are_bounded_by_one_message() {
    assert_eq!(codes(&"{".repeat(50_000)).len(), 1);
    assert_eq!(codes(&"}".repeat(50_000)).len(), 1);
    assert_eq!(codes(&"{}".repeat(25_000)).len(), 1);
    assert_eq!(codes(&"}{".repeat(25_000)).len(), 1);
    assert_eq!(codes(&"recipe a {".repeat(50_000)), ["W017"]);
    assert_eq!(codes(&format!("recipe a {{ {} }}", "when weight under 6 kg {".repeat(50_000))), ["W017"]);
    assert_eq!(codes(&format!("recipe a {{\n let b is {}c\n}}\n", "(".repeat(50_000))), ["W017"]);
    assert_eq!(codes(&format!("recipe a {{\n let b is {}c\n}}\n", "( ".repeat(50_000))), ["W017"]);
    assert_eq!(codes(&format!("recipe a {{\n let b is c{}\n}}\n", " + c".repeat(50_000))), ["W028"]);
    assert_eq!(codes(&format!("recipe a {{\n let b is {}c\n}}\n", "one comb longer than ".repeat(50_000))).len(), 1);
    let fits = format!("group a {{ {} {} }}", "group b {".repeat(98), "}".repeat(98));
    assert_eq!(codes(&fits), Vec::<&str>::new());
    let big = format!("{}\n", "x".repeat(17 * 1024 * 1024));
    assert_eq!(codes(&big), ["W018"]);
    assert!(grammar::format(&big).is_err());
}

#[test]
fn messages_are_capped() {
    let block = format!("recipe a {{\n{}}}\n", "  zork\n".repeat(2_000));
    assert_eq!(codes(&block).len(), grammar::MAX_ERRORS);
    let blocks = "recipe a {\n  zork\n}\n".repeat(2_000);
    assert_eq!(codes(&blocks).len(), grammar::MAX_ERRORS);
    assert_eq!(codes(&blocks).last(), Some(&"W030"));
}

#[test]
fn hard_inputs_stay_linear() {
    for unit in [
        "#/* ",
        "\" ",
        "\"",
        "'",
        "“",
        "( ",
        "(published ",
        "a, ",
        "clip a,\n",
        "-- x\n",
        "—",
        "about\n",
        "1/",
        "keep never a, ",
        "—1 ",
        "x- ",
        "}\n",
        ";",
        "‘;",
        "about;",
        "(published ;",
        "\n",
        "— 1 kg",
        "{}",
        "when a {}",
    ] {
        let n = 60_000 / unit.len();
        for text in [
            unit.repeat(n),
            format!("recipe a {{\n  keep ears never {}\n}}\n", unit.repeat(n)),
            format!("recipe a {{\n  clip a,\n{}}}\n", unit.repeat(n)),
            format!("dog a\n{}{{", unit.repeat(n)),
            format!("recipe a {{\n  about\n    {}\n}}\n", unit.repeat(n)),
        ] {
            let t = Instant::now();
            let _ = codes(&text);
            let limit = if cfg!(debug_assertions) { 5_000 } else { 500 };
            if t.elapsed().as_millis() > limit / 10 {
                eprintln!("{unit:?} {:?} took {:?}", text.find(unit), t.elapsed());
            }
            assert!(t.elapsed().as_millis() < limit, "{unit:?} took {:?}", t.elapsed());
        }
    }
}

#[test]
fn a_block_reads_alike_alone_and_in_its_file() {
    let text = format!("-- first\n{GOOD}\n-- second\nrecipe b {{\n  clpi torso to 9 mm\n}}  -- behind\n");
    let file = grammar::parse(&text);
    for (placed, chunk) in file.blocks.iter().zip(grammar::scan(&text)) {
        let alone = grammar::parse_block(&text[chunk.start..chunk.end]);
        assert_eq!(grammar::shape_block(&alone.block), grammar::shape_block(&placed.block.block));
        assert_eq!(alone.errors, placed.block.errors);
        assert_eq!(placed.at as usize, chunk.start);
    }
    assert_eq!(grammar::comments(&file), ["-- behind", "-- first", "-- second"]);
}
