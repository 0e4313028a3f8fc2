//! How blades warm at a table, as its kit tells it.

use crate::measure::{Factor, Interval, Temperature, Time};
use serde::{Deserialize, Serialize};

/// How blades warm and cool, as the nearest kit tells it; how fast one warms is a line of its own.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Heat {
    /// The room's temperature: so cool is a blade that lay there for long.
    pub room: Interval<Temperature>,
    /// Where a blade ends that isn't stopped; none, and nobody knows how hot blades become.
    pub ends_at: Option<Interval<Temperature>>,
    /// How long one that is laid down takes to cool.
    pub cools: Interval<Time>,
    /// Which share of the dose that skin bears thin skin bears.
    pub thin_skin: Factor,
}
