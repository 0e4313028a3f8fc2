//! What the editor is shown, one file a feature: plain values in and out, without a word of the protocol.

pub mod at;
pub mod complete;
pub mod diagnostics;
pub mod effect;
pub mod fixes;
pub mod format;
pub mod hover;
pub mod navigate;
pub mod resolve;
pub mod symbols;
