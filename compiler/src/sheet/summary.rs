//! The little of a sheet that a list of many dogs needs, made without the rest.

use super::build::Builder;
use super::make::{Made, Request};
use super::{facts, owner, to_ask, words};
use crate::source::Sources;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What a day's list needs of a sheet.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct SummaryJson {
    /// The recipe's title.
    pub title: String,
    /// The day of the visit.
    pub date: String,
    /// What can hurt, with side and place: all of it.
    pub dangers: Vec<String>,
    /// Parts, or the whole visit, that a vet must see first.
    pub vet_first: Vec<String>,
    /// What must still be asked of the owner.
    pub ask: Vec<String>,
    /// How long the visit takes.
    pub takes: String,
    /// How long the dog can stand, and what that means.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stands: Option<String>,
    /// What waits for another visit since the dog doesn't bear it today, and why; empty where all is done.
    #[serde(default)]
    pub waits: Vec<String>,
    /// The tools in order of use.
    pub lay_out: Vec<String>,
    /// What is left alone.
    pub leave: Vec<String>,
    /// Steps that the recipe asks for and this dog must not have, and why.
    pub left_out: Vec<String>,
    /// When to come again, and why then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub next: Option<String>,
}

/// The summary of a plan.
pub fn summary(made: &Made, sources: &Sources, request: &Request) -> SummaryJson {
    let builder = Builder { made, sources, request };
    let Made { trade, dog, finishes, .. } = made;
    SummaryJson {
        title: made.choices.title.clone(),
        date: builder.date(),
        dangers: facts::dangers(dog, trade).into_iter().map(|d| d.words).collect(),
        vet_first: facts::vet_first(dog, trade, finishes.referred),
        ask: to_ask(&builder.consents(), &facts::not_asked(dog, trade)),
        takes: words::hours(made.plan.bears.takes),
        stands: builder.stands(),
        waits: builder.waits(),
        lay_out: builder.lay_out(),
        leave: builder.leave(),
        left_out: builder.left_out(),
        next: owner::next(made, request),
    }
}
