//! Which day it is, and reading a day from the command line.

use coatwright::date::Day;

/// Today where this computer stands: a salon in Sydney must not get yesterday's date on its morning sheets.
pub(super) fn today() -> Day {
    let date = jiff::Zoned::now().date();
    // INVARIANT: the clock's date is a date.
    Day::new(date.year().into(), date.month().unsigned_abs().into(), date.day().unsigned_abs().into()).unwrap_or(Day(0))
}

/// Now in UTC, as a calendar writes it: `20261125T083000Z`.
pub(super) fn stamp() -> String {
    jiff::Timestamp::now().strftime("%Y%m%dT%H%M%SZ").to_string()
}

/// A day as given on the command line.
pub(super) fn parse(text: &str) -> Result<Day, String> {
    Day::parse(text).ok_or_else(|| "write a day as year-month-day, such as 2026-11-20".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::{SystemTime, UNIX_EPOCH};

    #[test]
    fn today_is_within_a_day_of_universal_time() {
        let seconds = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |d| d.as_secs());
        let universal = i64::try_from(seconds / 86_400).unwrap_or(0);
        assert!((universal - 1..=universal + 1).contains(&today().0), "{}", today());
    }

    #[test]
    fn what_is_no_day() {
        for text in ["", "2026", "2026-11", "2026-13-01", "2026-02-29", "20-11-2026", "2026-11-20-1", "tomorrow"] {
            assert!(parse(text).is_err(), "{text}");
        }
        assert!(parse("2024-02-29").is_ok_and(|d| d.to_string() == "2024-02-29"));
    }
}
