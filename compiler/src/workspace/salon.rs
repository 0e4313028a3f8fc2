//! A house with what is declared beside it, or the files that have no house: they share names.

use super::Workspace;
use super::index::{At, Index, Names, OfIndex};
use crate::basics;
use crate::diagnostic::{Diagnostic, Severity, code};
use crate::memo::Part;
use crate::names::fields::listed_names;
use crate::names::lower::{self, Decl};
use crate::names::trade::Trade;
use crate::source::FileId;
use grammar::tree::StmtKind;
use rustc_hash::FxHashSet;
use smol_str::SmolStr;
use std::sync::Arc;

/// Some files.
pub type Files = FxHashSet<FileId>;

/// A house with its folder, or the files that have none.
#[derive(Debug)]
pub struct Salon<'w> {
    /// Its files, in order.
    pub files: &'w [FileId],
    /// The house.
    pub house: Option<Decl<'w>>,
    /// The houses in whose folders it lies, the outermost first: what they keep binds here, too.
    pub around: Vec<Decl<'w>>,
    /// The houses beside it on whose recipes its own build: what they keep binds in those.
    pub beside: Vec<Decl<'w>>,
    /// The blocks that add to the basics, those of the houses around it first, then those of the houses beside it.
    pub added: Vec<Decl<'w>>,
    /// The vocabulary: the basics and what the house adds.
    pub trade: Arc<Trade>,
    /// Messages about those additions.
    pub said: Vec<Diagnostic>,
    /// Recipes by name.
    pub recipes: Named<'w>,
    /// Cards by name. Those of a house around it are that one's.
    pub dogs: Named<'w>,
    /// Cases, in order.
    pub cases: Decls<'w>,
    /// The codes of messages that its house calls errors.
    pub errors: Vec<SmolStr>,
    children: &'w Names,
}

/// Declarations by name. Each is read when it is asked for.
#[derive(Clone, Copy)]
pub struct Named<'w> {
    workspace: &'w Workspace,
    names: &'w Names,
    /// Which salon it is, and where its names are; none where names around it don't count.
    around: Option<(usize, OfIndex)>,
}

/// Declarations in the order of their files. Each is read when it is asked for.
#[derive(Clone, Copy)]
pub struct Decls<'w> {
    workspace: &'w Workspace,
    all: &'w [At],
}

impl std::fmt::Debug for Named<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_set().entries(self.names.keys()).finish()
    }
}

impl std::fmt::Debug for Decls<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_list().entries(self.all).finish()
    }
}

impl<'w> Named<'w> {
    /// The declaration of a name: of several the last, and if there is none here that of the nearest house around.
    #[must_use]
    pub fn get(&self, name: &str) -> Option<Decl<'w>> {
        self.workspace.decl(*self.known(name)?.last()?)
    }

    /// The declaration of a name in this house's own folder.
    #[must_use]
    pub fn here(&self, name: &str) -> Option<Decl<'w>> {
        self.workspace.decl(*self.names.get(name)?.last()?)
    }

    fn known(&self, name: &str) -> Option<&'w Vec<At>> {
        let around = || {
            let (number, of) = self.around?;
            self.workspace.outwards(number, of, name)
        };
        self.names.get(name).or_else(around)
    }

    /// Whether a name is declared, here or around.
    #[must_use]
    pub fn contains_key(&self, name: &str) -> bool {
        self.known(name).is_some()
    }

    /// How many names there are, those around not among them.
    #[must_use]
    pub fn len(&self) -> usize {
        self.names.len()
    }

    /// How many stand in some files.
    #[must_use]
    pub fn count_in(&self, files: &Files) -> usize {
        self.names.values().filter(|all| all.last().is_some_and(|at| files.contains(&at.file))).count()
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.names.is_empty()
    }

    /// The names, in their order.
    pub fn keys(&self) -> impl Iterator<Item = &'w SmolStr> + use<'w> {
        self.names.keys()
    }

    /// The declarations with their names, in the order of these. All of their files are read.
    pub fn iter(&self) -> impl Iterator<Item = (&'w SmolStr, Decl<'w>)> + use<'w> {
        self.which(|_| true)
    }

    /// The declarations in the order of their names. All of their files are read.
    pub fn values(&self) -> impl Iterator<Item = Decl<'w>> + use<'w> {
        self.iter().map(|(_, decl)| decl)
    }

    /// Those that stand in some files.
    pub fn within<'a>(&self, files: &'a Files) -> impl Iterator<Item = Decl<'w>> + use<'a, 'w> {
        self.which(|at| files.contains(&at.file)).map(|(_, decl)| decl)
    }

    /// Those whose text may hold one of some names; no other file is read.
    pub fn mentioning<'a>(&self, names: &'a [&str]) -> impl Iterator<Item = Decl<'w>> + use<'a, 'w> {
        let workspace = self.workspace;
        self.which(move |at| mentions(workspace.words(at), names)).map(|(_, decl)| decl)
    }

    fn which<F: Fn(At) -> bool>(&self, wanted: F) -> impl Iterator<Item = (&'w SmolStr, Decl<'w>)> + use<'w, F> {
        let workspace = self.workspace;
        let last = self.names.iter().filter_map(|(name, all)| Some((name, *all.last()?)));
        last.filter(move |(_, at)| wanted(*at)).filter_map(move |(name, at)| Some((name, workspace.decl(at)?)))
    }
}

/// Whether a text may hold one of some names: the first word of one stands in it, in capitals or not.
fn mentions(text: &str, names: &[&str]) -> bool {
    names.iter().any(|name| {
        let word = name.split(|c: char| !c.is_alphanumeric()).next().unwrap_or_default().as_bytes();
        let Some(first) = word.first().filter(|_| word.is_ascii()) else { return true };
        let found = memchr::memchr2_iter(first.to_ascii_lowercase(), first.to_ascii_uppercase(), text.as_bytes());
        let mut found = found.filter_map(|at| text.as_bytes().get(at..at + word.len()));
        found.any(|there| there.eq_ignore_ascii_case(word))
    })
}

impl<'w> Decls<'w> {
    /// All of them. All of their files are read.
    pub fn iter(&self) -> impl Iterator<Item = Decl<'w>> + use<'w> {
        let workspace = self.workspace;
        self.all.iter().filter_map(move |at| workspace.decl(*at))
    }

    /// Those that stand in some files.
    pub fn within<'a>(&self, files: &'a Files) -> impl Iterator<Item = Decl<'w>> + use<'a, 'w> {
        let workspace = self.workspace;
        self.all.iter().filter(|at| files.contains(&at.file)).filter_map(move |at| workspace.decl(*at))
    }
}

impl<'w> Salon<'w> {
    pub(super) fn of(workspace: &'w Workspace, number: usize) -> Option<Self> {
        let index = workspace.salons.get(number)?;
        let recipes: OfIndex = |index| &index.recipes;
        let decls = |all: &'w [At]| all.iter().filter_map(|at| workspace.decl(*at));
        let house = |index: &'w Index| index.houses.last().and_then(|at| workspace.decl(*at));
        let (around, beside) = (workspace.around(number), workspace.beside_of(number));
        let mut salon = Self {
            files: &index.files,
            house: house(index),
            around: around.clone().filter_map(house).collect(),
            beside: beside.clone().filter_map(house).collect(),
            added: around.chain(beside).chain([index]).flat_map(|index| decls(&index.added)).collect(),
            trade: basics::shared(),
            said: Vec::new(),
            recipes: Named { workspace, names: &index.recipes, around: Some((number, recipes)) },
            dogs: Named { workspace, names: &index.dogs, around: None },
            cases: Decls { workspace, all: &index.cases },
            errors: Vec::new(),
            children: &index.children,
        };
        let twice = index.recipes.values().chain(index.dogs.values()).filter(|all| all.len() > 1);
        for all in twice.map(Vec::as_slice).chain([index.houses.as_slice()]) {
            let all: Vec<Decl<'_>> = decls(all).collect();
            salon
                .said
                .extend(all.iter().zip(all.iter().skip(1)).map(|(earlier, later)| declared_twice(earlier, later)));
        }
        salon.errors = salon.houses().flat_map(|house| errors(&house).collect::<Vec<_>>()).collect();
        if !salon.added.is_empty() {
            let parts: Vec<Part<'_>> = salon.added.iter().filter_map(|decl| workspace.part(decl)).collect();
            let (trade, said) = workspace.trades.of(&parts, || {
                let (mut trade, mut said) = (basics::trade(), Vec::new());
                lower::add(&mut trade, &salon.added, &mut said);
                (trade, said)
            });
            salon.trade = trade;
            salon.said.extend(said);
        }
        Some(salon)
    }

    /// Its house and those around it, the outermost first.
    pub fn houses(&self) -> impl Iterator<Item = Decl<'w>> {
        self.around.iter().copied().chain(self.house)
    }

    /// Some files, and those in which recipes stand that build, perhaps at some remove, on theirs. On a house hang all.
    pub(crate) fn hanging_on(&self, files: &Files) -> Files {
        if self.houses().chain(self.beside.iter().copied()).any(|house| files.contains(&house.file)) {
            return self.files.iter().chain(files).copied().collect();
        }
        let mut all = files.clone();
        self.recipes.workspace.children(self.children, &mut all);
        all
    }

    pub(super) fn workspace(&self) -> &'w Workspace {
        self.recipes.workspace
    }

    /// Makes a message an error if the house calls it one.
    pub fn raise(&self, diagnostic: &mut Diagnostic) {
        if self.errors.iter().any(|code| code == diagnostic.code) {
            diagnostic.severity = Severity::Error;
        }
    }

    /// Its files whose text may hold one of some names.
    pub fn files_mentioning(&self, names: &[&str]) -> Vec<FileId> {
        let text = |id: &&FileId| self.recipes.workspace.file(**id).is_some_and(|file| mentions(file.text(), names));
        self.files.iter().filter(text).copied().collect()
    }

    /// The recipes that may build on one.
    pub fn children(&self, name: &str) -> impl Iterator<Item = Decl<'w>> + use<'w> {
        let workspace = self.recipes.workspace;
        self.children.get(name).into_iter().flatten().filter_map(move |at| workspace.decl(*at))
    }
}

/// The codes on the lines `errors` of a house.
fn errors<'a>(house: &'a Decl<'_>) -> impl Iterator<Item = SmolStr> + use<'a> {
    let lines = house.block.body.iter().filter_map(|stmt| match &stmt.kind {
        StmtKind::Field(field) if field.name.text == "errors" => Some(field),
        _ => None,
    });
    lines.flat_map(listed_names).map(|word| word.text.to_uppercase().into())
}

fn declared_twice(earlier: &Decl<'_>, later: &Decl<'_>) -> Diagnostic {
    let (code, message) = if later.block.kind == grammar::tree::BlockKind::House {
        (code::H003, "this folder already has a house".to_owned())
    } else {
        (code::M011, format!("`{}` is declared twice", later.name()))
    };
    Diagnostic::error(code, later.place(), message)
        .related(earlier.place(), "the other one")
        .help("Call one of them something else, or take it away.")
}
