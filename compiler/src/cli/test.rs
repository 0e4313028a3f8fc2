//! `test`: the cases of a salon.

use super::{Found, files, fix, form::Form, out::Out, run, stop::Stop, write};
use coatwright::{
    cases::{CaseJson, Ran},
    diagnostic::{
        Diagnostic, code,
        render::{Format, Look, render},
    },
    workspace::Workspace,
};
use quick_junit::{NonSuccessKind, Report, TestCase, TestCaseStatus, TestSuite};
use std::{
    collections::BTreeMap,
    path::{Path, PathBuf},
    time::Instant,
};

/// What is accepted may let others be seen; after so many rounds it is enough.
const ROUNDS: usize = 10;

/// Run the cases: what each dog is expected to get
///
/// A case gives a dog and says what a recipe does to it. It passes if all its lines hold, and if nothing is said of that dog that
/// would hold the sheet up and that the case doesn't expect.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  coatwright test                        every case in this folder
  coatwright test cases.trim             those of one file
  coatwright test --only bramble         those whose name holds `bramble`
  coatwright test --cover                and the lines and guards that no case proves
  coatwright test --accept               let the cases expect what comes out today
  coatwright test --junit cases.xml      a report for a build server")]
pub(super) struct Args {
    /// Files or folders [default: this folder]
    paths: Vec<PathBuf>,
    /// Only cases whose name holds these letters
    #[arg(long, value_name = "LETTERS", default_value = "", hide_default_value = true)]
    only: String,
    /// How messages look [default: rich on a terminal, else plain]
    #[arg(long, value_enum)]
    format: Option<Form>,
    /// Tell the lines and guards that no case proves
    #[arg(long)]
    cover: bool,
    /// Rewrite the cases so that they expect what is done today, and its warnings; an error is never taken in
    #[arg(long, conflicts_with = "cover")]
    accept: bool,
    /// Write a JUnit report into a file
    #[arg(long, value_name = "FILE")]
    junit: Option<PathBuf>,
}

pub(super) fn run(args: &Args, out: &mut Out) -> Result<Found, Stop> {
    let paths = files::or_here(&args.paths);
    let mut workspace = run::open(&paths)?;
    let began = Instant::now();
    let mut all = run::cases(&workspace, &args.only);
    let took = began.elapsed();
    if all.is_empty() {
        let only = if args.only.is_empty() { String::new() } else { format!(" whose name holds `{}`", args.only) };
        let help = "Write one: `case NAME { recipe …; given dog …; expect … }`.";
        return Err(Stop::because(format!("there is no case here{only}. {help}")));
    }
    let before = failed(&all);
    let mut rounds = 0;
    while args.accept && rounds < ROUNDS && accept(&workspace, &all)? {
        workspace = run::open(&paths)?;
        all = run::cases(&workspace, &args.only);
        rounds += 1;
    }
    if let Some(path) = &args.junit {
        let report = junit(&all, &workspace, took);
        write::replace(path, report.to_string().map_err(|e| Stop::because(e.to_string()))?)?;
    }
    let (format, json) = (Form::or_suiting(args.format, out.on_terminal()), args.format == Some(Form::Json));
    let cover = args.cover.then(|| run::uncovered(&workspace, &all));
    if json {
        out.write(&lines(&all, &workspace)?)?;
    } else {
        // Together: a log is one.
        let said = all.iter().flat_map(|ran| &ran.said).chain(cover.iter().flat_map(|(_, notes)| notes));
        let said: Vec<Diagnostic> = said.cloned().collect();
        out.write(&render(&said, workspace.sources(), format, out.look()))?;
    }
    if let Some((many, notes)) = cover {
        out.say(&format!("The cases prove {} of {many} lines and guards.", many - notes.len()));
    }
    let failed = failed(&all);
    if !json {
        out.say(&summary(all.len(), failed, before.saturating_sub(failed)));
    }
    Ok(if failed > 0 { Found::Something } else { Found::Nothing })
}

fn failed(all: &[Ran]) -> usize {
    all.iter().filter(|ran| !ran.passed()).count()
}

fn lines(all: &[Ran], workspace: &Workspace) -> Result<String, Stop> {
    let line = |ran| serde_json::to_string(&CaseJson::of(ran, workspace.sources())).map(|line| line + "\n");
    all.iter().map(line).collect::<Result<_, _>>().map_err(|_| Stop::because("the cases can't be written as JSON"))
}

/// `3 cases passed, 1 failed.`
fn summary(many: usize, failed: usize, accepted: usize) -> String {
    let cases = |n: usize| if n == 1 { "1 case".to_owned() } else { format!("{n} cases") };
    let words = match failed {
        0 => format!("{} passed", cases(many)),
        _ if failed == many => format!("{} failed", cases(many)),
        _ => format!("{} passed, {failed} failed", cases(many - failed)),
    };
    match accepted {
        0 => words + ".",
        n => format!("{words}; {} now expect{} what comes out.", cases(n), if n == 1 { "s" } else { "" }),
    }
}

/// Lets the cases expect what comes out; whether anything was rewritten.
fn accept(workspace: &Workspace, all: &[Ran]) -> Result<bool, Stop> {
    // Whoever accepts has been asked; a message that isn't said any more is taken away by hand, for a guard may be lost.
    let own = |d: &&Diagnostic| d.code != code::T002;
    let mut said: Vec<Diagnostic> = all.iter().flat_map(|ran| ran.said.iter().filter(own).cloned()).collect();
    said.iter_mut().flat_map(|d| &mut d.fixes).for_each(|fix| fix.safe = true);
    let (texts, _) = fix::mend(&said, workspace.sources(), workspace.asked());
    for text in &texts {
        let path = Path::new(workspace.sources().name(text.file));
        super::check::write_mended(path, workspace.sources().text(text.file), &text.text)?;
    }
    Ok(!texts.is_empty())
}

/// The report for a build server: a suite a file, a test a case.
fn junit(all: &[Ran], workspace: &Workspace, took: std::time::Duration) -> Report {
    let mut suites: BTreeMap<&str, TestSuite> = BTreeMap::new();
    for ran in all {
        let name = workspace.sources().name(ran.place.file);
        let status = match ran.said.as_slice() {
            [] => TestCaseStatus::success(),
            said => {
                let unable = ran.recipe.is_none();
                let mut status =
                    TestCaseStatus::non_success(if unable { NonSuccessKind::Error } else { NonSuccessKind::Failure });
                let words: Vec<String> = said.iter().map(|d| format!("{} {}", d.code, d.message)).collect();
                status.set_message(words.join("\n"));
                status.set_description(render(said, workspace.sources(), Format::Plain, Look::default()));
                status
            }
        };
        let mut case = TestCase::new(ran.name.as_str(), status);
        case.set_classname(ran.recipe.as_deref().unwrap_or("no recipe"));
        suites.entry(name).or_insert_with(|| TestSuite::new(name)).add_test_case(case);
    }
    let mut report = Report::new("coatwright test");
    report.set_time(took);
    report.add_test_suites(suites.into_values());
    report
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_line_counts() {
        assert_eq!(summary(1, 0, 0), "1 case passed.");
        assert_eq!(summary(4, 1, 0), "3 cases passed, 1 failed.");
        assert_eq!(summary(2, 2, 1), "2 cases failed; 1 case now expects what comes out.");
    }
}
