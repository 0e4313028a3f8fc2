//! The handbook: a site for learners, made of what a salon has written.
//!
//! ```text
//! Workspace ─ gather ─> Book (houses, recipes, each with its dogs) ─ pages ─> Handbook (files)
//! ```
//!
//! It is a folder of plain pages: no server, nothing from elsewhere, the same bytes for the same texts. No card is printed in it:
//! a handbook goes to learners, and cards are of clients. The pictures show a dog that the recipe serves and that nobody owns.

mod dogs;
mod frame;
mod front;
mod gather;
mod house;
mod links;
mod parts;
mod recipe;
mod said;
mod search;
mod sections;
mod source;
mod words;

use crate::check;
use crate::diagnostic::{Diagnostic, Severity};
use crate::source::Place;
use crate::workspace::Workspace;
use gather::Book;
use grammar::tree::BlockKind;

/// A file of the site.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Page {
    /// Where in the folder, with `/` between the parts.
    pub path: String,
    /// What it holds.
    pub text: String,
}

/// A site, and what there is to say of it.
#[derive(Clone, Debug)]
pub struct Handbook {
    /// Its files, in the order of their paths.
    pub pages: Vec<Page>,
    /// How many recipes it teaches.
    pub recipes: usize,
    /// Cases that don't hold, each with what is wrong; their pages say so too.
    pub said: Vec<Diagnostic>,
}

/// The handbook of the salons in which the asked files stand.
///
/// # Errors
/// What is wrong with house, words or recipes: nobody should learn from what `check` refuses. Mistakes of cards and cases don't
/// count, since the handbook teaches neither.
pub fn handbook(workspace: &mut Workspace) -> Result<Handbook, Vec<Diagnostic>> {
    let asked: Vec<_> = {
        let asked = workspace.asked();
        let salons = workspace.salons();
        let of = salons.iter().filter(|salon| salon.files.iter().any(|file| asked.contains(file)));
        of.flat_map(|salon| salon.files.iter().copied()).collect()
    };
    workspace.ask(asked);
    let mut wrong = check::check_through(workspace);
    wrong.retain(|d| d.severity == Severity::Error && teaches(workspace, d.place));
    if !wrong.is_empty() {
        return Err(wrong);
    }
    let book = Book::of(workspace);
    let mut pages = vec![
        Page { path: "style.css".to_owned(), text: frame::style() },
        Page { path: "search.js".to_owned(), text: search::SCRIPT.to_owned() },
        front::page(&book),
        parts::page(&book),
        words::findings(&book),
        words::coats(&book),
        words::tools(&book),
    ];
    for house in &book.houses {
        pages.push(house::page(&book, house));
        for recipe in &house.recipes {
            pages.push(recipe::page(&book, house, recipe));
            pages.extend(recipe::thumbnail(house, recipe));
        }
    }
    pages.push(search::words(&book));
    pages.sort_by(|a, b| a.path.cmp(&b.path));
    let cases = book.houses.iter().flat_map(|h| h.idle.iter().chain(h.recipes.iter().flat_map(|r| &r.cases)));
    let said = cases.flat_map(|(_, ran)| ran.said.iter().cloned()).collect();
    Ok(Handbook { pages, recipes: book.houses.iter().map(|h| h.recipes.len()).sum(), said })
}

/// Whether the handbook teaches what stands at a place.
fn teaches(workspace: &Workspace, place: Place) -> bool {
    let Some(file) = workspace.file(place.file) else { return true };
    let block = file.heads().take_while(|(at, _)| *at <= place.start).last();
    block.is_none_or(|(_, head)| !matches!(head.kind, BlockKind::Dog | BlockKind::Case))
}
