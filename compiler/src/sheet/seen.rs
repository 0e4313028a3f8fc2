//! What the picture needs to know: every place with its step and its lengths, as data.

use super::build::Builder;
use super::facts::Danger;
use super::make::Made;
use crate::atlas::{self, Figure};
use crate::finish::Finish;
use crate::measure::{Interval, Length, MM};
use crate::names::sites::{Site, Sites};
use crate::names::trade::Sex;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use smol_str::SmolStr;

/// The dog as it is drawn: before and after, place by place.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct Seen {
    /// `square`, `long` …
    pub build: String,
    /// How it wears its ears: `drop`, `prick` …
    pub ears: String,
    /// What its tail is like: `sabre`, `short` …
    pub tail: String,
    /// `dog` or `bitch`; none if the card doesn't tell.
    pub sex: Option<String>,
    /// Height at the withers in mm, worked out from the weight where the card doesn't tell it.
    pub height: f64,
    /// Depth and width of the trunk over what is usual at that height.
    pub girth: f64,
    /// Every place that this dog has.
    pub places: Vec<SeenPlace>,
    /// The dangers that have a place, by letter.
    pub dangers: Vec<SeenDanger>,
}

/// One place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SeenPlace {
    /// The zone.
    pub zone: String,
    /// `left` or `right` of a zone that the dog has twice.
    pub side: Option<String>,
    /// The coat's length today, in mm: that of the card, else that to which the coat grows.
    pub before: f64,
    /// The coat's length after, in mm.
    pub after: f64,
    /// The length up to which this coat stands, in mm; what is longer hangs.
    pub stands: f64,
    /// The step that finishes it.
    pub step: Option<u32>,
    /// Whether a clipper runs over it, so that turns of the hair matter.
    pub clipped: bool,
}

/// A danger with its place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SeenDanger {
    /// Which of the sheet's dangers, counted from 0; those beyond its lines stand in its line `also`.
    pub danger: usize,
    /// The letter in the picture.
    pub letter: char,
    /// Zones and sides.
    pub at: Vec<(String, Option<String>)>,
    /// A part of a zone that the card names: `lips`.
    pub part: Option<String>,
}

/// Millimetres of a length.
#[allow(clippy::cast_precision_loss)]
fn mm(length: Length) -> f64 {
    length.0 as f64 / MM as f64
}

impl Builder<'_> {
    /// The dog as it is drawn. `steps` tells which step finishes which places.
    pub(super) fn seen(&self, steps: &[(u32, Sites)], dangers: Vec<SeenDanger>) -> Seen {
        let Made { trade, dog, finishes, .. } = self.made;
        let drawing = atlas::drawing();
        let figure = Figure::of(dog, drawing);
        let place = |site: Site| {
            let (zone, side) = trade.zone_of(site)?;
            let coat = dog.coat_at(site).and_then(|c| trade.coat(c));
            let before = dog.length_at(site).or_else(|| coat.and_then(|c| c.grows_to)).map_or(LONG, mm);
            let finish = finishes.at(site);
            let after = finish.and_then(left_by).map_or(before, |l| l.min(before));
            let tool = finish.and_then(|f| f.fine.tool).and_then(|t| trade.tool(t));
            Some(SeenPlace {
                zone: zone.name.to_string(),
                side: side.map(|s| s.as_str().to_owned()),
                before,
                after,
                stands: coat.and_then(|c| c.stands_to).map_or(before.max(after), mm),
                step: steps.iter().rev().find(|(_, sites)| sites.has(site)).map(|(n, _)| *n),
                clipped: tool.is_some_and(|t| t.kind.on_clipper()),
            })
        };
        Seen {
            build: figure.measures.build.to_string(),
            ears: figure.ears.to_string(),
            tail: figure.tail.to_string(),
            sex: figure.sex.map(|s| if s == Sex::Dog { "dog" } else { "bitch" }.to_owned()),
            height: figure.measures.height.round(),
            girth: (figure.measures.girth * 1000.0).round() / 1000.0,
            places: finishes.all.iter().filter_map(|f| place(f.site)).collect(),
            dangers,
        }
    }
}

impl Builder<'_> {
    /// The dangers that have a place, each with its letter.
    pub(super) fn letters(&self, dangers: &[Danger]) -> Vec<SeenDanger> {
        let trade = &self.made.trade;
        let placed = dangers.iter().enumerate().filter(|(_, d)| !d.sites.is_empty() && d.sites != trade.all_sites());
        let at = |site: Site| {
            let (zone, side) = trade.zone_of(site)?;
            Some((zone.name.to_string(), side.map(|s| s.as_str().to_owned())))
        };
        ('A'..)
            .zip(placed)
            .map(|(letter, (number, danger))| SeenDanger {
                danger: number,
                letter,
                at: danger.sites.iter().filter_map(at).collect(),
                part: danger.mark.and_then(|m| trade.marks.get(usize::from(m.0))).map(|m| m.name.to_string()),
            })
            .collect()
    }
}

/// A coat of which nobody knows how long it is or grows is drawn as long as this.
const LONG: f64 = 50.0;

/// What a finish leaves, in mm: the middle of its interval.
fn left_by(finish: &Finish) -> Option<f64> {
    finish.fine.leaves.map(|Interval { low, high }| f64::midpoint(mm(low), mm(high)))
}

impl Seen {
    /// The figure that the drawing places.
    #[must_use]
    pub fn figure(&self) -> Figure {
        Figure {
            measures: atlas::Measures {
                build: SmolStr::from(self.build.as_str()),
                height: self.height,
                girth: self.girth,
            },
            ears: SmolStr::from(self.ears.as_str()),
            tail: SmolStr::from(self.tail.as_str()),
            sex: match self.sex.as_deref() {
                Some("dog") => Some(Sex::Dog),
                Some(_) => Some(Sex::Bitch),
                None => None,
            },
        }
    }
}
