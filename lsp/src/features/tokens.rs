//! Colours that know what a word means: a zone is told from a shape, and the basics' words from a house's own.

use super::at::{self, Role};
use super::resolve::{declared_at, is_basic, uses};
use crate::around::Here;
use crate::lines::Range;
use coatwright::names::lower::Decl;
use grammar::tree::{Block, Body, Comment, File, Span, Stmt, StmtKind, Trivia};
use std::collections::HashSet;

/// What a token is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A word with a role.
    Word(Role),
    /// A comment.
    Comment,
}

/// A run of characters within one line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Token {
    /// Where.
    pub range: Range,
    /// What it is.
    pub kind: Kind,
    /// Whether it is declared here.
    pub declares: bool,
    /// Whether it is a word of the basics.
    pub basic: bool,
}

/// The tokens of a document, or those of some of its bytes: in order, apart from one another, none over a line's end.
#[must_use]
pub fn tokens(here: &Here<'_>, within: Option<Span>) -> Vec<Token> {
    let (Some(tree), Some(salon)) = (here.tree(), here.salon()) else { return Vec::new() };
    let wanted = |span: Span| within.is_none_or(|w| span.start < w.end && w.start < span.end);
    let mut all: Vec<(Span, Kind, bool, bool)> = Vec::new();
    for placed in tree.blocks.iter().filter(|p| wanted(p.block.block.span.shifted(p.at))) {
        let decl = Decl { file: here.file, at: placed.at, block: &placed.block.block };
        let known = uses(&salon, decl);
        let basic = known.iter().filter(|u| declared_at(&salon, &u.target).is_some_and(|p| is_basic(p.file)));
        let basic: HashSet<Span> = basic.map(|u| u.word.span).collect();
        let known: HashSet<Span> = known.iter().map(|u| u.word.span).collect();
        for word in at::of_block(decl.block, decl.at) {
            let named = !matches!(
                word.role,
                Role::Opening | Role::Way(_) | Role::Number | Role::Text | Role::Source | Role::Code
            );
            // What nobody knows has a message and no colour.
            if !named || known.contains(&word.span) {
                all.push((word.span, Kind::Word(word.role), word.declares, basic.contains(&word.span)));
            }
        }
    }
    all.extend(comments(tree).into_iter().map(|span| (span, Kind::Comment, false, false)));
    all.retain(|(span, ..)| wanted(*span));
    all.sort_by_key(|(span, ..)| (span.start, std::cmp::Reverse(span.end)));
    let mut apart: Vec<(Span, Kind, bool, bool)> = Vec::new();
    for token in all {
        if let Some(last) = apart.last_mut()
            && token.0.start < last.0.end
        {
            // Of two that begin together the longer counts; else the first ends where the next begins.
            if token.0.start == last.0.start {
                continue;
            }
            last.0.end = token.0.start;
        }
        apart.push(token);
    }
    let lines = here.around.lines(here.file);
    let text = here.text();
    let mut out = Vec::new();
    for (span, kind, declares, basic) in apart {
        let (start, end) = (span.start as usize, span.end as usize);
        let mut at = start;
        for line in text.get(start..end).unwrap_or("").split_inclusive(['\n', '\r']) {
            let words = line.trim();
            let from = at + (line.len() - line.trim_start().len());
            if !words.is_empty() {
                let range = lines.range(from..from + words.len(), here.around.columns());
                out.push(Token { range, kind, declares, basic });
            }
            at += line.len();
        }
    }
    out
}

/// The comments of a file.
#[must_use]
pub fn comments(file: &File) -> Vec<Span> {
    let mut out: Vec<Span> = file.at_end.iter().map(|c| c.span).collect();
    for placed in &file.blocks {
        let mut own = Vec::new();
        of_block(&placed.block.block, &mut own);
        list(placed.block.after.iter(), &mut own);
        out.extend(own.into_iter().map(|span| span.shifted(placed.at)));
    }
    out.sort_unstable();
    out
}

fn list<'c>(comments: impl Iterator<Item = &'c Comment>, out: &mut Vec<Span>) {
    out.extend(comments.map(|c| c.span));
}

fn trivia(trivia: &Trivia, out: &mut Vec<Span>) {
    list(trivia.before.iter().chain(trivia.after.as_deref()).chain(&trivia.at_end), out);
}

fn of_block(block: &Block, out: &mut Vec<Span>) {
    trivia(&block.trivia, out);
    of_stmts(&block.body, out);
}

fn of_stmts(stmts: &[Stmt], out: &mut Vec<Span>) {
    for stmt in stmts {
        trivia(&stmt.trivia, out);
        if let StmtKind::Block(block) = &stmt.kind {
            of_block(block, out);
        }
        if let Some(body) = stmt.body() {
            of_body(body, out);
        }
    }
}

fn of_body(body: &Body, out: &mut Vec<Span>) {
    list(body.at_end.iter().chain(body.after_open.as_deref()), out);
    of_stmts(&body.stmts, out);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::around::tests::with;

    #[test]
    fn words_are_coloured_by_what_they_mean() {
        let text = "-- 🐩 one\nrecipe t { -- two\n  about\n    A line.\n    Another.\n  prep { dry stretch }\n  clip wave, nowhere by 13 mm comb over #30 in reverse\n}|";
        with(text, "group wave { zones legs }", |here, _| {
            let found = tokens(here, None);
            let said: Vec<(String, Kind, bool)> = found
                .iter()
                .map(|t| {
                    let (start, end) = (here.byte(t.range.start) as usize, here.byte(t.range.end) as usize);
                    (here.text().get(start..end).unwrap_or_default().to_owned(), t.kind, t.basic)
                })
                .collect();
            let has = |text: &str, kind: Kind, basic: bool| {
                assert!(said.contains(&(text.to_owned(), kind, basic)), "{text}: {said:?}");
            };
            has("-- 🐩 one", Kind::Comment, false);
            has("-- two", Kind::Comment, false);
            has("A line.", Kind::Word(Role::Text), false);
            has("Another.", Kind::Word(Role::Text), false);
            has("dry stretch", Kind::Word(Role::Step), true);
            has("wave", Kind::Word(Role::Place), false);
            has("13 mm comb over", Kind::Word(Role::Comb(13_000)), true);
            has("#30", Kind::Word(Role::Tool), true);
            assert!(said.iter().all(|(text, ..)| text != "nowhere"));
            assert!(found.iter().zip(found.iter().skip(1)).all(|(a, b)| a.range.end <= b.range.start));
            assert!(found.iter().all(|t| t.range.start.line == t.range.end.line));
            assert!(tokens(here, Some(Span::new(0, 5))).len() < found.len());
        });
    }
}
