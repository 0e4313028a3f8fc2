//! Coatwright: checks trim recipes for dogs against a coat model and renders step sheets.
//!
//! ```text
//! text ─ grammar::parse ─> tree ─ names ─> choices ─ finish(dog) ─> finishes ─ plan ─ verify ─> sheet
//! ```
//!
//! Every stage takes the former's value and returns its own; nothing reaches back up.

pub mod atlas;
pub mod basics;
pub mod batch;
pub mod cards;
pub mod cases;
pub mod check;
pub mod choices;
pub mod compare;
pub mod date;
pub mod day;
pub mod diagnostic;
pub mod explain;
pub mod finish;
pub mod handbook;
pub mod joins;
pub mod lock;
pub mod measure;
pub mod memo;
pub mod merge;
pub mod models;
pub mod names;
pub mod picture;
pub mod plan;
pub mod prove;
pub mod rules;
pub mod sheet;
pub mod source;

pub mod verify;
pub mod visit;
pub mod why;
pub mod why_order;
pub mod workspace;
