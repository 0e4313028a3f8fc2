//! Frames of the wire: a header with a length, and as many bytes. What isn't a frame is passed over.

use std::borrow::Cow;
use std::io;
use tokio::io::{AsyncBufReadExt, AsyncRead, AsyncReadExt, BufReader};

/// The longest body taken; a text of 16 MB needs less, even if every byte of it is escaped.
const MOST: u64 = 128 * 1024 * 1024;

/// The longest header line looked at in one piece.
const LINE: u64 = 8 * 1024;

/// What came over the wire.
#[derive(Debug, PartialEq, Eq)]
pub enum Frame {
    /// A body.
    Body(Vec<u8>),
    /// Bytes that belong to no frame; what follows them may be one.
    Junk,
    /// A body that nobody can want. Where the next frame begins isn't known.
    TooLong,
}

/// Reads frames.
#[derive(Debug)]
pub struct Frames<R>(BufReader<R>);

impl<R: AsyncRead + Unpin> Frames<R> {
    /// Reads frames from a stream.
    pub fn new(input: R) -> Self {
        Self(BufReader::new(input))
    }

    /// The next frame; none at the end of the stream.
    ///
    /// # Errors
    /// The stream can't be read.
    pub async fn next(&mut self) -> io::Result<Option<Frame>> {
        let mut length = None;
        let mut line = Vec::new();
        loop {
            line.clear();
            if (&mut self.0).take(LINE).read_until(b'\n', &mut line).await? == 0 {
                return Ok(None);
            }
            let blank = line.iter().all(u8::is_ascii_whitespace);
            match (header(&line), length) {
                (Some(found), _) if found > MOST => return Ok(Some(Frame::TooLong)),
                (Some(found), _) => length = Some(found),
                (None, Some(length)) if blank => return self.body(length).await,
                (None, None) if !blank && !other_header(&line) => return Ok(Some(Frame::Junk)),
                _ => {}
            }
        }
    }

    async fn body(&mut self, length: u64) -> io::Result<Option<Frame>> {
        let mut body = Vec::new();
        (&mut self.0).take(length).read_to_end(&mut body).await?;
        Ok((body.len() as u64 == length).then_some(Frame::Body(body)))
    }
}

const LENGTH: &[u8] = b"content-length:";

/// The length a line tells. Junk may stand before it: a body whose length was wrong ends without a line's end.
fn header(line: &[u8]) -> Option<u64> {
    let at = line.windows(LENGTH.len()).rposition(|w| w.eq_ignore_ascii_case(LENGTH))?;
    let value = line.get(at + LENGTH.len()..).and_then(|v| std::str::from_utf8(v).ok())?;
    value.trim().parse().ok()
}

fn other_header(line: &[u8]) -> bool {
    line.get(..13).is_some_and(|start| start.eq_ignore_ascii_case(b"content-type:"))
}

/// Writes half a UTF-16 pair that a client sent as an escape (`\ud83d` alone) as U+FFFD: the text stays as long as the
/// client believes, and the message can be read.
#[must_use]
pub fn mend_halves(json: &str) -> Cow<'_, str> {
    if !json.contains("\\ud") && !json.contains("\\uD") {
        return Cow::Borrowed(json);
    }
    let unit = |at: usize| {
        let digits = json.get(at..at + 6)?.strip_prefix("\\u")?;
        u16::from_str_radix(digits, 16).ok()
    };
    let mut out = String::with_capacity(json.len());
    let mut rest = json;
    while let Some(found) = rest.find('\\') {
        let at = json.len() - rest.len() + found;
        let (high, low) = (unit(at), unit(at + 6));
        let (keep, with) = match (high, low) {
            (Some(0xD800..=0xDBFF), Some(0xDC00..=0xDFFF)) => (12, None),
            (Some(0xD800..=0xDFFF), _) => (6, Some("\\ufffd")),
            // An escape is a backslash and one more character, whichever it is.
            _ => (1 + json.get(at + 1..).and_then(|t| t.chars().next()).map_or(0, char::len_utf8), None),
        };
        out.push_str(rest.get(..found).unwrap_or(""));
        out.push_str(with.or_else(|| json.get(at..at + keep)).unwrap_or(""));
        rest = json.get(at + keep..).unwrap_or("");
    }
    out.push_str(rest);
    Cow::Owned(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    async fn all(bytes: &[u8]) -> Vec<Frame> {
        let mut frames = Frames::new(bytes);
        let mut out = Vec::new();
        while let Ok(Some(frame)) = frames.next().await {
            let end = frame == Frame::TooLong;
            out.push(frame);
            if end {
                break;
            }
        }
        out
    }

    fn body(text: &str) -> Frame {
        Frame::Body(text.as_bytes().to_vec())
    }

    #[tokio::test(flavor = "current_thread")]
    async fn frames_are_found() {
        let wire = b"Content-Length: 2\r\n\r\n{}content-length:4\nContent-Type: x\r\n\r\n[\n\n]";
        assert_eq!(all(wire).await, [body("{}"), body("[\n\n]")]);
        assert_eq!(all(b"").await, []);
        assert_eq!(all(b"Content-Length: 5\r\n\r\n{}").await, [], "the stream ends inside");
    }

    #[tokio::test(flavor = "current_thread")]
    async fn junk_is_passed_over() {
        let good = "Content-Length: 2\r\n\r\n{}";
        let glued = "Content-Length: abc\r\n\r\n{\"a\":1}";
        for junk in ["hello\r\n\r\n", glued, "\u{1F429}", "Content-Length: -1\r\n\r\n", "X: 1\r\n"] {
            let frames = all(format!("{junk}{good}").as_bytes()).await;
            assert_eq!(frames.last(), Some(&body("{}")), "{junk:?}");
        }
        let long = format!("{}\n{good}", "x".repeat(50_000));
        assert_eq!(all(long.as_bytes()).await.last(), Some(&body("{}")));
        assert_eq!(all(b"Content-Length: 99999999999\r\n\r\n{}").await, [Frame::TooLong]);
    }

    #[test]
    fn halves_are_mended_and_pairs_kept() {
        for (given, mended) in [
            (r#""\ud83d\udc29""#, r#""\ud83d\udc29""#),
            (r#""\ud83d""#, r#""\ufffd""#),
            (r#""\uDC29\uD83D x""#, r#""\ufffd\ufffd x""#),
            (r#""\ud83d\ud83d\udc29""#, r#""\ufffd\ud83d\udc29""#),
            (r#""\\ud83d""#, r#""\\ud83d""#),
            (r#""\ud83d\n🐩\ud8""#, r#""\ufffd\n🐩\ud8""#),
            ("\\ud83d\\", "\\ufffd\\"),
        ] {
            assert_eq!(mend_halves(given), mended);
        }
    }
}
