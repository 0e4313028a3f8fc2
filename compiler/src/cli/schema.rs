//! `schema`: what the JSON forms look like.

use super::{Found, out::Out, run, stop::Stop};
use clap::ValueEnum;
use coatwright::batch::AnswerJson;
use coatwright::cards::CardJson;
use coatwright::cases::CaseJson;
use coatwright::compare::DiffJson;
use coatwright::day::DayJson;
use coatwright::diagnostic::render::json::MessageJson;

/// Print the JSON schema of a form
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  coatwright schema messages      what `check --format json` writes, line by line")]
pub(super) struct Args {
    /// Which form
    #[arg(value_enum)]
    of: Of,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Of {
    /// What `sheet --format json` writes
    Sheet,
    /// What `check --format json` writes, one a line
    Messages,
    /// What `test --format json` writes, one a line
    Cases,
    /// What `diff --format json` writes, one a line
    Diff,
    /// A card, as `batch` reads and `card` writes it, one a line
    Card,
    /// What `batch` writes, one a line
    Answer,
    /// What `day --format json` writes
    Day,
}

pub(super) fn run(args: &Args, out: &mut Out) -> Result<Found, Stop> {
    let schema = match args.of {
        Of::Sheet => run::sheet_schema(),
        Of::Messages => schemars::schema_for!(MessageJson),
        Of::Cases => schemars::schema_for!(CaseJson),
        Of::Diff => schemars::schema_for!(DiffJson),
        Of::Card => schemars::schema_for!(CardJson),
        Of::Day => schemars::schema_for!(DayJson),
        Of::Answer => schemars::schema_for!(AnswerJson),
    };
    out.write(&pretty(&schema)?)?;
    Ok(Found::Nothing)
}

/// A schema as JSON that can be read.
pub(super) fn pretty(schema: &schemars::Schema) -> Result<String, Stop> {
    let text = serde_json::to_string_pretty(schema).map_err(|_| Stop::because("the schema can't be written"))?;
    Ok(text + "\n")
}
