//! The dogs that stand for all others: one of each piece into which a recipe's conditions cut them.

use crate::choices::Choices;
use crate::measure::{DAY, Length, Time, Weight};
use crate::names::card::{Dog, Fact};
use crate::names::condition::{BUILDS, Bounds, Cond};
use crate::names::sites::Sites;
use crate::names::trade::{CoatId, Reply, Sex, Trade, Where};
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
        pieces(&conds, &serves.height, |c| &c.height, Length::mm(10).0, Length::mm(400).0),
        pieces(&conds, &serves.age, |c| &c.age, 7 * DAY, 3 * 365 * DAY),
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
                                height: Some(Length(height)),
                                age: Some(Time(age)),
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

/// A value in each piece into which the conditions cut a measure, on the card's grid and within what is served.
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
    // Values that every condition treats alike are one piece; the usual one stands for its piece if it can.
    let mut pieces: Vec<i64> = Vec::new();
    let mut last: Option<Vec<bool>> = None;
    for value in cuts {
        let now: Vec<bool> = conds.iter().map(|c| of(c).has(value)).collect();
        match pieces.last_mut() {
            Some(piece) if last.as_ref() == Some(&now) => {
                if (value - usual).abs() < (*piece - usual).abs() {
                    *piece = value;
                }
            }
            _ => pieces.push(value),
        }
        last = Some(now);
    }
    if pieces.is_empty() {
        pieces.push(usual);
    }
    pieces
}

/// For each finding that the recipe answers, and each whose answer is due: a dog that has it and nothing else.
pub(super) fn answered(choices: &Choices, trade: &Trade, plain: &[Dog]) -> Vec<(Dog, Sites)> {
    let mut dogs = Vec::new();
    for (number, finding) in trade.findings.iter().enumerate() {
        let Ok(id) = u16::try_from(number).map(crate::names::trade::FindingId) else { continue };
        let guarded: Sites =
            choices.finishes.iter().filter(|c| c.finding == Some(id)).fold(Sites::NONE, |set, c| set | c.sites);
        if choices.serves.without.contains(&id) || (guarded.is_empty() && finding.reply != Reply::Answer) {
            continue;
        }
        let sites = match finding.on {
            Where::Whole => trade.all_sites(),
            Where::Fixed(sites) => sites,
            Where::Card => guarded,
        };
        let place = finding.place;
        for dog in plain.iter().take(24) {
            let fact = Fact {
                finding: id,
                sites,
                mark: None,
                after: None,
                direction: None,
                seen: None,
                words: String::new(),
                place,
            };
            // Only where an answer stands or is due can it matter.
            let due = if finding.reply == Reply::Answer { sites } else { Sites::NONE };
            dogs.push((Dog { findings: vec![fact], ..dog.clone() }, guarded | due));
        }
    }
    dogs
}
