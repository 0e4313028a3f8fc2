//! What can be folded, and how a selection grows.

use super::at;
use super::tokens::comments;
use crate::around::Here;
use crate::lines::Range;
use grammar::tree::{Block, Body, ClauseKind, Span, Stmt, StmtKind, Zones};

/// Lines that can be folded, both counted from 0: the first stays, those up to the last are hidden.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fold {
    /// The first line.
    pub first: u32,
    /// The last line.
    pub last: u32,
    /// Whether they are comments.
    pub comment: bool,
}

/// What can be folded in a document.
#[must_use]
pub fn folds(here: &Here<'_>) -> Vec<Fold> {
    let Some(tree) = here.tree() else { return Vec::new() };
    let mut out = Vec::new();
    let line = |at: u32| here.range(Span::new(at, at)).start.line;
    let mut fold = |span: Span, braces: bool| {
        let (first, last) = (line(span.start), line(span.end));
        // The closing brace stays in sight.
        let last = if braces { last.saturating_sub(1) } else { last };
        if first < last {
            out.push(Fold { first, last, comment: false });
        }
    };
    for placed in &tree.blocks {
        of_block(&placed.block.block, placed.at, &mut fold);
    }
    let mut run: Option<(u32, u32)> = None;
    let lines = here.around.lines(here.file);
    let starts = |span: &Span| {
        let at = lines.position(span.start as usize, here.around.columns());
        let before = here.text().get(..span.start as usize).unwrap_or("");
        let alone = before.rsplit(['\n', '\r']).next().is_some_and(|b| b.trim().is_empty());
        alone.then_some(at.line)
    };
    for line in comments(tree).iter().filter_map(starts) {
        match &mut run {
            Some((_, last)) if *last + 1 == line => *last = line,
            _ => {
                out.extend(run.filter(|(a, b)| a < b).map(|(first, last)| Fold { first, last, comment: true }));
                run = Some((line, line));
            }
        }
    }
    out.extend(run.filter(|(a, b)| a < b).map(|(first, last)| Fold { first, last, comment: true }));
    out.sort_by_key(|f| (f.first, f.last));
    out
}

fn of_block(block: &Block, at: u32, fold: &mut impl FnMut(Span, bool)) {
    fold(block.span.shifted(at), true);
    of_stmts(&block.body, at, fold);
}

fn of_stmts(stmts: &[Stmt], at: u32, fold: &mut impl FnMut(Span, bool)) {
    for stmt in stmts {
        match &stmt.kind {
            StmtKind::Block(block) => of_block(block, at, fold),
            _ => match stmt.body() {
                Some(body) => {
                    fold(stmt.span.start_to(body.span.end).shifted(at), true);
                    of_stmts(&body.stmts, at, fold);
                }
                None => fold(stmt.span.shifted(at), false),
            },
        }
    }
}

trait StartTo {
    fn start_to(self, end: u32) -> Span;
}

impl StartTo for Span {
    fn start_to(self, end: u32) -> Span {
        Span::new(self.start, end)
    }
}

/// The ranges around a byte, the smallest first; each holds the one before.
#[must_use]
pub fn growing(here: &Here<'_>, at: u32) -> Vec<Range> {
    let whole = Span::new(0, u32::try_from(here.text().len()).unwrap_or(u32::MAX));
    let mut spans = vec![whole];
    if let Some(placed) = here.block(at) {
        let mut own = Vec::new();
        around_block(&placed.block.block, &mut own);
        spans.extend(own.into_iter().map(|span| span.shifted(placed.at)));
        spans.extend(at::of_block(&placed.block.block, placed.at).into_iter().map(|w| w.span));
    }
    spans.retain(|s| s.start <= at && at <= s.end);
    spans.sort_by_key(|s| (s.end - s.start, s.start));
    spans.dedup();
    let mut out: Vec<Span> = Vec::new();
    for span in spans {
        // Two that only meet at the cursor don't hold one another.
        if out.last().is_none_or(|last| span.start <= last.start && last.end <= span.end) {
            out.push(span);
        }
    }
    let lines = here.around.lines(here.file);
    out.into_iter().map(|s| lines.range(s.start as usize..s.end as usize, here.around.columns())).collect()
}

fn around_block(block: &Block, out: &mut Vec<Span>) {
    out.push(block.span);
    around_stmts(&block.body, out);
}

fn around_body(body: &Body, out: &mut Vec<Span>) {
    out.push(body.span);
    around_stmts(&body.stmts, out);
}

fn zones(zones: &Zones, out: &mut Vec<Span>) {
    out.push(zones.span);
    out.extend(zones.list.iter().chain(&zones.except).map(|z| z.span));
}

fn around_stmts(stmts: &[Stmt], out: &mut Vec<Span>) {
    for stmt in stmts {
        out.push(stmt.span);
        match &stmt.kind {
            StmtKind::Block(block) => around_block(block, out),
            StmtKind::Work(work) => {
                zones(&work.zones, out);
                out.extend(work.clauses.iter().map(|c| c.span));
                out.extend(work.clauses.iter().filter_map(|c| match &c.kind {
                    ClauseKind::To(expr) => Some(expr.span),
                    _ => None,
                }));
            }
            StmtKind::Blend(blend) => {
                zones(&blend.from, out);
                zones(&blend.into, out);
                out.extend(blend.clauses.iter().map(|c| c.span));
            }
            StmtKind::Keep(keep) => {
                if let Some(named) = &keep.zones {
                    zones(named, out);
                }
                out.extend(keep.bounds.iter().map(|b| b.span));
            }
            StmtKind::Override(taken) => {
                if let Some(named) = &taken.keep.zones {
                    zones(named, out);
                }
                out.extend(taken.keep.bounds.iter().map(|b| b.span));
            }
            StmtKind::Serves(cond) | StmtKind::When { cond, .. } => {
                out.push(cond.span);
                out.extend(cond.items.iter().map(|i| i.span));
            }
            StmtKind::Field(field) => out.extend(field.values.iter().map(|v| v.span)),
            _ => {}
        }
        if let Some(body) = stmt.body() {
            around_body(body, out);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::around::tests::with;

    #[test]
    fn braces_and_runs_of_comments_fold() {
        let text = "-- a\n-- b\n\nrecipe t {\n  about\n    A.\n    B.\n  guard itch {\n    leave belly\n  }\n  leave ears -- c\n  -- d\n}|";
        with(text, "", |here, _| {
            let found: Vec<(u32, u32, bool)> = folds(here).iter().map(|f| (f.first, f.last, f.comment)).collect();
            assert_eq!(found, [(0, 1, true), (3, 11, false), (4, 6, false), (7, 8, false)]);
        });
    }

    #[test]
    fn a_selection_grows_to_the_whole_text() {
        with("recipe t {\n  guard itch { clip left bel|ly, ears to 3 mm }\n}\n", "", |here, at| {
            let words: Vec<String> = growing(here, at)
                .iter()
                .filter_map(|r| here.text().get(here.byte(r.start) as usize..here.byte(r.end) as usize))
                .map(|t| t.chars().take(12).collect())
                .collect();
            let wanted = [
                "belly",
                "left belly",
                "left belly, ",
                "clip left be",
                "{ clip left ",
                "guard itch {",
                "recipe t {\n ",
                "recipe t {\n ",
            ];
            assert_eq!(words, wanted);
        });
    }
}
