//! Measures without rounding: fractions of nanometres, grams and days, and the sums that keeps are written in.

use std::cmp::Ordering;

use super::Case;
use grammar::tree::{Expr, ExprKind, Number, Op, Range, StmtKind, Unit, ValueKind};

use super::trade::Trade;

/// What a measure is a measure of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Of {
    /// A count or factor.
    Plain,
    /// Nanometres.
    Length,
    /// Grams.
    Weight,
    /// Days.
    Time,
}

/// An exact measure.
#[derive(Clone, Copy, Debug)]
pub(super) struct Exact {
    num: i128,
    /// Above zero.
    den: i128,
    pub(super) of: Of,
}

fn gcd(a: i128, b: i128) -> i128 {
    let (mut a, mut b) = (a.unsigned_abs(), b.unsigned_abs());
    while b != 0 {
        (a, b) = (b, a % b);
    }
    i128::try_from(a).unwrap_or(1).max(1)
}

impl Exact {
    pub(super) fn new(num: i128, den: i128, of: Of) -> Option<Self> {
        if den == 0 || num == i128::MIN || den == i128::MIN {
            return None;
        }
        let g = gcd(num, den);
        let sign = if den < 0 { -1 } else { 1 };
        Some(Self { num: num / g * sign, den: den / g * sign, of })
    }

    pub(super) const fn whole(n: i64, of: Of) -> Self {
        Self { num: n as i128, den: 1, of }
    }

    /// A number as written; `unit` is for one without.
    pub(super) fn number(n: &Number, unit: Unit) -> Option<Self> {
        let unit = if n.unit == Unit::None { unit } else { n.unit };
        let (of, num, den): (Of, i128, i128) = match unit {
            Unit::None | Unit::Times => (Of::Plain, 1, 1),
            Unit::Percent => (Of::Plain, 1, 100),
            Unit::Mm => (Of::Length, 1_000_000, 1),
            Unit::Cm => (Of::Length, 10_000_000, 1),
            Unit::M => (Of::Length, 1_000_000_000, 1),
            Unit::Inch => (Of::Length, 25_400_000, 1),
            Unit::G => (Of::Weight, 1, 1),
            Unit::Kg => (Of::Weight, 1_000, 1),
            Unit::Pound => (Of::Weight, 45_359_237, 100_000),
            Unit::Ounce => (Of::Weight, 45_359_237, 1_600_000),
            Unit::Second => (Of::Time, 1, 86_400),
            Unit::Minute => (Of::Time, 1, 1_440),
            Unit::Hour => (Of::Time, 1, 24),
            Unit::Day => (Of::Time, 1, 1),
            Unit::Week => (Of::Time, 7, 1),
            // 400 years of the calendar have 146 097 days.
            Unit::Month => (Of::Time, 146_097, 4_800),
            Unit::Year => (Of::Time, 146_097, 400),
            Unit::Finger | Unit::Hand | Unit::Cm2PerMinute | Unit::MmPerWeek | Unit::Celsius => return None,
        };
        Self::new(i128::from(n.num).checked_mul(num)?, i128::from(n.den).checked_mul(den)?, of)
    }

    /// A time in whole seconds, rounded down.
    pub(super) fn seconds(self) -> Option<i64> {
        i64::try_from(self.num.checked_mul(86_400)?.div_euclid(self.den)).ok()
    }

    pub(super) fn cmp(self, other: Self) -> Option<Ordering> {
        if self.of != other.of {
            return None;
        }
        Some(self.num.checked_mul(other.den)?.cmp(&other.num.checked_mul(self.den)?))
    }

    /// Whether this is less; what can't be compared counts as less.
    pub(super) fn below(self, other: Self) -> bool {
        self.cmp(other).is_none_or(Ordering::is_lt)
    }

    fn plus(self, other: Self, sign: i128) -> Option<Self> {
        if self.of != other.of {
            return None;
        }
        let (a, b) = (self.num.checked_mul(other.den)?, other.num.checked_mul(self.den)?.checked_mul(sign)?);
        Self::new(a.checked_add(b)?, self.den.checked_mul(other.den)?, self.of)
    }

    pub(super) fn middle(self, other: Self) -> Option<Self> {
        self.plus(other, 1)?.over(Self::whole(2, Of::Plain))
    }

    fn times(self, other: Self) -> Option<Self> {
        let of = match (self.of, other.of) {
            (Of::Plain, of) | (of, Of::Plain) => of,
            _ => return None,
        };
        Self::new(self.num.checked_mul(other.num)?, self.den.checked_mul(other.den)?, of)
    }

    fn over(self, other: Self) -> Option<Self> {
        let of = match (self.of, other.of) {
            (of, Of::Plain) => of,
            (a, b) if a == b => Of::Plain,
            _ => return None,
        };
        Self::new(self.num.checked_mul(other.den)?, self.den.checked_mul(other.num)?, of)
    }

    /// How far the two lie apart.
    pub(super) fn gap(self, other: Self) -> Option<Self> {
        let d = self.plus(other, -1)?;
        Some(Self { num: d.num.checked_abs()?, ..d })
    }

    /// A length for people: `1.2 mm`.
    pub(super) fn mm(self) -> String {
        let hundredths = self.num / self.den.saturating_mul(10_000).max(1);
        let (whole, part) = (hundredths / 100, (hundredths % 100).abs());
        match part {
            0 => format!("{whole} mm"),
            p if p % 10 == 0 => format!("{whole}.{} mm", p / 10),
            p => format!("{whole}.{p:02} mm"),
        }
    }
}

/// Where the names of a sum are looked up.
#[derive(Clone, Copy)]
pub(super) struct Scope<'a, 't> {
    pub(super) trade: &'a Trade<'t>,
    pub(super) case: &'a Case<'t>,
}

impl<'t> Scope<'_, 't> {
    /// A sum written in part `entry` of the chain (none: in the trade or on the card).
    pub(super) fn eval(&self, e: &Expr, entry: Option<usize>) -> Option<Exact> {
        self.sum(e, entry, Unit::None, 24)
    }

    /// The two ends of a range. The unit of the right end serves both.
    pub(super) fn ends(&self, r: &Range, entry: Option<usize>) -> (Option<Option<Exact>>, Option<Option<Exact>>) {
        let unit = match r.high.as_ref().map(|e| &e.kind) {
            Some(ExprKind::Number(n)) => n.unit,
            _ => Unit::None,
        };
        let end = |e: &Option<Expr>| e.as_ref().map(|e| self.sum(e, entry, unit, 24));
        (end(&r.low), end(&r.high))
    }

    fn sum(&self, e: &Expr, entry: Option<usize>, unit: Unit, deep: u32) -> Option<Exact> {
        let deep = deep.checked_sub(1)?;
        match &e.kind {
            ExprKind::Number(n) => match n.unit {
                Unit::Finger | Unit::Hand => {
                    let many = Exact::new(i128::from(n.num), i128::from(n.den), Of::Plain)?;
                    many.times(self.trade.width(n.unit == Unit::Hand)?)
                }
                _ => Exact::number(n, unit),
            },
            ExprKind::Blade(b) => self.trade.tool(&b.text)?.closeness,
            ExprKind::Name(w) => {
                let (value, entry) = self.named(&w.text, entry?)?;
                self.sum(value, Some(entry), Unit::None, deep)
            }
            ExprKind::Binary { op, left, right } => {
                let a = self.sum(left, entry, Unit::None, deep)?;
                let b = self.sum(right, entry, Unit::None, deep)?;
                match op {
                    Op::Add => a.plus(b, 1),
                    Op::Sub => a.plus(b, -1),
                    Op::Mul => a.times(b),
                    Op::Div => a.over(b),
                }
            }
            ExprKind::Steps { count, combs, from } => {
                let from = self.sum(from, entry, Unit::None, deep)?;
                climb(&self.kit(if *combs { "comb" } else { "blade" }), from, *count)
            }
        }
    }

    /// What a name stands for: a `let` is private to its text, a `param` may be set anew by a later one.
    fn named(&self, name: &str, entry: usize) -> Option<(&'t Expr, usize)> {
        let (_, _, own) = self.case.chain.get(entry)?;
        for s in *own {
            if let StmtKind::Let { name: n, value } = &s.kind
                && n.text == name
            {
                return Some((value, entry));
            }
        }
        self.case.chain.iter().enumerate().rev().find_map(|(i, (_, _, stmts))| {
            stmts.iter().find_map(|s| match &s.kind {
                StmtKind::Param { name: n, value, .. } if n.text == name => Some((&**value, i)),
                _ => None,
            })
        })
    }

    /// The closenesses of the house's combs or blades; of all if no kit is named.
    fn kit(&self, kind: &str) -> Vec<Exact> {
        let all = self.trade.ladder(kind);
        let kits: Vec<_> = self.case.kits().filter_map(|name| self.trade.kit(&name)).collect();
        if kits.is_empty() {
            return all;
        }
        let mut own = Vec::new();
        for s in kits.iter().flat_map(|kit| &kit.body) {
            let StmtKind::Field(f) = &s.kind else { continue };
            if f.name.text != "owns" {
                continue;
            }
            for v in &f.values {
                let tool = match &v.kind {
                    ValueKind::Words(w) => self.trade.tool(&super::trade::joined(w)),
                    ValueKind::Blade(b) => self.trade.tool(&b.text),
                    _ => None,
                };
                if let Some(t) = tool
                    && t.kind == kind
                {
                    own.extend(t.closeness);
                }
            }
        }
        if own.is_empty() { all } else { sorted(own) }
    }
}

/// Sorted, each once.
pub(super) fn sorted(mut all: Vec<Exact>) -> Vec<Exact> {
    all.sort_by(|a, b| a.cmp(*b).unwrap_or(Ordering::Equal));
    all.dedup_by(|a, b| a.cmp(*b) == Some(Ordering::Equal));
    all
}

/// So many rungs above (or below) a length.
pub(super) fn climb(ladder: &[Exact], from: Exact, count: i32) -> Option<Exact> {
    let nth = usize::try_from(count.unsigned_abs()).ok()?;
    let Some(nth) = nth.checked_sub(1) else { return Some(from) };
    if count > 0 {
        ladder.iter().filter(|r| r.cmp(from) == Some(Ordering::Greater)).nth(nth).copied()
    } else {
        ladder.iter().rev().filter(|r| r.cmp(from) == Some(Ordering::Less)).nth(nth).copied()
    }
}
