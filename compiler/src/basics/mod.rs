//! The basics: body, coats, findings, tools and steps, written in the language and embedded here.
//!
//! `lowered.bin` is what [`from_text`] makes of the texts, so that a run needn't parse them; a test holds the two equal
//! (`UPDATE=1 cargo test -p coatwright --test basics` writes it anew).

use crate::diagnostic::Diagnostic;
use crate::names::lower::{self, Decl};
use crate::names::trade::Trade;
use crate::source::{FileId, Place};
use std::sync::{Arc, LazyLock};

/// The texts, in the order of their file numbers.
pub const TEXTS: &[(&str, &str)] = &[
    ("body.trim", include_str!("../../../recipes/prelude/body.trim")),
    ("coats.trim", include_str!("../../../recipes/prelude/coats.trim")),
    ("findings.trim", include_str!("../../../recipes/prelude/findings.trim")),
    ("tools.trim", include_str!("../../../recipes/prelude/tools.trim")),
    ("steps.trim", include_str!("../../../recipes/prelude/steps.trim")),
];

static LOWERED: &[u8] = include_bytes!("lowered.bin");

/// Whether a file is one of these texts.
#[must_use]
pub const fn holds(file: FileId) -> bool {
    (file.0 as usize) < TEXTS.len()
}

/// The basics, read once for all who only look at them.
#[must_use]
pub fn shared() -> Arc<Trade> {
    static TRADE: LazyLock<Arc<Trade>> = LazyLock::new(|| Arc::new(trade()));
    Arc::clone(&TRADE)
}

/// The basics, from the embedded form.
#[must_use]
pub fn trade() -> Trade {
    // The fallback serves a build between an edit of the texts and the next run of the test that renews the bytes.
    postcard::from_bytes(LOWERED).unwrap_or_else(|_| from_text().0)
}

/// The embedded form.
#[must_use]
pub fn embedded() -> &'static [u8] {
    LOWERED
}

/// The basics, from their texts, with whatever is wrong in them.
#[must_use]
pub fn from_text() -> (Trade, Vec<Diagnostic>) {
    let mut out = Vec::new();
    let files: Vec<grammar::tree::File> = TEXTS.iter().map(|(_, text)| grammar::parse(text)).collect();
    let mut decls = Vec::new();
    for (file, number) in files.iter().zip(0..) {
        for placed in &file.blocks {
            let id = FileId(number);
            decls.push(Decl { file: id, at: placed.at, block: &placed.block.block });
            out.extend(placed.block.errors.iter().map(|e| {
                let place = Place { file: id, start: placed.at + e.span.start, end: placed.at + e.span.end };
                Diagnostic::error(e.code, place, e.message.clone())
            }));
        }
    }
    let mut trade = Trade::default();
    lower::add(&mut trade, &decls, &mut out);
    (trade, out)
}
