//! How a coat grows: `L(t) = L₀ + g·t`, no further than its natural length.
//!
//! Source: `models.md`'s linear law; the rates and natural lengths are lines of the basics. Limits: only the growing share of
//! the hairs grows, the rest stands still until it starts anew, so that the mean of a coat lags behind. For a cap on a shape
//! that is no comfort: the growing hairs set the outline. Check value: a clipped Labrador is back in 13.6 to 15.4 weeks (Diaz
//! et al. 2004, Vet Dermatol 15, 25).

use crate::measure::{DAY, Growth, Interval, Length, Time};

/// Seconds in a week, the unit of growth.
const WEEK: i64 = 7 * DAY;

/// The length after a time. Both ends are reached by some dog of the coat. A coat that is longer than its natural length
/// already stays as it is.
#[must_use]
pub fn after(
    length: Interval<Length>,
    grows: Interval<Growth>,
    natural: Option<Length>,
    time: Time,
) -> Interval<Length> {
    let end = |start: Length, rate: Growth| {
        let grown = i128::from(rate.0) * i128::from(time.0.max(0)) / i128::from(WEEK);
        let reached = start.0.saturating_add(i64::try_from(grown).unwrap_or(i64::MAX));
        Length(natural.map_or(reached, |n| reached.min(n.0)).max(start.0))
    };
    Interval { low: end(length.low, grows.low), high: end(length.high, grows.high) }
}

/// The whole weeks for which the fastest of a coat stays within a length; none if it always does.
#[must_use]
pub fn weeks_within(
    length: Interval<Length>,
    grows: Interval<Growth>,
    natural: Option<Length>,
    most: Length,
) -> Option<i64> {
    if grows.high.0 <= 0 || natural.is_some_and(|n| n.max(length.high) <= most) {
        return None;
    }
    Some((most.0 - length.high.0).max(0) / grows.high.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mm(low: i64, high: i64) -> Interval<Length> {
        Interval { low: Length::mm(low), high: Length::mm(high) }
    }

    fn rate(low: i64, high: i64) -> Interval<Growth> {
        Interval { low: Growth(low * 100_000), high: Growth(high * 100_000) }
    }

    #[test]
    fn growth_is_linear_and_ends() {
        // 40 mm and six weeks at 2 to 3 mm are 52 to 58 mm.
        assert_eq!(after(mm(40, 40), rate(20, 30), None, Time(6 * WEEK)), mm(52, 58));
        assert_eq!(after(mm(10, 12), rate(20, 30), Some(Length::mm(20)), Time(6 * WEEK)), mm(20, 20));
        assert_eq!(after(mm(30, 30), rate(20, 30), Some(Length::mm(20)), Time(6 * WEEK)), mm(30, 30));
        assert_eq!(after(mm(5, 5), rate(20, 30), None, Time(0)), mm(5, 5));
        assert_eq!(after(mm(1, 1), rate(20, 30), None, Time(i64::MAX)).high, Length(i64::MAX));
    }

    #[test]
    fn weeks_until_a_cap() {
        assert_eq!(weeks_within(mm(40, 40), rate(20, 30), None, Length::mm(45)), Some(1));
        assert_eq!(weeks_within(mm(30, 33), rate(20, 30), None, Length::mm(45)), Some(4));
        assert_eq!(weeks_within(mm(50, 50), rate(20, 30), None, Length::mm(45)), Some(0));
        assert_eq!(weeks_within(mm(10, 10), rate(20, 30), Some(Length::mm(20)), Length::mm(45)), None);
    }
}
