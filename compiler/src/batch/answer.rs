//! What comes back for a card.

use crate::cards::Written;
use crate::diagnostic::render::json::SeverityJson;
use crate::diagnostic::{Diagnostic, Severity};
use crate::sheet::{Sheet, SummaryJson};
use crate::source::{FileId, Sources};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The answer to a card as `batch` writes it, one a line.
#[derive(Clone, Debug, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[schemars(title = "Coatwright answer")]
pub struct AnswerJson {
    /// The line of the input, from 1.
    pub line: u64,
    /// The card's own `id`, if it has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub id: Option<String>,
    /// The card's name, as far as it could be read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dog: Option<String>,
    /// Whether the dog can be worked on by this recipe. If not, an error stands in `messages`.
    pub ok: bool,
    /// The recipe with its version.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub recipe: Option<String>,
    /// What a day's list needs of the sheet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub summary: Option<SummaryJson>,
    /// The whole sheet, where sheets are asked for; `coatwright schema sheet` says what it holds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sheet: Option<Sheet>,
    /// What there is to say.
    pub messages: Vec<SaidJson>,
}

/// A message about a card.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct SaidJson {
    /// The rule, such as `C002`; `coatwright explain C002` shows its page.
    pub code: String,
    /// How bad it is.
    pub severity: SeverityJson,
    /// What is wrong, in one line that can stand alone.
    pub message: String,
    /// What of the card it is about, as a JSON Pointer: `/findings/1`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<String>,
    /// Where it stands, if not on the card: `harbour-short.trim:12`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<String>,
    /// Why it matters.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub why: Option<String>,
    /// What to write or do instead.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub help: Option<String>,
}

impl SaidJson {
    /// A message, with the card's text and number if it was read.
    #[must_use]
    pub fn of(said: &Diagnostic, card: Option<(&Written, FileId)>, sources: &Sources) -> Self {
        let on_card = card.filter(|(_, file)| *file == said.place.file);
        let elsewhere = on_card.is_none() && said.place.file != FileId(u32::MAX);
        Self {
            code: said.code.to_owned(),
            severity: match said.severity {
                Severity::Note => SeverityJson::Note,
                Severity::Warning => SeverityJson::Warning,
                Severity::Error => SeverityJson::Error,
            },
            message: said.message.clone(),
            at: on_card.map(|(written, _)| written.pointer(said.place.start as usize).to_owned()),
            place: elsewhere
                .then(|| format!("{}:{}", sources.name(said.place.file), sources.line_column(said.place).0)),
            why: said.why.clone(),
            help: said.help.clone(),
        }
    }
}

impl AnswerJson {
    /// As one line with its end.
    pub(super) fn line(&self) -> String {
        // INVARIANT: the value holds nothing but texts and numbers, which always have a JSON form.
        serde_json::to_string(self).map(|line| line + "\n").unwrap_or_default()
    }
}
