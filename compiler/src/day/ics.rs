//! A day as iCalendar, for the calendar on the wall.
//!
//! Source: RFC 5545. Times are floating (3.3.5, form 1): nine o'clock in the salon, wherever it is. Lines end in CRLF and are folded
//! at 75 octets (3.1), commas, semicolons, backslashes and line breaks of texts are escaped (3.3.11). Of the dog it tells the name
//! and the trim, and of the people nothing.

use super::DayJson;
use crate::sheet::planning::fingerprint_of;

/// The calendar. `stamp` is when it is written, in UTC: `20261125T083000Z`.
#[must_use]
pub fn calendar(day: &DayJson, stamp: &str) -> String {
    let mut out = String::new();
    let date = day.date.replace('-', "");
    let at = |clock: &str| format!("{date}T{}00", clock.replace(':', ""));
    for text in ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Coatwright//day//EN", "CALSCALE:GREGORIAN"] {
        line(&mut out, text);
    }
    for visit in &day.visits {
        // The same dog, day and recipe is the same entry, whenever the day is planned anew.
        let id = fingerprint_of(format!("{}/{}/{}", day.date, visit.dog, visit.recipe).as_bytes());
        line(&mut out, "BEGIN:VEVENT");
        line(&mut out, &format!("UID:{date}-{id:016x}@coatwright.invalid"));
        line(&mut out, &format!("DTSTAMP:{stamp}"));
        line(&mut out, &format!("DTSTART:{}", at(&visit.begins)));
        line(&mut out, &format!("DTEND:{}", at(&visit.ends)));
        line(&mut out, &format!("SUMMARY:{}", escaped(&format!("{}: {}", visit.name, visit.title))));
        let table = if day.groomers > 1 { format!("table {}, ", visit.groomer) } else { String::new() };
        line(&mut out, &format!("DESCRIPTION:{}", escaped(&format!("{table}takes {}", visit.takes))));
        line(&mut out, "END:VEVENT");
    }
    line(&mut out, "END:VCALENDAR");
    out
}

fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\\' | ';' | ',' => out.extend(['\\', c]),
            '\n' => out.push_str("\\n"),
            c if c.is_control() => {}
            c => out.push(c),
        }
    }
    out
}

/// A content line, folded: no line is longer than 75 octets, and no letter is parted.
fn line(out: &mut String, text: &str) {
    let mut room = 75;
    for c in text.chars() {
        if c.len_utf8() > room {
            out.push_str("\r\n ");
            room = 74;
        }
        room -= c.len_utf8();
        out.push(c);
    }
    out.push_str("\r\n");
}

#[cfg(test)]
mod tests {
    use super::{escaped, line};

    /// Source: RFC 5545, 3.1: lines of text should not be longer than 75 octets, excluding the line break.
    #[test]
    fn folded_by_octets_and_not_within_a_letter() {
        let mut out = String::new();
        let text = format!("SUMMARY:{}", "ä".repeat(100));
        line(&mut out, &text);
        assert!(out.split("\r\n").all(|l| l.len() <= 75));
        assert_eq!(out.replace("\r\n ", "").trim_end(), text);
    }

    /// Source: RFC 5545, 3.3.11, its own example of a text.
    #[test]
    fn escaped_as_the_standard_shows() {
        let text = "Project XYZ Final Review\nConference Room - 3B\nCome Prepared.";
        assert_eq!(escaped(text), "Project XYZ Final Review\\nConference Room - 3B\\nCome Prepared.");
        assert_eq!(escaped("a;b,c\\d\re"), "a\\;b\\,c\\\\de");
    }
}
