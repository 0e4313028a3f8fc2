//! `day`: a day's dogs with their times.

use super::{
    Found, date, files,
    out::Out,
    run::{self, Kind},
    schema, sheet,
    stop::Stop,
    target::Target,
    write,
};
use clap::ValueEnum;
use coatwright::date::Day;
use coatwright::day::{Clock, DayJson, Hours, calendar, json, markdown, text};
use std::path::PathBuf;

/// Give a day's dogs their times, and say whether the day fits
///
/// Each dog gets what its sheet needs, with its rests and at the slow end; then table and tools are cleaned. Drying isn't
/// overlapped, since a dog under a dryer is never left alone. A dog that can't bear its whole trim is booked for what is done
/// first. Dogs that a finding keeps apart, such as a bitch in season and males, are never in the house at one time.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  coatwright day dogs.trim                             all dogs of a file, in its order
  coatwright day dogs.trim#kelp dogs.trim#bramble --opens 8:30 --groomers 2
  coatwright day dogs.trim --on 2026-11-25 -o day.ics  for a calendar")]
pub(super) struct Args {
    /// The cards in the order in which the dogs come: names, files, or file.trim#name
    #[arg(required_unless_present = "schema")]
    cards: Vec<Target>,
    /// The day, such as 2026-11-20 [default: today]
    #[arg(long, value_name = "DATE", value_parser = date::parse)]
    on: Option<Day>,
    /// When the first dog comes
    #[arg(long, value_name = "TIME", default_value = "09:00", value_parser = clock)]
    opens: Clock,
    /// When the last goes
    #[arg(long, value_name = "TIME", default_value = "17:00", value_parser = clock)]
    closes: Clock,
    /// When each groomer's break is wished; it lies between two dogs, as near to that as may be
    #[arg(long, value_name = "TIME", default_value = "12:30", value_parser = clock)]
    lunch: Clock,
    /// How long the break is, in minutes; 0 is none
    #[arg(long, value_name = "MINUTES", default_value_t = 30, value_parser = clap::value_parser!(u16).range(0..=240))]
    lunch_minutes: u16,
    /// How many groomers work
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=50))]
    groomers: u32,
    /// What is written [default: what the file's name says, else text]
    #[arg(long, value_enum)]
    format: Option<Form>,
    /// Print what the JSON form looks like, instead of a day
    #[arg(long, conflicts_with = "cards")]
    schema: bool,
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
    /// For programs
    Json,
    /// For calendars: iCalendar, with the dogs' names and nobody else's
    #[value(alias = "icalendar")]
    Ics,
}

fn clock(text: &str) -> Result<Clock, String> {
    Clock::parse(text).ok_or_else(|| "write a time of day such as 9:00 or 16:30".to_owned())
}

pub(super) fn run(args: &Args, out: &mut Out) -> Result<Found, Stop> {
    if args.schema {
        out.write(&schema::pretty(&schemars::schema_for!(DayJson))?)?;
        return Ok(Found::Nothing);
    }
    if args.opens >= args.closes {
        return Err(Stop::because(format!("the day closes at {}, before it opens at {}", args.closes, args.opens)));
    }
    let mut dogs: Vec<String> = Vec::new();
    for target in &args.cards {
        match (&target.file, &target.name) {
            (Some(file), None) => {
                let all = run::declared(&files::read(file)?, Kind::Card);
                if all.is_empty() {
                    return Err(Stop::because(format!("{} holds no card", file.display())));
                }
                dogs.extend(all);
            }
            _ => dogs.push(target.named(Kind::Card)?),
        }
    }
    let mut once: Vec<&String> = Vec::new();
    for dog in &dogs {
        if once.contains(&dog) {
            return Err(Stop::because(format!("{dog} is in the list twice; a dog comes once a day")));
        }
        once.push(dog);
    }
    let targets: Vec<Option<&Target>> = args.cards.iter().map(Some).collect();
    let workspace = run::open_for(&targets)?;
    let on = args.on.unwrap_or_else(date::today);
    let mut visits = Vec::new();
    let mut no_sheet = Vec::new();
    for dog in dogs {
        match run::visit_of(&workspace, dog.clone(), on) {
            Ok(visit) => visits.push(visit),
            Err(messages) => {
                sheet::refused(&messages, workspace.sources(), out);
                no_sheet.push(dog);
            }
        }
    }
    let minutes = i64::from(args.lunch_minutes);
    let hours = Hours {
        opens: args.opens,
        closes: args.closes,
        lunch: (minutes > 0).then_some((args.lunch, minutes)),
        groomers: args.groomers,
    };
    let day = run::day(on, &visits, &no_sheet, &hours);
    let named = match args.output.as_deref().map(files::ending).unwrap_or_default().as_str() {
        "md" | "markdown" => Form::Markdown,
        "json" => Form::Json,
        "ics" => Form::Ics,
        _ => Form::Text,
    };
    let look = out.look();
    let written = match args.format.unwrap_or(named) {
        Form::Text => text(&day, if args.output.is_some() { 80 } else { look.width }),
        Form::Markdown => markdown(&day),
        Form::Json => json(&day),
        Form::Ics => calendar(&day, &date::stamp()),
    };
    write::deliver(args.output.as_deref(), &written, out)?;
    Ok(if !day.fits { Found::Something } else { Found::Nothing })
}
