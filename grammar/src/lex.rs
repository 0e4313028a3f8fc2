//! The lowest layer: cuts text into pieces without knowing what any word means.
//!
//! It knows braces, semicolons, line ends, comments, quotes, source notes and the prose of `about`, and so it is
//! the one place that decides whether a `"` begins a text or means inches. Every piece ends at the latest at the
//! end of its line (prose excepted), so an open quote can't swallow a file. One pass, no recursion.

/// What a piece is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    /// `{`
    Open,
    /// `}`
    Close,
    /// `;`
    Semi,
    /// The end of a line.
    Newline,
    /// `--` to the end of the line.
    Comment,
    /// Quoted text; false if the closing quote is missing.
    Quote(bool),
    /// A source note in brackets; false if the closing bracket is missing.
    Note(bool),
    /// The lines of prose under a bare `about`.
    Prose,
    /// Anything else, up to the next blank.
    Run,
}

/// A piece and where it stands.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Piece {
    pub kind: Kind,
    pub start: usize,
    pub end: usize,
}

/// Cuts text into pieces.
#[derive(Clone)]
pub(crate) struct Lexer<'a> {
    text: &'a str,
    bytes: &'a [u8],
    pos: usize,
    fresh: bool,
    prose: Option<(usize, usize, usize)>,
    /// The line break that ends the line at hand, once looked for.
    line: (usize, usize),
    /// Where the line at hand begins.
    line_start: usize,
    /// Ends of lines on which no closing sign was found: for `"`, `'`, smart quotes and brackets.
    unclosed: [usize; 4],
}

/// The words a source note may begin with.
const NOTES: [&str; 5] = ["published", "common practice", "invented", "computed", "from memory"];

impl<'a> Lexer<'a> {
    /// A lexer that starts at `pos`, where a statement may begin.
    pub(crate) fn new(text: &'a str, pos: usize) -> Self {
        Self {
            text,
            bytes: text.as_bytes(),
            pos,
            fresh: true,
            prose: None,
            line: (1, 0),
            line_start: pos,
            unclosed: [usize::MAX; 4],
        }
    }

    fn at(&self, i: usize) -> u8 {
        self.bytes.get(i).copied().unwrap_or(0)
    }

    fn rest(&self, i: usize) -> &'a str {
        self.text.get(i..).unwrap_or("")
    }

    /// The end of the line that holds `i`, without its line break.
    fn line_end(&mut self, i: usize) -> usize {
        if !(self.line.0..=self.line.1).contains(&i) {
            self.line = (i, line_end(self.bytes, i));
        }
        self.line.1
    }

    /// The next piece, or nothing at the end of the text.
    pub(crate) fn next(&mut self) -> Option<Piece> {
        loop {
            let n = blank_len(self.bytes, self.pos);
            if n == 0 {
                break;
            }
            self.pos += n;
        }
        let start = self.pos;
        let b = *self.bytes.get(start)?;
        let fresh = std::mem::replace(&mut self.fresh, false);
        let one = |kind| Some(Piece { kind, start, end: start + 1 });
        let piece = match b {
            b'\n' => {
                self.fresh = true;
                self.line_start = start + 1;
                if let Some((at, s, e)) = self.prose.take()
                    && at == start
                {
                    self.pos = e;
                    return Some(Piece { kind: Kind::Prose, start: s, end: e });
                }
                one(Kind::Newline)
            }
            b'{' => {
                self.fresh = true;
                one(Kind::Open)
            }
            b'}' => {
                self.fresh = true;
                one(Kind::Close)
            }
            b';' => {
                self.fresh = true;
                one(Kind::Semi)
            }
            b'"' | b'\'' => Some(self.quote(start)),
            b'(' => match self.note(start) {
                Some(note) => Some(note),
                None => Some(self.run(start, fresh)),
            },
            b'-' if self.at(start + 1) == b'-' => Some(self.comment(start)),
            0xE2 => {
                let c = self.rest(start).chars().next().unwrap_or(' ');
                if is_quote(c) {
                    Some(self.quote(start))
                } else if matches!(c, '—' | '–' | '―') && !self.between_quantities(start, c.len_utf8()) {
                    Some(self.comment(start))
                } else {
                    Some(self.run(start, fresh))
                }
            }
            _ => Some(self.run(start, fresh)),
        };
        if let Some(p) = piece {
            self.pos = p.end;
        }
        piece
    }

    fn comment(&mut self, start: usize) -> Piece {
        let mut end = self.line_end(start);
        while end > start && matches!(self.at(end - 1), b' ' | b'\t' | b'\r') {
            end -= 1;
        }
        Piece { kind: Kind::Comment, start, end }
    }

    /// Whether the dash at `start` stands between two measures: `3 kg – 5 kg`, `3 – 5 kg`.
    fn between_quantities(&self, start: usize, len: usize) -> bool {
        let after = self.rest(start + len).trim_start_matches([' ', '\t', '\u{a0}']);
        if !after.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '½' | '¼' | '¾')) {
            return false;
        }
        let mut from = self.line_start.max(start.saturating_sub(64));
        while !self.text.is_char_boundary(from) {
            from += 1;
        }
        let before = self.text.get(from..start).unwrap_or("").trim_end();
        let word = before.rsplit([' ', '\t', '\u{a0}']).next().unwrap_or("");
        if ends_in_number(word) {
            return true;
        }
        let unit = word.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.');
        if crate::words::unit(&unit.to_lowercase()).is_none() {
            return false;
        }
        unit.len() < word.len() || ends_in_number(before.get(..before.len() - word.len()).unwrap_or("").trim_end())
    }

    fn quote(&mut self, start: usize) -> Piece {
        let line = self.line_end(start);
        let opener = self.rest(start).chars().next().unwrap_or('"');
        let from = start + opener.len_utf8();
        let inner = self.text.get(from..line).unwrap_or("");
        let form = match opener {
            '"' => 0,
            '\'' | '‘' | '’' | '‚' => 1,
            _ => 2,
        };
        let known_open = self.unclosed.get(form) == Some(&line);
        let close = match opener {
            _ if known_open => None,
            '"' => inner.find(['"', '”']).map(|i| (i, inner.get(i..).and_then(|r| r.chars().next()))),
            '\'' | '‘' | '’' | '‚' => inner
                .char_indices()
                .find(|(i, c)| {
                    matches!(c, '\'' | '’')
                        && !inner.get(i + c.len_utf8()..).unwrap_or("").starts_with(char::is_alphanumeric)
                })
                .map(|(i, c)| (i, Some(c))),
            _ => inner.find(['"', '”', '“']).map(|i| (i, inner.get(i..).and_then(|r| r.chars().next()))),
        };
        if let Some((i, c)) = close {
            let end = from + i + c.map_or(1, char::len_utf8);
            return Piece { kind: Kind::Quote(true), start, end };
        }
        if let Some(u) = self.unclosed.get_mut(form) {
            *u = line;
        }
        let end = from + inner.find(['{', '}', ';']).unwrap_or(inner.len());
        let end = start + self.text.get(start..end).unwrap_or("").trim_end().len();
        Piece { kind: Kind::Quote(false), start, end: end.max(from) }
    }

    fn note(&mut self, start: usize) -> Option<Piece> {
        let line = self.line_end(start);
        let inner = self.text.get(start + 1..line)?;
        let said = inner.trim_start();
        let is_note = NOTES.iter().any(|n| said.get(..n.len()).is_some_and(|s| s.eq_ignore_ascii_case(n)));
        if !is_note {
            return None;
        }
        let mut depth = 1_usize;
        let known_open = self.unclosed.get(3) == Some(&line);
        for (i, b) in inner.bytes().enumerate().take(if known_open { 0 } else { usize::MAX }) {
            match b {
                b'(' => depth += 1,
                b')' => depth -= 1,
                _ => {}
            }
            if depth == 0 {
                return Some(Piece { kind: Kind::Note(true), start, end: start + 1 + i + 1 });
            }
        }
        if let Some(u) = self.unclosed.get_mut(3) {
            *u = line;
        }
        let end = inner.find(['{', '}', ';']).unwrap_or(inner.len());
        let end = start + 1 + inner.get(..end).unwrap_or("").trim_end().len();
        Some(Piece { kind: Kind::Note(false), start, end })
    }

    fn run(&mut self, start: usize, fresh: bool) -> Piece {
        let mut i = start;
        while let Some(b) = self.bytes.get(i).copied() {
            match b {
                b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b',' | b'.' | b'#' | b'/' | b'%' => i += 1,
                b' ' | b'\n' | b'\t' | b'\r' | b'{' | b'}' | b';' => break,
                b'"' => {
                    if i > start && !after_number(self.bytes, i) {
                        break;
                    }
                    i += 1;
                }
                b'(' if i > start => break,
                b'-' => {
                    if i > start && self.at(i + 1) == b'-' {
                        break;
                    }
                    i += 1;
                }
                0..=0x7F => i += 1,
                _ => {
                    if blank_len(self.bytes, i) > 0 {
                        break;
                    }
                    let c = self.rest(i).chars().next().unwrap_or(' ');
                    if i > start
                        && (is_quote(c) && !matches!(c, '’') && !(matches!(c, '”') && after_number(self.bytes, i)))
                    {
                        break;
                    }
                    i += c.len_utf8();
                }
            }
        }
        if fresh && i - start == 5 && self.text.get(start..i).is_some_and(|w| w.eq_ignore_ascii_case("about")) {
            self.find_prose(start, i);
        }
        Piece { kind: Kind::Run, start, end: i.max(start + 1) }
    }

    /// Prose: the lines under a bare `about` that are indented deeper than the line it stands on.
    fn find_prose(&mut self, about: usize, after: usize) {
        let end = self.line_end(after);
        let said = self.text.get(after..end).unwrap_or("").trim();
        if !(said.is_empty() || said.starts_with("--")) {
            return;
        }
        let _ = about;
        let depth = indent(self.bytes, self.line_start).0;
        let mut last = None;
        let mut first = None;
        let mut line = end + 1;
        while line < self.bytes.len() {
            let (col, text) = indent(self.bytes, line);
            let stop = self.line_end(line);
            if text < stop {
                if col <= depth {
                    break;
                }
                first.get_or_insert(line);
                last = Some(stop);
            }
            line = stop + 1;
        }
        if let (Some(s), Some(e)) = (first, last) {
            self.prose = Some((end, s, e));
        }
    }
}

fn ends_in_number(word: &str) -> bool {
    word.ends_with(|c: char| c.is_ascii_digit() || matches!(c, '½' | '¼' | '¾' | '"' | '″' | '”' | '%'))
}

/// Whether the byte before `i` ends a number (a digit or a fraction sign), so that `"` at `i` means inches.
fn after_number(bytes: &[u8], i: usize) -> bool {
    let at = |n: usize| i.checked_sub(n).and_then(|k| bytes.get(k)).copied().unwrap_or(0);
    at(1).is_ascii_digit() || (at(2) == 0xC2 && matches!(at(1), 0xBC..=0xBE))
}

/// The end of the line that holds `i`, without its line break.
pub(crate) fn line_end(bytes: &[u8], i: usize) -> usize {
    let i = i.min(bytes.len());
    bytes.get(i..).and_then(|r| r.iter().position(|b| *b == b'\n')).map_or(bytes.len(), |n| i + n)
}

/// The column of the first byte that isn't blank on the line that starts at `line`, and that byte's place.
pub(crate) fn indent(bytes: &[u8], line: usize) -> (usize, usize) {
    let mut col = 0;
    let mut i = line;
    loop {
        match bytes.get(i) {
            Some(b'\t') => {
                col += 4 - col % 4;
                i += 1;
            }
            Some(b'\r') => i += 1,
            Some(b'\n') | None => return (col, i),
            Some(_) => {
                let n = blank_len(bytes, i);
                if n == 0 {
                    return (col, i);
                }
                col += 1;
                i += n;
            }
        }
    }
}

/// How many bytes of blank (not a line break) stand at `i`: spaces, tabs, no-break and thin spaces, byte order marks.
pub(crate) fn blank_len(bytes: &[u8], i: usize) -> usize {
    match bytes.get(i) {
        Some(b' ' | b'\t' | b'\r' | 0x0B | 0x0C) => 1,
        Some(0xC2) if matches!(bytes.get(i + 1), Some(0xA0 | 0xAD)) => 2,
        Some(0xE2) => match (bytes.get(i + 1), bytes.get(i + 2)) {
            (Some(0x80), Some(0x80..=0x8F | 0xA8 | 0xA9 | 0xAF)) | (Some(0x81), Some(0x9F | 0xA0)) => 3,
            _ => 0,
        },
        Some(0xE3) if matches!((bytes.get(i + 1), bytes.get(i + 2)), (Some(0x80), Some(0x80))) => 3,
        Some(0xEF) if matches!((bytes.get(i + 1), bytes.get(i + 2)), (Some(0xBB), Some(0xBF))) => 3,
        _ => 0,
    }
}

/// A dash or hyphen that isn't ASCII.
pub(crate) const fn is_dash(c: char) -> bool {
    matches!(c, '\u{2010}'..='\u{2015}')
}

/// A quotation mark that isn't ASCII.
pub(crate) fn is_quote(c: char) -> bool {
    matches!(c, '“' | '”' | '„' | '‟' | '‘' | '’' | '‚')
}
