//! Trees, by the text of their blocks.

use super::KEPT;
use crate::source::Text;
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

/// The blocks of a file as they were found in its text; none of a file that is too big.
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
    if text.len() > grammar::MAX_SIZE {
        // It is refused whole, and has no blocks of its own.
        return (grammar::parse(text), Vec::new(), 1);
    }
    let (old, blocks, known) = before
        .map_or(("", [].as_slice(), [].as_slice()), |((old, tree), known)| (old.text(), tree.blocks.as_slice(), known));
    let (chunks, front, back) = grammar::scan_again(text, old, known);
    let (known_back, own_back) = (known.len() - back, chunks.len() - back);
    let block = |placed: &Arc<Placed>| Arc::clone(&placed.block);
    // What lies between is most often one block; it may be one that was moved there.
    let between = known.iter().zip(blocks).take(known_back).skip(front);
    let had: FxHashMap<&str, Arc<Parsed>> =
        between.filter_map(|(c, placed)| Some((old.get(c.range())?, block(placed)))).collect();
    let middle: Vec<&str> = chunks.iter().take(own_back).skip(front).filter_map(|c| text.get(c.range())).collect();
    let anew = |text: &&str| (!had.contains_key(text)).then(|| Arc::new(grammar::parse_block(text)));
    // Blocks don't depend on one another.
    let anew: Vec<Option<Arc<Parsed>>> = if middle.iter().map(|text| text.len()).sum::<usize>() > WIDE {
        middle.par_iter().map(anew).collect()
    } else {
        middle.iter().map(anew).collect()
    };
    let read = anew.iter().flatten().count();
    let middle = anew.into_iter().zip(middle).filter_map(|(anew, text)| anew.or_else(|| had.get(text).cloned()));
    let mut all = blocks.iter().take(front).map(block).chain(middle).chain(blocks.iter().skip(known_back).map(block));
    let tree = grammar::parse_chunks(text, &chunks, |_| all.next());
    (tree, chunks, read)
}
