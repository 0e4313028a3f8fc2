//! A dog's body surface: `S = 0.101 · W^(2/3)` m², W in kg.
//!
//! Source: the veterinary K = 10.1 formula (BSA in m² = 10.1 · W_g^(2/3) · 10⁻⁴). Limits: measured surfaces of 48 dogs lay
//! between −9 % and +19 % around it (Girens et al. 2019, J Vet Intern Med, abstract), so minutes that follow from it are
//! rounded as a groomer says them.

use crate::measure::{Factor, Weight};

/// The body surface in square millimetres.
#[must_use]
pub fn surface(weight: Weight) -> f64 {
    #[allow(clippy::cast_precision_loss)]
    let kg = weight.0 as f64 / 1000.0;
    0.101 * kg.powf(2.0 / 3.0) * 1_000_000.0
}

/// The surface of a share of the body, in square millimetres.
#[must_use]
pub fn area(weight: Weight, share: Factor) -> f64 {
    #[allow(clippy::cast_precision_loss)]
    let share = share.0 as f64 / 1_000_000.0;
    surface(weight) * share
}
