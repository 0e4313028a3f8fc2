//! A text as a tree of items: blocks and statements, each with what it is known by, its words and its comments.

use grammar::tree::{Block, File, Line, Span, Stmt, StmtKind, Verb, Zones};
use std::collections::HashMap;

/// A block or a statement.
#[derive(Clone, Debug)]
pub(super) struct Item {
    /// What it is known by, whatever is edited in it.
    pub(super) key: String,
    /// Comments on lines of their own before it.
    pub(super) lead: String,
    /// Its words, with a comment at its end.
    pub(super) text: String,
    /// Where those words stand.
    pub(super) at: (usize, usize),
    /// Whether it is a keep or a guard, or holds one.
    pub(super) careful: bool,
    /// Whether it is an override, or holds one: then somebody takes care away.
    pub(super) overrides: bool,
    /// What it holds in braces, where that can be merged by itself.
    pub(super) inner: Option<Inner>,
}

/// What stands in braces.
#[derive(Clone, Debug)]
pub(super) struct Inner {
    /// Everything up to the opening brace, with a comment after it.
    pub(super) head: String,
    pub(super) items: Vec<Item>,
    /// Comments before the closing brace.
    pub(super) tail: String,
    /// What stands on the line after the closing brace.
    pub(super) close: String,
    /// Where the closing brace stands.
    pub(super) end: usize,
    /// Whether it answers a finding: then all that it holds is care.
    pub(super) guard: bool,
    /// Whether it stands on one line.
    pub(super) one_line: bool,
}

/// Words whose blanks don't count.
pub(super) fn plain(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A file as items, and the comments at its end. None if it holds something that can't be read.
pub(super) fn of(text: &str, file: &File) -> Option<(Vec<Item>, String)> {
    let mut items = Vec::new();
    let mut from = 0;
    for placed in &file.blocks {
        let block = &placed.block.block;
        if placed.block.broken || !placed.block.errors.is_empty() {
            return None;
        }
        let at = placed.at as usize;
        let (start, end) = (at + block.span.start as usize, at + block.span.end as usize);
        let reader = Reader { text, at };
        items.push(reader.item(block_key(block), (from, start, end), block_inner(block), true)?);
        from = line_end(text, end);
    }
    numbered(&mut items);
    Some((items, text.get(from..)?.trim().to_owned()))
}

fn block_key(block: &Block) -> String {
    format!("{} {}", block.keyword.text, block.name.as_ref().map_or("", |n| n.text.as_str()))
}

fn block_inner(block: &Block) -> Option<(Span, &[Stmt])> {
    Some((block.span, &block.body))
}

/// To the end of the line, if nothing but a comment stands there.
fn line_end(text: &str, from: usize) -> usize {
    let rest = text.get(from..).unwrap_or("");
    let line = rest.split('\n').next().unwrap_or("");
    let words = line.trim_start().trim_start_matches(';').trim_start();
    if words.is_empty() || words.starts_with("--") || words.starts_with('—') {
        from + line.len()
    } else if line.trim_start().starts_with(';') {
        from + line.find(';').map_or(0, |at| at + 1)
    } else {
        from
    }
}

struct Reader<'t> {
    text: &'t str,
    /// Where the block begins from which spans are counted.
    at: usize,
}

impl Reader<'_> {
    /// An item that reaches from the end of the one before it to its own.
    fn item(
        &self,
        key: String,
        (from, start, end): (usize, usize, usize),
        inner: Option<(Span, &[Stmt])>,
        whole: bool,
    ) -> Option<Item> {
        let lead = self.text.get(from..start)?.trim().trim_start_matches(';').trim().to_owned();
        let stop = line_end(self.text, end);
        let text = self.text.get(start..stop)?.trim().trim_end_matches(';').trim().to_owned();
        let inner = match inner {
            Some((span, stmts)) => self.inner(start, span, stmts, (end, stop)),
            None => None,
        };
        // A block whose braces can't be told apart can't be merged.
        if whole && inner.is_none() {
            return None;
        }
        let careful = inner.as_ref().is_some_and(|i| i.items.iter().any(|item| item.careful));
        let overrides = !whole && inner.as_ref().is_some_and(|i| i.items.iter().any(|item| item.overrides));
        Some(Item { key, lead, text, at: (start, stop), careful, overrides, inner })
    }

    fn inner(&self, start: usize, span: Span, stmts: &[Stmt], (end, stop): (usize, usize)) -> Option<Inner> {
        let open = self.text.get(start..self.at + span.end as usize)?;
        // In front of the first statement lies the brace that opens.
        let first = stmts.first().map_or(end, |s| self.at + s.span.start as usize);
        let brace = start + open.get(..first - start)?.find('{')? + 1;
        let from = line_end(self.text, brace);
        let head = self.text.get(start..from)?.trim().to_owned();
        let (mut items, mut last) = (Vec::new(), from);
        let mut rest = stmts.iter().peekable();
        while let Some(stmt) = rest.next() {
            let begin = self.at + stmt.span.start as usize;
            let mut finish = self.end_of(stmt);
            let mut chained = false;
            let mut careful = is_careful(stmt);
            // What else is done hangs on the conditions before it.
            while let Some(next) = rest.next_if(|next| matches!(next.kind, StmtKind::Else { .. })) {
                finish = self.end_of(next);
                chained = true;
                careful |= is_careful(next);
            }
            let own = stmt.body().filter(|_| !chained && !matches!(stmt.kind, StmtKind::Prep(_)));
            let own = own.map(|body| (body.span, body.stmts.as_slice())).or_else(|| match &stmt.kind {
                StmtKind::Block(block) => block_inner(block),
                _ => None,
            });
            let mut item = self.item(self.key(stmt), (last, begin, finish), own, false)?;
            item.careful |= careful;
            item.overrides |= matches!(stmt.kind, StmtKind::Override(_));
            last = item.at.1;
            items.push(item);
        }
        numbered(&mut items);
        let tail = self.text.get(last..end.checked_sub(1)?)?.trim().trim_start_matches(';').trim().to_owned();
        let close = self.text.get(end..stop)?.trim().to_owned();
        let one_line = !self.text.get(start..end)?.contains('\n');
        let guard = head.starts_with("guard ");
        Some(Inner { head, items, tail, close, end: end - 1, guard, one_line })
    }

    fn end_of(&self, stmt: &Stmt) -> usize {
        let source = stmt.source.as_ref().map_or(0, |s| s.span.end);
        self.at + stmt.span.end.max(source) as usize
    }

    fn words(&self, span: Span) -> String {
        let range = self.at + span.start as usize..self.at + span.end as usize;
        plain(self.text.get(range).unwrap_or("")).to_lowercase()
    }

    fn zones(&self, zones: &Zones) -> String {
        let words = self.words(zones.span).replace('-', " ");
        if words.contains(" except ") {
            return words;
        }
        let mut names: Vec<&str> = words.split(", ").flat_map(|w| w.split(" and ")).map(str::trim).collect();
        names.sort_unstable();
        names.join(", ")
    }

    /// What a statement is known by: what it speaks of, not what it says of it.
    fn key(&self, stmt: &Stmt) -> String {
        match &stmt.kind {
            StmtKind::About(_) => "about".to_owned(),
            StmtKind::Work(work) => {
                let pass = if work.verb == Verb::SetIn { "set in" } else { "finish" };
                format!("{pass} {}", self.zones(&work.zones))
            }
            StmtKind::Blend(blend) => format!("blend {} into {}", self.zones(&blend.from), self.zones(&blend.into)),
            StmtKind::Line(Line::Between { a, b }) => format!("line {} and {}", self.zones(a), self.zones(b)),
            StmtKind::Keep(keep) => {
                let zones = keep.zones.as_ref().map(|z| self.zones(z)).unwrap_or_default();
                let kinds: Vec<String> =
                    keep.bounds.iter().map(|b| format!("{:?}", std::mem::discriminant(&b.kind))).collect();
                format!("keep {zones} {}", kinds.join(","))
            }
            StmtKind::Override(taken) => {
                let zones = taken.keep.zones.as_ref().map(|z| self.zones(z)).unwrap_or_default();
                let bounds: Vec<String> = taken.keep.bounds.iter().map(grammar::shape_bound).collect();
                format!("override {zones} {}", bounds.join(","))
            }
            StmtKind::When { cond, .. } => format!("when {}", self.words(cond.span)),
            StmtKind::Guard { findings, .. } => {
                let mut names: Vec<&str> = findings.iter().map(|f| f.text.as_str()).collect();
                names.sort_unstable();
                format!("guard {}", names.join(", "))
            }
            StmtKind::Lasts { .. } => "lasts".to_owned(),
            StmtKind::Prep(_) => "prep".to_owned(),
            StmtKind::Param { name, .. } => format!("param {}", name.text),
            StmtKind::Let { name, .. } => format!("let {}", name.text),
            StmtKind::Serves(cond) => {
                let first = cond.items.first().map(|item| self.words(item.span)).unwrap_or_default();
                let subject = first.split(' ').next().unwrap_or("");
                // Each finding that is excluded stands for itself.
                let subject = if subject == "without" { first.as_str() } else { subject };
                format!("serves {subject}")
            }
            StmtKind::Extends { .. } => "extends".to_owned(),
            StmtKind::CardCoat(_) => "coat".to_owned(),
            StmtKind::Wants { .. } => "wants".to_owned(),
            StmtKind::Given { .. } => "given".to_owned(),
            StmtKind::Field(field) => format!("field {}", field.name.text),
            StmtKind::Block(block) => block_key(block),
            // Known by all of their words.
            StmtKind::Line(Line::Landmarks { .. })
            | StmtKind::Order(_)
            | StmtKind::CardFinding(_)
            | StmtKind::CardMats(_)
            | StmtKind::Expect(_)
            | StmtKind::Else { .. }
            | StmtKind::Broken => self.words(stmt.span),
        }
    }
}

fn is_careful(stmt: &Stmt) -> bool {
    matches!(stmt.kind, StmtKind::Keep(_) | StmtKind::Guard { .. } | StmtKind::Lasts { body: Some(_), .. })
        || stmt.body().is_some_and(|body| body.stmts.iter().any(is_careful))
        || matches!(&stmt.kind, StmtKind::Block(block) if block.body.iter().any(is_careful))
}

/// Of what stands more than once, each is known by its number as well.
fn numbered(items: &mut [Item]) {
    let mut seen: HashMap<String, usize> = HashMap::new();
    for item in items {
        let count = seen.entry(item.key.clone()).or_default();
        *count += 1;
        if *count > 1 {
            item.key = format!("{} #{count}", item.key);
        }
    }
}

/// Where a thing stands more than once in some version, its numbers mean nothing: each is known by its words there.
pub(super) fn by_words(lists: &mut [Vec<Item>; 3]) {
    let stem = |key: &str| key.split(" #").next().unwrap_or(key).to_owned();
    let many: Vec<String> = lists.iter().flatten().filter(|i| i.key.contains(" #")).map(|i| stem(&i.key)).collect();
    for list in lists {
        for item in list.iter_mut().filter(|i| many.contains(&stem(&i.key))) {
            item.key = format!("{} = {}", stem(&item.key), plain(&item.text));
        }
        // The same words twice are one.
        let mut seen = std::collections::HashSet::new();
        list.retain(|i| seen.insert(i.key.clone()));
    }
}
