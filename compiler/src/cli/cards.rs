//! `card`: cards as JSON, and JSON as cards.

use super::{Found, files, out::Out, run, stop::Stop, target::Target, write};
use clap::ValueEnum;
use std::path::{Path, PathBuf};

/// Write cards as JSON for programs, or cards in JSON as texts
///
/// One card a line, as `coatwright batch` reads it. A card in JSON means exactly what its text means: it is another
/// spelling, with the same words and units.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  coatwright card dogs.trim                        every card of a file as JSON
  coatwright card dogs.trim#bramble                one of them
  coatwright card cards.jsonl --format trim -o dogs.trim")]
pub(super) struct Args {
    /// The file of cards, or file.trim#name (`-`: standard input)
    cards: Target,
    /// What is written
    #[arg(long, value_enum, default_value_t)]
    format: Form,
    /// Write to a file
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
enum Form {
    /// A card a line, for programs
    #[default]
    Json,
    /// The text of the cards
    Trim,
}

pub(super) fn run(args: &Args, out: &mut Out) -> Result<Found, Stop> {
    // A name alone is a file here, too: cards in JSON have no name that ends in .trim.
    let (path, name) = match (&args.cards.file, &args.cards.name) {
        (Some(file), name) => (file.clone(), name.clone()),
        (None, Some(name)) => (PathBuf::from(name), None),
        (None, None) => return Err(Stop::because("give the file of the cards")),
    };
    let stdin = path == Path::new(files::STDIN);
    let shown = if stdin { "standard input".to_owned() } else { path.display().to_string() };
    let text = if stdin { files::read_stdin()? } else { files::read(&path)? };
    let written = match args.format {
        Form::Json => {
            let mut cards = run::cards_of(&text).map_err(|why| Stop::because(format!("{shown}: {why}")))?;
            if let Some(name) = &name {
                cards.retain(|card| card.dog == *name);
            }
            if cards.is_empty() {
                return Err(Stop::because(match name {
                    Some(name) => format!("{shown} holds no card {name}"),
                    None => format!("{shown} holds no card"),
                }));
            }
            run::cards_as_json(&cards)?
        }
        Form::Trim => {
            run::cards_as_text(&text).map_err(|(line, why)| Stop::because(format!("{shown}, line {line}: {why}")))?
        }
    };
    write::deliver(args.output.as_deref(), &written, out)?;
    Ok(Found::Nothing)
}
