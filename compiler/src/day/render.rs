//! A day as text and as Markdown.

use super::{DayJson, VisitJson};
use std::fmt::Write;

/// What stands under a visit, worst first: its heading and its lines.
fn under(visit: &VisitJson) -> Vec<(&'static str, String)> {
    let mut lines: Vec<(&'static str, String)> = Vec::new();
    lines.extend(visit.vet_first.iter().map(|v| ("vet", v.clone())));
    if !visit.apart.is_empty() {
        lines.push(("apart", format!("not in the house with {}", visit.apart.join(", "))));
    }
    // By name only: the words stand on its sheet.
    let names: Vec<&str> = visit.dangers.iter().map(|d| d.split(['.', ':']).next().unwrap_or(d)).collect();
    if !names.is_empty() {
        lines.push(("mind", names.join(" · ")));
    }
    if !visit.ask.is_empty() {
        lines.push(("ask", visit.ask.join(", ")));
    }
    lines.extend(visit.stands.iter().map(|s| ("stands", s.clone())));
    lines.extend(visit.waits.first().map(|w| ("waits", w.clone())));
    lines
}

fn verdict(day: &DayJson) -> String {
    let mut words = Vec::new();
    if !day.vet_first.is_empty() {
        let all = day.vet_first.join(", ");
        words.push(format!("Not booked, a vet comes first and nobody meets them here: {all}."));
    }
    if day.visits.is_empty() && day.no_room.is_empty() && day.no_sheet.is_empty() {
        words.push("No dogs.".to_owned());
    } else if day.fits {
        words.push("The day fits, even if every visit goes slowly.".to_owned());
    }
    if !day.no_room.is_empty() {
        let all: Vec<String> = day.no_room.iter().map(|n| format!("{} ({})", n.dog, n.takes)).collect();
        words.push(format!("The day doesn't fit. No time before {} for: {}.", day.closes, all.join(", ")));
    }
    if !day.no_sheet.is_empty() {
        words.push(format!("No sheet, and so no time, for: {}.", day.no_sheet.join(", ")));
    }
    words.join(" ")
}

/// For a terminal or a printer.
#[must_use]
pub fn text(day: &DayJson, width: usize) -> String {
    let width = width.clamp(60, 120);
    let mut out = String::new();
    let house = day.house.as_ref().map(|h| format!("  {h}")).unwrap_or_default();
    let _ = writeln!(out, "{}{house}  {} to {}\n{}", day.date, day.opens, day.closes, "=".repeat(width));
    for (begins, visit) in in_order(day) {
        match visit {
            Ok(visit) => {
                let table = if day.groomers > 1 { format!("  table {}", visit.groomer) } else { String::new() };
                let _ = writeln!(
                    out,
                    "{begins} to {}{table}  {}  ·  {}  ({})",
                    visit.ends, visit.name, visit.title, visit.takes
                );
                for (label, words) in under(visit) {
                    let first = format!("               {label:<7}");
                    let rest = " ".repeat(first.len());
                    let options = textwrap::Options::new(width)
                        .initial_indent(&first)
                        .subsequent_indent(&rest)
                        .break_words(false);
                    textwrap::wrap(&words, options).iter().for_each(|l| {
                        let _ = writeln!(out, "{}", l.trim_end());
                    });
                }
            }
            Err((groomer, ends)) => {
                let table = if day.groomers > 1 { format!("  table {groomer}") } else { String::new() };
                let _ = writeln!(out, "{begins} to {ends}{table}  break");
            }
        }
    }
    let _ = writeln!(out, "{}", "=".repeat(width));
    textwrap::wrap(&verdict(day), width).iter().for_each(|l| {
        let _ = writeln!(out, "{l}");
    });
    out
}

/// A visit, or the break of a groomer with its end.
type What<'a> = Result<&'a VisitJson, (u32, &'a str)>;

/// Visits and breaks by the time at which they begin.
fn in_order(day: &DayJson) -> Vec<(&str, What<'_>)> {
    let visits = day.visits.iter().map(|v| (v.begins.as_str(), v.groomer, Ok(v)));
    let breaks = day.breaks.iter().map(|b| (b.begins.as_str(), b.groomer, Err((b.groomer, b.ends.as_str()))));
    let mut all: Vec<_> = visits.chain(breaks).collect();
    all.sort_by_key(|(begins, groomer, _)| (*begins, *groomer));
    all.into_iter().map(|(begins, _, what)| (begins, what)).collect()
}

/// For notes and web pages.
#[must_use]
pub fn markdown(day: &DayJson) -> String {
    let plain = |text: &str| {
        let mut out = String::new();
        for c in text.chars() {
            if matches!(c, '*' | '_' | '`' | '<' | '>' | '[' | ']' | '|' | '\\') {
                out.push('\\');
            }
            out.push(c);
        }
        out
    };
    let mut out = String::new();
    let house = day.house.as_ref().map(|h| format!(" · {}", plain(h))).unwrap_or_default();
    let _ = writeln!(out, "# {}{house}\n\n{} to {}\n", day.date, day.opens, day.closes);
    let _ = writeln!(out, "| from | to | table | dog | trim | mind |\n| --- | --- | --- | --- | --- | --- |");
    for (begins, visit) in in_order(day) {
        let _ = match visit {
            Ok(v) => {
                let mind: Vec<String> =
                    under(v).into_iter().map(|(label, words)| format!("{label}: {}", plain(&words))).collect();
                writeln!(
                    out,
                    "| {begins} | {} | {} | {} | {} ({}) | {} |",
                    v.ends,
                    v.groomer,
                    plain(&v.name),
                    plain(&v.title),
                    v.takes,
                    mind.join("<br>")
                )
            }
            Err((groomer, ends)) => writeln!(out, "| {begins} | {ends} | {groomer} | break | | |"),
        };
    }
    let _ = writeln!(out, "\n{}", plain(&verdict(day)));
    out
}
