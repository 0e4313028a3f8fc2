//! Which word stands where, and what it may be: the one walk over the tree that every feature asks.

mod walk;

use grammar::tree::{Block, BlockKind, Direction, File, Span};
use smol_str::SmolStr;
use walk::Walk;

/// What a word may be.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Role {
    /// A zone, group or mark.
    Place,
    /// A tool by its name or blade number; a kind of tool or a motion where those may stand too.
    Tool,
    /// A comb by its length; the number is in thousandths of a millimetre.
    Comb(i64),
    /// A finding.
    Finding,
    /// A coat.
    Coat,
    /// A recipe.
    Recipe,
    /// A dog's card.
    Dog,
    /// A case.
    Case,
    /// The house.
    House,
    /// A kit.
    Kit,
    /// A step.
    Step,
    /// A shape or a way of working.
    Manner,
    /// A parameter or a let.
    Value,
    /// A rule's code.
    Code,
    /// The word with which a line or a block begins.
    Opening,
    /// Which way a tool runs.
    Way(Direction),
    /// A number with its unit.
    Number,
    /// Quoted text or prose.
    Text,
    /// Where a number is from.
    Source,
}

/// A word of a text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Word {
    /// Where it stands in the file.
    pub span: Span,
    /// As the compiler looks it up.
    pub text: SmolStr,
    /// What it may be.
    pub role: Role,
    /// Whether it is given its meaning here.
    pub declares: bool,
}

/// The words of one block that begins at a byte of its file, in the order of the text.
#[must_use]
pub fn of_block(block: &Block, at: u32) -> Vec<Word> {
    let mut walk = Walk { at, out: Vec::new() };
    walk.block(block);
    walk.out.sort_by_key(|w| (w.span.start, std::cmp::Reverse(w.span.end)));
    walk.out
}

/// The word at a byte: of two that meet there the one that begins.
#[must_use]
pub fn word_at(file: &File, at: u32) -> Option<Word> {
    let placed = file.blocks.iter().rev().find(|p| p.at <= at)?;
    innermost(of_block(&placed.block.block, placed.at), at, |w| w.span)
}

/// Of those whose words hold a byte the innermost: the blade under a comb before the comb.
pub fn innermost<T>(all: Vec<T>, at: u32, span: impl Fn(&T) -> Span) -> Option<T> {
    let found = all.into_iter().filter(|one| span(one).start <= at && at <= span(one).end);
    found.min_by_key(|one| (span(one).end == at, span(one).end - span(one).start))
}

/// What a declaration's own name is.
#[must_use]
pub const fn declared(kind: BlockKind) -> Option<Role> {
    Some(match kind {
        BlockKind::Zone | BlockKind::Group | BlockKind::Mark => Role::Place,
        BlockKind::Coat => Role::Coat,
        BlockKind::Finding => Role::Finding,
        BlockKind::Tool => Role::Tool,
        BlockKind::Kit => Role::Kit,
        BlockKind::Step => Role::Step,
        BlockKind::Form | BlockKind::Motion => Role::Manner,
        BlockKind::House => Role::House,
        BlockKind::Recipe => Role::Recipe,
        BlockKind::Dog => Role::Dog,
        BlockKind::Case => Role::Case,
        BlockKind::Unknown => return None,
    })
}

/// What the values of a plain line are.
#[must_use]
pub fn of_field(kind: BlockKind, name: &str) -> Option<Role> {
    Some(match (kind, name) {
        (_, "calls") => return declared(kind),
        (BlockKind::Zone, "borders")
        | (BlockKind::Group, "zones")
        | (BlockKind::Mark, "parts")
        | (BlockKind::Finding, "widens")
        | (_, "on") => Role::Place,
        (BlockKind::Coat, "dries") | (BlockKind::Finding, "steps") | (BlockKind::Step, "or-else" | "after") => {
            Role::Step
        }
        (BlockKind::Tool, "blends") => Role::Manner,
        (BlockKind::Tool, "over") | (BlockKind::Kit, "owns") | (BlockKind::Step, "uses") => Role::Tool,
        (BlockKind::House | BlockKind::Recipe | BlockKind::Case, "kit") => Role::Kit,
        (BlockKind::House | BlockKind::Recipe, "errors") => Role::Code,
        (BlockKind::Case, "recipe") => Role::Recipe,
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(marked: &str) -> Option<(String, Role, bool)> {
        let at = marked.find('|').unwrap_or_default();
        let text = marked.replacen('|', "", 1);
        let word = word_at(&grammar::parse(&text), u32::try_from(at).unwrap_or_default())?;
        Some((text.get(word.span.start as usize..word.span.end as usize)?.to_owned(), word.role, word.declares))
    }

    fn is(marked: &str, text: &str, role: Role) {
        assert_eq!(at(marked), Some((text.to_owned(), role, false)), "{marked}");
    }

    #[test]
    fn every_word_has_its_role() {
        is("recipe t { clip left hind| legs with #10 }", "hind legs", Role::Place);
        is("recipe t { clip belly with #1|0 in reverse }", "#10", Role::Tool);
        is("recipe t { clip belly with #10 in rev|erse }", "in reverse", Role::Way(Direction::Reverse));
        is("recipe t { clip legs with 13 mm comb over #|30 }", "#30", Role::Tool);
        is("recipe t { clip legs with 1|3 mm comb over #30 }", "13 mm comb over #30", Role::Comb(13_000));
        is("recipe t { guard sensitive|-belly { leave belly } }", "sensitive-belly", Role::Finding);
        is("recipe t { prep { dry str|etch } }", "dry stretch", Role::Step);
        is("recipe t { serves coat curl, fl|eece or wavy }", "fleece", Role::Coat);
        is("recipe t { extends sal|t version 3 }", "salt", Role::Recipe);
        is("recipe t { clip body to body|-length + 3 mm }", "body-length", Role::Value);
        is("recipe t { finish forelegs by shears, col|umn }", "column", Role::Manner);
        is("recipe t { keep belly no closer than #|10 }", "#10", Role::Tool);
        is("recipe t { |keep belly untouched }", "keep", Role::Opening);
        is("dog d { wants harb|our but { leave ears } }", "harbour", Role::Recipe);
        is("dog d { wants harbour but { leave e|ars } }", "ears", Role::Place);
        is("case c { given dog bra|mble }", "bramble", Role::Dog);
        is("case c { expect message C0|04 on throat }", "C004", Role::Code);
        is("group g { zones legs, right breast|bone }", "breastbone", Role::Place);
        is("kit k { owns two #|10, shears }", "#10", Role::Tool);
        assert_eq!(at("recipe |t {}"), Some(("t".into(), Role::Recipe, true)));
        assert_eq!(at("finding f { calls itc|h }"), Some(("itch".into(), Role::Finding, true)));
        assert_eq!(at("recipe t {} |"), None);
    }

    #[test]
    fn words_of_a_file_stand_in_order() {
        for (_, text) in coatwright::basics::TEXTS {
            let file = grammar::parse(text);
            let words: Vec<Word> = file.blocks.iter().flat_map(|p| of_block(&p.block.block, p.at)).collect();
            assert!(words.len() > 100);
            assert!(words.iter().zip(words.iter().skip(1)).all(|(a, b)| a.span.start <= b.span.start));
        }
    }
}
