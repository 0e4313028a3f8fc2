//! The lock of a salon's texts: what each of them was, so that a sheet can be made again years later.
//!
//! A lock is a text in the form that `sha256sum` writes and checks. It holds no text itself: those are kept by git.

use crate::basics;
use grammar::tree::BlockKind;
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fmt;

/// The file in which a salon's lock stands, beside its house.
pub const LOCK: &str = "coatwright.lock";

/// The SHA-256 of a text. Source: FIPS 180-4, "Secure Hash Standard".
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Sum([u8; 32]);

impl Sum {
    /// The sum of a text, its lines ended by `\n` alone: git may write them otherwise on another machine.
    #[must_use]
    pub fn of(text: &str) -> Self {
        Self(if text.contains('\r') { Sha256::digest(text.replace("\r\n", "\n")) } else { Sha256::digest(text) }.into())
    }

    fn read(hex: &str) -> Option<Self> {
        let mut bytes = [0; 32];
        if hex.len() != 64 || !hex.is_ascii() {
            return None;
        }
        for (byte, at) in bytes.iter_mut().zip((0..64).step_by(2)) {
            *byte = u8::from_str_radix(hex.get(at..at + 2)?, 16).ok()?;
        }
        Some(Self(bytes))
    }
}

impl fmt::Display for Sum {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

/// What a salon's texts were at some time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lock {
    /// The compiler's version.
    pub version: String,
    /// The basics.
    pub basics: Sum,
    /// Whether files with nothing but cards and cases are among the texts.
    pub cards: bool,
    /// Each text by its path as seen from the lock, parts parted by `/`.
    pub texts: BTreeMap<String, Sum>,
}

/// Why a text is no lock.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("line {line}: {why}")]
pub struct NoLock {
    /// Where, counted from 1.
    pub line: usize,
    /// Why.
    pub why: &'static str,
}

/// How a text differs from what is locked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Differs {
    /// It says something else.
    Changed,
    /// The lock doesn't know it.
    New,
    /// It isn't there.
    Gone,
}

/// The sum of the basics in this compiler: their names and texts.
#[must_use]
pub fn basics() -> Sum {
    let all: String = basics::TEXTS.iter().map(|(name, text)| format!("{name}\n{text}\n")).collect();
    Sum::of(&all)
}

/// Whether a text holds nothing but cards and cases: that is no style, and changes with every visit.
#[must_use]
pub fn only_cards(text: &str) -> bool {
    let blocks = grammar::scan(text);
    // The head alone tells what a block is; its lines needn't be read.
    let kind = |block: &grammar::Chunk| grammar::head(text.get(block.start..block.end).unwrap_or_default()).kind;
    !blocks.is_empty() && blocks.iter().all(|block| matches!(kind(block), BlockKind::Dog | BlockKind::Case))
}

impl Lock {
    /// The lock of some texts, by their paths as seen from it, under these basics.
    #[must_use]
    pub fn of<'t>(texts: impl IntoIterator<Item = (String, &'t str)>, cards: bool) -> Self {
        let texts = texts.into_iter().filter(|(_, text)| cards || !only_cards(text));
        Self {
            version: env!("CARGO_PKG_VERSION").to_owned(),
            basics: basics(),
            cards,
            texts: texts.map(|(path, text)| (path, Sum::of(text))).collect(),
        }
    }

    /// Reads a lock.
    ///
    /// # Errors
    /// A line that no lock has; a path that leads out of its folder.
    pub fn read(text: &str) -> Result<Self, NoLock> {
        let (mut made, mut basics, mut cards, mut texts) = (None, None, false, BTreeMap::new());
        for (number, line) in text.lines().enumerate() {
            let no = |why| NoLock { line: number + 1, why };
            if let Some(words) = line.strip_prefix("# ") {
                match words.split_once(' ') {
                    Some(("coatwright", version)) => made = Some(version.to_owned()),
                    Some(("basics", sum)) => basics = Some(Sum::read(sum).ok_or(no("the basics have no such sum"))?),
                    Some(("with", "cards")) => cards = true,
                    _ => {}
                }
                continue;
            }
            let (sum, path) = line.split_once("  ").ok_or(no("a sum, two blanks and a path are due here"))?;
            let sum = Sum::read(sum).ok_or(no("a sum has 64 digits from 0 to f"))?;
            let leads_out = |part: &str| part.is_empty() || part == "." || part == ".." || part.contains(['\\', ':']);
            if path.split('/').any(leads_out) {
                return Err(no("this path leads out of the salon's folder"));
            }
            texts.insert(path.to_owned(), sum);
        }
        let none = |why| NoLock { line: 1, why };
        Ok(Self {
            version: made.ok_or(none("it doesn't say which coatwright made it"))?,
            basics: basics.ok_or(none("it doesn't say what the basics were"))?,
            cards,
            texts,
        })
    }

    /// How it is called on a sheet: the first twelve digits of its own sum.
    #[must_use]
    pub fn name(&self) -> String {
        self.sum().chars().take(12).collect()
    }

    /// Its own sum.
    #[must_use]
    pub fn sum(&self) -> String {
        Sum::of(&self.to_string()).to_string()
    }

    /// Where texts as they are now differ from it.
    #[must_use]
    pub fn differs(&self, now: &Self) -> Vec<(String, Differs)> {
        let mut out: Vec<(String, Differs)> = Vec::new();
        for (path, sum) in &self.texts {
            match now.texts.get(path) {
                Some(other) if other == sum => {}
                Some(_) => out.push((path.clone(), Differs::Changed)),
                None => out.push((path.clone(), Differs::Gone)),
            }
        }
        out.extend(now.texts.keys().filter(|p| !self.texts.contains_key(*p)).map(|p| (p.clone(), Differs::New)));
        out.sort_by(|a, b| a.0.cmp(&b.0));
        out
    }
}

impl fmt::Display for Lock {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(
            f,
            "# What this salon's sheets are made from. `coatwright lock` writes it; commit it with the texts."
        )?;
        writeln!(f, "# coatwright {}", self.version)?;
        writeln!(f, "# basics {}", self.basics)?;
        if self.cards {
            writeln!(f, "# with cards")?;
        }
        self.texts.iter().try_for_each(|(path, sum)| writeln!(f, "{sum}  {path}"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sum_is_the_standards() {
        // NIST, "Example algorithms: SHA-256", the one-block message `abc`; and the empty message (from memory).
        let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(Sum::of("abc").to_string(), abc);
        let empty = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855";
        assert_eq!(Sum::of("").to_string(), empty);
        assert_eq!(Sum::of("a\r\nb\r\n"), Sum::of("a\nb\n"));
        assert_eq!(Sum::read(abc).map(|s| s.to_string()).as_deref(), Some(abc));
        assert_eq!(Sum::read("é".repeat(32).as_str()), None);
    }

    #[test]
    fn a_lock_is_read_as_it_was_written() {
        let texts = [("house.trim", "house h {\n}\n"), ("dogs/kelp.trim", "dog kelp {\n}\n"), ("a b.trim", "")];
        let texts = || texts.iter().map(|(path, text)| ((*path).to_owned(), *text));
        for cards in [false, true] {
            let lock = Lock::of(texts(), cards);
            assert_eq!(lock.texts.contains_key("dogs/kelp.trim"), cards);
            assert_eq!(Lock::read(&lock.to_string()), Ok(lock.clone()));
            assert_eq!(Lock::read(&lock.to_string().replace('\n', "\r\n")), Ok(lock));
        }
    }

    #[test]
    fn what_is_no_lock_is_refused() {
        let lock = Lock::of([("house.trim".to_owned(), "")], false).to_string();
        let with = |line: &str| Lock::read(&format!("{lock}{line}\n")).err().map(|e| e.to_string());
        let sum = Sum::of("");
        assert_eq!(with(&format!("{sum}  dogs/a.trim")), None);
        for path in ["../a.trim", "/a.trim", "a/../../b.trim", "c:a.trim", "a\\..\\b.trim", ""] {
            assert_eq!(
                with(&format!("{sum}  {path}")).as_deref(),
                Some("line 5: this path leads out of the salon's folder")
            );
        }
        assert!(with("<<<<<<< ours").is_some_and(|why| why.starts_with("line 5: a sum, two blanks")));
        assert!(with(&format!("{}  a.trim", "g".repeat(64))).is_some_and(|why| why.contains("64 digits")));
        assert!(Lock::read("").is_err() && Lock::read("# coatwright 0.1.0\n").is_err());
    }

    #[test]
    fn what_differs_is_told() {
        let of = |texts: &[(&str, &'static str)]| Lock::of(texts.iter().map(|(p, t)| ((*p).to_owned(), *t)), true);
        let (old, new) = (of(&[("a", "1"), ("b", "2"), ("c", "3")]), of(&[("a", "1"), ("b", "4"), ("d", "5")]));
        let said = [("b", Differs::Changed), ("c", Differs::Gone), ("d", Differs::New)];
        assert_eq!(old.differs(&new), said.map(|(path, how)| (path.to_owned(), how)));
        assert!(old.differs(&old).is_empty() && old.name() != new.name());
    }
}
