//! `replan`: the rest of a visit made anew.

use super::{
    Found, date,
    out::Out,
    run::{self, Kind},
    sheet,
    stop::Stop,
    target::Target,
};
use coatwright::date::Day;

/// Make the rest of a visit anew, when something is found or time is short
///
/// The steps that are done are gone, and the others keep the numbers that they have on the sheet. What was found is read as
/// a line of the card, with all that follows from it: consent, tools, times. What the dog still bears is what is left.
/// Nothing is written to the card: `visit` does that at the end.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  coatwright replan --dog bramble --done 1-3 --found \"mats pelted on breeches\"
  coatwright replan harbour-short --dog bramble --done 1,2,3,4 --found \"redness on left thigh\" --stood 55")]
pub(super) struct Args {
    /// The recipe: a name, a file, or file.trim#name [default: what the card wants]
    recipe: Option<Target>,
    /// The dog's card: a name, a file, or file.trim#name
    #[arg(long, value_name = "CARD")]
    dog: Target,
    /// The day of the visit, such as 2026-11-20 [default: today]
    #[arg(long, value_name = "DATE", value_parser = date::parse)]
    on: Option<Day>,
    /// The steps that are done, by the sheet's numbers: `1-3,5`
    #[arg(long, value_name = "STEPS", value_delimiter = ',', value_parser = steps)]
    done: Vec<Steps>,
    /// What was found, as a line of the card says it; may be given more than once
    #[arg(long, value_name = "LINE")]
    found: Vec<String>,
    /// How many minutes the dog has stood by the clock [default: what is done, at its slow end]
    #[arg(long, value_name = "MINUTES", value_parser = clap::value_parser!(u16).range(0..=1440))]
    stood: Option<u16>,
    #[command(flatten)]
    paper: sheet::Paper,
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
    let found = args.found.iter().map(|f| f.trim().to_owned()).filter(|f| !f.is_empty()).collect();
    let done = args.done.iter().flat_map(|s| s.0..=s.1).collect();
    let on = args.on.unwrap_or_else(date::today);
    match run::replan(&workspace, (recipe, dog), on, run::happened(done, found, args.stood)) {
        Ok(rest) => {
            if !rest.said.is_empty() {
                sheet::refused(&rest.said, &rest.sources, out);
            }
            args.paper.deliver(&rest.sheet, out)
        }
        Err(refused) => Ok(sheet::refused(&refused.0, &refused.1, out)),
    }
}
