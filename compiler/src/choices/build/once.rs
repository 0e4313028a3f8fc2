//! M011: what a text says once and a second line says again.

use crate::diagnostic::{Diagnostic, code};
use crate::names::scope::Scope;
use grammar::tree::{Span, Stmt, StmtKind};
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

/// Says what is said a second time.
pub(super) fn check(stmts: &[Stmt], scope: &mut Scope<'_>) {
    let mut first: BTreeMap<String, Span> = BTreeMap::new();
    for (what, span) in stmts.iter().filter_map(said) {
        match first.get(&what) {
            Some(before) => {
                let (place, before) = (scope.place(span), scope.place(*before));
                scope.say(
                    Diagnostic::error(code::M011, place, format!("`{what}` is said twice"))
                        .related(before, "here it is said first")
                        .why("Only one of them can count, and whoever reads the other doesn't know it.")
                        .help("Take one of the two away."),
                );
            }
            None => {
                first.insert(what, span);
            }
        }
    }
}
