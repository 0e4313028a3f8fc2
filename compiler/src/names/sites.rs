//! Sites: a leaf zone, or one side of a paired one, as a bit of a 128-bit set.

use serde::{Deserialize, Serialize};
use std::ops::{BitAnd, BitOr, Sub};

/// One place on the dog: a leaf zone, on one side if the zone is paired.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Site(pub u8);

/// A set of sites.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Sites(pub u128);

impl Sites {
    /// No site.
    pub const NONE: Self = Self(0);

    /// The set of one site.
    #[must_use]
    pub const fn one(site: Site) -> Self {
        Self(1 << site.0)
    }

    /// Whether the site is in it.
    #[must_use]
    pub const fn has(self, site: Site) -> bool {
        self.0 & (1 << site.0) != 0
    }

    /// Whether every site of `self` is in `other`.
    #[must_use]
    pub const fn within(self, other: Self) -> bool {
        self.0 & !other.0 == 0
    }

    /// Whether they share a site.
    #[must_use]
    pub const fn meets(self, other: Self) -> bool {
        self.0 & other.0 != 0
    }

    /// Whether it holds nothing.
    #[must_use]
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// How many.
    #[must_use]
    pub const fn len(self) -> u32 {
        self.0.count_ones()
    }

    /// The sites in order.
    pub fn iter(self) -> impl Iterator<Item = Site> {
        let mut rest = self.0;
        std::iter::from_fn(move || {
            if rest == 0 {
                return None;
            }
            let bit = rest.trailing_zeros();
            rest &= rest - 1;
            u8::try_from(bit).ok().map(Site)
        })
    }
}

impl BitOr for Sites {
    type Output = Self;
    fn bitor(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }
}

impl BitAnd for Sites {
    type Output = Self;
    fn bitand(self, other: Self) -> Self {
        Self(self.0 & other.0)
    }
}

impl Sub for Sites {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 & !other.0)
    }
}

impl FromIterator<Site> for Sites {
    fn from_iter<I: IntoIterator<Item = Site>>(sites: I) -> Self {
        sites.into_iter().fold(Self::NONE, |set, site| set | Self::one(site))
    }
}
