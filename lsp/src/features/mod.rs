//! What the editor is shown, one file a feature: plain values in and out, without a word of the protocol.

pub mod diagnostics;
