//! Cards as JSON, for programs that hold many of them.
//!
//! A card in JSON is another spelling of the `dog` block and nothing else: its values are the words of the language, [`CardJson::text`]
//! writes them as a block, and the block is read as ever. What a value means is decided in one place, `names/card.rs`.

mod few;
mod from_block;
mod text;

pub use few::Few;
pub use from_block::{NoJson, from_text};
pub use text::Written;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A dog's card. Every value is written as in a `dog` block, with its unit: `12.4 kg`, `left lip`, `#10`.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a card, such as {\"dog\": \"bramble\"}")]
#[schemars(title = "Coatwright card")]
pub struct CardJson {
    /// The card's name, as in `dog bramble { … }`.
    pub dog: String,
    /// By what your program knows this card. It comes back with the answer and means nothing else.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub id: Option<String>,
    /// `dog` or `bitch`, then `neutered`, `spayed 2025-09`, `entire`.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub sex: Few<String>,
    /// The breed, in any words.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub breed: Few<String>,
    /// The colour, in any words.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub colour: Few<String>,
    /// `square`, `long`, `deep-chested` or `short-faced`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub build: Option<String>,
    /// How it carries ears and tail, for the picture: `ears prick`, `tail curled`.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub carries: Few<String>,
    /// Height at the withers: `38 cm`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub height: Option<String>,
    /// The coat of the whole dog, and coats elsewhere.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub coat: Few<CoatJson>,
    /// Weight: `12.4 kg`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weight: Option<String>,
    /// Birthday or its month: `2019-05`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub born: Option<String>,
    /// The day on which the dog was looked over: `2026-11-20`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seen: Option<String>,
    /// What the owner was asked about: `skin`, `ears`, `heart`.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub asked: Few<String>,
    /// What was found on the dog.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub findings: Few<FindingJson>,
    /// Mats.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub mats: Few<MatsJson>,
    /// What the owner said to: `clip-off yes`, `photos no`.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub consent: Few<String>,
    /// How long it stands: `40 min at a stretch`, `2 h in all`.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub stands: Few<String>,
    /// How it is handled, in any words.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub handling: Few<String>,
    /// The last visit: a day, or any words.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub last: Few<String>,
    /// By whom, in any words.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub by: Few<String>,
    /// What was done at earlier visits.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub visits: Few<VisitJson>,
    /// What the owner says, in any words.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub owner_says: Few<String>,
    /// The vet, in any words.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub vet: Few<String>,
    /// The owner's telephone.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub phone: Few<String>,
    /// Allergies, in any words.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub allergies: Few<String>,
    /// Medicine, in any words.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub medicine: Few<String>,
    /// How often it is brushed, in any words.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub brushed: Few<String>,
    /// The dog's name as the sheet writes it, if not the card's.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub title: Few<String>,
    /// A photograph, in any words.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub photo: Few<String>,
    /// Anything else, in any words.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub note: Few<String>,
    /// The recipe that the owner wants.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub wants: Few<WantsJson>,
}

/// A coat: `coat fleece, undercoat some, 48 mm; topknot 70 mm`.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a coat, such as {\"coat\": \"curl\"}")]
pub struct CoatJson {
    /// Its name: `fleece`.
    pub coat: String,
    /// Where, if not on the whole dog: `foreface, ears`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<String>,
    /// Words beside it: `undercoat some`, `changing`.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub also: Few<String>,
    /// Its length today: `48 mm`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub length: Option<String>,
    /// Lengths elsewhere: `topknot 70 mm`.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub lengths: Few<String>,
}

/// A finding: `finding irritation on throat after #10 in reverse seen 2026-08-02`.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a finding, such as {\"finding\": \"heart\"}")]
pub struct FindingJson {
    /// Its name: `wart`; `other` for what has none.
    pub finding: String,
    /// What it is, for `other`: `scab under the collar`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
    /// Where: `left lip`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<String>,
    /// The tool that left it: `#10`, `19 mm comb`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub after: Option<String>,
    /// Which way that tool ran: `with the coat`, `in reverse` or `across`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub way: Option<String>,
    /// When it was seen: `2026-08-02`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seen: Option<String>,
}

/// Mats: `mats tight on breeches, 20 mm off the skin`.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(
    rename_all = "kebab-case",
    deny_unknown_fields,
    expecting = "mats, such as {\"grade\": \"knots\", \"on\": \"legs\"}"
)]
pub struct MatsJson {
    /// How bad: `tangle`, `knots`, `tight`, `pelted`.
    pub grade: String,
    /// Where: `breeches`.
    pub on: String,
    /// How far off the skin they begin: `20 mm`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub off_skin: Option<String>,
}

/// A visit: `visit 2026-11-25, harbour-short version 4, #10, #7F`.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a visit, such as {\"on\": \"2026-11-25\"}")]
pub struct VisitJson {
    /// The day.
    pub on: String,
    /// What was done, and the tools: `harbour-short version 4`, `#10`, `shears`.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub did: Few<String>,
}

/// What the owner wants: `wants harbour-short but { leave ears }`.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, expecting = "a wish, such as {\"recipe\": \"harbour-short\"}")]
pub struct WantsJson {
    /// The recipe's name.
    pub recipe: String,
    /// What is to be different, each a statement of a recipe: `leave ears`.
    #[serde(default, skip_serializing_if = "Few::is_empty")]
    pub but: Few<String>,
}

/// Reads a card. What isn't JSON or has a field that no card has is told in words, with the column.
///
/// # Errors
/// What is wrong with the JSON.
pub fn parse(json: &str) -> Result<CardJson, String> {
    serde_json::from_str(json).map_err(|error| {
        let words = error.to_string();
        // It stands on one line, whose number the caller knows.
        let (words, _) = words.rsplit_once(" at line ").unwrap_or((&words, ""));
        match error.classify() {
            serde_json::error::Category::Eof => "it ends too early".to_owned(),
            _ => format!("{words}, at column {}", error.column()),
        }
    })
}
