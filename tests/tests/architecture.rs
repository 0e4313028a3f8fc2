//! What the code may not do, and what may not be missing: read from the files themselves.
//!
//! Each check looks at real files and first makes sure that it found some. A word that is looked for is put together from
//! parts here, so that this file doesn't find itself.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod common;

use coatwright::check::check;
use coatwright::date::Day;
use coatwright::diagnostic::Diagnostic;
use coatwright::sheet::render::{Options, json, markdown, text};
use coatwright::sheet::{Request, make};
use coatwright::workspace::Workspace;
use common::{files, read, root, short};
use std::collections::BTreeSet;
use std::path::PathBuf;

/// Code that is shipped: without tests, benches and examples.
fn shipped() -> Vec<(String, String)> {
    let mut all = Vec::new();
    for folder in ["grammar/src", "compiler/src", "lsp/src"] {
        let found = files(folder, ".rs");
        assert!(found.len() > 5, "{folder}");
        all.extend(found);
    }
    all.push(root().join("compiler/build.rs"));
    all.retain(|p| p.file_name().is_some_and(|n| n != "tests.rs"));
    all.iter().map(|p| (short(p), without_tests(&read(p)))).collect()
}

/// A text without its modules and functions for tests alone.
fn without_tests(text: &str) -> String {
    let mut kept = String::new();
    let mut lines = text.lines();
    while let Some(line) = lines.next() {
        if line.trim() != "#[cfg(test)]" {
            kept.push_str(line);
            kept.push('\n');
            continue;
        }
        // Up to the brace that closes what begins on the next line, at the same depth; or its semicolon.
        let depth = line.len() - line.trim_start().len();
        for line in lines.by_ref() {
            let own = line.len() - line.trim_start().len() == depth;
            if own && (line.trim_start().starts_with('}') || line.trim_end().ends_with(';')) {
                break;
            }
        }
    }
    kept
}

/// A line without its comment, roughly: what stands after `//` outside of quotes.
fn code(line: &str) -> &str {
    let mut quoted = false;
    let mut before = ' ';
    for (i, c) in line.char_indices() {
        if c == '"' && before != '\\' && before != '\'' {
            quoted = !quoted;
        }
        if !quoted && line[i..].starts_with("//") {
            return &line[..i];
        }
        before = c;
    }
    line
}

/// Everything that is committed: texts of every kind.
fn committed() -> Vec<(String, String)> {
    let mut all = Vec::new();
    for folder in [".ci", "compiler", "docs", "grammar", "lsp", "recipes", "tests"] {
        all.extend(files(folder, ""));
    }
    for entry in std::fs::read_dir(root()).unwrap() {
        let path = entry.unwrap().path();
        if path.is_file() && path.file_name().is_some_and(|n| n != "Cargo.lock") {
            all.push(path);
        }
    }
    let all: Vec<(String, String)> = all
        .iter()
        .filter(|p| !p.components().any(|c| c.as_os_str() == "__pycache__"))
        .filter_map(|p| Some((short(p), String::from_utf8(std::fs::read(p).ok()?).ok()?)))
        .collect();
    assert!(all.len() > 150, "{}", all.len());
    all
}

#[track_caller]
fn none(found: &[String]) {
    assert!(found.is_empty(), "{} found:\n{}", found.len(), found.join("\n"));
}

fn is_test(name: &str) -> bool {
    name.starts_with("tests/") || name.contains("/tests/") || name.contains("/benches/") || name.ends_with("tests.rs")
}

// ---------------------------------------------------------------------------------------------- Who may know whom

/// The crates of ours that a crate depends on, tests and build aside.
fn depends(package: &str) -> BTreeSet<String> {
    let text = read(&root().join(package).join("Cargo.toml"));
    let mut section = String::new();
    let mut found = BTreeSet::new();
    for line in text.lines() {
        if let Some(name) = line.strip_prefix('[') {
            section = name.trim_end_matches(']').to_owned();
        } else if section == "dependencies"
            && let Some(name) = line.split(['=', '.', ' ']).next().filter(|n| n.starts_with("coatwright"))
        {
            found.insert(name.to_owned());
        }
    }
    assert!(text.contains("[dependencies]"), "{package}");
    found
}

/// Nothing reaches back up: grammar knows nothing of ours, the compiler the grammar, the server both.
#[test]
fn each_crate_knows_only_those_before_it() {
    let set = |names: &[&str]| names.iter().map(|n| (*n).to_owned()).collect::<BTreeSet<_>>();
    assert_eq!(depends("grammar"), set(&[]));
    assert_eq!(depends("compiler"), set(&["coatwright-grammar"]));
    assert_eq!(depends("lsp"), set(&["coatwright", "coatwright-grammar"]));
    // Nothing that is shipped needs the tests.
    for package in ["grammar", "compiler", "lsp"] {
        assert!(!read(&root().join(package).join("Cargo.toml")).contains("coatwright-tests"), "{package}");
    }
}

/// The verifier shares no code with what it checks: it reads the syntax tree, and itself.
#[test]
fn the_verifier_stands_apart() {
    let found = files("compiler/src/verify", ".rs");
    assert!(found.len() >= 4);
    let mut wrong = Vec::new();
    for path in found {
        for (number, line) in (1..).zip(read(&path).lines()) {
            let line = code(line);
            let foreign = ["crate::", "coatwright::", "super::super", "extern crate", "include!("]
                .iter()
                .any(|w| line.contains(w));
            let used = line.trim_start().strip_prefix("use ").or_else(|| line.trim_start().strip_prefix("pub use "));
            let barred = used.is_some_and(|u| {
                let first = u.split("::").next().unwrap_or("").trim_end_matches(';');
                let own = read(&root().join("compiler/src/verify/mod.rs")).contains(&format!("mod {first};"));
                !["grammar", "std", "smol_str", "super", "self"].contains(&first) && !own
            });
            if foreign || barred {
                wrong.push(format!("{}:{number}: {line}", short(&path)));
            }
        }
    }
    none(&wrong);
}

/// The editor's types stay at the edge: a change of protocol or library touches these files only.
#[test]
fn editor_types_stay_at_the_edge() {
    let edge = ["lsp/src/convert.rs", "lsp/src/convert/", "lsp/src/server.rs", "lsp/src/main.rs", "lsp/src/transport/"];
    let library = ["lsp_types", "tower_lsp", "tower_service"];
    let mut wrong = Vec::new();
    let mut seen = 0;
    for (name, text) in shipped() {
        let uses = library.iter().any(|l| text.lines().any(|line| code(line).contains(l)));
        seen += usize::from(uses);
        if uses && !edge.iter().any(|e| name.starts_with(e)) {
            wrong.push(name);
        }
    }
    none(&wrong);
    assert!(seen >= 2);
}

/// Files are read in one place of the library and written by the command line alone.
#[test]
fn files_are_touched_in_one_place() {
    let readers = ["compiler/src/workspace/gather.rs", "compiler/src/cli/", "compiler/build.rs", "lsp/src/"];
    let mut wrong = Vec::new();
    let mut seen = 0;
    for (name, text) in shipped() {
        let touches =
            ["std::fs", "fs::", "File::open", "File::create"].iter().any(|w| text.lines().any(|l| code(l).contains(w)));
        seen += usize::from(touches);
        if touches && !readers.iter().any(|r| name.starts_with(r)) {
            wrong.push(name);
        }
    }
    none(&wrong);
    assert!(seen >= 2);
    // The same input gives the same bytes: no clock and no chance in the library.
    for (name, text) in shipped() {
        let library = name.starts_with("grammar/")
            || (name.starts_with("compiler/src/") && !name.starts_with("compiler/src/cli/"));
        if library {
            let found = ["SystemTime::now", "Instant::now", "Zoned::now", "Timestamp::now", "rand::", "RandomState"]
                .into_iter()
                .find(|w| text.contains(w));
            assert!(found.is_none(), "{name}: {found:?}");
        }
    }
}

// ---------------------------------------------------------------------------------------------- What may not stand there

/// Shipped code can't stop half way: a stage returns what it could make.
#[test]
fn shipped_code_never_gives_up() {
    let calls = [
        ".unwrap()",
        ".expect(\"",
        "panic!(",
        "unreachable!(",
        "unimplemented!(",
        "assert!(",
        "process::exit",
        "process::abort",
    ];
    let unfinished = format!("{}{}!(", "to", "do");
    let mut wrong = Vec::new();
    for (name, text) in shipped() {
        for (number, line) in (1..).zip(text.lines()) {
            let line = code(line);
            if (calls.iter().any(|c| line.contains(c)) && !line.contains("debug_assert!("))
                || line.contains(&unfinished)
            {
                wrong.push(format!("{name}: line {number} without tests: {}", line.trim()));
            }
        }
    }
    none(&wrong);
    // What cuts the tests out leaves the rest.
    assert_eq!(without_tests("a\n#[cfg(test)]\nmod tests {\n    x.unwrap();\n}\nb\n"), "a\nb\n");
    assert_eq!(without_tests("a\n#[cfg(test)]\nmod tests;\nb\n"), "a\nb\n");
}

/// No test is switched off, and no note to oneself is left behind.
#[test]
fn nothing_is_put_off() {
    let ignore = format!("#[{}", "ignore");
    let notes: Vec<String> =
        [("TO", "DO"), ("FIX", "ME"), ("XX", "X"), ("HA", "CK")].iter().map(|(a, b)| format!("{a}{b}")).collect();
    let mut wrong = Vec::new();
    for (name, text) in committed() {
        for (number, line) in (1..).zip(text.lines()) {
            let words = line.split(|c: char| !c.is_alphanumeric());
            let noted = words.clone().any(|w| notes.iter().any(|n| n == w));
            if noted || (name.ends_with(".rs") && line.contains(&ignore)) {
                wrong.push(format!("{name}:{number}: {}", line.trim()));
            }
        }
    }
    none(&wrong);
}

/// No path of the machine on which something was written.
#[test]
fn no_path_of_a_machine() {
    let paths: Vec<String> = ["work", "tmp", "home", "Users", "root"].iter().map(|p| format!("/{p}/")).collect();
    let mut wrong = Vec::new();
    for (name, text) in committed().into_iter().filter(|(name, _)| !is_test(name)) {
        for (number, line) in (1..).zip(text.lines()) {
            let found = paths.iter().any(|p| {
                line.match_indices(p.as_str()).any(|(at, _)| {
                    line[..at].chars().next_back().is_none_or(|c| !c.is_alphanumeric() && !"._-/}~".contains(c))
                })
            });
            if found {
                wrong.push(format!("{name}:{number}: {}", line.trim()));
            }
        }
    }
    none(&wrong);
}

/// Every file of Rust says at its head what it is for.
#[test]
fn every_file_says_what_it_is_for() {
    let mut wrong = Vec::new();
    let mut seen = 0;
    for (name, text) in committed().into_iter().filter(|(name, _)| name.ends_with(".rs")) {
        seen += 1;
        let head = text.lines().next().unwrap_or("");
        if !head.starts_with("//! ") || head.len() < 20 {
            wrong.push(name);
        }
    }
    none(&wrong);
    assert!(seen > 90);
}

/// Files stay small enough to be read whole: 20 kB, and those that hold one long table or one long walk.
#[test]
fn files_stay_small() {
    const CAP: usize = 20 * 1024;
    let longer = ["compiler/src/names/card.rs", "grammar/src/outline.rs", "grammar/src/tree.rs"];
    let mut wrong = Vec::new();
    for path in ["grammar/src", "compiler/src", "lsp/src"].iter().flat_map(|f| files(f, ".rs")) {
        let (name, size) = (short(&path), read(&path).len());
        let cap = if longer.contains(&name.as_str()) { 2 * CAP } else { CAP };
        if size > cap {
            wrong.push(format!("{name}: {size} bytes"));
        }
    }
    none(&wrong);
    assert!(longer.iter().all(|l| root().join(l).is_file()), "the list of long files names one that is gone");
}

// ---------------------------------------------------------------------------------------------- What may not be missing

/// Every code of both registers has its page, every page a code, and every code that is said is in a register.
#[test]
fn every_code_has_a_page() {
    let mut registered: BTreeSet<String> = coatwright::diagnostic::CODES.iter().map(|c| c.code.to_owned()).collect();
    let own = registered.len();
    registered.extend(grammar::CODES.iter().map(|(c, _)| (*c).to_owned()));
    assert_eq!(registered.len(), own + grammar::CODES.len(), "a code stands in both registers");
    assert!(registered.len() > 80);
    let pages: BTreeSet<String> = files("docs/codes", ".md")
        .iter()
        .map(|p| p.file_stem().unwrap().to_string_lossy().into_owned())
        .filter(|n| n.len() == 4 && n[1..].bytes().all(|b| b.is_ascii_digit()))
        .collect();
    assert_eq!(pages.symmetric_difference(&registered).collect::<Vec<_>>(), Vec::<&String>::new());
    for code in &registered {
        assert!(coatwright::explain::page(code).is_some_and(|p| p.contains(code.as_str())), "explain {code}");
    }
    // Each code is used outside of its register: a register of things that nobody says would be a list of wishes.
    let text: String = shipped().into_iter().filter(|(n, _)| !n.ends_with("codes.rs")).map(|(_, t)| t).collect();
    let unused: Vec<&String> = registered
        .iter()
        .filter(|c| !text.contains(&format!("code::{c}")) && !text.contains(&format!("\"{c}\"")))
        .collect();
    assert_eq!(unused, Vec::<&String>::new(), "registered, and never said");
}

/// What the README and the guide tell a reader to run or to open is there.
#[test]
fn what_the_readme_names_is_there() {
    let commands: BTreeSet<String> = {
        let text = read(&root().join("compiler/src/cli/mod.rs"));
        let list = text.split("enum Command {").nth(1).unwrap().split('}').next().unwrap().to_owned();
        list.lines()
            .filter_map(|l| l.trim().split('(').next())
            .filter(|n| !n.is_empty())
            // `WhyOrder` is typed `why-order`.
            .map(|name| {
                let hyphen = |(n, c): (usize, char)| if c.is_uppercase() && n > 0 { "-" } else { "" };
                name.char_indices().map(|(n, c)| format!("{}{}", hyphen((n, c)), c.to_lowercase())).collect()
            })
            .collect()
    };
    assert!(commands.contains("check") && commands.contains("sheet"), "{commands:?}");
    let packages: Vec<String> = ["grammar", "compiler", "lsp", "tests"]
        .iter()
        .map(|p| {
            read(&root().join(p).join("Cargo.toml"))
                .lines()
                .find_map(|l| l.strip_prefix("name = \""))
                .unwrap()
                .trim_end_matches('"')
                .to_owned()
        })
        .collect();
    let mut seen = 0;
    for name in ["README.md", "DEVELOPERS.md"] {
        let page = read(&root().join(name));
        for line in page.lines() {
            // Words in backquotes, and lines of code blocks.
            let pieces: Vec<&str> =
                if line.contains('`') { line.split('`').skip(1).step_by(2).collect() } else { vec![line] };
            for piece in pieces {
                let mut words = piece.split_whitespace();
                match words.next() {
                    Some("coatwright") => {
                        let command = words.next().unwrap_or("check");
                        assert!(commands.contains(command), "{name}: {piece}");
                        seen += 1;
                    }
                    Some("cargo") => {
                        let words: Vec<&str> = words.collect();
                        for pair in words.windows(2) {
                            match pair {
                                ["-p", package] => assert!(packages.iter().any(|p| p == package), "{name}: {piece}"),
                                ["--test" | "--bench", file] => assert!(
                                    ["grammar", "compiler", "lsp", "tests"].iter().any(|p| ["tests", "benches"]
                                        .iter()
                                        .any(|f| root().join(p).join(f).join(format!("{file}.rs")).is_file())),
                                    "{name}: {piece}"
                                ),
                                ["--example", name] => {
                                    let file = root().join(format!("compiler/examples/{name}.rs"));
                                    assert!(file.is_file(), "{piece}");
                                }
                                ["--", command]
                                    if words.contains(&"run")
                                        && !words.contains(&"--example")
                                        && !words.contains(&"coatwright-lsp") =>
                                {
                                    assert!(commands.contains(*command), "{name}: {piece}")
                                }
                                _ => {}
                            }
                        }
                        for path in words.iter().filter(|w| w.contains('/') && !w.starts_with("--")) {
                            assert!(root().join(path).exists(), "{name}: {path} in {piece}");
                        }
                        seen += 1;
                    }
                    Some(path)
                        if path.contains('/')
                            && line.contains('`')
                            && !path.contains(['*', '{', '<', ':', '='])
                            && !path.contains("CODE") =>
                    {
                        let there = ["", "compiler/src/", "grammar/src/", "lsp/src/"]
                            .iter()
                            .any(|f| root().join(f).join(path.trim_end_matches(',')).exists());
                        assert!(there, "{name}: {path}");
                        seen += 1;
                    }
                    _ => {}
                }
            }
            for link in line
                .split("](")
                .skip(1)
                .filter_map(|l| l.split(')').next())
                .filter(|l| !l.contains("://") && !l.starts_with('#'))
            {
                assert!(
                    root().join(link.split('#').next().unwrap()).exists(),
                    "{name}: the link to {link} leads nowhere"
                );
                seen += 1;
            }
        }
    }
    assert!(seen > 25, "{seen}");
}

/// The sheet that the README shows is the sheet that comes out. `UPDATE=1` writes it anew.
#[test]
fn the_readme_shows_the_real_sheet() {
    let page = read(&root().join("README.md"));
    let (before, rest) = page.split_once("```text\n").expect("the README shows a sheet");
    let (shown, after) = rest.split_once("```").unwrap();
    let workspace = common::workspace(common::saltmarsh());
    let request = Request {
        recipe: Some("harbour-short".into()),
        dog: "bramble".into(),
        on: Day::new(2026, 11, 25),
        learner: false,
    };
    let sheet = make(&workspace, &request).unwrap_or_else(|said| panic!("{said:#?}"));
    let real = text(&sheet, &Options { width: 80, ..Options::default() });
    let lines: Vec<&str> = shown.trim_end().trim_end_matches('…').trim_end().lines().collect();
    assert!(lines.len() > 20);
    if std::env::var_os("UPDATE").is_some() {
        let now: String = real.lines().take(lines.len()).map(|l| format!("{l}\n")).collect();
        std::fs::write(root().join("README.md"), format!("{before}```text\n{now}…\n```{after}")).unwrap();
        return;
    }
    for (number, (shown, real)) in (1..).zip(lines.iter().zip(real.lines())) {
        assert_eq!(*shown, real, "line {number} of the sheet in the README (UPDATE=1 writes it anew)");
    }
}

/// Every number of the trade in the basics has its source beside it. Counts of teeth and sites of nothing aside.
#[test]
fn every_number_has_its_source() {
    let known = ["published:", "common practice", "computed:", "from memory:", "invented for the demo"];
    let mut seen = 0;
    let mut wrong = Vec::new();
    for path in files("recipes/prelude", ".trim") {
        for (number, line) in (1..).zip(read(&path).lines()) {
            let words = line.split("--").next().unwrap().trim();
            let field = words.split_whitespace().next().unwrap_or("");
            let prose = words.contains('"')
                || ["tool", "kit", "zone", "group", "mark", "step", "owns", "over", "calls", "genes", "about"]
                    .contains(&field);
            let bare = words.split('(').next().unwrap();
            let measured = bare.split_whitespace().any(|w| w.starts_with(|c: char| c.is_ascii_digit()));
            if prose || !measured {
                continue;
            }
            seen += 1;
            if !known.iter().any(|k| words.contains(&format!("({k}"))) {
                wrong.push(format!("{}:{number}: {words}", short(&path)));
            }
        }
    }
    none(&wrong);
    assert!(seen > 300, "{seen}");
}

// ---------------------------------------------------------------------------------------------- Words

/// Words of programmers that a groomer never reads. Source: the trade review, items 13 and 79.
fn barred() -> Vec<String> {
    [
        ("wit", "ness"),
        ("pre", "lude"),
        ("ru", "ng"),
        ("rung", "s"),
        ("do", "main"),
        ("axil", "lae"),
        ("lad", "der"),
        ("pred", "icate"),
    ]
    .iter()
    .map(|(a, b)| format!("{a}{b}"))
    .collect()
}

fn barred_in(text: &str) -> Option<String> {
    let barred = barred();
    text.split(|c: char| !c.is_alphabetic()).find(|w| barred.contains(&w.to_lowercase())).map(str::to_owned)
}

fn words_of(said: &[Diagnostic]) -> String {
    let mut all = String::new();
    for d in said {
        let fixes = d.fixes.iter().map(|f| f.title.as_str());
        let related = d.related.iter().map(|r| r.message.as_str());
        let parts = [Some(d.message.as_str()), d.label.as_deref(), d.why.as_deref(), d.help.as_deref()];
        for part in parts.into_iter().flatten().chain(fixes).chain(related) {
            all.push_str(part);
            all.push('\n');
        }
    }
    all
}

/// No sheet and no message of the demo speaks like a program; not even where lines of it are missing.
#[test]
fn sheets_and_messages_speak_the_trades_words() {
    assert_eq!(barred_in("the Prelude says").as_deref(), Some("Prelude"));
    let texts = common::saltmarsh();
    let workspace = common::workspace(texts.clone());
    let on = Day::new(2026, 11, 25).unwrap();
    for dog in ["bramble", "kelp", "flint", "pearl"] {
        let request = Request { recipe: None, dog: dog.into(), on: Some(on), learner: true };
        let sheet = make(&workspace, &request).unwrap_or_else(|said| panic!("{said:#?}"));
        let options = Options::default();
        for shown in [text(&sheet, &options), markdown(&sheet, &options), json(&sheet, &options)] {
            assert_eq!(barred_in(&shown), None, "{dog}");
        }
    }
    let mut codes = BTreeSet::new();
    for (number, (path, whole)) in texts.iter().enumerate() {
        let lines: Vec<&str> = whole.lines().collect();
        for missing in (number..lines.len()).step_by(9) {
            let harmed: String =
                lines.iter().enumerate().filter(|(i, _)| *i != missing).map(|(_, l)| format!("{l}\n")).collect();
            let mut all: Vec<(PathBuf, String)> = texts.clone();
            all.retain(|(p, _)| p != path);
            all.insert(0, (path.clone(), harmed));
            let said = check(&Workspace::from_texts(all, 1));
            codes.extend(common::codes(&said));
            let words = words_of(&said);
            assert_eq!(barred_in(&words), None, "{}: without line {}: {words}", path.display(), missing + 1);
        }
    }
    assert!(codes.len() >= 5, "{codes:?}");
}

/// Nor does any text in quotes in the code, nor what the basics say.
#[test]
fn no_text_in_the_code_speaks_otherwise() {
    let mut wrong = Vec::new();
    let mut seen = 0;
    for (name, text) in shipped() {
        for (number, line) in (1..).zip(text.lines()) {
            let line = code(line);
            if line.contains("include_str!") || line.contains("println!(\"cargo") {
                continue;
            }
            for quoted in line.split('"').skip(1).step_by(2) {
                seen += 1;
                // A path isn't words.
                if let Some(word) = barred_in(quoted).filter(|_| !quoted.contains(".trim")) {
                    wrong.push(format!("{name}: line {number} without tests: {word} in {quoted:?}"));
                }
            }
        }
    }
    for (name, text) in common::shipped() {
        for (number, line) in (1..).zip(text.lines()) {
            let told = line.split("--").next().unwrap();
            if let Some(word) = barred_in(told) {
                wrong.push(format!("{name}:{number}: {word}"));
            }
        }
    }
    for path in files("docs/codes", ".md") {
        if let Some(word) = barred_in(&read(&path)) {
            wrong.push(format!("{}: {word}", short(&path)));
        }
    }
    none(&wrong);
    assert!(seen > 1_000);
}
