//! How numbers, tools and strokes are said on a sheet.

use crate::finish::Stroke;
use crate::measure::{Interval, Length, MM, Time};
use crate::names::trade::{Direction, ToolId, ToolKind, Trade, Verb};
use crate::plan::BlendWork;

/// Minutes as a groomer says them: to the minute below ten, to five above.
pub fn minutes(time: Interval<Time>) -> Option<String> {
    if time.high.0 <= 0 {
        return None;
    }
    let round = |seconds: i64, up: bool| {
        let minutes = if up { (seconds + 59) / 60 } else { seconds / 60 };
        match (minutes, up) {
            (m, _) if m < 10 => m.max(1),
            (m, true) => (m + 4) / 5 * 5,
            (m, false) => m / 5 * 5,
        }
    };
    let (low, high) = (round(time.low.0, false), round(time.high.0, true));
    Some(if low == high { format!("{high} min") } else { format!("{low} to {high} min") })
}

/// Hours as a groomer says them: `1 h 30 to 2 h`, to the quarter; what is within an hour to five minutes.
pub fn hours(time: Interval<Time>) -> String {
    if time.high.0 < 3600 {
        return minutes(time).unwrap_or_else(|| "no time".to_owned());
    }
    let quarter = |seconds: i64, up: bool| if up { (seconds + 899) / 900 } else { seconds / 900 };
    let say = |quarters: i64| match (quarters / 4, quarters % 4 * 15) {
        (0, minutes) => format!("{minutes} min"),
        (hours, 0) => format!("{hours} h"),
        (hours, minutes) => format!("{hours} h {minutes}"),
    };
    let (low, high) = (quarter(time.low.0, false).max(1), quarter(time.high.0, true).max(1));
    if low == high { say(high) } else { format!("{} to {}", say(low), say(high)) }
}

/// So many seconds: `50 s`, `2 min`, `3 min 20 s`.
pub fn seconds(seconds: u64) -> String {
    match (seconds / 60, seconds % 60) {
        (0, s) => format!("{s} s"),
        (m, 0) => format!("{m} min"),
        (m, s) => format!("{m} min {s} s"),
    }
}

/// A time that one dog can bear.
pub fn plain_time(time: Time) -> String {
    match (time.0 / 3600, time.0 % 3600 / 60) {
        (0, minutes) => format!("{minutes} min"),
        (hours, 0) => format!("{hours} h"),
        (hours, minutes) => format!("{hours} h {minutes}"),
    }
}

/// A tool with what is under it: the number first.
pub fn tool(trade: &Trade, stroke: &Stroke) -> Option<String> {
    let tool = trade.tool(stroke.tool?)?;
    Some(match (tool.kind, stroke.over.and_then(|o| trade.tool(o))) {
        (ToolKind::Comb, Some(blade)) => format!("{} over {}", crate::finish::tool_words(tool), blade.name),
        _ => crate::finish::tool_words(tool),
    })
}

/// Such a tool without the blade beneath.
pub fn without_blade(tool: &str) -> &str {
    tool.split(" over ").next().unwrap_or(tool)
}

/// Two cautions as one, the first before the second.
pub fn joined(first: Option<String>, second: Option<String>) -> Option<String> {
    match (first, second) {
        (Some(first), Some(second)) => Some(format!("{first} {second}")),
        (first, second) => first.or(second),
    }
}

/// What blends, in its order: the rungs, `13 mm comb, then 16`, or else what is in the hand.
pub fn blends_with(trade: &Trade, work: &BlendWork) -> Option<String> {
    let tools: Vec<String> =
        work.rungs.iter().filter_map(|r| trade.tool(r.tool)).map(crate::finish::tool_words).collect();
    let Some((first, others)) = tools.split_first() else {
        return work.hand.and_then(|id| trade.tool(id)).map(crate::finish::tool_words);
    };
    // A comb after a comb is told by its length alone.
    let short = |words: &String| words.strip_suffix(" mm comb").map_or_else(|| words.clone(), str::to_owned);
    let others: String = others
        .iter()
        .map(|t| if first.ends_with("comb") { short(t) } else { t.clone() })
        .fold(String::new(), |all, t| format!("{all}, then {t}"));
    Some(format!("{first}{others}"))
}

/// A tool for the lay-out row: `#4F, 9.5 mm`.
pub fn laid_out(trade: &Trade, id: ToolId) -> Option<String> {
    let tool = trade.tool(id)?;
    Some(match (tool.kind, tool.leaves) {
        (ToolKind::Blade, Some(_)) => {
            tool.closeness.map_or_else(|| tool.name.to_string(), |c| format!("{}, {c}", tool.name))
        }
        _ => crate::finish::tool_words(tool),
    })
}

/// The direction as the trade says it.
pub const fn direction(way: Direction) -> &'static str {
    match way {
        Direction::With => "with the coat",
        Direction::Across => "across the coat",
        Direction::Reverse => "in reverse",
    }
}

/// What stays, no finer than it is known.
pub fn leaves(stroke: &Stroke) -> Option<String> {
    stroke.leaves.map(whole)
}

/// Whole millimetres from 5 mm up.
pub fn whole(leaves: Interval<Length>) -> String {
    let round = |l: Length| if l.0 >= 5 * MM { Length((l.0 + MM / 2) / MM * MM) } else { l };
    leaves.map(round).to_string()
}

/// How the verb is said when the zones follow.
pub const fn verb(verb: Verb) -> &'static str {
    match verb {
        Verb::SetIn => "set in",
        Verb::Finish => "finish",
        Verb::Clip => "clip",
        Verb::Skim => "skim",
        Verb::Scissor => "scissor",
        Verb::Shape => "shape",
        Verb::Thin => "thin",
        Verb::HandStrip => "hand-strip",
        Verb::Card => "card",
        Verb::Rake => "rake",
        Verb::Taper => "taper",
        Verb::Leave => "leave",
    }
}

/// Passes and ways of working.
pub fn how(stroke: &Stroke) -> Option<String> {
    let mut words = Vec::new();
    let again = stroke.manners.iter().any(|(m, _)| m == "again");
    match stroke.passes {
        1 if stroke.verb == Verb::Skim => words.push("one pass".to_owned()),
        n if n > 1 && !again => words.push(format!("{n} passes")),
        _ => {}
    }
    for (name, at) in &stroke.manners {
        let name = name.replace('-', " ");
        match at {
            Some(zone) => words.push(format!("{name} at {}", zone.replace('-', " "))),
            None => words.push(name),
        }
    }
    (!words.is_empty()).then(|| words.join(", "))
}

/// The first letter large.
pub fn sentence(words: &str) -> String {
    let mut chars = words.chars();
    chars.next().map(|c| c.to_uppercase().collect::<String>() + chars.as_str()).unwrap_or_default()
}

/// Words that go on a sentence.
pub fn small(words: &str) -> String {
    let mut chars = words.chars();
    chars.next().map(|c| c.to_lowercase().collect::<String>() + chars.as_str()).unwrap_or_default()
}

/// A length as an owner thinks of it.
pub fn in_fingers(length: Length, finger: Length) -> String {
    let mm = (length.0 + MM / 2) / MM;
    if mm < 5 {
        return format!("very short ({mm} mm)");
    }
    if finger.0 <= 0 {
        return format!("{mm} mm");
    }
    // In quarters of a finger's width.
    let quarters = (length.0 * 4 + finger.0 / 2) / finger.0;
    let words = match quarters {
        0 => "very short",
        1 => "a quarter of a finger's width",
        2 => "half a finger's width",
        3 => "three quarters of a finger's width",
        4 => "a finger's width",
        5 | 6 => "a finger and a half",
        7..=9 => "two fingers",
        _ => "more than two fingers",
    };
    if quarters == 0 { words.to_owned() } else { format!("{words} ({mm} mm)") }
}
