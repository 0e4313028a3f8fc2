//! Finishes: what is done at each site of one dog, and why.
//!
//! [`finish`] evaluates [`Choices`] at a dog: the winner of each competition, the tool that makes it on this coat, and
//! what the keeps and the replies of findings make of it. A finish without its reasons can't be built.

mod active;
mod breach;
mod gentle;
mod mats;
mod pick;
mod reply;

pub use active::{ActiveKeep, Source, active_keeps, has_finding};
pub use breach::{Breach, breach};
pub use gentle::{bears, gentlest, stroke_words};
pub use pick::{Picked, coat_factor, pick, tool_words};

use crate::choices::{Choice, Choices, Clash, Kind, Pass, winner};
use crate::diagnostic::{Diagnostic, code};
use crate::measure::{Interval, Length};
use crate::names::card::Dog;
use crate::names::sites::{Site, Sites};
use crate::names::trade::{Direction, FindingId, Gap, KeepOn, Reply, ToolId, ToolKind, Trade, Verb};
use crate::names::zone_words::zone_words;
use crate::source::Place;
use smol_str::SmolStr;

/// One stroke of work at a site.
#[derive(Clone, Debug, PartialEq)]
pub struct Stroke {
    /// The verb.
    pub verb: Verb,
    /// The tool; none for `leave`.
    pub tool: Option<ToolId>,
    /// The blade under a comb.
    pub over: Option<ToolId>,
    /// Which way.
    pub direction: Option<Direction>,
    /// How often.
    pub passes: u32,
    /// What stays.
    pub leaves: Option<Interval<Length>>,
    /// How near the skin the edge rides.
    pub closeness: Option<Length>,
    /// How far apart the teeth stand.
    pub gap: Option<Gap>,
    /// Shapes and ways of working.
    pub manners: Vec<(SmolStr, Option<SmolStr>)>,
}

/// Why a finish is as it is: a statement with what it did.
#[derive(Clone, Debug, PartialEq)]
pub struct Reason {
    /// What it did.
    pub what: Did,
    /// Where the statement stands.
    pub place: Place,
}

/// What a statement did to a finish.
#[derive(Clone, Debug, PartialEq)]
pub enum Did {
    /// Set the rough pass.
    SetRough,
    /// Set the finish.
    Set,
    /// Won over another statement, whose place this is.
    WonOver,
    /// A guard asked for more care; by whom.
    Guarded(SmolStr),
    /// The finding whose reply changed it.
    Replied(SmolStr, Reply),
    /// A shape keep that had to yield; its words.
    Yielded(String),
    /// A mat shortened it.
    Mat,
}

/// How a site came out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// As written.
    Written,
    /// A finding made it gentler or longer.
    Raised,
    /// A finding, or a keep with no tool left, made it `leave`.
    Left,
    /// It is for a vet.
    Referred,
    /// A mat made it shorter than written.
    Shortened,
}

/// What is done at one site.
#[derive(Clone, Debug, PartialEq)]
pub struct Finish {
    /// The site.
    pub site: Site,
    /// The rough pass, if one comes first.
    pub rough: Option<Stroke>,
    /// The finish.
    pub fine: Stroke,
    /// How it came out.
    pub outcome: Outcome,
    /// The finding that changed it, if any.
    pub by: Option<FindingId>,
    /// Why, in the order in which it came about. Never empty.
    pub reasons: Vec<Reason>,
    /// The statement of the winner.
    pub statement: Place,
    /// Whether that statement is from a text above the house's usual (recipe or wish).
    pub from_recipe: bool,
    /// Whether it is the owner's wish on the card.
    pub wished: bool,
}

/// All sites of one dog.
#[derive(Clone, Debug, Default)]
pub struct Finishes {
    /// In the order of the sites.
    pub all: Vec<Finish>,
    /// Sites for a vet.
    pub referred: Sites,
}

impl Finishes {
    /// The finish at a site.
    #[must_use]
    pub fn at(&self, site: Site) -> Option<&Finish> {
        self.all.binary_search_by_key(&site, |f| f.site).ok().and_then(|i| self.all.get(i))
    }
}

/// The sites that this dog has: no prepuce on a bitch.
#[must_use]
pub fn sites_of(trade: &Trade, dog: &Dog) -> Sites {
    trade
        .zones
        .iter()
        .filter(|z| z.sex.is_none() || dog.sex.is_none() || z.sex == dog.sex)
        .fold(Sites::NONE, |set, zone| set | zone.sites())
}

/// What is done at each site of the dog. Messages are added to `out`; a site that can't be finished is left out.
pub fn finish(choices: &Choices, trade: &Trade, dog: &Dog, out: &mut Vec<Diagnostic>) -> Finishes {
    finish_at(sites_of(trade, dog), choices, trade, dog, out)
}

/// The same at some sites only.
pub fn finish_at(sites: Sites, choices: &Choices, trade: &Trade, dog: &Dog, out: &mut Vec<Diagnostic>) -> Finishes {
    let mut finishes = Finishes::default();
    let mut unfinished = Sites::NONE;
    // What tells nothing left from right is worked out on the left.
    let even = choices.symmetric && is_even(trade, dog);
    for site in sites.iter() {
        if even
            && let Some(left) = site.0.checked_sub(1).map(Site)
            && trade.zone_of(site).is_some_and(|(_, side)| side == Some(grammar::tree::Side::Right))
        {
            if let Some(finish) = finishes.all.last().filter(|f| f.site == left).cloned() {
                if finish.outcome == Outcome::Referred {
                    finishes.referred = finishes.referred | Sites::one(site);
                }
                finishes.all.push(Finish { site, ..finish });
                continue;
            }
            if unfinished.has(left) {
                unfinished = unfinished | Sites::one(site);
                continue;
            }
        }
        let mut worker = Worker { choices, trade, dog, site, out };
        match worker.site() {
            Some(finish) => {
                if finish.outcome == Outcome::Referred {
                    finishes.referred = finishes.referred | Sites::one(site);
                }
                finishes.all.push(finish);
            }
            None => unfinished = unfinished | (Sites::one(site) & visible(trade, choices, dog, site)),
        }
    }
    if !unfinished.is_empty()
        && let Some(place) = choices.place
    {
        out.push(unfinished_message(choices, trade, unfinished, place));
    }
    finishes
}

/// Whether nothing on the card tells left from right.
#[must_use]
pub fn is_even(trade: &Trade, dog: &Dog) -> bool {
    let even = |sites: Sites| trade.both_sides(sites) == sites;
    dog.findings.iter().all(|f| even(f.sites))
        && dog.mats.iter().all(|m| even(m.sites))
        && dog.others.iter().all(|(_, sites, _)| even(*sites))
        && dog.coats.iter().all(|(sites, _)| even(*sites))
        && dog.lengths.iter().all(|(sites, _)| even(*sites))
}

/// The site itself, if nothing reaches it and a groomer would miss a finish there.
fn visible(trade: &Trade, choices: &Choices, dog: &Dog, site: Site) -> Sites {
    let hidden = trade.zone_of(site).is_none_or(|(zone, _)| zone.hidden);
    let reached = choices.at(site).any(|c| applies(c, trade, dog, site));
    if hidden || reached { Sites::NONE } else { Sites::one(site) }
}

fn unfinished_message(choices: &Choices, trade: &Trade, sites: Sites, place: Place) -> Diagnostic {
    let list = zone_words(trade, sites);
    Diagnostic::error(code::M016, place, format!("{} says nothing about {list}", choices.name))
        .why("What nobody mentions is forgotten on the table.")
        .help(format!("Finish it, or write `leave {}`.", list.replace(" and ", ", ")))
}

/// Whether a choice applies to the dog at the site: its condition holds, and its finding is there.
#[must_use]
pub fn applies(choice: &Choice, trade: &Trade, dog: &Dog, site: Site) -> bool {
    choice.cond.holds(dog, site) && choice.finding.is_none_or(|f| active::has_finding(trade, dog, f, site))
}

/// The zone and side of a site, as people say it.
#[must_use]
pub fn site_words(trade: &Trade, site: Site) -> String {
    match trade.zone_of(site) {
        Some((zone, None)) => zone.name.replace('-', " "),
        Some((zone, Some(grammar::tree::Side::Left))) => format!("left {}", zone.name.replace('-', " ")),
        Some((zone, Some(grammar::tree::Side::Right))) => format!("right {}", zone.name.replace('-', " ")),
        None => String::new(),
    }
}

/// A zone in a sentence, side left away: `on the throat`, `under the tail`, `between the toes`.
#[must_use]
pub fn on_words(trade: &Trade, site: Site) -> String {
    let name = trade.zone_of(site).map_or(String::new(), |(zone, _)| zone.name.replace('-', " "));
    for preposition in ["under", "between", "behind"] {
        if let Some(rest) = name.strip_prefix(preposition).and_then(|r| r.strip_prefix(' ')) {
            return format!("{preposition} the {rest}");
        }
    }
    format!("on the {name}")
}

struct Worker<'a> {
    choices: &'a Choices,
    trade: &'a Trade,
    dog: &'a Dog,
    site: Site,
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
        let keeps = active_keeps(self.choices, self.trade, self.dog, self.site);
        let draft = Finish {
            site: self.site,
            rough: rough_stroke.map(|p| p.stroke),
            fine: picked.stroke,
            outcome: Outcome::Written,
            by: main.finding,
            reasons,
            statement: main.place,
            from_recipe: main.level >= crate::choices::Level::Recipe,
            wished: main.level == crate::choices::Level::Wish,
        };
        self.unanswered(main);
        let finish = reply::settle(draft, main, rough, &keeps, self.choices, self.trade, self.dog, self.out);
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
        let before =
            Worker { choices: self.choices, trade: self.trade, dog: &without, site: self.site, out: &mut silent }
                .site();
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
        let keeps = active_keeps(self.choices, self.trade, self.dog, self.site);
        let untouched = keeps.iter().find(|k| matches!(k.bound(), crate::names::trade::Bound::Untouched));
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
        reply::refer(&mut finish, &keeps, self.trade);
        Some(finish)
    }

    fn winner(&mut self, pass: Pass) -> Option<&'a Choice> {
        let active: Vec<&Choice> = self
            .choices
            .at(self.site)
            .filter(|c| c.pass == pass && applies(c, self.trade, self.dog, self.site))
            .collect();
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
                && other.level == crate::choices::Level::Recipe
                && won.level > crate::choices::Level::House
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

    fn loser(&self, main: &Choice) -> Option<&'a Choice> {
        self.choices.at(self.site).find(|other| {
            other.pass == main.pass && other.place != main.place && applies(other, self.trade, self.dog, self.site)
        })
    }

    /// A finding whose reply is the author's, and that no statement answers here.
    fn unanswered(&mut self, main: &Choice) {
        for fact in &self.dog.findings {
            let Some(finding) = self.trade.finding(fact.finding) else { continue };
            if finding.reply != Reply::Answer || main.finding == Some(fact.finding) || !fact.sites.has(self.site) {
                continue;
            }
            // Left on every dog, or never on the table: nothing is asked.
            if main.ask.verb == Verb::Leave || self.choices.serves.without.contains(&fact.finding) {
                continue;
            }
            let here = |on: KeepOn| matches!(on, KeepOn::Sites(sites) if sites.has(self.site));
            let answered = self.choices.at(self.site).any(|c| c.kind == Kind::Guard && c.finding == Some(fact.finding))
                || self.choices.keeps.iter().any(|k| k.finding == Some(fact.finding) && here(k.line.on));
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

impl Stroke {
    /// Nothing is done.
    #[must_use]
    pub const fn leave() -> Self {
        Self {
            verb: Verb::Leave,
            tool: None,
            over: None,
            direction: None,
            passes: 0,
            leaves: None,
            closeness: None,
            gap: None,
            manners: Vec::new(),
        }
    }

    /// The kind of its tool.
    #[must_use]
    pub fn kind(&self, trade: &Trade) -> Option<ToolKind> {
        self.tool.and_then(|t| trade.tool(t)).map(|t| t.kind)
    }
}
