//! What cases reach: the statements and guards that no case's dog has put to use.

use super::Ran;
use crate::diagnostic::{Diagnostic, code, in_order};
use crate::names::lower::Decl;
use crate::names::trade::FindingId;
use crate::source::{FileId, Place};
use crate::workspace::{Salon, Workspace};
use grammar::tree::{Span, Stmt, StmtKind};
use rustc_hash::FxHashSet;

/// What one case put to use.
#[derive(Clone, Debug, Default)]
pub struct Cover {
    /// The statements that decided something.
    pub places: FxHashSet<Place>,
    /// The findings that its dog has.
    pub findings: Vec<FindingId>,
    /// The texts whose statements counted.
    pub layers: Vec<Place>,
}

/// How many statements and guards the recipes that were asked for have, and a note on each that none of these cases proves.
#[must_use]
pub fn uncovered(workspace: &Workspace, salons: &[Salon<'_>], all: &[Ran]) -> (usize, Vec<Diagnostic>) {
    // What fails proves nothing.
    let covers: Vec<&Cover> = all.iter().filter(|ran| ran.passed()).map(|ran| &ran.cover).collect();
    let asked = workspace.asked().iter().copied().collect();
    let (mut many, mut notes) = (0, Vec::new());
    for salon in salons {
        let (more, said) = of_salon(salon, &covers, &asked);
        many += more;
        notes.extend(said);
    }
    in_order(&mut notes);
    (many, notes)
}

/// The same for one salon.
fn of_salon(salon: &Salon<'_>, covers: &[&Cover], asked: &FxHashSet<FileId>) -> (usize, Vec<Diagnostic>) {
    let (mut many, mut notes) = (0, Vec::new());
    for recipe in salon.recipes.within(asked) {
        let own: Vec<&Cover> = covers.iter().copied().filter(|c| c.layers.contains(&recipe.place())).collect();
        // A base is put to use through those that build on it.
        Of { recipe, salon, covers: &own }.statements(&recipe.block.body, &mut many, &mut notes);
    }
    (many, notes)
}

struct Of<'o, 't> {
    recipe: Decl<'t>,
    salon: &'o Salon<'t>,
    covers: &'o [&'o Cover],
}

impl Of<'_, '_> {
    fn place(&self, span: Span) -> Place {
        Place { file: self.recipe.file, start: self.recipe.at + span.start, end: self.recipe.at + span.end }
    }

    /// Whether anything between two ends decided something.
    fn is_used(&self, span: Span) -> bool {
        let whole = self.place(span);
        let within = |p: &Place| p.file == whole.file && whole.start <= p.start && p.end <= whole.end;
        self.covers.iter().any(|c| c.places.iter().any(within))
    }

    fn statements(&self, stmts: &[Stmt], many: &mut usize, notes: &mut Vec<Diagnostic>) {
        for stmt in stmts {
            match &stmt.kind {
                StmtKind::Work(work) => {
                    *many += 1;
                    if !self.is_used(stmt.span) {
                        let place = self.place(work.verb_span);
                        let note = Diagnostic::note(code::T005, place, "no case's dog has this done");
                        notes.push(note.help("Write a case with a dog on which this line counts."));
                    }
                }
                StmtKind::Guard { findings, body } => {
                    *many += 1;
                    let trade = &self.salon.trade;
                    let has = |c: &&Cover| {
                        let ids = findings.iter().filter_map(|word| trade.index.findings.get(&word.text));
                        ids.into_iter().any(|id| c.findings.contains(id))
                    };
                    // What blends or prepares leaves no trace on a part: there the finding alone counts.
                    let works = body.stmts.iter().any(|s| matches!(s.kind, StmtKind::Work(_) | StmtKind::Keep(_)));
                    let proven = if works { self.is_used(stmt.span) } else { self.covers.iter().any(has) };
                    if proven {
                        self.statements(&body.stmts, many, notes);
                    } else {
                        let place = findings.first().map_or_else(|| self.place(stmt.span), |f| self.place(f.span));
                        let note = Diagnostic::note(code::T005, place, "no case proves this guard");
                        notes.push(note.help("Write a case whose dog has the finding where the guard speaks of."));
                    }
                }
                _ => {
                    if let Some(body) = stmt.body() {
                        self.statements(&body.stmts, many, notes);
                    }
                }
            }
        }
    }
}
