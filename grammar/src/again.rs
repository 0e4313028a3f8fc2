//! What a block said before an edit: a statement on lines that the edit left alone isn't read again.

use crate::alike::alike;
use crate::moved::{Moved as _, statement};
use crate::outline::{MAX_ERRORS, Pending};
use crate::read::Ctx;
use crate::scan::word_end;
use crate::tree::{Parsed, Span, Stmt, StmtKind, Trivia};
use thin_vec::ThinVec;

/// A block as it was.
#[derive(Debug)]
pub(crate) struct Before<'b> {
    /// So many bytes at the front are the same,
    front: usize,
    /// and from this byte of the new text on,
    back: usize,
    /// which stood so many bytes to the right, counted round the end of the numbers.
    by: u32,
    /// Its statements without a body, by where they begin, and what they stand in.
    known: Vec<(Ctx, &'b Stmt)>,
    /// Where its mistakes are, each a little wider than it is: what touches one is read again.
    wrong: Vec<Span>,
}

impl<'b> Before<'b> {
    /// Compares a block's new text with the old one.
    pub(crate) fn new(text: &str, old_text: &str, old: &'b Parsed) -> Self {
        let (new, was) = (text.as_bytes(), old_text.as_bytes());
        let (front, same) = alike(was, new);
        let mut known = Vec::new();
        // Where there are too many mistakes, not all are known.
        if old.errors.len() < MAX_ERRORS {
            gather(old_text, Ctx::Block(old.block.kind), &old.block.body, &mut known);
        }
        known.sort_by_key(|(_, stmt)| stmt.span.start);
        let mut wrong = Vec::new();
        for error in &old.errors {
            let spans =
                [Some(error.span), error.related.as_ref().map(|(at, _)| *at), error.fix.as_ref().map(|f| f.span)];
            let wide = |at: Span| Span::new(at.start.saturating_sub(1), at.end.saturating_add(1));
            wrong.extend(spans.into_iter().flatten().map(wide));
        }
        // A block is shorter than these numbers reach.
        let by = u32::try_from(was.len()).unwrap_or(0).wrapping_sub(u32::try_from(new.len()).unwrap_or(0));
        Self { front, back: new.len() - same, by, known, wrong }
    }

    /// The statements of a logical line that was there before, at their new place.
    pub(crate) fn statements(&self, ctx: Ctx, line: &mut Pending) -> Option<ThinVec<Stmt>> {
        let end = line.end.max(line.note.map_or(0, |(_, end)| end));
        let by = match (end <= self.front, line.start >= self.back) {
            (true, _) => 0,
            (_, true) => self.by,
            _ => return None,
        };
        let place = |byte: usize| u32::try_from(byte).ok().map(|byte| byte.wrapping_add(by));
        let was = Span::new(place(line.start)?, place(end)?);
        let note = line.note.map(|(a, b)| Some(Span::new(place(a)?, place(b)?)));
        let first = self.known.partition_point(|(_, stmt)| stmt.span.start < was.start);
        let here = self.known.get(first..)?;
        let here = here.get(..here.partition_point(|(_, stmt)| stmt.span.start == was.start))?;
        let (_, head) = here.first()?;
        let same = here.iter().all(|(of, stmt)| *of == ctx && stmt.span == was)
            && head.source.as_ref().map(|source| Some(source.span)) == note
            && !self.wrong.iter().any(|at| at.start <= was.end && was.start <= at.end);
        if !same {
            return None;
        }
        let now = 0_u32.wrapping_sub(by);
        let mut out = ThinVec::with_capacity(here.len());
        for (_, stmt) in here {
            let (mut span, mut source) = (stmt.span, stmt.source.clone());
            span.moved(now);
            source.moved(now);
            out.push(Stmt { kind: statement(&stmt.kind, now)?, span, source, trivia: Trivia::default() });
        }
        if let Some(first) = out.first_mut() {
            first.trivia = std::mem::take(&mut line.trivia);
        }
        Some(out)
    }
}

/// Finds the statements without a body, and what they stand in, as the walker does.
fn gather<'b>(text: &str, ctx: Ctx, stmts: &'b [Stmt], known: &mut Vec<(Ctx, &'b Stmt)>) {
    let mut last = Span::default();
    for stmt in stmts {
        // Lines whose head was lost stand behind it and within its span: they were read as lines of what it seemed to be.
        if stmt.span != last && stmt.span.start < last.end {
            continue;
        }
        last = stmt.span;
        let inside = match &stmt.kind {
            StmtKind::Block(block) => Some(&block.body),
            _ => stmt.body().map(|body| &body.stmts),
        };
        let Some(inside) = inside else {
            known.push((ctx, stmt));
            continue;
        };
        let start = stmt.span.start as usize;
        let first = text.get(start..word_end(text, start)).unwrap_or("").to_lowercase();
        gather(text, ctx.inside(&first), inside, known);
    }
}
