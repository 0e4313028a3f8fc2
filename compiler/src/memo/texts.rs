//! Texts and their blocks, by path.

use super::KEPT;
use crate::source::Text;
use crate::workspace::{Reading, WIDE};
use rayon::prelude::*;
use rustc_hash::FxHashMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

/// A text to be read.
#[derive(Debug)]
pub(crate) struct Read {
    /// Where it is.
    pub(crate) path: PathBuf,
    /// What it says.
    pub(crate) text: Arc<str>,
    /// Whether the user named it.
    pub(crate) asked: bool,
}

#[derive(Debug, Default)]
pub(super) struct Texts {
    known: FxHashMap<PathBuf, (Arc<Reading>, u64)>,
    /// How many blocks were read.
    count: Arc<AtomicUsize>,
    run: u64,
}

impl Texts {
    /// The blocks of some texts, in the order of the texts.
    pub(super) fn read(&mut self, texts: &[Read]) -> Vec<Arc<Reading>> {
        self.run += 1;
        let run = self.run;
        let mut out: Vec<Option<Arc<Reading>>> = Vec::with_capacity(texts.len());
        for read in texts {
            let known = self.known.get_mut(&read.path).filter(|(known, _)| same(known, &read.text));
            out.push(known.map(|(known, used)| {
                *used = run;
                Arc::clone(known)
            }));
        }
        let missing: Vec<(usize, &Read)> =
            texts.iter().enumerate().filter(|(n, _)| out.get(*n).is_some_and(Option::is_none)).collect();
        let anew = |(_, read): &(usize, &Read)| self.anew(&read.path, &read.text);
        let bytes: usize = missing.iter().map(|(_, read)| read.text.len()).sum();
        let made: Vec<Arc<Reading>> =
            if bytes > WIDE { missing.par_iter().map(anew).collect() } else { missing.iter().map(anew).collect() };
        for ((number, read), made) in missing.into_iter().zip(made) {
            self.known.insert(read.path.clone(), (Arc::clone(&made), run));
            if let Some(slot) = out.get_mut(number) {
                *slot = Some(made);
            }
        }
        if run.is_multiple_of(KEPT) {
            self.known.retain(|_, (_, used)| run - *used < KEPT);
        }
        out.into_iter().flatten().collect()
    }

    /// The blocks of a text that takes the place of another, where all other texts stay.
    pub(super) fn again(&mut self, path: &Path, text: &Arc<str>) -> Arc<Reading> {
        let made = self.anew(path, text);
        self.known.insert(path.to_path_buf(), (Arc::clone(&made), self.run));
        made
    }

    /// A text that was read, without its trees.
    pub(super) fn let_go(&mut self, path: &Path, known: &Reading) -> Arc<Reading> {
        let made = Arc::new(known.unread());
        self.known.insert(path.to_path_buf(), (Arc::clone(&made), self.run));
        made
    }

    fn anew(&self, path: &Path, text: &Arc<str>) -> Arc<Reading> {
        let before = self.known.get(path).map(|(before, _)| &**before);
        Arc::new(Reading::new(Text::new(path.display().to_string(), Arc::clone(text)), before, &self.count))
    }

    /// How many blocks were read since this was asked last.
    pub(super) fn counted(&self) -> usize {
        self.count.swap(0, Ordering::Relaxed)
    }
}

fn same(known: &Reading, text: &Arc<str>) -> bool {
    let before = known.text().text();
    Arc::ptr_eq(before, text) || before == text
}
