//! Zones and the clauses of work.

use pest::iterators::{Pair, Pairs};
use thin_vec::{ThinVec, thin_vec};

use crate::line::span;
use crate::read::{Rd, Rule, first_word};
use crate::tree::{
    Blend, Clause, ClauseKind, Direction, Line, Number, Order, Room, Span, Text, ToolRef, ToolRefKind, Unit, Verb,
    Word, Work, ZoneRef, Zones,
};
use crate::words;

impl Rd<'_, '_, '_> {
    pub(crate) fn zones(&mut self, p: Pair<Rule>) -> Zones {
        let mut zones = Zones { list: ThinVec::with_capacity(1), except: ThinVec::new(), span: self.span(&p) };
        let mut except = false;
        for q in p.into_inner() {
            if q.as_rule() == Rule::except {
                except = true;
                continue;
            }
            let z = self.zone_ref(&q);
            if except {
                zones.except.push(z);
            } else {
                zones.list.push(z);
            }
        }
        if let (Some(first), Some(last)) = (zones.list.first(), zones.except.last().or(zones.list.last())) {
            zones.span = first.span.to(last.span);
        }
        zones
    }

    /// The verb at the start of the line, and its span.
    fn verb(&self, words_: usize) -> (Verb, Span) {
        let w1 = first_word(&self.line.text);
        let mut end = w1.len();
        let mut word = w1.to_owned();
        if words_ > 1 {
            let rest = self.line.text.get(end..).unwrap_or("");
            let blank = rest.len() - rest.trim_start().len();
            let w2 = first_word(rest.trim_start());
            end += blank + w2.len();
            word = format!("{w1}-{w2}");
        }
        (words::verb(&word).unwrap_or(Verb::Clip), self.line.span(0, end))
    }

    pub(crate) fn work(&mut self, pairs: Pairs<Rule>, words_: usize) -> Work {
        let (verb, verb_span) = self.verb(words_);
        let mut work = Work { verb, verb_span, zones: Zones::default(), clauses: ThinVec::new() };
        for p in pairs {
            match p.as_rule() {
                Rule::EOI => {}
                Rule::zones => work.zones = self.zones(p),
                _ => self.clause(p, &mut work.clauses),
            }
        }
        work.clauses.shrink_to_fit();
        work
    }

    /// `feet round, bevelled`.
    pub(crate) fn short(&mut self, pairs: Pairs<Rule>) -> Work {
        let w = first_word(&self.line.text).len();
        let name = self.word_at(self.line.text.get(..w).unwrap_or(""), 0);
        let at = name.span;
        let zone = ZoneRef { side: None, name, span: at };
        let mut work = Work {
            verb: Verb::Shape,
            verb_span: at,
            zones: Zones { list: thin_vec![zone], except: ThinVec::new(), span: at },
            clauses: ThinVec::new(),
        };
        for p in pairs {
            if p.as_rule() != Rule::EOI {
                self.clause(p, &mut work.clauses);
            }
        }
        work.clauses.shrink_to_fit();
        work
    }

    pub(crate) fn blend(&mut self, pairs: Pairs<Rule>) -> Blend {
        let mut blend = Blend { from: Zones::default(), into: Zones::default(), clauses: ThinVec::new() };
        let mut seen = false;
        for p in pairs {
            match p.as_rule() {
                Rule::EOI => {}
                Rule::zones if seen => blend.into = self.zones(p),
                Rule::zones => {
                    seen = true;
                    blend.from = self.zones(p);
                }
                _ => self.clause(p, &mut blend.clauses),
            }
        }
        blend.clauses.shrink_to_fit();
        blend
    }

    pub(crate) fn line_between(&mut self, pairs: Pairs<Rule>) -> Line {
        let mut sides = ThinVec::new();
        let mut marks = ThinVec::new();
        for p in pairs {
            match p.as_rule() {
                Rule::side => sides.push(self.zones(p)),
                Rule::landmark => {
                    let s = p.as_span();
                    let said = self.line.original(s.start(), s.end());
                    let lead = said.len() - said.trim_start().len();
                    let at = self.line.span(s.start() + lead, s.start() + p.as_str().trim_end().len());
                    marks.push(Text { text: said.split_whitespace().collect::<Vec<_>>().join(" "), span: at });
                }
                _ => {}
            }
        }
        let at = self.line.whole();
        let empty = || Text { text: String::new(), span: at };
        let mut sides = sides.into_iter();
        match sides.next() {
            Some(a) => Line::Between { a, b: sides.next().unwrap_or_default() },
            None => {
                let mut marks = marks.into_iter();
                Line::Landmarks { from: marks.next().unwrap_or_else(empty), to: marks.next().unwrap_or_else(empty) }
            }
        }
    }

    pub(crate) fn order(&mut self, pairs: Pairs<Rule>) -> Order {
        let mut order = Order { first: ThinVec::new(), then: ThinVec::new() };
        let mut before = false;
        for p in pairs {
            match p.as_rule() {
                Rule::before => before = true,
                Rule::zone_ref => {
                    let z = self.zone_ref(&p);
                    if before { order.then.push(z) } else { order.first.push(z) }
                }
                _ => {}
            }
        }
        order
    }

    pub(crate) const fn direction(rule: Rule) -> Option<Direction> {
        match rule {
            Rule::dir_with => Some(Direction::With),
            Rule::dir_rev => Some(Direction::Reverse),
            Rule::dir_across => Some(Direction::Across),
            _ => None,
        }
    }

    pub(crate) fn passes(p: &Pair<Rule>) -> u32 {
        let w = p.as_str().split(' ').next().unwrap_or("");
        match words::count(w) {
            Some(n) => u32::try_from(n).unwrap_or(1),
            None => w.parse().unwrap_or(u32::MAX),
        }
    }

    pub(crate) fn clause(&mut self, p: Pair<Rule>, out: &mut ThinVec<Clause>) {
        let mut at = self.span(&p);
        let kind = match p.as_rule() {
            Rule::to => match p.into_inner().next() {
                Some(sum) => {
                    let e = self.sum(sum);
                    at.end = e.span.end.max(at.start);
                    ClauseKind::To(e)
                }
                None => return,
            },
            Rule::with => match p.into_inner().next() {
                Some(tool) => {
                    let start = tool.as_span().start();
                    let mut t = self.tool(tool);
                    self.trim_tool(&mut t, start);
                    at.end = t.span.end.max(at.start);
                    ClauseKind::With(t)
                }
                None => return,
            },
            Rule::passes => ClauseKind::Passes(Self::passes(&p)),
            Rule::throughout => ClauseKind::Throughout,
            Rule::because => match p.into_inner().next() {
                Some(t) => ClauseKind::Because(self.text(&t)),
                None => return,
            },
            Rule::room => ClauseKind::Over(self.room(p, at)),
            Rule::manner => {
                let mut inner = p.into_inner();
                let Some(name) = inner.next() else { return };
                let name = self.word_of(&name);
                let place = inner.next().map(|z| self.zone_ref(&z));
                at = place.as_ref().map_or(name.span, |z| name.span.to(z.span));
                ClauseKind::Manner { name, at: place.map(Box::new) }
            }
            rule => match Self::direction(rule) {
                Some(d) => ClauseKind::Direction(d),
                None => return,
            },
        };
        out.push(Clause { kind, span: at });
    }

    /// `with 10`: a bare number is a blade without its sign.
    pub(crate) fn trim_tool(&mut self, t: &mut ToolRef, _start: usize) {
        match &t.kind {
            ToolRefKind::Named(w) => t.span = Span::new(t.span.start, w.span.end.max(t.span.start)),
            ToolRefKind::Comb { .. } | ToolRefKind::Blade(_) => {}
        }
    }

    fn room(&mut self, p: Pair<Rule>, at: Span) -> Room {
        let mut inner = p.into_inner();
        let Some(q) = inner.next() else { return Room::Length(whole_number(at)) };
        if q.as_rule() == Rule::number {
            return Room::Length(self.number(&q));
        }
        let share = self.share(&q);
        match inner.next() {
            Some(z) => Room::Share { share, of: Box::new(self.zone_ref(&z)) },
            None => Room::Length(share),
        }
    }

    /// `a third`, `two thirds`, `1/4`, `30 %`.
    fn share(&mut self, p: &Pair<Rule>) -> Number {
        let s = p.as_str();
        let span = self.span(p);
        let text = s.into();
        if s.starts_with(|c: char| c.is_ascii_digit()) {
            let n = self.number(p);
            return match n.unit {
                Unit::Percent => Number { num: n.num, den: n.den.saturating_mul(100), unit: Unit::None, ..n },
                _ => n,
            };
        }
        let mut words_ = s.split(' ').filter(|w| !w.is_empty());
        let first = words_.next().unwrap_or("");
        let last = words_.next().unwrap_or(first);
        let num = if first == last { 1 } else { words::count(first).unwrap_or(1) };
        let den = match last {
            "half" => 2,
            "third" | "thirds" => 3,
            _ => 4,
        };
        Number { num, den, unit: Unit::None, text, span }
    }
}

pub(crate) fn whole_number(at: Span) -> Number {
    Number { num: 1, den: 1, unit: Unit::None, text: "1".into(), span: at }
}

/// A word that stands for a part that is missing.
pub(crate) fn missing(at: Span) -> Word {
    Word { text: "".into(), span: span(at.start as usize, at.start as usize) }
}
