//! `history`: what each revision changed on a recipe's dogs.

use super::{
    Found, diff,
    out::Out,
    revisions::{Commit, Git, Revisions, Texts, said},
    run,
    stop::Stop,
    target::Target,
};
use coatwright::{
    compare::{self, Compared, Status, Version},
    diagnostic::code,
    memo::Memo,
};
use std::{
    fmt::Write as _,
    path::{Path, PathBuf},
};

/// Tell what each revision in git changed on a recipe, a line each
///
/// The newest comes first. A change of its base or house is a change of the recipe, too; a revision that only words it otherwise
/// says so, and one that has nothing to do with it is left out. A recipe or file that was renamed is followed.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  coatwright history harbour-short             since it was first written
  coatwright history harbour-short.trim --most 5
  coatwright diff 1a2b3c4~1 1a2b3c4            all that one of them changed")]
pub(super) struct Args {
    /// The recipe: its name, its file, or FILE#NAME
    recipe: Target,
    /// The revision from which to look back
    #[arg(long, value_name = "REVISION", default_value = "HEAD")]
    from: String,
    /// How many revisions that touch any recipe are looked at
    #[arg(long, value_name = "NUMBER", default_value_t = 200)]
    most: usize,
}

pub(super) fn run(args: &Args, out: &mut Out) -> Result<Found, Stop> {
    let name = args.recipe.named(run::Kind::Recipe)?;
    let git = Git::here()?;
    let commits = git.history(&args.from, args.most)?;
    let mut memo = Memo::default();
    let mut known = git.texts(&args.from)?;
    let Some(file) = file_of(&known, &name, args.recipe.file.as_deref()) else {
        let words =
            format!("no recipe is called `{name}` in `{}`; `coatwright diff` sees what isn't committed", args.from);
        return Err(said(code::G002, &words));
    };
    let mut follows = Follows { name, file };
    let mut shown = 0;
    for (number, commit) in commits.iter().enumerate() {
        let before = match commits.get(number + 1) {
            Some(earlier) => git.texts(&earlier.id)?,
            None if commits.len() == args.most => break,
            None => Texts::new(),
        };
        let compared = follows.step(&before, &known, &mut memo);
        known = before;
        let Some(compared) = compared else { continue };
        if let Some(line) = line(&compared, commit) {
            out.write(&line)?;
            shown += 1;
        }
        if compared.status == Status::New {
            break;
        }
        follows.back(&compared);
    }
    out.say(&if shown == 1 { "1 revision.".to_owned() } else { format!("{shown} revisions.") });
    Ok(Found::Nothing)
}

/// In which file a recipe stands.
fn file_of(texts: &Texts, name: &str, file: Option<&Path>) -> Option<PathBuf> {
    let wanted = |path: &Path| file.is_none_or(|f| diff::plain(f) == path);
    let mut holds = texts.iter().filter(|(path, text)| {
        wanted(path) && text.contains("recipe") && run::declared(text, run::Kind::Recipe).iter().any(|n| n == name)
    });
    holds.next().map(|(path, _)| path.clone())
}

/// What a recipe is called, and where it stands, at the revision that was reached.
struct Follows {
    name: String,
    file: PathBuf,
}

impl Follows {
    /// The recipe in two versions.
    fn step(&self, before: &Texts, now: &Texts, memo: &mut Memo) -> Option<Compared> {
        let is_it = |path: &Path| path == self.file;
        let (old, new) = (Version::of(before.clone(), &is_it, memo), Version::of(now.clone(), &is_it, memo));
        let all = compare::compare(&old, &new, false);
        all.into_iter().find(|c| !c.house && c.name == self.name && Path::new(&c.file) == self.file)
    }

    /// One revision back.
    fn back(&mut self, compared: &Compared) {
        if let Some(was) = &compared.was {
            self.name = was.to_string();
        }
        if let Some(was) = &compared.was_in {
            self.file = PathBuf::from(was);
        }
    }
}

/// `2026-11-24  1a2b3c4  version 5  closer: belly rear: … (and 2 more)`; none if it was left alone.
fn line(compared: &Compared, commit: &Commit) -> Option<String> {
    let moved = compared.was.is_some() || compared.was_in.is_some();
    let mut words = match &compared.status {
        Status::Same if !compared.reworded && !moved => return None,
        Status::Same => "the same trim".to_owned(),
        Status::New => "new".to_owned(),
        Status::Gone => "gone".to_owned(),
        Status::Unreadable(why) => format!("can't be compared: {why}"),
        Status::Changed(changes) => {
            let first = changes.first()?;
            let mut words = format!("{}: {}", first.rank.word(), first.sentence());
            match changes.len() - 1 {
                0 => {}
                more => {
                    let _ = write!(words, " (and {more} more)");
                }
            }
            words
        }
    };
    if let Some(was) = &compared.was {
        let _ = write!(words, "; was {was}");
    } else if let Some(was) = &compared.was_in {
        let _ = write!(words, "; was in {was}");
    }
    let version = match compared.versions {
        (Some(a), Some(b)) if a != b => format!("version {a} to {b}"),
        (_, Some(b)) => format!("version {b}"),
        _ => String::new(),
    };
    Some(format!("{}  {}  {version:<14}  {words}  [{}]\n", commit.day, commit.short, commit.subject))
}
