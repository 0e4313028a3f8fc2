//! A house's page: its recipes, its rules, its kit, its own words.

use super::Page;
use super::frame::{self, Framed};
use super::front::cards;
use super::gather::{Book, House};
use super::links::{self, UP, of_basics};
use super::said::{self, of_layers};
use super::{parts, sections, source, words};
use crate::check;
use crate::choices::Layer;
use grammar::tree::StmtKind;
use maud::{Markup, html};

/// The page.
pub(super) fn page(book: &Book<'_>, house: &House<'_>) -> Page {
    let trade = house.trade();
    let groups = trade.groups.values().any(|g| !of_basics(g.place));
    let marks = trade.marks.iter().any(|m| !of_basics(m.place));
    let body = html! {
        h1 { (house.title) }
        @if let Some(above) = house.salon.house.and_then(|decl| said::above(decl, book.sources, false)) { p.lead { (above) } }
        section aria-labelledby="recipes" {
            h2 id="recipes" { "Recipes" }
            (cards(house, "", 3))
        }
        @if !house.idle.is_empty() {
            section aria-labelledby="idle" {
                h2 id="idle" { "Cases that can't be run" }
                @for (decl, ran) in &house.idle { (sections::case(book.sources, *decl, ran)) }
            }
        }
        @if let Some(decl) = house.salon.house {
            (rules(book, house))
            (kit(house))
            @if groups || marks {
                section aria-labelledby="places" {
                    h2 id="places" { "Words of its own for parts" }
                    dl.words { (parts::groups(trade, false)) (parts::marks(trade, false)) }
                }
            }
            (words::of_house(house, book.sources))
            section aria-labelledby="text" {
                h2 id="text" { "The text" }
                (source::block(decl, book.sources, "The text of the house"))
            }
        }
    };
    let above = vec![(format!("{UP}index.html"), book.title.clone())];
    frame::page(book, Framed { path: format!("{}/index.html", house.slug), title: &house.title, above, body })
}

/// What holds for every recipe of a house.
fn rules(book: &Book<'_>, house: &House<'_>) -> Markup {
    // What the houses around it keep holds here, too.
    let layers: Vec<Layer<'_>> = check::houses(&house.salon).collect();
    let Some(decl) = layers.last().map(|own| own.decl) else { return html! {} };
    let plain = |kind: &StmtKind| !matches!(kind, StmtKind::Field(_) | StmtKind::About(_) | StmtKind::Broken);
    let all = of_layers(&layers, book.sources, plain);
    html! {
        section aria-labelledby="rules" {
            h2 id="rules" { "What holds for every recipe" }
            @if all.is_empty() { p { "Nothing beyond the basics." } }
            @else { ul.said { @for said in &all { li { (said.shown(house, decl)) } } } }
        }
    }
}

fn kit(house: &House<'_>) -> Markup {
    let trade = house.trade();
    let tools = || house.choices.many.iter().filter_map(|(id, many)| Some((trade.tool(*id)?, *many)));
    html! {
        @if tools().next().is_some() {
            section aria-labelledby="kit" {
                h2 id="kit" { "Its kit" }
                ul.kit {
                    @for (tool, many) in tools() {
                        li {
                            @if many > 1 { (many) " × " }
                            a href=(links::tool(UP, house, tool)) { (links::tool_name(tool, trade)) }
                        }
                    }
                }
            }
        }
    }
}
