//! `why`: what led to the finish of a part.

use super::{
    Found,
    out::Out,
    run::{self, Kind},
    sheet,
    stop::Stop,
    target::Target,
};

/// Say why a part gets the finish it gets
///
/// The chain of reasons: which line of the recipe, of its base or of the house set it, what a finding moved, and which
/// keep holds it there.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  coatwright why belly --recipe harbour-short
  coatwright why hind legs --dog bramble      for one dog, and what its owner wants")]
pub(super) struct Args {
    /// The part, such as belly or hind legs
    #[arg(required = true)]
    zone: Vec<String>,
    /// The recipe: a name, a file, or file.trim#name
    #[arg(long, value_name = "RECIPE", required_unless_present = "dog")]
    recipe: Option<Target>,
    /// The dog's card: a name, a file, or file.trim#name
    #[arg(long, value_name = "CARD")]
    dog: Option<Target>,
}

pub(super) fn run(args: &Args, out: &mut Out) -> Result<Found, Stop> {
    let recipe = args.recipe.as_ref().map(|r| r.named(Kind::Recipe)).transpose()?;
    let dog = args.dog.as_ref().map(|d| d.named(Kind::Card)).transpose()?;
    let workspace = run::open_for(&[args.recipe.as_ref(), args.dog.as_ref()])?;
    match run::why(&workspace, recipe.as_deref(), dog.as_deref(), &args.zone.join(" ")) {
        Ok(lines) => {
            out.write(&lines.iter().map(|line| format!("{line}\n")).collect::<String>())?;
            Ok(Found::Nothing)
        }
        Err(messages) => Ok(sheet::refused(&messages, workspace.sources(), out)),
    }
}
