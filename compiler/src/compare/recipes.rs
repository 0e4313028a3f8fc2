//! Which recipe of one version is which of the other, and how each stands.

use super::both::{Both, Side};
use super::kits::Kits;
use super::version::{Common, One, Version, aligned, matched};
use super::{Change, Compared, Rank, Status, borders, keeps, lines, sites, vocabulary};
use crate::check::{chain, units};
use crate::choices::{self, Choices, Houses, Layer, Level};
use crate::diagnostic::{Diagnostic, Severity};
use crate::names::lower::Decl;
use crate::source::FileId;
use rayon::prelude::*;
use smol_str::SmolStr;
use std::collections::BTreeSet;

/// Below this share of equal lines two recipes aren't one under another name.
const ALIKE: f32 = 0.6;

/// What changed on the dog, recipe by recipe, the houses first; only what hangs on the texts asked for. `pair` says that the texts
/// asked for are meant to be one, whatever their recipe is called.
#[must_use]
pub fn compare(old: &Version, new: &Version, pair: bool) -> Vec<Compared> {
    let mut out = Vec::new();
    for both in matched(old.salons(), new.salons()) {
        match both {
            (Some(old), Some(new)) => out.extend(salons(old, new, pair)),
            (Some(old), None) => out.extend(alone(&old, Status::Gone)),
            (None, Some(new)) => out.extend(alone(&new, Status::New)),
            (None, None) => {}
        }
    }
    out
}

/// A recipe on each side.
struct Twins<'w> {
    old: Decl<'w>,
    new: Decl<'w>,
}

fn alone(one: &One<'_>, status: Status) -> Vec<Compared> {
    let asked = asked(one);
    one.salon.recipes.values().filter(|d| asked.contains(&d.file)).map(|d| lonely(one, d, status.clone())).collect()
}

fn lonely(one: &One<'_>, decl: Decl<'_>, status: Status) -> Compared {
    let version = version(one, decl);
    let versions = if status == Status::New { (None, version) } else { (version, None) };
    let file = one.workspace.sources().name(decl.file).to_owned();
    Compared { name: decl.name(), house: false, was: None, file, was_in: None, versions, reworded: true, status }
}

fn file_of(one: &One<'_>, decl: Decl<'_>) -> String {
    one.workspace.sources().name(decl.file).to_owned()
}

fn asked(one: &One<'_>) -> BTreeSet<FileId> {
    one.workspace.asked().iter().copied().collect()
}

fn salons<'w>(mut old: One<'w>, mut new: One<'w>, pair: bool) -> Vec<Compared> {
    let (same_trade, common) = aligned(&mut old, &mut new);
    let (old, new) = (&old, &new);
    let kits = Kits::default();
    let wanted = (asked(old), asked(new));
    let mut out: Vec<Compared> = house(old, new, same_trade, common, &kits).into_iter().collect();
    let (mut twins, mut gone, mut come) = twins(old, new);
    if pair {
        gone.retain(|d| wanted.0.contains(&d.file));
        come.retain(|d| wanted.1.contains(&d.file));
        if let ([a], [b]) = (gone.as_slice(), come.as_slice()) {
            twins.push(Twins { old: *a, new: *b });
            (gone, come) = (Vec::new(), Vec::new());
        }
    }
    let compared: Vec<Option<Compared>> =
        twins.par_iter().map(|twins| recipe(old, new, twins, &wanted, same_trade, common, &kits)).collect();
    out.extend(compared.into_iter().flatten());
    out.extend(gone.into_iter().filter(|d| wanted.0.contains(&d.file)).map(|d| lonely(old, d, Status::Gone)));
    out.extend(come.into_iter().filter(|d| wanted.1.contains(&d.file)).map(|d| lonely(new, d, Status::New)));
    out
}

/// Recipes that are one, and those that are only in one version.
fn twins<'w>(old: &One<'w>, new: &One<'w>) -> (Vec<Twins<'w>>, Vec<Decl<'w>>, Vec<Decl<'w>>) {
    let mut twins = Vec::new();
    let mut gone: Vec<Decl<'w>> = Vec::new();
    for (name, decl) in old.salon.recipes.iter() {
        match new.salon.recipes.here(name) {
            Some(twin) => twins.push(Twins { old: decl, new: twin }),
            None => gone.push(decl),
        }
    }
    let mut come: Vec<Decl<'w>> =
        new.salon.recipes.iter().filter(|(name, _)| old.salon.recipes.here(name).is_none()).map(|(_, d)| d).collect();
    // Renamed: the two whose words are most alike, for as long as there are some.
    loop {
        let mut best: Option<(f32, usize, usize)> = None;
        for (i, a) in gone.iter().enumerate() {
            for (j, b) in come.iter().enumerate() {
                let share = likeness(body(old, a), body(new, b));
                if share >= ALIKE && best.is_none_or(|(s, ..)| share > s) {
                    best = Some((share, i, j));
                }
            }
        }
        let Some((_, i, j)) = best else { break };
        twins.push(Twins { old: gone.remove(i), new: come.remove(j) });
    }
    (twins, gone, come)
}

/// What stands between the braces.
fn body<'w>(one: &One<'w>, decl: &Decl<'w>) -> &'w str {
    one.text(decl).split_once('{').map_or("", |(_, body)| body)
}

fn likeness(a: &str, b: &str) -> f32 {
    if a == b { 1.0 } else { similar::TextDiff::from_lines(a, b).ratio() }
}

/// The words of a recipe and of all that it builds on.
fn words<'w>(one: &One<'w>, layers: &[Layer<'w>]) -> Vec<&'w str> {
    layers.iter().map(|l| one.text(&l.decl)).collect()
}

fn version(one: &One<'_>, decl: Decl<'_>) -> Option<i64> {
    choices::build(
        &[Layer::of(Level::Recipe, decl, Houses::default())],
        &one.salon.trade,
        units(&one.salon.trade),
        &mut Vec::new(),
    )
    .version
}

fn built(one: &One<'_>, layers: &[Layer<'_>], said: &mut Vec<Diagnostic>) -> Choices {
    choices::build(layers, &one.salon.trade, units(&one.salon.trade), said)
}

fn recipe(
    old: &One<'_>,
    new: &One<'_>,
    twins: &Twins<'_>,
    wanted: &(BTreeSet<FileId>, BTreeSet<FileId>),
    same_trade: bool,
    common: Common,
    kits: &Kits,
) -> Option<Compared> {
    let (mut said_old, mut said_new) = (Vec::new(), Vec::new());
    let (a, b) = (chain(&old.salon, twins.old, &mut said_old), chain(&new.salon, twins.new, &mut said_new));
    let hangs = |layers: &[Layer<'_>], wanted: &BTreeSet<FileId>| layers.iter().any(|l| wanted.contains(&l.decl.file));
    if !hangs(&a, &wanted.0) && !hangs(&b, &wanted.1) {
        return None;
    }
    let (was_in, file) = (file_of(old, twins.old), file_of(new, twins.new));
    let renamed = twins.old.name() != twins.new.name();
    let mut compared = Compared {
        name: twins.new.name(),
        house: false,
        was: renamed.then(|| twins.old.name()),
        was_in: (was_in != file).then_some(was_in),
        file,
        versions: (None, None),
        reworded: false,
        status: Status::Same,
    };
    // The same words on the same words are the same trim.
    if same_trade && common.kits && words(old, &a) == words(new, &b) && said_old.is_empty() == said_new.is_empty() {
        if renamed || compared.was_in.is_some() {
            compared.versions = (version(old, twins.old), version(new, twins.new));
        }
        return Some(compared);
    }
    compared.versions = (version(old, twins.old), version(new, twins.new));
    compared.reworded = old.text(&twins.old) != new.text(&twins.new);
    let (before, now) = (built(old, &a, &mut said_old), built(new, &b, &mut said_new));
    for (one, said) in [(old, &said_old), (new, &said_new)] {
        let said = one.salon.said.iter().chain(said);
        if let Some(mistake) = said.filter(|d| d.severity == Severity::Error).min_by_key(|d| d.place) {
            let which = if std::ptr::eq(one, old) { "the old text" } else { "the new text" };
            let sources = one.workspace.sources();
            let (line, _) = sources.line_column(mistake.place);
            let at = format!("{}:{line}", sources.name(mistake.place.file));
            compared.status =
                Status::Unreadable(format!("{which} has a mistake at {at}: {} {}", mistake.code, mistake.message));
            return Some(compared);
        }
    }
    let changes = changes(side(old, &before), side(new, &now), same_trade, common, kits);
    if !changes.is_empty() {
        compared.status = Status::Changed(changes);
    }
    Some(compared)
}

fn side<'a>(one: &'a One<'_>, choices: &'a Choices) -> Side<'a> {
    Side { choices, trade: &one.salon.trade, sources: one.workspace.sources() }
}

/// Everything that changed between two recipes, the gravest first.
fn changes(old: Side<'_>, new: Side<'_>, same_trade: bool, common: Common, kits: &Kits) -> Vec<Change> {
    let both = Both::new(old, new, same_trade, common);
    let mut out = Vec::new();
    lines::changes(&both, &mut out);
    // Of dogs that only one of them serves there is nothing to compare.
    if !both.no_dog() {
        keeps::changes(&both, &mut out);
        sites::changes(&both, kits, &mut out);
        borders::changes(&both, &mut out);
    }
    sorted(out)
}

fn sorted(mut all: Vec<Change>) -> Vec<Change> {
    let key = |c: &Change| (c.rank, std::cmp::Reverse(c.size), c.sites.iter().next());
    all.sort_by(|a, b| key(a).cmp(&key(b)).then_with(|| (&a.what, &a.old, &a.new).cmp(&(&b.what, &b.old, &b.new))));
    all
}

/// The house itself: its keeps, what it says for every recipe, and what it adds to the basics.
fn house(old: &One<'_>, new: &One<'_>, same_trade: bool, common: Common, kits: &Kits) -> Option<Compared> {
    let text = |one: &One<'_>| one.salon.house.as_ref().map(|h| one.text(h).to_owned());
    if same_trade && common.kits && text(old) == text(new) {
        return None;
    }
    let layers = |one: &One<'_>| -> Choices {
        let own = one.salon.house.map(|decl| Layer::of(Level::House(0), decl, Houses(1)));
        built(one, own.as_slice(), &mut Vec::new())
    };
    let (before, now) = (layers(old), layers(new));
    let (a, b) = (side(old, &before), side(new, &now));
    let mut out = changes(a, b, same_trade, common, kits);
    vocabulary::changes(old, new, (a, b), &mut out);
    let out = sorted(out);
    if out.is_empty() {
        return None;
    }
    let decl = new.salon.house.or(old.salon.house);
    let place = |one: &One<'_>| decl.map(|d| one.workspace.sources().name(d.file).to_owned());
    let file = if new.salon.house.is_some() { place(new) } else { place(old) };
    Some(Compared {
        name: decl.map_or_else(|| SmolStr::new_static("own words"), |d| d.name()),
        house: true,
        was: None,
        file: file.unwrap_or_else(|| new.root.display().to_string()),
        was_in: None,
        versions: (old.salon.house.and_then(|d| version(old, d)), new.salon.house.and_then(|d| version(new, d))),
        reworded: true,
        status: Status::Changed(out),
    })
}

impl Rank {
    /// Whether it is worth a second look before a dog stands on the table: less care, nearer, shorter.
    #[must_use]
    pub const fn is_grave(self) -> bool {
        matches!(self, Self::Looser | Self::Closer | Self::WiderTeeth)
    }
}
