//! Text that isn't read at all: too big, too deep, or no declaration. One message each.

use crate::error::{Fix, SyntaxError};
use crate::lex::line_end;
use crate::line::span;
use crate::outline::MAX_ERRORS;
use crate::say;
use crate::scan::word_end;
use crate::tree::{Block, BlockKind, Comment, Parsed, Trivia, Word};
use crate::words;
use thin_vec::ThinVec;

pub(crate) fn too_big(len: usize) -> SyntaxError {
    SyntaxError {
        code: "W018",
        message: "this file is too big to read: more than 16 MB".to_owned(),
        help: Some("split it into several files, one for each recipe or card".to_owned()),
        span: span(0, len.min(1)),
        related: None,
        fix: None,
    }
}

pub(crate) fn refuse(word: &str, error: SyntaxError) -> Parsed {
    Parsed {
        block: Block {
            kind: BlockKind::Unknown,
            keyword: Word { text: word.into(), span: error.span },
            name: None,
            body: ThinVec::new(),
            span: error.span,
            trivia: Trivia::default(),
        },
        errors: vec![error],
        broken: true,
        after: None,
    }
}

pub(crate) fn too_many(at: crate::tree::Span) -> SyntaxError {
    SyntaxError {
        code: "W030",
        message: format!("there are more than {MAX_ERRORS} mistakes; the rest aren't listed"),
        help: Some("mend these first".to_owned()),
        span: at,
        related: None,
        fix: None,
    }
}

/// Text that is no declaration: one message for all of it.
pub(crate) fn rubble(text: &str, at: usize, lead: ThinVec<Comment>) -> Parsed {
    let line = line_end(text.as_bytes(), at);
    let shown = text.get(at..line).unwrap_or("").trim_end();
    let e = at + shown.len();
    let first = text.get(at..word_end(text, at)).unwrap_or("");
    let lower = first.to_lowercase();
    let error = if shown.starts_with('}') {
        SyntaxError {
            code: "W002",
            message: "this closing brace closes nothing".to_owned(),
            help: Some("take it away, or look above for a brace that was closed too early".to_owned()),
            span: span(at, at + 1),
            related: None,
            fix: shown.chars().all(|c| c == '}').then(|| Fix {
                title: "take it away".to_owned(),
                span: span(at, e),
                text: String::new(),
            }),
        }
    } else if shown.starts_with('{') {
        SyntaxError {
            code: "W032",
            message: "a brace opens here without a declaration before it".to_owned(),
            help: Some("begin with what it is and its name, such as `recipe harbour-short {`".to_owned()),
            span: span(at, at + 1),
            related: None,
            fix: None,
        }
    } else {
        let near = words::nearest(&lower, words::BLOCKS.iter().map(|(w, _)| *w));
        match near.filter(|_| !first.is_empty()) {
            Some(near) if near != lower => say::unknown_block(first, span(at, at + first.len()), Some(near)),
            _ => SyntaxError {
                code: "W009",
                message: "this stands outside of any declaration".to_owned(),
                help: Some(
                    "put it inside the braces of a recipe, dog or other declaration, such as `recipe harbour-short { … }`"
                        .to_owned(),
                ),
                span: span(at, e),
                related: None,
                fix: None,
            },
        }
    };
    let mut parsed = refuse(&lower, error);
    parsed.block.span = span(at, text.trim_end().len().max(at));
    parsed.block.keyword.span = span(at, at + first.len());
    parsed.block.trivia.before = lead;
    parsed
}
