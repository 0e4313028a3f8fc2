//! A day as iCalendar, for the calendar on the wall.
//!
//! Source: RFC 5545. Times are floating (3.3.5, form 1): nine o'clock in the salon, wherever it is. Lines end in CRLF and are folded
//! at 75 octets (3.1), commas, semicolons, backslashes and line breaks of texts are escaped (3.3.11). Of the dog it tells the name
//! and the trim, and of the people nothing.

use super::DayJson;
use crate::date::Day;
use crate::sheet::planning::fingerprint_of;

/// The calendar. `stamp` is when it is written, in UTC: `20261125T083000Z`. Beside the visits stand the breaks, and, for the whole
/// day, the dogs that found no time.
#[must_use]
pub fn calendar(day: &DayJson, stamp: &str) -> String {
    let mut out = String::new();
    let date = day.date.replace('-', "");
    for text in ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Coatwright//day//EN", "CALSCALE:GREGORIAN"] {
        line(&mut out, text);
    }
    // `id` is what makes an entry the same whenever the day is planned anew.
    let mut event = |id: String, when: [String; 2], summary: String, more: &[String]| {
        let id = fingerprint_of(format!("{}/{id}", day.date).as_bytes());
        let [starts, ends] = when;
        let head = [format!("UID:{date}-{id:016x}@coatwright.invalid"), format!("DTSTAMP:{stamp}")];
        line(&mut out, "BEGIN:VEVENT");
        head.iter().chain([&starts, &ends]).for_each(|text| line(&mut out, text));
        line(&mut out, &format!("SUMMARY:{}", escaped(&summary)));
        more.iter().for_each(|text| line(&mut out, text));
        line(&mut out, "END:VEVENT");
    };
    let at = |begins: &str, ends: &str| {
        let time = |clock: &str| format!("{date}T{}00", clock.replace(':', ""));
        [format!("DTSTART:{}", time(begins)), format!("DTEND:{}", time(ends))]
    };
    let table = |groomer: u32| if day.groomers > 1 { format!("table {groomer}, ") } else { String::new() };
    for visit in &day.visits {
        let takes = format!("{}takes {}", table(visit.groomer), visit.takes);
        event(
            format!("{}/{}", visit.dog, visit.recipe),
            at(&visit.begins, &visit.ends),
            format!("{}: {}", visit.name, visit.title),
            &[format!("DESCRIPTION:{}", escaped(&takes))],
        );
    }
    for rest in &day.breaks {
        let whose = if day.groomers > 1 { format!("Break, table {}", rest.groomer) } else { "Break".to_owned() };
        event(format!("break/{}", rest.groomer), at(&rest.begins, &rest.ends), whose, &[]);
    }
    let left: Vec<String> = day
        .no_room
        .iter()
        .map(|dog| format!("No time for {} ({})", dog.dog, dog.takes))
        .chain(
            day.vet_first
                .iter()
                .map(|dog| format!("Not booked, a vet first: {}", dog.split(':').next().unwrap_or(dog))),
        )
        .chain(day.no_sheet.iter().map(|dog| format!("No sheet for {dog}")))
        .collect();
    if let Some(next) = Day::parse(&day.date).map(|d| d.plus(1).to_string().replace('-', "")) {
        for words in left {
            let when = [format!("DTSTART;VALUE=DATE:{date}"), format!("DTEND;VALUE=DATE:{next}")];
            event(words.clone(), when, words, &["TRANSP:TRANSPARENT".to_owned()]);
        }
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
