//! Words, numbers, sums, ranges and tools as the formatter writes them.

use crate::lex::is_dash;
use crate::tree::{
    Expr, ExprKind, Number, Op, Range, Side, Span, Text, ToolRef, ToolRefKind, Unit, Word, ZoneRef, Zones,
};
use crate::words;
use unicode_normalization::UnicodeNormalization as _;

/// The author's text of the block that is being written.
#[derive(Clone, Copy)]
pub(crate) struct Src<'a>(pub &'a str);

const COUNTS: [&str; 13] =
    ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"];

/// A count in words up to twelve.
pub(crate) fn count(n: u32) -> String {
    match COUNTS.get(n as usize) {
        Some(w) if n > 0 => (*w).to_owned(),
        _ => n.to_string(),
    }
}

impl Src<'_> {
    pub(crate) fn raw(&self, s: Span) -> &str {
        self.0.get(s.start as usize..s.end as usize).unwrap_or("")
    }

    /// The author's own words of a span: lower case, one blank between words.
    pub(crate) fn said(&self, s: Span) -> String {
        let blank =
            |c: char| c.is_whitespace() || matches!(c, '\u{ad}' | '\u{200b}'..='\u{200f}' | '\u{2060}' | '\u{feff}');
        self.raw(s).split(blank).filter(|w| !w.is_empty()).collect::<Vec<_>>().join(" ").to_lowercase()
    }

    /// A name as its author wrote it, with blanks or hyphens; a phone's dash is a hyphen, a loose accent
    /// joins its letter.
    pub(crate) fn word(&self, w: &Word) -> String {
        let said: String = self.said(w.span).nfc().map(|c| if is_dash(c) { '-' } else { c }).collect();
        if said.replace(' ', "-") == w.text.as_str() { said } else { w.text.to_string() }
    }

    pub(crate) fn text(&self, t: &Text) -> String {
        if t.text.contains(['"', '”']) {
            return self.raw(t.span).to_owned();
        }
        format!("\"{}\"", t.text)
    }

    pub(crate) fn zone(&self, z: &ZoneRef) -> String {
        let name = self.word(&z.name);
        match z.side {
            Some(Side::Left) => format!("left {name}"),
            Some(Side::Right) => format!("right {name}"),
            None => name,
        }
    }

    pub(crate) fn refs(&self, list: &[ZoneRef]) -> String {
        list.iter().map(|z| self.zone(z)).collect::<Vec<_>>().join(", ")
    }

    pub(crate) fn zones(&self, z: &Zones) -> String {
        let mut out = self.refs(&z.list);
        if !z.except.is_empty() {
            out.push_str(" except ");
            out.push_str(&self.refs(&z.except));
        }
        out
    }

    pub(crate) fn number(&self, n: &Number) -> String {
        let text = n.text.as_str();
        let split = text
            .char_indices()
            .find(|(i, c)| {
                let rest = text.get(*i..).unwrap_or("");
                (c.is_alphabetic() && *i > 0 && text.starts_with(|c: char| !c.is_alphabetic()))
                    || matches!(c, '"' | '″' | '”' | '%' | '°')
                    || (*i > 0 && text.get(*i - 1..*i) == Some(" ") && words::unit(rest).is_some())
            })
            .map_or(text.len(), |(i, _)| i);
        let value = text.get(..split).unwrap_or(text);
        let mut value = value.split_whitespace().collect::<Vec<_>>().join(" ");
        for (glyph, plain) in [('½', "1/2"), ('¼', "1/4"), ('¾', "3/4")] {
            if let Some(i) = value.find(glyph) {
                let whole = value.get(..i).unwrap_or("").trim_end().to_owned();
                value = if whole.is_empty() { plain.to_owned() } else { format!("{whole} {plain}") };
            }
        }
        let unit = match n.unit {
            Unit::None => return value,
            Unit::Mm => "mm",
            Unit::Cm => "cm",
            Unit::M => "m",
            Unit::Inch => "in",
            Unit::Kg => "kg",
            Unit::G => "g",
            Unit::Pound => "lb",
            Unit::Ounce => "oz",
            Unit::Minute => "min",
            Unit::Second => "s",
            Unit::Hour => "h",
            Unit::Percent => "%",
            Unit::Cm2PerMinute => "cm2/min",
            Unit::MmPerWeek => "mm/week",
            Unit::Celsius => "°C",
            Unit::Times => "times",
            Unit::Finger | Unit::Hand | Unit::Day | Unit::Week | Unit::Month | Unit::Year => {
                let one = n.num == n.den;
                match (n.unit, one) {
                    (Unit::Finger, true) => "finger",
                    (Unit::Finger, false) => "fingers",
                    (Unit::Hand, true) => "hand",
                    (Unit::Hand, false) => "hands",
                    (Unit::Day, true) => "day",
                    (Unit::Day, false) => "days",
                    (Unit::Week, true) => "week",
                    (Unit::Week, false) => "weeks",
                    (Unit::Month, true) => "month",
                    (Unit::Month, false) => "months",
                    (_, true) => "year",
                    (_, false) => "years",
                }
            }
        };
        // `two%`: after a word, the sign is part of it.
        let gap = if n.unit == Unit::Percent && value.starts_with(char::is_alphabetic) { "" } else { " " };
        format!("{value}{gap}{unit}")
    }

    pub(crate) fn expr(&self, e: &Expr) -> String {
        match &e.kind {
            ExprKind::Number(n) => self.number(n),
            ExprKind::Name(w) => self.word(w),
            ExprKind::Blade(w) => w.text.to_string(),
            ExprKind::Binary { op, left, right } => {
                let product = matches!(op, Op::Mul | Op::Div);
                let l = self.part(left, product && is_sum(left));
                let r = self.part(right, if product { is_binary(right) } else { is_sum(right) });
                let sign = match op {
                    Op::Add => "+",
                    Op::Sub => "-",
                    Op::Mul => "times",
                    Op::Div => "/",
                };
                format!("{l} {sign} {r}")
            }
            ExprKind::Steps { count: n, combs, from } => {
                let many = n.unsigned_abs();
                let from = self.part(from, is_binary(from) || matches!(from.kind, ExprKind::Steps { .. }));
                let n_word = count(many);
                match (*combs, *n < 0) {
                    (true, false) => format!("{n_word} comb{} longer than {from}", if many == 1 { "" } else { "s" }),
                    (true, true) => format!("{n_word} comb{} shorter than {from}", if many == 1 { "" } else { "s" }),
                    (false, false) => format!("{n_word} class{} over {from}", if many == 1 { "" } else { "es" }),
                    (false, true) => format!("{n_word} class{} under {from}", if many == 1 { "" } else { "es" }),
                }
            }
        }
    }

    /// A part of a sum or of a step. A name takes its hyphens there, so that it can't run on into the words after it.
    fn part(&self, e: &Expr, brackets: bool) -> String {
        let s = if let ExprKind::Name(w) = &e.kind { w.text.to_string() } else { self.expr(e) };
        if brackets { format!("({s})") } else { s }
    }

    pub(crate) fn range(&self, r: &Range) -> String {
        let said = self.said(r.span);
        match (&r.low, &r.high) {
            (Some(a), Some(b)) if a.span == b.span => self.expr(a),
            (Some(a), Some(b)) => format!("{} to {}", self.expr(a), self.expr(b)),
            (None, Some(b)) if r.high_open => format!("under {}", self.expr(b)),
            (None, Some(b)) => {
                format!("{} {}", if said.starts_with("at most") { "at most" } else { "up to" }, self.expr(b))
            }
            (Some(a), None) if r.low_open => format!("over {}", self.expr(a)),
            (Some(a), None) => {
                format!("{} {}", if said.starts_with("at least") { "at least" } else { "from" }, self.expr(a))
            }
            (None, None) => said,
        }
    }

    pub(crate) fn tool(&self, t: &ToolRef) -> String {
        match &t.kind {
            ToolRefKind::Blade(b) => b.to_string(),
            ToolRefKind::Comb { length, over } => {
                let mut out = length.as_ref().map_or(String::new(), |n| format!("{} ", self.number(n)));
                out.push_str("comb");
                if let Some(o) = over {
                    out.push_str(" over ");
                    out.push_str(&o.text);
                }
                out
            }
            ToolRefKind::Named(w) => self.word(w),
        }
    }
}

const fn is_sum(e: &Expr) -> bool {
    matches!(e.kind, ExprKind::Binary { op: Op::Add | Op::Sub, .. })
}

const fn is_binary(e: &Expr) -> bool {
    matches!(e.kind, ExprKind::Binary { .. })
}
