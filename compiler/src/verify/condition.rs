//! Whether a condition holds for the dog at a place. What the card doesn't tell is neither yes nor no, and then the keeps
//! of both branches bind.

use std::cmp::Ordering;

use grammar::tree::{Cond, CondItem, CondKind, Range};
use smol_str::SmolStr;

use super::dog::{Dog, Mats, grade, sex};
use super::exact::{Exact, Scope};
use super::trade::Trade;

/// An answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Holds {
    Yes,
    No,
    Untold,
}

/// A condition on the way to a keep.
#[derive(Clone, Copy)]
pub(super) struct Step<'t> {
    pub(super) cond: &'t Cond,
    /// True in an `else` branch of it.
    pub(super) not: bool,
    /// In which part of the chain it stands.
    pub(super) entry: Option<usize>,
}

/// The desk at which conditions are read.
#[derive(Clone, Copy)]
pub(super) struct Reader<'a, 't> {
    pub(super) trade: &'a Trade<'t>,
    pub(super) scope: &'a Scope<'a, 't>,
    pub(super) dog: &'a Dog<'t>,
}

impl Reader<'_, '_> {
    /// Whether a keep behind these conditions binds at a leaf's sides.
    pub(super) fn binds(&self, steps: &[Step<'_>], leaf: usize, sides: u8) -> bool {
        steps.iter().all(|s| {
            let refuted = if s.not { Holds::Yes } else { Holds::No };
            self.cond(s.cond, s.entry, leaf, sides) != refuted
        })
    }

    fn cond(&self, c: &Cond, entry: Option<usize>, leaf: usize, sides: u8) -> Holds {
        let mut all = Holds::Yes;
        for item in &c.items {
            match self.item(item, entry, leaf, sides) {
                Holds::Yes => {}
                Holds::No => return Holds::No,
                Holds::Untold => all = Holds::Untold,
            }
        }
        all
    }

    fn item(&self, item: &CondItem, entry: Option<usize>, leaf: usize, sides: u8) -> Holds {
        match &item.kind {
            CondKind::OneOf { subject, any } => {
                let any: Vec<&SmolStr> = any.iter().map(|w| &w.text).collect();
                match subject.text.as_str() {
                    "coat" => self.coat(&any, leaf, sides),
                    "build" => one_of(&self.dog.build, &any),
                    "sex" => {
                        let any: Vec<SmolStr> = any.iter().map(|w| sex(w)).collect();
                        one_of(&self.dog.sex, &any.iter().collect::<Vec<_>>())
                    }
                    _ => Holds::Untold,
                }
            }
            CondKind::Within { subject, range } => {
                let value = match subject.text.as_str() {
                    "weight" => self.dog.weight,
                    "height" => self.dog.height,
                    "age" => self.dog.age,
                    _ => None,
                };
                value.map_or(Holds::Untold, |v| self.within(v, range, entry))
            }
            CondKind::MatsUpTo(w) => match (self.dog.mats, grade(&w.text)) {
                (Mats::Grade(a), Some(b)) => told(a <= b),
                _ => Holds::Untold,
            },
            CondKind::Finding(w) => told(self.has(&w.text)),
            CondKind::Without(w) => told(!self.has(&w.text)),
        }
    }

    fn has(&self, name: &SmolStr) -> bool {
        let decl = self.trade.finding(name);
        self.dog.found.iter().any(|f| if decl.is_some() { f.decl == decl } else { f.name == *name })
    }

    fn coat(&self, any: &[&SmolStr], leaf: usize, sides: u8) -> Holds {
        let Some([left, right]) = self.dog.coats.get(leaf) else { return Holds::Untold };
        let any: Vec<SmolStr> = any.iter().map(|c| self.trade.coat(c)).collect();
        let mut out = None;
        for (bit, coat) in [(1, left), (2, right)] {
            if sides & bit == 0 {
                continue;
            }
            let here = coat.as_ref().map_or(Holds::Untold, |c| told(any.contains(c)));
            out = Some(match out {
                None => here,
                Some(before) if before == here => here,
                Some(_) => Holds::Untold,
            });
        }
        out.unwrap_or(Holds::Untold)
    }

    fn within(&self, v: Exact, r: &Range, entry: Option<usize>) -> Holds {
        let (low, high) = self.scope.ends(r, entry);
        let end = |end: Option<Option<Exact>>, open: bool, out: Ordering| match end {
            None => Holds::Yes,
            Some(None) => Holds::Untold,
            Some(Some(e)) => match v.cmp(e) {
                None => Holds::Untold,
                Some(Ordering::Equal) => told(!open),
                Some(o) => told(o != out),
            },
        };
        match (end(low, r.low_open, Ordering::Less), end(high, r.high_open, Ordering::Greater)) {
            (Holds::No, _) | (_, Holds::No) => Holds::No,
            (Holds::Yes, Holds::Yes) => Holds::Yes,
            _ => Holds::Untold,
        }
    }
}

const fn told(yes: bool) -> Holds {
    if yes { Holds::Yes } else { Holds::No }
}

fn one_of(has: &[SmolStr], any: &[&SmolStr]) -> Holds {
    if has.is_empty() { Holds::Untold } else { told(any.iter().any(|a| has.contains(a))) }
}
