//! One site, and by what sites differ from one another.

use super::sites::Left;
use crate::choices::Choices;
use crate::names::card::Fact;
use crate::names::sites::{Site, Sites};
use crate::names::trade::{KeepOn, ToolId, ToolKind, Trade, Where};
use std::rc::Rc;

/// One site.
pub(super) struct At {
    pub(super) site: Site,
    /// The first site of which the texts, the basics and the skin say just the same: what holds there holds here.
    pub(super) like: usize,
    /// The number of the list of statements and blends that reach it.
    pub(super) list: usize,
    /// Blends with a tool of their own that come here.
    pub(super) blends: Vec<usize>,
    /// The keeps of texts that can matter here, once that is known.
    pub(super) keeps: Vec<usize>,
    /// Whether anything there asks for coats.
    pub(super) by_coat: bool,
    /// What rules ask about a site beside what texts say of it.
    pub(super) traits: usize,
    /// What a recipe itself leaves there, and the sets of findings that were tried.
    pub(super) outcomes: Vec<Left>,
    pub(super) sets: Rc<[Vec<Fact>]>,
    /// The same, shared, once all sites are worked out.
    pub(super) left: Rc<[Left]>,
    /// What stays there on any dog, by its number among the proof's lengths.
    pub(super) lengths: usize,
}

/// Every site with all by which it can differ from others: what holds on one holds on each that is told by the same numbers.
pub(crate) fn likenesses(choices: &Choices, trade: &Trade) -> Vec<(Site, Vec<usize>)> {
    let masks = Masks::of(choices, trade);
    let of = |site: Site| {
        let at = At::new(site, choices, trade, &masks);
        let statements = at.statements(choices);
        (site, at.likeness(statements, choices, trade, &masks))
    };
    trade.all_sites().iter().map(of).collect()
}

/// The closest blade: the cause from which a floor by class is lowest.
pub(crate) fn closest_blade(trade: &Trade) -> Option<ToolId> {
    let blades = (0_u16..).zip(&trade.tools).filter(|(_, t)| t.kind == ToolKind::Blade && t.closeness.is_some());
    blades.min_by_key(|(_, t)| t.closeness).map(|(n, _)| ToolId(n))
}

/// What is asked of every site by which it can differ from others.
pub(super) struct Masks {
    /// Where coats are asked about by name.
    named: [Sites; 2],
    /// The sites of which findings speak by name: each set once.
    findings: Vec<Sites>,
    /// The blends in guards.
    answering: Vec<usize>,
}

impl Masks {
    pub(super) fn of(choices: &Choices, trade: &Trade) -> Self {
        let mut findings: Vec<Sites> = Vec::new();
        for finding in &trade.findings {
            let fixed = if let Where::Fixed(sites) = finding.on { Some(sites) } else { None };
            let kept =
                finding.keeps.iter().filter_map(|k| if let KeepOn::Sites(sites) = k.on { Some(sites) } else { None });
            for sites in fixed.into_iter().chain([finding.widens]).chain(kept) {
                if !sites.is_empty() && !findings.contains(&sites) {
                    findings.push(sites);
                }
            }
        }
        let named = ["jacket", "fall"].map(|name| trade.sites_of(name).unwrap_or(Sites::NONE));
        let answering =
            choices.blends.iter().enumerate().filter(|(_, b)| b.finding.is_some()).map(|(n, _)| n).collect();
        Self { named, findings, answering }
    }
}

impl At {
    pub(super) fn new(site: Site, choices: &Choices, trade: &Trade, masks: &Masks) -> Self {
        let blends = choices.blends.iter().enumerate().filter(|(_, b)| b.tool.is_some() && b.comes_to(site));
        let blends = blends.map(|(n, _)| n).collect();
        let (skin, sex, hidden) = trade
            .zone_of(site)
            .map_or((0, 0, false), |(z, _)| (z.skin as usize, z.sex.map_or(2, |s| s as usize), z.hidden));
        let named = masks.named.map(|sites| usize::from(sites.has(site)));
        let traits = [sex, usize::from(hidden)].into_iter().chain(named).fold(skin, |all, part| all * 4 + part);
        Self {
            site,
            like: 0,
            list: 0,
            blends,
            keeps: Vec::new(),
            by_coat: false,
            traits,
            outcomes: Vec::new(),
            sets: Rc::default(),
            left: Rc::default(),
            lengths: 0,
        }
    }

    /// The statements that reach it, and the blends with a tool of their own.
    pub(super) fn statements(&self, choices: &Choices) -> Vec<usize> {
        let own = choices.at.get(usize::from(self.site.0)).into_iter().flatten().map(|n| *n as usize);
        own.chain([usize::MAX]).chain(self.blends.iter().copied()).collect()
    }

    /// Everything by which two sites can differ: the statements, keeps and blends that reach them, their skin, and what findings
    /// say of them by name.
    pub(super) fn likeness(
        &self,
        statements: Vec<usize>,
        choices: &Choices,
        trade: &Trade,
        masks: &Masks,
    ) -> Vec<usize> {
        let mut key = statements;
        key.push(usize::MAX);
        key.extend(choices.keeps_at.get(usize::from(self.site.0)).into_iter().flatten().map(|n| *n as usize));
        key.push(usize::MAX);
        key.extend(masks.answering.iter().filter(|n| choices.blends.get(**n).is_some_and(|b| b.comes_to(self.site))));
        let paired = trade.zone_of(self.site).is_some_and(|(_, side)| side.is_some());
        key.extend([usize::MAX, self.traits, usize::from(paired)]);
        let mut bits = 0_usize;
        for (number, sites) in masks.findings.iter().enumerate() {
            if number > 0 && number % (usize::BITS as usize) == 0 {
                key.push(std::mem::take(&mut bits));
            }
            bits = (bits << 1) | usize::from(sites.has(self.site));
        }
        key.push(bits);
        key
    }
}
