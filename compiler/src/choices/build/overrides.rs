//! A senior's override: a keep of a base or house that is taken back, with a name and a reason that every sheet prints.

use super::{Around, Builder, Layer};
use crate::choices::{Houses, KeepEntry, Kind, Overridden};
use crate::diagnostic::{Diagnostic, code};
use crate::names::fields::listed_texts;
use crate::names::keeps::{self, KeepHead};
use crate::names::scope::Scope;
use crate::names::sites::Sites;
use crate::names::trade::{KeepLine, KeepOn};
use crate::names::zone_words::zone_words;
use crate::source::Place;
use grammar::tree::{BoundKind, Override, Stmt, StmtKind, Text};

impl Builder<'_> {
    /// Who may answer for an override, as the houses of the chain name them.
    pub(super) fn find_seniors(&mut self, chain: &[Layer<'_>]) {
        let lines = |layer: &Layer<'_>| {
            let lines = layer.stmts.iter().filter_map(|stmt| match &stmt.kind {
                StmtKind::Field(field) if field.name.text == "seniors" => Some(field),
                _ => None,
            });
            lines.flat_map(listed_texts).map(|text| text.text.trim().to_owned()).collect()
        };
        self.seniors = chain.iter().filter(|l| l.level.is_house()).map(lines).collect();
    }

    /// Whether a senior may answer for a keep: one of a house that names them, or of a text in its folder.
    fn answers(&self, by: &str, keep: &KeepEntry) -> bool {
        let names = |all: &Vec<String>| all.iter().any(|senior| senior.eq_ignore_ascii_case(by));
        let within = keep.of.map_or(Houses::default(), |(_, houses)| houses);
        (0..).zip(&self.seniors).any(|(house, all)| names(all) && within.has(house))
    }

    pub(super) fn take_back(&mut self, stmt: &Stmt, taken: &Override, around: &Around, scope: &mut Scope<'_>) {
        let place = scope.place(stmt.span);
        if around.until_next || !around.cond.is_always() || !matches!(around.kind, None | Some(Kind::Guard)) {
            scope.say(
                Diagnostic::error(code::M024, place, "an override stands by itself, or in `guard FINDING { … }`")
                    .why("What is taken back is taken back on every dog of the recipe, and each of their sheets says so.")
                    .help("Take it out of the `when`; for a few dogs write it on the card: `wants RECIPE but { override … }`."),
            );
            return;
        }
        let Some((by, because)) = self.answered_for(taken, place, scope) else { return };
        let Some(bound) = taken.keep.bounds.first() else { return };
        let sites = taken.keep.zones.as_ref().map(|zones| keeps::sites(zones, self.trade, scope));
        if sites.is_some_and(Sites::is_empty) {
            return;
        }
        let all = self.trade.all_sites();
        let owner = self.owner.clone();
        let head = KeepHead { on: KeepOn::Sites(all), owner: &owner, sex: None };
        let Some(line) = keeps::lines(&taken.keep, &head, &self.sums(), scope).pop() else { return };
        let sites = sites.unwrap_or(all);
        if matches!(bound.kind, BoundKind::Refer) {
            scope.say(
                Diagnostic::error(code::H005, place, "what is for a vet can't be overridden")
                    .why("Nobody in a salon can answer for it.")
                    .help("Take the override away; when the vet has said yes, take the finding off the card."),
            );
            return;
        }
        let key = around.key(bound);
        let meant = |entry: &KeepEntry| match entry.line.on {
            KeepOn::Sites(on) => entry.key == key && on.meets(sites),
            KeepOn::Dog => entry.key == key,
            KeepOn::Place => false,
        };
        let above = || self.choices.keeps.iter().take(self.own_from).filter(|entry| meant(entry));
        let freed = above().fold(Sites::NONE, |set, entry| match entry.line.on {
            KeepOn::Sites(on) => set | on,
            KeepOn::Dog | KeepOn::Place => all,
        });
        // Who answers for a house answers for those in its folder, and not for those around it.
        let given = || above().filter(|entry| entry.of.is_some());
        if let Some(entry) = given().find(|entry| !self.answers(&by, entry)) {
            let whose = entry.line.owner.replace('-', " ");
            let may = |senior: &&String| given().all(|entry| self.answers(senior, entry));
            let may: Vec<&str> = self.seniors.iter().flatten().filter(may).map(String::as_str).collect();
            let said = Diagnostic::error(code::H007, place, format!("`{by}` doesn't answer for this rule of {whose}"))
                .related(entry.line.place, "it stands here")
                .why("Who may answer for a rule is for the house that gave it to say, or for one around it.");
            scope.say(match may.as_slice() {
                [] if given().nth(1).is_some() => said.help(
                    "More than one text asks for it, and nobody answers for them all: name somebody in the house around them, or take the \
                     override away.",
                ),
                [] => said.help(format!("Nobody does: name them in {whose}, in a line `seniors`, or take the override away.")),
                may => said.help(format!("It may be: {}. Or take the override away.", may.join(", "))),
            });
            return;
        }
        let Some((keep, of)) = above().next().map(|entry| (entry.line.place, entry.line.owner.clone())) else {
            let (_, standing) = self.stands_always(&line, sites, around);
            scope.say(standing.map_or_else(|| self.nothing(place, &line, sites, around), |line| stands(place, &line)));
            return;
        };
        if let (held, Some(standing)) = self.stands_always(&line, sites, around)
            && (freed & sites).within(held)
        {
            scope.say(stands(place, &standing));
            return;
        }
        for entry in self.choices.keeps.iter_mut().take(self.own_from).filter(|entry| meant(entry)) {
            entry.line.on = match entry.line.on {
                KeepOn::Sites(on) => KeepOn::Sites(on - sites),
                KeepOn::Dog | KeepOn::Place => KeepOn::Sites(Sites::NONE),
            };
        }
        let zones = taken.keep.zones.as_ref().map(|_| format!("{} ", zone_words(self.trade, sites)));
        let words = format!("{}{}", zones.unwrap_or_default(), line.bound.words(self.trade));
        let sites = freed & sites;
        self.choices.overrides.push(Overridden {
            words,
            sites,
            bound: line.bound,
            finding: around.finding,
            of,
            by,
            because,
            place,
            keep,
        });
    }

    /// Who answers for it and why; a message where that isn't said, or where they may not.
    fn answered_for(&self, taken: &Override, place: Place, scope: &mut Scope<'_>) -> Option<(String, String)> {
        let said = |text: Option<&Text>| text.map(|t| t.text.trim().to_owned()).filter(|t| !t.is_empty());
        let (by, because) = (said(taken.by.as_ref()), said(taken.keep.because.as_deref()));
        let missing = match (&by, &because) {
            (Some(_), Some(_)) => None,
            (None, Some(_)) => Some("who answers for it"),
            (Some(_), None) => Some("why"),
            (None, None) => Some("who answers for it, and why"),
        };
        let seniors: Vec<&str> = self.seniors.iter().flatten().map(String::as_str).collect();
        let named = by.as_deref().filter(|by| seniors.iter().any(|senior| senior.eq_ignore_ascii_case(by)));
        let example = named.or(seniors.first().copied()).unwrap_or("head groomer");
        if let Some(missing) = missing {
            scope.say(
                Diagnostic::error(code::H007, place, format!("this override doesn't say {missing}"))
                    .why("The groomer at the table works without a rule that the house gave, and must know on whose word.")
                    .help(format!("Write `by \"{example}\" because \"…\"` at its end; every sheet that it touches prints both.")),
            );
        }
        let (by, because) = by.zip(because)?;
        if seniors.iter().any(|senior| senior.eq_ignore_ascii_case(&by)) {
            return Some((by, because));
        }
        let by_place = taken.by.as_ref().map_or(place, |text| scope.place(text.span));
        let said = Diagnostic::error(code::H007, by_place, format!("no house here lets `{by}` override a rule"))
            .why("Who may answer for it is the house's to say.");
        scope.say(if seniors.is_empty() {
            said.help(format!("A house names them: `seniors \"{by}\"`. Without such a line nobody overrides anything."))
        } else {
            said.help(format!("It may be: {}. Or add a name to the house's line `seniors`.", seniors.join(", ")))
        });
        None
    }

    /// Where the basics, or a finding, mark or zone of a house, say the same, and the first of these rules: they stand.
    fn stands_always(&self, line: &KeepLine, sites: Sites, around: &Around) -> (Sites, Option<KeepLine>) {
        let standing = around.finding.and_then(|id| self.trade.finding(id)).map_or(&self.trade.keeps, |f| &f.keeps);
        let all = self.trade.all_sites();
        let there = |on: KeepOn| match on {
            KeepOn::Sites(on) => on & sites,
            KeepOn::Place | KeepOn::Dog => all,
        };
        let same = || standing.iter().filter(|k| k.bound == line.bound && !there(k.on).is_empty());
        (same().fold(Sites::NONE, |set, k| set | there(k.on)), same().next().cloned())
    }

    /// H006: nothing above says so.
    fn nothing(&self, place: Place, line: &KeepLine, sites: Sites, around: &Around) -> Diagnostic {
        let message = "no house or base above asks for just this, so there is nothing to override";
        let said = Diagnostic::error(code::H006, place, message)
            .why("An override names the keep as it is written there, and stands in a `guard` if that does.");
        let mut near = self.choices.keeps.iter().take(self.own_from).skip(self.trade.keeps.len()).filter(|entry| {
            let there = matches!(entry.line.on, KeepOn::Sites(on) if on.meets(sites)) || entry.line.on == KeepOn::Dog;
            let same_kind = std::mem::discriminant(&entry.line.bound) == std::mem::discriminant(&line.bound);
            there && (same_kind || entry.finding.is_some() && entry.finding == around.finding)
        });
        match near.next() {
            Some(entry) => {
                let whose = entry.line.owner.replace('-', " ");
                said.related(entry.line.place, format!("{whose} asks for this")).help("Write it in the same words.")
            }
            None => said.help("Take the line away."),
        }
    }
}

/// H005: what stands for every dog, and what a finding keeps.
fn stands(place: Place, standing: &KeepLine) -> Diagnostic {
    let whose = standing.owner.replace('-', " ");
    Diagnostic::error(code::H005, place, format!("this rule of {whose} can't be overridden"))
        .related(standing.place, "it stands here")
        .why("What the basics keep for every dog, and what a finding keeps, guards skin that anybody can hurt.")
        .help("Take the override away. If the rule is wrong, that is a change of the basics, with a source.")
}

impl Around {
    /// What a keep here is known by: the findings around it, then what it asks for in plain words.
    pub(super) fn key(&self, bound: &grammar::tree::Bound) -> smol_str::SmolStr {
        format!("{}|{}", self.findings.join(","), grammar::shape_bound(bound)).into()
    }
}
