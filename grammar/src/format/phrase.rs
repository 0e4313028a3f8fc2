//! Each statement as the formatter writes it: its keyword, and the rest of its line.

use crate::format::measure::{Src, count};
use crate::tree::{
    Bound, BoundKind, CardCoat, CardFinding, Clause, ClauseKind, Cond, CondItem, CondKind, Direction, Expect, Field,
    Floor, Keep, Line, Room, Stmt, StmtKind, Value, ValueKind, Verb, Work,
};

/// A line in two columns.
pub(crate) struct Phrase {
    /// The keyword; empty in `lasts { … }`.
    pub key: String,
    /// What follows it, without braces.
    pub rest: String,
}

fn phrase(key: &str, rest: String) -> Phrase {
    Phrase { key: key.to_owned(), rest }
}

impl Src<'_> {
    /// The line of a statement (prose, blocks and bodies are laid out elsewhere).
    pub(crate) fn phrase(&self, s: &Stmt, one_line: bool, caps: bool) -> Phrase {
        match &s.kind {
            StmtKind::About(p) => phrase("about", p.lines.first().map_or(String::new(), |l| self.quoted(l, p.span))),
            StmtKind::Work(w) => self.work(w),
            StmtKind::Blend(b) => phrase(
                "blend",
                format!("{} into {}{}", self.zones(&b.from), self.zones(&b.into), self.clauses(&b.clauses)),
            ),
            StmtKind::Line(Line::Between { a, b }) => {
                phrase("line", format!("between {} and {}", self.zones(a), self.zones(b)))
            }
            StmtKind::Line(Line::Landmarks { from, to }) => {
                phrase("line", format!("from {} to {}", from.text, to.text))
            }
            StmtKind::Keep(k) => self.keep(k, s, caps),
            StmtKind::Override(o) => {
                let by = o.by.as_ref().map_or(String::new(), |t| format!(" by {}", self.text(t)));
                let because = o.keep.because.as_ref().map_or(String::new(), |t| format!(" because {}", self.text(t)));
                phrase("override", format!("{}{by}{because}", self.bounds(&o.keep)))
            }
            StmtKind::Order(o) => phrase("order", format!("{} before {}", self.refs(&o.first), self.refs(&o.then))),
            StmtKind::When { cond, .. } => phrase("when", self.cond(cond)),
            StmtKind::Else { cond: Some(c), .. } => phrase("else when", self.cond(c)),
            StmtKind::Else { cond: None, .. } => phrase("else", String::new()),
            StmtKind::Guard { findings, .. } => {
                phrase("guard", findings.iter().map(|w| self.word(w)).collect::<Vec<_>>().join(", "))
            }
            StmtKind::Lasts { time, .. } => phrase("lasts", self.expr(time)),
            StmtKind::Prep(_) => phrase("prep", String::new()),
            StmtKind::Param { name, value, within } => {
                let within = within.as_ref().map_or(String::new(), |r| format!(", within {}", self.range(r)));
                phrase("param", format!("{} is {}{within}", self.word(name), self.expr(value)))
            }
            StmtKind::Let { name, value } => phrase("let", format!("{} is {}", self.word(name), self.expr(value))),
            StmtKind::Serves(c) => phrase("serves", self.cond(c)),
            StmtKind::Extends { base, from, version } => {
                let from = from.as_ref().map_or(String::new(), |f| format!(" from {}", self.quoted(&f.text, f.span)));
                let version = version.as_ref().map_or(String::new(), |v| format!(" version {}", self.number(v)));
                phrase("extends", format!("{}{from}{version}", self.word(base)))
            }
            StmtKind::CardCoat(c) => phrase("coat", self.card_coat(c, one_line)),
            StmtKind::CardFinding(f) => phrase("finding", self.card_finding(f)),
            StmtKind::CardMats(m) => {
                let off = m.off_skin.as_ref().map_or(String::new(), |n| format!(", {} off the skin", self.number(n)));
                phrase("mats", format!("{} on {}{off}", self.word(&m.grade), self.zones(&m.zones)))
            }
            StmtKind::Wants { recipe, but } => {
                phrase("wants", format!("{}{}", self.word(recipe), if but.is_some() { " but" } else { "" }))
            }
            StmtKind::Given { dog, .. } => {
                phrase("given", dog.as_ref().map_or(String::new(), |d| format!("dog {}", self.word(d))))
            }
            StmtKind::Expect(e) => phrase("expect", self.expect(e)),
            StmtKind::Field(f) => phrase(&f.name.text, self.field(f)),
            StmtKind::Block(_) | StmtKind::Broken => phrase("", self.raw(s.span).to_owned()),
        }
    }

    pub(crate) fn quoted(&self, line: &str, span: crate::tree::Span) -> String {
        if line.contains(['"', '”']) { self.raw(span).to_owned() } else { format!("\"{line}\"") }
    }

    fn work(&self, w: &Work) -> Phrase {
        let short =
            w.verb == Verb::Shape && matches!(w.clauses.first(), Some(Clause { kind: ClauseKind::Manner { .. }, .. }));
        if short {
            let rest = self.clauses(&w.clauses);
            return phrase(&self.zones(&w.zones), rest.trim_start_matches(',').trim_start().to_owned());
        }
        phrase(w.verb.as_str(), format!("{}{}", self.zones(&w.zones), self.clauses(&w.clauses)))
    }

    fn clauses(&self, list: &[Clause]) -> String {
        let mut out = String::new();
        for (i, c) in list.iter().enumerate() {
            let comma =
                matches!(c.kind, ClauseKind::Manner { .. }) || (i > 0 && matches!(c.kind, ClauseKind::Passes(_)));
            out.push_str(if comma { ", " } else { " " });
            out.push_str(&match &c.kind {
                ClauseKind::To(e) => format!("to {}", self.expr(e)),
                ClauseKind::With(t) => {
                    let by = self.raw(c.span).get(..2).is_some_and(|w| w.eq_ignore_ascii_case("by"));
                    format!("{} {}", if by { "by" } else { "with" }, self.tool(t))
                }
                ClauseKind::Direction(d) => direction(*d).to_owned(),
                ClauseKind::Passes(n) => passes(*n),
                ClauseKind::Over(Room::Length(n)) => format!("over {}", self.number(n)),
                ClauseKind::Over(Room::Share { share, of }) => {
                    format!("over {} of the {}", self.said(share.span), self.zone(of))
                }
                ClauseKind::Manner { name, at } => {
                    format!(
                        "{}{}",
                        self.word(name),
                        at.as_ref().map_or(String::new(), |z| format!(" at {}", self.zone(z)))
                    )
                }
                ClauseKind::Throughout => "throughout".to_owned(),
                ClauseKind::Because(t) => format!("because {}", self.text(t)),
            });
        }
        out
    }

    fn keep(&self, k: &Keep, s: &Stmt, caps: bool) -> Phrase {
        let said = self.raw(s.span).split_whitespace().next().unwrap_or("").to_lowercase();
        if !caps && let (Some(z), "first" | "last") = (&k.zones, said.as_str()) {
            return phrase(&said, self.zones(z));
        }
        let because = k.because.as_ref().map_or(String::new(), |t| format!(" because {}", self.text(t)));
        phrase(if caps { "" } else { "keep" }, format!("{}{because}", self.bounds(k)))
    }

    /// Zones and bounds of a keep, without its reason.
    pub(crate) fn bounds(&self, k: &Keep) -> String {
        let bounds = k.bounds.iter().map(|b| self.bound(b)).collect::<Vec<_>>().join(", ");
        k.zones.as_ref().map_or(bounds.clone(), |z| format!("{} {bounds}", self.zones(z)))
    }

    fn bound(&self, b: &Bound) -> String {
        let tools = |list: &[crate::tree::ToolRef], last: &str| {
            let all: Vec<String> = list.iter().map(|t| self.tool(t)).collect();
            or_list(&all, last)
        };
        match &b.kind {
            BoundKind::NoCloser(Floor::Blade(w)) => format!("no closer than {}", w.text),
            BoundKind::NoCloser(Floor::Length(e)) => format!("no closer than {}", self.expr(e)),
            BoundKind::NoCloser(Floor::OverCause(n)) => {
                format!("no closer than {} {} over its cause", count(*n), if *n == 1 { "class" } else { "classes" })
            }
            BoundKind::NoShorter(e) => format!("no shorter than {}", self.expr(e)),
            BoundKind::AtMost(e) => format!("at most {}", self.expr(e)),
            BoundKind::Gap(g) => format!("gap {}", g.as_str()),
            BoundKind::Untouched => "untouched".to_owned(),
            BoundKind::Never(t) => format!("never {}", tools(t, ", ")),
            BoundKind::Only(t) => format!("only {}", tools(t, " or ")),
            BoundKind::Direction { way, never } => format!("{}{}", if *never { "never " } else { "" }, direction(*way)),
            BoundKind::Passes(n) => passes(*n),
            BoundKind::Last => "last".to_owned(),
            BoundKind::First => "first".to_owned(),
            BoundKind::Open => "open".to_owned(),
            BoundKind::Refer => "refer".to_owned(),
            BoundKind::AtStretch(n) => format!("at most {} at a stretch", self.number(n)),
            BoundKind::InAll(n) => format!("at most {} in all", self.number(n)),
            BoundKind::Manner(w) => self.word(w),
        }
    }

    fn cond(&self, c: &Cond) -> String {
        let mut out = String::new();
        let mut words_before = false;
        for item in &c.items {
            if !out.is_empty() {
                out.push_str(if words_before { " and " } else { ", " });
            }
            out.push_str(&self.cond_item(item));
            words_before = matches!(item.kind, CondKind::OneOf { .. });
        }
        out
    }

    fn cond_item(&self, i: &CondItem) -> String {
        match &i.kind {
            CondKind::OneOf { subject, any } => {
                let any: Vec<String> = any.iter().map(|w| self.word(w)).collect();
                format!("{} {}", subject.text, or_list(&any, " or "))
            }
            CondKind::Within { subject, range } => format!("{} {}", subject.text, self.range(range)),
            CondKind::MatsUpTo(w) => format!("mats up to {}", self.word(w)),
            CondKind::Finding(w) => {
                format!("{}{}", if self.said(i.span).starts_with("finding ") { "finding " } else { "" }, self.word(w))
            }
            CondKind::Without(w) => format!("without {}", self.word(w)),
        }
    }

    fn card_coat(&self, c: &CardCoat, one_line: bool) -> String {
        let mut out = self.word(&c.coat);
        if let Some(z) = &c.zones {
            out.push_str(&format!(" on {}", self.zones(z)));
        }
        for (w, v) in &c.notes {
            out.push_str(&format!(", {}", self.word(w)));
            if let Some(v) = v {
                out.push_str(&format!(" {}", self.word(v)));
            }
        }
        if let Some(n) = &c.length {
            out.push_str(&format!(", {}", self.number(n)));
        }
        for (i, (z, n)) in c.lengths.iter().enumerate() {
            out.push_str(if i == 0 && !one_line { "; " } else { ", " });
            out.push_str(&format!("{} {}", self.zone(z), self.number(n)));
        }
        out
    }

    fn card_finding(&self, f: &CardFinding) -> String {
        let mut out = self.word(&f.name);
        if let Some(t) = &f.other {
            out.push_str(&format!(" {}", self.text(t)));
        }
        if let Some(z) = &f.zones {
            out.push_str(&format!(" on {}", self.zones(z)));
        }
        if let Some(t) = &f.after {
            out.push_str(&format!(" after {}", self.tool(t)));
        }
        if let Some(d) = f.direction {
            out.push_str(&format!(" {}", direction(d)));
        }
        if let Some(d) = &f.seen {
            out.push_str(&format!(" seen {}", self.said(d.span)));
        }
        out
    }

    fn expect(&self, e: &Expect) -> String {
        match e {
            Expect::NoMessage => "no message".to_owned(),
            Expect::Takes(range) => format!("takes {}", self.range(range)),
            Expect::Message { code, zones } => {
                format!(
                    "message {}{}",
                    code.text,
                    zones.as_ref().map_or(String::new(), |z| format!(" on {}", self.zones(z)))
                )
            }
            Expect::Finish { zones, verb, state, clauses } => format!(
                "{}{}{}{}",
                self.zones(zones),
                verb.map_or(String::new(), |v| format!(" {}", v.as_str())),
                state.as_ref().map_or(String::new(), |w| format!(" {}", self.word(w))),
                self.clauses(clauses)
            ),
        }
    }

    fn field(&self, f: &Field) -> String {
        let mut out = String::new();
        let mut end = f.name.span.end;
        for v in &f.values {
            if !out.is_empty() {
                let between = self.raw(crate::tree::Span::new(end, v.span.start.max(end)));
                let said = between.trim().to_lowercase();
                out.push_str(match said.as_str() {
                    "" => " ",
                    "/" => " / ",
                    "or" | ", or" => " or ",
                    "and" | ", and" => " and ",
                    _ => ", ",
                });
            }
            out.push_str(&self.value(v));
            end = v.span.end;
        }
        out
    }

    fn value(&self, v: &Value) -> String {
        match &v.kind {
            ValueKind::Words(w) => w.iter().map(|w| w.text.to_string()).collect::<Vec<_>>().join(" "),
            ValueKind::Number(n) => self.number(n),
            ValueKind::Range(r) => self.range(r),
            ValueKind::Blade(b) => b.text.to_string(),
            ValueKind::Tool(t) => self.tool(t),
            ValueKind::Text(t) => self.text(t),
            ValueKind::Date(_) => self.said(v.span),
            ValueKind::Measure { words, range } => {
                let said = words.iter().map(|w| w.text.to_string()).collect::<Vec<_>>().join(" ");
                let measure = self.range(range);
                if words.first().is_some_and(|w| w.span.start > range.span.start) {
                    format!("{measure} {said}")
                } else {
                    format!("{said} {measure}")
                }
            }
        }
    }
}

const fn direction(d: Direction) -> &'static str {
    match d {
        Direction::With => "with the coat",
        Direction::Across => "across",
        Direction::Reverse => "in reverse",
    }
}

fn passes(n: u32) -> String {
    format!("{} {}", count(n), if n == 1 { "pass" } else { "passes" })
}

/// `a, b or c`.
fn or_list(all: &[String], last: &str) -> String {
    match all.split_last() {
        Some((end, rest)) if !rest.is_empty() => format!("{}{last}{end}", rest.join(", ")),
        _ => all.join(""),
    }
}
