//! The formatter: one layout for every recipe, and a proof with every run that nothing was changed but blanks.
//!
//! A block with a mistake in it is left byte for byte. The output is parsed again; if its tree or its comments differ
//! from those of the input, the formatter refuses and gives nothing back: better no order than a harmed recipe.

mod layout;
mod measure;
mod phrase;

use crate::outline::MAX_ERRORS;
use crate::tree::{Comment, File, Stmt, StmtKind, Trivia};
use crate::{Chunk, parse, scan, shape};

/// Lines longer than this are folded where they can be.
pub(crate) const WIDTH: usize = 100;

/// Why a text was left as it is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FormatRefused {
    /// The reason, for a person.
    pub reason: String,
}

impl std::fmt::Display for FormatRefused {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.reason)
    }
}

impl std::error::Error for FormatRefused {}

/// Writes a text in the common layout.
///
/// # Errors
///
/// Refuses a text that is too big, and any text whose new form would not read exactly like the old one.
pub fn format(text: &str) -> Result<String, FormatRefused> {
    if text.len() > crate::MAX_SIZE {
        return Err(FormatRefused { reason: "the file is too big: more than 16 MB".to_owned() });
    }
    let before = parse(text);
    let chunks = scan(text);
    let out = lay_out(text, &before, &chunks);
    let after = parse(&out);
    prove(&before, &after)?;
    Ok(out)
}

/// As [`format`], with the line ends that the text has: those of Windows if one of them is among its own.
///
/// # Errors
/// As [`format`].
pub fn format_with_its_ends(text: &str) -> Result<String, FormatRefused> {
    let made = format(text)?;
    Ok(if text.contains("\r\n") { made.replace("\r\n", "\n").replace('\n', "\r\n") } else { made })
}

fn lay_out(text: &str, file: &File, chunks: &[Chunk]) -> String {
    let mut out = String::with_capacity(text.len() + text.len() / 8);
    let mut last_end = 0;
    let mut last_kept = false;
    let mut last_short = false;
    for (placed, chunk) in file.blocks.iter().zip(chunks) {
        let parsed = &placed.block;
        let src = text.get(chunk.start..chunk.end).unwrap_or("");
        let gap = text.get(last_end..chunk.start).unwrap_or("").replace('\u{feff}', "");
        let gap = gap.as_str();
        if parsed.broken || parsed.errors.len() >= MAX_ERRORS {
            // Byte for byte, with the blanks before it.
            if last_kept || out.is_empty() {
                out.push_str(gap);
            } else {
                let blanks = gap.rsplit('\n').next().unwrap_or("");
                out.push_str(if !gap.contains('\n') {
                    gap
                } else if chunk.blank_before {
                    "\n\n"
                } else {
                    "\n"
                });
                if gap.contains('\n') {
                    out.push_str(blanks);
                }
            }
            out.push_str(src);
            last_kept = true;
            last_short = false;
        } else {
            let made = layout::block(src, parsed);
            let short = !made.contains('\n');
            if !out.is_empty() {
                out.push_str(if chunk.blank_before || !(short && last_short) { "\n\n" } else { "\n" });
            }
            out.push_str(&made);
            last_kept = false;
            last_short = short;
        }
        last_end = chunk.end;
    }
    let mut before = last_end;
    for (i, c) in file.at_end.iter().enumerate() {
        let gap = text.get(before..c.span.start as usize).unwrap_or("");
        if !out.is_empty() {
            let blank = gap.matches('\n').count() > 1;
            out.push_str(if blank || (i == 0 && !last_kept) { "\n\n" } else { "\n" });
        }
        out.push_str(&c.text);
        before = c.span.end as usize;
    }
    if !out.is_empty() && !out.ends_with('\n') {
        out.push('\n');
    }
    out
}

/// Compares what was read before and after.
fn prove(before: &File, after: &File) -> Result<(), FormatRefused> {
    let refuse = |what: &str| {
        Err(FormatRefused { reason: format!("the new layout would change {what}; the text is left as it is") })
    };
    if shape(before) != shape(after) {
        return refuse("what the recipe says");
    }
    if comments(before) != comments(after) {
        return refuse("a comment");
    }
    let codes = |f: &File| f.blocks.iter().flat_map(|b| b.block.errors.iter().map(|e| e.code)).collect::<Vec<_>>();
    if codes(before) != codes(after) {
        return refuse("what is wrong with the text");
    }
    Ok(())
}

/// Every comment of a file, sorted.
#[must_use]
pub fn comments(file: &File) -> Vec<String> {
    let mut out = Vec::new();
    for b in &file.blocks {
        trivia(&b.block.block.trivia, &mut out);
        out.extend(b.block.after.iter().map(|c| c.text.clone()));
        stmts(&b.block.block.body, &mut out);
    }
    list(&file.at_end, &mut out);
    out.sort();
    out
}

fn list(from: &[Comment], out: &mut Vec<String>) {
    out.extend(from.iter().map(|c| c.text.clone()));
}

fn trivia(t: &Trivia, out: &mut Vec<String>) {
    list(&t.before, out);
    out.extend(t.after.iter().map(|c| c.text.clone()));
    list(&t.at_end, out);
}

fn stmts(from: &[Stmt], out: &mut Vec<String>) {
    for s in from {
        trivia(&s.trivia, out);
        if let StmtKind::Block(b) = &s.kind {
            trivia(&b.trivia, out);
            stmts(&b.body, out);
        }
        if let Some(b) = s.body() {
            out.extend(b.after_open.iter().map(|c| c.text.clone()));
            list(&b.at_end, out);
            stmts(&b.stmts, out);
        }
    }
}
