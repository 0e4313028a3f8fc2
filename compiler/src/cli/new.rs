//! `new`: a text to start from.

use super::{
    Found, card, date, files,
    out::Out,
    run::{self, Kind},
    stop::Stop,
    target::{Target, plain_name},
    write,
};
use clap::ValueEnum;
use coatwright::{date::Day, workspace};
use std::path::{Path, PathBuf};

/// Start a card, a recipe or a house
///
/// A card is a list to tick: take the dashes away from what is so. With --from, a card begins with what the last one
/// said, and a recipe builds on another. A file that is there already is never overwritten.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  coatwright new card bramble
  coatwright new card bramble-november --from bramble.trim
  coatwright new recipe summer-short --from harbour-short.trim
  coatwright new house saltmarsh")]
pub(super) struct Args {
    /// What to start
    #[arg(value_enum)]
    what: What,
    /// Its name, such as bramble or "harbour short"
    name: String,
    /// The card of the last visit, or the recipe to build on
    #[arg(long, value_name = "CARD|RECIPE")]
    from: Option<Target>,
    /// The day of the visit, such as 2026-11-20 [default: today]
    #[arg(long, value_name = "DATE", value_parser = date::parse)]
    on: Option<Day>,
    /// The file to write (`-`: show it only) [default: NAME.trim; of a house: house.trim]
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum What {
    /// What is done to every part of the dog
    Recipe,
    /// The dog on the table
    Card,
    /// What every recipe of the salon keeps to
    House,
}

pub(super) fn run(args: &Args, out: &mut Out) -> Result<Found, Stop> {
    let name = name(&args.name)?;
    let text = match (args.what, &args.from) {
        (What::Card, Some(from)) => card_from(&name, from, day(args))?,
        (What::Card, None) => {
            filled(include_str!("templates/card.trim"), &name).replace("{DATE}", &day(args).to_string())
        }
        (What::Recipe, Some(from)) => recipe_from(&name, from, args.output.as_deref())?,
        (What::Recipe, None) => filled(include_str!("templates/recipe.trim"), &name),
        (What::House, None) => filled(include_str!("templates/house.trim"), &name),
        (What::House, Some(_)) => return Err(Stop::because("a house isn't made from another; leave `--from` out")),
    };
    let usual = || if args.what == What::House { run::HOUSE.into() } else { format!("{name}.trim").into() };
    let path = args.output.clone().unwrap_or_else(usual);
    if path == Path::new(files::STDIN) {
        out.write(&text)?;
    } else {
        write::create(&path, &text)?;
        out.say(&format!("Written to {}.", path.display()));
    }
    Ok(Found::Nothing)
}

fn day(args: &Args) -> Day {
    args.on.unwrap_or_else(date::today)
}

/// The name as the language writes it, if it can be one.
fn name(asked: &str) -> Result<String, Stop> {
    let name = plain_name(asked);
    let fits = name.chars().all(|c| c.is_alphanumeric() || c == '-');
    if fits && name.starts_with(char::is_alphabetic) && !name.ends_with('-') {
        return Ok(name);
    }
    Err(Stop::because(format!(
        "`{asked}` can't be a name; use letters, digits and hyphens, such as bramble or harbour-short"
    )))
}

/// A template with its name and title filled in.
fn filled(template: &str, name: &str) -> String {
    let mut title = name.replace('-', " ");
    if let Some(first) = title.chars().next() {
        title.replace_range(..first.len_utf8(), &first.to_uppercase().to_string());
    }
    template.replace("{NAME}", name).replace("{TITLE}", &title)
}

fn card_from(name: &str, from: &Target, today: Day) -> Result<String, Stop> {
    let Some(file) = &from.file else {
        return Err(Stop::because("give the file of the last card: `--from bramble.trim`"));
    };
    let old = from.named(Kind::Card)?;
    let (statements, whole) = statements(&files::read(file)?, Kind::Card, &old, file)?;
    if !whole {
        let file = file.display();
        return Err(Stop::because(format!("the card of {old} has a mistake in it; see `coatwright check {file}`")));
    }
    Ok(card::from_last(name, &old, &statements, today))
}

fn recipe_from(name: &str, from: &Target, output: Option<&Path>) -> Result<String, Stop> {
    let base = from.named(Kind::Recipe)?;
    let version = match &from.file {
        None => None,
        Some(file) => {
            let (statements, _) = statements(&files::read(file)?, Kind::Recipe, &base, file)?;
            statements.iter().find_map(|s| s.strip_prefix("version").map(|v| format!(" version {}", v.trim())))
        }
    };
    let text = filled(include_str!("templates/recipe-from.trim"), name);
    let place = from.file.as_deref().and_then(|file| beside(file, output)).unwrap_or_default();
    let version = format!("{place}{}", version.unwrap_or_default());
    Ok(text.replace("{BASE}", &base).replace("{VERSION}", &version))
}

/// ` from "../harbour"`, if the base stands in a house beside that of the recipe to be; one around it is found by its name.
fn beside(base: &Path, output: Option<&Path>) -> Option<String> {
    let folder = |path: &Path| workspace::full(path).parent().map(Path::to_path_buf);
    let (there, here) = (folder(base)?, folder(output.unwrap_or(Path::new("x")))?);
    let house = there.ancestors().find(|folder| folder.join(run::HOUSE).is_file())?;
    if here.starts_with(house) {
        return None;
    }
    Some(format!(" from \"{}\"", workspace::way_words(&workspace::way(&here, house))))
}

fn statements(text: &str, kind: Kind, name: &str, file: &Path) -> Result<(Vec<String>, bool), Stop> {
    run::statements(text, kind, name)
        .ok_or_else(|| Stop::because(format!("{} holds no {} {name}", file.display(), kind.word())))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names() {
        assert_eq!(name("Harbour Short").ok().as_deref(), Some("harbour-short"));
        assert_eq!(name("süß-2").ok().as_deref(), Some("süß-2"));
        for bad in ["", " ", "-a", "a-", "2a", "a/b", "../a", "a.trim", "a#b"] {
            assert!(matches!(name(bad), Err(Stop::Told(_))), "{bad}");
        }
    }

    /// The templates can be read as they are, and so can every line that waits behind dashes: those begin with a small
    /// letter, remarks with a capital.
    #[test]
    fn templates_can_be_read() {
        for template in [
            include_str!("templates/card.trim"),
            include_str!("templates/recipe.trim"),
            include_str!("templates/recipe-from.trim"),
            include_str!("templates/house.trim"),
        ] {
            let text = filled(template, "harbour-short").replace("{DATE}", "2026-11-20");
            let text = text.replace("{BASE}", "saltmarsh-base").replace("{VERSION}", " version 3");
            let ticked = |line: &str| match line.strip_prefix("  -- ") {
                Some(waiting) if waiting.starts_with(char::is_lowercase) => format!("  {waiting}\n"),
                _ => format!("{line}\n"),
            };
            for text in [text.clone(), text.lines().map(ticked).collect()] {
                let said: Vec<_> = grammar::errors(&grammar::parse(&text))
                    .into_iter()
                    .map(|e| {
                        (e.code, e.message, text.get(e.span.start as usize..e.span.end as usize).map(str::to_owned))
                    })
                    .collect();
                assert!(said.is_empty(), "{said:?}\n{text}");
            }
        }
    }

    #[test]
    fn templates_are_filled() {
        for template in [
            include_str!("templates/card.trim"),
            include_str!("templates/recipe.trim"),
            include_str!("templates/recipe-from.trim"),
            include_str!("templates/house.trim"),
        ] {
            let text = filled(template, "harbour-short");
            let text = text.replace("{DATE}", "x").replace("{BASE}", "y").replace("{VERSION}", "z");
            assert!(
                ["{NAME", "{TITLE", "{DATE", "{BASE", "{VERSION"].iter().all(|hole| !text.contains(hole)),
                "{text}"
            );
            assert!(text.lines().all(|line| line.chars().count() <= 120 && !line.ends_with(' ')), "{text}");
        }
        assert!(filled("{TITLE}", "harbour-short") == "Harbour short");
    }
}
