//! M011: what a text says once and a second line says again.

use crate::diagnostic::{Diagnostic, code};
use crate::names::scope::Scope;
use grammar::tree::{Clause, ClauseKind, Span, Stmt, StmtKind};
use std::collections::BTreeMap;

/// The lines of which the last would count silently.
const ONCE: &[&str] = &["title", "version"];

/// What a line says that may be said once in a text, and where.
fn said(stmt: &Stmt) -> Option<(String, Span)> {
    let word = |length: usize| Span::new(stmt.span.start, stmt.span.start + u32::try_from(length).unwrap_or(0));
    match &stmt.kind {
        StmtKind::Field(field) if ONCE.contains(&field.name.text.as_str()) => {
            Some((field.name.text.to_string(), field.name.span))
        }
        StmtKind::Extends { .. } => Some(("extends".to_owned(), word("extends".len()))),
        StmtKind::About(_) => Some(("about".to_owned(), word("about".len()))),
        StmtKind::Param { name, .. } | StmtKind::Let { name, .. } => Some((name.text.to_string(), name.span)),
        _ => None,
    }
}

/// What a clause says that may be said once in a line.
const fn of_clause(clause: &Clause) -> Option<&'static str> {
    match clause.kind {
        ClauseKind::To(_) => Some("the length"),
        ClauseKind::With(_) => Some("the tool"),
        ClauseKind::Direction(_) => Some("the way"),
        ClauseKind::Passes(_) => Some("how often"),
        _ => None,
    }
}

/// Says what the lines of a text say a second time.
pub(super) fn lines(stmts: &[Stmt], scope: &mut Scope<'_>) {
    let said = stmts.iter().filter_map(said).map(|(what, span)| (format!("`{what}`"), span));
    for (_, twice) in twice(said, scope) {
        let why = "Only one of them can count, and whoever reads the other doesn't know it.";
        scope.say(twice.why(why).help("Take one of the two away."));
    }
}

/// Says what the clauses of a line say a second time.
pub(super) fn clauses(clauses: &[Clause], scope: &mut Scope<'_>) {
    let said = |clause: &Clause| Some((of_clause(clause)?.to_owned(), clause.span));
    for (what, twice) in twice(clauses.iter().filter_map(said), scope) {
        let help = match what.as_str() {
            "the length" => "A finish has one length: say the one that you aim at.",
            _ => "Take one of the two away, or write a line for each.",
        };
        scope.say(twice.help(help));
    }
}

/// What is said again, and a message for it with where it is said first.
fn twice(said: impl Iterator<Item = (String, Span)>, scope: &Scope<'_>) -> Vec<(String, Diagnostic)> {
    let (mut first, mut out): (BTreeMap<String, Span>, _) = (BTreeMap::new(), Vec::new());
    for (what, span) in said {
        match first.get(&what) {
            Some(before) => {
                let twice = Diagnostic::error(code::M011, scope.place(span), format!("{what} is said twice"))
                    .related(scope.place(*before), "here it is said first");
                out.push((what, twice));
            }
            None => {
                first.insert(what, span);
            }
        }
    }
    out
}
