//! Reads one logical line: its first word chooses a rule of the grammar, pest reads it, and a builder makes the tree.

mod basic;
mod build;
mod card;
mod choose;
mod expr;
mod keep;
mod work;

pub(crate) use choose::Ctx;

use pest::Parser;
use pest::iterators::Pairs;
use thin_vec::{ThinVec, thin_vec};

use crate::diagnose;
use crate::error::SyntaxError;
use crate::line::{Line, span};
use crate::outline::Pending;
use crate::say;
use crate::tree::{Block, BlockKind, Body, Prose, Source, Stmt, StmtKind, Text, Trivia, Word};
use crate::words;
use choose::{Choice, choose};

/// The pest parser of lines.
#[derive(pest_derive::Parser)]
#[grammar = "trim.pest"]
pub(crate) struct TrimParser;

/// What builders need: the line, and where to put mistakes.
pub(crate) struct Rd<'l, 'a, 'e> {
    pub line: &'l Line<'a>,
    pub errors: &'e mut Vec<SyntaxError>,
}

/// A block's head.
pub(crate) struct Head {
    pub kind: BlockKind,
    pub keyword: Word,
    pub name: Option<Word>,
}

/// Reads a head: `KEYWORD NAME`.
pub(crate) fn read_head(src: &str, s: &Pending, errors: &mut Vec<SyntaxError>, top: bool) -> Option<Head> {
    let line = Line::new(src, s.start, s.end, s.odd, errors);
    let first = first_word(&line.text);
    let at = line.span(0, first.len());
    let mut keyword = Word { text: first.into(), span: at };
    let kind = match words::block(first) {
        Some(kind) => kind,
        None => {
            let near = words::nearest(first, words::BLOCKS.iter().map(|(w, _)| *w));
            if near.is_none() && !top {
                return None;
            }
            errors.push(say::unknown_block(src.get(at.start as usize..at.end as usize).unwrap_or(first), at, near));
            match near {
                Some(near) => {
                    keyword.text = near.into();
                    words::block(near).unwrap_or(BlockKind::Unknown)
                }
                None => BlockKind::Unknown,
            }
        }
    };
    let name = match TrimParser::parse(Rule::head, &line.text) {
        Ok(mut pairs) => {
            let mut rd = Rd { line: &line, errors };
            let inner = pairs.next().map(|p| p.into_inner());
            inner.and_then(|inner| rd.head_name(inner))
        }
        Err(e) => {
            diagnose::report(Rule::head, &line, &e, errors);
            return Some(Head { kind, keyword, name: None });
        }
    };
    if name.is_none() {
        errors.push(say::no_name(first, at));
    }
    Some(Head { kind, keyword, name })
}

/// The first word of a tidied line.
pub(crate) fn first_word(text: &str) -> &str {
    let text_end = text
        .find([' ', ',', ';', '"', '(', ')', '.', '/', '#', '+', '*', '=', '@', '|', '<', '>', ':'])
        .unwrap_or(text.len());
    text.get(..text_end).unwrap_or("")
}

/// Reads a statement and adds it (or them) to `out`.
pub(crate) fn read_statement(
    src: &str,
    ctx: Ctx,
    mut s: Pending,
    prose: Option<Prose>,
    body: Option<Body>,
    out: &mut ThinVec<Stmt>,
    errors: &mut Vec<SyntaxError>,
) {
    let source =
        s.note.map(|(a, b)| Box::new(Source { text: note_text(src.get(a..b).unwrap_or("")), span: span(a, b) }));
    let end = match &body {
        Some(b) => b.span.end as usize,
        None => s.end.max(s.note.map_or(0, |n| n.1)),
    };
    let whole = span(s.start, end);
    let trivia = std::mem::take(&mut s.trivia);
    let push = |out: &mut ThinVec<Stmt>, kind: StmtKind| {
        out.push(Stmt { kind, span: whole, source, trivia });
    };
    if let Some(prose) = prose {
        push(out, StmtKind::About(prose));
        return;
    }
    let mut line = Line::new(src, s.start, s.end, s.odd, errors);
    let known = errors.len();
    let (mut kind, mut more) = (None, ThinVec::new());
    let mut left = body;
    match choose(ctx, &line, left.is_some()) {
        Choice::Block => {
            if let Some(block) = nested(src, &s, &mut left, whole, errors) {
                kind = Some(block);
            }
        }
        Choice::Near { word, upto, rule } => {
            if rule.is_some() {
                errors.push(say::unknown_line(line.original(0, upto), line.span(0, upto), Some(&word), ctx));
            }
            let fixed = line.replaced(0, upto, &word.replace("set-in", "set in"));
            if let Some(rule) = rule {
                if let Ok(pairs) = TrimParser::parse(rule, &fixed.text) {
                    let mut rd = Rd { line: &fixed, errors };
                    kind = Some(rd.build(rule, pairs, &mut left, &mut more));
                }
            } else {
                kind = nested(src, &s, &mut left, whole, errors);
            }
        }
        Choice::Unknown => {
            let first = first_word(&line.text).len();
            errors.push(say::unknown_line(line.original(0, first), line.span(0, first.max(1)), None, ctx));
        }
        Choice::Free(first) => kind = Some(free(&line, first)),
        Choice::Odd => errors.push(say::odd_start(&line)),
        Choice::Rule(rule) => {
            let result = TrimParser::parse(rule, &line.text).map_err(Box::new);
            match result {
                Ok(pairs) => {
                    let mut rd = Rd { line: &line, errors };
                    kind = Some(rd.build(rule, pairs, &mut left, &mut more));
                }
                Err(e) => {
                    if let Some(fixed) = diagnose::mend(rule, &line, &e, errors) {
                        line = fixed;
                        if let Ok(pairs) = TrimParser::parse(rule, &line.text) {
                            let mut rd = Rd { line: &line, errors };
                            kind = Some(rd.build(rule, pairs, &mut left, &mut more));
                        }
                    } else if errors.len() == known {
                        diagnose::report(rule, &line, &e, errors);
                    }
                }
            }
        }
    }
    let broken = kind.is_none();
    push(out, kind.unwrap_or(StmtKind::Broken));
    for kind in more {
        out.push(Stmt { kind, span: whole, source: None, trivia: Trivia::default() });
    }
    // The lines of a body that has lost its head are kept.
    if let Some(body) = left {
        if !broken {
            errors.push(say::no_braces_here(
                first_word(&line.text),
                span(body.span.start as usize, body.span.start as usize + 1),
            ));
        }
        out.extend(body.stmts);
    }
}

fn nested(
    src: &str,
    s: &Pending,
    left: &mut Option<Body>,
    whole: crate::tree::Span,
    errors: &mut Vec<SyntaxError>,
) -> Option<StmtKind> {
    let Head { kind, keyword, name } = read_head(src, s, errors, false)?;
    let body = left.take().unwrap_or_default();
    Some(StmtKind::Block(Box::new(Block {
        kind,
        keyword,
        name,
        body: body.stmts,
        span: whole,
        trivia: Trivia { before: ThinVec::new(), blank_before: false, after: body.after_open, at_end: body.at_end },
    })))
}

/// A plain line whose words are taken as they stand: `phone 0123 456-789`.
fn free(line: &Line, first: usize) -> StmtKind {
    let all: &str = &line.text;
    let rest = all.get(first..).unwrap_or("");
    let from = first + rest.len() - rest.trim_start().len();
    let at = line.span(from, all.trim_end().len().max(from));
    let text = Text { text: line.src.get(at.start as usize..at.end as usize).unwrap_or("").to_owned(), span: at };
    let name = Word { text: all.get(..first).unwrap_or("").into(), span: line.span(0, first) };
    let values = thin_vec![crate::tree::Value { kind: crate::tree::ValueKind::Text(text), span: at }];
    StmtKind::Field(crate::tree::Field { name, values })
}

/// The words between the brackets of a source note.
fn note_text(raw: &str) -> String {
    let inner = raw.strip_prefix('(').unwrap_or(raw);
    inner.strip_suffix(')').unwrap_or(inner).trim().to_owned()
}

impl Rd<'_, '_, '_> {
    fn head_name(&mut self, pairs: Pairs<Rule>) -> Option<Word> {
        let mut name: Option<Word> = None;
        for p in pairs {
            match p.as_rule() {
                Rule::string => {
                    let Text { text, span } = self.text(&p);
                    return Some(Word { text: text.into(), span });
                }
                Rule::head_name | Rule::head_blade => {
                    let w = if p.as_rule() == Rule::head_blade { self.blade(&p) } else { self.word_of(&p) };
                    name = Some(match name {
                        None => w,
                        Some(n) => Word { text: format!("{}-{}", n.text, w.text).into(), span: n.span.to(w.span) },
                    });
                }
                _ => {}
            }
        }
        name
    }
}
