//! J001: a step between neighbours that will show, with neither a blend nor a line between them.

use crate::choices::Choices;
use crate::diagnostic::{Diagnostic, Fix, code};
use crate::finish::{Finish, Finishes, Outcome, is_even};
use crate::joins::{Named, rooms, shortest_band};
use crate::measure::{Interval, Length, Weight};
use crate::names::card::Dog;
use crate::names::condition::Cond;
use crate::names::sites::Site;
use crate::names::trade::{Coat, Direction, FindingId, Manner, Side, Skin, Tool, ToolKind, Trade, Zone};
use crate::source::Place;

/// Two neighbouring sites, on the same side of the dog.
#[derive(Clone, Copy, Debug)]
pub struct Pair<'t> {
    /// One zone.
    pub a: &'t Zone,
    /// The other.
    pub b: &'t Zone,
    /// A site of `a`.
    pub site: Site,
    /// Its neighbour.
    pub other: Site,
}

/// What stays at a site, and what its length hangs on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stays {
    /// How long.
    pub leaves: Interval<Length>,
    /// The kind of tool, its way, and whether it went over it again: what one dog's coat does to the length of one such stroke, it
    /// does to that of another.
    pub by: Option<(ToolKind, Option<Direction>, bool)>,
}

/// Whether a step shows on every dog of its coats, or on some.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum Shows {
    May,
    Will,
}

/// Two neighbours whose step shows.
#[derive(Clone, Debug)]
pub struct Border<'t> {
    /// One zone: the one whose statement made the step.
    pub a: &'t Zone,
    /// The other.
    pub b: &'t Zone,
    /// A site of `a`.
    pub site: Site,
    /// Its neighbour, on the same side of the dog.
    pub other: Site,
    /// What stays on `a`.
    pub leaves: Interval<Length>,
    /// What stays on `b`.
    pub beyond: Interval<Length>,
    /// Whether a reply of the compiler made it.
    pub by_reply: bool,
    /// Whether one side is left at the length that it has today.
    pub left: bool,
    /// Whether it will show, or may.
    pub shows: Shows,
    /// The statement that made it: the nearer text's, then the later line's.
    pub statement: Place,
}

/// All neighbours; one side stands for both where nothing tells left from right.
#[must_use]
pub fn pairs(trade: &Trade, even: bool) -> Vec<Pair<'_>> {
    let mut all = Vec::new();
    for (number, a) in trade.zones.iter().enumerate() {
        for id in a.borders.iter().filter(|id| (id.0 as usize) > number) {
            let Some(b) = trade.zones.get(id.0 as usize) else { continue };
            // Nobody sees a step at a part that needs no finish of its own.
            if a.hidden || b.hidden {
                continue;
            }
            for side in [Side::Left, Side::Right] {
                if side == Side::Right && (even || !a.paired && !b.paired) {
                    continue;
                }
                all.push(Pair { a, b, site: a.site_on(side), other: b.site_on(side) });
            }
        }
    }
    all
}

/// The borders whose step will show on this dog, without those that a blend or a line takes care of.
#[must_use]
pub fn borders<'t>(choices: &Choices, trade: &'t Trade, dog: &Dog, finishes: &Finishes) -> Vec<Border<'t>> {
    all(choices, trade, dog, finishes).filter(|border| border.shows == Shows::Will).collect()
}

/// The borders whose step will or may show.
fn all<'a, 't: 'a>(
    choices: &'a Choices,
    trade: &'t Trade,
    dog: &'a Dog,
    finishes: &'a Finishes,
) -> impl Iterator<Item = Border<'t>> + 'a {
    let pairs = pairs(trade, choices.symmetric && is_even(trade, dog));
    pairs.into_iter().filter_map(move |pair: Pair<'t>| {
        let (x, y) = (finishes.at(pair.site)?, finishes.at(pair.other)?);
        step(choices, trade, dog, pair, x, y)
    })
}

/// The step between two neighbours, if it will or may show on this dog and neither a blend nor a line takes care of it.
#[must_use]
pub fn step<'t>(
    choices: &Choices,
    trade: &Trade,
    dog: &Dog,
    pair: Pair<'t>,
    x: &Finish,
    y: &Finish,
) -> Option<Border<'t>> {
    if x.fine.tool.is_none() && y.fine.tool.is_none() {
        return None;
    }
    let (a, b) = (Stays::of(x, dog, trade)?, Stays::of(y, dog, trade)?);
    let coats = [x.site, y.site].map(|site| dog.coat_at(site).and_then(|c| trade.coat(c)));
    let [Some(coat), Some(other)] = coats else { return None };
    let shows = shows(&a, &b, coat, other)?;
    if meant(choices, dog, pair) {
        return None;
    }
    let (leaves, beyond) = (a.leaves, b.leaves);
    let left = x.fine.tool.is_none() || y.fine.tool.is_none();
    let by_reply = x.outcome != Outcome::Written || y.outcome != Outcome::Written;
    let own = (x.from_recipe, x.statement) >= (y.from_recipe, y.statement);
    let statement = if own { x.statement } else { y.statement };
    let Pair { a, b, site, other } = pair;
    Some(if own {
        Border { a, b, site, other, leaves, beyond, by_reply, left, shows, statement }
    } else {
        let (leaves, beyond) = (beyond, leaves);
        Border { a: b, b: a, site: other, other: site, leaves, beyond, by_reply, left, shows, statement }
    })
}

impl Stays {
    /// What stays where a site is finished so; what is left keeps the length that the card tells.
    #[must_use]
    pub fn of(finish: &Finish, dog: &Dog, trade: &Trade) -> Option<Self> {
        if finish.fine.tool.is_none() {
            return dog.length_at(finish.site).map(|l| Self { leaves: Interval::point(l), by: None });
        }
        let leaves = finish.fine.leaves?;
        // Freehand over what was set in keeps its length.
        let rough = finish.rough.as_ref().filter(|r| r.leaves == finish.fine.leaves);
        let stroke = rough.unwrap_or(&finish.fine);
        let by = stroke.kind(trade).map(|kind| (kind, stroke.direction, stroke.passes > 1));
        Some(Self { leaves, by })
    }
}

/// Whether the step between two lengths shows: certainly if even the least does, perhaps if the greatest does. Where the same way
/// of working made both, a coat that keeps more of one keeps more of the other. Two coats look unlike whatever is done, so that
/// there only what shows for certain counts, on the one that hides more; and lengths that nobody measured to the millimetre (left
/// as they are today) are taken as told.
#[must_use]
pub fn shows(a: &Stays, b: &Stays, coat: &Coat, other: &Coat) -> Option<Shows> {
    if coat.shows.0 == 0 || other.shows.0 == 0 {
        return None;
    }
    let (x, y) = (a.leaves, b.leaves);
    let one_coat = std::ptr::eq(coat, other) || coat.name == other.name;
    let (least, most) = if one_coat && a.by.is_some() && a.by == b.by {
        let (low, high) = (x.low.0 - y.low.0, x.high.0 - y.high.0);
        let least = if low.signum() == high.signum() { low.abs().min(high.abs()) } else { 0 };
        (least, low.abs().max(high.abs()))
    } else {
        ((x.low.0 - y.high.0).max(y.low.0 - x.high.0), (x.high.0 - y.low.0).max(y.high.0 - x.low.0))
    };
    let counts = if one_coat { most } else { least };
    // Most steps are small on any coat.
    if counts <= coat.shows.0.max(other.shows.0) {
        return None;
    }
    let longer = x.high.max(y.high);
    let hides = coat.hides(longer).max(other.hides(longer)).0;
    if least > hides {
        return Some(Shows::Will);
    }
    (most > hides && one_coat).then_some(Shows::May)
}

/// Whether a blend or a line takes care of a border of this dog.
#[must_use]
pub fn meant(choices: &Choices, dog: &Dog, pair: Pair<'_>) -> bool {
    covers(choices, pair).any(|(cond, finding)| holds(cond, finding, dog, pair.site))
}

/// The conditions and findings of the blends and lines that speak of a border.
pub fn covers<'c>(choices: &'c Choices, pair: Pair<'_>) -> impl Iterator<Item = (&'c Cond, Option<FindingId>)> {
    let Pair { site, other, .. } = pair;
    let blends = choices.blends.iter().filter(move |b| b.joins(site, other)).map(|b| (&b.cond, b.finding));
    let lines = choices.lines.iter().filter(move |l| l.parts(site, other)).map(|l| (&l.cond, l.finding));
    blends.chain(lines)
}

/// Whether a statement about a border is meant for this dog.
fn holds(cond: &Cond, finding: Option<FindingId>, dog: &Dog, site: Site) -> bool {
    cond.holds(dog, site) && finding.is_none_or(|f| dog.has(f))
}

/// Warns of the borders that the recipe itself made, once a statement; those that a reply made go on the sheet and to the
/// owner.
pub fn rule(choices: &Choices, trade: &Trade, dog: &Dog, finishes: &Finishes, out: &mut Vec<Diagnostic>) {
    out.extend(say(all(choices, trade, dog, finishes).collect(), choices, dog, trade));
}

/// J001 for the borders of one dog, once a statement.
pub fn say(borders: Vec<Border<'_>>, choices: &Choices, dog: &Dog, trade: &Trade) -> Vec<Diagnostic> {
    let mut by_statement: Vec<(Place, Vec<Border<'_>>)> = Vec::new();
    let own: Vec<Border<'_>> = borders.into_iter().filter(|b| !b.by_reply && !b.left).collect();
    // What is certain first: one message doesn't speak of both.
    let will = |place: Place| own.iter().any(|b| b.statement == place && b.shows == Shows::Will);
    for border in own.iter().filter(|b| b.shows == Shows::Will || !will(b.statement)).cloned() {
        match by_statement.iter_mut().find(|(p, _)| *p == border.statement) {
            Some((_, borders)) => {
                if !borders.iter().any(|b| b.a.name == border.a.name && b.b.name == border.b.name) {
                    borders.push(border);
                }
            }
            None => by_statement.push((border.statement, vec![border])),
        }
    }
    let said = by_statement.into_iter().filter_map(|(place, borders)| {
        let first = borders.first()?;
        let coat = dog.coat_at(first.site).and_then(|c| trade.coat(c)).map_or("this", |c| c.name.as_str());
        let modal = if borders.iter().any(|b| b.shows == Shows::Will) { "will" } else { "may" };
        let pairs: Vec<String> = by_side(&borders)
            .into_iter()
            .map(|(a, others)| format!("{} and {}", a.name.replace('-', " "), others.join(", ").replace('-', " ")))
            .collect();
        let ways = by_way(&borders, choices, trade, dog);
        let blends: Vec<String> =
            ways.iter().map(|(a, others, way)| format!("blend {} into {} {way}", a.name, others.join(", "))).collect();
        let lines: Vec<String> = by_side(&borders)
            .into_iter()
            .map(|(a, others)| format!("line between {} and {}", a.name, others.join(", ")))
            .collect();
        let add = |title: &str, lines: &[String]| choices.end.map(|end| Fix::line(title, end, lines.join("\n")));
        let named = |a: &Zone, b: &str| ways.iter().any(|(x, others, _)| x.name == a.name && others.contains(&b));
        let narrow = borders.iter().find(|border| !named(border.a, &border.b.name));
        let meant = |b: &Border<'_>| format!("`line between {} and {}` where it is meant to show", b.a.name, b.b.name);
        let mut help = match blends.as_slice() {
            [] => format!("Bring the two lengths closer together, or write {}.", meant(first)),
            blends => format!("Write `{}`; or {}.", blends.join("`, `"), meant(first)),
        };
        if let Some(narrow) = narrow {
            let words = format!("{} and {}", narrow.a.name.replace('-', " "), narrow.b.name.replace('-', " "));
            help.push_str(&format!(" Between {words} the smallest dogs have no room for a blend."));
        }
        let blended = (!blends.is_empty() && narrow.is_none()).then(|| add("blend the two", &blends)).flatten();
        Some(
            Diagnostic::warning(code::J001, place, format!("a line {modal} show between {}", pairs.join("; between ")))
                .label(format!("{} beside {} on a {coat} coat", first.leaves, first.beyond))
                .why("The eye finds a step at once, and an owner sees a mistake.")
                .help(help)
                .offer(blended)
                .offer(add("say that the line is meant to show", &lines)),
        )
    });
    said.collect()
}

/// Borders by their own side: each zone with the names of those beside it.
fn by_side<'t>(borders: &[Border<'t>]) -> Vec<(&'t Zone, Vec<&'t str>)> {
    let mut out: Vec<(&Zone, Vec<&str>)> = Vec::new();
    for border in borders {
        match out.iter_mut().find(|(a, _)| a.name == border.a.name) {
            Some((_, others)) => others.push(&border.b.name),
            None => out.push((border.a, vec![&border.b.name])),
        }
    }
    out
}

/// The same, with how one blends there: as a blade of the kit does it where the skin bears one and the step is small enough, else by
/// free hand, which lets any step run out; over two fingers where the smallest dogs that are served have that much room.
fn by_way<'t>(
    borders: &[Border<'t>],
    choices: &Choices,
    trade: &Trade,
    dog: &Dog,
) -> Vec<(&'t Zone, Vec<&'t str>, String)> {
    let fingers = trade.fingers;
    let tools = || choices.kit.iter().filter_map(|id| trade.tool(*id));
    let motion = |tool: &Tool| tool.blends.and_then(|id| trade.manner(id));
    let blade = tools().filter(|t| t.kind == ToolKind::Blade).find_map(motion);
    let free = tools().filter_map(motion).find(|m| m.freehand);
    let shortest = shortest_band(choices, trade);
    let smallest = choices.serves.weight.low.map_or_else(|| rooms().lightest(), |(grams, _)| grams);
    let way = |border: &Border<'_>| {
        let loose = |zone: &Zone| matches!(zone.skin, Skin::Fold | Skin::Edge);
        let step = (border.leaves.low.0 - border.beyond.high.0).max(border.beyond.low.0 - border.leaves.high.0);
        let small = |m: &Manner| m.closes.is_some_and(|closes| step <= closes.0.saturating_mul(2));
        let bears = !loose(border.a) && !loose(border.b);
        let blade = blade.filter(|m| bears && small(m));
        let room = choices.serves.open_builds().filter_map(|build| {
            let height = dog.height.or_else(|| rooms().height(build, Weight(smallest)))?;
            rooms().room(build, &border.a.name, &border.b.name, height)
        });
        let room = room.min();
        let coat = dog.coat_at(border.site).and_then(|c| trade.coat(c));
        let times = |length: Length, fingers: i64| Length(length.0.saturating_mul(fingers));
        // What is offered has room, and holds the step.
        let holds = |motion: Option<&Manner>, many: i64| {
            let needed =
                motion.zip(coat).map(|(m, coat)| Named::by(m).least(coat, (border.leaves, border.beyond), shortest));
            needed.is_none_or(|needed| needed <= times(fingers.high, many))
                && room.is_none_or(|room| times(fingers.low, many) <= room)
        };
        let ways = [(blade, 2), (blade, 1), (free, 2), (free, 1)];
        // A kit whose tools nobody says how to blend with leaves that to the groomer.
        let any = blade.or(free).is_none();
        let fits = |(motion, many): &(Option<&Manner>, i64)| (any || motion.is_some()) && holds(*motion, *many);
        let (motion, many) = ways.into_iter().find(fits)?;
        let by = motion.map_or(String::new(), |m| format!(" by {}", m.name));
        Some(format!("over {}{by}", if many == 2 { "two fingers" } else { "one finger" }))
    };
    let mut out: Vec<(&Zone, Vec<&str>, String)> = Vec::new();
    for border in borders {
        let Some(way) = way(border) else { continue };
        match out.iter_mut().find(|(a, _, w)| a.name == border.a.name && *w == way) {
            Some((_, others, _)) => others.push(&border.b.name),
            None => out.push((border.a, vec![&border.b.name], way)),
        }
    }
    out
}
