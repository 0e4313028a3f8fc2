//! Versions, with the real git: what changed, its history, the hook, what CI asks, and the merge.
//!
//! It runs `target/debug/coatwright` beside this test's own folder: build it first (`cargo build -p coatwright`).
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

mod common;
#[path = "common/repo.rs"]
mod repo;

use repo::{Ran, Repo, program};
use std::fs;
use std::path::Path;

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

/// In a branch of a chain, however the file is named: the houses around it and beside it are in both versions.
#[test]
fn diff_within_a_house_inside_another() {
    let repo = Repo::empty();
    for (path, text) in [
        ("house.trim", "house chain {\n  keep loin no closer than 2 mm\n}\n"),
        ("north/house.trim", "house north {\n  keep ears never plucking\n}\n"),
        ("north/low.trim", "recipe low {\n  leave whole-coat\n  clip back with #5F with the coat\n}\n"),
        ("south/house.trim", "house south {\n  keep belly one pass\n}\n"),
        ("south/easy.trim", "recipe easy {\n  extends low from \"../north\"\n  serves coat curl\n}\n"),
    ] {
        repo.write(path, text);
    }
    repo.commit("chain");
    repo.change("north/low.trim", "#5F", "#7F");
    for (folder, line) in [
        ("south", "diff HEAD easy.trim"),
        ("south", "diff easy.trim"),
        ("south", "diff"),
        ("south", "diff HEAD ."),
        ("", "diff HEAD south/easy.trim"),
    ] {
        let words: Vec<&str> = line.split(' ').collect();
        let ran = Ran::of(&repo.command(&program(), &words).current_dir(repo.path(folder)).output().unwrap());
        assert!(ran.code == Some(1) && ran.out.contains("closer       back"), "{folder} {line}: {ran:#?}");
        assert!(!ran.out.contains("looser") && !ran.out.contains("H008"), "{folder} {line}: {ran:#?}");
    }
}

#[test]
fn what_diff_cannot_do_it_says() {
    let repo = Repo::demo();
    for (line, words) in [
        ("diff nowhere", "error[G002]: there is neither a file nor a revision called `nowhere`"),
        ("diff --format text -- -x", "error[G002]"),
        ("diff HEAD~5", "error[G002]"),
        ("diff HEAD HEAD HEAD HEAD", "give two versions"),
        ("diff HEAD HEAD nowhere.trim", "neither version holds a .trim file at nowhere.trim"),
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

#[test]
fn history_tells_each_revision_in_a_line() {
    let repo = Repo::demo();
    repo.change("harbour-short.trim", "foreface with #10", "foreface with #15");
    repo.change("harbour-short.trim", "version  4", "version  5");
    repo.commit("a closer face");
    repo.change("dogs.trim", "48 mm", "50 mm");
    repo.commit("a card");
    repo.git("mv harbour-short.trim harbour.trim").ends(0);
    repo.commit("another file");
    repo.change("harbour.trim", "recipe harbour-short", "recipe harbour");
    repo.commit("another name");
    repo.change("house.trim", "  keep     under tail never shears\n", "");
    repo.commit("the house");
    repo.change("harbour.trim", "-- The first trim", "-- The very first trim");
    repo.commit("a remark");
    let ran = repo.run("history harbour").ends(0);
    let words: Vec<&str> = ran.out.lines().collect();
    assert_eq!(words.len(), 6, "{ran:#?}");
    for (line, parts) in words.iter().zip([
        ["version 5  ", "the same trim  [a remark]"],
        ["looser: keep under tail never shears -> gone", "[the house]"],
        ["the same trim; was harbour-short", "[another name]"],
        ["the same trim; was in harbour-short.trim", "[another file]"],
        ["version 4 to 5", "closer: foreface and cheek: clip with #10 in reverse"],
        ["version 4 ", "new  [the salon]"],
    ]) {
        assert!(parts.iter().all(|p| line.contains(p)), "{parts:?} in {line}");
    }
    assert!(repo.run("history nobody").ends(2).err.contains("error[G002]"));
    assert_eq!(repo.run("history harbour.trim --most 2").ends(0).out.lines().count(), 1);
}

#[test]
fn the_hook_stops_what_should_be_looked_at() {
    let repo = Repo::demo();
    repo.run("hook").ends(0);
    repo.run("hook").ends(0);
    let folders = std::env::join_paths(
        std::iter::once(program().parent().unwrap().to_path_buf())
            .chain(std::env::split_paths(&std::env::var_os("PATH").unwrap())),
    )
    .unwrap();
    let commit = |words: &str| {
        repo.git("add -A").ends(0);
        let mut command = repo.command(Path::new("git"), &["commit", "-q", "-m", words]);
        Ran::of(&command.env("PATH", &folders).output().unwrap())
    };
    let says = |ran: &Ran, words: &str| ran.out.contains(words) || ran.err.contains(words);
    // Another trim under the old version.
    repo.change("harbour-short.trim", "foreface with #10", "foreface with #15");
    let ran = commit("closer").ends(1);
    assert!(
        says(&ran, "error[G004]: harbour-short does something else") && says(&ran, "Write `version 5`"),
        "{ran:#?}"
    );
    repo.change("harbour-short.trim", "version  4", "version  5");
    commit("closer").ends(0);
    // Not laid out.
    repo.change("harbour-short.trim", "  leave    lashes", "leave lashes");
    let ran = commit("untidy").ends(1);
    assert!(says(&ran, "harbour-short.trim isn't laid out: `coatwright fmt harbour-short.trim`"), "{ran:#?}");
    repo.run("fmt harbour-short.trim").ends(0);
    // Against the rules.
    repo.change("harbour-short.trim", "  leave    lashes", "  clip     lashes with #10 in reverse");
    repo.change("harbour-short.trim", "version  5", "version  6");
    let ran = commit("danger").ends(1);
    assert!(says(&ran, "error[C0") || says(&ran, "error[M0"), "{ran:#?}");
    repo.git("checkout -q HEAD -- .").ends(0);
    // What is staged counts, not what lies in the folder.
    repo.change("harbour-short.trim", "topknot to 25 mm", "topknot to 24 mm");
    repo.change("harbour-short.trim", "version  5", "version  6");
    repo.git("add -A").ends(0);
    repo.write("harbour-short.trim", "recipe {");
    let mut command = repo.command(Path::new("git"), &["commit", "-q", "-m", "staged"]);
    Ran::of(&command.env("PATH", &folders).output().unwrap()).ends(0);
    // Another hook is left as it is.
    repo.write(".git/hooks/pre-commit", "#!/bin/sh\nexit 0\n");
    assert!(repo.run("hook").ends(2).err.contains("add the line `coatwright hook --run` to it"));
    assert_eq!(repo.read(".git/hooks/pre-commit"), "#!/bin/sh\nexit 0\n");
}

#[test]
fn check_holds_guards_against_a_revision() {
    let repo = Repo::demo();
    repo.run("check --against HEAD").ends(0);
    // A keep more, and other work: nothing to say.
    repo.change("harbour-short.trim", "  last     head", "  keep     ribs no closer than #7F\n  last     head");
    repo.change("harbour-short.trim", "topknot to 25 mm", "topknot to 26 mm");
    repo.run("check --against HEAD").ends(0);
    repo.commit("a keep more");
    let said = |words: &str| {
        let ran = repo.run("check --against HEAD --format short").ends(1);
        assert!(ran.out.contains("G003") && ran.out.contains(words), "{words}: {ran:#?}");
        ran.out.lines().filter(|l| l.contains("G003")).count()
    };
    // Of the recipe, of an answer to a finding, of the base, of the house.
    repo.change("harbour-short.trim", "keep     ribs no closer than #7F", "keep     ribs no closer than #10");
    assert_eq!(said("keep ribs no closer than #7F -> no closer than #10"), 1);
    repo.git("checkout -q .").ends(0);
    repo.change(
        "harbour-short.trim",
        "guard    sensitive-belly { skim belly rear with #10",
        "guard    sensitive-belly { skim belly rear with #15",
    );
    assert_eq!(said("belly rear: skim with #10"), 1);
    repo.git("checkout -q .").ends(0);
    repo.change("house.trim", "  keep     sanitary never in reverse\n", "");
    assert_eq!(said("house.trim"), 1);
    repo.git("checkout -q .").ends(0);
    repo.change("house.trim", "  keep     one pass                    (invented for the demo)\n", "");
    assert_eq!(said("finding salt itch"), 1);
    repo.git("checkout -q .").ends(0);
    assert!(repo.run("check --against nowhere").ends(2).err.contains("error[G002]"));
    let ran = repo.run("check . --against HEAD --format json").ends(0);
    assert!(ran.out.is_empty() || !ran.out.contains("G003"), "{ran:#?}");
}

/// Two branches that merge through the driver.
fn merging(repo: &Repo) {
    repo.write(".gitattributes", "*.trim merge=trim\n");
    let driver = format!("{} merge %O %A %B %P", program().display());
    Ran::of(&repo.command(Path::new("git"), &["config", "merge.trim.driver", &driver]).output().unwrap()).ends(0);
    repo.commit("the driver");
}

#[test]
fn git_merges_by_statement() {
    let repo = Repo::demo();
    merging(&repo);
    repo.git("checkout -q -b theirs").ends(0);
    // Neighbouring lines, another order, a comment, a new guard.
    repo.change(
        "harbour-short.trim",
        "  shape    topknot to 25 mm by shears\n  shape    occiput",
        "  shape    topknot to 28 mm by shears  -- fuller\n  shape    occiput",
    );
    repo.change(
        "harbour-short.trim",
        "  last     head\n",
        "  guard    redness { leave ribs }  -- since spring\n  last     head\n",
    );
    repo.commit("theirs");
    repo.git("checkout -q main").ends(0);
    repo.change(
        "harbour-short.trim",
        "  shape    brows to 8 mm by thinners-46\n",
        "  -- Brows first.\n  shape    brows to 9 mm by thinners-46\n",
    );
    repo.change("harbour-short.trim", "  shape    occiput to 16 mm by thinners-46\n", "");
    repo.change(
        "harbour-short.trim",
        "  set in   torso",
        "  shape    occiput to 18 mm by thinners-46\n  set in   torso",
    );
    repo.change("harbour-short.trim", "version  4", "version  5");
    repo.commit("ours");
    let ran = repo.git("merge -q theirs -m both").ends(0);
    assert!(!ran.out.contains("CONFLICT"), "{ran:#?}");
    let text = repo.read("harbour-short.trim");
    for line in [
        "-- Brows first.\n  shape    brows to 9 mm",
        "topknot to 28 mm by shears  -- fuller",
        "occiput to 18 mm",
        "guard    redness { leave ribs }  -- since spring",
        "version  5",
    ] {
        assert!(text.contains(line), "{line} in\n{text}");
    }
    assert_eq!(text.matches("shape    occiput").count(), 1);
    repo.run("fmt --check harbour-short.trim").ends(0);
    repo.run("check --against HEAD~1").ends(0);
}

#[test]
fn no_guard_is_merged_away() {
    for (ours, theirs) in [
        // Taken away by one, left by the other.
        ("  guard    sensitive-belly { skim belly rear with #10 with the coat, one pass }\n", ""),
        // Made weaker by one.
        ("guard    sensitive-belly { skim belly rear with #10", "guard    sensitive-belly { skim belly rear with #15"),
        ("    keep   head in short turns\n", ""),
        // Edited by one, and by the other in another way (below).
        ("topknot to 18 mm by shears }", "topknot to 17 mm by shears }"),
    ] {
        let repo = Repo::demo();
        merging(&repo);
        repo.git("checkout -q -b theirs").ends(0);
        if theirs.contains("17 mm") {
            repo.change("harbour-short.trim", "topknot to 18 mm by shears }", "topknot to 20 mm by shears }");
        }
        repo.change("harbour-short.trim", "shape    brows to 8 mm", "shape    brows to 9 mm");
        repo.commit("theirs");
        repo.git("checkout -q main").ends(0);
        repo.change("harbour-short.trim", ours, theirs);
        repo.commit("ours");
        let ran = repo.git("merge -q theirs -m both");
        assert_eq!(ran.code, Some(1), "{ours}: {ran:#?}");
        let text = repo.read("harbour-short.trim");
        assert!(text.contains("<<<<<<< ours\n") && text.contains("\n>>>>>>> theirs"), "{ran:#?}\n{text}");
        // The rest is merged, and only the statement is marked.
        assert!(text.contains("shape    brows to 9 mm"), "{text}");
        let between = text.split("<<<<<<< ours\n").nth(1).unwrap().split("\n>>>>>>> theirs").next().unwrap();
        assert!(between.lines().count() <= 4, "{between}");
        repo.run("check harbour-short.trim").ends(1);
    }
}

#[test]
fn a_guard_may_be_made_stronger_by_one_side() {
    let repo = Repo::demo();
    merging(&repo);
    repo.git("checkout -q -b theirs").ends(0);
    repo.change(
        "harbour-short.trim",
        "guard    sensitive-belly { skim belly rear with #10 with the coat, one pass }",
        "guard    sensitive-belly { leave belly rear }",
    );
    repo.commit("theirs");
    repo.git("checkout -q main").ends(0);
    repo.change("harbour-short.trim", "shape    brows to 8 mm", "shape    brows to 9 mm");
    repo.commit("ours");
    repo.git("merge -q theirs -m both").ends(0);
    assert!(repo.read("harbour-short.trim").contains("guard    sensitive-belly { leave belly rear }"));
}

#[test]
fn what_cannot_be_read_is_merged_by_lines() {
    let repo = Repo::empty();
    repo.write("base.trim", "recipe a {\n  clpi ribs\n  leave ears\n\n\n\n  leave beard\n}\n");
    repo.write("ours.trim", "recipe a {\n  clpi ribs\n  leave ears, tail\n\n\n\n  leave beard\n}\n");
    repo.write("theirs.trim", "recipe a {\n  clpi ribs\n  leave ears\n\n\n\n  leave beard, lashes\n}\n");
    let ran = repo.run("merge base.trim ours.trim theirs.trim").ends(0);
    assert!(ran.err.contains("one of the texts can't be read"), "{ran:#?}");
    assert!(repo.read("ours.trim").contains("ears, tail") && repo.read("ours.trim").contains("beard, lashes"));
    repo.write("theirs.trim", "recipe a {\n  clpi ribs\n  leave ears, topknot\n\n\n\n  leave beard\n}\n");
    repo.run("merge base.trim ours.trim theirs.trim").ends(1);
    assert!(repo.read("ours.trim").contains("<<<<<<<"));
    repo.run("merge nowhere.trim ours.trim theirs.trim").ends(2);
}
