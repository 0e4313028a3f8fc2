//! Bodies, columns, comments and blank lines.

use crate::format::WIDTH;
use crate::format::measure::Src;
use crate::tree::{Block, Body, Comment, Parsed, Span, Stmt, StmtKind};
use crate::words;
use thin_vec::ThinVec;

/// Keywords longer than this don't push the others' column out.
const LONG_KEY: usize = 12;
/// Source notes stand in this column where the lines are short enough.
const NOTE_COLUMN: usize = 39;

/// One top-level block, comments before it included, without a line break at its end.
pub(crate) fn block(src: &str, parsed: &Parsed) -> String {
    let mut p = Page { src: Src(src), out: String::new() };
    let b = &parsed.block;
    p.comments(&b.trivia.before, 0, None);
    if let Some(last) = b.trivia.before.last()
        && p.blank_between(last.span.end, b.span.start)
    {
        p.out.push('\n');
    }
    p.block(b, 0);
    if let Some(c) = &parsed.after {
        p.out.push_str("  ");
        p.out.push_str(&c.text);
    }
    p.out
}

struct Page<'a> {
    src: Src<'a>,
    out: String,
}

/// A statement's line, ready but for its columns.
struct Row<'s> {
    stmt: &'s Stmt,
    key: String,
    rest: String,
    note: Option<String>,
}

impl Page<'_> {
    fn indent(&mut self, depth: usize) {
        for _ in 0..depth {
            self.out.push_str("  ");
        }
    }

    fn blank_between(&self, from: u32, to: u32) -> bool {
        self.src.raw(Span::new(from, to.max(from))).matches('\n').count() > 1
    }

    /// Comments on lines of their own, with the empty lines between them.
    fn comments(&mut self, list: &[Comment], depth: usize, after: Option<u32>) {
        let mut end = after;
        for c in list {
            if let Some(end) = end
                && self.blank_between(end, c.span.start)
                && !self.out.ends_with("\n\n")
            {
                self.out.push('\n');
            }
            self.indent(depth);
            self.out.push_str(&c.text);
            self.out.push('\n');
            end = Some(c.span.end);
        }
    }

    fn block(&mut self, b: &Block, depth: usize) {
        let head = match &b.name {
            Some(n) => {
                let quoted = self.src.raw(n.span).starts_with(['"', '“', '‘', '\'']);
                format!("{} {}", b.keyword.text, if quoted { format!("\"{}\"", n.text) } else { n.text.to_string() })
            }
            None => b.keyword.text.to_string(),
        };
        self.out.push_str(&head);
        let one_line = !self.src.raw(b.span).contains('\n');
        let body = Body {
            stmts: ThinVec::new(),
            span: b.span,
            at_end: ThinVec::new(),
            after_open: b.trivia.after.clone(),
            one_line,
        };
        self.body(&b.body, &body, &b.trivia.at_end, depth, false);
    }

    /// ` { … }` after a head that is already written.
    fn body(&mut self, stmts: &[Stmt], body: &Body, at_end: &[Comment], depth: usize, caps: bool) {
        self.out.push_str(if self.out.ends_with(' ') { "{" } else { " {" });
        if body.one_line
            && body.after_open.is_none()
            && at_end.is_empty()
            && let Some(line) = self.one_line(stmts, caps)
        {
            let column = self.out.len() - self.out.rfind('\n').map_or(0, |i| i + 1);
            if column + line.chars().count() + 2 <= WIDTH {
                self.out.push_str(&line);
                self.out.push_str(" }");
                return;
            }
        }
        if let Some(c) = &body.after_open {
            self.out.push_str("  ");
            self.out.push_str(&c.text);
        }
        self.out.push('\n');
        self.stmts(stmts, depth + 1, caps);
        let end = stmts.last().map(|s| s.trivia.after.as_ref().map_or(s.span.end, |c| c.span.end));
        self.comments(at_end, depth + 1, end);
        self.indent(depth);
        self.out.push('}');
    }

    /// All statements on one line, if that can be.
    fn one_line(&self, stmts: &[Stmt], caps: bool) -> Option<String> {
        let mut out = String::new();
        let mut last: Option<Span> = None;
        for s in stmts {
            if !s.trivia.before.is_empty() || s.trivia.after.is_some() {
                return None;
            }
            if matches!(&s.kind, StmtKind::About(p) if self.is_prose(s, p)) {
                return None;
            }
            let p = self.src.phrase(s, true, caps);
            if last == Some(s.span)
                && let StmtKind::Keep(k) = &s.kind
            {
                out.push_str(", ");
                out.push_str(&self.src.bounds(k));
                continue;
            }
            last = Some(s.span);
            out.push_str(if out.is_empty() { " " } else { "; " });
            let mut inner = Page { src: self.src, out: String::new() };
            if let StmtKind::Block(b) = &s.kind {
                inner.block(b, 0);
            } else {
                inner.out.push_str(&p.key);
                if !p.key.is_empty() && !p.rest.is_empty() {
                    inner.out.push(' ');
                }
                inner.out.push_str(&p.rest);
                if let Some(b) = s.body() {
                    inner.body(&b.stmts, b, &b.at_end, 0, matches!(s.kind, StmtKind::Lasts { .. }));
                }
            }
            if let Some(n) = &s.source {
                inner.out.push_str(&format!(" ({})", n.text));
            }
            if inner.out.contains('\n') {
                return None;
            }
            out.push_str(&inner.out);
        }
        Some(out)
    }

    fn rows<'s>(&self, stmts: &'s [Stmt], caps: bool) -> Vec<Row<'s>> {
        let mut rows: Vec<Row> = Vec::with_capacity(stmts.len());
        for s in stmts {
            if let (StmtKind::Keep(k), Some(last)) = (&s.kind, rows.last_mut())
                && last.stmt.span == s.span
                && let StmtKind::Keep(first) = &last.stmt.kind
            {
                // A second keep of the same line goes before the reason that both share.
                let reason =
                    first.because.as_ref().map(|t| format!(" because {}", self.src.text(t))).unwrap_or_default();
                let cut = last.rest.len() - reason.len();
                last.rest.truncate(cut);
                last.rest.push_str(&format!(", {}{reason}", self.src.bounds(k)));
                continue;
            }
            let p = self.src.phrase(s, false, caps);
            rows.push(Row {
                stmt: s,
                key: p.key,
                rest: p.rest,
                note: s.source.as_ref().map(|n| format!("({})", n.text)),
            });
        }
        rows
    }

    fn stmts(&mut self, stmts: &[Stmt], depth: usize, caps: bool) {
        let rows = self.rows(stmts, caps);
        let plain = |r: &Row| !matches!(r.stmt.kind, StmtKind::Block(_) | StmtKind::Broken) && r.key != "else when";
        let column = rows
            .iter()
            .filter(|r| plain(r) && !r.rest.is_empty() && r.key.len() <= LONG_KEY)
            .map(|r| r.key.chars().count())
            .max()
            .map_or(0, |n| n + 2);
        let length = |r: &Row| depth * 2 + column.max(r.key.chars().count() + 1) + r.rest.chars().count();
        let note_column = rows
            .iter()
            .filter(|r| r.note.is_some() && r.stmt.body().is_none())
            .map(length)
            .filter(|n| *n <= 60)
            .max()
            .map_or(NOTE_COLUMN, |n| NOTE_COLUMN.max(n + 2));
        let mut end: Option<u32> = None;
        for (i, r) in rows.iter().enumerate() {
            let s = r.stmt;
            if i > 0 && s.trivia.blank_before {
                self.out.push('\n');
            }
            self.comments(&s.trivia.before, depth, end.filter(|_| i > 0));
            if let Some(last) = s.trivia.before.last()
                && last.span.end <= s.span.start
                && self.blank_between(last.span.end, s.span.start)
            {
                self.out.push('\n');
            }
            self.indent(depth);
            self.row(r, depth, column, note_column);
            let prose = matches!(&s.kind, StmtKind::About(p) if self.is_prose(s, p));
            if let Some(c) = s.trivia.after.as_ref().filter(|_| !prose) {
                self.out.push_str("  ");
                self.out.push_str(&c.text);
            }
            self.out.push('\n');
            end = Some(s.trivia.after.as_ref().map_or(s.span.end, |c| c.span.end.max(s.span.end)));
        }
    }

    /// Whether the words of an `about` stand on lines of their own below it.
    fn is_prose(&self, s: &Stmt, p: &crate::tree::Prose) -> bool {
        self.src.raw(Span::new(s.span.start, p.span.start.max(s.span.start))).contains('\n')
    }

    fn row(&mut self, r: &Row, depth: usize, column: usize, note_column: usize) {
        let line_start = self.out.rfind('\n').map_or(0, |i| i + 1);
        match &r.stmt.kind {
            StmtKind::Block(b) => self.block(b, depth),
            StmtKind::About(p) if self.is_prose(r.stmt, p) => {
                self.out.push_str("about");
                if let Some(c) = &r.stmt.trivia.after {
                    self.out.push_str("  ");
                    self.out.push_str(&c.text);
                }
                for l in &p.lines {
                    self.out.push('\n');
                    if !l.is_empty() {
                        self.indent(depth + 1);
                        self.out.push_str(l);
                    }
                }
            }
            _ => {
                self.out.push_str(&r.key);
                let body = r.stmt.body();
                if !r.key.is_empty() && (!r.rest.is_empty() || body.is_some()) {
                    let pad = column.saturating_sub(r.key.chars().count()).max(1);
                    let pad = if r.rest.is_empty() && column == 0 { 1 } else { pad };
                    for _ in 0..pad {
                        self.out.push(' ');
                    }
                }
                let hang = self.out.get(line_start..).unwrap_or("").chars().count();
                self.folded(&r.rest, hang);
                if let Some(b) = body {
                    self.body(&b.stmts, b, &b.at_end, depth, matches!(r.stmt.kind, StmtKind::Lasts { .. }));
                }
            }
        }
        if let Some(note) = &r.note {
            let line_start = self.out.rfind('\n').map_or(0, |i| i + 1);
            let here = self.out.get(line_start..).unwrap_or("").chars().count();
            let simple = r.stmt.body().is_none() && !matches!(r.stmt.kind, StmtKind::Block(_));
            let pad = if simple { note_column.saturating_sub(here).max(2) } else { 1 };
            for _ in 0..pad {
                self.out.push(' ');
            }
            self.out.push_str(note);
        }
    }

    /// Writes the rest of a line, folded after commas where it would be too long.
    fn folded(&mut self, rest: &str, hang: usize) {
        if hang + rest.chars().count() <= WIDTH {
            self.out.push_str(rest);
            return;
        }
        let mut column = hang;
        let mut quotes = false;
        let mut piece_start = 0;
        let mut pieces: Vec<&str> = Vec::new();
        let bytes = rest.as_bytes();
        for (i, b) in bytes.iter().enumerate() {
            match b {
                b'"' if quotes || !bytes.get(i.wrapping_sub(1)).is_some_and(u8::is_ascii_digit) => quotes = !quotes,
                b',' if !quotes && bytes.get(i + 1) == Some(&b' ') && may_fold(rest.get(i + 2..).unwrap_or("")) => {
                    pieces.push(rest.get(piece_start..i + 2).unwrap_or(""));
                    piece_start = i + 2;
                }
                _ => {}
            }
        }
        pieces.push(rest.get(piece_start..).unwrap_or(""));
        for (i, piece) in pieces.iter().enumerate() {
            let n = piece.trim_end().chars().count();
            if i > 0 && column + n > WIDTH {
                while self.out.ends_with(' ') {
                    self.out.pop();
                }
                self.out.push('\n');
                for _ in 0..hang {
                    self.out.push(' ');
                }
                column = hang;
            }
            self.out.push_str(piece);
            column += piece.chars().count();
        }
    }
}

/// Whether a line may be folded before this: not if it would then look like a line of its own.
fn may_fold(rest: &str) -> bool {
    let word: String = rest.chars().take_while(|c| c.is_alphanumeric() || *c == '-').collect();
    !(words::verb(&word).is_some()
        || words::block(&word).is_some()
        || words::RECIPE_LINES.contains(&word.as_str())
        || words::DOG_LINES.contains(&word.as_str())
        || words::CASE_LINES.contains(&word.as_str())
        || words::BLOCKS.iter().any(|(_, k)| words::fields_of(*k).contains(&word.as_str()))
        || matches!(word.as_str(), "set" | "hand" | "about")
        || rest.starts_with(['{', '}', '-']))
}
