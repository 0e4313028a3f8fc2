//! The owner's note: half a page, plain and kind; no diagnosis, no blame.

use super::make::{Made, Request};
use super::{Owner, words};
use crate::finish::{Did, Outcome};
use crate::measure::{DAY, Length};
use crate::names::condition::Grade;
use crate::names::sites::Sites;
use crate::names::trade::{Stage, StepId};
use crate::names::zone_words::{list_words, zone_words};
use crate::plan::{Dealt, TaskKind, clipped_off, dealt, forbidden, is_felted_for_good};
use crate::rules::{borders, outgrown, weeks_range, weeks_words, whole};

/// The note.
pub fn note(made: &Made, request: &Request) -> Owner {
    if made.dog.stops_visit(&made.trade) {
        return Owner {
            // What was done before it stopped.
            done: done(made),
            found: found(made),
            not_done: vec![
                "We stopped the visit here. Please see your vet first; we'll gladly find a new date after that."
                    .to_owned(),
            ],
            at_home: Vec::new(),
            watch: Vec::new(),
            next: next(made, request),
        };
    }
    Owner {
        done: done(made),
        found: found(made),
        not_done: not_done(made),
        at_home: at_home(made),
        watch: vec![
            "For two days: redness, licking, head-shaking, limping. Call us, or your vet, if you see any.".to_owned(),
        ],
        next: next(made, request),
    }
}

fn finger(made: &Made) -> Length {
    made.choices.units.map_or(Length(0), |u| u.finger)
}

/// What was done, by the parts that owners see.
fn done(made: &Made) -> Vec<String> {
    let trade = &made.trade;
    let finger = finger(made);
    let mut lines = Vec::new();
    // What is trimmed for cleanliness is told by itself, wherever it lies.
    let clean = trade.step_called("sanitary").map_or(Sites::NONE, |s| s.on);
    let of = |group| trade.sites_of(group).unwrap_or(Sites::NONE) - clean;
    for (sites, words) in [
        (of("torso"), "Body"),
        (of("legs"), "Legs"),
        (of("feet"), "Feet"),
        (clean, "Belly, groin and under the tail"),
        (of("face"), "Face"),
        (of("topknot"), "Top of the head"),
        (of("ears"), "Ears"),
        (of("tail"), "Tail"),
    ] {
        if let Some(line) = part(made, sites, finger) {
            lines.push(format!("{words}: {line}."));
        }
    }
    lines.extend(all_besides(made));
    lines
}

/// Where mats come off by blade.
fn clipped(made: &Made) -> Sites {
    let Made { trade, dog, choices, .. } = made;
    let mats =
        made.plan.tasks.iter().flat_map(|t| if let TaskKind::Mats(mats) = &t.kind { mats.as_slice() } else { &[] });
    let off = mats.filter_map(|n| clipped_off(dog.mats.get(*n)?, choices, trade, dog, made.whole()));
    off.fold(Sites::NONE, |all, (sites, _)| all | sites)
}

/// That there was no bath, and why.
fn no_bath(made: &Made) -> Option<String> {
    let Made { trade, dog, choices, .. } = made;
    let washes = |step: &StepId| trade.step(*step).is_some_and(|s| s.stage == Some(Stage::Wash));
    let ask = choices
        .prep
        .iter()
        .map(|ask| ask.step)
        .filter(washes)
        .find(|step| !made.is_bathed() && forbidden(*step, choices, trade, dog) == trade.all_sites())?;
    let step = trade.step(ask)?.name.replace('-', " ");
    if is_felted_for_good(ask, trade, dog) {
        return Some(format!("There was no {step}: water tightens felt, and most of the coat is felted."));
    }
    let mut findings = dog.findings.iter().filter_map(|f| trade.finding(f.finding));
    let why = findings.find(|f| f.keeps.iter().any(|k| trade.rules_out(&k.bound, ask)))?;
    Some(format!("There was no {step}, because of what we found: {}.", why.name.replace('-', " ")))
}

/// What was done beside the trim, before and now.
fn all_besides(made: &Made) -> Option<String> {
    let all = all_told(made);
    (!all.is_empty()).then(|| format!("{}.", words::sentence(&list_words(&all))))
}

fn all_told(made: &Made) -> Vec<String> {
    let now = made.plan.tasks.iter().flat_map(|t| besides(made, &t.kind));
    let mut all: Vec<String> = Vec::new();
    let before = made.earlier.iter().flat_map(|e| e.told.iter().cloned());
    for words in before.chain(now) {
        // Dried in two ways is dried.
        if !all.contains(&words) {
            all.push(words);
        }
    }
    all
}

/// What is done in a task beside the trim, as the owner reads it: nails, ears, a bath, mats.
pub(super) fn besides(made: &Made, task: &TaskKind) -> Vec<String> {
    let Made { trade, dog, choices, .. } = made;
    match task {
        TaskKind::Step { step, .. } => trade.step(*step).and_then(|s| s.owner.clone()).into_iter().collect(),
        TaskKind::Mats(mats) => {
            // By what is left of the coat there: a dog that comes home bare is told as it is.
            let mut off: Vec<(Option<Length>, Sites)> = Vec::new();
            let mut out = Sites::NONE;
            for mat in mats.iter().filter_map(|n| dog.mats.get(*n)) {
                match dealt(mat, choices, trade, dog, made.whole()) {
                    Dealt::Off(sites, stroke) => {
                        let leaves = stroke.leaves.map(|l| l.middle());
                        match off.iter_mut().find(|(known, _)| *known == leaves) {
                            Some((_, all)) => *all = *all | sites,
                            None => off.push((leaves, sites)),
                        }
                    }
                    Dealt::Out(sites) => out = out | sites,
                    Dealt::Kept | Dealt::Stays(_) => {}
                }
            }
            let finger = finger(made);
            let mut told: Vec<String> = Vec::new();
            for (leaves, sites) in off {
                let length = leaves.map(|l| format!(", {}", words::in_fingers(l, finger))).unwrap_or_default();
                told.push(format!("mats clipped off on the {}{length}", zone_words(trade, sites)));
            }
            if !out.is_empty() {
                told.push(format!("knots combed out on the {}", zone_words(trade, out)));
            }
            told
        }
        TaskKind::SetIn(_) | TaskKind::Part { .. } => Vec::new(),
    }
}

/// One part: the length of most of it.
fn part(made: &Made, sites: Sites, finger: Length) -> Option<String> {
    let mut lengths: Vec<(Length, i64)> = Vec::new();
    let (mut all, mut left, mut shaped) = (0, 0, 0);
    for finish in made.finishes.all.iter().filter(|f| sites.has(f.site)) {
        let share = made.trade.zone_of(finish.site).map_or(0, |(z, _)| z.share.0);
        all += share;
        match finish.fine.leaves {
            Some(leaves) => {
                let middle = leaves.middle();
                match lengths.iter_mut().find(|(l, _)| *l == middle) {
                    Some((_, s)) => *s += share,
                    None => lengths.push((middle, share)),
                }
            }
            None if finish.fine.tool.is_some() => shaped += share,
            None => left += share,
        }
    }
    if all == 0 || (left == all && made.waiting().meets(sites)) {
        return None;
    }
    if left == all {
        return Some("left as it is".to_owned());
    }
    if made.waiting().meets(sites) {
        // Of a part that is done another day the owner sees what was done by name.
        let done = made.finishes.all.iter().filter(|f| sites.has(f.site) && f.fine.tool.is_some()).map(|f| f.site);
        let done = zone_words(&made.trade, done.collect());
        let length = match lengths.as_slice() {
            [(length, _)] if shaped == 0 => format!(", {}", words::in_fingers(*length, finger)),
            _ => String::new(),
        };
        return Some(format!("only {done}{length}; the rest another day"));
    }
    if shaped * 2 > all || lengths.is_empty() {
        return Some("tidied".to_owned());
    }
    let (length, share) = lengths.into_iter().max_by_key(|(l, s)| (*s, *l))?;
    // A tenth that is otherwise is what an owner sees.
    let mostly = if share * 10 < (all - left) * 9 { "mostly " } else { "" };
    let partly = match left * 10 {
        part if part > all * 5 => ", most of it left as it is",
        part if part > all => ", some of it left as it is",
        _ => "",
    };
    Some(format!("{mostly}{}{partly}", words::in_fingers(length, finger)))
}

fn found(made: &Made) -> Vec<String> {
    let mut lines = Vec::new();
    for fact in &made.dog.findings {
        let Some(finding) = made.trade.finding(fact.finding) else { continue };
        let located = fact.sites != made.trade.all_sites();
        let place = fact.words.split_once(", ").map(|(_, place)| place.split(" (").next().unwrap_or(place).to_owned());
        let place = place.unwrap_or_else(|| zone_words(&made.trade, fact.sites));
        for text in &finding.owner {
            let line = if located { format!("{}: {text}", words::sentence(&place)) } else { text.clone() };
            if !lines.contains(&line) {
                lines.push(line);
            }
        }
    }
    for (words, sites, _) in &made.dog.others {
        lines.push(format!(
            "{} on the {}: we left that part alone. Your vet can tell you what it is.",
            words::sentence(words),
            zone_words(&made.trade, *sites)
        ));
    }
    for mat in made.dog.mats.iter().filter(|m| m.grade > Grade::None) {
        lines.push(format!("{} on the {}.", words::sentence(mat.grade.word()), mat.words));
    }
    lines
}

fn not_done(made: &Made) -> Vec<String> {
    let trade = &made.trade;
    let mut lines = Vec::new();
    let of = |test: &dyn Fn(&crate::finish::Finish) -> bool| -> Sites {
        made.finishes.all.iter().filter(|f| test(f)).map(|f| f.site).collect()
    };
    let left = of(&|f| {
        matches!(f.outcome, Outcome::Left | Outcome::Referred) && !f.reasons.iter().any(|r| r.what == Did::Mat)
    });
    if !left.is_empty() {
        lines.push(format!("We left the {} alone, because of what we found there.", zone_words(trade, left)));
    }
    let waits = made.waiting();
    if !waits.is_empty() {
        lines.push(format!(
            "We did first what your dog needs; the {} can wait for another visit, so that nobody had to stand longer than is good.",
            zone_words(trade, waits)
        ));
    }
    let undone: Vec<String> =
        made.waits.iter().flat_map(|w| &w.steps).filter_map(|s| trade.step(*s)?.owner.clone()).collect();
    let mut besides: Vec<String> = Vec::new();
    for words in undone.into_iter().filter(|w| !all_told(made).contains(w)) {
        if !besides.contains(&words) {
            besides.push(words);
        }
    }
    if !besides.is_empty() {
        lines.push(format!("Not done yet: {}.", list_words(&besides)));
    }
    lines.extend(no_bath(made));
    let bare = clipped(made) & waits;
    if !bare.is_empty() {
        lines.push(format!(
            "The coat is short now on the {}, where the mats came off: skin feels sun and cold more, and the colour may differ until it grows.",
            zone_words(trade, bare)
        ));
    }
    let matted = made.waits.as_ref().map_or(Sites::NONE, |w| w.mats_on);
    if !matted.is_empty() {
        lines.push(format!(
            "The mats on the {} are still there: your dog had borne enough for one day. They come first next time; until then please no water and no brush there, which tighten them.",
            zone_words(trade, matted)
        ));
    }
    let longer = of(&|f| f.outcome == Outcome::Raised);
    if !longer.is_empty() {
        lines.push(format!(
            "We worked more gently than usual on the {}; it may look a little longer there.",
            zone_words(trade, longer)
        ));
    }
    let mats = of(&|f| f.outcome == Outcome::Shortened);
    if !mats.is_empty() {
        lines.push(format!(
            "The {} had to be shorter than you wished: the mats could not be combed out without pain. After that, skin feels sun and cold more, and the colour may differ until it grows.",
            zone_words(trade, mats)
        ));
    }
    let kept = of(&|f| f.outcome == Outcome::Left && f.reasons.iter().any(|r| r.what == Did::Mat));
    if !kept.is_empty() {
        lines.push(format!(
            "The mats on the {} are still there, since they can only be clipped off. They pull at the skin; please let us take them off soon.",
            zone_words(trade, kept)
        ));
    }
    if borders(&made.choices, trade, &made.dog, &made.finishes).iter().any(|b| b.by_reply) {
        let until = if waits.is_empty() { "It grows out." } else { "It goes when the rest is done, or grows out." };
        lines.push(format!("A line may show beside those parts. {until}"));
    }
    lines
}

fn at_home(made: &Made) -> Vec<String> {
    let coat = made.dog.coat.and_then(|c| made.trade.coat(c));
    let mut lines = Vec::new();
    let long = made.finishes.all.iter().any(|f| f.fine.leaves.is_some_and(|l| l.low > Length::mm(13)));
    match coat.map(|c| c.texture.as_str()) {
        Some("smooth") => lines.push("A rubber brush once a week is enough.".to_owned()),
        Some(_) if long => {
            lines.push(
                "Comb to the skin three times a week, most of all behind the ears, in the armpits and on the legs."
                    .to_owned(),
            );
            if let (Some(mats), Some(lasts)) = (coat.and_then(|c| c.mats_after), made.choices.lasts)
                && mats.low < lasts
            {
                lines.push(format!(
                    "Unbrushed, this coat has its first tight mat after {}: before the next visit.",
                    weeks_range(mats)
                ));
            }
            lines.push("Brush and comb before a bath or a swim, not after: water tightens knots.".to_owned());
        }
        _ => lines.push("Comb through once a week, most of all behind the ears and in the armpits.".to_owned()),
    }
    let jacket = made.trade.sites_of("jacket").unwrap_or(Sites::NONE);
    let clipped = made
        .finishes
        .all
        .iter()
        .any(|f| jacket.has(f.site) && f.fine.kind(&made.trade).is_some_and(|k| k.on_clipper()));
    if coat.is_some_and(|c| c.regrowth_poor) && clipped {
        lines.push("The jacket was clipped as you agreed. It may come back late or uneven; until then, keep sun and cold off the skin.".to_owned());
    } else if coat.is_some_and(|c| c.regrowth_poor) {
        lines.push("Please don't let the jacket be clipped: on this coat it may not grow back well.".to_owned());
    }
    lines
}

pub fn next(made: &Made, request: &Request) -> Option<String> {
    if made.dog.stops_visit(&made.trade) {
        return None;
    }
    if made.waits.is_some() {
        return Some("Soon, for the rest: please find a day with us.".to_owned());
    }
    let lasts = made.choices.lasts?;
    let day = request.on.or(made.dog.seen)?.plus(lasts.0 / DAY);
    let weeks = lasts.0 / (7 * DAY);
    let growth = made
        .dog
        .coat
        .and_then(|c| made.trade.coat(c))
        .map(|c| c.grows)
        .filter(|g| g.high.0 > 0)
        .map(|g| g.map(|per_week| Length(per_week.0 * weeks)));
    let mut why = growth.map(|g| format!(" By then it has grown {}.", whole(g))).unwrap_or_default();
    // The shape that comes nearest to its cap is the reason for that day.
    let caps = outgrown(&made.choices, &made.trade, &made.dog, &made.finishes);
    let nearest = caps
        .iter()
        .filter(|(cap, _)| cap.finish.outcome != Outcome::Raised)
        .max_by_key(|(cap, _)| cap.then.high.0.saturating_mul(1000) / cap.most.0.max(1));
    if let Some((cap, _)) = nearest {
        let name = zone_words(&made.trade, Sites::one(cap.finish.site));
        let (then, most) = (whole(cap.then), cap.most);
        why += &if cap.hangs {
            format!(" The hair of the {name} is {then} long then; from {most} on it would hang over the eyes.")
        } else {
            format!(" The {name} is {then} long then, and {most} is the most for this shape.")
        };
    }
    Some(format!("Come again about {day}, in {}: so long this trim keeps its shape.{why}", weeks_words(lasts)))
}
