//! The vocabulary of the trade as data: what the basics and a house declare, with every name looked up.

use super::sites::{Site, Sites};
use crate::measure::{BodyUnits, Factor, Growth, Interval, Length, Rate, Time};
use crate::source::Place;
use serde::{Deserialize, Serialize};
use smol_str::SmolStr;
use std::collections::BTreeMap;

pub use super::bound::{Ban, Bound, KeepLine, KeepOn};
pub use super::finding::{Apart, Finding, Reply, Vet, Where};
pub use super::heat::Heat;
pub use grammar::tree::{Direction, Gap, Side, Verb};

macro_rules! index {
    ($($(#[$doc:meta])* $name:ident)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
        pub struct $name(pub u16);
    )*};
}

index! {
    /// Which zone of [`Trade::zones`].
    ZoneId
    /// Which mark of [`Trade::marks`].
    MarkId
    /// Which coat of [`Trade::coats`].
    CoatId
    /// Which finding of [`Trade::findings`].
    FindingId
    /// Which tool of [`Trade::tools`].
    ToolId
    /// Which kit of [`Trade::kits`].
    KitId
    /// Which step of [`Trade::steps`].
    StepId
    /// Which shape or way of working of [`Trade::manners`].
    MannerId
}

/// Everything that has a name in the trade.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Trade {
    /// Leaf zones.
    pub zones: Vec<Zone>,
    /// Groups of zones, by name.
    pub groups: BTreeMap<SmolStr, Group>,
    /// Marks: small parts of zones to find and keep clear of.
    pub marks: Vec<Mark>,
    /// Coats.
    pub coats: Vec<Coat>,
    /// Findings.
    pub findings: Vec<Finding>,
    /// Tools.
    pub tools: Vec<Tool>,
    /// Kits.
    pub kits: Vec<Kit>,
    /// Steps of preparation, drying and ending.
    pub steps: Vec<Step>,
    /// Shapes and ways of working.
    pub manners: Vec<Manner>,
    /// Default guards of zones and marks: they bind every dog.
    pub keeps: Vec<KeepLine>,
    /// Names and synonyms of each kind.
    pub index: Index,
    /// Finger and hand.
    pub units: Option<BodyUnits>,
    /// How wide fingers are, from the narrowest to the widest; [`BodyUnits`] has the middle.
    pub fingers: Interval<Length>,
    /// The same of hands.
    pub hands: Interval<Length>,
    /// How blades warm at this table.
    pub heat: Heat,
}

/// Names and synonyms, in lower case, of each kind.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Index {
    /// Zones, groups and marks.
    pub places: BTreeMap<SmolStr, PlaceName>,
    /// Coats.
    pub coats: BTreeMap<SmolStr, CoatId>,
    /// Findings.
    pub findings: BTreeMap<SmolStr, FindingId>,
    /// Tools; blades in upper case.
    pub tools: BTreeMap<SmolStr, ToolId>,
    /// Kits.
    pub kits: BTreeMap<SmolStr, KitId>,
    /// Steps.
    pub steps: BTreeMap<SmolStr, StepId>,
    /// Shapes and ways of working.
    pub manners: BTreeMap<SmolStr, MannerId>,
}

/// What a name of a place stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum PlaceName {
    /// A leaf zone.
    Zone(ZoneId),
    /// A group: the sites are in [`Group`], under the group's main name.
    Group(u16),
    /// A mark.
    Mark(MarkId),
}

/// A leaf of the body.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Zone {
    /// Its name.
    pub name: SmolStr,
    /// What it is.
    pub about: String,
    /// Whether there is a left and a right one.
    pub paired: bool,
    /// Only on a dog or only on a bitch.
    pub sex: Option<Sex>,
    /// Where the groomer stands.
    pub station: Station,
    /// What the skin is like.
    pub skin: Skin,
    /// Whether it soils a tool, or wants a clean one.
    pub hygiene: Option<Hygiene>,
    /// Its share of the body's surface, both sides together.
    pub share: Factor,
    /// Its region of the published chart.
    pub region: SmolStr,
    /// Its neighbours.
    pub borders: Vec<ZoneId>,
    /// Whether it needs no finish of its own.
    pub hidden: bool,
    /// Said at the step.
    pub cautions: Vec<String>,
    /// Its first site; a paired zone's right side is the next.
    pub site: Site,
    /// Where it is declared.
    pub place: Place,
}

impl Zone {
    /// Its sites: one, or left and right.
    #[must_use]
    pub fn sites(&self) -> Sites {
        let left = Sites::one(self.site);
        if self.paired { left | Sites::one(Site(self.site.0 + 1)) } else { left }
    }

    /// Its site on a side: of a zone in the middle its only one.
    #[must_use]
    pub const fn site_on(&self, side: Side) -> Site {
        if self.paired && matches!(side, Side::Right) { Site(self.site.0 + 1) } else { self.site }
    }
}

/// A dog or a bitch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum Sex {
    Dog,
    Bitch,
}

/// Where the groomer stands, in the order in which one goes round the table.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum Station {
    Under,
    Side,
    Rear,
    Front,
    Head,
}

/// What the skin is like: it caps how far apart teeth may stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum Skin {
    Flat,
    Thin,
    Fold,
    Edge,
}

/// What a place does to the tool that works it, or asks of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Hygiene {
    /// A tool that was here is cleaned before it goes to a place that wants it clean.
    Soils,
    /// It wants a clean tool.
    Clean,
}

/// A group of zones.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Group {
    /// Its number in [`PlaceName::Group`].
    pub id: u16,
    /// What it includes.
    pub about: String,
    /// Its sites.
    pub sites: Sites,
    /// Where it is declared.
    pub place: Place,
}

/// A small part of a zone.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Mark {
    /// Its name.
    pub name: SmolStr,
    /// What it is.
    pub about: String,
    /// The sites that it lies on.
    pub sites: Sites,
    /// Only on a dog or only on a bitch.
    pub sex: Option<Sex>,
    /// Whether it is felt for before a tool comes near.
    pub find: bool,
    /// As a landmark, in words: `the last rib`.
    pub landmark: Option<String>,
    /// Neighbours whose border it marks: a blend of theirs starts from it.
    pub parts: Vec<(ZoneId, ZoneId)>,
    /// Said at the step.
    pub cautions: Vec<String>,
    /// Where it is declared.
    pub place: Place,
}

/// A coat.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Coat {
    /// Its name.
    pub name: SmolStr,
    /// What it is like.
    pub about: String,
    /// `curl`, `wire`, …
    pub texture: SmolStr,
    /// `none`, `some`, `heavy`.
    pub undercoat: SmolStr,
    /// The words of its genes line.
    pub genes: Vec<SmolStr>,
    /// What a blade leaves with the coat, over its length in reverse.
    pub with_coat: Interval<Factor>,
    /// The same across the coat.
    pub across_coat: Interval<Factor>,
    /// What a comb leaves with the coat, over its length.
    pub comb_with_coat: Interval<Factor>,
    /// What the first pass leaves more, until combed up and repeated.
    pub first_pass: Interval<Factor>,
    /// The step that shows.
    pub shows: Length,
    /// The same as a share of the longer side; the larger counts.
    pub shows_share: Factor,
    /// Growth.
    pub grows: Interval<Growth>,
    /// Natural length, if it ends.
    pub grows_to: Option<Length>,
    /// Up to which length it stands.
    pub stands_to: Option<Length>,
    /// Shortest length without the owner's consent, where clipping risks poor regrowth.
    pub shortest: Option<Length>,
    /// How long it takes, unbrushed at two to four centimetres, to the first tight mat.
    pub mats_after: Option<Interval<Time>>,
    /// Whether clipping it short risks poor regrowth.
    pub regrowth_poor: bool,
    /// Whether it can be hand-stripped.
    pub strips: bool,
    /// How it is dried.
    pub dries: Option<StepId>,
    /// How fast it dries so; else as fast as the tool goes.
    pub dries_at: Option<Interval<Rate>>,
    /// Where it is declared.
    pub place: Place,
}

/// Kinds of tool.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum ToolKind {
    Blade,
    Comb,
    Clipper,
    Thinners,
    Shears,
    Knife,
    Hand,
    Carder,
    Rake,
    Brush,
    Dryer,
    Nails,
}

impl Coat {
    /// The step that it hides by itself beside hair of this length.
    #[must_use]
    pub fn hides(&self, longer: Length) -> Length {
        self.shows.max(longer.times(self.shows_share))
    }

    /// Whether every tool leaves on it what it leaves on another coat.
    #[must_use]
    pub fn leaves_like(&self, other: &Self) -> bool {
        let factors = |c: &Self| [c.with_coat, c.across_coat, c.comb_with_coat, c.first_pass];
        factors(self) == factors(other)
    }
}

/// Who may use a blade on bare skin.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum Bare {
    Never,
    Named,
    Trained,
    Yes,
}

/// A tool.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Tool {
    /// Its name (`#10`, `comb-19`, `shears`).
    pub name: SmolStr,
    /// What it is.
    pub about: String,
    /// Its kind.
    pub kind: ToolKind,
    /// What it leaves in reverse.
    pub leaves: Option<Interval<Length>>,
    /// How near the skin its edge runs.
    pub closeness: Option<Length>,
    /// How far its teeth stand apart.
    pub gap: Option<Gap>,
    /// The verbs it can do.
    pub does: Vec<SmolStr>,
    /// The motion by which it blends.
    pub blends: Option<MannerId>,
    /// The blades that a comb sits on, the usual one first.
    pub over: Vec<ToolId>,
    /// Who may use it on bare skin.
    pub bare: Bare,
    /// What it does in an minute.
    pub rate: Option<Interval<Rate>>,
    /// How long until it is warm.
    pub warms: Option<Interval<Time>>,
    /// Said at the step.
    pub cautions: Vec<String>,
    /// Where it is declared.
    pub place: Place,
}

/// What a salon owns.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Kit {
    /// Its name.
    pub name: SmolStr,
    /// The tools, and how many of each.
    pub owns: Vec<(ToolId, u32)>,
    /// Where it is declared.
    pub place: Place,
}

/// A step of preparation, drying or ending.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Step {
    /// Its name.
    pub name: SmolStr,
    /// What it is, said on the sheet.
    pub about: String,
    /// When in the visit; none for what comes whenever it is due.
    pub stage: Option<Stage>,
    /// For a finishing step, or one without a stage: the parts that it works. For another: where it is done.
    pub on: Sites,
    /// The tool whose rate tells how long it takes over the whole dog.
    pub uses: Option<ToolId>,
    /// What the owner is asked about.
    pub asks: Vec<SmolStr>,
    /// What the owner must not have refused where a finding asks for it.
    pub needs: Vec<SmolStr>,
    /// What is done instead where it is ruled out, the first choice first.
    pub or_else: Vec<StepId>,
    /// How fast it goes over what it is done to: the mats, or else the whole dog.
    pub rate: Option<Interval<Rate>>,
    /// No longer than this, however much there is to do.
    pub most: Option<Time>,
    /// For how long its outcome on a card holds.
    pub good_for: Option<Time>,
    /// How long, whatever the dog's size; what `rate` tells comes on top.
    pub minutes: Option<Interval<Time>>,
    /// How often it is due while the work goes on.
    pub every: Option<Interval<Time>>,
    /// Steps that come before it.
    pub after: Vec<SmolStr>,
    /// Whether it may be done on a wet coat.
    pub wet: bool,
    /// Whether the dog stands for it, so that it counts for what the dog bears.
    pub stands: bool,
    /// Whether it may wait for another visit when a dog can't bear all of it today.
    pub waits: bool,
    /// How long any dog may stand at a stretch and in all: those of `rest`.
    pub keeps: Vec<KeepLine>,
    /// Said at the step.
    pub cautions: Vec<String>,
    /// Said to the owner of what was done: `nails cut`.
    pub owner: Option<String>,
    /// Where it is declared.
    pub place: Place,
}

/// The parts of a visit, in order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum Stage {
    Intake,
    DryPrep,
    Rough,
    Wash,
    Dry,
    Check,
    Finish,
    LastLook,
}

/// A shape (`column`) or a way of working (`comb up`, `skimming`).
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Manner {
    /// Its name.
    pub name: SmolStr,
    /// What it is.
    pub about: String,
    /// Where it makes sense; none is anywhere.
    pub on: Sites,
    /// For a motion: whether the hand lets the length run out evenly, so that no comb or blade is needed between.
    pub freehand: bool,
    /// For a motion: the step that it can hide; for one by free hand, the step from which on it takes its whole band.
    pub closes: Option<Length>,
    /// For a motion: how long its band is along the stroke.
    pub along: Option<Interval<Length>>,
    /// Whether it is a motion rather than a shape.
    pub motion: bool,
    /// Where it is declared.
    pub place: Place,
}

impl Trade {
    /// Whether a ban names this tool.
    #[must_use]
    pub fn names(&self, ban: Ban, tool: ToolId) -> bool {
        match ban {
            Ban::Tool(t) => t == tool,
            Ban::Kind(kind) => self.tool(tool).is_some_and(|t| t.kind == kind),
            Ban::AnyClipper => self.tool(tool).is_some_and(|t| t.kind.on_clipper()),
            Ban::Step(_) => false,
        }
    }

    /// Whether a bound rules a step out, by its own name or by the tool that it uses.
    #[must_use]
    pub fn rules_out(&self, bound: &Bound, step: StepId) -> bool {
        let Bound::Never(bans) = bound else { return false };
        let uses = self.step(step).and_then(|s| s.uses);
        bans.iter().any(|ban| match ban {
            Ban::Step(banned) => *banned == step,
            other => uses.is_some_and(|tool| self.names(*other, tool)),
        })
    }

    /// A zone by number.
    #[must_use]
    pub fn zone(&self, id: ZoneId) -> Option<&Zone> {
        self.zones.get(id.0 as usize)
    }

    /// A tool by number.
    #[must_use]
    pub fn tool(&self, id: ToolId) -> Option<&Tool> {
        self.tools.get(id.0 as usize)
    }

    /// A finding by number.
    #[must_use]
    pub fn finding(&self, id: FindingId) -> Option<&Finding> {
        self.findings.get(id.0 as usize)
    }

    /// A step by number.
    #[must_use]
    pub fn step(&self, id: StepId) -> Option<&Step> {
        self.steps.get(id.0 as usize)
    }

    /// The step of this name.
    #[must_use]
    pub fn step_called(&self, name: &str) -> Option<&Step> {
        self.step(*self.index.steps.get(name)?)
    }

    /// How long the step of this name takes; nought if the basics don't say.
    #[must_use]
    pub fn minutes_of(&self, step: &str) -> Interval<Time> {
        self.step_called(step).and_then(|step| step.minutes).unwrap_or_default()
    }

    /// A coat by number.
    #[must_use]
    pub fn coat(&self, id: CoatId) -> Option<&Coat> {
        self.coats.get(id.0 as usize)
    }

    /// A shape or way of working by number.
    #[must_use]
    pub fn manner(&self, id: MannerId) -> Option<&Manner> {
        self.manners.get(id.0 as usize)
    }

    /// The leaf zone of this name.
    #[must_use]
    pub fn zone_called(&self, name: &str) -> Option<ZoneId> {
        match self.index.places.get(name)? {
            PlaceName::Zone(id) => Some(*id),
            PlaceName::Group(_) | PlaceName::Mark(_) => None,
        }
    }

    /// The zone of a site, and its side if the zone is paired.
    #[must_use]
    pub fn zone_of(&self, site: Site) -> Option<(&Zone, Option<Side>)> {
        // Zones are in the order of their sites.
        let at = self.zones.partition_point(|z| z.site.0 <= site.0).checked_sub(1)?;
        let zone = self.zones.get(at)?;
        let side = zone.paired.then_some(if site == zone.site { Side::Left } else { Side::Right });
        Some((zone, side))
    }

    /// Those of some places that soil a tool, or that want it clean.
    #[must_use]
    pub fn of_hygiene(&self, sites: Sites, hygiene: Hygiene) -> Sites {
        let is = |site: &Site| self.zone_of(*site).is_some_and(|(zone, _)| zone.hygiene == Some(hygiene));
        sites.iter().filter(is).collect()
    }

    /// Whether there is such a place among them.
    #[must_use]
    pub fn hygiene_at(&self, sites: Sites, hygiene: Hygiene) -> bool {
        !self.of_hygiene(sites, hygiene).is_empty()
    }

    /// Every site of the body.
    #[must_use]
    pub fn all_sites(&self) -> Sites {
        self.zones.iter().fold(Sites::NONE, |set, zone| set | zone.sites())
    }

    /// The sites that a name of a place stands for.
    #[must_use]
    pub fn sites_of(&self, name: &str) -> Option<Sites> {
        match self.index.places.get(name)? {
            PlaceName::Zone(id) => self.zones.get(id.0 as usize).map(Zone::sites),
            PlaceName::Group(id) => self.groups.values().find(|g| g.id == *id).map(|g| g.sites),
            PlaceName::Mark(id) => self.marks.get(id.0 as usize).map(|m| m.sites),
        }
    }

    /// The left or right half of a set of sites; sites in the middle stay.
    #[must_use]
    pub fn half(&self, sites: Sites, side: Side) -> Sites {
        sites.iter().filter(|&site| self.zone_of(site).is_some_and(|(_, s)| s.is_none_or(|s| s == side))).collect()
    }

    /// The same sites and those across from them.
    #[must_use]
    pub fn both_sides(&self, sites: Sites) -> Sites {
        sites.iter().filter_map(|site| self.zone_of(site)).fold(Sites::NONE, |set, (zone, _)| set | zone.sites())
    }

    /// How near an edge may come that must stay `classes` over `tool`: the classes run along the blades, then along the
    /// combs. Past the last of them nothing is far enough.
    #[must_use]
    pub fn classes_over(&self, tool: ToolId, classes: u32) -> Option<Length> {
        let from = self.tool(tool)?.closeness?;
        let lengths = |kind: ToolKind, above: Length| {
            let longer =
                self.tools.iter().filter(|t| t.kind == kind).filter_map(|t| t.closeness).filter(|c| *c > above);
            let mut longer: Vec<Length> = longer.collect();
            longer.sort_unstable();
            longer.dedup();
            longer
        };
        let mut ladder = lengths(ToolKind::Blade, from);
        let top = ladder.last().copied().unwrap_or(from);
        ladder.extend(lengths(ToolKind::Comb, top));
        let at = (classes as usize).checked_sub(1)?;
        Some(ladder.get(at).copied().unwrap_or(Length(i64::MAX)))
    }
}
