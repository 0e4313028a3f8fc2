//! Slips of tired thumbs: each with the code, the words underlined, and the line after the fix.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

/// Parses `line` in a block and gives its mistakes as `code underlined -> line after the fix`.
fn said(block: &str, line: &str) -> Vec<String> {
    let head = format!("{block} a {{\n  ");
    let text = format!("{head}{line}\n}}\n");
    let file = grammar::parse(&text);
    grammar::errors(&file)
        .iter()
        .map(|e| {
            let under = &text[e.span.start as usize..e.span.end as usize];
            let fixed = e.fix.as_ref().map_or(String::from("-"), |f| {
                let mut t = text.clone();
                t.replace_range(f.span.start as usize..f.span.end as usize, &f.text);
                t[head.len()..].trim_end().trim_end_matches('}').trim_end().to_owned()
            });
            format!("{} {under} => {fixed}", e.code)
        })
        .collect()
}

#[track_caller]
fn check(block: &str, line: &str, expected: &[&str]) {
    assert_eq!(said(block, line), expected, "{line}");
}

#[test]
fn slips_in_recipes() {
    let table: &[(&str, &[&str])] = &[
        ("clpi torso to 9 mm", &["W006 clpi => clip torso to 9 mm"]),
        ("clio torso to 9 mm", &["W006 clio => clip torso to 9 mm"]),
        ("sett in torso to 9 mm", &["W006 sett => set in torso to 9 mm"]),
        ("hnad strip jacket by hand", &["W006 hnad => hand strip jacket by hand"]),
        ("keeep head last", &["W006 keeep => keep head last"]),
        ("zork torso to 9 mm", &["W006 zork => -"]),
        ("clip torso wiht #10", &["W012 wiht => clip torso with #10"]),
        ("clip torso too 9 mm", &["W012 too => clip torso to 9 mm"]),
        ("clip torso with #10 in revers", &["W012 revers => clip torso with #10 in reverse"]),
        ("clip torso to 9 mmm", &["W012 mmm => clip torso to 9 mm"]),
        ("keep belly no closer then #10", &["W012 then => keep belly no closer than #10"]),
        ("order a befor b", &["W012 befor => order a before b"]),
        ("clip torso to9mm", &["W012 to9mm => clip torso to 9mm"]),
        ("clip torso with#10", &["W012 with#10 => clip torso with #10"]),
        ("clip torso with 10", &["W027 10 => clip torso with #10"]),
        ("clip torso with 10-blade", &["W027 10-blade => clip torso with #10"]),
        ("clip torso with 7f blade", &["W027 7f blade => clip torso with #7F"]),
        ("clip torso to 1,5 mm", &["W013 1,5 mm => clip torso to 1.5 mm"]),
        ("serves weight 3-5 kg", &["W014 - => serves weight 3 to 5 kg"]),
        ("serves weight 3–5 kg", &["W014 – => serves weight 3 to 5 kg"]),
        ("serves weight 3 – 5 kg", &["W014 – => serves weight 3 to 5 kg"]),
        ("serves weight 3 kg - 5 kg", &["W014 - => serves weight 3 kg to 5 kg"]),
        ("serves weight 3kg—5kg", &["W014 — => serves weight 3kg to 5kg"]),
        ("clip torso with #3/4", &["W015 #3/4 => -"]),
        ("clip torso with #5/8", &["W015 #5/8 => -"]),
        ("clip torso,", &["W016 , => clip torso"]),
        ("let b is c- 2 mm", &["W021 - => let b is c - 2 mm"]),
        ("let b is c -d", &["W021 - => let b is c - d"]),
        ("let b is 1/0 in", &["W019 1/0 in => -"]),
        ("let b is 99999999999 mm", &["W020 99999999999 mm => -"]),
        ("сlip torso to 9 mm", &["W022 сlip => clip torso to 9 mm"]),
        ("clip torso tо 9 mm", &["W022 tо => clip torso to 9 mm"]),
        ("clip tor_so to 9 mm", &["W023 _ => clip tor-so to 9 mm"]),
        ("clip dog's to 9 mm", &["W023 ' => clip dogs to 9 mm"]),
        ("about foo bar", &["W024 foo bar => about \"foo bar\""]),
        ("serves weight 35 kg to 3 kg", &["W025 35 kg to 3 kg => -"]),
        ("title \"foo", &["W004 \"foo => title \"foo\""]),
        ("head last", &["W033 head => keep head last"]),
        ("clip torso -> 9 mm", &["W010 -> => -"]),
        ("clip torso | back", &["W010 | => -"]),
        ("clip", &["W011 clip => -"]),
        ("clip torso to", &["W011 to => -"]),
        ("blend neck", &["W011 neck => -"]),
        ("param x", &["W011 x => -"]),
        ("when weight under 6 kg", &["W032 when weight under 6 kg => -"]),
    ];
    for (line, expected) in table {
        check("recipe", line, expected);
    }
}

#[test]
fn slips_on_cards_and_in_basics() {
    check("dog", "wieght 12 kg", &["W006 wieght => weight 12 kg"]);
    check("dog", "fnding wart on lip", &["W006 fnding => finding wart on lip"]);
    check("dog", "finding wart on lip on 2026-08-02", &["W026 on => finding wart on lip seen 2026-08-02"]);
    check("dog", "born 2026-02-30", &["W031 2026-02-30 => -"]);
    check("dog", "weight 12,4 kg", &["W013 12,4 kg => weight 12.4 kg"]);
    check("zone", "statoin head", &["W006 statoin => station head"]);
    check("zone", "skin flat (common practice", &["W005 (common practice => skin flat (common practice)"]);
    check("zone", "skin flat (common practice) thick", &["W029 (common practice) => -"]);
    check("case", "expct no message", &["W006 expct => expect no message"]);
    check("case", "zork", &["W006 zork => -"]);
}

#[test]
fn what_phones_type_is_read_without_a_word() {
    for line in [
        "title “Short trim”",
        "title ‘Short trim’",
        "clip torso to 9mm",
        "CLIP Torso WITH #7f",
        "clip torso to 1/4\"",
        "clip torso to 1½\" with the coat",
        "clip torso to ½ in",
        "clip torso to 1 1/2 in",
        "clip\u{a0}torso to 9\u{202f}mm",
        "\tclip torso\tto 9 mm",
        "clip torso to 9 mm — nice and short",
        "clip torso to 9 mm -- it's \"fine\"",
        "serves weight 3 .. 35 kg",
        "serves weight 3…35 kg",
        "serves weight 3..35 kg",
        "let b is c − 3 mm",
        "let b is 2 × c",
        "let b = twice c",
        "extends base @ 3",
        "hand strip jacket by hand",
        "set-in torso to 9 mm",
        "clip torso with a #10 blade",
        "clip the torso against the growth",
        "clip torso\n    to 9 mm\n    with #10",
        "clip torso,\n    back to 9 mm",
        "phrase",
    ]
    .iter()
    .filter(|l| **l != "phrase")
    {
        assert_eq!(said("recipe", line), Vec::<String>::new(), "{line}");
    }
    assert_eq!(said("dog", "phone 0123 456-789"), Vec::<String>::new());
    assert_eq!(said("dog", "owner-says he's shy, isn't he?"), Vec::<String>::new());
}

#[test]
fn every_code_is_registered_and_messages_are_plain() {
    let banned = ["token", "identifier", "Rule", "rule::", "EOI", "parse"];
    let lines = [
        "clpi torso",
        "clip",
        "clip torso -> 9",
        "keep",
        "blend a",
        "order a",
        "when",
        "serves",
        "title \"x",
        "let a",
        "{ clip a }",
    ];
    for line in lines {
        let text = format!("recipe a {{\n  {line}\n}}\n");
        for e in grammar::errors(&grammar::parse(&text)) {
            assert!(grammar::CODES.iter().any(|(c, _)| *c == e.code), "{}", e.code);
            let all = format!("{} {}", e.message, e.help.clone().unwrap_or_default());
            for b in banned {
                assert!(!all.contains(b), "{all}");
            }
            assert!(e.help.is_some(), "{all}");
            assert!(e.message.starts_with(|c: char| !c.is_uppercase()), "{all}");
        }
    }
    let mut codes: Vec<_> = grammar::CODES.iter().map(|c| c.0).collect();
    codes.dedup();
    assert_eq!(codes.len(), grammar::CODES.len());
}

/// Each reads as the tidy text beside it, and the formatter writes that.
#[test]
fn odd_names_and_numbers_mean_what_they_say() {
    for (typed, tidy) in [
        ("tool # 10 {\n  kind  blade\n}\n", "tool #10 {\n  kind  blade\n}\n"),
        ("mark a { keep skin fl–at }\n", "mark a { keep skin fl-at }\n"),
        ("mark a { keep skin re\u{301}al }\n", "mark a { keep skin réal }\n"),
        ("kit k { owns two% #10 }\n", "kit k { owns two% #10 }\n"),
        ("recipe a { let b = 3 mm - (body length) }\n", "recipe a { let b = 3 mm - body-length }\n"),
    ] {
        assert_eq!(grammar::shape(&grammar::parse(typed)), grammar::shape(&grammar::parse(tidy)), "{typed}");
        assert_eq!(grammar::format(typed).ok(), grammar::format(tidy).ok(), "{typed}");
        assert!(grammar::format(typed).is_ok(), "{typed}");
    }
    assert!(grammar::shape(&grammar::parse("kit k { owns two% #10 }")).contains("2Percent"));
}
