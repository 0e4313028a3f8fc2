//! The tree in a plain, readable form without places: for tests, and for the formatter's proof that it changed nothing.

use std::fmt::Write as _;

use crate::tree::{
    Block, BlockKind, Body, Bound, BoundKind, Clause, ClauseKind, Cond, CondKind, Date, Expect, Expr, ExprKind, File,
    Floor, Keep, Line, Number, Range, Room, Side, Stmt, StmtKind, Text, ToolRef, ToolRefKind, ValueKind, Word, ZoneRef,
    Zones,
};

/// The tree of a file without places and comments, one statement a line.
#[must_use]
pub fn shape(file: &File) -> String {
    let mut s = Shape { out: String::new(), depth: 0 };
    for b in &file.blocks {
        s.block(&b.block.block);
    }
    s.out
}

/// The tree of one block in the same form.
#[must_use]
pub fn shape_block(block: &Block) -> String {
    let mut s = Shape { out: String::new(), depth: 0 };
    s.block(block);
    s.out
}

struct Shape {
    out: String,
    depth: usize,
}

impl Shape {
    fn line(&mut self, text: &str) {
        for _ in 0..self.depth {
            self.out.push_str("  ");
        }
        self.out.push_str(text);
        self.out.push('\n');
    }

    fn block(&mut self, b: &Block) {
        let kind = if b.kind == BlockKind::Unknown {
            format!("unknown {}", b.keyword.text)
        } else {
            format!("{:?}", b.kind).to_lowercase()
        };
        let name = b.name.as_ref().map_or("(no name)".to_owned(), |n| format!("{:?}", n.text));
        self.line(&format!("{kind} {name}"));
        self.depth += 1;
        for s in &b.body {
            self.stmt(s);
        }
        self.depth -= 1;
    }

    fn body(&mut self, b: &Body) {
        self.depth += 1;
        for s in &b.stmts {
            self.stmt(s);
        }
        self.depth -= 1;
    }

    fn stmt(&mut self, s: &Stmt) {
        let source = s.source.as_ref().map_or(String::new(), |n| format!("  ({})", n.text));
        let mut bodies: Vec<&Body> = Vec::new();
        let text = match &s.kind {
            StmtKind::About(p) => format!("about {:?}", p.lines),
            StmtKind::Work(w) => format!("work {} {}{}", w.verb.as_str(), zones(&w.zones), clauses(&w.clauses)),
            StmtKind::Blend(b) => format!("blend {} into {}{}", zones(&b.from), zones(&b.into), clauses(&b.clauses)),
            StmtKind::Line(Line::Between { a, b }) => format!("line between {} and {}", zones(a), zones(b)),
            StmtKind::Line(Line::Landmarks { from, to }) => format!("line from {} to {}", text(from), text(to)),
            StmtKind::Keep(k) => keep(k),
            StmtKind::Override(o) => {
                format!(
                    "override {}{}",
                    keep(&o.keep),
                    o.by.as_ref().map_or(String::new(), |t| format!("; by {}", text(t)))
                )
            }
            StmtKind::Order(o) => format!("order [{}] before [{}]", refs(&o.first), refs(&o.then)),
            StmtKind::When { cond: c, body } => {
                bodies.push(body);
                format!("when {}", cond(c))
            }
            StmtKind::Else { cond: c, body } => {
                bodies.push(body);
                c.as_ref().map_or("else".to_owned(), |c| format!("else when {}", cond(c)))
            }
            StmtKind::Guard { findings, body } => {
                bodies.push(body);
                format!("guard {}", words(findings))
            }
            StmtKind::Lasts { time, body } => {
                bodies.extend(body);
                format!("lasts {}{}", expr(time), if body.is_some() { " with caps" } else { "" })
            }
            StmtKind::Prep(body) => {
                bodies.push(body);
                "prep".to_owned()
            }
            StmtKind::Param { name, value, within } => {
                format!(
                    "param {} = {}{}",
                    name.text,
                    expr(value),
                    within.as_ref().map_or(String::new(), |r| format!(" within {}", range(r)))
                )
            }
            StmtKind::Let { name, value } => format!("let {} = {}", name.text, expr(value)),
            StmtKind::Serves(c) => format!("serves {}", cond(c)),
            StmtKind::Extends { base, from, version } => {
                format!(
                    "extends {}{}{}",
                    base.text,
                    from.as_ref().map_or(String::new(), |f| format!(" from {:?}", f.text)),
                    version.as_ref().map_or(String::new(), |v| format!(" version {}", number(v)))
                )
            }
            StmtKind::CardCoat(c) => {
                let mut t = format!("coat {}", c.coat.text);
                if let Some(z) = &c.zones {
                    let _ = write!(t, " on {}", zones(z));
                }
                if let Some(n) = &c.length {
                    let _ = write!(t, " length {}", number(n));
                }
                for (z, n) in &c.lengths {
                    let _ = write!(t, ", {} {}", zone(z), number(n));
                }
                for (w, v) in &c.notes {
                    let _ =
                        write!(t, ", note {}{}", w.text, v.as_ref().map_or(String::new(), |v| format!("={}", v.text)));
                }
                t
            }
            StmtKind::CardFinding(f) => {
                let mut t = format!("finding {}", f.name.text);
                if let Some(o) = &f.other {
                    let _ = write!(t, " {}", self::text(o));
                }
                if let Some(z) = &f.zones {
                    let _ = write!(t, " on {}", zones(z));
                }
                if let Some(a) = &f.after {
                    let _ = write!(t, " after {}", tool(a));
                }
                if let Some(d) = f.direction {
                    let _ = write!(t, " {d:?}");
                }
                if let Some(d) = &f.seen {
                    let _ = write!(t, " seen {}", date(d));
                }
                t
            }
            StmtKind::CardMats(m) => format!(
                "mats {} on {}{}",
                m.grade.text,
                zones(&m.zones),
                m.off_skin.as_ref().map_or(String::new(), |n| format!(" off {}", number(n)))
            ),
            StmtKind::Wants { recipe, but } => {
                bodies.extend(but);
                format!("wants {}{}", recipe.text, if but.is_some() { " but" } else { "" })
            }
            StmtKind::Given { dog, body } => {
                bodies.extend(body);
                format!("given {}", dog.as_ref().map_or("{}", |d| d.text.as_str()))
            }
            StmtKind::Expect(Expect::NoMessage) => "expect no message".to_owned(),
            StmtKind::Expect(Expect::Takes(r)) => format!("expect takes {}", range(r)),
            StmtKind::Expect(Expect::Message { code, zones: z }) => {
                format!(
                    "expect message {}{}",
                    code.text,
                    z.as_ref().map_or(String::new(), |z| format!(" on {}", zones(z)))
                )
            }
            StmtKind::Expect(Expect::Finish { zones: z, verb, state, clauses: c }) => format!(
                "expect {}{}{}{}",
                zones(z),
                verb.map_or(String::new(), |v| format!(" verb {}", v.as_str())),
                state.as_ref().map_or(String::new(), |w| format!(" state {}", w.text)),
                clauses(c)
            ),
            StmtKind::Field(f) => {
                let mut t = format!("field {}", f.name.text);
                for v in &f.values {
                    let _ = write!(t, " | {}", value(&v.kind));
                }
                t
            }
            StmtKind::Block(b) => {
                self.block(b);
                if source.is_empty() {
                    return;
                }
                "block note".to_owned()
            }
            StmtKind::Broken => "broken".to_owned(),
        };
        self.line(&format!("{text}{source}"));
        for b in bodies {
            self.body(b);
        }
    }
}

fn words(list: &[Word]) -> String {
    list.iter().map(|w| w.text.as_str()).collect::<Vec<_>>().join(", ")
}

fn text(t: &Text) -> String {
    format!("{:?}", t.text)
}

fn zone(z: &ZoneRef) -> String {
    match z.side {
        Some(Side::Left) => format!("left:{}", z.name.text),
        Some(Side::Right) => format!("right:{}", z.name.text),
        None => z.name.text.to_string(),
    }
}

fn refs(list: &[ZoneRef]) -> String {
    list.iter().map(zone).collect::<Vec<_>>().join(", ")
}

fn zones(z: &Zones) -> String {
    if z.except.is_empty() {
        format!("[{}]", refs(&z.list))
    } else {
        format!("[{} less {}]", refs(&z.list), refs(&z.except))
    }
}

fn number(n: &Number) -> String {
    let value = if n.den == 1 { n.num.to_string() } else { format!("{}/{}", n.num, n.den) };
    format!("{value}{:?}", n.unit).replace("None", "")
}

fn expr(e: &Expr) -> String {
    match &e.kind {
        ExprKind::Number(n) => number(n),
        ExprKind::Name(w) => w.text.to_string(),
        ExprKind::Binary { op, left, right } => format!("({} {op:?} {})", expr(left), expr(right)),
        ExprKind::Steps { count, combs, from } => {
            format!("({count:+} {} {})", if *combs { "combs" } else { "classes" }, expr(from))
        }
        ExprKind::Blade(w) => w.text.to_string(),
    }
}

fn range(r: &Range) -> String {
    let end = |e: &Option<Expr>| e.as_ref().map_or("*".to_owned(), expr);
    format!(
        "{}{}..{}{}",
        if r.low_open { ">" } else { "" },
        end(&r.low),
        if r.high_open { "<" } else { "" },
        end(&r.high)
    )
}

fn tool(t: &ToolRef) -> String {
    match &t.kind {
        ToolRefKind::Blade(b) => b.to_string(),
        ToolRefKind::Comb { length, over } => format!(
            "comb{}{}",
            length.as_ref().map_or(String::new(), |n| format!(" {}", number(n))),
            over.as_ref().map_or(String::new(), |o| format!(" over {}", o.text))
        ),
        ToolRefKind::Named(w) => w.text.to_string(),
    }
}

fn tools(list: &[ToolRef]) -> String {
    list.iter().map(tool).collect::<Vec<_>>().join(", ")
}

fn clauses(list: &[Clause]) -> String {
    let mut out = String::new();
    for c in list {
        out.push_str("; ");
        out.push_str(&match &c.kind {
            ClauseKind::To(e) => format!("to {}", expr(e)),
            ClauseKind::With(t) => format!("tool {}", tool(t)),
            ClauseKind::Direction(d) => format!("{d:?}").to_lowercase(),
            ClauseKind::Passes(n) => format!("passes {n}"),
            ClauseKind::Over(Room::Length(n)) => format!("over {}", number(n)),
            ClauseKind::Over(Room::Share { share, of }) => format!("over {} of {}", number(share), zone(of)),
            ClauseKind::Manner { name, at } => {
                format!("manner {}{}", name.text, at.as_ref().map_or(String::new(), |z| format!(" at {}", zone(z))))
            }
            ClauseKind::Throughout => "throughout".to_owned(),
            ClauseKind::Because(t) => format!("because {}", text(t)),
        });
    }
    out
}

fn keep(k: &Keep) -> String {
    let mut t = "keep".to_owned();
    if let Some(z) = &k.zones {
        let _ = write!(t, " {}", zones(z));
    }
    for b in &k.bounds {
        let _ = write!(t, "; {}", bound(b));
    }
    if let Some(b) = &k.because {
        let _ = write!(t, "; because {}", text(b));
    }
    t
}

/// What a bound asks for, in the same words however it is written: two that say the same are equal.
#[must_use]
pub fn shape_bound(b: &Bound) -> String {
    bound(b)
}

fn bound(b: &Bound) -> String {
    match &b.kind {
        BoundKind::NoCloser(Floor::Blade(w)) => format!("no closer than {}", w.text),
        BoundKind::NoCloser(Floor::Length(e)) => format!("no closer than {}", expr(e)),
        BoundKind::NoCloser(Floor::OverCause(n)) => format!("no closer than {n} over cause"),
        BoundKind::NoShorter(e) => format!("no shorter than {}", expr(e)),
        BoundKind::AtMost(e) => format!("at most {}", expr(e)),
        BoundKind::Gap(g) => format!("gap {g:?}"),
        BoundKind::Untouched => "untouched".to_owned(),
        BoundKind::Never(t) => format!("never {}", tools(t)),
        BoundKind::Only(t) => format!("only {}", tools(t)),
        BoundKind::Direction { way, never } => format!("{}{way:?}", if *never { "never " } else { "" }),
        BoundKind::Passes(n) => format!("passes {n}"),
        BoundKind::Last => "last".to_owned(),
        BoundKind::First => "first".to_owned(),
        BoundKind::Open => "open".to_owned(),
        BoundKind::Refer => "refer".to_owned(),
        BoundKind::AtStretch(n) => format!("at a stretch {}", number(n)),
        BoundKind::InAll(n) => format!("in all {}", number(n)),
        BoundKind::Manner(w) => format!("manner {}", w.text),
    }
}

fn cond(c: &Cond) -> String {
    c.items
        .iter()
        .map(|i| match &i.kind {
            CondKind::OneOf { subject, any } => format!("{} in ({})", subject.text, words(any)),
            CondKind::Within { subject, range: r } => format!("{} in {}", subject.text, range(r)),
            CondKind::MatsUpTo(w) => format!("mats up to {}", w.text),
            CondKind::Finding(w) => format!("finding {}", w.text),
            CondKind::Without(w) => format!("without {}", w.text),
        })
        .collect::<Vec<_>>()
        .join(" and ")
}

fn date(d: &Date) -> String {
    d.day
        .map_or_else(|| format!("{:04}-{:02}", d.year, d.month), |day| format!("{:04}-{:02}-{day:02}", d.year, d.month))
}

fn value(v: &ValueKind) -> String {
    let plain = |w: &[Word]| w.iter().map(|w| w.text.as_str()).collect::<Vec<_>>().join(" ");
    match v {
        ValueKind::Words(w) => plain(w),
        ValueKind::Number(n) => number(n),
        ValueKind::Range(r) => range(r),
        ValueKind::Blade(b) => b.text.to_string(),
        ValueKind::Tool(t) => tool(t),
        ValueKind::Text(t) => text(t),
        ValueKind::Date(d) => date(d),
        ValueKind::Measure { words, range: r } => format!("{} {}", plain(words), range(r)),
    }
}
