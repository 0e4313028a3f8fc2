//! What stands around every page: the head, the ways to the others, the search, and the foot with its cautions.

use super::Page;
use super::gather::Book;
use crate::picture;
use maud::{DOCTYPE, Markup, html};

/// The pages that every page leads to.
const WAYS: [(&str, &str); 5] = [
    ("index.html", "Recipes"),
    ("parts.html", "Parts of the dog"),
    ("findings.html", "Findings"),
    ("coats.html", "Coats"),
    ("tools.html", "Tools"),
];

/// A page to be framed.
pub(super) struct Framed<'a> {
    /// Its file, with `/` between the parts.
    pub(super) path: String,
    pub(super) title: &'a str,
    /// The pages above it: where, and what they are called.
    pub(super) above: Vec<(String, String)>,
    pub(super) body: Markup,
}

/// The page.
pub(super) fn page(book: &Book<'_>, framed: Framed<'_>) -> Page {
    let Framed { path, title, above, body } = framed;
    let root = if path.contains('/') { super::links::UP } else { "" };
    let whole = if path == "index.html" { title.to_owned() } else { format!("{title} · {}", book.title) };
    let page = html! {
        (DOCTYPE)
        html lang="en" data-root=(root) {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (whole) }
                link rel="stylesheet" href=(format!("{root}style.css"));
                script src=(format!("{root}search-words.js")) defer {}
                script src=(format!("{root}search.js")) defer {}
            }
            body {
                a.skip href="#main" { "Skip to the page" }
                header.top {
                    nav aria-label="Handbook" {
                        ul {
                            @for (file, words) in WAYS {
                                li { a href=(format!("{root}{file}")) aria-current=[(file == path).then_some("page")] { (words) } }
                            }
                        }
                    }
                    form.search role="search" hidden {
                        label for="search" { "Search" }
                        input id="search" type="search" autocomplete="off";
                        button type="submit" { "Find" }
                    }
                }
                section.found id="found" aria-label="Found" hidden {
                    p id="count" role="status" {}
                    ul id="hits" {}
                }
                main id="main" tabindex="-1" {
                    @if !above.is_empty() {
                        nav.above aria-label="Where you are" {
                            ol { @for (way, words) in &above { li { a href=(way) { (words) } } } }
                        }
                    }
                    (body)
                }
                footer {
                    p {
                        "An aid to a trained groomer, who sees the dog and decides; not veterinary advice. Local law and codes of "
                        "practice come first. For a dog on the table make its own sheet: what its card tells changes the trim."
                    }
                }
            }
        }
    };
    Page { path, text: page.into_string() + "\n" }
}

/// The style sheet, with the fonts in it.
pub(super) fn style() -> String {
    picture::fonts() + include_str!("handbook.css")
}
