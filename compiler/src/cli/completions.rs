//! `completions`: what a shell needs to complete commands.

use super::{Cli, Found, out::Out, stop::Stop};
use clap::CommandFactory;
use clap_complete::Shell;

/// Print completions for a shell
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  coatwright completions bash > ~/.local/share/bash-completion/completions/coatwright")]
pub(super) struct Args {
    /// The shell
    shell: Shell,
}

pub(super) fn run(args: &Args, out: &mut Out) -> Result<Found, Stop> {
    let mut text = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), "coatwright", &mut text);
    out.write(&String::from_utf8_lossy(&text))?;
    Ok(Found::Nothing)
}
