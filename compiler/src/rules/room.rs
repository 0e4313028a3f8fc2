//! J003 and J004: a blend that is too short for its step, and a blend for which a small dog has too little room.

use super::joins::{Pair, pairs};
use crate::choices::{BlendAsk, Choices, Wide};
use crate::diagnostic::{Diagnostic, code};
use crate::finish::{Finishes, is_even};
use crate::joins::{Blend, blend_at, covering, fits_from};
use crate::measure::{Length, MM};
use crate::names::card::Dog;
use crate::names::trade::{Trade, Zone};
use crate::names::zone_words::list_words;

/// A border that a blend takes care of on this dog.
#[derive(Clone, Debug)]
pub struct Blended<'t> {
    /// The number of the blend among the choices' blends.
    pub ask: usize,
    /// One zone.
    pub a: &'t Zone,
    /// The other.
    pub b: &'t Zone,
    /// The blend there.
    pub blend: Blend,
}

/// The borders of this dog that a blend takes care of, each with its blend.
#[must_use]
pub fn blended<'t>(choices: &Choices, trade: &'t Trade, dog: &Dog, finishes: &Finishes) -> Vec<Blended<'t>> {
    let at = |pair: Pair<'t>| {
        let (ask, asked) = covering(choices, dog, pair.site, pair.other)?;
        let (x, y) = (finishes.at(pair.site)?, finishes.at(pair.other)?);
        let blend = blend_at(choices, trade, dog, (pair.a, x), (pair.b, y), asked)?;
        Some(Blended { ask, a: pair.a, b: pair.b, blend })
    };
    pairs(trade, choices.symmetric && is_even(trade, dog)).into_iter().filter_map(at).collect()
}

/// Says of each blend of the dog the border where it does worst.
pub fn rule(choices: &Choices, trade: &Trade, dog: &Dog, finishes: &Finishes, out: &mut Vec<Diagnostic>) {
    if choices.blends.is_empty() {
        return;
    }
    messages(choices, trade, dog, &blended(choices, trade, dog, finishes), out);
}

/// The same for borders that are known already.
pub fn messages(choices: &Choices, trade: &Trade, dog: &Dog, borders: &[Blended<'_>], out: &mut Vec<Diagnostic>) {
    for (number, ask) in choices.blends.iter().enumerate() {
        let here = || borders.iter().filter(|b| b.ask == number);
        let short = here().filter(|b| b.blend.is_too_short());
        if let Some(worst) = short.max_by_key(|b| b.blend.needed.map(|n| n.low)) {
            let room = here().filter_map(|b| b.blend.room).min();
            out.push(too_short(choices, trade, dog, ask, worst, room));
        }
        let tight = here().filter(|b| b.blend.has_too_little_room());
        if let Some(worst) = tight.min_by_key(|b| b.blend.room) {
            out.push(no_room(choices, trade, dog, ask, worst));
        }
    }
}

/// `least` is the room where the blend has least.
fn too_short(
    choices: &Choices,
    trade: &Trade,
    dog: &Dog,
    ask: &BlendAsk,
    worst: &Blended<'_>,
    least: Option<Length>,
) -> Diagnostic {
    let needed = worst.blend.needed.map_or(Length(0), |n| n.low);
    let name = |site| trade.zone_of(site).map_or(String::new(), |(z, _)| z.name.replace('-', " "));
    let (short, long) = (name(worst.blend.shorter), name(worst.blend.longer));
    let room = ask.room.clone().unwrap_or_default();
    let place = ask.room_place.unwrap_or(ask.place);
    let by = ask.by.as_ref().map_or(String::new(), |by| format!(" by {}", by.replace('-', " ")));
    let fingers = choices.units.map(|u| u.finger).filter(|f| f.0 > 0);
    let wider = fingers.map(|finger| (needed.0 + finger.0 - 1) / finger.0);
    let wider = wider.and_then(|n| Some((n, *FINGERS.get(usize::try_from(n).ok()?.checked_sub(1)?)?)));
    let in_fingers = wider.map_or(String::new(), |(_, words)| format!(", or {words},"));
    let diagnostic =
        Diagnostic::warning(code::J003, place, format!("`over {room}` is too short to blend {short} into {long}"))
            .label(format!("at least {}{in_fingers}{by}", centimetres(needed)).trim_end_matches(',').to_owned())
            .why("Forced into less, the step shows as a line or as steps.");
    // A share grows with the dog.
    let grows = match ask.wide {
        Some(Wide::Share(..)) => format!("It is long enough for {}. ", from_words(choices, dog, ask, worst)),
        _ => String::new(),
    };
    let room_for = |fingers: i64| {
        let narrow = trade.fingers.low.0.saturating_mul(fingers);
        least.is_some_and(|room| narrow <= room.0)
    };
    match wider {
        Some((fingers, words)) if room_for(fingers) => diagnostic
            .help(format!("{grows}Write `over {words}`, or bring the two lengths closer together."))
            .fix(format!("write `over {words}`"), place, format!("over {words}")),
        _ => {
            // Free hands need no steps between.
            let motions = choices.kit.iter().filter_map(|id| trade.manner(trade.tool(*id)?.blends?));
            let free = motions.filter(|m| m.freehand).find(|m| ask.by.as_ref() != Some(&m.name));
            let free = free.map_or(String::new(), |m| format!("blend `by {}`, ", m.name));
            diagnostic.help(format!(
                "{grows}Bring the two lengths closer together, {free}or say `line between {short} and {long}` where it is meant to show."
            ))
        }
    }
}

/// How fingers are counted up to a hand's breadth.
const FINGERS: [&str; 4] = ["one finger", "two fingers", "three fingers", "four fingers"];

fn no_room(choices: &Choices, trade: &Trade, dog: &Dog, ask: &BlendAsk, worst: &Blended<'_>) -> Diagnostic {
    let (a, b) = (worst.a.name.replace('-', " "), worst.b.name.replace('-', " "));
    let least = worst.blend.least().unwrap_or(Length(0));
    let what = ask.room.clone().unwrap_or_else(|| centimetres(least));
    let place = ask.room_place.unwrap_or(ask.place);
    let room = worst.blend.room.unwrap_or(Length(0));
    // As many fingers as have room here and hold the step.
    let needed = worst.blend.needed.map_or(Length(0), |n| n.low);
    let holds = |(_, n): &(&str, i64)| {
        trade.fingers.low.0.saturating_mul(*n) <= room.0 && trade.fingers.high.0.saturating_mul(*n) >= needed.0
    };
    let fewer = FINGERS.into_iter().zip(1..).filter(holds).last();
    let way = match fewer {
        Some((words, _)) => format!("Ask for less (`over {words}`)"),
        None => {
            format!("Bring the two lengths closer together, say `line between {a} and {b}` where it is meant to show")
        }
    };
    Diagnostic::warning(code::J004, place, format!("too little room between {a} and {b} for {what}"))
        .label(format!("{} on this dog", centimetres(room)))
        .why("A blend that runs past its two parts eats into the next one.")
        .help(format!(
            "It fits {}. {way}, or serve only dogs that have the room.",
            from_words(choices, dog, ask, worst)
        ))
}

/// From which weight on a blend fits at a border, for each build that is served and on whose smallest dogs it doesn't, the dog's own
/// first.
fn from_words(choices: &Choices, dog: &Dog, ask: &BlendAsk, worst: &Blended<'_>) -> String {
    let own = dog.build_or_square().as_str();
    let others = choices.serves.open_builds().filter(|build| *build != own);
    let smallest = choices.serves.weight.low.map_or(0, |(grams, _)| grams);
    let fits = |build| fits_from(&worst.blend, ask, build, worst.a, worst.b);
    let words: Vec<String> = std::iter::once(own)
        .chain(others)
        .filter_map(|build| match fits(build) {
            Some(weight) if weight.0 <= smallest.max(GRID) => None,
            Some(weight) => Some(format!("{build} dogs from {weight}")),
            None => Some(format!("no {build} dog")),
        })
        .collect();
    list_words(&words)
}

/// The smallest weight that a card can tell, in grams.
const GRID: i64 = 100;

/// A length along the coat: whole millimetres below a centimetre, centimetres above, to the half.
#[must_use]
fn centimetres(length: Length) -> String {
    if length.0 < 10 * MM {
        return Length(length.0 / MM * MM).to_string();
    }
    let halves = (length.0 + 5 * MM / 2) / (5 * MM);
    if halves % 2 == 0 { format!("{} cm", halves / 2) } else { format!("{}.5 cm", halves / 2) }
}
