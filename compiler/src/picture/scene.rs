//! One view of a dog with its coat on: which patch is what, and the shapes of all.

use super::coat::{Coat, Stand, Strip};
use super::scale::{self, Class};
use crate::atlas::{self, Kind, Part, Placed};
use crate::names::sites::Site;
use crate::names::trade::{Side, Trade};
use crate::sheet::{Seen, SeenPlace};
use kurbo::{Point, Rect};
use std::collections::BTreeMap;

/// Which coat is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Moment {
    /// As the dog came.
    Before,
    /// As it goes.
    After,
}

/// How a face is filled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fill {
    /// A step of the scale.
    Class(usize),
    /// Left as it is.
    Left,
    /// Without coat.
    Bare,
}

impl Fill {
    /// Colour, ink and hatching.
    #[must_use]
    pub fn class(self) -> Class {
        match self {
            Self::Class(n) => scale::SCALE.get(n).copied().unwrap_or(scale::LEFT),
            Self::Left => scale::LEFT,
            Self::Bare => Class { colour: scale::BARE, ink: "#ffffff", ..scale::LEFT },
        }
    }
}

/// What a patch is: the same fill, finished in the same step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Paint {
    /// Its fill.
    pub fill: Fill,
    /// Its step.
    pub step: Option<u32>,
}

/// A layer with its coat.
#[derive(Debug)]
pub struct Coated<'p> {
    /// The layer.
    pub part: &'p Part<'p>,
    /// What each face is.
    pub paints: Vec<Paint>,
    /// Its coat, rim by rim.
    pub coats: Vec<Coat>,
    /// The same, face by face.
    pub strips: Vec<Strip>,
    /// For each face the number of its patch: faces of one paint that border on one another.
    pub patches: Vec<usize>,
}

/// A view with its coat.
#[derive(Debug)]
pub struct Scene<'p> {
    /// The view.
    pub placed: &'p Placed<'p>,
    /// Its layers.
    pub layers: Vec<Coated<'p>>,
    /// What it takes up, coat included.
    pub bounds: Rect,
}

/// Places of the sheet by site.
pub type Places<'s> = BTreeMap<Site, &'s SeenPlace>;

/// The places of a dog by site.
#[must_use]
pub fn places<'s>(seen: &'s Seen, trade: &Trade) -> Places<'s> {
    seen.places.iter().filter_map(|place| Some((site(trade, &place.zone, place.side.as_deref())?, place))).collect()
}

/// The site of a zone and side in words.
#[must_use]
pub fn site(trade: &Trade, zone: &str, side: Option<&str>) -> Option<Site> {
    let side = if side == Some(Side::Right.as_str()) { Side::Right } else { Side::Left };
    Some(trade.zone(trade.zone_called(zone)?)?.site_on(side))
}

impl<'p> Scene<'p> {
    /// Dresses a view.
    #[must_use]
    pub fn dress(placed: &'p Placed<'p>, places: &Places<'_>, moment: Moment) -> Self {
        let layers: Vec<Coated<'p>> = placed.parts.iter().map(|p| coated(placed, p, places, moment)).collect();
        let faces = layers.iter().flat_map(|l| l.part.map.faces.iter().flat_map(|f| &f.polygon));
        let coats = layers.iter().flat_map(|l| l.coats.iter().flat_map(|c| &c.out));
        let bounds = atlas::bounds(faces.chain(coats)).unwrap_or_default();
        Self { placed, layers, bounds }
    }

    /// What covers a layer: the faces and the coat of the layers over it.
    #[must_use]
    pub fn over(&self, layer: usize) -> Vec<Vec<Point>> {
        self.layers
            .iter()
            .skip(layer + 1)
            .flat_map(|l| {
                let faces = l.part.map.faces.iter().map(|f| f.polygon.clone());
                faces.chain(l.strips.iter().map(Strip::ring))
            })
            .collect()
    }
}

fn coated<'p>(placed: &Placed<'_>, part: &'p Part<'p>, places: &Places<'_>, moment: Moment) -> Coated<'p> {
    let place = |face: usize| part.sites.get(face).copied().flatten().and_then(|s| places.get(&s));
    let length = |place: &SeenPlace| match moment {
        Moment::Before => place.before,
        Moment::After => place.after,
    };
    let paints: Vec<Paint> = (0..part.map.faces.len())
        .map(|face| match place(face) {
            None => Paint { fill: Fill::Bare, step: None },
            Some(place) => match place.step {
                Some(step) => Paint { fill: Fill::Class(scale::class(length(place))), step: Some(step) },
                None => Paint { fill: Fill::Left, step: None },
            },
        })
        .collect();
    let stand = |face: usize| {
        let Some(place) = place(face) else { return Stand::default() };
        let length = length(place);
        Stand { length: length * placed.units, off: length.min(place.stands) * placed.units * part.layer.lift }
    };
    let coats: Vec<Coat> = if placed.view.flat {
        Vec::new()
    } else {
        part.map.rims.iter().map(|rim| Coat::round(&part.map, rim, &stand, placed.ground)).collect()
    };
    let strips = coats.iter().flat_map(Coat::strips).collect();
    let patches = patches(part, &paints);
    Coated { part, paints, coats, strips, patches }
}

/// Numbers of patches, one for each face.
fn patches(part: &Part<'_>, paints: &[Paint]) -> Vec<usize> {
    let mut patch: Vec<usize> = (0..paints.len()).collect();
    let joined = part.map.borders(Kind::Seam).into_keys();
    for (a, b) in joined.filter(|(a, b)| paints.get(*a) == paints.get(*b)) {
        if let (Some(from), Some(to)) = (patch.get(a).copied(), patch.get(b).copied()) {
            patch.iter_mut().filter(|p| **p == from).for_each(|p| *p = to);
        }
    }
    patch
}
