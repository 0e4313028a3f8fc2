//! What a text declares and says, as a tree to jump in; and what a whole salon declares, by name.

use crate::around::{Here, Location};
use crate::lines::Range;
use grammar::tree::{Block, BlockKind, Body, Placed, Span, Stmt, StmtKind, ValueKind};

/// What kind of thing a symbol is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A declaration.
    Block(BlockKind),
    /// A parameter or let.
    Value,
    /// A condition or guard.
    Branch,
    /// A keep, order or first and last.
    Rule,
    /// Work.
    Work,
    /// A plain line.
    Line,
}

/// A symbol.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Symbol {
    /// Its name.
    pub name: String,
    /// A few words more.
    pub detail: Option<String>,
    /// What kind of thing.
    pub kind: Kind,
    /// All of it.
    pub range: Range,
    /// The name in it.
    pub name_range: Range,
    /// What is inside.
    pub inside: Vec<Symbol>,
}

/// The symbols of a document.
#[must_use]
pub fn of_document(here: &Here<'_>) -> Vec<Symbol> {
    let Some(tree) = here.tree() else { return Vec::new() };
    let lines = here.around.lines(here.file);
    let range = |span: Span| lines.range(span.start as usize..span.end as usize, here.around.columns());
    let text = here.text();
    tree.blocks.iter().map(|p| Reader { range: &range, text, at: p.at }.block(&p.block.block)).collect()
}

struct Reader<'a> {
    range: &'a dyn Fn(Span) -> Range,
    text: &'a str,
    at: u32,
}

impl Reader<'_> {
    fn range(&self, span: Span) -> Range {
        (self.range)(span.shifted(self.at))
    }

    /// The words of some bytes in one line.
    fn words(&self, span: Span) -> String {
        let span = span.shifted(self.at);
        let text = self.text.get(span.start as usize..span.end as usize).unwrap_or("");
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    fn block(&self, block: &Block) -> Symbol {
        let name = block.name.as_ref();
        Symbol {
            // An empty name isn't shown at all by some editors.
            name: name.map_or_else(|| block.keyword.text.to_string(), |n| n.text.to_string()),
            detail: Some(title(block).map_or_else(|| block.keyword.text.to_string(), str::to_owned)),
            kind: Kind::Block(block.kind),
            range: self.range(block.span),
            name_range: self.range(name.map_or(block.keyword.span, |n| n.span)),
            inside: self.stmts(&block.body),
        }
    }

    fn stmts(&self, stmts: &[Stmt]) -> Vec<Symbol> {
        stmts.iter().filter_map(|s| self.stmt(s)).collect()
    }

    fn body(&self, body: Option<&Body>) -> Vec<Symbol> {
        body.map(|b| self.stmts(&b.stmts)).unwrap_or_default()
    }

    fn stmt(&self, stmt: &Stmt) -> Option<Symbol> {
        let (kind, name, inside) = match &stmt.kind {
            StmtKind::Block(block) => return Some(self.block(block)),
            StmtKind::Param { name, .. } | StmtKind::Let { name, .. } => (Kind::Value, name.span, Vec::new()),
            StmtKind::Work(work) => {
                let zones = if work.zones.list.is_empty() { work.verb_span } else { work.zones.span };
                (Kind::Work, work.verb_span.to(zones), Vec::new())
            }
            StmtKind::Blend(_) | StmtKind::Line(_) => (Kind::Work, stmt.span, Vec::new()),
            StmtKind::Keep(_) | StmtKind::Override(_) | StmtKind::Order(_) => (Kind::Rule, stmt.span, Vec::new()),
            StmtKind::When { body, .. } | StmtKind::Else { body, .. } | StmtKind::Guard { body, .. } => {
                (Kind::Branch, before(stmt, body), self.body(Some(body)))
            }
            StmtKind::Prep(body) => (Kind::Work, before(stmt, body), Vec::new()),
            StmtKind::Lasts { body, .. } => {
                (Kind::Rule, body.as_ref().map_or(stmt.span, |b| before(stmt, b)), self.body(body.as_ref()))
            }
            StmtKind::Wants { but, .. } => {
                (Kind::Line, but.as_ref().map_or(stmt.span, |b| before(stmt, b)), self.body(but.as_ref()))
            }
            StmtKind::CardFinding(_) | StmtKind::CardCoat(_) | StmtKind::CardMats(_) | StmtKind::Expect(_) => {
                (Kind::Line, stmt.span, Vec::new())
            }
            _ => return None,
        };
        let words = self.words(name);
        (!words.is_empty()).then(|| Symbol {
            name: words,
            detail: None,
            kind,
            range: self.range(stmt.span),
            name_range: self.range(name),
            inside,
        })
    }
}

/// A statement up to its brace.
fn before(stmt: &Stmt, body: &Body) -> Span {
    Span::new(stmt.span.start, body.span.start.clamp(stmt.span.start, stmt.span.end))
}

/// The title of a block, or the first line of what it is about.
fn title(block: &Block) -> Option<&str> {
    let title = block.body.iter().find_map(|stmt| match &stmt.kind {
        StmtKind::Field(field) if field.name.text == "title" => match field.values.first().map(|v| &v.kind) {
            Some(ValueKind::Text(text)) => Some(text.text.as_str()),
            _ => None,
        },
        _ => None,
    });
    title.or_else(|| {
        block.body.iter().find_map(|stmt| match &stmt.kind {
            StmtKind::About(prose) => prose.lines.first().map(String::as_str),
            _ => None,
        })
    })
}

/// A declaration somewhere in the salon.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Named {
    /// Its name.
    pub name: String,
    /// What it is.
    pub kind: BlockKind,
    /// What it stands in, or its title.
    pub detail: Option<String>,
    /// Where its name stands.
    pub location: Location,
}

/// The declarations of the files around a document whose names hold the letters of a query in their order.
#[must_use]
pub fn of_salon(here: &Here<'_>, query: &str) -> Vec<Named> {
    let mut out = Vec::new();
    for file in here.around.workspace().files() {
        let of = Here { file: file.id, ..*here };
        for (number, (at, head)) in file.heads().enumerate() {
            // Recipes, cards and cases hold nothing else that has a name: unless theirs is meant they needn't be read.
            let alone = matches!(head.kind, BlockKind::Recipe | BlockKind::Dog | BlockKind::Case | BlockKind::Unknown);
            if alone && !head.name.as_ref().is_some_and(|name| matches(&name.text, query)) {
                continue;
            }
            if out.len() < TITLED {
                if let Some(placed) = file.tree().blocks.get(number) {
                    collect(here, &of, placed, &placed.block.block, query, &mut out);
                }
            } else if let Some(name) = head.name.as_ref().filter(|name| matches(&name.text, query))
                && let Some(location) = here.around.location(of.place(name.span.shifted(at)))
            {
                out.push(Named { name: name.text.to_string(), kind: head.kind, detail: None, location });
            }
        }
    }
    out
}

/// After so many, nobody reads the titles of more, and no more files are read for them.
const TITLED: usize = 500;

fn collect(here: &Here<'_>, of: &Here<'_>, placed: &Placed, block: &Block, query: &str, out: &mut Vec<Named>) {
    let name = block.name.as_ref().filter(|n| block.kind != BlockKind::Unknown && matches(&n.text, query));
    if let Some(name) = name
        && let Some(location) = here.around.location(of.place(name.span.shifted(placed.at)))
    {
        let detail = title(block).map(str::to_owned);
        out.push(Named { name: name.text.to_string(), kind: block.kind, detail, location });
    }
    for stmt in &block.body {
        if let StmtKind::Block(inner) = &stmt.kind {
            collect(here, of, placed, inner, query, out);
        }
    }
}

/// Whether a name holds the letters of a query in their order, whatever their case.
fn matches(name: &str, query: &str) -> bool {
    let mut left = name.chars().flat_map(char::to_lowercase);
    query.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).all(|c| left.any(|l| l == c))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::around::tests::with;

    #[test]
    fn a_recipe_is_a_tree() {
        let text = "recipe t {\n  title \"🐩 T\"\n  let a is 3 mm\n  when weight under 6 kg { clip body, neck with #7F }\n}\ndog d { finding wart on neck }|";
        with(text, "group g { zone z { paired } }", |here, _| {
            let found = of_document(here);
            let names = |s: &Symbol| s.inside.iter().map(|i| i.name.clone()).collect::<Vec<_>>();
            assert_eq!(found.iter().map(|s| s.name.as_str()).collect::<Vec<_>>(), ["t", "d"]);
            assert_eq!(
                found.iter().flat_map(names).collect::<Vec<_>>(),
                ["a", "when weight under 6 kg", "finding wart on neck"]
            );
            let inner = found.first().and_then(|s| s.inside.get(1)).map(names);
            assert_eq!(inner, Some(vec!["clip body, neck".to_owned()]));
            assert_eq!(found.first().and_then(|s| s.detail.clone()), Some("🐩 T".into()));
            let named: Vec<String> = of_salon(here, "Z").into_iter().map(|n| n.name).collect();
            assert_eq!(named, ["z"]);
            assert_eq!(of_salon(here, "").len(), 4);
        });
    }
}
