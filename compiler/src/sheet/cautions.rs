//! What to mind: at a step, and at a line of it.

use super::build::Builder;
use super::make::Made;
use super::soiled::{Soiled, of_blend, of_stroke};
use super::{facts, words};
use crate::finish::{Stroke, breach};
use crate::names::card::Mat;
use crate::names::condition::Grade;
use crate::names::sites::Sites;
use crate::names::trade::{Bound, KeepLine, KeepOn, Skin, Stage, Step, ToolId, Trade, Vet};
use crate::names::zone_words::zone_words;
use crate::plan::{BlendWork, CLEAN_TOOL, clipped_off};

/// What the lines of a sheet have said so far.
#[derive(Default)]
pub(super) struct Said {
    cautions: Vec<String>,
    soiled: Soiled,
    how_to_clean: bool,
}

impl Said {
    /// Nothing yet, with tools that come from somewhere.
    pub(super) fn after(soiled: Soiled) -> Self {
        Self { soiled, ..Self::default() }
    }
}

impl Builder<'_> {
    /// A step's own caution. Before it stands what rules something out here, and what was found at the places of which the step is
    /// or for which it is done: never in its stead.
    pub(super) fn step_caution(&self, step: &Step, said: &mut Said) -> Option<String> {
        let Made { trade, dog, .. } = self.made;
        let id = trade.index.steps.get(&step.name).copied();
        let ruled_out = |line: &KeepLine| id.is_some_and(|id| trade.rules_out(&line.bound, id));
        // The lines of a part say for themselves what is minded there.
        let on = if step.stage == Some(Stage::Finish) { Sites::NONE } else { step.on };
        let mut told: Vec<String> = Vec::new();
        for fact in &dog.findings {
            let Some(finding) = trade.finding(fact.finding) else { continue };
            let placed = fact.sites != trade.all_sites();
            let here = placed && fact.sites.meets(on);
            let what = words::sentence(&fact.words);
            if here || finding.keeps.iter().any(ruled_out) {
                let Some(caution) = finding.cautions.first() else { continue };
                let words = format!("{what}: {caution}");
                if here {
                    said.cautions.push(words.clone());
                }
                told.push(words);
            } else if placed && id.is_some_and(|id| finding.steps.contains(&id)) && fact.words.contains(',') {
                told.push(format!("{what}."));
            }
        }
        told.into_iter().chain(step.cautions.first().cloned()).reduce(|all, caution| format!("{all} {caution}"))
    }

    /// What concerns the whole dog and finds no room in the strip at the top: it is told before anything is begun.
    pub(super) fn beyond_the_strip(&self) -> Option<String> {
        let Made { trade, dog, .. } = self.made;
        let dangers = facts::dangers(dog, trade);
        let more = dangers.into_iter().skip(facts::IN_THE_STRIP).filter(|d| d.sites.is_empty()).map(|d| d.words);
        more.reduce(|all, words| format!("{all} {words}"))
    }

    /// That a tool is cleaned first, where it was at a place that soils it and this one wants it clean.
    pub(super) fn cleaned(&self, stroke: &Stroke, sites: Sites, said: &mut Said) -> Option<String> {
        self.cleaned_of(&of_stroke(stroke), sites, said)
    }

    /// The same for a blend.
    pub(super) fn cleaned_for(&self, blend: &BlendWork, said: &mut Said) -> Option<String> {
        self.cleaned_of(&of_blend(blend), blend.from | blend.into, said)
    }

    fn cleaned_of(&self, tools: &[ToolId], sites: Sites, said: &mut Said) -> Option<String> {
        let Made { trade, dog, .. } = self.made;
        let due = said.soiled.go(trade, dog, tools, sites);
        let at = zone_words(trade, due?);
        // How is told once.
        let how = trade.step_called(CLEAN_TOOL).filter(|_| !std::mem::replace(&mut said.how_to_clean, true));
        Some(how.map_or_else(
            || format!("Clean the tool first (it was at: {at})."),
            |step| format!("Clean the tool first (it was at: {at}): {}", words::small(&step.about)),
        ))
    }

    /// Open or sore places that water and air stay away from.
    pub(super) fn kept_dry(&self) -> Option<String> {
        let Made { trade, dog, choices, .. } = self.made;
        let mut places: Vec<String> = dog
            .findings
            .iter()
            .filter(|f| f.sites != trade.all_sites())
            .filter(|f| trade.finding(f.finding).is_some_and(|f| f.vet == Some(Vet::Now)))
            .map(|f| f.words.clone())
            .collect();
        places.extend(dog.others.iter().map(|(words, sites, _)| format!("{words}, {}", zone_words(trade, *sites))));
        // What stays on, or comes off only after this.
        let stays = |mat: &&Mat| {
            mat.grade >= Grade::Tight
                && (self.made.is_bathed() || clipped_off(mat, choices, trade, dog, self.made.whole()).is_none())
        };
        places.extend(dog.mats.iter().filter(stays).map(|m| format!("the mats on {}", m.words)));
        (!places.is_empty()).then(|| format!("Not there: {}.", places.join("; ")))
    }

    /// What to mind on a line: every finding of this dog on it or beside it, one in full and the others by name and side; then
    /// the zone's own where its skin isn't flat, or a part to feel for (each once on the sheet). What holds for the whole step
    /// stands at the step. `close` says that an edge runs near the skin.
    pub(super) fn minded(&self, sites: Sites, stroke: Option<&Stroke>, close: bool, said: &mut Said) -> Option<String> {
        let Made { trade, dog, .. } = self.made;
        let said = &mut said.cautions;
        let mut here: Vec<(String, String)> = Vec::new();
        for fact in &dog.findings {
            let Some(finding) = trade.finding(fact.finding).filter(|_| fact.sites != trade.all_sites()) else {
                continue;
            };
            let what = words::sentence(&fact.words);
            let caution = finding.cautions.first().map(String::as_str).unwrap_or_default();
            let clear = finding.is_kept_clear();
            // Where else it says what a tool may be, it is minded as at its own place.
            let binds = |keep: &KeepLine| match (keep.on, &keep.bound) {
                (KeepOn::Sites(on), Bound::Only(_) | Bound::NoCloser(..) | Bound::Gap(_) | Bound::Untouched) => {
                    on.meets(sites)
                }
                _ => false,
            };
            if fact.sites.meets(sites) || finding.keeps.iter().any(binds) {
                let told = match finding.margin.filter(|_| !clear) {
                    Some(margin) => format!("{what}, with {margin} round it: {caution}"),
                    None => format!("{what}: {caution}"),
                };
                here.push((what, told));
            } else if beside(trade, fact.sites).meets(sites) && (finding.margin.is_some() || clear) {
                // The hand comes near what must be left alone, or into the margin of what is gone about with care.
                // The tool for this line may be none for there.
                let mut bounds = finding.keeps.iter().filter(|k| k.on == KeepOn::Place).map(|k| &k.bound);
                let wrong = stroke.is_some_and(|s| bounds.any(|b| breach(s, b, fact.after, trade).is_some()));
                here.push(match finding.margin {
                    Some(margin) if clear || wrong => {
                        let told = format!("{what} is beside this: stay {margin} off it.");
                        (format!("{what} beside it: {margin} off"), told)
                    }
                    Some(margin) => {
                        let told = format!("{what} is beside this; within {margin} of it: {}", words::small(caution));
                        (format!("{what} beside it"), told)
                    }
                    None => (format!("{what} beside it"), format!("{what} is beside this: keep off it.")),
                });
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
