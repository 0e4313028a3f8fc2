//! Reading the arguments.

use super::*;
use clap::error::ErrorKind;

fn read(line: &str) -> Result<Cli, ErrorKind> {
    // What stands between quotes is one word, as in a shell.
    let parts = line.split('"').enumerate();
    let words = parts.flat_map(|(n, part)| if n % 2 == 1 { vec![part] } else { part.split_whitespace().collect() });
    Cli::try_parse_from(std::iter::once("coatwright").chain(words)).map_err(|e| e.kind())
}

#[test]
fn the_definition_holds_together() {
    Cli::command().debug_assert();
}

#[test]
fn what_is_understood() {
    for line in [
        "check",
        "check a.trim b --format short --fix --deny-warnings",
        "check - --stdin-name a.trim",
        "--colour never check",
        "check --color=always",
        "sheet harbour-short --dog bramble",
        "sheet --dog cards/bramble.trim#bramble --on 2026-11-20 --format json --units imperial --learner -o a.json",
        "sheet --schema",
        "why belly --recipe harbour-short",
        "why hind legs --dog bramble",
        "explain",
        "explain c001",
        "fmt --check --diff a.trim",
        "fmt -",
        "new card bramble --from last.trim --on 2026-11-20 -o b.trim",
        "completions fish",
        "man -o pages",
        "schema sheet",
    ] {
        assert!(read(line).is_ok(), "{line}: {:?}", read(line).err());
    }
}

#[test]
fn what_is_not() {
    for line in [
        "",
        "bake",
        "sheet harbour-short",
        "sheet --dog a --on tomorrow",
        "sheet --schema --dog a",
        "why --recipe a",
        "why belly",
        "new cat bramble",
        "new card",
        "check --format loud",
        "--colour blue check",
    ] {
        assert!(read(line).is_err(), "{line}");
    }
}

#[test]
fn every_command_has_an_example() {
    for command in Cli::command().get_subcommands() {
        let help = command.get_after_help().map(ToString::to_string).unwrap_or_default();
        let name = command.get_name();
        assert!(help.contains("Example") && help.contains(&format!("coatwright {name}")), "{name}");
        assert!(command.get_about().is_some_and(|a| !a.to_string().ends_with('.')), "{name}");
    }
}

#[test]
fn examples_of_the_help_are_understood() {
    for command in Cli::command().get_subcommands().chain(std::iter::once(&Cli::command())) {
        let help = command.get_after_help().map(ToString::to_string).unwrap_or_default();
        for line in help.lines().filter_map(|l| l.trim().strip_prefix("coatwright ")) {
            let line = line.split("  ").next().unwrap_or(line).split(['|', '>', '<']).next().unwrap_or(line);
            assert!(read(line).is_ok(), "{line}");
        }
    }
}

#[test]
fn help_follows_the_colour_asked_for() {
    let colour = |line: &str| help_colour(&line.split(' ').map(OsString::from).collect::<Vec<_>>());
    assert_eq!(colour("coatwright --colour never --help"), clap::ColorChoice::Never);
    assert_eq!(colour("coatwright check --color=always --help"), clap::ColorChoice::Always);
    assert_eq!(colour("coatwright check never"), clap::ColorChoice::Auto);
}
