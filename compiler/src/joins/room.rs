//! The room beside a border: `room = share(build, border) · height(build, weight)`.
//!
//! Source: `recipes/prelude/atlas/room.table`, which the drawing gives ([`crate::atlas::room_table`]) and a test regenerates.
//! Units: shares are millionths of the height at the withers, heights nanometres. Limits: a dog of its build's own proportions;
//! room rises with the weight, so that there is one weight from which a blend fits. A run that a flat view shows short is given
//! as the longest of all views, so that a blend is told to be too long rather too seldom than too often.

use crate::measure::{Factor, Length, MM, Weight};
use rustc_hash::FxHashMap;
use smol_str::SmolStr;
use std::sync::LazyLock;

const TEXT: &str = include_str!("../../../recipes/prelude/atlas/room.table");

/// The weights at which dogs are told apart, in grams: a card's weight has one digit after the point.
const GRID: i64 = 100;

/// How far the two zones of a border run, by build.
type ByBuild = FxHashMap<SmolStr, (Factor, Factor)>;

/// The room beside every border, and how high a dog stands.
#[derive(Debug, Default)]
pub struct Rooms {
    /// By build: weights and heights, both rising.
    heights: FxHashMap<SmolStr, Vec<(Weight, Length)>>,
    /// By the two zones of a border, and by build: how far the first and the second run.
    shares: FxHashMap<SmolStr, FxHashMap<SmolStr, ByBuild>>,
}

/// The table of the basics, read when it is first asked for.
#[must_use]
pub fn rooms() -> &'static Rooms {
    static ROOMS: LazyLock<Rooms> = LazyLock::new(|| Rooms::read(TEXT));
    &ROOMS
}

impl Rooms {
    /// Reads a table. A line that isn't one is passed over: the table is generated, and a test holds it to the drawing.
    #[must_use]
    pub fn read(text: &str) -> Self {
        let mut rooms = Self::default();
        for line in text.lines() {
            let words: Vec<&str> = line.split_whitespace().collect();
            match words.as_slice() {
                ["height", weight, "kg", builds @ ..] => {
                    for triple in builds.chunks(3) {
                        let [build, height, "mm"] = triple else { continue };
                        let (Some(weight), Some(height)) = (thousandths(weight), thousandths(height)) else { continue };
                        let pair = (Weight(weight), Length(height * (MM / 1000)));
                        rooms.heights.entry((*build).into()).or_default().push(pair);
                    }
                }
                [build, a, b, of_a, "%", of_b, "%"] => {
                    let (Some(of_a), Some(of_b)) = (thousandths(of_a), thousandths(of_b)) else { continue };
                    // Thousandths of a hundredth are tens of millionths.
                    let shares = (Factor(of_a * 10), Factor(of_b * 10));
                    let of_a = rooms.shares.entry((*a).into()).or_default();
                    of_a.entry((*b).into()).or_default().insert((*build).into(), shares);
                }
                _ => {}
            }
        }
        rooms
    }

    /// How far two neighbours run, by build, if the table has them in this order.
    fn at(&self, a: &str, b: &str) -> Option<&ByBuild> {
        self.shares.get(a)?.get(b)
    }

    /// How high a dog of this build and weight stands at the withers; none for a build that isn't in the table. Between two
    /// weights of the table on the straight line, beyond its ends as at them.
    #[must_use]
    pub fn height(&self, build: &str, weight: Weight) -> Option<Length> {
        let all = self.heights.get(build)?;
        let after = all.partition_point(|(w, _)| *w < weight);
        let (from, to) = (after.checked_sub(1).and_then(|i| all.get(i)), all.get(after));
        Some(match (from, to) {
            (Some((w, h)), Some((x, i))) => Length(h.0 + (i.0 - h.0) * (weight.0 - w.0) / (x.0 - w.0).max(1)),
            (Some((_, h)), None) | (None, Some((_, h))) => *h,
            (None, None) => return None,
        })
    }

    /// The weight of the smallest dog that the table knows, in grams.
    #[must_use]
    pub fn lightest(&self) -> i64 {
        self.heights.values().filter_map(|all| all.first()).map(|(w, _)| w.0).min().unwrap_or_default()
    }

    /// How far two neighbours run away from their border, the first and the second, over the height at the withers; none where
    /// no view shows the border, or a house declared one of them.
    #[must_use]
    pub fn shares(&self, build: &str, a: &str, b: &str) -> Option<(Factor, Factor)> {
        let at = |a: &str, b: &str| self.at(a, b)?.get(build).copied();
        at(a, b).or_else(|| at(b, a).map(|(b, a)| (a, b)))
    }

    /// The least room for a blend of two neighbours on dogs of some builds, each so high; none where that isn't known of any.
    #[must_use]
    pub fn least(&self, a: &str, b: &str, dogs: &[(SmolStr, Length)]) -> Option<Length> {
        let run = |share: Factor, height: Length| height.times(share).0;
        let room = |(x, y): &(Factor, Factor), height| Length(run(*x, height) + run(*y, height));
        self.at(a, b)
            .or_else(|| self.at(b, a))
            .and_then(|builds| dogs.iter().filter_map(|(build, height)| Some(room(builds.get(build)?, *height))).min())
    }

    /// How far two neighbours run away from their border on a dog so high, the first and the second.
    #[must_use]
    pub fn runs(&self, build: &str, a: &str, b: &str, height: Length) -> Option<(Length, Length)> {
        let (of_a, of_b) = self.shares(build, a, b)?;
        Some((height.times(of_a), height.times(of_b)))
    }

    /// The room for a blend of two neighbours on a dog so high: both their runs.
    #[must_use]
    pub fn room(&self, build: &str, a: &str, b: &str, height: Length) -> Option<Length> {
        let (of_a, of_b) = self.runs(build, a, b, height)?;
        Some(Length(of_a.0 + of_b.0))
    }

    /// The least weight, to a tenth of a kilogram, from which `enough` holds of a dog of this build, given how high it stands:
    /// what holds at one height must hold at every greater one. None if not even the heaviest of the table is enough.
    #[must_use]
    pub fn least_weight(&self, build: &str, enough: impl Fn(Length) -> bool) -> Option<Weight> {
        let most = self.heights.get(build)?.last()?.0;
        let holds = |weight: Weight| self.height(build, weight).is_some_and(&enough);
        let (mut low, mut high) = (0, most.0 / GRID);
        if !holds(Weight(high * GRID)) {
            return None;
        }
        while low < high {
            let middle = i64::midpoint(low, high);
            if holds(Weight(middle * GRID)) {
                high = middle;
            } else {
                low = middle + 1;
            }
        }
        Some(Weight(low * GRID))
    }

    /// The least weight of a dog of this build on which a blend so long has room at this border, to a tenth of a kilogram; none
    /// if it fits on no dog, or nobody knows the border's room.
    #[must_use]
    pub fn fits_from(&self, build: &str, a: &str, b: &str, width: Length) -> Option<Weight> {
        self.shares(build, a, b)?;
        self.least_weight(build, |height| self.room(build, a, b, height).is_some_and(|room| room >= width))
    }
}

/// A number with at most three digits after its point, in thousandths.
fn thousandths(text: &str) -> Option<i64> {
    let (whole, part) = text.split_once('.').unwrap_or((text, ""));
    let digits = format!("{part:0<3}");
    let part: i64 = digits.get(..3)?.parse().ok()?;
    Some(whole.parse::<i64>().ok()? * 1000 + part)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_up_to_three_digits() {
        assert_eq!(thousandths("9.1"), Some(9100));
        assert_eq!(thousandths("12"), Some(12_000));
        assert_eq!(thousandths("x"), None);
    }

    #[test]
    fn room_rises_and_fits_from_one_weight() {
        let rooms = Rooms::read("height 1 kg  square 100 mm\nheight 3 kg  square 200 mm\n\nsquare a b 9.5 % 10.5 %\n");
        assert_eq!(rooms.height("square", Weight(2000)), Some(Length::mm(150)));
        assert_eq!(rooms.room("square", "b", "a", Length::mm(150)), Some(Length::mm(30)));
        assert_eq!(rooms.runs("square", "b", "a", Length::mm(200)), Some((Length::mm(21), Length::mm(19))));
        assert_eq!(rooms.fits_from("square", "a", "b", Length::mm(30)), Some(Weight(2000)));
        assert_eq!(rooms.fits_from("square", "a", "b", Length::mm(10)), Some(Weight(0)), "it fits on every dog");
        assert_eq!(rooms.fits_from("square", "a", "b", Length::mm(41)), None);
        assert_eq!(rooms.fits_from("square", "a", "c", Length::mm(1)), None);
        assert_eq!(rooms.fits_from("long", "a", "b", Length::mm(1)), None);
    }
}
