//! What the drawing measures: borders, and areas.

use super::body::{Body, Figure};
use super::drawing::{Drawing, Kind};
use super::measures::Measures;
use super::shapes::Shapes;
use crate::basics;
use crate::names::trade::{Trade, Zone, ZoneId};
use smol_str::SmolStr;
use std::collections::BTreeMap;
use std::f64::consts::PI;
use std::sync::Arc;

/// The border of two zones.
#[derive(Clone, Debug, PartialEq)]
pub struct Border {
    /// The one.
    pub a: ZoneId,
    /// The other.
    pub b: ZoneId,
    /// How long it is, over the height at the withers; none where no view can show it.
    pub length: Option<f64>,
}

/// The borders on the basics' own drawing, as [`borders`] has them for the figure's shape, with its girth to the hundredth.
#[must_use]
pub fn borders_of(figure: &Figure) -> Arc<Vec<Border>> {
    static KNOWN: Shapes<Vec<Border>> = Shapes::new();
    let drawing = super::drawing();
    KNOWN.of(drawing, figure, |figure| borders(drawing, &basics::shared(), figure))
}

/// The borders of a dog, each pair once, the lower zone first. A border that several views show counts where it is longest.
#[must_use]
pub fn borders(drawing: &Drawing, trade: &Trade, figure: &Figure) -> Vec<Border> {
    let body = Body::whole(drawing, trade, figure, &mut Vec::new());
    let height = figure.measures.height;
    let mut all: BTreeMap<(ZoneId, ZoneId), Option<f64>> = BTreeMap::new();
    for placed in &body.views {
        for part in &placed.parts {
            for ((f, g), length) in part.map.borders(Kind::Seam) {
                let id =
                    |face: usize| trade.zone_called(&part.layer.labels.get(part.map.faces.get(face)?.label?)?.name);
                let (Some(a), Some(b)) = (id(f), id(g)) else { continue };
                if a == b {
                    continue;
                }
                let length = length / placed.units / height;
                let slot = all.entry((a.min(b), a.max(b))).or_default();
                *slot = Some(slot.map_or(length, |l: f64| l.max(length)));
            }
        }
        for (a, b, _) in &placed.view.attach {
            if let (Some(a), Some(b)) = (trade.zone_called(a), trade.zone_called(b)) {
                all.entry((a.min(b), a.max(b))).or_default();
            }
        }
    }
    all.into_iter().map(|((a, b), length)| Border { a, b, length }).collect()
}

/// The share of each region of the body, as the side view alone has it: the check against the published chart.
///
/// A trunk or a neck seen from the side is taken for a cylinder: π times what is seen. A free leg is one as well, and there are
/// two: 2π. An ear is a flap with two sides, and there are two: 4.
#[must_use]
pub fn region_shares(drawing: &Drawing, trade: &Trade, figure: &Figure) -> BTreeMap<SmolStr, f64> {
    let mut shares: BTreeMap<SmolStr, f64> = BTreeMap::new();
    for (zone, seen) in seen(drawing, trade, figure) {
        let round = if drawing.limbs.contains(&zone.name) {
            2.0 * PI
        } else if drawing.flaps.contains(&zone.name) {
            4.0
        } else {
            PI
        };
        *shares.entry(zone.region.clone()).or_default() += round * seen;
    }
    let sum: f64 = shares.values().sum();
    shares.values_mut().for_each(|s| *s /= sum);
    shares
}

/// What the side view shows of each zone, in square units.
fn seen<'t>(drawing: &Drawing, trade: &'t Trade, figure: &Figure) -> Vec<(&'t Zone, f64)> {
    let body = Body::place(drawing, trade, figure, &[("side", false)], &mut Vec::new());
    let mut seen: BTreeMap<ZoneId, f64> = BTreeMap::new();
    for part in body.views.iter().flat_map(|v| &v.parts) {
        for face in &part.map.faces {
            let label = face.label.and_then(|l| part.layer.labels.get(l));
            if let Some(id) = label.and_then(|l| trade.zone_called(&l.name)) {
                *seen.entry(id).or_default() += face.area;
            }
        }
    }
    seen.into_iter().filter_map(|(id, area)| trade.zone(id).map(|z| (z, area))).collect()
}

/// The share of each zone of this figure's surface: the share of the basics, which is that of a dog of no special build, times
/// what the drawing has more or less of the zone on this figure, all together 1 (as the shares of the basics are, with the
/// zones of both sexes). A zone that the side view doesn't show goes with its region.
#[must_use]
pub fn areas(trade: &Trade, figure: &Figure) -> BTreeMap<ZoneId, f64> {
    let grown = grown(figure);
    let mut shares: BTreeMap<ZoneId, f64> = BTreeMap::new();
    for (number, zone) in trade.zones.iter().enumerate() {
        #[allow(clippy::cast_precision_loss)]
        let share = zone.share.0 as f64 / 1_000_000.0;
        let grown = grown.zones.get(&zone.name).or_else(|| grown.regions.get(&zone.region)).copied().unwrap_or(1.0);
        shares.insert(ZoneId(u16::try_from(number).unwrap_or(u16::MAX)), share * grown);
    }
    let sum: f64 = shares.values().sum();
    shares.values_mut().for_each(|s| *s /= sum);
    shares
}

/// What the side view shows of each zone and region, in square units; or that over what it shows of another figure.
#[derive(Debug, Default)]
struct Grown {
    zones: BTreeMap<SmolStr, f64>,
    regions: BTreeMap<SmolStr, f64>,
}

/// What a figure has of each zone and region, over what one of no special build has.
fn grown(figure: &Figure) -> Arc<Grown> {
    static KNOWN: Shapes<Grown> = Shapes::new();
    let drawing = super::drawing();
    KNOWN.of(drawing, figure, |figure| {
        let build = drawing.weighs.first().map(|(build, ..)| build.clone()).unwrap_or_default();
        let measures = Measures { build, height: figure.measures.height, girth: 1.0 };
        let usual = Figure { measures, ..figure.clone() };
        // Most dogs are of no special build, and there is nothing to compare.
        if usual == *figure { Grown::default() } else { over(shown(drawing, figure), &usual_shown(drawing, &usual)) }
    })
}

/// As [`shown`], for figures of no special build: there are few of them.
fn usual_shown(drawing: &Drawing, usual: &Figure) -> Arc<Grown> {
    static KNOWN: Shapes<Grown> = Shapes::new();
    KNOWN.of(drawing, usual, |usual| shown(drawing, usual))
}

fn shown(drawing: &Drawing, figure: &Figure) -> Grown {
    let mut grown = Grown::default();
    for (zone, area) in seen(drawing, &basics::shared(), figure) {
        grown.zones.insert(zone.name.clone(), area);
        *grown.regions.entry(zone.region.clone()).or_default() += area;
    }
    grown
}

fn over(now: Grown, usual: &Grown) -> Grown {
    let ratios = |now: BTreeMap<SmolStr, f64>, usual: &BTreeMap<SmolStr, f64>| {
        let over = |(name, area): (SmolStr, f64)| {
            let usual = usual.get(&name).copied().filter(|usual| *usual > 0.0)?;
            Some((name, area / usual))
        };
        now.into_iter().filter_map(over).collect()
    };
    Grown { zones: ratios(now.zones, &usual.zones), regions: ratios(now.regions, &usual.regions) }
}
