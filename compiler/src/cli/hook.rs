//! `hook`: a look at what is staged before it is committed.

use super::{
    Found,
    out::Out,
    revisions::{Git, Revisions, Texts, git, said},
    run,
    stop::Stop,
    unified, write,
};
use coatwright::{
    compare::{self, Compared, Status, Version},
    diagnostic::{
        Diagnostic, Severity, code,
        render::{Format, render},
    },
    memo::Memo,
};
use std::{
    collections::BTreeSet,
    fs,
    path::{Path, PathBuf},
};

/// Let git look over recipes before they are committed
///
/// It writes a pre-commit hook into the repository around this folder. From then on `git commit` stops if a staged text isn't laid
/// out (`coatwright fmt`), if `coatwright check` finds an error in what is staged, or if a trim changed and its `version` didn't
/// rise. A hook that is there already is never overwritten. `git commit --no-verify` passes by it.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  coatwright hook           write the hook
  coatwright hook --run     what the hook does: look over what is staged")]
pub(super) struct Args {
    /// Look over what is staged
    #[arg(long)]
    run: bool,
}

/// By which a hook is known as ours.
const MARK: &str = "coatwright hook --run";

const HOOK: &str = "\
#!/bin/sh
# Written by `coatwright hook`: layout, rules and versions of what is staged. Take the file away to be rid of it.
if ! command -v coatwright >/dev/null 2>&1; then
  echo 'coatwright is not on the PATH, so that the recipes were not checked (git commit --no-verify passes by)' >&2
  exit 1
fi
exec coatwright hook --run
";

pub(super) fn run(args: &Args, out: &mut Out) -> Result<Found, Stop> {
    if args.run { look_over(out) } else { install(out) }
}

fn install(out: &mut Out) -> Result<Found, Stop> {
    Git::here()?;
    let output = git(&["rev-parse", "--git-path", "hooks"])?;
    let folder = PathBuf::from(String::from_utf8_lossy(&output.stdout).trim_end_matches(['\n', '\r']));
    let path = folder.join("pre-commit");
    if let Ok(text) = fs::read_to_string(&path) {
        if text.contains(MARK) {
            out.say(&format!("{} looks over recipes already.", path.display()));
            return Ok(Found::Nothing);
        }
        return Err(said(
            code::G002,
            &format!("{} is there already and is left as it is; add the line `{MARK}` to it", path.display()),
        ));
    }
    fs::create_dir_all(&folder).map_err(|e| Stop::file("write", &folder, &e))?;
    write::create(&path, HOOK)?;
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        fs::set_permissions(&path, fs::Permissions::from_mode(0o755)).map_err(|e| Stop::file("write", &path, &e))?;
    }
    out.say(&format!("Written to {}.", path.display()));
    Ok(Found::Nothing)
}

/// What is staged: its layout, its rules, its versions.
fn look_over(out: &mut Out) -> Result<Found, Stop> {
    let revisions = Git::here()?;
    let staged = revisions.texts("")?;
    // Before the first commit there was nothing.
    let before = if git(&["rev-parse", "--verify", "--quiet", "HEAD"])?.status.success() {
        revisions.texts("HEAD")?
    } else {
        Texts::new()
    };
    let known = |path: &Path, text: &str| before.iter().any(|(p, t)| p == path && **t == *text);
    let changed: BTreeSet<PathBuf> =
        staged.iter().filter(|(path, text)| !known(path, text)).map(|(path, _)| path.clone()).collect();
    let mut found = layout(&staged, &changed, out)?;
    let mut memo = Memo::default();
    let asked = |path: &Path| changed.contains(path);
    let new = Version::of(staged.clone(), &asked, &mut memo);
    for workspace in new.workspaces().filter(|w| !w.asked().is_empty()) {
        let messages: Vec<Diagnostic> =
            run::check(workspace).into_iter().filter(|d| d.severity == Severity::Error).collect();
        found |= !messages.is_empty();
        out.write(&render(&messages, workspace.sources(), Format::Plain, out.look()))?;
    }
    let all =
        compare::compare(&Version::of(before, &|_| true, &mut memo), &Version::of(staged, &|_| true, &mut memo), false);
    for one in all.iter().filter(|c| is_due(c)) {
        out.write(&due(one))?;
        found = true;
    }
    if found {
        out.say("Nothing is committed. Mend it and stage it again, or pass by with `git commit --no-verify`.");
    }
    Ok(if found { Found::Something } else { Found::Nothing })
}

/// Whether some text isn't laid out as `fmt` would.
fn layout(staged: &Texts, changed: &BTreeSet<PathBuf>, out: &mut Out) -> Result<bool, Stop> {
    let mut found = false;
    for (path, text) in staged.iter().filter(|(path, _)| changed.contains(path)) {
        let name = path.display().to_string();
        // What can't be laid out has a mistake that the check tells.
        let Ok(laid) = run::format(text) else { continue };
        if laid != **text {
            let colour = out.look().colour;
            out.write(&unified::diff(&name, text, &laid, colour))?;
            out.write(&format!("{name} isn't laid out: `coatwright fmt {name}`\n\n"))?;
            found = true;
        }
    }
    Ok(found)
}

/// Whether a recipe's or house's own words changed its trim, and its version didn't rise.
fn is_due(one: &Compared) -> bool {
    let (before, now) = one.versions;
    matches!(one.status, Status::Changed(_)) && one.reworded && before.is_some() && now <= before
}

fn due(one: &Compared) -> String {
    let (name, at) = (&one.name, one.versions.0.unwrap_or_default());
    let first = one.changes().first();
    let what = first.map(|c| format!("{}: {}", c.rank.word(), c.sentence())).unwrap_or_default();
    format!(
        "error[{}]: {name} does something else, and its version is still {at}\n  --> {}\n  {what}\n  = why: Sheets and \
         recipes that build on it name the version that they were made for.\n  = instead: Write `version {}`.\n\n",
        code::G004,
        one.file,
        at + 1
    )
}
