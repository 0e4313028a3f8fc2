//! `fmt`: texts in their usual form.

use super::{Found, files, out::Out, run, stop::Stop, unified, write};
use std::path::PathBuf;

/// Write texts in their usual form
///
/// Columns, spelling of measures and empty lines; never what a text says. A part that can't be read is left as it is.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  coatwright fmt                  everything in this folder
  coatwright fmt --check          only say what would change
  coatwright fmt - < card.trim    from standard input to standard output")]
pub(super) struct Args {
    /// Files or folders (`-` reads the text from standard input) [default: this folder]
    paths: Vec<PathBuf>,
    /// Write nothing; end with 1 if something would change
    #[arg(long)]
    check: bool,
    /// Write nothing; show what would change
    #[arg(long)]
    diff: bool,
}

pub(super) fn run(args: &Args, out: &mut Out) -> Result<Found, Stop> {
    if files::from_stdin(&args.paths)? {
        return stdin(args, out);
    }
    let (mut changed, mut refused) = (0_usize, Vec::new());
    for path in files::find(&files::or_here(&args.paths))? {
        let name = path.display().to_string();
        let result = files::read(&path).and_then(|old| formatted(&old, &name).map(|new| (old, new)));
        let (old, new) = match result {
            Ok(texts) => texts,
            Err(Stop::Told(words)) => {
                refused.push(words);
                continue;
            }
            Err(stop) => return Err(stop),
        };
        if old == new {
            continue;
        }
        changed += 1;
        if args.diff {
            out.write(&unified::diff(&name, &old, &new, out.look().colour))?;
        } else if args.check {
            out.write(&format!("{name}\n"))?;
        } else {
            write::replace(&path, &new)?;
            out.say(&format!("Written: {name}"));
        }
    }
    match refused.split_last() {
        None => Ok(found(args, changed > 0)),
        Some((last, others)) => {
            others.iter().for_each(|words| out.say(&format!("coatwright: {words}")));
            Err(Stop::because(last))
        }
    }
}

fn stdin(args: &Args, out: &mut Out) -> Result<Found, Stop> {
    let name = "standard input";
    let old = files::read_stdin()?;
    let new = formatted(&old, name)?;
    if args.diff {
        out.write(&unified::diff(name, &old, &new, out.look().colour))?;
    } else if !args.check {
        out.write(&new)?;
    }
    Ok(found(args, old != new))
}

fn formatted(old: &str, name: &str) -> Result<String, Stop> {
    run::format(old).map_err(|why| Stop::because(format!("{name} is left as it is: {why}")))
}

fn found(args: &Args, changed: bool) -> Found {
    if args.check && changed { Found::Something } else { Found::Nothing }
}
