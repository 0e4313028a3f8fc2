//! Arithmetic on lengths and other measures: units are kept, whole numbers stay exact.

use super::fields::number_of;
use super::nearest;
use super::scope::Scope;
use super::trade::{Tool, ToolId, ToolKind, Trade};
use crate::diagnostic::{Diagnostic, code};
use crate::measure::{self, BodyUnits, Dimension, Length};
use grammar::tree::{Expr, ExprKind, Op};
use smol_str::SmolStr;
use std::collections::BTreeMap;

/// What a name in a sum stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Value {
    /// What it measures.
    pub dimension: Dimension,
    /// How much, in base units.
    pub value: i64,
}

/// Parameters and lets in reach.
pub type Env = BTreeMap<SmolStr, Value>;

/// A reader of sums.
pub struct Sums<'a> {
    /// The trade.
    pub trade: &'a Trade,
    /// Parameters and lets.
    pub env: &'a Env,
    /// Finger and hand.
    pub units: BodyUnits,
    /// The kit along whose combs and blades steps are counted; none counts those of the trade.
    pub kit: Option<&'a [ToolId]>,
}

impl Sums<'_> {
    /// The value of a sum that must measure `dimension`; says what is wrong and returns none otherwise.
    pub fn read(&self, expr: &Expr, dimension: Dimension, scope: &mut Scope<'_>) -> Option<i64> {
        if let ExprKind::Number(number) = &expr.kind {
            return number_of(number, dimension, self.units, scope);
        }
        let value = self.value(expr, scope)?;
        if value.dimension == dimension {
            return Some(value.value);
        }
        let message = format!("this is {}, and {} is due here", value.dimension.words(), dimension.words());
        scope.say(Diagnostic::error(code::M009, scope.place(expr.span), message));
        None
    }

    /// The same for a length.
    pub fn length(&self, expr: &Expr, scope: &mut Scope<'_>) -> Option<Length> {
        self.read(expr, Dimension::Length, scope).map(Length)
    }

    /// The value of a sum, whatever it measures.
    pub fn value(&self, expr: &Expr, scope: &mut Scope<'_>) -> Option<Value> {
        let place = scope.place(expr.span);
        match &expr.kind {
            ExprKind::Number(number) => {
                let quantity = measure::quantity(number, self.units);
                if quantity.is_none() {
                    scope.say(Diagnostic::error(code::M009, place, format!("`{}` is too large", number.text)));
                }
                quantity.map(|q| Value { dimension: q.dimension, value: q.value })
            }
            ExprKind::Name(word) => {
                let found = self.env.get(&word.text).copied();
                if found.is_none() {
                    let mut diagnostic =
                        Diagnostic::error(code::M008, place, format!("nothing here is called `{}`", word.text));
                    if let Some(near) = nearest(&word.text, self.env.keys().map(SmolStr::as_str)) {
                        diagnostic = diagnostic.help(format!("Did you mean `{near}`?")).fix(
                            format!("write `{near}`"),
                            place,
                            near,
                        );
                    } else {
                        diagnostic =
                            diagnostic.help("Give it a value with `param NAME is 9 mm` or `let NAME is 9 mm`.");
                    }
                    scope.say(diagnostic);
                }
                found
            }
            ExprKind::Blade(word) => {
                let tool = self.trade.index.tools.get(&word.text).and_then(|&id| self.trade.tool(id));
                let length = tool.and_then(|t| t.closeness);
                if length.is_none() {
                    scope.say(super::keeps::unknown_tool(self.trade, &word.text, place));
                }
                length.map(|l| Value { dimension: Dimension::Length, value: l.0 })
            }
            ExprKind::Steps { count, combs, from } => {
                let from = self.length(from, scope)?;
                let kind = if *combs { ToolKind::Comb } else { ToolKind::Blade };
                let at_hand = self
                    .trade
                    .tools
                    .iter()
                    .enumerate()
                    .filter(|(i, _)| self.kit.is_none_or(|kit| kit.iter().any(|id| usize::from(id.0) == *i)));
                match stepped(at_hand.map(|(_, t)| t), kind, from, *count) {
                    Some(length) => Some(Value { dimension: Dimension::Length, value: length.0 }),
                    None => {
                        let what = if *combs { "comb" } else { "blade" };
                        let message = format!("there is no {what} that many steps from {from}");
                        scope.say(Diagnostic::error(code::M022, place, message));
                        None
                    }
                }
            }
            ExprKind::Binary { op, left, right } => {
                let (left, right) = (self.value(left, scope)?, self.value(right, scope)?);
                let result = combine(*op, left, right);
                if result.is_none() {
                    let message = match op {
                        Op::Add | Op::Sub => format!(
                            "{} and {} can't be added or taken away",
                            left.dimension.words(),
                            right.dimension.words()
                        ),
                        Op::Mul => "only one side of `times` may have a unit".to_owned(),
                        Op::Div if right.value == 0 => "nothing can be shared among none: this divides by 0".to_owned(),
                        Op::Div => "a measure can be divided by a plain number only".to_owned(),
                    };
                    scope.say(Diagnostic::error(code::M009, place, message));
                }
                result
            }
        }
    }
}

fn combine(op: Op, left: Value, right: Value) -> Option<Value> {
    use Dimension::Count;
    let scaled = |measure: Value, up: i128, down: i128| (down != 0).then(|| i128::from(measure.value) * up / down);
    let (dimension, value) = match (op, left.dimension, right.dimension) {
        (Op::Add, a, b) if a == b => (a, i128::from(left.value) + i128::from(right.value)),
        (Op::Sub, a, b) if a == b => (a, i128::from(left.value) - i128::from(right.value)),
        (Op::Mul, Count, b) => (b, scaled(right, left.value.into(), 1_000_000)?),
        (Op::Mul, a, Count) => (a, scaled(left, right.value.into(), 1_000_000)?),
        (Op::Div, a, Count) => (a, scaled(left, 1_000_000, right.value.into())?),
        (Op::Div, a, b) if a == b => (Count, scaled(left, 1_000_000, right.value.into())?),
        _ => return None,
    };
    i64::try_from(value).ok().map(|value| Value { dimension, value })
}

/// The length of the comb or blade `count` steps longer (or, below zero, shorter) than `from`.
#[must_use]
pub fn stepped<'t>(tools: impl Iterator<Item = &'t Tool>, kind: ToolKind, from: Length, count: i32) -> Option<Length> {
    let mut lengths: Vec<Length> = tools.filter(|t| t.kind == kind).filter_map(|t| t.closeness).collect();
    lengths.sort_unstable();
    lengths.dedup();
    if count >= 0 {
        let over = lengths.partition_point(|&l| l <= from);
        let steps = usize::try_from(count).ok()?;
        if steps == 0 { Some(from) } else { lengths.get(over + steps - 1).copied() }
    } else {
        let under = lengths.partition_point(|&l| l < from);
        let steps = usize::try_from(-i64::from(count)).ok()?;
        lengths.get(under.checked_sub(steps)?).copied()
    }
}
