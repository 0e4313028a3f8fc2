//! What the editor is shown, one file a feature: plain values in and out, without a word of the protocol.

pub mod at;
pub mod cards;
pub mod cases;
pub mod complete;
pub mod dependants;
pub mod diagnostics;
pub mod effect;
pub mod fixes;
pub mod format;
pub mod hints;
pub mod hover;
pub mod kin;
pub mod links;
pub mod navigate;
pub mod ranges;
pub mod resolve;
pub mod sheets;
pub mod signature;
pub mod symbols;
pub mod tokens;
