//! `Choices`: what a recipe, with its bases and its house, says about every dog at once.
//!
//! It knows no dog. For each site it holds the guarded finishes that compete there and the keeps that bind there;
//! [`crate::finish`] evaluates it at one dog.

mod build;
mod compete;

pub use build::{Houses, Layer, build};
pub use compete::{Clash, beats, winner};

use crate::measure::{BodyUnits, Factor, Interval, Length, Time};
use crate::names::card::Dog;
use crate::names::condition::Cond;
use crate::names::sites::{Site, Sites};
use crate::names::trade::{Bound, Direction, FindingId, KeepLine, ToolId, Verb};
use crate::source::Place;
use smol_str::SmolStr;

/// How strongly a statement is meant: an answer to a finding over a condition over a plain statement.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs)]
pub enum Kind {
    Plain,
    When,
    Guard,
}

/// Rough pass or finish: each competes with its like.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs)]
pub enum Pass {
    Rough,
    Finish,
}

/// Whose text a statement is from, the weakest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Level {
    /// A house; a larger number is nearer to the recipe.
    House(u16),
    /// A base; a larger number is nearer to the recipe.
    Base(u16),
    /// The recipe.
    Recipe,
    /// The owner's wish on the card.
    Wish,
}

impl Level {
    /// Whether it is a house's text.
    #[must_use]
    pub const fn is_house(self) -> bool {
        matches!(self, Self::House(_))
    }
}

/// A finish that applies where its condition holds.
#[derive(Clone, Debug, PartialEq)]
pub struct Choice {
    /// Rough or finish.
    pub pass: Pass,
    /// Plain, when or guard.
    pub kind: Kind,
    /// The finding that a guard answers.
    pub finding: Option<FindingId>,
    /// When it applies.
    pub cond: Cond,
    /// Whose text.
    pub level: Level,
    /// Where.
    pub sites: Sites,
    /// Whether it wins over finer statements of weaker levels too.
    pub throughout: bool,
    /// What is done.
    pub ask: Ask,
    /// The statement's verb and zones.
    pub place: Place,
    /// The whole statement.
    pub whole: Place,
}

impl Choice {
    /// Whether it applies because of a finding: by its guard or by a condition that asks for it.
    #[must_use]
    pub fn hangs_on_findings(&self) -> bool {
        self.kind == Kind::Guard || !self.cond.findings.is_empty()
    }
}

/// What an author asks for at a zone, before any tool is picked.
#[derive(Clone, Debug, PartialEq)]
pub struct Ask {
    /// The verb.
    pub verb: Verb,
    /// The length that stays.
    pub to: Option<Length>,
    /// The tool.
    pub tool: ToolAsk,
    /// The place of the words that name the tool or the length; the whole statement if neither is there.
    pub tool_place: Place,
    /// The place of the length alone, if the author writes one as a number with its unit.
    pub length_place: Option<Place>,
    /// The place of the words for the way.
    pub direction_place: Option<Place>,
    /// The place of the words for how often.
    pub passes_place: Option<Place>,
    /// Which way.
    pub direction: Option<Direction>,
    /// How often.
    pub passes: Option<u32>,
    /// Shapes and ways of working, by name, with their place on the dog in words.
    pub manners: Vec<(SmolStr, Option<SmolStr>)>,
    /// A senior's reason.
    pub because: Option<String>,
}

/// Which tool an author asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ToolAsk {
    /// None: the compiler picks by length.
    Any,
    /// This one.
    Tool(ToolId),
    /// Some comb.
    AnyComb,
    /// This comb over this blade.
    CombOver(ToolId, ToolId),
}

/// A keep and when it binds.
#[derive(Clone, Debug, PartialEq)]
pub struct KeepEntry {
    /// The keep.
    pub line: KeepLine,
    /// The finding whose guard clause holds it.
    pub finding: Option<FindingId>,
    /// When it binds.
    pub cond: Cond,
    /// Whether it holds until the next visit: it stands in `lasts { … }`.
    pub until_next: bool,
    /// The whole statement, if it is a recipe's or a house's and holds this keep alone.
    pub whole: Option<Place>,
    /// What an override knows it by: the findings of its guard and what it asks for; empty for a rule of the basics.
    pub key: SmolStr,
    /// Whose text it is, and in which houses that stands, as [`Layer::houses`]; none is the basics'.
    pub of: Option<(Level, Houses)>,
}

/// A keep of a base or house that a senior took back for a recipe or a dog.
#[derive(Clone, Debug, PartialEq)]
pub struct Overridden {
    /// The keep in words: `ears never plucking`.
    pub words: String,
    /// Where it no longer binds.
    pub sites: Sites,
    /// What it asked for.
    pub bound: Bound,
    /// The finding in whose guard it stands.
    pub finding: Option<FindingId>,
    /// The house or base that asks for it.
    pub of: SmolStr,
    /// Who answers for it.
    pub by: String,
    /// Why.
    pub because: String,
    /// Where the override stands.
    pub place: Place,
    /// Where the keep stands.
    pub keep: Place,
}

impl Overridden {
    /// In a sentence: `Overridden: ears never plucking (saltmarsh). The vet asked for it. Head groomer.`
    #[must_use]
    pub fn sentence(&self, trade: &crate::names::trade::Trade) -> String {
        let finding = self.finding.and_then(|f| trade.finding(f));
        let finding = finding.map(|f| format!(", for {}", f.name.replace('-', " "))).unwrap_or_default();
        let (words, of) = (&self.words, self.of.replace('-', " "));
        format!("{words}{finding} (a rule of {of}): {} Answers for it: {}", full_stop(&self.because), self.by)
    }
}

fn full_stop(words: &str) -> String {
    if words.ends_with(['.', '!', '?']) { words.to_owned() } else { format!("{words}.") }
}

impl KeepEntry {
    /// Whether it may only tighten another that is said before it. A base knows nothing of the houses in which others build on it.
    #[must_use]
    pub fn is_under(&self, other: &Self) -> bool {
        match (self.of, other.of) {
            (Some((Level::Base(_) | Level::House(_), within)), Some((Level::House(house), _))) => {
                within.has(house.into())
            }
            _ => true,
        }
    }

    /// Whether it says what is done for a finding. To work in short turns is kind; it doesn't say what is done.
    #[must_use]
    pub fn answers(&self, finding: FindingId) -> bool {
        self.finding == Some(finding) && self.line.bound.changes_work()
    }
}

/// A blend that an author asks for.
#[derive(Clone, Debug, PartialEq)]
pub struct BlendAsk {
    /// From.
    pub from: Sites,
    /// Into.
    pub into: Sites,
    /// In words: `neck into shoulder`.
    pub words: String,
    /// The room in words: `two fingers`.
    pub room: Option<String>,
    /// The same as a measure.
    pub wide: Option<Wide>,
    /// Where the room is said: `over two fingers`.
    pub room_place: Option<Place>,
    /// By which tool or motion, by name.
    pub by: Option<SmolStr>,
    /// The tool, where `by` names one.
    pub tool: Option<ToolId>,
    /// The finding whose guard holds it.
    pub finding: Option<FindingId>,
    /// When.
    pub cond: Cond,
    /// Whose text.
    pub level: Level,
    /// Where it stands.
    pub place: Place,
}

impl BlendAsk {
    /// Whether it speaks of the border of two sites.
    #[must_use]
    pub const fn joins(&self, x: Site, y: Site) -> bool {
        either_way(self.from, self.into, x, y)
    }

    /// Whether it comes to a site, on either of its sides.
    #[must_use]
    pub const fn comes_to(&self, site: Site) -> bool {
        self.from.has(site) || self.into.has(site)
    }
}

/// Whether of two sites one lies in each of two sets.
const fn either_way(a: Sites, b: Sites, x: Site, y: Site) -> bool {
    a.has(x) && b.has(y) || a.has(y) && b.has(x)
}

/// How wide a blend is asked to be, along the stroke.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wide {
    /// So long, from the narrowest finger or hand to the widest; a point where it is said in cm.
    Length(Interval<Length>),
    /// A share of a part.
    Share(Factor, Sites),
}

/// A line that is meant to show.
#[derive(Clone, Debug, PartialEq)]
pub struct LineAsk {
    /// One side; empty for a line by landmarks.
    pub a: Sites,
    /// The other.
    pub b: Sites,
    /// In words.
    pub words: String,
    /// The finding whose guard holds it.
    pub finding: Option<FindingId>,
    /// When.
    pub cond: Cond,
    /// Where it stands.
    pub place: Place,
}

impl LineAsk {
    /// Whether it speaks of the border of two sites.
    #[must_use]
    pub const fn parts(&self, x: Site, y: Site) -> bool {
        either_way(self.a, self.b, x, y)
    }
}

/// A step of preparation.
#[derive(Clone, Debug, PartialEq)]
pub struct PrepAsk {
    /// The step's name in the basics or house.
    pub step: crate::names::trade::StepId,
    /// What more the author says of it: `short, grind`, `at most 10 min`.
    pub words: String,
    /// A cap on its time.
    pub at_most: Option<Time>,
    /// When.
    pub cond: Cond,
    /// Whose text.
    pub level: Level,
    /// Where it stands.
    pub place: Place,
}

/// `order A before B`, of zones.
#[derive(Clone, Debug, PartialEq)]
pub struct OrderAsk {
    /// What comes first.
    pub first: Sites,
    /// What comes later.
    pub then: Sites,
    /// The finding whose guard holds it.
    pub finding: Option<FindingId>,
    /// When.
    pub cond: Cond,
    /// Where it stands.
    pub place: Place,
}

/// Everything that a recipe says, for all dogs.
#[derive(Clone, Debug, Default)]
pub struct Choices {
    /// The recipe's name.
    pub name: SmolStr,
    /// Its title, or its name.
    pub title: String,
    /// Its version.
    pub version: Option<i64>,
    /// Its prose.
    pub about: String,
    /// The names of its bases, nearest first.
    pub bases: Vec<SmolStr>,
    /// The house, if any.
    pub house: Option<SmolStr>,
    /// The house's title.
    pub house_title: Option<String>,
    /// Whom it serves.
    pub serves: Cond,
    /// The last line that says so.
    pub served_at: Option<Place>,
    /// The finishes.
    pub finishes: Vec<Choice>,
    /// For each site, the finishes that reach it.
    pub at: Vec<Vec<u32>>,
    /// The keeps, those of the basics first.
    pub keeps: Vec<KeepEntry>,
    /// Keeps that were taken back.
    pub overrides: Vec<Overridden>,
    /// For each site, the keeps that name it.
    pub keeps_at: Vec<Vec<u32>>,
    /// Whether no statement tells left from right.
    pub symmetric: bool,
    /// Blends.
    pub blends: Vec<BlendAsk>,
    /// Lines.
    pub lines: Vec<LineAsk>,
    /// Steps.
    pub prep: Vec<PrepAsk>,
    /// Orders.
    pub orders: Vec<OrderAsk>,
    /// How long it lasts.
    pub lasts: Option<Time>,
    /// The tools at hand: every tool of the kit, or of the basics without one.
    pub kit: Vec<ToolId>,
    /// How many of each tool the kit holds.
    pub many: Vec<(ToolId, u32)>,
    /// Finger and hand.
    pub units: Option<BodyUnits>,
    /// Where the recipe's name stands.
    pub place: Option<Place>,
    /// Where its closing brace stands: a line more goes before it.
    pub end: Option<Place>,
}

impl Choices {
    /// The blade beneath a comb: of those that it sits on the first of which there is a second to swap it for when it is hot, or
    /// else the first.
    pub fn beneath(&self, comb: &crate::names::trade::Tool, may: impl Fn(ToolId) -> bool) -> Option<ToolId> {
        let fits = || comb.over.iter().copied().filter(|b| self.kit.contains(b) && may(*b));
        fits().find(|blade| self.count_of(*blade) > 1).or_else(|| fits().next())
    }

    /// How many of a tool the kit holds; nought where no kit says.
    #[must_use]
    pub fn count_of(&self, tool: ToolId) -> u32 {
        self.many.iter().filter(|(other, _)| *other == tool).map(|(_, count)| *count).sum()
    }

    /// The overrides that a dog's sheet tells of: those of keeps that would bind it.
    pub fn overrides_of<'a>(&'a self, dog: &'a Dog) -> impl Iterator<Item = &'a Overridden> {
        let has = |finding| dog.findings.iter().any(|fact| fact.finding == finding);
        self.overrides.iter().filter(move |o| o.finding.is_none_or(has))
    }

    /// The overrides that reach a site of a dog.
    pub fn overrides_on<'a>(&'a self, dog: &'a Dog, site: Site) -> impl Iterator<Item = &'a Overridden> {
        self.overrides_of(dog).filter(move |o| o.sites.has(site))
    }

    /// The keeps that name a site.
    pub fn keeps_at(&self, site: Site) -> impl Iterator<Item = &KeepEntry> {
        self.keeps_at.get(site.0 as usize).into_iter().flatten().filter_map(|&i| self.keeps.get(i as usize))
    }

    /// The finishes that reach a site.
    pub fn at(&self, site: Site) -> impl Iterator<Item = &Choice> {
        self.at.get(site.0 as usize).into_iter().flatten().filter_map(|&i| self.finishes.get(i as usize))
    }
}
