//! The texts being compiled: which file, which place in it.

use codespan_reporting::files::{Error, Files, SimpleFile};
use std::{
    ops::Range,
    sync::{Arc, LazyLock, OnceLock},
};

/// Which file of [`Sources`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize, serde::Deserialize)]
pub struct FileId(pub u32);

/// A place in a file, in bytes from the file's start.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize, serde::Deserialize)]
pub struct Place {
    /// Which file.
    pub file: FileId,
    /// First byte.
    pub start: u32,
    /// One past the last byte.
    pub end: u32,
}

impl Place {
    /// The place as a range of bytes.
    #[must_use]
    pub fn range(self) -> Range<usize> {
        self.start as usize..self.end as usize
    }
}

/// The file table: names and texts, in the order in which they were read. The basics come first.
#[derive(Clone, Debug, Default)]
pub struct Sources {
    files: Vec<Arc<Text>>,
}

/// A text with its name and its lines.
#[derive(Debug)]
pub struct Text {
    name: String,
    text: Arc<str>,
    /// Counted when somebody asks for one: most texts have nothing to be said of.
    lines: OnceLock<SimpleFile<&'static str, Arc<str>>>,
}

impl Text {
    /// A text.
    #[must_use]
    pub const fn new(name: String, text: Arc<str>) -> Self {
        Self { name, text, lines: OnceLock::new() }
    }

    /// The text.
    #[must_use]
    pub const fn text(&self) -> &Arc<str> {
        &self.text
    }

    fn lines(&self) -> &SimpleFile<&'static str, Arc<str>> {
        self.lines.get_or_init(|| SimpleFile::new("", Arc::clone(&self.text)))
    }
}

impl Sources {
    /// A table that holds the basics only.
    #[must_use]
    pub fn with_basics() -> Self {
        static BASICS: LazyLock<Sources> = LazyLock::new(|| {
            let mut sources = Sources::default();
            for (name, text) in crate::basics::TEXTS {
                sources.add(format!("basics/{name}"), Arc::from(*text));
            }
            sources
        });
        BASICS.clone()
    }

    /// Adds a file and says its number.
    pub fn add(&mut self, name: String, text: Arc<str>) -> FileId {
        self.add_known(Arc::new(Text::new(name, text)))
    }

    /// Adds a file whose lines are counted and says its number.
    pub fn add_known(&mut self, text: Arc<Text>) -> FileId {
        let id = FileId(u32::try_from(self.files.len()).unwrap_or(u32::MAX));
        self.files.push(text);
        id
    }

    /// Puts another text in the place of a file's.
    pub fn put(&mut self, file: FileId, text: Arc<Text>) {
        if let Some(slot) = self.files.get_mut(file.0 as usize) {
            *slot = text;
        }
    }

    /// The name of a file as the user gave it.
    #[must_use]
    pub fn name(&self, file: FileId) -> &str {
        self.files.get(file.0 as usize).map_or("", |f| f.name.as_str())
    }

    /// The text of a file.
    #[must_use]
    pub fn text(&self, file: FileId) -> &str {
        self.files.get(file.0 as usize).map_or("", |f| f.text.as_ref())
    }

    /// The words at a place.
    #[must_use]
    pub fn at(&self, place: Place) -> &str {
        self.text(place.file).get(place.range()).unwrap_or("")
    }

    /// Line and column of a place's start, both from 1, columns in characters.
    #[must_use]
    pub fn line_column(&self, place: Place) -> (usize, usize) {
        self.location(place.file, place.start as usize).map_or((1, 1), |l| (l.line_number, l.column_number))
    }

    /// All files by number.
    pub fn ids(&self) -> impl Iterator<Item = FileId> + use<> {
        (0..u32::try_from(self.files.len()).unwrap_or(0)).map(FileId)
    }
}

impl<'a> Files<'a> for Sources {
    type FileId = FileId;
    type Name = &'a str;
    type Source = &'a str;

    fn name(&'a self, id: FileId) -> Result<&'a str, Error> {
        self.files.get(id.0 as usize).map(|f| f.name.as_str()).ok_or(Error::FileMissing)
    }

    fn source(&'a self, id: FileId) -> Result<&'a str, Error> {
        self.files.get(id.0 as usize).map(|f| f.text.as_ref()).ok_or(Error::FileMissing)
    }

    fn line_index(&'a self, id: FileId, byte: usize) -> Result<usize, Error> {
        self.files.get(id.0 as usize).ok_or(Error::FileMissing)?.lines().line_index((), byte)
    }

    fn line_range(&'a self, id: FileId, line: usize) -> Result<Range<usize>, Error> {
        self.files.get(id.0 as usize).ok_or(Error::FileMissing)?.lines().line_range((), line)
    }
}
