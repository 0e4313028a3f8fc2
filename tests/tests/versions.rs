//! Versions, with the real git: what changed, its history, the hook, what CI asks, and the merge.
//!
//! It runs `target/debug/coatwright` beside this test's own folder: build it first (`cargo build -p coatwright`).
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

mod common;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use tempfile::TempDir;

fn program() -> PathBuf {
    let own = std::env::current_exe().unwrap();
    let folder = own.parent().and_then(Path::parent).unwrap();
    folder.join(format!("coatwright{}", std::env::consts::EXE_SUFFIX))
}

/// The demo salon in a repository of its own, once committed.
struct Repo {
    folder: TempDir,
}

#[derive(Debug)]
struct Ran {
    code: Option<i32>,
    out: String,
    err: String,
}

impl Ran {
    fn of(output: &Output) -> Self {
        let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
        let ran = Self { code: output.status.code(), out: text(&output.stdout), err: text(&output.stderr) };
        assert!(!ran.err.contains("panicked"), "{ran:#?}");
        ran
    }

    #[track_caller]
    fn ends(self, code: i32) -> Self {
        assert_eq!(self.code, Some(code), "{self:#?}");
        self
    }
}

impl Repo {
    fn empty() -> Self {
        let repo = Self { folder: tempfile::tempdir().unwrap() };
        repo.git("init -q -b main").ends(0);
        // Nobody's own settings play a part.
        for line in [
            "config user.name A",
            "config user.email a@example.org",
            "config core.autocrlf false",
            "config commit.gpgsign false",
        ] {
            repo.git(line).ends(0);
        }
        repo
    }

    fn demo() -> Self {
        let repo = Self::empty();
        for (path, text) in common::saltmarsh() {
            repo.write(path.file_name().unwrap().to_str().unwrap(), &text);
        }
        repo.commit("the salon");
        repo
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn write(&self, name: &str, text: &str) {
        fs::create_dir_all(self.path(name).parent().unwrap()).unwrap();
        fs::write(self.path(name), text).unwrap();
    }

    fn read(&self, name: &str) -> String {
        common::read(&self.path(name))
    }

    /// Other words in a file, which must be there.
    #[track_caller]
    fn change(&self, name: &str, old: &str, new: &str) {
        let text = self.read(name);
        assert!(text.contains(old), "{name} doesn't hold {old}");
        self.write(name, &text.replacen(old, new, 1));
    }

    fn command(&self, program: &Path, words: &[&str]) -> Command {
        let mut command = Command::new(program);
        command.args(words).current_dir(self.folder.path()).stdin(Stdio::null());
        command
            .env("GIT_CONFIG_GLOBAL", "/dev/null")
            .env("GIT_CONFIG_NOSYSTEM", "1")
            .env("NO_COLOR", "1")
            .env("COLUMNS", "80");
        for name in ["GIT_DIR", "GIT_INDEX_FILE", "GIT_EXTERNAL_DIFF", "GIT_WORK_TREE"] {
            command.env_remove(name);
        }
        command
    }

    fn git(&self, line: &str) -> Ran {
        let words: Vec<&str> = line.split(' ').collect();
        Ran::of(&self.command(Path::new("git"), &words).output().unwrap())
    }

    fn run(&self, line: &str) -> Ran {
        let words: Vec<&str> = line.split(' ').filter(|w| !w.is_empty()).collect();
        Ran::of(&self.command(&program(), &words).output().unwrap())
    }

    fn commit(&self, words: &str) {
        self.git("add -A").ends(0);
        let ran = Ran::of(&self.command(Path::new("git"), &["commit", "-q", "-m", words]).output().unwrap());
        assert_eq!(ran.code, Some(0), "{ran:#?}");
    }
}

#[test]
fn diff_reads_files_folders_and_revisions() {
    let repo = Repo::demo();
    let same = repo.run("diff").ends(0);
    assert!(same.out.is_empty() && same.err.contains("8 recipes the same on every dog"), "{same:#?}");
    repo.change("harbour-short.trim", "foreface with #10 in reverse", "foreface with #15 in reverse");
    let closer = "closer       foreface and cheek: clip with #10 in reverse, skin stretched,";
    for line in ["diff", "diff HEAD", "diff HEAD .", "diff harbour-short.trim", "diff HEAD:harbour-short.trim"] {
        let ran = repo.run(line).ends(1);
        assert!(ran.out.contains(closer) && ran.out.contains("On every dog, most on"), "{line}: {ran:#?}");
    }
    // What is staged is a version, too.
    repo.run("diff HEAD :").ends(0);
    repo.git("add .").ends(0);
    repo.run("diff HEAD :").ends(1);
    repo.run("diff :").ends(0);
    repo.commit("closer");
    repo.run("diff").ends(0);
    repo.run("diff HEAD~1 HEAD").ends(1);
    repo.run("diff HEAD~1 HEAD pebble-round.trim").ends(0);
    // A base shows on each recipe that builds on it, a house on all.
    repo.change("saltmarsh-base.trim", "skim     groin with #10", "skim     groin with #15");
    let base = repo.run("diff --format json").ends(1);
    let on: Vec<&str> = base.out.lines().filter(|l| l.contains("\"closer\"")).collect();
    assert!(on.len() >= 5, "{base:#?}");
    repo.git("checkout -q .").ends(0);
    repo.change("house.trim", "  keep     under tail never shears\n", "");
    let house = repo.run("diff").ends(1);
    assert!(
        house.out.contains("looser       keep under tail never shears -> gone") && house.out.contains("shows on"),
        "{house:#?}"
    );
    repo.git("checkout -q .").ends(0);
    // Two files, and the dogs.
    let ran = repo.run("diff pebble-round.trim short-tide.trim --dogs shown.trim").ends(1);
    assert!(ran.out.contains("short-tide, was pebble-round"), "{ran:#?}");
    assert!(repo.read("shown.trim").contains("dog differs-short-tide-2 {"));
    // They are cards; one with tight mats lacks a consent, as it should.
    let said = repo.run("check shown.trim --format short").out;
    assert!(said.lines().all(|l| l.contains("D006")), "{said}");
    // From a folder below, the house above counts.
    fs::create_dir(repo.path("below")).unwrap();
    fs::remove_file(repo.path("shown.trim")).unwrap();
    let words = ["diff", "HEAD~1", ".."];
    let ran = Ran::of(&repo.command(&program(), &words).current_dir(repo.path("below")).output().unwrap());
    assert!(ran.code == Some(1) && ran.out.contains("(../harbour-short.trim)"), "{ran:#?}");
}

#[test]
fn what_diff_cannot_do_it_says() {
    let repo = Repo::demo();
    for (line, words) in [
        ("diff nowhere", "error[G002]: there is neither a file nor a revision called `nowhere`"),
        ("diff --format text -- -x", "error[G002]"),
        ("diff HEAD~5", "error[G002]"),
        ("diff HEAD HEAD HEAD HEAD", "give two versions"),
    ] {
        let ran = repo.run(line).ends(2);
        assert!(ran.err.contains(words), "{ran:#?}");
    }
    let without = Ran::of(&repo.command(&program(), &["diff"]).env("PATH", "/nowhere").output().unwrap()).ends(2);
    assert!(without.err.contains("error[G001]") && without.err.contains("apt install git"), "{without:#?}");
    let lone = tempfile::tempdir().unwrap();
    fs::write(lone.path().join("a.trim"), "recipe a { leave ears }\n").unwrap();
    let ran = Ran::of(&repo.command(&program(), &["diff"]).current_dir(lone.path()).output().unwrap()).ends(2);
    assert!(ran.err.contains("no git repository"), "{ran:#?}");
    // A mistake keeps one recipe from being compared; the others are.
    repo.change("pebble-round.trim", "serves", "servs");
    repo.change("harbour-short.trim", "foreface with #10", "foreface with #15");
    repo.change("short-tide.trim", "extends  saltmarsh-base", "extends  saltmarsh-bass");
    let ran = repo.run("diff").ends(2);
    assert!(
        ran.out.contains("closer") && ran.out.contains("unreadable   the new text has a mistake at short-tide.trim:"),
        "{ran:#?}"
    );
}

/// As git's own external diff: by an attribute, and for once by the environment.
#[test]
fn git_tells_what_changed_on_the_dog() {
    let repo = Repo::demo();
    repo.write(".gitattributes", "*.trim diff=trim\n");
    let command = format!("{} diff", program().display());
    Ran::of(&repo.command(Path::new("git"), &["config", "diff.trim.command", &command]).output().unwrap()).ends(0);
    repo.change("harbour-short.trim", "foreface with #10", "foreface with #15");
    repo.change("dogs.trim", "48 mm", "50 mm");
    let ran = repo.git("diff").ends(0);
    assert!(
        ran.out.contains("harbour-short.trim: with 10 other files of its house as they are in this folder now"),
        "{ran:#?}"
    );
    assert!(
        ran.out.contains("closer       foreface") && ran.out.contains("+  coat     fleece, undercoat some, 50 mm"),
        "{ran:#?}"
    );
    repo.git("mv short-tide.trim tide.trim").ends(0);
    fs::remove_file(repo.path("dune-column.trim")).unwrap();
    let ran = repo.git("diff HEAD").ends(0);
    assert!(
        ran.out.contains("the same trim on every dog") && ran.out.contains("dune-column (dune-column.trim)\n  gone"),
        "{ran:#?}"
    );
}
