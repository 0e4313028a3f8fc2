//! Models from outside the trade, each with its formula, units, source and limits.

pub mod blade;
pub mod growth;
pub mod skin;
pub mod surface;
