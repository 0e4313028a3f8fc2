//! `handbook`: a site for learners.

use super::{
    Found, files, folder,
    out::Out,
    run::{self, Format},
    sheet,
    stop::Stop,
};
use std::path::PathBuf;

/// Write a handbook for learners: a folder of pages that opens in any browser
///
/// Each recipe with its words, the finished dog, whom it serves, what is done where and why, what findings change, its cases, and
/// what it builds on; the parts of the dog with the drawing; findings, coats and tools. The pages need no server and nothing from
/// elsewhere, can be searched, and print.
///
/// No card is printed. No handbook is written while `check` finds a mistake in what it teaches.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  coatwright handbook handbook                      of the recipes in this folder, into the folder `handbook`
  coatwright handbook site recipes/saltmarsh        of another salon
  coatwright handbook site salons/dunes salons/mill of several, house by house

A folder that is there already is replaced if it is an earlier handbook, and left alone if it is anything else.")]
pub(super) struct Args {
    /// The folder to write
    #[arg(value_name = "DIR")]
    folder: PathBuf,
    /// Salons, files or folders [default: this folder]
    paths: Vec<PathBuf>,
}

pub(super) fn run(args: &Args, out: &mut Out) -> Result<Found, Stop> {
    // Said before anything is worked out.
    folder::may_write(&args.folder)?;
    let mut workspace = run::open(&files::or_here(&args.paths))?;
    let handbook = match run::handbook(&mut workspace) {
        Ok(handbook) => handbook,
        Err(messages) => {
            let found = sheet::refused(&messages, workspace.sources(), out);
            out.say("No handbook is written while what it teaches has mistakes.");
            return Ok(found);
        }
    };
    if handbook.recipes == 0 {
        return Err(Stop::because("there is no recipe here; name the salon's folder: `coatwright handbook DIR SALON`"));
    }
    let pages: Vec<(&str, &str)> = handbook.pages.iter().map(|p| (p.path.as_str(), p.text.as_str())).collect();
    folder::replace(&args.folder, &pages)?;
    let recipes = if handbook.recipes == 1 { "1 recipe".to_owned() } else { format!("{} recipes", handbook.recipes) };
    let first = args.folder.join("index.html");
    out.say(&format!("Written to {}: {recipes}. Open {}.", args.folder.display(), first.display()));
    if handbook.said.is_empty() {
        return Ok(Found::Nothing);
    }
    let look = out.look_of_talk();
    let format = if look.colour { Format::Rich } else { Format::Plain };
    out.say(&run::rendered(&handbook.said, &workspace, format, look));
    out.say("Its pages say which cases don't hold.");
    Ok(Found::Something)
}
