//! What a recipe says for all dogs, as plain data for the second opinion in `tests/proof`: choices with the stroke that each makes
//! on each coat, keeps with their bounds, and the findings that play a part. Which of two choices wins isn't told: whoever reads
//! this works it out again.

use coatwright::choices::{Choice, Choices, Kind, Level, Pass};
use coatwright::diagnostic::{Diagnostic, Severity};
use coatwright::finish::{Stroke, pick};
use coatwright::names::card::Dog;
use coatwright::names::condition::{Bounds, Cond};
use coatwright::names::sites::{Site, Sites};
use coatwright::names::trade::{Ban, Bound, CoatId, Direction, FindingId, Gap, KeepOn, Reply, Sex, Trade, Verb, Where};
use serde_json::{Value, json};
use std::collections::BTreeSet;

/// Everything about one recipe, with what was said about it. `line` tells the file and line of a place.
#[must_use]
pub fn recipe(
    choices: &Choices,
    trade: &Trade,
    said: &[Diagnostic],
    line: &dyn Fn(coatwright::source::Place) -> String,
) -> Value {
    let coats: Vec<CoatId> = match &choices.serves.coats {
        Some(coats) => coats.clone(),
        None => (0_u16..).zip(&trade.coats).map(|(n, _)| CoatId(n)).collect(),
    };
    let exported: Vec<Value> = choices.finishes.iter().map(|c| choice(c, choices, trade, &coats, line)).collect();
    let keeps: Vec<Value> = choices
        .keeps
        .iter()
        .filter_map(|entry| {
            let KeepOn::Sites(sites) = entry.line.on else { return None };
            Some(json!({
                "sites": list(sites),
                "sex": entry.line.sex.map(sex),
                "cond": cond(&entry.cond),
                "finding": entry.finding.map(|f| f.0),
                "bound": bound(&entry.line.bound),
            }))
        })
        .collect();
    let told: Vec<Value> = said
        .iter()
        .map(|d| json!({ "code": d.code, "error": d.severity == Severity::Error, "line": line(d.place) }))
        .collect();
    json!({
        "name": choices.name.as_str(),
        "place": choices.place.map(line),
        "coats": coats.iter().map(|c| c.0).collect::<Vec<_>>(),
        "serves": cond(&choices.serves),
        "sites": sites(trade),
        "findings": findings(choices, trade),
        "choices": exported,
        "keeps": keeps,
        "said": told,
    })
}

fn list(sites: Sites) -> Vec<u8> {
    sites.iter().map(|s| s.0).collect()
}

const fn sex(sex: Sex) -> &'static str {
    match sex {
        Sex::Dog => "dog",
        Sex::Bitch => "bitch",
    }
}

fn sites(trade: &Trade) -> Vec<Value> {
    trade
        .all_sites()
        .iter()
        .filter_map(|site| {
            let (zone, _) = trade.zone_of(site)?;
            let other = trade.both_sides(Sites::one(site)) - Sites::one(site);
            Some(json!({
                "site": site.0,
                "name": zone.name.as_str(),
                "across": other.iter().next().map(|s| s.0),
                "sex": zone.sex.map(sex),
                "hidden": zone.hidden,
            }))
        })
        .collect()
}

fn range(bounds: &Bounds) -> Value {
    json!({ "low": bounds.low, "high": bounds.high })
}

fn cond(c: &Cond) -> Value {
    json!({
        "coats": c.coats.as_ref().map(|any| any.iter().map(|c| c.0).collect::<Vec<_>>()),
        "builds": c.builds.as_ref().map(|any| any.iter().map(|b| b.to_string()).collect::<Vec<_>>()),
        "sex": c.sex.map(sex),
        "weight": range(&c.weight),
        "height": range(&c.height),
        "age": range(&c.age),
        "mats": c.mats.map(|g| g as u8),
        "findings": c.findings.iter().map(|f| f.0).collect::<Vec<_>>(),
        "without": c.without.iter().map(|f| f.0).collect::<Vec<_>>(),
        "not": c.not.iter().map(cond).collect::<Vec<_>>(),
    })
}

/// Findings that some line speaks of, and those that ask for an answer.
fn findings(choices: &Choices, trade: &Trade) -> Vec<Value> {
    let mut spoken: BTreeSet<FindingId> = choices.finishes.iter().filter_map(|c| c.finding).collect();
    spoken.extend(choices.keeps.iter().filter_map(|k| k.finding));
    fn named(cond: &Cond, out: &mut BTreeSet<FindingId>) {
        out.extend(&cond.findings);
        out.extend(&cond.without);
        cond.not.iter().for_each(|n| named(n, out));
    }
    choices.finishes.iter().for_each(|c| named(&c.cond, &mut spoken));
    choices.keeps.iter().for_each(|k| named(&k.cond, &mut spoken));
    named(&choices.serves, &mut spoken);
    (0_u16..)
        .zip(&trade.findings)
        .filter(|(n, f)| f.reply == Reply::Answer || spoken.contains(&FindingId(*n)))
        .map(|(number, finding)| {
            let (on, fixed) = match finding.on {
                Where::Card => ("card", Sites::NONE),
                Where::Fixed(sites) => ("fixed", sites),
                Where::Whole => ("whole", trade.all_sites()),
            };
            let untouched: Vec<Value> = finding
                .keeps
                .iter()
                .filter(|k| matches!(k.bound, Bound::Untouched | Bound::Refer))
                .filter_map(|k| match k.on {
                    KeepOn::Place => (!finding.spot).then_some(Value::Null),
                    KeepOn::Sites(sites) => Some(json!(list(sites))),
                    KeepOn::Dog => None,
                })
                .collect();
            json!({
                "finding": number,
                "name": finding.name.as_str(),
                "on": on,
                "sites": list(fixed),
                "one_side": finding.one_side,
                "answer": finding.reply == Reply::Answer,
                // Null is the place of the finding itself.
                "untouched": untouched,
                "younger": finding.younger_than.map(|t| t.0),
                "older": finding.older_than.map(|t| t.0),
            })
        })
        .collect()
}

fn choice(
    choice: &Choice,
    choices: &Choices,
    trade: &Trade,
    coats: &[CoatId],
    line: &dyn Fn(coatwright::source::Place) -> String,
) -> Value {
    let level = match choice.level {
        Level::House(_) => 0,
        Level::Base(n) => 1 + u32::from(n),
        Level::Recipe => 1_000_000,
        Level::Wish => 1_000_001,
    };
    let ask = &choice.ask;
    let made = |rough: Option<&Choice>| -> Vec<Value> {
        coats
            .iter()
            .map(|coat| {
                let dog = Dog { coat: Some(*coat), ..Dog::default() };
                let site = choice.sites.iter().next().unwrap_or(Site(0));
                let set_in = rough
                    .and_then(|r| pick(&r.ask, None, choices, trade, &dog, site, &mut Vec::new()))
                    .map(|p| p.stroke);
                let picked = pick(ask, set_in.as_ref(), choices, trade, &dog, site, &mut Vec::new());
                picked.map_or(Value::Null, |p| stroke(&p.stroke, trade))
            })
            .collect()
    };
    // A pass over what was set in goes by that length.
    let refines = choice.kind != Kind::Guard
        && matches!(ask.verb, Verb::Finish | Verb::Scissor | Verb::Shape | Verb::Thin | Verb::Taper);
    let after: serde_json::Map<String, Value> = (0..)
        .zip(&choices.finishes)
        .filter(|(_, r)| refines && r.pass == Pass::Rough && r.sites.meets(choice.sites))
        .map(|(n, r): (i32, _)| (n.to_string(), json!(made(Some(r)))))
        .collect();
    json!({
        "rough": choice.pass == Pass::Rough,
        "kind": choice.kind as u8,
        "finding": choice.finding.map(|f| f.0),
        "cond": cond(&choice.cond),
        "level": level,
        "sites": list(choice.sites),
        "throughout": choice.throughout,
        "verb": ask.verb.as_str(),
        "refines": refines,
        // Two statements with equal words ask for the same work.
        "ask": format!("{:?} {:?} {:?} {:?} {:?} {:?}", ask.verb, ask.to, ask.tool, ask.direction, ask.passes, ask.manners),
        "file": choice.place.file.0,
        "start": choice.place.start,
        "line": line(choice.place),
        "tool_line": line(ask.tool_place),
        "strokes": made(None),
        "after": after,
    })
}

fn gap(gap: Gap) -> u8 {
    gap as u8
}

const fn way(way: Direction) -> &'static str {
    match way {
        Direction::With => "with",
        Direction::Across => "across",
        Direction::Reverse => "reverse",
    }
}

fn stroke(stroke: &Stroke, trade: &Trade) -> Value {
    let tool = stroke.tool.and_then(|t| trade.tool(t));
    json!({
        "tool": stroke.tool.map(|t| t.0),
        "over": stroke.over.map(|t| t.0),
        "kind": tool.map(|t| format!("{:?}", t.kind)),
        "clipper": tool.is_some_and(|t| t.kind.on_clipper()),
        "safe": tool.and_then(|t| t.closeness).map(|c| c.0),
        "way": stroke.direction.map(way),
        "passes": stroke.passes,
        "least": stroke.leaves.map(|l| l.low.0),
        "closeness": stroke.closeness.map(|c| c.0),
        "gap": stroke.gap.map(gap),
    })
}

fn bound(bound: &Bound) -> Value {
    let bans = |bans: &[Ban]| -> Vec<Value> {
        bans.iter()
            .map(|ban| match ban {
                Ban::Tool(t) => json!({ "tool": t.0 }),
                Ban::Kind(kind) => json!({ "kind": format!("{kind:?}") }),
                Ban::AnyClipper => json!({ "clipper": true }),
                Ban::Step(_) => json!({}),
            })
            .collect()
    };
    match bound {
        Bound::NoCloser(floor, _) => json!({ "is": "no-closer", "than": floor.0 }),
        Bound::NoShorter(least) => json!({ "is": "no-shorter", "than": least.0 }),
        Bound::Gap(cap) => json!({ "is": "gap", "cap": gap(*cap) }),
        Bound::Untouched | Bound::Refer => json!({ "is": "untouched" }),
        Bound::Never(list) => json!({ "is": "never", "any": bans(list) }),
        Bound::Only(list) => json!({ "is": "only", "any": bans(list) }),
        Bound::NeverDirection(d) => json!({ "is": "never-way", "way": way(*d) }),
        Bound::OnlyDirection(d) => json!({ "is": "only-way", "way": way(*d) }),
        Bound::Passes(most) => json!({ "is": "passes", "most": most }),
        // What only a card with a cause can break, and shapes.
        _ => json!({ "is": "shape" }),
    }
}
