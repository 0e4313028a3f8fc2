//! The dogs that stand for all others: one of each piece into which a recipe's conditions cut them.

use crate::choices::Choices;
use crate::measure::{DAY, Length, Time, Weight};
use crate::names::card::{Dog, Fact};
use crate::names::condition::{BUILDS, Bounds, Cond};
use crate::names::sites::Sites;
use crate::names::trade::{CoatId, FindingId, Reply, Sex, Trade, Where};
use smol_str::SmolStr;

/// One dog without findings for each coat, build, sex and piece of weight, height and age that the recipe tells apart.
#[must_use]
pub fn representatives(choices: &Choices, trade: &Trade) -> Vec<Dog> {
    let serves = &choices.serves;
    let coats: Vec<CoatId> = match &serves.coats {
        Some(coats) => coats.clone(),
        None => (0..trade.coats.len()).filter_map(|i| u16::try_from(i).ok().map(CoatId)).collect(),
    };
    let mut conds: Vec<&Cond> = vec![serves];
    fn all<'c>(cond: &'c Cond, out: &mut Vec<&'c Cond>) {
        out.push(cond);
        cond.not.iter().for_each(|n| all(n, out));
    }
    for choice in &choices.finishes {
        all(&choice.cond, &mut conds);
    }
    for entry in &choices.keeps {
        all(&entry.cond, &mut conds);
    }
    for blend in &choices.blends {
        all(&blend.cond, &mut conds);
    }
    for order in &choices.orders {
        all(&order.cond, &mut conds);
    }
    for line in &choices.lines {
        all(&line.cond, &mut conds);
    }
    for ask in &choices.prep {
        all(&ask.cond, &mut conds);
    }
    let (weights, heights, ages) = (
        pieces(&conds, &serves.weight, |c| &c.weight, 100, 12_000),
        spoken_of(&conds, &serves.height, |c| &c.height, Length::mm(10).0, Length::mm(400).0),
        spoken_of(&conds, &serves.age, |c| &c.age, 7 * DAY, 3 * 365 * DAY),
    );
    let told = |f: fn(&Cond) -> bool| conds.iter().any(|c| f(c));
    let builds: Vec<Option<SmolStr>> = if told(|c| c.builds.is_some()) {
        let served = |b: &&&str| serves.builds.as_ref().is_none_or(|any| any.iter().any(|x| x == **b));
        BUILDS.iter().filter(served).map(|b| Some(SmolStr::from(*b))).collect()
    } else {
        vec![None]
    };
    let sexes: Vec<Sex> = match serves.sex {
        Some(sex) => vec![sex],
        None => vec![Sex::Dog, Sex::Bitch],
    };
    let mut dogs = Vec::new();
    for &coat in &coats {
        for build in &builds {
            for &weight in &weights {
                for &height in &heights {
                    for &age in &ages {
                        for &sex in &sexes {
                            // Only the parts that differ by sex ask for the second one.
                            if sex == Sex::Bitch
                                && serves.sex.is_none()
                                && !dogs.is_empty()
                                && !sex_matters(&conds, &dogs, coat)
                            {
                                continue;
                            }
                            dogs.push(Dog {
                                sex: Some(sex),
                                build: build.clone(),
                                coat: Some(coat),
                                weight: Some(Weight(weight)),
                                height: height.map(Length),
                                age: age.map(Time),
                                ..Dog::default()
                            });
                        }
                    }
                }
            }
        }
    }
    dogs
}

/// Sex decides the prepuce and vulva on each coat once; beyond that only where a condition speaks of it.
fn sex_matters(conds: &[&Cond], dogs: &[Dog], coat: CoatId) -> bool {
    conds.iter().any(|c| c.sex.is_some()) || !dogs.iter().any(|d| d.coat == Some(coat) && d.sex == Some(Sex::Bitch))
}

/// The pieces of a measure that some condition speaks of; else it plays no part, and the dog has none.
fn spoken_of(conds: &[&Cond], served: &Bounds, of: fn(&Cond) -> &Bounds, grid: i64, usual: i64) -> Vec<Option<i64>> {
    if conds.iter().all(|c| *of(c) == Bounds::default()) {
        return vec![None];
    }
    pieces(conds, served, of, grid, usual).into_iter().map(Some).collect()
}

/// A value in each piece into which the conditions cut a measure, on the card's grid and within what is served: the usual one
/// where it can be, else the roundest.
fn pieces(conds: &[&Cond], served: &Bounds, of: fn(&Cond) -> &Bounds, grid: i64, usual: i64) -> Vec<i64> {
    let mut cuts: Vec<i64> = Vec::new();
    for cond in conds {
        for (value, _) in [of(cond).low, of(cond).high].into_iter().flatten() {
            cuts.extend([value - grid, value, value + grid]);
        }
    }
    cuts.push(usual);
    cuts.retain(|v| *v > 0 && served.has(*v));
    cuts.sort_unstable();
    cuts.dedup();
    // Values that every condition treats alike are one piece. Each end of a condition has a value on both of its sides, so
    // that a piece reaches from its first value to its last.
    let mut pieces: Vec<(i64, i64)> = Vec::new();
    let mut last: Option<Vec<bool>> = None;
    for value in cuts {
        let now: Vec<bool> = conds.iter().map(|c| of(c).has(value)).collect();
        match pieces.last_mut() {
            Some(piece) if last.as_ref() == Some(&now) => piece.1 = value,
            _ => pieces.push((value, value)),
        }
        last = Some(now);
    }
    if pieces.is_empty() {
        pieces.push((usual, usual));
    }
    pieces.into_iter().map(|(low, high)| roundest(low, high, grid, usual)).collect()
}

/// The usual value if it lies between two others, else the roundest between them, and of equally round ones the nearest to the
/// usual one.
fn roundest(low: i64, high: i64, grid: i64, usual: i64) -> i64 {
    if (low..=high).contains(&usual) {
        return usual;
    }
    let near = if usual > high { high } else { low };
    let round = [100, 50, 20, 10, 5, 2, 1].into_iter().find_map(|many| {
        let step = grid.saturating_mul(many);
        let value = if usual > high {
            high.div_euclid(step) * step
        } else {
            low.saturating_add(step - 1).div_euclid(step) * step
        };
        (low..=high).contains(&value).then_some(value)
    });
    round.unwrap_or(near)
}

/// A finding that a recipe answers, or whose answer is due.
struct Answered {
    fact: Fact,
    /// Where an answer stands or is due: only there can it matter.
    sites: Sites,
}

/// For each finding that the recipe answers, and each whose answer is due, a dog that has it and nothing else; for each two of
/// them whose answers meet, a dog that has both. With the dog comes where to look.
pub(super) fn answered(choices: &Choices, trade: &Trade, plain: &[Dog]) -> Vec<(Dog, Sites)> {
    let all: Vec<Answered> = (0_u16..)
        .zip(&trade.findings)
        .filter_map(|(number, finding)| {
            let id = FindingId(number);
            let guarded =
                choices.finishes.iter().filter(|c| c.finding == Some(id)).fold(Sites::NONE, |set, c| set | c.sites);
            if choices.serves.without.contains(&id) || (guarded.is_empty() && finding.reply != Reply::Answer) {
                return None;
            }
            let on = match finding.on {
                Where::Whole => trade.all_sites(),
                Where::Fixed(sites) => sites,
                Where::Card => guarded,
            };
            let fact = Fact {
                finding: id,
                sites: on,
                mark: None,
                after: None,
                direction: None,
                seen: None,
                words: String::new(),
                place: finding.place,
            };
            let due = if finding.reply == Reply::Answer { on } else { Sites::NONE };
            Some(Answered { fact, sites: guarded | due })
        })
        .collect();
    let single = all.iter().map(|a| (vec![a.fact.clone()], a.sites));
    let pairs = all.iter().enumerate().flat_map(|(n, a)| all.iter().skip(n + 1).map(move |b| (a, b)));
    let pairs = pairs.filter(|(a, b)| a.sites.meets(b.sites)).map(|(a, b)| {
        let both = a.sites.iter().filter(|s| b.sites.has(*s)).collect();
        (vec![a.fact.clone(), b.fact.clone()], both)
    });
    // The fewest findings first, so that they are what a message shows.
    let mut dogs = Vec::new();
    for (findings, sites) in single.chain(pairs) {
        dogs.extend(plain.iter().map(|dog| (Dog { findings: findings.clone(), ..dog.clone() }, sites)));
    }
    dogs
}
