//! Where a line goes on and where it ends, and the lines of prose.

use crate::lex::{blank_len, indent, line_end};
use crate::line::span;
use crate::read::Ctx;
use crate::scan::{head_at, word_end};
use crate::tree::Prose;
use crate::words;

/// The next word after blanks, lower-cased, and where it begins.
pub(crate) fn next_word(text: &str, from: usize) -> (String, usize) {
    let mut i = from;
    while blank_len(text.as_bytes(), i) > 0 {
        i += blank_len(text.as_bytes(), i);
    }
    (text.get(i..word_end(text, i)).unwrap_or("").to_lowercase(), i)
}

/// Where the statement before `at` goes on, if the next line with words belongs to it.
pub(crate) fn continues(text: &str, at: usize, ctx: Ctx, comma: bool) -> Option<usize> {
    let bytes = text.as_bytes();
    let mut i = at;
    let mut line = at;
    loop {
        let n = blank_len(bytes, i);
        if n > 0 {
            i += n;
            continue;
        }
        match bytes.get(i) {
            Some(b'\n') => {
                i += 1;
                line = i;
            }
            Some(b'-') if bytes.get(i + 1) == Some(&b'-') => i = line_end(bytes, i),
            Some(0xE2) if text.get(i..).is_some_and(|r| r.starts_with(['—', '–', '―'])) => i = line_end(bytes, i),
            _ => break,
        }
    }
    match bytes.get(i) {
        None | Some(b'}') => return None,
        Some(b'{') => return Some(i),
        _ => {}
    }
    if i == line && head_at(text, i) {
        return None;
    }
    if !comma
        && !matches!(
            bytes.get(i),
            Some(
                b't' | b'w'
                    | b'o'
                    | b'b'
                    | b'a'
                    | b'i'
                    | b'e'
                    | b'f'
                    | b'T'
                    | b'W'
                    | b'O'
                    | b'B'
                    | b'A'
                    | b'I'
                    | b'E'
                    | b'F'
            )
        )
    {
        return None;
    }
    let (word, _) = next_word(text, i);
    if comma {
        return (!begins_line(&word, ctx, text, i)).then_some(i);
    }
    (words::PREPOSITIONS.contains(&word.as_str()) && !ctx.owns(&word)).then_some(i)
}

/// Whether a word begins a line of its own, so that a comma before it has nothing after it.
fn begins_line(word: &str, ctx: Ctx, text: &str, at: usize) -> bool {
    if ctx.is_work() {
        if words::verb(word).is_some()
            || (words::RECIPE_LINES.contains(&word) && !matches!(word, "line" | "first" | "last"))
        {
            return true;
        }
        if matches!(word, "set" | "hand") {
            let (next, _) = next_word(text, at + word.len());
            return matches!((word, next.as_str()), ("set", "in") | ("hand", "strip"));
        }
        return false;
    }
    match ctx {
        Ctx::Block(kind) => words::fields_of(kind).contains(&word) || words::block(word).is_some(),
        _ => false,
    }
}

/// The lines of prose, with the indentation that they share taken away.
pub(crate) fn prose(text: &str, start: usize, end: usize) -> Prose {
    let raw = text.get(start..end).unwrap_or("");
    let lines: Vec<&str> = raw.split('\n').map(str::trim_end).collect();
    let mut at = start;
    let mut least = usize::MAX;
    for line in raw.split('\n') {
        let (col, first) = indent(text.as_bytes(), at);
        if first < at + line.trim_end().len() {
            least = least.min(col);
        }
        at += line.len() + 1;
    }
    let lines = lines
        .into_iter()
        .map(|l| {
            let (col, first) = indent(l.as_bytes(), 0);
            format!("{}{}", " ".repeat(col.saturating_sub(least.min(col))), l.get(first..).unwrap_or(""))
        })
        .collect();
    let (_, first) = indent(text.as_bytes(), start);
    Prose { lines, span: span(first.min(end), start + raw.trim_end().len()) }
}
