//! Splits a file into its top-level blocks, each of which can be parsed (and remembered) by its own text alone.
//!
//! A head (`KEYWORD NAME {`) at the start of a line always begins a new block, even inside prose or behind a brace
//! that was never closed, so a slip never leaks into the next declaration.

use crate::alike::alike;
use crate::lex::{Kind, Lexer, blank_len, line_end};
use crate::words;

/// A top-level block's place in the file: from its first comment (or keyword) to its closing brace and the comment
/// behind that.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Chunk {
    /// First byte.
    pub start: usize,
    /// One past the last byte.
    pub end: usize,
    /// Whether an empty line stands before it.
    pub blank_before: bool,
    /// Whether it ends with its own brace, and its line with it: what comes after hangs on nothing before.
    pub closed: bool,
}

impl Chunk {
    /// Its bytes.
    #[must_use]
    pub const fn range(&self) -> std::ops::Range<usize> {
        self.start..self.end
    }
}

/// The top-level blocks of a file, in order. Text that belongs to no block is a chunk too.
#[must_use]
pub fn scan(text: &str) -> Vec<Chunk> {
    let mut s = Scanner::new(text, Vec::new(), None);
    s.run(0);
    s.out
}

/// The blocks of a text that was another before, and how many of them at its front and at its back are those of that other
/// text: what stands between two blocks that end with their own braces is looked at alone.
#[must_use]
pub fn scan_again(text: &str, old: &str, known: &[Chunk]) -> (Vec<Chunk>, usize, usize) {
    let (front, back) = alike(old.as_bytes(), text.as_bytes());
    let kept = known.iter().rposition(|c| c.end + 1 < front && is_cut(old, c)).map_or(0, |last| last + 1);
    let before: Vec<Chunk> = known.iter().take(kept).copied().collect();
    let from = before.last().map_or(0, |c| c.end);
    let tail = Tail { old, known: known.get(kept..).unwrap_or_default(), from: text.len() - back };
    let mut s = Scanner::new(text, before, Some(tail));
    s.run(from);
    (s.out, kept, s.taken)
}

/// Whether what stands after a chunk hangs on nothing before it.
fn is_cut(text: &str, chunk: &Chunk) -> bool {
    // A piece of rubble may grow by the next one.
    chunk.closed && !matches!(text.as_bytes().get(chunk.start), Some(b'{' | b'}'))
}

/// The chunks of another text that ends alike.
struct Tail<'a> {
    old: &'a str,
    known: &'a [Chunk],
    /// From where on the texts are alike.
    from: usize,
}

impl Tail<'_> {
    /// The chunks after the one that ends at a byte, if one ends there in both texts.
    fn after(&self, text: &str, last: &Chunk) -> Option<Vec<Chunk>> {
        // Its line's end belongs to it.
        if last.end < self.from || !is_cut(text, last) {
            return None;
        }
        let (new, old) = (text.len(), self.old.len());
        let end = (last.end + old).checked_sub(new)?;
        let at = self.known.binary_search_by_key(&end, |c| c.end).ok()?;
        is_cut(self.old, self.known.get(at)?).then_some(())?;
        let moved = |c: &Chunk| Chunk { start: c.start + new - old, end: c.end + new - old, ..*c };
        Some(self.known.get(at + 1..)?.iter().map(moved).collect())
    }
}

impl<'a> Scanner<'a> {
    const fn new(text: &'a str, out: Vec<Chunk>, tail: Option<Tail<'a>>) -> Self {
        Self {
            text,
            out,
            tail,
            taken: 0,
            open: None,
            lead: None,
            late: None,
            depth: 0,
            head: false,
            newlines: 2,
            blank: false,
            last_end: 0,
            bare: None,
            line_first: None,
            previous_line: None,
            content: 0,
        }
    }
}

struct Scanner<'a> {
    text: &'a str,
    out: Vec<Chunk>,
    /// Where the rest may be known.
    tail: Option<Tail<'a>>,
    /// How many chunks were taken from there.
    taken: usize,
    /// Where the open chunk begins.
    open: Option<usize>,
    /// The first comment before the coming chunk.
    lead: Option<usize>,
    /// The first comment on its own line since the last piece of the open chunk.
    late: Option<usize>,
    depth: usize,
    /// Whether the open chunk has a brace already.
    head: bool,
    newlines: usize,
    blank: bool,
    last_end: usize,
    /// The chunk's first line is a head whose brace may be missing: looked at once.
    bare: Option<bool>,
    line_first: Option<usize>,
    previous_line: Option<(usize, usize)>,
    content: usize,
}

impl Scanner<'_> {
    fn close(&mut self, end: usize) {
        self.close_as(end, false);
    }

    fn close_as(&mut self, end: usize, closed: bool) {
        if let Some(start) = self.open.take() {
            let brace = |at: usize| matches!(self.text.as_bytes().get(at), Some(b'{' | b'}'));
            // Braces without a head, one after the other, are one piece of rubble.
            if brace(start)
                && let Some(last) = self.out.last_mut()
                && brace(last.start)
            {
                last.end = end;
                last.closed = closed;
            } else {
                self.out.push(Chunk { start, end, blank_before: self.blank && !self.out.is_empty(), closed });
            }
        }
        self.head = false;
        self.depth = 0;
        self.blank = false;
    }

    fn begin(&mut self, at: usize) {
        self.open = Some(self.lead.take().unwrap_or(at));
        self.content = at;
        self.bare = None;
        self.head = false;
        self.depth = 0;
    }

    fn run(&mut self, from: usize) {
        if from > 0 {
            // Behind the brace that closed the chunk before.
            (self.newlines, self.last_end) = (0, from);
        }
        let mut lexer = Lexer::new(self.text, from);
        while let Some(p) = lexer.next() {
            match p.kind {
                Kind::Newline => {
                    self.newline(p.end);
                    continue;
                }
                Kind::Comment => {
                    if self.open.is_none() {
                        if self.lead.is_none() {
                            self.lead = Some(p.start);
                            self.blank |= self.newlines > 1;
                        }
                    } else if self.line_first.is_some() {
                        self.last_end = p.end;
                    } else {
                        self.late.get_or_insert(p.start);
                    }
                    self.newlines = 0;
                    continue;
                }
                _ => {}
            }
            if self.open.is_none() {
                if self.lead.is_none() {
                    self.blank |= self.newlines > 1;
                }
                self.begin(p.start);
            }
            self.newlines = 0;
            match p.kind {
                Kind::Open => {
                    if self.depth == 0 && !self.head {
                        self.split_rubble(p.start);
                    }
                    self.head = true;
                    self.depth += 1;
                }
                Kind::Close => {
                    self.depth = self.depth.saturating_sub(1);
                    if self.depth == 0 && self.head {
                        self.last_end = p.end;
                        let mut ahead = lexer.clone();
                        if let Some(c) = ahead.next()
                            && c.kind == Kind::Comment
                        {
                            lexer = ahead;
                            self.last_end = c.end;
                        }
                        let ends =
                            matches!(self.text.as_bytes().get(self.last_end..), Some([b'\n', ..] | [b'\r', b'\n', ..]));
                        self.close_as(self.last_end, ends);
                        self.line_first = None;
                        self.late = None;
                        let known = self.tail.as_ref().zip(self.out.last());
                        if let Some(rest) = known.and_then(|(tail, last)| tail.after(self.text, last)) {
                            self.taken = rest.len();
                            self.out.extend(rest);
                            return;
                        }
                        continue;
                    }
                }
                _ => {}
            }
            self.line_first.get_or_insert(p.start);
            self.last_end = p.end;
            self.late = None;
        }
        self.close(self.last_end);
    }

    fn newline(&mut self, next: usize) {
        self.newlines += 1;
        if let Some(first) = self.line_first.take() {
            self.previous_line = Some((first, self.last_end));
        }
        if self.open.is_none() {
            return;
        }
        if head_at(self.text, next) && (self.head || self.content < next) {
            self.close(self.last_end);
            self.lead = self.late.take();
        } else if !self.head && self.depth == 0 && self.bare.is_none() {
            let bare = bare_head(self.text, self.content) && !brace_next(self.text, next);
            self.bare = Some(bare);
            if bare {
                self.head = true;
                self.depth = 1;
            }
        }
    }

    /// A brace opens while the chunk is only rubble so far: the lines before the brace's own head are a chunk apart.
    fn split_rubble(&mut self, brace: usize) {
        let own = match self.line_first {
            Some(first) => first,
            None => match self.previous_line {
                Some((first, _)) if first >= self.content => first,
                _ => return,
            },
        };
        let _ = brace;
        if own > self.content {
            let end = self
                .text
                .get(..own)
                .unwrap_or("")
                .trim_end_matches(|c: char| c.is_whitespace() || c == '\u{feff}')
                .len();
            self.close(end);
            self.lead = None;
            self.begin(own);
        }
    }
}

/// The end of the word that starts at `i`.
pub(crate) fn word_end(text: &str, i: usize) -> usize {
    let rest = text.get(i..).unwrap_or("");
    let n = rest.find(|c: char| !(c.is_alphanumeric() || matches!(c, '-' | '_' | '\''))).unwrap_or(rest.len());
    i + rest.get(..n).and_then(|w| w.find("--")).unwrap_or(n)
}

fn skip_blank(text: &str, mut i: usize) -> usize {
    loop {
        let n = blank_len(text.as_bytes(), i);
        if n == 0 {
            return i;
        }
        i += n;
    }
}

/// Whether the first thing after `i`, over line ends, is an opening brace.
pub(crate) fn brace_next(text: &str, mut i: usize) -> bool {
    loop {
        i = skip_blank(text, i);
        match text.as_bytes().get(i) {
            Some(b'\n') => i += 1,
            Some(b'{') => return true,
            _ => return false,
        }
    }
}

/// The end of a block's name at `i`: a word, a blade or a quoted text.
fn name_end(text: &str, i: usize) -> Option<usize> {
    match text.as_bytes().get(i)? {
        b'"' => {
            let line = line_end(text.as_bytes(), i);
            let inner = text.get(i + 1..line)?;
            Some(i + 1 + inner.find('"')? + 1)
        }
        b'#' => {
            let rest = text.get(i + 1..)?;
            let n = rest.find(|c: char| !(c.is_ascii_alphanumeric() || c == '.')).unwrap_or(rest.len());
            (n > 0).then_some(i + 1 + n)
        }
        _ => {
            let e = word_end(text, i);
            (e > i).then_some(e)
        }
    }
}

/// Whether a block's head, `KEYWORD NAME {`, stands at `i` (which is the start of a line).
pub(crate) fn head_at(text: &str, i: usize) -> bool {
    if !text.as_bytes().get(i).is_some_and(|b| b.is_ascii_alphabetic() || *b >= 0x80) {
        return false;
    }
    let e = word_end(text, i);
    let Some(word) = text.get(i..e) else { return false };
    if e == i || word.len() > 16 {
        return false;
    }
    let mut at = skip_blank(text, e);
    let mut names = 0;
    while let Some(n) = name_end(text, at) {
        at = skip_blank(text, n);
        names += 1;
        if names == 3 {
            break;
        }
    }
    if names == 0 {
        return false;
    }
    let opens = match text.as_bytes().get(at) {
        Some(b'{') => true,
        Some(b'\n') => names == 1 && brace_next(text, at),
        _ => false,
    };
    opens && block_word(&word.to_lowercase())
}

/// Whether a word opens a block, or is so near to one that does that nothing else can be meant.
fn block_word(word: &str) -> bool {
    if words::block(word).is_some() {
        return true;
    }
    let line = words::verb(word).is_some()
        || words::RECIPE_LINES.contains(&word)
        || words::DOG_LINES.contains(&word)
        || words::CASE_LINES.contains(&word);
    !line && words::nearest(word, words::BLOCKS.iter().map(|(w, _)| *w)).is_some()
}

/// Whether the line at `i` is `KEYWORD NAME` and nothing more: a head whose brace was forgotten.
pub(crate) fn bare_head(text: &str, i: usize) -> bool {
    let e = word_end(text, i);
    let Some(word) = text.get(i..e) else { return false };
    if words::block(&word.to_lowercase()).is_none() {
        return false;
    }
    let Some(n) = name_end(text, skip_blank(text, e)) else { return false };
    let rest = text.get(n..line_end(text.as_bytes(), n)).unwrap_or("").trim();
    rest.is_empty() || rest.starts_with("--")
}
