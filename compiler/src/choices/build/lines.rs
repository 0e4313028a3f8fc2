//! Steps of preparation, blends, lines and orders.

use super::{Around, Builder, touching, zone_words};
use crate::choices::{BlendAsk, LineAsk, OrderAsk, PrepAsk, Wide};
use crate::diagnostic::{Diagnostic, code};
use crate::measure::{Dimension, Factor, Interval, Length, Time};
use crate::names::fields::{number_of, spaced, value_name};
use crate::names::keeps;
use crate::names::lower::unknown_step;
use crate::names::scope::Scope;
use crate::names::sites::Sites;
use crate::names::trade::{Manner, StepId, Tool};
use crate::source::Place;
use grammar::tree::{Body, ClauseKind, Field, Line, Room, Stmt, StmtKind, ToolRefKind, Unit, ValueKind, Word};
use smol_str::SmolStr;

impl Builder<'_> {
    pub(super) fn step(&self, field: &Field) -> Option<StepId> {
        let name = &field.name.text;
        let first = field.values.first().and_then(value_name);
        let steps = &self.trade.index.steps;
        first.and_then(|word| steps.get(format!("{name}-{}", word.text).as_str())).or_else(|| steps.get(name)).copied()
    }

    pub(super) fn prep(&mut self, body: &Body, around: &Around, scope: &mut Scope<'_>) {
        for stmt in &body.stmts {
            let StmtKind::Field(field) = &stmt.kind else {
                if !matches!(stmt.kind, StmtKind::Broken) {
                    let place = scope.place(stmt.span);
                    scope.say(
                        Diagnostic::error(code::M024, place, "only steps belong into `prep`")
                            .help("For example `prep { nails; bath; dry stretch; comb to skin }`."),
                    );
                }
                continue;
            };
            let Some(step) = self.step(field) else {
                let word = Word { text: field.name.text.clone(), span: field.name.span };
                scope.say(unknown_step(self.trade, &word, scope.place(word.span)));
                continue;
            };
            let mut words = Vec::new();
            let mut at_most = None;
            for value in &field.values {
                match &value.kind {
                    ValueKind::Words(list) => words.push(spaced(list)),
                    ValueKind::Range(range) | ValueKind::Measure { range, .. } => {
                        if let Some(expr) = &range.high {
                            at_most = self.sums().read(expr, Dimension::Time, scope).map(Time);
                        }
                    }
                    ValueKind::Blade(word) => words.push(word.text.to_string()),
                    ValueKind::Text(text) => words.push(text.text.clone()),
                    _ => {}
                }
            }
            let ask = PrepAsk {
                step,
                words: words.join(", "),
                at_most,
                cond: around.cond.clone(),
                level: self.level,
                place: scope.place(field.name.span),
            };
            self.choices.prep.push(ask);
        }
    }

    pub(super) fn blend(&mut self, stmt: &Stmt, blend: &grammar::tree::Blend, around: &Around, scope: &mut Scope<'_>) {
        let (from, into) = (keeps::sites(&blend.from, self.trade, scope), keeps::sites(&blend.into, self.trade, scope));
        let mut ask = BlendAsk {
            from,
            into,
            words: format!("{} into {}", zone_words(&blend.from), zone_words(&blend.into)),
            room: None,
            wide: None,
            room_place: None,
            by: None,
            tool: None,
            finding: around.finding,
            cond: around.cond.clone(),
            level: self.level,
            place: scope.place(stmt.span),
        };
        for clause in &blend.clauses {
            match &clause.kind {
                ClauseKind::Over(Room::Length(number)) => {
                    ask.wide = self.wide(number, scope);
                    ask.room_place = Some(scope.place(clause.span));
                    ask.room = Some(number.text.to_string());
                }
                ClauseKind::Over(Room::Share { share, of }) => {
                    let millionths = i128::from(share.num) * 1_000_000 / i128::from(share.den.max(1));
                    let sites = keeps::one(of, self.trade, scope);
                    ask.wide = i64::try_from(millionths).ok().map(|m| Wide::Share(Factor(m), sites));
                    ask.room_place = Some(scope.place(clause.span));
                    ask.room = Some(format!("{} of the {}", share.text, of.name.text.replace('-', " ")));
                }
                ClauseKind::With(tool) => {
                    let name = match &tool.kind {
                        ToolRefKind::Named(word) => word.text.clone(),
                        ToolRefKind::Blade(name) => name.clone(),
                        ToolRefKind::Comb { length, .. } => {
                            length.as_ref().map_or_else(|| "comb".into(), |l| format!("{} comb", l.text).into())
                        }
                    };
                    let known = match &tool.kind {
                        ToolRefKind::Named(_) => {
                            self.trade.index.manners.contains_key(&name) || self.trade.index.tools.contains_key(&name)
                        }
                        ToolRefKind::Blade(_) => self.trade.index.tools.contains_key(&name),
                        ToolRefKind::Comb { length: Some(n), .. } => {
                            ask.tool = keeps::comb(n, &self.sums(), scope);
                            true
                        }
                        ToolRefKind::Comb { .. } => true,
                    };
                    ask.tool = ask.tool.or_else(|| self.trade.index.tools.get(&name).copied());
                    self.blends(&tool.kind, &name, scope.place(tool.span), scope);
                    if known {
                        ask.by = Some(if matches!(tool.kind, ToolRefKind::Named(_)) {
                            self.main_manner(&name)
                        } else {
                            name
                        });
                    } else {
                        let word = Word { text: name, span: tool.span };
                        self.manner(&word, scope);
                    }
                }
                ClauseKind::Manner { name, .. } => self.manner(name, scope),
                _ => {
                    let place = scope.place(clause.span);
                    scope.say(
                        Diagnostic::error(code::M017, place, "a blend has no such part")
                            .help("Write `blend A into B over two fingers by skimming`."),
                    );
                }
            }
        }
        if !from.is_empty() && !into.is_empty() && !touching(self.trade, from, into) {
            scope.say(
                Diagnostic::warning(
                    code::J002,
                    scope.place(stmt.span),
                    format!("{} don't touch", ask.words.replace(" into ", " and ")),
                )
                .why("A blend melts two neighbours into one another.")
                .help("Name the parts that lie side by side, such as `ribs into shoulder`."),
            );
        }
        self.choices.blends.push(ask);
    }

    /// M017: a tool or a way of working that takes no border in.
    fn blends(&self, tool: &ToolRefKind, name: &SmolStr, place: Place, scope: &mut Scope<'_>) {
        let index = &self.trade.index;
        let motion = index.manners.get(name).filter(|_| matches!(tool, ToolRefKind::Named(_)));
        let motion = motion.and_then(|id| self.trade.manner(*id)).map(Manner::blends);
        let tool = index.tools.get(name).and_then(|id| self.trade.tool(*id)).map(Tool::blends);
        if motion.or(tool) != Some(false) {
            return;
        }
        let motions = self.trade.manners.iter().filter(|m| m.blends()).map(|m| m.name.replace('-', " "));
        let words = name.replace('-', " ");
        scope.say(
            Diagnostic::error(code::M017, place, format!("{words} takes no border in"))
                .why("A blend melts the longer side into the shorter, over the room that it has.")
                .help(format!(
                    "Blends are made by {}, or with a tool for it, such as thinners.",
                    motions.collect::<Vec<_>>().join(", ")
                )),
        );
    }

    /// What `over …` measures: a finger is as wide as the groomer's, a centimetre is one.
    fn wide(&self, number: &grammar::tree::Number, scope: &mut Scope<'_>) -> Option<Wide> {
        let length = number_of(number, Dimension::Length, self.sums().units, scope)?;
        let of = match number.unit {
            Unit::Finger => self.trade.fingers,
            Unit::Hand => self.trade.hands,
            _ => return Some(Wide::Length(Interval::point(Length(length)))),
        };
        let times = |one: Length| {
            let product = i128::from(one.0) * i128::from(number.num) / i128::from(number.den.max(1));
            i64::try_from(product).ok().map(Length)
        };
        Some(Wide::Length(Interval { low: times(of.low)?, high: times(of.high)? }))
    }

    pub(super) fn line(&mut self, stmt: &Stmt, line: &Line, around: &Around, scope: &mut Scope<'_>) {
        let (a, b, words) = match line {
            Line::Between { a, b } => (
                keeps::sites(a, self.trade, scope),
                keeps::sites(b, self.trade, scope),
                format!("between {} and {}", zone_words(a), zone_words(b)),
            ),
            Line::Landmarks { from, to } => (Sites::NONE, Sites::NONE, format!("from {} to {}", from.text, to.text)),
        };
        let place = scope.place(stmt.span);
        self.choices.lines.push(LineAsk { a, b, words, finding: around.finding, cond: around.cond.clone(), place });
    }

    pub(super) fn order(&mut self, stmt: &Stmt, order: &grammar::tree::Order, around: &Around, scope: &mut Scope<'_>) {
        let mut side = |refs: &[grammar::tree::ZoneRef]| {
            refs.iter().fold(Sites::NONE, |set, zone| {
                // Steps have an order of their own in the basics.
                if self.trade.index.steps.contains_key(&zone.name.text)
                    && !self.trade.index.places.contains_key(&zone.name.text)
                {
                    return set;
                }
                set | keeps::one(zone, self.trade, scope)
            })
        };
        let (first, then) = (side(&order.first), side(&order.then));
        let place = scope.place(stmt.span);
        if first.meets(then) {
            scope.say(
                Diagnostic::error(code::O001, place, "the same part can't come before itself")
                    .help("Take the part out of one side, with `except`, or by naming smaller parts."),
            );
        }
        self.choices.orders.push(OrderAsk { first, then, finding: around.finding, cond: around.cond.clone(), place });
    }
}
