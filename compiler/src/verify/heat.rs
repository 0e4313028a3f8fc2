//! The last check of a blade's heat: how warm each blade is along the order, and what skin beneath it would take that it never
//! leaves, reckoned anew from the lines of the trade and the kit.
//!
//! A blade must be changed or cooled before skin has its dose, on thin skin before its share of it; before thin skin a blade that
//! may be warmer than skin must have been felt. The hot end of each line counts.

use std::collections::HashMap;

use grammar::tree::{BoundKind, Expr, ExprKind, Number, Side, StmtKind, Unit, ValueKind};
use smol_str::SmolStr;

use super::condition::Reader;
use super::gather::{Must, Rule};
use super::skin::{BURN, REST, takes_more};
use super::trade::{Tool, Trade, fields, joined, sides};
use super::{Breach, Case, OnTable};

/// What happens to blades along an order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Moment {
    /// A tool runs on a clipper.
    Run {
        /// The tool by the name of its block.
        tool: SmolStr,
        /// The blade beneath a comb.
        over: Option<SmolStr>,
        /// The zones that it goes over, each with its side.
        zones: Vec<(SmolStr, Option<Side>)>,
        /// How long at most.
        seconds: i64,
    },
    /// Nothing runs, for so long at least.
    Pause(i64),
    /// The blade that runs next is felt first, and again after each of these seconds.
    Feel(Option<i64>),
    /// It is changed for a cooler one of its number.
    Swap,
    /// It cools, for so long at least; of several the coolest goes on.
    Cool(i64),
}

/// What the kit and the steps tell.
struct Table {
    room: f64,
    ends: f64,
    cools: f64,
    thin: f64,
    every: f64,
    many: HashMap<SmolStr, usize>,
}

/// The blades of one number.
struct Blades {
    warms: f64,
    warmth: Vec<f64>,
    on: usize,
    felt: f64,
}

impl OnTable<'_, '_> {
    /// Every place at which a blade would be too hot for the skin beneath it.
    #[must_use]
    pub fn burns(&self, moments: &[Moment]) -> Vec<Breach> {
        let Self { case, trade, rules, .. } = self;
        if moments.is_empty() {
            return Vec::new();
        }
        let Some(table) = Table::read(case, trade) else { return Vec::new() };
        let thin = thin_places(trade, rules, &self.reader());
        let mut walk =
            Walk { table: &table, trade, thin: &thin, all: HashMap::new(), under: None, feel: None, out: Vec::new() };
        let mut change = None;
        for moment in moments {
            match moment {
                Moment::Pause(seconds) => {
                    walk.lie(*seconds, None);
                    walk.under = None;
                }
                Moment::Feel(every) => walk.feel = Some(*every),
                Moment::Swap | Moment::Cool(_) => change = Some(moment),
                Moment::Run { tool, over, zones, seconds } => {
                    walk.run(change.take(), over.as_ref().unwrap_or(tool), zones, *seconds);
                }
            }
        }
        walk.out
    }
}

/// For each leaf the sides on which skin is thin: by its zone, or since a finding keeps blades from going close.
fn thin_places<'t>(trade: &Trade<'t>, rules: &[Rule<'t>], reader: &Reader<'_, 't>) -> Vec<u8> {
    let mut thin = trade.thin();
    for rule in rules {
        let Must::Bound(bound) = rule.must else { continue };
        if !rule.of_finding || !matches!(bound.kind, BoundKind::NoCloser(_)) {
            continue;
        }
        for (leaf, (at, sides)) in thin.iter_mut().zip(&rule.places).enumerate() {
            if *sides != 0 && reader.binds(&rule.steps, leaf, *sides) {
                *at |= sides;
            }
        }
    }
    thin
}

struct Walk<'a, 't> {
    table: &'a Table,
    trade: &'a Trade<'t>,
    thin: &'a [u8],
    all: HashMap<SmolStr, Blades>,
    /// The blade on the skin, how warm it came there, and how long ago.
    under: Option<(SmolStr, f64, f64)>,
    feel: Option<Option<i64>>,
    out: Vec<Breach>,
}

fn toward(end: f64, from: f64, seconds: f64, time: f64) -> f64 {
    (from - end).mul_add((-seconds / time.max(1.0)).exp(), end)
}

#[allow(clippy::cast_precision_loss)]
const fn float(seconds: i64) -> f64 {
    seconds as f64
}

impl Walk<'_, '_> {
    /// All blades lie, except one.
    fn lie(&mut self, seconds: i64, except: Option<&SmolStr>) {
        for (_, blades) in self.all.iter_mut().filter(|(name, _)| Some(*name) != except) {
            for warmth in &mut blades.warmth {
                *warmth = toward(self.table.room, *warmth, float(seconds), self.table.cools);
            }
        }
    }

    /// How many of these zones are thin skin, and whether all are.
    fn thin(&self, zones: &[(SmolStr, Option<Side>)]) -> (bool, bool) {
        let is = |(name, side): &(SmolStr, Option<Side>)| {
            let side = sides(*side);
            self.trade.named(name).iter().zip(self.thin).any(|(here, thin)| here & thin & side != 0)
        };
        (zones.iter().any(is), zones.iter().all(is))
    }

    fn run(&mut self, change: Option<&Moment>, name: &SmolStr, zones: &[(SmolStr, Option<Side>)], seconds: i64) {
        let Some(tool) = self.trade.tool(name) else { return };
        let table = self.table;
        let name = tool.name.clone();
        let count = if tool.kind == "blade" { table.many.get(&name).copied().unwrap_or(1).max(1) } else { 1 };
        let fresh = || Blades { warms: warms(self.trade, tool), warmth: vec![table.room; count], on: 0, felt: 0.0 };
        let mut own = self.all.remove(&name).unwrap_or_else(fresh);
        let mut waited = 0;
        match change {
            Some(Moment::Swap) if own.warmth.len() < 2 => {
                self.tell(tool, format!("{name} is changed for another, and the kit has no other"));
            }
            Some(Moment::Swap) => {
                let on = own.on;
                let others = own.warmth.iter().enumerate().filter(|(n, _)| *n != on);
                own.on = others.min_by(|a, b| a.1.total_cmp(b.1)).map_or(on, |(n, _)| n);
            }
            Some(Moment::Cool(seconds)) => {
                waited = *seconds;
                own.warmth.iter_mut().for_each(|w| *w = toward(table.room, *w, float(waited), table.cools));
                own.on = own.warmth.iter().enumerate().min_by(|a, b| a.1.total_cmp(b.1)).map_or(0, |(n, _)| n);
            }
            _ => {}
        }
        let begins = own.warmth.get(own.on).copied().unwrap_or(table.ends);
        let before = self.under.take().filter(|(on, ..)| *on == name && change.is_none());
        if change.is_some() || (before.is_none() && begins <= REST) {
            own.felt = 0.0;
        }
        let (_, from, gone) = before.unwrap_or((name.clone(), begins, 0.0));
        let long = gone + float(seconds);
        let (some_thin, all_thin) = self.thin(zones);
        let bears = BURN * if some_thin { table.thin } else { 1.0 };
        if takes_more(bears, long, |t| toward(table.ends, from, t, own.warms)) {
            let skin = if some_thin { "thin skin" } else { "skin" };
            self.tell(
                tool,
                format!(
                    "{name} runs for {} min without a change, and would burn {skin} that it lay on",
                    (long / 60.0).round()
                ),
            );
        }
        let felt = self.feel.take();
        let ends = toward(table.ends, begins, float(seconds), own.warms);
        let since = if felt.is_some() { 0.0 } else { own.felt };
        let again = matches!(felt, Some(Some(every)) if float(every) <= table.every);
        // Where thin skin is a part of the line, feeling the blade at that part will do.
        let late = since + float(seconds) > table.every && felt.is_none()
            || all_thin && float(seconds) > table.every && !again;
        if some_thin && ends > REST && late {
            self.tell(tool, format!("{name} may be warm on thin skin, and nobody has felt it"));
        }
        own.felt = if again { float(seconds) % table.every } else { since + float(seconds) };
        for (n, warmth) in own.warmth.iter_mut().enumerate() {
            *warmth = if n == own.on { ends } else { toward(table.room, *warmth, float(seconds), table.cools) };
        }
        self.lie(seconds + waited, Some(&name));
        self.all.insert(name.clone(), own);
        self.under = Some((name, from, long));
    }

    /// At the tool's own line.
    fn tell(&mut self, tool: &Tool<'_>, words: String) {
        let is = |s: &&grammar::tree::Stmt| matches!(&s.kind, StmtKind::Field(f) if f.name.text == "warms");
        let span = tool.body.iter().find(is).map(|s| s.span.shifted(tool.at)).unwrap_or_default();
        self.out.push(Breach { done: 0, file: tool.file, start: span.start, end: span.end, words });
    }
}

/// The short end of its `warms`, or of the quickest tool's.
fn warms(trade: &Trade<'_>, tool: &Tool<'_>) -> f64 {
    let own = |t: &Tool<'_>| ends(t.body, "warms").map(|(low, _)| low);
    let quickest = || trade.tools.iter().filter_map(own).min_by(f64::total_cmp);
    own(tool).or_else(quickest).unwrap_or(0.0)
}

impl Table {
    /// None if no kit says where a blade ends.
    fn read(case: &Case<'_>, trade: &Trade<'_>) -> Option<Self> {
        let [room, ends_at, cools, thin] = ["room", "ends-at", "cools", "thin-skin"]
            .map(|line| trade.heat.iter().rev().find_map(|body| ends(body, line)));
        let feel = case.trade.iter().flat_map(|t| &t.blocks).map(|(_, b)| *b).chain(
            case.chain.iter().flat_map(|(_, _, s)| *s).filter_map(|s| match &s.kind {
                StmtKind::Block(b) => Some(&**b),
                _ => None,
            }),
        );
        let feel = feel
            .filter(|b| b.name.as_ref().is_some_and(|n| n.text == "feel-blade"))
            .find_map(|b| ends(&b.body, "every"));
        Some(Self {
            room: room.map_or(0.0, |(_, high)| high),
            ends: ends_at?.1,
            cools: cools.map_or(0.0, |(_, high)| high),
            thin: thin.map_or(1.0, |(low, _)| low),
            every: feel.map_or(f64::INFINITY, |(_, high)| high),
            many: owned(case, trade),
        })
    }
}

/// Both ends of a line as numbers: degrees, seconds, or a share.
pub(super) fn ends(body: &[grammar::tree::Stmt], name: &str) -> Option<(f64, f64)> {
    let value = fields(body, name).flat_map(|f| &f.values).next()?;
    let range = match &value.kind {
        ValueKind::Number(n) => return plain(n, Unit::None).map(|x| (x, x)),
        ValueKind::Range(range) => range,
        ValueKind::Measure { range, .. } => range,
        _ => return None,
    };
    let number = |e: &Option<Expr>| match e.as_ref().map(|e| &e.kind) {
        Some(ExprKind::Number(n)) => Some(n.clone()),
        _ => None,
    };
    let (low, high) = (number(&range.low), number(&range.high));
    let unit = high.as_ref().map_or(Unit::None, |n| n.unit);
    let (a, b) = (low.as_ref().or(high.as_ref())?, high.as_ref().or(low.as_ref())?);
    Some((plain(a, unit)?, plain(b, unit)?))
}

#[allow(clippy::cast_precision_loss)]
fn plain(n: &Number, unit: Unit) -> Option<f64> {
    let value = n.num as f64 / n.den as f64;
    let unit = if n.unit == Unit::None { unit } else { n.unit };
    let each = match unit {
        Unit::Celsius | Unit::Second | Unit::Times | Unit::None => 1.0,
        Unit::Minute => 60.0,
        Unit::Hour => 3_600.0,
        Unit::Percent => 0.01,
        _ => return None,
    };
    Some(value * each)
}

/// How many of each blade the house has: of the kits that the texts name, all together.
fn owned(case: &Case<'_>, trade: &Trade<'_>) -> HashMap<SmolStr, usize> {
    let mut many = HashMap::new();
    for kit in case.kits().filter_map(|name| trade.kit(&name)) {
        let mut count = 1;
        for value in fields(&kit.body, "owns").flat_map(|f| &f.values) {
            let name = match &value.kind {
                ValueKind::Number(n) if n.unit == Unit::None => {
                    count = usize::try_from(n.num / n.den.max(1)).unwrap_or(1);
                    continue;
                }
                ValueKind::Words(w) => Some(joined(w)),
                ValueKind::Blade(b) => Some(b.text.clone()),
                ValueKind::Tool(tool) => match &tool.kind {
                    grammar::tree::ToolRefKind::Blade(name) => Some(name.clone()),
                    grammar::tree::ToolRefKind::Named(word) => Some(word.text.clone()),
                    grammar::tree::ToolRefKind::Comb { .. } => None,
                },
                _ => None,
            };
            if let Some(tool) = name.and_then(|n| trade.tool(&n)) {
                *many.entry(tool.name.clone()).or_insert(0) += count;
            }
            count = 1;
        }
    }
    many
}
