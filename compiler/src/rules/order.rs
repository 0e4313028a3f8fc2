//! O001 to O003: orders that contradict one another.

use crate::choices::Choices;
use crate::diagnostic::{Diagnostic, code};
use crate::names::card::Dog;
use crate::names::sites::{Site, Sites};
use crate::names::trade::{Bound, KeepOn, Trade};
use crate::names::zone_words::zone_words;
use crate::plan::sequence::shortest_circle;
use crate::source::Place;

/// The contradictions of order for this dog: orders of zones that go round in a circle, zones that are first and last at once,
/// and orders against a first or a last.
#[must_use]
pub fn contradictions(choices: &Choices, trade: &Trade, dog: &Dog) -> Vec<Diagnostic> {
    let mut out = Vec::new();
    let mut first: Vec<(Sites, Place)> = Vec::new();
    let mut last: Vec<(Sites, Place)> = Vec::new();
    for entry in &choices.keeps {
        let KeepOn::Sites(sites) = entry.line.on else { continue };
        let known = entry.finding.is_none_or(|f| dog.has(f));
        let holds = known && sites.iter().next().is_some_and(|s| entry.cond.holds(dog, s));
        match entry.line.bound {
            Bound::First if holds => first.push((sites, entry.line.place)),
            Bound::Last if holds => last.push((sites, entry.line.place)),
            _ => {}
        }
    }
    for (sites, place) in &first {
        for (others, other) in &last {
            let both = *sites & *others;
            if !both.is_empty() {
                let zones = zone_words(trade, both);
                out.push(
                    Diagnostic::error(code::O002, *place, format!("first and last at once: {zones}"))
                        .related(*other, "said to be last here")
                        .why("Nothing can be done both before and after all the rest.")
                        .help(way_out(*place, *other, "Take it out of one of the two.")),
                );
            }
        }
    }
    let edges: Vec<(Sites, Sites, Place)> = choices
        .orders
        .iter()
        .filter(|o| o.finding.is_none_or(|f| dog.has(f)))
        .filter(|o| o.first.iter().next().is_none_or(|s| o.cond.holds(dog, s)))
        .map(|o| (o.first, o.then, o.place))
        .collect();
    for (before, after, place) in &edges {
        // What is last may come before nothing but what is last too; what is first after nothing but what is first.
        let all = |ends: &[(Sites, Place)]| ends.iter().fold(Sites::NONE, |all, (s, _)| all | *s);
        let against = [(&last, *before, *after, "last", "before"), (&first, *after, *before, "first", "after")];
        for (ends, own, other, word, way) in against {
            let (end, rest) = (all(ends), other - all(ends));
            let (own, beyond) = (own & end, zone_words(trade, rest));
            let Some(site) = own.iter().next().filter(|_| !rest.is_empty()) else { continue };
            let said = ends.iter().find(|(s, _)| s.has(site)).map_or(*place, |(_, p)| *p);
            let message = format!("{} is to be {word}, and here it comes {way} {beyond}", zone_words(trade, own));
            let ways = "Take one of the two away, or take the part out of one of them with `except`.";
            out.push(
                Diagnostic::error(code::O003, *place, message)
                    .related(said, format!("said to be {word} here"))
                    .why("No order of work keeps both.")
                    .help(way_out(*place, said, ways)),
            );
        }
    }
    if let Some(circle) = (!edges.is_empty()).then(|| circle(&edges, trade)).flatten() {
        let [(_, place), rest @ ..] = circle.as_slice() else { return out };
        // As the lines say it: who wrote of the head doesn't look for the bridge.
        let of = |place: &Place| edges.iter().find(|(.., p)| p == place).map(|(first, ..)| zone_words(trade, *first));
        let path: Vec<String> = circle.iter().filter_map(|(_, place)| of(place)).collect();
        let mut diagnostic = Diagnostic::error(
            code::O001,
            *place,
            format!("this order goes round in a circle: {}", path.join(", then ")),
        )
        .why("Whichever part is begun with, one of these lines wants another one before it.")
        .help("Take one of these lines away.");
        for (_, other) in rest {
            if other != place {
                diagnostic = diagnostic.related(*other, "and this line");
            }
        }
        out.push(diagnostic);
    }
    out
}

/// What to do about a line that another stands against: that of another text, such as the house's, stands for all that it binds.
fn way_out(place: Place, other: Place, both: &str) -> String {
    if place.file == other.file {
        both.to_owned()
    } else {
        "Take this line away, or take the part out of it with `except`: the other stands in a text that binds this one."
            .to_owned()
    }
}

/// The shortest circle among `first before then` edges: its sites with the line that leads on from each.
fn circle(edges: &[(Sites, Sites, Place)], trade: &Trade) -> Option<Vec<(Site, Place)>> {
    let sites: Vec<Site> = trade.all_sites().iter().collect();
    let number = |site: Site| sites.iter().position(|s| *s == site);
    let mut pairs: Vec<(usize, usize)> = Vec::new();
    for (first, then, _) in edges {
        for a in first.iter().filter_map(number) {
            pairs.extend(then.iter().filter_map(number).map(|b| (a, b)));
        }
    }
    let circle = shortest_circle(sites.len(), &pairs)?;
    let site = |n: usize| circle.get(n % circle.len()).and_then(|n| sites.get(*n)).copied();
    (0..circle.len())
        .map(|n| {
            let (a, b) = (site(n)?, site(n + 1)?);
            let (_, _, place) = edges.iter().find(|(first, then, _)| first.has(a) && then.has(b))?;
            Some((a, *place))
        })
        .collect()
}
