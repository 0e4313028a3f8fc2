//! Findings: what a groomer sees, feels or is told, and what the whole trim must keep because of it.

use super::bound::{Bound, KeepLine};
use super::condition::Grade;
use super::sites::{Site, Sites};
use super::trade::{Sex, StepId};
use crate::measure::{Length, Time};
use crate::source::Place;
use serde::{Deserialize, Serialize};
use smol_str::SmolStr;

/// What the compiler does for a finding that no answer meets.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Reply {
    /// A gentler pass.
    Raise,
    /// The place is left.
    Leave,
    /// The place is for a vet.
    Refer,
    /// The author must write what is done.
    Answer,
}

/// When a vet is due.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Vet {
    /// That part, or the visit, stops.
    Now,
    /// The owner is told.
    Note,
}

/// Where a finding can be.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Where {
    /// Where the card says.
    Card,
    /// At these sites unless the card says otherwise.
    Fixed(Sites),
    /// The whole dog.
    Whole,
}

/// A finding.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Finding {
    /// Its name.
    pub name: SmolStr,
    /// What it is.
    pub about: String,
    /// Only of a dog, or only of a bitch.
    pub sex: Option<Sex>,
    /// Where it can be.
    pub on: Where,
    /// How far around it its keeps reach.
    pub margin: Option<Length>,
    /// Whether its keeps hold for the spot alone: the zone is worked, the spot is gone round.
    pub spot: bool,
    /// Whether its keeps hold on its own side only.
    pub one_side: bool,
    /// Whether a tool can have caused it.
    pub by_tool: bool,
    /// Its keeps.
    pub keeps: Vec<KeepLine>,
    /// What happens without an answer.
    pub reply: Reply,
    /// When a vet is due.
    pub vet: Option<Vet>,
    /// Whether the whole visit stops.
    pub stops_visit: bool,
    /// From whom the dog is kept apart.
    pub apart: Option<Apart>,
    /// Steps that a visit needs because of it.
    pub steps: Vec<StepId>,
    /// The part that it takes in whole on its side, wherever on that part the card puts it.
    pub widens: Sites,
    /// A dog younger than this has it, whatever the card says.
    pub younger_than: Option<Time>,
    /// A dog older than this has it, whatever the card says.
    pub older_than: Option<Time>,
    /// A dog with mats as bad as this where it can be has it there, whatever the card says.
    pub from_mats: Option<Grade>,
    /// Whether a tool that was there is cleaned before it goes anywhere else.
    pub soils: bool,
    /// What the owner must have agreed to because of it.
    pub needs: Vec<SmolStr>,
    /// Said at the step.
    pub cautions: Vec<String>,
    /// Said to the owner.
    pub owner: Vec<String>,
    /// Where it is declared.
    pub place: Place,
}

/// From whom a dog is kept apart: no two such are in the house at one time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Apart {
    /// From dogs or from bitches.
    From(Sex),
    /// From every other dog.
    All,
}

impl Finding {
    /// Whether a dog of this age has it, whatever its card says: below the one limit, above the other, or between both.
    #[must_use]
    pub fn is_due_by_age(&self, age: Time) -> bool {
        (self.younger_than.is_some() || self.older_than.is_some())
            && self.younger_than.is_none_or(|limit| age < limit)
            && self.older_than.is_none_or(|limit| age > limit)
    }

    /// Where a dog with such a mat has it, whatever its card says.
    #[must_use]
    pub fn is_due_by_mat(&self, grade: Grade, sites: Sites) -> Sites {
        match self.on {
            Where::Fixed(on) if self.from_mats.is_some_and(|least| grade >= least) => sites & on,
            Where::Fixed(_) | Where::Card | Where::Whole => Sites::NONE,
        }
    }

    /// Whether nothing comes near it: its margin is kept clear. Else what is minded at it is minded within its margin, too.
    #[must_use]
    pub fn is_kept_clear(&self) -> bool {
        let untouched = |line: &KeepLine| line.bound == Bound::Untouched;
        matches!(self.reply, Reply::Leave | Reply::Refer) || self.keeps.iter().any(untouched)
    }

    /// Whether it can be at a site: anywhere, unless it is known to be elsewhere.
    #[must_use]
    pub const fn may_be_at(&self, site: Site) -> bool {
        match self.on {
            Where::Fixed(sites) => sites.has(site),
            Where::Card | Where::Whole => true,
        }
    }
}
