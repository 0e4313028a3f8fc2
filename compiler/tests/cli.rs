//! The program as a user meets it: exit codes, files, pipes.
#![allow(clippy::unwrap_used, clippy::panic)]

use std::{
    fs,
    io::{Read, Write},
    path::{Path, PathBuf},
    process::{Command, Output, Stdio},
};

/// A folder of its own for each test.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("coatwright-cli-{}-{name}", std::process::id()));
        let _ = fs::remove_dir_all(&path);
        fs::create_dir_all(&path).unwrap();
        Self(path)
    }

    fn run(&self, line: &str) -> Output {
        command(&self.0, line).output().unwrap()
    }

    fn with_stdin(&self, line: &str, text: &str) -> Output {
        let mut child =
            command(&self.0, line).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        child.stdin.take().unwrap().write_all(text.as_bytes()).unwrap();
        child.wait_with_output().unwrap()
    }

    fn write(&self, name: &str, text: &str) -> PathBuf {
        let path = self.0.join(name);
        fs::write(&path, text).unwrap();
        path
    }

    fn names(&self) -> Vec<String> {
        let mut names: Vec<String> =
            fs::read_dir(&self.0).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

fn command(folder: &Path, line: &str) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_coatwright"));
    command.args(line.split_whitespace()).current_dir(folder);
    command.env_remove("NO_COLOR").env_remove("CLICOLOR_FORCE").env_remove("COLUMNS").stdin(Stdio::null());
    command
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

/// The exit code, and everything that was written; nothing that a groomer reads may look like a program's inside.
#[track_caller]
fn ended(output: &Output, code: i32) -> (String, String) {
    let (out, err) = (text(&output.stdout), text(&output.stderr));
    assert_eq!(output.status.code(), Some(code), "{out}\n{err}");
    for inside in ["panicked", "Some(", "Err(", "::", "os error", "Utf8Error"] {
        assert!(!out.contains(inside) && !err.contains(inside), "{inside}: {out}\n{err}");
    }
    (out, err)
}

#[test]
fn help_and_version_are_no_mistakes() {
    let folder = Folder::new("help");
    let (out, _) = ended(&folder.run("--help"), 0);
    assert!(out.contains("Examples:") && out.contains("veterinary"), "{out}");
    for command in [
        "check",
        "sheet",
        "why",
        "why-order",
        "explain",
        "fmt",
        "new",
        "diff",
        "history",
        "hook",
        "merge",
        "card",
        "batch",
        "visit",
        "handbook",
        "replan",
        "day",
        "completions",
        "man",
        "schema",
    ] {
        let (out, _) = ended(&folder.run(&format!("{command} --help")), 0);
        assert!(out.contains("Example"), "{out}");
    }
    ended(&folder.run("--version"), 0);
}

#[test]
fn what_cannot_run_ends_with_2() {
    let folder = Folder::new("two");
    folder.write("bytes.trim", "");
    fs::write(folder.0.join("bytes.trim"), [0xff, 0xfe, 0x00]).unwrap();
    for line in [
        "",
        "bake",
        "check nowhere.trim",
        "check bytes.trim",
        "check - a.trim",
        "check - --fix",
        "fmt nowhere.trim",
        "fmt bytes.trim",
        "sheet nowhere.trim --dog bramble",
        "sheet --dog nowhere.trim",
        "explain bicycle",
        "new card ../bramble",
        "new house salt --from other",
    ] {
        let (out, err) = ended(&folder.run(line), 2);
        assert!(out.is_empty() && !err.is_empty(), "{line}: {out}");
    }
}

#[test]
fn an_unknown_code_finds_its_neighbour() {
    let folder = Folder::new("explain");
    let (out, _) = ended(&folder.run("explain"), 0);
    assert!(out.contains("Close to the skin\n  C001  "), "{out}");
    let (out, _) = ended(&folder.run("explain c001"), 0);
    assert!(out.starts_with("C001: "), "{out}");
    let (_, err) = ended(&folder.run("explain CO01"), 2);
    assert!(err.contains("did you mean C001, closer to the skin than this place allows?"), "{err}");
}

#[test]
fn new_texts_are_never_written_over_others() {
    let folder = Folder::new("new");
    ended(&folder.run("new card bramble --on 2026-11-20"), 0);
    let card = fs::read_to_string(folder.0.join("bramble.trim")).unwrap();
    assert!(card.contains("dog bramble {\n  seen      2026-11-20\n"), "{card}");
    let (_, err) = ended(&folder.run("new recipe bramble"), 2);
    assert!(err.contains("is there already"), "{err}");
    assert_eq!(fs::read_to_string(folder.0.join("bramble.trim")).unwrap(), card);
    let (out, _) = ended(&folder.run("new house saltmarsh -o -"), 0);
    assert!(out.contains("house saltmarsh {"), "{out}");
    ended(&folder.run("new house saltmarsh"), 0);
    assert_eq!(folder.names(), ["bramble.trim", "house.trim"]);
}

/// What one begins with has nothing to be warned of, by itself and in a house as it is begun.
#[test]
fn a_new_recipe_is_sound() {
    let folder = Folder::new("new-recipe");
    for line in ["new recipe spring", "new house salt"] {
        ended(&folder.run(line), 0);
        let (out, err) = ended(&folder.run("check ."), 0);
        assert!(!format!("{out}{err}").contains("warning"), "{out}{err}");
    }
}

#[test]
fn a_card_begins_where_the_last_one_ended() {
    let folder = Folder::new("from");
    folder.write(
        "last.trim",
        "-- Old.\ndog bramble {\n  sex dog, neutered -- he\n  weight 12.4 kg\n  seen 2026-09-25\n  finding wart on left lip\n}\n",
    );
    ended(&folder.run("new card bramble-november --from last.trim --on 2026-11-20"), 0);
    let card = fs::read_to_string(folder.0.join("bramble-november.trim")).unwrap();
    let body = card.split_once("dog ").unwrap().1;
    assert_eq!(
        body,
        "bramble-november {\n  seen      2026-11-20\n  last      2026-09-25\n  sex       dog, neutered\n  finding   wart on left \
         lip\n\n  -- As it was last time.\n  -- weight    12.4 kg\n}\n"
    );
    folder.write("two.trim", "dog a { sex bitch }\ndog b { sex bitch }\n");
    let (_, err) = ended(&folder.run("new card c --from two.trim"), 2);
    assert!(err.contains("more than one card: a, b; say which: two.trim#a"), "{err}");
    ended(&folder.run("new card c --from two.trim#b"), 0);
    let (_, err) = ended(&folder.run("new card d --from two.trim#e"), 2);
    assert!(err.contains("two.trim holds no card e"), "{err}");
}

#[test]
fn a_recipe_builds_on_another() {
    let folder = Folder::new("base");
    folder.write("short.trim", "recipe harbour-short {\n  version 4\n  leave lashes\n}\n");
    let (out, _) = ended(&folder.run("new recipe summer-short --from short.trim -o -"), 0);
    assert!(out.contains("recipe summer-short {\n  title    \"Summer short\"\n"), "{out}");
    assert!(out.contains("  extends  harbour-short version 4\n"), "{out}");
}

#[test]
fn the_formatter_touches_only_what_it_changes() {
    let folder = Folder::new("fmt");
    let untidy = "recipe a {   \n  leave lashes   \n}\n";
    let path = folder.write("a.trim", untidy);
    ended(&folder.run("fmt --check"), 1);
    let (out, _) = ended(&folder.run("fmt --diff"), 0);
    assert!(
        out.contains("--- a.trim") && out.contains("\n-recipe a {   \n") && out.contains("\n+recipe a {\n"),
        "{out}"
    );
    assert_eq!(fs::read_to_string(&path).unwrap(), untidy);
    let (tidy, _) = ended(&folder.with_stdin("fmt -", untidy), 0);
    ended(&folder.with_stdin("fmt - --check", untidy), 1);
    ended(&folder.run("fmt"), 0);
    assert_eq!(fs::read_to_string(&path).unwrap(), tidy);
    let before = fs::metadata(&path).unwrap().modified().unwrap();
    ended(&folder.run("fmt a.trim"), 0);
    ended(&folder.run("fmt --check"), 0);
    assert_eq!(fs::metadata(&path).unwrap().modified().unwrap(), before);
    assert_eq!(folder.names(), ["a.trim"]);
}

#[test]
fn colour_only_where_it_is_wanted() {
    let folder = Folder::new("colour");
    let escapes = |line: &str, variable: Option<&str>| {
        let mut command = command(&folder.0, line);
        variable.map(|name| command.env(name, "1"));
        text(&command.output().unwrap().stdout).contains('\x1b')
    };
    assert!(!escapes("explain", None));
    assert!(escapes("explain --colour always", None));
    assert!(escapes("--color=always explain", Some("NO_COLOR")));
    assert!(escapes("explain", Some("CLICOLOR_FORCE")));
    assert!(!escapes("explain --colour never", Some("CLICOLOR_FORCE")));
}

#[test]
fn completions_manual_and_schemas() {
    let folder = Folder::new("man");
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let output = folder.run(&format!("completions {shell}"));
        assert!(output.status.success() && text(&output.stdout).contains("coatwright"));
    }
    let (out, _) = ended(&folder.run("man"), 0);
    assert!(out.contains(".TH coatwright 1"), "{out}");
    ended(&folder.run("man -o pages"), 0);
    let pages = fs::read_dir(folder.0.join("pages")).unwrap().count();
    assert_eq!(pages, 24);
    assert!(folder.0.join("pages/coatwright-sheet.1").is_file());
    for line in [
        "schema sheet",
        "schema messages",
        "schema cases",
        "schema diff",
        "schema card",
        "schema answer",
        "schema day",
        "day --schema",
        "sheet --schema",
    ] {
        let (out, _) = ended(&folder.run(line), 0);
        assert!(serde_json::from_str::<serde_json::Value>(&out).unwrap().is_object());
    }
}

#[test]
fn check_ends_with_1_if_something_was_found() {
    let folder = Folder::new("check");
    folder.write("a.trim", "recipe a {\n  clip belly with\n");
    for form in ["rich", "short", "plain", "json"] {
        let (out, _) = ended(&folder.run(&format!("check --format {form}")), 1);
        assert!(out.contains("a.trim"), "{out}");
        let (out, _) =
            ended(&folder.with_stdin(&format!("check - --stdin-name b.trim --format {form}"), "recipe b {\n"), 1);
        assert!(out.contains("b.trim"), "{out}");
    }
}

#[test]
fn fixing_twice_is_fixing_once() {
    let folder = Folder::new("fix");
    let path = folder.write("a.trim", "recipe a {\n  clipp belly with #7F\n  clip groin with 7F\n");
    folder.run("check --fix");
    let once = fs::read_to_string(&path).unwrap();
    folder.run("check --fix");
    assert_eq!(fs::read_to_string(&path).unwrap(), once);
    assert_eq!(folder.names(), ["a.trim"]);
}

/// `coatwright explain | head -1`: the reader leaves, and that is all.
#[test]
fn a_broken_pipe_is_no_mistake() {
    let folder = Folder::new("pipe");
    for line in ["man", "explain", "completions zsh", "--help"] {
        let mut child = command(&folder.0, line).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        drop(child.stdout.take());
        let mut said = String::new();
        child.stderr.take().unwrap().read_to_string(&mut said).unwrap();
        assert_eq!((child.wait().unwrap().code(), said.as_str()), (Some(0), ""), "{line}");
    }
}
