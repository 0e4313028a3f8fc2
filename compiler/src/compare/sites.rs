//! What is done at each site, before and now.

use super::both::{Both, Side, needs};
use super::kits::{Kits, same_kit};
use super::{Change, Rank};
use crate::choices::{Choice, KeepEntry};
use crate::finish::{Finish, Outcome, Situation, Stroke, bears, finish_site, keeps_of, stroke_words};
use crate::measure::Length;
use crate::names::card::Dog;
use crate::names::condition::Cond;
use crate::names::sites::{Site, Sites};
use crate::names::trade::{Direction, FindingId, Gap, Trade};
use crate::names::zone_words::zone_words;
use crate::prove::cells::Cells;
use crate::prove::domain::fact;
use crate::prove::found::{Point, Rank as Simple};
use crate::prove::likenesses;
use crate::source::Place;
use std::cmp::Reverse;
use std::collections::BTreeMap;

/// How near an edge comes that comes nowhere near, or that nobody measured.
const FAR: i64 = i64::MAX / 2;

/// A difference at one site, on the dog for which it is largest.
struct Here {
    rank: Rank,
    statements: (Option<Place>, Option<Place>),
    size: i64,
    simple: Simple,
    point: Point,
    words: (String, String),
    /// On how many dogs without findings it is so, and how many were tried.
    plain: (usize, usize),
}

impl Here {
    /// Whether it is so on every dog without findings.
    const fn on_all(&self) -> bool {
        self.plain.0 > 0 && self.plain.0 == self.plain.1
    }
}

/// A difference at one or more sites.
struct There {
    sites: Sites,
    here: Here,
}

/// What is done otherwise, a line for all sites where it is the same.
pub(super) fn changes(both: &Both<'_>, kits: &Kits, out: &mut Vec<Change>) {
    let mut all: Vec<There> = Vec::new();
    for sites in alike(both) {
        let Some(first) = sites.iter().next() else { continue };
        for here in at(both, kits, first) {
            let same = |t: &&mut There| {
                t.here.rank == here.rank && t.here.words == here.words && t.here.on_all() == here.on_all()
            };
            match all.iter_mut().find(same) {
                Some(known) => {
                    known.sites = known.sites | sites;
                    if (Reverse(here.size), here.simple) < (Reverse(known.here.size), known.here.simple) {
                        known.here = here;
                    }
                }
                None => all.push(There { sites, here }),
            }
        }
    }
    for There { sites, here } in all {
        let sites = both.whole(sites);
        let what = zone_words(both.new.trade, sites);
        let change = both.change(here.rank, what, here.words.clone(), here.on_all(), &here.point, (here.size, sites));
        out.push(Change { is_work: true, ..change });
    }
}

/// Sites of which either text, the basics and the skin say just the same, together: what holds on one of them holds on all.
fn alike(both: &Both<'_>) -> Vec<Sites> {
    let of = |side: Side<'_>| likenesses(side.choices, side.trade).into_iter().collect::<BTreeMap<_, _>>();
    let (old, new) = (of(both.old), of(both.new));
    let mut groups: BTreeMap<[Option<&Vec<usize>>; 2], Sites> = BTreeMap::new();
    for site in both.sites() {
        let group = groups.entry([old.get(&site), new.get(&site)]).or_default();
        *group = *group | Sites::one(site);
    }
    let mut all: Vec<Sites> = groups.into_values().collect();
    all.sort_by_key(|sites| sites.iter().next());
    all
}

/// The differences at a site.
fn at(both: &Both<'_>, kits: &Kits, site: Site) -> Vec<Here> {
    let (old, new) = (both.old, both.new);
    let idle = || same_kit(old.choices, new.choices) || !kits.matter(both, site);
    if both.same_trade && reads_alike(both, site) && idle() {
        return Vec::new();
    }
    let Laid { sets, asked, classes, by_coat } = laid(both, site);
    let mut found: Vec<Here> = Vec::new();
    let mut plain = 0;
    for set in &sets {
        for tried in both.dogs(site, set, &asked, &classes, by_coat) {
            let (before, now) = (done(old, &tried.dog, site), done(new, &tried.dog, site));
            let judged = judge(before.as_ref(), now.as_ref(), both, site);
            plain += usize::from(set.is_empty());
            let Some((rank, size)) = judged else { continue };
            let statements = (before.as_ref().map(|f| f.statement), now.as_ref().map(|f| f.statement));
            let simple = tried.point.rank(&both.domain);
            let known = found.iter_mut().find(|h| h.rank == rank && h.statements == statements);
            let count = usize::from(set.is_empty());
            let dogs = known.as_ref().map_or(0, |k| k.plain.0) + count;
            if let Some(known) = known {
                known.plain.0 = dogs;
                if (Reverse(known.size), known.simple) <= (Reverse(size), simple) {
                    continue;
                }
                let words = both_words(before.as_ref(), now.as_ref(), both);
                *known = Here { rank, statements, size, simple, point: tried.point, words, plain: (dogs, 0) };
            } else {
                let words = both_words(before.as_ref(), now.as_ref(), both);
                found.push(Here { rank, statements, size, simple, point: tried.point, words, plain: (dogs, 0) });
            }
        }
    }
    found.iter_mut().for_each(|h| h.plain.1 = plain);
    found
}

/// Which dogs are tried at a site.
struct Laid {
    /// Findings that a dog has together.
    sets: Vec<Vec<FindingId>>,
    /// Findings that some condition asks for.
    asked: Vec<FindingId>,
    /// Cells that no condition tells apart.
    classes: Vec<Cells>,
    by_coat: bool,
}

fn laid(both: &Both<'_>, site: Site) -> Laid {
    let (old, new) = (both.old, both.new);
    let statements = |side: Side<'_>| side.choices.at(site).map(|c| needs((c.finding, &c.cond))).collect::<Vec<_>>();
    let keeps = |side: Side<'_>| {
        side.choices.keeps_at(site).map(|k| needs((k.finding, &k.cond))).filter(|n| !n.is_empty()).collect::<Vec<_>>()
    };
    let mut more = [keeps(old), keeps(new)].concat();
    if !(both.same_trade && same_kit(old.choices, new.choices)) {
        more.extend(
            (0_u16..).take(both.common.findings).map(FindingId).filter(|f| matters(both, *f, site)).map(|f| vec![f]),
        );
    }
    let sets = both.sets(statements(old).into_iter(), statements(new).into_iter(), more.into_iter());
    let conds = |side: Side<'_>| {
        let choices = side.choices;
        let of_keeps = choices.keeps_at(site).map(|k| k.cond.clone());
        choices.at(site).map(|c| c.cond.clone()).chain(of_keeps).collect::<Vec<Cond>>()
    };
    let conds = [conds(old), conds(new)].concat();
    let by_coat = conds.iter().any(Cond::asks_for_coats);
    let asked: Vec<FindingId> = conds.iter().flat_map(|c| needs((None, c))).collect();
    let classes = both.classes(site, conds.iter());
    Laid { sets, asked, classes, by_coat }
}

/// Whether on some dog something else is done at a site.
pub(super) fn differs(both: &Both<'_>, site: Site) -> bool {
    let Laid { sets, asked, classes, by_coat } = laid(both, site);
    let differs = |dog: &Dog| {
        let (before, now) = (done(both.old, dog, site), done(both.new, dog, site));
        judge(before.as_ref(), now.as_ref(), both, site).is_some()
    };
    sets.iter().any(|set| both.dogs(site, set, &asked, &classes, by_coat).any(|tried| differs(&tried.dog)))
}

/// Both finishes in words that tell them apart.
fn both_words(before: Option<&Finish>, now: Option<&Finish>, both: &Both<'_>) -> (String, String) {
    let (old, new) = (words(before, both.old.trade), words(now, both.new.trade));
    if old == new { (edge(&old, before), edge(&new, now)) } else { (old, new) }
}

/// Whether both texts say the same of a site, word by word.
fn reads_alike(both: &Both<'_>, site: Site) -> bool {
    let (old, new) = (both.old.choices, both.new.choices);
    old.at(site).count() == new.at(site).count()
        && old.keeps_at(site).count() == new.keeps_at(site).count()
        && old.at(site).zip(new.at(site)).all(|(a, b)| same_choice(a, b))
        && old.keeps_at(site).zip(new.keeps_at(site)).all(|(a, b)| same_keep(a, b))
}

pub(super) fn same_choice(a: &Choice, b: &Choice) -> bool {
    let ask = |c: &Choice| (c.ask.verb, c.ask.to, c.ask.tool, c.ask.direction, c.ask.passes);
    (a.pass, a.kind, a.finding, a.level, a.sites, a.throughout)
        == (b.pass, b.kind, b.finding, b.level, b.sites, b.throughout)
        && a.cond == b.cond
        && ask(a) == ask(b)
        && a.ask.manners == b.ask.manners
}

/// Whether two keeps ask for the same of the same dogs.
pub(super) fn same_keep(a: &KeepEntry, b: &KeepEntry) -> bool {
    (a.finding, a.until_next, a.line.sex) == (b.finding, b.until_next, b.line.sex)
        && a.cond == b.cond
        && a.line.bound == b.line.bound
}

/// Whether a finding by itself asks for anything at a site.
fn matters(both: &Both<'_>, finding: FindingId, site: Site) -> bool {
    [both.old, both.new].iter().any(|side| {
        let Some(declared) = side.trade.finding(finding) else { return false };
        let fact = fact(finding, Sites::one(site), declared.place);
        keeps_of(&fact, side.trade, site).next().is_some()
    })
}

/// What is done to a dog at a site.
fn done(side: Side<'_>, dog: &Dog, site: Site) -> Option<Finish> {
    let situation = Situation::of(side.choices, side.trade, dog, site);
    finish_site(&situation, side.choices, side.trade, dog, &mut Vec::new())
}

/// What kind of difference lies between two finishes, and how large it is.
fn judge(old: Option<&Finish>, new: Option<&Finish>, both: &Both<'_>, site: Site) -> Option<(Rank, i64)> {
    let (old, new) = match (old, new) {
        (None, None) => return None,
        (Some(old), Some(new)) => (old, new),
        // What nobody mentions is forgotten on the table.
        _ => return Some((Rank::Other, 0)),
    };
    if is_same(old, new, both) {
        return None;
    }
    let hung = both.old.choices.at(site).any(|c| c.place == old.statement && c.hangs_on_findings());
    let worse = |rank: Rank, size: i64| Some((if hung { Rank::Looser } else { rank }, size));
    match (old.outcome == Outcome::Referred, new.outcome == Outcome::Referred) {
        (true, false) => return Some((Rank::Looser, FAR)),
        (false, true) => return Some((Rank::Gentler, FAR)),
        _ => {}
    }
    let (near, nearer) = (nearest(old), nearest(new));
    if nearer < near {
        return worse(Rank::Closer, near - nearer);
    }
    let (gap, wider) = (widest(old), widest(new));
    // Longer blades have wider teeth; that matters where the skin doesn't bear them.
    if wider > gap && gap.is_some() && wider > Some(bears(both.new.trade, site)) {
        return worse(Rank::WiderTeeth, 0);
    }
    let (low, lower) = (least(old), least(new));
    if lower < low {
        return worse(Rank::Shorter, low - lower);
    }
    let (rough, rougher) = (roughness(old), roughness(new));
    if rougher > rough && old.fine.tool.is_some() {
        return worse(Rank::Rougher, 0);
    }
    if lower > low {
        return Some((Rank::Longer, lower - low));
    }
    if nearer > near || wider < gap || rougher < rough {
        return Some((Rank::Gentler, nearer - near));
    }
    Some((Rank::Other, 0))
}

fn is_same(old: &Finish, new: &Finish, both: &Both<'_>) -> bool {
    let referred = |f: &Finish| f.outcome == Outcome::Referred;
    referred(old) == referred(new)
        && same_stroke(&old.fine, &new.fine, both)
        && match (&old.rough, &new.rough) {
            (None, None) => true,
            (Some(a), Some(b)) => same_stroke(a, b, both),
            _ => false,
        }
}

fn same_stroke(a: &Stroke, b: &Stroke, both: &Both<'_>) -> bool {
    let tool =
        |id: Option<crate::names::trade::ToolId>, trade: &Trade| id.and_then(|t| trade.tool(t)).map(|t| t.name.clone());
    let (old, new) = (both.old.trade, both.new.trade);
    let tools = if both.same_trade {
        (a.tool, a.over) == (b.tool, b.over)
    } else {
        tool(a.tool, old) == tool(b.tool, new) && tool(a.over, old) == tool(b.over, new)
    };
    let manners = |s: &Stroke| {
        let mut all = s.manners.clone();
        all.sort();
        all
    };
    let plain = |s: &Stroke| (s.verb, s.direction, s.passes, s.leaves, s.closeness, s.gap);
    tools && plain(a) == plain(b) && (a.manners == b.manners || manners(a) == manners(b))
}

fn strokes(finish: &Finish) -> impl Iterator<Item = &Stroke> {
    finish.rough.iter().chain([&finish.fine])
}

/// How near the skin the nearest of its passes runs.
fn nearest(finish: &Finish) -> i64 {
    if finish.fine.tool.is_none() {
        return FAR;
    }
    // A knife or a hand has no edge to speak of, but it does work.
    strokes(finish).filter_map(|s| s.closeness).map(|c| c.0).min().unwrap_or(FAR - 1)
}

fn widest(finish: &Finish) -> Option<Gap> {
    strokes(finish).filter_map(|s| s.gap).max()
}

/// The shortest that stays.
fn least(finish: &Finish) -> i64 {
    if finish.fine.tool.is_none() {
        return FAR;
    }
    finish.fine.leaves.map_or(FAR - 1, |l| l.low.0)
}

/// How hard it is on the skin beside closeness and teeth: against the coat, and how often.
fn roughness(finish: &Finish) -> (u8, u32) {
    let way = |s: &Stroke| match s.direction {
        None | Some(Direction::With) => 0,
        Some(Direction::Across) => 1,
        Some(Direction::Reverse) => 2,
    };
    (strokes(finish).map(way).max().unwrap_or(0), strokes(finish).map(|s| s.passes).max().unwrap_or(0))
}

/// A finish in words.
fn words(finish: Option<&Finish>, trade: &Trade) -> String {
    let Some(finish) = finish else { return "nothing is said of it".to_owned() };
    if finish.outcome == Outcome::Referred {
        return "left for a vet".to_owned();
    }
    if finish.fine.tool.is_none() {
        return "left".to_owned();
    }
    let one = |stroke: &Stroke| {
        let mut words = stroke_words(stroke, trade);
        if let Some(blade) = stroke.over.and_then(|t| trade.tool(t)) {
            words = format!("{words} over {}", blade.name);
        }
        match stroke.passes {
            0 | 1 => {}
            2 => words.push_str(", two passes"),
            n => words.push_str(&format!(", {n} passes")),
        }
        for (manner, place) in &stroke.manners {
            words.push_str(&format!(", {}", manner.replace('-', " ")));
            if let Some(place) = place {
                words.push_str(&format!(" at {}", place.replace('-', " ")));
            }
        }
        let says = words.contains(" to ");
        match stroke.leaves {
            Some(leaves) if !says || leaves.low != leaves.high => format!("{words}, leaves {leaves}"),
            _ => words,
        }
    };
    match &finish.rough {
        Some(rough) => format!("{}; then {}", one(rough), one(&finish.fine)),
        None => one(&finish.fine),
    }
}

/// The same with what words don't tell apart.
fn edge(words: &str, finish: Option<&Finish>) -> String {
    let near = finish.map_or(FAR, nearest);
    let gap = finish.and_then(widest).map(|g| format!(", {} teeth", g.as_str())).unwrap_or_default();
    if near >= FAR - 1 {
        format!("{words}{gap}")
    } else {
        format!("{words}, the edge {} from the skin{gap}", Length(near))
    }
}
