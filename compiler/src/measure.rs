//! Measures: whole numbers in small units, so that they compare, hash and order exactly.
//!
//! Lengths are nanometres, weights grams, times seconds, factors and shares millionths.

use grammar::tree::{Number, Unit};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt;

macro_rules! measure {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(
            Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
        )]
        #[serde(transparent)]
        pub struct $name(pub i64);
    };
}

measure!(
    /// A length in nanometres.
    Length
);
measure!(
    /// A weight in grams.
    Weight
);
measure!(
    /// A time in seconds.
    Time
);
measure!(
    /// A factor or share in millionths.
    Factor
);
measure!(
    /// A rate in square millimetres a minute.
    Rate
);
measure!(
    /// A growth in nanometres a week.
    Growth
);
measure!(
    /// A temperature in thousandths of a degree Celsius.
    Temperature
);

/// Nanometres in a millimetre.
pub const MM: i64 = 1_000_000;
/// Seconds in a day.
pub const DAY: i64 = 86_400;

impl Length {
    /// So many millimetres.
    #[must_use]
    pub const fn mm(mm: i64) -> Self {
        Self(mm * MM)
    }

    /// Multiplied by a factor, rounded to the nearest nanometre.
    #[must_use]
    pub fn times(self, factor: Factor) -> Self {
        // Few lengths need more than 64 bits on the way.
        if let Some(product) = self.0.checked_mul(factor.0).and_then(|p| p.checked_add(500_000)) {
            return Self(product.div_euclid(1_000_000));
        }
        let product = i128::from(self.0) * i128::from(factor.0);
        Self(i64::try_from((product + 500_000).div_euclid(1_000_000)).unwrap_or(i64::MAX))
    }
}

impl fmt::Display for Length {
    /// Millimetres with at most one digit after the point: nothing here is known more finely.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let tenths = (self.0 + MM / 20).div_euclid(MM / 10);
        if self.0 > 0 && self.0 < MM / 2 {
            let hundredths = (self.0 + MM / 200).div_euclid(MM / 100);
            let text = format!("0.{hundredths:02}");
            return write!(f, "{} mm", text.trim_end_matches('0'));
        }
        if tenths % 10 == 0 { write!(f, "{} mm", tenths / 10) } else { write!(f, "{}.{} mm", tenths / 10, tenths % 10) }
    }
}

impl fmt::Display for Weight {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let tenths = (self.0 + 50).div_euclid(100);
        if tenths % 10 == 0 { write!(f, "{} kg", tenths / 10) } else { write!(f, "{}.{} kg", tenths / 10, tenths % 10) }
    }
}

/// What a number measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Dimension {
    /// A bare count.
    Count,
    /// A length.
    Length,
    /// A weight.
    Weight,
    /// A time.
    Time,
    /// A factor or share.
    Factor,
    /// Area a minute.
    Rate,
    /// Length a week.
    Growth,
    /// A temperature.
    Temperature,
}

impl Dimension {
    /// The dimension in a groomer's words, with an example.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Count => "a plain number",
            Self::Length => "a length such as 9 mm",
            Self::Weight => "a weight such as 12.4 kg",
            Self::Time => "a time such as 6 weeks or 40 min",
            Self::Factor => "a share such as 20 % or a factor such as 1.5 times",
            Self::Rate => "a rate such as 180 cm2/min",
            Self::Growth => "a growth such as 2 mm/week",
            Self::Temperature => "a temperature",
        }
    }
}

/// A number in the base unit of its dimension.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Quantity {
    /// What it measures.
    pub dimension: Dimension,
    /// How much, in the base unit; counts in millionths.
    pub value: i64,
}

/// What a unit measures, and how many base units it is as a fraction. Fingers and hands come from the basics.
fn unit(unit: Unit, body: BodyUnits) -> (Dimension, i64, i64) {
    use Dimension as D;
    match unit {
        Unit::None => (D::Count, 1_000_000, 1),
        Unit::Mm => (D::Length, MM, 1),
        Unit::Cm => (D::Length, 10 * MM, 1),
        Unit::M => (D::Length, 1000 * MM, 1),
        Unit::Inch => (D::Length, 25_400_000, 1),
        Unit::Finger => (D::Length, body.finger.0, 1),
        Unit::Hand => (D::Length, body.hand.0, 1),
        Unit::G => (D::Weight, 1, 1),
        Unit::Kg => (D::Weight, 1000, 1),
        Unit::Pound => (D::Weight, 45_359_237, 100_000),
        Unit::Ounce => (D::Weight, 45_359_237, 1_600_000),
        Unit::Second => (D::Time, 1, 1),
        Unit::Minute => (D::Time, 60, 1),
        Unit::Hour => (D::Time, 3600, 1),
        Unit::Day => (D::Time, DAY, 1),
        Unit::Week => (D::Time, 7 * DAY, 1),
        // A Gregorian year has 146 097 days in 400 years.
        Unit::Month => (D::Time, 146_097 * DAY, 4800),
        Unit::Year => (D::Time, 146_097 * DAY, 400),
        Unit::Percent => (D::Factor, 10_000, 1),
        Unit::Times => (D::Factor, 1_000_000, 1),
        Unit::Cm2PerMinute => (D::Rate, 100, 1),
        Unit::MmPerWeek => (D::Growth, MM, 1),
        Unit::Celsius => (D::Temperature, 1000, 1),
    }
}

/// Lengths that people carry with them; lines of the basics.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct BodyUnits {
    /// A finger's width.
    pub finger: Length,
    /// A hand's width.
    pub hand: Length,
}

/// The exact value of a number as written, rounded to the base unit; none if it is too large.
#[must_use]
pub fn quantity(number: &Number, body: BodyUnits) -> Option<Quantity> {
    let (dimension, up, down) = unit(number.unit, body);
    let den = i128::from(number.den.max(1)) * i128::from(down);
    let value = (i128::from(number.num) * i128::from(up) * 2 + den).div_euclid(den * 2);
    i64::try_from(value).ok().filter(|v| v.abs() < i64::MAX / 4).map(|value| Quantity { dimension, value })
}

/// A closed interval.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
pub struct Interval<T> {
    /// Lower end.
    pub low: T,
    /// Upper end.
    pub high: T,
}

impl<T: Copy> Interval<T> {
    /// The interval that holds one value.
    #[must_use]
    pub const fn point(value: T) -> Self {
        Self { low: value, high: value }
    }

    /// Both ends changed alike. `change` must keep their order.
    pub fn map<U>(self, change: impl Fn(T) -> U) -> Interval<U> {
        Interval { low: change(self.low), high: change(self.high) }
    }
}

impl std::ops::Add for Interval<Time> {
    type Output = Self;

    /// Both at their quick end, and both at their slow end.
    fn add(self, other: Self) -> Self {
        Self { low: Time(self.low.0 + other.low.0), high: Time(self.high.0 + other.high.0) }
    }
}

impl std::iter::Sum for Interval<Time> {
    fn sum<I: Iterator<Item = Self>>(all: I) -> Self {
        all.fold(Self::default(), |sum, one| sum + one)
    }
}

impl Interval<Length> {
    /// The middle.
    #[must_use]
    pub fn middle(self) -> Length {
        Length((self.low.0 + self.high.0) / 2)
    }

    /// Both ends multiplied by the ends of a factor.
    #[must_use]
    pub fn times(self, factor: Interval<Factor>) -> Self {
        Self { low: self.low.times(factor.low), high: self.high.times(factor.high) }
    }
}

impl fmt::Display for Interval<Length> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (low, high) = (self.low.to_string(), self.high.to_string());
        if low == high { f.write_str(&low) } else { write!(f, "{} to {high}", low.trim_end_matches(" mm")) }
    }
}
