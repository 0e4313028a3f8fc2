//! The command line: what can be asked, and which file answers.

mod against;
mod batch;
mod card;
mod cards;
mod check;
mod completions;
mod date;
mod day;
mod diff;
mod draw;
mod explain;
mod files;
mod fix;
mod fmt;
mod folder;
mod form;
mod handbook;
mod history;
mod hook;
mod lock;
mod man;
mod merge;
mod new;
mod out;
mod replan;
mod revisions;
mod run;
mod schema;
mod sheet;
mod stop;
mod target;
mod test;
mod unified;
mod visit;
mod why;
mod why_order;
mod write;

use clap::{CommandFactory, Parser, Subcommand, ValueEnum};
use out::Out;
use std::{ffi::OsString, process::ExitCode};
use stop::Stop;

/// What a run found: the program's exit code.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Found {
    /// 0: all is well.
    Nothing,
    /// 1: something to mend.
    Something,
}

/// Check dog-grooming trim recipes and print step sheets.
///
/// A recipe says what is done to every part of the dog, a card says which dog stands on the table, and the sheet is
/// what you work from. Coatwright checks a recipe against coat, skin and findings before a tool is picked up.
///
/// A sheet is an aid to a trained groomer. It defers to local law and codes of practice and isn't veterinary advice.
#[derive(Debug, Parser)]
#[command(name = "coatwright", version, about, after_help = EXAMPLES, disable_help_subcommand = true)]
struct Cli {
    /// When to use colours
    #[arg(long, visible_alias = "color", global = true, value_enum, default_value_t, value_name = "WHEN")]
    colour: Colour,
    #[command(subcommand)]
    command: Command,
}

const EXAMPLES: &str = "\
Examples:
  coatwright check                              every recipe and card in this folder
  coatwright new card bramble                   a card to fill in: tick what is so
  coatwright sheet harbour-short --dog bramble  the sheet for Bramble
  coatwright draw --dog bramble                 Bramble as she goes, in the terminal
  coatwright explain C001                       what a message means

It ends with 0 if all is well, 1 if something was found, and 2 if it couldn't run.";

#[derive(Debug, Subcommand)]
enum Command {
    Check(check::Args),
    Sheet(sheet::Args),
    Draw(draw::Args),
    Why(why::Args),
    WhyOrder(why_order::Args),
    Card(cards::Args),
    Batch(batch::Args),
    Replan(replan::Args),
    Day(day::Args),
    Visit(visit::Args),
    Test(test::Args),
    Diff(diff::Args),
    Handbook(handbook::Args),
    History(history::Args),
    Hook(hook::Args),
    Lock(lock::Args),
    Merge(merge::Args),
    Explain(explain::Args),
    Fmt(fmt::Args),
    New(new::Args),
    Completions(completions::Args),
    Man(man::Args),
    Schema(schema::Args),
}

/// When to use colours.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
enum Colour {
    /// On a terminal, unless NO_COLOR is set
    #[default]
    Auto,
    /// Always
    Always,
    /// Never
    Never,
}

/// Runs the program.
pub(crate) fn main() -> ExitCode {
    let asked: Vec<OsString> = std::env::args_os().collect();
    let cli = match Cli::command().color(help_colour(&asked)).try_get_matches_from(asked) {
        Ok(matches) => <Cli as clap::FromArgMatches>::from_arg_matches(&matches),
        Err(help) => Err(help),
    };
    let cli = match cli {
        Ok(cli) => cli,
        Err(help) => {
            // Nobody may be reading any more: then there is nobody to tell either.
            let _ = help.print();
            return ExitCode::from(if help.use_stderr() { 2 } else { 0 });
        }
    };
    let mut out = Out::new(cli.colour);
    match cli.command.run(&mut out).and_then(|found| out.finish().map(|()| found)) {
        Ok(Found::Nothing) => ExitCode::SUCCESS,
        Ok(Found::Something) => ExitCode::from(1),
        Err(Stop::NobodyReads) => ExitCode::SUCCESS,
        Err(Stop::Told(words)) => {
            out.say(&format!("coatwright: {words}"));
            ExitCode::from(2)
        }
    }
}

impl Command {
    fn run(self, out: &mut Out) -> Result<Found, Stop> {
        match self {
            Self::Check(args) => check::run(&args, out),
            Self::Sheet(args) => sheet::run(&args, out),
            Self::Draw(args) => draw::run(&args, out),
            Self::Why(args) => why::run(&args, out),
            Self::WhyOrder(args) => why_order::run(&args, out),
            Self::Card(args) => cards::run(&args, out),
            Self::Batch(args) => batch::run(&args, out),
            Self::Replan(args) => replan::run(&args, out),
            Self::Day(args) => day::run(&args, out),
            Self::Visit(args) => visit::run(&args, out),
            Self::Test(args) => test::run(&args, out),
            Self::Diff(args) => diff::run(&args, out),
            Self::Handbook(args) => handbook::run(&args, out),
            Self::History(args) => history::run(&args, out),
            Self::Hook(args) => hook::run(&args, out),
            Self::Lock(args) => lock::run(&args, out),
            Self::Merge(args) => merge::run(&args, out),
            Self::Explain(args) => explain::run(&args, out),
            Self::Fmt(args) => fmt::run(&args, out),
            Self::New(args) => new::run(&args, out),
            Self::Completions(args) => completions::run(&args, out),
            Self::Man(args) => man::run(&args, out),
            Self::Schema(args) => schema::run(&args, out),
        }
    }
}

/// The colour of help texts, which clap prints before the arguments are known.
fn help_colour(asked: &[OsString]) -> clap::ColorChoice {
    let mut words = asked.iter().filter_map(|a| a.to_str());
    let mut choice = clap::ColorChoice::Auto;
    while let Some(word) = words.next() {
        let when = match word.split_once('=') {
            Some(("--colour" | "--color", when)) => Some(when),
            _ if word == "--colour" || word == "--color" => words.next(),
            _ => None,
        };
        choice = match when {
            Some("always") => clap::ColorChoice::Always,
            Some("never") => clap::ColorChoice::Never,
            _ => choice,
        };
    }
    choice
}

#[cfg(test)]
mod tests;
