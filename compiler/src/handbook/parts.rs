//! The glossary of the parts, with the drawing; and how drawings stand in a page.

use super::Page;
use super::frame::{self, Framed};
use super::gather::Book;
use super::links::{anchor, of_basics, spoken};
use super::said::sourced;
use crate::atlas::{self, Measures};
use crate::names::card::Dog;
use crate::names::trade::{PlaceName, Sex, Skin, Trade, Zone};
use crate::names::zone_words::zone_words;
use crate::picture::{self, Look, Moment, Says, Shown, View};
use crate::sheet::{Seen, SeenPlace};
use crate::source::Sources;
use maud::{Markup, PreEscaped, html};
use std::collections::BTreeMap;

/// How wide a view stands in a page, in CSS pixels, before it is fitted to the screen.
const WIDE: f64 = 500.0;
/// How high a number stands then.
const NUMBER: f64 = 15.0;
/// The views of the glossary.
const VIEWS: [View; 5] = [View::Left, View::Head, View::Under, View::Front, View::Rear];

/// Views of a dog, each with its title and what it shows.
pub(super) fn figures(dog: &Shown<'_>, views: &[View], title: &dyn Fn(View) -> String, shows: &str) -> Markup {
    html! {
        div.pictures {
            @for view in views {
                @if let Some((number, wide)) = size(dog, *view)
                    && let Some((drawn, _)) = dog.draw(*view, views, Moment::After, Look::Numbered(number)) {
                    @let (t, d) = (format!("title-{}", view.word()), format!("desc-{}", view.word()));
                    figure style=(format!("--wide:{wide:.0}px")) {
                        svg viewBox=(picture::frame(drawn.bounds)) role="img" aria-labelledby=(t) aria-describedby=(d) {
                            title id=(t) { (title(*view)) }
                            desc id=(d) { (shows) }
                            (PreEscaped(&drawn.body))
                        }
                        figcaption { (view.title()) }
                    }
                }
            }
        }
    }
}

/// How high numbers stand in a view, in its units, and how wide the view stands in a page.
fn size(dog: &Shown<'_>, view: View) -> Option<(f64, f64)> {
    let (left, own) = (dog.bounds(View::Left)?, dog.bounds(view)?);
    let high = WIDE * left.height() / left.width().max(1.0) * view.weight();
    let per_pixel = own.height() / high.max(1.0);
    Some((NUMBER * per_pixel, own.width() / per_pixel.max(1e-9)))
}

/// The page.
pub(super) fn page(book: &Book<'_>) -> Page {
    let trade = crate::basics::shared();
    let seen = numbered(&trade);
    let dog = picture::shown(&seen, &trade);
    let drawn = where_drawn(&dog);
    let title = |view: View| format!("The parts of the dog, {}", view.title().to_lowercase());
    let body = html! {
        h1 { "Parts of the dog" }
        p.lead { "Every name that a recipe may use, where it lies, and what every dog keeps there." }
        section aria-labelledby="drawing" {
            h2 id="drawing" { "The drawing" }
            (figures(&dog, &VIEWS, &title, "Numbers are those of the table of parts, which tells for each in which view it stands."))
        }
        section aria-labelledby="table" {
            h2 id="table" { "Part by part" }
            (table(&trade, book.sources, &drawn))
        }
        section aria-labelledby="groups" {
            h2 id="groups" { "Words for several parts" }
            dl.words { (groups(&trade, true)) }
        }
        section aria-labelledby="marks" {
            h2 id="marks" { "Small places to know" }
            dl.words { (marks(&trade, true)) }
        }
    };
    frame::page(book, Framed { path: "parts.html".to_owned(), title: "Parts of the dog", above: Vec::new(), body })
}

/// A dog on which every part is a step of its own: its number in the glossary. Bare, so that the drawing is that of the skin.
fn numbered(trade: &Trade) -> Seen {
    let place = |(number, zone): (u32, &Zone)| {
        let sides: &[Option<&str>] = if zone.paired { &[Some("left"), Some("right")] } else { &[None] };
        let place = |side: &Option<&str>| SeenPlace {
            zone: zone.name.to_string(),
            side: side.map(str::to_owned),
            before: 0.0,
            after: 0.0,
            stands: 0.0,
            step: Some(number),
            clipped: false,
        };
        sides.iter().map(place).collect::<Vec<_>>()
    };
    Seen {
        build: "square".to_owned(),
        ears: "drop".to_owned(),
        tail: "sabre".to_owned(),
        sex: Some("dog".to_owned()),
        height: Measures::of(&Dog::default(), atlas::drawing()).height,
        girth: 1.0,
        places: (1..).zip(&trade.zones).flat_map(place).collect(),
        dangers: Vec::new(),
    }
}

/// For each number the views in which it stands.
fn where_drawn(dog: &Shown<'_>) -> BTreeMap<u32, Vec<View>> {
    let mut drawn: BTreeMap<u32, Vec<View>> = BTreeMap::new();
    for view in VIEWS {
        let labels = size(dog, view).and_then(|(n, _)| dog.draw(view, &VIEWS, Moment::After, Look::Numbered(n)));
        for label in labels.into_iter().flat_map(|(drawn, _)| drawn.labels) {
            if let Says::Step(number) = label.says {
                let views = drawn.entry(number).or_default();
                if !views.contains(&view) {
                    views.push(view);
                }
            }
        }
    }
    drawn
}

fn table(trade: &Trade, sources: &Sources, drawn: &BTreeMap<u32, Vec<View>>) -> Markup {
    html! {
        div.wide tabindex="0" role="region" aria-label="Table, part by part" {
            table {
                thead {
                    tr {
                        th scope="col" { "No." } th scope="col" { "Part" } th scope="col" { "View" } th scope="col" { "Skin" }
                        th scope="col" { "Kept on every dog" }
                    }
                }
                tbody {
                    @for (number, zone) in (1..).zip(&trade.zones) {
                        tr id=(anchor("part", &zone.name)) {
                            td { (number) }
                            th scope="row" { (self::zone(zone, trade)) }
                            td { (views(drawn.get(&number))) }
                            td { (skin(zone.skin)) }
                            td { (kept(zone, trade, sources)) }
                        }
                    }
                }
            }
        }
    }
}

fn views(drawn: Option<&Vec<View>>) -> String {
    let Some(views) = drawn else { return "not drawn".to_owned() };
    views
        .iter()
        .map(|view| view.title().split(',').next().unwrap_or_default().to_lowercase())
        .collect::<Vec<_>>()
        .join(", ")
}

/// A part with what it is and what else it is called.
fn zone(zone: &Zone, trade: &Trade) -> Markup {
    html! {
        (spoken(&zone.name))
        @if !zone.about.is_empty() { span.about { (zone.about) } }
        (called(trade, &zone.name))
    }
}

/// What else a part is called.
pub(super) fn called(trade: &Trade, name: &str) -> Markup {
    let this = trade.index.places.get(name);
    let same = |other: &PlaceName| this == Some(other);
    let others: Vec<String> =
        trade.index.places.iter().filter(|(n, place)| *n != name && same(place)).map(|(n, _)| spoken(n)).collect();
    html! { @if !others.is_empty() { span.about { "Also: " (others.join(", ")) } } }
}

const fn skin(skin: Skin) -> &'static str {
    match skin {
        Skin::Flat => "flat",
        Skin::Thin => "thin",
        Skin::Fold => "fold",
        Skin::Edge => "edge",
    }
}

fn kept(zone: &Zone, trade: &Trade, sources: &Sources) -> Markup {
    let mut lines: Vec<_> =
        trade.keeps.iter().filter(|keep| keep.owner == zone.name).map(|keep| sourced(sources, keep.place)).collect();
    lines.dedup();
    html! {
        @for (words, source) in &lines { p { (words) @if let Some(source) = source { " " span.from { "(" (source) ")" } } } }
        @for caution in &zone.cautions { p.mind { b { "Mind:" } " " (caution) } }
    }
}

/// Groups: those of the basics, or those of a house.
pub(super) fn groups(trade: &Trade, basics: bool) -> Markup {
    html! {
        @for (name, group) in trade.groups.iter().filter(|(_, group)| of_basics(group.place) == basics) {
            dt id=(anchor("part", name)) { (spoken(name)) }
            dd {
                @if !group.about.is_empty() { (group.about) " " }
                (called(trade, name))
                span.about { "Holds: " (zones(trade, name)) "." }
            }
        }
    }
}

/// The parts of a group, each by its own name.
fn zones(trade: &Trade, group: &str) -> String {
    let sites = trade.sites_of(group).unwrap_or_default();
    trade.zones.iter().filter(|z| z.sites().meets(sites)).map(|z| spoken(&z.name)).collect::<Vec<_>>().join(", ")
}

/// Small places: those of the basics, or those of a house.
pub(super) fn marks(trade: &Trade, basics: bool) -> Markup {
    html! {
        @for mark in trade.marks.iter().filter(|mark| of_basics(mark.place) == basics) {
            dt id=(anchor("part", &mark.name)) { (spoken(&mark.name)) }
            dd {
                @if !mark.about.is_empty() { (mark.about) " " }
                @if let Some(sex) = mark.sex { span.about { @if sex == Sex::Dog { "Dogs only." } @else { "Bitches only." } } }
                span.about { "On: " (zone_words(trade, mark.sites)) @if mark.find { ". Felt for before a tool comes near" } "." }
                @for caution in &mark.cautions { span.mind { b { "Mind:" } " " (caution) } }
            }
        }
    }
}
