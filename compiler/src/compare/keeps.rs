//! Keeps: whether each still binds the dogs that it bound.

use super::both::{Both, Side, needs};
use super::sites::same_keep;
use super::{Change, Rank};
use crate::choices::KeepEntry;
use crate::finish::{active_keeps, binds};
use crate::names::condition::Cond;
use crate::names::sites::{Site, Sites};
use crate::names::trade::{Ban, Bound, FindingId, KeepOn, Trade};
use crate::names::zone_words::zone_words;
use crate::prove::found::{Point, Rank as Simple};

/// A keep that no longer holds somewhere.
struct Lost {
    sites: Sites,
    simple: Simple,
    point: Point,
    /// What binds there now of the same kind.
    instead: Option<Bound>,
    /// Whether every dog that is served shows it.
    on_all: bool,
}

/// Keeps that ask for less now, and those that ask for more.
pub(super) fn changes(both: &Both<'_>, out: &mut Vec<Change>) {
    one_way(both, both.old, both.new, false, out);
    one_way(both, both.new, both.old, true, out);
}

fn one_way(both: &Both<'_>, from: Side<'_>, to: Side<'_>, tighter: bool, out: &mut Vec<Change>) {
    for (number, keep) in from.choices.keeps.iter().enumerate() {
        let Some(lost) = lost(both, from, to, keep, number) else { continue };
        let sites = both.whole(lost.sites);
        let all = both.new.trade.all_sites() == sites || matches!(keep.line.on, KeepOn::Dog);
        let zones = if all { String::new() } else { format!("{} ", zone_words(both.new.trade, sites)) };
        let words = text(from, keep);
        let what = format!("keep {zones}{words}{}", on_whom(keep, from.trade));
        let instead = match &lost.instead {
            Some(bound) => bound_words(bound, to),
            None if tighter => "nothing of the kind".to_owned(),
            None => {
                let taken =
                    to.choices.overrides.iter().find(|o| o.bound == keep.line.bound && o.sites.meets(lost.sites));
                taken.map_or_else(|| "gone".to_owned(), |o| format!("overridden on the word of {}", o.by))
            }
        };
        let rank = match (is_order(from, keep), tighter) {
            (true, _) => Rank::Other,
            (false, true) => Rank::Tighter,
            (false, false) => Rank::Looser,
        };
        let (before, now) = if tighter { (instead, words) } else { (words, instead) };
        out.push(both.change(rank, what, (before, now), lost.on_all, &lost.point, (0, sites)));
    }
}

/// Where a keep of one text binds a dog that the other doesn't guard as well.
fn lost(both: &Both<'_>, from: Side<'_>, to: Side<'_>, keep: &KeepEntry, number: usize) -> Option<Lost> {
    let places: Vec<Site> = match keep.line.on {
        KeepOn::Sites(sites) => both.sites().filter(|s| sites.has(*s)).collect(),
        KeepOn::Dog => vec![Site(0)],
        KeepOn::Place => return None,
    };
    let mut lost: Option<Lost> = None;
    for site in places {
        let others: Vec<&KeepEntry> = match keep.line.on {
            KeepOn::Dog => to.choices.keeps.iter().filter(|k| k.line.on == KeepOn::Dog).collect(),
            _ => to.choices.keeps_at(site).collect(),
        };
        // Most keeps stand in both as they are.
        if others.iter().any(|k| same_keep(keep, k)) || said_before(from, keep, number, site) {
            continue;
        }
        let set = needs((keep.finding, &keep.cond));
        let conds: Vec<&Cond> = others.iter().map(|k| &k.cond).chain([&keep.cond]).collect();
        let asked: Vec<FindingId> = conds.iter().flat_map(|c| needs((None, c))).collect();
        let by_coat = conds.iter().any(|c| c.asks_for_coats());
        let classes = both.classes(site, conds.iter().copied());
        let (mut tried, mut open) = (0, 0);
        // Served at all with those findings?
        for set in both.sets(std::iter::once(set), std::iter::empty(), std::iter::empty()).into_iter().rev().take(1) {
            for one in both.dogs(site, &set, &asked, &classes, by_coat) {
                tried += 1;
                if !binds(keep, from.trade, &one.dog, site) {
                    continue;
                }
                let now: Vec<&Bound> = if keep.line.on == KeepOn::Dog {
                    others.iter().filter(|k| binds(k, to.trade, &one.dog, site)).map(|k| &k.line.bound).collect()
                } else {
                    let active = active_keeps(to.choices, to.trade, &one.dog, site);
                    let lasts = |k: &crate::finish::ActiveKeep<'_>| {
                        !keep.until_next || matches!(k.source, crate::finish::Source::Text(entry) if entry.until_next)
                    };
                    active.iter().filter(|k| lasts(k)).map(|k| k.bound()).collect()
                };
                if holds(&now, &keep.line.bound, to.trade) {
                    continue;
                }
                open += 1;
                let simple = one.point.rank(&both.domain);
                let kind = std::mem::discriminant(&keep.line.bound);
                let instead = now.iter().find(|b| std::mem::discriminant(**b) == kind).map(|b| (*b).clone());
                match &mut lost {
                    Some(known) => {
                        known.sites = known.sites | Sites::one(site);
                        if simple < known.simple {
                            (known.simple, known.point, known.instead) = (simple, one.point, instead);
                        }
                    }
                    None => {
                        let sites = if keep.line.on == KeepOn::Dog { Sites::NONE } else { Sites::one(site) };
                        lost = Some(Lost { sites, simple, point: one.point, instead, on_all: true });
                    }
                }
            }
        }
        if let Some(lost) = lost.as_mut().filter(|_| open > 0) {
            lost.on_all &= tried == open && keep.finding.is_none() && keep.cond.findings.is_empty();
        }
    }
    lost
}

/// Whether an earlier line of the same text says just the same there: one is told.
fn said_before(side: Side<'_>, keep: &KeepEntry, number: usize, site: Site) -> bool {
    let here = |k: &KeepEntry| match (k.line.on, keep.line.on) {
        (KeepOn::Sites(sites), KeepOn::Sites(_)) => sites.has(site),
        (a, b) => a == b,
    };
    side.choices.keeps.iter().take(number).any(|k| here(k) && same_keep(k, keep))
}

/// Whether a line says when, and not with what care: `first feet`.
fn is_order(side: Side<'_>, keep: &KeepEntry) -> bool {
    let order = matches!(keep.line.bound, Bound::First | Bound::Last);
    let stands = keep.whole.map_or("", |whole| side.sources.at(whole));
    order && !stands.trim_start().to_ascii_lowercase().starts_with("keep")
}

fn on_whom(keep: &KeepEntry, trade: &Trade) -> String {
    let finding = keep.finding.and_then(|f| trade.finding(f));
    finding.map(|f| format!(", for {}", f.name.replace('-', " "))).unwrap_or_default()
}

/// The words of a keep, as its author wrote them.
fn text(side: Side<'_>, keep: &KeepEntry) -> String {
    let words = side.sources.at(keep.line.place).split_whitespace().collect::<Vec<_>>().join(" ");
    let words = words.split(" because ").next().unwrap_or("").trim().to_owned();
    // Of a few keeps only the whole line has a place.
    if words.is_empty() { bound_words(&keep.line.bound, side) } else { words }
}

/// Whether what binds now asks for at least as much.
pub(super) fn holds(now: &[&Bound], old: &Bound, trade: &Trade) -> bool {
    // Nothing is done there at all.
    let work = old.changes_work() || matches!(old, Bound::AtMost(_) | Bound::Manner(_) | Bound::Open);
    if work && *old != Bound::Refer && now.iter().any(|b| matches!(b, Bound::Untouched | Bound::Refer)) {
        return true;
    }
    if let Bound::Never(bans) = old {
        return bans.iter().all(|ban| now.iter().any(|b| bars(b, *ban, trade)));
    }
    now.iter().any(|b| match (b, old) {
        (Bound::NoCloser(a, _), Bound::NoCloser(b, _)) => a >= b,
        (Bound::NoCloserOverCause(a), Bound::NoCloserOverCause(b)) => a >= b,
        (Bound::NoShorter(a), Bound::NoShorter(b)) => a >= b,
        (Bound::AtMost(a), Bound::AtMost(b)) => a <= b,
        (Bound::Gap(a), Bound::Gap(b)) => a <= b,
        (Bound::Passes(a), Bound::Passes(b)) => a <= b,
        (Bound::AtStretch(a), Bound::AtStretch(b)) | (Bound::InAll(a), Bound::InAll(b)) => a <= b,
        (Bound::OnlyDirection(a), Bound::NeverDirection(b)) => a != b,
        (Bound::Only(a), Bound::Only(b)) => a.iter().all(|x| b.iter().any(|y| within(*x, *y, trade))),
        (a, b) => *a == b,
    })
}

/// Whether a bound bars whatever a ban names.
fn bars(bound: &Bound, ban: Ban, trade: &Trade) -> bool {
    match bound {
        Bound::Never(bans) => bans.iter().any(|b| within(ban, *b, trade)),
        Bound::Only(only) => {
            let named = |b: Ban| {
                (0_u16..).take(trade.tools.len()).map(crate::names::trade::ToolId).filter(move |t| trade.names(b, *t))
            };
            !matches!(ban, Ban::Step(_)) && named(ban).all(|tool| !only.iter().any(|b| trade.names(*b, tool)))
        }
        _ => false,
    }
}

/// Whether all that one ban names is named by another.
fn within(one: Ban, other: Ban, trade: &Trade) -> bool {
    one == other
        || !matches!(one, Ban::Step(_))
            && (0_u16..)
                .take(trade.tools.len())
                .map(crate::names::trade::ToolId)
                .all(|tool| !trade.names(one, tool) || trade.names(other, tool))
}

/// A bound as one writes it.
pub(super) fn bound_words(bound: &Bound, side: Side<'_>) -> String {
    bound.words(side.trade)
}
