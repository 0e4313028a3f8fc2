//! `man`: manual pages.

use super::{Cli, Found, out::Out, stop::Stop, write};
use clap::{Command, CommandFactory};
use clap_mangen::Man;
use std::{fs, path::PathBuf};

/// Print the manual, or write a page for every command
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  coatwright man | man -l -
  coatwright man -o ~/.local/share/man/man1")]
pub(super) struct Args {
    /// The folder to write the pages to
    #[arg(short, long, value_name = "DIR")]
    output: Option<PathBuf>,
}

pub(super) fn run(args: &Args, out: &mut Out) -> Result<Found, Stop> {
    let mut command = Cli::command();
    command.build();
    let Some(folder) = &args.output else {
        out.write(&page(command)?)?;
        return Ok(Found::Nothing);
    };
    fs::create_dir_all(folder).map_err(|e| Stop::file("make the folder", folder, &e))?;
    let commands: Vec<Command> = command.get_subcommands().cloned().collect();
    for command in std::iter::once(command).chain(commands) {
        let name = command.get_display_name().unwrap_or_else(|| command.get_name()).to_owned();
        write::replace(&folder.join(format!("{name}.1")), &page(command)?)?;
    }
    out.say(&format!("Written to {}.", folder.display()));
    Ok(Found::Nothing)
}

fn page(command: Command) -> Result<String, Stop> {
    let mut text = Vec::new();
    Man::new(command).render(&mut text)?;
    Ok(String::from_utf8_lossy(&text).into_owned())
}
