//! Numbers in the line: what a blade leaves on the coats served, and what the dog on the table gets instead.

use super::effect;
use super::resolve::{Target, target};
use crate::around::Here;
use crate::lines::Position;
use coatwright::finish::{Finish, Outcome};
use coatwright::names::lower::Decl;
use coatwright::names::trade::{Direction, Trade};
use grammar::tree::{BlockKind, ClauseKind, Span, Stmt, StmtKind, ToolRefKind, Work};

/// A few words that stand in the line without being of the text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Hint {
    /// Before which character.
    pub at: Position,
    /// The words.
    pub words: String,
    /// More about them.
    pub about: Option<String>,
}

/// The hints for some bytes.
#[must_use]
pub fn hints(here: &Here<'_>, within: Span) -> Vec<Hint> {
    let (Some(tree), Some(salon)) = (here.tree(), here.salon()) else { return Vec::new() };
    let mut out = Vec::new();
    for placed in &tree.blocks {
        let span = placed.block.block.span.shifted(placed.at);
        let decl = Decl { file: here.file, at: placed.at, block: &placed.block.block };
        let recipe = matches!(decl.block.kind, BlockKind::Recipe | BlockKind::Dog);
        if !recipe || span.end < within.start || within.end < span.start {
            continue;
        }
        let Some(served) = effect::served(&salon, decl) else { continue };
        let table = effect::at_the_table(here, &salon, decl).unwrap_or_default();
        let mut works = Vec::new();
        collect(&decl.block.body, &mut works);
        for (stmt, work) in works {
            let span = stmt.span.shifted(decl.at);
            if span.end < within.start || within.end < span.start {
                continue;
            }
            let position = |at: u32| here.range(Span::new(at, at)).start;
            if let Some((at, words, about)) = leaves(&salon, decl, work, &served) {
                out.push(Hint { at: position(decl.at + at), words, about: Some(about) });
            }
            let own = table.iter().filter(|f| {
                f.statement.file == here.file && span.start <= f.statement.start && f.statement.end <= span.end
            });
            if let Some(words) = instead(own, &salon.trade, here.around.table().unwrap_or_default()) {
                out.push(Hint { at: position(span.end), words, about: None });
            }
        }
    }
    out.sort_by_key(|h| h.at);
    out
}

fn collect<'t>(stmts: &'t [Stmt], out: &mut Vec<(&'t Stmt, &'t Work)>) {
    for stmt in stmts {
        if let StmtKind::Work(work) = &stmt.kind {
            out.push((stmt, work));
        }
        if let Some(body) = stmt.body() {
            collect(&body.stmts, out);
        }
    }
}

/// After a blade or comb: what it leaves that way, from the least to the most of all coats served.
fn leaves(
    salon: &coatwright::workspace::Salon<'_>,
    decl: Decl<'_>,
    work: &Work,
    served: &effect::Served,
) -> Option<(u32, String, String)> {
    let named = work.clauses.iter().find_map(|c| match &c.kind {
        ClauseKind::With(tool) => Some(tool),
        _ => None,
    })?;
    // A comb's name is its length already.
    let ToolRefKind::Blade(name) = &named.kind else { return None };
    let word = super::at::Word {
        span: named.span.shifted(decl.at),
        text: name.clone(),
        role: super::at::Role::Tool,
        declares: false,
    };
    let Some(Target::Tool(id)) = target(salon, decl, &word) else { return None };
    let tool = salon.trade.tool(id)?;
    let way = work.clauses.iter().find_map(|c| match &c.kind {
        ClauseKind::Direction(way) => Some(*way),
        _ => None,
    });
    let again = work.clauses.iter().any(|c| match &c.kind {
        ClauseKind::Passes(passes) => *passes > 1,
        ClauseKind::Manner { name, .. } => name.text == "again",
        _ => false,
    });
    let length = effect::leaves(tool, way.unwrap_or(Direction::With), again, served, &salon.trade)?;
    let about = effect::tool_lines(tool, Some(served), &salon.trade).join("\n");
    Some((named.span.end, length.to_string(), about))
}

/// What the dog on the table gets instead of what is written.
fn instead<'f>(finishes: impl Iterator<Item = &'f Finish>, trade: &Trade, dog: &str) -> Option<String> {
    let changed = finishes.filter(|f| f.outcome != Outcome::Written);
    let finish = changed.min_by_key(|f| match f.outcome {
        Outcome::Referred => 0,
        Outcome::Left => 1,
        Outcome::Raised => 2,
        Outcome::Shortened => 3,
        Outcome::Written | Outcome::Waits => 4,
    })?;
    let what = match finish.outcome {
        Outcome::Referred => "for a vet",
        Outcome::Left => "left",
        Outcome::Raised => "left longer",
        Outcome::Shortened => "shorter",
        Outcome::Written | Outcome::Waits => return None,
    };
    let by = finish.by.and_then(|f| trade.finding(f)).map(|f| format!(" by {}", f.name.replace('-', " ")));
    Some(format!("{what}{} on {dog}", by.unwrap_or_default()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::around::tests::with;

    #[test]
    fn a_blade_says_what_it_leaves_in_the_line() {
        let text = "recipe t {\n  serves coat curl\n  clip ribs with #10 in reverse\n  guard itch { clip neck with #5F with the coat }\n  set in legs by 19 mm comb\n}|";
        with(text, "", |here, at| {
            let found = hints(here, Span::new(0, at));
            let words: Vec<(u32, u32, &str)> =
                found.iter().map(|h| (h.at.line, h.at.column, h.words.as_str())).collect();
            assert_eq!(words.first(), Some(&(2, 20, "1.5 to 1.8 mm")), "{words:?}");
            assert_eq!((words.len(), words.last().map(|w| w.0)), (2, Some(3)));
            assert!(hints(here, Span::new(0, 5)).is_empty());
        });
    }
}
