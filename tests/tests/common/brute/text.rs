//! Recipes and cards, read from their trees.

use super::dog::{Cond, Dog, OPEN, both};
use coatwright::names::sites::Sites;
use coatwright::names::trade::{Ban, Bound, Direction, FindingId, Sex, ToolId, ToolKind, Trade, Verb, Where};
use grammar::tree::{
    BoundKind, ClauseKind, CondKind, Expr, ExprKind, File, Floor, Line, Number, Stmt, StmtKind, ToolRef, ToolRefKind,
    Unit, ValueKind, Word, Zones,
};

/// How strongly a statement is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Kind {
    Plain,
    When,
    Guard,
}

/// A statement of work.
#[derive(Clone, Debug)]
pub(super) struct Work {
    pub(super) kind: Kind,
    pub(super) finding: Option<FindingId>,
    pub(super) cond: Cond,
    /// 0 is the base, 1 the recipe.
    pub(super) level: usize,
    pub(super) sites: Sites,
    pub(super) throughout: bool,
    pub(super) verb: Verb,
    pub(super) to: Option<i64>,
    pub(super) tool: Option<ToolId>,
    pub(super) way: Option<Direction>,
    pub(super) passes: Option<u32>,
    pub(super) again: bool,
    pub(super) line: usize,
}

/// A keep, a blend, a line or an order, with when it holds.
#[derive(Clone, Debug)]
pub(super) struct Held<T> {
    pub(super) what: T,
    pub(super) finding: Option<FindingId>,
    pub(super) cond: Cond,
    pub(super) line: usize,
}

/// What a text says.
pub struct Brute<'t> {
    pub trade: &'t Trade,
    /// The line of the recipe's name.
    pub(super) name: usize,
    pub serves: Cond,
    pub(super) works: Vec<Work>,
    pub(super) keeps: Vec<Held<(Sites, Bound)>>,
    /// Blends and lines: both say that a step is seen to.
    pub(super) seen_to: Vec<Held<(Sites, Sites)>>,
    pub(super) orders: Vec<Held<(Sites, Sites)>>,
}

#[derive(Clone, Default)]
struct Around {
    cond: Cond,
    finding: Option<FindingId>,
    kind: Option<Kind>,
    level: usize,
}

struct Reader<'t, 'a> {
    brute: &'a mut Brute<'t>,
    text: &'a str,
    at: u32,
}

/// A line of a text by an offset, counted from one.
pub fn line_of(text: &str, at: u32) -> usize {
    text[..at as usize].matches('\n').count() + 1
}

/// A number in grams, nanometres or seconds.
fn number(n: &Number) -> i64 {
    let one = match n.unit {
        Unit::Mm => 1_000_000,
        Unit::Cm => 10_000_000,
        Unit::G | Unit::Second => 1,
        Unit::Kg => 1000,
        Unit::Week => 7 * 86_400,
        Unit::Month => 146_097 * 86_400 / 4800,
        Unit::Year => 146_097 * 86_400 / 400,
        other => panic!("{other:?} isn't among what is read here"),
    };
    n.num * one / n.den
}

fn expr(e: &Expr) -> i64 {
    match &e.kind {
        ExprKind::Number(n) => number(n),
        other => panic!("no plain number: {other:?}"),
    }
}

fn zones(zones: &Zones, trade: &Trade) -> Sites {
    let one = |zone: &grammar::tree::ZoneRef| {
        let all = trade.sites_of(&zone.name.text).unwrap_or_else(|| panic!("no part is called {}", zone.name.text));
        zone.side.map_or(all, |side| trade.half(all, side))
    };
    let listed = zones.list.iter().fold(Sites::NONE, |set, z| set | one(z));
    zones.except.iter().fold(listed, |set, z| set - one(z))
}

fn tool(reference: &ToolRef, trade: &Trade) -> ToolId {
    let name = match &reference.kind {
        ToolRefKind::Blade(name) => name.clone(),
        ToolRefKind::Comb { length: Some(n), .. } => format!("comb-{}", n.num).into(),
        ToolRefKind::Named(word) => word.text.clone(),
        ToolRefKind::Comb { length: None, .. } => panic!("a comb without a length"),
    };
    *trade.index.tools.get(&name).unwrap_or_else(|| panic!("no tool is called {name}"))
}

fn finding(word: &Word, trade: &Trade) -> FindingId {
    *trade.index.findings.get(&word.text).unwrap_or_else(|| panic!("no finding is called {}", word.text))
}

fn coat(word: &Word, trade: &Trade) -> u16 {
    trade.index.coats.get(&word.text).unwrap_or_else(|| panic!("no coat is called {}", word.text)).0
}

fn grade(word: &str) -> usize {
    ["none", "tangle", "knot", "tight", "pelt"]
        .iter()
        .position(|g| word.starts_with(g))
        .unwrap_or_else(|| panic!("{word}"))
}

fn cond(read: &grammar::tree::Cond, trade: &Trade) -> Cond {
    let mut out = Cond::default();
    for item in &read.items {
        match &item.kind {
            CondKind::OneOf { subject, any } => match subject.text.as_str() {
                "coat" => out.coats = both(&out.coats, &Some(any.iter().map(|w| coat(w, trade)).collect())),
                "build" => out.builds = both(&out.builds, &Some(any.iter().map(|w| w.text.to_string()).collect())),
                _ => {
                    let sex = |w: &Word| if w.text == "bitch" { Sex::Bitch } else { Sex::Dog };
                    out.sex = both(&out.sex, &Some(any.iter().map(sex).collect()));
                }
            },
            CondKind::Within { subject, range } => {
                let at = ["weight", "height", "age"].iter().position(|s| *s == subject.text).unwrap();
                // Nothing is weighed or dated more finely than in these units, so an end that is out is one unit further in.
                let low = range.low.as_ref().map_or(OPEN.0, |e| expr(e) + i64::from(range.low_open));
                let high = range.high.as_ref().map_or(OPEN.1, |e| expr(e) - i64::from(range.high_open));
                let old = out.measures[at];
                out.measures[at] = (old.0.max(low), old.1.min(high));
            }
            CondKind::MatsUpTo(word) => out.mats = Some(grade(&word.text)),
            CondKind::Finding(word) => {
                out.findings.insert(finding(word, trade));
            }
            CondKind::Without(word) => {
                out.without.insert(finding(word, trade));
            }
        }
    }
    out
}

impl<'t> Brute<'t> {
    /// What the recipe of that name says, its base first.
    pub fn read(text: &str, file: &File, recipe: &str, trade: &'t Trade) -> Self {
        let mut brute = Self {
            trade,
            name: 0,
            serves: Cond::default(),
            works: Vec::new(),
            keeps: Vec::new(),
            seen_to: Vec::new(),
            orders: Vec::new(),
        };
        let block = |name: &str| {
            let named = |p: &&std::sync::Arc<grammar::tree::Placed>| {
                p.block.block.name.as_ref().is_some_and(|n| n.text == name)
            };
            file.blocks.iter().find(named).unwrap_or_else(|| panic!("no recipe is called {name}"))
        };
        let own = block(recipe);
        brute.name = line_of(text, own.at);
        let base = own.block.block.body.iter().find_map(|s| match &s.kind {
            StmtKind::Extends { base, .. } => Some(block(&base.text)),
            _ => None,
        });
        for (level, placed) in base.into_iter().map(|b| (0, b)).chain([(1, own)]) {
            let mut reader = Reader { brute: &mut brute, text, at: placed.at };
            reader.stmts(&placed.block.block.body, &Around { level, ..Around::default() });
        }
        brute
    }
}

impl Reader<'_, '_> {
    fn stmts(&mut self, stmts: &[Stmt], around: &Around) {
        let trade = self.brute.trade;
        let mut before: Vec<Cond> = Vec::new();
        for stmt in stmts {
            let line = line_of(self.text, self.at + stmt.span.start);
            let (own, body) = match &stmt.kind {
                StmtKind::When { cond: c, body } => {
                    before = vec![];
                    (cond(c, trade), body)
                }
                StmtKind::Else { cond: c, body } => (c.as_ref().map(|c| cond(c, trade)).unwrap_or_default(), body),
                _ => {
                    self.stmt(stmt, line, around);
                    continue;
                }
            };
            // A later branch is for the dogs that no earlier one took.
            let mut branch = own.clone();
            branch.not.extend(before.iter().cloned());
            before.push(own);
            let kind = around.kind.map_or(Kind::When, |k| k.max(Kind::When));
            self.stmts(&body.stmts, &Around { cond: around.cond.and(&branch), kind: Some(kind), ..around.clone() });
        }
    }

    fn stmt(&mut self, stmt: &Stmt, line: usize, around: &Around) {
        let trade = self.brute.trade;
        let (finding, cond) = (around.finding, around.cond.clone());
        let pair = |a: Sites, b: Sites| Held { what: (a, b), finding, cond: cond.clone(), line };
        match &stmt.kind {
            StmtKind::Work(work) => self.brute.works.push(self::work(work, around, line, trade)),
            StmtKind::Guard { findings, body } => {
                for word in findings {
                    let finding = Some(self::finding(word, trade));
                    self.stmts(&body.stmts, &Around { finding, kind: Some(Kind::Guard), ..around.clone() });
                }
            }
            StmtKind::Keep(keep) => {
                let sites = keep.zones.as_ref().map_or(trade.all_sites(), |z| zones(z, trade));
                for bound in &keep.bounds {
                    let what = (sites, self::bound(&bound.kind, trade));
                    self.brute.keeps.push(Held { what, finding, cond: cond.clone(), line });
                }
            }
            StmtKind::Blend(blend) => {
                let held = pair(zones(&blend.from, trade), zones(&blend.into, trade));
                self.brute.seen_to.push(held);
            }
            StmtKind::Line(Line::Between { a, b }) => self.brute.seen_to.push(pair(zones(a, trade), zones(b, trade))),
            StmtKind::Order(order) => {
                let list = |refs: &[grammar::tree::ZoneRef]| Zones { list: refs.into(), ..Zones::default() };
                let held = pair(zones(&list(&order.first), trade), zones(&list(&order.then), trade));
                self.brute.orders.push(held);
            }
            StmtKind::Serves(c) => self.brute.serves = self.brute.serves.and(&self::cond(c, trade)),
            StmtKind::Extends { .. } => {}
            other => panic!("line {line}: {other:?} isn't among what is read here"),
        }
    }
}

fn work(work: &grammar::tree::Work, around: &Around, line: usize, trade: &Trade) -> Work {
    let mut out = Work {
        kind: around.kind.unwrap_or(Kind::Plain),
        finding: around.finding,
        cond: around.cond.clone(),
        level: around.level,
        sites: zones(&work.zones, trade),
        throughout: false,
        verb: work.verb,
        to: None,
        tool: None,
        way: None,
        passes: None,
        again: false,
        line,
    };
    for clause in &work.clauses {
        match &clause.kind {
            ClauseKind::To(length) => out.to = Some(expr(length)),
            ClauseKind::With(reference) => out.tool = Some(tool(reference, trade)),
            ClauseKind::Direction(way) => out.way = Some(*way),
            ClauseKind::Passes(passes) => out.passes = Some(*passes),
            ClauseKind::Manner { name, .. } if name.text == "again" => out.again = true,
            ClauseKind::Throughout => out.throughout = true,
            other => panic!("line {line}: {other:?} isn't among what is read here"),
        }
    }
    assert!(out.tool.is_some() || out.verb == Verb::Leave, "line {line} names no tool");
    out
}

fn bound(kind: &BoundKind, trade: &Trade) -> Bound {
    let closeness = |word: &Word| trade.tool(trade.index.tools[&word.text]).unwrap().closeness.unwrap();
    let bans = |refs: &[ToolRef]| {
        let ban = |r: &ToolRef| match &r.kind {
            ToolRefKind::Comb { length: None, .. } => Ban::Kind(ToolKind::Comb),
            ToolRefKind::Named(word) => match word.text.as_str() {
                "clipper" => Ban::AnyClipper,
                "shears" => Ban::Kind(ToolKind::Shears),
                "comb" => Ban::Kind(ToolKind::Comb),
                "thinners" => Ban::Kind(ToolKind::Thinners),
                other => panic!("{other}"),
            },
            other => panic!("{other:?}"),
        };
        refs.iter().map(ban).collect()
    };
    let length = |e: &Expr| coatwright::measure::Length(expr(e));
    match kind {
        BoundKind::NoCloser(Floor::Blade(blade)) => Bound::NoCloser(closeness(blade), None),
        BoundKind::NoCloser(Floor::Length(e)) => Bound::NoCloser(length(e), None),
        BoundKind::NoShorter(e) => Bound::NoShorter(length(e)),
        BoundKind::AtMost(e) => Bound::AtMost(length(e)),
        BoundKind::Gap(gap) => Bound::Gap(*gap),
        BoundKind::Untouched => Bound::Untouched,
        BoundKind::Never(refs) => Bound::Never(bans(refs)),
        BoundKind::Only(refs) => Bound::Only(bans(refs)),
        BoundKind::Direction { way, never: true } => Bound::NeverDirection(*way),
        BoundKind::Direction { way, never: false } => Bound::OnlyDirection(*way),
        BoundKind::Passes(most) => Bound::Passes(*most),
        BoundKind::First => Bound::First,
        BoundKind::Last => Bound::Last,
        other => panic!("{other:?} isn't among what is read here"),
    }
}

/// A card as text, read anew.
pub fn card(text: &str, trade: &Trade) -> Dog {
    let file = grammar::parse(text);
    assert!(grammar::errors(&file).is_empty(), "{text}");
    let mut dog = Dog {
        sex: Sex::Dog,
        build: "square".to_owned(),
        coat: u16::MAX,
        coats: Vec::new(),
        weight: 0,
        height: None,
        days: None,
        findings: Vec::new(),
        causes: Vec::new(),
        due: 0,
        mats: Vec::new(),
        clip_off: false,
    };
    let (mut born, mut seen) = (None, None);
    for stmt in &file.blocks[0].block.block.body {
        match &stmt.kind {
            StmtKind::CardCoat(card) => match &card.zones {
                Some(z) => dog.coats.push((zones(z, trade), coat(&card.coat, trade))),
                None => dog.coat = coat(&card.coat, trade),
            },
            StmtKind::CardFinding(card) => {
                let id = finding(&card.name, trade);
                let declared = trade.finding(id).unwrap();
                let sites = match (&card.zones, declared.on) {
                    (Some(z), _) => zones(z, trade),
                    (None, Where::Fixed(sites)) => sites,
                    (None, _) => trade.all_sites(),
                };
                dog.findings.push((id, sites));
                if let Some(ToolRefKind::Blade(name)) = card.after.as_ref().map(|tool| &tool.kind) {
                    dog.causes.push((id, trade.index.tools[name.as_str()]));
                }
            }
            StmtKind::CardMats(card) => dog.mats.push((grade(&card.grade.text), zones(&card.zones, trade))),
            StmtKind::Wants { .. } => {}
            StmtKind::Field(field) => {
                for value in &field.values {
                    match (field.name.text.as_str(), &value.kind) {
                        ("sex", ValueKind::Words(words)) if words[0].text == "bitch" => dog.sex = Sex::Bitch,
                        ("build", ValueKind::Words(words)) => dog.build = words[0].text.to_string(),
                        ("weight", ValueKind::Number(n)) => dog.weight = number(n),
                        ("height", ValueKind::Number(n)) => dog.height = Some(number(n)),
                        ("born", ValueKind::Date(d)) => born = Some(days(d.year, d.month, d.day.unwrap_or(1))),
                        ("seen", ValueKind::Date(d)) => seen = Some(days(d.year, d.month, d.day.unwrap_or(1))),
                        ("consent", ValueKind::Words(words)) => {
                            dog.clip_off = words[0].text == "clip-off" && words.last().unwrap().text == "yes";
                        }
                        _ => {}
                    }
                }
            }
            other => panic!("{other:?} isn't among what is read here"),
        }
    }
    dog.days = born.zip(seen).map(|(born, seen)| seen - born);
    dog.due(trade);
    dog
}

/// Days since a fixed day, by the Gregorian calendar: years begin in March, so that the leap day is a year's last.
fn days(year: i32, month: u32, day: u32) -> i64 {
    let (month, day) = (i64::from(month), i64::from(day));
    let year = i64::from(year) - i64::from(month <= 2);
    let since_march = (153 * ((month + 9) % 12) + 2) / 5;
    365 * year + year.div_euclid(4) - year.div_euclid(100) + year.div_euclid(400) + since_march + day
}
