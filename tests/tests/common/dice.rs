//! Random numbers for tests, always the same ones.
#![allow(dead_code)]

/// SplitMix64: Steele, Lea and Flood, Fast splittable pseudorandom number generators, 2014.
pub struct Dice(pub u64);

impl Dice {
    pub fn roll(&mut self, sides: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        usize::try_from((z ^ (z >> 31)) % u64::try_from(sides.max(1)).unwrap()).unwrap()
    }

    pub fn of<'a, T>(&mut self, all: &'a [T]) -> &'a T {
        let at = self.roll(all.len());
        &all[at]
    }

    /// A value between two, both in it.
    pub fn between(&mut self, low: i64, high: i64) -> i64 {
        low + i64::try_from(self.roll(usize::try_from((high - low).max(0) + 1).unwrap())).unwrap()
    }
}
