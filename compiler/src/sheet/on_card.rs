//! What a card and a recipe have to say to one another, and what only the card can tell.

use super::facts;
use crate::choices::Choices;
use crate::date::Day;
use crate::diagnostic::{Diagnostic, code};
use crate::finish::{Did, Finishes, Outcome, on_words};
use crate::names::card::Dog;
use crate::names::condition::{Bounds, Cond};
use crate::names::lower::Decl;
use crate::names::sites::{Site, Sites};
use crate::names::trade::{Reply, Trade, Vet};
use crate::names::zone_words::{list_words, zone_words};
use crate::source::Place;
use crate::workspace::Salon;

/// Everything that there is to say.
pub fn say(
    choices: &Choices,
    salon: &Salon<'_>,
    dog: &Dog,
    finishes: &Finishes,
    card: Decl<'_>,
    on: Option<Day>,
    out: &mut Vec<Diagnostic>,
) {
    served(choices, salon, dog, card, out);
    untold(choices, dog, card, out);
    on_the_day(dog, &salon.trade, on, card, out);
    for_the_vet(dog, &salon.trade, out);
    left(finishes, &salon.trade, out);
}

fn served(choices: &Choices, salon: &Salon<'_>, dog: &Dog, card: Decl<'_>, out: &mut Vec<Diagnostic>) {
    let sites = salon.trade.all_sites();
    // The coat of the whole dog decides; a coat elsewhere that isn't served is worth a look, since the finishes there are
    // made and checked for that coat as ever.
    let whole = Dog { coats: Vec::new(), ..dog.clone() };
    let by_part = sites.iter().next().is_some_and(|s| choices.serves.holds(&whole, s));
    // A measure that the card doesn't tell is asked for elsewhere.
    let mut known = choices.serves.clone();
    if dog.age.is_none() {
        known.age = Bounds::default();
    }
    if dog.height.is_none() {
        known.height = Bounds::default();
    }
    if sites.iter().all(|s| known.holds(dog, s)) {
        return;
    }
    let refused: Vec<Site> = sites.iter().filter(|s| !choices.serves.holds(dog, *s)).collect();
    let Some(site) = refused.first() else { return };
    let serves = &choices.serves;
    let coat = dog.coat_at(*site).and_then(|c| salon.trade.coat(c)).map_or("", |c| c.name.as_str());
    let without: Vec<&str> = serves
        .without
        .iter()
        .filter(|f| dog.has(**f))
        .filter_map(|f| salon.trade.finding(*f))
        .map(|f| f.name.as_str())
        .collect();
    let mut reasons: Vec<String> = Vec::new();
    if !without.is_empty() {
        reasons.push(format!("It isn't for dogs with {}.", without.join(", ").replace('-', " ")));
    }
    if serves.coats.as_ref().is_some_and(|any| !dog.coat_at(*site).is_some_and(|c| any.contains(&c))) {
        let part =
            if by_part { format!(", which this dog has {}", on_words(&salon.trade, *site)) } else { String::new() };
        reasons.push(match coat {
            "" => "No coat is told.".to_owned(),
            coat => format!("It isn't for a {coat} coat{part}."),
        });
    }
    if let Some(worst) = serves.mats.filter(|m| dog.worst_mats() > *m) {
        reasons.push(format!("It serves up to {}, and this dog has {}.", worst.word(), dog.worst_mats().word()));
    }
    let outside =
        |bounds: &Bounds, value: Option<i64>| *bounds != Bounds::default() && !value.is_some_and(|v| bounds.has(v));
    let out_of = [
        (outside(&serves.weight, dog.weight.map(|w| w.0)), "weight"),
        (outside(&serves.height, dog.height.map(|h| h.0)), "height"),
        (outside(&serves.age, dog.age.map(|a| a.0)), "age"),
        (serves.sex.is_some() && serves.sex != dog.sex, "sex"),
        (serves.builds.as_ref().is_some_and(|b| !b.contains(dog.build_or_square())), "build"),
    ];
    let out_of: Vec<&str> = out_of.into_iter().filter(|(is, _)| *is).map(|(_, what)| what).collect();
    if !out_of.is_empty() {
        reasons.push(format!("Its {} is outside what the recipe serves, or not on the card.", out_of.join(" and ")));
    }
    let why = reasons.join(" ");
    let place = dog.wants.as_ref().map_or_else(|| card.place(), |(_, place)| *place);
    let message = format!("{} doesn't serve {}", choices.title, dog.name);
    // Mats alone don't make a trim unsafe: they are cut beneath, with consent, and the sheet says so.
    let mats_only = without.is_empty()
        && Cond::without_mats(&choices.serves).holds(dog, *site)
        && sites.iter().all(|s| Cond::without_mats(&choices.serves).holds(dog, s));
    let diagnostic = if by_part {
        Diagnostic::note(code::D001, place, message)
    } else if mats_only {
        Diagnostic::warning(code::D001, place, message)
    } else {
        Diagnostic::error(code::D001, place, message)
    };
    let mut diagnostic = diagnostic.why(why).help("Choose another recipe, or let its author widen `serves`.");
    if let Some(recipe) = choices.place {
        diagnostic = diagnostic.related(recipe, "whom it serves stands in this recipe");
    }
    out.push(diagnostic);
}

impl Cond {
    /// The same condition without its word on mats.
    #[must_use]
    pub fn without_mats(&self) -> Self {
        Self { mats: None, ..self.clone() }
    }
}

/// A measure that some condition asks for and the card doesn't tell: nobody knows which branch is meant.
fn untold(choices: &Choices, dog: &Dog, card: Decl<'_>, out: &mut Vec<Diagnostic>) {
    type Asks = fn(&Cond) -> bool;
    let conds = choices.finishes.iter().map(|c| &c.cond).chain(choices.keeps.iter().map(|k| &k.cond));
    let conds: Vec<&Cond> = conds.chain([&choices.serves]).collect();
    fn asks(cond: &Cond, of: Asks) -> bool {
        of(cond) || cond.not.iter().any(|n| asks(n, of))
    }
    let due: [(bool, Asks, &str, &str); 2] = [
        (dog.age.is_none() && dog.born.is_none(), |c| c.age != Bounds::default(), "age", "born 2019-05"),
        (dog.height.is_none(), |c| c.height != Bounds::default(), "height", "height 42 cm"),
    ];
    for (missing, of, what, example) in due {
        if missing && conds.iter().any(|c| asks(c, of)) {
            out.push(
                Diagnostic::error(
                    code::D003,
                    card.place(),
                    format!("the card of {} doesn't tell the {what}", dog.name),
                )
                .why("The recipe does one thing or another by it.")
                .help(format!("Add a line such as `{example}`.")),
            );
        }
    }
}

/// What a card alone can tell about its own day.
fn on_the_day(dog: &Dog, trade: &Trade, on: Option<Day>, card: Decl<'_>, out: &mut Vec<Diagnostic>) {
    let fresh = trade.steps.iter().filter_map(|s| s.good_for).min().map(|t| t.0 / crate::measure::DAY);
    if let (Some(seen), Some(fresh), Some(on)) = (dog.seen, fresh, on)
        && on.0 - seen.0 > fresh
    {
        out.push(
            Diagnostic::warning(
                code::D008,
                card.place(),
                format!("this card is from {seen}, {} days before the visit", on.0 - seen.0),
            )
            .why("Skin, lumps and mats change in weeks.")
            .help("Look the dog over again and renew the line `seen`."),
        );
    }
    let unasked = facts::not_asked(dog, trade);
    if !unasked.is_empty() {
        out.push(
            Diagnostic::note(
                code::D004,
                dog.asked_place.unwrap_or_else(|| card.place()),
                format!("nobody asked about {}", list_words(&unasked)),
            )
            .why("Silence on a card isn't health.")
            .help("Ask, then add it to the line `asked`."),
        );
    }
    for mat in dog.mats.iter().filter(|m| m.grade >= crate::names::condition::Grade::Tight) {
        if dog.agreed("clip-off").is_none() {
            out.push(
                Diagnostic::error(code::D006, mat.place, format!("nobody asked the owner about clipping off the {}", mat.words))
                    .why("Tight mats can't be combed out kindly; what lies under them is short, and the owner must agree before.")
                    .help("Ask, then add `consent clip-off yes` or `consent clip-off no`."),
            );
        }
    }
}

/// D005: what a vet must see before a tool comes near.
fn for_the_vet(dog: &Dog, trade: &Trade, out: &mut Vec<Diagnostic>) {
    for fact in &dog.findings {
        let Some(finding) = trade.finding(fact.finding).filter(|f| f.stops_visit || f.vet == Some(Vet::Now)) else {
            continue;
        };
        let message = if finding.stops_visit {
            format!("{}: the visit stops here, a vet first", fact.words)
        } else {
            format!("{}: that part stops here, a vet first", fact.words)
        };
        let mut diagnostic = Diagnostic::warning(code::D005, fact.place, message)
            .related(finding.place, "the basics or the house say so here")
            .help("The sheet leaves it out and says so to the owner.");
        if let Some(caution) = finding.cautions.first() {
            diagnostic = diagnostic.why(caution.clone());
        }
        out.push(diagnostic);
    }
}

/// D007 and C009: what is left because of a finding or a rule, and what is left because no tool is safe there.
/// What a finding or a mat leaves as it is.
pub fn left(finishes: &Finishes, trade: &Trade, out: &mut Vec<Diagnostic>) {
    let mut groups: Vec<(Place, bool, Sites)> = Vec::new();
    for finish in finishes.all.iter().filter(|f| f.outcome == Outcome::Left) {
        let Some(reason) =
            finish.reasons.iter().rev().find(|r| matches!(r.what, Did::Guarded(_) | Did::Mat | Did::Replied(..)))
        else {
            continue;
        };
        let no_tool = finish.reasons.iter().any(|r| matches!(r.what, Did::Replied(_, Reply::Raise | Reply::Answer)));
        match groups.iter_mut().find(|(place, none, _)| *place == reason.place && *none == no_tool) {
            Some((_, _, sites)) => *sites = *sites | Sites::one(finish.site),
            None => groups.push((reason.place, no_tool, Sites::one(finish.site))),
        }
    }
    for (place, no_tool, sites) in groups {
        let zones = zone_words(trade, sites);
        out.push(if no_tool {
            Diagnostic::note(
                code::C009,
                place,
                format!("no tool of the kit is safe on the {zones} of this dog: left as it is"),
            )
            .why("Floor, teeth and bans together leave nothing, and a longer blade is never the way out.")
        } else {
            Diagnostic::note(code::D007, place, format!("left as it is: {zones}"))
        });
    }
}
