//! Words, texts, numbers, blades and dates.

use pest::iterators::Pair;
use smol_str::SmolStr;

use crate::error::{Fix, SyntaxError};
use crate::read::{Rd, Rule};
use crate::tree::{Date, Number, Side, Span, Text, Unit, Word, ZoneRef};
use crate::words;

impl Rd<'_, '_, '_> {
    pub(crate) fn span(&self, p: &Pair<Rule>) -> Span {
        let s = p.as_span();
        // What can be followed by more takes the blanks after it along.
        self.line.span(s.start(), s.start() + s.as_str().trim_end().len())
    }

    pub(crate) fn error(
        &mut self,
        code: &'static str,
        span: Span,
        message: impl Into<String>,
        help: impl Into<String>,
    ) {
        self.errors.push(SyntaxError {
            code,
            message: message.into(),
            help: Some(help.into()),
            span,
            related: None,
            fix: None,
        });
    }

    pub(crate) fn fixable(
        &mut self,
        code: &'static str,
        span: Span,
        message: impl Into<String>,
        help: impl Into<String>,
        with: &str,
    ) {
        let title = if with.is_empty() { "take it away".to_owned() } else { format!("write `{with}`") };
        self.errors.push(SyntaxError {
            code,
            message: message.into(),
            help: Some(help.into()),
            span,
            related: None,
            fix: Some(Fix { title, span, text: with.to_owned() }),
        });
    }

    /// A word or name: its words joined by `-`.
    pub(crate) fn word_of(&mut self, p: &Pair<Rule>) -> Word {
        let s = p.as_span();
        self.word_at(p.as_str(), s.start())
    }

    pub(crate) fn word_at(&mut self, text: &str, at: usize) -> Word {
        let text = text.trim_end();
        let span = self.line.span(at, at + text.len());
        let mut blank = false;
        let mut odd = false;
        let mut wide = false;
        let mut last = b'-';
        for b in text.bytes() {
            match b {
                b' ' => {
                    blank = true;
                    odd |= last == b'-';
                }
                b'a'..=b'z' | b'0'..=b'9' | b'#' => {}
                // `#8.5` is a blade's name.
                b'.' if text.starts_with('#') => {}
                0x80.. => wide = true,
                b'-' if last != b'-' && last != b' ' => {}
                _ => odd = true,
            }
            last = b;
        }
        if odd || last == b'-' || (wide && text.chars().any(stray)) {
            self.odd_word(text, at, span);
        }
        if !blank {
            return Word { text: text.into(), span };
        }
        let mut joined = String::with_capacity(text.len());
        for w in text.split(' ').filter(|w| !w.is_empty()) {
            if !joined.is_empty() {
                joined.push('-');
            }
            joined.push_str(w);
        }
        Word { text: joined.into(), span }
    }

    fn odd_word(&mut self, text: &str, at: usize, span: Span) {
        let bad = text.char_indices().find(|(_, c)| stray(*c));
        match bad {
            Some((i, c)) => {
                let here = self.line.span(at + i, at + i + c.len_utf8());
                if c == '_' {
                    self.fixable("W023", here, "`_` can't be part of a name", "join the words by `-`", "-");
                } else if c == '\'' || c == '’' {
                    self.fixable("W023", here, "an apostrophe can't be part of a name", "leave it out", "");
                } else {
                    self.error(
                        "W023",
                        here,
                        format!("`{c}` can't be part of a name"),
                        "use letters, digits and `-` only",
                    );
                }
            }
            None => {
                if let Some(i) = text.find("- ") {
                    let here = self.line.span(at + i, at + i + 1);
                    self.fixable(
                        "W021",
                        here,
                        "a minus needs a blank on both sides",
                        "write ` - `, so that it isn't taken for part of a name",
                        " -",
                    );
                    return;
                }
                let trimmed = text.trim_matches('-');
                let with = if text.ends_with('-') { format!("{trimmed} - ") } else { trimmed.to_owned() };
                if text.ends_with('-') {
                    self.fixable(
                        "W021",
                        span,
                        "a minus needs a blank on both sides",
                        format!("write `{}`", with.trim_end()),
                        with.trim_end(),
                    );
                } else {
                    self.error("W023", span, format!("`{text}` isn't a name"), "join two words by one `-`");
                }
            }
        }
    }

    pub(crate) fn text(&self, p: &Pair<Rule>) -> Text {
        let s = p.as_span();
        let span = self.line.span(s.start(), s.end());
        let raw = self.line.src.get(span.start as usize..span.end as usize).unwrap_or("");
        let mut chars = raw.chars();
        let quote = |c: char| c == '"' || c == '\'' || crate::lex::is_quote(c);
        chars.next();
        let mut inner = chars.as_str();
        if inner.ends_with(quote) {
            let mut c = inner.chars();
            c.next_back();
            inner = c.as_str();
        }
        Text { text: inner.to_owned(), span }
    }

    /// `left breeches`, `the hind legs`.
    pub(crate) fn zone_ref(&mut self, p: &Pair<Rule>) -> ZoneRef {
        let s = p.as_span();
        let all = p.as_str().trim_end();
        let span = self.line.span(s.start(), s.start() + all.len());
        let mut rest = all;
        let mut side = None;
        if let Some(r) = rest.strip_prefix("left ") {
            side = Some(Side::Left);
            rest = r.trim_start();
        } else if let Some(r) = rest.strip_prefix("right ") {
            side = Some(Side::Right);
            rest = r.trim_start();
        }
        if let Some(r) = rest.strip_prefix("the ") {
            rest = r.trim_start();
        }
        let name = self.word_at(rest, s.start() + all.len() - rest.len());
        ZoneRef { side, name, span }
    }

    pub(crate) fn number(&mut self, p: &Pair<Rule>) -> Number {
        let s = p.as_span();
        self.number_at(p.as_str(), s.start())
    }

    pub(crate) fn number_at(&mut self, text: &str, at: usize) -> Number {
        let text = text.trim_end();
        let span = self.line.span(at, at + text.len());
        let mut digits = Digits { rest: text, over: false };
        let (mut num, mut den);
        if let Some(n) = digits.whole() {
            (num, den) = (n, 1_i64);
            if let Some(r) = digits.rest.strip_prefix('/') {
                digits.rest = r;
                den = digits.whole().unwrap_or(1);
            } else if let Some(r) = digits.rest.strip_prefix(['.', ','])
                && r.starts_with(|c: char| c.is_ascii_digit())
            {
                let comma = digits.rest.starts_with(',');
                digits.rest = r;
                let len = r.find(|c: char| !c.is_ascii_digit()).unwrap_or(r.len());
                let part = digits.whole().unwrap_or(0);
                match 10_i64
                    .checked_pow(u32::try_from(len).unwrap_or(99))
                    .and_then(|d| Some((num.checked_mul(d)?.checked_add(part)?, d)))
                {
                    Some((n, d)) => (num, den) = (n, d),
                    None => digits.over = true,
                }
                if comma {
                    let fixed = text.replacen(',', ".", 1);
                    self.fixable(
                        "W013",
                        span,
                        format!("`{text}` holds a comma inside the number"),
                        "write a point for the fraction; a comma parts a list, and then needs a blank after it",
                        &fixed,
                    );
                }
            } else {
                let after = digits.rest.trim_start();
                if let Some((n, d, r)) = glyph(after) {
                    digits.rest = r;
                    (num, den) = (num.saturating_mul(d).saturating_add(n), d);
                } else if after.len() < digits.rest.len() && after.starts_with(|c: char| c.is_ascii_digit()) {
                    let mut part = Digits { rest: after, over: false };
                    if let Some(n) = part.whole()
                        && let Some(r) = part.rest.strip_prefix('/')
                    {
                        part.rest = r;
                        let d = part.whole().unwrap_or(1);
                        digits.rest = part.rest;
                        digits.over |= part.over;
                        match num.checked_mul(d).and_then(|w| w.checked_add(n)) {
                            Some(w) => (num, den) = (w, d),
                            None => digits.over = true,
                        }
                    }
                }
            }
        } else if let Some((n, d, r)) = glyph(text) {
            digits.rest = r;
            (num, den) = (n, d);
        } else {
            // `two"` and `two%` end their word at the sign.
            let end = text.find(|c: char| !c.is_ascii_alphabetic()).unwrap_or(text.len());
            let (w, r) = text.split_at_checked(end).unwrap_or((text, ""));
            (num, den) = (words::count(w).unwrap_or(1), 1);
            digits.rest = r;
        }
        if den == 0 {
            self.error(
                "W019",
                span,
                format!("`{text}` divides by nothing"),
                "write how many parts the whole has, such as `1/4 in`",
            );
            den = 1;
        }
        if digits.over {
            self.error(
                "W020",
                span,
                "this number has too many digits",
                "no measure of a dog needs more than nine digits",
            );
            (num, den) = (1, 1);
        }
        let unit_text = digits.rest.trim();
        let unit = if unit_text.is_empty() { Unit::None } else { words::unit(unit_text).unwrap_or(Unit::None) };
        let g = gcd(num, den);
        Number { num: num / g, den: den / g, unit, text: text.into(), span }
    }

    /// `#10`, upper case.
    pub(crate) fn blade(&mut self, p: &Pair<Rule>) -> Word {
        let s = p.as_span();
        let raw = p.as_str().trim_end();
        let span = self.line.span(s.start(), s.start() + raw.len());
        let short = raw.strip_suffix("blade").map_or(raw, |r| r.trim_end_matches(['-', ' ']));
        if short.contains('/') {
            self.error(
                "W015",
                span,
                format!("`{raw}` means different lengths with different makers"),
                "write the length that it leaves, such as `to 19 mm`, or name the comb, such as `by 19 mm comb`",
            );
        }
        let text: SmolStr =
            if short.contains(' ') { short.replace(' ', "").to_ascii_uppercase().into() } else { upper(short) };
        if short.len() < raw.len() {
            self.fixable(
                "W027",
                span,
                format!("`{raw}` says `blade` twice: `#` means blade already"),
                format!("write `{text}`"),
                &text,
            );
        }
        Word { text, span }
    }

    pub(crate) fn date(&mut self, p: &Pair<Rule>) -> Date {
        let span = self.span(p);
        let mut parts = p.as_str().split('-').map(|s| s.parse::<u32>().unwrap_or(0));
        let year = parts.next().unwrap_or(0);
        let month = parts.next().unwrap_or(0);
        let day = parts.next();
        let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
        let last = match month {
            2 => 28 + u32::from(leap),
            4 | 6 | 9 | 11 => 30,
            _ => 31,
        };
        if !(1..=12).contains(&month) || day.is_some_and(|d| d == 0 || d > last) || year == 0 {
            self.error(
                "W031",
                span,
                format!("`{}` isn't a day of the calendar", p.as_str()),
                "write year, month and day: `2026-11-20`",
            );
        }
        Date {
            year: i32::try_from(year).unwrap_or(0),
            month: month.clamp(1, 12),
            day: day.map(|d| d.clamp(1, 31)),
            span,
        }
    }
}

/// A sign that no name holds.
fn stray(c: char) -> bool {
    !(c.is_alphanumeric() || matches!(c, '-' | ' ' | '#' | '\u{300}'..='\u{36F}'))
}

fn upper(s: &str) -> SmolStr {
    if s.bytes().any(|b| b.is_ascii_lowercase()) { s.to_ascii_uppercase().into() } else { s.into() }
}

fn glyph(s: &str) -> Option<(i64, i64, &str)> {
    let mut c = s.chars();
    let (n, d) = match c.next()? {
        '½' => (1, 2),
        '¼' => (1, 4),
        '¾' => (3, 4),
        _ => return None,
    };
    Some((n, d, c.as_str()))
}

const fn gcd(a: i64, b: i64) -> i64 {
    let (mut a, mut b) = (a.abs(), b.abs());
    while b != 0 {
        (a, b) = (b, a % b);
    }
    if a == 0 { 1 } else { a }
}

struct Digits<'a> {
    rest: &'a str,
    over: bool,
}

impl Digits<'_> {
    fn whole(&mut self) -> Option<i64> {
        let mut n = 0_i64;
        let mut len = 0;
        for b in self.rest.bytes() {
            if !b.is_ascii_digit() {
                break;
            }
            len += 1;
            n = n.saturating_mul(10).saturating_add(i64::from(b - b'0'));
        }
        if len == 0 {
            return None;
        }
        if len > 9 {
            self.over = true;
            n = 1;
        }
        self.rest = self.rest.get(len..).unwrap_or("");
        Some(n)
    }
}
