//! What a recipe builds on: looked for by its name in its house and outwards, or in the folder that it says.

use super::gather::{Here, way, way_words};
use super::index::{At, Index};
use super::{Salon, Workspace};
use crate::names::lower::Decl;
use crate::source::FileId;
use grammar::tree::{StmtKind, Text, Word};
use smol_str::SmolStr;
use std::collections::BTreeSet;
use std::path::{Component, Path, PathBuf};

/// The line `extends` of a recipe.
#[derive(Clone, Copy, Debug)]
pub struct Extends<'t> {
    /// The name of its base.
    pub name: &'t Word,
    /// The file or folder in which that is, if it is said.
    pub from: Option<&'t Text>,
    /// The version that the author saw.
    pub version: Option<i64>,
}

/// The line `extends` of a recipe.
#[must_use]
pub fn extends<'t>(recipe: Decl<'t>) -> Option<Extends<'t>> {
    recipe.block.body.iter().find_map(|stmt| match &stmt.kind {
        StmtKind::Extends { base, from, version } => {
            Some(Extends { name: base, from: from.as_deref(), version: version.as_ref().map(|v| v.num / v.den.max(1)) })
        }
        _ => None,
    })
}

/// Why a base isn't found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Missing {
    /// No recipe is called so there.
    Unknown,
    /// The way leads out of the folder of the outermost house, beyond which nothing is read.
    Outside,
    /// The way leads to no file and to no folder that holds one.
    Nowhere,
}

impl<'w> Salon<'w> {
    /// The recipe that one builds on, if it builds on any.
    #[must_use]
    pub fn base(&self, recipe: Decl<'_>) -> Option<Result<Decl<'w>, Missing>> {
        let line = extends(recipe)?;
        let workspace = self.workspace();
        let at = workspace.base(recipe.file, &line.name.text, line.from.map(|text| text.text.as_str()));
        Some(at.and_then(|at| workspace.decl(at).ok_or(Missing::Unknown)))
    }

    /// The names of the recipes in a folder or file, as seen from another file.
    pub(crate) fn names_in(&self, file: FileId, from: &str) -> Vec<&'w SmolStr> {
        let workspace = self.workspace();
        let here = Here::new();
        let there = workspace.salon_number(file).and_then(|own| workspace.there(&here, own, file, from));
        let Some(there) = there else { return Vec::new() };
        let inside = |at: &At| workspace.file(at.file).is_some_and(|file| here.full(&file.path).starts_with(&there));
        let all = workspace.salons.iter().flat_map(|index| &index.recipes);
        all.filter(|(_, all)| all.iter().any(inside)).map(|(name, _)| name).collect()
    }

    /// The folder, as seen from a file, in which a house beside has a recipe of this name.
    pub(crate) fn beside_in(&self, file: FileId, name: &str) -> Option<String> {
        let workspace = self.workspace();
        let here = Here::new();
        let folder = here.full(&workspace.file(file)?.path).parent()?.to_path_buf();
        let known = |number: usize| -> Option<String> {
            let at = workspace.salons.get(number)?.recipes.get(name)?.last()?;
            let home = workspace.homes.get(number)?.as_ref().filter(|_| workspace.house(number).is_some());
            let there =
                home.cloned().or_else(|| Some(here.full(&workspace.file(at.file)?.path).parent()?.to_path_buf()))?;
            let way = way_words(&way(&folder, &there));
            workspace.base(file, name, Some(&way)).is_ok().then_some(way)
        };
        (0..workspace.salons.len()).find_map(known)
    }

    /// The houses that bind in a file, by number, the outermost first.
    pub(crate) fn binding(&self, file: FileId) -> Vec<usize> {
        let workspace = self.workspace();
        workspace.salon_number(file).map(|number| workspace.binding(number)).unwrap_or_default()
    }

    /// A house by its number.
    pub(crate) fn house(&self, number: usize) -> Option<Decl<'w>> {
        self.workspace().house(number)
    }
}

impl Workspace {
    /// The recipe that is called so, as seen from a file.
    pub(super) fn base(&self, file: FileId, name: &str, from: Option<&str>) -> Result<At, Missing> {
        let own = self.salon_number(file).ok_or(Missing::Unknown)?;
        let Some(from) = from else {
            let near = self.salons.get(own).and_then(|index| index.recipes.get(name));
            let known = near.or_else(|| self.outwards(own, |index| &index.recipes, name));
            return known.and_then(|all| all.last()).copied().ok_or(Missing::Unknown);
        };
        let here = Here::new();
        let there = self.there(&here, own, file, from).ok_or(Missing::Outside)?;
        let depth = |at: &At| {
            let path = here.full(&self.file(at.file)?.path).into_owned();
            path.starts_with(&there).then(|| path.components().count())
        };
        // The nearest to that folder; of several the last, as everywhere.
        let all = self.salons.iter().filter_map(|index| index.recipes.get(name)).flatten();
        let found = all.filter_map(|at| Some((depth(at)?, *at)));
        let found = found.min_by_key(|(depth, at)| (*depth, std::cmp::Reverse(*at)));
        let any = || self.files.iter().any(|file| here.full(&file.path).starts_with(&there));
        found.map(|(_, at)| at).ok_or_else(|| if any() { Missing::Unknown } else { Missing::Nowhere })
    }

    /// The path that a text names, as seen from its file.
    fn there(&self, here: &Here, own: usize, file: FileId, from: &str) -> Option<PathBuf> {
        let path = here.full(&self.file(file)?.path).into_owned();
        let outermost = self.binding(own).first().copied().unwrap_or(own);
        let top = self.homes.get(outermost).cloned().flatten();
        let top = top.or_else(|| path.parent().map(Path::to_path_buf))?;
        let from = PathBuf::from(from.replace('\\', "/"));
        // What stands at the top of one disk stands elsewhere on another.
        if from.components().any(|part| matches!(part, Component::RootDir | Component::Prefix(_))) {
            return None;
        }
        let there = here.full(&path.parent()?.join(from)).into_owned();
        there.starts_with(top).then_some(there)
    }

    /// The houses that bind in a salon, the outermost first, its own among them.
    pub(super) fn binding(&self, number: usize) -> Vec<usize> {
        let around = self.around.get(number).into_iter().flatten().copied();
        let has_house = |number: &usize| self.salons.get(*number).is_some_and(|index| !index.houses.is_empty());
        around.chain([number]).filter(has_house).collect()
    }

    pub(super) fn house(&self, number: usize) -> Option<Decl<'_>> {
        self.decl(*self.salons.get(number)?.houses.last()?)
    }

    /// Of each salon those beside it on which its recipes build, with those around them.
    pub(super) fn beside(&self) -> Vec<Vec<usize>> {
        if self.salons.iter().all(|index| index.far.is_empty()) {
            return vec![Vec::new(); self.salons.len()];
        }
        let direct: Vec<Vec<usize>> = self.salons.iter().map(|index| self.built_on(index)).collect();
        let all = |number: usize| {
            let (mut seen, mut way) = (BTreeSet::from([number]), vec![number]);
            while let Some(at) = way.pop() {
                let next = direct.get(at).into_iter().flatten().copied();
                way.extend(next.filter(|next| seen.insert(*next)));
            }
            let own = self.binding(number);
            let all: BTreeSet<usize> = seen.into_iter().flat_map(|number| self.binding(number)).collect();
            all.into_iter().filter(|house| !own.contains(house)).collect()
        };
        (0..self.salons.len()).map(all).collect()
    }

    /// The salons of the recipes that one says by their folders.
    fn built_on(&self, index: &Index) -> Vec<usize> {
        let found = index.far.iter().filter_map(|(at, base)| self.base(at.file, &base.name, base.from.as_deref()).ok());
        found.filter_map(|at| self.salon_number(at.file)).collect()
    }
}
