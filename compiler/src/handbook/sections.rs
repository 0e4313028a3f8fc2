//! The lower sections of a recipe's page: joins, keeps, what is done on some dogs and for findings, cases, kin.

use super::gather::{House, Recipe};
use super::links::{self, UP, spoken};
use super::said::{self, Said, of_layers, one_line, within};
use super::source;
use crate::cases::Ran;
use crate::names::lower::Decl;
use crate::source::{Place, Sources};
use grammar::tree::StmtKind;
use maud::{Markup, html};

pub(super) fn joins(sources: &Sources, house: &House<'_>, recipe: &Recipe<'_>) -> Markup {
    let blends = of_layers(&recipe.layers, sources, |kind| matches!(kind, StmtKind::Blend(_)));
    let lines = of_layers(&recipe.layers, sources, |kind| matches!(kind, StmtKind::Line(_)));
    html! {
        @if !recipe.choices.blends.is_empty() || !recipe.choices.lines.is_empty() {
            section aria-labelledby="joins" {
                h2 id="joins" { "Blends and lines" }
                @if !blends.is_empty() { p { "Where two lengths meet and nothing may show:" } (said::list(&blends, house, recipe)) }
                @if !lines.is_empty() { p { "Lines that are meant to show:" } (said::list(&lines, house, recipe)) }
                @if blends.is_empty() && lines.is_empty() { p { "Only where a finding asks for it: see below." } }
            }
        }
    }
}

pub(super) fn keeps(sources: &Sources, house: &House<'_>, recipe: &Recipe<'_>) -> Markup {
    let keeps = of_layers(&recipe.layers, sources, |kind| {
        matches!(kind, StmtKind::Keep(_) | StmtKind::Order(_) | StmtKind::Lasts { .. })
    });
    html! {
        section aria-labelledby="keeps" {
            h2 id="keeps" { "What it keeps" }
            @if keeps.is_empty() { p { "Nothing beyond what the basics keep for every dog." } }
            @else { p { "Beyond what the basics keep for every dog:" } (said::list(&keeps, house, recipe)) }
        }
    }
}

/// What is done otherwise on dogs of some weight, coat, build …
pub(super) fn some_dogs(sources: &Sources, house: &House<'_>, recipe: &Recipe<'_>) -> Markup {
    let whens =
        of_layers(&recipe.layers, sources, |kind| matches!(kind, StmtKind::When { .. } | StmtKind::Else { .. }));
    html! {
        @if !whens.is_empty() {
            section aria-labelledby="some" {
                h2 id="some" { "On some dogs" }
                @for when in &whens {
                    p { code { (source::inline(head(&when.text))) } @if when.decl.place() != recipe.decl.place() { " from " (spoken(&when.decl.name())) } }
                    div.guard { (said::list(&within(when, sources), house, recipe)) }
                }
            }
        }
    }
}

/// A statement without its braces.
fn head(text: &str) -> &str {
    text.split(" {").next().unwrap_or(text)
}

pub(super) fn guards(sources: &Sources, house: &House<'_>, recipe: &Recipe<'_>) -> Markup {
    let guards: Vec<Said<'_>> = of_layers(&recipe.layers, sources, |kind| matches!(kind, StmtKind::Guard { .. }));
    html! {
        section aria-labelledby="guards" {
            h2 id="guards" { "What findings change" }
            p {
                "Every finding asks for its own care by itself: see " a href=(format!("{UP}findings.html")) { "findings" } ". "
                @if guards.is_empty() { "This recipe adds nothing to that." } @else { "For these the recipe says what is done:" }
            }
            @for guard in &guards { (self::guard(guard, sources, house, recipe)) }
        }
    }
}

fn guard(guard: &Said<'_>, sources: &Sources, house: &House<'_>, recipe: &Recipe<'_>) -> Markup {
    let trade = house.trade();
    let StmtKind::Guard { findings, .. } = &guard.stmt.kind else { return html! {} };
    let found: Vec<_> = findings
        .iter()
        .filter_map(|word| trade.index.findings.get(&word.text).and_then(|id| trade.finding(*id)))
        .collect();
    html! {
        div.guard {
            h3 {
                @for (n, finding) in found.iter().enumerate() {
                    @if n > 0 { ", " }
                    a href=(links::finding(UP, house, finding)) { (spoken(&finding.name)) }
                }
            }
            @for finding in &found {
                p { (finding.about) @for caution in &finding.cautions { " " span.mind { b { "Mind:" } " " (caution) } } }
            }
            (said::list(&within(guard, sources), house, recipe))
        }
    }
}

pub(super) fn cases(sources: &Sources, recipe: &Recipe<'_>) -> Markup {
    html! {
        section aria-labelledby="cases" {
            h2 id="cases" { "Cases" }
            @if recipe.cases.is_empty() { p { "No case says yet what must stay so." } }
            @else { p { "What must stay so, whatever else is changed: a dog, and what it gets." } }
            @for (decl, ran) in &recipe.cases { (case(sources, *decl, ran)) }
        }
    }
}

pub(super) fn case(sources: &Sources, decl: Decl<'_>, ran: &Ran) -> Markup {
    let text = |span: grammar::tree::Span| {
        let place = Place { file: decl.file, start: decl.at + span.start, end: decl.at + span.end };
        (place, one_line(sources.at(place)))
    };
    // What is said of the case as a whole has the place of its name.
    let of_whole = ran.said.iter().filter(|d| d.place == decl.place());
    html! {
        div.case {
            h3 { (spoken(&decl.name())) ": " @if ran.passed() { "holds" } @else { strong { "doesn't hold" } } }
            @if let Some(above) = said::above(decl, sources, true) { p { (above) } }
            ul.said {
                @for stmt in &decl.block.body {
                    @let (place, words) = text(stmt.span);
                    @if matches!(stmt.kind, StmtKind::Given { .. } | StmtKind::Expect(_)) {
                        li {
                            code { (source::inline(&words)) }
                            @for wrong in ran.said.iter().filter(|d| d.place.file == place.file && place.start <= d.place.start && d.place.end <= place.end) {
                                " " strong { "doesn't hold: " (wrong.message) }
                            }
                        }
                    }
                }
            }
            @for wrong in of_whole { p { strong { (wrong.message) } } }
        }
    }
}

pub(super) fn kin(house: &House<'_>, recipe: &Recipe<'_>) -> Markup {
    let link = |name: &str| {
        html! {
            @match house.recipe(name) {
                Some(other) => a href=(format!("{}.html", other.file)) { (other.choices.title) },
                None => (spoken(name)),
            }
        }
    };
    html! {
        section aria-labelledby="kin" {
            h2 id="kin" { "What it builds on, and what builds on it" }
            dl.facts {
                dt { "House" }
                dd { a href="index.html" { (house.title) } }
                dt { "Builds on" }
                dd {
                    @match recipe.base() {
                        Some(base) => (link(base)),
                        None => "no other recipe",
                    }
                }
                dt { "What builds on it" }
                dd {
                    @if recipe.children.is_empty() { "nothing here" }
                    @for (n, child) in recipe.children.iter().enumerate() { @if n > 0 { ", " } (link(child)) }
                }
            }
        }
    }
}
