//! Where it matters that a kit owns other tools than it did.
//!
//! A kit is common to every recipe of a salon, and at most sites no dog notices what was bought or lost. What is done at a site
//! hangs on what is said there and on nothing else of a recipe, so it is found once for all recipes that say the same there, over
//! every dog that there can be: where none of those differs, none that somebody serves does.

use super::both::{Both, Side};
use super::sites::{differs, same_choice, same_keep};
use crate::choices::{Choice, Choices, KeepEntry};
use crate::names::condition::{Bounds, Cond};
use crate::names::sites::Site;
use crate::names::trade::ToolId;
use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};

/// What is known so far of the sites of a salon in two versions.
#[derive(Default)]
pub(super) struct Kits(Mutex<BTreeMap<Site, Vec<Known>>>);

struct Known {
    choices: Vec<Choice>,
    keeps: Vec<KeepEntry>,
    kits: [Kit; 2],
    matters: bool,
}

/// The tools of a kit and how many it has of each.
type Kit = (Vec<ToolId>, Vec<(ToolId, u32)>);

fn kit(choices: &Choices) -> Kit {
    (choices.kit.clone(), choices.many.clone())
}

/// Whether both have the same tools.
pub(super) fn same_kit(old: &Choices, new: &Choices) -> bool {
    (&old.kit, &old.many) == (&new.kit, &new.many)
}

impl Kits {
    /// Whether on some dog something else is done at a site of which both texts say the same.
    pub(super) fn matter(&self, both: &Both<'_>, site: Site) -> bool {
        let (old, new) = (both.old.choices, both.new.choices);
        let is = |known: &&Known| {
            let (mut choices, mut keeps) = (new.at(site), new.keeps_at(site));
            (&known.kits[0].0, &known.kits[0].1) == (&old.kit, &old.many)
                && (&known.kits[1].0, &known.kits[1].1) == (&new.kit, &new.many)
                && known.choices.iter().all(|a| choices.next().is_some_and(|b| same_choice(a, b)))
                && choices.next().is_none()
                && known.keeps.iter().all(|a| keeps.next().is_some_and(|b| same_keep(a, b)))
                && keeps.next().is_none()
        };
        let known =
            |all: &BTreeMap<Site, Vec<Known>>| all.get(&site).and_then(|k| k.iter().find(is).map(|k| k.matters));
        if let Some(matters) = known(&self.0.lock().unwrap_or_else(PoisonError::into_inner)) {
            return matters;
        }
        let (a, b) = (alone(old, site), alone(new, site));
        let (a, b) = (Side { choices: &a, ..both.old }, Side { choices: &b, ..both.new });
        let all = Both::new(a, b, both.same_trade, both.common);
        let matters = differs(&all, site);
        let (choices, keeps) = (new.at(site).cloned().collect(), new.keeps_at(site).cloned().collect());
        let found = Known { choices, keeps, kits: [kit(old), kit(new)], matters };
        self.0.lock().unwrap_or_else(PoisonError::into_inner).entry(site).or_default().push(found);
        matters
    }
}

/// What is said of one site, to every dog that there can be.
fn alone(choices: &Choices, site: Site) -> Choices {
    let at = |many: usize, sites: usize| -> Vec<Vec<u32>> {
        (0..sites).map(|s| if s == usize::from(site.0) { (0_u32..).take(many).collect() } else { Vec::new() }).collect()
    };
    let finishes: Vec<Choice> = choices.at(site).cloned().collect();
    let keeps: Vec<KeepEntry> = choices.keeps_at(site).cloned().collect();
    // Ages are spoken of, so that what follows from them is on some dogs.
    let serves = Cond { age: Bounds { low: Some((0, false)), high: None }, ..Cond::default() };
    Choices {
        serves,
        at: at(finishes.len(), choices.at.len()),
        keeps_at: at(keeps.len(), choices.keeps_at.len()),
        finishes,
        keeps,
        kit: choices.kit.clone(),
        many: choices.many.clone(),
        symmetric: choices.symmetric,
        units: choices.units,
        ..Choices::default()
    }
}
