//! A recipe's page.

use super::Page;
use super::dogs::{Done, Part};
use super::frame::{self, Framed};
use super::gather::{Book, House, Recipe};
use super::links::{self, UP, spoken};
use super::parts::figures;
use super::said;
use super::{sections, source};
use crate::measure::{DAY, Length, Weight};
use crate::names::condition::{Bounds, Cond};
use crate::names::trade::{CoatId, Sex, Trade};
use crate::names::zone_words::list_words;
use crate::picture::{self, View};
use crate::sheet::render::Units;
use crate::sheet::{Sheet, Step};
use grammar::tree::StmtKind;
use maud::{Markup, html};

/// The page.
pub(super) fn page(book: &Book<'_>, house: &House<'_>, recipe: &Recipe<'_>) -> Page {
    let title = recipe.choices.title.as_str();
    let body = html! {
        h1 { (title) }
        p.facts {
            @if let Some(version) = recipe.choices.version { "Version " (version) ", " }
            "written as " code { (recipe.name) }
            @if let Some(lasts) = recipe.choices.lasts { ". Lasts " (time(lasts.0)) }
            "."
        }
        @if !recipe.choices.about.is_empty() { p.lead { (recipe.choices.about) } }
        @if let Some(above) = said::above(recipe.decl, book.sources, false) { p { (above) } }
        (contents(recipe))
        (serves(house, recipe))
        (shown(recipe))
        (table(house, recipe))
        (sections::joins(book.sources, house, recipe))
        (sections::keeps(book.sources, house, recipe))
        (sections::some_dogs(book.sources, house, recipe))
        (sections::guards(book.sources, house, recipe))
        (sections::cases(book.sources, recipe))
        (sections::kin(house, recipe))
        section aria-labelledby="text" {
            h2 id="text" { "The text" }
            (source::block(recipe.decl, book.sources, "The text of the recipe"))
        }
    };
    let above = vec![(format!("{UP}index.html"), book.title.clone()), ("index.html".to_owned(), house.title.clone())];
    frame::page(book, Framed { path: format!("{}/{}.html", house.slug, recipe.file), title, above, body })
}

/// The left side of the dog, for lists of recipes.
pub(super) fn thumbnail(house: &House<'_>, recipe: &Recipe<'_>) -> Option<Page> {
    let example = recipe.example.as_ref()?;
    let dog = picture::shown(&example.sheet.seen, house.trade());
    let picture = picture::standalone(&dog, &recipe.choices.title, &[View::Left], false, Units::Metric);
    Some(Page { path: format!("{}/{}.svg", house.slug, recipe.file), text: picture.svg })
}

/// The sections that a page has: anchor and title.
fn contents_of(recipe: &Recipe<'_>) -> Vec<(&'static str, &'static str)> {
    let mut stmts = recipe.layers.iter().flat_map(|layer| layer.stmts);
    let whens = stmts.any(|stmt| matches!(stmt.kind, StmtKind::When { .. }));
    let all = [
        ("serves", "Whom it serves", true),
        ("picture", "The finished dog", recipe.example.is_some()),
        ("order", "The order of work", recipe.example.is_some()),
        ("parts", "Part by part", true),
        ("joins", "Blends and lines", !recipe.choices.blends.is_empty() || !recipe.choices.lines.is_empty()),
        ("keeps", "What it keeps", true),
        ("some", "On some dogs", whens),
        ("guards", "What findings change", true),
        ("cases", "Cases", true),
        ("kin", "What it builds on, and what builds on it", true),
        ("text", "The text", true),
    ];
    all.into_iter().filter(|(.., there)| *there).map(|(id, title, _)| (id, title)).collect()
}

fn contents(recipe: &Recipe<'_>) -> Markup {
    html! {
        nav.contents aria-label="On this page" {
            ul { @for (id, title) in contents_of(recipe) { li { a href=(format!("#{id}")) { (title) } } } }
        }
    }
}

fn serves(house: &House<'_>, recipe: &Recipe<'_>) -> Markup {
    let (cond, trade) = (&recipe.choices.serves, house.trade());
    let findings = |ids: &[crate::names::trade::FindingId]| {
        html! {
            @for (n, finding) in ids.iter().filter_map(|f| trade.finding(*f)).enumerate() {
                @if n > 0 { ", " }
                a href=(links::finding(UP, house, finding)) { (spoken(&finding.name)) }
            }
        }
    };
    html! {
        section aria-labelledby="serves" {
            h2 id="serves" { "Whom it serves" }
            dl.facts {
                dt { "Coats" }
                dd {
                    @match &cond.coats {
                        None => "every coat",
                        Some(coats) => {
                            @for (n, coat) in coats.iter().filter_map(|c| trade.coat(*c)).enumerate() {
                                @if n > 0 { ", " }
                                a href=(links::coat(UP, house, coat)) { (spoken(&coat.name)) }
                            }
                        }
                    }
                }
                @for (what, words) in measures(cond) { dt { (what) } dd { (words) } }
                @if !cond.findings.is_empty() { dt { "Only dogs with" } dd { (findings(&cond.findings)) } }
                @if !cond.without.is_empty() { dt { "Not for dogs with" } dd { (findings(&cond.without)) } }
            }
        }
    }
}

/// Whom a recipe serves, in a line.
pub(super) fn whom(cond: &Cond, trade: &Trade) -> String {
    let coats = match &cond.coats {
        None => "every coat".to_owned(),
        Some(coats) => {
            let names: Vec<String> = coats.iter().filter_map(|c| trade.coat(*c)).map(|c| spoken(&c.name)).collect();
            names.join(", ")
        }
    };
    let more = measures(cond).into_iter().map(|(what, words)| format!("; {}: {words}", what.to_lowercase()));
    format!("For {coats}{}.", more.collect::<String>())
}

/// What a condition asks of a dog beside coat and findings.
fn measures(cond: &Cond) -> Vec<(&'static str, String)> {
    let mut out = Vec::new();
    let mut range = |what, bounds: &Bounds, say: &dyn Fn(i64) -> String| {
        if let (Some((low, false)), Some((high, false))) = (bounds.low, bounds.high) {
            out.push((what, format!("{} to {}", say(low), say(high))));
            return;
        }
        let low = bounds.low.map(|(low, out)| format!("{} {}", if out { "over" } else { "from" }, say(low)));
        let high = bounds.high.map(|(high, out)| format!("{} {}", if out { "under" } else { "up to" }, say(high)));
        let ends: Vec<String> = low.into_iter().chain(high).collect();
        if !ends.is_empty() {
            out.push((what, ends.join(", ")));
        }
    };
    range("Weight", &cond.weight, &|grams| Weight(grams).to_string());
    range("Height", &cond.height, &|nm| format!("{} cm", nm / Length::mm(10).0));
    range("Age", &cond.age, &time);
    if let Some(builds) = &cond.builds {
        out.push(("Build", list_words(&builds.iter().map(|b| spoken(b)).collect::<Vec<_>>())));
    }
    if let Some(sex) = cond.sex {
        out.push(("Sex", if sex == Sex::Dog { "dogs" } else { "bitches" }.to_owned()));
    }
    if let Some(worst) = cond.mats {
        out.push(("Mats", format!("up to {}", worst.word())));
    }
    out
}

/// A time as one says it: `6 weeks`, `6 months`.
fn time(seconds: i64) -> String {
    let days = seconds / DAY;
    let said = |many: i64, one: &str| if many == 1 { format!("1 {one}") } else { format!("{many} {one}s") };
    if days % 365 == 0 && days > 0 {
        said(days / 365, "year")
    } else if days % 7 == 0 && days < 26 * 7 {
        said(days / 7, "week")
    } else {
        // Months of a twelfth of a year.
        said((days * 12 + 182) / 365, "month")
    }
}

/// The dog as it goes, and the order in which it came to that.
fn shown(recipe: &Recipe<'_>) -> Markup {
    let Some(example) = &recipe.example else { return html! {} };
    let sheet = &example.sheet;
    let trade = crate::basics::shared();
    let dog = picture::shown(&sheet.seen, &trade);
    let views = dog.needed();
    let title =
        |view: View| format!("{} after {}, {}", example.words, recipe.choices.title, view.title().to_lowercase());
    html! {
        section aria-labelledby="picture" {
            h2 id="picture" { "The finished dog" }
            p {
                "This is " (example.words) ", without findings. Colour and hatching tell the length that stays; the numbers are the "
                "steps below. What is done at each part stands in " a href="#parts" { "the table" } "."
            }
            (figures(&dog, &views, &title, "Numbers are steps of the order of work. What is done at each part, and what stays, is told in the table Part by part."))
            (picture::key(Units::Metric, true))
        }
        section aria-labelledby="order" {
            h2 id="order" { "The order of work" }
            p { "On this dog, as its sheet has it. It takes " (sheet.takes) "." }
            (steps(sheet))
        }
    }
}

fn steps(sheet: &Sheet) -> Markup {
    html! { ol.steps { @for step in &sheet.steps { (self::step(step)) } } }
}

fn step(step: &Step) -> Markup {
    html! {
        li value=(step.number) {
            p { b { (step.title) } @if let Some(minutes) = &step.minutes { " " span.from { (minutes) } } }
            @if let Some(caution) = &step.caution { p.mind { b { "Mind:" } " " (caution) } }
            @if !step.lines.is_empty() {
                ul {
                    @for line in &step.lines {
                        li {
                            @if let Some(tool) = &line.tool { b { (tool) } " " }
                            @if let Some(way) = &line.direction { "(" (way) ") " }
                            (line.work)
                            @if let Some(leaves) = &line.leaves { " [" (leaves) "]" }
                            @if let Some(how) = &line.how { ", " (how) }
                            @if let Some(caution) = &line.caution { p.mind { b { "Mind:" } " " (caution) } }
                        }
                    }
                }
            }
        }
    }
}

/// What is done at each part.
fn table(house: &House<'_>, recipe: &Recipe<'_>) -> Markup {
    html! {
        section aria-labelledby="parts" {
            h2 id="parts" { "Part by part" }
            p {
                "What is done on a dog without findings, and what stays. Where coats differ they are named. "
                a href=(format!("{UP}parts.html")) { "The parts" } " and " a href=(format!("{UP}tools.html")) { "the tools" }
                " have pages of their own."
            }
            div.wide tabindex="0" role="region" aria-label="Table, part by part" {
                table {
                    thead { tr { th scope="col" { "Part" } th scope="col" { "Work" } th scope="col" { "What stays" } } }
                    tbody { @for part in &recipe.parts { (row(part, house.trade())) } }
                }
            }
        }
    }
}

fn row(part: &Part, trade: &Trade) -> Markup {
    let coats = |ids: &[CoatId]| {
        list_words(&ids.iter().filter_map(|c| trade.coat(*c)).map(|c| spoken(&c.name)).collect::<Vec<_>>())
    };
    let same_work =
        part.done.iter().all(|(_, done)| part.done.first().is_some_and(|(_, first)| done.work_alike(first)));
    let works = if same_work { part.done.get(..1).unwrap_or_default() } else { &part.done };
    html! {
        tr {
            th scope="row" { (part.words) }
            td {
                @for (ids, done) in works {
                    p {
                        @if !same_work && !ids.is_empty() { span.from { (coats(ids)) ": " } }
                        @if let Some(first) = &done.first { (first) ", then " }
                        (done.work)
                        @if let Some(how) = &done.how { ", " (how) }
                    }
                }
            }
            td {
                @for (ids, done) in &part.done {
                    p {
                        @if !ids.is_empty() { span.from { (coats(ids)) ": " } }
                        @match &done.leaves { Some(leaves) => (leaves), None => "as it is" }
                    }
                }
            }
        }
    }
}

impl Done {
    /// Whether the work is the same, whatever it leaves.
    fn work_alike(&self, other: &Self) -> bool {
        (&self.first, &self.work, &self.how) == (&other.first, &other.work, &other.how)
    }
}
