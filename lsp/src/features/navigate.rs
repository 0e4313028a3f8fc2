//! Where something is declared, where it is named, and naming it anew.

use super::fixes::Replace;
use super::resolve::{Target, Use, declared_at, is_basic, use_at, uses};
use crate::around::{Here, Location};
use crate::lines::Range;
use coatwright::names::lower::Decl;
use coatwright::source::{FileId, Place};
use coatwright::workspace::Salon;
use grammar::tree::StmtKind;
use grammar::words;

/// Where the word at a byte is declared, and the bytes of that word.
#[must_use]
pub fn definition(here: &Here<'_>, at: u32) -> Option<(Range, Location)> {
    let salon = here.salon()?;
    let found = use_at(here, &salon, at)?;
    let mut place = declared_at(&salon, &found.target)?;
    // A parameter that a base declares first leads there.
    if let Target::Value { home, .. } = found.target
        && place == here.place(found.word.span)
    {
        place = home;
    }
    Some((here.range(found.word.span), here.around.location(place)?))
}

/// A place where something is named.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mention {
    /// Where.
    pub location: Location,
    /// Whether it is declared there.
    pub declares: bool,
}

/// Every place in the salon that names what the word at a byte stands for.
#[must_use]
pub fn references(here: &Here<'_>, at: u32, with_declaration: bool) -> Vec<Mention> {
    let Some(salon) = here.salon() else { return Vec::new() };
    let Some(asked) = use_at(here, &salon, at) else { return Vec::new() };
    let mut out = Vec::new();
    for (file, found) in everywhere(here, &salon, &asked.target) {
        let lines = here.around.lines(file);
        let Some(name) = here.around.name(file) else { continue };
        for found in found {
            if with_declaration || !found.word.declares {
                let bytes = found.word.span.start as usize..found.word.span.end as usize;
                let range = lines.range(bytes, here.around.columns());
                let location = Location { file: name.clone(), range };
                out.push(Mention { location, declares: found.word.declares });
            }
        }
    }
    if with_declaration
        && let Some(place) = declared_at(&salon, &asked.target).filter(|p| is_basic(p.file))
        && let Some(location) = here.around.location(place)
    {
        out.push(Mention { location, declares: true });
    }
    out
}

/// The places of this document alone.
#[must_use]
pub fn highlights(here: &Here<'_>, at: u32) -> Vec<(Range, bool)> {
    let Some(salon) = here.salon() else { return Vec::new() };
    let Some(asked) = use_at(here, &salon, at) else { return Vec::new() };
    let found = mentions(here, &salon, here.file, &asked.target);
    found.into_iter().map(|u| (here.range(u.word.span), u.word.declares)).collect()
}

/// What names a thing in its house and in the houses inside that one, file by file.
fn everywhere<'a>(here: &Here<'a>, salon: &Salon<'a>, target: &Target) -> Vec<(FileId, Vec<Use>)> {
    let of = |salon: &Salon<'a>, target: &Target| {
        let files = files(here, salon, target).into_iter();
        files.map(|file| (file, mentions(here, salon, file, target))).collect::<Vec<_>>()
    };
    let declared = declared_at(salon, target).filter(|place| !is_basic(place.file));
    if declared.is_none() || !here.around.workspace().nests() {
        return of(salon, target);
    }
    // Each house counts its words by itself; a recipe is known by its place.
    let known = |other: &Salon<'a>| {
        if matches!(target, Target::Recipe(_)) {
            return Some(target.clone());
        }
        let place = declared?;
        let there = uses(other, here.decl_at(place)?).into_iter();
        there
            .filter(|found| of_word(place, found))
            .map(|found| found.target)
            .find(|t| declared_at(other, t) == declared)
    };
    let all = here.around.workspace().salons().into_iter();
    all.filter_map(|other| Some((known(&other)?, other))).flat_map(|(target, other)| of(&other, &target)).collect()
}

/// Whether a word stands at a place of its file.
fn of_word(place: Place, found: &Use) -> bool {
    (found.word.span.start, found.word.span.end) == (place.start, place.end)
}

/// The files of a salon in which a word is looked for.
fn files(here: &Here<'_>, salon: &Salon<'_>, target: &Target) -> Vec<FileId> {
    let files = match target {
        Target::Recipe(place) => salon.files_mentioning(&[here.around.workspace().sources().at(*place)]),
        Target::Dog(name) => salon.files_mentioning(&[name]),
        _ => salon.files.to_vec(),
    };
    here.around.workspace().read(&files);
    files
}

fn mentions(here: &Here<'_>, salon: &Salon<'_>, file: FileId, target: &Target) -> Vec<Use> {
    let blocks = here.around.tree(file).into_iter().flat_map(|tree| &tree.blocks);
    let decls = blocks.map(|p| Decl { file, at: p.at, block: &p.block.block });
    decls.flat_map(|decl| uses(salon, decl)).filter(|u| u.target.same(target)).collect()
}

/// The name at a byte, if it can be changed.
///
/// # Errors
/// Why it can't, for a person.
pub fn can_rename(here: &Here<'_>, at: u32) -> Result<(Range, String), String> {
    let (_, found) = renamable(here, at)?;
    let text = here.text().get(found.word.span.start as usize..found.word.span.end as usize).unwrap_or_default();
    Ok((here.range(found.word.span), text.to_owned()))
}

fn renamable<'a>(here: &Here<'a>, at: u32) -> Result<(Salon<'a>, Use), String> {
    let salon = here.salon().ok_or("there is no name here")?;
    let found = use_at(here, &salon, at).ok_or("there is no name here")?;
    let declared = declared_at(&salon, &found.target).ok_or("nobody declares this name")?;
    if is_basic(declared.file) || basic_text(here, declared) {
        return Err(format!("`{}` is a word of the basics: it is called so everywhere", found.word.text));
    }
    Ok((salon, found))
}

/// Whether a place is in a copy of the basics.
fn basic_text(here: &Here<'_>, place: Place) -> bool {
    let text = here.around.workspace().sources().text(place.file);
    coatwright::basics::TEXTS.iter().any(|(_, basic)| *basic == text)
}

/// The edits that call something by another name, wherever it is called by the name at a byte.
///
/// # Errors
/// Why that can't be, for a person.
pub fn rename(here: &Here<'_>, at: u32, to: &str) -> Result<Vec<Replace>, String> {
    let (salon, asked) = renamable(here, at)?;
    let new = name(to, &asked.target)?;
    if let Some(taken) = taken(here, &salon, at, &asked, &new) {
        return Err(taken);
    }
    let mut out = Vec::new();
    for (file, found) in everywhere(here, &salon, &asked.target) {
        let Some(name) = here.around.name(file) else { continue };
        // What is called by a synonym goes on being called so.
        let same = |u: &Use| u.word.text == asked.word.text;
        for found in found.into_iter().filter(same) {
            let place = Place { file, start: found.word.span.start, end: found.word.span.end };
            out.push(Replace { file: name.clone(), range: here.around.range(place), text: new.clone() });
        }
    }
    Ok(out)
}

/// A new name as it is written: it must read as one name.
fn name(to: &str, target: &Target) -> Result<String, String> {
    let new = to.split_whitespace().collect::<Vec<_>>().join("-");
    let (text, of_value) = match target {
        Target::Value { .. } => (format!("recipe x {{\n  let {new} is 3 mm\n}}\n"), true),
        Target::Tool(_) => (format!("tool {new} {{\n}}\n"), false),
        _ => (format!("recipe {new} {{\n}}\n"), false),
    };
    let file = grammar::parse(&text);
    let block = file.blocks.first().map(|p| &p.block);
    let read = block.and_then(|b| {
        let value = b.block.body.first().and_then(|stmt| match &stmt.kind {
            StmtKind::Let { name, .. } => Some(&name.text),
            _ => None,
        });
        if of_value { value } else { b.block.name.as_ref().map(|n| &n.text) }
    });
    // The language's own words would be read as such where the name is used.
    let own = words::SMALL.contains(&new.as_str()) || words::PREPOSITIONS.contains(&new.as_str());
    let letter = new.starts_with(|c: char| c.is_alphabetic() || c == '#');
    let whole = letter && !own && read.is_some_and(|read| read.to_lowercase() == new.to_lowercase());
    if whole && file.blocks.len() == 1 && grammar::errors(&file).is_empty() {
        Ok(new)
    } else {
        Err(format!("`{to}` can't be a name: write letters, digits and hyphens"))
    }
}

/// Why a name can't be had: something else is called so.
fn taken(here: &Here<'_>, salon: &Salon<'_>, at: u32, asked: &Use, new: &str) -> Option<String> {
    let text = if new.starts_with('#') { new.to_uppercase() } else { new.to_lowercase() };
    let word = super::at::Word { text: text.as_str().into(), ..asked.word.clone() };
    let decl = here.decl(at)?;
    let other = match asked.target {
        // A measure is never read as a part, but whoever reads the recipe would.
        Target::Value { .. } if salon.trade.index.places.contains_key(text.as_str()) => {
            return Some(format!(
                "`{new}` is a part of the dog: call the measure something else, such as `{new}-length`"
            ));
        }
        Target::Case(_) => salon.cases.iter().any(|c| c.name() == text).then_some(()),
        Target::House => None,
        // Where it is declared, which may be a house beside.
        Target::Recipe(place) => {
            let there = here.around.workspace().salon_of(place.file);
            there.is_some_and(|salon| salon.recipes.contains_key(&text)).then_some(())
        }
        _ => super::resolve::target(salon, decl, &word).map(|_| ()),
    };
    other.map(|()| format!("the name `{new}` is taken here"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::around::tests::with;

    const BASE: &str = "recipe base {\n  version 1\n  param fold is 3 mm\n  clip neck to fold\n}\n\
        group wave { about \"x\"\n zones legs\n}\ndog d { wants t but { clip wave to fold }\n}\n";

    fn places(marked: &str) -> Vec<(u32, u32)> {
        let mut out = Vec::new();
        with(marked, BASE, |here, at| {
            let all = references(here, at, true);
            out = all.iter().map(|m| (m.location.range.start.line, m.location.range.start.column)).collect();
        });
        out
    }

    #[test]
    fn a_name_is_found_wherever_it_is_meant() {
        let t = "recipe t {\n  extends base version 1\n  clip body to fo|ld\n  param fold is 4 mm\n}\n";
        // Here twice, in the base twice, on the card once: one parameter.
        assert_eq!(places(t), [(2, 15), (3, 8), (2, 8), (3, 15), (8, 35)]);
        assert_eq!(places("recipe t { clip wa|ve, legs with #10 }"), [(0, 16), (5, 6), (8, 27)]);
        assert_eq!(places("recipe t { title \"b|ase\" }"), []);
    }

    #[test]
    fn a_measure_is_called_like_no_part() {
        with("recipe t {\n  let lo|ng is 3 mm\n  clip neck to long\n}\n", "", |here, at| {
            assert!(rename(here, at, "belly").is_err_and(|why| why.contains("belly-length")));
            assert_eq!(rename(here, at, "belly length").map(|edits| edits.len()), Ok(2));
        });
    }

    #[test]
    fn a_definition_may_be_in_the_basics() {
        with("recipe t { clip hind le|gs with #10 }", "", |here, at| {
            let found = definition(here, at).map(|(range, to)| (range.start.column, range.end.column, to.file));
            let Some((16, 25, crate::features::diagnostics::FileName::Path(path))) = found else { unreachable!() };
            assert!(path.ends_with("body.trim"));
            assert!(can_rename(here, at).is_err_and(|why| why.contains("basics")));
        });
    }

    #[test]
    fn a_new_name_goes_everywhere_or_nowhere() {
        with("recipe t { clip wa|ve with #10; shape topknot to 3 mm by shears }", BASE, |here, at| {
            let edits = rename(here, at, "tide line").unwrap_or_default();
            assert_eq!(edits.len(), 3);
            assert!(edits.iter().all(|e| e.text == "tide-line"));
            assert!(rename(here, at, "belly").is_err_and(|why| why.contains("taken")));
            for bad in ["", "to", "a {", "3 mm", "a, b", "--x"] {
                assert!(rename(here, at, bad).is_err(), "{bad}");
            }
        });
    }
}
