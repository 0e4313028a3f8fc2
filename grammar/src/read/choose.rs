//! Which rule reads a line: decided by where the line stands and by its first word or two.

use crate::line::Line;
use crate::read::{Rule, first_word};
use crate::tree::BlockKind;
use crate::words;

/// Where a line stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Ctx {
    /// In a block, or a body that takes the block's lines (`when`, `guard`).
    Block(BlockKind),
    /// In `prep { … }`.
    Prep,
    /// In `lasts { … }`.
    Lasts,
}

impl Ctx {
    /// Where the lines of a body stand that a line beginning with `first` opens here.
    pub(crate) fn inside(self, first: &str) -> Self {
        match first {
            "prep" => Self::Prep,
            "lasts" => Self::Lasts,
            "given" => Self::Block(BlockKind::Dog),
            "wants" => Self::Block(BlockKind::Recipe),
            "when" | "else" | "guard" => self,
            _ => match words::block(first) {
                Some(kind) => Self::Block(kind),
                None if self.is_work() => self,
                None => words::nearest(first, words::BLOCKS.iter().map(|(w, _)| *w))
                    .and_then(words::block)
                    .map_or(self, Self::Block),
            },
        }
    }

    /// Whether lines of work stand here.
    pub(crate) const fn is_work(self) -> bool {
        matches!(self, Self::Block(BlockKind::Recipe | BlockKind::House | BlockKind::Unknown))
    }

    /// Whether a preposition begins a plain line of its own here (`over` in a tool).
    pub(crate) fn owns(self, word: &str) -> bool {
        matches!(
            (self, word),
            (Self::Block(BlockKind::Tool), "over")
                | (Self::Block(BlockKind::Motion), "along")
                | (Self::Block(BlockKind::Dog), "by")
        )
    }

    /// The words that may begin a line here.
    pub(crate) fn lines(self) -> Vec<&'static str> {
        match self {
            Self::Block(BlockKind::Recipe | BlockKind::House | BlockKind::Unknown) => words::VERBS
                .iter()
                .map(|(w, _)| *w)
                .chain(words::RECIPE_LINES.iter().copied())
                .chain(words::RECIPE_FIELDS.iter().copied())
                .chain(words::SHORT.iter().copied())
                .collect(),
            Self::Block(kind) => words::fields_of(kind).to_vec(),
            Self::Prep | Self::Lasts => Vec::new(),
        }
    }
}

/// What reads a line.
pub(crate) enum Choice {
    /// A rule of the grammar.
    Rule(Rule),
    /// A block inside a block.
    Block,
    /// The first `upto` bytes are a slip for `word`, which this rule (or a nested block) reads.
    Near { word: String, upto: usize, rule: Option<Rule> },
    /// No line begins so.
    Unknown,
    /// A line whose words are free; its first word has this many bytes.
    Free(usize),
    /// It doesn't begin with a word at all.
    Odd,
}

/// Chooses by the first words of a line.
pub(crate) fn choose(ctx: Ctx, line: &Line, body: bool) -> Choice {
    let text: &str = &line.text;
    let w1 = first_word(text);
    if !w1.starts_with(char::is_alphabetic) {
        return if ctx == Ctx::Lasts { Choice::Rule(Rule::cap) } else { Choice::Odd };
    }
    let rest = text.get(w1.len()..).unwrap_or("");
    let w2 = first_word(rest.trim_start());
    let free = ctx == Ctx::Block(BlockKind::Dog) && matches!(w1, "phone" | "note" | "owner-says");
    if free && !rest.trim().is_empty() && !rest.contains('"') {
        return Choice::Free(w1.len());
    }
    if let Some(choice) = known(ctx, w1, w2, body) {
        return choice;
    }
    if words::PREPOSITIONS.contains(&w1) && !ctx.owns(w1) {
        return Choice::Unknown;
    }
    // A slip in the first word?
    let lines = ctx.lines();
    let near = |w: &str| -> Option<&'static str> {
        let mut all = lines.clone();
        if body {
            all.extend(words::BLOCKS.iter().map(|(w, _)| *w));
        }
        if ctx.is_work() {
            all.extend((w2 == "in").then_some("set"));
            all.extend((w2 == "strip").then_some("hand"));
        }
        words::meant(w).filter(|m| all.contains(m)).or_else(|| words::nearest(w, all.iter().copied()))
    };
    if let Some(word) = near(w1) {
        if word == "set" && w2 == "in" || word == "hand" && w2 == "strip" {
            return Choice::Near { word: word.to_owned(), upto: w1.len(), rule: Some(Rule::work_two) };
        }
        if !matches!(word, "set" | "hand") {
            match known(ctx, word, w2, body) {
                Some(Choice::Rule(rule)) => {
                    return Choice::Near { word: word.to_owned(), upto: w1.len(), rule: Some(rule) };
                }
                Some(Choice::Block) => return Choice::Near { word: word.to_owned(), upto: w1.len(), rule: None },
                _ => {}
            }
        }
    }
    match ctx {
        Ctx::Block(BlockKind::Recipe | BlockKind::House) => Choice::Unknown,
        Ctx::Block(BlockKind::Unknown) if body => Choice::Unknown,
        Ctx::Block(BlockKind::Case) => Choice::Unknown,
        _ => Choice::Rule(Rule::field),
    }
}

fn known(ctx: Ctx, w1: &str, w2: &str, body: bool) -> Option<Choice> {
    if w1 == "about" {
        return Some(Choice::Rule(Rule::about));
    }
    let rule = match ctx {
        Ctx::Prep if words::PREPOSITIONS.contains(&w1) => return None,
        Ctx::Prep => Rule::field,
        Ctx::Lasts => Rule::cap,
        Ctx::Block(BlockKind::Dog) => match w1 {
            "coat" => Rule::card_coat,
            "finding" => Rule::card_finding,
            "mats" => Rule::card_mats,
            "wants" => Rule::wants,
            w if words::DOG_LINES.contains(&w) => Rule::field,
            _ => return None,
        },
        Ctx::Block(BlockKind::Case) => match w1 {
            "given" => Rule::given,
            "expect" => Rule::expect,
            w if words::CASE_LINES.contains(&w) => Rule::field,
            _ => return None,
        },
        Ctx::Block(kind) if ctx.is_work() => {
            if words::verb(w1).is_some() {
                return Some(Choice::Rule(Rule::work));
            }
            match w1 {
                "set" if w2 == "in" => Rule::work_two,
                "hand" if w2 == "strip" => Rule::work_two,
                "keep" => Rule::keep,
                "override" => Rule::override_,
                "when" => Rule::when,
                "else" => {
                    if w2 == "when" {
                        Rule::else_when
                    } else {
                        Rule::bare
                    }
                }
                "guard" => Rule::guard,
                "blend" => Rule::blend,
                "line" => Rule::line,
                "order" => Rule::order,
                "first" | "last" => Rule::edge,
                "lasts" => Rule::lasts,
                "prep" => Rule::bare,
                "param" => Rule::param,
                "let" => Rule::let_,
                "serves" => Rule::when,
                "extends" => Rule::extends,
                w if body && words::block(w).is_some() => return Some(Choice::Block),
                w if words::SHORT.contains(&w) => Rule::short,
                w if words::RECIPE_FIELDS.contains(&w) => Rule::field,
                _ if kind == BlockKind::Unknown && !body => Rule::field,
                _ => return None,
            }
        }
        Ctx::Block(kind) => match w1 {
            "keep" => Rule::keep,
            w if body && words::block(w).is_some() => return Some(Choice::Block),
            w if words::fields_of(kind).contains(&w) => Rule::field,
            _ => return None,
        },
    };
    Some(Choice::Rule(rule))
}
