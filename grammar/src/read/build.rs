//! From a rule's pairs to a statement of the tree.

use pest::iterators::{Pair, Pairs};
use thin_vec::{ThinVec, thin_vec};

use crate::line::span;
use crate::read::{Rd, Rule, first_word};
use crate::say;
use crate::tree::{Body, Cond, Prose, StmtKind};

impl Rd<'_, '_, '_> {
    /// Builds the statement that `rule` has read; takes the body it needs and leaves one it can't use.
    pub(crate) fn build(
        &mut self,
        rule: Rule,
        mut pairs: Pairs<Rule>,
        body: &mut Option<Body>,
        more: &mut ThinVec<StmtKind>,
    ) -> StmtKind {
        let Some(top) = pairs.next() else { return StmtKind::Broken };
        let inner = top.into_inner();
        match rule {
            Rule::work => StmtKind::Work(self.work(inner, 1)),
            Rule::work_two => StmtKind::Work(self.work(inner, 2)),
            Rule::short => {
                let work = self.short(inner);
                if work.clauses.is_empty() {
                    self.error(
                        "W011",
                        work.verb_span,
                        "this line says which part but not what becomes of it",
                        format!("add the shape, such as `{} round`", work.verb_span_text(self.line.src)),
                    );
                    return StmtKind::Broken;
                }
                StmtKind::Work(work)
            }
            Rule::blend => StmtKind::Blend(self.blend(inner)),
            Rule::line => StmtKind::Line(self.line_between(inner)),
            Rule::keep | Rule::cap => StmtKind::Keep(self.keep(inner, more)),
            Rule::edge => StmtKind::Keep(self.edge(inner)),
            Rule::override_ => StmtKind::Override(Box::new(self.override_line(inner))),
            Rule::order => StmtKind::Order(self.order(inner)),
            Rule::when => {
                let cond = self.only_cond(inner);
                if self.line.text.starts_with("serves") {
                    return StmtKind::Serves(cond);
                }
                StmtKind::When { cond, body: self.need(body) }
            }
            Rule::else_when => {
                let cond = self.only_cond(inner);
                StmtKind::Else { cond: Some(cond), body: self.need(body) }
            }
            Rule::bare if self.line.text.starts_with("else") => StmtKind::Else { cond: None, body: self.need(body) },
            Rule::bare => StmtKind::Prep(self.need(body)),
            Rule::guard => {
                let findings = inner.filter(|p| p.as_rule() == Rule::name).map(|p| self.word_of(&p)).collect();
                StmtKind::Guard { findings, body: self.need(body) }
            }
            Rule::lasts => match first(inner) {
                Some(p) => StmtKind::Lasts { time: Box::new(self.sum(p)), body: body.take() },
                None => StmtKind::Broken,
            },
            Rule::param | Rule::let_ => {
                let (mut name, mut value, mut within) = (None, None, None);
                for p in inner {
                    match p.as_rule() {
                        Rule::name => name = Some(self.word_of(&p)),
                        Rule::sum => value = Some(self.sum(p)),
                        Rule::range => within = Some(self.range(p)),
                        _ => {}
                    }
                }
                match (name, value) {
                    (Some(name), Some(value)) if rule == Rule::param => {
                        StmtKind::Param { name, value: Box::new(value), within: within.map(Box::new) }
                    }
                    (Some(name), Some(value)) => StmtKind::Let { name, value: Box::new(value) },
                    _ => StmtKind::Broken,
                }
            }
            Rule::extends => {
                let (mut base, mut from, mut version) = (None, None, None);
                for p in inner {
                    match p.as_rule() {
                        Rule::name => base = Some(self.word_of(&p)),
                        Rule::from_where => from = first(p.into_inner()).map(|p| Box::new(self.text(&p))),
                        Rule::number => version = Some(Box::new(self.number(&p))),
                        _ => {}
                    }
                }
                base.map_or(StmtKind::Broken, |base| StmtKind::Extends { base, from, version })
            }
            Rule::about => match first(inner) {
                Some(p) => {
                    let text = self.text(&p);
                    StmtKind::About(Prose { lines: thin_vec![text.text], span: text.span })
                }
                None => StmtKind::Broken,
            },
            Rule::card_coat => StmtKind::CardCoat(Box::new(self.card_coat(inner))),
            Rule::card_finding => StmtKind::CardFinding(Box::new(self.card_finding(inner))),
            Rule::card_mats => StmtKind::CardMats(Box::new(self.card_mats(inner))),
            Rule::wants => match first(inner) {
                Some(p) => StmtKind::Wants { recipe: self.word_of(&p), but: body.take() },
                None => StmtKind::Broken,
            },
            Rule::given => {
                let dog = first(inner).filter(|p| p.as_rule() == Rule::name).map(|p| self.word_of(&p));
                if dog.is_none() && body.is_none() {
                    self.error(
                        "W011",
                        self.line.whole(),
                        "this says `given`, but not which dog",
                        "write `given dog bramble`, or the card's lines in braces: `given { coat curl, 30 mm }`",
                    );
                }
                StmtKind::Given { dog, body: body.take() }
            }
            Rule::expect => StmtKind::Expect(self.expect(inner)),
            Rule::field => StmtKind::Field(self.field(inner)),
            _ => StmtKind::Broken,
        }
    }

    fn only_cond(&mut self, inner: Pairs<Rule>) -> Cond {
        inner.into_iter().find(|p| p.as_rule() == Rule::cond).map(|p| self.cond(p)).unwrap_or_default()
    }

    /// The body of a line that can't be without one.
    fn need(&mut self, body: &mut Option<Body>) -> Body {
        body.take().unwrap_or_else(|| {
            let at = self.line.whole();
            self.errors.push(say::braces_needed(first_word(&self.line.text), at));
            Body { span: span(at.end as usize, at.end as usize), ..Body::default() }
        })
    }
}

fn first<'i>(mut inner: Pairs<'i, Rule>) -> Option<Pair<'i, Rule>> {
    inner.find(|p| p.as_rule() != Rule::first)
}

impl crate::tree::Work {
    fn verb_span_text<'a>(&self, src: &'a str) -> &'a str {
        src.get(self.verb_span.start as usize..self.verb_span.end as usize).unwrap_or("feet")
    }
}
