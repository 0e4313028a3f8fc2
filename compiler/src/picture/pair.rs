//! The dog in two versions of a recipe, side by side: a page of its own, with what differs marked and told.

use super::draw::{View, shown as drawn};
use super::page::{fonts, frame, key};
use super::scene::Moment;
use super::svg::Look;
use crate::compare::Shown;
use crate::names::sites::Sites;
use crate::names::trade::{Side, Trade};
use crate::sheet::render::Units;
use crate::sheet::{Seen, SeenDanger};
use kurbo::Rect;
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// How high a letter stands, as a share of the height of a view.
const LETTER: f64 = 0.045;

/// The page.
#[must_use]
pub fn pair(shown: &Shown, units: Units) -> String {
    let version = |v: Option<i64>| v.map(|v| format!(", version {v}")).unwrap_or_default();
    let titles = [format!("Before{}", version(shown.versions.0)), format!("Now{}", version(shown.versions.1))];
    let title = format!("{}: what changed", shown.title);
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                style { (PreEscaped(fonts())) (PreEscaped(include_str!("pair.css"))) }
            }
            body {
                main {
                    h1 { (title) }
                    p { "On " (shown.dog) ". Letters stand where something is done otherwise; red lines go round those parts." }
                    (pictures(shown, &titles))
                    (key(units, false))
                    h2 { "What is done otherwise" }
                    (told(shown))
                }
            }
        }
    };
    page.into_string() + "\n"
}

/// The letters, as far as there are some.
fn letters() -> impl Iterator<Item = char> {
    ('A'..='Z').chain('a'..='z')
}

fn told(shown: &Shown) -> Markup {
    html! {
        @if shown.places.is_empty() { p { "Nothing on this dog: what changed is a keep, a border or an order." } }
        @else {
            table {
                thead { tr { th scope="col" { "Mark" } th scope="col" { "Part" } th scope="col" { "Before" } th scope="col" { "Now" } } }
                tbody {
                    @for (number, place) in shown.places.iter().enumerate() {
                        tr {
                            td { (letters().nth(number).unwrap_or('·')) }
                            th scope="row" { (place.what) }
                            td { (place.old) }
                            td { (place.new) }
                        }
                    }
                }
            }
        }
    }
}

/// Each view in which something differs, twice in one frame; the left side always.
fn pictures(shown: &Shown, titles: &[String; 2]) -> Markup {
    let trade = &*shown.trade;
    let seen = [marked(&shown.sheets.0.seen, shown), marked(&shown.sheets.1.seen, shown)];
    let dogs = [drawn(&seen[0], trade), drawn(&seen[1], trade)];
    let changed = shown.places.iter().fold(Sites::NONE, |all, place| all | place.sites);
    let mut views = vec![View::Left, View::Head, View::Under];
    views.extend(
        (!trade.half(changed, Side::Right).within(trade.both_sides(trade.half(changed, Side::Left))))
            .then_some(View::Right),
    );
    views.retain(|view| *view == View::Left || changed.meets(dogs[1].sites_in(*view)));
    html! {
        @for view in &views {
            @let bounds = dogs[0].bounds(*view).into_iter().chain(dogs[1].bounds(*view)).reduce(|a, b| a.union(b)).unwrap_or_default();
            div.views { @for (dog, (title, prefix)) in dogs.iter().zip(titles.iter().zip(["before", "now"])) {
                @let size = bounds.height() * LETTER / view.weight();
                @let own = format!("{prefix}-{}", view.word());
                @if let Some((drawn, _)) = dog.draw_as(*view, &views, Moment::After, Look::Marked(size), &own) {
                    (figure(title, *view, bounds.union(drawn.bounds), &drawn.body, &own))
                }
            } }
        }
    }
}

fn figure(title: &str, view: View, bounds: Rect, body: &str, prefix: &str) -> Markup {
    let (t, d) = (format!("{prefix}-title"), format!("{prefix}-desc"));
    html! {
        figure {
            svg viewBox=(frame(bounds)) role="img" aria-labelledby=(t) aria-describedby=(d) {
                title id=(t) { (title) ": " (view.title().to_lowercase()) }
                desc id=(d) { "What is done otherwise at each letter is told in the table below." }
                (PreEscaped(body))
            }
            figcaption { (title) ": " (view.title().to_lowercase()) }
        }
    }
}

/// The dog with a letter where something differs.
fn marked(seen: &Seen, shown: &Shown) -> Seen {
    let danger = |(number, (letter, place)): (usize, (char, &crate::compare::Otherwise))| SeenDanger {
        danger: number,
        letter,
        at: names(&shown.trade, place.sites),
        part: None,
    };
    Seen { dangers: letters().zip(&shown.places).enumerate().map(danger).collect(), ..seen.clone() }
}

fn names(trade: &Trade, sites: Sites) -> Vec<(String, Option<String>)> {
    let zones = sites.iter().filter_map(|site| trade.zone_of(site));
    zones.map(|(zone, side)| (zone.name.to_string(), side.map(|s| s.as_str().to_owned()))).collect()
}
