//! Finishes: what is done at each site of one dog, and why.
//!
//! [`finish`] evaluates [`Choices`] at a dog: the winner of each competition, the tool that makes it on this coat, and
//! what the keeps and the replies of findings make of it. A finish without its reasons can't be built.

mod active;
mod breach;
mod gentle;
mod mats;
mod pick;
mod reply;
mod site;

pub use active::{ActiveKeep, Source, active_keeps, binds, has_finding, keeps_of};
pub use breach::{Breach, breach};
pub use gentle::{bears, gentlest, is_freehand, options, stroke_words};
pub use pick::{Picked, coat_factor, margin, pick, tool_words};
pub use reply::stand_in;
pub use site::{Situation, finish_site};

use crate::choices::{Choice, Choices};
use crate::diagnostic::{Diagnostic, code};
use crate::measure::{Interval, Length};
use crate::names::card::Dog;
use crate::names::sites::{Site, Sites};
use crate::names::trade::{Direction, FindingId, Gap, Reply, ToolId, ToolKind, Trade, Verb};
use crate::names::zone_words::{zone_lists, zone_words};
use crate::source::Place;
use smol_str::SmolStr;

/// One stroke of work at a site.
#[derive(Clone, Debug, PartialEq)]
pub struct Stroke {
    /// The verb.
    pub verb: Verb,
    /// The tool; none for `leave`.
    pub tool: Option<ToolId>,
    /// The blade under a comb.
    pub over: Option<ToolId>,
    /// Which way.
    pub direction: Option<Direction>,
    /// How often.
    pub passes: u32,
    /// What stays.
    pub leaves: Option<Interval<Length>>,
    /// How near the skin the edge rides.
    pub closeness: Option<Length>,
    /// How far apart the teeth stand.
    pub gap: Option<Gap>,
    /// Shapes and ways of working.
    pub manners: Vec<(SmolStr, Option<SmolStr>)>,
}

/// Why a finish is as it is: a statement with what it did.
#[derive(Clone, Debug, PartialEq)]
pub struct Reason {
    /// What it did.
    pub what: Did,
    /// Where the statement stands.
    pub place: Place,
}

/// What a statement did to a finish.
#[derive(Clone, Debug, PartialEq)]
pub enum Did {
    /// Set the rough pass.
    SetRough,
    /// Set the finish.
    Set,
    /// Won over another statement, whose place this is.
    WonOver,
    /// A guard asked for more care; by whom.
    Guarded(SmolStr),
    /// The finding whose reply changed it.
    Replied(SmolStr, Reply),
    /// A shape keep that had to yield; its words.
    Yielded(String),
    /// A mat shortened it.
    Mat,
    /// A senior took a keep back here; who answers for it.
    Overridden(String),
    /// The dog doesn't bear it today.
    Waits,
}

/// How a site came out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// As written.
    Written,
    /// A finding made it gentler or longer.
    Raised,
    /// A finding, or a keep with no tool left, made it `leave`.
    Left,
    /// It is for a vet.
    Referred,
    /// A mat made it shorter than written.
    Shortened,
    /// It waits for another visit, and is left as it is today.
    Waits,
}

/// What is done at one site.
#[derive(Clone, Debug, PartialEq)]
pub struct Finish {
    /// The site.
    pub site: Site,
    /// The rough pass, if one comes first.
    pub rough: Option<Stroke>,
    /// The finish.
    pub fine: Stroke,
    /// How it came out.
    pub outcome: Outcome,
    /// The finding that changed it, if any.
    pub by: Option<FindingId>,
    /// Why, in the order in which it came about. Never empty.
    pub reasons: Vec<Reason>,
    /// The statement of the winner.
    pub statement: Place,
    /// Whether that statement is from a text above the house's usual (recipe or wish).
    pub from_recipe: bool,
    /// Whether it is the owner's wish on the card.
    pub wished: bool,
}

/// All sites of one dog.
#[derive(Clone, Debug, Default)]
pub struct Finishes {
    /// In the order of the sites.
    pub all: Vec<Finish>,
    /// Sites for a vet.
    pub referred: Sites,
}

impl Finishes {
    /// The finish at a site.
    #[must_use]
    pub fn at(&self, site: Site) -> Option<&Finish> {
        self.all.binary_search_by_key(&site, |f| f.site).ok().and_then(|i| self.all.get(i))
    }
}

/// The sites that this dog has: no prepuce on a bitch.
#[must_use]
pub fn sites_of(trade: &Trade, dog: &Dog) -> Sites {
    trade
        .zones
        .iter()
        .filter(|z| z.sex.is_none() || dog.sex.is_none() || z.sex == dog.sex)
        .fold(Sites::NONE, |set, zone| set | zone.sites())
}

/// What is done at each site of the dog. Messages are added to `out`; a site that can't be finished is left out.
pub fn finish(choices: &Choices, trade: &Trade, dog: &Dog, out: &mut Vec<Diagnostic>) -> Finishes {
    finish_at(sites_of(trade, dog), choices, trade, dog, out)
}

/// The same at some sites only.
pub fn finish_at(sites: Sites, choices: &Choices, trade: &Trade, dog: &Dog, out: &mut Vec<Diagnostic>) -> Finishes {
    let mut finishes = Finishes::default();
    let mut unfinished = Sites::NONE;
    // What tells nothing left from right is worked out on the left.
    let even = choices.symmetric && is_even(trade, dog);
    for site in sites.iter() {
        if even
            && let Some(left) = site.0.checked_sub(1).map(Site)
            && trade.zone_of(site).is_some_and(|(_, side)| side == Some(grammar::tree::Side::Right))
        {
            if let Some(finish) = finishes.all.last().filter(|f| f.site == left).cloned() {
                if finish.outcome == Outcome::Referred {
                    finishes.referred = finishes.referred | Sites::one(site);
                }
                finishes.all.push(Finish { site, ..finish });
                continue;
            }
            if unfinished.has(left) {
                unfinished = unfinished | Sites::one(site);
                continue;
            }
        }
        let situation = Situation::of(choices, trade, dog, site);
        match finish_site(&situation, choices, trade, dog, out) {
            Some(finish) => {
                if finish.outcome == Outcome::Referred {
                    finishes.referred = finishes.referred | Sites::one(site);
                }
                finishes.all.push(finish);
            }
            None if is_visible(&situation, trade) => unfinished = unfinished | Sites::one(site),
            None => {}
        }
    }
    if !unfinished.is_empty()
        && let Some(place) = choices.place
    {
        out.push(unfinished_message(choices, trade, unfinished, place));
    }
    finishes
}

/// Whether nothing on the card tells left from right.
#[must_use]
pub fn is_even(trade: &Trade, dog: &Dog) -> bool {
    let even = |sites: Sites| trade.both_sides(sites) == sites;
    dog.findings.iter().all(|f| even(f.sites))
        && dog.mats.iter().all(|m| even(m.sites))
        && dog.others.iter().all(|(_, sites, _)| even(*sites))
        && dog.coats.iter().all(|(sites, _)| even(*sites))
        && dog.lengths.iter().all(|(sites, _)| even(*sites))
}

/// Whether nothing reaches a site where a groomer would miss a finish.
#[must_use]
pub fn is_visible(situation: &Situation<'_>, trade: &Trade) -> bool {
    situation.active.is_empty() && trade.zone_of(situation.site).is_some_and(|(zone, _)| !zone.hidden)
}

/// M016: parts that nobody mentions.
#[must_use]
pub fn unfinished_message(choices: &Choices, trade: &Trade, sites: Sites, place: Place) -> Diagnostic {
    let list = zone_words(trade, sites);
    Diagnostic::error(code::M016, place, format!("{} says nothing about {list}", choices.name))
        .why("What nobody mentions is forgotten on the table.")
        .help(format!("Finish it, or write `leave {}`.", zone_lists(trade, sites).join("`, `leave ")))
}

/// Whether a choice applies to the dog at the site: its condition holds, and its finding is there.
#[must_use]
pub fn applies(choice: &Choice, trade: &Trade, dog: &Dog, site: Site) -> bool {
    choice.cond.holds(dog, site) && choice.finding.is_none_or(|f| active::has_finding(trade, dog, f, site))
}

/// The zone and side of a site, as people say it.
#[must_use]
pub fn site_words(trade: &Trade, site: Site) -> String {
    match trade.zone_of(site) {
        Some((zone, None)) => zone.name.replace('-', " "),
        Some((zone, Some(grammar::tree::Side::Left))) => format!("left {}", zone.name.replace('-', " ")),
        Some((zone, Some(grammar::tree::Side::Right))) => format!("right {}", zone.name.replace('-', " ")),
        None => String::new(),
    }
}

/// A zone in a sentence, side left away: `on the throat`, `under the tail`, `between the toes`.
#[must_use]
pub fn on_words(trade: &Trade, site: Site) -> String {
    let name = trade.zone_of(site).map_or(String::new(), |(zone, _)| zone.name.replace('-', " "));
    for preposition in ["under", "between", "behind"] {
        if let Some(rest) = name.strip_prefix(preposition).and_then(|r| r.strip_prefix(' ')) {
            return format!("{preposition} the {rest}");
        }
    }
    format!("on the {name}")
}

impl Stroke {
    /// Nothing is done.
    #[must_use]
    pub const fn leave() -> Self {
        Self {
            verb: Verb::Leave,
            tool: None,
            over: None,
            direction: None,
            passes: 0,
            leaves: None,
            closeness: None,
            gap: None,
            manners: Vec::new(),
        }
    }

    /// The kind of its tool.
    #[must_use]
    pub fn kind(&self, trade: &Trade) -> Option<ToolKind> {
        self.tool.and_then(|t| trade.tool(t)).map(|t| t.kind)
    }
}
