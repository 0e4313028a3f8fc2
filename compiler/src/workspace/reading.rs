//! A text as it was read: its blocks are found at once, their trees made when somebody asks for them.
//!
//! Of thousands of files a run most often asks a few. What a block declares is told from its head alone.

use crate::source::Text;
use grammar::tree::{File, Parsed};
use grammar::{Chunk, Head};
use rayon::prelude::*;
use rustc_hash::{FxHashMap, FxHashSet};
use smol_str::SmolStr;
use std::ops::Range;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

/// Threads cost more than they give on less than so many bytes.
pub(crate) const WIDE: usize = 200_000;

/// A block's head, and its tree once it was read.
#[derive(Debug)]
struct Slot {
    head: Head,
    tree: OnceLock<Arc<Parsed>>,
    /// What it was before an edit: of its lines only those that differ are read again. Let go once it is read.
    before: Mutex<Option<Before>>,
}

/// A block that was read, and the text that it is from.
#[derive(Clone, Debug)]
struct Before {
    text: Arc<Text>,
    range: Range<usize>,
    tree: Arc<Parsed>,
}

impl Slot {
    fn new(head: Head, before: Option<Before>) -> Arc<Self> {
        Arc::new(Self { head, tree: OnceLock::new(), before: Mutex::new(before) })
    }

    /// What an edit of it goes on from: itself, or what it was when it was read last.
    fn latest(&self, text: &Arc<Text>, chunk: &Chunk) -> Option<Before> {
        let own =
            self.tree.get().map(|tree| Before { text: Arc::clone(text), range: chunk.range(), tree: Arc::clone(tree) });
        own.or_else(|| self.before.lock().unwrap_or_else(PoisonError::into_inner).clone())
    }

    fn read(&self, text: &str) -> Arc<Parsed> {
        let before = self.before.lock().unwrap_or_else(PoisonError::into_inner).take();
        let again = before.and_then(|before| {
            let old = before.text.text().get(before.range)?;
            Some(grammar::parse_block_again(text, old, &before.tree))
        });
        Arc::new(again.unwrap_or_else(|| grammar::parse_block(text)))
    }
}

/// A text with its blocks.
#[derive(Debug)]
pub(crate) struct Reading {
    text: Arc<Text>,
    chunks: Vec<Chunk>,
    slots: Vec<Arc<Slot>>,
    tree: OnceLock<File>,
    /// How many blocks were read, of this text and of others.
    count: Arc<AtomicUsize>,
}

impl Reading {
    /// Finds the blocks of a text. Those that stood in `before`, a former text of the same file, aren't read again.
    pub(crate) fn new(text: Text, before: Option<&Self>, count: &Arc<AtomicUsize>) -> Self {
        let count = Arc::clone(count);
        if text.text().len() > grammar::MAX_SIZE {
            // It is refused whole, and has no blocks of its own.
            return Self { text: Arc::new(text), chunks: Vec::new(), slots: Vec::new(), tree: OnceLock::new(), count };
        }
        let new: &str = text.text();
        let (old, slots, known) = before.map_or(("", [].as_slice(), [].as_slice()), |before| {
            (&**before.text.text(), before.slots.as_slice(), before.chunks.as_slice())
        });
        let (chunks, front, back) = grammar::scan_again(new, old, known);
        let (known_back, own_back) = (known.len() - back, chunks.len() - back);
        // What lies between is most often one block; it may be one that was moved there.
        let between = known.iter().zip(slots).take(known_back).skip(front);
        let had: FxHashMap<&str, &Arc<Slot>> =
            between.filter_map(|(c, slot)| Some((old.get(c.range())?, slot))).collect();
        let middle = chunks.iter().enumerate().take(own_back).skip(front);
        let middle = middle.filter_map(|(n, c)| Some((n, new.get(c.range())?)));
        let middle = middle.map(|(n, text)| {
            let anew = || {
                // Most often it stands where it stood, and one line of it is another.
                let stood = before.and_then(|before| slots.get(n)?.latest(&before.text, known.get(n)?));
                Slot::new(grammar::head(text), stood)
            };
            had.get(text).map_or_else(anew, |slot| Arc::clone(slot))
        });
        let ends = (slots.iter().take(front), slots.iter().skip(known_back));
        let slots = ends.0.cloned().chain(middle).chain(ends.1.cloned()).collect();
        Self { text: Arc::new(text), chunks, slots, tree: OnceLock::new(), count }
    }

    /// The same text without its trees.
    pub(crate) fn unread(&self) -> Self {
        let slot = |slot: &Arc<Slot>| Slot::new(slot.head.clone(), None);
        let slots = self.slots.iter().map(slot).collect();
        let (text, count) = (Arc::clone(&self.text), Arc::clone(&self.count));
        Self { text, chunks: self.chunks.clone(), slots, tree: OnceLock::new(), count }
    }

    /// The names of the blocks that stand in one of two texts alone.
    pub(crate) fn differing(&self, other: &Self) -> Vec<SmolStr> {
        let of = |text: &Self| text.slots.iter().map(Arc::as_ptr).collect::<FxHashSet<_>>();
        let (mine, others) = (of(self), of(other));
        let only = |text: &Self, in_other: &FxHashSet<*const Slot>| {
            let alone = text.slots.iter().filter(|slot| !in_other.contains(&Arc::as_ptr(slot)));
            alone.filter_map(|slot| slot.head.name.as_ref().map(|name| name.text.clone())).collect::<Vec<_>>()
        };
        let mut names = only(self, &others);
        names.extend(only(other, &mine));
        names
    }

    /// Whether its tree was made.
    pub(crate) fn is_read(&self) -> bool {
        self.tree.get().is_some()
    }

    /// The text.
    pub(crate) fn text(&self) -> &Arc<Text> {
        &self.text
    }

    /// What its blocks declare, in their order.
    pub(crate) fn heads(&self) -> impl Iterator<Item = &Head> {
        self.slots.iter().map(|slot| &slot.head)
    }

    /// The words of a block, by its number.
    pub(crate) fn block(&self, number: usize) -> &str {
        self.chunks.get(number).and_then(|c| self.text.text().get(c.range())).unwrap_or_default()
    }

    /// Where a block begins, by its number.
    pub(crate) fn starts(&self, number: usize) -> Option<u32> {
        u32::try_from(self.chunks.get(number)?.start).ok()
    }

    /// The tree.
    pub(crate) fn tree(&self) -> &File {
        self.tree.get_or_init(|| {
            let text: &str = self.text.text();
            if text.len() > grammar::MAX_SIZE {
                self.count.fetch_add(1, Ordering::Relaxed);
                return grammar::parse(text);
            }
            let due: Vec<(&Chunk, &Arc<Slot>)> =
                self.chunks.iter().zip(&self.slots).filter(|(_, slot)| slot.tree.get().is_none()).collect();
            let read = |(chunk, slot): &(&Chunk, &Arc<Slot>)| {
                slot.tree.get_or_init(|| {
                    self.count.fetch_add(1, Ordering::Relaxed);
                    slot.read(text.get(chunk.range()).unwrap_or_default())
                });
            };
            // Blocks don't depend on one another.
            if due.iter().map(|(chunk, _)| chunk.range().len()).sum::<usize>() > WIDE {
                due.par_iter().for_each(read);
            } else {
                due.iter().for_each(read);
            }
            let mut all = self.slots.iter().filter_map(|slot| slot.tree.get().map(Arc::clone));
            grammar::parse_chunks(text, &self.chunks, |_| all.next())
        })
    }
}
