//! The sheet as one page of HTML that holds everything it needs: a page for the table, and one for owner and file.

use super::draw::{Shown, View, bar_length, shown};
use super::fit;
use super::scale::{self, Hatch};
use super::scene::Moment;
use super::svg::{self, Look};
use crate::names::trade::Trade;
use crate::sheet::render::{Units, arrow, consent, danger_sign, in_units, short};
use crate::sheet::{Line, Sheet, Step};
use kurbo::{Point, Rect};
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// What the ids of the legend's hatchings begin with.
const KEY: &str = "key";
/// How pictures are set.
struct Room {
    /// How high a number prints, in mm.
    number: f64,
    /// How high the left side prints at most, in mm.
    highest: f64,
    /// Over how many rows the pictures may run.
    rows: f64,
}

const ROW: Room = Room { number: 2.8, highest: 54.0, rows: 1.0 };
const LARGE_ROW: Room = Room { number: 4.2, highest: 78.0, rows: 1.7 };

/// Letters that are read at arm's length, in points.
const LARGE: f64 = 12.0;

/// The page. `large` prints it in letters that are read at arm's length, on as many pages as it takes.
#[must_use]
pub fn page(sheet: &Sheet, units: Units, large: bool, trade: &Trade) -> String {
    let sheet = &*in_units(sheet, units);
    let dog = shown(&sheet.seen, trade);
    let title = format!("{}: {}", sheet.dog.name, sheet.title);
    let row = row(&dog, units, if large { &LARGE_ROW } else { &ROW });
    let high = row.iter().map(Set::high).fold(0.0, f64::max);
    let layout = fit::first(sheet, high, units, large.then_some(LARGE));
    let pair = pair(&dog);
    let shape = pair.0.height() / pair.0.width().max(1.0);
    let two = fit::second(sheet, shape, large.then_some(LARGE));
    let root = format!(
        ":root{{--size:{:.1}pt;--two:{:.1}pt;--file:{:.2}pt;--ruled:{:.1}mm}}@page{{@bottom-left{{content:\"{}\"}}}}",
        layout.points,
        two.points,
        two.points * fit::FILE,
        two.ruled,
        quoted(&format!("{title} · {}", sheet.date))
    );
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                style { (PreEscaped(fonts())) (PreEscaped(root)) (PreEscaped(include_str!("page.css"))) }
            }
            body {
                (definitions())
                main {
                    (table(sheet, &row, layout.first, units))
                    (second(sheet, &pair, two.first))
                }
            }
        }
    };
    page.into_string()
}

/// A stroke of work in words, as wide as it is printed.
pub(super) fn said(line: &Line) -> String {
    let mut words: Vec<String> = Vec::new();
    words.extend(line.tool.clone());
    // The arrow is as wide as three letters.
    words.extend(line.direction.as_deref().map(|d| format!("mm {}", short(d))));
    words.push(line.work.clone());
    words.extend(line.leaves.as_ref().map(|l| format!("[{l}]")));
    words.extend(line.how.clone());
    words.extend(line.differs.as_ref().map(|d| format!("* {d}")));
    words.extend(line.caution.as_ref().map(|c| format!("W {c}")));
    words.join(" ")
}

fn table(sheet: &Sheet, row: &[Set], first: Option<usize>, units: Units) -> Markup {
    let strip = &sheet.dog;
    let stands = sheet.stands.as_ref().map(|s| format!(" · {s}")).unwrap_or_default();
    html! {
        section aria-labelledby="top" {
            header {
                h1 id="top" { (strip.name) " · " (sheet.title) }
                p { @if let Some(house) = &sheet.house { (house) " · " } (sheet.date) }
            }
            p.facts {
                b { (strip.facts) }
                @for more in [&strip.looks, &strip.medical, &strip.phones, &strip.last].into_iter().flatten() {
                    " · " (more)
                }
            }
            @if !sheet.dangers.is_empty() || !sheet.vet_first.is_empty() {
                ul.danger aria-label="Dangers" {
                    @for (number, danger) in sheet.dangers.iter().enumerate() {
                        li { span.letter { (danger_sign(sheet, number)) } (danger) }
                    }
                    @if let Some(also) = &sheet.also { li { span.letter { "!" } "Also: " (also) } }
                    @for vet in &sheet.vet_first { li { span.letter { "!" } "Vet: " (vet) } }
                }
            }
            dl.facts {
                @if let Some(words) = &sheet.replanned { dt { "The rest" } dd { b { (words) } } }
                @if let Some(words) = sheet.not_served() { dt { "Mind" } dd { b { (words) } } }
                @for line in &sheet.overridden { dt { "Overridden" } dd { b { (line) } } }
                @if let Some(handling) = &strip.handling { dt { "Handling" } dd { b { (handling) } } }
                dt { "Consent" }
                dd { (sheet.consents.iter().map(|c| format!("{} {}", c.what, consent(c.agreed))).collect::<Vec<_>>().join(" · ")) }
                @if !sheet.not_asked.is_empty() { dt { "Not asked" } dd { (sheet.not_asked.join(", ")) } }
                dt { "Lay out" }
                dd { (sheet.lay_out.join(" · ")) }
                dt { "Takes" }
                dd { (sheet.takes) (stands) }
                @if !sheet.waits.is_empty() { dt { "Waits" } dd { b { (sheet.waits.join(". ")) } } }
            }
            (pictures(sheet, row, units))
            @match first.and_then(|n| sheet.steps.split_at_checked(n)) {
                Some((left, right)) => {
                    div.columns {
                        ol.steps aria-label="Steps" { @for step in left { (self::step(step)) } }
                        ol.steps aria-label="Steps, continued" { @for step in right { (self::step(step)) } }
                    }
                }
                None => ol.steps aria-label="Steps" { @for step in &sheet.steps { (self::step(step)) } }
            }
            dl.facts.foot {
                @if !sheet.leave.is_empty() { dt { "Leave" } dd { (sheet.leave.join("; ")) } }
                @if !sheet.left_out.is_empty() { dt { "Not today" } dd { (sheet.left_out.join("; ")) } }
                @for line in &sheet.will_show { dt { "Will show" } dd { (line) } }
            }
        }
    }
}

/// A step. What it cautions of runs on in the line of its title, a caution of its work in the line of that work: so that it
/// is read with it, and no half-empty lines push the sheet to a second page.
fn step(step: &Step) -> Markup {
    html! {
        li {
            @if let Some(rest) = &step.rest { p.rest { (rest) } }
            @if let Some(station) = &step.station {
                p.station { (station) @if let Some(begins) = &step.begins { span.minutes { "after " (begins) } } }
            }
            div.head {
                h2 {
                    span.number { (step.number) }
                    span.box aria-hidden="true" {}
                    (step.title)
                }
                @if let Some(minutes) = &step.minutes { " " span.minutes { (minutes) } }
                @if let Some(caution) = &step.caution { " " (self::caution(caution)) }
                @if let Some(breaks) = &step.breaks { " " (self::caution(breaks)) }
            }
            @for line in &step.lines {
                @if let Some(rest) = &line.rest { p.rest { (rest) } }
                p.work {
                    @if let Some(tool) = &line.tool { @if line.takes_up { b { (tool) } } @else { (tool) } " " }
                    @if let Some(way) = &line.direction { (way_sign(way)) (short(way)) " " }
                    (line.work)
                    @if let Some(leaves) = &line.leaves { " [" (leaves) "]" }
                    @if let Some(how) = &line.how { " " (how) }
                    @if let Some(differs) = &line.differs { b { " * " (differs) } }
                    @if let Some(caution) = &line.caution { " " (self::caution(caution)) }
                    @if let Some(because) = &line.because { br; "= " (because) }
                }
            }
        }
    }
}

fn caution(words: &str) -> Markup {
    html! {
        span.caution { svg viewBox="0 0 10 10" aria-hidden="true" { use href="#danger" {} } (words) }
    }
}

/// The arrow of a direction; the word stands beside it.
fn way_sign(way: &str) -> Markup {
    let id = match arrow(way) {
        "→" => "with",
        "←" => "reverse",
        _ => "across",
    };
    html! { svg.arrow viewBox="0 0 12 8" aria-hidden="true" { use href=(format!("#{id}")) {} } " " }
}

/// A view to be set into the page.
struct Set {
    view: View,
    body: String,
    bounds: Rect,
    /// How wide it prints, in mm.
    wide: f64,
}

impl Set {
    fn high(&self) -> f64 {
        self.wide * self.bounds.height() / self.bounds.width().max(1.0)
    }
}

/// The pictures in one row, as high as the page's width allows.
fn row(dog: &Shown<'_>, units: Units, room: &Room) -> Vec<Set> {
    let views = dog.needed();
    // Once bare, to learn how many units a printed millimetre is.
    let bare: Vec<(View, Rect)> = views.iter().filter_map(|view| Some((*view, dog.bounds(*view)?))).collect();
    let wide: f64 = bare.iter().map(|(v, b)| v.weight() * b.width() / b.height().max(1.0)).sum();
    // Labels beside the dogs need some room too.
    #[allow(clippy::cast_precision_loss)]
    let free = fit::PAGE.0 * room.rows - 7.0 * bare.len() as f64;
    let high = (free / wide.max(0.1)).min(room.highest);
    let set = |(view, bounds): (View, Rect)| {
        let per_mm = bounds.height() / (high * view.weight());
        let number = room.number * per_mm;
        let (drawn, scale) = dog.draw(view, &views, Moment::After, Look::Numbered(number))?;
        let (mut body, mut bounds) = (drawn.body, drawn.bounds);
        if view == View::Left {
            let (length, words) = bar_length(units, bounds.width() / scale);
            body.push_str(&svg::bar(Point::new(bounds.x0 + 4.0, bounds.y1 + number), scale, length, words, number));
            bounds.y1 += number * 1.3;
        }
        Some(Set { view, body, bounds, wide: bounds.width() / per_mm })
    };
    bare.into_iter().filter_map(set).collect()
}

fn pictures(sheet: &Sheet, row: &[Set], units: Units) -> Markup {
    let name = &sheet.dog.name;
    html! {
        div.pictures.rows[row.iter().map(|s| s.wide).sum::<f64>() > 1.2 * fit::PAGE.0] {
            @for set in row {
                figure style=(format!("width:{:.1}mm", set.wide)) {
                    (picture(set.bounds, &set.body, &format!("{name} after the trim, {}: numbers are steps, letters dangers", set.view.title().to_lowercase())))
                    figcaption { (set.view.title()) }
                }
            }
        }
        (legend(units, &SIGNS))
    }
}

/// The frame of a picture as an SVG says it.
pub(crate) fn frame(frame: Rect) -> String {
    format!("{:.0} {:.0} {:.0} {:.0}", frame.x0, frame.y0, frame.width(), frame.height())
}

fn picture(frame: Rect, body: &str, title: &str) -> Markup {
    html! { svg viewBox=(self::frame(frame)) role="img" aria-label=(title) { (PreEscaped(body)) } }
}

/// What else the pictures show.
pub(super) const SIGNS: [&str; 5] =
    ["7: step", "A: danger", "arrows: the hair turns", "- - skin", "bold tool: taken up"];

/// The scale with its hatchings, for a page whose dogs have no dangers; with what numbers and arrows mean where there are some.
pub(crate) fn key(units: Units, numbered: bool) -> Markup {
    let signs: &[&str] = if numbered { &[SIGNS[0], SIGNS[2], SIGNS[3]] } else { &[SIGNS[3]] };
    html! {
        svg width="0" height="0" style="position:absolute" aria-hidden="true" { (PreEscaped(svg::definitions(KEY, 24.0))) }
        (legend(units, signs))
    }
}

/// The scale in words, as short as it can be.
fn legend(units: Units, signs: &[&str]) -> Markup {
    html! {
        ul.scale aria-label="Length of coat" {
            @for (number, class) in scale::SCALE.iter().enumerate() {
                li { (swatch(class.colour, &number.to_string(), class.hatch != Hatch::None)) (scale::range(number, units)) }
            }
            li { (swatch(scale::LEFT.colour, "left", true)) (scale::LEFT_WORDS) }
            @for words in signs { li { (words) } }
        }
    }
}

fn swatch(colour: &str, id: &str, hatched: bool) -> Markup {
    html! {
        svg viewBox="0 0 38 22" aria-hidden="true" {
            rect width="38" height="22" fill=(colour) stroke="#111" stroke-width="1.5" {}
            @if hatched { rect width="38" height="22" fill=(format!("url(#{KEY}-hatch-{id})")) {} }
        }
    }
}

/// What the owner reads, by heading; what is empty is left out.
pub(super) fn sections(sheet: &Sheet) -> Vec<(&'static str, &[String])> {
    let owner = &sheet.owner;
    let all: [(&str, &[String]); 6] = [
        ("What we did", &owner.done),
        ("What we found", &owner.found),
        ("What we could not do, and why", &owner.not_done),
        ("At home", &owner.at_home),
        ("Please watch", &owner.watch),
        ("Next time", owner.next.as_slice()),
    ];
    all.into_iter().filter(|(_, lines)| !lines.is_empty()).collect()
}

/// The dog before and after, both in one frame, and the frame.
fn pair(dog: &Shown<'_>) -> (Rect, Vec<(&'static str, String)>) {
    let draw = |moment| dog.draw(View::Left, &[View::Left], moment, Look::Plain).map(|(drawn, _)| drawn);
    let drawn = [(Moment::Before, "Before"), (Moment::After, "After")].map(|(moment, words)| (words, draw(moment)));
    let frame = drawn.iter().filter_map(|(_, d)| d.as_ref()).map(|d| d.bounds).reduce(|a, b| a.union(b));
    let bodies = drawn.into_iter().filter_map(|(words, d)| Some((words, d?.body))).collect();
    (frame.unwrap_or_default(), bodies)
}

fn second(sheet: &Sheet, (frame, pair): &(Rect, Vec<(&'static str, String)>), first: usize) -> Markup {
    let list = |title: &str, lines: &[String]| {
        html! {
            @if !lines.is_empty() {
                div { h3 { (title) } ul { @for line in lines { li { (line) } } } }
            }
        }
    };
    let sections = sections(sheet);
    // The pair of pictures is the first block of the first column.
    let (left, right) = sections.split_at_checked(first.saturating_sub(1)).unwrap_or((&sections, &[]));
    html! {
        section.two aria-labelledby="owner" {
            h2 id="owner" { "For the people of " (sheet.dog.name) span.draft { " · draft: strike out what was not so" } }
            div.columns.owner {
                div {
                    div.pair {
                        @for (words, body) in pair {
                            figure { (picture(*frame, body, &format!("{words} the trim"))) figcaption { (words) } }
                        }
                    }
                    @for (title, lines) in left { (list(title, lines)) }
                }
                div { @for (title, lines) in right { (list(title, lines)) } }
            }
            h2 { "What was really done" }
            dl.write { @for field in &sheet.write_back { dt { (field) } dd {} } }
            div.file { @for (title, lines) in &fit::file(sheet) { (list(title, lines)) } }
        }
    }
}

/// Hatchings and signs that the whole page uses.
fn definitions() -> Markup {
    let sign = |id: &str, d: &str| {
        html! {
            path id=(id) d=(d) fill="none" stroke="#111" stroke-width="1.2" stroke-linecap="round" stroke-linejoin="round" {}
        }
    };
    html! {
        svg width="0" height="0" style="position:absolute" aria-hidden="true" {
            (PreEscaped(svg::definitions(KEY, 24.0)))
            defs {
                (sign("with", "M1 4H11M8 1.5L11 4L8 6.5"))
                (sign("reverse", "M11 4H1M4 1.5L1 4L4 6.5"))
                (sign("across", "M6 1V7M4 2.5L6 .8L8 2.5M4 5.5L6 7.2L8 5.5"))
                (sign("danger", "M5 .8L9.6 9.2H.4ZM5 3.8V6.4M5 7.7V7.8"))
            }
        }
    }
}

/// Text within quotes of a style sheet.
fn quoted(text: &str) -> String {
    text.replace(['\\', '"', '<', '>', '\n'], " ")
}

/// The fonts, within a style sheet.
pub(crate) fn fonts() -> String {
    let face = |weight: u32, bytes: &[u8]| {
        format!(
            "@font-face{{font-family:\"Atkinson Hyperlegible Next\";font-weight:{weight};src:url(data:font/woff2;base64,{}) format(\"woff2\")}}",
            base64(bytes)
        )
    };
    face(400, include_bytes!("../../fonts/AtkinsonHyperlegibleNext-Regular.woff2"))
        + &face(700, include_bytes!("../../fonts/AtkinsonHyperlegibleNext-Bold.woff2"))
}

fn base64(bytes: &[u8]) -> String {
    use base64::Engine;
    base64::engine::general_purpose::STANDARD.encode(bytes)
}
