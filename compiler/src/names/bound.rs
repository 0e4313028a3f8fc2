//! Keeps as data: where they bind, and what must hold there.

use super::sites::Sites;
use super::trade::{Direction, Gap, Sex, StepId, ToolId, ToolKind};
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
}
