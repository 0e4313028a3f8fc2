//! A day's dogs with their times: who is when at which table, and whether the day fits.
//!
//! Each visit is booked at its slow end, with the dog's rests; then table and tools are cleaned. The next dog of the list goes to
//! whoever is free first. Drying isn't overlapped: a dog under a dryer is never left alone, so its groomer has no hand free.
//! Dogs that a finding keeps apart, such as a bitch in season and males, are never in the house at one time.

mod ics;
mod render;

pub use ics::calendar;
pub use render::{markdown, text};

use crate::date::Day;
use crate::measure::Time;
use crate::names::trade::{Apart, Sex, Trade};
use crate::sheet::{Made, Sheet};
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
    /// Dog or bitch.
    pub sex: Option<Sex>,
    /// From whom the dog is kept apart, and the finding that says so.
    pub apart: Vec<(Apart, String)>,
    /// The finding for which it isn't let in among others: a vet comes first.
    pub stops: Option<String>,
}

impl Visit {
    /// The visit of a card by that name, as it was worked out for its sheet.
    #[must_use]
    pub fn of(dog: String, sheet: Sheet, made: &Made) -> Self {
        let findings = || made.dog.findings.iter().filter_map(|f| made.trade.finding(f.finding));
        let apart = findings().filter_map(|f| Some((f.apart?, f.name.replace('-', " ")))).collect();
        let stops = findings().find(|f| f.stops_visit).map(|f| f.name.replace('-', " "));
        Self { stops, dog, sheet, takes: made.plan.bears.takes.high, sex: made.dog.sex, apart }
    }

    /// The finding, of this dog or the other, for which the two are kept apart. Of whom nobody says whether it is a dog or a
    /// bitch is taken for either.
    fn apart_from<'a>(&'a self, other: &'a Self) -> Option<&'a str> {
        let of = |one: &'a Self, from: &Self| {
            let meant = |apart: &Apart| match apart {
                Apart::From(sex) => from.sex.is_none_or(|s| s == *sex),
                Apart::All => true,
            };
            one.apart.iter().find(|(apart, _)| meant(apart)).map(|(_, finding)| finding.as_str())
        };
        of(self, other).or_else(|| of(other, self))
    }
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
    /// The dogs that aren't booked since a vet comes first, and why: `pip: cough`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub vet_first: Vec<String>,
    /// The cards of which no sheet could be made, by name: they have no time.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub no_sheet: Vec<String>,
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
    /// From whom the dog is kept apart, of the dogs of this day, and why: `Flint: in season`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub apart: Vec<String>,
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

/// When a visit could begin.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Slot {
    begins: i64,
    table: usize,
    /// When the break begins, if it comes before it.
    lunch: Option<i64>,
}

/// Gives each dog of the list its time; `no_sheet` are those that have none.
#[must_use]
pub fn day(on: Day, visits: &[Visit], no_sheet: &[String], hours: &Hours, trade: &Trade) -> DayJson {
    let clean = fives(trade.minutes_of("table-clean").high);
    let wished = hours.lunch.map(|(at, long)| (at.0, long));
    let mut tables = vec![Table { free: hours.opens.0, lunch: wished }; hours.groomers.max(1) as usize];
    let mut day = DayJson {
        date: on.to_string(),
        house: visits.iter().find_map(|v| v.sheet.house.clone()),
        opens: hours.opens.to_string(),
        closes: hours.closes.to_string(),
        groomers: hours.groomers,
        fits: no_sheet.is_empty(),
        visits: Vec::new(),
        breaks: Vec::new(),
        no_room: Vec::new(),
        vet_first: Vec::new(),
        no_sheet: no_sheet.to_vec(),
    };
    let mut placed: Vec<(&Visit, i64, i64)> = Vec::new();
    for visit in visits {
        if let Some(finding) = &visit.stops {
            day.vet_first.push(format!("{}: {finding}", visit.dog));
            continue;
        }
        let long = booked(visit.takes);
        // While one that it is kept apart from is in the house it waits.
        let apart: Vec<(i64, i64)> = placed
            .iter()
            .filter(|(other, ..)| visit.apart_from(other).is_some())
            .map(|(_, begins, ends)| (*begins, *ends))
            .collect();
        let slots = tables.iter().enumerate().map(|(table, at)| at.slot(table, long, &apart, clean));
        let Some(slot) = slots.min().filter(|slot| slot.begins + long <= hours.closes.0) else {
            day.fits = false;
            day.no_room.push(NoRoomJson { dog: visit.dog.clone(), takes: visit.sheet.takes.clone() });
            continue;
        };
        let groomer = u32::try_from(slot.table + 1).unwrap_or(u32::MAX);
        let ends = slot.begins + long;
        if let Some(table) = tables.get_mut(slot.table) {
            if let Some(at) = slot.lunch {
                table.free = at;
                day.breaks.extend(table.eats(groomer));
            }
            table.free = ends + clean;
        }
        placed.push((visit, slot.begins, ends));
        day.visits.push(visit.at(groomer, Clock(slot.begins), Clock(ends), visits));
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

/// Minutes, to the next five.
const fn fives(time: Time) -> i64 {
    (time.0 + 299) / 300 * 5
}

/// Minutes as the sheet tells the slow end: within an hour to the next five, else to the next quarter.
const fn booked(time: Time) -> i64 {
    if time.0 < 3600 { fives(time) } else { (time.0 + 899) / 900 * 15 }
}

impl Table {
    /// When a visit of so many minutes begins here, outside these times with what is cleaned after them, and whether the break
    /// comes before it: on that side of the visit on which it is nearer to the time at which it is wished.
    fn slot(&self, table: usize, long: i64, apart: &[(i64, i64)], clean: i64) -> Slot {
        let mut from = self.free;
        loop {
            let lunch = self.lunch.filter(|(at, _)| from + long > *at && at - from <= from + long - at);
            let begins = lunch.map_or(from, |(_, minutes)| from.max(self.free + minutes));
            let meets = |(b, e): &&(i64, i64)| begins < e + clean && *b < begins + long + clean;
            match apart.iter().filter(meets).map(|(_, ends)| ends + clean).max() {
                Some(later) => from = later.max(from + 1),
                None => {
                    // Where nobody is on the table, as near as may be to when it is wished.
                    let at = lunch.map(|(at, minutes)| at.min(begins - minutes).max(self.free));
                    return Slot { begins, table, lunch: at };
                }
            }
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
    fn at(&self, groomer: u32, begins: Clock, ends: Clock, all: &[Self]) -> VisitJson {
        let sheet = &self.sheet;
        let why = |other: &Self| Some(format!("{}: {}", other.sheet.dog.name, self.apart_from(other)?));
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
            apart: all.iter().filter(|other| other.dog != self.dog).filter_map(why).collect(),
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
