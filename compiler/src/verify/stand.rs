//! How long the dog stands at a stretch and in all, against card, findings, texts and the step `rest`, all read from the trees anew.

use grammar::tree::{Block, BlockKind, Bound, BoundKind, ExprKind, Number, Stmt, StmtKind, Unit, Value, ValueKind};
use smol_str::SmolStr;

use super::condition::Reader;
use super::dog::Dog;
use super::exact::{Exact, Of};
use super::gather::{Must, Rule};
use super::trade::{BOTH, Trade, fields, joined, word};
use super::{Breach, Case, OnTable};

/// A piece of a visit for which the dog may have to stand.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Piece {
    /// The step of the trade, if it is one.
    pub step: Option<SmolStr>,
    /// Which task of the visit it belongs to: pieces of one task are fast or slow together.
    pub task: u32,
    /// Seconds, if all goes fast.
    pub low: i64,
    /// Seconds, if all goes slowly.
    pub high: i64,
    /// Whether the dog rests before it.
    pub rested: bool,
    /// How often the dog rests within it.
    pub within: u32,
}

/// A visit, as far as standing goes.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Standing {
    /// Its pieces in order.
    pub pieces: Vec<Piece>,
    /// How long a rest is at least, in seconds.
    pub rest: i64,
    /// How long the dog has stood since its last rest when the visit begins, in seconds.
    pub stretch_before: i64,
    /// And in all, today.
    pub all_before: i64,
    /// Whether all of it is for one visit. If not, the time in all isn't asked.
    pub one_visit: bool,
}

/// A limit with the place of its line.
#[derive(Clone, Copy)]
struct Limit {
    seconds: i64,
    place: (u32, u32, u32),
}

#[derive(Default)]
struct Limits {
    stretch: Option<Limit>,
    all: Option<Limit>,
}

impl Limits {
    fn add(&mut self, kind: &BoundKind, place: (u32, u32, u32)) {
        let (slot, number) = match kind {
            BoundKind::AtStretch(number) => (&mut self.stretch, number),
            BoundKind::InAll(number) => (&mut self.all, number),
            _ => return,
        };
        // What can't be read allows nothing.
        let seconds = seconds(number).unwrap_or(0);
        if slot.is_none_or(|known| seconds < known.seconds) {
            *slot = Some(Limit { seconds, place });
        }
    }
}

/// Whole seconds, rounded down.
fn seconds(number: &Number) -> Option<i64> {
    Exact::number(number, Unit::None).filter(|x| x.of == Of::Time).and_then(Exact::seconds)
}

impl OnTable<'_, '_> {
    /// Every limit that the visit breaks.
    #[must_use]
    pub fn overstood(&self, visit: &Standing) -> Vec<Breach> {
        let Self { case, trade, dog, rules, .. } = self;
        let (mut limits, rest) = (Limits::default(), rest_of(case, dog, trade));
        let (file, at, card) = case.card;
        let told = told(card);
        for (kind, stmt) in &told {
            let span = stmt.span.shifted(at);
            limits.add(kind, (file, span.start, span.end));
        }
        let reader = self.reader();
        for rule in rules {
            let Must::Bound(Bound { kind, .. }) = rule.must else { continue };
            let place = (rule.file, rule.start, rule.end);
            if binds(rule, &reader) {
                limits.add(kind, place);
            }
        }
        let is_told = |kind: &BoundKind| {
            told.iter().any(|(k, _)| matches!(k, BoundKind::AtStretch(_)) == matches!(kind, BoundKind::AtStretch(_)))
        };
        for (file, at, stmt, bound) in block(case, "rest").into_iter().flat_map(|(f, at, b)| bounds(f, at, b)) {
            let span = stmt.span.shifted(at);
            if !is_told(&bound.kind) {
                limits.add(&bound.kind, (file, span.start, span.end));
            }
        }
        judge(case, visit, &limits, rest)
    }
}

/// Whether the rule holds somewhere on the dog: it is about all of it.
fn binds(rule: &Rule<'_>, reader: &Reader<'_, '_>) -> bool {
    let mut leaves = rule.places.iter().enumerate().filter(|(_, sides)| **sides != 0);
    leaves.any(|(leaf, sides)| reader.binds(&rule.steps, leaf, sides & BOTH))
}

fn judge(case: &Case<'_>, visit: &Standing, limits: &Limits, rest: i64) -> Vec<Breach> {
    let mut out = Vec::new();
    let (file, at, _) = case.card;
    let mut breach = |(file, start, end): (u32, u32, u32), words: String| {
        out.push(Breach { done: 0, file, start, end, words });
    };
    let stands = |piece: &Piece| {
        let no =
            |name: &SmolStr| block(case, name).and_then(|(_, _, b)| word(&b.body, "stands")).is_some_and(|w| w == "no");
        !piece.step.as_ref().is_some_and(no)
    };
    if let Some(limit) = limits.stretch {
        // What has been can't be mended: it is a full stretch at most, after which nothing comes without a rest.
        let before = visit.stretch_before.min(limit.seconds);
        let first = Piece { task: u32::MAX, low: before, high: before, ..Piece::default() };
        let mut stretch: Vec<&Piece> = vec![&first];
        let mut close = |stretch: &[&Piece]| {
            // Broken off within one piece, it is as many stretches more, if what lies before and after is none too long itself.
            let at = stretch.iter().position(|p| p.within > 0);
            let (times, beside) = at
                .and_then(|n| Some((stretch.get(n)?.within, stretch.get(..n)?, stretch.get(n + 1..)?)))
                .map_or((0, 0), |(times, before, after)| (times, slow(before).max(slow(after))));
            let long = (slow(stretch) / (i64::from(times) + 1)).max(beside);
            if long > limit.seconds + 1 {
                let words = format!("the dog stands {} min at a stretch, and bears {}", long / 60, limit.seconds / 60);
                breach(limit.place, words);
            }
        };
        for piece in &visit.pieces {
            let lies = !stands(piece) && piece.low >= rest && piece.low > 0;
            if piece.rested || lies {
                close(&stretch);
                stretch.clear();
            }
            if stands(piece) {
                stretch.push(piece);
            }
        }
        close(&stretch);
    }
    let all: Vec<&Piece> = visit.pieces.iter().filter(|p| stands(p)).collect();
    if let Some(limit) = limits.all.filter(|_| visit.one_visit) {
        let long = slow(&all) + visit.all_before;
        if long > limit.seconds + 1 {
            let words = format!("the dog stands {} min in all, and bears {}", long / 60, limit.seconds / 60);
            breach(limit.place, words);
        }
    }
    let rests = visit.pieces.iter().any(|p| p.rested || p.within > 0);
    if rests && visit.rest < rest {
        let words = format!("a rest of {} min is too short: this dog needs {}", visit.rest / 60, rest / 60);
        breach((file, at, at), words);
    }
    out
}

/// Seconds for all of them if it goes slowly: half of the sum of both ends, and half the root of the summed squares of the
/// spreads, task by task.
fn slow(pieces: &[&Piece]) -> i64 {
    let mut tasks: Vec<(u32, i64, i64)> = Vec::new();
    for piece in pieces {
        match tasks.iter_mut().find(|(task, _, _)| *task == piece.task) {
            Some((_, low, high)) => (*low, *high) = (*low + piece.low, *high + piece.high),
            None => tasks.push((piece.task, piece.low, piece.high)),
        }
    }
    let both: i64 = tasks.iter().map(|(_, low, high)| low + high).sum();
    let squares: i64 = tasks.iter().map(|(_, low, high)| (high - low).saturating_mul(high - low)).sum();
    (both + squares.max(0).isqrt()) / 2
}

/// What the card says of how long its dog stands.
fn told(card: &[Stmt]) -> Vec<(BoundKind, &Stmt)> {
    let mut out = Vec::new();
    for stmt in card {
        let StmtKind::Field(field) = &stmt.kind else { continue };
        if field.name.text != "stands" {
            continue;
        }
        for Value { kind, .. } in &field.values {
            match kind {
                ValueKind::Number(number) => out.push((BoundKind::AtStretch(number.clone()), stmt)),
                ValueKind::Measure { words, range } => {
                    let Some(ExprKind::Number(number)) = range.high.as_ref().or(range.low.as_ref()).map(|e| &e.kind)
                    else {
                        continue;
                    };
                    let all = words.iter().any(|w| w.text.contains("all"));
                    let number = number.clone();
                    out.push((if all { BoundKind::InAll(number) } else { BoundKind::AtStretch(number) }, stmt));
                }
                _ => {}
            }
        }
    }
    // A later line is the one that counts.
    let last = |all: bool| out.iter().rposition(|(kind, _)| matches!(kind, BoundKind::InAll(_)) == all);
    let keep = [last(false), last(true)];
    let mut number = 0;
    out.retain(|_| {
        number += 1;
        keep.contains(&Some(number - 1))
    });
    out
}

/// A step of the trade by its name or another word for it.
fn block<'t>(case: &Case<'t>, name: &str) -> Option<(u32, u32, &'t Block)> {
    let blocks =
        || case.trade.iter().flat_map(|text| text.blocks.iter().map(move |(at, block)| (text.file, *at, *block)));
    let steps = || blocks().filter(|(_, _, b)| b.kind == BlockKind::Step);
    let own = steps().find(|(_, _, b)| b.name.as_ref().is_some_and(|n| n.text == name));
    own.or_else(|| {
        let called =
            |b: &Block| fields(&b.body, "calls").flat_map(|f| &f.values).any(|v| named(v).is_some_and(|n| n == name));
        steps().find(|(_, _, b)| called(b))
    })
}

fn named(value: &Value) -> Option<SmolStr> {
    match &value.kind {
        ValueKind::Words(words) => Some(joined(words)),
        _ => None,
    }
}

fn bounds(file: u32, at: u32, block: &Block) -> Vec<(u32, u32, &Stmt, &Bound)> {
    let keeps = block.body.iter().filter_map(|stmt| match &stmt.kind {
        StmtKind::Keep(keep) => Some((stmt, keep)),
        _ => None,
    });
    keeps.flat_map(|(stmt, keep)| keep.bounds.iter().map(move |b| (file, at, stmt, b))).collect()
}

/// How long this dog rests at least: `rest`, or what its findings ask for if that is longer.
fn rest_of(case: &Case<'_>, dog: &Dog<'_>, trade: &Trade<'_>) -> i64 {
    let findings = dog.found.iter().filter_map(|f| trade.findings.get(f.decl?));
    let asked = findings.flat_map(|f| fields(f.body, "steps")).flat_map(|f| &f.values).filter_map(named);
    let minutes = |name: SmolStr| {
        let (_, _, block) = block(case, &name)?;
        if word(&block.body, "stage").is_some() || word(&block.body, "stands").is_none_or(|w| w != "no") {
            return None;
        }
        let value = fields(&block.body, "minutes").flat_map(|f| &f.values).next()?;
        match &value.kind {
            ValueKind::Number(number) => seconds(number),
            ValueKind::Range(range) => {
                let number = |e: Option<&grammar::tree::Expr>| match e.map(|e| &e.kind) {
                    Some(ExprKind::Number(n)) => Some(n.clone()),
                    _ => None,
                };
                let (low, high) = (number(range.low.as_ref()), number(range.high.as_ref()));
                let unit = high.as_ref().map_or(Unit::None, |n| n.unit);
                let low = low.or(high)?;
                Exact::number(&low, unit).filter(|x| x.of == Of::Time).and_then(Exact::seconds)
            }
            _ => None,
        }
    };
    asked.chain([SmolStr::new_static("rest")]).filter_map(minutes).max().unwrap_or(0)
}
