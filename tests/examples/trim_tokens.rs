//! Prints what the real parser sees in some files, one JSON line a token, for the grammars of the editors to be held to.
//!
//! `cargo run -p coatwright-tests --example trim_tokens -- FILES…` prints `{"file": …, "mistakes": …}` for each file and
//! then its tokens, `{"kind": …, "start": …, "end": …}`, in the order of the text; places are bytes of the file.
#![allow(clippy::unwrap_used, missing_docs)]

use std::io::Write;

use grammar::tree::{
    Block, Body, BoundKind, Clause, ClauseKind, Comment, CondKind, Expect, Expr, ExprKind, Field, Floor, Line, Number,
    Range, Room, Span, Stmt, StmtKind, Text, ToolRef, ToolRefKind, ValueKind, Word,
};
use serde_json::json;

struct Tokens<'a> {
    text: &'a str,
    /// Where the block at hand begins.
    at: u32,
    out: Vec<(Span, &'static str)>,
}

impl Tokens<'_> {
    fn put(&mut self, kind: &'static str, span: Span) {
        self.out.push((span.shifted(self.at), kind));
    }

    fn comments<'c>(&mut self, comments: impl IntoIterator<Item = &'c Comment>) {
        for c in comments {
            self.put("comment", c.span);
        }
    }

    fn said(&self, span: Span) -> &str {
        let span = span.shifted(self.at);
        &self.text[span.start as usize..span.end as usize]
    }

    /// Quoted text; what a `line` says in plain words isn't.
    fn quoted(&mut self, span: Span, otherwise: Option<&'static str>) {
        let quote = |c| matches!(c, '"' | '\'' | '“' | '”' | '„' | '‟' | '‘' | '’' | '‚');
        if self.said(span).starts_with(quote) {
            self.put("string", span);
        } else if let Some(kind) = otherwise {
            self.put(kind, span);
        }
    }

    fn text(&mut self, text: &Text) {
        self.quoted(text.span, None);
    }

    fn number(&mut self, n: &Number) {
        // `half of it` and `twice as much` are said in words.
        if !matches!(self.said(n.span).to_lowercase().as_str(), "half" | "twice") {
            self.put("number", n.span);
        }
    }

    fn blade(&mut self, word: &Word) {
        if self.said(word.span).starts_with('#') {
            self.put("blade", word.span);
        }
    }

    fn block(&mut self, b: &Block) {
        self.comments(&b.trivia.before);
        self.put("block", b.keyword.span);
        if let Some(name) = &b.name {
            if self.said(name.span).starts_with('#') {
                self.put("blade", name.span);
            } else {
                self.put("name", name.span);
            }
        }
        self.comments(b.trivia.after.as_deref());
        b.body.iter().for_each(|s| self.stmt(s));
        self.comments(&b.trivia.at_end);
    }

    fn body(&mut self, b: &Body) {
        self.comments(b.after_open.as_deref());
        b.stmts.iter().for_each(|s| self.stmt(s));
        self.comments(&b.at_end);
    }

    fn stmt(&mut self, s: &Stmt) {
        self.comments(&s.trivia.before);
        self.comments(s.trivia.after.as_deref());
        if let Some(source) = &s.source {
            self.put("note", source.span);
        }
        match &s.kind {
            StmtKind::About(prose) => self.quoted(prose.span, Some("prose")),
            StmtKind::Work(w) => {
                // `feet round` is short for `shape feet round`: its verb is the part of the dog.
                let part = grammar::words::SHORT.contains(&self.said(w.verb_span).to_lowercase().as_str());
                self.put(if part { "part" } else { "verb" }, w.verb_span);
                self.clauses(&w.clauses);
            }
            StmtKind::Blend(b) => self.clauses(&b.clauses),
            StmtKind::Line(Line::Landmarks { from, to }) => {
                self.text(from);
                self.text(to);
            }
            StmtKind::Line(Line::Between { .. }) | StmtKind::Order(_) | StmtKind::Broken => {}
            StmtKind::Keep(k) => {
                k.bounds.iter().for_each(|b| self.bound(&b.kind));
                k.because.iter().for_each(|t| self.text(t));
            }
            StmtKind::Override(o) => {
                o.keep.bounds.iter().for_each(|b| self.bound(&b.kind));
                o.by.iter().chain(o.keep.because.as_deref()).for_each(|t| self.text(t));
            }
            StmtKind::When { cond, body } => {
                cond.items.iter().for_each(|i| self.cond(&i.kind));
                self.body(body);
            }
            StmtKind::Else { cond, body } => {
                cond.iter().flat_map(|c| &c.items).for_each(|i| self.cond(&i.kind));
                self.body(body);
            }
            StmtKind::Guard { body, .. } | StmtKind::Prep(body) => self.body(body),
            StmtKind::Lasts { time, body } => {
                self.expr(time);
                body.iter().for_each(|b| self.body(b));
            }
            StmtKind::Param { value, within, .. } => {
                self.expr(value);
                within.iter().for_each(|r| self.range(r));
            }
            StmtKind::Let { value, .. } => self.expr(value),
            StmtKind::Serves(cond) => cond.items.iter().for_each(|i| self.cond(&i.kind)),
            StmtKind::Extends { from, version, .. } => {
                from.iter().for_each(|text| self.text(text));
                version.iter().for_each(|number| self.number(number));
            }
            StmtKind::CardCoat(c) => {
                c.length.iter().for_each(|n| self.number(n));
                c.lengths.iter().for_each(|(_, n)| self.number(n));
            }
            StmtKind::CardFinding(f) => {
                f.other.iter().for_each(|t| self.text(t));
                f.after.iter().for_each(|t| self.tool(t));
                f.seen.iter().for_each(|d| self.put("date", d.span));
            }
            StmtKind::CardMats(m) => m.off_skin.iter().for_each(|n| self.number(n)),
            StmtKind::Wants { but: body, .. } | StmtKind::Given { body, .. } => body.iter().for_each(|b| self.body(b)),
            StmtKind::Expect(Expect::Finish { clauses, .. }) => self.clauses(clauses),
            StmtKind::Expect(Expect::Takes(range)) => self.range(range),
            StmtKind::Expect(_) => {}
            StmtKind::Field(f) => self.field(f),
            StmtKind::Block(b) => self.block(b),
        }
    }

    fn clauses(&mut self, clauses: &[Clause]) {
        for c in clauses {
            match &c.kind {
                ClauseKind::To(e) => self.expr(e),
                ClauseKind::With(t) => self.tool(t),
                ClauseKind::Over(Room::Length(n)) => self.number(n),
                ClauseKind::Because(t) => self.text(t),
                // `a third` is a word, `1/3` no measure: both are left to the editor.
                ClauseKind::Over(Room::Share { .. })
                | ClauseKind::Direction(_)
                | ClauseKind::Passes(_)
                | ClauseKind::Manner { .. }
                | ClauseKind::Throughout => {}
            }
        }
    }

    fn tool(&mut self, t: &ToolRef) {
        match &t.kind {
            ToolRefKind::Blade(_) => {
                // `a #10 blade` is one tool, but its blade is `#10`.
                let said = self.said(t.span);
                let from = said.find('#').unwrap_or(0);
                let long = said[from..].find(' ').unwrap_or(said.len() - from);
                let start = t.span.start + u32::try_from(from).unwrap();
                self.put("blade", Span::new(start, start + u32::try_from(long).unwrap()));
            }
            ToolRefKind::Comb { length, over } => {
                length.iter().for_each(|n| self.number(n));
                over.iter().for_each(|w| self.blade(w));
            }
            ToolRefKind::Named(_) => {}
        }
    }

    fn bound(&mut self, b: &BoundKind) {
        match b {
            BoundKind::NoCloser(Floor::Blade(w)) => self.blade(w),
            BoundKind::NoCloser(Floor::Length(e)) | BoundKind::NoShorter(e) | BoundKind::AtMost(e) => self.expr(e),
            BoundKind::AtStretch(n) | BoundKind::InAll(n) => self.number(n),
            BoundKind::Never(tools) | BoundKind::Only(tools) => tools.iter().for_each(|t| self.tool(t)),
            _ => {}
        }
    }

    fn cond(&mut self, c: &CondKind) {
        if let CondKind::Within { range, .. } = c {
            self.range(range);
        }
    }

    fn range(&mut self, r: &Range) {
        r.low.iter().chain(&r.high).for_each(|e| self.expr(e));
    }

    fn expr(&mut self, e: &Expr) {
        match &e.kind {
            ExprKind::Number(n) => self.number(n),
            ExprKind::Blade(w) => self.blade(w),
            ExprKind::Binary { left, right, .. } => {
                self.expr(left);
                self.expr(right);
            }
            ExprKind::Steps { from, .. } => self.expr(from),
            ExprKind::Name(_) => {}
        }
    }

    fn field(&mut self, f: &Field) {
        for v in &f.values {
            match &v.kind {
                ValueKind::Number(n) => self.number(n),
                ValueKind::Range(r) | ValueKind::Measure { range: r, .. } => self.range(r),
                ValueKind::Blade(w) => self.blade(w),
                ValueKind::Tool(t) => self.tool(t),
                ValueKind::Text(t) => self.text(t),
                ValueKind::Date(d) => self.put("date", d.span),
                ValueKind::Words(_) => {}
            }
        }
    }
}

fn main() {
    let mut out = std::io::stdout().lock();
    for path in std::env::args().skip(1) {
        let text = std::fs::read_to_string(&path).unwrap();
        let file = grammar::parse(&text);
        let mut tokens = Tokens { text: &text, at: 0, out: Vec::new() };
        for placed in &file.blocks {
            tokens.at = placed.at;
            tokens.block(&placed.block.block);
            tokens.comments(&placed.block.after);
        }
        tokens.at = 0;
        tokens.comments(&file.at_end);
        tokens.out.sort_unstable();
        tokens.out.dedup();
        writeln!(out, "{}", json!({ "file": path, "mistakes": grammar::errors(&file).len() })).unwrap();
        for (span, kind) in tokens.out {
            writeln!(out, "{}", json!({ "kind": kind, "start": span.start, "end": span.end })).unwrap();
        }
    }
}
