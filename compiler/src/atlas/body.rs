//! The drawing as one dog has it: warped to its measures, with its ears, its tail and its sex, every face a site.

use super::Fault;
use super::drawing::{Axis, Drawing, Facing, Kind, Label, Layer, Line, Turn, View};
use super::map::Map;
use super::measures::Measures;
use super::warp::Warp;
use crate::names::card::Dog;
use crate::names::sites::Site;
use crate::names::trade::{Sex, Side, Trade};
use kurbo::{Point, Vec2};
use smol_str::SmolStr;

/// What the drawing needs to know of a dog.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// Its measures.
    pub measures: Measures,
    /// How it wears its ears.
    pub ears: SmolStr,
    /// How it wears its tail.
    pub tail: SmolStr,
    /// Dog or bitch.
    pub sex: Option<Sex>,
}

impl Figure {
    /// The figure of a card. Ears and tail that it doesn't tell are the first of the drawing.
    #[must_use]
    pub fn of(dog: &Dog, drawing: &Drawing) -> Self {
        let variant = |kind, told: Option<&SmolStr>| {
            told.or_else(|| drawing.variants(kind).first().copied()).cloned().unwrap_or_default()
        };
        Self {
            measures: Measures::of(dog, drawing),
            ears: variant("ears", dog.ears.as_ref()),
            tail: variant("tail", dog.tail.as_ref()),
            sex: dog.sex,
        }
    }

    fn wears(&self, variant: Option<&(SmolStr, SmolStr)>) -> bool {
        variant.is_none_or(|(kind, value)| match kind.as_str() {
            "ears" => *value == self.ears,
            "tail" => *value == self.tail,
            _ => false,
        })
    }
}

/// Some views of a dog.
#[derive(Debug)]
pub struct Body<'d> {
    /// The views.
    pub views: Vec<Placed<'d>>,
}

/// A view of a dog.
#[derive(Debug)]
pub struct Placed<'d> {
    /// The view as drawn.
    pub view: &'d View,
    /// Whether it is turned, so that the other side shows.
    pub turned: bool,
    /// Units of this view for a millimetre on the dog.
    pub units: f64,
    /// Where the ground is, if the view has one.
    pub ground: Option<f64>,
    /// The layers that this dog has.
    pub parts: Vec<Part<'d>>,
    turns: Vec<&'d Turn>,
    warps: (Option<Warp>, Option<Warp>),
}

/// A layer of a dog.
#[derive(Debug)]
pub struct Part<'d> {
    /// The layer as drawn.
    pub layer: &'d Layer,
    /// Its faces.
    pub map: Map,
    /// The site of each face; none for a face without coat.
    pub sites: Vec<Option<Site>>,
}

impl Part<'_> {
    /// The faces of some zones that hang together with the first of them: fore and hind feet are one zone.
    #[must_use]
    pub fn leg(&self, zones: &[SmolStr]) -> Vec<usize> {
        let name = |face: usize| {
            let label = self.map.faces.get(face)?.label?;
            self.layer.labels.get(label).map(|l| &l.name)
        };
        let mut faces: Vec<usize> =
            (0..self.map.faces.len()).filter(|f| name(*f).is_some_and(|n| zones.contains(n))).collect();
        let Some(first) = faces.iter().copied().find(|f| name(*f) == zones.first()) else { return Vec::new() };
        self.connected(&mut faces, first)
    }

    /// Takes from `faces` those that hang together with the first by seams.
    pub fn connected(&self, faces: &mut Vec<usize>, first: usize) -> Vec<usize> {
        let borders = self.map.borders(Kind::Seam);
        let mut group = vec![first];
        faces.retain(|f| *f != first);
        loop {
            let next = borders.keys().find_map(|(a, b)| match (group.contains(a), group.contains(b)) {
                (true, false) => faces.contains(b).then_some(*b),
                (false, true) => faces.contains(a).then_some(*a),
                _ => None,
            });
            let Some(next) = next else { return group };
            faces.retain(|f| *f != next);
            group.push(next);
        }
    }
}

impl<'d> Body<'d> {
    /// Places some views, each with whether it is turned. What is wrong is added to `faults`.
    #[must_use]
    pub fn place(
        drawing: &'d Drawing,
        trade: &Trade,
        figure: &Figure,
        views: &[(&str, bool)],
        faults: &mut Vec<Fault>,
    ) -> Self {
        let units = units(drawing, figure);
        let views = views
            .iter()
            .filter_map(|(name, turned)| drawing.view(name).map(|v| (v, *turned)))
            .filter_map(|(view, turned)| placed(view, turned, trade, figure, units, faults))
            .collect();
        Self { views }
    }

    /// Every view of the drawing.
    #[must_use]
    pub fn whole(drawing: &'d Drawing, trade: &Trade, figure: &Figure, faults: &mut Vec<Fault>) -> Self {
        let views: Vec<(&str, bool)> = drawing.views.iter().map(|v| (v.name.as_str(), false)).collect();
        Self::place(drawing, trade, figure, &views, faults)
    }

    /// A view by its name.
    #[must_use]
    pub fn view(&self, name: &str) -> Option<&Placed<'d>> {
        self.views.iter().find(|v| v.view.name == name)
    }
}

/// Units of the side view for a millimetre: its withers stand as high as the dog's.
fn units(drawing: &Drawing, figure: &Figure) -> f64 {
    let high = drawing.views.iter().find_map(|v| {
        let knots = knots(&v.y, figure)?;
        let at = |name: &str| v.y.knots.iter().zip(&knots).find(|((n, _), _)| n == name).map(|(_, (_, to))| *to);
        Some((at("ground")? - at("withers")?) / v.scale)
    });
    high.unwrap_or(500.0) / figure.measures.height.max(1.0)
}

/// Where the knots of an axis stand, and where this dog has them.
fn knots(axis: &Axis, figure: &Figure) -> Option<Vec<(f64, f64)>> {
    let moved = axis.builds.get(&figure.measures.build);
    let built =
        |name: &SmolStr, at: f64| moved.and_then(|m| m.iter().find(|(n, _)| n == name)).map_or(at, |(_, to)| *to);
    let of_build: Vec<(&SmolStr, f64)> = axis.knots.iter().map(|(n, at)| (n, built(n, *at))).collect();
    let find = |name: &SmolStr| of_build.iter().find(|(n, _)| *n == name).map(|(_, to)| *to);
    let pairs: Vec<(f64, f64)> = axis
        .knots
        .iter()
        .zip(&of_build)
        .map(|((name, from), (_, to))| {
            let still = axis.girth.iter().find(|(n, _)| n == name).and_then(|(_, still)| find(still));
            (*from, still.map_or(*to, |still| still + (to - still) * figure.measures.girth))
        })
        .collect();
    (!pairs.is_empty()).then_some(pairs)
}

fn placed<'d>(
    view: &'d View,
    turned: bool,
    trade: &Trade,
    figure: &Figure,
    units: f64,
    faults: &mut Vec<Fault>,
) -> Option<Placed<'d>> {
    let mut warp = |axis: &Axis, name: &str| -> Option<Option<Warp>> {
        let Some(pairs) = knots(axis, figure) else { return Some(None) };
        let warp = Warp::new(&pairs);
        if warp.is_none() {
            let words =
                format!("{}: the knots of axis {name} don't rise for a {} dog", view.name, figure.measures.build);
            faults.push(Fault { file: view.file.clone(), line: 0, words });
            return None;
        }
        Some(warp)
    };
    let warps = (warp(&view.x, "x")?, warp(&view.y, "y")?);
    let turns = view.turns.iter().filter(|t| figure.wears(t.variant.as_ref())).collect();
    let mut placed = Placed { view, turned, units: units * view.scale, ground: None, parts: Vec::new(), turns, warps };
    let ground = view.y.knots.iter().find(|(n, _)| n == "ground").map(|(_, y)| Point::new(0.0, *y));
    placed.ground = ground.map(|p| placed.at(p).y);
    for layer in view.layers.iter().filter(|l| figure.wears(l.variant.as_ref())) {
        let map = Map::trace(view, layer, figure.sex, &|p| placed.at(p), faults);
        let sites = map.faces.iter().map(|face| {
            let label = face.label.and_then(|l| layer.labels.get(l))?;
            placed.site(label, trade, faults)
        });
        let sites = sites.collect();
        placed.parts.push(Part { layer, map, sites });
    }
    Some(placed)
}

impl Placed<'_> {
    /// Where a point of the drawing stands on this dog.
    #[must_use]
    pub fn at(&self, p: Point) -> Point {
        let y = self.warps.1.as_ref().map_or(p.y, |w| w.at(p.y));
        let across = |x: f64| self.warps.0.as_ref().map_or(x, |w| w.at(x));
        let x = match self.view.facing {
            // The axis is that of the drawn half.
            Facing::Both(middle, _) if p.x < middle => 2.0 * middle - across(2.0 * middle - p.x),
            _ => across(p.x),
        };
        Point::new(if self.turned { self.view.size.0 - x } else { x }, y)
    }

    /// The side that is drawn as `side`.
    #[must_use]
    pub const fn side(&self, side: Side) -> Side {
        if self.turned { side.other() } else { side }
    }

    fn site(&self, label: &Label, trade: &Trade, faults: &mut Vec<Fault>) -> Option<Site> {
        if label.blank {
            return None;
        }
        let Some(id) = trade.zone_called(&label.name) else {
            let words = format!("{} is no zone of the basics", label.name);
            let fault = Fault { file: self.view.file.clone(), line: label.line, words };
            if !faults.contains(&fault) {
                faults.push(fault);
            }
            return None;
        };
        Some(trade.zone(id)?.site_on(self.side(label.side)))
    }

    /// The way in which the hair lies at a point of the dog, of length 1: the samples of the drawing, weighed by the inverse
    /// square of their distance. None if the view has no samples.
    #[must_use]
    pub fn flow(&self, at: Point) -> Option<Vec2> {
        let mut sum = Vec2::ZERO;
        for (place, way) in &self.view.flow {
            let from = self.at(*place);
            let way = self.at(*place + *way) - from;
            let near = (from - at).hypot2() + 25.0;
            sum += way / way.hypot().max(1e-9) / near;
        }
        (sum.hypot() > 1e-12).then(|| sum / sum.hypot())
    }

    /// The marks of this view with their sides and places; a meeting line with all its points.
    pub fn turns(&self) -> impl Iterator<Item = (&SmolStr, Side, &Line, Vec<Point>)> {
        self.turns.iter().map(|turn| {
            let places = match &turn.line {
                Line::Whorl(p) | Line::Spot(p) => vec![self.at(*p)],
                Line::Meeting(names) => {
                    names.iter().filter_map(|n| self.view.points.get(n)).map(|p| self.at(*p)).collect()
                }
            };
            (&turn.mark, self.side(turn.side), &turn.line, places)
        })
    }

    /// Faults that only a picture has: strokes that cross.
    #[must_use]
    pub fn crossings(&self) -> Vec<Fault> {
        self.parts.iter().flat_map(|p| p.map.crossings(self.view, p.layer)).collect()
    }
}
