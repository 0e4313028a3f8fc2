//! What a block declares and what it may build on, told from its text without a tree: enough to find it among thousands.

use crate::outline::{declares, parse_block};
use crate::tree::{BlockKind, StmtKind, Word};
use memchr::memchr2_iter;
use smol_str::SmolStr;

/// What is known of a block before its body is read.
#[derive(Clone, Debug)]
pub struct Head {
    /// What it declares.
    pub kind: BlockKind,
    /// Its name, with its place in the block.
    pub name: Option<Word>,
    /// What it builds on, and perhaps more: what stands behind any word `extends`, in a comment too.
    /// One that is misspelt isn't found.
    pub bases: Vec<Base>,
}

/// What a recipe builds on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Base {
    /// Its name.
    pub name: SmolStr,
    /// The file or folder in which it is, if that is said.
    pub from: Option<SmolStr>,
}

impl Head {
    /// Whether two blocks are found by the same words.
    #[must_use]
    pub fn same(&self, other: &Self) -> bool {
        let name = |head: &Self| head.name.as_ref().map(|name| name.text.clone());
        self.kind == other.kind && name(self) == name(other) && self.bases == other.bases
    }
}

/// The head of a block, from the text of its chunk. Kind and name are those of its tree; a tree that is refused has none.
#[must_use]
pub fn head(text: &str) -> Head {
    let (kind, name) = declares(text);
    let bases = if kind == BlockKind::Recipe { bases(text) } else { Vec::new() };
    Head { kind, name, bases }
}

const EXTENDS: &str = "extends";

fn bases(text: &str) -> Vec<Base> {
    let mut out = Vec::new();
    // The rarest of its letters.
    for x in memchr2_iter(b'x', b'X', text.as_bytes()) {
        let Some(start) = x.checked_sub(1) else { continue };
        let word = text.get(start..start + EXTENDS.len());
        if word.is_some_and(|word| word.eq_ignore_ascii_case(EXTENDS)) {
            // The statement is read as it is in its block, so that the name is the same.
            let line = text.get(start..).and_then(|rest| rest.lines().next()).unwrap_or_default();
            let read = parse_block(&format!("recipe it {{\n{line}\n}}"));
            out.extend(read.block.body.into_iter().find_map(|stmt| match stmt.kind {
                StmtKind::Extends { base, from, .. } => {
                    Some(Base { name: base.text, from: from.map(|text| text.text.into()) })
                }
                _ => None,
            }));
        }
    }
    out
}
