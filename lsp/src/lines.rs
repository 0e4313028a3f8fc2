//! Bytes of a text as the lines and columns an editor counts, and back.
//!
//! An editor counts columns in UTF-16 units, or in bytes if both sides agree on it. A line ends with `\n`, `\r\n` or
//! `\r`. Nothing here fails: a place outside the text becomes the nearest one inside.

pub use grammar::Columns;

/// A place in a text, both counted from 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Position {
    /// The line.
    pub line: u32,
    /// The column, in the units agreed on.
    pub column: u32,
}

/// From one place up to another.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Range {
    /// The first place inside.
    pub start: Position,
    /// The first place after.
    pub end: Position,
}

/// A text and where its lines begin.
#[derive(Clone, Debug)]
pub struct Lines<'t> {
    text: &'t str,
    starts: grammar::Lines,
}

impl<'t> Lines<'t> {
    /// Finds the lines of a text.
    #[must_use]
    pub fn new(text: &'t str) -> Self {
        Self { text, starts: grammar::Lines::new(text) }
    }

    /// Line and column of a byte.
    #[must_use]
    pub fn position(&self, byte: usize, columns: Columns) -> Position {
        // Between `\r` and `\n` no editor can stand.
        let inside =
            byte.checked_sub(1).and_then(|before| self.text.get(before..)).is_some_and(|t| t.starts_with("\r\n"));
        let byte = u32::try_from(byte.saturating_sub(usize::from(inside))).unwrap_or(u32::MAX);
        let (line, column) = self.starts.position(self.text, byte, columns);
        Position { line, column }
    }

    /// Lines and columns of a run of bytes.
    #[must_use]
    pub fn range(&self, bytes: std::ops::Range<usize>, columns: Columns) -> Range {
        let start = self.position(bytes.start, columns);
        Range { start, end: self.position(bytes.end, columns).max(start) }
    }

    /// The byte at a line and column. A column inside a character is its beginning; one after the line is its end.
    #[must_use]
    pub fn byte(&self, at: Position, columns: Columns) -> usize {
        self.starts.byte(self.text, at.line, at.column, columns) as usize
    }

    /// The bytes of a range. One that runs backwards is empty.
    #[must_use]
    pub fn bytes(&self, range: Range, columns: Columns) -> std::ops::Range<usize> {
        let start = self.byte(range.start, columns);
        start..self.byte(range.end, columns).max(start)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "a🐩é\r\nb\rc\n\nend";

    fn at(line: u32, column: u32) -> Position {
        Position { line, column }
    }

    #[test]
    fn every_character_goes_there_and_back() {
        for text in [TEXT, "", "\n", "\r", "\r\n", "🐩", "\u{feff}x\n"] {
            let lines = Lines::new(text);
            for columns in [Columns::Utf8, Columns::Utf16] {
                for (byte, c) in text.char_indices().chain([(text.len(), ' ')]) {
                    // The second half of a line's end is no place of its own.
                    if c == '\n' && text.get(..byte).is_some_and(|t| t.ends_with('\r')) {
                        continue;
                    }
                    assert_eq!(lines.byte(lines.position(byte, columns), columns), byte, "{text:?} at {byte}");
                }
            }
        }
    }

    #[test]
    fn columns_count_what_was_agreed() {
        let lines = Lines::new(TEXT);
        assert_eq!(lines.position(5, Columns::Utf8), at(0, 5));
        assert_eq!(lines.position(5, Columns::Utf16), at(0, 3));
        assert_eq!(lines.position(10, Columns::Utf16), at(1, 1));
        assert_eq!(lines.position(TEXT.len(), Columns::Utf16), at(4, 3));
    }

    #[test]
    fn places_outside_become_the_nearest_inside() {
        let lines = Lines::new(TEXT);
        assert_eq!(lines.byte(at(0, 2), Columns::Utf16), 1, "inside the poodle's two units");
        assert_eq!(lines.byte(at(0, 3), Columns::Utf8), 1, "inside the poodle's four bytes");
        assert_eq!(lines.byte(at(0, 99), Columns::Utf16), 7, "before the line's end");
        assert_eq!(lines.byte(at(99, 0), Columns::Utf16), TEXT.len());
        assert_eq!(lines.position(3, Columns::Utf8), at(0, 1), "inside a character");
        assert_eq!(lines.position(999, Columns::Utf8), at(4, 3));
        assert!(lines.bytes(Range { start: at(4, 2), end: at(0, 0) }, Columns::Utf16).is_empty());
    }
}
