//! How a clipper's blade warms while it runs and cools while it lies, and how long skin bears it.
//!
//! `T(t) = T∞ − (T∞ − T₀) e^(−t/τ)`, running towards the end it would reach, lying towards the room, each with a time of its
//! own. Both ends and both times are lines of the basics or of a house's kit: no measured values of dog clippers are published.
//!
//! Limit: the dose is reckoned as though the blade lay on one and the same place from the moment it was put on. A blade moves, so
//! this errs on the early side. Units: seconds, degrees Celsius.

use super::skin::{SURFACE, Skin};
use std::collections::HashMap;
use std::sync::{LazyLock, Mutex, PoisonError};

/// Nobody runs a blade for longer without a break.
const MOST: f64 = 7_200.0;

/// What is known of a blade.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Blade {
    /// The room: so cool it is after lying for long.
    pub room: f64,
    /// Where it ends if nobody stops it.
    pub ends: f64,
    /// In this time it makes 63 % of its way to there.
    pub warms: f64,
    /// In this time it makes 63 % of its way back to the room.
    pub cools: f64,
}

impl Blade {
    /// How warm it is after running for so long.
    #[must_use]
    pub fn running(&self, from: f64, seconds: f64) -> f64 {
        toward(self.ends, from, seconds, self.warms)
    }

    /// How warm it is after lying for so long.
    #[must_use]
    pub fn lying(&self, from: f64, seconds: f64) -> f64 {
        toward(self.room, from, seconds, self.cools)
    }

    /// How long it must lie until it is no warmer than `to`; none if the room is.
    #[must_use]
    pub fn cool_in(&self, from: f64, to: f64) -> Option<f64> {
        if from <= to {
            return Some(0.0);
        }
        (to > self.room).then(|| self.cools * ((from - self.room) / (to - self.room)).ln())
    }

    /// How cool it should be before it goes on: as warm as skin, or if the room is nearly so, a little warmer than that.
    #[must_use]
    pub fn cool(&self) -> f64 {
        SURFACE.max(self.room + 3.0)
    }

    /// How long it may run from this warmth until skin that it never leaves has a dose. Rounded down to the start's next whole
    /// degree; at most two hours.
    #[must_use]
    pub fn bears(&self, from: f64, dose: f64) -> f64 {
        let from = from.ceil();
        if self.ends.max(from) <= super::skin::COUNTS_FROM {
            return MOST;
        }
        static KNOWN: LazyLock<Mutex<HashMap<[u64; 4], f64>>> = LazyLock::new(Mutex::default);
        let key = [self.ends, self.warms, from, dose].map(f64::to_bits);
        let known = |map: &HashMap<[u64; 4], f64>| map.get(&key).copied();
        if let Some(time) = known(&KNOWN.lock().unwrap_or_else(PoisonError::into_inner)) {
            return time;
        }
        let time = self.until(from, dose);
        let mut map = KNOWN.lock().unwrap_or_else(PoisonError::into_inner);
        // A server that runs for days meets many kits.
        if map.len() > 10_000 {
            map.clear();
        }
        map.insert(key, time);
        time
    }

    fn until(&self, from: f64, dose: f64) -> f64 {
        let mut skin = Skin::at_rest();
        let (mut at, mut step) = (0.0, 0.02);
        while at < MOST {
            let before = skin.damage;
            // The warmth that it has at the end of the step, so that nothing is missed.
            skin.touch(self.running(from, at + step), step);
            if skin.damage >= dose {
                return at + step * (dose - before) / (skin.damage - before);
            }
            at += step;
            step = (step * 1.2).min(5.0);
        }
        MOST
    }
}

fn toward(end: f64, from: f64, seconds: f64, time: f64) -> f64 {
    if time <= 0.0 { end } else { end - (end - from) * (-seconds / time).exp() }
}
