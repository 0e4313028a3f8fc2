//! `visit`: what was done, written back into the card.

use super::{
    Found, date,
    out::Out,
    run::{self, Kind},
    sheet,
    stop::Stop,
    target::Target,
    write,
};
use coatwright::date::Day;
use std::path::Path;

/// Write a visit into the dog's card
///
/// Adds what was done (the day, the recipe with its version, the tools) and what was found, so that the next card and the
/// next sheet start from it: skin that a blade has reddened today is gone over more gently next time. Remarks stay; the
/// file is laid out as `fmt` does it.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  coatwright visit bramble.trim
  coatwright visit bramble.trim --found \"irritation on throat after #10 in reverse\"
  coatwright visit dogs.trim#kelp --on 2026-11-25 --used \"#10, 13 mm comb, shears\"")]
pub(super) struct Args {
    /// The dog's card: a name, a file, or file.trim#name
    dog: Target,
    /// The recipe that was worked from: a name, a file, or file.trim#name [default: what the card wants]
    #[arg(long, value_name = "RECIPE")]
    recipe: Option<Target>,
    /// The day of the visit, such as 2026-11-20 [default: today]
    #[arg(long, value_name = "DATE", value_parser = date::parse)]
    on: Option<Day>,
    /// The tools that were really used, with commas between them [default: those of the sheet]
    #[arg(long, value_name = "TOOLS", value_delimiter = ',')]
    used: Vec<String>,
    /// What was found, as a card says it without the day; may be given more than once
    #[arg(long, value_name = "FINDING")]
    found: Vec<String>,
    /// Write nothing; show the card's new text
    #[arg(long)]
    show: bool,
}

pub(super) fn run(args: &Args, out: &mut Out) -> Result<Found, Stop> {
    let dog = args.dog.named(Kind::Card)?;
    let recipe = args.recipe.as_ref().map(|r| r.named(Kind::Recipe)).transpose()?;
    let workspace = run::open_for(&[Some(&args.dog), args.recipe.as_ref()])?;
    let words = |all: &[String]| all.iter().map(|w| w.trim().to_owned()).filter(|w| !w.is_empty()).collect();
    let done = run::Done {
        dog,
        recipe,
        on: args.on.unwrap_or_else(date::today),
        used: words(&args.used),
        found: words(&args.found),
    };
    let visited = match run::visited(&workspace, &done) {
        Ok(visited) => visited,
        Err(refused) => return Ok(sheet::refused(&refused.0, &refused.1, out)),
    };
    if !visited.said.is_empty() {
        sheet::refused(&visited.said, &visited.sources, out);
    }
    if args.show {
        out.write(&visited.text)?;
    } else {
        write::replace(Path::new(&visited.file), &visited.text)?;
        out.say(&format!("Written to {}: {}.", visited.file, visited.line));
        if let Some(rest) = &visited.rest {
            let steps = rest.iter().map(ToString::to_string).collect::<Vec<_>>().join(",");
            let dog = &done.dog;
            out.say(&format!(
                "Some of the trim waits. If all of that sheet was done, make the sheet of the rest now, before the card's mats are changed:\n  coatwright replan --dog {dog} --on DATE --done {steps} --stood 0"
            ));
        }
    }
    Ok(Found::Nothing)
}
