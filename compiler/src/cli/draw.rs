//! `draw`: the picture alone.

use super::{
    Found, date, files,
    out::Out,
    run::{self, Units, View},
    sheet::{self, Measures},
    stop::Stop,
    target::Target,
    write,
};
use clap::ValueEnum;
use coatwright::date::Day;
use std::path::PathBuf;

/// Draw the dog as it goes
///
/// The coat in its true thickness, lengths by colour and hatching, the sheet's step numbers, the dangers at their places.
/// On a terminal with colour it is drawn right there; `-o` writes an SVG or, by its name, a PNG.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  coatwright draw --dog bramble                          in the terminal
  coatwright draw harbour-short --dog bramble -o bramble.svg
  coatwright draw --dog bramble --view left,head -o bramble.png --width 2000")]
pub(super) struct Args {
    /// The recipe: a name, a file, or file.trim#name [default: what the card wants]
    recipe: Option<Target>,
    /// The dog's card: a name, a file, or file.trim#name
    #[arg(long, value_name = "CARD")]
    dog: Target,
    /// The day of the visit, such as 2026-11-20 [default: today]
    #[arg(long, value_name = "DATE", value_parser = date::parse)]
    on: Option<Day>,
    /// Which views, side by side [default: those that the sheet prints; in a terminal the left side]
    #[arg(long, value_enum, value_delimiter = ',', value_name = "VIEW")]
    view: Vec<Of>,
    /// Leave out step numbers, dangers and arrows
    #[arg(long)]
    bare: bool,
    /// How long the bar beside the dog is: centimetres or inches
    #[arg(long, value_enum, default_value_t)]
    units: Measures,
    /// Pixels across, of a PNG [default: 1600]
    #[arg(long, value_name = "PIXELS", value_parser = clap::value_parser!(u32).range(100..=20_000))]
    width: Option<u32>,
    /// Write to a file: .svg or .png
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Of {
    /// Left side
    Left,
    /// Right side
    Right,
    /// Head from its left, larger
    Head,
    /// Head from its right
    HeadRight,
    /// From the front
    Front,
    /// From behind
    Rear,
    /// On its back
    Under,
    /// All of them
    All,
}

impl Of {
    fn views(self) -> Vec<View> {
        match self {
            Self::Left => vec![View::Left],
            Self::Right => vec![View::Right],
            Self::Head => vec![View::Head],
            Self::HeadRight => vec![View::HeadRight],
            Self::Front => vec![View::Front],
            Self::Rear => vec![View::Rear],
            Self::Under => vec![View::Under],
            Self::All => View::ALL.to_vec(),
        }
    }
}

/// What is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Form {
    Svg,
    Png,
    Blocks,
}

pub(super) fn run(args: &Args, out: &mut Out) -> Result<Found, Stop> {
    let form = match args.output.as_deref().map(files::ending).as_deref() {
        Some("png") => Form::Png,
        Some("svg") => Form::Svg,
        Some(_) => return Err(Stop::because("a picture's name ends in `.svg` or `.png`, such as `-o bramble.svg`")),
        None if out.on_terminal() => Form::Blocks,
        None => Form::Svg,
    };
    if args.width.is_some() && form != Form::Png {
        return Err(Stop::because("`--width` is for a PNG: `-o bramble.png --width 2000`"));
    }
    let units = Units::from(args.units);
    let how = sheet::How { whole: true, ..sheet::How::default() };
    let Some(sheet) = sheet::made(args.recipe.as_ref(), &args.dog, args.on, how, out)? else {
        return Ok(Found::Something);
    };
    let views: Vec<View> = args.view.iter().flat_map(|v| v.views()).collect();
    if form == Form::Blocks {
        let look = out.look();
        let views = if views.is_empty() { vec![View::Left] } else { views };
        for view in views {
            let picture = run::blocks(&sheet, view, look.width.min(100), look.colour);
            out.write(&format!("{}: {}, {}\n{picture}", sheet.dog.name, sheet.title, view.title().to_lowercase()))?;
        }
        return Ok(Found::Nothing);
    }
    let picture = run::picture(&sheet, &views, !args.bare, units);
    let Some(path) = &args.output else {
        out.write(&picture.svg)?;
        return Ok(Found::Nothing);
    };
    if form == Form::Png {
        let png = run::png(&picture.svg, args.width.unwrap_or(1600)).map_err(|e| Stop::because(e.to_string()))?;
        write::replace(path, &png)?;
    } else {
        write::replace(path, picture.svg.as_bytes())?;
    }
    out.say(&format!("Written to {}.", path.display()));
    Ok(Found::Nothing)
}
