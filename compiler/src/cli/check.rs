//! `check`: the messages about recipes and cards.

use super::{Found, against, files, fix, form::Form, out::Out, run, stop::Stop, write};
use coatwright::{
    diagnostic::{
        Diagnostic, Severity,
        render::{Format, render},
    },
    workspace::Workspace,
};
use std::{
    collections::HashSet,
    fmt::Write as _,
    path::{Path, PathBuf},
};

/// Fixes may make room for others; after so many rounds it is enough.
const ROUNDS: usize = 10;

/// Check recipes, cards and houses
///
/// Each recipe is checked for every dog that it says it serves: closeness to the skin, teeth, direction, lines that
/// would show, tools that the kit lacks. Each card is checked for what a sheet needs.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  coatwright check                    everything in this folder
  coatwright check harbour.trim       one file
  coatwright check --fix              mend what can be mended without asking
  coatwright check --dogs failing.trim    the dogs that it fails for, as cards
  coatwright check --against main     and that no keep or guard asks for less than there
  coatwright check --format short     one line a message, for lists and editors")]
pub(super) struct Args {
    /// Files or folders (`-` reads the text from standard input) [default: this folder]
    paths: Vec<PathBuf>,
    /// How messages look [default: rich on a terminal, else plain]
    #[arg(long, value_enum)]
    format: Option<Form>,
    /// Mend what can be mended without asking
    #[arg(long)]
    fix: bool,
    /// Write the dogs that messages fail for into a file, each as a card to try
    #[arg(long, value_name = "FILE")]
    dogs: Option<PathBuf>,
    /// Let warnings count as something found
    #[arg(long)]
    deny_warnings: bool,
    /// A revision in git that no keep and no guard may ask for less than
    #[arg(long, value_name = "REVISION", conflicts_with = "fix")]
    against: Option<String>,
    /// The name to show for the text from standard input
    #[arg(long, value_name = "NAME")]
    stdin_name: Option<PathBuf>,
}

pub(super) fn run(args: &Args, out: &mut Out) -> Result<Found, Stop> {
    let stdin = files::from_stdin(&args.paths)?;
    let (workspace, messages, mended) = match (stdin, args.fix) {
        (true, true) => return Err(Stop::because("`--fix` writes files; it can't mend standard input")),
        (true, false) => {
            let workspace = read_stdin(args.stdin_name.as_deref())?;
            let messages = run::check(&workspace);
            (workspace, messages, 0)
        }
        (false, true) => mend(&files::or_here(&args.paths))?,
        (false, false) => {
            let workspace = run::open(&files::or_here(&args.paths))?;
            let messages = run::check(&workspace);
            (workspace, messages, 0)
        }
    };
    let mut messages = messages;
    if let Some(revision) = &args.against {
        if stdin {
            return Err(Stop::because("`--against` compares files; it can't look at standard input"));
        }
        messages.extend(against::looser(revision, &files::or_here(&args.paths), &workspace)?);
        coatwright::diagnostic::in_order(&mut messages);
    }
    let format = Form::or_suiting(args.format, out.on_terminal());
    out.write(&render(&messages, workspace.sources(), format, out.look()))?;
    if let Some(path) = &args.dogs {
        out.say(&write_dogs(path, &messages)?);
    }
    if matches!(format, Format::Rich | Format::Plain) {
        out.say(&summary(&messages, workspace.asked().len(), mended));
    }
    let worst = if args.deny_warnings { Severity::Warning } else { Severity::Error };
    let found = if messages.iter().any(|m| m.severity >= worst) { Found::Something } else { Found::Nothing };
    // The run ends here; taking large trees apart first would only make the user wait.
    std::mem::forget(workspace);
    Ok(found)
}

/// The dogs that messages fail for, as cards in a file; what was done, in words.
fn write_dogs(path: &Path, messages: &[Diagnostic]) -> Result<String, Stop> {
    // Two messages can fail for one dog; its card, which begins with its name, is wanted once.
    let mut dogs = HashSet::new();
    let cards: Vec<&str> = messages
        .iter()
        .filter_map(|m| m.dog.as_deref())
        .filter(|card| dogs.insert(card.split_once('\n').map_or(*card, |(_, lines)| lines)))
        .collect();
    if cards.is_empty() {
        return Ok(format!("No dog fails, so that nothing is written to {}.", path.display()));
    }
    let head = "-- Dogs for which the check found something. Their days only say how old they are.\n\n";
    write::replace(path, format!("{head}{}", cards.join("\n")))?;
    let s = if cards.len() == 1 { "" } else { "s" };
    Ok(format!("{} dog{s} written to {}.", cards.len(), path.display()))
}

fn read_stdin(name: Option<&Path>) -> Result<Workspace, Stop> {
    let name = name.unwrap_or_else(|| Path::new("standard-input.trim"));
    run::with_text(name.display().to_string(), files::read_stdin()?, Some(name))
}

/// Applies safe fixes, round after round, until there are none left.
fn mend(paths: &[PathBuf]) -> Result<(Workspace, Vec<Diagnostic>, usize), Stop> {
    let mut mended = 0;
    for round in 0.. {
        let workspace = run::open(paths)?;
        let messages = run::check(&workspace);
        let (texts, count) = fix::mend(&messages, workspace.sources(), workspace.asked());
        if texts.is_empty() || round == ROUNDS {
            return Ok((workspace, messages, mended));
        }
        for text in &texts {
            let path = Path::new(workspace.sources().name(text.file));
            write_mended(path, workspace.sources().text(text.file), &text.text)?;
        }
        mended += count;
    }
    Err(Stop::because("the fixes don't come to an end"))
}

/// Writes a mended text if its file still holds what was checked.
pub(super) fn write_mended(path: &Path, checked: &str, mended: &str) -> Result<(), Stop> {
    let now = files::read(path)?;
    let mark = if now.starts_with('\u{feff}') && !checked.starts_with('\u{feff}') { "\u{feff}" } else { "" };
    if now.strip_prefix(mark) != Some(checked) {
        let words = format!("{} was changed while it was being checked; nothing was written", path.display());
        return Err(Stop::because(words));
    }
    write::replace(path, format!("{mark}{mended}"))
}

/// `1 error, 2 warnings in 3 files.`
fn summary(messages: &[Diagnostic], files: usize, mended: usize) -> String {
    let mut words = Vec::new();
    for severity in [Severity::Error, Severity::Warning, Severity::Note] {
        let count = messages.iter().filter(|m| m.severity == severity).count();
        if count > 0 {
            words.push(number(count, severity.word()));
        }
    }
    let mut line = if words.is_empty() { "Nothing found".to_owned() } else { words.join(", ") };
    let _ = write!(line, " in {}", number(files, "file"));
    if mended > 0 {
        let _ = write!(line, "; {} mended", number(mended, "place"));
    }
    line + "."
}

fn number(count: usize, word: &str) -> String {
    format!("{count} {word}{}", if count == 1 { "" } else { "s" })
}

#[cfg(test)]
mod tests {
    use super::*;
    use coatwright::source::{FileId, Place};

    #[test]
    fn the_last_line_counts() {
        let place = Place { file: FileId(0), start: 0, end: 0 };
        let (error, warning) = (Diagnostic::error("C001", place, "x"), Diagnostic::warning("C001", place, "x"));
        assert_eq!(
            summary(&[error, warning.clone(), warning], 3, 1),
            "1 error, 2 warnings in 3 files; 1 place mended."
        );
        assert_eq!(summary(&[], 1, 0), "Nothing found in 1 file.");
    }
}
