//! Lines of cards and cases, and plain lines.

use pest::iterators::{Pair, Pairs};
use thin_vec::ThinVec;

use crate::error::Fix;
use crate::read::work::missing;
use crate::read::{Rd, Rule, first_word};
use crate::tree::{
    CardCoat, CardFinding, CardMats, Expect, ExprKind, Field, Range, ToolRef, ToolRefKind, Value, ValueKind, Verb,
    Word, Zones,
};
use crate::words;

impl Rd<'_, '_, '_> {
    fn on_zones(&mut self, p: Pair<Rule>) -> Option<Zones> {
        p.into_inner().next().map(|z| self.zones(z))
    }

    pub(crate) fn card_coat(&mut self, pairs: Pairs<Rule>) -> CardCoat {
        let mut c = CardCoat {
            coat: missing(self.line.whole()),
            zones: None,
            length: None,
            lengths: ThinVec::new(),
            notes: ThinVec::new(),
        };
        for p in pairs {
            match p.as_rule() {
                Rule::name => c.coat = self.word_of(&p),
                Rule::on_zones => c.zones = self.on_zones(p),
                Rule::number => c.length = Some(self.number(&p)),
                Rule::part_long => {
                    let mut inner = p.into_inner();
                    if let (Some(z), Some(n)) = (inner.next(), inner.next()) {
                        let item = (self.zone_ref(&z), self.number(&n));
                        c.lengths.push(item);
                    }
                }
                Rule::note_item => {
                    let mut inner = p.into_inner();
                    if let Some(w) = inner.next() {
                        let w = self.word_of(&w);
                        let v = inner.next().map(|v| self.word_of(&v));
                        c.notes.push((w, v));
                    }
                }
                _ => {}
            }
        }
        c
    }

    pub(crate) fn card_finding(&mut self, pairs: Pairs<Rule>) -> CardFinding {
        let mut f = CardFinding {
            name: missing(self.line.whole()),
            other: None,
            zones: None,
            after: None,
            direction: None,
            seen: None,
        };
        for p in pairs {
            match p.as_rule() {
                Rule::name => f.name = self.word_of(&p),
                Rule::string => f.other = Some(self.text(&p)),
                Rule::on_zones => f.zones = self.on_zones(p),
                Rule::after => {
                    if let Some(t) = p.into_inner().next() {
                        let mut t = self.tool(t);
                        t.span = self.trimmed(t.span);
                        f.after = Some(t);
                    }
                }
                Rule::seen => {
                    let on = p.as_str().starts_with("on");
                    let start = p.as_span().start();
                    if on {
                        let at = self.line.span(start, start + 2);
                        self.errors.push(crate::SyntaxError {
                            code: "W026",
                            message: "`on` says where on the dog; the day needs `seen`".to_owned(),
                            help: Some("write `seen` before the date".to_owned()),
                            span: at,
                            related: None,
                            fix: Some(Fix { title: "write `seen`".to_owned(), span: at, text: "seen".to_owned() }),
                        });
                    }
                    f.seen = p.into_inner().next().map(|d| self.date(&d));
                }
                rule => {
                    if let Some(d) = Self::direction(rule) {
                        f.direction = Some(d);
                    }
                }
            }
        }
        f
    }

    pub(crate) fn card_mats(&mut self, pairs: Pairs<Rule>) -> CardMats {
        let mut m = CardMats { grade: missing(self.line.whole()), zones: Zones::default(), off_skin: None };
        for p in pairs {
            match p.as_rule() {
                Rule::name => m.grade = self.word_of(&p),
                Rule::on_zones => m.zones = self.on_zones(p).unwrap_or_default(),
                Rule::number => m.off_skin = Some(self.number(&p)),
                _ => {}
            }
        }
        m
    }

    pub(crate) fn expect(&mut self, pairs: Pairs<Rule>) -> Expect {
        let (mut zones, mut verb, mut state, mut clauses) = (Zones::default(), None, None, ThinVec::new());
        for p in pairs {
            match p.as_rule() {
                Rule::no_message => return Expect::NoMessage,
                Rule::message => {
                    let mut inner = p.into_inner();
                    let code = match inner.next() {
                        Some(w) => self.word_of(&w),
                        None => missing(self.line.whole()),
                    };
                    let code = Word { text: code.text.to_uppercase().into(), ..code };
                    return Expect::Message { code, zones: inner.next().and_then(|z| self.on_zones(z)) };
                }
                Rule::takes => {
                    if let Some(range) = p.into_inner().next() {
                        return Expect::Takes(Box::new(self.range(range)));
                    }
                }
                Rule::exp_zones => zones = self.zones(p),
                Rule::verb => verb = Self::verb_named(p.as_str()),
                Rule::state => state = Some(self.word_of(&p)),
                Rule::EOI => {}
                _ => self.clause(p, &mut clauses),
            }
        }
        Expect::Finish { zones, verb, state, clauses }
    }

    fn verb_named(s: &str) -> Option<Verb> {
        words::verb(&s.split_whitespace().collect::<Vec<_>>().join("-"))
    }

    pub(crate) fn field(&mut self, pairs: Pairs<Rule>) -> Field {
        let w = first_word(&self.line.text).len();
        let name = self.word_at(self.line.text.get(..w).unwrap_or(""), 0);
        let mut values = ThinVec::with_capacity(1);
        for p in pairs {
            let span = self.span(&p);
            let span = self.trimmed(span);
            let kind = match p.as_rule() {
                Rule::string => ValueKind::Text(self.text(&p)),
                Rule::date => ValueKind::Date(self.date(&p)),
                Rule::blade => ValueKind::Blade(self.blade(&p)),
                Rule::num_value => match self.num_value(p) {
                    Some(kind) => kind,
                    None => continue,
                },
                Rule::word_value => {
                    let mut inner = p.into_inner();
                    let Some(words_) = inner.next() else { continue };
                    let list = self.split_words(&words_);
                    match inner.next() {
                        // `spayed 2017-03`: the word, then the date.
                        Some(d) if d.as_rule() == Rule::date => {
                            values.push(Value { kind: ValueKind::Words(list), span: self.span(&words_) });
                            values.push(Value { span: self.span(&d), kind: ValueKind::Date(self.date(&d)) });
                            continue;
                        }
                        Some(r) => ValueKind::Measure { words: list, range: Box::new(self.range(r)) },
                        None => ValueKind::Words(list),
                    }
                }
                _ => continue,
            };
            values.push(Value { kind, span });
        }
        Field { name, values }
    }

    fn split_words(&mut self, p: &Pair<Rule>) -> ThinVec<Word> {
        let start = p.as_span().start();
        let mut out = ThinVec::new();
        let mut at = 0;
        let text = p.as_str();
        for w in text.split(' ') {
            if !w.is_empty() {
                out.push(self.word_at(w, start + at));
            }
            at += w.len() + 1;
        }
        out
    }

    fn num_value(&mut self, p: Pair<Rule>) -> Option<ValueKind> {
        let span = self.span(&p);
        let mut inner = p.into_inner();
        let first = inner.next()?;
        let one = first.as_str().trim_end().to_owned();
        let range = self.range(first);
        let number = match (&range.low, &range.high) {
            (Some(a), Some(b)) if a.span == b.span => match &a.kind {
                ExprKind::Number(n) if !one.starts_with("from") && !one.starts_with("at ") => Some(n.clone()),
                _ => None,
            },
            _ => None,
        };
        let Some(tail) = inner.next() else {
            return Some(match number {
                Some(n) => ValueKind::Number(n),
                None => plain_range(range),
            });
        };
        match tail.as_rule() {
            Rule::comb_tail => {
                let over = inner.next().map(|b| self.blade(&b));
                let span = self.trimmed(span);
                if number.is_none() {
                    self.error("W010", span, "a comb leaves one length", "write it as `19 mm comb`");
                }
                Some(ValueKind::Tool(ToolRef { kind: ToolRefKind::Comb { length: number.map(Box::new), over }, span }))
            }
            _ => Some(ValueKind::Measure { words: self.split_words(&tail), range: Box::new(range) }),
        }
    }
}

/// A range value; a single sum that isn't a plain number stands at both ends.
fn plain_range(range: Range) -> ValueKind {
    ValueKind::Range(Box::new(range))
}
