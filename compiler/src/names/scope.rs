//! Where messages go while one block is read, and how its offsets become places in a file.

use crate::diagnostic::Diagnostic;
use crate::source::{FileId, Place};
use grammar::tree::Span;

/// The block being read.
pub struct Scope<'d> {
    /// Its file.
    pub file: FileId,
    /// Where it begins in the file.
    pub at: u32,
    out: &'d mut Vec<Diagnostic>,
}

impl<'d> Scope<'d> {
    /// A scope for the block that begins at byte `at` of `file`.
    pub fn new(file: FileId, at: u32, out: &'d mut Vec<Diagnostic>) -> Self {
        Self { file, at, out }
    }

    /// The place of a span of this block.
    #[must_use]
    pub fn place(&self, span: Span) -> Place {
        Place { file: self.file, start: self.at + span.start, end: self.at + span.end }
    }

    /// Says something.
    pub fn say(&mut self, diagnostic: Diagnostic) {
        self.out.push(diagnostic);
    }
}
