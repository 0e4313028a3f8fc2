//! What hot metal does to the skin beneath: heat through layers of skin, and the damage at the foot of the epidermis.
//!
//! Bioheat equation in one dimension, `ρ c ∂T/∂t = ∂/∂x (k ∂T/∂x) + w ρb cb (Tb − T)`, solved implicitly. Layers (from the
//! surface in): epidermis 80 µm, dermis 2 mm, subcutis 10 mm, inner tissue 30 mm, with the values of Jiang, Ma, Li and Zhang,
//! Burns 2002 (human skin; no set for dogs is published), as a public worked example restates them.
//!
//! Damage after Henriques, Arch Pathol 43 (1947) 489–502: `dΩ/dt = P · exp(−E/R / T)` above 44 °C at the basal layer, with
//! P = 3.1e98 1/s and E/R = 75 000 K. Ω = 0.53 is a first-degree burn. The widespread restatement in SI units, 6.28e5 / 8.314, is
//! 75 535 K and five times slow: don't put it here. Nor is the surface's temperature that of the basal layer.
//!
//! Limits: perfect contact with metal that keeps its temperature, which errs on the safe side; thresholds of human and pig skin.
//! Units: seconds, metres, degrees Celsius.

/// The dose at which skin is burnt in the first degree. At 1 the model gives 528 s for metal of 48.9 °C, where the one pair
/// published for dogs says 300 s; at 0.53 it stays below.
pub const LIMIT: f64 = 0.53;

/// E/R of Henriques' integral in kelvin.
pub const ACTIVATION: f64 = 75_000.0;

/// The natural logarithm of P, P = 3.1e98 1/s.
const LN_RATE: f64 = 226.785;
/// Damage counts from here on, in degrees Celsius.
pub const COUNTS_FROM: f64 = 44.0;
const KELVIN: f64 = 273.15;
const CORE: f64 = 37.0;
/// Skin at rest, in degrees Celsius.
pub const SURFACE: f64 = 34.0;
/// Density by heat capacity of blood, J/(m³ K).
const BLOOD: f64 = 1060.0 * 3770.0;

/// A layer: its thickness, heat conductivity in W/(m K), density by heat capacity in J/(m³ K), blood flow in 1/s, and cells.
struct Layer {
    thick: f64,
    conducts: f64,
    holds: f64,
    flow: f64,
    cells: u32,
}

const LAYERS: [Layer; 4] = [
    Layer { thick: 80e-6, conducts: 0.24, holds: 1200.0 * 3590.0, flow: 0.0, cells: 8 },
    Layer { thick: 2e-3, conducts: 0.45, holds: 1200.0 * 3300.0, flow: 0.00125, cells: 40 },
    Layer { thick: 10e-3, conducts: 0.19, holds: 1000.0 * 2500.0, flow: 0.00125, cells: 40 },
    Layer { thick: 30e-3, conducts: 0.5, holds: 1000.0 * 4000.0, flow: 0.00125, cells: 30 },
];

/// One cell of skin.
#[derive(Clone, Copy, Debug)]
struct Cell {
    wide: f64,
    conducts: f64,
    holds: f64,
    flow: f64,
    /// Its temperature.
    now: f64,
}

/// Skin under metal, with the damage so far.
#[derive(Clone, Debug)]
pub struct Skin {
    cells: Vec<Cell>,
    activation: f64,
    /// The damage at the foot of the epidermis.
    pub damage: f64,
}

impl Skin {
    /// Skin at rest: 34 °C at its surface, 37 °C inside.
    #[must_use]
    pub fn at_rest() -> Self {
        Self::with(ACTIVATION)
    }

    /// The same, with another E/R: for tests that show what it does.
    #[must_use]
    pub fn with(activation: f64) -> Self {
        let deep: f64 = LAYERS.iter().map(|l| l.thick).sum();
        let (mut cells, mut at) = (Vec::new(), 0.0);
        for layer in &LAYERS {
            let wide = layer.thick / f64::from(layer.cells);
            for _ in 0..layer.cells {
                let now = SURFACE + (CORE - SURFACE) * (at + wide / 2.0) / deep;
                cells.push(Cell { wide, conducts: layer.conducts, holds: layer.holds, flow: layer.flow, now });
                at += wide;
            }
        }
        Self { cells, activation, damage: 0.0 }
    }

    /// The temperature at the foot of the epidermis: between its last cell and the dermis' first, by what each conducts.
    #[must_use]
    pub fn basal(&self) -> f64 {
        let foot = LAYERS.first().map_or(0, |l| l.cells as usize);
        match (foot.checked_sub(1).and_then(|n| self.cells.get(n)), self.cells.get(foot)) {
            (Some(a), Some(b)) => {
                let (x, y) = (a.conducts / a.wide, b.conducts / b.wide);
                (x * a.now + y * b.now) / (x + y)
            }
            _ => CORE,
        }
    }

    /// So many seconds under metal of this temperature.
    pub fn touch(&mut self, metal: f64, seconds: f64) {
        let before = self.basal();
        self.conduct(metal, seconds);
        let after = self.basal();
        self.damage += seconds * (self.rate(before) + self.rate(after)) / 2.0;
    }

    fn rate(&self, basal: f64) -> f64 {
        if basal < COUNTS_FROM { 0.0 } else { (LN_RATE - self.activation / (basal + KELVIN)).exp() }
    }

    /// One implicit step: a row of three for each cell, solved from the surface in and back (Thomas).
    fn conduct(&mut self, metal: f64, seconds: f64) {
        let joint = |a: &Cell, b: &Cell| 1.0 / (a.wide / 2.0 / a.conducts + b.wide / 2.0 / b.conducts);
        let count = self.cells.len();
        let mut rows: Vec<(f64, f64)> = Vec::with_capacity(count);
        let mut last = (0.0, 0.0);
        for (n, cell) in self.cells.iter().enumerate() {
            let left = match n.checked_sub(1).and_then(|n| self.cells.get(n)) {
                Some(before) => joint(before, cell),
                None => 2.0 * cell.conducts / cell.wide,
            };
            let right = match self.cells.get(n + 1) {
                Some(after) => joint(cell, after),
                None => 2.0 * cell.conducts / cell.wide,
            };
            let stored = cell.holds * cell.wide / seconds;
            let washed = cell.flow * BLOOD * cell.wide;
            let mut own = stored * cell.now + washed * CORE;
            let whole = stored + washed + left + right;
            let (mut lower, mut upper) = (left, right);
            if n == 0 {
                own += left * metal;
                lower = 0.0;
            }
            if n + 1 == count {
                own += right * CORE;
                upper = 0.0;
            }
            let (slope, value) = last;
            let pivot = whole - lower * slope;
            last = (upper / pivot, (own + lower * value) / pivot);
            rows.push(last);
        }
        let mut beyond = 0.0;
        for (cell, (slope, value)) in self.cells.iter_mut().zip(rows).rev() {
            beyond = value + slope * beyond;
            cell.now = beyond;
        }
    }
}

/// How long metal of a temperature may lie on resting skin until a dose; none if it isn't reached within `most` seconds.
#[must_use]
pub fn seconds_until(metal: f64, activation: f64, dose: f64, most: f64) -> Option<f64> {
    let mut skin = Skin::with(activation);
    let mut at = 0.0;
    // Short steps at first, while the heat goes in, then a hundredth of the time gone by.
    while at < most {
        let step = (at / 200.0_f64).clamp(0.002, 1.0);
        let before = skin.damage;
        skin.touch(metal, step);
        if skin.damage >= dose {
            // Within the step the damage grows evenly.
            return Some(at + step * (dose - before) / (skin.damage - before));
        }
        at += step;
    }
    None
}
