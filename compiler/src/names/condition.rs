//! Conditions of `when`, `else`, `guard` and `serves`, with every name looked up.

use super::card::Dog;
use super::fields::{number_of, one_unit};
use super::nearest;
use super::scope::Scope;
use super::sites::Site;
use super::sums::Sums;
use super::trade::{CoatId, FindingId, Sex, Trade};
use crate::diagnostic::{Diagnostic, code};
use crate::measure::{Dimension, Quantity, quantity};
use crate::source::Place;
use grammar::tree::{self, CondKind, ExprKind, Word};
use serde::{Deserialize, Serialize};
use smol_str::SmolStr;

/// How bad a mat is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Grade {
    /// No mats.
    None,
    /// Combs out.
    Tangle,
    /// Splits by hand.
    Knot,
    /// A blade just fits under it.
    Tight,
    /// One felt sheet.
    Pelted,
}

impl Grade {
    /// The grade as people say it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::None => "no mats",
            Self::Tangle => "tangles",
            Self::Knot => "knots",
            Self::Tight => "tight mats",
            Self::Pelted => "pelt",
        }
    }

    /// Reads a grade.
    #[must_use]
    pub fn read(word: &str) -> Option<Self> {
        Some(match word {
            "none" | "no" => Self::None,
            "tangle" | "tangles" | "tangled" => Self::Tangle,
            "knot" | "knots" | "knotted" => Self::Knot,
            "tight" | "tight-mats" => Self::Tight,
            "pelt" | "pelted" | "pelts" => Self::Pelted,
            _ => return None,
        })
    }
}

/// An interval with ends that are in or out, or open.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Bounds {
    /// The lower end, and whether it is out itself.
    pub low: Option<(i64, bool)>,
    /// The upper end, and whether it is out itself.
    pub high: Option<(i64, bool)>,
}

impl Bounds {
    /// Whether a value lies in it.
    #[must_use]
    pub fn has(&self, value: i64) -> bool {
        self.low.is_none_or(|(low, out)| value > low || (!out && value == low))
            && self.high.is_none_or(|(high, out)| value < high || (!out && value == high))
    }

    /// Whether every value of `self` lies in `other`.
    #[must_use]
    pub fn within(&self, other: &Self) -> bool {
        let low = match (self.low, other.low) {
            (_, None) => true,
            (None, Some(_)) => false,
            (Some((a, a_out)), Some((b, b_out))) => a > b || (a == b && (a_out || !b_out)),
        };
        let high = match (self.high, other.high) {
            (_, None) => true,
            (None, Some(_)) => false,
            (Some((a, a_out)), Some((b, b_out))) => a < b || (a == b && (a_out || !b_out)),
        };
        low && high
    }

    /// Whether no value lies in both.
    #[must_use]
    pub fn apart(&self, other: &Self) -> bool {
        let before = |a: &Self, b: &Self| match (a.high, b.low) {
            (Some((high, high_out)), Some((low, low_out))) => high < low || (high == low && (high_out || low_out)),
            _ => false,
        };
        before(self, other) || before(other, self)
    }
}

/// A condition: all of its parts hold and none of `not`.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash)]
pub struct Cond {
    /// Any of these coats.
    pub coats: Option<Vec<CoatId>>,
    /// Any of these builds.
    pub builds: Option<Vec<SmolStr>>,
    /// This sex.
    pub sex: Option<Sex>,
    /// Weight in grams.
    pub weight: Bounds,
    /// Height in nanometres.
    pub height: Bounds,
    /// Age in seconds.
    pub age: Bounds,
    /// Mats no worse.
    pub mats: Option<Grade>,
    /// All of these findings.
    pub findings: Vec<FindingId>,
    /// None of these findings (only `serves`).
    pub without: Vec<FindingId>,
    /// None of these (`else`).
    pub not: Vec<Cond>,
}

/// The builds that a card may name.
pub const BUILDS: &[&str] = &["square", "long", "deep-chested", "short-faced"];

impl Cond {
    /// Whether it holds for the dog at a site (coats may differ by site). A measure that the card doesn't tell holds
    /// in no range.
    #[must_use]
    pub fn holds(&self, dog: &Dog, site: Site) -> bool {
        // Most statements ask nothing.
        if self.is_always() {
            return true;
        }
        self.coats.as_ref().is_none_or(|any| dog.coat_at(site).is_some_and(|c| any.contains(&c)))
            && self.builds.as_ref().is_none_or(|any| any.contains(dog.build_or_square()))
            && self.sex.is_none_or(|s| dog.sex == Some(s))
            && in_range(&self.weight, dog.weight.map(|w| w.0))
            && in_range(&self.height, dog.height.map(|h| h.0))
            && in_range(&self.age, dog.age.map(|a| a.0))
            && self.mats.is_none_or(|worst| dog.worst_mats() <= worst)
            && self.findings.iter().all(|f| dog.has(*f))
            && !self.without.iter().any(|f| dog.has(*f))
            && !self.not.iter().any(|c| c.holds(dog, site))
    }

    /// Whether it tells coats apart.
    #[must_use]
    pub fn asks_for_coats(&self) -> bool {
        self.coats.is_some() || self.not.iter().any(Self::asks_for_coats)
    }

    /// Whether it tells dogs apart by their findings.
    #[must_use]
    pub fn asks_for_findings(&self) -> bool {
        !self.findings.is_empty() || !self.without.is_empty() || self.not.iter().any(Self::asks_for_findings)
    }

    /// Whether it can be seen, from the two texts alone, that every dog that meets `self` meets `other`.
    #[must_use]
    pub fn implies(&self, other: &Self) -> bool {
        subset(&self.coats, &other.coats)
            && subset(&self.builds, &other.builds)
            && (other.sex.is_none() || other.sex == self.sex)
            && self.weight.within(&other.weight)
            && self.height.within(&other.height)
            && self.age.within(&other.age)
            && other.mats.is_none_or(|o| self.mats.is_some_and(|s| s <= o))
            && other.findings.iter().all(|f| self.findings.contains(f))
            && other.without.iter().all(|f| self.without.contains(f))
            && other.not.iter().all(|n| self.not.iter().any(|m| n.implies(m)) || self.excludes(n))
    }

    /// Whether it can be seen from the texts that no dog meets both.
    #[must_use]
    pub fn excludes(&self, other: &Self) -> bool {
        let apart = |a: &Option<Vec<CoatId>>, b: &Option<Vec<CoatId>>| matches!((a, b), (Some(a), Some(b)) if !a.iter().any(|c| b.contains(c)));
        apart(&self.coats, &other.coats)
            || matches!((&self.builds, &other.builds), (Some(a), Some(b)) if !a.iter().any(|c| b.contains(c)))
            || matches!((self.sex, other.sex), (Some(a), Some(b)) if a != b)
            || self.weight.apart(&other.weight)
            || self.height.apart(&other.height)
            || self.age.apart(&other.age)
            || self.not.iter().any(|n| other.implies(n))
            || other.not.iter().any(|n| self.implies(n))
    }

    /// Both at once. Ranges and lists are cut; an empty cut never holds.
    #[must_use]
    pub fn and(&self, other: &Self) -> Self {
        let mut both = self.clone();
        both.coats = cut(&self.coats, &other.coats);
        both.builds = cut(&self.builds, &other.builds);
        both.sex = self.sex.or(other.sex);
        if let (Some(a), Some(b)) = (self.sex, other.sex)
            && a != b
        {
            both.coats = Some(Vec::new());
        }
        both.weight = narrow(self.weight, other.weight);
        both.height = narrow(self.height, other.height);
        both.age = narrow(self.age, other.age);
        both.mats = match (self.mats, other.mats) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        };
        both.findings.extend(other.findings.iter().filter(|f| !self.findings.contains(f)));
        both.without.extend(other.without.iter().filter(|f| !self.without.contains(f)));
        both.not.extend(other.not.iter().cloned());
        both
    }

    /// Whether its own ranges leave no dog.
    #[must_use]
    pub fn is_impossible(&self) -> bool {
        let empty = |b: &Bounds| {
            matches!((b.low, b.high), (Some((low, low_out)), Some((high, high_out)))
                if low > high || low == high && (low_out || high_out))
        };
        empty(&self.weight) || empty(&self.height) || empty(&self.age)
    }

    /// The same, or it lets no coat or no build through: what several lines leave together.
    #[must_use]
    pub fn is_nobody(&self) -> bool {
        self.is_impossible()
            || self.coats.as_ref().is_some_and(Vec::is_empty)
            || self.builds.as_ref().is_some_and(Vec::is_empty)
    }

    /// The builds that it lets through: those that it names, or all.
    pub fn open_builds<'b>(&self) -> impl Iterator<Item = &'b str> {
        BUILDS.iter().copied().filter(|build| self.builds.as_ref().is_none_or(|any| any.iter().any(|b| b == build)))
    }

    /// Whether it asks nothing.
    #[must_use]
    pub fn is_always(&self) -> bool {
        self.coats.is_none()
            && self.sex.is_none()
            && self.builds.is_none()
            && self.mats.is_none()
            && self.findings.is_empty()
            && self.without.is_empty()
            && self.not.is_empty()
            && self.weight == Bounds::default()
            && self.height == Bounds::default()
            && self.age == Bounds::default()
    }
}

fn in_range(bounds: &Bounds, value: Option<i64>) -> bool {
    *bounds == Bounds::default() || value.is_some_and(|v| bounds.has(v))
}

fn subset<T: PartialEq>(a: &Option<Vec<T>>, b: &Option<Vec<T>>) -> bool {
    match (a, b) {
        (_, None) => true,
        (None, Some(_)) => false,
        (Some(a), Some(b)) => a.iter().all(|x| b.contains(x)),
    }
}

fn cut<T: PartialEq + Clone>(a: &Option<Vec<T>>, b: &Option<Vec<T>>) -> Option<Vec<T>> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a.iter().filter(|x| b.contains(x)).cloned().collect()),
        (a, b) => a.clone().or_else(|| b.clone()),
    }
}

fn narrow(a: Bounds, b: Bounds) -> Bounds {
    let low = match (a.low, b.low) {
        (Some(x), Some(y)) => Some(x.max(y)),
        (x, y) => x.or(y),
    };
    let high = match (a.high, b.high) {
        // At one value, the end that is out is the narrower.
        (Some(x), Some(y)) => Some(if (x.0, !x.1) <= (y.0, !y.1) { x } else { y }),
        (x, y) => x.or(y),
    };
    Bounds { low, high }
}

/// Reads a condition; what can't be understood is said and left out.
pub fn read(cond: &tree::Cond, serving: bool, sums: &Sums<'_>, scope: &mut Scope<'_>) -> Cond {
    let mut out = Cond::default();
    for item in &cond.items {
        let place = scope.place(item.span);
        match &item.kind {
            CondKind::OneOf { subject, any } => one_of(&mut out, subject, any, sums, scope),
            CondKind::Within { subject, range } => {
                let (slot, dimension) = match subject.text.as_str() {
                    "height" => (&mut out.height, Dimension::Length),
                    "age" => (&mut out.age, Dimension::Time),
                    _ => (&mut out.weight, Dimension::Weight),
                };
                if let Some(bounds) = bounds(range, dimension, sums, scope) {
                    *slot = narrow(*slot, bounds);
                }
            }
            CondKind::MatsUpTo(word) => match Grade::read(&word.text) {
                Some(grade) => out.mats = Some(grade),
                None => scope.say(
                    Diagnostic::error(code::M023, scope.place(word.span), format!("mats can't be `{}`", word.text))
                        .help("Write one of: tangles, knots, tight, pelted."),
                ),
            },
            CondKind::Finding(word) => {
                if let Some(id) = finding(word, sums.trade, scope) {
                    out.findings.push(id);
                }
            }
            CondKind::Without(_) if !serving => scope.say(
                Diagnostic::error(code::M024, place, "`without` belongs to `serves` only")
                    .why("Finishes are for the dog as it is; a finding may only make them gentler, never the want of one closer.")
                    .help("Write the finish for every dog, and the gentler one in `guard FINDING { … }`."),
            ),
            CondKind::Without(word) => {
                if let Some(id) = finding(word, sums.trade, scope) {
                    out.without.push(id);
                }
            }
        }
    }
    if out.is_impossible() {
        scope.say(
            Diagnostic::error(code::M010, scope.place(cond.span), "no dog meets this condition")
                .help("Look at its ranges: one ends before the other begins."),
        );
    }
    out
}

fn one_of(out: &mut Cond, subject: &Word, any: &[Word], sums: &Sums<'_>, scope: &mut Scope<'_>) {
    match subject.text.as_str() {
        "coat" => {
            let coats: Vec<CoatId> = any.iter().filter_map(|word| coat(word, sums.trade, scope)).collect();
            out.coats = cut(&out.coats, &Some(coats));
        }
        "build" => {
            for word in any {
                if BUILDS.contains(&word.text.as_str()) {
                    out.builds.get_or_insert_default().push(word.text.clone());
                } else {
                    unknown_word(word, "build", BUILDS, scope);
                }
            }
        }
        _ => {
            let mut sexes = Vec::new();
            for word in any {
                match word.text.as_str() {
                    "dog" | "dogs" | "male" => sexes.push(Sex::Dog),
                    "bitch" | "bitches" | "female" => sexes.push(Sex::Bitch),
                    _ => unknown_word(word, "sex", &["dog", "bitch"], scope),
                }
            }
            sexes.sort_unstable();
            sexes.dedup();
            // `dog or bitch` is every dog.
            if let [sex] = sexes.as_slice() {
                out.sex = Some(*sex);
            }
        }
    }
}

/// Says that a word isn't one of those that a line may have.
pub fn unknown_word(word: &Word, line: &str, allowed: &[&str], scope: &mut Scope<'_>) {
    let place = scope.place(word.span);
    let mut diagnostic = Diagnostic::error(code::M023, place, format!("`{line}` can't be `{}`", word.text))
        .help(format!("Write one of: {}.", allowed.join(", ")));
    if let Some(near) = nearest(&word.text, allowed.iter().copied()) {
        diagnostic = diagnostic.fix(format!("write `{near}`"), place, near);
    }
    scope.say(diagnostic);
}

/// A coat by name, or a message.
pub fn coat(word: &Word, trade: &Trade, scope: &mut Scope<'_>) -> Option<CoatId> {
    let found = trade.index.coats.get(&word.text).copied();
    if found.is_none() {
        let place = scope.place(word.span);
        let diagnostic = Diagnostic::error(code::M004, place, format!("no coat is called `{}`", word.text));
        let names: Vec<&str> = trade.coats.iter().map(|c| c.name.as_str()).collect();
        let names = names.join(", ");
        scope.say(match nearest(&word.text, trade.index.coats.keys().map(SmolStr::as_str)) {
            // What a dog is, somebody who has seen it must say: it is offered, and never written unasked.
            Some(near) => diagnostic.help(format!("Did you mean `{near}`? The coats are: {names}.")).suggest(
                format!("write `{near}`"),
                place,
                near,
            ),
            None => diagnostic.help(format!("The coats are: {names}.")),
        });
    }
    found
}

/// A finding by name, or a message.
pub fn finding(word: &Word, trade: &Trade, scope: &mut Scope<'_>) -> Option<FindingId> {
    let found = trade.index.findings.get(&word.text).copied();
    if found.is_none() {
        scope.say(unknown_finding(word, trade, scope.place(word.span)));
    }
    found
}

/// The message for a finding that nobody declared.
#[must_use]
pub fn unknown_finding(word: &Word, trade: &Trade, place: Place) -> Diagnostic {
    let diagnostic = Diagnostic::error(code::M003, place, format!("no finding is called `{}`", word.text));
    match nearest(&word.text, trade.index.findings.keys().map(SmolStr::as_str)) {
        // As of a coat.
        Some(near) => {
            diagnostic.help(format!("Did you mean `{near}`?")).suggest(format!("write `{near}`"), place, near)
        }
        None => diagnostic.help(
            "Findings are declared in the basics or by the house. On a card, `finding other \"in your words\" on ZONE` \
             keeps that place untouched.",
        ),
    }
}

/// The bounds of a range.
pub fn bounds(range: &tree::Range, dimension: Dimension, sums: &Sums<'_>, scope: &mut Scope<'_>) -> Option<Bounds> {
    let range = &one_unit(range);
    let low = match &range.low {
        Some(expr) => Some((sums.read(expr, dimension, scope)?, range.low_open)),
        None => None,
    };
    let high = match &range.high {
        Some(expr) => Some((sums.read(expr, dimension, scope)?, range.high_open)),
        None => None,
    };
    if let (Some((l, _)), Some((h, _))) = (low, high)
        && l > h
    {
        // Of two plain numbers the text itself was already told.
        let plain = |e: &Option<tree::Expr>| e.as_ref().is_some_and(|e| matches!(e.kind, ExprKind::Number(_)));
        if plain(&range.low) && plain(&range.high) {
            return None;
        }
        scope.say(
            Diagnostic::error(code::M010, scope.place(range.span), "this range runs backwards")
                .help("Write the smaller end first: `3 kg to 35 kg`."),
        );
        return None;
    }
    Some(Bounds { low, high })
}

/// A plain number, if the sum is one.
#[must_use]
pub fn plain(expr: &tree::Expr, sums: &Sums<'_>) -> Option<Quantity> {
    match &expr.kind {
        ExprKind::Number(number) => quantity(number, sums.units),
        _ => None,
    }
}

/// The value of a plain number of that dimension.
pub fn value(number: &tree::Number, dimension: Dimension, sums: &Sums<'_>, scope: &mut Scope<'_>) -> Option<i64> {
    number_of(number, dimension, sums.units, scope)
}
