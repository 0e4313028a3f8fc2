//! A second opinion on one dog, from the syntax tree: which rules a recipe breaks on it, and what it would do where.
//!
//! Written from the design (`docs/language.md`, the rules S1 to S16) and from nothing else: of the compiler it uses the vocabulary
//! of the basics (which sites a zone has, how close a blade runs, what a coat leaves, what a finding keeps) and the tree, never
//! what builds, evaluates or checks choices. It is slow and simple on purpose.
//!
//! Where the design leaves a choice (which of two clashing pairs is told, which line of a circle), and where only the search for a
//! gentler tool could tell (whether an answer is taken back because the place would be left), a fault is `Maybe`: a message about
//! it is right, and so is silence.
//!
//! It reads the texts that `recipes.rs` writes: plain numbers, named tools, no parameters, no house.
#![allow(dead_code)]

use coatwright::names::sites::{Site, Sites};
use coatwright::names::trade::{
    Ban, Bound, CoatId, Direction, FindingId, Gap, KeepOn, Reply, Sex, Skin, ToolId, ToolKind, Trade, Verb, Where,
};
use grammar::tree::{
    BoundKind, ClauseKind, CondKind, Expr, ExprKind, File, Floor, Line, Number, Stmt, StmtKind, ToolRef, ToolRefKind,
    Unit, ValueKind, Word, Zones,
};
use std::collections::{BTreeMap, BTreeSet};

/// How sure it is that a fault is one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Sure {
    /// A message is right, and so is silence.
    Maybe,
    /// It must be told.
    Yes,
}

/// A fault: its code, whether it is only a warning, and the line of the text that is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Fault {
    pub code: &'static str,
    pub warning: bool,
    pub line: usize,
}

/// The faults of a dog.
pub type Faults = BTreeMap<Fault, Sure>;

const fn error(code: &'static str, line: usize) -> Fault {
    Fault { code, warning: false, line }
}

// ---------------------------------------------------------------------------------------------- Values

/// From and to, both in it, in the smallest unit of its kind.
type Span = (i64, i64);
const OPEN: Span = (i64::MIN, i64::MAX);

/// All parts hold, and none of `not`.
#[derive(Clone, Debug, PartialEq)]
pub struct Cond {
    coats: Option<BTreeSet<u16>>,
    builds: Option<BTreeSet<String>>,
    sex: Option<BTreeSet<Sex>>,
    /// Grams, nanometres, seconds.
    measures: [Span; 3],
    /// Mats no worse: 0 none, 1 tangles, 2 knots, 3 tight, 4 pelted.
    mats: Option<usize>,
    findings: BTreeSet<FindingId>,
    without: BTreeSet<FindingId>,
    not: Vec<Cond>,
}

impl Default for Cond {
    fn default() -> Self {
        let (findings, without) = (BTreeSet::new(), BTreeSet::new());
        Self {
            coats: None,
            builds: None,
            sex: None,
            measures: [OPEN; 3],
            mats: None,
            findings,
            without,
            not: Vec::new(),
        }
    }
}

fn inside<T: Ord>(a: &Option<BTreeSet<T>>, b: &Option<BTreeSet<T>>) -> bool {
    b.as_ref().is_none_or(|b| a.as_ref().is_some_and(|a| a.is_subset(b)))
}

fn apart<T: Ord>(a: &Option<BTreeSet<T>>, b: &Option<BTreeSet<T>>) -> bool {
    matches!((a, b), (Some(a), Some(b)) if a.is_disjoint(b))
}

fn both<T: Ord + Clone>(a: &Option<BTreeSet<T>>, b: &Option<BTreeSet<T>>) -> Option<BTreeSet<T>> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a & b),
        (a, b) => a.clone().or_else(|| b.clone()),
    }
}

impl Cond {
    /// Whether it holds for a dog at a place: its coat may differ there. A measure that nobody took lies in no range.
    fn holds(&self, dog: &Dog, site: Site) -> bool {
        let told = [Some(dog.weight), dog.height, dog.days.map(|d| d * 86_400)];
        self.coats.as_ref().is_none_or(|any| any.contains(&dog.coat_at(site)))
            && self.builds.as_ref().is_none_or(|any| any.contains(&dog.build))
            && self.sex.as_ref().is_none_or(|any| any.contains(&dog.sex))
            && self.measures.iter().zip(told).all(|(&(low, high), told)| {
                (low, high) == OPEN || told.is_some_and(|value| low <= value && value <= high)
            })
            && self.mats.is_none_or(|worst| dog.mats.iter().all(|m| m.0 <= worst))
            && self.findings.iter().all(|f| dog.has(*f))
            && !self.without.iter().any(|f| dog.has(*f))
            && !self.not.iter().any(|c| c.holds(dog, site))
    }

    /// Whether the two texts alone show that every dog of `self` is one of `other`.
    fn implies(&self, other: &Self) -> bool {
        inside(&self.coats, &other.coats)
            && inside(&self.builds, &other.builds)
            && inside(&self.sex, &other.sex)
            && self.measures.iter().zip(&other.measures).all(|(a, b)| b.0 <= a.0 && a.1 <= b.1)
            && other.mats.is_none_or(|o| self.mats.is_some_and(|s| s <= o))
            && other.findings.is_subset(&self.findings)
            && other.not.iter().all(|n| self.not.iter().any(|m| n.implies(m)) || self.excludes(n))
    }

    /// Whether the two texts alone show that no dog is of both.
    fn excludes(&self, other: &Self) -> bool {
        apart(&self.coats, &other.coats)
            || apart(&self.builds, &other.builds)
            || apart(&self.sex, &other.sex)
            || self.measures.iter().zip(&other.measures).any(|(a, b)| a.1 < b.0 || b.1 < a.0)
            || self.not.iter().any(|n| other.implies(n))
            || other.not.iter().any(|n| self.implies(n))
    }

    fn and(&self, other: &Self) -> Self {
        let mut measures = self.measures;
        for (mine, others) in measures.iter_mut().zip(other.measures) {
            *mine = (mine.0.max(others.0), mine.1.min(others.1));
        }
        Self {
            coats: both(&self.coats, &other.coats),
            builds: both(&self.builds, &other.builds),
            sex: both(&self.sex, &other.sex),
            measures,
            mats: [self.mats, other.mats].into_iter().flatten().min(),
            findings: &self.findings | &other.findings,
            without: &self.without | &other.without,
            not: self.not.iter().chain(&other.not).cloned().collect(),
        }
    }

    /// This one and all that stand in its `not`.
    pub fn all<'c>(&'c self, out: &mut Vec<&'c Cond>) {
        out.push(self);
        self.not.iter().for_each(|n| n.all(out));
    }
}

/// A dog as its card tells it.
#[derive(Clone, Debug)]
pub struct Dog {
    pub sex: Sex,
    pub build: String,
    pub coat: u16,
    pub coats: Vec<(Sites, u16)>,
    pub weight: i64,
    pub height: Option<i64>,
    pub days: Option<i64>,
    /// What it has, and where.
    pub findings: Vec<(FindingId, Sites)>,
    /// How many of these follow from its age, not from a line of the card.
    pub by_age: usize,
    pub mats: Vec<(usize, Sites)>,
    pub clip_off: bool,
}

impl Dog {
    fn coat_at(&self, site: Site) -> u16 {
        self.coats.iter().rev().find(|(sites, _)| sites.has(site)).map_or(self.coat, |(_, coat)| *coat)
    }

    fn has(&self, finding: FindingId) -> bool {
        self.findings.iter().any(|(f, _)| *f == finding)
    }

    /// How many lines of findings its card has.
    pub fn lines(&self) -> usize {
        self.findings.len() - self.by_age
    }

    /// A young pup and an old dog have what follows from it, whatever the card says.
    pub fn age(&mut self, trade: &Trade) {
        let Some(age) = self.days.map(|d| d * 86_400) else { return };
        for (id, finding) in findings(trade) {
            let due = finding.younger_than.is_some_and(|t| age < t.0) || finding.older_than.is_some_and(|t| age > t.0);
            if due && !self.has(id) {
                self.findings.push((id, trade.all_sites()));
                self.by_age += 1;
            }
        }
    }
}

pub fn findings(trade: &Trade) -> impl Iterator<Item = (FindingId, &coatwright::names::trade::Finding)> {
    (0_u16..).map(FindingId).zip(&trade.findings)
}

// ---------------------------------------------------------------------------------------------- The text

/// How strongly a statement is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Kind {
    Plain,
    When,
    Guard,
}

/// A statement of work.
#[derive(Clone, Debug)]
struct Work {
    kind: Kind,
    finding: Option<FindingId>,
    cond: Cond,
    /// 0 is the base, 1 the recipe.
    level: usize,
    sites: Sites,
    throughout: bool,
    verb: Verb,
    to: Option<i64>,
    tool: Option<ToolId>,
    way: Option<Direction>,
    passes: Option<u32>,
    again: bool,
    line: usize,
}

/// A keep, a blend, a line or an order, with when it holds.
#[derive(Clone, Debug)]
struct Held<T> {
    what: T,
    finding: Option<FindingId>,
    cond: Cond,
    line: usize,
}

/// What a text says.
pub struct Brute<'t> {
    pub trade: &'t Trade,
    /// The line of the recipe's name.
    name: usize,
    pub serves: Cond,
    works: Vec<Work>,
    keeps: Vec<Held<(Sites, Bound)>>,
    /// Blends and lines: both say that a step is seen to.
    seen_to: Vec<Held<(Sites, Sites)>>,
    orders: Vec<Held<(Sites, Sites)>>,
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
                let list = |refs: &[grammar::tree::ZoneRef]| Zones { list: refs.to_vec(), ..Zones::default() };
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
        by_age: 0,
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
    dog.age(trade);
    dog
}

/// Days since a fixed day, by the Gregorian calendar: years begin in March, so that the leap day is a year's last.
fn days(year: i32, month: u32, day: u32) -> i64 {
    let (month, day) = (i64::from(month), i64::from(day));
    let year = i64::from(year) - i64::from(month <= 2);
    let since_march = (153 * ((month + 9) % 12) + 2) / 5;
    365 * year + year.div_euclid(4) - year.div_euclid(100) + year.div_euclid(400) + since_march + day
}

// ---------------------------------------------------------------------------------------------- One dog

/// A stroke: what runs over the coat and what stays.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Stroke {
    tool: Option<ToolId>,
    way: Option<Direction>,
    passes: u32,
    leaves: Option<Span>,
    closeness: Option<i64>,
    gap: Option<Gap>,
}

const LEAVE: Stroke = Stroke { tool: None, way: None, passes: 0, leaves: None, closeness: None, gap: None };

/// What came out at a site.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Done {
    work: usize,
    leaves: Option<Span>,
    /// Whether it stays as written; none if it doesn't.
    written: Option<Sure>,
}

/// What a stroke breaks, the gravest first.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Broken {
    Gap,
    Close,
    Short,
    Way,
    Tool,
    Passes,
}

/// A keep that binds at a site; `every` if it binds every dog of its condition.
struct Binds<'b> {
    bound: &'b Bound,
    every: bool,
    reply: Option<Reply>,
}

impl Brute<'_> {
    /// Whether the recipe serves the dog: every part of it.
    pub fn serves(&self, dog: &Dog) -> bool {
        self.trade.all_sites().iter().all(|s| self.serves.holds(dog, s))
    }

    /// Everything that is wrong on one dog. `applied` collects the statements that set something.
    pub fn faults(&self, dog: &Dog, applied: &mut BTreeSet<usize>) -> Faults {
        let mut out = Faults::new();
        let done: BTreeMap<Site, Vec<Done>> =
            self.sites(dog).iter().map(|s| (s, self.site(dog, s, &mut out, applied))).collect();
        for (a, b) in self.borders() {
            for x in done.get(&a).into_iter().flatten() {
                for y in done.get(&b).into_iter().flatten() {
                    self.step(dog, (a, *x), (b, *y), &mut out);
                }
            }
        }
        self.order(dog, &mut out);
        out
    }

    pub fn sites(&self, dog: &Dog) -> Sites {
        let here = self.trade.zones.iter().filter(|z| z.sex.is_none_or(|s| s == dog.sex));
        here.fold(Sites::NONE, |set, z| set | z.sites())
    }

    /// The sites that some line beside the broadest reaches: the others are all alike.
    pub fn in_play(&self) -> Sites {
        let all = self.trade.all_sites().len();
        let works = self.works.iter().map(|w| w.sites).filter(|s| s.len() * 2 < all);
        works.chain(self.keeps.iter().map(|k| k.what.0)).fold(Sites::NONE, |set, s| set | s)
    }

    /// The findings that the text speaks of.
    pub fn mentioned(&self) -> BTreeSet<FindingId> {
        let mut conds = self.conds();
        conds.retain(|c| !c.findings.is_empty());
        let named = conds.iter().flat_map(|c| c.findings.iter().copied());
        let works = self.works.iter().filter_map(|w| w.finding);
        let keeps = self.keeps.iter().filter_map(|k| k.finding);
        let pairs = self.seen_to.iter().chain(&self.orders).filter_map(|p| p.finding);
        named.chain(works).chain(keeps).chain(pairs).filter(|f| !self.serves.without.contains(f)).collect()
    }

    /// Every condition, and what `else` excludes.
    pub fn conds(&self) -> Vec<&Cond> {
        let mut out = Vec::new();
        self.serves.all(&mut out);
        self.works.iter().for_each(|w| w.cond.all(&mut out));
        self.keeps.iter().for_each(|k| k.cond.all(&mut out));
        self.seen_to.iter().chain(&self.orders).for_each(|p| p.cond.all(&mut out));
        out
    }

    /// The ends that conditions have on weight (0), height (1) or age (2).
    pub fn ends(&self, at: usize) -> BTreeSet<i64> {
        let ends = self.conds().into_iter().flat_map(|c| [c.measures[at].0, c.measures[at].1]);
        ends.filter(|e| *e != OPEN.0 && *e != OPEN.1).collect()
    }

    pub fn speaks_of_build(&self) -> bool {
        self.conds().iter().any(|c| c.builds.is_some())
    }

    pub fn speaks_of_mats(&self) -> bool {
        self.conds().iter().any(|c| c.mats.is_some())
    }

    /// Whether dogs with a finding aren't served.
    pub fn is_without(&self, finding: FindingId) -> bool {
        self.serves.without.contains(&finding)
    }

    /// The lines of the recipe's own work.
    pub fn own_lines(&self) -> BTreeSet<usize> {
        self.works.iter().filter(|w| w.level == 1 && !w.sites.is_empty()).map(|w| w.line).collect()
    }

    /// Neighbours: sites of zones that border, on one side of the dog, the earlier zone first.
    pub fn borders(&self) -> Vec<(Site, Site)> {
        let mut out = BTreeSet::new();
        for (n, a) in self.trade.zones.iter().enumerate() {
            for b in a.borders.iter().filter(|b| usize::from(b.0) > n).map(|b| &self.trade.zones[usize::from(b.0)]) {
                for side in [grammar::tree::Side::Left, grammar::tree::Side::Right] {
                    if !a.hidden && !b.hidden {
                        out.insert((a.site_on(side), b.site_on(side)));
                    }
                }
            }
        }
        out.into_iter().collect()
    }

    /// Whether a finding of the dog is at a site: a whole one or one with a fixed place everywhere, another where the card says,
    /// and across from it too unless it keeps to its side.
    fn here(&self, dog: &Dog, finding: FindingId, site: Site) -> bool {
        let declared = self.trade.finding(finding).unwrap();
        dog.findings.iter().filter(|(f, _)| *f == finding).any(|(_, sites)| match declared.on {
            Where::Whole | Where::Fixed(_) => true,
            Where::Card if declared.one_side => sites.has(site),
            Where::Card => self.trade.both_sides(*sites).has(site),
        })
    }

    fn applies(&self, work: &Work, dog: &Dog, site: Site) -> bool {
        work.sites.has(site) && work.cond.holds(dog, site) && work.finding.is_none_or(|f| self.here(dog, f, site))
    }

    fn keeps<'b>(&'b self, dog: &Dog, site: Site) -> Vec<Binds<'b>> {
        let reply = |f: FindingId| self.trade.finding(f).map(|f| f.reply);
        let mut out = Vec::new();
        for line in &self.trade.keeps {
            if matches!(line.on, KeepOn::Sites(s) if s.has(site)) && line.sex.is_none_or(|s| s == dog.sex) {
                out.push(Binds { bound: &line.bound, every: true, reply: None });
            }
        }
        for keep in &self.keeps {
            let meant = keep.finding.is_none_or(|f| self.here(dog, f, site));
            if keep.what.0.has(site) && keep.cond.holds(dog, site) && meant {
                out.push(Binds {
                    bound: &keep.what.1,
                    every: keep.finding.is_none(),
                    reply: keep.finding.and_then(reply),
                });
            }
        }
        for (id, sites) in &dog.findings {
            let finding = self.trade.finding(*id).unwrap();
            for line in &finding.keeps {
                let sites = match line.on {
                    // A spot is gone round.
                    KeepOn::Place if finding.spot => continue,
                    KeepOn::Place => *sites,
                    KeepOn::Sites(sites) => sites,
                    KeepOn::Dog => continue,
                };
                // Floors hold on both sides, so that the dog isn't lopsided; bans keep to theirs.
                let floor = matches!(
                    line.bound,
                    Bound::NoCloser(..) | Bound::NoCloserOverCause(_) | Bound::NoShorter(_) | Bound::AtMost(_)
                );
                let sites = if floor && !finding.one_side { self.trade.both_sides(sites) } else { sites };
                if sites.has(site) {
                    out.push(Binds { bound: &line.bound, every: false, reply: Some(finding.reply) });
                }
            }
        }
        out
    }

    /// The stroke of a statement on the coat at a site; none if it leaves no length that anybody could work to.
    fn stroke(&self, work: &Work, rough: Option<&Stroke>, dog: &Dog, site: Site) -> Option<Stroke> {
        let Some(id) = work.tool.filter(|_| work.verb != Verb::Leave) else { return Some(LEAVE) };
        let tool = self.trade.tool(id)?;
        let coat = self.trade.coat(CoatId(dog.coat_at(site)))?;
        let passes = work.passes.unwrap_or(if work.again { 2 } else { 1 });
        let mut stroke = Stroke { tool: Some(id), way: work.way, passes, gap: tool.gap, ..LEAVE };
        let own = tool.closeness.map(|c| c.0);
        if tool.kind.on_clipper() {
            let way = work.way.unwrap_or(Direction::With);
            let one = coatwright::measure::Factor(1_000_000);
            let (low, mut high) = match (tool.kind, way) {
                (_, Direction::Reverse) => (one, one),
                (ToolKind::Comb, _) => (coat.comb_with_coat.low, coat.comb_with_coat.high),
                (_, Direction::With) => (coat.with_coat.low, coat.with_coat.high),
                (_, Direction::Across) => (coat.across_coat.low, coat.across_coat.high),
            };
            // A curl keeps more until it is combed up and gone over again.
            if passes < 2 && !work.again && tool.kind != ToolKind::Comb && way != Direction::Reverse {
                high = high.max(coat.first_pass.high);
            }
            let leaves = tool.leaves?;
            let times = |l: i64, f: i64| {
                i64::try_from((i128::from(l) * i128::from(f) + 500_000).div_euclid(1_000_000)).unwrap()
            };
            stroke.leaves = Some((times(leaves.low.0, low.0), times(leaves.high.0, high.0)));
            stroke.closeness = own;
            stroke.way = Some(way);
        } else {
            // By hand it stays as long as the author says, or as it was set in.
            stroke.leaves = work.to.map(|to| (to, to)).or_else(|| rough.and_then(|r| r.leaves));
            stroke.closeness = match tool.kind {
                ToolKind::Shears => stroke.leaves.map(|l| l.0).or(own),
                ToolKind::Thinners => stroke.leaves.map(|l| l.0).max(own),
                _ => own,
            };
            if tool.kind == ToolKind::Shears && stroke.leaves.is_none() {
                return None;
            }
        }
        Some(stroke)
    }

    fn broken(&self, stroke: &Stroke, bound: &Bound) -> Option<Broken> {
        let id = stroke.tool?;
        let kind = self.trade.tool(id)?.kind;
        let named = |bans: &[Ban]| {
            bans.iter().any(|ban| match ban {
                Ban::Tool(t) => *t == id,
                Ban::Kind(k) => *k == kind,
                Ban::AnyClipper => kind.on_clipper(),
                Ban::Step(_) => false,
            })
        };
        let cuts = !matches!(kind, ToolKind::Rake | ToolKind::Brush | ToolKind::Carder);
        match bound {
            Bound::NoCloser(floor, _) => stroke.closeness.is_some_and(|c| c < floor.0).then_some(Broken::Close),
            // These cards don't say which tool it was.
            Bound::NoCloserOverCause(_) => Some(Broken::Close),
            Bound::NoShorter(least) => (cuts && stroke.leaves.is_none_or(|l| l.0 < least.0)).then_some(Broken::Short),
            Bound::Gap(cap) => {
                stroke.gap.or(kind.on_clipper().then_some(Gap::Skip)).is_some_and(|g| g > *cap).then_some(Broken::Gap)
            }
            Bound::Never(bans) => named(bans).then_some(Broken::Tool),
            Bound::Only(bans) => (!named(bans)).then_some(Broken::Tool),
            Bound::NeverDirection(way) => (stroke.way == Some(*way)).then_some(Broken::Way),
            Bound::OnlyDirection(way) => stroke.way.is_some_and(|w| w != *way).then_some(Broken::Way),
            Bound::Passes(most) => (stroke.passes > *most).then_some(Broken::Passes),
            _ => None,
        }
    }

    /// Whether one statement wins over another wherever both apply (S3).
    fn beats(&self, a: &Work, b: &Work) -> bool {
        // Answers to different findings are compared by how gentle they are, never by their zones (S4).
        if a.kind == Kind::Guard && b.kind == Kind::Guard && a.finding != b.finding {
            return false;
        }
        let over = |a: &Work, b: &Work| a.throughout && !b.throughout && a.level > b.level && a.kind >= b.kind;
        if over(a, b) || over(b, a) {
            return over(a, b);
        }
        // To leave a place for a finding is as gentle as can be.
        let leaves = |a: &Work, b: &Work| a.kind == Kind::Guard && a.verb == Verb::Leave && b.kind != Kind::Guard;
        if leaves(a, b) || leaves(b, a) {
            return leaves(a, b);
        }
        let same = a.sites == b.sites;
        if a.sites.within(b.sites) && a.kind >= b.kind && !(same && a.kind == b.kind) {
            return true;
        }
        if !same || a.kind != b.kind {
            return false;
        }
        match (a.cond.implies(&b.cond), b.cond.implies(&a.cond)) {
            (true, false) => true,
            (false, true) => false,
            _ => a.level > b.level,
        }
    }

    /// The winner of one pass; or several that clash, of which any may be taken until that is mended. Of two that neither wins and
    /// that ask for different work, the later line is told.
    fn winner(&self, rough: bool, guards: bool, dog: &Dog, site: Site, out: &mut Faults) -> Vec<usize> {
        let active: Vec<usize> = (0..self.works.len())
            .filter(|&i| {
                let w = &self.works[i];
                (w.verb == Verb::SetIn) == rough && (guards || w.kind != Kind::Guard) && self.applies(w, dog, site)
            })
            .collect();
        let wins = |i: &usize| !active.iter().any(|j| self.beats(&self.works[*j], &self.works[*i]));
        let unbeaten: Vec<usize> = active.iter().copied().filter(wins).collect();
        let mut top = unbeaten.clone();
        if top.is_empty() {
            // Lines meant throughout and finer lines can chase each other round.
            top.clone_from(&active);
        } else {
            // Of answers the gentlest stands for all.
            let gentle = |i: &usize| {
                let work = &self.works[*i];
                let stroke = self.stroke(work, None, dog, site);
                let left = stroke.is_some_and(|s| s.tool.is_none());
                let stroke = stroke.unwrap_or(LEAVE);
                (left, stroke.closeness.unwrap_or(0), stroke.leaves.map_or(0, |l| l.0), std::cmp::Reverse(work.line))
            };
            let best = top.iter().copied().filter(|i| self.works[*i].kind == Kind::Guard).max_by_key(gentle);
            top.retain(|i| self.works[*i].kind != Kind::Guard || Some(*i) == best);
        }
        let ask = |i: usize| {
            let w = &self.works[i];
            (w.verb, w.to, w.tool, w.way, w.passes, w.again)
        };
        let pairs = |of: &[usize]| -> BTreeSet<usize> {
            let pairs = of.iter().flat_map(|a| of.iter().map(move |b| (*a, *b)));
            let clash = pairs.filter(|(a, b)| ask(*a) != ask(*b));
            clash.map(|(a, b)| self.works[a].line.max(self.works[b].line)).collect()
        };
        // Of three that clash any two may be told, and of answers beside a finer line any answer.
        let many = top.iter().any(|i| self.works[*i].kind != Kind::Guard);
        let clashes = if many && !unbeaten.is_empty() { pairs(&unbeaten) } else { pairs(&top) };
        let sure = if clashes.len() == 1 && !pairs(&top).is_empty() { Sure::Yes } else { Sure::Maybe };
        clashes.iter().for_each(|line| say(out, error("M015", *line), sure));
        if let (true, Some(won)) = (clashes.is_empty(), top.first().map(|i| &self.works[*i])) {
            // A base's finer line that still counts under a broader one of the recipe.
            let broader = active.iter().map(|i| &self.works[*i]).find(|o| {
                o.level > won.level && o.kind == won.kind && won.sites.within(o.sites) && won.sites != o.sites
            });
            if let Some(broader) = broader {
                // Of answers to two findings the gentler one counts, and nobody need hear that it is the base's.
                let sure = if broader.finding == won.finding { Sure::Yes } else { Sure::Maybe };
                say(out, Fault { code: "M015", warning: true, line: broader.line }, sure);
            }
            top.truncate(1);
        } else if !unbeaten.is_empty() {
            top = unbeaten;
        }
        top
    }

    /// One site of one dog: what comes out there; several only where statements clash.
    pub fn site(&self, dog: &Dog, site: Site, out: &mut Faults, applied: &mut BTreeSet<usize>) -> Vec<Done> {
        let (fine, rough) = (self.winner(false, true, dog, site, out), self.winner(true, true, dog, site, out));
        let keeps = self.keeps(dog, site);
        if fine.is_empty() && rough.is_empty() {
            let hidden = self.trade.zone_of(site).is_none_or(|(zone, _)| zone.hidden);
            if !hidden && !keeps.iter().any(|k| matches!(k.bound, Bound::Untouched | Bound::Refer)) {
                say(out, error("M016", self.name), Sure::Yes);
            }
            return Vec::new();
        }
        if fine.len() <= 1 && rough.len() <= 1 {
            let done = self.worked(dog, site, fine.first().copied(), rough.first().copied(), &keeps, out, applied);
            return done.into_iter().collect();
        }
        // Statements clash here, and what else is said depends on which of them is taken.
        let each = |list: &[usize]| if list.is_empty() { vec![None] } else { list.iter().copied().map(Some).collect() };
        let (mut said, mut all) = (Faults::new(), Vec::new());
        for f in each(&fine) {
            for r in each(&rough) {
                all.extend(self.worked(dog, site, f, r, &keeps, &mut said, applied));
            }
        }
        said.into_keys().for_each(|fault| say(out, fault, Sure::Maybe));
        all.iter_mut().for_each(|done| done.written = done.written.map(|_| Sure::Maybe));
        all
    }

    /// What the winners of both passes make of a site.
    #[allow(clippy::too_many_arguments)]
    fn worked(
        &self,
        dog: &Dog,
        site: Site,
        fine: Option<usize>,
        rough: Option<usize>,
        keeps: &[Binds<'_>],
        out: &mut Faults,
        applied: &mut BTreeSet<usize>,
    ) -> Option<Done> {
        let untouched = keeps.iter().any(|k| matches!(k.bound, Bound::Untouched | Bound::Refer));
        let refines = |i: usize| {
            let verb = self.works[i].verb;
            let kinds = matches!(verb, Verb::Finish | Verb::Scissor | Verb::Shape | Verb::Thin | Verb::Taper);
            kinds && self.works[i].kind != Kind::Guard
        };
        let nearer = |r: usize, f: usize| {
            let (r, f) = (&self.works[r], &self.works[f]);
            r.kind >= f.kind && (r.level > f.level || r.sites.within(f.sites) && r.sites != f.sites)
        };
        let (main, rough) = match (fine, rough) {
            (Some(f), Some(r)) if refines(f) => (f, Some(r)),
            (Some(f), Some(r)) if nearer(r, f) => (r, None),
            (Some(f), _) => (f, None),
            (None, r) => (r?, None),
        };
        let set_in = rough.and_then(|r| self.stroke(&self.works[r], None, dog, site));
        let work = &self.works[main];
        let stroke = self.stroke(work, set_in.as_ref(), dog, site)?;
        applied.insert(work.line);
        applied.extend(rough.filter(|_| set_in.is_some()).map(|r| self.works[r].line));
        self.unanswered(work, dog, site, out);
        let mut written = Some(Sure::Yes);
        if untouched && stroke.tool.is_some() {
            written = None;
        } else {
            self.shears(work, &stroke, out);
            written = written.filter(|_| self.kept(main, rough, &stroke, set_in.as_ref(), keeps, out));
            self.gentler(work, dog, site, out);
        }
        // What is cut off beneath a mat is as the mat has it.
        if stroke.tool.is_some() && dog.mats.iter().any(|(grade, sites)| *grade >= 3 && sites.has(site)) {
            written = written.filter(|_| dog.clip_off).map(|_| Sure::Maybe);
        }
        if work.kind == Kind::Guard && stroke.tool.is_some() {
            written = written.map(|w| w.min(self.taken_back(work.finding, dog, site)));
        }
        Some(Done { work: main, leaves: stroke.leaves.filter(|_| stroke.tool.is_some()), written })
    }

    /// S4: an answer works no place that would be left without its finding.
    fn taken_back(&self, answered: Option<FindingId>, dog: &Dog, site: Site) -> Sure {
        let mut without = dog.clone();
        without.findings.retain(|(f, _)| Some(*f) != answered);
        let before = self.site(&without, site, &mut Faults::new(), &mut BTreeSet::new());
        // Whether it is left for want of a gentler tool isn't worked out here.
        if before.iter().all(|b| b.written == Some(Sure::Yes)) { Sure::Yes } else { Sure::Maybe }
    }

    /// C001 for straight shears nearer the skin than a hand can safely cut.
    fn shears(&self, work: &Work, stroke: &Stroke, out: &mut Faults) {
        let tool = stroke.tool.and_then(|t| self.trade.tool(t)).filter(|t| t.kind == ToolKind::Shears);
        if let Some((safe, closeness)) = tool.and_then(|t| t.closeness).zip(stroke.closeness)
            && closeness < safe.0
        {
            say(out, error("C001", work.line), Sure::Yes);
        }
    }

    /// C001 to C003: the gravest that a keep for every dog makes of it. False if a keep of a finding changes it.
    fn kept(
        &self,
        main: usize,
        rough: Option<usize>,
        fine: &Stroke,
        set_in: Option<&Stroke>,
        keeps: &[Binds<'_>],
        out: &mut Faults,
    ) -> bool {
        let mut gravest: Option<(Broken, usize)> = None;
        let mut as_written = true;
        for keep in keeps {
            let fine = self.broken(fine, keep.bound).map(|b| (b, main));
            let Some(found) = fine.or_else(|| Some((self.broken(set_in?, keep.bound)?, rough?))) else { continue };
            if keep.every {
                gravest = gravest.filter(|g| g.0 <= found.0).or(Some(found));
            } else {
                as_written = false;
            }
        }
        if let Some((broken, by)) = gravest {
            let code = match broken {
                Broken::Gap => "C002",
                Broken::Close | Broken::Short => "C001",
                Broken::Way | Broken::Tool | Broken::Passes => "C003",
            };
            say(out, error(code, self.works[by].line), Sure::Yes);
        }
        as_written
    }

    /// C004: an answer that is closer than what it replaces, or whose teeth are wider than that and than the skin bears.
    fn gentler(&self, work: &Work, dog: &Dog, site: Site, out: &mut Faults) {
        if work.kind != Kind::Guard {
            return;
        }
        let before = self.winner(work.verb == Verb::SetIn, false, dog, site, &mut Faults::new());
        let [before] = before.as_slice() else { return };
        let before = &self.works[*before];
        let strokes = self.stroke(work, None, dog, site).zip(self.stroke(before, None, dog, site));
        let Some((answer, replaced)) = strokes.filter(|(a, _)| a.tool.is_some()) else { return };
        let closer = if replaced.tool.is_none() { true } else { answer.closeness < replaced.closeness };
        let bears = match self.trade.zone_of(site).map_or(Skin::Fold, |(zone, _)| zone.skin) {
            Skin::Flat => Gap::Skip,
            Skin::Thin => Gap::Medium,
            Skin::Fold | Skin::Edge => Gap::Fine,
        };
        let wider = replaced.gap.is_some() && answer.gap > replaced.gap && answer.gap > Some(bears);
        if closer || wider {
            say(out, error("C004", work.line), Sure::Yes);
        }
    }

    /// C005: a finding that asks for an answer and has none here.
    fn unanswered(&self, main: &Work, dog: &Dog, site: Site, out: &mut Faults) {
        for (id, sites) in &dog.findings {
            let asks = self.trade.finding(*id).is_some_and(|f| f.reply == Reply::Answer);
            if !asks || !sites.has(site) || main.verb == Verb::Leave || main.finding == Some(*id) {
                continue;
            }
            let works = self.works.iter().filter(|w| w.finding == Some(*id) && w.sites.has(site)).map(|w| &w.cond);
            let keeps = self.keeps.iter().filter(|k| k.finding == Some(*id) && k.what.0.has(site)).map(|k| &k.cond);
            let answers: Vec<&Cond> = works.chain(keeps).collect();
            if answers.is_empty() {
                say(out, error("C005", self.name), Sure::Yes);
            } else if !answers.iter().any(|c| c.holds(dog, site)) {
                // Answered, but for other dogs than this one.
                say(out, error("C005", self.name), Sure::Maybe);
            }
        }
    }

    /// J001: a step that the recipe makes, that shows, and that nobody sees to.
    pub fn step(&self, dog: &Dog, (a, x): (Site, Done), (b, y): (Site, Done), out: &mut Faults) {
        let (Some((low_x, high_x)), Some((low_y, high_y)), Some(sure_x), Some(sure_y)) =
            (x.leaves, y.leaves, x.written, y.written)
        else {
            return;
        };
        let coat = self.trade.coat(CoatId(dog.coat_at(a))).unwrap();
        let share = i128::from(high_x.max(high_y)) * i128::from(coat.shows_share.0);
        let share = i64::try_from((share + 500_000).div_euclid(1_000_000)).unwrap();
        let least = (low_x - high_y).max(low_y - high_x);
        if coat.shows.0 == 0 || least <= coat.shows.0.max(share) {
            return;
        }
        let seen_to = self.seen_to.iter().any(|p| {
            let (one, two) = p.what;
            (one.has(a) && two.has(b) || one.has(b) && two.has(a))
                && p.cond.holds(dog, a)
                && p.finding.is_none_or(|f| dog.has(f))
        });
        if !seen_to {
            // The nearer text, then the later line, made the step.
            let by = |d: Done| (self.works[d.work].level, self.works[d.work].line);
            let fault = Fault { code: "J001", warning: true, line: by(x).max(by(y)).1 };
            say(out, fault, sure_x.min(sure_y));
        }
    }

    /// O001 to O003.
    pub fn order(&self, dog: &Dog, out: &mut Faults) {
        let meant = |finding: Option<FindingId>, cond: &Cond, sites: Sites| {
            finding.is_none_or(|f| dog.has(f)) && sites.iter().next().is_some_and(|s| cond.holds(dog, s))
        };
        let ends = |which: &Bound| -> Vec<(Sites, usize)> {
            let said = self.keeps.iter().filter(|k| k.what.1 == *which && meant(k.finding, &k.cond, k.what.0));
            said.map(|k| (k.what.0, k.line)).collect()
        };
        let (first, last) = (ends(&Bound::First), ends(&Bound::Last));
        for (sites, line) in &first {
            if last.iter().any(|(others, _)| others.meets(*sites)) {
                say(out, error("O002", *line), Sure::Yes);
            }
        }
        let all = |ends: &[(Sites, usize)]| ends.iter().fold(Sites::NONE, |set, (s, _)| set | *s);
        let (first, last) = (all(&first), all(&last));
        let edges: Vec<_> = self.orders.iter().filter(|o| meant(o.finding, &o.cond, o.what.0)).collect();
        for edge in &edges {
            let (before, after) = edge.what;
            let late = before.meets(last) && !(after - last).is_empty();
            let early = after.meets(first) && !(before - first).is_empty();
            if late || early {
                say(out, error("O003", edge.line), Sure::Yes);
            }
        }
        // On a circle is what can be reached again from what follows it.
        for edge in &edges {
            let mut reached = edge.what.1;
            for _ in 0..edges.len() {
                reached = edges.iter().filter(|e| e.what.0.meets(reached)).fold(reached, |set, e| set | e.what.1);
            }
            if reached.meets(edge.what.0) {
                say(out, error("O001", edge.line), Sure::Maybe);
            }
        }
    }
}

fn say(out: &mut Faults, fault: Fault, sure: Sure) {
    let known = out.entry(fault).or_insert(sure);
    *known = (*known).max(sure);
}
