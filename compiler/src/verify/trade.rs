//! What the words of the trade stand for: zones by leaf and side, tools, findings, coats.

use std::collections::{HashMap, HashSet};

use grammar::tree::{
    Block, BlockKind, Field, Gap, Number, Range, Side, Stmt, StmtKind, Unit, Value, ValueKind, Word, ZoneRef, Zones,
};
use smol_str::SmolStr;

use super::Text;
use super::exact::{Exact, Of, sorted};

/// For each leaf which sides: 1 left, 2 right. A single zone has both bits.
pub(super) type Places = Vec<u8>;

/// A side as its bit; none is both.
pub(super) const fn sides(side: Option<Side>) -> u8 {
    match side {
        None => BOTH,
        Some(Side::Left) => 1,
        Some(Side::Right) => 2,
    }
}

/// Both sides.
pub(super) const BOTH: u8 = 3;

/// How deep groups may hold one another.
const DEEP: u32 = 16;

/// A leaf of the body.
pub(super) struct Leaf {
    pub(super) paired: bool,
    /// Whether its skin is anything but flat: thin, a fold or an edge.
    thin: bool,
}

/// A tool, as far as keeps ask.
pub(super) struct Tool<'t> {
    pub(super) name: SmolStr,
    pub(super) kind: SmolStr,
    /// How near the skin it rides; a blade or comb without the line goes by what it leaves at least.
    pub(super) closeness: Option<Exact>,
    /// What a comb leaves.
    pub(super) leaves: Option<Exact>,
    pub(super) gap: Option<Gap>,
    pub(super) bare_never: bool,
    /// The place of its lines: file, where its block begins, its statements.
    pub(super) file: u32,
    pub(super) at: u32,
    pub(super) body: &'t [Stmt],
}

/// Where a finding lies if the card doesn't say.
pub(super) enum On {
    /// `on any zone`, or nothing: the whole dog; where the card says where, there only.
    Any,
    /// `on whole dog`.
    Whole,
    /// `on ZONES`.
    Zones(Places),
}

/// A finding.
pub(super) struct Finding<'t> {
    pub(super) name: SmolStr,
    pub(super) on: On,
    pub(super) one_side: bool,
    pub(super) spot: bool,
    pub(super) file: u32,
    pub(super) at: u32,
    pub(super) body: &'t [Stmt],
}

#[derive(Clone, Copy)]
enum Node {
    Leaf(usize),
    Group(usize),
    Mark(usize),
}

#[derive(Default)]
struct Group<'t> {
    inside: Vec<Node>,
    zones: Vec<&'t Field>,
}

/// The trade, looked up by name.
#[derive(Default)]
pub(super) struct Trade<'t> {
    pub(super) leaves: Vec<Leaf>,
    groups: Vec<Group<'t>>,
    marks: Vec<Vec<&'t Field>>,
    nodes: HashMap<SmolStr, Node>,
    pub(super) tools: Vec<Tool<'t>>,
    tool_names: HashMap<SmolStr, usize>,
    pub(super) findings: Vec<Finding<'t>>,
    finding_names: HashMap<SmolStr, usize>,
    coat_names: HashMap<SmolStr, SmolStr>,
    kits: HashMap<SmolStr, &'t Block>,
    /// The lines of all kits, the basics' first: the last that tells how blades warm counts.
    pub(super) heat: Vec<&'t [Stmt]>,
    steps: HashSet<SmolStr>,
    /// Finger and hand.
    body: [Option<Exact>; 2],
}

/// `hind legs` and `hind-legs` are one name.
pub(super) fn joined(words: &[Word]) -> SmolStr {
    match words {
        [one] => one.text.clone(),
        _ => words.iter().map(|w| w.text.as_str()).collect::<Vec<_>>().join("-").into(),
    }
}

/// The plain lines of that name.
pub(super) fn fields<'t>(body: &'t [Stmt], name: &str) -> impl Iterator<Item = &'t Field> {
    body.iter().filter_map(move |s| match &s.kind {
        StmtKind::Field(f) if f.name.text == name => Some(f),
        _ => None,
    })
}

/// The first word of a plain line.
pub(super) fn word(body: &[Stmt], name: &str) -> Option<SmolStr> {
    fields(body, name).flat_map(|f| &f.values).find_map(|v| match &v.kind {
        ValueKind::Words(w) => Some(joined(w)),
        _ => None,
    })
}

fn calls(body: &[Stmt]) -> impl Iterator<Item = SmolStr> {
    fields(body, "calls").flat_map(|f| &f.values).filter_map(|v| match &v.kind {
        ValueKind::Words(w) => Some(joined(w)),
        ValueKind::Number(n) => Some(n.text.to_lowercase().replace(' ', "-").into()),
        _ => None,
    })
}

/// The least length that a plain line names.
fn least(body: &[Stmt], name: &str) -> Option<Exact> {
    ends(body, name).map(|(low, _)| low)
}

/// Both ends of a line that measures a length.
fn ends(body: &[Stmt], name: &str) -> Option<(Exact, Exact)> {
    let length = |n: &Number, unit| Exact::number(n, unit).filter(|x| x.of == Of::Length);
    let value = fields(body, name).flat_map(|f| &f.values).next()?;
    match &value.kind {
        ValueKind::Number(n) => length(n, Unit::None).map(|x| (x, x)),
        ValueKind::Range(range) => {
            let Range { low, high, .. } = &**range;
            let number = |e: &Option<grammar::tree::Expr>| match e.as_ref().map(|e| &e.kind) {
                Some(grammar::tree::ExprKind::Number(n)) => Some(n.clone()),
                _ => None,
            };
            let (low, high) = (number(low), number(high));
            let unit = high.as_ref().map_or(Unit::None, |n| n.unit);
            let (low, high) = (low.as_ref().or(high.as_ref())?, high.as_ref().or(low.as_ref())?);
            Some((length(low, unit)?, length(high, unit)?))
        }
        _ => None,
    }
}

impl<'t> Trade<'t> {
    /// Reads all blocks of the trade, and those that stand inside a house.
    pub(super) fn read(trade: &[Text<'t>], chain: &[(u32, u32, &'t [Stmt])]) -> Self {
        let mut t = Self::default();
        let mut later = Vec::new();
        for text in trade {
            for (at, block) in &text.blocks {
                t.block(text.file, *at, block, &mut later);
            }
        }
        for (file, at, stmts) in chain {
            for s in *stmts {
                if let StmtKind::Block(b) = &s.kind {
                    t.block(*file, *at, b, &mut later);
                }
            }
        }
        // Names first, then the words for them: a synonym never takes another's name. Zones and groups go before marks.
        later.sort_by_key(|(_, node)| matches!(node, Node::Mark(_)));
        for (name, node) in later {
            t.nodes.entry(name).or_insert(node);
        }
        for (i, block) in t.tools.iter().enumerate() {
            for name in calls(block.body) {
                t.tool_names.entry(name).or_insert(i);
            }
        }
        for (i, f) in t.findings.iter().enumerate() {
            for name in calls(f.body) {
                t.finding_names.entry(name).or_insert(i);
            }
        }
        let ons: Vec<Option<On>> = t.findings.iter().map(|f| t.finding_on(f.body)).collect();
        for (f, on) in t.findings.iter_mut().zip(ons) {
            f.on = on.unwrap_or(On::Any);
        }
        t
    }

    fn block(&mut self, file: u32, at: u32, block: &'t Block, later: &mut Vec<(SmolStr, Node)>) -> Option<Node> {
        let name = block.name.as_ref()?.text.clone();
        let body = &block.body;
        let node = match block.kind {
            BlockKind::Zone => {
                let known = self.nodes.get(&name).copied();
                if known.is_some() {
                    return known;
                }
                let paired = fields(body, "paired").next().is_some();
                let thin = word(body, "skin").is_some_and(|s| s != "flat");
                self.leaves.push(Leaf { paired, thin });
                Node::Leaf(self.leaves.len() - 1)
            }
            BlockKind::Group => {
                let mut group = Group { inside: Vec::new(), zones: fields(body, "zones").collect() };
                for s in body {
                    if let StmtKind::Block(b) = &s.kind {
                        group.inside.extend(self.block(file, at, b, later));
                    }
                }
                self.groups.push(group);
                Node::Group(self.groups.len() - 1)
            }
            BlockKind::Mark => {
                self.marks.push(fields(body, "on").collect());
                let node = Node::Mark(self.marks.len() - 1);
                later.push((name, node));
                later.extend(calls(body).map(|c| (c, node)));
                return Some(node);
            }
            BlockKind::Tool => {
                self.tool_block(file, at, &name, body);
                return None;
            }
            BlockKind::Finding => {
                let i = self.findings.len();
                self.findings.push(Finding {
                    name: name.clone(),
                    on: On::Any,
                    one_side: fields(body, "one-side").next().is_some(),
                    spot: fields(body, "spot").next().is_some(),
                    file,
                    at,
                    body,
                });
                self.finding_names.entry(name).or_insert(i);
                return None;
            }
            BlockKind::Coat => {
                self.coat_names.insert(name.clone(), name.clone());
                for c in calls(body) {
                    self.coat_names.entry(c).or_insert_with(|| name.clone());
                }
                return None;
            }
            BlockKind::Kit => {
                // The last kit that tells them: the house's after the basics'.
                for (at, line) in self.body.iter_mut().zip(["finger", "hand"]) {
                    // Of a range its middle counts, where a length is said in fingers.
                    *at = ends(body, line).and_then(|(low, high)| low.middle(high)).or(*at);
                }
                self.heat.push(body);
                self.kits.entry(name).or_insert(block);
                return None;
            }
            BlockKind::Step => {
                self.steps.extend(calls(body).chain([name]));
                return None;
            }
            _ => return None,
        };
        self.nodes.entry(name).or_insert(node);
        later.extend(calls(body).map(|c| (c, node)));
        Some(node)
    }

    fn tool_block(&mut self, file: u32, at: u32, name: &SmolStr, body: &'t [Stmt]) {
        let kind = word(body, "kind").unwrap_or_default();
        let leaves = least(body, "leaves");
        let edge = matches!(kind.as_str(), "blade" | "comb" | "clipper");
        let closeness = least(body, "closeness").or(if edge { leaves } else { None });
        let gap = match word(body, "gap").as_deref() {
            Some("fine") => Some(Gap::Fine),
            Some("medium") => Some(Gap::Medium),
            Some("open") => Some(Gap::Open),
            Some("skip") => Some(Gap::Skip),
            _ if kind == "comb" => Some(Gap::Open),
            _ => None,
        };
        let bare_never = word(body, "bare").as_deref() == Some("never");
        let key: SmolStr = name.to_lowercase().into();
        self.tools.push(Tool { name: key.clone(), kind, closeness, leaves, gap, bare_never, file, at, body });
        self.tool_names.entry(key).or_insert(self.tools.len() - 1);
    }

    fn finding_on(&self, body: &'t [Stmt]) -> Option<On> {
        let list: Vec<&Field> = fields(body, "on").collect();
        let first = list.first()?.values.first()?;
        if let ValueKind::Words(w) = &first.kind {
            match joined(w).as_str() {
                "any-zone" => return Some(On::Any),
                "whole-dog" => return Some(On::Whole),
                _ => {}
            }
        }
        Some(On::Zones(self.listed(&list)))
    }

    /// No place at all.
    pub(super) fn nowhere(&self) -> Places {
        vec![0; self.leaves.len()]
    }

    /// The whole dog.
    pub(super) fn everywhere(&self) -> Places {
        vec![BOTH; self.leaves.len()]
    }

    /// The places of a list of zones; unknown names are none.
    pub(super) fn zones(&self, z: &Zones) -> Places {
        let mut list = self.places(&z.list);
        subtract(&mut list, &self.places(&z.except));
        list
    }

    /// The places of some zones, each with its side.
    pub(super) fn places(&self, zones: &[ZoneRef]) -> Places {
        let mut out = self.nowhere();
        for zone in zones {
            self.name(&zone.name.text, sides(zone.side), &mut out, DEEP);
        }
        out
    }

    /// One name, both sides.
    pub(super) fn named(&self, name: &str) -> Places {
        let mut out = self.nowhere();
        self.name(name, BOTH, &mut out, DEEP);
        out
    }

    fn name(&self, name: &str, side: u8, out: &mut Places, deep: u32) {
        match self.nodes.get(name) {
            Some(node) => self.node(*node, side, out, deep),
            None if name == "whole-dog" => out.fill(BOTH),
            None => {}
        }
    }

    fn node(&self, node: Node, side: u8, out: &mut Places, deep: u32) {
        let Some(deep) = deep.checked_sub(1) else { return };
        match node {
            Node::Leaf(i) => {
                let paired = self.leaves.get(i).is_some_and(|l| l.paired);
                if let Some(at) = out.get_mut(i) {
                    *at |= if paired { side } else { BOTH };
                }
            }
            Node::Group(i) => {
                let Some(g) = self.groups.get(i) else { return };
                for n in &g.inside {
                    self.node(*n, side, out, deep);
                }
                self.lines(&g.zones, side, out, deep);
            }
            Node::Mark(i) => {
                if let Some(on) = self.marks.get(i) {
                    self.lines(on, side, out, deep);
                }
            }
        }
    }

    /// The places that plain lines such as `on` and `zones` list.
    pub(super) fn listed(&self, list: &[&'t Field]) -> Places {
        let mut out = self.nowhere();
        self.lines(list, BOTH, &mut out, DEEP);
        out
    }

    fn lines(&self, list: &[&Field], side: u8, out: &mut Places, deep: u32) {
        for field in list {
            let (mut yes, mut less, mut except) = (self.nowhere(), self.nowhere(), false);
            for Value { kind, .. } in &field.values {
                let ValueKind::Words(words) = kind else { continue };
                let mut rest = words.as_slice();
                while !rest.is_empty() {
                    let cut = rest.iter().position(|w| w.text == "except");
                    let (head, tail) = rest.split_at(cut.unwrap_or(rest.len()));
                    let (one, name) = match head.split_first() {
                        Some((w, more)) if w.text == "left" && !more.is_empty() => (1, more),
                        Some((w, more)) if w.text == "right" && !more.is_empty() => (2, more),
                        _ => (side, head),
                    };
                    self.name(&joined(name), one, if except { &mut less } else { &mut yes }, deep);
                    except |= cut.is_some();
                    rest = tail.split_first().map_or(&[], |(_, t)| t);
                }
            }
            subtract(&mut yes, &less);
            unite(out, &yes);
        }
    }

    /// Where skin isn't flat.
    pub(super) fn thin(&self) -> Places {
        self.leaves.iter().map(|l| if l.thin { BOTH } else { 0 }).collect()
    }

    /// A tool by its name or another word for it.
    pub(super) fn tool(&self, name: &str) -> Option<&Tool<'t>> {
        let found = self.tool_names.get(name).or_else(|| self.tool_names.get(name.to_lowercase().as_str()));
        self.tools.get(*found?)
    }

    /// A finding's number by its name or another word for it.
    pub(super) fn finding(&self, name: &str) -> Option<usize> {
        self.finding_names.get(name).copied()
    }

    /// A coat's own name.
    pub(super) fn coat(&self, name: &SmolStr) -> SmolStr {
        self.coat_names.get(name).unwrap_or(name).clone()
    }

    /// Whether a word names a step of the visit.
    pub(super) fn is_step(&self, name: &str) -> bool {
        self.steps.contains(name)
    }

    /// A finger's width, or a hand's.
    pub(super) fn width(&self, hand: bool) -> Option<Exact> {
        let [finger, palm] = self.body;
        if hand { palm } else { finger }
    }

    /// A kit.
    pub(super) fn kit(&self, name: &str) -> Option<&'t Block> {
        self.kits.get(name).copied()
    }

    /// The closenesses of all tools of a kind, from the closest, each once.
    pub(super) fn ladder(&self, kind: &str) -> Vec<Exact> {
        sorted(self.tools.iter().filter(|t| t.kind == kind).filter_map(|t| t.closeness).collect())
    }
}

/// Adds places.
pub(super) fn unite(to: &mut Places, more: &Places) {
    for (a, b) in to.iter_mut().zip(more) {
        *a |= b;
    }
}

/// Takes places away.
pub(super) fn subtract(from: &mut Places, less: &Places) {
    for (a, b) in from.iter_mut().zip(less) {
        *a &= !b;
    }
}

/// Keeps what is in both.
pub(super) fn meet(to: &mut Places, other: &Places) {
    for (a, b) in to.iter_mut().zip(other) {
        *a &= b;
    }
}

/// The same places on both sides.
pub(super) fn mirrored(places: &Places) -> Places {
    places.iter().map(|p| if *p == 0 { 0 } else { BOTH }).collect()
}
