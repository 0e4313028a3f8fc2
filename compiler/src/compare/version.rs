//! One version of some texts, salon by salon, and which salon of one version is which of the other.

use crate::memo::Memo;
use crate::names::lower::{self, Decl};
use crate::workspace::{HOUSE, Salon, Workspace};
use grammar::tree::BlockKind;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Texts with their paths.
pub type Texts = Vec<(PathBuf, Arc<str>)>;

/// Texts as they are, or were at some time.
#[derive(Debug, Default)]
pub struct Version {
    /// Each house with its folder and files; without a house each folder for itself.
    salons: Vec<(PathBuf, Workspace)>,
    /// How many texts it holds.
    texts: usize,
}

impl Version {
    /// A version made of texts. Only what hangs on one that is `asked` for is compared.
    #[must_use]
    pub fn of(texts: Texts, asked: &dyn Fn(&Path) -> bool, memo: &mut Memo) -> Self {
        let folder = |path: &Path| path.parent().map(Path::to_path_buf).unwrap_or_default();
        let houses: BTreeSet<PathBuf> = texts
            .iter()
            .filter(|(path, _)| path.file_name().is_some_and(|name| name == HOUSE))
            .map(|(path, _)| folder(path))
            .collect();
        let many = texts.len();
        let mut groups: BTreeMap<PathBuf, [Texts; 2]> = BTreeMap::new();
        for (path, text) in texts {
            // The outermost: what it says binds in the houses in its folder, too.
            let root = path.ancestors().skip(1).filter(|up| houses.contains(*up)).last().map(Path::to_path_buf);
            let root = root.unwrap_or_else(|| folder(&path));
            let [own, around] = groups.entry(root).or_default();
            if asked(&path) { own } else { around }.push((path, text));
        }
        let salons = groups
            .into_iter()
            .map(|(root, [mut own, around])| {
                let asked = own.len();
                own.extend(around);
                (root, Workspace::from_known(own, asked, memo))
            })
            .collect();
        Self { salons, texts: many }
    }

    /// How many texts it holds.
    #[must_use]
    pub const fn len(&self) -> usize {
        self.texts
    }

    /// Whether it holds no text.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.texts == 0
    }

    /// Its workspaces: one a house, and one for each folder without a house.
    pub fn workspaces(&self) -> impl Iterator<Item = &Workspace> {
        self.salons.iter().map(|(_, workspace)| workspace)
    }

    pub(super) fn salons(&self) -> Vec<One<'_>> {
        let mut all = Vec::new();
        for (root, workspace) in &self.salons {
            for salon in workspace.salons() {
                let path = |house: Decl<'_>| workspace.file(house.file)?.path.parent().map(Path::to_path_buf);
                let root = salon.house.and_then(path).unwrap_or_else(|| root.clone());
                all.push(One { root, workspace, salon });
            }
        }
        all
    }
}

/// A salon of one version.
pub(super) struct One<'w> {
    pub(super) root: PathBuf,
    pub(super) workspace: &'w Workspace,
    pub(super) salon: Salon<'w>,
}

impl<'w> One<'w> {
    /// The words of a declaration.
    pub(super) fn text(&self, decl: &Decl<'w>) -> &'w str {
        let text = self.workspace.sources().text(decl.file);
        let (start, end) = (decl.at as usize, (decl.at + decl.block.span.end) as usize);
        text.get(start..end).unwrap_or("")
    }

    fn house(&self) -> Option<smol_str::SmolStr> {
        self.salon.house.map(|house| house.name())
    }
}

/// A salon in both versions, or in one.
type Matched<'w> = (Option<One<'w>>, Option<One<'w>>);

/// The salons of two versions that are one: by their folder, then by the house's name, then those that alone are left.
pub(super) fn matched<'w>(old: Vec<One<'w>>, new: Vec<One<'w>>) -> Vec<Matched<'w>> {
    let mut old: Vec<Option<One<'w>>> = old.into_iter().map(Some).collect();
    let mut new: Vec<Option<One<'w>>> = new.into_iter().map(Some).collect();
    let mut out = Vec::new();
    let by_folder = |a: &One<'_>, b: &One<'_>| a.root == b.root;
    let by_name = |a: &One<'_>, b: &One<'_>| a.house().is_some() && a.house() == b.house();
    for first in [true, false] {
        let same = |a: &One<'_>, b: &One<'_>| if first { by_folder(a, b) } else { by_name(a, b) };
        for a in &mut old {
            let twin = new.iter_mut().find(|b| a.as_ref().zip(b.as_ref()).is_some_and(|(a, b)| same(a, b)));
            if let Some(twin) = twin {
                out.push((a.take(), twin.take()));
            }
        }
    }
    let mut old: Vec<One<'w>> = old.into_iter().flatten().collect();
    let mut new: Vec<One<'w>> = new.into_iter().flatten().collect();
    if old.len() == 1 && new.len() == 1 {
        out.push((old.pop(), new.pop()));
    }
    out.extend(old.into_iter().map(|a| (Some(a), None)));
    out.extend(new.into_iter().map(|b| (None, Some(b))));
    out
}

/// Of how many of each kind both vocabularies speak: what has a smaller number is the same thing in both.
#[derive(Clone, Copy, Debug)]
pub(super) struct Common {
    pub(super) findings: usize,
    pub(super) coats: usize,
    pub(super) zones: usize,
    /// Whether their kits say the same.
    pub(super) kits: bool,
}

/// Numbers what two salons add to the basics alike: what both declare comes first, in the same order. Whether they add the same,
/// kits aside: those name tools and bring none.
pub(super) fn aligned<'w>(old: &mut One<'w>, new: &mut One<'w>) -> (bool, Common) {
    let is_kit = |d: &Decl<'_>| d.block.kind == BlockKind::Kit;
    let vocabulary = |one: &One<'_>| added(one, &|d| !is_kit(d));
    let same = vocabulary(old) == vocabulary(new);
    if !same {
        let names = |one: &One<'_>| one.salon.added.iter().map(declared).collect::<BTreeSet<_>>();
        let both: BTreeSet<_> = names(old).intersection(&names(new)).cloned().collect();
        for one in [&mut *old, &mut *new] {
            one.salon.added.sort_by_key(|decl| (!both.contains(&declared(decl)), declared(decl)));
            let mut trade = crate::basics::trade();
            lower::add(&mut trade, &one.salon.added, &mut Vec::new());
            one.salon.trade = Arc::new(trade);
        }
    }
    let (a, b) = (Arc::clone(&old.salon.trade), Arc::clone(&new.salon.trade));
    let alike = |a: usize, b: usize, same: &dyn Fn(usize) -> bool| (0..a.min(b)).take_while(|n| same(*n)).count();
    let common = Common {
        findings: alike(a.findings.len(), b.findings.len(), &|n| {
            a.findings.get(n).map(|f| &f.name) == b.findings.get(n).map(|f| &f.name)
        }),
        coats: alike(a.coats.len(), b.coats.len(), &|n| {
            a.coats.get(n).map(|c| &c.name) == b.coats.get(n).map(|c| &c.name)
        }),
        zones: alike(a.zones.len(), b.zones.len(), &|n| {
            a.zones.get(n).map(|z| (&z.name, z.site)) == b.zones.get(n).map(|z| (&z.name, z.site))
        }),
        kits: added(old, &is_kit) == added(new, &is_kit),
    };
    // The same blocks in another order are the same vocabulary once they are numbered alike.
    let sorted = |one: &One<'_>| {
        let mut all = vocabulary(one);
        all.sort();
        all
    };
    (same || sorted(old) == sorted(new), common)
}

/// The words of some of what a salon adds to the basics.
fn added(one: &One<'_>, which: &dyn Fn(&Decl<'_>) -> bool) -> Vec<String> {
    one.salon.added.iter().filter(|d| which(d)).map(|d| one.text(d).to_owned()).collect()
}

/// What a declaration is known by.
fn declared(decl: &Decl<'_>) -> (String, String) {
    (decl.block.keyword.text.to_string(), decl.name().to_string())
}
