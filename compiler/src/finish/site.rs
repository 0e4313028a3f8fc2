//! One site of one dog: who wins, what is picked, what keeps and replies make of it.

use super::reply;
use super::{
    ActiveKeep, Did, Finish, Outcome, Reason, Source, Stroke, active_keeps, applies, on_words, pick, site_words,
};
use crate::choices::{Choice, Choices, Clash, Kind, Level, Pass, winner};
use crate::diagnostic::{Diagnostic, code};
use crate::measure::Length;
use crate::names::card::Dog;
use crate::names::sites::Site;
use crate::names::trade::{Bound, Reply, Trade, Verb, Where};

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

struct Worker<'a> {
    choices: &'a Choices,
    trade: &'a Trade,
    dog: &'a Dog,
    site: Site,
    situation: &'a Situation<'a>,
    out: &'a mut Vec<Diagnostic>,
}

impl<'a> Worker<'a> {
    fn site(&mut self) -> Option<Finish> {
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
            (None, Some(rough)) => (rough, None),
            (None, None) => return self.nothing(),
        };
        let mut reasons = Vec::new();
        let rough_stroke = rough.and_then(|choice| {
            let stroke = pick(&choice.ask, None, self.choices, self.trade, self.dog, self.site, self.out)?;
            reasons.push(Reason { what: Did::SetRough, place: choice.place });
            Some(stroke)
        });
        let picked = pick(
            &main.ask,
            rough_stroke.as_ref().map(|p| &p.stroke),
            self.choices,
            self.trade,
            self.dog,
            self.site,
            self.out,
        )?;
        reasons.push(Reason { what: Did::Set, place: main.place });
        if let Some(loser) = self.loser(main) {
            reasons.push(Reason { what: Did::WonOver, place: loser.place });
        }
        let draft = Finish {
            site: self.site,
            rough: rough_stroke.map(|p| p.stroke),
            fine: picked.stroke,
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
                    .help(format!(
                        "Take the part out of one of them (`except {}`){}.",
                        self.trade.zone_of(self.site).map_or("", |(z, _)| z.name.as_str()),
                        if a.level == b.level {
                            ""
                        } else {
                            ", or write `throughout` after the nearer one if it counts"
                        }
                    )),
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
                && won.level > Level::House
                && other.kind == won.kind
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
            let usual = !matches!(finding.on, Where::Fixed(sites) if !sites.has(self.site));
            let here = usual && fact.sites.has(self.site);
            if finding.reply != Reply::Answer || main.finding == Some(fact.finding) || !here {
                continue;
            }
            // Left on every dog, or never on the table: nothing is asked.
            if main.ask.verb == Verb::Leave || self.choices.serves.without.contains(&fact.finding) {
                continue;
            }
            let answers = |k: &ActiveKeep<'_>| matches!(k.source, Source::Text(e) if e.finding == Some(fact.finding));
            let answered = self.active().any(|c| c.kind == Kind::Guard && c.finding == Some(fact.finding))
                || self.situation.keeps.iter().any(answers);
            if !answered {
                let name = &finding.name;
                let words = name.replace('-', " ");
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
                    .help(format!("Add `guard {name} {{ … }}` to the recipe or its base.")),
                );
            }
        }
    }
}

/// Whether a finish goes over what was set in, rather than doing the zone alone.
fn refines(choice: &Choice) -> bool {
    choice.kind != Kind::Guard
        && matches!(choice.ask.verb, Verb::Finish | Verb::Scissor | Verb::Shape | Verb::Thin | Verb::Taper)
}
