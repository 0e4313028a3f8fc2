//! One test: its files as a workspace, its expectations one by one.

use super::expect::{Said, in_order, messages, one_line, reworded};
use super::page::{Ask, Block, Section};
use coatwright::{
    cases::{self, Ran},
    check::check,
    date::Day,
    diagnostic::{Diagnostic, Severity},
    finish::{Finish, Outcome, site_words, stroke_words},
    sheet::{Request, finished, make, render},
    workspace::Workspace,
};
use std::path::PathBuf;

/// The day of a visit for which a page names none.
const TODAY: &str = "2026-11-24";

/// What is wrong with a test, a line each; nothing if it holds.
#[must_use]
pub fn run(section: &Section) -> Vec<String> {
    let mut wrong = Vec::new();
    let workspace = workspace(section, &mut wrong);
    let spoken = |list: &[Diagnostic]| list.iter().map(|d| Said::of(d, workspace.sources())).collect::<Vec<_>>();
    let known = spoken(&check(&workspace));
    let expected = expected(section);
    wrong.extend(messages(&expected, &known, |_| true));
    for block in &section.blocks {
        let more = match block {
            Block::Trim(..) | Block::Messages(_) => continue,
            Block::Sheet(ask, lines) => match sheet(&workspace, ask) {
                Ok(text) => in_order(lines, &text),
                Err(said) => no_sheet(ask, &spoken(&said)),
            },
            Block::Refused(ask, lines) => match request(ask).map(|r| finished(&workspace, &r)) {
                Some(Ok(_)) => vec![format!("- a sheet was made for {}, and none was due", ask.dog)],
                Some(Err(said)) => {
                    messages(lines, &spoken(&said), |s| s.severity == Severity::Error && !known.contains(s))
                }
                None => no_sheet(ask, &[]),
            },
            Block::Said(ask, lines) => match request(ask).map(|r| finished(&workspace, &r)) {
                Some(Ok(made)) => {
                    messages(lines, &spoken(&made.said), |s| s.severity > Severity::Note && !known.contains(s))
                }
                Some(Err(said)) => no_sheet(ask, &spoken(&said)),
                None => no_sheet(ask, &[]),
            },
            Block::Cases(lines) => {
                let said = cases(&workspace).into_iter().flat_map(|ran| ran.said).collect::<Vec<_>>();
                messages(lines, &spoken(&said), |_| true)
            }
            Block::Unproven(lines) => messages(lines, &spoken(&unproven(&workspace)), |_| true),
            Block::Finishes(ask, lines) => match request(ask).map(|r| finished(&workspace, &r)) {
                Some(Ok(made)) => finishes(lines, &made),
                Some(Err(said)) => no_sheet(ask, &spoken(&said)),
                None => no_sheet(ask, &[]),
            },
        };
        wrong.extend(more);
    }
    wrong
}

fn cases(workspace: &Workspace) -> Vec<Ran> {
    cases::run(workspace, &workspace.salons(), "")
}

fn unproven(workspace: &Workspace) -> Vec<Diagnostic> {
    cases::uncovered(workspace, &workspace.salons(), &cases(workspace)).1
}

fn workspace(section: &Section, wrong: &mut Vec<String>) -> Workspace {
    let mut texts: Vec<(PathBuf, String)> = Vec::new();
    for block in &section.blocks {
        if let Block::Trim(name, text) = block {
            let path = PathBuf::from(name);
            if texts.iter().any(|(p, _)| *p == path) {
                wrong.push(format!("two files are called {name}"));
            }
            texts.push((path, text.clone()));
        }
    }
    let many = texts.len();
    Workspace::from_texts(texts, many)
}

fn expected(section: &Section) -> Vec<String> {
    let lines = |block: &Block| if let Block::Messages(lines) = block { Some(lines.clone()) } else { None };
    section.blocks.iter().filter_map(lines).flatten().collect()
}

/// The lines of `messages` blocks that fail by their words alone, each with its line in the words of today.
#[must_use]
pub fn new_words(section: &Section) -> Vec<(String, String)> {
    let workspace = workspace(section, &mut Vec::new());
    let said: Vec<Said> = check(&workspace).iter().map(|d| Said::of(d, workspace.sources())).collect();
    reworded(&expected(section), &said)
}

fn request(ask: &Ask) -> Option<Request> {
    let on = Day::parse(ask.on.as_deref().unwrap_or(TODAY))?;
    Some(Request { recipe: ask.recipe.clone(), dog: ask.dog.clone(), on: Some(on), learner: false })
}

fn sheet(workspace: &Workspace, ask: &Ask) -> Result<String, Vec<Diagnostic>> {
    let request = request(ask).ok_or_else(Vec::new)?;
    let options = render::Options { width: 400, ..render::Options::default() };
    make(workspace, &request).map(|sheet| render::text(&sheet, &options))
}

fn no_sheet(ask: &Ask, said: &[Said]) -> Vec<String> {
    let mut wrong = vec![format!("- no sheet was made for {}:", ask.dog)];
    wrong.extend(messages(&[], said, |s| s.severity == Severity::Error).into_iter().map(|line| format!("  {line}")));
    wrong
}

/// `ZONES: words`: every place of the zones must be done in such words; with `!` before the words, none.
fn finishes(lines: &[String], made: &coatwright::sheet::Made) -> Vec<String> {
    let mut wrong = Vec::new();
    for line in lines {
        let Some((zones, words)) = line.split_once(':') else {
            wrong.push(format!("can't read `{line}`: write `ZONES: words`"));
            continue;
        };
        let (words, never) = match words.trim().strip_prefix('!') {
            Some(words) => (one_line(words), true),
            None => (one_line(words), false),
        };
        let found: Vec<&Finish> = made.finishes.all.iter().filter(|f| named(zones.trim(), f, made)).collect();
        if found.is_empty() {
            wrong.push(format!("- no such part:  {line}"));
        }
        for finish in found {
            let shown = show(finish, made);
            if holds(&shown, &words) == never {
                wrong.push(format!("- {line}\n  + {}: {shown}", site_words(&made.trade, finish.site)));
                break;
            }
        }
    }
    wrong
}

/// Whether whole words stand in a text: `leave` isn't in `leaves 3 mm`, nor `#7` in `#7F`.
fn holds(text: &str, words: &str) -> bool {
    text.match_indices(words).any(|(at, _)| {
        let (before, after) = (&text[..at], &text[at + words.len()..]);
        !before.ends_with(char::is_alphanumeric) && !after.starts_with(char::is_alphanumeric)
    })
}

/// Whether a finish is at the zones of a line: `cheek`, `left cheek`, `legs`.
fn named(zones: &str, finish: &Finish, made: &coatwright::sheet::Made) -> bool {
    site_words(&made.trade, finish.site) == zones
        || made.trade.sites_of(&zones.replace(' ', "-")).is_some_and(|sites| sites.has(finish.site))
}

/// `set in with 19 mm comb with the coat, then scissor with shears, leaves 19 mm to 22 mm, as written`.
fn show(finish: &Finish, made: &coatwright::sheet::Made) -> String {
    let mut words = String::new();
    if let Some(rough) = &finish.rough {
        words = format!("{}, then ", stroke_words(rough, &made.trade));
    }
    words.push_str(&stroke_words(&finish.fine, &made.trade));
    match finish.fine.passes {
        0 | 1 => {}
        many => words = format!("{words}, {many} passes"),
    }
    if let Some(leaves) = finish.fine.leaves {
        words = format!("{words}, leaves {leaves}");
    }
    let outcome = match finish.outcome {
        Outcome::Written => "as written",
        Outcome::Raised => "gentler",
        Outcome::Left => "left",
        Outcome::Referred => "for the vet",
        Outcome::Shortened => "shorter",
        Outcome::Waits => "another visit",
    };
    format!("{words}, {outcome}")
}
