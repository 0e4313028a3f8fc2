//! Bytes of a text as the lines and columns an editor counts, and back.
//!
//! An editor counts columns in UTF-16 units, or in bytes if both sides agree on it. A line ends with `\n`, `\r\n` or
//! `\r`. Nothing here fails: a place outside the text becomes the nearest one inside.

/// How columns are counted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Encoding {
    /// In bytes.
    Utf8,
    /// In UTF-16 units, which every editor knows.
    #[default]
    Utf16,
}

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

/// Where the lines of a text begin.
#[derive(Clone, Debug)]
pub struct Lines<'t> {
    text: &'t str,
    starts: Vec<usize>,
}

impl<'t> Lines<'t> {
    /// Finds the lines of a text.
    #[must_use]
    pub fn new(text: &'t str) -> Self {
        let mut starts = vec![0];
        let mut bytes = text.bytes().enumerate().peekable();
        while let Some((at, byte)) = bytes.next() {
            match byte {
                b'\n' => starts.push(at + 1),
                b'\r' if bytes.peek().is_none_or(|(_, next)| *next != b'\n') => starts.push(at + 1),
                _ => {}
            }
        }
        Self { text, starts }
    }

    /// Line and column of a byte.
    #[must_use]
    pub fn position(&self, byte: usize, encoding: Encoding) -> Position {
        let byte = floor(self.text, byte);
        let line = self.starts.partition_point(|start| *start <= byte).saturating_sub(1);
        let before = self.text.get(self.start(line)..byte).unwrap_or("").trim_end_matches(['\r', '\n']);
        let column = match encoding {
            Encoding::Utf8 => before.len(),
            Encoding::Utf16 => before.chars().map(char::len_utf16).sum(),
        };
        Position { line: small(line), column: small(column) }
    }

    /// Lines and columns of a run of bytes.
    #[must_use]
    pub fn range(&self, bytes: std::ops::Range<usize>, encoding: Encoding) -> Range {
        let start = self.position(bytes.start, encoding);
        Range { start, end: self.position(bytes.end, encoding).max(start) }
    }

    /// The byte at a line and column. A column inside a character is its beginning; one after the line is its end.
    #[must_use]
    pub fn byte(&self, at: Position, encoding: Encoding) -> usize {
        let line = at.line as usize;
        if line >= self.starts.len() {
            return self.text.len();
        }
        let start = self.start(line);
        let next = self.starts.get(line + 1).copied().unwrap_or(self.text.len());
        let row = self.text.get(start..next).unwrap_or("").trim_end_matches(['\r', '\n']);
        let mut left = at.column as usize;
        for (offset, c) in row.char_indices() {
            let wide = match encoding {
                Encoding::Utf8 => c.len_utf8(),
                Encoding::Utf16 => c.len_utf16(),
            };
            if left < wide {
                return start + offset;
            }
            left -= wide;
        }
        start + row.len()
    }

    /// The bytes of a range. One that runs backwards is empty.
    #[must_use]
    pub fn bytes(&self, range: Range, encoding: Encoding) -> std::ops::Range<usize> {
        let start = self.byte(range.start, encoding);
        start..self.byte(range.end, encoding).max(start)
    }

    fn start(&self, line: usize) -> usize {
        self.starts.get(line).copied().unwrap_or(self.text.len())
    }
}

fn floor(text: &str, byte: usize) -> usize {
    let mut byte = byte.min(text.len());
    while !text.is_char_boundary(byte) {
        byte -= 1;
    }
    byte
}

fn small(n: usize) -> u32 {
    u32::try_from(n).unwrap_or(u32::MAX)
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
            for encoding in [Encoding::Utf8, Encoding::Utf16] {
                for (byte, c) in text.char_indices().chain([(text.len(), ' ')]) {
                    // The second half of a line's end is no place of its own.
                    if c == '\n' && text.get(..byte).is_some_and(|t| t.ends_with('\r')) {
                        continue;
                    }
                    assert_eq!(lines.byte(lines.position(byte, encoding), encoding), byte, "{text:?} at {byte}");
                }
            }
        }
    }

    #[test]
    fn columns_count_what_was_agreed() {
        let lines = Lines::new(TEXT);
        assert_eq!(lines.position(5, Encoding::Utf8), at(0, 5));
        assert_eq!(lines.position(5, Encoding::Utf16), at(0, 3));
        assert_eq!(lines.position(10, Encoding::Utf16), at(1, 1));
        assert_eq!(lines.position(TEXT.len(), Encoding::Utf16), at(4, 3));
    }

    #[test]
    fn places_outside_become_the_nearest_inside() {
        let lines = Lines::new(TEXT);
        assert_eq!(lines.byte(at(0, 2), Encoding::Utf16), 1, "inside the poodle's two units");
        assert_eq!(lines.byte(at(0, 3), Encoding::Utf8), 1, "inside the poodle's four bytes");
        assert_eq!(lines.byte(at(0, 99), Encoding::Utf16), 7, "before the line's end");
        assert_eq!(lines.byte(at(99, 0), Encoding::Utf16), TEXT.len());
        assert_eq!(lines.position(3, Encoding::Utf8), at(0, 1), "inside a character");
        assert_eq!(lines.position(999, Encoding::Utf8), at(4, 3));
        assert!(lines.bytes(Range { start: at(4, 2), end: at(0, 0) }, Encoding::Utf16).is_empty());
    }
}
