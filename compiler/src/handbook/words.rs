//! Findings, coats and tools: what each means and what it asks for.

use super::Page;
use super::frame::{self, Framed};
use super::gather::{Book, House};
use super::links::{self, anchor, of_basics, spoken};
use super::said::sourced;
use crate::finish::tool_words;
use crate::measure::{Factor, Interval, Length, MM, Time};
use crate::names::trade::{Bare, Coat, Finding, Reply, Tool, ToolKind, Trade, Vet, Where};
use crate::names::zone_words::zone_words;
use crate::rules::weeks_range;
use crate::source::Sources;
use maud::{Markup, html};
use std::collections::BTreeMap;

/// The findings of the basics.
pub(super) fn findings(book: &Book<'_>) -> Page {
    let trade = crate::basics::shared();
    let names: Vec<(String, String)> =
        trade.findings.iter().map(|f| (anchor("finding", &f.name), spoken(&f.name))).collect();
    let body = html! {
        h1 { "Findings" }
        p.lead {
            "What a groomer sees, feels or is told, and what the whole trim keeps because of it, whatever the recipe says. A finding is "
            "never an illness: that is for a vet to say."
        }
        (list(&names))
        @for finding in &trade.findings { (self::finding(finding, &trade, book.sources, "", &book.houses, 2)) }
    };
    frame::page(book, Framed { path: "findings.html".to_owned(), title: "Findings", above: Vec::new(), body })
}

/// The coats of the basics.
pub(super) fn coats(book: &Book<'_>) -> Page {
    let trade = crate::basics::shared();
    let names: Vec<(String, String)> = trade.coats.iter().map(|c| (anchor("coat", &c.name), spoken(&c.name))).collect();
    let body = html! {
        h1 { "Coats" }
        p.lead { "What a coat does to a tool, how it grows, and how it is dried. Of one breed not every dog has the same." }
        (list(&names))
        @for coat in &trade.coats { (self::coat(coat, &trade, 2)) }
    };
    frame::page(book, Framed { path: "coats.html".to_owned(), title: "Coats", above: Vec::new(), body })
}

/// The tools of the basics.
pub(super) fn tools(book: &Book<'_>) -> Page {
    let trade = crate::basics::shared();
    let names: Vec<(String, String)> =
        trade.tools.iter().map(|t| (anchor("tool", &t.name), links::tool_name(t, &trade))).collect();
    let body = html! {
        h1 { "Tools" }
        p.lead {
            "What a number is called and what it leaves are two things. How far the teeth stand apart decides what catches a fold; a "
            "longer bare blade isn't safer there."
        }
        (list(&names))
        @for tool in &trade.tools { (self::tool(tool, &trade, "", &book.houses, 2)) }
    };
    frame::page(book, Framed { path: "tools.html".to_owned(), title: "Tools", above: Vec::new(), body })
}

/// The words of a page, to go to.
fn list(names: &[(String, String)]) -> Markup {
    html! {
        nav.contents aria-label="On this page" {
            ul { @for (anchor, name) in names { li { a href=(format!("#{anchor}")) { (name) } } } }
        }
    }
}

/// A heading of a level.
fn heading(level: u8, id: &str, words: &str) -> Markup {
    html! { @if level == 2 { h2 id=(id) { (words) } } @else { h3 id=(id) { (words) } } }
}

/// A row of facts; none without words.
fn fact(what: &str, words: Option<String>) -> Markup {
    html! { @if let Some(words) = words.filter(|w| !w.is_empty()) { dt { (what) } dd { (words) } } }
}

/// What else something is called.
fn also<T: PartialEq>(index: &BTreeMap<smol_str::SmolStr, T>, name: &str) -> Option<String> {
    let this = index.get(name)?;
    let others = index.iter().filter(|(n, id)| *n != name && *id == this);
    Some(others.map(|(n, _)| spoken(n)).collect::<Vec<_>>().join(", "))
}

/// A finding. `root` leads to the top of the site.
pub(super) fn finding(
    finding: &Finding,
    trade: &Trade,
    sources: &Sources,
    root: &str,
    houses: &[House<'_>],
    level: u8,
) -> Markup {
    let id = anchor("finding", &finding.name);
    let mut keeps: Vec<_> = finding.keeps.iter().map(|keep| sourced(sources, keep.place)).collect();
    keeps.dedup();
    let place = match finding.on {
        Where::Card => "where the card says".to_owned(),
        Where::Fixed(sites) => zone_words(trade, sites),
        Where::Whole => "the whole dog".to_owned(),
    };
    let reply = match finding.reply {
        Reply::Raise => "a gentler tool is taken, or more stays",
        Reply::Leave => "the place is left as it is",
        Reply::Refer => "the place is for a vet",
        Reply::Answer => "the recipe must say what is done",
    };
    let vet = match finding.vet {
        Some(Vet::Now) => Some("first: that part, or the visit, stops"),
        Some(Vet::Note) => Some("the owner is told to ask one"),
        None => None,
    };
    let answered = answers(finding, root, houses);
    html! {
        section.word {
            (heading(level, &id, &spoken(&finding.name)))
            @if !finding.about.is_empty() { p { (finding.about) } }
            @for caution in &finding.cautions { p.mind { b { "Mind:" } " " (caution) } }
            dl.facts {
                (fact("Also called", also(&trade.index.findings, &finding.name)))
                (fact("Where", Some(place)))
                @if !keeps.is_empty() {
                    dt { "Asks" }
                    dd { @for (words, source) in &keeps { p { (words.trim_start_matches("keep ")) @if let Some(source) = source { " " span.from { "(" (source) ")" } } } } }
                }
                (fact("Reaches", finding.margin.map(|m| format!("{} cm around it", m.0 / (10 * MM)))))
                (fact("By itself", Some(reply.to_owned())))
                @if finding.stops_visit { dt { "The visit" } dd { b { "stops" } } }
                (fact("Vet", vet.map(str::to_owned)))
                (fact("Needs a yes to", Some(finding.needs.iter().map(|n| spoken(n)).collect::<Vec<_>>().join(", "))))
                (fact("For the owner", Some(finding.owner.join(" "))))
                @if !answered.is_empty() {
                    dt { "Answered by" }
                    dd { @for (n, (way, title)) in answered.iter().enumerate() { @if n > 0 { ", " } a href=(way) { (title) } } }
                }
            }
        }
    }
}

/// The recipes that say by themselves what is done for a finding.
fn answers(finding: &Finding, root: &str, houses: &[House<'_>]) -> Vec<(String, String)> {
    let mut out = Vec::new();
    for house in houses {
        let Some(id) = house.trade().index.findings.get(&finding.name) else { continue };
        if house.trade().finding(*id).is_none_or(|own| own.place != finding.place) {
            continue;
        }
        for recipe in &house.recipes {
            let choices = &recipe.choices;
            let named = |f: Option<crate::names::trade::FindingId>| f == Some(*id);
            let answers = choices.finishes.iter().any(|c| named(c.finding) || c.cond.findings.contains(id))
                || choices.keeps.iter().any(|k| named(k.finding) || k.cond.findings.contains(id));
            if answers {
                out.push((format!("{root}{}/{}.html#guards", house.slug, recipe.file), choices.title.clone()));
            }
        }
    }
    out
}

/// A factor as one says it: `1.2`.
fn times(factors: Interval<Factor>) -> Option<String> {
    let one = |f: Factor| {
        let hundredths = (f.0 + 5_000) / 10_000;
        let text = format!("{}.{:02}", hundredths / 100, hundredths % 100);
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    };
    let usual = Factor(1_000_000);
    let plain = factors.low == usual && factors.high == usual;
    (!plain && factors.high.0 > 0).then(|| {
        if factors.low == factors.high {
            format!("{} times", one(factors.low))
        } else {
            format!("{} to {} times", one(factors.low), one(factors.high))
        }
    })
}

fn minutes(time: Interval<Time>) -> String {
    let one = |t: Time| t.0 / 60;
    if one(time.low) == one(time.high) {
        format!("{} min", one(time.low))
    } else {
        format!("{} to {} min", one(time.low), one(time.high))
    }
}

/// A coat.
pub(super) fn coat(coat: &Coat, trade: &Trade, level: u8) -> Markup {
    let id = anchor("coat", &coat.name);
    let growth = |g: crate::measure::Growth| Length(g.0).to_string();
    let grows = format!("{} to {} a week", growth(coat.grows.low).trim_end_matches(" mm"), growth(coat.grows.high));
    html! {
        section.word {
            (heading(level, &id, &spoken(&coat.name)))
            @if !coat.about.is_empty() { p { (coat.about) } }
            dl.facts {
                (fact("Also called", also(&trade.index.coats, &coat.name)))
                (fact("Undercoat", Some(coat.undercoat.to_string())))
                (fact("With the coat a blade leaves", times(coat.with_coat).map(|t| format!("{t} what it leaves in reverse"))))
                (fact("Across the coat", times(coat.across_coat)))
                (fact("A comb with the coat", times(coat.comb_with_coat).map(|t| format!("{t} its length"))))
                (fact("Until combed up and repeated", times(coat.first_pass).map(|t| format!("{t} more"))))
                (fact("Shows a step of", (coat.shows.0 > 0).then(|| coat.shows.to_string())))
                (fact("Grows", (coat.grows.high.0 > 0).then_some(grows)))
                (fact("Grows to", coat.grows_to.map(|l| l.to_string())))
                (fact("Stands up to", coat.stands_to.map(|l| l.to_string())))
                (fact("Mats, unbrushed, after", coat.mats_after.map(weeks_range)))
                (fact("Dried by", coat.dries.and_then(|s| trade.step(s)).map(|s| spoken(&s.name))))
                @if coat.strips { dt { "Hand-stripped" } dd { "yes" } }
                @if coat.regrowth_poor { dt { "Clipped short" } dd { b { "may not grow back well" } } }
                (fact("Without the owner's yes no shorter than", coat.shortest.map(|l| l.to_string())))
            }
        }
    }
}

const fn kind(kind: ToolKind) -> &'static str {
    match kind {
        ToolKind::Blade => "blade",
        ToolKind::Comb => "comb over a blade",
        ToolKind::Clipper => "clipper",
        ToolKind::Thinners => "thinners",
        ToolKind::Shears => "shears",
        ToolKind::Knife => "stripping knife",
        ToolKind::Hand => "hand",
        ToolKind::Carder => "carding knife",
        ToolKind::Rake => "rake",
        ToolKind::Brush => "brush or comb",
        ToolKind::Dryer => "dryer",
        ToolKind::Nails => "for nails",
    }
}

/// A tool. `root` leads to the top of the site.
pub(super) fn tool(tool: &Tool, trade: &Trade, root: &str, houses: &[House<'_>], level: u8) -> Markup {
    let id = anchor("tool", &tool.name);
    let bare = match tool.bare {
        Bare::Never => Some("never"),
        Bare::Named => Some("only in a trained hand that the salon names"),
        Bare::Trained => Some("only in a trained hand"),
        Bare::Yes => None,
    };
    let over: Vec<String> = tool.over.iter().filter_map(|t| trade.tool(*t)).map(tool_words).collect();
    let owners = houses.iter().filter(|house| {
        let owned = |id: &crate::names::trade::ToolId| house.trade().tool(*id).is_some_and(|t| t.place == tool.place);
        house.salon.house.is_some() && !house.choices.many.is_empty() && house.choices.kit.iter().any(owned)
    });
    let owners: Vec<_> = owners.collect();
    html! {
        section.word {
            (heading(level, &id, &links::tool_name(tool, trade)))
            @if !tool.about.is_empty() { p { (tool.about) } }
            @for caution in &tool.cautions { p.mind { b { "Mind:" } " " (caution) } }
            dl.facts {
                dt { "Kind" } dd { (kind(tool.kind)) }
                (fact("Written as", Some(tool.name.to_string())))
                (fact("Also called", also(&trade.index.tools, &tool.name)))
                (fact("Leaves, in reverse", tool.leaves.map(|l| l.to_string())))
                (fact("Edge from the skin", tool.closeness.map(|l| l.to_string())))
                (fact("Gap between teeth", tool.gap.map(|g| g.as_str().to_owned())))
                (fact("On bare skin", bare.map(str::to_owned)))
                (fact("Sits over", Some(over.join(", "))))
                (fact("Does", Some(tool.does.iter().map(|d| spoken(d)).collect::<Vec<_>>().join(", "))))
                (fact("Warm after", tool.warms.map(minutes)))
                @if !owners.is_empty() {
                    dt { "Owned by" }
                    dd { @for (n, house) in owners.iter().enumerate() { @if n > 0 { ", " } a href=(format!("{root}{}/index.html#kit", house.slug)) { (house.title) } } }
                }
            }
        }
    }
}

/// The words that a house added to the basics, each kind under a heading.
pub(super) fn of_house(house: &House<'_>, sources: &Sources) -> Markup {
    let trade = house.trade();
    let own = std::slice::from_ref(house);
    let findings: Vec<&Finding> = trade.findings.iter().filter(|f| !of_basics(f.place)).collect();
    let coats: Vec<&Coat> = trade.coats.iter().filter(|c| !of_basics(c.place)).collect();
    let tools: Vec<&Tool> = trade.tools.iter().filter(|t| !of_basics(t.place)).collect();
    html! {
        @if !findings.is_empty() {
            section aria-labelledby="findings" {
                h2 id="findings" { "Findings of its own" }
                @for finding in findings { (self::finding(finding, trade, sources, links::UP, own, 3)) }
            }
        }
        @if !coats.is_empty() {
            section aria-labelledby="coats" {
                h2 id="coats" { "Coats of its own" }
                @for coat in coats { (self::coat(coat, trade, 3)) }
            }
        }
        @if !tools.is_empty() {
            section aria-labelledby="tools" {
                h2 id="tools" { "Tools of its own" }
                @for tool in tools { (self::tool(tool, trade, links::UP, own, 3)) }
            }
        }
    }
}
