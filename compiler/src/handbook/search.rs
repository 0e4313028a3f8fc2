//! What can be searched for: a script of words, since a page that is opened from a folder may read no other file.

use super::Page;
use super::gather::Book;
use super::links::{anchor, of_basics, spoken, tool_name};
use super::source::block_text;
use crate::names::trade::{PlaceName, Trade};
use serde::Serialize;
use std::collections::BTreeSet;

/// What searches.
pub(super) const SCRIPT: &str = include_str!("search.js");

/// Something that can be found.
#[derive(Serialize)]
struct Entry {
    /// What it is called.
    t: String,
    /// What it is.
    k: &'static str,
    /// Where it stands, from the top.
    u: String,
    /// Other words by which it is found.
    w: String,
}

/// The words of all pages.
pub(super) fn words(book: &Book<'_>) -> Page {
    let basics = crate::basics::shared();
    let mut all = of_trade(&basics, true, |page| page.to_owned());
    for house in &book.houses {
        let home = format!("{}/index.html", house.slug);
        let text = house.salon.house.map(|decl| block_text(book.sources, decl)).unwrap_or_default();
        all.push(Entry { t: house.title.clone(), k: "house", u: home.clone(), w: once(text) });
        for recipe in &house.recipes {
            let words = format!("{} {}", recipe.choices.about, block_text(book.sources, recipe.decl));
            let way = format!("{}/{}.html", house.slug, recipe.file);
            all.push(Entry { t: recipe.choices.title.clone(), k: "recipe", u: way.clone(), w: once(&words) });
            for (decl, _) in &recipe.cases {
                let t = spoken(&decl.name());
                all.push(Entry { t, k: "case", u: format!("{way}#cases"), w: once(block_text(book.sources, *decl)) });
            }
        }
        all.extend(of_trade(house.trade(), false, |_| home.clone()));
    }
    let lines: Vec<String> = all.iter().map(|entry| serde_json::to_string(entry).unwrap_or_default()).collect();
    Page { path: "search-words.js".to_owned(), text: format!("var handbook = [\n{}\n];\n", lines.join(",\n")) }
}

/// The words of the basics, or those that a house added; `page` tells which page tells of them.
fn of_trade(trade: &Trade, basics: bool, page: impl Fn(&str) -> String) -> Vec<Entry> {
    let mut out = Vec::new();
    let mut add = |t: String, k, file: &str, anchor: String, w: String| {
        out.push(Entry { t, k, u: format!("{}#{anchor}", page(file)), w: once(&w) });
    };
    let places = |name: &str| {
        let this = trade.index.places.get(name);
        let same = |other: &PlaceName| this == Some(other);
        trade.index.places.iter().filter(|(_, p)| same(p)).map(|(n, _)| n.to_string()).collect::<Vec<_>>().join(" ")
    };
    for zone in trade.zones.iter().filter(|z| of_basics(z.place) == basics) {
        add(
            spoken(&zone.name),
            "part",
            "parts.html",
            anchor("part", &zone.name),
            format!("{} {}", zone.about, places(&zone.name)),
        );
    }
    for (name, group) in trade.groups.iter().filter(|(_, g)| of_basics(g.place) == basics) {
        add(spoken(name), "parts", "parts.html", anchor("part", name), format!("{} {}", group.about, places(name)));
    }
    for mark in trade.marks.iter().filter(|m| of_basics(m.place) == basics) {
        let words = format!("{} {} {}", mark.about, mark.cautions.join(" "), places(&mark.name));
        add(spoken(&mark.name), "place", "parts.html", anchor("part", &mark.name), words);
    }
    for finding in trade.findings.iter().filter(|f| of_basics(f.place) == basics) {
        let also = others(&trade.index.findings, &finding.name);
        let words = format!("{} {} {also}", finding.about, finding.cautions.join(" "));
        add(spoken(&finding.name), "finding", "findings.html", anchor("finding", &finding.name), words);
    }
    for coat in trade.coats.iter().filter(|c| of_basics(c.place) == basics) {
        let words = format!("{} {}", coat.about, others(&trade.index.coats, &coat.name));
        add(spoken(&coat.name), "coat", "coats.html", anchor("coat", &coat.name), words);
    }
    for tool in trade.tools.iter().filter(|t| of_basics(t.place) == basics) {
        let words = format!("{} {} {}", tool.about, tool.name, others(&trade.index.tools, &tool.name));
        add(tool_name(tool, trade), "tool", "tools.html", anchor("tool", &tool.name), words);
    }
    out
}

/// All names of something.
fn others<T: PartialEq>(index: &std::collections::BTreeMap<smol_str::SmolStr, T>, name: &str) -> String {
    let this = index.get(name);
    index.iter().filter(|(_, id)| Some(*id) == this).map(|(n, _)| n.to_string()).collect::<Vec<_>>().join(" ")
}

/// Each word of a text once, in small letters.
fn once(text: &str) -> String {
    let mut seen = BTreeSet::new();
    let words = text.split(|c: char| !c.is_alphanumeric() && c != '#' && c != '.');
    let words = words.map(|w| w.trim_matches('.').to_lowercase()).filter(|w| !w.is_empty());
    words.filter(|w| seen.insert(w.clone())).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_stands_once() {
        assert_eq!(once("Clip the Body, clip #10. hind-legs 1.5 mm"), "clip the body #10 hind legs 1.5 mm");
    }
}
