//! The real program, as a groomer, a script or a printer meets it: exit codes, forms, files and pipes.
//!
//! It runs `target/{debug,release}/coatwright` beside this test's own folder. Cargo doesn't build another package's
//! program for a test, so build it first: `cargo build -p coatwright` (the run script does).
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod common;

use serde_json::Value;
use std::collections::BTreeSet;
use std::fs;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::sync::OnceLock;
use std::time::SystemTime;
use tempfile::TempDir;

/// The program, newer than every file that it is made of.
fn program() -> &'static Path {
    static PROGRAM: OnceLock<PathBuf> = OnceLock::new();
    PROGRAM.get_or_init(find)
}

fn find() -> PathBuf {
    let own = std::env::current_exe().unwrap();
    let folder = own.parent().and_then(Path::parent).unwrap();
    let program = folder.join(format!("coatwright{}", std::env::consts::EXE_SUFFIX));
    let release = if folder.ends_with("release") { " --release" } else { "" };
    let build = format!("run `cargo build -p coatwright{release}` first");
    let when = |path: &Path| fs::metadata(path).and_then(|m| m.modified()).unwrap_or(SystemTime::UNIX_EPOCH);
    assert!(program.is_file(), "{} isn't there: {build}", program.display());
    for source in ["compiler/src", "grammar/src", "recipes/prelude"].iter().flat_map(|f| common::files(f, "")) {
        assert!(when(&source) <= when(&program), "the program is older than {}: {build}", common::short(&source));
    }
    program
}

struct Shop {
    folder: TempDir,
}

impl Shop {
    /// An empty folder.
    fn empty() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    /// A folder with the demo salon in it.
    fn demo() -> Self {
        let shop = Self::empty();
        for (path, text) in common::saltmarsh() {
            shop.write(path.file_name().unwrap().to_str().unwrap(), &text);
        }
        shop
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn write(&self, name: &str, text: &str) {
        let path = self.path(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, text).unwrap();
    }

    fn read(&self, name: &str) -> String {
        common::read(&self.path(name))
    }

    fn names(&self, folder: &str) -> BTreeSet<String> {
        fs::read_dir(self.path(folder)).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect()
    }

    fn command(&self, line: &str) -> Command {
        let mut command = Command::new(program());
        command.args(line.split_whitespace()).current_dir(self.folder.path()).stdin(Stdio::null());
        for name in ["NO_COLOR", "CLICOLOR", "CLICOLOR_FORCE", "COLUMNS", "TERM"] {
            command.env_remove(name);
        }
        command
    }

    fn run(&self, line: &str) -> Ran {
        Ran::of(&self.command(line).output().unwrap())
    }

    fn run_with(&self, line: &str, text: &str) -> Ran {
        let mut child =
            self.command(line).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        child.stdin.take().unwrap().write_all(text.as_bytes()).unwrap();
        Ran::of(&child.wait_with_output().unwrap())
    }
}

#[derive(Debug)]
struct Ran {
    code: Option<i32>,
    out: String,
    err: String,
}

impl Ran {
    fn of(output: &Output) -> Self {
        let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).expect("output is UTF-8");
        let ran = Self { code: output.status.code(), out: text(&output.stdout), err: text(&output.stderr) };
        for inside in ["panicked", "RUST_BACKTRACE", "os error", "src/"] {
            assert!(!ran.out.contains(inside) && !ran.err.contains(inside), "{inside}: {ran:#?}");
        }
        ran
    }

    #[track_caller]
    fn ends(self, code: i32) -> Self {
        assert_eq!(self.code, Some(code), "{self:#?}");
        self
    }
}

const MISTAKES: &str = "\
-- A note that stays.
recipe a {
  title \"Ä\" -- to the right, with ümlauts and a 🐩
  serves coat curl, wavvy
  clipp torso with #7F
  -- above
  clip groin with 7F
  clip belly to 1,5 mm
  clip nose with #10 in reverse; leave ears
  keep groin gap open
}

dog b {
  sex dog
  coat curl, 30 mm
  weight 4 kg
  finding wart on elbwo -- at the end
}
";

const ON: &str = "--on 2026-11-25";

// ---------------------------------------------------------------------------------------------- Exit codes

/// 0 all is well, 1 something was found, 2 it couldn't run; and whoever couldn't run says so in a sentence.
#[test]
fn exit_codes() {
    let shop = Shop::demo();
    shop.run("check").ends(0);
    shop.run("check harbour-short.trim dogs.trim").ends(0);
    shop.run(&format!("sheet harbour-short --dog bramble {ON}")).ends(0);
    shop.run("fmt --check").ends(0);
    shop.run("why groin --recipe harbour-short --dog bramble").ends(0);

    shop.write("bad.trim", MISTAKES);
    shop.run("check").ends(1);
    shop.run("check bad.trim").ends(1);
    shop.run("fmt --check").ends(1);
    let refused = shop.run(&format!("sheet harbour-short --dog b {ON}")).ends(1);
    assert!(refused.out.is_empty() && refused.err.contains("bad.trim:"), "{refused:#?}");

    for line in
        ["", "chekc", "check --nonsense", "check nowhere.trim", "sheet", "sheet --dog nowhere/x.trim", "explain XYZ"]
    {
        let ran = shop.run(line).ends(2);
        assert!(ran.out.is_empty() && ran.err.trim().len() > 10, "{line}: {ran:#?}");
    }
}

/// A file that isn't there and a folder without recipes are told apart, by name.
#[test]
fn nothing_to_read() {
    let shop = Shop::empty();
    fs::create_dir(shop.path("bare")).unwrap();
    let missing = shop.run("check nowhere.trim").ends(2);
    assert!(missing.err.contains("nowhere.trim") && missing.err.contains("no such file"), "{missing:#?}");
    let bare = shop.run("check bare").ends(2);
    assert!(bare.err.contains("bare") && bare.err.contains(".trim"), "{bare:#?}");
    shop.run("check").ends(2);
    let not_text = [0x66, 0xff, 0xfe, 0x00];
    fs::write(shop.path("bare/bytes.trim"), not_text).unwrap();
    for line in ["check bare/bytes.trim", "fmt bare/bytes.trim"] {
        let ran = shop.run(line).ends(2);
        assert!(ran.err.contains("bytes.trim") && ran.err.contains("UTF-8"), "{ran:#?}");
    }
    assert_eq!(fs::read(shop.path("bare/bytes.trim")).unwrap(), not_text);
}

/// Every warning can be made to count.
#[test]
fn warnings_count_when_asked() {
    let shop = Shop::empty();
    shop.write(
        "w.trim",
        "recipe base-a { version 4; title \"B\"; leave whole-coat }\nrecipe a { title \"A\"; serves coat curl; serves without face-shy; extends base-a version 3 }\n",
    );
    let ran = shop.run("check --format short").ends(0);
    assert!(ran.out.contains("warning[M020]"), "{ran:#?}");
    shop.run("check --deny-warnings").ends(1);
}

// ---------------------------------------------------------------------------------------------- Forms

/// What a form says: code, file, line and column of each message.
type Spot = (String, String, usize, usize);

fn position(words: &str) -> (String, usize, usize) {
    let mut parts = words.trim().rsplitn(3, ':');
    let column = parts.next().unwrap().parse().unwrap_or_else(|_| panic!("{words}"));
    let line = parts.next().unwrap().parse().unwrap_or_else(|_| panic!("{words}"));
    (parts.next().unwrap().to_owned(), line, column)
}

fn short(out: &str) -> Vec<Spot> {
    out.lines()
        .map(|line| {
            let (place, rest) = line.split_once(": ").unwrap();
            let code = rest.split(['[', ']']).nth(1).unwrap();
            let (file, line, column) = position(place);
            (code.to_owned(), file, line, column)
        })
        .collect()
}

/// The first place after each headline `error[C001]…` in a form that shows the text; further places belong to it.
fn drawn(out: &str, before: &str, after: char) -> Vec<Spot> {
    let mut spots = Vec::new();
    let mut code: Option<String> = None;
    for line in out.lines() {
        if let Some((_, rest)) = line.split_once('[').filter(|(word, _)| ["error", "warning", "note"].contains(word)) {
            assert!(code.is_none(), "a headline without a place: {line}");
            code = rest.split(']').next().map(str::to_owned);
        } else if let Some((_, rest)) = line.split_once(before)
            && let Some(code) = code.take()
        {
            let (file, line, column) = position(rest.split(after).next().unwrap());
            spots.push((code, file, line, column));
        }
    }
    spots
}

fn json(out: &str) -> Vec<Value> {
    out.lines().map(|l| serde_json::from_str(l).unwrap_or_else(|e| panic!("{e}: {l}"))).collect()
}

/// One value, four forms: the same messages at the same places, in the same order.
#[test]
fn four_forms_one_place() {
    let shop = Shop::demo();
    shop.write("bad.trim", MISTAKES);
    let of = |form: &str| shop.run(&format!("check bad.trim --format {form}")).ends(1).out;
    let expected = short(&of("short"));
    assert!(expected.len() >= 7, "{expected:#?}");
    let values = json(&of("json"));
    let from_json: Vec<Spot> = values
        .iter()
        .map(|v| {
            let start = &v["place"]["start"];
            let number = |name: &str| usize::try_from(start[name].as_u64().unwrap()).unwrap();
            (
                v["code"].as_str().unwrap().into(),
                v["place"]["file"].as_str().unwrap().into(),
                number("line"),
                number("column"),
            )
        })
        .collect();
    assert_eq!(from_json, expected);
    assert_eq!(drawn(&of("plain"), "--> ", '\n'), expected);
    assert_eq!(drawn(&of("rich"), "─[", ']'), expected);
    // Bytes, lines and columns of the JSON agree with the file itself, beyond letters of more than one byte too.
    let text = shop.read("bad.trim");
    for value in &values {
        for end in ["start", "end"] {
            let point = &value["place"][end];
            let number = |name: &str| usize::try_from(point[name].as_u64().unwrap()).unwrap();
            let upto = &text[..number("byte")];
            assert_eq!(number("line"), upto.matches('\n').count() + 1, "{value}");
            assert_eq!(number("column"), upto.rsplit('\n').next().unwrap().chars().count() + 1, "{value}");
        }
    }
}

/// The JSON of messages and of sheets is what `schema` says it is.
#[test]
fn json_keeps_its_schema() {
    let shop = Shop::demo();
    let schema = |of: &str| -> Value { serde_json::from_str(&shop.run(&format!("schema {of}")).ends(0).out).unwrap() };
    let sheet = jsonschema::validator_for(&schema("sheet")).unwrap();
    for dog in ["bramble", "kelp", "flint", "pearl"] {
        for units in ["metric", "imperial"] {
            let made = shop.run(&format!("sheet --dog {dog} {ON} --format json --units {units}")).ends(0).out;
            let value: Value = serde_json::from_str(&made).unwrap();
            let wrong: Vec<String> = sheet.iter_errors(&value).map(|e| format!("{}: {e}", e.instance_path)).collect();
            assert!(wrong.is_empty(), "{dog}: {wrong:#?}");
        }
    }
    // The schema refuses something: otherwise nothing above was said.
    assert!(!sheet.is_valid(&serde_json::json!({ "title": 4 })));
    let messages = jsonschema::validator_for(&schema("messages")).unwrap();
    shop.write("bad.trim", MISTAKES);
    let values = json(&shop.run("check bad.trim --format json").ends(1).out);
    for value in &values {
        let wrong: Vec<String> = messages.iter_errors(value).map(|e| format!("{}: {e}", e.instance_path)).collect();
        assert!(wrong.is_empty(), "{value}: {wrong:#?}");
    }
    assert!(!messages.is_valid(&serde_json::json!({ "code": "C001" })));
}

// ---------------------------------------------------------------------------------------------- Cases

/// The demo's cases pass; one that expects otherwise fails in every form, and can be made to expect what comes out.
#[test]
fn cases() {
    let shop = Shop::demo();
    assert_eq!(shop.run("test").ends(0).err, "4 cases passed.\n");
    let wrong = shop
        .read("cases.trim")
        .replace("ears leave", "ears shape")
        .replace("  expect  no message\n", "  expect  message J001\n");
    shop.write("cases.trim", &wrong);
    let ran = shop.run("test --format short --junit report.xml").ends(1);
    let codes: Vec<&str> =
        ran.out.lines().map(|l| l.split_whitespace().nth(1).unwrap().trim_end_matches(':')).collect();
    assert_eq!(codes, ["error[T001]", "error[T002]"], "{}", ran.out);
    assert_eq!(ran.err, "2 cases passed, 2 failed.\n");
    // Source of the form: the attributes that build servers read (`testsuites`, `testsuite`, `testcase`, `failure`), as the
    // library writes them; from memory, there is no published standard.
    let report = shop.read("report.xml");
    let counts = |what: &str| report.matches(what).count();
    assert_eq!((counts("<testcase "), counts("<failure "), counts("<error ")), (4, 2, 0), "{report}");
    assert!(report.contains(r#"tests="4" skipped="0" failures="2" errors="0""#), "{report}");
    let values = json(&shop.run("test --format json").ends(1).out);
    let schema: Value =
        serde_json::from_str(&common::read(&common::root().join("docs/schemas/cases.schema.json"))).unwrap();
    let schema = jsonschema::validator_for(&schema).unwrap();
    assert!(values.len() == 4 && values.iter().all(|v| schema.is_valid(v)), "{values:#?}");
    assert!(!schema.is_valid(&serde_json::json!({ "case": 4 })));
    let failed = |v: &&Value| v["passed"] == Value::Bool(false);
    let names: Vec<&str> = values.iter().filter(failed).map(|v| v["case"].as_str().unwrap()).collect();
    assert_eq!(names, ["bramble-at-the-belly", "a-small-curl"]);
    assert_eq!(shop.run("test --only flint").ends(0).err, "1 case passed.\n");
    assert!(shop.run("test --only nobody").ends(2).err.contains("whose name holds `nobody`"));

    // What is done is taken in; a message that isn't said any more may be a guard that was lost.
    let accepted = shop.run("test --accept --format short").ends(1);
    assert!(accepted.out.contains("T002") && accepted.out.lines().count() == 1, "{}", accepted.out);
    assert!(accepted.err.contains("1 case now expects what comes out"), "{}", accepted.err);
    let text = shop.read("cases.trim");
    assert!(text.contains("  expect ears left\n") && text.contains("J001"), "{text}");
    shop.write("cases.trim", &text.replace("  expect  message J001\n", ""));
    assert_eq!(shop.run("test").ends(0).err, "4 cases passed.\n");
    shop.run("check").ends(0);
}

/// What would hold up a sheet is never taken in, and a case that fails proves nothing.
#[test]
fn errors_are_not_accepted() {
    let shop = Shop::demo();
    let cases = shop.read("cases.trim").replace("  expect  message K001\n", "");
    shop.write("cases.trim", &cases);
    let ran = shop.run("test --accept --format short --only no-summer-shave").ends(1);
    assert!(ran.out.contains("T003") && shop.read("cases.trim") == cases, "{ran:#?}");
    let proven = |ran: &Ran| ran.err.lines().next().unwrap().to_owned();
    let none = shop.run("test --cover --format short --only no-summer-shave").ends(1);
    assert!(proven(&none).starts_with("The cases prove 0 of "), "{none:#?}");
    shop.write("d.trim", "case d { recipe harbour-short; given dog bramble }\n");
    let ran = shop.run("test d.trim --format short").ends(1);
    assert!(ran.out.contains("T004") && ran.out.contains("it expects nothing"), "{ran:#?}");
}

/// A guard that no case proves is told, and no longer once a case has a dog for it.
#[test]
fn unproven_guards() {
    let shop = Shop::empty();
    shop.write(
        "a.trim",
        "recipe a {\n  serves coat curl, weight 3 kg to 9 kg\n  leave whole-coat\n  clip belly with #10\n  guard sensitive-belly { leave belly }\n}\n",
    );
    let case = |name: &str, more: &str, expect: &str| {
        let dog = format!("sex bitch; coat curl, 40 mm; weight 6 kg; asked skin, ears, heart, joints{more}");
        format!("case {name} {{\n  recipe a\n  given {{ {dog} }}\n  expect {expect}\n}}\n")
    };
    shop.write("c.trim", &case("one", "", "belly clip with #10"));
    let ran = shop.run("test --cover --format short").ends(0);
    assert!(ran.out.starts_with("a.trim:5:") && ran.out.contains("T005"), "{ran:#?}");
    assert_eq!(ran.err, "The cases prove 2 of 3 lines and guards.\n1 case passed.\n");
    shop.write("d.trim", &case("two", "; finding sensitive-belly", "belly left"));
    let ran = shop.run("test --cover --format short").ends(0);
    assert_eq!((ran.out.as_str(), ran.err.lines().next()), ("", Some("The cases prove 4 of 4 lines and guards.")));
}

/// The schemas in the documents are those that the program prints.
#[test]
fn schemas_in_the_documents_are_the_real_ones() {
    let shop = Shop::empty();
    for of in ["sheet", "messages", "cases", "card", "answer"] {
        let shown = common::read(&common::root().join(format!("docs/schemas/{of}.schema.json")));
        assert_eq!(shop.run(&format!("schema {of}")).ends(0).out, shown, "cargo run -- schema {of} writes it anew");
    }
}

/// No colours in a pipe; NO_COLOR and TERM=dumb hold on a terminal too. Source: no-color.org.
#[test]
fn colours() {
    let shop = Shop::demo();
    shop.write("bad.trim", MISTAKES);
    for line in [
        "check bad.trim --format rich".to_owned(),
        format!("sheet --dog bramble {ON}"),
        "explain".into(),
        "--help".into(),
        "fmt --diff".into(),
    ] {
        let ran = shop.run(&line);
        assert!(!ran.out.contains('\x1b') && !ran.err.contains('\x1b'), "{line}");
    }
    assert!(shop.run("check bad.trim --format rich --colour always").out.contains('\x1b'));
    let on_terminal = |line: &str, variables: &[(&str, &str)]| -> String {
        // `script` (util-linux) lends a terminal.
        let mut command = Command::new("script");
        command.arg("-qec").arg(format!("{} {line}", program().display())).arg("/dev/null");
        command.current_dir(shop.folder.path()).stdin(Stdio::null()).env("TERM", "xterm-256color");
        for name in ["NO_COLOR", "CLICOLOR", "CLICOLOR_FORCE"] {
            command.env_remove(name);
        }
        command.envs(variables.iter().copied());
        let output = command.output().expect("this test needs `script` of util-linux");
        String::from_utf8(output.stdout).unwrap()
    };
    if cfg!(target_os = "linux") {
        assert!(on_terminal("check bad.trim", &[]).contains("\x1b["));
        for variables in [&[("NO_COLOR", "1")][..], &[("TERM", "dumb")], &[("TERM", "dumb"), ("CI", "true")]] {
            let out = on_terminal("check bad.trim", variables);
            assert!(out.contains("bad.trim") && !out.contains('\x1b'), "{variables:?}: {out}");
        }
        // An empty NO_COLOR says nothing.
        assert!(on_terminal("check bad.trim", &[("NO_COLOR", "")]).contains("\x1b["));
    }
}

// ---------------------------------------------------------------------------------------------- Texts

/// `fmt` leaves the demo as it is, and an untidy file tidy; `--check` writes nothing.
#[test]
fn the_formatter() {
    let shop = Shop::demo();
    let quiet = shop.run("fmt").ends(0);
    assert!(quiet.out.is_empty() && quiet.err.is_empty(), "the demo isn't tidy: {quiet:#?}");
    let untidy = "-- first\nrecipe a {\ntitle    \"A\"   -- second\n leave whole-coat;leave ears\n\n\n}\n-- last";
    shop.write("untidy.trim", untidy);
    let listed = shop.run("fmt --check").ends(1);
    assert_eq!(listed.out, "untidy.trim\n");
    assert_eq!(shop.read("untidy.trim"), untidy);
    shop.run("fmt").ends(0);
    let tidy = shop.read("untidy.trim");
    assert_ne!(tidy, untidy);
    for comment in ["-- first", "-- second", "-- last"] {
        assert_eq!(tidy.matches(comment).count(), 1, "{tidy}");
    }
    shop.run("fmt --check").ends(0);
    assert_eq!(shop.run_with("fmt -", untidy).ends(0).out, tidy);
    // A text that ends its lines as Windows does goes on doing so.
    let windows = |text: &str| text.replace('\n', "\r\n");
    assert_eq!(shop.run_with("fmt -", &windows(untidy)).ends(0).out, windows(&tidy));
    shop.write("untidy.trim", &windows(&tidy));
    shop.run("fmt --check").ends(0);
}

/// `check --fix` mends what is sure, keeps every comment, and once is enough.
#[test]
fn fixing() {
    let shop = Shop::empty();
    shop.write("a.trim", MISTAKES);
    let before = json(&shop.run("check --format json").ends(1).out);
    shop.run("check --fix").ends(1);
    let once = shop.read("a.trim");
    assert_ne!(once, MISTAKES);
    let comments = |text: &str| grammar::comments(&grammar::parse(text));
    assert_eq!(comments(&once), comments(MISTAKES));
    for mended in ["clip torso with #7F", "clip groin with #7F", "to 1.5 mm"] {
        assert!(once.contains(mended), "{mended}: {once}");
    }
    let after = json(&shop.run("check --format json").ends(1).out);
    let safe = |values: &[Value]| {
        values.iter().filter(|v| v["fixes"].as_array().unwrap().iter().any(|f| f["safe"] == true)).count()
    };
    assert!(safe(&before) >= 3);
    assert_eq!(safe(&after), 0, "{after:#?}");
    shop.run("check --fix").ends(1);
    assert_eq!(shop.read("a.trim"), once);
    assert_eq!(shop.names("."), ["a.trim".to_owned()].into());
}

/// What a message offers to be written can be copied as it stands, and then neither it nor a like one is said again.
#[test]
fn what_is_offered_mends() {
    let shop = Shop::empty();
    let recipe = |more: &str| {
        format!(
            "recipe a {{\n  serves coat curl, fleece or wavy, without face-shy\n  serves weight 3 kg to 30 kg\n{more}}}\n"
        )
    };
    let messages = |text: &str| {
        shop.write("a.trim", text);
        json(&shop.run("check a.trim --format json").out)
    };
    let offered = |message: &Value| -> Vec<String> {
        let help = message["help"].as_str().unwrap().to_owned();
        help.split('`').skip(1).step_by(2).map(|line| format!("  {line}\n")).collect()
    };
    let of = |all: &[Value], code: &str| all.iter().filter(|m| m["code"] == code).cloned().collect::<Vec<_>>();

    let some = "  clip body with #5F with the coat\n";
    let said = of(&messages(&recipe(some)), "M016");
    let lines = offered(&said[0]).concat();
    assert!(lines.contains(" except ") && lines.matches("leave ").count() > 1, "{lines}");
    let all = messages(&recipe(&format!("{some}{lines}")));
    assert!(all.iter().all(|m| m["severity"] != "error"), "{all:#?}");

    // Steps of many sizes, in a wide place and in a narrow one: the blends that are offered have room and hold the step.
    let mut tried = 0;
    for (zone, tool) in ["loin", "muzzle", "stop"].iter().flat_map(|z| ["#7F", "#5F", "#4F"].map(|t| (z, t))) {
        let text = format!(
            "  leave whole-coat\n  clip torso, head except lashes with #10 with the coat\n  clip {zone} with {tool} with the coat\n"
        );
        let Some(said) = of(&messages(&recipe(&text)), "J001").into_iter().next() else { continue };
        let blends: Vec<String> = offered(&said).into_iter().filter(|l| l.starts_with("  blend ")).collect();
        let narrow = said["help"].as_str().unwrap().contains("have no room for a blend");
        assert!(!blends.is_empty() || narrow, "{said:#?}");
        let all = messages(&recipe(&format!("{text}{}", blends.concat())));
        let again: Vec<&Value> = all.iter().filter(|m| m["code"] == "J003" || m["code"] == "J004").collect();
        assert!(again.is_empty(), "{blends:?}: {again:#?}");
        tried += 1;
    }
    assert!(tried > 4, "only {tried} steps show");
}

/// A guess between several tools or parts is a question, not a mend: nobody gets another comb than the one they meant.
#[test]
fn a_guess_is_not_a_mend() {
    let shop = Shop::empty();
    let text = "recipe a {\n  title \"A\"\n  serves coat curl\n  leave whole-coat\n  set in legs by comb-12\n  clip ear-bask with #10\n}\n";
    shop.write("a.trim", text);
    shop.run("check --fix").ends(1);
    assert_eq!(
        shop.read("a.trim"),
        text,
        "comb-12 may be comb-10, comb-13, comb-16 …; ear-bask may be ear-back or ear-base"
    );
}

/// A new card is a card: it says what is missing, and with the lines ticked it is whole.
#[test]
fn a_new_card() {
    let shop = Shop::demo();
    shop.run(&format!("new card tansy {ON}")).ends(0);
    let ran = shop.run("check tansy.trim --format short").ends(1);
    let codes: BTreeSet<String> = short(&ran.out).into_iter().map(|s| s.0).collect();
    assert_eq!(codes, ["D003".to_owned()].into(), "{ran:#?}");
    // Take the dashes away from one line of each kind.
    let mut seen = BTreeSet::new();
    let ticked: String = shop
        .read("tansy.trim")
        .lines()
        .map(|line| {
            let waiting = line.strip_prefix("  -- ").filter(|w| w.starts_with(char::is_lowercase));
            let kind = waiting.and_then(|w| w.split_whitespace().next());
            match (waiting, kind) {
                (Some(waiting), Some(kind))
                    if ["sex", "coat", "weight", "born", "asked", "consent", "wants"].contains(&kind)
                        && seen.insert(kind.to_owned()) =>
                {
                    format!("  {waiting}\n")
                }
                _ => format!("{line}\n"),
            }
        })
        .collect();
    shop.write("tansy.trim", &ticked);
    shop.run("check tansy.trim").ends(0);
    let sheet = shop.run(&format!("sheet --dog tansy {ON}")).ends(0);
    assert!(sheet.out.to_lowercase().contains("tansy"), "{sheet:#?}");
    // Never over a card that is there.
    let again = shop.run(&format!("new card tansy {ON}")).ends(2);
    assert!(again.err.contains("tansy.trim"), "{again:#?}");
    assert_eq!(shop.read("tansy.trim"), ticked);
}

/// Every line that waits behind dashes on a new card can be ticked, each alone, and is understood.
#[test]
fn every_line_of_a_new_card() {
    let shop = Shop::demo();
    let blank = shop.run(&format!("new card tansy {ON} -o -")).ends(0).out;
    let waiting: Vec<&str> =
        blank.lines().filter(|l| l.strip_prefix("  -- ").is_some_and(|w| w.starts_with(char::is_lowercase))).collect();
    assert!(waiting.len() > 40);
    // What every card needs is there already, so that only the line itself can be wrong.
    let whole = "  sex dog\n  coat curl, 40 mm\n  weight 12 kg\n";
    let (head, rest) = blank.split_once("dog tansy {\n").unwrap();
    let mut wrong = Vec::new();
    for line in waiting {
        let own = line.replacen("-- ", "", 1);
        let field = own.split_whitespace().next().unwrap();
        let needed: String = whole.lines().filter(|l| !l.trim().starts_with(field)).map(|l| format!("{l}\n")).collect();
        let bitch = ["in-season", "pregnant", "in-milk"].iter().any(|name| own.contains(name));
        let needed = if bitch { needed.replace("sex dog", "sex bitch") } else { needed };
        let ticked = format!("{head}dog tansy {{\n{needed}{}", rest.replacen(line, &own, 1));
        let ran = shop.run_with("check - --stdin-name tansy.trim --format short", &ticked);
        // One card can't want every recipe: whom a recipe serves is another matter.
        if short(&ran.out).iter().any(|s| s.0 != "D001") {
            wrong.push(format!("{line}: {}", ran.out));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.concat());
}

/// `-` reads a text, under the name it is given, in the house around that name.
#[test]
fn standard_input() {
    let shop = Shop::demo();
    let card =
        "dog tansy {\n  sex bitch\n  coat curl, 30 mm\n  weight 6 kg\n  finding salt-itch\n  wants harbour-short\n}\n";
    // The demo's own finding is known where the house is, and nowhere else.
    shop.run_with("check - --stdin-name tansy.trim", card).ends(0);
    let elsewhere = Shop::empty();
    let ran = elsewhere.run_with("check - --format short", card).ends(1);
    assert!(ran.out.contains("standard-input.trim:5") && ran.out.contains("D002"), "{ran:#?}");
    let ran = shop.run_with("check - --stdin-name bad.trim --format short", MISTAKES).ends(1);
    assert!(ran.out.lines().all(|l| l.starts_with("bad.trim:")), "{ran:#?}");
    // What stands in the file of that name doesn't count; the text does.
    shop.write("bad.trim", card);
    let again = shop.run_with("check - --stdin-name bad.trim --format short", MISTAKES).ends(1);
    assert_eq!(again.out, ran.out);
    assert_eq!(shop.read("bad.trim"), card);
}

// ---------------------------------------------------------------------------------------------- The same sheet

/// The sheet is the same however its files are named: by name from the folder, by path, or from somewhere else.
#[test]
fn the_same_sheet_by_any_name() {
    let shop = Shop::demo();
    fs::create_dir(shop.path("below")).unwrap();
    for (recipe, dog) in [
        ("harbour-short", "bramble"),
        ("short-tide", "kelp"),
        ("samphire-terrier", "flint"),
        ("bath-and-tidy", "pearl"),
    ] {
        let by_name = shop.run(&format!("sheet {recipe} --dog {dog} {ON}")).ends(0).out;
        let by_wish = shop.run(&format!("sheet --dog {dog} {ON}")).ends(0).out;
        let by_file = shop.run(&format!("sheet {recipe}.trim --dog dogs.trim#{dog} {ON}")).ends(0).out;
        let mut command = shop.command(&format!("sheet ../{recipe}.trim --dog ../dogs.trim#{dog} {ON}"));
        let from_below = Ran::of(&command.current_dir(shop.path("below")).output().unwrap()).ends(0).out;
        for (how, other) in [("by the card's wish", by_wish), ("by file", by_file), ("from a folder below", from_below)]
        {
            let other = other.replace("../", "");
            let part = by_name.lines().zip(other.lines()).find(|(a, b)| a != b);
            assert!(by_name == other, "{recipe} for {dog} {how}: {part:#?}");
        }
    }
}

// ---------------------------------------------------------------------------------------------- Pipes and disks

/// `coatwright … | head -1`: the reader leaves early, and that is no mistake.
#[test]
fn a_reader_who_leaves() {
    let (demo, long) = (Shop::demo(), Shop::empty());
    for n in 0..60 {
        long.write(&format!("bad-{n}.trim"), MISTAKES);
    }
    let sheet = format!("sheet --dog bramble {ON}");
    for line in ["check --format json", "check --format plain", "explain", "man", "schema sheet", sheet.as_str()] {
        let shop = if line.starts_with("sheet") { &demo } else { &long };
        let mut child = shop.command(line).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        let mut first = [0_u8; 1];
        child.stdout.as_mut().unwrap().read_exact(&mut first).unwrap_or_else(|e| panic!("{line}: {e}"));
        drop(child.stdout.take());
        let mut said = String::new();
        child.stderr.take().unwrap().read_to_string(&mut said).unwrap();
        let code = child.wait().unwrap().code();
        assert!(matches!(code, Some(0 | 1)), "{line}: {code:?} {said}");
        assert!(!said.contains("panicked") && !said.contains("can't"), "{line}: {said}");
    }
}

/// A full disk is told, with 2.
#[test]
fn a_full_disk() {
    if !Path::new("/dev/full").exists() {
        return;
    }
    let shop = Shop::demo();
    let full = fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    let output =
        shop.command(&format!("sheet --dog bramble {ON}")).stdout(full).stderr(Stdio::piped()).output().unwrap();
    let ran = Ran::of(&output).ends(2);
    assert!(ran.err.contains("full"), "{ran:#?}");
}

/// What can't be written leaves nothing behind, neither half a sheet nor the file beside it, and what was there stays.
#[cfg(unix)]
#[test]
fn nothing_half_written() {
    use std::os::unix::fs::PermissionsExt;
    let shop = Shop::demo();
    shop.write("out/sheet.txt", "the old one");
    shop.write("out/a.trim", "recipe a {\n title \"A\"\n leave whole-coat\n}\n");
    let before = shop.read("out/a.trim");
    // A file of its own that is read-only is never replaced, not even by root.
    let read_only =
        |name: &str, mode: u32| fs::set_permissions(shop.path(name), fs::Permissions::from_mode(mode)).unwrap();
    read_only("out/sheet.txt", 0o444);
    read_only("out/a.trim", 0o444);
    for line in [format!("sheet --dog bramble {ON} -o out/sheet.txt"), "fmt out/a.trim".into()] {
        let ran = shop.run(&line).ends(2);
        assert!(ran.err.contains("can't write out/"), "{ran:#?}");
    }
    assert_eq!(shop.read("out/sheet.txt"), "the old one");
    assert_eq!(shop.read("out/a.trim"), before);
    assert_eq!(shop.names("out"), ["a.trim".to_owned(), "sheet.txt".to_owned()].into());
    // A folder that isn't there.
    shop.run(&format!("sheet --dog bramble {ON} -o nowhere/sheet.txt")).ends(2);
    assert!(!shop.path("nowhere").exists());
    // A folder that may not be written to. Root may, so then the program runs as somebody else (`setpriv` of util-linux).
    read_only("out/a.trim", 0o644);
    read_only("out", 0o555);
    fs::set_permissions(shop.folder.path(), fs::Permissions::from_mode(0o755)).unwrap();
    let root = fs::write(shop.path("out/probe"), "").is_ok();
    let _ = fs::remove_file(shop.path("out/probe"));
    let as_nobody = |line: &str| -> Ran {
        if !root {
            return shop.run(line);
        }
        let mut command = Command::new("setpriv");
        command.args(["--reuid=65534", "--regid=65534", "--clear-groups"]).arg(program());
        command.args(line.split_whitespace()).current_dir(shop.folder.path()).stdin(Stdio::null());
        Ran::of(&command.output().expect("as root this test needs `setpriv` of util-linux"))
    };
    for line in [
        format!("sheet --dog bramble {ON} -o out/new.txt"),
        "fmt out/a.trim".to_owned(),
        format!("new card tansy {ON} -o out/tansy.trim"),
    ] {
        let ran = as_nobody(&line).ends(2);
        assert!(ran.err.contains("can't write out/") && ran.err.contains("no right"), "{line}: {ran:#?}");
    }
    assert_eq!(shop.read("out/a.trim"), before);
    assert_eq!(shop.names("out"), ["a.trim".to_owned(), "sheet.txt".to_owned()].into());
    read_only("out", 0o755);
}

/// A replaced file is whole at every moment: whoever reads it while it is written anew sees the old text or the new one.
#[test]
fn whoever_reads_meanwhile_sees_a_whole_file() {
    let shop = Shop::demo();
    shop.run(&format!("sheet --dog bramble {ON} -o s.txt")).ends(0);
    let bramble = shop.read("s.txt");
    shop.run(&format!("sheet --dog kelp {ON} -o s.txt")).ends(0);
    let kelp = shop.read("s.txt");
    assert_ne!(bramble, kelp);
    let mut seen = BTreeSet::new();
    for dog in ["bramble", "kelp", "bramble"] {
        let mut child =
            shop.command(&format!("sheet --dog {dog} {ON} -o s.txt")).stderr(Stdio::null()).spawn().unwrap();
        while child.try_wait().unwrap().is_none() {
            let now = shop.read("s.txt");
            assert!(now == bramble || now == kelp, "half a sheet: {} bytes", now.len());
            seen.insert(now.len());
        }
        assert_eq!(shop.read("s.txt"), if dog == "kelp" { kelp.clone() } else { bramble.clone() });
    }
    assert!(!seen.is_empty());
    assert!(shop.names(".").iter().all(|n| !n.ends_with(".new")));
}
