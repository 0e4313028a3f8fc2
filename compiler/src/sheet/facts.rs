//! The top strip: who is on the table, what can hurt, what was asked.

use super::{Consent, DogStrip, words};
use crate::date::Day;
use crate::measure::{DAY, Time};
use crate::names::card::Dog;
use crate::names::sites::Sites;
use crate::names::trade::{Bound, MarkId, Sex, Trade, Vet};
use crate::names::zone_words::zone_words;

/// Who is on the table.
pub fn strip(dog: &Dog, trade: &Trade) -> DogStrip {
    let mut facts = Vec::new();
    let sex = match dog.sex {
        Some(Sex::Dog) => "dog",
        Some(Sex::Bitch) => "bitch",
        None => "",
    };
    let note = dog.sex_note.as_deref().unwrap_or("");
    facts.push([sex, note].into_iter().filter(|w| !w.is_empty()).collect::<Vec<_>>().join(", "));
    facts.push(dog.age.map(age).unwrap_or_default());
    facts.push(dog.weight.map(|w| w.to_string()).unwrap_or_default());
    if let Some(coat) = dog.coat.and_then(|c| trade.coat(c)) {
        let mut coats = vec![coat.name.to_string()];
        coats.extend(dog.length.map(|l| format!("{l} now")));
        coats.extend(dog.coat_notes.iter().cloned());
        facts.push(coats.join(", "));
    }
    for (sites, id) in &dog.coats {
        if let Some(coat) = trade.coat(*id) {
            facts.push(format!("{} on {}", coat.name, zone_words(trade, *sites)));
        }
    }
    for (sites, length) in &dog.lengths {
        facts.push(format!("{length} on {}", zone_words(trade, *sites)));
    }
    let told = |lines: &[&str]| {
        let found: Vec<String> = lines
            .iter()
            .filter_map(|line| dog.told(line).filter(|t| !t.is_empty()).map(|text| labelled(line, text)))
            .collect();
        (!found.is_empty()).then(|| found.join(" · "))
    };
    DogStrip {
        name: dog.told("title").map_or_else(|| words::sentence(&dog.name.replace('-', " ")), str::to_owned),
        facts: facts.into_iter().filter(|f| !f.is_empty()).collect::<Vec<_>>().join(" · "),
        looks: told(&["breed", "colour"]),
        handling: told(&["handling"]),
        medical: told(&["allergies", "medicine"]),
        phones: told(&["phone", "vet"]),
        last: last(dog, told(&["by", "brushed", "owner-says", "note"])),
    }
}

/// The last visit: what the lines `visit` say, unless the card names a later day or says it in words.
fn last(dog: &Dog, beside: Option<String>) -> Option<String> {
    let told = dog.told("last").filter(|t| !t.is_empty());
    let visit = dog.visits.iter().max_by_key(|v| v.on).filter(|v| told.and_then(Day::parse).is_none_or(|d| d <= v.on));
    let visit = visit.filter(|_| told.is_none_or(|t| Day::parse(t).is_some()));
    let day = match visit {
        Some(visit) => Some(match (&visit.recipe, &visit.version) {
            (Some(recipe), Some(version)) => format!("last: {}, {recipe} version {version}", visit.on),
            (Some(recipe), None) => format!("last: {}, {recipe}", visit.on),
            (None, _) => format!("last: {}", visit.on),
        }),
        None => told.map(|text| labelled("last", text)),
    };
    let words: Vec<String> = day.into_iter().chain(beside).collect();
    (!words.is_empty()).then(|| words.join(" · "))
}

fn labelled(line: &str, text: &str) -> String {
    match line {
        "breed" | "colour" | "handling" => text.to_owned(),
        "owner-says" => format!("owner says: {text}"),
        _ => format!("{line}: {text}"),
    }
}

fn age(age: Time) -> String {
    let days = age.0 / DAY;
    match days {
        0..=111 => format!("{} weeks", days / 7),
        112..=729 => format!("{} months", days * 12 / 365),
        _ => format!("{} years", days * 100 / 36_525),
    }
}

/// Something that can hurt.
pub struct Danger {
    /// As the strip says it.
    pub words: String,
    /// Where; nowhere if it is the whole dog.
    pub sites: Sites,
    /// The part that the card names.
    pub mark: Option<MarkId>,
}

/// So many dangers are told in full in the strip at the top.
pub const IN_THE_STRIP: usize = 5;

/// What can hurt, the worst first: what a vet must see, what stays untouched, then the rest, with side and place.
pub fn dangers(dog: &Dog, trade: &Trade) -> Vec<Danger> {
    let mut all: Vec<(u8, Danger)> = Vec::new();
    let placed = |words: String, sites: Sites, mark| Danger { words, sites, mark };
    for (words, sites, _) in &dog.others {
        all.push((0, placed(format!("{words}: {}, untouched", zone_words(trade, *sites)), *sites, None)));
    }
    for fact in &dog.findings {
        let Some(finding) = trade.finding(fact.finding) else { continue };
        // What limits the whole visit (heart, breath, fits) comes before what one goes round.
        let limits = finding.keeps.iter().any(|k| matches!(k.bound, Bound::AtStretch(_) | Bound::InAll(_)));
        let rank = match (finding.stops_visit, finding.vet, fact.sites == trade.all_sites()) {
            (true, _, _) => 0,
            (_, Some(Vet::Now), _) => 1,
            (_, _, true) if limits => 2,
            (_, _, false) => 3,
            _ => 4,
        };
        let mut line = words::sentence(&fact.words);
        if !fact.words.contains(',') && fact.sites != trade.all_sites() {
            line = format!("{line}: {}", zone_words(trade, fact.sites));
        }
        let caution = finding.cautions.first().map(String::as_str).unwrap_or_default();
        line = match finding.margin {
            Some(margin) if finding.is_kept_clear() => format!("{line}. Stay {margin} off. {caution}"),
            Some(margin) => format!("{line}. With {margin} round it: {}", words::small(caution)),
            None => format!("{line}. {caution}"),
        };
        let line = line.trim_end().to_owned();
        let sites = if fact.sites == trade.all_sites() { Sites::NONE } else { fact.sites };
        all.push((rank, placed(line, sites, fact.mark)));
    }
    if let Some(coat) = dog.coat.and_then(|c| trade.coat(c)).filter(|c| c.regrowth_poor)
        && dog.agreed("jacket-clip") == Some(true)
    {
        let words = format!("A {} coat, jacket clipped by consent: may not grow back well", coat.name);
        all.push((3, placed(words, Sites::NONE, None)));
    }
    for mat in &dog.mats {
        if mat.grade >= crate::names::condition::Grade::Tight {
            let off = mat.off_skin.map(|l| format!(", {l} off the skin")).unwrap_or_default();
            let words = format!("{}: {}{off}", words::sentence(mat.grade.word()), mat.words);
            all.push((3, placed(words, mat.sites, None)));
        }
    }
    all.sort_by_key(|(rank, _)| *rank);
    all.into_iter().map(|(_, danger)| danger).collect()
}

/// What nobody asked, of what the basics' and the house's steps ask every owner.
pub fn not_asked(dog: &Dog, trade: &Trade) -> Vec<String> {
    let known = |what: &str| {
        dog.asked.iter().any(|a| a == what)
            || dog.told(what).is_some()
            || (what == "temper" && dog.told("handling").is_some())
    };
    trade.steps.iter().flat_map(|s| &s.asks).filter(|what| !known(what)).map(ToString::to_string).collect()
}

/// What the owner agreed to: what the card says, and the questions that this dog needs.
pub fn consents(dog: &Dog, trade: &Trade, clip_off: bool) -> Vec<Consent> {
    let mut consents: Vec<Consent> = Vec::new();
    // Of two answers to a question the later one counts.
    for (what, yes) in &dog.consent {
        let what = what.replace('-', " ");
        match consents.iter_mut().find(|c| c.what == what) {
            Some(known) => known.agreed = Some(*yes),
            None => consents.push(Consent { what, agreed: Some(*yes) }),
        }
    }
    let needs = dog.findings.iter().filter_map(|f| trade.finding(f.finding)).flat_map(|f| &f.needs);
    for what in needs.map(|n| n.replace('-', " ")) {
        if !consents.iter().any(|c| c.what == what) {
            consents.push(Consent { what, agreed: None });
        }
    }
    for (due, what) in [(clip_off, "clip off"), (true, "vet in an emergency")] {
        if due && !consents.iter().any(|c| c.what == what) {
            consents.push(Consent { what: what.to_owned(), agreed: None });
        }
    }
    consents
}

/// The places that a vet must see, in words.
pub fn vet_first(dog: &Dog, trade: &Trade, referred: Sites) -> Vec<String> {
    let mut lines = Vec::new();
    for fact in &dog.findings {
        let Some(finding) = trade.finding(fact.finding) else { continue };
        if finding.stops_visit {
            lines.push(format!("{}: the visit stops here; see a vet first", words::sentence(&fact.words)));
        } else if finding.vet == Some(Vet::Now)
            || fact.sites.meets(referred) && finding.reply == crate::names::trade::Reply::Refer
        {
            lines.push(format!("{}: not touched; see a vet", words::sentence(&fact.words)));
        }
    }
    lines
}
