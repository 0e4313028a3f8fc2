//! Days of the Gregorian calendar, as a number that can be compared and subtracted.

use serde::{Deserialize, Serialize};
use std::fmt;

/// A day, counted from 1970-01-01.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Day(pub i64);

impl Day {
    /// The day of a year, month and day of the month; none if there is no such day.
    /// Source: the civil calendar's arithmetic by eras of 400 years (146 097 days).
    #[must_use]
    pub fn new(year: i32, month: u32, day: u32) -> Option<Self> {
        let days = Self::from_civil(i64::from(year), i64::from(month), i64::from(day));
        (Self(days).civil() == (i64::from(year), i64::from(month), i64::from(day))).then_some(Self(days))
    }

    /// The date as written in a text; a month alone is its first day.
    #[must_use]
    pub fn of(date: grammar::tree::Date) -> Option<Self> {
        Self::new(date.year, date.month, date.day.unwrap_or(1))
    }

    /// Reads `2026-11-25`.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let mut parts = text.trim().split('-');
        let (year, month, day) = (parts.next()?, parts.next()?, parts.next()?);
        if parts.next().is_some() || year.len() != 4 {
            return None;
        }
        Self::new(year.parse().ok()?, month.parse().ok()?, day.parse().ok()?)
    }

    fn from_civil(year: i64, month: i64, day: i64) -> i64 {
        // Years begin in March, so that the leap day is a year's last.
        let year = if month <= 2 { year - 1 } else { year };
        let era = year.div_euclid(400);
        let of_era = year.rem_euclid(400);
        let of_year = (153 * ((month + 9).rem_euclid(12)) + 2) / 5 + day - 1;
        era * 146_097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719_468
    }

    fn civil(self) -> (i64, i64, i64) {
        let z = self.0 + 719_468;
        let era = z.div_euclid(146_097);
        let of_era = z.rem_euclid(146_097);
        let year = (of_era - of_era / 1460 + of_era / 36_524 - of_era / 146_096) / 365;
        let of_year = of_era - (365 * year + year / 4 - year / 100);
        let shifted = (5 * of_year + 2) / 153;
        let day = of_year - (153 * shifted + 2) / 5 + 1;
        let month = if shifted < 10 { shifted + 3 } else { shifted - 9 };
        (year + era * 400 + i64::from(month <= 2), month, day)
    }

    /// So many days later.
    #[must_use]
    pub const fn plus(self, days: i64) -> Self {
        Self(self.0 + days)
    }
}

impl fmt::Display for Day {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (year, month, day) = self.civil();
        write!(f, "{year:04}-{month:02}-{day:02}")
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::Day;

    /// Source: ISO 8601's leap rule; 2000-03-01 is day 11 017 of the Unix count (`date -d @951868800`).
    #[test]
    fn days_of_the_calendar() {
        assert_eq!(Day::new(1970, 1, 1), Some(Day(0)));
        assert_eq!(Day::new(2000, 3, 1), Some(Day(11_017)));
        assert_eq!(Day::new(1900, 2, 29), None);
        assert_eq!(Day::new(2024, 2, 29).unwrap().plus(1).to_string(), "2024-03-01");
        assert_eq!(Day::parse("2026-11-25").unwrap().to_string(), "2026-11-25");
        assert_eq!(Day::parse("2026-13-01"), None);
    }
}
