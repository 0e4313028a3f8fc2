//! Sums, ranges and tools.

use pest::iterators::{Pair, Pairs};

use crate::read::{Rd, Rule};
use crate::tree::{Expr, ExprKind, Number, Op, Range, Span, ToolRef, ToolRefKind, Unit, Word};

/// A sum may hold this many signs.
const MAX_SIGNS: usize = 100;
const DASH: &str = "a dash between two measures: did you mean `to`?";
const DASH_HELP: &str = "write `to` from the one to the other; a minus is only needed to take a length away";

impl Rd<'_, '_, '_> {
    /// A sum: `9 mm`, `body-length + 3 mm`.
    pub(crate) fn sum(&mut self, p: Pair<Rule>) -> Expr {
        let whole = self.span(&p);
        let mut inner = p.into_inner().peekable();
        let Some(first) = inner.next() else { return nothing(whole) };
        let mut left = self.atom(first, &mut inner);
        if inner.peek().is_none() {
            return left;
        }
        // Times and divided bind tighter: products are closed before a plus or minus.
        let mut held: Option<(Expr, Op)> = None;
        let mut signs = 0;
        while let Some(sign) = inner.next() {
            let at = sign.as_span();
            let op = match sign.as_str().trim_end() {
                "+" | "plus" => Op::Add,
                "-" | "minus" => Op::Sub,
                "/" => Op::Div,
                _ => Op::Mul,
            };
            let Some(next) = inner.next() else { break };
            let right = self.atom(next, &mut inner);
            signs += 1;
            if signs > MAX_SIGNS {
                self.error("W028", whole, "this sum is too long to be meant", "name parts of it with `let`");
                return left;
            }
            if sign.as_str() == "-" {
                self.minus(at.start(), &left, &right);
            }
            match op {
                Op::Mul | Op::Div => left = binary(op, left, right),
                Op::Add | Op::Sub => {
                    if let Some((l, o)) = held.take() {
                        left = binary(o, l, left);
                    }
                    held = Some((left, op));
                    left = right;
                }
            }
        }
        match held {
            Some((l, o)) => binary(o, l, left),
            None => left,
        }
    }

    /// A minus needs blanks; between two measures it's a slip for `to`.
    fn minus(&mut self, at: usize, left: &Expr, right: &Expr) {
        let span = self.line.span(at, at + 1);
        let said = self.line.src.get(span.start as usize..span.end as usize).unwrap_or("-");
        let b = self.line.text.as_bytes();
        let blank = |i: Option<usize>| i.and_then(|i| b.get(i)).is_none_or(|b| *b == b' ');
        let (before, after) = (blank(at.checked_sub(1)), blank(Some(at + 1)));
        let numbers = matches!((&left.kind, &right.kind), (ExprKind::Number(_), ExprKind::Number(_)));
        if numbers && (said != "-" || !(before && after) || is_dash(left, right)) && said != "−" {
            let with = match (before, after) {
                (true, true) => "to",
                (true, false) => "to ",
                (false, true) => " to",
                (false, false) => " to ",
            };
            self.fixable("W014", span, DASH, DASH_HELP, with);
        } else if !(before && after) {
            self.fixable(
                "W021",
                span,
                "a minus needs a blank on both sides",
                "write ` - `, so that it isn't taken for part of a name",
                match (before, after) {
                    (true, _) => "- ",
                    (_, true) => " -",
                    _ => " - ",
                },
            );
        }
    }

    fn atom<'i>(&mut self, p: Pair<'i, Rule>, rest: &mut std::iter::Peekable<Pairs<'i, Rule>>) -> Expr {
        let span = self.span(&p);
        match p.as_rule() {
            Rule::number => {
                let n = self.number(&p);
                if rest.peek().is_some_and(|n| n.as_rule() == Rule::steps)
                    && let Some(steps) = rest.next()
                {
                    return self.steps(&n, steps);
                }
                let span = n.span;
                Expr { kind: ExprKind::Number(n), span }
            }
            Rule::blade => {
                let b = self.blade(&p);
                let span = b.span;
                Expr { kind: ExprKind::Blade(b), span }
            }
            Rule::group => match p.into_inner().next() {
                Some(sum) => Expr { span, ..self.sum(sum) },
                None => nothing(span),
            },
            Rule::twice => {
                let half = p.as_str().starts_with("half");
                let mut inner = p.into_inner().peekable();
                let Some(of) = inner.next() else { return nothing(span) };
                let of = self.atom(of, &mut inner);
                let at = Span::new(span.start, span.start + if half { 4 } else { 5 });
                let factor = Number {
                    num: if half { 1 } else { 2 },
                    den: if half { 2 } else { 1 },
                    unit: Unit::None,
                    text: if half { "1/2" } else { "two" }.into(),
                    span: at,
                };
                binary(Op::Mul, Expr { kind: ExprKind::Number(factor), span: at }, of)
            }
            _ => {
                let w = self.word_of(&p);
                Expr { span: w.span, kind: ExprKind::Name(w) }
            }
        }
    }

    fn steps(&mut self, n: &Number, p: Pair<Rule>) -> Expr {
        let mut span = n.span.to(self.span(&p));
        let mut combs = false;
        let mut shorter = false;
        let mut from = None;
        let mut inner = p.into_inner().peekable();
        while let Some(q) = inner.next() {
            match q.as_rule() {
                Rule::step_kind => combs = q.as_str().starts_with("comb"),
                Rule::step_way => shorter = q.as_str().starts_with("shorter") || q.as_str().starts_with("under"),
                _ => from = Some(self.atom(q, &mut inner)),
            }
        }
        let count = i32::try_from(n.num).unwrap_or(1);
        if n.den != 1 || n.unit != Unit::None {
            self.error(
                "W010",
                n.span,
                "this counts steps, so it must be a whole number",
                "write `one`, `two` or `three`",
            );
        }
        let from = from.unwrap_or_else(|| nothing(span));
        span = span.to(from.span);
        Expr {
            kind: ExprKind::Steps { count: if shorter { -count } else { count }, combs, from: Box::new(from) },
            span,
        }
    }

    /// The range in a `range` pair.
    pub(crate) fn range(&mut self, p: Pair<Rule>) -> Range {
        let span = self.span(&p);
        let mut range = Range { low: None, high: None, low_open: false, high_open: false, span };
        let Some(form) = p.into_inner().next() else { return range };
        let rule = form.as_rule();
        let mut sums = form.into_inner();
        let a = sums.next().map(|s| self.sum(s));
        let b = sums.next().map(|s| self.sum(s));
        match rule {
            Rule::up_to => range.high = a,
            Rule::under => {
                range.high = a;
                range.high_open = true;
            }
            Rule::over => {
                range.low = a;
                range.low_open = true;
            }
            Rule::from => {
                range.low = a;
                range.high = b;
            }
            _ => match (a, b) {
                (Some(a), Some(b)) => {
                    range.low = Some(a);
                    range.high = Some(b);
                }
                // A dash where `to` was meant has been reported; here it is a range.
                (Some(Expr { kind: ExprKind::Binary { op: Op::Sub, left, right }, .. }), None)
                    if Self::dash(&left, &right) =>
                {
                    self.spaced_dash(&left, &right);
                    range.low = Some(*left);
                    range.high = Some(*right);
                }
                (Some(a), None) => {
                    range.low = Some(a.clone());
                    range.high = Some(a);
                }
                _ => {}
            },
        }
        self.backwards(&range);
        range
    }

    /// Two plain numbers with a dash between: where a range can stand, it was meant as one.
    const fn dash(left: &Expr, right: &Expr) -> bool {
        matches!((&left.kind, &right.kind), (ExprKind::Number(_), ExprKind::Number(_)))
    }

    /// `3 kg - 5 kg` in the place of a range; other dashes have been reported with the sum.
    fn spaced_dash(&mut self, left: &Expr, right: &Expr) {
        let from = left.span.end.min(right.span.start);
        let gap = self.line.src.get(from as usize..right.span.start as usize).unwrap_or("");
        if is_dash(left, right) || !(gap.starts_with(' ') && gap.ends_with(' ')) || !matches!(gap.trim(), "-" | "−") {
            return;
        }
        let at = from + u32::try_from(gap.find(['-', '−']).unwrap_or(0)).unwrap_or(0);
        let end = at + u32::try_from(gap.trim().len()).unwrap_or(1);
        self.fixable("W014", Span::new(at, end), DASH, DASH_HELP, "to");
    }

    fn backwards(&mut self, r: &Range) {
        let (Some(Expr { kind: ExprKind::Number(a), span: sa }), Some(Expr { kind: ExprKind::Number(b), span: sb })) =
            (&r.low, &r.high)
        else {
            return;
        };
        if a.unit != b.unit && a.unit != Unit::None {
            return;
        }
        if i128::from(a.num) * i128::from(b.den) > i128::from(b.num) * i128::from(a.den) {
            let get = |s: &Span| self.line.src.get(s.start as usize..s.end as usize).unwrap_or("").to_owned();
            let (ta, tb) = (get(sa), get(sb));
            let help = if a.unit == b.unit && a.unit != Unit::None {
                format!("write `{tb} to {ta}`")
            } else {
                "write the smaller one first".to_owned()
            };
            self.error("W025", r.span, format!("this range runs backwards: {ta} is more than {tb}"), help);
        }
    }

    /// A tool: `#10`, `19 mm comb over #30`, `ball-tip shears`.
    pub(crate) fn tool(&mut self, p: Pair<Rule>) -> ToolRef {
        let span = self.span(&p);
        let mut inner = p.into_inner();
        let Some(q) = inner.next() else {
            return ToolRef { kind: ToolRefKind::Named(Word { text: "".into(), span }), span };
        };
        let kind = match q.as_rule() {
            Rule::blade => ToolRefKind::Blade(self.blade(&q).text),
            Rule::bare_blade => {
                let at = self.span(&q);
                let digits: String = q.as_str().chars().take_while(|c| c.is_ascii_alphanumeric()).collect();
                let digits = digits.strip_suffix("blade").unwrap_or(&digits).to_ascii_uppercase();
                let with = format!("#{digits}");
                self.fixable(
                    "W027",
                    at,
                    format!("a blade is written with `#`: `{with}`"),
                    format!("write `{with}`"),
                    &with,
                );
                ToolRefKind::Blade(with.into())
            }
            Rule::comb => self.comb(q),
            _ => ToolRefKind::Named(self.word_of(&q)),
        };
        ToolRef { kind, span }
    }

    pub(crate) fn comb(&mut self, p: Pair<Rule>) -> ToolRefKind {
        let (mut length, mut over) = (None, None);
        for q in p.into_inner() {
            match q.as_rule() {
                Rule::number => length = Some(self.number(&q)),
                Rule::blade => over = Some(self.blade(&q)),
                _ => {}
            }
        }
        ToolRefKind::Comb { length: length.map(Box::new), over }
    }
}

/// `3 - 5 kg`: the left side has no unit of its own, so it is the lower end of a range.
fn is_dash(left: &Expr, right: &Expr) -> bool {
    matches!((&left.kind, &right.kind), (ExprKind::Number(a), ExprKind::Number(b)) if a.unit == Unit::None && b.unit != Unit::None)
}

fn binary(op: Op, left: Expr, right: Expr) -> Expr {
    let span = left.span.to(right.span);
    Expr { kind: ExprKind::Binary { op, left: Box::new(left), right: Box::new(right) }, span }
}

fn nothing(span: Span) -> Expr {
    Expr { kind: ExprKind::Name(Word { text: "".into(), span }), span }
}
