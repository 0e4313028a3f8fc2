//! Trees, by the text of their blocks.

use super::KEPT;
use crate::source::Text;
use crate::workspace::parse_wide;
use grammar::Chunk;
use grammar::tree::{File, Parsed, Placed};
use rayon::prelude::*;
use rustc_hash::FxHashMap;
use std::path::PathBuf;
use std::sync::Arc;

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

/// A text with its lines, and its tree.
pub(crate) type Known = (Arc<Text>, Arc<File>);

/// The blocks of a file as they were found in its text; nothing is kept of a file that was read wide.
type Chunks = Vec<Chunk>;

/// Threads cost more than they give on a few small files.
const WIDE: usize = 200_000;

#[derive(Debug, Default)]
pub(super) struct Texts {
    known: FxHashMap<PathBuf, (Known, Chunks, u64)>,
    run: u64,
}

impl Texts {
    /// The trees of some texts in their order, and how many blocks were read for them.
    pub(super) fn read(&mut self, texts: &[Read]) -> (Vec<Known>, usize) {
        self.run += 1;
        let run = self.run;
        let same = |known: &Known, text: &Arc<str>| {
            let before = known.0.text();
            Arc::ptr_eq(before, text) || before == text
        };
        let mut out: Vec<Option<Known>> = Vec::with_capacity(texts.len());
        for read in texts {
            let known = self.known.get_mut(&read.path).filter(|(known, ..)| same(known, &read.text));
            out.push(known.map(|(known, _, used)| {
                *used = run;
                known.clone()
            }));
        }
        let missing: Vec<(usize, &Read)> =
            texts.iter().enumerate().filter(|(n, _)| out.get(*n).is_some_and(Option::is_none)).collect();
        let before = |read: &Read| self.known.get(&read.path).map(|(known, chunks, _)| (known, chunks.as_slice()));
        let anew = |read: &Read| {
            let name = read.path.display().to_string();
            let (tree, chunks, blocks) = parse(&read.text, before(read));
            ((Arc::new(Text::new(name, Arc::clone(&read.text))), Arc::new(tree)), chunks, blocks)
        };
        let bytes: usize = missing.iter().map(|(_, read)| read.text.len()).sum();
        let made: Vec<(Known, Chunks, usize)> = if bytes > WIDE {
            missing.par_iter().map(|(_, read)| anew(read)).collect()
        } else {
            missing.iter().map(|(_, read)| anew(read)).collect()
        };
        let mut blocks = 0;
        for ((number, read), (known, chunks, read_anew)) in missing.into_iter().zip(made) {
            blocks += read_anew;
            self.known.insert(read.path.clone(), (known.clone(), chunks, run));
            if let Some(slot) = out.get_mut(number) {
                *slot = Some(known);
            }
        }
        if run.is_multiple_of(KEPT) {
            self.known.retain(|_, (.., used)| run - *used < KEPT);
        }
        (out.into_iter().flatten().collect(), blocks)
    }
}

/// Reads a text, but for the blocks that it had before; where they are, and how many were read.
fn parse(text: &str, before: Option<(&Known, &[Chunk])>) -> (File, Chunks, usize) {
    let Some(((old, tree), known)) = before.filter(|(_, chunks)| !chunks.is_empty()) else {
        if text.len() > WIDE {
            let tree = parse_wide(text);
            let blocks = tree.blocks.len();
            return (tree, Vec::new(), blocks);
        }
        let chunks = grammar::scan(text);
        let tree = grammar::parse_chunks(text, &chunks, |c| Some(Arc::new(grammar::parse_block(text.get(c.range())?))));
        let blocks = tree.blocks.len();
        return (tree, chunks, blocks);
    };
    let old = old.text();
    let (chunks, front, back) = grammar::scan_again(text, old, known);
    // What lies between is most often one block; it may be one that was moved there.
    let middle = front..known.len().saturating_sub(back);
    let blocks_of = |c: &Chunk, placed: &Arc<Placed>| Some((old.get(c.range())?, Arc::clone(&placed.block)));
    let had: FxHashMap<&str, Arc<Parsed>> = known
        .iter()
        .zip(&tree.blocks)
        .filter_map(|(c, placed)| blocks_of(c, placed))
        .skip(middle.start)
        .take(middle.len())
        .collect();
    let (mut number, mut read) = (0, 0);
    let shift = (chunks.len() - back, known.len() - back);
    let tree = grammar::parse_chunks(text, &chunks, |c| {
        let own = number;
        number += 1;
        let same = if own < front { Some(own) } else { own.checked_sub(shift.0).map(|past| past + shift.1) };
        if let Some(placed) = same.and_then(|same| tree.blocks.get(same)) {
            return Some(Arc::clone(&placed.block));
        }
        let block = text.get(c.range())?;
        Some(had.get(block).map(Arc::clone).unwrap_or_else(|| {
            read += 1;
            Arc::new(grammar::parse_block(block))
        }))
    });
    (tree, chunks, read)
}
