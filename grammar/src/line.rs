//! One logical line, tidied for pest: lower case, plain blanks, straight quotes, no comments, no source note.
//!
//! Nearly every line is plain already and is read where it stands. The others are copied, with a map back to the
//! bytes they came from, so that every span is true to the author's text.

use std::borrow::Cow;

use crate::error::{Fix, SyntaxError};
use crate::lex::{Kind, Lexer, blank_len, is_dash, is_quote};
use crate::tree::Span;
use crate::words;

/// A tidied line.
#[derive(Clone, Debug)]
pub(crate) struct Line<'a> {
    /// What pest reads.
    pub text: Cow<'a, str>,
    /// The block's text that spans point into.
    pub src: &'a str,
    start: usize,
    end: usize,
    map: Vec<(usize, usize)>,
}

impl<'a> Line<'a> {
    /// The line from `start` to `end`; `odd` says that it holds comments, notes or quotes that need care.
    pub(crate) fn new(src: &'a str, start: usize, end: usize, odd: bool, errors: &mut Vec<SyntaxError>) -> Self {
        let slice = src.get(start..end).unwrap_or("");
        if !odd && slice.bytes().all(|b| matches!(b, b' '..=b'@' | b'['..=b'~')) {
            return Self { text: Cow::Borrowed(slice), src, start, end, map: Vec::new() };
        }
        let mut copy = Copy { text: String::with_capacity(slice.len() + 8), map: Vec::new() };
        let mut lexer = Lexer::new(src.get(..end).unwrap_or(src), start);
        let mut last = start;
        while let Some(p) = lexer.next() {
            if p.start >= end {
                break;
            }
            if p.start > last && !copy.text.is_empty() {
                copy.put(last, " ");
            }
            last = p.end;
            match p.kind {
                Kind::Comment | Kind::Newline | Kind::Note(_) | Kind::Prose => copy.put(p.start, " "),
                Kind::Quote(_) => copy.quote(src, p.start, p.end),
                Kind::Open | Kind::Close | Kind::Semi => copy.put(p.start, src.get(p.start..p.end).unwrap_or("")),
                Kind::Run => copy.run(src, p.start, p.end.min(end), errors),
            }
        }
        Self { text: Cow::Owned(copy.text), src, start, end, map: copy.map }
    }

    /// The place in the block of the byte `at` of the tidied line.
    pub(crate) fn at(&self, at: usize) -> usize {
        if self.map.is_empty() {
            return self.start + at;
        }
        let i = self.map.partition_point(|(s, _)| *s <= at);
        let (s, o) = i.checked_sub(1).and_then(|k| self.map.get(k)).copied().unwrap_or((0, self.start));
        let next = self.map.get(i).map_or(self.end, |(_, o)| *o);
        (o + (at - s)).min(next.max(o))
    }

    /// The span in the block of `from..to` of the tidied line.
    pub(crate) fn span(&self, from: usize, to: usize) -> Span {
        let to = to.max(from);
        let start = self.at(from);
        let end = if self.map.is_empty() {
            self.start + to
        } else {
            // The end of the last byte inside, so that a span never reaches over what was left out.
            let mut end = if to > from { self.at(to) } else { start };
            while end > start && self.src.get(..end).is_some_and(|s| s.ends_with([' ', '\n', '\t', '\r', '\u{a0}'])) {
                end -= 1;
                while end > start && !self.src.is_char_boundary(end) {
                    end -= 1;
                }
            }
            end
        };
        span(start, floor(self.src, end.max(start)))
    }

    /// The author's own text of `from..to`.
    pub(crate) fn original(&self, from: usize, to: usize) -> &'a str {
        let s = self.span(from, to);
        self.src.get(s.start as usize..s.end as usize).unwrap_or("")
    }

    /// The same line with `from..to` replaced by `with`.
    pub(crate) fn replaced(&self, from: usize, to: usize, with: &str) -> Self {
        let mut map = if self.map.is_empty() { vec![(0, self.start)] } else { self.map.clone() };
        let (start, end) = (self.at(from), self.at(to));
        let tail: Vec<(usize, usize)> = map.iter().filter(|(s, _)| *s > to).copied().collect();
        map.retain(|(s, _)| *s < from);
        map.push((from, start));
        map.push((from + with.len(), end));
        map.extend(tail.into_iter().map(|(s, o)| (s - (to - from) + with.len(), o)));
        let mut text = self.text.get(..from).unwrap_or("").to_owned();
        text.push_str(with);
        text.push_str(self.text.get(to..).unwrap_or(""));
        Self { text: Cow::Owned(text), src: self.src, start: self.start, end: self.end, map }
    }

    /// The span of the whole line.
    pub(crate) fn whole(&self) -> Span {
        span(self.start, self.end)
    }
}

/// The nearest character boundary at or below `i`.
fn floor(text: &str, i: usize) -> usize {
    let mut i = i.min(text.len());
    while !text.is_char_boundary(i) {
        i -= 1;
    }
    i
}

/// A span of `usize` ends. Files above 16 MB are refused, so nothing is cut off.
pub(crate) fn span(start: usize, end: usize) -> Span {
    Span::new(u32::try_from(start).unwrap_or(u32::MAX), u32::try_from(end).unwrap_or(u32::MAX))
}

struct Copy {
    text: String,
    map: Vec<(usize, usize)>,
}

impl Copy {
    /// Adds `text` that stands for what begins at `from` in the block.
    fn put(&mut self, from: usize, text: &str) {
        self.map.push((self.text.len(), from));
        self.text.push_str(text);
    }

    fn quote(&mut self, src: &str, start: usize, end: usize) {
        let inner = src.get(start..end).unwrap_or("");
        self.put(start, "\"");
        let mut chars = inner.chars();
        let open = chars.next().map_or(1, char::len_utf8);
        let closed = inner.len() > open && inner.ends_with(|c: char| c == '"' || c == '\'' || is_quote(c));
        let close = if closed { chars.next_back().map_or(0, char::len_utf8) } else { 0 };
        self.map.push((self.text.len(), start + open));
        for c in inner.get(open..inner.len() - close).unwrap_or("").chars() {
            match c {
                '"' => self.text.push(' '),
                c => self.text.push(c),
            }
        }
        self.put(end - close, "\"");
        self.map.push((self.text.len(), end));
    }

    fn run(&mut self, src: &str, start: usize, end: usize, errors: &mut Vec<SyntaxError>) {
        let run = src.get(start..end).unwrap_or("");
        self.map.push((self.text.len(), start));
        if run.is_ascii() {
            self.text.extend(run.chars().map(|c| c.to_ascii_lowercase()));
            return;
        }
        let alike = disguised(run);
        if alike {
            disguise(run, start, errors);
        }
        let mut before: Option<char> = None;
        for (i, c) in run.char_indices() {
            let at = start + i;
            match c {
                _ if blank_len(run.as_bytes(), i) > 0 => {}
                '−' => self.put(at, " - "),
                _ if is_dash(c) => self.put(at, "-"),
                '…' => self.put(at, ".."),
                '×' => self.put(at, " * "),
                '÷' => self.put(at, " / "),
                '″' | '”' | '“' => self.put(at, "\""),
                '\u{300}'..='\u{36F}' => match before.and_then(|b| unicode_normalization::char::compose(b, c)) {
                    Some(one) => {
                        self.text.pop();
                        self.text.push(one);
                    }
                    None => self.put(at, c.encode_utf8(&mut [0; 4])),
                },
                _ => {
                    let shown = if alike { words::look_alike(c).unwrap_or(c) } else { c };
                    self.map.push((self.text.len(), at));
                    self.text.extend(shown.to_lowercase());
                }
            }
            before = self.text.chars().next_back();
        }
        self.map.push((self.text.len(), end));
    }
}

/// Whether a word mixes Latin letters with letters that only look like them, or spells a keyword with those.
fn disguised(run: &str) -> bool {
    run.split(|c: char| !(c.is_alphanumeric() || matches!(c, '-' | '\u{300}'..='\u{36F}'))).any(disguised_word)
}

fn disguised_word(word: &str) -> bool {
    let mut other = false;
    let mut latin = false;
    for c in word.chars() {
        if words::look_alike(c).is_some() {
            other = true;
        } else if c.is_alphabetic() || matches!(c, '\u{300}'..='\u{36F}') {
            if !c.is_ascii() {
                return false;
            }
            latin = true;
        }
    }
    if !other {
        return false;
    }
    let plain = plainly(word);
    latin
        || words::verb(&plain).is_some()
        || words::block(&plain).is_some()
        || words::SMALL.contains(&plain.as_str())
        || words::unit(&plain).is_some()
        || words::RECIPE_LINES.contains(&plain.as_str())
}

fn plainly(word: &str) -> String {
    word.chars().map(|c| words::look_alike(c).unwrap_or(c)).flat_map(char::to_lowercase).collect()
}

fn disguise(run: &str, start: usize, errors: &mut Vec<SyntaxError>) {
    let word = run.trim_matches(|c: char| !c.is_alphanumeric());
    let from = start + run.find(word).unwrap_or(0);
    let plain = plainly(word);
    let at = span(from, from + word.len());
    errors.push(SyntaxError {
        code: "W022",
        message: format!("`{word}` holds letters of another alphabet that only look like these"),
        help: Some(format!("write `{plain}` on this keyboard")),
        span: at,
        related: None,
        fix: Some(Fix { title: format!("write `{plain}`"), span: at, text: plain }),
    });
}
