//! Whole pictures: which views a dog needs, and one or several of them as a file of their own.

use super::label::Danger;
use super::scene::{self, Moment, Places, Scene};
use super::svg::{self, Drawn, Look, Style};
use crate::atlas::{self, Body, Line};
use crate::names::sites::{Site, Sites};
use crate::names::trade::{Side, Station, Trade};
use crate::sheet::render::Units;
use crate::sheet::{Seen, SeenPlace};
use kurbo::{Point, Rect};
use std::fmt::Write;

/// A view that can be asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs)]
pub enum View {
    Left,
    Right,
    Head,
    HeadRight,
    Front,
    Rear,
    Under,
}

impl View {
    /// All of them, in the order in which they are printed.
    pub const ALL: [Self; 7] =
        [Self::Left, Self::Right, Self::Head, Self::HeadRight, Self::Front, Self::Rear, Self::Under];

    /// The view of the drawing, and whether it is turned.
    #[must_use]
    pub const fn of(self) -> (&'static str, bool) {
        match self {
            Self::Left => ("side", false),
            Self::Right => ("side", true),
            Self::Head => ("head", false),
            Self::HeadRight => ("head", true),
            Self::Front => ("front", false),
            Self::Rear => ("rear", false),
            Self::Under => ("under", false),
        }
    }

    /// Its name.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Right => "right",
            Self::Head => "head",
            Self::HeadRight => "head-right",
            Self::Front => "front",
            Self::Rear => "rear",
            Self::Under => "under",
        }
    }

    /// How high it prints beside the left side.
    #[must_use]
    pub const fn weight(self) -> f64 {
        match self {
            Self::Left => 1.0,
            Self::Under => 0.95,
            Self::Head => 0.85,
            Self::HeadRight => 0.7,
            Self::Right | Self::Front | Self::Rear => 0.78,
        }
    }

    /// What is printed under it.
    #[must_use]
    pub const fn title(self) -> &'static str {
        match self {
            Self::Left => "Left side",
            Self::Right => "Right side",
            Self::Head => "Head",
            Self::HeadRight => "Head, right",
            Self::Front => "Front",
            Self::Rear => "Rear",
            Self::Under => "Underside, on its back",
        }
    }
}

/// The dog, ready to be drawn.
pub struct Shown<'s> {
    seen: &'s Seen,
    trade: &'s Trade,
    places: Places<'s>,
    /// The sites that each view shows, in the order of [`View::ALL`].
    sites: [Sites; 7],
}

/// Makes a dog ready to be drawn.
#[must_use]
pub fn shown<'s>(seen: &'s Seen, trade: &'s Trade) -> Shown<'s> {
    Shown { seen, trade, places: scene::places(seen, trade), sites: View::ALL.map(|view| sites_in(view, trade)) }
}

/// A picture as a file of its own.
#[derive(Clone, Debug)]
pub struct Standalone {
    /// The SVG.
    pub svg: String,
}

impl Shown<'_> {
    /// The views that the sheet prints: side, head and underside always; the right side, or the right of the head, when left and
    /// right differ there; front and rear when they show what the others don't tell.
    #[must_use]
    pub fn needed(&self) -> Vec<View> {
        let mut views = vec![View::Left, View::Head, View::Under];
        let differs = self.sites_that_differ();
        let head = self.trade.sites_of("head").unwrap_or_default();
        views.extend((differs & head).meets(self.sites_in(View::HeadRight)).then_some(View::HeadRight));
        views.extend((differs - head).meets(self.sites_in(View::Right)).then_some(View::Right));
        for view in [View::Front, View::Rear] {
            if self.tells_more(view, &views) {
                views.push(view);
            }
        }
        views.sort_unstable();
        views
    }

    /// Places on the right that are worked otherwise than on the left, or that alone have a danger.
    fn sites_that_differ(&self) -> Sites {
        let dangers = self.seen.dangers.iter().map(|d| self.sites_of(&d.at));
        let alone = dangers.fold(Sites::NONE, |all, sites| {
            let left = self.trade.half(sites, Side::Left);
            all | (self.trade.half(sites, Side::Right) - self.trade.both_sides(left))
        });
        let uneven = self.places.iter().filter(|(site, place)| {
            let twin = (self.both(**site) - Sites::one(**site)).iter().next();
            twin.and_then(|t| self.places.get(&t)).is_some_and(|other| !same_work(place, other))
        });
        let uneven: Sites = uneven.map(|(site, _)| *site).collect();
        alone | self.trade.half(uneven, Side::Right)
    }

    fn sites_of(&self, at: &[(String, Option<String>)]) -> Sites {
        at.iter().filter_map(|(zone, side)| scene::site(self.trade, zone, side.as_deref())).collect()
    }

    /// Whether a view shows a place that is worked otherwise than any neighbour of it which the other views show: on the
    /// same zones all views agree.
    fn tells_more(&self, view: View, others: &[View]) -> bool {
        let sites = |view: View| self.sites_in(view);
        let known = others.iter().fold(Sites::NONE, |all, v| all | sites(*v));
        let new = sites(view) - known;
        let of_danger = self.seen.dangers.iter().flat_map(|d| &d.at);
        let danger = of_danger
            .filter_map(|(zone, side)| scene::site(self.trade, zone, side.as_deref()))
            .any(|site| new.has(site) && !known.meets(self.both(site)));
        danger
            || new.iter().any(|site| {
                let Some(here) = self.places.get(&site) else { return false };
                // The other side of a pair is the same work on an even dog.
                let twin = self.both(site).iter().any(|s| known.has(s) && self.alike(s, here));
                !twin && !self.neighbours(site).iter().any(|s| known.has(s) && self.alike(s, here))
            })
    }

    /// The view among some that shows a site best: the head has views of its own, then the sides, the underside, and what only
    /// front or rear show. What lies on the midline below or in front is seen from below.
    fn home(&self, site: Site, views: &[View]) -> Option<View> {
        let zone = self.trade.zone_of(site).map(|(zone, _)| zone);
        let head = zone.is_some_and(|z| z.region == "head");
        let midline = zone.is_some_and(|z| !z.paired && matches!(z.station, Station::Under | Station::Front));
        let order: &[View] = if head {
            &[View::Head, View::HeadRight, View::Front, View::Left, View::Right, View::Under]
        } else if midline {
            &[View::Under, View::Front, View::Left, View::Right, View::Rear, View::Head]
        } else {
            &[View::Left, View::Right, View::Under, View::Front, View::Rear, View::Head]
        };
        let shows = |view: &View, sites: Sites| views.contains(view) && self.sites_in(*view).meets(sites);
        // Without a view of its own side the other one speaks for both.
        let exact = order.iter().find(|v| shows(v, Sites::one(site)));
        exact.or_else(|| order.iter().find(|v| shows(v, self.both(site)))).copied()
    }

    fn alike(&self, site: Site, place: &SeenPlace) -> bool {
        self.places.get(&site).is_some_and(|other| super::scale::class(other.after) == super::scale::class(place.after))
    }

    fn both(&self, site: Site) -> Sites {
        self.trade.both_sides(Sites::one(site))
    }

    fn neighbours(&self, site: Site) -> Sites {
        let Some((zone, _)) = self.trade.zone_of(site) else { return Sites::NONE };
        zone.borders.iter().filter_map(|z| self.trade.zone(*z)).fold(Sites::NONE, |all, z| all | z.sites())
    }

    /// The sites that a view shows.
    pub(super) fn sites_in(&self, view: View) -> Sites {
        self.sites.get(view as usize).copied().unwrap_or(Sites::NONE)
    }

    /// Draws a view beside others. With the drawing comes how many units a millimetre of the dog is.
    #[must_use]
    pub fn draw(&self, view: View, beside: &[View], moment: Moment, look: Look) -> Option<(Drawn, f64)> {
        self.draw_as(view, beside, moment, look, view.word())
    }

    /// The same with ids that begin with `prefix`, so that a view may stand in a page twice.
    #[must_use]
    pub fn draw_as(
        &self,
        view: View,
        beside: &[View],
        moment: Moment,
        look: Look,
        prefix: &str,
    ) -> Option<(Drawn, f64)> {
        let body = Body::place(atlas::drawing(), self.trade, &self.seen.figure(), &[view.of()], &mut Vec::new());
        let placed = body.views.first()?;
        let scene = Scene::dress(placed, &self.places, moment);
        let dangers = self.dangers(placed);
        let clipped = |site: Site| self.places.get(&site).is_some_and(|p| p.clipped);
        let at_home = |site: Site| self.home(site, beside).is_none_or(|home| home == view);
        let style = Style { look, dangers: &dangers, clipped: &clipped, at_home: &at_home, prefix };
        Some((svg::view(&scene, self.trade, &style), placed.units))
    }

    /// What a view takes up, coat included and labels not, in units.
    #[must_use]
    pub fn bounds(&self, view: View) -> Option<Rect> {
        let body = Body::place(atlas::drawing(), self.trade, &self.seen.figure(), &[view.of()], &mut Vec::new());
        Some(Scene::dress(body.views.first()?, &self.places, Moment::After).bounds.inset(3.0))
    }

    /// Draws a view in half blocks, so many columns wide; without colour in signs, a step of the scale each.
    #[must_use]
    pub fn blocks(&self, view: View, columns: usize, colour: bool) -> Option<String> {
        let body = Body::place(atlas::drawing(), self.trade, &self.seen.figure(), &[view.of()], &mut Vec::new());
        Some(super::terminal(&Scene::dress(body.views.first()?, &self.places, Moment::After), columns, colour))
    }

    fn dangers(&self, placed: &atlas::Placed<'_>) -> Vec<Danger> {
        self.seen
            .dangers
            .iter()
            .map(|danger| {
                let sites = self.sites_of(&danger.at);
                let on = |side: Side| danger.at.iter().any(|(_, s)| s.as_deref().is_none_or(|s| s == side.as_str()));
                let spots = placed
                    .turns()
                    .filter(|(mark, side, line, _)| {
                        matches!(line, Line::Spot(_)) && Some(mark.as_str()) == danger.part.as_deref() && on(*side)
                    })
                    .flat_map(|(.., places)| places)
                    .collect();
                Danger { letter: danger.letter, sites, spots }
            })
            .collect()
    }
}

/// The sites that a view of the drawing shows.
fn sites_in(view: View, trade: &Trade) -> Sites {
    let (name, turned) = view.of();
    let Some(drawn) = atlas::drawing().view(name) else { return Sites::NONE };
    let labels = drawn.layers.iter().flat_map(|l| &l.labels).filter(|l| !l.blank);
    let site = |label: &atlas::Label| {
        let side = if turned { label.side.other() } else { label.side };
        Some(trade.zone(trade.zone_called(&label.name)?)?.site_on(side))
    };
    labels.filter_map(site).collect()
}

fn same_work(a: &SeenPlace, b: &SeenPlace) -> bool {
    a.step == b.step && super::scale::class(a.after) == super::scale::class(b.after)
}

/// Pictures side by side on one ground, each with its title, as a file of its own.
///
/// `numbers` is whether step numbers and dangers are shown.
#[must_use]
pub fn standalone(dog: &Shown<'_>, title: &str, views: &[View], numbers: bool, units: Units) -> Standalone {
    const SIZE: f64 = 24.0;
    const GAP: f64 = 44.0;
    let bare: Vec<(View, Rect)> = views.iter().filter_map(|view| Some((*view, dog.bounds(*view)?))).collect();
    // Standing views keep one scale and one ground; head and underside are as high as they are.
    let standing = |view: View| !matches!(view, View::Head | View::HeadRight | View::Under);
    let tallest = bare.iter().filter(|(v, _)| standing(*v)).map(|(_, b)| b.height()).fold(0.0, f64::max);
    let ground = bare.iter().filter(|(v, _)| standing(*v)).map(|(_, b)| b.y1).fold(0.0, f64::max);
    let look = |size| if numbers { Look::Numbered(size) } else { Look::Bare(size) };
    let mut bottom = ground;
    let (mut body, mut x, mut top) = (String::new(), 0.0, ground - tallest);
    let mut titles: Vec<(f64, &str)> = Vec::new();
    for (view, bounds) in bare {
        let scale = if standing(view) || tallest == 0.0 { 1.0 } else { tallest * view.weight() / bounds.height() };
        let Some((drawn, per_mm)) = dog.draw(view, views, Moment::After, look(SIZE / scale)) else {
            continue;
        };
        let wide = drawn.bounds.width() * scale;
        // Head and underside stand with their middle at that of the rest.
        let down = match (standing(view), tallest > 0.0) {
            (true, _) => 0.0,
            (false, true) => ground - tallest / 2.0 - bounds.center().y * scale,
            (false, false) => -bounds.y1,
        };
        let _ = write!(
            body,
            "<g transform=\"translate({:.1} {down:.1}) scale({scale:.4})\">{}</g>",
            x - drawn.bounds.x0 * scale,
            drawn.body
        );
        top = top.min(drawn.bounds.y0 * scale + down);
        bottom = bottom.max(drawn.bounds.y1 * scale + down);
        titles.push((x + wide / 2.0, view.title()));
        if x == 0.0 && !drawn.bounds.is_zero_area() {
            let (length, words) = bar_length(units, wide / (per_mm * scale));
            body.push_str(&svg::bar(Point::new(0.0, ground + SIZE * 1.5), per_mm * scale, length, words, SIZE * 0.9));
        }
        x += wide + GAP;
    }
    for (x, title) in titles {
        let (y, size) = (bottom + SIZE * 1.5, SIZE * 0.9);
        let _ = write!(body, "<text x=\"{x:.1}\" y=\"{y:.1}\" font-size=\"{size:.1}\" fill=\"#222\">{title}</text>");
    }
    if numbers {
        let wide = x - GAP;
        bottom += key(&mut body, title, units, bottom + SIZE * 3.6, wide, (wide / 100.0).clamp(SIZE * 0.62, SIZE));
    }
    let frame = Rect::new(-10.0, top - 10.0, x - GAP + 10.0, bottom + SIZE * 2.2);
    Standalone { svg: alone(frame, title, &body) }
}

/// A picture as a file of its own, on white.
pub(super) fn alone(frame: Rect, title: &str, body: &str) -> String {
    let words = escaped(title);
    let (x, y, w, h) = (frame.x0, frame.y0, frame.width(), frame.height());
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"{x:.0} {y:.0} {w:.0} {h:.0}\" role=\"img\" aria-label=\"{words}\"><title>{words}</title><style>{TEXT}</style><rect x=\"{x:.0}\" y=\"{y:.0}\" width=\"{w:.0}\" height=\"{h:.0}\" fill=\"#fff\"/>{body}</svg>\n"
    )
}

/// The dog's name, and what colours and signs mean, in lines no wider than the picture; how much higher it makes it.
fn key(body: &mut String, title: &str, units: Units, y: f64, wide: f64, size: f64) -> f64 {
    let signs =
        "numbers: steps of the sheet; letters in triangles: its dangers; arrows: the hair turns; dashes: the skin";
    colours(body, (Some(title), Some(signs)), units, y, wide, size)
}

/// What the colours mean, with words before and after it; how much higher it makes the picture.
pub(super) fn colours(
    body: &mut String,
    (before, after): (Option<&str>, Option<&str>),
    units: Units,
    y: f64,
    wide: f64,
    size: f64,
) -> f64 {
    body.push_str(&svg::definitions("key", size * 1.4));
    let (mut x, mut line) = (0.0, y);
    let mut write = |swatch: Option<(&str, String)>, words: &str| {
        // A letter is about half as wide as it is high.
        #[allow(clippy::cast_precision_loss)]
        let long = words.chars().count() as f64 * size * 0.55 + if swatch.is_some() { size * 2.0 } else { 0.0 };
        if x > 0.0 && x + long > wide {
            (x, line) = (0.0, line + size * 1.7);
        }
        let mut at = x;
        if let Some((colour, hatch)) = swatch {
            let (w, h, top) = (size * 1.6, size, line - size * 0.82);
            let _ = write!(
                body,
                "<rect x=\"{at:.1}\" y=\"{top:.1}\" width=\"{w:.1}\" height=\"{h:.1}\" fill=\"{colour}\" stroke=\"#111\"/>"
            );
            if !hatch.is_empty() {
                let _ = write!(
                    body,
                    "<rect x=\"{at:.1}\" y=\"{top:.1}\" width=\"{w:.1}\" height=\"{h:.1}\" fill=\"url(#key-hatch-{hatch})\"/>"
                );
            }
            at += size * 2.0;
        }
        let words = escaped(words);
        let _ = write!(
            body,
            "<text x=\"{at:.1}\" y=\"{line:.1}\" font-size=\"{size:.1}\" fill=\"#222\" style=\"text-anchor:start;font-weight:400\">{words}</text>"
        );
        x += long + size * 1.2;
    };
    before.iter().for_each(|words| write(None, words));
    for (number, class) in super::scale::SCALE.iter().enumerate() {
        let hatch = if class.hatch == super::scale::Hatch::None { String::new() } else { number.to_string() };
        write(Some((class.colour, hatch)), &super::scale::range(number, units));
    }
    write(Some((super::scale::LEFT.colour, "left".to_owned())), super::scale::LEFT_WORDS);
    after.iter().for_each(|words| write(None, words));
    line - y + size * 2.0 + 24.0 * 1.5
}

/// How text in a picture looks.
pub(super) const TEXT: &str =
    "text{font-family:'Atkinson Hyperlegible Next',sans-serif;font-weight:700;text-anchor:middle}";

/// A bar's length in mm and its words, for a picture so many mm wide: the longest that takes up no more than a third.
#[must_use]
pub fn bar_length(units: Units, width: f64) -> (f64, &'static str) {
    const METRIC: [(f64, &str); 6] =
        [(1000.0, "1 m"), (500.0, "50 cm"), (100.0, "10 cm"), (50.0, "5 cm"), (10.0, "1 cm"), (1.0, "1 mm")];
    const IMPERIAL: [(f64, &str); 5] =
        [(914.4, "1 yd"), (304.8, "1 ft"), (101.6, "4 in"), (50.8, "2 in"), (12.7, "1/2 in")];
    let bars: &[(f64, &str)] = if units == Units::Metric { &METRIC } else { &IMPERIAL };
    bars.iter().find(|(length, _)| *length <= width / 3.0).or(bars.last()).copied().unwrap_or((100.0, "10 cm"))
}

pub(super) fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('"', "&quot;")
}
