//! The walk along the order: how warm each blade is, and where it must be felt or changed.

use super::runs::{Moment, Run, owned};
use super::{ForBlade, Stop};
use crate::choices::Choices;
use crate::measure::{Interval, Time};
use crate::models::blade::Blade;
use crate::models::skin::{LIMIT, SURFACE};
use crate::names::trade::{ToolId, Trade};
use std::collections::BTreeMap;

/// The plan stays a tenth below the dose, so that whoever reckons it another way agrees.
const SPARE: f64 = 0.9;
/// More stops within one line, and the line itself is wrong.
const MOST_STOPS: u32 = 60;

/// What is the same for a whole visit.
pub(super) struct Table<'a> {
    trade: &'a Trade,
    choices: &'a Choices,
    room: f64,
    ends: f64,
    cools: f64,
    /// The share of the dose for thin skin.
    thin: f64,
    feel: Interval<Time>,
    /// How often a blade is felt over thin skin; without a line that says so it isn't felt again.
    every: i64,
    swap: Interval<Time>,
    comb: Interval<Time>,
    cool: Interval<Time>,
}

impl<'a> Table<'a> {
    /// None if no kit tells where a blade ends.
    pub(super) fn of(choices: &'a Choices, trade: &'a Trade) -> Option<Self> {
        #[allow(clippy::cast_precision_loss)]
        let degrees = |t: crate::measure::Temperature| t.0 as f64 / 1000.0;
        let heat = trade.heat;
        #[allow(clippy::cast_precision_loss)]
        let (cools, thin) = (heat.cools.high.0 as f64, heat.thin_skin.0 as f64 / 1e6);
        let feel = trade.step_called("feel-blade");
        Some(Self {
            trade,
            choices,
            room: degrees(heat.room.high),
            ends: degrees(heat.ends_at?.high),
            cools,
            thin,
            feel: feel.and_then(|s| s.minutes).unwrap_or_default(),
            every: feel.and_then(|s| s.every).map_or(i64::MAX, |e| e.high.0),
            swap: trade.minutes_of("blade-change"),
            comb: trade.minutes_of("comb-change"),
            cool: trade.minutes_of("cool-blade"),
        })
    }

    fn blade(&self, id: ToolId) -> Blade {
        let own = self.trade.tool(id).and_then(|t| t.warms);
        // One that doesn't tell counts as the quickest there is.
        let quickest = || self.trade.tools.iter().filter_map(|t| t.warms).map(|w| w.low).min();
        #[allow(clippy::cast_precision_loss)]
        let warms = own.map(|w| w.low).or_else(quickest).unwrap_or_default().0 as f64;
        Blade { room: self.room, ends: self.ends, warms, cools: self.cools }
    }
}

/// All blades of one number.
#[derive(Clone, Debug)]
struct Rack {
    blade: Blade,
    /// How warm each is.
    warmth: Vec<f64>,
    /// Which is used.
    on: usize,
    /// How long it has run since it was last felt.
    felt: i64,
    /// And since it was put on cool.
    ran: i64,
}

impl Rack {
    fn now(&self) -> f64 {
        self.warmth.get(self.on).copied().unwrap_or_default()
    }

    fn coolest(&self) -> usize {
        let best = |a: &(usize, &f64), b: &(usize, &f64)| a.1.total_cmp(b.1).then(a.0.cmp(&b.0));
        self.warmth.iter().enumerate().min_by(best).map_or(self.on, |(n, _)| n)
    }

    #[allow(clippy::cast_precision_loss)]
    fn lie(&mut self, seconds: i64) {
        self.warmth.iter_mut().for_each(|w| *w = self.blade.lying(*w, seconds as f64));
    }

    #[allow(clippy::cast_precision_loss)]
    fn run(&mut self, seconds: i64) {
        for (n, w) in self.warmth.iter_mut().enumerate() {
            let move_on = if n == self.on { Blade::running } else { Blade::lying };
            *w = move_on(&self.blade, *w, seconds as f64);
        }
        self.felt += seconds;
        self.ran += seconds;
    }

    fn put_on(&mut self, which: usize) {
        self.on = which;
        (self.felt, self.ran) = (0, 0);
    }
}

/// A blade on one and the same skin: how warm it came to it, and how long ago.
#[derive(Clone, Copy, Debug)]
struct Stretch {
    blade: ToolId,
    from: f64,
    seconds: i64,
}

/// The stops of an order.
pub(super) fn walk(table: &Table<'_>, moments: &[Moment]) -> Vec<Stop> {
    let mut walk = Walk { table, racks: BTreeMap::new(), stretch: None, stops: Vec::new() };
    for moment in moments {
        match moment {
            Moment::Pause(time) => walk.pause(time.0),
            Moment::Run(run) => walk.run(run),
        }
    }
    walk.stops
}

struct Walk<'a> {
    table: &'a Table<'a>,
    racks: BTreeMap<ToolId, Rack>,
    stretch: Option<Stretch>,
    stops: Vec<Stop>,
}

/// One way to work a line: the stops, what they take in seconds twice over, and how it ends.
struct Way {
    cost: i64,
    stops: Vec<Stop>,
    rack: Rack,
    stretch: Stretch,
    /// How long all other blades lie meanwhile.
    waits: i64,
}

impl Walk<'_> {
    fn pause(&mut self, seconds: i64) {
        self.racks.values_mut().for_each(|rack| rack.lie(seconds));
        self.stretch = None;
    }

    fn run(&mut self, run: &Run) {
        if run.time.0 <= 0 {
            return;
        }
        let table = self.table;
        let blade = table.blade(run.blade);
        let count = owned(table.choices, run.blade, table.trade);
        let fresh = || Rack { blade, warmth: vec![blade.room; count], on: 0, felt: 0, ran: 0 };
        let mut rack = self.racks.remove(&run.blade).unwrap_or_else(fresh);
        let stretch = self.stretch.filter(|s| s.blade == run.blade);
        if stretch.is_none() && rack.now() <= SURFACE {
            // Put on, and cool to the hand.
            (rack.felt, rack.ran) = (0, 0);
        }
        let stretch = stretch.unwrap_or(Stretch { blade: run.blade, from: rack.now(), seconds: 0 });
        let mut way = self.cheapest(run, &rack, stretch);
        self.stops.extend(self.felt(run, &rack, &mut way));
        let Way { stops, rack, stretch, waits, .. } = way;
        self.stops.extend(stops);
        self.racks.values_mut().for_each(|other| other.lie(run.time.0 + waits));
        self.racks.insert(run.blade, rack);
        self.stretch = Some(stretch);
    }

    /// The cheapest way to work a line; of equal ones that with a stop before it.
    fn cheapest(&self, run: &Run, rack: &Rack, stretch: Stretch) -> Way {
        let mut best: Option<Way> = None;
        let mut found_at = None;
        for total in 0..=MOST_STOPS {
            // A way with more stops can be quicker: blades are swapped sooner, and nobody waits.
            if found_at.is_some_and(|at| total > at + 2) || best.as_ref().is_some_and(|b| b.cost == 0) {
                break;
            }
            for before in [true, false] {
                let Some(within) = total.checked_sub(u32::from(before)) else { continue };
                let Some(way) = self.way(run, rack, stretch, before, within, true) else { continue };
                found_at.get_or_insert(total);
                if best.as_ref().is_none_or(|b| way.cost < b.cost) {
                    best = Some(way);
                }
            }
        }
        // The check of the finished sheet says so if even that isn't enough.
        best.or_else(|| self.way(run, rack, stretch, true, MOST_STOPS, false)).unwrap_or_else(|| Way {
            cost: 0,
            stops: Vec::new(),
            rack: rack.clone(),
            stretch,
            waits: 0,
        })
    }

    /// A line with so many stops within it, evenly, and one before it or not; none if skin would get more than its dose.
    fn way(&self, run: &Run, rack: &Rack, stretch: Stretch, before: bool, within: u32, strict: bool) -> Option<Way> {
        let table = self.table;
        let parts = within + 1;
        let each = (run.time.0 + i64::from(parts) - 1) / i64::from(parts);
        let dose = LIMIT * SPARE * if run.thin.is_empty() { 1.0 } else { table.thin };
        let mut way = Way { cost: 0, stops: Vec::new(), rack: rack.clone(), stretch, waits: 0 };
        for part in 0..parts {
            if part > 0 || before {
                self.change(run, (part, parts), each, dose, &mut way);
            }
            way.stretch.seconds += each;
            #[allow(clippy::cast_precision_loss)]
            let too_long = way.stretch.seconds as f64 > way.rack.blade.bears(way.stretch.from, dose);
            if strict && too_long {
                return None;
            }
            way.rack.run(each);
        }
        Some(way)
    }

    /// The blade is felt before thin skin if it may be warmer than the hand by then and nobody has felt it for long; and again
    /// and again, where there is nothing but thin skin.
    fn felt(&self, run: &Run, before: &Rack, way: &mut Way) -> Option<Stop> {
        let every = self.table.every.max(1);
        if run.thin.is_empty() {
            return None;
        }
        let parts = way.stops.last().map_or(1, |s| i64::from(s.part.1));
        let each = (run.time.0 + parts - 1) / parts;
        let changed = way.stops.first().is_some_and(|s| s.part.0 == 0);
        let since = if changed { 0 } else { before.felt };
        // Within one piece the blade only warms, so it is warmest at its end: where it is changed, or at the end of the line.
        #[allow(clippy::cast_possible_truncation)]
        let degrees = |warmth: f64| warmth.ceil() as i64;
        let changes = way.stops.iter().filter(|s| s.part.0 > 0).map(|s| s.warmth);
        let warmest = changes.chain([degrees(way.rack.now())]).max().unwrap_or_default();
        let warm = warmest > degrees(SURFACE);
        let again = run.thin == run.sites && each > every;
        if !warm || (since + each <= every && !again) {
            return None;
        }
        way.rack.felt = if again { each % every } else { each };
        let times = if again { (run.time.0 / every).max(1) } else { 1 };
        let Interval { low, high } = self.table.feel;
        Some(Stop {
            group: run.group,
            line: run.line,
            part: (0, 1),
            what: ForBlade::Feel(again.then_some(Time(every))),
            blade: run.blade,
            comb: run.comb,
            ran: Time(if changed { each } else { before.ran + each }),
            warmth: warmest,
            time: Interval { low: Time(low.0 * times), high: Time(high.0 * times) },
        })
    }

    /// A cooler blade on, or a wait.
    fn change(&self, run: &Run, part: (u32, u32), each: i64, dose: f64, way: &mut Way) {
        let table = self.table;
        let rack = &mut way.rack;
        let (ran, warm) = (rack.ran, rack.now());
        let other = rack.coolest();
        #[allow(clippy::cast_precision_loss)]
        let bears = |warmth: f64, rack: &Rack| rack.blade.bears(warmth, dose) >= each as f64;
        let cool = rack.warmth.get(other).copied().unwrap_or_default();
        let (what, mut time) = if other != rack.on && bears(cool, rack) {
            (ForBlade::Swap, table.swap)
        } else {
            let wait = rack.blade.cool_in(cool, rack.blade.cool()).unwrap_or_default();
            #[allow(clippy::cast_possible_truncation)]
            let wait = wait.ceil() as i64;
            let time = Interval { low: table.cool.low.max(Time(wait)), high: table.cool.high.max(Time(wait)) };
            rack.lie(time.low.0);
            way.waits += time.low.0;
            (ForBlade::Cool, time)
        };
        if run.comb.is_some() && what == ForBlade::Swap {
            time = time + table.comb;
        }
        rack.put_on(other);
        way.cost += time.low.0 + time.high.0;
        way.stretch = Stretch { blade: run.blade, from: rack.now(), seconds: 0 };
        #[allow(clippy::cast_possible_truncation)]
        let warmth = warm.ceil() as i64;
        way.stops.push(Stop {
            group: run.group,
            line: run.line,
            part,
            what,
            blade: run.blade,
            comb: run.comb,
            ran: Time(ran),
            warmth,
            time,
        });
    }
}
