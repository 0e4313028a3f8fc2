//! The findings that can matter at a site.

use super::domain::fact;
use super::touchy::Touchy;
use crate::choices::{Choices, KeepEntry, Kind};
use crate::names::card::{Fact, widened};
use crate::names::condition::Cond;
use crate::names::sites::{Site, Sites};
use crate::names::trade::{Bound, FindingId, KeepOn, ToolId, Trade, Verb, Where};
use std::collections::BTreeSet;

/// The findings that a statement needs: that of its guard and those of its conditions.
pub(crate) fn needed(finding: Option<FindingId>, cond: &Cond) -> Vec<FindingId> {
    fn all(cond: &Cond, out: &mut Vec<FindingId>) {
        out.extend(&cond.findings);
        cond.not.iter().for_each(|n| all(n, out));
    }
    let mut needed: Vec<FindingId> = finding.into_iter().collect();
    all(cond, &mut needed);
    each_once(needed)
}

/// Findings as a set: in order, each once.
pub(crate) fn each_once(mut findings: Vec<FindingId>) -> Vec<FindingId> {
    findings.sort_unstable();
    findings.dedup();
    findings
}

/// The sets of findings that can matter at a site, the smallest first, each where the site has it, and once more where the
/// statements that it switches on apply with as few of its own keeps as can be.
pub(super) fn candidates(
    choices: &Choices,
    trade: &Trade,
    touchy: &mut Touchy,
    site: Site,
    keeps: &[&KeepEntry],
    closest: Option<ToolId>,
    wants_answer: &[FindingId],
) -> Vec<Vec<Fact>> {
    let due =
        |id: &FindingId| !choices.serves.without.contains(id) && trade.finding(*id).is_some_and(|f| f.may_be_at(site));
    let due: Vec<FindingId> = wants_answer.iter().copied().filter(due).collect();
    let asks = |finding: Option<FindingId>, cond: &Cond| finding.is_some() || cond.asks_for_findings();
    if due.is_empty()
        && !choices.at(site).any(|c| asks(c.finding, &c.cond))
        && !keeps.iter().any(|k| asks(k.finding, &k.cond))
        && !choices.blends.iter().any(|b| b.comes_to(site) && asks(b.finding, &b.cond))
    {
        return vec![Vec::new()];
    }
    let mut sets: BTreeSet<Vec<FindingId>> = BTreeSet::new();
    let statements: BTreeSet<Vec<FindingId>> = choices.at(site).map(|c| needed(c.finding, &c.cond)).collect();
    let blends = choices.blends.iter().filter(|b| b.comes_to(site));
    sets.extend(statements.iter().cloned());
    sets.extend(keeps.iter().map(|k| needed(k.finding, &k.cond)));
    sets.extend(blends.map(|b| needed(b.finding, &b.cond)));
    sets.extend(due.iter().map(|id| vec![*id]));
    // What can matter to a statement beside its own findings: keeps on its shape, keeps and statements that ask for findings
    // in a condition, and a finding that asks for an answer where only this statement does anything.
    let shape = |k: &&&KeepEntry| matches!(k.line.bound, Bound::AtMost(_) | Bound::Open);
    let mut beside: BTreeSet<Vec<FindingId>> = BTreeSet::new();
    beside.extend(keeps.iter().filter(shape).map(|k| needed(k.finding, &k.cond)));
    beside.extend(keeps.iter().filter(|k| k.finding.is_none()).map(|k| needed(None, &k.cond)));
    beside.extend(choices.at(site).filter(|c| c.kind != Kind::Guard).map(|c| needed(None, &c.cond)));
    // Alone it asks for an answer unless nothing is done here without another finding.
    let left = choices.at(site).any(|c| c.ask.verb == Verb::Leave)
        || !choices.at(site).any(|c| c.kind != Kind::Guard && c.cond.is_always());
    let answered = |id: &FindingId| choices.at(site).any(|c| c.finding == Some(*id) && c.cond.is_always());
    beside.extend(due.iter().filter(|id| left && !answered(id)).map(|id| vec![*id]));
    beside.remove(&Vec::new());
    for own in &statements {
        for other in &beside {
            sets.insert(each_once([own.as_slice(), other.as_slice()].concat()));
        }
    }
    sets.insert(Vec::new());
    sets.retain(|set| !set.iter().any(|f| choices.serves.without.contains(f)));
    let mut sets: Vec<Vec<FindingId>> = sets.into_iter().collect();
    sets.sort_by_key(Vec::len);
    // A condition asks whether the dog has a finding, wherever it is.
    let conds = choices.at(site).map(|c| &c.cond).chain(keeps.iter().map(|k| &k.cond));
    let conds = conds.chain(choices.blends.iter().filter(|b| b.comes_to(site)).map(|b| &b.cond));
    let asked: Vec<FindingId> = conds.flat_map(|c| needed(None, c)).collect();
    let minds = &mut |bound: &Bound| touchy.minds(bound, None, trade);
    sets.iter().flat_map(|set| ways(set, &asked, trade, minds, site, closest)).collect()
}

/// Findings on one dog in each way that can matter at a site: where the site has them, where what they keep reaches it least, and
/// elsewhere if a condition asks for them.
pub(crate) fn ways(
    set: &[FindingId],
    asked: &[FindingId],
    trade: &Trade,
    minds: &mut dyn FnMut(&Bound) -> bool,
    site: Site,
    closest: Option<ToolId>,
) -> Vec<Vec<Fact>> {
    let natural = placed(set, trade, site);
    let mildest: Vec<Fact> = natural.iter().map(|f| mildest(f, trade, minds, site, closest)).collect();
    let differs = natural.iter().zip(&mildest).any(|(a, b)| (a.sites, a.after) != (b.sites, b.after));
    let mut away = mildest.clone();
    for fact in away.iter_mut().filter(|f| asked.contains(&f.finding)) {
        if trade.finding(fact.finding).is_some_and(|f| f.on == Where::Card) {
            fact.sites = elsewhere(trade, Sites::one(site));
        }
    }
    let moved = away.iter().zip(&mildest).any(|(a, b)| a.sites != b.sites);
    let mut all = vec![natural];
    if differs {
        all.push(mildest);
    }
    if moved {
        all.push(away);
    }
    all
}

/// Findings where a site has them.
pub(crate) fn placed(set: &[FindingId], trade: &Trade, site: Site) -> Vec<Fact> {
    let at = |f: &FindingId| trade.finding(*f).map(|d| fact(*f, place(trade, *f, site), d.place));
    set.iter().filter_map(at).collect()
}

/// Where a finding is that can matter at a site: on the whole dog, at its usual place, or here.
fn place(trade: &Trade, finding: FindingId, site: Site) -> Sites {
    match trade.finding(finding).map(|f| (f.on, f.widens)) {
        Some((Where::Whole, _)) => trade.all_sites(),
        Some((Where::Fixed(sites), _)) => sites,
        Some((_, widens)) => widened(Sites::one(site), widens, trade),
        None => Sites::NONE,
    }
}

/// The same finding where a guard for it still speaks of the site, but what it keeps at its own place doesn't reach it, or not
/// as far: across from it, elsewhere, or with a cause from which its floor is lowest.
fn mildest(
    natural: &Fact,
    trade: &Trade,
    minds: &mut dyn FnMut(&Bound) -> bool,
    site: Site,
    closest: Option<ToolId>,
) -> Fact {
    let Some(finding) = trade.finding(natural.finding) else { return natural.clone() };
    let here = finding.keeps.iter().filter(|k| k.on == KeepOn::Place);
    let here: Vec<&Bound> = here.map(|k| &k.bound).filter(|b| minds(b)).collect();
    let mut mild = natural.clone();
    if here.iter().any(|b| matches!(b, Bound::NoCloserOverCause(_))) {
        mild.after = closest;
    }
    let across = across(trade, site);
    let aside = match finding.on {
        // Its guards speak of the whole dog, wherever the card puts it.
        Where::Whole | Where::Fixed(_) => Some(elsewhere(trade, Sites::one(site))),
        Where::Card => (!finding.one_side && !across.is_empty()).then_some(across),
    };
    if let Some(aside) = aside.filter(|_| !here.is_empty()) {
        mild.sites = widened(aside, finding.widens, trade);
    }
    mild
}

/// A finding that lay about one site, laid about another in the same way: there, across from it, or elsewhere.
pub(crate) fn moved(fact: &mut Fact, trade: &Trade, from: Site, to: Site) {
    let Some(finding) = trade.finding(fact.finding).filter(|f| f.on == Where::Card) else { return };
    let sites = if fact.sites.has(from) {
        Sites::one(to)
    } else if fact.sites.meets(across(trade, from)) {
        across(trade, to)
    } else {
        elsewhere(trade, Sites::one(to))
    };
    fact.sites = widened(sites, finding.widens, trade);
}

/// The site across from another; none in the middle.
fn across(trade: &Trade, site: Site) -> Sites {
    trade.both_sides(Sites::one(site)) - Sites::one(site)
}

/// A part that is neither near these sites nor across from them.
pub(crate) fn elsewhere(trade: &Trade, near: Sites) -> Sites {
    let far = trade.zones.iter().find(|z| z.sex.is_none() && !z.sites().meets(near));
    far.map_or(Sites::NONE, crate::names::trade::Zone::sites)
}
