//! `diff`: what changed on the dog between two versions.

use super::{
    Found, files,
    out::Out,
    revisions::{Git, Revisions, Texts, said},
    run,
    stop::Stop,
    target::Target,
    unified, write,
};
use clap::ValueEnum;
use coatwright::{
    compare::{self, Compared, Status, Version},
    diagnostic::code,
    memo::Memo,
    workspace,
};
use std::{
    path::{Path, PathBuf},
    sync::Arc,
};

/// Tell what changed on the dog between two versions of recipes
///
/// Both versions are worked out for every dog that both serve, part by part: a new wording of the same trim is no change, and a
/// change of the house or of a base shows on each recipe that it touches. What asks for less care comes first, then what comes
/// closer to the skin. Each change is told with the dog for which it is largest.
///
/// A version is a file or folder, a revision of git (`main`, `HEAD~3`, a tag), or a path in one (`HEAD~3:recipes`). A lone `:` is
/// what is staged. Beside a file or folder a revision means that same path. What is both a file and a revision is taken for the
/// file: write `main:` for the revision. Cards and cases aren't compared.
///
/// It ends with 0 if every trim is the same, 1 if one changed, and 2 if it couldn't compare. As git's external diff it always
/// ends with 0.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  coatwright diff                          since the last commit, in this folder
  coatwright diff HEAD~3                   since three commits ago
  coatwright diff v1 v2 recipes            between two tags, in one folder
  coatwright diff main:short.trim short.trim
  coatwright diff old.trim new.trim        two files
  coatwright diff --format markdown main   for a review
  coatwright diff main --picture now.html  and the dog before and now, side by side; .svg or .png beside a review
  git config diff.trim.command 'coatwright diff'    and `*.trim diff=trim` in .gitattributes:
                                           then `git diff` tells it")]
pub(super) struct Args {
    /// Two versions, or a revision and a path; or what git hands to an external diff
    #[arg(value_name = "VERSION", num_args = 0..=9)]
    versions: Vec<String>,
    /// How it looks
    #[arg(long, value_enum, default_value_t, value_name = "FORM")]
    format: Look,
    /// Write the dogs that changes are shown on into a file, each as a card to try
    #[arg(long, value_name = "FILE")]
    dogs: Option<PathBuf>,
    /// Write the dog before and now, side by side: the one on which the gravest change is largest, or that of `--dog`. A page, or
    /// a picture by its name: .html, .svg or .png
    #[arg(long, value_name = "FILE")]
    picture: Option<PathBuf>,
    /// With `--picture`: the dog of this card (a name, a file, or file.trim#name)
    #[arg(long, value_name = "CARD", requires = "picture")]
    dog: Option<Target>,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
enum Look {
    /// For reading
    #[default]
    Text,
    /// For a review
    Markdown,
    /// One JSON object a recipe and line (see `coatwright schema diff`)
    Json,
}

/// A version as it was named.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Named {
    /// On disk.
    Disk(PathBuf),
    /// In a revision, all of it or at a path.
    Revision(String, Option<PathBuf>),
}

impl Named {
    /// A file that is there before a revision of the same name.
    pub(super) fn read(text: &str) -> Self {
        let path = Path::new(text);
        if path.exists() {
            return Self::Disk(plain(path));
        }
        match text.split_once(':') {
            Some((revision, path)) => {
                Self::Revision(revision.to_owned(), (!path.is_empty()).then(|| plain(Path::new(path))))
            }
            None => Self::Revision(text.to_owned(), None),
        }
    }

    fn path(&self) -> Option<&Path> {
        match self {
            Self::Disk(path) => Some(path),
            Self::Revision(_, path) => path.as_deref(),
        }
    }

    fn at(self, other: Option<&Path>) -> Self {
        match self {
            Self::Revision(revision, None) => Self::Revision(revision, other.map(Path::to_path_buf)),
            known => known,
        }
    }
}

/// A path as it is seen from the folder we are in, written in one way: `../south/house.trim` in `south` is `house.trim`. One that is
/// named from the top and lies elsewhere stays so.
pub(super) fn plain(path: &Path) -> PathBuf {
    let here = std::env::current_dir().unwrap_or_default();
    let full = workspace::full(path);
    if path.is_absolute() && !full.starts_with(&here) {
        return full;
    }
    let path = workspace::way(&here, &full);
    if path.as_os_str().is_empty() { PathBuf::from(".") } else { path }
}

pub(super) fn run(args: &Args, out: &mut Out) -> Result<Found, Stop> {
    let mut memo = Memo::default();
    if let [path, old, _, _, new, _, _, renamed @ ..] = args.versions.as_slice() {
        let now = renamed.first().unwrap_or(path);
        return driver((path, old), (now, new), out);
    }
    if args.picture.as_ref().is_some_and(|path| !["html", "svg", "png"].contains(&files::ending(path).as_str())) {
        let message = "the picture is a page or a picture: its name ends in `.html`, `.svg` or `.png`, such as `--picture now.png`";
        return Err(Stop::because(message));
    }
    let (old, new) = versions(&args.versions)?;
    let pair = is_file(&old) && is_file(&new);
    let git = match (&old, &new) {
        (Named::Disk(_), Named::Disk(_)) => None,
        _ => Some(Git::here()?),
    };
    let git = git.as_ref().map(|git| -> &dyn Revisions { git });
    let (mut a, mut b) = (texts(&old, git)?, texts(&new, git)?);
    if let (true, Some(x), Some(y)) = (pair, old.path(), new.path()) {
        // Of two files of one folder each stands for the other.
        if x != y {
            a.retain(|(path, _)| path != y);
            b.retain(|(path, _)| path != x);
        }
    }
    let (a, b) = (version(a, &old, &mut memo), version(b, &new, &mut memo));
    let asked = |version: &Version| version.workspaces().any(|w| !w.asked().is_empty());
    if !asked(&a) && !asked(&b) {
        let path = old.path().or(new.path()).unwrap_or(Path::new("."));
        return Err(said(code::G002, &format!("neither version holds a .trim file at {}", path.display())));
    }
    let all = compare::compare(&a, &b, pair);
    let found = tell(&all, args, out)?;
    if let Some(path) = &args.picture {
        picture((&a, &b), &all, args.dog.as_ref(), path, out)?;
    }
    Ok(found)
}

/// Which two versions are meant.
fn versions(words: &[String]) -> Result<(Named, Named), Stop> {
    let mut named = words.iter().map(|w| Named::read(w));
    let here = || Named::Disk(PathBuf::from("."));
    let head = |path: &Path| Named::Revision("HEAD".to_owned(), Some(path.to_path_buf()));
    match (named.next(), named.next(), named.next(), named.next()) {
        (None, ..) => Ok((head(Path::new(".")), here())),
        (Some(Named::Disk(path)), None, ..) => Ok((head(&path), Named::Disk(path))),
        (Some(Named::Revision(revision, None)), None, ..) => {
            Ok((Named::Revision(revision, Some(PathBuf::from("."))), here()))
        }
        (Some(old @ Named::Revision(..)), None, ..) => {
            let path = old.path().map(Path::to_path_buf).unwrap_or_default();
            Ok((old, Named::Disk(path)))
        }
        (Some(old), Some(new), None, _) => {
            let (x, y) = (old.path().map(Path::to_path_buf), new.path().map(Path::to_path_buf));
            Ok((old.at(y.as_deref()), new.at(x.as_deref())))
        }
        (Some(old), Some(new), Some(path), None) => {
            let path = match path {
                Named::Disk(path) => path,
                Named::Revision(path, None) => plain(Path::new(&path)),
                Named::Revision(..) => return Err(Stop::because("after two revisions comes a path")),
            };
            Ok((old.at(Some(&path)), new.at(Some(&path))))
        }
        _ => Err(Stop::because("give two versions, or two revisions and a path")),
    }
}

fn is_file(named: &Named) -> bool {
    named.path().is_some_and(|p| p.extension().is_some_and(|e| e == "trim"))
}

/// The texts of a version, with those around it.
pub(super) fn texts(named: &Named, git: Option<&dyn Revisions>) -> Result<Texts, Stop> {
    match (named, git) {
        (Named::Disk(path), _) => {
            let gathered = workspace::gather(std::slice::from_ref(path)).map_err(super::run::stop)?;
            Ok(gathered.texts.into_iter().map(|(path, text)| (plain(&path), text)).collect())
        }
        (Named::Revision(revision, _), Some(git)) => git.texts(revision),
        (Named::Revision(..), None) => Ok(Vec::new()),
    }
}

/// A version of those texts, of which what was named is asked for.
pub(super) fn version(texts: Texts, named: &Named, memo: &mut Memo) -> Version {
    let asked = |path: &Path| match named.path() {
        None => true,
        Some(at) if at == Path::new(".") => !path.starts_with(".."),
        Some(at) => path.starts_with(at),
    };
    Version::of(texts, &asked, memo)
}

/// Writes the page, or the picture, with the dog before and now.
fn picture(
    (old, new): (&Version, &Version),
    all: &[Compared],
    dog: Option<&Target>,
    path: &Path,
    out: &mut Out,
) -> Result<(), Stop> {
    let card = dog.map(run::card_text).transpose()?;
    let (compared, card, whom) = match &card {
        None => {
            let Some((compared, card, whom)) = compare::gravest(all) else {
                out.say("No picture: nothing changed that a dog shows.");
                return Ok(());
            };
            (compared, card.to_owned(), whom.to_owned())
        }
        Some(card) => {
            let changed = || all.iter().filter(|c| !c.house && matches!(c.status, Status::Changed(_)));
            let wanted = |c: &&Compared| card.wants.as_deref() == Some(c.name.as_str());
            let only = || changed().next().filter(|_| changed().count() == 1);
            let Some(compared) = changed().find(wanted).or_else(only) else {
                return Err(Stop::because(format!(
                    "{} wants no recipe that changed, and not just one changed; name the recipe's file as both versions",
                    card.name
                )));
            };
            (compared, card.text.clone(), card.name.clone())
        }
    };
    let shown = compare::shown(old, new, compared, &card, &whom)
        .map_err(|why| Stop::because(format!("there is no picture of {whom}: {why}")))?;
    match files::ending(path).as_str() {
        "svg" => write::replace(path, run::pair_alone(&shown).svg)?,
        "png" => {
            let png = run::png(&run::pair_alone(&shown).svg, 1600).map_err(|e| Stop::because(e.to_string()))?;
            write::replace(path, png)?;
        }
        _ => write::replace(path, run::pair(&shown))?,
    }
    out.say(&format!("The picture is written to {}.", path.display()));
    Ok(())
}

fn tell(all: &[Compared], args: &Args, out: &mut Out) -> Result<Found, Stop> {
    match args.format {
        Look::Text => out.write(&compare::text(all, out.look()))?,
        Look::Markdown => out.write(&compare::markdown(all))?,
        Look::Json => {
            let lines = compare::json(all).map_err(|_| Stop::because("the changes can't be written as JSON"))?;
            out.write(&lines)?;
        }
    }
    if let Some(path) = &args.dogs {
        let dogs: Vec<&str> = all.iter().flat_map(|c| c.changes()).filter_map(|c| c.dog.as_deref()).collect();
        let head = "-- Dogs on which something changed. Their days only say how old they are.\n\n";
        write::replace(path, format!("{head}{}", compare::cards(&dogs)))?;
        out.say(&format!("The dogs are written to {}.", path.display()));
    }
    if args.format == Look::Text {
        out.say(&summary(all));
    }
    let unread = all.iter().filter(|c| matches!(c.status, Status::Unreadable(_))).count();
    match unread {
        0 if all.iter().all(|c| c.status == Status::Same) => Ok(Found::Nothing),
        0 => Ok(Found::Something),
        1 => Err(Stop::because("one recipe can't be compared; `coatwright check` tells its mistakes")),
        n => Err(Stop::because(format!("{n} recipes can't be compared; `coatwright check` tells their mistakes"))),
    }
}

/// `2 recipes changed, 1 of them asks for less care; 5 are the same.`
fn summary(all: &[Compared]) -> String {
    let many = |n: usize| if n == 1 { "1 recipe".to_owned() } else { format!("{n} recipes") };
    let of = |is: &dyn Fn(&Compared) -> bool| all.iter().filter(|c| !c.house && is(c)).count();
    let changed = of(&|c| matches!(c.status, Status::Changed(_)));
    let same = of(&|c| c.status == Status::Same);
    let (new, gone) = (of(&|c| c.status == Status::New), of(&|c| c.status == Status::Gone));
    let looser = all.iter().filter(|c| c.is_looser()).count();
    let mut words = Vec::new();
    if changed > 0 {
        words.push(format!("{} changed", many(changed)));
    }
    if new > 0 {
        words.push(format!("{new} new"));
    }
    if gone > 0 {
        words.push(format!("{gone} gone"));
    }
    if same > 0 {
        words.push(format!("{} the same on every dog", many(same)));
    }
    let mut line = if words.is_empty() { "No recipe to compare".to_owned() } else { words.join(", ") };
    if looser > 0 {
        line.push_str("; a keep or guard asks for less");
    }
    line + "."
}

/// What git hands to an external diff: one file in two versions, in the folder as it is now.
fn driver((path, old): (&str, &str), (now, new): (&str, &str), out: &mut Out) -> Result<Found, Stop> {
    let text = |file: &str| -> Result<Option<Arc<str>>, Stop> {
        if file == "/dev/null" || file == "nul" {
            Ok(None)
        } else {
            files::read(Path::new(file)).map(|t| Some(t.into()))
        }
    };
    let (before, after) = (text(old)?, text(new)?);
    // Around a file that is gone there is still its folder.
    let at = Path::new(now);
    let near = [Some(at), at.parent().filter(|p| !p.as_os_str().is_empty())];
    let around = near.into_iter().flatten().find_map(|p| workspace::gather(&[p.to_path_buf()]).ok());
    let mut around: Texts = around.map(|g| g.texts).unwrap_or_default();
    around.retain(|(p, _)| p != Path::new(now) && p != Path::new(path));
    let many = around.len();
    let side = |path: &str, text: Option<Arc<str>>| {
        let mut texts = around.clone();
        texts.extend(text.map(|t| (PathBuf::from(path), t)));
        let asked = PathBuf::from(path);
        Version::of(texts, &|p| p == asked, &mut Memo::default())
    };
    let all = compare::compare(&side(path, before.clone()), &side(now, after.clone()), false);
    let (a, b) = (before.as_deref().unwrap_or(""), after.as_deref().unwrap_or(""));
    let look = out.look();
    if all.is_empty() {
        // Cards and cases are read as they stand.
        return out.write(&unified::between((path, now), a, b, look.colour)).map(|()| Found::Nothing);
    }
    let files = if many == 1 { "1 other file".to_owned() } else { format!("{many} other files") };
    out.write(&format!("{now}: with {files} of its house as they are in this folder now\n"))?;
    out.write(&compare::text(&all, look))?;
    if all.iter().all(|c| c.status == Status::Same && !c.reworded) {
        out.write("  the same trim on every dog\n")?;
    }
    Ok(Found::Nothing)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(words: &[&str]) -> (Named, Named) {
        let words: Vec<String> = words.iter().map(|w| (*w).to_owned()).collect();
        versions(&words).unwrap_or_else(|_| (Named::Disk("?".into()), Named::Disk("?".into())))
    }

    #[test]
    fn versions_are_understood() {
        let disk = |p: &str| Named::Disk(p.into());
        let revision = |r: &str, p: &str| Named::Revision(r.into(), (!p.is_empty()).then(|| p.into()));
        assert_eq!(of(&[]), (revision("HEAD", "."), disk(".")));
        assert_eq!(of(&["src"]), (revision("HEAD", "src"), disk("src")));
        assert_eq!(of(&["v1"]), (revision("v1", "."), disk(".")));
        assert_eq!(of(&["v1:a.trim"]), (revision("v1", "a.trim"), disk("a.trim")));
        assert_eq!(of(&["v1", "src"]), (revision("v1", "src"), disk("src")));
        assert_eq!(of(&["v1", "v2"]), (revision("v1", ""), revision("v2", "")));
        assert_eq!(of(&["v1", "v2", "x/y.trim"]), (revision("v1", "x/y.trim"), revision("v2", "x/y.trim")));
        assert_eq!(of(&["HEAD", ":"]), (revision("HEAD", ""), revision("", "")));
        assert_eq!(of(&["src", "./src"]), (disk("src"), disk("src")));
    }
}
