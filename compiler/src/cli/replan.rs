//! `replan`: the rest of a visit made anew.

use super::{
    Found, date,
    out::Out,
    run::{self, Kind, Stage},
    sheet,
    stop::Stop,
    target::Target,
};
use clap::{Arg, ArgAction, ArgMatches, Command, FromArgMatches};
use coatwright::date::Day;

/// Make the rest of a visit anew, when something is found or time is short
///
/// The steps that are done are gone, and the others keep the numbers that they have on the sheet. What was found is read as
/// a line of the card, with all that follows from it: consent, tools, times. What the dog still bears is what is left. The
/// second time, say what happened in its order: the steps of the sheet, what was found, the steps of the sheet that was made
/// then. With `--stood 0` it is the rest on another day, whose last look and check are made anew; the note then tells of both
/// visits. Nothing is written to the card: `visit` does that at the end.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  coatwright replan --dog bramble --done 1-3 --found \"mats pelted on breeches\"
  coatwright replan --dog bramble --done 1-3 --found \"mats pelted on breeches\" --done 9,4 --found \"redness on left thigh\"
  coatwright replan harbour-short --dog bramble --done 1,2,3,4 --found \"redness on left thigh\" --stood 55
  coatwright replan --dog bramble --done 2-6 --stood 0 --on 2026-12-02    what waited, on another day")]
pub(super) struct Args {
    /// The recipe: a name, a file, or file.trim#name [default: what the card wants]
    recipe: Option<Target>,
    /// The dog's card: a name, a file, or file.trim#name
    #[arg(long, value_name = "CARD")]
    dog: Target,
    /// The day of the visit, such as 2026-11-20 [default: today]
    #[arg(long, value_name = "DATE", value_parser = date::parse)]
    on: Option<Day>,
    #[command(flatten)]
    so_far: SoFar,
    /// How many minutes the dog has stood by the clock [default: what is done, at its slow end]
    #[arg(long, value_name = "MINUTES", allow_negative_numbers = true, value_parser = clap::value_parser!(u16).range(0..=1440))]
    stood: Option<u16>,
    #[command(flatten)]
    paper: sheet::Paper,
}

/// What was done and found, in the order in which it is said.
#[derive(Debug)]
struct SoFar(Vec<Stage>);

impl clap::Args for SoFar {
    fn augment_args(command: Command) -> Command {
        let done = Arg::new("done")
            .long("done")
            .value_name("STEPS")
            .value_delimiter(',')
            .value_parser(steps)
            .action(ArgAction::Append)
            .help("The steps that are done, by the sheet's numbers: `1-3,5`");
        let found = Arg::new("found")
            .long("found")
            .value_name("LINE")
            .value_parser(line)
            .action(ArgAction::Append)
            .help("What was found, as a line of the card says it; may be given more than once");
        command.arg(done).arg(found)
    }

    fn augment_args_for_update(command: Command) -> Command {
        Self::augment_args(command)
    }
}

impl FromArgMatches for SoFar {
    fn from_arg_matches(matches: &ArgMatches) -> Result<Self, clap::Error> {
        let mut said: Vec<(usize, Said)> = Vec::new();
        let (done, found) = (matches.get_occurrences::<Steps>("done"), matches.get_many::<String>("found"));
        let at = |name: &str| matches.indices_of(name).into_iter().flatten();
        let mut of_done = at("done");
        for all in done.into_iter().flatten() {
            let all: Vec<Steps> = all.copied().collect();
            let first = of_done.by_ref().take(all.len()).min();
            said.extend(first.map(|at| (at, Said::Done(all))));
        }
        said.extend(at("found").zip(found.into_iter().flatten()).map(|(at, line)| (at, Said::Found(line.clone()))));
        said.sort_by_key(|(at, _)| *at);
        let mut stages = vec![Stage::default()];
        for (_, said) in said {
            // What is done after that is done by another sheet.
            let begun = |stage: &Stage| !stage.found.is_empty() || !stage.done.is_empty();
            if matches!(said, Said::Done(_)) && stages.last().is_some_and(begun) {
                stages.push(Stage::default());
            }
            match (said, stages.last_mut()) {
                (Said::Done(all), Some(stage)) => {
                    stage.done.extend(all.into_iter().flat_map(|Steps(from, to)| from..=to));
                }
                (Said::Found(line), Some(stage)) => stage.found.push(line),
                (_, None) => {}
            }
        }
        Ok(Self(stages))
    }

    fn update_from_arg_matches(&mut self, matches: &ArgMatches) -> Result<(), clap::Error> {
        *self = Self::from_arg_matches(matches)?;
        Ok(())
    }
}

/// One word of it.
enum Said {
    Done(Vec<Steps>),
    Found(String),
}

/// A line of a card.
fn line(text: &str) -> Result<String, String> {
    let line = text.trim();
    if line.is_empty() {
        Err("say what was found, such as \"wart on left ribs\"".to_owned())
    } else {
        Ok(line.to_owned())
    }
}

/// Some steps: `3`, or `1-3`.
#[derive(Clone, Copy, Debug)]
struct Steps(u32, u32);

fn steps(text: &str) -> Result<Steps, String> {
    let wrong = || "write the numbers of steps, such as 1,2,3 or 1-3".to_owned();
    let (from, to) = text.trim().split_once('-').unwrap_or((text, text));
    let number = |t: &str| t.trim().parse::<u32>().ok().filter(|n| (1..=999).contains(n)).ok_or_else(wrong);
    let (from, to) = (number(from)?, number(to)?);
    if from <= to { Ok(Steps(from, to)) } else { Err(wrong()) }
}

pub(super) fn run(args: &Args, out: &mut Out) -> Result<Found, Stop> {
    args.paper.asked()?;
    let dog = args.dog.named(Kind::Card)?;
    let recipe = args.recipe.as_ref().map(|r| r.named(Kind::Recipe)).transpose()?;
    let workspace = run::open_for(&[args.recipe.as_ref(), Some(&args.dog)])?;
    let on = args.on.unwrap_or_else(date::today);
    match run::replan(&workspace, (recipe, dog), on, run::happened(args.so_far.0.clone(), args.stood)) {
        Ok(rest) => {
            if !rest.said.is_empty() {
                sheet::refused(&rest.said, &rest.sources, out);
            }
            args.paper.deliver(&rest.sheet, out)
        }
        Err(refused) => Ok(sheet::refused(&refused.0, &refused.1, out)),
    }
}
