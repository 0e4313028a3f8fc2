//! A card for today from the card of the last visit.

use coatwright::date::Day;
use std::fmt::Write as _;

/// Lines that are true of one visit only: they stay in sight, behind dashes, until somebody has looked again.
const OF_ONE_VISIT: &[&str] = &["coat", "weight", "asked", "mats", "brushed", "by", "consent", "stands"];
/// Lines whose value is replaced.
const REPLACED: &[&str] = &["seen", "last"];

/// The new card. `statements` are the old one's, as written.
pub(super) fn from_last(name: &str, old_name: &str, statements: &[String], today: Day) -> String {
    let mut out = format!(
        "-- From the last card of {old_name}. Look, feel and ask again: take the dashes away from what is so today.\n\n"
    );
    let _ = writeln!(out, "dog {name} {{");
    line(&mut out, "", "seen", &today.to_string());
    if let Some(day) = last_visit(statements) {
        line(&mut out, "", "last", &day);
    }
    for statement in statements {
        let (word, rest) = parts(statement);
        if !REPLACED.contains(&word.as_str()) && !OF_ONE_VISIT.contains(&word.as_str()) {
            line(&mut out, "", &word, rest);
        }
    }
    let mut first = true;
    for statement in statements {
        let (word, rest) = parts(statement);
        if OF_ONE_VISIT.contains(&word.as_str()) {
            if std::mem::take(&mut first) {
                out.push_str("\n  -- As it was last time.\n");
            }
            line(&mut out, "-- ", &word, rest);
        }
    }
    out.push_str("}\n");
    out
}

/// The day on which the dog was there last: of the lines `visit` and `seen` the latest day, or else `last`.
fn last_visit(statements: &[String]) -> Option<String> {
    let visits = statements.iter().map(|s| parts(s)).filter(|(word, _)| word == "visit" || word == "seen");
    let days = visits.filter_map(|(_, rest)| Day::parse(rest.split(',').next()?));
    if let Some(day) = days.max() {
        return Some(day.to_string());
    }
    let of = |wanted| statements.iter().map(|s| parts(s)).find(|(word, _)| word == wanted).map(|(_, rest)| rest);
    of("seen").or_else(|| of("last")).map(str::to_owned)
}

/// A statement's first word in small letters, and what follows it.
fn parts(statement: &str) -> (String, &str) {
    let (word, rest) = statement.split_once(char::is_whitespace).unwrap_or((statement, ""));
    (word.to_lowercase(), rest.trim())
}

/// One statement in the card's columns; one over several lines keeps them.
fn line(out: &mut String, dashes: &str, word: &str, rest: &str) {
    for (number, text) in rest.lines().enumerate() {
        let text = text.trim_end();
        let _ =
            if number == 0 { writeln!(out, "  {dashes}{word:<9} {text}") } else { writeln!(out, "  {dashes}{text}") };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn card(statements: &[&str]) -> String {
        let statements: Vec<String> = statements.iter().map(|s| (*s).to_owned()).collect();
        from_last(
            "bramble-november",
            "bramble",
            &statements,
            coatwright::date::Day::parse("2026-11-20").unwrap_or(Day(0)),
        )
    }

    #[test]
    fn what_lasts_is_copied_and_what_was_true_once_is_asked_again() {
        let card = card(&[
            "sex dog, neutered",
            "coat      fleece, 48 mm; topknot 70 mm",
            "weight    12.4 kg",
            "SEEN      2026-09-25",
            "last 2026-07-31",
            "finding irritation on throat after #10 seen 2026-08-02",
            "mats      tight on breeches,\n            20 mm off the skin",
            "consent   clip-off yes",
        ]);
        let lines: Vec<&str> = card.lines().skip(2).collect();
        assert_eq!(
            lines,
            [
                "dog bramble-november {",
                "  seen      2026-11-20",
                "  last      2026-09-25",
                "  sex       dog, neutered",
                "  finding   irritation on throat after #10 seen 2026-08-02",
                "",
                "  -- As it was last time.",
                "  -- coat      fleece, 48 mm; topknot 70 mm",
                "  -- weight    12.4 kg",
                "  -- mats      tight on breeches,",
                "  --             20 mm off the skin",
                "  -- consent   clip-off yes",
                "}",
            ]
        );
    }

    #[test]
    fn a_visit_is_what_the_next_card_counts_from() {
        let card = card(&["seen 2026-09-25", "visit 2026-09-26, harbour-short version 4, #10", "sex bitch"]);
        assert!(card.contains("  last      2026-09-26\n"), "{card}");
        assert!(card.contains("  visit     2026-09-26, harbour-short version 4, #10\n"), "{card}");
    }

    #[test]
    fn a_card_that_was_never_dated_has_no_last_visit() {
        assert!(!card(&["sex bitch"]).contains("last      "));
        assert!(card(&["last 2026-07-31"]).contains("  last      2026-07-31\n"));
    }
}
