//! `merge`: two edits of one text, statement by statement.

use super::{Found, files, out::Out, revisions::git, stop::Stop, write};
use coatwright::{
    merge::{Around, Merged, merge},
    workspace,
};
use std::path::{Path, PathBuf};

/// Merge two edits of a text by statement (for git)
///
/// Edits of neighbouring lines and lines that changed places don't meet; two edits of one statement do. A keep or a guard is never
/// merged away or made weaker: that is a conflict to look at, with the usual markers. What can't be read is merged by its lines.
///
/// The outcome is written over OURS. It ends with 0 if all was merged, 1 if there are conflicts, and 2 if it couldn't merge.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  git config merge.trim.name 'trims, by statement'
  git config merge.trim.driver 'coatwright merge %O %A %B %P'
                                  and `*.trim merge=trim` in .gitattributes
  coatwright merge base.trim ours.trim theirs.trim")]
pub(super) struct Args {
    /// The text that both began with
    base: PathBuf,
    /// Our text, which is overwritten
    ours: PathBuf,
    /// Their text
    theirs: PathBuf,
    /// Where the text belongs [default: OURS]
    path: Option<PathBuf>,
}

pub(super) fn run(args: &Args, out: &mut Out) -> Result<Found, Stop> {
    let [base, ours, theirs] = [&args.base, &args.ours, &args.theirs].map(|path| files::read(path));
    let (base, ours, theirs) = (base?, ours?, theirs?);
    let path = args.path.as_ref().unwrap_or(&args.ours);
    let Some(Merged { text, conflicts }) = merge(&base, &ours, &theirs, &around(path, args)) else {
        out.say(&format!("{}: one of the texts can't be read; its lines are merged", path.display()));
        return by_lines(args);
    };
    write::replace(&args.ours, text)?;
    for conflict in &conflicts {
        out.say(&format!("{}: conflict: {conflict}", path.display()));
    }
    Ok(if conflicts.is_empty() { Found::Nothing } else { Found::Something })
}

/// The texts beside it, as they are in the folder now.
fn around(path: &Path, args: &Args) -> Around {
    let near = [Some(path), path.parent().filter(|p| !p.as_os_str().is_empty())];
    let gathered = near.into_iter().flatten().find_map(|p| workspace::gather(&[p.to_path_buf()]).ok());
    let mut texts = gathered.map(|g| g.texts).unwrap_or_default();
    let own = [path, &args.base, &args.ours, &args.theirs];
    // What is being merged itself can't be read until it is.
    texts.retain(|(p, text)| !own.iter().any(|o| o == p) && !text.contains("\n<<<<<<< "));
    Around { path: path.to_path_buf(), texts }
}

/// As git merges any text.
fn by_lines(args: &Args) -> Result<Found, Stop> {
    let name = |path: &Path| path.display().to_string();
    let (ours, base, theirs) = (name(&args.ours), name(&args.base), name(&args.theirs));
    let output = git(&["merge-file", "-L", "ours", "-L", "base", "-L", "theirs", "--", &ours, &base, &theirs])?;
    match output.status.code() {
        Some(0) => Ok(Found::Nothing),
        Some(1..=127) => Ok(Found::Something),
        _ => Err(Stop::because("git can't merge the lines either")),
    }
}
