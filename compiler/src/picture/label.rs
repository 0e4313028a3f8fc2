//! Where numbers and danger marks stand: inside their patch where it has room, else beside the dog with a line to it.

use super::scene::Scene;
use crate::atlas::{bounds, inside};
use crate::names::sites::{Site, Sites};
use kurbo::{Line, ParamCurveNearest, Point, Vec2};

/// What a label says.
#[derive(Clone, Debug, PartialEq)]
pub enum Says {
    /// A step's number.
    Step(u32),
    /// A danger's letter.
    Danger(char),
}

/// A label.
#[derive(Clone, Debug)]
pub struct Label {
    /// What it says.
    pub says: Says,
    /// Where its middle stands.
    pub at: Point,
    /// The place it is about, where it stands outside.
    pub leads_to: Option<Point>,
    /// Layer and face under it, where it stands inside.
    pub on: Option<(usize, usize)>,
}

/// A danger to be placed.
#[derive(Clone, Debug)]
pub struct Danger {
    /// Its letter.
    pub letter: char,
    /// Its sites.
    pub sites: Sites,
    /// The part that the card names, where this view has it: exactly there.
    pub spots: Vec<Point>,
}

/// The labels of a view; `size` is the height of its numbers, in units. `at_home` tells which sites are labelled in this view:
/// what another view beside it shows better is labelled there. Without `steps` dangers alone are labelled.
#[must_use]
pub fn labels(
    scene: &Scene<'_>,
    dangers: &[Danger],
    size: f64,
    at_home: &dyn Fn(Site) -> bool,
    steps: bool,
) -> Vec<Label> {
    let mut layout = Layout {
        scene,
        size,
        labels: Vec::new(),
        whole: whole(scene),
        over: (0..scene.layers.len()).map(|n| scene.over(n)).collect(),
        at_home,
    };
    for danger in dangers {
        layout.danger(danger);
    }
    if steps {
        layout.steps();
    }
    layout.labels
}

struct Layout<'a> {
    scene: &'a Scene<'a>,
    size: f64,
    labels: Vec<Label>,
    /// Everything that is drawn.
    whole: Vec<Vec<Point>>,
    /// What covers each layer.
    over: Vec<Vec<Vec<Point>>>,
    at_home: &'a dyn Fn(Site) -> bool,
}

/// As many marks of one danger as a view has at most: a finding all over the dog is no finding that is seen.
const MARKS: usize = 2;

/// A patch of a layer.
struct Patch {
    layer: usize,
    faces: Vec<usize>,
    step: Option<u32>,
    area: f64,
    /// Whether a part of it is labelled in this view.
    home: bool,
}

impl Layout<'_> {
    fn danger(&mut self, danger: &Danger) {
        if !danger.spots.is_empty() {
            for spot in danger.spots.iter().take(MARKS) {
                self.put(Says::Danger(danger.letter), *spot, self.size * 0.9, None);
            }
            return;
        }
        // One mark for each stretch of the body that it covers, the roomiest first.
        let mut places: Vec<(Patch, Point, f64)> = Vec::new();
        for (layer, coated) in self.scene.layers.iter().enumerate() {
            let has = |site: &Option<Site>| site.is_some_and(|s| danger.sites.has(s) && (self.at_home)(s));
            let mut faces: Vec<usize> =
                coated.part.sites.iter().enumerate().filter(|(_, s)| has(s)).map(|(n, _)| n).collect();
            while let Some(first) = faces.first().copied() {
                let group = coated.part.connected(&mut faces, first);
                let patch = Patch { layer, faces: group, step: None, area: 0.0, home: true };
                let (at, room) = self.roomiest(&patch);
                if room > 1.0 {
                    places.push((patch, at, room));
                }
            }
        }
        places.sort_by(|a, b| b.2.total_cmp(&a.2));
        for (patch, at, room) in places.iter().take(MARKS) {
            self.put(Says::Danger(danger.letter), *at, *room, Some(patch));
        }
    }

    fn steps(&mut self) {
        let mut patches: Vec<Patch> = Vec::new();
        for (layer, coated) in self.scene.layers.iter().enumerate() {
            for (face, (paint, number)) in coated.paints.iter().zip(&coated.patches).enumerate() {
                let Some(step) = paint.step else { continue };
                let home = coated.part.sites.get(face).copied().flatten().is_some_and(|s| (self.at_home)(s));
                let area = coated.part.map.faces.get(face).map_or(0.0, |f| f.area);
                let same = |p: &&mut Patch| {
                    p.layer == layer && p.faces.first().and_then(|f| coated.patches.get(*f)) == Some(number)
                };
                match patches.iter_mut().find(same) {
                    Some(patch) => {
                        patch.faces.push(face);
                        patch.area += area;
                        patch.home |= home;
                    }
                    None => patches.push(Patch { layer, faces: vec![face], step: Some(step), area, home }),
                }
            }
        }
        patches.retain(|p| p.home);
        patches.sort_by(|a, b| b.area.total_cmp(&a.area));
        let mut said: Vec<usize> = Vec::new();
        for (number, patch) in patches.iter().enumerate() {
            let Some(step) = patch.step else { continue };
            // Next to a patch that already says so, the number is known.
            let known = said
                .iter()
                .filter_map(|n| patches.get(*n))
                .any(|other| other.step == patch.step && other.layer == patch.layer && self.touch(patch, other));
            if known {
                said.push(number);
                continue;
            }
            let (at, room) = self.roomiest(patch);
            let enough = patch.area > self.size * self.size * 0.5;
            if room > 2.0 && enough {
                self.put(Says::Step(step), at, room, Some(patch));
                said.push(number);
            }
        }
    }

    /// Whether two patches of a layer share a border.
    fn touch(&self, a: &Patch, b: &Patch) -> bool {
        self.scene.layers.get(a.layer).is_some_and(|coated| {
            coated.part.map.halves.iter().enumerate().any(|(n, half)| {
                half.face.is_some_and(|f| a.faces.contains(&f))
                    && coated.part.map.across(n).is_some_and(|f| b.faces.contains(&f))
            })
        })
    }

    /// Inside if there is room, else outside with a line.
    fn put(&mut self, says: Says, at: Point, room: f64, patch: Option<&Patch>) {
        let needs = match says {
            Says::Step(n) if n > 9 => 0.62 * self.size,
            Says::Step(_) => 0.45 * self.size,
            Says::Danger(_) => 0.7 * self.size,
        };
        if room >= needs {
            let on = patch.and_then(|p| self.face_under(p, at));
            self.labels.push(Label { says, at, leads_to: None, on });
        } else if let Some(outside) = self.outside(at) {
            self.labels.push(Label { says, at: outside, leads_to: Some(at), on: None });
        }
    }

    fn face_under(&self, patch: &Patch, at: Point) -> Option<(usize, usize)> {
        let map = &self.scene.layers.get(patch.layer)?.part.map;
        let inside_of = |face: &&usize| map.faces.get(**face).is_some_and(|f| inside(&f.polygon, at));
        patch.faces.iter().find(inside_of).or(patch.faces.first()).map(|face| (patch.layer, *face))
    }

    /// The point of a patch that is furthest from its border, from what covers it and from other labels.
    fn roomiest(&self, patch: &Patch) -> (Point, f64) {
        let Some(coated) = self.scene.layers.get(patch.layer) else { return (Point::ZERO, 0.0) };
        let map = &coated.part.map;
        let mut rings: Vec<Vec<Point>> = Vec::new();
        let mut border: Vec<Line> = Vec::new();
        for face in patch.faces.iter().filter_map(|f| map.faces.get(*f)) {
            rings.push(face.polygon.clone());
            for half in &face.halves {
                let beyond = map.across(*half);
                if beyond.is_none_or(|f| !patch.faces.contains(&f)) {
                    border.extend(map.straight(*half));
                }
            }
        }
        // Coat gives more room, but never moves the border inward.
        for strip in coated.strips.iter().filter(|s| patch.faces.contains(&s.face)) {
            border.extend(lines(&strip.outer));
        }
        let cover = self.over.get(patch.layer).map_or(&[][..], Vec::as_slice);
        border.extend(cover.iter().flat_map(|ring| lines(ring)));
        let eyes: Vec<(Point, f64)> =
            coated.part.layer.eyes.iter().map(|(p, r)| (self.scene.placed.at(*p), *r)).collect();
        let taken: Vec<Point> = self.labels.iter().map(|l| l.at).collect();
        let bounds = bounds(rings.iter().flatten()).unwrap_or_default();
        let room = |p: Point| {
            if !rings.iter().any(|r| inside(r, p)) || cover.iter().any(|r| inside(r, p)) {
                return -1.0;
            }
            let edge = border.iter().map(|l| l.nearest(p, 1e-3).distance_sq).fold(f64::MAX, f64::min).sqrt();
            let eye = eyes.iter().map(|(e, r)| (*e - p).hypot() - r).fold(edge, f64::min);
            taken.iter().map(|t| (*t - p).hypot() - self.size * 0.8).fold(eye, f64::min)
        };
        const GRID: u32 = 12;
        let grid = (1..GRID).flat_map(|i| (1..GRID).map(move |j| (f64::from(i), f64::from(j))));
        let mut best = grid
            .map(|(i, j)| {
                let (i, j) = (i / f64::from(GRID), j / f64::from(GRID));
                let p = Point::new(bounds.x0 + i * bounds.width(), bounds.y0 + j * bounds.height());
                (p, room(p))
            })
            .fold((bounds.center(), -1.0), |a, b| if b.1 > a.1 { b } else { a });
        let mut step = bounds.width().max(bounds.height()) / f64::from(GRID) / 2.0;
        while step > 0.5 {
            for way in AROUND {
                let p = best.0 + way * step;
                let here = room(p);
                if here > best.1 {
                    best = (p, here);
                }
            }
            step /= 2.0;
        }
        best
    }

    /// A free place outside, near a point.
    fn outside(&self, from: Point) -> Option<Point> {
        let size = self.size;
        let free = |p: Point| {
            let clear = self.whole.iter().all(|ring| {
                !inside(ring, p) && lines(ring).all(|l| l.nearest(p, 1e-3).distance_sq.sqrt() > 0.75 * size)
            });
            let ground = self.scene.placed.ground.is_none_or(|g| p.y < g - 0.4 * size);
            let apart = self.labels.iter().all(|l| (l.at - p).hypot() > 1.5 * size);
            clear && apart && ground
        };
        (1..=40)
            .map(|r| f64::from(r) * size * 0.4)
            .flat_map(|r| (0..24).map(move |k| Vec2::from_angle(f64::from(k) * std::f64::consts::TAU / 24.0) * r))
            .map(|way| from + way)
            .find(|p| free(*p))
    }
}

const AROUND: [Vec2; 8] = [
    Vec2::new(1.0, 0.0),
    Vec2::new(-1.0, 0.0),
    Vec2::new(0.0, 1.0),
    Vec2::new(0.0, -1.0),
    Vec2::new(1.0, 1.0),
    Vec2::new(-1.0, -1.0),
    Vec2::new(1.0, -1.0),
    Vec2::new(-1.0, 1.0),
];

fn whole(scene: &Scene<'_>) -> Vec<Vec<Point>> {
    scene
        .layers
        .iter()
        .flat_map(|l| {
            let coats = l.coats.iter().map(super::coat::Coat::outline);
            let faces = l.part.map.faces.iter().map(|f| f.polygon.clone());
            coats.chain(faces)
        })
        .collect()
}

fn lines(ring: &[Point]) -> impl Iterator<Item = Line> {
    let before = ring.last().into_iter().chain(ring);
    before.zip(ring).map(|(a, b)| Line::new(*a, *b))
}
