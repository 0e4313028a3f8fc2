//! What is done to the dogs that a text serves: the numbers that hovers, completion, hints and lenses show.

use super::resolve::recipe_of;
use crate::around::Here;
use coatwright::check::{chain, units};
use coatwright::choices::{self, Choices};
use coatwright::finish::{Finish, Outcome, coat_factor, finish_at, stroke_words};
use coatwright::measure::{Interval, Length};
use coatwright::names::card::{Dog, read};
use coatwright::names::lower::Decl;
use coatwright::names::sites::Sites;
use coatwright::names::trade::{Direction, Tool, Trade};
use coatwright::names::zone_words::{list_words, zone_words};
use coatwright::prove::representatives;
use coatwright::sheet::{Card, did_words, worked};
use coatwright::workspace::Salon;
use grammar::tree::BlockKind;

/// A recipe with one dog for each coat that it serves.
#[derive(Debug)]
pub struct Served {
    /// What it says.
    pub choices: Choices,
    /// The dogs, by the name of their coat.
    pub dogs: Vec<(String, Dog)>,
}

/// What the recipe by whose words a block counts says, and for whom.
#[must_use]
pub fn served(salon: &Salon<'_>, decl: Decl<'_>) -> Option<Served> {
    let recipe = recipe_of(salon, decl).filter(|r| r.block.kind == BlockKind::Recipe)?;
    let mut silent = Vec::new();
    let layers = chain(salon, recipe, &mut silent);
    let choices = choices::build(&layers, &salon.trade, units(&salon.trade), &mut silent);
    let mut dogs: Vec<(String, Dog)> = Vec::new();
    for dog in representatives(&choices, &salon.trade) {
        let Some(coat) = dog.coat.and_then(|c| salon.trade.coat(c)) else { continue };
        if dogs.iter().all(|(name, _)| *name != coat.name) {
            dogs.push((coat.name.to_string(), dog));
        }
    }
    Some(Served { choices, dogs })
}

/// Things that are alike said once: `3 mm` on `curl and fleece`.
fn alike(all: impl Iterator<Item = (String, String)>) -> Vec<(String, Vec<String>)> {
    let mut out: Vec<(String, Vec<String>)> = Vec::new();
    for (who, what) in all {
        match out.iter_mut().find(|(known, _)| *known == what) {
            Some((_, whom)) => whom.push(who),
            None => out.push((what, vec![who])),
        }
    }
    out
}

/// What a tool leaves that way on the coats served, the least and the most of all of them.
#[must_use]
pub fn leaves(tool: &Tool, way: Direction, again: bool, served: &Served, trade: &Trade) -> Option<Interval<Length>> {
    let nominal = tool.leaves.filter(|_| tool.kind.on_clipper())?;
    let each = served.dogs.iter().map(|(_, dog)| {
        let coat = dog.coat.and_then(|c| trade.coat(c));
        nominal.times(coat_factor(coat, tool.kind, way, again))
    });
    each.reduce(|a, b| Interval { low: a.low.min(b.low), high: a.high.max(b.high) })
}

/// A tool in a line: `1.5 to 1.8 mm in reverse; 1.7 to 3.6 mm with the coat`.
#[must_use]
pub fn tool_line(tool: &Tool, served: Option<&Served>, trade: &Trade) -> Option<String> {
    let nominal = tool.leaves.filter(|_| tool.kind.on_clipper())?;
    let with = served.and_then(|s| leaves(tool, Direction::With, false, s, trade));
    Some(match with {
        Some(with) => format!("{nominal} in reverse; {with} with the coat"),
        None => format!("{nominal} in reverse"),
    })
}

/// A tool in a few lines of Markdown.
#[must_use]
pub fn tool_lines(tool: &Tool, served: Option<&Served>, trade: &Trade) -> Vec<String> {
    let mut out = Vec::new();
    if let Some(nominal) = tool.leaves.filter(|_| tool.kind.on_clipper()) {
        out.push(format!("leaves {nominal} in reverse"));
        for (way, words) in [(Direction::With, "with the coat"), (Direction::Across, "across")] {
            let of = served.into_iter().flat_map(|s| &s.dogs).filter_map(|(name, dog)| {
                let coat = dog.coat.and_then(|c| trade.coat(c))?;
                Some((name.clone(), nominal.times(coat_factor(Some(coat), tool.kind, way, false)).to_string()))
            });
            let each: Vec<String> =
                alike(of).iter().map(|(length, coats)| format!("{length} on {}", list_words(coats))).collect();
            if !each.is_empty() {
                out.push(format!("{words} {}", each.join("; ")));
            }
        }
    }
    let mut edge = Vec::new();
    edge.extend(tool.closeness.map(|c| format!("the edge runs {c} from the skin")));
    edge.extend(tool.gap.map(|g| format!("{} teeth", g.as_str())));
    if !edge.is_empty() {
        out.push(edge.join(", "));
    }
    out
}

/// How a finish is said: `skim with #10 with the coat, leaves 1.7 to 3.6 mm (gentler than written)`.
fn finish_words(finish: &Finish, trade: &Trade) -> String {
    let leaves = finish.fine.leaves.map(|l| format!(", leaves {l}")).unwrap_or_default();
    let outcome = match finish.outcome {
        Outcome::Written | Outcome::Waits => String::new(),
        Outcome::Raised => " (gentler than written)".to_owned(),
        Outcome::Left => " (left)".to_owned(),
        Outcome::Referred => " (for a vet)".to_owned(),
        Outcome::Shortened => " (shorter than written)".to_owned(),
    };
    format!("{}{leaves}{outcome}", stroke_words(&finish.fine, trade))
}

/// What some places get on the coats served, and why, in lines of Markdown.
#[must_use]
pub fn finish_lines(here: &Here<'_>, sites: Sites, served: &Served, trade: &Trade) -> Vec<String> {
    let mut all: Vec<(String, Sites, Finish)> = Vec::new();
    for (coat, dog) in &served.dogs {
        let mut silent = Vec::new();
        for finish in finish_at(sites, &served.choices, trade, dog, &mut silent).all {
            match all.iter_mut().find(|(c, _, f)| c == coat && (&f.fine, f.outcome) == (&finish.fine, finish.outcome)) {
                Some((_, sites, _)) => *sites = *sites | Sites::one(finish.site),
                None => all.push((coat.clone(), Sites::one(finish.site), finish)),
            }
        }
    }
    let many = trade.zones.iter().filter(|z| z.sites().meets(sites)).count() > 1;
    let said = all.iter().map(|(coat, at, finish)| {
        // What is done alike all over needs no place.
        let whole = !many || sites.within(*at);
        let place = if whole { String::new() } else { format!("{}: ", zone_words(trade, *at)) };
        (coat.clone(), format!("{place}{}", finish_words(finish, trade)))
    });
    let everybody = served.dogs.len();
    let mut out: Vec<String> = alike(said)
        .into_iter()
        .map(|(what, coats)| match coats.len() == everybody && everybody > 3 {
            true => what,
            false => format!("{}: {what}", list_words(&coats)),
        })
        .collect();
    // More than a glance takes in is left out.
    let more = out.len().saturating_sub(MOST);
    if more > 0 {
        out.truncate(MOST);
        out.push(format!("… and {more} more"));
    }
    if let Some((_, _, finish)) = all.first().filter(|_| !many) {
        out.extend(reasons(here, finish));
    }
    out
}

/// The most lines about different finishes.
const MOST: usize = 6;

/// The most reasons.
const REASONS: usize = 3;

fn reasons(here: &Here<'_>, finish: &Finish) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for reason in &finish.reasons {
        let (line, place) = (here.around.line(reason.place).replace('`', "'"), here.around.where_is(reason.place));
        let words = format!("{} `{line}` ({place})", did_words(&reason.what));
        if !out.contains(&words) {
            out.push(words);
        }
    }
    out.truncate(REASONS);
    out
}

/// What some places get on the dog on the table, if there is one and this recipe can be worked on it.
#[must_use]
pub fn on_the_table(here: &Here<'_>, salon: &Salon<'_>, decl: Decl<'_>, sites: Sites) -> Vec<String> {
    let Some(finishes) = at_the_table(here, salon, decl) else { return Vec::new() };
    let name = here.around.table().unwrap_or_default();
    let many = salon.trade.zones.iter().filter(|z| z.sites().meets(sites)).count() > 1;
    let said = finishes.iter().filter(|f| sites.has(f.site)).map(|finish| {
        let by = finish.by.and_then(|f| salon.trade.finding(f)).map(|f| f.name.replace('-', " "));
        let by = by.map(|by| format!(", because of {by}")).unwrap_or_default();
        (finish.site, format!("{}{by}", finish_words(finish, &salon.trade)))
    });
    let mut groups: Vec<(String, Sites)> = Vec::new();
    for (site, words) in said {
        match groups.iter_mut().find(|(known, _)| *known == words) {
            Some((_, sites)) => *sites = *sites | Sites::one(site),
            None => groups.push((words, Sites::one(site))),
        }
    }
    let single = groups.len() == 1 && !many;
    let place = |at: Sites| if single { String::new() } else { format!(", {}", zone_words(&salon.trade, at)) };
    groups.into_iter().take(MOST).map(|(words, at)| format!("**{name}**{}: {words}", place(at))).collect()
}

/// What is done to the dog on the table by the recipe by whose words a block counts.
#[must_use]
pub fn at_the_table(here: &Here<'_>, salon: &Salon<'_>, decl: Decl<'_>) -> Option<Vec<Finish>> {
    let card = salon.dogs.get(here.around.table()?)?;
    let recipe = recipe_of(salon, decl).filter(|r| r.block.kind == BlockKind::Recipe)?;
    let mut silent = Vec::new();
    let dog = read(card, &salon.trade, units(&salon.trade), None, &mut silent);
    Some(worked(salon, Card::of(card), recipe, dog, None, &mut silent).finishes.all)
}
