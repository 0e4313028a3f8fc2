//! The language server: the compiler's messages in an editor while the recipe is being written.
//!
//! ```text
//! editor ─ frames ─> pump ─ ordered ─> state ──(latest text)──> worker ─ features ─> server ─ convert ─> editor
//! ```
//!
//! A question about a text is answered on the same thread, from the text as it was asked about; if that has changed
//! meanwhile, the question is refused. `features` holds one file a feature, all of them without a word of the protocol.
//!
//! The protocol task only moves messages and texts. All analysis happens on one thread of its own, over the texts as
//! they are when it begins; whatever an edit has overtaken is dropped.

pub mod around;
pub mod convert;
pub mod features;
pub mod house;
pub mod lines;
pub mod server;
pub mod state;
pub mod transport;
pub mod worker;
