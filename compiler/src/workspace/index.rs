//! Who declares what in a salon, kept from edit to edit: blocks are named by file and number, so that writing inside of one
//! changes nothing here.

use super::Parsed;
use crate::basics;
use crate::source::FileId;
use grammar::tree::BlockKind;
use grammar::{Base, Head};
use smol_str::SmolStr;
use std::collections::BTreeMap;

/// A block: the file in which it stands, and which one of the file's it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct At {
    pub(super) file: FileId,
    pub(super) block: usize,
}

/// Blocks by name, in the order of the files; of several with one name the last counts.
pub(super) type Names = BTreeMap<SmolStr, Vec<At>>;

/// Where some names of a salon are.
pub(super) type OfIndex = fn(&Index) -> &Names;

/// The declarations of the files that share names.
#[derive(Debug, Default)]
pub(super) struct Index {
    /// The files.
    pub(super) files: Vec<FileId>,
    pub(super) houses: Vec<At>,
    /// The blocks that add to the basics.
    pub(super) added: Vec<At>,
    pub(super) cases: Vec<At>,
    pub(super) recipes: Names,
    pub(super) dogs: Names,
    /// Recipes by what they may build on.
    pub(super) children: Names,
    /// What recipes build on that is looked for in a folder.
    pub(super) far: Vec<(At, Base)>,
}

impl Index {
    /// Adds a file, which comes after those that are here.
    pub(super) fn add(&mut self, file: &Parsed) {
        self.files.push(file.id);
        self.put(file);
    }

    /// A file was read again. Whether it declares something else than before.
    pub(super) fn changed(&mut self, before: &Parsed, now: &Parsed) -> bool {
        if before.reading.heads().count() == now.reading.heads().count()
            && before.reading.heads().zip(now.reading.heads()).all(|(a, b)| a.same(b))
            && is_basic(before) == is_basic(now)
        {
            return false;
        }
        for names in [&mut self.recipes, &mut self.dogs, &mut self.children] {
            names.retain(|_, all| {
                all.retain(|at| at.file != now.id);
                !all.is_empty()
            });
        }
        for list in [&mut self.houses, &mut self.added, &mut self.cases] {
            list.retain(|at| at.file != now.id);
        }
        self.far.retain(|(at, _)| at.file != now.id);
        self.put(now);
        for names in [&mut self.recipes, &mut self.dogs, &mut self.children] {
            names.values_mut().for_each(|all| all.sort());
        }
        for list in [&mut self.houses, &mut self.added, &mut self.cases] {
            list.sort();
        }
        true
    }

    fn put(&mut self, file: &Parsed) {
        if is_basic(file) {
            return;
        }
        for (block, head) in file.reading.heads().enumerate() {
            self.block(At { file: file.id, block }, head);
        }
    }

    fn block(&mut self, at: At, head: &Head) {
        match (head.kind, &head.name) {
            (BlockKind::Recipe, Some(name)) => {
                self.recipes.entry(name.text.clone()).or_default().push(at);
                for base in &head.bases {
                    self.children.entry(base.name.clone()).or_default().push(at);
                }
                self.far.extend(head.bases.iter().filter(|base| base.from.is_some()).map(|base| (at, base.clone())));
            }
            (BlockKind::Dog, Some(name)) => self.dogs.entry(name.text.clone()).or_default().push(at),
            (BlockKind::House, _) => self.houses.push(at),
            (BlockKind::Case, _) => self.cases.push(at),
            (BlockKind::Unknown | BlockKind::Recipe | BlockKind::Dog, _) => {}
            _ => self.added.push(at),
        }
    }
}

/// The basics' own texts declare nothing anew.
fn is_basic(file: &Parsed) -> bool {
    basics::TEXTS.iter().any(|(_, text)| *text == file.text())
}
