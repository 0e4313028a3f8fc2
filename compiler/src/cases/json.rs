//! For programs: one JSON object a case and a line.

use super::Ran;
use crate::diagnostic::render::json::{MessageJson, PlaceJson, message_json, place_json};
use crate::source::Sources;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A case as `test --format json` writes it, one a line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(title = "Coatwright case")]
pub struct CaseJson {
    /// Its name.
    pub case: String,
    /// Where its name stands.
    pub place: PlaceJson,
    /// The recipe that it is about; none where the case couldn't be run.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub recipe: Option<String>,
    /// Whether all that it expects holds.
    pub passed: bool,
    /// How many lines expect something.
    pub expects: usize,
    /// How many of them don't hold.
    pub fails: usize,
    /// What doesn't hold, or why it couldn't be run.
    pub messages: Vec<MessageJson>,
}

impl CaseJson {
    /// A case that was run.
    #[must_use]
    pub fn of(ran: &Ran, sources: &Sources) -> Self {
        Self {
            case: ran.name.to_string(),
            place: place_json(sources, ran.place),
            recipe: ran.recipe.as_ref().map(ToString::to_string),
            passed: ran.passed(),
            expects: ran.expects,
            fails: ran.fails,
            messages: ran.said.iter().map(|d| message_json(d, sources)).collect(),
        }
    }
}
