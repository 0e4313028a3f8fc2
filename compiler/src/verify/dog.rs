//! The dog on the card, as far as keeps and their conditions ask.

use grammar::tree::{CardFinding, Span, Stmt, StmtKind, ToolRef, Unit, ValueKind};
use smol_str::SmolStr;

use super::Case;
use super::exact::{Exact, Of};
use super::trade::{Finding, On, Places, Trade, fields, joined, mirrored};
use std::cmp::Ordering;

/// A finding on the card.
pub(super) struct Found<'t> {
    /// Its own name, as the trade has it.
    pub(super) name: SmolStr,
    /// Which finding of the trade; none is `other` or unknown.
    pub(super) decl: Option<usize>,
    /// `other "…"`: what has no name.
    pub(super) other: bool,
    /// Its words.
    pub(super) text: Option<String>,
    /// Where.
    pub(super) places: Places,
    /// Where its floors bind: on both sides of a pair, unless it is one-sided.
    pub(super) floors: Places,
    /// `after #10`.
    pub(super) cause: Option<&'t ToolRef>,
    /// Its line.
    pub(super) span: Span,
}

/// The worst mats.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Mats {
    /// By grade: 0 is none.
    Grade(usize),
    /// A grade that has no known rank.
    Unknown,
}

/// The card.
pub(super) struct Dog<'t> {
    /// The coat of each leaf, left and right.
    pub(super) coats: Vec<[Option<SmolStr>; 2]>,
    /// `dog`, `neutered`.
    pub(super) sex: Vec<SmolStr>,
    /// `square` if not told.
    pub(super) build: Vec<SmolStr>,
    pub(super) weight: Option<Exact>,
    pub(super) height: Option<Exact>,
    pub(super) age: Option<Exact>,
    pub(super) mats: Mats,
    pub(super) found: Vec<Found<'t>>,
}

/// The rank of a grade of mats.
pub(super) fn grade(word: &str) -> Option<usize> {
    match word {
        "none" | "no" => Some(0),
        "tangle" | "tangles" | "tangled" => Some(1),
        "knot" | "knots" | "knotted" => Some(2),
        "tight" | "tight-mats" => Some(3),
        "pelted" | "pelt" | "pelts" => Some(4),
        _ => None,
    }
}

fn words(card: &[Stmt], name: &str) -> Vec<SmolStr> {
    fields(card, name)
        .flat_map(|f| &f.values)
        .filter_map(|v| match &v.kind {
            ValueKind::Words(w) => Some(joined(w)),
            _ => None,
        })
        .collect()
}

fn measure(card: &[Stmt], name: &str, of: Of) -> Option<Exact> {
    fields(card, name).flat_map(|f| &f.values).find_map(|v| match &v.kind {
        ValueKind::Number(n) => Exact::number(n, Unit::None).filter(|x| x.of == of),
        _ => None,
    })
}

impl<'t> Dog<'t> {
    pub(super) fn read(case: &Case<'t>, trade: &Trade<'t>) -> Self {
        let (_, _, card) = case.card;
        let mut dog = Dog {
            coats: vec![[None, None]; trade.leaves.len()],
            sex: words(card, "sex").iter().map(|w| sex(w)).collect(),
            build: words(card, "build"),
            weight: measure(card, "weight", Of::Weight),
            height: measure(card, "height", Of::Length),
            age: case.days_old.map(|d| Exact::whole(d, Of::Time)).or_else(|| measure(card, "age", Of::Time)),
            mats: Mats::Grade(0),
            found: Vec::new(),
        };
        if dog.build.is_empty() {
            dog.build.push("square".into());
        }
        // The whole dog's coat first, so that a line for a part overrides it wherever it stands.
        for part in [false, true] {
            for s in card {
                if let StmtKind::CardCoat(c) = &s.kind
                    && c.zones.is_some() == part
                {
                    let places = c.zones.as_ref().map_or_else(|| trade.everywhere(), |z| trade.zones(z));
                    let coat = trade.coat(&c.coat.text);
                    for ([left, right], p) in dog.coats.iter_mut().zip(&places) {
                        if p & 1 != 0 {
                            *left = Some(coat.clone());
                        }
                        if p & 2 != 0 {
                            *right = Some(coat.clone());
                        }
                    }
                }
            }
        }
        for s in card {
            match &s.kind {
                StmtKind::CardMats(m) => {
                    dog.mats = match (dog.mats, grade(&m.grade.text)) {
                        (Mats::Grade(a), Some(b)) => Mats::Grade(a.max(b)),
                        _ => Mats::Unknown,
                    };
                }
                StmtKind::CardFinding(f) => dog.found.push(found(f, s.span, trade)),
                _ => {}
            }
        }
        let due = due(card, &dog, trade);
        dog.found.extend(due);
        dog
    }

    /// Whether the card says that the dog is of the other sex.
    pub(super) fn is_other_sex(&self, sex: &str) -> bool {
        let not = match self::sex(sex).as_str() {
            "dog" => "bitch",
            "bitch" => "dog",
            _ => return false,
        };
        self.sex.iter().any(|s| s == not)
    }
}

/// A sex by its usual word; other words of the line as they are.
pub(super) fn sex(word: &str) -> SmolStr {
    match word {
        "dog" | "dogs" | "male" => "dog".into(),
        "bitch" | "bitches" | "female" => "bitch".into(),
        other => other.into(),
    }
}

/// Takes in the whole of a part on each side on which a place touches it.
fn widen(places: &mut Places, part: &Places) {
    let sides = places.iter().zip(part).fold(0, |sides, (place, part)| sides | (place & part));
    for (place, part) in places.iter_mut().zip(part) {
        *place |= part & sides;
    }
}

/// The findings that a dog has by its age, or by its mats where those are, whether or not a line says so.
fn due<'t>(card: &[Stmt], dog: &Dog<'t>, trade: &Trade<'t>) -> Vec<Found<'t>> {
    let limit = |known: &Finding<'_>, line: &str| {
        let value = fields(known.body, line).flat_map(|f| &f.values).next()?;
        match &value.kind {
            ValueKind::Number(n) => Exact::number(n, Unit::None),
            _ => None,
        }
    };
    let by_age = |known: &Finding<'_>| {
        let lines = [("younger-than", Ordering::Less), ("older-than", Ordering::Greater)];
        let mut limits = lines.into_iter().filter_map(|(line, way)| Some((limit(known, line)?, way))).peekable();
        limits.peek().is_some() && limits.all(|(limit, way)| dog.age.is_some_and(|days| days.cmp(limit) == Some(way)))
    };
    // A mat of no known grade counts as the worst.
    let by_mats = |known: &Finding<'_>| {
        let least = words(known.body, "from-mats").first().and_then(|w| grade(w))?;
        let On::Zones(on) = &known.on else { return None };
        let mut places = vec![0; on.len()];
        for mat in card.iter().filter_map(|s| if let StmtKind::CardMats(m) = &s.kind { Some(m) } else { None }) {
            if grade(&mat.grade.text).is_none_or(|g| g >= least) {
                for ((place, mat), on) in places.iter_mut().zip(trade.zones(&mat.zones)).zip(on) {
                    *place |= mat & on;
                }
            }
        }
        places.iter().any(|p| *p != 0).then_some(places)
    };
    let told = |i: usize| dog.found.iter().any(|f| f.decl == Some(i));
    let all = trade.findings.iter().enumerate().filter(|(i, _)| !told(*i));
    let due = all.filter_map(|(i, known)| {
        let places = if by_age(known) { trade.everywhere() } else { by_mats(known)? };
        let floors = if known.one_side { places.clone() } else { mirrored(&places) };
        let name = known.name.clone();
        Some(Found {
            name,
            decl: Some(i),
            other: false,
            text: None,
            places,
            floors,
            cause: None,
            span: Span::default(),
        })
    });
    due.collect()
}

fn found<'t>(f: &'t CardFinding, span: Span, trade: &Trade<'t>) -> Found<'t> {
    let other = f.other.is_some() || f.name.text == "other";
    let decl = if other { None } else { trade.finding(&f.name.text) };
    let known = decl.and_then(|i| trade.findings.get(i));
    // A place that nobody can find is the whole dog rather than nowhere.
    let told = f.zones.as_ref().map(|z| trade.zones(z)).filter(|p| p.iter().any(|m| *m != 0));
    let mut places = told.unwrap_or_else(|| match known.map(|k| &k.on) {
        Some(On::Zones(z)) => z.clone(),
        _ => trade.everywhere(),
    });
    if let Some(known) = known {
        widen(&mut places, &trade.listed(&fields(known.body, "widens").collect::<Vec<_>>()));
    }
    let floors = if known.is_some_and(|k| k.one_side) { places.clone() } else { mirrored(&places) };
    Found {
        name: known.map_or_else(|| f.name.text.clone(), |k| k.name.clone()),
        decl,
        other,
        text: f.other.as_ref().map(|t| t.text.clone()),
        places,
        floors,
        cause: f.after.as_ref(),
        span,
    }
}
