//! One site of one dog: who wins, what is picked, what keeps and replies make of it.

use super::reply;
use super::{
    ActiveKeep, Did, Finish, Outcome, Reason, Source, Stroke, active_keeps, applies, on_words, pick, site_words,
};
use crate::choices::{Choice, Choices, Clash, Kind, Level, Pass, winner};
use crate::diagnostic::{Diagnostic, Fix, Severity, code};
use crate::measure::Length;
use crate::names::card::{Dog, Fact};
use crate::names::sites::{Site, Sites};
use crate::names::trade::{Bound, Gap, Reply, Trade, Verb, Where};

/// What meets at a site of a dog: the statements that apply and the keeps that bind. What is done there depends on nothing
/// else but the coat, so that two dogs with equal situations are finished alike.
#[derive(Clone, Debug)]
pub struct Situation<'a> {
    /// The site.
    pub site: Site,
    /// The statements that apply, with their numbers.
    pub active: Vec<(u32, &'a Choice)>,
    /// The keeps that bind.
    pub keeps: Vec<ActiveKeep<'a>>,
}

impl<'a> Situation<'a> {
    /// What meets at a site of a dog.
    #[must_use]
    pub fn of(choices: &'a Choices, trade: &'a Trade, dog: &'a Dog, site: Site) -> Self {
        let numbers = choices.at.get(usize::from(site.0)).into_iter().flatten();
        let active = numbers
            .filter_map(|&n| choices.finishes.get(n as usize).map(|c| (n, c)))
            .filter(|(_, c)| applies(c, trade, dog, site))
            .collect();
        Self { site, active, keeps: active_keeps(choices, trade, dog, site) }
    }
}

/// Who wins at a site, and what is picked, before any keep or reply.
pub(super) struct Draft<'a> {
    /// The finish's statement.
    pub(super) main: &'a Choice,
    /// What is set in before it.
    pub(super) rough: Option<(&'a Choice, Stroke)>,
    /// The finish.
    pub(super) fine: Stroke,
}

impl Draft<'_> {
    /// How near the skin the nearest of its passes runs.
    pub(super) fn closeness(&self) -> Option<Length> {
        nearest(&self.fine, self.rough.as_ref().map(|(_, stroke)| stroke))
    }

    /// How wide the widest of its teeth are.
    pub(super) fn gap(&self) -> Option<Gap> {
        widest(&self.fine, self.rough.as_ref().map(|(_, stroke)| stroke))
    }
}

/// How near the skin the nearer of two passes runs.
pub(super) fn nearest(fine: &Stroke, rough: Option<&Stroke>) -> Option<Length> {
    fine.closeness.into_iter().chain(rough.and_then(|r| r.closeness)).min()
}

/// How wide the wider teeth of two passes are.
pub(super) fn widest(fine: &Stroke, rough: Option<&Stroke>) -> Option<Gap> {
    fine.gap.max(rough.and_then(|r| r.gap))
}

/// What a dog would get by some of the statements alone; none where they clash.
pub(super) fn draft<'a>(
    situation: &'a Situation<'a>,
    choices: &'a Choices,
    trade: &'a Trade,
    dog: &'a Dog,
) -> Option<Draft<'a>> {
    let mut silent = Vec::new();
    let draft = Worker { choices, trade, dog, site: situation.site, situation, out: &mut silent }.draft();
    // Where two clash, which of them counts is nobody's guess.
    draft.filter(|_| silent.iter().all(|d| d.code != code::M015 || d.severity < Severity::Error))
}

/// What is done at a site; none if nobody says anything of it.
pub fn finish_site(
    situation: &Situation<'_>,
    choices: &Choices,
    trade: &Trade,
    dog: &Dog,
    out: &mut Vec<Diagnostic>,
) -> Option<Finish> {
    Worker { choices, trade, dog, site: situation.site, situation, out }.site()
}

struct Worker<'a, 'o> {
    choices: &'a Choices,
    trade: &'a Trade,
    dog: &'a Dog,
    site: Site,
    situation: &'a Situation<'a>,
    out: &'o mut Vec<Diagnostic>,
}

impl<'a> Worker<'a, '_> {
    fn site(&mut self) -> Option<Finish> {
        if self.situation.active.is_empty() {
            return self.nothing();
        }
        let Draft { main, rough, fine } = self.draft()?;
        let taken = self.choices.overrides_on(self.dog, self.site);
        let mut reasons: Vec<Reason> =
            taken.map(|o| Reason { what: Did::Overridden(o.by.clone()), place: o.place }).collect();
        reasons.extend(rough.iter().map(|(choice, _)| Reason { what: Did::SetRough, place: choice.place }));
        reasons.push(Reason { what: Did::Set, place: main.place });
        if let Some(loser) = self.loser(main) {
            reasons.push(Reason { what: Did::WonOver, place: loser.place });
        }
        let (rough, set_in) = rough.map_or((None, None), |(choice, stroke)| (Some(choice), Some(stroke)));
        let draft = Finish {
            site: self.site,
            rough: set_in,
            fine,
            outcome: Outcome::Written,
            by: main.finding,
            reasons,
            statement: main.place,
            from_recipe: main.level >= Level::Recipe,
            wished: main.level == Level::Wish,
        };
        self.unanswered(main);
        let finish = reply::settle(draft, main, rough, self.situation, self.choices, self.trade, self.dog, self.out);
        Some(self.no_nearer(finish, main))
    }

    /// Who wins, and what is picked: before any keep or reply.
    fn draft(&mut self) -> Option<Draft<'a>> {
        let fine = self.winner(Pass::Finish);
        let rough = self.winner(Pass::Rough);
        let (main, rough) = match (fine, rough) {
            // Set in is the finer word on this part, or the nearer one: then a broader or farther finish doesn't count.
            (Some(fine), Some(rough))
                if refines(fine)
                    || rough.kind >= fine.kind
                        && (rough.level > fine.level
                            || rough.sites.within(fine.sites) && rough.sites != fine.sites) =>
            {
                if refines(fine) {
                    (fine, Some(rough))
                } else {
                    (rough, None)
                }
            }
            (Some(fine), _) => (fine, None),
            (None, rough) => (rough?, None),
        };
        let mut pick = |choice: &Choice, rough: Option<&Stroke>| {
            pick(&choice.ask, rough, self.choices, self.trade, self.dog, self.site, self.out).map(|p| p.stroke)
        };
        let rough = rough.and_then(|choice| pick(choice, None).map(|stroke| (choice, stroke)));
        let fine = pick(main, rough.as_ref().map(|(_, stroke)| stroke))?;
        Some(Draft { main, rough, fine })
    }

    /// S4: an answer works no place that would be left on the same dog without the finding that it answers.
    fn no_nearer(&self, finish: Finish, main: &Choice) -> Finish {
        let (Some(answered), true) = (main.finding.filter(|_| main.kind == Kind::Guard), finish.fine.tool.is_some())
        else {
            return finish;
        };
        let mut without = self.dog.clone();
        without.findings.retain(|fact| fact.finding != answered);
        let mut silent = Vec::new();
        let situation = Situation::of(self.choices, self.trade, &without, self.site);
        let before = finish_site(&situation, self.choices, self.trade, &without, &mut silent);
        match before {
            Some(before) if matches!(before.outcome, Outcome::Left | Outcome::Referred) => {
                let mut reasons = finish.reasons;
                reasons.extend(
                    before
                        .reasons
                        .into_iter()
                        .filter(|r| matches!(r.what, Did::Replied(..) | Did::Guarded(_) | Did::Mat)),
                );
                Finish { rough: None, fine: Stroke::leave(), outcome: before.outcome, by: before.by, reasons, ..finish }
            }
            _ => finish,
        }
    }

    /// A hidden zone, or one that a keep leaves alone, is left without anybody saying so.
    fn nothing(&mut self) -> Option<Finish> {
        let (zone, _) = self.trade.zone_of(self.site)?;
        let keeps = &self.situation.keeps;
        let untouched = keeps.iter().find(|k| matches!(k.bound(), Bound::Untouched));
        let place = match untouched {
            Some(keep) => keep.place(),
            None if zone.hidden => zone.place,
            None => return None,
        };
        let mut finish = Finish {
            site: self.site,
            rough: None,
            fine: Stroke::leave(),
            outcome: if untouched.is_some() { Outcome::Left } else { Outcome::Written },
            by: None,
            reasons: vec![Reason { what: Did::Set, place }],
            statement: place,
            from_recipe: false,
            wished: false,
        };
        reply::refer(&mut finish, keeps, self.trade);
        Some(finish)
    }

    fn winner(&mut self, pass: Pass) -> Option<&'a Choice> {
        let active: Vec<&Choice> = self.active().filter(|c| c.pass == pass).collect();
        match winner(&active, |a, b| self.gentler(a, b)) {
            Ok(choice) => {
                if let Some(choice) = choice {
                    self.surviving(choice, &active);
                }
                choice
            }
            Err(Clash { a, b }) => {
                let words = site_words(self.trade, self.site);
                let (first, second) = if a.place <= b.place { (a, b) } else { (b, a) };
                self.out.push(
                    Diagnostic::error(
                        code::M015,
                        second.place,
                        format!("two statements want the {words}, and neither is the finer one"),
                    )
                    .related(first.place, "the other statement")
                    .why("Which of them counts must not depend on the order of lines.")
                    .help(if a.sites == b.sites {
                        "Both speak of the same parts: take one of the two away.".to_owned()
                    } else {
                        format!(
                            "Take the part out of one of them (`except {}`){}.",
                            self.trade.zone_of(self.site).map_or("", |(z, _)| z.name.as_str()),
                            if a.level == b.level {
                                ""
                            } else {
                                ", or write `throughout` after the nearer one if it counts"
                            }
                        )
                    }),
                );
                Some(a)
            }
        }
    }

    /// S3: a base's finer statement that still counts under a recipe's broader one; the author may not know it is there.
    fn surviving(&mut self, won: &Choice, active: &[&Choice]) {
        let broader = active.iter().find(|other| {
            other.level > won.level
                && other.level == Level::Recipe
                && !won.level.is_house()
                && other.kind == won.kind
                && other.finding == won.finding
                && won.sites.within(other.sites)
                && won.sites != other.sites
        });
        if let Some(broader) = broader {
            let words = self.trade.zone_of(self.site).map_or("", |(z, _)| z.name.as_str()).replace('-', " ");
            self.out.push(
                Diagnostic::warning(code::M015, broader.place, format!("the base's own word for the {words} still counts here"))
                    .related(won.place, "the base's finer statement")
                    .why("Of two statements the finer one wins, whoever wrote it.")
                    .help("Write `throughout` at the end of this one if it should count everywhere, or take the part out with `except`."),
            );
        }
    }

    /// Of two answers the gentler: further from the skin, then longer, then the gentler kind of tool.
    fn gentler(&self, a: &Choice, b: &Choice) -> bool {
        let rank = |choice: &Choice| {
            let mut silent = Vec::new();
            let stroke = pick(&choice.ask, None, self.choices, self.trade, self.dog, self.site, &mut silent);
            let stroke = stroke.map(|p| p.stroke);
            let left = stroke.as_ref().is_some_and(|s| s.tool.is_none());
            let closeness = stroke.as_ref().and_then(|s| s.closeness).unwrap_or(Length(0));
            let length = stroke.as_ref().and_then(|s| s.leaves).map_or(Length(0), |l| l.low);
            (left, closeness, length, std::cmp::Reverse(choice.place))
        };
        rank(a) > rank(b)
    }

    fn active(&self) -> impl Iterator<Item = &'a Choice> {
        self.situation.active.iter().map(|(_, c)| *c)
    }

    fn loser(&self, main: &Choice) -> Option<&'a Choice> {
        self.active().find(|other| other.pass == main.pass && other.place != main.place)
    }

    /// A finding whose reply is the author's, and that no statement answers here.
    fn unanswered(&mut self, main: &Choice) {
        for fact in &self.dog.findings {
            let Some(finding) = self.trade.finding(fact.finding) else { continue };
            // A card may put it elsewhere than where it is known to be; there its own keeps are answer enough.
            let here = finding.may_be_at(self.site) && fact.sites.has(self.site);
            if finding.reply != Reply::Answer || main.finding == Some(fact.finding) || !here {
                continue;
            }
            // Left on every dog, or never on the table: nothing is asked.
            if main.ask.verb == Verb::Leave || self.choices.serves.without.contains(&fact.finding) {
                continue;
            }
            let answers = |k: &ActiveKeep<'_>| matches!(k.source, Source::Text(e) if e.answers(fact.finding));
            let answered = self.active().any(|c| c.kind == Kind::Guard && c.finding == Some(fact.finding))
                || self.situation.keeps.iter().any(answers);
            if !answered {
                let name = &finding.name;
                let words = name.replace('-', " ");
                let answer = self.left_for(fact);
                let line = answer.as_ref().and_then(|fix| fix.edits.first());
                let line = line.map_or_else(|| format!("guard {name} {{ leave … }}"), |edit| edit.text.clone());
                self.out.push(
                    Diagnostic::error(
                        code::C005,
                        self.choices.place.unwrap_or(main.place),
                        format!(
                            "{} has no answer {} for a dog that is {words}",
                            self.choices.name,
                            on_words(self.trade, self.site)
                        ),
                    )
                    .related(
                        fact.place,
                        if fact.place == finding.place {
                            "the finding asks for it here"
                        } else {
                            "the card says so here"
                        },
                    )
                    .why("Only the author can say how this is done safely.")
                    .help(format!(
                        "Say what is done there: `{line}`, or a gentler way of working, in the recipe or its base; or write \
                         `serves without {name}`."
                    ))
                    .offer(answer),
                );
            }
        }
    }

    /// The gentlest answer there is, for every part that has none: to leave it.
    fn left_for(&self, fact: &Fact) -> Option<Fix> {
        let (choices, trade) = (self.choices, self.trade);
        let finding = trade.finding(fact.finding)?;
        let usual = if let Where::Fixed(sites) = finding.on { sites } else { trade.all_sites() };
        let worked = |site: &Site| choices.at(*site).any(|c| c.ask.verb != Verb::Leave);
        let answers = |site: Site| {
            choices.at(site).any(|c| c.finding == Some(fact.finding))
                || choices.keeps_at(site).any(|k| k.answers(fact.finding))
        };
        let due: Sites = usual.iter().filter(worked).filter(|s| !answers(*s)).collect();
        let zones: Vec<&str> = trade.zones.iter().filter(|z| z.sites().meets(due)).map(|z| z.name.as_str()).collect();
        if zones.is_empty() {
            return None;
        }
        let line = format!("guard {} {{ leave {} }}", finding.name, zones.join(", "));
        Some(Fix::line("leave those parts on such a dog", choices.end?, line))
    }
}

/// Whether a finish goes over what was set in, rather than doing the zone alone.
fn refines(choice: &Choice) -> bool {
    choice.kind != Kind::Guard
        && matches!(choice.ask.verb, Verb::Finish | Verb::Scissor | Verb::Shape | Verb::Thin | Verb::Taper)
}
