//! What the drawing measures: borders, and areas.

use super::body::{Body, Figure};
use super::drawing::{Drawing, Kind};
use crate::names::trade::{Trade, Zone, ZoneId};
use smol_str::SmolStr;
use std::collections::BTreeMap;
use std::f64::consts::PI;

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
pub fn areas(drawing: &Drawing, trade: &Trade, figure: &Figure) -> BTreeMap<ZoneId, f64> {
    let usual = Figure {
        measures: super::Measures {
            build: drawing.weighs.first().map(|(b, ..)| b.clone()).unwrap_or_default(),
            height: figure.measures.height,
            girth: 1.0,
        },
        ..figure.clone()
    };
    // By zone and by region.
    let measured = |figure: &Figure| {
        let mut zones: BTreeMap<&str, f64> = BTreeMap::new();
        let mut regions: BTreeMap<&str, f64> = BTreeMap::new();
        for (zone, area) in seen(drawing, trade, figure) {
            zones.insert(&zone.name, area);
            *regions.entry(&zone.region).or_default() += area;
        }
        (zones, regions)
    };
    // Most dogs are of no special build, and there is nothing to compare.
    let ((zones, regions), (zones_usual, regions_usual)) =
        if usual == *figure { Default::default() } else { (measured(figure), measured(&usual)) };
    let ratio = |a: Option<&f64>, b: Option<&f64>| match (a, b) {
        (Some(a), Some(b)) if *b > 0.0 => Some(a / b),
        _ => None,
    };
    let mut shares: BTreeMap<ZoneId, f64> = BTreeMap::new();
    for (number, zone) in trade.zones.iter().enumerate() {
        let (name, region) = (zone.name.as_str(), zone.region.as_str());
        let grown = ratio(zones.get(name), zones_usual.get(name))
            .or_else(|| ratio(regions.get(region), regions_usual.get(region)))
            .unwrap_or(1.0);
        #[allow(clippy::cast_precision_loss)]
        let share = zone.share.0 as f64 / 1_000_000.0;
        shares.insert(ZoneId(u16::try_from(number).unwrap_or(u16::MAX)), share * grown);
    }
    let sum: f64 = shares.values().sum();
    shares.values_mut().for_each(|s| *s /= sum);
    shares
}
