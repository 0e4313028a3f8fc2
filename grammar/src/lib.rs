//! The text of trim recipes: a scanner that finds blocks and lines, a pest grammar that reads each line,
//! a syntax tree with spans and comments, recovery, and a formatter that proves its own output.
//!
//! [`parse`] is total: any text gives a [`tree::File`] and a list of mistakes. Parsing *is* [`scan`], then
//! [`parse_block`] for each chunk, so a caller that keeps the results by the text of a chunk re-reads only what changed.

// pest without `std` has no guard of its own for the stack: a line is short and its brackets are counted before pest sees it.
extern crate alloc;

mod again;
mod alike;
mod codes;
mod diagnose;
mod error;
mod flow;
mod format;
mod head;
mod lex;
mod line;
mod lines;
mod meaning;
mod moved;
mod outline;
mod read;
mod refuse;
mod say;
mod scan;
mod shape;
mod slips;
pub mod tree;
pub mod words;

pub use alike::alike;
pub use codes::CODES;
pub use error::{Fix, SyntaxError};
pub use format::{FormatRefused, comments, format, format_with_its_ends};
pub use head::{Base, Head, head};
pub use lines::{Columns, Lines};
pub use meaning::{meaning, meaning_of_block, meaning_of_way};
pub use outline::{MAX_DEPTH, MAX_ERRORS, parse_block, parse_block_again};
pub use scan::{Chunk, scan, scan_again};
pub use shape::{shape, shape_block, shape_bound};

use std::sync::Arc;
use tree::{Comment, File, Parsed, Placed};

/// Files above this many bytes are refused.
pub const MAX_SIZE: usize = 16 * 1024 * 1024;

/// Reads a file. Never fails: what is wrong stands in the blocks' `errors`.
#[must_use]
pub fn parse(text: &str) -> File {
    if text.len() > MAX_SIZE {
        let refused = refuse::refuse("", refuse::too_big(text.len()));
        return File { blocks: vec![Arc::new(Placed { at: 0, block: Arc::new(refused) })], at_end: Vec::new() };
    }
    parse_chunks(text, &scan(text), |c| Some(Arc::new(parse_block(text.get(c.range())?))))
}

/// Reads a file whose chunks are known, asking `block` for the tree of each: the place for a memo.
#[must_use]
pub fn parse_chunks(text: &str, chunks: &[Chunk], mut block: impl FnMut(&Chunk) -> Option<Arc<Parsed>>) -> File {
    let placed = |c: &Chunk| {
        let at = u32::try_from(c.start).ok()?;
        Some(Arc::new(Placed { at, block: block(c)? }))
    };
    let blocks = chunks.iter().filter_map(placed).collect();
    File { blocks, at_end: comments_after(text, chunks.last().map_or(0, |c| c.end)) }
}

fn comments_after(text: &str, end: usize) -> Vec<Comment> {
    let mut lexer = lex::Lexer::new(text, end);
    let mut out = Vec::new();
    while let Some(p) = lexer.next() {
        if p.kind == lex::Kind::Comment {
            let text = text.get(p.start..p.end).unwrap_or("").to_owned();
            out.push(Comment { text, span: line::span(p.start, p.end) });
        }
    }
    out
}

/// All mistakes of a file, in order, with spans counted from the file's start; at most [`MAX_ERRORS`].
#[must_use]
pub fn errors(file: &File) -> Vec<SyntaxError> {
    let mut out = Vec::new();
    for placed in &file.blocks {
        for e in &placed.block.errors {
            let mut e = e.clone();
            e.span = e.span.shifted(placed.at);
            if let Some((s, _)) = &mut e.related {
                *s = s.shifted(placed.at);
            }
            if let Some(f) = &mut e.fix {
                f.span = f.span.shifted(placed.at);
            }
            if out.len() + 1 == MAX_ERRORS {
                out.push(refuse::too_many(e.span));
                return out;
            }
            out.push(e);
        }
    }
    out
}
