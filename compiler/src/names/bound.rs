//! Keeps as data: where they bind, and what must hold there.

use super::sites::Sites;
use super::trade::{Direction, Gap, Sex, StepId, ToolId, ToolKind, Trade};
use crate::measure::{Length, Time};
use crate::source::Place;
use serde::{Deserialize, Serialize};
use smol_str::SmolStr;

/// A constraint with its place.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct KeepLine {
    /// Where it binds.
    pub on: KeepOn,
    /// What must hold.
    pub bound: Bound,
    /// What declares it: `groin`, `irritation`, `saltmarsh`.
    pub owner: SmolStr,
    /// Where it stands.
    pub place: Place,
    /// The reason given for it.
    pub because: Option<String>,
    /// The sex that it binds, where its mark is only on one.
    pub sex: Option<Sex>,
}

/// Where a keep binds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum KeepOn {
    /// At the place of the finding.
    Place,
    /// At these sites.
    Sites(Sites),
    /// On the dog as a whole (order, time).
    Dog,
}

/// What must hold, with every name looked up.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Bound {
    /// Nothing closer; the blade by whose class it was said, if any.
    NoCloser(Length, Option<SmolStr>),
    /// So many blade classes over the tool that caused the finding.
    NoCloserOverCause(u32),
    /// Nothing shorter.
    NoShorter(Length),
    /// Nothing longer: a shape keep.
    AtMost(Length),
    /// Teeth no further apart.
    Gap(Gap),
    /// Nothing at all.
    Untouched,
    /// None of these.
    Never(Vec<Ban>),
    /// Only these.
    Only(Vec<Ban>),
    /// Never that way.
    NeverDirection(Direction),
    /// Only that way.
    OnlyDirection(Direction),
    /// At most so many passes.
    Passes(u32),
    /// As the first or last of the finishing passes.
    First,
    /// See `First`.
    Last,
    /// Eyes open from the front: a shape keep.
    Open,
    /// For a vet.
    Refer,
    /// No longer at a stretch.
    AtStretch(Time),
    /// No longer in all.
    InAll(Time),
    /// In this way.
    Manner(SmolStr),
}

impl Bound {
    /// Whether it protects the dog (welfare) rather than the look (shape). Welfare keeps always win.
    #[must_use]
    pub const fn is_welfare(&self) -> bool {
        !matches!(self, Self::AtMost(_) | Self::Open | Self::First | Self::Last | Self::Manner(_))
    }
}

/// What `never` and `only` can name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Ban {
    /// One tool.
    Tool(ToolId),
    /// A kind of tool.
    Kind(ToolKind),
    /// Anything on a clipper.
    AnyClipper,
    /// A step.
    Step(StepId),
}

impl Bound {
    /// Whether it changes what is done at a place, rather than when, for how long or in what manner.
    #[must_use]
    pub const fn changes_work(&self) -> bool {
        self.is_welfare() && !matches!(self, Self::AtStretch(_) | Self::InAll(_))
    }

    /// It as one writes it: `no closer than #7F`, `never comb`.
    #[must_use]
    pub fn words(&self, trade: &Trade) -> String {
        let ban = |b: &Ban| match b {
            Ban::Tool(t) => trade.tool(*t).map(|t| t.name.to_string()).unwrap_or_default(),
            Ban::Kind(kind) => format!("{kind:?}").to_lowercase(),
            Ban::AnyClipper => "clipper".to_owned(),
            Ban::Step(s) => trade.step(*s).map(|s| s.name.to_string()).unwrap_or_default(),
        };
        let bans = |all: &[Ban], word: &str| all.iter().map(ban).collect::<Vec<_>>().join(word);
        let way = |d: &Direction| match d {
            Direction::With => "with the coat",
            Direction::Reverse => "in reverse",
            Direction::Across => "across",
        };
        match self {
            Self::NoCloser(_, Some(blade)) => format!("no closer than {blade}"),
            Self::NoCloser(floor, None) => format!("no closer than {floor}"),
            Self::NoCloserOverCause(n) => format!("no closer than {n} class over its cause"),
            Self::NoShorter(least) => format!("no shorter than {least}"),
            Self::AtMost(most) => format!("at most {most}"),
            Self::Gap(gap) => format!("gap {}", gap.as_str()),
            Self::Untouched => "untouched".to_owned(),
            Self::Never(all) => format!("never {}", bans(all, ", ")),
            Self::Only(all) => format!("only {}", bans(all, " or ")),
            Self::NeverDirection(d) => format!("never {}", way(d)),
            Self::OnlyDirection(d) => way(d).to_owned(),
            Self::Passes(1) => "one pass".to_owned(),
            Self::Passes(n) => format!("{n} passes"),
            Self::First => "first".to_owned(),
            Self::Last => "last".to_owned(),
            Self::Open => "open".to_owned(),
            Self::Refer => "refer".to_owned(),
            Self::AtStretch(t) => format!("at most {} min at a stretch", t.0 / 60),
            Self::InAll(t) => format!("at most {} min in all", t.0 / 60),
            Self::Manner(name) => name.replace('-', " "),
        }
    }
}
