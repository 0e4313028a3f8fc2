//! Line starts of a text, and the way from bytes to lines and columns and back, for editors.

/// How an editor counts the columns of a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Columns {
    /// In bytes.
    Utf8,
    /// In UTF-16 units, as most editors do.
    Utf16,
    /// In characters.
    Utf32,
}

/// Where the lines of a text begin.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lines {
    starts: Vec<u32>,
    len: u32,
}

impl Lines {
    /// Finds the lines of a text. `\n`, `\r\n` and a lone `\r` end a line.
    #[must_use]
    pub fn new(text: &str) -> Self {
        let bytes = text.as_bytes();
        let mut starts = vec![0];
        for i in memchr::memchr2_iter(b'\n', b'\r', bytes) {
            // `\r\n` ends with its second half.
            if bytes.get(i) == Some(&b'\n') || bytes.get(i + 1) != Some(&b'\n') {
                starts.push(u32::try_from(i + 1).unwrap_or(u32::MAX));
            }
        }
        Self { starts, len: u32::try_from(bytes.len()).unwrap_or(u32::MAX) }
    }

    /// How many lines there are; an empty text has one.
    #[must_use]
    pub fn count(&self) -> usize {
        self.starts.len()
    }

    /// The first byte of a line (from 0).
    #[must_use]
    pub fn start(&self, line: u32) -> Option<u32> {
        self.starts.get(line as usize).copied()
    }

    /// The line (from 0) that holds a byte.
    #[must_use]
    pub fn line(&self, byte: u32) -> u32 {
        let n = self.starts.partition_point(|s| *s <= byte);
        u32::try_from(n.saturating_sub(1)).unwrap_or(u32::MAX)
    }

    /// Line and column (both from 0) of a byte. A byte inside a character counts as its start.
    #[must_use]
    pub fn position(&self, text: &str, byte: u32, columns: Columns) -> (u32, u32) {
        let byte = byte.min(self.len);
        let line = self.line(byte);
        let start = self.start(line).unwrap_or(0) as usize;
        let mut end = byte as usize;
        while end > start && !text.is_char_boundary(end) {
            end -= 1;
        }
        let before = text.get(start..end).unwrap_or("");
        let column = match columns {
            Columns::Utf8 => before.len(),
            Columns::Utf16 if before.is_ascii() => before.len(),
            Columns::Utf16 => before.encode_utf16().count(),
            Columns::Utf32 => before.chars().count(),
        };
        (line, u32::try_from(column).unwrap_or(u32::MAX))
    }

    /// The byte at a line and column (both from 0); beyond the end of a line is its end, beyond the text its end.
    #[must_use]
    pub fn byte(&self, text: &str, line: u32, column: u32, columns: Columns) -> u32 {
        let Some(start) = self.start(line) else { return self.len };
        let next = self.start(line + 1).unwrap_or(self.len);
        let all = text.get(start as usize..next as usize).unwrap_or("");
        let all = all.strip_suffix('\n').unwrap_or(all);
        let all = all.strip_suffix('\r').unwrap_or(all);
        let mut left = column as usize;
        let mut at = start as usize;
        for c in all.chars() {
            let n = match columns {
                Columns::Utf8 => c.len_utf8(),
                Columns::Utf16 => c.len_utf16(),
                Columns::Utf32 => 1,
            };
            if left < n {
                break;
            }
            left -= n;
            at += c.len_utf8();
        }
        u32::try_from(at).unwrap_or(u32::MAX)
    }
}
