//! A day's dogs with their times: who is when at which table, and whether the day fits.
//!
//! Each visit is booked at its slow end, with the dog's rests; then table and tools are cleaned. The next dog of the list goes to
//! whoever is free first. Drying isn't overlapped: a dog under a dryer is never left alone, so its groomer has no hand free.

mod ics;
mod render;

pub use ics::calendar;
pub use render::{markdown, text};

use crate::date::Day;
use crate::measure::Time;
use crate::names::trade::Trade;
use crate::sheet::Sheet;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A time of day, in minutes after midnight.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Clock(pub i64);

impl Clock {
    /// Reads `09:30` or `9:30`.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let (hours, minutes) = text.trim().split_once(':')?;
        let digits = |t: &str, most: usize| (1..=most).contains(&t.len()) && t.bytes().all(|b| b.is_ascii_digit());
        if !digits(hours, 2) || minutes.len() != 2 || !digits(minutes, 2) {
            return None;
        }
        let (hours, minutes): (i64, i64) = (hours.parse().ok()?, minutes.parse().ok()?);
        (hours <= 24 && minutes < 60 && hours * 60 + minutes <= 24 * 60).then_some(Self(hours * 60 + minutes))
    }
}

impl std::fmt::Display for Clock {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:02}:{:02}", self.0 / 60, self.0 % 60)
    }
}

/// When there is work, and by how many hands.
#[derive(Clone, Copy, Debug)]
pub struct Hours {
    /// The first dog comes.
    pub opens: Clock,
    /// The last goes.
    pub closes: Clock,
    /// When a break is wished, and for how many minutes; none is no break.
    pub lunch: Option<(Clock, i64)>,
    /// How many groomers, each at a table of their own.
    pub groomers: u32,
}

/// A visit to be placed.
#[derive(Clone, Debug)]
pub struct Visit {
    /// The card's name.
    pub dog: String,
    /// Its sheet.
    pub sheet: Sheet,
    /// How long it takes at its slow end, rests included.
    pub takes: Time,
}

/// A day, ready to be read.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[schemars(title = "Coatwright day")]
pub struct DayJson {
    /// The day: `2026-11-25`.
    pub date: String,
    /// The house's title.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub house: Option<String>,
    /// When the first dog comes: `09:00`.
    pub opens: String,
    /// When the last goes.
    pub closes: String,
    /// How many groomers there are.
    pub groomers: u32,
    /// Whether every dog finds a time.
    pub fits: bool,
    /// The visits, in order of their beginnings.
    pub visits: Vec<VisitJson>,
    /// The breaks.
    pub breaks: Vec<BreakJson>,
    /// The dogs that find no time before closing, and how long they need.
    pub no_room: Vec<NoRoomJson>,
}

/// A visit with its time.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct VisitJson {
    /// When it begins: `09:00`.
    pub begins: String,
    /// When it ends, even if all goes slowly.
    pub ends: String,
    /// At which groomer's table, from 1.
    pub groomer: u32,
    /// The card's name.
    pub dog: String,
    /// The dog's name.
    pub name: String,
    /// The trim's title.
    pub title: String,
    /// The recipe with its version.
    pub recipe: String,
    /// How long it takes.
    pub takes: String,
    /// What the dog bears, and its rests.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stands: Option<String>,
    /// What can hurt, with side and place: all of it.
    pub dangers: Vec<String>,
    /// What a vet must see first.
    pub vet_first: Vec<String>,
    /// What must still be asked of the owner.
    pub ask: Vec<String>,
    /// What waits for another visit, and why.
    pub waits: Vec<String>,
}

/// A groomer's break.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct BreakJson {
    /// Whose, from 1.
    pub groomer: u32,
    /// When it begins.
    pub begins: String,
    /// When it ends.
    pub ends: String,
}

/// A dog that finds no time.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct NoRoomJson {
    /// The card's name.
    pub dog: String,
    /// How long its visit takes.
    pub takes: String,
}

/// A groomer's day so far.
#[derive(Clone, Copy)]
struct Table {
    free: i64,
    lunch: Option<(i64, i64)>,
}

/// Gives each dog of the list its time.
#[must_use]
pub fn day(on: Day, visits: &[Visit], hours: &Hours, trade: &Trade) -> DayJson {
    let clean = whole(trade.minutes_of("table-clean").high);
    let wished = hours.lunch.map(|(at, long)| (at.0, long));
    let mut tables = vec![Table { free: hours.opens.0, lunch: wished }; hours.groomers.max(1) as usize];
    let mut day = DayJson {
        date: on.to_string(),
        house: visits.iter().find_map(|v| v.sheet.house.clone()),
        opens: hours.opens.to_string(),
        closes: hours.closes.to_string(),
        groomers: hours.groomers,
        fits: true,
        visits: Vec::new(),
        breaks: Vec::new(),
        no_room: Vec::new(),
    };
    for visit in visits {
        let long = whole(visit.takes);
        let mut all: Vec<(i64, usize, bool)> = tables
            .iter()
            .enumerate()
            .map(|(n, table)| {
                let (begins, lunch) = table.next(long);
                (begins, n, lunch)
            })
            .collect();
        all.sort_unstable();
        let Some((begins, number, lunch)) = all.first().copied().filter(|(begins, ..)| begins + long <= hours.closes.0)
        else {
            day.fits = false;
            day.no_room.push(NoRoomJson { dog: visit.dog.clone(), takes: visit.sheet.takes.clone() });
            continue;
        };
        let groomer = u32::try_from(number + 1).unwrap_or(u32::MAX);
        if let Some(table) = tables.get_mut(number) {
            if lunch {
                day.breaks.extend(table.eats(groomer));
            }
            table.free = begins + long + clean;
        }
        day.visits.push(visit.at(groomer, Clock(begins), Clock(begins + long)));
    }
    // Who has had no break yet has it after the last dog, if that is before closing.
    for (table, groomer) in tables.iter_mut().zip(1..) {
        let worked = day.visits.iter().any(|v| v.groomer == groomer);
        let due = table.lunch.is_some_and(|(at, _)| table.free >= at && table.free < hours.closes.0);
        if worked && due {
            day.breaks.extend(table.eats(groomer));
        }
    }
    day.visits.sort_by(|a, b| (&a.begins, a.groomer).cmp(&(&b.begins, b.groomer)));
    day
}

/// Minutes, to the next five: nobody books a dog for 10:43.
const fn whole(time: Time) -> i64 {
    (time.0 + 299) / 300 * 5
}

impl Table {
    /// When a visit of so many minutes begins here, and whether the break comes before it: on that side of the visit on which
    /// it is nearer to the time at which it is wished.
    fn next(&self, long: i64) -> (i64, bool) {
        match self.lunch {
            Some((at, minutes)) if self.free + long > at && at - self.free <= self.free + long - at => {
                (self.free + minutes, true)
            }
            _ => (self.free, false),
        }
    }

    fn eats(&mut self, groomer: u32) -> Option<BreakJson> {
        let (_, minutes) = self.lunch.take()?;
        let begins = self.free;
        self.free += minutes;
        Some(BreakJson { groomer, begins: Clock(begins).to_string(), ends: Clock(self.free).to_string() })
    }
}

impl Visit {
    fn at(&self, groomer: u32, begins: Clock, ends: Clock) -> VisitJson {
        let sheet = &self.sheet;
        VisitJson {
            begins: begins.to_string(),
            ends: ends.to_string(),
            groomer,
            dog: self.dog.clone(),
            name: sheet.dog.name.clone(),
            title: sheet.title.clone(),
            recipe: sheet.recipe.clone(),
            takes: sheet.takes.clone(),
            stands: sheet.stands.clone(),
            dangers: sheet.all_dangers(),
            vet_first: sheet.vet_first.clone(),
            ask: sheet.to_ask(),
            waits: sheet.waits.clone(),
        }
    }
}

/// A day as JSON, as its schema says.
#[must_use]
pub fn json(day: &DayJson) -> String {
    serde_json::to_string_pretty(day).map(|text| text + "\n").unwrap_or_default()
}
