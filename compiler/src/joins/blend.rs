//! A blend at one border of one dog: its rungs, how long it is along the stroke, how long it is asked to be, and the room.
//!
//! ```text
//! needed = rungs · band of a rung + band of the way of blending · (step that is left / step that it closes)
//! ```
//!
//! Source: bands and steps are lines of the basics (`along`, `closes` of a motion; a tool blends by the motion that its line
//! `blends` names). A free hand lets any step run out in one band, as steep as it likes. That a smaller step takes a shorter
//! band, in proportion, is our model; a step that the coat hides by itself takes none. Units: nanometres. Limits: lengths on a
//! coat are intervals, and the least that is needed counts the nearest ends of both sides, the shortest bands and rungs at the
//! best places, whatever the kit has: what is more than that is sure on every dog of the coat.

use super::ladder::{self, Rung};
use super::room::rooms;
use crate::choices::{BlendAsk, Choices, Wide};
use crate::finish::Finish;
use crate::measure::{Interval, Length, Weight};
use crate::names::card::Dog;
use crate::names::sites::Site;
use crate::names::trade::{Coat, Manner, ToolId, ToolKind, Trade, Zone};

/// A blend at one border of one dog.
#[derive(Clone, Debug, PartialEq)]
pub struct Blend {
    /// The site of the shorter side.
    pub shorter: Site,
    /// The site of the longer side; the rungs lie in it.
    pub longer: Site,
    /// The fewest rungs between the middle lengths of both sides, from the shorter on; none where the kit has none that lead
    /// there, or the keeps let none.
    pub rungs: Option<Vec<Rung>>,
    /// How long it is along the stroke: the least that any groomer needs, and the most for the middle lengths. None where
    /// nobody says how its way of blending works.
    pub needed: Option<Interval<Length>>,
    /// How long it is asked to be, from the narrowest finger to the widest.
    pub asked: Option<Interval<Length>>,
    /// How far the two sides run away from their border on this dog, together; none where that isn't known.
    pub room: Option<Length>,
}

impl Blend {
    /// What has to fit into the room at the least: the length that is asked for, or else that which is needed.
    #[must_use]
    pub fn least(&self) -> Option<Length> {
        self.asked.or(self.needed).map(|l| l.low)
    }

    /// Whether the length that is asked for can't hold the steps, with anybody's fingers.
    #[must_use]
    pub fn is_too_short(&self) -> bool {
        self.asked.zip(self.needed).is_some_and(|(asked, needed)| needed.low > asked.high)
    }

    /// Whether the two sides have too little room for it, with anybody's fingers.
    #[must_use]
    pub fn has_too_little_room(&self) -> bool {
        self.least().zip(self.room).is_some_and(|(least, room)| least > room)
    }
}

/// Whether a finish takes length off: what is left, raked or carded has no step to blend.
#[must_use]
pub fn shortens(finish: &Finish, trade: &Trade) -> bool {
    finish.fine.kind(trade).is_some_and(|k| !matches!(k, ToolKind::Rake | ToolKind::Brush | ToolKind::Carder))
}

/// The blend that takes care of the border of two sites on this dog, with its number: of several the one of the nearest text,
/// and of those the last.
#[must_use]
pub fn covering<'c>(choices: &'c Choices, dog: &Dog, x: Site, y: Site) -> Option<(usize, &'c BlendAsk)> {
    let covers =
        |blend: &BlendAsk| blend.joins(x, y) && blend.cond.holds(dog, x) && blend.finding.is_none_or(|f| dog.has(f));
    choices.blends.iter().enumerate().filter(|(_, b)| covers(b)).max_by_key(|(number, b)| (b.level, *number))
}

/// A blend at the border of two finished sites of a dog, whose zones are `a` and `b`. None where one of them isn't shortened,
/// so that no step is there to blend.
#[must_use]
pub fn blend_at(
    choices: &Choices,
    trade: &Trade,
    dog: &Dog,
    (a, x): (&Zone, &Finish),
    (b, y): (&Zone, &Finish),
    ask: &BlendAsk,
) -> Option<Blend> {
    if !shortens(x, trade) || !shortens(y, trade) {
        return None;
    }
    let (l, m) = (x.fine.leaves?, y.fine.leaves?);
    let (short, long, lower, upper) = if l.middle() <= m.middle() { (x, y, l, m) } else { (y, x, m, l) };
    // What the coat hides by itself needs no blend.
    let hidden = dog.coat_at(x.site).and_then(|c| trade.coat(c)).map_or(Length(0), |c| hidden(c, lower, upper));
    let way = way(trade, ask, long, short).and_then(|motion| Way::of(motion, hidden));
    let rungs = way.and_then(|Way { closes, freehand, .. }| {
        let (from, to) = (lower.middle(), upper.middle());
        if freehand || to.0 - from.0 <= closes.0 {
            return Some(Vec::new());
        }
        let all = ladder::rungs(choices, trade, dog, long.site);
        let taken = |rungs: &[Rung]| -> Option<Vec<Rung>> {
            let lengths: Vec<Length> = rungs.iter().map(|r| r.leaves.middle()).collect();
            let taken = ladder::fewest(from, to, &lengths, closes)?;
            Some(taken.into_iter().filter_map(|n| rungs.get(n).cloned()).collect())
        };
        let fewest = taken(&all)?;
        // One changes the comb and leaves the blade beneath, where that takes no rung more.
        let combs: Vec<Rung> = all.iter().filter(|r| r.over.is_some()).cloned().collect();
        Some(taken(&combs).filter(|c| c.len() == fewest.len()).unwrap_or(fewest))
    });
    let needed = way.map(|way| needed(trade, way, lower, upper, rungs.as_deref(), choices));
    let asked = ask.wide.and_then(|wide| asked(wide, dog, a, b));
    let room = height(dog).and_then(|h| rooms().room(dog.build_or_square(), &a.name, &b.name, h));
    Some(Blend { shorter: short.site, longer: long.site, rungs, needed, asked, room })
}

/// The least weight of a dog of this build, to a tenth of a kilogram, on which a blend has room at the border of `a` and `b`
/// and, where it is asked for as a share of a part, is long enough for its step. None if that is so on no dog, or isn't known.
///
/// Both sides' lengths must be those of `blend`: they don't depend on the weight but through conditions.
#[must_use]
pub fn fits_from(blend: &Blend, ask: &BlendAsk, build: &str, a: &Zone, b: &Zone) -> Option<Weight> {
    match ask.wide {
        Some(wide @ Wide::Share(_, of)) if of.meets(a.sites() | b.sites()) => {
            let needed = blend.needed?.low;
            rooms().shares(build, &a.name, &b.name)?;
            rooms().least_weight(build, |h| share_of(wide, build, h, a, b).is_some_and(|asked| asked >= needed))
        }
        _ => rooms().fits_from(build, &a.name, &b.name, blend.least()?),
    }
}

/// How high a dog stands: as its card says, or as high as its build is at its weight.
#[must_use]
pub fn height(dog: &Dog) -> Option<Length> {
    dog.height.or_else(|| rooms().height(dog.build_or_square(), dog.weight?))
}

/// The motion by which a blend is made: the one that is named, or that of the tool that is named, or else that of the tool in
/// the hand on the longer side.
fn way<'t>(trade: &'t Trade, ask: &BlendAsk, long: &Finish, short: &Finish) -> Option<&'t Manner> {
    if is_named(trade, ask) {
        return named(trade, ask);
    }
    let of = |tool: Option<ToolId>| trade.tool(tool?)?.blends;
    trade.manner(of(long.fine.tool).or_else(|| of(short.fine.tool))?)
}

/// Whether the author names the tool or the motion: else it is that of the tool in the hand.
fn is_named(trade: &Trade, ask: &BlendAsk) -> bool {
    ask.tool.is_some() || ask.by.as_ref().is_some_and(|by| trade.index.manners.contains_key(by))
}

/// The motion that an author names, or that of the tool that they name.
fn named<'t>(trade: &'t Trade, ask: &BlendAsk) -> Option<&'t Manner> {
    let motion = ask.by.as_ref().and_then(|by| trade.index.manners.get(by)).copied();
    trade.manner(motion.or_else(|| trade.tool(ask.tool?)?.blends)?)
}

/// How a blend is made.
#[derive(Clone, Copy)]
struct Way {
    /// The step that it hides.
    closes: Length,
    /// Its band along the stroke.
    along: Interval<Length>,
    /// Whether any step runs out in one band.
    freehand: bool,
    /// The step that the coat hides by itself.
    hidden: Length,
}

impl Way {
    fn of(motion: &Manner, hidden: Length) -> Option<Self> {
        Some(Self { closes: motion.closes?.max(hidden), along: motion.along?, freehand: motion.freehand, hidden })
    }

    /// The least that any groomer needs from the nearer end of one side to that of the other, with rungs at the best places, whose
    /// bands are no shorter than the shortest there is.
    fn least(self, lower: Interval<Length>, upper: Interval<Length>, shortest: Length) -> Length {
        let least = (upper.low.0 - lower.high.0).max(0);
        if least <= self.hidden.0 {
            return Length(0);
        }
        let closes = self.closes.0.max(1);
        let many = if self.freehand { 0 } else { (least - 1).max(0) / closes };
        let last = part(self.along.low, least - many * closes, closes);
        Length(many.saturating_mul(shortest.0).saturating_add(last))
    }
}

/// The shortest band of any comb or blade of the kit that blends by a motion; none if none does.
#[must_use]
pub fn shortest_band(choices: &Choices, trade: &Trade) -> Option<Length> {
    let motion_of = |tool: &ToolId| trade.manner(trade.tool(*tool)?.blends?)?.along;
    let cuts = |id: &&ToolId| trade.tool(**id).is_some_and(|t| t.kind.on_clipper());
    choices.kit.iter().filter(cuts).filter_map(motion_of).map(|a| a.low).min()
}

/// How a blend is made whose author names its motion or tool. Where nobody says how that blends, it is never known to be too short.
#[derive(Clone, Copy)]
pub struct Named<'t>(Option<&'t Manner>);

impl<'t> Named<'t> {
    /// None where it is made by the tool in the hand.
    #[must_use]
    pub fn of(trade: &'t Trade, ask: &BlendAsk) -> Option<Self> {
        is_named(trade, ask).then(|| Self(named(trade, ask)))
    }

    /// By this motion.
    #[must_use]
    pub const fn by(motion: &'t Manner) -> Self {
        Self(Some(motion))
    }

    /// The least length along the stroke that it needs between two lengths on one coat. `shortest` is the [`shortest_band`] of
    /// the kit.
    #[must_use]
    pub fn least(self, coat: &Coat, (l, m): (Interval<Length>, Interval<Length>), shortest: Option<Length>) -> Length {
        let (lower, upper) = if l.middle() <= m.middle() { (l, m) } else { (m, l) };
        let way = self.0.and_then(|motion| Way::of(motion, hidden(coat, lower, upper)));
        way.map_or(Length(0), |way| way.least(lower, upper, shortest.unwrap_or(way.along.low)))
    }
}

/// The step that a coat hides by itself.
fn hidden(coat: &Coat, lower: Interval<Length>, upper: Interval<Length>) -> Length {
    coat.hides(lower.high.max(upper.high))
}

fn needed(
    trade: &Trade,
    way: Way,
    lower: Interval<Length>,
    upper: Interval<Length>,
    rungs: Option<&[Rung]>,
    choices: &Choices,
) -> Interval<Length> {
    let motion_of = |tool: ToolId| trade.manner(trade.tool(tool)?.blends?)?.along;
    let low = way.least(lower, upper, shortest_band(choices, trade).unwrap_or(way.along.low));
    let (bands, last) = match rungs {
        Some(rungs) => (
            rungs.iter().filter_map(|r| motion_of(r.tool)).map(|a| a.high.0).sum(),
            rungs.last().map_or(lower.middle(), |r| r.leaves.middle()),
        ),
        None => (0, lower.middle()),
    };
    let high = part(way.along.high, upper.middle().0 - last.0, way.closes.0.max(1)) + bands;
    Interval { low, high: Length(high.max(low.0)) }
}

/// A band for a smaller step than it closes.
fn part(band: Length, step: i64, closes: i64) -> i64 {
    let product = i128::from(band.0) * i128::from(step.clamp(0, closes)) / i128::from(closes);
    i64::try_from(product).unwrap_or(band.0)
}

fn asked(wide: Wide, dog: &Dog, a: &Zone, b: &Zone) -> Option<Interval<Length>> {
    match wide {
        Wide::Length(length) => Some(length),
        Wide::Share(..) => share_of(wide, dog.build_or_square(), height(dog)?, a, b).map(Interval::point),
    }
}

/// A share of one of the two sides, as far as that runs from their border.
fn share_of(wide: Wide, build: &str, height: Length, a: &Zone, b: &Zone) -> Option<Length> {
    let Wide::Share(share, of) = wide else { return None };
    let (of_a, of_b) = rooms().runs(build, &a.name, &b.name, height)?;
    if of.meets(b.sites()) { Some(of_b.times(share)) } else { of.meets(a.sites()).then(|| of_a.times(share)) }
}
