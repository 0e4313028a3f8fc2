//! From a plan to the words of a sheet.

use super::make::{Made, Request};
use super::{Details, Line, Sheet, Step, ZoneReasons, facts, owner, words};
use crate::diagnostic::Severity;
use crate::finish::{Did, Finish, Outcome, active_keeps};
use crate::measure::{Interval, Time};
use crate::names::condition::Grade;
use crate::names::sites::Sites;
use crate::names::trade::{Ban, Bound, KeepLine, KeepOn, Reply, Skin, ToolId, ToolKind};
use crate::names::zone_words::{list_words, zone_words};
use crate::plan::{BlendWork, TaskKind, Work, forbidden};
use crate::rules::borders;
use crate::source::{Place, Sources};

/// The sheet of a plan.
pub fn sheet(made: &Made, sources: &Sources, request: &Request) -> Sheet {
    let builder = Builder { made, sources, request };
    builder.sheet()
}

struct Builder<'a> {
    made: &'a Made,
    sources: &'a Sources,
    request: &'a Request,
}

impl Builder<'_> {
    fn sheet(&self) -> Sheet {
        let Made { choices, trade, dog, finishes, .. } = self.made;
        let mut dangers = facts::dangers(dog, trade);
        let more = dangers.split_off(dangers.len().min(5));
        // What finds no room in the strip is at least named there.
        let also = more.iter().map(|d| d.split(['.', ':']).next().unwrap_or(d)).collect::<Vec<_>>().join(" · ");
        let clip_off = dog.mats.iter().any(|m| m.grade >= Grade::Tight);
        let version = choices.version.map(|v| format!(" version {v}")).unwrap_or_default();
        Sheet {
            title: choices.title.clone(),
            recipe: format!("{}{version}", choices.name),
            house: choices.house_title.clone(),
            date: self.request.on.or(dog.seen).map(|d| d.to_string()).unwrap_or_default(),
            dog: facts::strip(dog, trade),
            dangers,
            also: (!also.is_empty()).then_some(also),
            consents: facts::consents(dog, clip_off),
            not_asked: facts::not_asked(dog, trade),
            vet_first: facts::vet_first(dog, trade, finishes.referred),
            lay_out: self.lay_out(),
            steps: self.steps(),
            leave: self.leave(),
            left_out: self.left_out(),
            will_show: self.will_show(),
            takes: words::hours(self.total()),
            stands: self.stands(),
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
            details: self.details(more),
        }
    }

    /// The whole visit. The steps are fast or slow each for itself, so their spreads add up as independent ones do (the root
    /// of the sum of squares), not as if every one went worst at once.
    fn total(&self) -> Interval<Time> {
        let times: Vec<Interval<Time>> = self.made.plan.tasks.iter().map(|t| t.time).collect();
        let twice: i64 = times.iter().map(|t| t.low.0 + t.high.0).sum();
        #[allow(clippy::cast_precision_loss)]
        let squares: f64 = times.iter().map(|t| ((t.high.0 - t.low.0) as f64 / 2.0).powi(2)).sum();
        #[allow(clippy::cast_possible_truncation)]
        let spread = squares.sqrt().round() as i64;
        Interval { low: Time(twice / 2 - spread), high: Time(twice / 2 + spread) }
    }

    /// How long the dog bears it: the card and its findings, against what the visit takes.
    fn stands(&self) -> Option<String> {
        let Made { dog, choices, trade, .. } = self.made;
        let (mut stretch, mut all) = (dog.at_stretch, dog.in_all);
        let least = |slot: &mut Option<Time>, time: Time| *slot = Some(slot.map_or(time, |t| t.min(time)));
        let findings = dog.findings.iter().filter_map(|f| trade.finding(f.finding)).flat_map(|f| &f.keeps);
        let texts = choices.keeps.iter().filter(|k| k.finding.is_none()).map(|k| &k.line);
        for line in findings.chain(texts).filter(|l| matches!(l.on, KeepOn::Dog)) {
            match line.bound {
                Bound::AtStretch(time) => least(&mut stretch, time),
                Bound::InAll(time) => least(&mut all, time),
                _ => {}
            }
        }
        let mut words = Vec::new();
        words.extend(stretch.map(|t| format!("{} at a stretch", words::plain_time(t))));
        words.extend(all.map(|t| format!("{} in all", words::plain_time(t))));
        if words.is_empty() {
            return None;
        }
        let takes = self.total();
        let mut line = format!("Stands {}", words.join(", "));
        if all.is_some_and(|all| takes.low > all) {
            line.push_str(": this doesn't fit into one visit. Do first what the dog needs (under the tail, eyes, feet, mats); the rest another day");
        } else if all.is_some_and(|all| takes.high > all) {
            line.push_str(": may not fit into one visit; begin with what the dog needs");
        } else if let Some(stretch) = stretch.filter(|s| takes.high > *s) {
            let rests = (takes.high.0 - 1) / stretch.0.max(1);
            let s = if rests == 1 { "" } else { "s" };
            line.push_str(&format!(": plan {rests} rest{s}"));
        }
        Some(line)
    }

    fn lay_out(&self) -> Vec<String> {
        let trade = &self.made.trade;
        let mut tools: Vec<(ToolId, Option<ToolId>)> = Vec::new();
        for task in &self.made.plan.tasks {
            match &task.kind {
                TaskKind::SetIn(works) | TaskKind::Part { works, .. } => {
                    for work in works {
                        if let Some(tool) = work.stroke.tool
                            && !tools.iter().any(|(t, _)| *t == tool)
                        {
                            tools.push((tool, work.stroke.over));
                        }
                    }
                }
                _ => {}
            }
        }
        let mut out: Vec<String> = tools
            .iter()
            .filter_map(|(tool, over)| {
                let words = words::laid_out(trade, *tool)?;
                let under = over.and_then(|o| trade.tool(o)).map(|t| format!(" over {}", t.name)).unwrap_or_default();
                Some(format!("{words}{under}"))
            })
            .collect();
        let blade = tools
            .iter()
            .filter_map(|(t, _)| trade.tool(*t))
            .find(|t| t.kind == ToolKind::Blade)
            .map(|t| t.name.to_string());
        out.extend(blade.map(|name| format!("a second, cool {name}")));
        out
    }

    fn steps(&self) -> Vec<Step> {
        let Made { trade, dog, .. } = self.made;
        let mut steps: Vec<Step> = Vec::new();
        let mut said: Vec<String> = Vec::new();
        for task in &self.made.plan.tasks {
            let minutes = words::minutes(task.time);
            let step = match &task.kind {
                TaskKind::Step { step, words, not_on } => {
                    let Some(declared) = trade.steps.get(step.0 as usize) else { continue };
                    let title = step_title(&declared.name, words);
                    let mut caution = self.step_caution(declared);
                    if !not_on.is_empty() {
                        let words = format!("Not on the {}.", zone_words(trade, *not_on));
                        caution = Some(caution.map_or(words.clone(), |c| format!("{words} {c}")));
                    }
                    Step { number: 0, title, minutes, lines: Vec::new(), caution }
                }
                TaskKind::Mats(mats) => {
                    let lines = mats.iter().filter_map(|i| dog.mats.get(*i)).map(|mat| self.mat_line(mat)).collect();
                    let caution = dog
                        .mats
                        .iter()
                        .any(|m| m.grade >= Grade::Tight)
                        .then(|| "Dry, skin flat; never shears under a mat. Stop if it is worse than the card says.".to_owned());
                    Step { number: 0, title: "Mats, before any water".to_owned(), minutes, lines, caution }
                }
                TaskKind::SetIn(works) => {
                    let lines = self.lines(works, &mut said);
                    Step { number: 0, title: "Set in".to_owned(), minutes, lines, caution: None }
                }
                TaskKind::Part { step, works, blends } => {
                    let Some(declared) = trade.steps.get(step.0 as usize) else { continue };
                    let mut lines = self.lines(works, &mut said);
                    lines.extend(self.blend_lines(blends));
                    let title = part_title(&declared.name);
                    Step { number: 0, title, minutes, lines, caution: self.step_caution(declared) }
                }
            };
            steps.push(step);
        }
        let mut steps = together(steps);
        for (step, number) in steps.iter_mut().zip(1..) {
            step.number = number;
        }
        steps
    }

    /// The blends of a part, one line for each way of blending.
    fn blend_lines(&self, blends: &[BlendWork]) -> Vec<Line> {
        let Made { trade, choices, .. } = self.made;
        let mut ways: Vec<(Option<String>, Option<String>, Vec<String>)> = Vec::new();
        for work in blends {
            let Some(blend) = choices.blends.get(work.ask) else { continue };
            let words = format!("{} into {}", zone_words(trade, work.from), zone_words(trade, work.into));
            let by = blend.by.as_ref().map(|b| format!("by {}", b.replace('-', " ")));
            let room = blend.room.as_ref().map(|r| format!("over {r}"));
            match ways.iter_mut().find(|(b, r, _)| *b == by && *r == room) {
                Some((_, _, all)) => all.push(words),
                None => ways.push((by, room, vec![words])),
            }
        }
        ways.into_iter()
            .map(|(tool, how, all)| Line {
                tool,
                direction: None,
                work: format!("blend {}", all.join("; ")),
                leaves: None,
                how,
                caution: None,
                differs: None,
            })
            .collect()
    }

    /// A step's own caution; that of a finding which rules something out here goes before it.
    fn step_caution(&self, step: &crate::names::trade::Step) -> Option<String> {
        let Made { trade, dog, .. } = self.made;
        let speaks = |line: &KeepLine| match &line.bound {
            Bound::Never(bans) => bans.iter().any(|ban| match ban {
                Ban::Step(id) => trade.steps.get(usize::from(id.0)).is_some_and(|s| s.name == step.name),
                other => step.uses.is_some_and(|tool| trade.names(*other, tool)),
            }),
            _ => false,
        };
        let finding = dog.findings.iter().filter_map(|f| trade.finding(f.finding)).find(|f| f.keeps.iter().any(speaks));
        match finding.and_then(|f| Some((f, f.cautions.first()?))) {
            Some((finding, caution)) => Some(format!("{}: {caution}", words::sentence(&finding.name.replace('-', " ")))),
            None => step.cautions.first().cloned(),
        }
    }

    fn mat_line(&self, mat: &crate::names::card::Mat) -> Line {
        let agreed = self.made.dog.agreed("clip-off");
        let off = mat.off_skin.map(|l| format!("{l} off the skin"));
        let (work, caution) = match (mat.grade, agreed) {
            (Grade::Tight | Grade::Pelted, Some(true)) => {
                (format!("clip off the {} on the {}", mat.grade.word(), mat.words), None)
            }
            (Grade::Tight | Grade::Pelted, _) => (
                format!("leave the {} on the {}", mat.grade.word(), mat.words),
                Some("The owner said no to a clip-off: show it to them at the end.".to_owned()),
            ),
            _ => (
                format!("work out the {} on the {}", mat.grade.word(), mat.words),
                {
                    let step = self.made.trade.index.steps.get("dematt").and_then(|id| self.made.trade.steps.get(usize::from(id.0)));
                    let most = step.and_then(|s| s.minutes).map(|m| words::plain_time(m.high));
                    most.map(|most| format!("At most {most} in all; then stop and clip off, if the owner agrees."))
                },
            ),
        };
        Line { tool: None, direction: None, work, leaves: off, how: None, caution, differs: None }
    }

    /// One line a stroke; a stroke that findings changed stands by itself with what differs.
    fn lines(&self, works: &[Work], said: &mut Vec<String>) -> Vec<Line> {
        let mut lines = Vec::new();
        for work in works {
            let (mut changed, mut plain) = (Vec::new(), Sites::NONE);
            for site in work.sites.iter() {
                match self.made.finishes.at(site) {
                    Some(finish) if finish.outcome != Outcome::Written || finish.wished => match changed
                        .iter_mut()
                        .find(|(f, _): &&mut (&Finish, Sites)| f.by == finish.by && f.outcome == finish.outcome)
                    {
                        Some((_, sites)) => *sites = *sites | Sites::one(site),
                        None => changed.push((finish, Sites::one(site))),
                    },
                    _ => plain = plain | Sites::one(site),
                }
            }
            if !plain.is_empty() {
                lines.push(self.line(work, plain, None, said));
            }
            for (finish, sites) in changed {
                lines.push(self.line(work, sites, self.differs(finish), said));
            }
        }
        lines
    }

    fn line(&self, work: &Work, sites: Sites, differs: Option<String>, said: &mut Vec<String>) -> Line {
        let trade = &self.made.trade;
        Line {
            tool: words::tool(trade, &work.stroke),
            direction: work.stroke.direction.map(|d| words::direction(d).to_owned()),
            work: format!("{} {}", words::verb(work.stroke.verb), zone_words(trade, sites)),
            leaves: words::leaves(&work.stroke),
            how: words::how(&work.stroke),
            caution: self.caution(work, sites, said),
            differs,
        }
    }

    /// The one thing to mind on a line: a finding on this dog first, then a part to feel for (each once on the sheet), then
    /// the zone's own where its skin isn't flat. What holds for the whole step stands at the step.
    fn caution(&self, work: &Work, sites: Sites, said: &mut Vec<String>) -> Option<String> {
        let Made { trade, dog, .. } = self.made;
        let mut candidates: Vec<String> = Vec::new();
        for fact in &dog.findings {
            if fact.sites.meets(sites) && fact.sites != trade.all_sites() {
                let finding = trade.finding(fact.finding);
                let caution = finding.and_then(|f| f.cautions.first());
                candidates.extend(caution.map(|c| format!("{}: {c}", words::sentence(&fact.words))));
            }
        }
        let close = work.stroke.kind(trade).is_some_and(|k| k.on_clipper() || k == ToolKind::Shears);
        for mark in trade.marks.iter().filter(|m| close && m.find && m.sites.meets(sites)) {
            if mark.sex.is_none() || dog.sex.is_none() || mark.sex == dog.sex {
                let name = words::sentence(&mark.name.replace('-', " "));
                candidates.extend(mark.cautions.first().map(|c| format!("{name}: {c}")));
            }
        }
        for zone in trade.zones.iter().filter(|z| close && z.skin != Skin::Flat && z.sites().meets(sites)) {
            candidates.extend(zone.cautions.first().cloned());
        }
        let fresh = candidates.into_iter().find(|c| !said.contains(c))?;
        said.push(fresh.clone());
        Some(fresh)
    }

    fn differs(&self, finish: &Finish) -> Option<String> {
        let name = finish
            .by
            .and_then(|f| self.made.trade.finding(f))
            .map(|f| f.name.replace('-', " "))
            .unwrap_or_default();
        match finish.outcome {
            Outcome::Written => finish.wished.then(|| "as the owner wishes".to_owned()),
            Outcome::Raised => Some(format!("gentler than usual: {name}")),
            Outcome::Shortened => Some("shorter than usual: the mat leaves no more".to_owned()),
            Outcome::Left => Some(format!("left: {name}")),
            Outcome::Referred => Some(format!("for a vet: {name}")),
        }
    }

    /// What is left, grouped by why.
    fn leave(&self) -> Vec<String> {
        let trade = &self.made.trade;
        let mut groups: Vec<(String, Sites)> = Vec::new();
        for finish in self.made.finishes.all.iter().filter(|f| f.fine.tool.is_none()) {
            let hidden = trade.zone_of(finish.site).is_some_and(|(z, _)| z.hidden);
            let why = match finish.outcome {
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
    fn left_out(&self) -> Vec<String> {
        let Made { choices, trade, dog, .. } = self.made;
        let mut lines = Vec::new();
        for ask in &choices.prep {
            if forbidden(ask.step, choices, trade, dog) != trade.all_sites() {
                continue;
            }
            let Some(step) = trade.steps.get(usize::from(ask.step.0)) else { continue };
            let why = dog.findings.iter().filter_map(|f| trade.finding(f.finding)).find(|f| {
                f.keeps.iter().any(|line| match &line.bound {
                    Bound::Never(bans) => bans.iter().any(|b| *b == Ban::Step(ask.step) || step.uses.is_some_and(|t| trade.names(*b, t))),
                    _ => false,
                })
            });
            let why = why.map(|f| format!(" ({})", f.name.replace('-', " "))).unwrap_or_default();
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
        let other = self
            .made
            .dog
            .others
            .iter()
            .find(|(_, sites, _)| sites.has(finish.site))
            .map(|(words, _, _)| words.clone());
        let what = finding.or(other).unwrap_or_else(|| "a rule of the house".to_owned());
        if finish.outcome == Outcome::Referred { format!("{what}: a vet first") } else { what }
    }

    fn will_show(&self) -> Vec<String> {
        let Made { choices, trade, dog, finishes, .. } = self.made;
        // By the zone that was moved: `breeches (3 mm) beside thigh and second thigh (21 mm)`.
        let mut groups: Vec<(String, String, Vec<String>)> = Vec::new();
        for border in borders(choices, trade, dog, finishes).iter().filter(|b| b.by_reply) {
            let moved = finishes.at(border.site).is_some_and(|f| f.outcome != Outcome::Written);
            let (zone, leaves, other, beyond) = if moved {
                (border.a, border.leaves, border.b, border.beyond)
            } else {
                (border.b, border.beyond, border.a, border.leaves)
            };
            let head = format!("{} ({})", zone.name.replace('-', " "), words::whole(leaves));
            let beyond = words::whole(beyond);
            let name = other.name.replace('-', " ");
            match groups.iter_mut().find(|(h, b, _)| *h == head && *b == beyond) {
                Some((_, _, names)) if !names.contains(&name) => names.push(name),
                Some(_) => {}
                None => groups.push((head, beyond, vec![name])),
            }
        }
        groups
            .into_iter()
            .map(|(head, beyond, names)| {
                format!("{head} beside {} ({beyond}): skim the edge if there is room; else tell the owner.", list_words(&names))
            })
            .collect()
    }

    fn at(&self, place: Place) -> String {
        let name = self.sources.name(place.file);
        let short = name.rsplit('/').next().unwrap_or(name);
        format!("{short}:{}", self.sources.line_column(place).0)
    }

    fn details(&self, more: Vec<String>) -> Details {
        let trade = &self.made.trade;
        let mut reasons: Vec<ZoneReasons> = Vec::new();
        let mut groups: Vec<(Sites, &Finish)> = Vec::new();
        for finish in &self.made.finishes.all {
            match groups.iter_mut().find(|(_, f)| {
                (&f.fine, &f.rough, &f.reasons, f.outcome) == (&finish.fine, &finish.rough, &finish.reasons, finish.outcome)
            }) {
                Some((sites, _)) => *sites = *sites | Sites::one(finish.site),
                None => groups.push((Sites::one(finish.site), finish)),
            }
        }
        for (sites, finish) in groups {
            let leaves = words::leaves(&finish.fine).map(|l| format!(", leaves {l}")).unwrap_or_default();
            reasons.push(ZoneReasons {
                zones: zone_words(trade, sites),
                work: format!("{}{leaves}", crate::finish::stroke_words(&finish.fine, trade)),
                why: finish.reasons.iter().map(|r| format!("{} ({})", did_words(&r.what), self.at(r.place))).collect(),
            });
        }
        let notes = self
            .made
            .said
            .iter()
            .filter(|d| d.severity < Severity::Error)
            .map(|d| format!("{} {} ({})", d.code, words::sentence(&d.message), self.at(d.place)))
            .collect();
        let mut because: Vec<String> = Vec::new();
        for finish in &self.made.finishes.all {
            for keep in active_keeps(&self.made.choices, trade, &self.made.dog, finish.site) {
                if let crate::finish::Source::Text(entry) = keep.source
                    && let Some(text) = &entry.line.because
                    && !because.contains(text)
                {
                    because.push(text.clone());
                }
            }
        }
        let asks = self.made.choices.finishes.iter().filter_map(|c| c.ask.because.clone());
        for text in asks {
            if !because.contains(&text) {
                because.push(text);
            }
        }
        Details {
            reasons,
            cautions: more,
            because,
            notes,
            made_from: self.made.made_from.clone(),
            terms: TERMS.iter().map(|t| (*t).to_owned()).collect(),
        }
    }
}

/// What a sheet is and isn't.
const TERMS: &[&str] = &[
    "An aid to a trained groomer, who sees the dog and decides; not veterinary advice.",
    "Local law and codes of practice come first; so does the dog's vet.",
    "Lengths are classes: makers differ, and so do coats. Stop when the dog says so.",
];

/// `Dry stretch`, `Nails: short, grind`: what the name says already isn't said again.
fn step_title(name: &str, more: &str) -> String {
    let name = name.replace('-', " ");
    let more: Vec<&str> = more.split(", ").filter(|m| !m.is_empty() && !name.contains(*m)).collect();
    let title = words::sentence(&name);
    if more.is_empty() { title } else { format!("{title}: {}", more.join(", ")) }
}

/// Short steps before the work, such as check and consent, or nails and ears, stand together.
fn together(steps: Vec<Step>) -> Vec<Step> {
    let mut out: Vec<Step> = Vec::new();
    for step in steps {
        let pair = out.last().is_some_and(|last| {
            [("Check", "Consent"), ("Nails", "Ears"), ("Last look", "Last look walking")]
                .iter()
                .any(|(a, b)| last.title.starts_with(a) && step.title.starts_with(b) && last.lines.is_empty())
        });
        match out.last_mut() {
            Some(last) if pair => {
                last.title = format!("{} · {}", last.title, step.title);
                last.minutes = last.minutes.take().or(step.minutes.clone()).zip(step.minutes).map(|(a, b)| format!("{a}, then {b}"));
                last.caution = match (last.caution.take(), step.caution) {
                    (Some(a), Some(b)) => Some(format!("{a} {b}")),
                    (a, b) => a.or(b),
                };
            }
            _ => out.push(step),
        }
    }
    out
}

fn part_title(name: &str) -> String {
    match name {
        "sanitary" => "Belly, groin and under the tail".to_owned(),
        "feet-round" => "Feet".to_owned(),
        "head-work" => "Head and ears".to_owned(),
        "hind-leg-work" => "Hind legs".to_owned(),
        "foreleg-work" => "Forelegs".to_owned(),
        other => words::sentence(&other.replace("-work", "").replace('-', " ")),
    }
}

/// What a reason did, in words.
pub fn did_words(what: &Did) -> String {
    match what {
        Did::SetRough => "set in by".to_owned(),
        Did::Set => "said by".to_owned(),
        Did::WonOver => "counts over".to_owned(),
        Did::Guarded(by) if by == "card" => "the card says".to_owned(),
        Did::Guarded(by) => format!("guarded by {}", by.replace('-', " ")),
        Did::Replied(by, Reply::Raise | Reply::Answer) => format!("made gentler for {}", by.replace('-', " ")),
        Did::Replied(by, Reply::Leave) => format!("left for {}", by.replace('-', " ")),
        Did::Replied(by, Reply::Refer) => format!("for a vet: {}", by.replace('-', " ")),
        Did::Yielded(words) => format!("{words} had to yield"),
        Did::Mat => "the mat leaves no more".to_owned(),
    }
}
