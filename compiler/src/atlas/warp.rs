//! A monotone map of one axis: a dog's measures move its knots, and everything between follows.
//!
//! Piecewise cubic Hermite with the harmonic mean of the neighbouring slopes at each knot (Fritsch and Carlson 1980, SIAM J
//! Numer Anal 17, 238): it never turns back between rising knots, so that a map of both axes keeps the order of points, and
//! with it every face of the drawing.

/// A map of one axis.
#[derive(Clone, Debug)]
pub(super) struct Warp {
    /// From, to, slope.
    knots: Vec<(f64, f64, f64)>,
}

impl Warp {
    /// The map that takes each first number to the second; none unless both rise strictly.
    pub(super) fn new(pairs: &[(f64, f64)]) -> Option<Self> {
        if pairs.len() < 2 || !pairs.is_sorted_by(|a, b| a.0 < b.0 && a.1 < b.1) {
            return None;
        }
        let slopes: Vec<f64> = pairs.iter().zip(pairs.iter().skip(1)).map(|(a, b)| (b.1 - a.1) / (b.0 - a.0)).collect();
        let before = std::iter::once(None).chain(slopes.iter().copied().map(Some));
        let after = slopes.iter().copied().map(Some).chain(std::iter::once(None));
        let knots = pairs.iter().zip(before.zip(after)).map(|(pair, beside)| {
            let slope = match beside {
                (Some(a), Some(b)) => 2.0 / (1.0 / a + 1.0 / b),
                (Some(one), None) | (None, Some(one)) => one,
                (None, None) => 1.0,
            };
            (pair.0, pair.1, slope)
        });
        Some(Self { knots: knots.collect() })
    }

    /// Where a place goes; beyond the last knots straight on.
    pub(super) fn at(&self, x: f64) -> f64 {
        let i = self.knots.partition_point(|k| k.0 <= x);
        match (i.checked_sub(1).and_then(|i| self.knots.get(i)), self.knots.get(i)) {
            (Some(a), Some(b)) => {
                let h = b.0 - a.0;
                let t = (x - a.0) / h;
                let (t2, t3) = (t * t, t * t * t);
                (2.0 * t3 - 3.0 * t2 + 1.0) * a.1
                    + (t3 - 2.0 * t2 + t) * h * a.2
                    + (3.0 * t2 - 2.0 * t3) * b.1
                    + (t3 - t2) * h * b.2
            }
            (Some(end), None) | (None, Some(end)) => end.1 + (x - end.0) * end.2,
            (None, None) => x,
        }
    }
}
