//! The executable specification: `tests/spec/*.md`, the pages of the rules, and every example of the documents.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

use coatwright_tests::{root, spec};

/// Runs the pages of a folder. `SPEC=words` runs those whose name holds the words.
fn folder(folder: &str, least: usize) {
    let only = std::env::var("SPEC").ok();
    let pages = spec::pages(&root().join(folder)).unwrap();
    let (mut many, mut failures) = (0, Vec::new());
    for path in pages {
        let name = format!("{folder}/{}", path.file_name().unwrap().to_string_lossy());
        if only.as_ref().is_some_and(|only| !name.contains(only)) {
            continue;
        }
        let mut text = std::fs::read_to_string(&path).unwrap();
        if std::env::var_os("UPDATE").is_some() {
            let new: Vec<_> = spec::page(&text).sections.iter().flat_map(spec::new_words).collect();
            if !new.is_empty() {
                text = spec::with_words(&text, &new);
                std::fs::write(&path, &text).unwrap();
            }
        }
        let (tests, wrong) = spec::run_page(&name, &text);
        many += tests;
        failures.extend(wrong);
    }
    assert!(failures.is_empty(), "{} of {many} tests fail:\n\n{}\n", failures.len(), failures.join("\n\n"));
    assert!(only.is_some() || many >= least, "only {many} tests in {folder}: were some not found?");
}

#[test]
fn the_specification_holds() {
    folder("tests/spec", 150);
}

#[test]
fn the_pages_of_the_rules_hold() {
    folder("docs/codes", 150);
}

/// Each page shows the mistake and the mended text, and says its code where it is wrong.
#[test]
fn each_page_of_a_rule_shows_its_mistake() {
    for path in spec::pages(&root().join("docs/codes")).unwrap() {
        let text = std::fs::read_to_string(&path).unwrap();
        let code = path.file_stem().unwrap().to_string_lossy().into_owned();
        let page = spec::page(&text);
        let wrong = page.sections.iter().find(|s| s.title.ends_with("Wrong"));
        let names = |block: &spec::Block| match block {
            spec::Block::Messages(lines)
            | spec::Block::Cases(lines)
            | spec::Block::Unproven(lines)
            | spec::Block::Refused(_, lines)
            | spec::Block::Said(_, lines) => lines.iter().any(|line| line.contains(&format!(": {code}"))),
            _ => false,
        };
        // What stands on the sheet only isn't a mistake; and what takes megabytes has no example.
        let on_the_sheet = page.sections.iter().find(|s| s.title.ends_with("On the sheet"));
        if text.contains("There is no example") || text.contains("No message comes with it") {
            assert!(wrong.is_none(), "{code}");
            continue;
        }
        let shown = wrong.or(on_the_sheet).is_some_and(|s| s.blocks.iter().any(names));
        assert!(shown, "{code}: nothing under `## Wrong` or `## On the sheet` shows it");
        let right = page.sections.iter().any(|s| s.title.ends_with("Right"));
        assert!(right || wrong.is_none(), "{code}: there is no `## Right`");
        assert!(text.lines().any(|l| l.starts_with("How to mend it: ")), "{code}: it isn't said how to mend it");
    }
}

/// Words of programming that a groomer shouldn't meet.
#[test]
fn pages_speak_to_a_groomer() {
    let banned = ["witness", "token", "prelude", "parse", "syntax", "identifier", "scope", "boolean", "compiler"];
    let folders = ["docs/codes"];
    let mut pages: Vec<_> = folders.iter().flat_map(|f| spec::pages(&root().join(f)).unwrap()).collect();
    pages.push(root().join("docs/tour.md"));
    for path in pages.into_iter().filter(|p| p.exists()) {
        // The folder to install from has a programmer's name.
        let text = std::fs::read_to_string(&path).unwrap().to_lowercase().replace("--path compiler", "");
        let found = banned.iter().find(|b| text.split(|c: char| !c.is_alphanumeric()).any(|w| w == **b));
        assert_eq!(found, None, "{}", path.display());
    }
}

#[test]
fn every_example_of_the_documents_can_be_read() {
    for name in ["docs/language.md", "docs/tour.md", "README.md"] {
        let Ok(text) = std::fs::read_to_string(root().join(name)) else { continue };
        let mut blocks = spec::blocks(&text);
        blocks.retain(|(_, info, _)| info.split_whitespace().next() == Some("trim"));
        for (line, _, block) in &blocks {
            let errors = grammar::errors(&grammar::parse(block));
            let said: Vec<String> = errors.iter().map(|e| format!("{} {}", e.code, e.message)).collect();
            assert!(said.is_empty(), "{name}, the block at line {line}: {}", said.join("; "));
        }
        assert!(name != "docs/language.md" || blocks.len() >= 3, "the examples of {name} weren't found");
    }
}

/// Every command of the tour is run in an empty folder that the tour's own files fill; `…` stands for what is left out.
/// `UPDATE=1` writes what is said today where nothing is left out.
#[test]
fn the_tour_shows_what_is_said() {
    let path = root().join("docs/tour.md");
    let mut text = std::fs::read_to_string(&path).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let mut wrong = Vec::new();
    for (line, info, body) in spec::blocks(&text) {
        if let Some(name) = info.strip_prefix("trim ") {
            let path = folder.path().join(name);
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            std::fs::write(path, body).unwrap();
        } else if info == "console" {
            let (command, shown) = body.split_once('\n').unwrap();
            let said = run(command.strip_prefix("$ coatwright").unwrap(), folder.path());
            if std::env::var_os("UPDATE").is_some() && !shown.lines().any(|l| l == "…") {
                text =
                    text.replacen(&format!("```console\n{body}```"), &format!("```console\n{command}\n{said}```"), 1);
            } else if !shows(shown, &said) {
                wrong.push(format!("docs/tour.md:{line}: {command}\n{said}"));
            }
        }
    }
    if std::env::var_os("UPDATE").is_some() {
        std::fs::write(&path, &text).unwrap();
    }
    assert!(wrong.is_empty(), "the tour shows something else than:\n\n{}", wrong.join("\n"));
}

/// The words of a command; those between quotes are one.
fn words(arguments: &str) -> Vec<String> {
    let mut out = Vec::new();
    for (number, part) in arguments.split('"').enumerate() {
        if number % 2 == 1 {
            out.push(part.to_owned());
        } else {
            out.extend(part.split_whitespace().map(str::to_owned));
        }
    }
    out
}

/// What a command says, first what it was asked for, then what it has to say about it; no blanks at the ends of lines.
fn run(arguments: &str, folder: &std::path::Path) -> String {
    let own = std::env::current_exe().unwrap();
    let program = own.parent().and_then(std::path::Path::parent).unwrap().join("coatwright");
    let output = std::process::Command::new(&program)
        .args(words(arguments))
        .current_dir(folder)
        .env("COLUMNS", "80")
        .output()
        .unwrap_or_else(|e| panic!("{}: {e}: run `cargo build -p coatwright` first", program.display()));
    let said = format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    let lines: Vec<&str> = said.trim_matches('\n').lines().map(str::trim_end).collect();
    lines.join("\n") + "\n"
}

/// Whether a text is what is shown, with gaps at `…`.
fn shows(shown: &str, said: &str) -> bool {
    let parts: Vec<&str> = shown.split("…\n").collect();
    let [first, between @ .., last] = parts.as_slice() else { return shown == said };
    let Some(mut rest) = said.strip_prefix(first) else { return false };
    for part in between {
        let Some((_, after)) = rest.split_once(part) else { return false };
        rest = after;
    }
    rest.ends_with(last)
}

/// The harness itself: each way to be wrong is found.
mod harness {
    use super::spec;

    const RECIPE: &str = "recipe a {\n  clip ribz with #10\n  clip cheeks with #10\n}\n";
    const CARD: &str = "dog d { sex dog; coat curl, 30 mm; weight 6 kg; asked skin; seen 2026-11-20 }\n";

    fn run(blocks: &[(&str, &str)]) -> Vec<String> {
        let blocks: Vec<String> = blocks.iter().map(|(info, body)| format!("```{info}\n{body}\n```\n")).collect();
        let (tests, wrong) = spec::run_page("page.md", &format!("# A\n\n## B\n\n{}", blocks.join("\n")));
        assert!(tests == 1 || !wrong.is_empty());
        wrong
    }

    fn said(line: &str) -> Vec<String> {
        run(&[("trim", RECIPE), ("messages", line)])
    }

    #[test]
    fn a_true_page_passes() {
        let none: Vec<String> = Vec::new();
        assert_eq!(said("main.trim:2: M001 no part of the dog at `ribz`"), none);
        assert_eq!(said("main.trim:2: M001"), none);
        assert_eq!(said("main.trim:2: M001 no part of the dog is called `ribz`"), none);
        assert_eq!(run(&[("trim", "recipe a { leave cheeks }")]), none);
        assert_eq!(run(&[("trim", "recipe a { leave cheeks }"), ("text", "nothing")]), none);
    }

    #[test]
    fn a_wrong_expectation_fails() {
        for line in [
            "main.trim:3: M001 no part of the dog",
            "main.trim:2: M002 no part of the dog",
            "main.trim:2: M001 no part of the cat",
            "main.trim:2: M001 no part of the dog at `rib`",
            "other.trim:2: M001 no part of the dog",
        ] {
            let wrong = said(line);
            let text = wrong.join("\n");
            assert!(text.starts_with("page.md:3: A > B\n"), "{text}");
            assert!(text.contains(&format!("- not said:     {line}")), "{text}");
            assert!(
                text.contains("+ not expected: main.trim:2: M001 no part of the dog is called `ribz` at `ribz`"),
                "{text}"
            );
        }
    }

    #[test]
    fn a_missing_expectation_fails() {
        assert!(run(&[("trim", RECIPE)]).join("\n").contains("+ not expected: main.trim:2: M001"));
    }

    #[test]
    fn only_words_are_taken_over() {
        let text = |line: &str| format!("# A\n\n```trim\n{RECIPE}```\n\n```messages\n{line}\n```\n");
        let new = |line: &str| {
            let text = text(line);
            let new: Vec<_> = spec::page(&text).sections.iter().flat_map(spec::new_words).collect();
            spec::with_words(&text, &new)
        };
        let now = "main.trim:2: M001 no part of the dog is called `ribz` at `ribz`";
        assert_eq!(new("main.trim:2: M001 no part\n  of the cat at `ribz`"), text(now));
        for line in
            ["main.trim:2: M001 no part at `ribz`", "main.trim:2: M002 no at `ribz`", "main.trim:2: M001 no at `rib`"]
        {
            assert_eq!(new(line), text(line));
        }
    }

    #[test]
    fn the_tour_leaves_out_what_it_says() {
        assert!(super::shows("a\nb\n", "a\nb\n"));
        assert!(!super::shows("a\n", "a\nb\n"));
        assert!(super::shows("a\n…\nd\n", "a\nb\nc\nd\n"));
        assert!(super::shows("…\nb\n…\n", "a\nb\nc\n"));
        assert!(!super::shows("…\nx\n…\n", "a\nb\nc\n"));
        assert!(!super::shows("a\n…\nc\n", "a\nb\nc\nd\n"));
    }

    #[test]
    fn one_message_meets_one_line() {
        let twice = "main.trim:2: M001\nmain.trim:2: M001";
        assert!(said(twice).join("\n").contains("- not said:     main.trim:2: M001"));
    }

    #[test]
    fn what_can_t_be_read_fails() {
        for (blocks, words) in [
            (&[("trim", RECIPE), ("messages", "M001 no part of the dog")][..], "can't read"),
            (&[("trim", RECIPE), ("mesages", "x")], "no block is called `mesages`"),
            (&[("trim a.trim", ""), ("trim a.trim", "")], "two files are called a.trim"),
            (&[("messages", "main.trim:2: M001")], "expects something of no file"),
            (&[("trim", ""), ("sheet", "x")], "name its card"),
            (&[("trim a.trim b", "")], "too much"),
        ] {
            let text = run(blocks).join("\n");
            assert!(text.contains(words), "{words}: {text}");
        }
        let (_, wrong) = spec::run_page("page.md", "# A\n\n```trim\nrecipe a { leave cheeks }\n");
        assert!(wrong.join("\n").contains("never closed"));
    }

    #[test]
    fn sheets_are_held_to_their_words() {
        let recipe = format!("recipe all {{ leave whole-coat; clip torso with #7F }}\n{CARD}");
        let with = |info: &str, body: &str| run(&[("trim", recipe.as_str()), (info, body)]).join("\n");
        assert_eq!(with("sheet d all", "#7F\nclip torso\n! scissor"), "");
        assert_eq!(with("sheet d all on 2026-11-20", "2026-11-20"), "");
        assert!(with("sheet d all", "#10").contains("- missing:      #10"));
        assert!(with("sheet d all", "clip torso\nLay out").contains("- too early:    Lay out"));
        assert!(with("sheet d all", "! clip torso").contains("+ not expected: clip torso"));
        assert!(with("sheet nobody all", "x").contains("no sheet was made for nobody"));
        assert!(with("refused d all", "main.trim:1: D003").contains("a sheet was made for d"));
        assert_eq!(with("refused nobody all", "main.trim:1: D003 no card"), "");
        assert!(with("refused nobody all", "main.trim:1: D004 no card").contains("- not said"));
        assert_eq!(with("said d all on 2027-01-01", "main.trim:2: D008"), "");
        assert!(with("said d all on 2027-01-01", "").contains("+ not expected: main.trim:2: D008"));
        assert!(with("said d all", "main.trim:2: D008").contains("- not said:     main.trim:2: D008"));
    }

    #[test]
    fn finishes_are_held_to_their_words() {
        let recipe = format!("recipe all {{ leave whole-coat; clip torso with #7F }}\n{CARD}");
        let with = |body: &str| run(&[("trim", recipe.as_str()), ("finishes d all", body)]).join("\n");
        assert_eq!(with("back: clip with #7F with the coat\nleft ribs: #7F\ncheek: leave\nback: ! #10"), "");
        assert!(with("back: clip with #10").contains("+ back: clip with #7F"));
        assert!(with("back: ! #7F").contains("- back: ! #7F"));
        // Whole words: `leave` isn't in `leaves`, nor `#7` in `#7F`.
        assert!(with("back: leave").contains("+ back: clip with #7F"));
        assert_eq!(with("back: ! #7"), "");
        assert!(with("topknots-of-ice: x").contains("no such part"));
    }
}
