//! From a plan to the words of a sheet.

use super::make::{Made, Request};
use super::stops::many;
use super::{Consent, Sheet, Step, facts, owner, words};
use crate::choices::Overridden;
use crate::finish::{Did, Finish, Outcome, breach};
use crate::names::condition::Grade;
use crate::names::sites::Sites;
use crate::names::trade::{Stage, ToolId, ToolKind, Verb};
use crate::names::zone_words::{list_words, zone_words};
use crate::plan::{ForBlade, TaskKind, Work, clipped_off, forbidden, is_felted_for_good};
use crate::rules::{Border, borders};
use crate::source::Sources;

/// The sheet of a plan.
pub fn sheet(made: &Made, sources: &Sources, request: &Request) -> Sheet {
    let builder = Builder { made, sources, request };
    builder.sheet()
}

/// The recipe with its version.
pub fn recipe(made: &Made) -> String {
    let version = made.choices.version.map(|v| format!(" version {v}")).unwrap_or_default();
    format!("{}{version}", made.choices.name)
}

/// The steps of a sheet by number and title, each with the tasks of the plan that it holds.
#[must_use]
pub fn numbered(made: &Made, sources: &Sources, request: &Request) -> Vec<(u32, String, Vec<usize>)> {
    let steps = Builder { made, sources, request }.steps();
    steps.into_iter().map(|placed| (placed.step.number, placed.step.title, placed.tasks)).collect()
}

/// A line that will show: zones of one length beside others of one length, and what there is to do.
struct Shows {
    zones: Vec<String>,
    beside: Vec<String>,
    lengths: (String, String),
    way: &'static str,
}

pub(super) struct Builder<'a> {
    pub(super) made: &'a Made,
    pub(super) sources: &'a Sources,
    pub(super) request: &'a Request,
}

impl Builder<'_> {
    fn sheet(&self) -> Sheet {
        let Made { choices, trade, dog, finishes, .. } = self.made;
        let mut dangers = facts::dangers(dog, trade);
        let placed = self.letters(&dangers);
        let more = dangers.split_off(dangers.len().min(facts::IN_THE_STRIP));
        // What finds no room in the strip is at least named there.
        let letter = |number: usize| placed.iter().find(|p| p.danger == number).map(|p| p.letter);
        let name = |(number, d): (usize, &facts::Danger)| {
            let name = d.words.split(['.', ':']).next().unwrap_or(&d.words).to_owned();
            letter(number).map_or_else(|| name.clone(), |letter| format!("{letter} {name}"))
        };
        let also = more.iter().enumerate().map(|(n, d)| name((n + dangers.len(), d))).collect::<Vec<_>>().join(" · ");
        let (steps, places): (Vec<Step>, Vec<(u32, Sites)>) = self
            .steps()
            .into_iter()
            .map(|placed| (placed.step.number, placed.step, placed.finished))
            .map(|(n, s, p)| (s, (n, p)))
            .unzip();
        let seen = self.seen(&places, placed);
        Sheet {
            title: choices.title.clone(),
            recipe: recipe(self.made),
            house: choices.house_title.clone(),
            date: self.date(),
            replanned: None,
            dog: facts::strip(dog, trade),
            dangers: dangers.into_iter().map(|d| d.words).collect(),
            also: (!also.is_empty()).then_some(also),
            consents: self.consents(),
            not_asked: facts::not_asked(dog, trade),
            vet_first: facts::vet_first(dog, trade, finishes.referred),
            overridden: choices
                .overrides_of(dog)
                .filter(|o| !o.sites.within(self.made.waiting()))
                .map(|o| o.sentence(trade))
                .collect(),
            lay_out: self.lay_out(),
            steps,
            leave: self.leave(),
            left_out: self.left_out(),
            will_show: self.will_show(),
            takes: words::hours(self.made.plan.bears.takes),
            stands: self.stands(),
            waits: self.waits(),
            write_back: [
                "Really used (blades, combs)",
                "Mats and lumps found",
                "Nicks: place, first aid, owner told",
                "Behaviour 1 to 5",
                "Minutes",
                "Next visit",
                "Groomer",
            ]
            .map(str::to_owned)
            .to_vec(),
            owner: owner::note(self.made, self.request),
            details: self.details(more.into_iter().map(|d| d.words).collect()),
            seen,
        }
    }

    pub(super) fn date(&self) -> String {
        self.request.on.or(self.made.dog.seen).map(|d| d.to_string()).unwrap_or_default()
    }

    pub(super) fn consents(&self) -> Vec<Consent> {
        let Made { trade, dog, .. } = self.made;
        facts::consents(dog, trade, dog.mats.iter().any(|m| m.grade >= Grade::Tight))
    }

    pub(super) fn lay_out(&self) -> Vec<String> {
        let Made { trade, dog, choices, plan, .. } = self.made;
        let of_work = |w: &Work| Some((w.stroke.tool?, w.stroke.over));
        let mut tools: Vec<(ToolId, Option<ToolId>)> = Vec::new();
        for task in &plan.tasks {
            let used: Vec<(ToolId, Option<ToolId>)> = match &task.kind {
                TaskKind::Mats(mats) => {
                    let mats = mats.iter().filter_map(|m| dog.mats.get(*m));
                    let off = mats.filter_map(|m| clipped_off(m, choices, trade, dog, self.made.whole()));
                    off.filter_map(|(_, stroke)| Some((stroke.tool?, stroke.over))).collect()
                }
                TaskKind::SetIn(works) => works.iter().filter_map(of_work).collect(),
                TaskKind::Part { works, blends, .. } => {
                    // Between its rungs the blade beneath stays on.
                    let rungs = blends.iter().flat_map(|b| &b.rungs).map(|r| (r.tool, None));
                    let hands = blends.iter().filter_map(|b| Some((b.hand?, None)));
                    works.iter().filter_map(of_work).chain(hands).chain(rungs).collect()
                }
                TaskKind::Step { .. } => Vec::new(),
            };
            for (tool, over) in used {
                if !tools.iter().any(|(t, _)| *t == tool) {
                    tools.push((tool, over));
                }
            }
        }
        let mut out: Vec<String> = tools
            .iter()
            .filter_map(|(tool, over)| {
                let mut words = words::laid_out(trade, *tool)?;
                if let Some(count) = many(self.laid_out_of(*tool)) {
                    words.push_str(&format!(", {count}"));
                }
                let under =
                    over.and_then(|o| Some((o, trade.tool(o)?))).map(|(id, t)| match many(self.laid_out_of(id)) {
                        Some(count) => format!(" over {count} {}", t.name),
                        None => format!(" over {}", t.name),
                    });
                Some(format!("{words}{}", under.unwrap_or_default()))
            })
            .collect();
        // Where no blade gets hot, one of those that there are two of lies by all the same.
        let swapped = self.made.plan.stops.iter().any(|s| s.what == ForBlade::Swap);
        let blade = tools
            .iter()
            .filter(|_| !swapped)
            .filter_map(|(t, _)| Some((*t, trade.tool(*t)?)))
            .find(|(id, t)| t.kind == ToolKind::Blade && choices.count_of(*id) > 1)
            .map(|(_, t)| t.name.to_string());
        out.extend(blade.map(|name| format!("a second, cool {name}")));
        out
    }

    /// The keep that this work would have broken if a senior hadn't taken it back.
    fn overridden(&self, finish: &Finish) -> Option<String> {
        let Made { choices, trade, dog, .. } = self.made;
        let strokes: Vec<_> = finish.rough.iter().chain([&finish.fine]).collect();
        let broken = |o: &&Overridden| strokes.iter().any(|s| breach(s, &o.bound, None, trade).is_some());
        let taken = choices.overrides_on(dog, finish.site).find(broken)?;
        Some(format!("{} is overridden: {}", taken.bound.words(trade), taken.by))
    }

    pub(super) fn differs(&self, finish: &Finish) -> Option<String> {
        let name =
            finish.by.and_then(|f| self.made.trade.finding(f)).map(|f| f.name.replace('-', " ")).unwrap_or_default();
        match finish.outcome {
            Outcome::Written => {
                self.overridden(finish).or_else(|| finish.wished.then(|| "as the owner wishes".to_owned()))
            }
            Outcome::Raised => Some(format!("gentler than usual: {name}")),
            Outcome::Shortened => Some("shorter than usual: the mat leaves no more".to_owned()),
            Outcome::Left => Some(format!("left: {name}")),
            Outcome::Referred => Some(format!("for a vet: {name}")),
            Outcome::Waits => None,
        }
    }

    /// What is left, grouped by why.
    pub(super) fn leave(&self) -> Vec<String> {
        let trade = &self.made.trade;
        let mut groups: Vec<(String, Sites)> = Vec::new();
        for finish in self.made.finishes.all.iter().filter(|f| f.fine.tool.is_none()) {
            let hidden = trade.zone_of(finish.site).is_some_and(|(z, _)| z.hidden);
            let why = match finish.outcome {
                Outcome::Waits => continue,
                Outcome::Written if hidden => continue,
                Outcome::Written if finish.wished => "as the owner wishes".to_owned(),
                Outcome::Written => String::new(),
                _ => self.left_because(finish),
            };
            match groups.iter_mut().find(|(w, _)| *w == why) {
                Some((_, sites)) => *sites = *sites | Sites::one(finish.site),
                None => groups.push((why, Sites::one(finish.site))),
            }
        }
        groups
            .into_iter()
            .map(|(why, sites)| {
                let zones = zone_words(trade, sites);
                if why.is_empty() { zones } else { format!("{zones} ({why})") }
            })
            .collect()
    }

    /// Steps that the recipe asks for and this dog mustn't have, each with the finding that rules it out.
    pub(super) fn left_out(&self) -> Vec<String> {
        let Made { choices, trade, dog, .. } = self.made;
        let mut lines = Vec::new();
        for ask in &choices.prep {
            if forbidden(ask.step, choices, trade, dog) != trade.all_sites() {
                continue;
            }
            let Some(step) = trade.step(ask.step) else { continue };
            // What is done already isn't left out, and who isn't bathed needs no drying.
            let no_bath = step.stage == Some(Stage::Dry) && is_felted_for_good(ask.step, trade, dog);
            if no_bath || self.made.is_bathed() && step.stage == Some(Stage::Wash) {
                continue;
            }
            let mut findings = dog.findings.iter().filter_map(|f| trade.finding(f.finding));
            let why = findings.find(|f| f.keeps.iter().any(|k| trade.rules_out(&k.bound, ask.step)));
            let why = match why {
                Some(finding) => format!(" ({})", finding.name.replace('-', " ")),
                None if is_felted_for_good(ask.step, trade, dog) => " (most of the coat is felt that stays)".to_owned(),
                None => String::new(),
            };
            let line = format!("{}{why}", step.name.replace('-', " "));
            if !lines.contains(&line) {
                lines.push(line);
            }
        }
        lines
    }

    fn left_because(&self, finish: &Finish) -> String {
        if finish.reasons.iter().any(|r| r.what == Did::Mat) {
            return "the mat stays: no consent, or no safe way under it".to_owned();
        }
        let finding = finish.by.and_then(|f| self.made.trade.finding(f)).map(|f| f.name.replace('-', " "));
        let other =
            self.made.dog.others.iter().find(|(_, sites, _)| sites.has(finish.site)).map(|(words, _, _)| words.clone());
        let what = finding.or(other).unwrap_or_else(|| "a rule of the house".to_owned());
        if finish.outcome == Outcome::Referred { format!("{what}: a vet first") } else { what }
    }

    fn will_show(&self) -> Vec<String> {
        let Made { choices, trade, dog, finishes, .. } = self.made;
        // What is left on head, feet and tail is left for its look; on body and legs a step is seen at once.
        let seen =
            ["body", "legs", "neck"].into_iter().filter_map(|g| trade.sites_of(g)).fold(Sites::NONE, |a, b| a | b);
        let outline = |b: &Border<'_>| seen.has(b.site) && seen.has(b.other);
        // By the zone that was moved: `breeches (3 mm) beside thigh and second thigh (21 mm)`.
        let mut groups: Vec<Shows> = Vec::new();
        for border in
            borders(choices, trade, dog, finishes).iter().filter(|b| if b.left { outline(b) } else { b.by_reply })
        {
            let both = [border.site, border.other].map(|site| finishes.at(site));
            let moved = both[0].is_some_and(|f| f.outcome != Outcome::Written || f.fine.tool.is_none());
            let (zone, leaves, other, beyond) = if moved {
                (border.a, border.leaves, border.b, border.beyond)
            } else {
                (border.b, border.beyond, border.a, border.leaves)
            };
            let is = |test: fn(&Finish) -> bool| both.iter().flatten().any(|f| test(f));
            let way = if is(|f| f.outcome == Outcome::Waits) {
                "until the rest is done; tell the owner."
            } else if is(|f| f.fine.verb == Verb::HandStrip) {
                // Cut hair doesn't come again as it was.
                "pull the longest hairs along the edge, no blade; else tell the owner."
            } else {
                "skim the edge if there is room; else tell the owner."
            };
            let (zone, other) = (zone.name.replace('-', " "), other.name.replace('-', " "));
            let lengths = (words::whole(leaves), words::whole(beyond));
            match groups.iter_mut().find(|g| g.zones == [&*zone] && g.lengths == lengths && g.way == way) {
                Some(group) if !group.beside.contains(&other) => group.beside.push(other),
                Some(_) => {}
                None => groups.push(Shows { zones: vec![zone], beside: vec![other], lengths, way }),
            }
        }
        let mut lines: Vec<Shows> = Vec::new();
        for group in groups {
            let alike = |l: &&mut Shows| (&l.beside, &l.lengths, l.way) == (&group.beside, &group.lengths, group.way);
            match lines.iter_mut().find(alike) {
                Some(line) => line.zones.extend(group.zones),
                None => lines.push(group),
            }
        }
        let words = |Shows { zones, beside, lengths: (leaves, beyond), way }: Shows| {
            format!("{} ({leaves}) beside {} ({beyond}): {way}", list_words(&zones), list_words(&beside))
        };
        lines.into_iter().map(words).collect()
    }
}
