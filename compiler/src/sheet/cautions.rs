//! What to mind: at a step, and at a line of it.

use super::build::Builder;
use super::make::Made;
use super::words;
use crate::names::condition::Grade;
use crate::names::sites::Sites;
use crate::names::trade::{Ban, Bound, KeepLine, Reply, Skin, Step, Trade, Vet};
use crate::names::zone_words::zone_words;

impl Builder<'_> {
    /// A step's own caution; that of a finding which rules something out here goes before it.
    pub(super) fn step_caution(&self, step: &Step) -> Option<String> {
        let Made { trade, dog, .. } = self.made;
        let speaks = |line: &KeepLine| match &line.bound {
            Bound::Never(bans) => bans.iter().any(|ban| match ban {
                Ban::Step(id) => trade.step(*id).is_some_and(|s| s.name == step.name),
                other => step.uses.is_some_and(|tool| trade.names(*other, tool)),
            }),
            _ => false,
        };
        let finding = dog.findings.iter().filter_map(|f| trade.finding(f.finding)).find(|f| f.keeps.iter().any(speaks));
        match finding.and_then(|f| Some((f, f.cautions.first()?))) {
            Some((finding, caution)) => {
                Some(format!("{}: {caution}", words::sentence(&finding.name.replace('-', " "))))
            }
            None => step.cautions.first().cloned(),
        }
    }

    /// Open or sore places that water and air stay away from.
    pub(super) fn kept_dry(&self) -> Option<String> {
        let Made { trade, dog, .. } = self.made;
        let mut places: Vec<String> = dog
            .findings
            .iter()
            .filter(|f| f.sites != trade.all_sites())
            .filter(|f| trade.finding(f.finding).is_some_and(|f| f.vet == Some(Vet::Now)))
            .map(|f| f.words.clone())
            .collect();
        places.extend(dog.others.iter().map(|(words, sites, _)| format!("{words}, {}", zone_words(trade, *sites))));
        if dog.agreed("clip-off") != Some(true) {
            places.extend(
                dog.mats.iter().filter(|m| m.grade >= Grade::Tight).map(|m| format!("the mats on {}", m.words)),
            );
        }
        (!places.is_empty()).then(|| format!("Not there: {}.", places.join("; ")))
    }

    /// What to mind on a line: every finding of this dog on it or beside it, one in full and the others by name and side; then
    /// the zone's own where its skin isn't flat, or a part to feel for (each once on the sheet). What holds for the whole step
    /// stands at the step. `close` says that an edge runs near the skin.
    pub(super) fn minded(&self, sites: Sites, close: bool, said: &mut Vec<String>) -> Option<String> {
        let Made { trade, dog, .. } = self.made;
        let mut here: Vec<(String, String)> = Vec::new();
        for fact in &dog.findings {
            let Some(finding) = trade.finding(fact.finding).filter(|_| fact.sites != trade.all_sites()) else {
                continue;
            };
            let what = words::sentence(&fact.words);
            if fact.sites.meets(sites) {
                here.extend(finding.cautions.first().map(|c| (what.clone(), format!("{what}: {c}"))));
            } else if beside(trade, fact.sites).meets(sites)
                && (finding.margin.is_some() || matches!(finding.reply, Reply::Leave | Reply::Refer))
            {
                // The hand comes near what must be left alone.
                let off = finding.margin.map_or_else(|| "keep off it".to_owned(), |m| format!("stay {m} off it"));
                here.push((format!("{what} beside it"), format!("{what} is beside this: {off}.")));
            }
        }
        // In full what no line has told yet; a finding that was told before is named again where the blade runs.
        let full = here.iter().position(|(_, caution)| !said.contains(caution));
        let mut parts: Vec<String> =
            full.and_then(|n| here.get(n)).map(|(_, caution)| caution.clone()).into_iter().collect();
        said.extend(parts.iter().cloned());
        let others = here.iter().enumerate().filter(|(n, _)| Some(*n) != full).map(|(_, (name, _))| name.as_str());
        let others: Vec<&str> = others.collect();
        match (others.as_slice(), full) {
            ([], _) => {}
            (names, Some(_)) => parts.push(format!("Here too: {}.", names.join("; "))),
            (names, None) => parts.push(format!("{}.", names.join("; "))),
        }
        let mut candidates: Vec<String> = Vec::new();
        for mark in trade.marks.iter().filter(|m| close && m.find && m.sites.meets(sites) && here.is_empty()) {
            if mark.sex.is_none() || dog.sex.is_none() || mark.sex == dog.sex {
                let name = words::sentence(&mark.name.replace('-', " "));
                candidates.extend(mark.cautions.first().map(|c| format!("{name}: {c}")));
            }
        }
        for zone in trade.zones.iter().filter(|z| close && z.skin != Skin::Flat && z.sites().meets(sites)) {
            candidates.extend(zone.cautions.first().cloned());
        }
        let fresh = candidates.into_iter().find(|c| !said.contains(c));
        said.extend(fresh.clone());
        parts.extend(fresh);
        (!parts.is_empty()).then(|| parts.join(" "))
    }
}

/// The neighbours of a set of sites, on the same side of the dog.
fn beside(trade: &Trade, sites: Sites) -> Sites {
    let mut out = Sites::NONE;
    for site in sites.iter() {
        let Some((zone, side)) = trade.zone_of(site) else { continue };
        let near = zone.borders.iter().filter_map(|id| trade.zones.get(usize::from(id.0)));
        let near = near.fold(Sites::NONE, |set, z| set | z.sites());
        out = out | side.map_or(near, |side| trade.half(near, side));
    }
    out - sites
}
