//! The walk itself: each kind of statement with the words in it.

use super::{Role, Word, declared, of_field};
use grammar::tree::{
    Block, BlockKind, Body, Bound, BoundKind, Clause, ClauseKind, Cond, CondKind, Expect, Expr, ExprKind, Field, Floor,
    Line, Number, Range, Room, Span, Stmt, StmtKind, Text, ToolRef, ToolRefKind, Unit, Value, ValueKind, Zones,
};
use smol_str::SmolStr;

/// The walk over one block.
pub(super) struct Walk {
    /// Where the block begins in its file.
    pub(super) at: u32,
    /// The words so far.
    pub(super) out: Vec<Word>,
}

impl Walk {
    fn put(&mut self, span: Span, text: impl Into<SmolStr>, role: Role) {
        self.add(span, text.into(), role, false);
    }

    fn add(&mut self, span: Span, text: SmolStr, role: Role, declares: bool) {
        // What is missing has no place.
        if span.start < span.end {
            self.out.push(Word { span: span.shifted(self.at), text, role, declares });
        }
    }

    fn word(&mut self, word: &grammar::tree::Word, role: Role) {
        self.put(word.span, word.text.clone(), role);
    }

    /// The words of a block.
    pub(super) fn block(&mut self, block: &Block) {
        self.word(&block.keyword, Role::Opening);
        if let (Some(name), Some(role)) = (&block.name, declared(block.kind)) {
            self.add(name.span, name.text.clone(), role, true);
        }
        self.stmts(&block.body, block.kind);
    }

    fn body(&mut self, body: &Body, kind: BlockKind) {
        self.stmts(&body.stmts, kind);
    }

    fn stmts(&mut self, stmts: &[Stmt], kind: BlockKind) {
        for stmt in stmts {
            self.stmt(stmt, kind);
            if let Some(source) = &stmt.source {
                self.put(source.span, source.text.as_str(), Role::Source);
            }
        }
    }

    /// The word with which a statement begins.
    fn opening(&mut self, stmt: &Stmt, word: &'static str) {
        let end = stmt.span.start + u32::try_from(word.len()).unwrap_or(0);
        self.put(Span::new(stmt.span.start, end), word, Role::Opening);
    }

    #[allow(clippy::too_many_lines)]
    fn stmt(&mut self, stmt: &Stmt, kind: BlockKind) {
        match &stmt.kind {
            StmtKind::About(prose) => {
                self.opening(stmt, "about");
                self.put(prose.span, "", Role::Text);
            }
            StmtKind::Work(work) => {
                self.put(work.verb_span, work.verb.as_str(), Role::Opening);
                self.zones(&work.zones);
                self.clauses(&work.clauses);
            }
            StmtKind::Blend(blend) => {
                self.opening(stmt, "blend");
                self.zones(&blend.from);
                self.zones(&blend.into);
                self.clauses(&blend.clauses);
            }
            StmtKind::Line(line) => {
                self.opening(stmt, "line");
                match line {
                    Line::Between { a, b } => {
                        self.zones(a);
                        self.zones(b);
                    }
                    Line::Landmarks { from, to } => {
                        self.text(from);
                        self.text(to);
                    }
                }
            }
            StmtKind::Keep(keep) => {
                // In `lasts` the word is left out; `first feet` and `last head` are keeps as well.
                let zones = keep.zones.as_ref().map_or(stmt.span.end, |z| z.span.start);
                let first = keep.bounds.first().map_or(stmt.span.end, |b| b.span.start);
                if stmt.span.start < zones.min(first) {
                    self.opening(stmt, "keep");
                }
                if let Some(zones) = &keep.zones {
                    self.zones(zones);
                }
                for bound in &keep.bounds {
                    self.bound(bound);
                }
                if let Some(because) = &keep.because {
                    self.text(because);
                }
            }
            StmtKind::Override(taken) => {
                self.opening(stmt, "override");
                if let Some(zones) = &taken.keep.zones {
                    self.zones(zones);
                }
                for bound in &taken.keep.bounds {
                    self.bound(bound);
                }
                for text in taken.by.iter().chain(taken.keep.because.as_deref()) {
                    self.text(text);
                }
            }
            StmtKind::Order(order) => {
                self.opening(stmt, "order");
                for zone in order.first.iter().chain(&order.then) {
                    self.word(&zone.name, Role::Place);
                }
            }
            StmtKind::When { cond, body } => {
                self.opening(stmt, "when");
                self.cond(cond);
                self.body(body, kind);
            }
            StmtKind::Else { cond, body } => {
                self.opening(stmt, "else");
                if let Some(cond) = cond {
                    self.cond(cond);
                }
                self.body(body, kind);
            }
            StmtKind::Guard { findings, body } => {
                self.opening(stmt, "guard");
                for finding in findings {
                    self.word(finding, Role::Finding);
                }
                self.body(body, kind);
            }
            StmtKind::Lasts { time, body } => {
                self.opening(stmt, "lasts");
                self.expr(time);
                if let Some(body) = body {
                    self.body(body, kind);
                }
            }
            StmtKind::Prep(body) => {
                self.opening(stmt, "prep");
                for stmt in &body.stmts {
                    if let StmtKind::Field(field) = &stmt.kind {
                        self.step(field);
                    }
                }
            }
            StmtKind::Param { name, value, within } => {
                self.opening(stmt, "param");
                self.add(name.span, name.text.clone(), Role::Value, true);
                self.expr(value);
                if let Some(range) = within {
                    self.range(range);
                }
            }
            StmtKind::Let { name, value } => {
                self.opening(stmt, "let");
                self.add(name.span, name.text.clone(), Role::Value, true);
                self.expr(value);
            }
            StmtKind::Serves(cond) => {
                self.opening(stmt, "serves");
                self.cond(cond);
            }
            StmtKind::Extends { base, from, version } => {
                self.opening(stmt, "extends");
                self.word(base, Role::Recipe);
                if let Some(text) = from {
                    self.text(text);
                }
                if let Some(number) = version {
                    self.number(number);
                }
            }
            StmtKind::CardCoat(card) => {
                self.opening(stmt, "coat");
                self.word(&card.coat, Role::Coat);
                if let Some(zones) = &card.zones {
                    self.zones(zones);
                }
                for (zone, number) in &card.lengths {
                    self.word(&zone.name, Role::Place);
                    self.number(number);
                }
                if let Some(number) = &card.length {
                    self.number(number);
                }
            }
            StmtKind::CardFinding(card) => {
                self.opening(stmt, "finding");
                match &card.other {
                    Some(text) => self.text(text),
                    None => self.word(&card.name, Role::Finding),
                }
                if let Some(zones) = &card.zones {
                    self.zones(zones);
                }
                if let Some(tool) = &card.after {
                    self.tool(tool);
                }
            }
            StmtKind::CardMats(card) => {
                self.opening(stmt, "mats");
                self.zones(&card.zones);
                if let Some(number) = &card.off_skin {
                    self.number(number);
                }
            }
            StmtKind::Wants { recipe, but } => {
                self.opening(stmt, "wants");
                self.word(recipe, Role::Recipe);
                if let Some(body) = but {
                    self.body(body, BlockKind::Recipe);
                }
            }
            StmtKind::Given { dog, body } => {
                self.opening(stmt, "given");
                if let Some(dog) = dog {
                    self.word(dog, Role::Dog);
                }
                if let Some(body) = body {
                    self.body(body, BlockKind::Dog);
                }
            }
            StmtKind::Expect(expect) => {
                self.opening(stmt, "expect");
                match expect {
                    Expect::Takes(range) => self.range(range),
                    Expect::Finish { zones, clauses, .. } => {
                        self.zones(zones);
                        self.clauses(clauses);
                    }
                    Expect::Message { code, zones } => {
                        self.word(code, Role::Code);
                        if let Some(zones) = zones {
                            self.zones(zones);
                        }
                    }
                    Expect::NoMessage => {}
                }
            }
            StmtKind::Field(field) => self.field(field, kind),
            StmtKind::Block(block) => self.block(block),
            StmtKind::Broken => {}
        }
    }

    /// A step of `prep`: its name may go on in the first value (`dry stretch`), which whoever knows the steps decides.
    fn step(&mut self, field: &Field) {
        self.word(&field.name, Role::Step);
        if let Some(value) = field.values.first()
            && let ValueKind::Words(words) = &value.kind
        {
            let text = format!("{}-{}", field.name.text, joined(words));
            self.put(field.name.span.to(value.span), text, Role::Step);
        }
        for value in &field.values {
            self.measures(value);
        }
    }

    fn field(&mut self, field: &Field, kind: BlockKind) {
        self.word(&field.name, Role::Opening);
        let role = of_field(kind, &field.name.text);
        let declares = field.name.text == "calls";
        for value in &field.values {
            match (&value.kind, role) {
                (ValueKind::Words(words), Some(role)) => {
                    let sided = role == Role::Place
                        && words.len() > 1
                        && words.first().is_some_and(|w| matches!(w.text.as_str(), "left" | "right"));
                    let words = words.get(usize::from(sided)..).unwrap_or(words);
                    let span = words.first().map_or(value.span, |first| Span::new(first.span.start, value.span.end));
                    self.add(span, joined(words), role, declares);
                }
                (ValueKind::Blade(blade), _) => self.add(blade.span, blade.text.clone(), Role::Tool, declares),
                (ValueKind::Tool(tool), _) => self.tool(tool),
                _ => self.measures(value),
            }
        }
    }

    fn measures(&mut self, value: &Value) {
        match &value.kind {
            ValueKind::Number(number) => self.number(number),
            ValueKind::Range(range) | ValueKind::Measure { range, .. } => self.range(range),
            ValueKind::Text(text) => self.text(text),
            ValueKind::Date(date) => self.put(date.span, "", Role::Number),
            ValueKind::Words(_) | ValueKind::Blade(_) | ValueKind::Tool(_) => {}
        }
    }

    fn zones(&mut self, zones: &Zones) {
        for zone in zones.list.iter().chain(&zones.except) {
            self.word(&zone.name, Role::Place);
        }
    }

    fn clauses(&mut self, clauses: &[Clause]) {
        for clause in clauses {
            match &clause.kind {
                ClauseKind::To(expr) => self.expr(expr),
                ClauseKind::With(tool) => self.tool(tool),
                ClauseKind::Direction(way) => self.put(clause.span, "", Role::Way(*way)),
                ClauseKind::Over(Room::Length(number)) => self.number(number),
                ClauseKind::Over(Room::Share { of, .. }) => self.word(&of.name, Role::Place),
                ClauseKind::Manner { name, at } => {
                    self.word(name, Role::Manner);
                    if let Some(zone) = at {
                        self.word(&zone.name, Role::Place);
                    }
                }
                ClauseKind::Because(text) => self.text(text),
                ClauseKind::Throughout => self.put(clause.span, "throughout", Role::Opening),
                ClauseKind::Passes(_) => {}
            }
        }
    }

    fn bound(&mut self, bound: &Bound) {
        match &bound.kind {
            BoundKind::NoCloser(Floor::Blade(blade)) => self.word(blade, Role::Tool),
            BoundKind::NoCloser(Floor::Length(expr)) | BoundKind::NoShorter(expr) | BoundKind::AtMost(expr) => {
                self.expr(expr);
            }
            BoundKind::Never(tools) | BoundKind::Only(tools) => tools.iter().for_each(|t| self.tool(t)),
            BoundKind::Direction { way, .. } => self.put(bound.span, "", Role::Way(*way)),
            BoundKind::AtStretch(number) | BoundKind::InAll(number) => self.number(number),
            BoundKind::Manner(word) => self.word(word, Role::Manner),
            _ => {}
        }
    }

    fn cond(&mut self, cond: &Cond) {
        for item in &cond.items {
            match &item.kind {
                CondKind::OneOf { subject, any } if subject.text == "coat" => {
                    any.iter().for_each(|w| self.word(w, Role::Coat));
                }
                CondKind::Within { range, .. } => self.range(range),
                CondKind::Finding(word) | CondKind::Without(word) => self.word(word, Role::Finding),
                CondKind::OneOf { .. } | CondKind::MatsUpTo(_) => {}
            }
        }
    }

    fn tool(&mut self, tool: &ToolRef) {
        match &tool.kind {
            ToolRefKind::Blade(name) => self.put(tool.span, name.clone(), Role::Tool),
            ToolRefKind::Comb { length, over } => {
                match length.as_deref().and_then(thousandths) {
                    Some(length) => self.put(tool.span, "comb", Role::Comb(length)),
                    None => self.put(tool.span, "comb", Role::Tool),
                }
                if let Some(blade) = over {
                    self.word(blade, Role::Tool);
                }
            }
            ToolRefKind::Named(word) => self.word(word, Role::Tool),
        }
    }

    fn range(&mut self, range: &Range) {
        for end in [&range.low, &range.high].into_iter().flatten() {
            self.expr(end);
        }
    }

    fn expr(&mut self, expr: &Expr) {
        match &expr.kind {
            ExprKind::Number(number) => self.number(number),
            ExprKind::Name(word) => self.word(word, Role::Value),
            ExprKind::Binary { left, right, .. } => {
                self.expr(left);
                self.expr(right);
            }
            ExprKind::Steps { from, .. } => self.expr(from),
            ExprKind::Blade(blade) => self.word(blade, Role::Tool),
        }
    }

    fn number(&mut self, number: &Number) {
        self.put(number.span, number.text.clone(), Role::Number);
    }

    fn text(&mut self, text: &Text) {
        self.put(text.span, text.text.as_str(), Role::Text);
    }
}

fn joined(words: &[grammar::tree::Word]) -> SmolStr {
    coatwright::names::fields::joined(words)
}

/// A comb's length in thousandths of a millimetre.
fn thousandths(number: &Number) -> Option<i64> {
    let (up, down) = match number.unit {
        Unit::Mm => (1000, 1),
        Unit::Cm => (10_000, 1),
        Unit::Inch => (25_400, 1),
        _ => return None,
    };
    number.num.checked_mul(up)?.checked_div(number.den.checked_mul(down)?)
}
