//! What may be written at the cursor: by the block, and by the words of the line that are already there.
//!
//! A line that is being written can't be read yet, so the tree says only in which braces it stands; within the line its
//! first word and the last small word decide.

mod due;
mod writer;

use super::at::Role;
use super::effect;
use crate::around::Here;
use crate::lines::Range;
use coatwright::names::lower::Decl;
use due::due;
use grammar::tree::{BlockKind, Stmt, StmtKind};
use grammar::words::PREPOSITIONS;
use writer::Writer;

/// A word that may be written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Offer {
    /// What it replaces: what is written so far of the word, or of the words of a name.
    pub range: Range,
    /// The word.
    pub word: String,
    /// What kind of thing; none for a word of the language.
    pub role: Option<Role>,
    /// A few words about it.
    pub detail: Option<String>,
    /// What it is, in a sentence.
    pub about: Option<String>,
}

/// What may be written at a byte. `after_blank` says that a blank was just typed: then only what must follow is offered.
#[must_use]
pub fn offers(here: &Here<'_>, at: u32, after_blank: bool) -> Vec<Offer> {
    wanted(here, at, after_blank).unwrap_or_default()
}

fn wanted(here: &Here<'_>, at: u32, after_blank: bool) -> Option<Vec<Offer>> {
    let text = here.text().get(..at as usize)?;
    let place = Place::of(here, at);
    let line = Line::before(text)?;
    let due = due(&place, &line);
    if after_blank && !must_follow(&line) {
        return None;
    }
    let salon = here.salon()?;
    let served = place.decl.and_then(|decl| effect::served(&salon, decl));
    let mut writer = Writer {
        here,
        at,
        salon: &salon,
        served: served.as_ref(),
        line: &line,
        hyphens: line.partial.contains('-'),
        begun: None,
        out: Vec::new(),
    };
    for due in &due {
        writer.begun = None;
        writer.offer(due);
    }
    Some(writer.out)
}

/// Whether a line ends in a word after which only names of one kind can stand.
fn must_follow(line: &Line<'_>) -> bool {
    let follows = [
        "with", "by", "guard", "extends", "wants", "finding", "without", "between", "into", "except", "recipe", "kit",
        "never", "only", "blend", "order", "mats",
    ];
    line.partial.is_empty() && line.words.last().is_some_and(|last| follows.contains(last)) && !line.comma
}

/// In which braces a byte stands.
struct Place<'a> {
    decl: Option<Decl<'a>>,
    kind: Option<BlockKind>,
    inside: &'static str,
}

impl<'a> Place<'a> {
    fn of(here: &Here<'a>, at: u32) -> Self {
        let outside = Self { decl: None, kind: None, inside: "" };
        let Some(decl) = here.decl(at) else { return outside };
        let of_name = decl.block.name.as_ref().map_or(decl.block.keyword.span.end, |n| n.span.end);
        // Behind the closing brace, or still in the first line before the opening one.
        let local = at - decl.at;
        let closed = decl.end().is_some_and(|end| end.start < at);
        if local <= of_name || closed {
            return outside;
        }
        let mut place = Self { decl: Some(decl), kind: Some(decl.block.kind), inside: "" };
        place.descend(&decl.block.body, local);
        place
    }

    fn descend(&mut self, stmts: &'a [Stmt], at: u32) {
        for stmt in stmts {
            if let StmtKind::Block(block) = &stmt.kind
                && block.span.start < at
                && at < block.span.end
            {
                self.kind = Some(block.kind);
                return self.descend(&block.body, at);
            }
            let Some(body) = stmt.body().filter(|b| b.span.start < at && at < b.span.end) else { continue };
            match &stmt.kind {
                StmtKind::Prep(_) => self.inside = "prep",
                StmtKind::Lasts { .. } => self.inside = "lasts",
                StmtKind::Given { .. } => self.kind = Some(BlockKind::Dog),
                StmtKind::Wants { .. } => self.kind = Some(BlockKind::Recipe),
                _ => {}
            }
            return self.descend(&body.stmts, at);
        }
    }
}

/// The words of a line before the cursor.
#[derive(Debug)]
pub struct Line<'t> {
    /// The words that are done.
    pub words: Vec<&'t str>,
    /// What is written of the word at the cursor.
    partial: &'t str,
    /// The line up to the cursor.
    text: &'t str,
    /// Whether a comma stands before the word at the cursor.
    pub comma: bool,
}

impl<'t> Line<'t> {
    /// The line at the end of a text; none inside a comment or quoted text.
    #[must_use]
    pub fn before(text: &'t str) -> Option<Self> {
        let mut start = text.rfind(['\n', '\r', '{', '}', ';']).map_or(0, |at| at + 1);
        // A preposition at the beginning goes on with the line before, and so does whatever follows a comma.
        for _ in 0..8 {
            let first = text.get(start..)?.split_whitespace().next().unwrap_or("");
            let before = text.get(..start)?.trim_end();
            let goes_on = text.get(..start)?.ends_with(['\n', '\r'])
                && (before.ends_with(',') || (PREPOSITIONS.contains(&first)));
            if !goes_on {
                break;
            }
            start = before.rfind(['\n', '\r', '{', '}', ';']).map_or(0, |at| at + 1);
        }
        let text = text.get(start..)?;
        if text.contains("--") || text.matches(['"', '“', '”']).count() % 2 == 1 {
            return None;
        }
        let partial =
            text.rfind(|c: char| c.is_whitespace() || matches!(c, ',' | '(' | ')' | '"')).map_or(text, |at| {
                let after = at + text.get(at..).and_then(|t| t.chars().next()).map_or(1, char::len_utf8);
                text.get(after..).unwrap_or("")
            });
        let done = text.get(..text.len() - partial.len())?;
        let words = done.split(|c: char| c.is_whitespace() || c == ',').filter(|w| !w.is_empty()).collect();
        Some(Self { words, partial, text, comma: done.trim_end().ends_with(',') })
    }

    fn first(&self) -> &'t str {
        self.words.first().copied().unwrap_or("")
    }

    fn has(&self, word: &str) -> bool {
        self.words.contains(&word)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::around::tests::with;

    fn offered(marked: &str) -> Vec<(String, String)> {
        let mut out = Vec::new();
        with(marked, "recipe salt { param fold is 3 mm }\ndog bramble { weight 5 kg }", |here, at| {
            for found in offers(here, at, false) {
                let start = here.byte(found.range.start) as usize;
                let replaced = here.text().get(start..at as usize).unwrap_or_default().to_owned();
                out.push((replaced, found.word));
            }
        });
        out
    }

    fn offers_all(marked: &str, replaced: &str, words: &[&str]) {
        let found = offered(marked);
        for word in words {
            let wanted = (replaced.to_owned(), (*word).to_owned());
            assert!(found.contains(&wanted), "{marked}: {wanted:?} isn't in {found:?}");
        }
    }

    #[test]
    fn words_are_offered_by_place() {
        offers_all("rec|", "rec", &["recipe", "dog", "case"]);
        offers_all("recipe t {\n  |\n}", "", &["set in", "clip", "keep", "serves", "feet"]);
        offers_all("recipe t {\n  cl|\n}", "cl", &["clip"]);
        offers_all("recipe t {\n  clip |\n}", "", &["belly", "hind legs", "between-toes"]);
        offers_all("recipe t {\n  clip hind l|\n}", "hind l", &["hind legs"]);
        offers_all("recipe t {\n  clip neck, hind-l|\n}", "hind-l", &["hind-legs"]);
        offers_all("recipe t {\n  clip belly |\n}", "", &["with", "to", "in reverse", "except"]);
        offers_all("recipe t {\n  clip belly |\n}", "belly ", &["belly front"]);
        offers_all("recipe t {\n  clip belly with #|\n}", "#", &["#10", "19 mm comb", "the coat"]);
        offers_all("recipe t {\n  clip belly with #10 in |\n}", "", &["reverse"]);
        offers_all("recipe t {\n  clip belly with #10, |\n}", "", &["comb up", "one pass"]);
        offers_all("recipe t {\n  set in legs by 19 mm comb over |\n}", "", &["#30"]);
        offers_all("recipe t {\n  clip neck,\n    |\n}", "", &["belly"]);
        offers_all("recipe t {\n  clip neck\n    with |\n}", "", &["#10"]);
        offers_all("recipe t {\n  guard |\n}", "", &["irritation"]);
        offers_all("recipe t {\n  guard irritation { skim |belly }\n}", "", &["belly"]);
        offers_all("recipe t {\n  serves coat cu|\n}", "cu", &["curl"]);
        offers_all("recipe t {\n  when |\n}", "", &["weight", "coat", "irritation"]);
        offers_all("recipe t {\n  extends |\n}", "", &["salt"]);
        offers_all("recipe t {\n  extends salt\n  clip body to |\n}", "", &["fold"]);
        offers_all("recipe t {\n  prep { bath; dry s| }\n}", "dry s", &["dry stretch"]);
        offers_all("recipe t {\n  keep belly |\n}", "", &["no closer than", "untouched"]);
        offers_all("recipe t {\n  keep belly no closer than |\n}", "", &["#10"]);
        offers_all("recipe t {\n  blend neck into shoulder by |\n}", "", &["skimming"]);
        offers_all("dog d {\n  finding |\n}", "", &["irritation", "other"]);
        offers_all("dog d {\n  wants |\n}", "", &["salt"]);
        offers_all("dog d {\n  wants salt but { le| }\n}", "le", &["leave"]);
        offers_all("case c {\n  given dog |\n}", "", &["bramble"]);
        offers_all("case c {\n  expect message |\n}", "", &["C004"]);
        offers_all("finding f {\n  reply |\n}", "", &["raise", "answer"]);
    }

    #[test]
    fn nothing_is_offered_that_the_line_has_no_room_for() {
        let words = |marked| offered(marked).into_iter().map(|(_, word)| word).collect::<Vec<_>>();
        assert_eq!(words("recipe t {\n  extends salt |\n}"), ["from", "version"]);
        assert!(words("recipe t {\n  extends salt version |\n}").is_empty());
        assert!(words("recipe t {\n  lasts |\n}").is_empty());
        assert_eq!(words("recipe t {\n  lasts 6 |\n}"), ["weeks", "days", "months"]);
        assert_eq!(words("recipe t {\n  scissor legs to 25 |\n}"), ["mm", "cm", "inch"]);
        assert_eq!(words("recipe t {\n  set in legs by 25 |\n}"), ["mm comb"]);
        let scissored = words("recipe t {\n  scissor legs with |\n}");
        assert!(
            scissored.contains(&"curved shears".to_owned()) && !scissored.contains(&"#10".to_owned()),
            "{scissored:?}"
        );
        let blended = words("recipe t {\n  blend neck into shoulder by |\n}");
        for (word, fits) in [("thinners-46", true), ("tapering out", true), ("mat-splitter", false), ("again", false)] {
            assert_eq!(
                blended.iter().any(|b| b.replace(' ', "-") == word.replace(' ', "-")),
                fits,
                "{word}: {blended:?}"
            );
        }
    }

    #[test]
    fn nothing_is_offered_in_prose() {
        assert!(offered("recipe t {\n  title \"cl|\"\n}").is_empty());
        assert!(offered("recipe t {\n  leave belly -- with |\n}").is_empty());
        assert!(offered("recipe t {}\nrecipe |").is_empty());
    }

    #[test]
    fn a_blade_says_what_it_would_leave() {
        with("recipe t {\n  serves coat curl\n  clip belly with |\n}", "", |here, at| {
            let found = offers(here, at, true);
            let ten = found.iter().find(|o| o.word == "#10").and_then(|o| o.detail.clone()).unwrap_or_default();
            assert!(ten.contains("1.5 to 1.8 mm in reverse; ") && ten.ends_with("with the coat"), "{ten}");
            assert!(offers(here, at - 5, true).is_empty(), "a blank after a zone");
        });
    }
}
