//! The rests, against a search of all ways.
#![allow(clippy::unwrap_used, clippy::indexing_slicing)]

use super::{Rest, Unit, placed, standing, sum};
use crate::measure::{Interval, Time};

fn minutes(low: i64, high: i64) -> Interval<Time> {
    Interval { low: Time(low * 60), high: Time(high * 60) }
}

/// Work of a task of its own.
fn unit(task: usize, low: i64, high: i64, half_done: bool) -> Unit {
    Unit { task, time: minutes(low, high), stands: true, half_done }
}

/// Two of 3 to 5 min and of 10 to 14 min: the middles add up (16 min), the spreads as roots of squares (√(2² + 4²)/2 = 2.24 min).
#[test]
fn times_add_up_as_independent_ones_do() {
    let both = sum([minutes(3, 5), minutes(10, 14)].into_iter());
    assert_eq!((both.low.0 + both.high.0 + 59) / 120, 16);
    assert_eq!((both.high.0 - both.low.0) / 60, 4);
}

/// Nobody rests before the limit, nor within a part that fits.
#[test]
fn between_parts_and_not_within() {
    let all = [(0, false), (1, false), (1, true), (1, true), (2, false)];
    let day = all.map(|(task, half_done)| unit(task, 10, 10, half_done));
    assert_eq!(placed(&day, Time(60 * 60)), []);
    // The part of three takes all of 30 min, so one rests before it and after it, though two stretches would hold it all.
    assert_eq!(placed(&day, Time(30 * 60)), [Rest { group: 1, times: 0 }, Rest { group: 4, times: 0 }]);
    // A part that no stretch holds is left once.
    let long = [unit(0, 20, 20, false), unit(0, 20, 20, true), unit(0, 20, 20, true)];
    assert_eq!(placed(&long, Time(40 * 60)).len(), 1);
}

/// One piece of work that is longer than a stretch is broken off as often as it must be.
#[test]
fn within_what_is_too_long() {
    let day = [unit(0, 5, 5, false), unit(1, 50, 50, false), unit(2, 5, 5, false)];
    // 55 min in stretches of 20: two rests within the long one, which begins after one.
    assert_eq!(placed(&day, Time(20 * 60)), [Rest { group: 1, times: 0 }, Rest { group: 1, times: 2 }]);
    // Where it follows on what would be half done, as drying on a bath, it begins without one.
    let wet = [unit(0, 5, 5, false), unit(1, 50, 50, true), unit(2, 5, 5, false)];
    assert_eq!(placed(&wet, Time(20 * 60)), [Rest { group: 1, times: 2 }]);
    // What stands beside it needs a rest of its own if it fills a stretch.
    let full = [unit(0, 15, 15, false), unit(1, 10, 10, false), unit(2, 25, 25, true)];
    assert_eq!(placed(&full, Time(20 * 60)), [Rest { group: 1, times: 0 }, Rest { group: 2, times: 1 }]);
}

/// Before a piece that is broken off anyway the stretches are as even as they can be: nobody rests after the first minutes.
#[test]
fn not_after_the_first_minutes() {
    let day = [
        unit(0, 8, 8, false),
        unit(1, 14, 14, false),
        unit(2, 14, 14, false),
        unit(3, 16, 16, false),
        unit(4, 80, 80, true),
    ];
    assert_eq!(placed(&day, Time(40 * 60)), [Rest { group: 3, times: 0 }, Rest { group: 4, times: 2 }]);
}

/// Against all ways of setting rests: none keeps the limit with less left half done, or with as little and fewer rests.
#[test]
fn no_other_way_is_better() {
    let mut seed = 7_u64;
    let mut next = |below: u64| {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        i64::try_from((seed >> 33) % below).unwrap()
    };
    for _ in 0..300 {
        let day: Vec<Unit> = (0..9)
            .map(|n| {
                let low = 1 + next(12);
                unit(n, low, low + next(8), n > 0 && next(2) == 0)
            })
            .collect();
        let limit = Time((20 + next(20)) * 60);
        let cost_of = |breaks: &[usize]| -> Option<(usize, usize)> {
            let mut start = 0;
            for end in breaks.iter().copied().chain([day.len()]) {
                if standing(&day[start..end]).high > limit {
                    return None;
                }
                start = end;
            }
            Some((breaks.iter().filter(|b| day[**b].half_done).count(), breaks.len()))
        };
        let all = (0..1_u32 << 8).filter_map(|set| {
            let breaks: Vec<usize> = (0..8).filter(|n| set & (1 << n) != 0).map(|n| n + 1).collect();
            cost_of(&breaks)
        });
        let mine: Vec<usize> = placed(&day, limit).iter().map(|r| r.group).collect();
        assert_eq!(cost_of(&mine), all.min());
    }
}
