//! The dog that is planned for, with what its trim says of it. What doesn't change from plan to plan is found once: for a dog that doesn't
//! bear all of its trim at once, several are tried.

use super::bands::Borders;
use super::prep::Asked;
use super::{Plan, Without, plan_within};
use crate::atlas;
use crate::choices::Choices;
use crate::finish::Finishes;
use crate::joins::Blend;
use crate::measure::{Interval, Time, Weight};
use crate::models::surface;
use crate::names::card::Dog;
use crate::names::sites::{Site, Sites};
use crate::names::trade::{ToolId, Trade};
use rustc_hash::FxHashMap;
use std::cell::{OnceCell, RefCell};
use std::collections::BTreeMap;
use std::hash::Hash;

/// The dog whose work is planned, and its trim.
pub struct Body<'a> {
    pub(super) trade: &'a Trade,
    pub(super) dog: &'a Dog,
    pub(super) choices: &'a Choices,
    pub(super) finishes: &'a Finishes,
    /// The share of its surface that each zone is, by the zone's first site.
    shares: BTreeMap<Site, f64>,
    /// The lengths of its borders, when a blend asks for them; none if nobody weighed it.
    pub(super) borders: OnceCell<Option<Borders>>,
    /// The steps that somebody asks for, in their order.
    pub(super) steps: OnceCell<Vec<Asked>>,
    /// The numbers of the blends that are meant for it.
    pub(super) blends: OnceCell<Vec<usize>>,
    /// Whether a blend's tool may come to a site.
    pub(super) may: Once<(Site, ToolId), bool>,
    /// The blends of each ask at the border of two sites.
    pub(super) beside: Once<(usize, Site, Site), Option<Blend>>,
    /// How long a blend takes with what is in the hand.
    pub(super) bands: Once<Band, Interval<Time>>,
}

/// A blend, as far as its time goes: which it is, between what, with what in the hand or by which rungs.
pub(super) type Band = (usize, Sites, Sites, Option<ToolId>, Vec<ToolId>);

/// What is found when it is asked for first.
pub(super) struct Once<K, V>(RefCell<FxHashMap<K, V>>);

impl<K: Eq + Hash, V: Clone> Once<K, V> {
    pub(super) fn get(&self, key: K, find: impl FnOnce() -> V) -> V {
        if let Some(known) = self.0.borrow().get(&key) {
            return known.clone();
        }
        let found = find();
        self.0.borrow_mut().insert(key, found.clone());
        found
    }
}

impl<K, V> Default for Once<K, V> {
    fn default() -> Self {
        Self(RefCell::default())
    }
}

impl<'a> Body<'a> {
    /// A dog and its trim: what the texts choose, and what is done where.
    #[must_use]
    pub fn of(choices: &'a Choices, trade: &'a Trade, dog: &'a Dog, finishes: &'a Finishes) -> Self {
        Self {
            trade,
            dog,
            choices,
            finishes,
            shares: shares(trade, dog),
            borders: OnceCell::new(),
            steps: OnceCell::new(),
            blends: OnceCell::new(),
            may: Once::default(),
            beside: Once::default(),
            bands: Once::default(),
        }
    }

    /// Plans a visit without some of it.
    #[must_use]
    pub fn plan(&self, without: &Without) -> Plan {
        plan_within(self, without, None).unwrap_or_default()
    }
}

/// The surface of a set of sites, in square millimetres.
pub(super) fn area(body: &Body<'_>, weight: Weight, sites: Sites) -> f64 {
    let share = |site| {
        let (zone, side) = body.trade.zone_of(site)?;
        let share = body.shares.get(&zone.site).copied()?;
        Some(share / if side.is_some() { 2.0 } else { 1.0 })
    };
    surface::surface(weight) * sites.iter().filter_map(share).sum::<f64>()
}

/// The shares of the basics, as the drawing changes them for the dog's build and girth.
fn shares(trade: &Trade, dog: &Dog) -> BTreeMap<Site, f64> {
    let drawing = atlas::drawing();
    let areas = atlas::areas(trade, &atlas::Figure::of(dog, drawing));
    areas.into_iter().filter_map(|(id, share)| trade.zone(id).map(|z| (z.site, share))).collect()
}
