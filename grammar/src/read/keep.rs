//! Keeps and conditions.

use pest::iterators::{Pair, Pairs};
use thin_vec::{ThinVec, thin_vec};

use crate::read::{Rd, Rule};
use crate::tree::{
    Bound, BoundKind, Cond, CondItem, CondKind, Expr, ExprKind, Floor, Gap, Keep, Override, Span, StmtKind, ToolRef,
    Word, Zones,
};

impl Rd<'_, '_, '_> {
    /// `keep …`: the keep, and more of them if zones follow a comma.
    pub(crate) fn keep(&mut self, pairs: Pairs<Rule>, more: &mut ThinVec<StmtKind>) -> Keep {
        let mut keeps: ThinVec<Keep> = ThinVec::new();
        let mut zones: Option<Zones> = None;
        for p in pairs {
            match p.as_rule() {
                Rule::zones => zones = Some(self.zones(p)),
                Rule::bound => {
                    let Some(bound) = self.bound(p) else { continue };
                    match (zones.take(), keeps.last_mut()) {
                        (None, Some(last)) => last.bounds.push(bound),
                        (z, _) => keeps.push(Keep { zones: z, bounds: thin_vec![bound], because: None }),
                    }
                }
                Rule::because => {
                    let text = p.into_inner().next().map(|t| Box::new(self.text(&t)));
                    for k in &mut keeps {
                        k.because.clone_from(&text);
                    }
                }
                _ => {}
            }
        }
        let mut keeps = keeps.into_iter();
        let first = keeps.next().unwrap_or(Keep { zones, bounds: ThinVec::new(), because: None });
        more.extend(keeps.map(StmtKind::Keep));
        first
    }

    /// `first feet`, `last head`.
    pub(crate) fn edge(&mut self, pairs: Pairs<Rule>) -> Keep {
        let last = self.line.text.starts_with("last");
        let at = self.line.span(0, if last { 4 } else { 5 });
        let zones = pairs.into_iter().find(|p| p.as_rule() == Rule::zones).map(|p| self.zones(p));
        let kind = if last { BoundKind::Last } else { BoundKind::First };
        Keep { zones, bounds: thin_vec![Bound { kind, span: at }], because: None }
    }

    /// `override ears never plucking by "head groomer" because "…"`.
    pub(crate) fn override_line(&mut self, pairs: Pairs<Rule>) -> Override {
        let mut keep = Keep { zones: None, bounds: ThinVec::new(), because: None };
        let mut by = None;
        for p in pairs {
            match p.as_rule() {
                Rule::zones => keep.zones = Some(self.zones(p)),
                Rule::bound => keep.bounds.extend(self.bound(p)),
                Rule::because => keep.because = p.into_inner().next().map(|t| Box::new(self.text(&t))),
                Rule::by_whom => by = p.into_inner().next().map(|t| self.text(&t)),
                _ => {}
            }
        }
        Override { keep, by }
    }

    fn bound(&mut self, p: Pair<Rule>) -> Option<Bound> {
        let span = self.span(&p);
        let p = p.into_inner().next()?;
        let rule = p.as_rule();
        let kind = match rule {
            Rule::no_closer => BoundKind::NoCloser(self.floor(p)?),
            Rule::no_shorter => BoundKind::NoShorter(self.sum(p.into_inner().next()?)),
            Rule::at_most => {
                let q = p.into_inner().next()?;
                match q.as_rule() {
                    Rule::passes => BoundKind::Passes(Self::passes(&q)),
                    Rule::stretch => BoundKind::AtStretch(self.number(&q.into_inner().next()?)),
                    Rule::in_all => BoundKind::InAll(self.number(&q.into_inner().next()?)),
                    _ => BoundKind::AtMost(self.sum(q)),
                }
            }
            Rule::gap => BoundKind::Gap(match p.into_inner().next()?.as_str() {
                "fine" => Gap::Fine,
                "medium" => Gap::Medium,
                "open" => Gap::Open,
                _ => Gap::Skip,
            }),
            Rule::untouched => BoundKind::Untouched,
            Rule::never | Rule::only => {
                let inner = p.into_inner();
                if let Some(way) = inner.peek().and_then(|q| Self::direction(q.as_rule())) {
                    BoundKind::Direction { way, never: true }
                } else {
                    let tools: ThinVec<ToolRef> = inner.map(|t| self.tool(t)).collect();
                    if rule == Rule::never { BoundKind::Never(tools) } else { BoundKind::Only(tools) }
                }
            }
            Rule::passes => BoundKind::Passes(Self::passes(&p)),
            Rule::is_last => BoundKind::Last,
            Rule::is_first => BoundKind::First,
            Rule::is_open => BoundKind::Open,
            Rule::refer => BoundKind::Refer,
            Rule::way => BoundKind::Manner(self.word_of(&p)),
            rule => BoundKind::Direction { way: Self::direction(rule)?, never: false },
        };
        let said = self.line.src.get(span.start as usize..span.end as usize).unwrap_or("");
        let span = Span::new(span.start, span.start + u32::try_from(said.trim_end().len()).unwrap_or(0));
        Some(Bound { kind, span })
    }

    fn floor(&mut self, p: Pair<Rule>) -> Option<Floor> {
        let q = p.into_inner().next()?;
        Some(match q.as_rule() {
            Rule::over_cause => {
                let n = self.number(&q.into_inner().next()?);
                Floor::OverCause(u32::try_from(n.num).unwrap_or(1))
            }
            Rule::blade => Floor::Blade(self.blade(&q)),
            _ => match self.sum(q) {
                Expr { kind: ExprKind::Blade(b), .. } => Floor::Blade(b),
                e => Floor::Length(e),
            },
        })
    }

    pub(crate) fn cond(&mut self, p: Pair<Rule>) -> Cond {
        let span = self.span(&p);
        let mut items = ThinVec::with_capacity(1);
        for q in p.into_inner() {
            let at = self.span(&q);
            let Some(kind) = self.cond_kind(q) else { continue };
            items.push(CondItem { kind, span: self.trimmed(at) });
        }
        Cond { items, span: self.trimmed(span) }
    }

    /// A span without the blanks at its end.
    pub(crate) fn trimmed(&self, at: Span) -> Span {
        let said = self.line.src.get(at.start as usize..at.end as usize).unwrap_or("");
        Span::new(at.start, at.start + u32::try_from(said.trim_end().len()).unwrap_or(0))
    }

    fn cond_kind(&mut self, q: Pair<Rule>) -> Option<CondKind> {
        let rule = q.as_rule();
        let mut inner = q.into_inner();
        let first = inner.next()?;
        Some(match rule {
            Rule::one_of => {
                let subject = self.word_of(&first);
                let any: ThinVec<Word> = inner.map(|w| self.word_of(&w)).collect();
                CondKind::OneOf { subject, any }
            }
            Rule::within => {
                let subject = self.word_of(&first);
                CondKind::Within { subject, range: Box::new(self.range(inner.next()?)) }
            }
            Rule::mats_up_to => CondKind::MatsUpTo(self.word_of(&first)),
            Rule::without => CondKind::Without(self.word_of(&first)),
            _ => CondKind::Finding(self.word_of(&first)),
        })
    }
}
