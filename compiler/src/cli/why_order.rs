//! `why-order`: why the steps stand in this order.

use super::{
    Found, date,
    out::Out,
    run::{self, Kind},
    sheet,
    stop::Stop,
    target::Target,
};
use coatwright::date::Day;

/// Say why the steps of a sheet stand where they stand
///
/// What must come before what, and who says so; what is changed between two steps; and what the next-best order would
/// take. With a step, its tools one by one.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  coatwright why-order --dog bramble               all steps of the sheet
  coatwright why-order harbour-short 11 --dog bramble
  coatwright why-order --dog bramble tail")]
pub(super) struct Args {
    /// The recipe [default: what the card wants], and a step by its number or name
    #[arg(num_args = 0..=2, value_names = ["RECIPE", "STEP"])]
    what: Vec<String>,
    /// The dog's card: a name, a file, or file.trim#name
    #[arg(long, value_name = "CARD")]
    dog: Target,
    /// The day of the visit, such as 2026-11-20 [default: the day of the card]
    #[arg(long, value_name = "DATE", value_parser = date::parse)]
    on: Option<Day>,
}

pub(super) fn run(args: &Args, out: &mut Out) -> Result<Found, Stop> {
    let dog = args.dog.named(Kind::Card)?;
    let target = |text: &String| text.parse::<Target>().unwrap_or_else(|never| match never {});
    let (recipe, step) = match args.what.as_slice() {
        [one] => {
            // One word alone is a recipe if one is called so, and else a step.
            let target = target(one);
            let workspace = run::open_for(&[Some(&target), Some(&args.dog)])?;
            let is_recipe =
                target.file.is_some() || target.name.as_deref().is_some_and(|n| run::has_recipe(&workspace, n));
            if is_recipe { (Some(target), None) } else { (None, Some(one.as_str())) }
        }
        [recipe, step, ..] => (Some(target(recipe)), Some(step.as_str())),
        [] => (None, None),
    };
    let name = recipe.as_ref().map(|r| r.named(Kind::Recipe)).transpose()?;
    let workspace = run::open_for(&[recipe.as_ref(), Some(&args.dog)])?;
    match run::why_order(&workspace, name, dog, args.on, step) {
        Ok(Ok(lines)) => {
            out.write(&lines.iter().map(|line| format!("{line}\n")).collect::<String>())?;
            Ok(Found::Nothing)
        }
        Ok(Err(words)) => Err(Stop::because(words)),
        Err(messages) => Ok(sheet::refused(&messages, workspace.sources(), out)),
    }
}
