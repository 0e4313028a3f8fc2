//! The dog in two versions of a recipe, side by side, with what differs marked and told: a page of its own, or a picture to put
//! beside a review.

use super::draw::{Shown as Drawing, Standalone, View, alone, colours, escaped, shown as drawn};
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
use std::fmt::Write;

/// How high a letter stands, as a share of the height of a view.
const LETTER: f64 = 0.045;

/// The page.
#[must_use]
pub fn pair(shown: &Shown, units: Units) -> String {
    let titles = titles(shown);
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

fn titles(shown: &Shown) -> [String; 2] {
    let version = |v: Option<i64>| v.map(|v| format!(", version {v}")).unwrap_or_default();
    [format!("Before{}", version(shown.versions.0)), format!("Now{}", version(shown.versions.1))]
}

/// Both dogs in one picture, as a file of its own; beneath them stands what is done otherwise.
#[must_use]
pub fn pair_alone(shown: &Shown, units: Units) -> Standalone {
    const WIDE: f64 = 720.0;
    const GAP: f64 = 40.0;
    const SIZE: f64 = 20.0;
    let trade = &*shown.trade;
    let seen = [marked(&shown.sheets.0.seen, shown), marked(&shown.sheets.1.seen, shown)];
    let dogs = [drawn(&seen[0], trade), drawn(&seen[1], trade)];
    let views = views(shown, &dogs[1]);
    let wide = 2.0 * WIDE + GAP;
    let title = format!("{}: what changed", shown.title);
    let mut body = String::new();
    let mut y = SIZE * 1.6;
    let line = |body: &mut String, y: &mut f64, words: &str, bold: bool| {
        // A letter is about half as wide as it is high.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let letters = (wide / (SIZE * 0.52)) as usize;
        for wrapped in textwrap::wrap(words, textwrap::Options::new(letters).subsequent_indent("    ")) {
            let weight = if bold { 700 } else { 400 };
            let _ = write!(
                body,
                "<text x=\"0\" y=\"{y:.1}\" font-size=\"{SIZE}\" fill=\"#222\" xml:space=\"preserve\" style=\"text-anchor:start;font-weight:{weight}\">{}</text>",
                escaped(&wrapped)
            );
            *y += SIZE * 1.5;
        }
    };
    line(&mut body, &mut y, &title, true);
    line(&mut body, &mut y, &format!("On {}. Red lines go round what is done otherwise.", shown.dog), false);
    for view in &views {
        let bounds = bounds(&dogs, *view);
        // The left side fills its half; the others stand in its scale or larger.
        let high = (bounds.height() * WIDE / bounds.width().max(1.0)).min(WIDE * 0.6);
        for ((dog, title), (x, prefix)) in dogs.iter().zip(&titles(shown)).zip([(0.0, "before"), (WIDE + GAP, "now")]) {
            let size = bounds.height() * LETTER / view.weight();
            let own = format!("{prefix}-{}", view.word());
            let Some((drawn, _)) = dog.draw_as(*view, &views, Moment::After, Look::Marked(size), &own) else {
                continue;
            };
            let _ = write!(
                body,
                "<svg x=\"{x:.0}\" y=\"{y:.1}\" width=\"{WIDE:.0}\" height=\"{high:.1}\" viewBox=\"{}\">{}</svg><text x=\"{:.1}\" y=\"{:.1}\" font-size=\"{SIZE}\" fill=\"#222\">{}: {}</text>",
                frame(bounds.union(drawn.bounds)),
                drawn.body,
                x + WIDE / 2.0,
                y + high + SIZE * 1.5,
                escaped(title),
                view.title().to_lowercase()
            );
        }
        y += high + SIZE * 3.4;
    }
    if shown.places.is_empty() {
        line(&mut body, &mut y, "Nothing on this dog: what changed is a keep, a border or an order.", false);
    }
    for (number, place) in shown.places.iter().enumerate() {
        let letter = letters().nth(number).unwrap_or('·');
        line(&mut body, &mut y, &format!("{letter}  {}: {}; before: {}", place.what, place.new, place.old), false);
    }
    y += SIZE * 0.5;
    y += colours(&mut body, (None, None), units, y, wide, SIZE * 0.9);
    let frame = Rect::new(-10.0, -10.0, wide + 10.0, y);
    Standalone { svg: alone(frame, &title, &body) }
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
    let views = views(shown, &dogs[1]);
    html! {
        @for view in &views {
            @let bounds = bounds(&dogs, *view);
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

/// Where something differs; the left side always.
fn views(shown: &Shown, now: &Drawing<'_>) -> Vec<View> {
    let trade = &*shown.trade;
    let changed = shown.places.iter().fold(Sites::NONE, |all, place| all | place.sites);
    let mut views = vec![View::Left, View::Head, View::Under];
    views.extend(
        (!trade.half(changed, Side::Right).within(trade.both_sides(trade.half(changed, Side::Left))))
            .then_some(View::Right),
    );
    views.retain(|view| *view == View::Left || changed.meets(now.sites_in(*view)));
    views
}

/// What both dogs take up in a view.
fn bounds(dogs: &[Drawing<'_>; 2], view: View) -> Rect {
    dogs.iter().filter_map(|dog| dog.bounds(view)).reduce(|a, b| a.union(b)).unwrap_or_default()
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
