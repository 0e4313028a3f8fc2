//! What changed on the dog between two versions of some texts.
//!
//! Two recipes are compared over every dog that both serve, by what is done to it, and never by their words. The dogs are those
//! of the proof ([`crate::prove`]): cells, coats, and at each site the findings that a statement of the old text and one of the new
//! need together, alone and with those of each keep. As in the proof that is enough: a dog with more findings meets no statement
//! that wins otherwise. What is worked out comes from [`crate::finish`], as for a card. A site of which both texts, the kit and
//! the vocabulary say just the same isn't worked out at all.

mod borders;
mod both;
mod keeps;
mod kits;
mod lines;
mod recipes;
mod render;
mod shown;
mod sites;
mod version;
mod vocabulary;

pub use recipes::compare;
pub use render::{DiffJson, json, markdown, text};
pub use shown::{Otherwise, Shown, gravest, shown};
pub use version::{Texts, Version};

use crate::names::sites::Sites;
use smol_str::SmolStr;

/// What kind of change it is, the gravest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Rank {
    /// A keep or a guard asks for less.
    Looser,
    /// An edge comes nearer to the skin.
    Closer,
    /// Teeth stand further apart.
    WiderTeeth,
    /// Less stays.
    Shorter,
    /// Turned against the coat, or more passes.
    Rougher,
    /// More dogs are served.
    MoreDogs,
    /// Done otherwise, or in another order.
    Other,
    /// More stays.
    Longer,
    /// Further from the skin, finer teeth, fewer passes.
    Gentler,
    /// A keep or a guard asks for more.
    Tighter,
    /// Fewer dogs are served.
    FewerDogs,
}

impl Rank {
    /// In a word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Looser => "looser",
            Self::Closer => "closer",
            Self::WiderTeeth => "wider teeth",
            Self::Shorter => "shorter",
            Self::Rougher => "rougher",
            Self::MoreDogs => "more dogs",
            Self::Other => "other",
            Self::Longer => "longer",
            Self::Gentler => "gentler",
            Self::Tighter => "tighter",
            Self::FewerDogs => "fewer dogs",
        }
    }
}

/// One change, over all parts where it is the same.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Change {
    /// What kind.
    pub rank: Rank,
    /// What it is about: parts of the dog, or a line of the recipe.
    pub what: String,
    /// How it was.
    pub old: String,
    /// How it is now.
    pub new: String,
    /// Whether it speaks of what is done there, rather than of a keep, a border or the whole.
    pub is_work: bool,
    /// Whether it is so on every dog that is served.
    pub on_all: bool,
    /// The dog for which the difference is largest, in words.
    pub whom: Option<String>,
    /// The same as a card.
    pub dog: Option<String>,
    /// How large the difference is, in nanometres: of two changes of a kind the larger comes first.
    size: i64,
    /// The parts of the dog where it is so; none if it concerns the dog as a whole.
    pub sites: Sites,
}

impl Change {
    /// A change of what is said of the recipe or the house as a whole.
    fn plain(rank: Rank, what: String, old: String, new: String) -> Self {
        let (whom, dog) = (None, None);
        Self { rank, what, old, new, is_work: false, on_all: true, whom, dog, size: 0, sites: Sites::NONE }
    }
}

/// How a recipe stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Status {
    /// The same trim on every dog.
    Same,
    /// Something changed, the gravest first.
    Changed(Vec<Change>),
    /// It wasn't there before.
    New,
    /// It isn't there any more.
    Gone,
    /// One of the two has a mistake that keeps it from being read: where, with its message.
    Unreadable(String),
}

/// A recipe, or a house, in both versions.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Compared {
    /// Its name: the new one.
    pub name: SmolStr,
    /// Whether it is a house, with what it adds to the basics.
    pub house: bool,
    /// What it was called, if otherwise.
    pub was: Option<SmolStr>,
    /// Its file now, or where it was.
    pub file: String,
    /// The file that it was in, if another.
    pub was_in: Option<String>,
    /// Its version before and now.
    pub versions: (Option<i64>, Option<i64>),
    /// Whether any of its words changed, or those of what it builds on.
    pub reworded: bool,
    /// How it stands.
    pub status: Status,
}

impl Compared {
    /// What changed, the gravest first.
    #[must_use]
    pub fn changes(&self) -> &[Change] {
        if let Status::Changed(changes) = &self.status { changes } else { &[] }
    }

    /// Whether a keep or a guard asks for less.
    #[must_use]
    pub fn is_looser(&self) -> bool {
        self.changes().iter().any(|c| c.rank == Rank::Looser)
    }
}

/// Cards in one text: each dog once, and each under a name of its own.
#[must_use]
pub fn cards(cards: &[&str]) -> String {
    let mut known: Vec<&str> = Vec::new();
    let mut out: Vec<String> = Vec::new();
    for card in cards {
        let (head, lines) = card.split_once('\n').unwrap_or((card, ""));
        if known.contains(&lines) {
            continue;
        }
        known.push(lines);
        let number = if known.len() == 1 { String::new() } else { format!("-{}", known.len()) };
        out.push(format!("{}{number} {{\n{lines}", head.trim_end_matches(" {")));
    }
    out.join("\n")
}
