//! The step sheet: what a groomer works from, and a note for the owner.
//!
//! [`make`] is the whole way for one dog: card and recipe in, choices, finishes, plan, the independent check, sheet out.

mod build;
mod cautions;
mod checked;
mod details;
mod facts;
mod gate;
mod make;
mod of_text;
mod on_card;
mod owner;
pub mod render;
mod replan;
mod seen;
mod soiled;
mod stands;
mod steps;
mod stops;
mod summary;
mod titles;
mod words;

pub use build::numbered;
pub use details::did_words;
pub use gate::blades;
pub use make::{Card, Made, Part, Request, Worked, finished, finished_part, make, make_part, make_today, worked};
pub use on_card::left;
pub use replan::{Earlier, Happened, NotReplanned, Replanned, Stage, replan};
pub use seen::{Seen, SeenDanger, SeenPlace};
pub use summary::SummaryJson;
pub(crate) use words::plain_time;

/// For what makes many sheets of one salon.
pub(crate) mod planning {
    pub(crate) use super::build::{recipe, sheet as build};
    pub(crate) use super::make::hash as fingerprint_of;
    pub(crate) use super::make::{At, Known, card_of, planned, trade_texts, which_recipe};
    pub(crate) use super::of_text::of_text;
    pub(crate) use super::summary::summary;
    pub(crate) use super::words::{how, leaves};
}

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A sheet, in words that are ready to be read. Page one is for the table, page two for the file.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct Sheet {
    /// The recipe's title.
    pub title: String,
    /// The recipe's name and version: `harbour-short 4`.
    pub recipe: String,
    /// The house's title.
    pub house: Option<String>,
    /// The day for which it was made.
    pub date: String,
    /// What was done and found before, if it is the rest of a visit.
    pub replanned: Option<String>,
    /// The strip that is read at arm's length.
    pub dog: DogStrip,
    /// One to five things that can hurt, with side and place; more are on page two.
    pub dangers: Vec<String>,
    /// The names of further dangers, whose cautions stand on page two.
    pub also: Option<String>,
    /// What the owner agreed to, and what nobody asked.
    pub consents: Vec<Consent>,
    /// What nobody asked the owner about.
    pub not_asked: Vec<String>,
    /// Parts, or the whole visit, that a vet must see first.
    pub vet_first: Vec<String>,
    /// Keeps of house or base that a senior took back for this recipe or dog: which, why, and who answers for it.
    pub overridden: Vec<String>,
    /// The tools in order of use: the number first, the millimetres second.
    pub lay_out: Vec<String>,
    /// The steps in working order.
    pub steps: Vec<Step>,
    /// What is left alone, and why where a finding says so.
    pub leave: Vec<String>,
    /// Steps that the recipe asks for and this dog must not have, and why.
    pub left_out: Vec<String>,
    /// Lines that will show because a finding moved one side.
    pub will_show: Vec<String>,
    /// How long the visit takes, as a groomer says it.
    pub takes: String,
    /// How long the dog bears it, who says so, how many rests that makes, and how long it stands.
    pub stands: Option<String>,
    /// What waits for another visit since the dog doesn't bear it today, why, and how it goes home.
    pub waits: Vec<String>,
    /// The lines to write on when it is done.
    pub write_back: Vec<String>,
    /// The note for the owner.
    pub owner: Owner,
    /// Page two.
    pub details: Details,
    /// What the picture is drawn from.
    pub seen: Seen,
}

impl Sheet {
    /// What can hurt, with side and place: all of it. A list for the day has no second page for the sixth.
    #[must_use]
    pub fn all_dangers(&self) -> Vec<String> {
        self.dangers.iter().chain(&self.details.cautions).cloned().collect()
    }

    /// What must still be asked of the owner.
    #[must_use]
    pub fn to_ask(&self) -> Vec<String> {
        to_ask(&self.consents, &self.not_asked)
    }

    /// That the recipe wasn't written for this dog, if so: it belongs on page one.
    #[must_use]
    pub fn not_served(&self) -> Option<&str> {
        let words = self.details.notes.iter().find_map(|n| n.strip_prefix(crate::diagnostic::code::D001))?;
        Some(words.trim_start())
    }
}

fn to_ask(consents: &[Consent], not_asked: &[String]) -> Vec<String> {
    let open = consents.iter().filter(|consent| consent.agreed.is_none()).map(|consent| &consent.what);
    open.chain(not_asked).cloned().collect()
}

/// Who is on the table.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct DogStrip {
    /// Name.
    pub name: String,
    /// `dog, neutered · 7 years · 12.4 kg · fleece, 48 mm`.
    pub facts: String,
    /// Breed and colour, if told.
    pub looks: Option<String>,
    /// Handling: loop, helper, muzzle.
    pub handling: Option<String>,
    /// Allergies and medicines.
    pub medical: Option<String>,
    /// Phones of owner and vet.
    pub phones: Option<String>,
    /// The last visit, and by whom.
    pub last: Option<String>,
}

/// What the owner said to a question.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct Consent {
    /// The question.
    pub what: String,
    /// The answer; none if nobody asked.
    pub agreed: Option<bool>,
}

/// One step of work.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct Step {
    /// Its number.
    pub number: u32,
    /// What it is: `Body`, `Bath`.
    pub title: String,
    /// How long: `10 to 15 min`.
    pub minutes: Option<String>,
    /// The work, one line a stroke.
    pub lines: Vec<Line>,
    /// The caution of the whole step.
    pub caution: Option<String>,
    /// Where it is done, at the first step of several there: `In the tub`.
    pub station: Option<String>,
    /// When one comes there, counted from the beginning: `1 h to 1 h 15`.
    pub begins: Option<String>,
    /// The rest before it.
    pub rest: Option<String>,
    /// How it is broken off, if it alone is longer than the dog stands at a stretch.
    pub breaks: Option<String>,
}

/// One stroke over some zones.
#[derive(Clone, Debug, Default, Serialize, Deserialize, JsonSchema)]
pub struct Line {
    /// The rest before it, where no stretch holds the whole step.
    pub rest: Option<String>,
    /// The tool, number first: `#10`, `19 mm comb over #30`, `shears`.
    pub tool: Option<String>,
    /// Whether that tool is taken up for this line: the one before was another.
    #[serde(default)]
    pub takes_up: bool,
    /// Which way: `with the coat`, `in reverse`, `across`.
    pub direction: Option<String>,
    /// What is done where: `set in legs`.
    pub work: String,
    /// What stays: `3 mm`.
    pub leaves: Option<String>,
    /// Passes and ways of working: `comb up, again`.
    pub how: Option<String>,
    /// The one thing to mind here.
    pub caution: Option<String>,
    /// What is different from the recipe as written, and why in a few words.
    pub differs: Option<String>,
    /// For learners: the statements that led to it.
    pub because: Option<String>,
}

/// The note for the owner: half a page, plain and kind.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct Owner {
    /// What was done.
    pub done: Vec<String>,
    /// What was found, and where.
    pub found: Vec<String>,
    /// What could not be done, and why.
    pub not_done: Vec<String>,
    /// What to do at home.
    pub at_home: Vec<String>,
    /// What to watch for.
    pub watch: Vec<String>,
    /// When to come again, and why then.
    pub next: Option<String>,
}

/// Page two: for the file, and for whoever asks why.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct Details {
    /// Every zone with what is done and the reasons.
    pub reasons: Vec<ZoneReasons>,
    /// Further dangers and cautions.
    pub cautions: Vec<String>,
    /// Reasons that a senior or a house gave for its own rules.
    pub because: Vec<String>,
    /// What may look different from the recipe.
    pub notes: Vec<String>,
    /// Fingerprints of what this sheet was made from.
    pub made_from: Vec<String>,
    /// What this sheet is and isn't.
    pub terms: Vec<String>,
}

/// Why a group of zones is done as it is.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct ZoneReasons {
    /// The zones.
    pub zones: String,
    /// What is done.
    pub work: String,
    /// Why, each with its place: `harbour-short.trim:12`.
    pub why: Vec<String>,
}
