//! `sheet`: the sheet to work from.

use super::{
    Found, date, files, lock,
    out::Out,
    run::{self, Kind, Options, Units},
    schema,
    stop::Stop,
    target::Target,
    write,
};
use clap::ValueEnum;
use coatwright::{
    date::Day,
    diagnostic::{
        Diagnostic,
        render::{Format, render},
    },
    sheet::Sheet,
    source::Sources,
};
use std::path::PathBuf;

/// Print the step sheet for a dog
///
/// One page to work from: the tools laid out, the steps in their order, each caution where it matters, and a note for
/// the owner. No sheet is made while a message of `check` stands against it.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  coatwright sheet harbour-short --dog bramble
  coatwright sheet --dog bramble                   if the card says what the owner wants
  coatwright sheet short.trim --dog cards/bramble.trim --on 2026-11-20 -o bramble.txt")]
pub(super) struct Args {
    /// The recipe: a name, a file, or file.trim#name [default: what the card wants]
    recipe: Option<Target>,
    /// The dog's card: a name, a file, or file.trim#name
    #[arg(long, value_name = "CARD", required_unless_present = "schema")]
    dog: Option<Target>,
    /// The day of the visit, such as 2026-11-20 [default: today]
    #[arg(long, value_name = "DATE", value_parser = date::parse)]
    on: Option<Day>,
    /// Add the reason to every step
    #[arg(long)]
    learner: bool,
    /// All of the trim, though the dog may not bear it in one visit
    #[arg(long)]
    whole: bool,
    /// From the texts as they were locked: the lock's file, or the name that an old sheet tells
    #[arg(long, value_name = "LOCK")]
    lock: Option<String>,
    /// Print what the JSON form looks like, instead of a sheet
    #[arg(long, conflicts_with_all = ["recipe", "dog"])]
    schema: bool,
    #[command(flatten)]
    paper: Paper,
}

/// What a sheet is written on.
#[derive(Debug, clap::Args)]
pub(super) struct Paper {
    /// What is written [default: what the file's name says, else text]
    #[arg(long, value_enum)]
    format: Option<Form>,
    /// Millimetres and kilograms, or inches and pounds
    #[arg(long, value_enum, default_value_t)]
    units: Measures,
    /// With `--format html`: letters of 12 points, on as many pages as it takes
    #[arg(long)]
    large: bool,
    /// Write to a file
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Form {
    /// For the terminal and the printer
    Text,
    /// For notes and web pages
    Markdown,
    /// With the pictures, for print: a page for the table and one for the owner
    Html,
    /// For programs
    Json,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub(super) enum Measures {
    /// Millimetres and kilograms
    #[default]
    Metric,
    /// Inches and pounds
    Imperial,
}

impl Paper {
    /// Says what can't be asked for.
    pub(super) fn asked(&self) -> Result<(), Stop> {
        if self.large && self.form() != Form::Html {
            return Err(Stop::because("`--large` is for a page: `--format html --large`"));
        }
        Ok(())
    }

    /// Writes a sheet.
    pub(super) fn deliver(&self, sheet: &Sheet, out: &mut Out) -> Result<Found, Stop> {
        let look = out.look();
        let options = Options {
            units: self.units.into(),
            width: if self.output.is_some() { 80 } else { look.width },
            colour: look.colour && self.output.is_none(),
        };
        let text = match self.form() {
            Form::Text => run::text(sheet, &options),
            Form::Markdown => run::markdown(sheet, &options),
            Form::Html => run::html(sheet, &options, self.large),
            Form::Json => run::json(sheet, &options),
        };
        self.write(&text, out)
    }

    fn write(&self, text: &str, out: &mut Out) -> Result<Found, Stop> {
        write::deliver(self.output.as_deref(), text, out)?;
        Ok(Found::Nothing)
    }

    /// The form that is asked for, by word or by the name of the file.
    fn form(&self) -> Form {
        let named = match self.output.as_deref().map(files::ending).unwrap_or_default().as_str() {
            "html" | "htm" => Form::Html,
            "md" | "markdown" => Form::Markdown,
            "json" => Form::Json,
            _ => Form::Text,
        };
        self.format.unwrap_or(named)
    }
}

impl From<Measures> for Units {
    fn from(measures: Measures) -> Self {
        match measures {
            Measures::Metric => Self::Metric,
            Measures::Imperial => Self::Imperial,
        }
    }
}

pub(super) fn run(args: &Args, out: &mut Out) -> Result<Found, Stop> {
    if args.schema {
        return args.paper.write(&schema::pretty(&run::sheet_schema())?, out);
    }
    args.paper.asked()?;
    let Some(dog) = &args.dog else { return Err(Stop::because("give the dog's card: `--dog bramble`")) };
    let how = How { learner: args.learner, whole: args.whole, lock: args.lock.as_deref() };
    let Some(sheet) = made(args.recipe.as_ref(), dog, args.on, how, out)? else { return Ok(Found::Something) };
    args.paper.deliver(&sheet, out)
}

/// How a sheet is asked for.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct How<'a> {
    /// With the reason at every step.
    pub(super) learner: bool,
    /// All of the trim.
    pub(super) whole: bool,
    /// The lock whose texts it is made from.
    pub(super) lock: Option<&'a str>,
}

/// The sheet that is asked for; none if messages stand against it, which are then said.
pub(super) fn made(
    recipe: Option<&Target>,
    dog: &Target,
    on: Option<Day>,
    how: How<'_>,
    out: &mut Out,
) -> Result<Option<Sheet>, Stop> {
    let card = dog.named(Kind::Card)?;
    let name = recipe.map(|r| r.named(Kind::Recipe)).transpose()?;
    let targets = [recipe, Some(dog)];
    let (workspace, lock) = match how.lock {
        Some(wanted) => {
            let (workspace, name) = lock::salon(wanted, &targets, out)?;
            (workspace, Some(name))
        }
        None => (run::open_for(&targets)?, lock::holding(&targets)),
    };
    match run::make(&workspace, name, card, on.unwrap_or_else(date::today), (how.learner, how.whole)) {
        Ok(mut sheet) => {
            sheet.details.made_from.extend(lock.map(|name| format!("lock {name}")));
            Ok(Some(sheet))
        }
        Err(messages) => {
            refused(&messages, workspace.sources(), out);
            Ok(None)
        }
    }
}

/// Says why there is no answer.
pub(super) fn refused(messages: &[Diagnostic], sources: &Sources, out: &mut Out) -> Found {
    let look = out.look_of_talk();
    let format = if look.colour { Format::Rich } else { Format::Plain };
    out.say(&render(messages, sources, format, look));
    Found::Something
}
