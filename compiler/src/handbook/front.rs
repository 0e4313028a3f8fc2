//! The first page: the cautions, and the recipes house by house.

use super::Page;
use super::frame::{self, Framed};
use super::gather::{Book, House, Recipe};
use super::recipe::whom;
use maud::{Markup, html};

/// The page.
pub(super) fn page(book: &Book<'_>) -> Page {
    let body = html! {
        h1 { (book.title) }
        section.caution aria-labelledby="first" {
            h2 id="first" { "Before you begin" }
            ul {
                li { "A recipe is an aid to a trained groomer, who sees the dog and decides. It isn't veterinary advice." }
                li { "Local law and codes of practice come first." }
                li {
                    "Skin before coat: what you find goes on the card, and the owner hears it. "
                    a href="findings.html" { "Findings" } " tell what each asks for, and when a vet is due."
                }
                li {
                    "Don't work from these pages. They show a trim on a dog without findings; the sheet for the dog on your table may "
                    "ask for something gentler."
                }
            }
        }
        @for house in &book.houses { (self::house(house)) }
    };
    frame::page(book, Framed { path: "index.html".to_owned(), title: &book.title, above: Vec::new(), body })
}

fn house(house: &House<'_>) -> Markup {
    let id = format!("house-{}", house.slug);
    html! {
        section aria-labelledby=(id) {
            h2 id=(id) { (house.title) }
            p { a href=(format!("{}/index.html", house.slug)) { "Its rules, its kit and its own words" } }
            (cards(house, &format!("{}/", house.slug), 3))
        }
    }
}

/// The recipes of a house with their pictures; `way` leads to its folder, `level` is that of the headings.
pub(super) fn cards(house: &House<'_>, way: &str, level: u8) -> Markup {
    html! {
        ul.recipes {
            @for recipe in &house.recipes {
                li {
                    @if let Some(example) = &recipe.example {
                        img src=(format!("{way}{}.svg", recipe.file)) width="360" height="300" loading="lazy"
                            alt=(format!("{}: left side of {} after the trim", recipe.choices.title, example.words));
                    }
                    div {
                        @if level == 2 { h2 { (link(recipe, way)) } } @else { h3 { (link(recipe, way)) } }
                        @if !recipe.choices.about.is_empty() { p { (recipe.choices.about) } }
                        @if recipe.example.is_none() { p.whom { "No trim by itself: other recipes build on it." } }
                        @else { p.whom { (whom(&recipe.choices.serves, house.trade())) } }
                    }
                }
            }
        }
    }
}

fn link(recipe: &Recipe<'_>, way: &str) -> Markup {
    html! { a href=(format!("{way}{}.html", recipe.file)) { (recipe.choices.title) } }
}
