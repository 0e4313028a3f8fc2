//! What the words of a text stand for: looked up where the compiler looks them up.

use super::at::{self, Role, Word};
use crate::around::Here;
use coatwright::basics;
use coatwright::check::chain;
use coatwright::choices::Level;
use coatwright::measure::{Interval, MM};
use coatwright::names::lower::Decl;
use coatwright::names::trade::{
    CoatId, FindingId, KitId, MannerId, PlaceName, StepId, ToolId, ToolKind, Trade, ZoneId,
};
use coatwright::source::{FileId, Place};
use coatwright::workspace::{Salon, extends};
use grammar::tree::{BlockKind, Span, StmtKind};
use smol_str::SmolStr;

/// What a word stands for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Target {
    /// A zone, group or mark.
    Place(PlaceName),
    /// A tool.
    Tool(ToolId),
    /// A finding.
    Finding(FindingId),
    /// A coat.
    Coat(CoatId),
    /// A kit.
    Kit(KitId),
    /// A step.
    Step(StepId),
    /// A shape or a way of working.
    Manner(MannerId),
    /// A recipe, by where its name stands.
    Recipe(Place),
    /// A dog's card.
    Dog(SmolStr),
    /// The house.
    House,
    /// A case, by where its name stands.
    Case(Place),
    /// A parameter or let.
    Value {
        /// Where it is declared first: a parameter in the farthest base.
        home: Place,
        /// The declaration that counts here.
        nearest: Place,
    },
}

impl Target {
    /// Whether both stand for the same thing.
    #[must_use]
    pub fn same(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Value { home, .. }, Self::Value { home: there, .. }) => home == there,
            _ => self == other,
        }
    }
}

/// A word and what it stands for.
#[derive(Clone, Debug)]
pub struct Use {
    /// The word.
    pub word: Word,
    /// What it stands for.
    pub target: Target,
}

/// The words of a block that stand for something, in the order of the text.
#[must_use]
pub fn uses(salon: &Salon<'_>, decl: Decl<'_>) -> Vec<Use> {
    let mut out: Vec<Use> = Vec::new();
    // Of two words that begin at one place the longer comes first: `dry stretch` before `dry`.
    for word in at::of_block(decl.block, decl.at) {
        let taken = out.last().is_some_and(|last| word.role == Role::Step && word.span.start < last.word.span.end);
        if taken {
            continue;
        }
        if let Some(target) = target(salon, decl, &word) {
            out.push(Use { word, target });
        }
    }
    out
}

/// The word at a byte that stands for something: the innermost.
#[must_use]
pub fn use_at(here: &Here<'_>, salon: &Salon<'_>, at: u32) -> Option<Use> {
    at::innermost(uses(salon, here.decl(at)?), at, |u| u.word.span)
}

/// What a word of a block stands for.
#[must_use]
pub fn target(salon: &Salon<'_>, decl: Decl<'_>, word: &Word) -> Option<Target> {
    let index = &salon.trade.index;
    let text = word.text.as_str();
    Some(match word.role {
        Role::Place => match (index.places.get(text), index.steps.get(text)) {
            (Some(place), _) => Target::Place(*place),
            // `order` knows both.
            (None, Some(step)) => Target::Step(*step),
            (None, None) => return None,
        },
        Role::Tool => match (index.tools.get(text), index.manners.get(text), index.steps.get(text)) {
            (Some(tool), _, _) => Target::Tool(*tool),
            (None, Some(manner), _) => Target::Manner(*manner),
            (None, None, Some(step)) => Target::Step(*step),
            (None, None, None) => return None,
        },
        Role::Comb(length) => Target::Tool(comb(&salon.trade, length)?),
        Role::Finding => Target::Finding(*index.findings.get(text)?),
        Role::Coat => Target::Coat(*index.coats.get(text)?),
        Role::Kit => Target::Kit(*index.kits.get(text)?),
        Role::Step => Target::Step(*index.steps.get(text)?),
        Role::Manner => Target::Manner(*index.manners.get(text)?),
        Role::Recipe => {
            let base = extends(decl).filter(|line| line.name.span.shifted(decl.at) == word.span);
            let found = base.map_or_else(|| salon.recipes.get(text), |_| salon.base(decl)?.ok());
            Target::Recipe(found?.place())
        }
        Role::Dog => Target::Dog(salon.dogs.get(text)?.name()),
        Role::House => Target::House,
        Role::Case => Target::Case(Place { file: decl.file, start: word.span.start, end: word.span.end }),
        Role::Value => value(salon, decl, text)?,
        Role::Code | Role::Opening | Role::Way(_) | Role::Number | Role::Text | Role::Source => return None,
    })
}

/// The comb that leaves a length in thousandths of a millimetre, as near as the compiler takes it.
fn comb(trade: &Trade, length: i64) -> Option<ToolId> {
    let length = length.checked_mul(MM / 1000)?;
    let combs = (0..).map(ToolId).zip(&trade.tools).filter(|(_, t)| t.kind == ToolKind::Comb);
    let off = combs.filter_map(|(id, t)| Some(((t.leaves.map(Interval::middle)?.0 - length).abs(), id)));
    off.min().filter(|(off, _)| *off <= MM / 2).map(|(_, id)| id)
}

/// The recipe by whose words a block counts: a card's wish stands in the recipe that it wants.
#[must_use]
pub fn recipe_of<'t>(salon: &Salon<'t>, decl: Decl<'t>) -> Option<Decl<'t>> {
    match decl.block.kind {
        BlockKind::Recipe | BlockKind::House => Some(decl),
        BlockKind::Dog => decl.block.body.iter().find_map(|stmt| match &stmt.kind {
            StmtKind::Wants { recipe, .. } => salon.recipes.get(&recipe.text),
            _ => None,
        }),
        BlockKind::Case => decl.block.body.iter().find_map(|stmt| match &stmt.kind {
            StmtKind::Field(field) if field.name.text == "recipe" => {
                let name = field.values.first().and_then(coatwright::names::fields::value_name)?;
                salon.recipes.get(&name.text)
            }
            _ => None,
        }),
        _ => None,
    }
}

/// A parameter of the chain, or a let of the text itself.
fn value(salon: &Salon<'_>, decl: Decl<'_>, name: &str) -> Option<Target> {
    let own = recipe_of(salon, decl)?;
    let mut silent = Vec::new();
    let mut params = Vec::new();
    for layer in chain(salon, own, &mut silent) {
        let itself = layer.level == Level::Recipe || own.block.kind == BlockKind::House;
        for stmt in layer.stmts {
            match &stmt.kind {
                StmtKind::Param { name: word, .. } if word.text == name => params.push(place(layer.decl, word.span)),
                StmtKind::Let { name: word, .. } if itself && word.text == name => {
                    let home = place(layer.decl, word.span);
                    return Some(Target::Value { home, nearest: home });
                }
                _ => {}
            }
        }
    }
    Some(Target::Value { home: *params.first()?, nearest: *params.last()? })
}

fn place(decl: Decl<'_>, span: Span) -> Place {
    Place { file: decl.file, start: decl.at + span.start, end: decl.at + span.end }
}

/// Where something is declared.
#[must_use]
pub fn declared_at(salon: &Salon<'_>, target: &Target) -> Option<Place> {
    let trade = &salon.trade;
    Some(match target {
        Target::Place(PlaceName::Zone(id)) => trade.zone(*id)?.place,
        Target::Place(PlaceName::Group(id)) => trade.groups.values().find(|g| g.id == *id)?.place,
        Target::Place(PlaceName::Mark(id)) => trade.marks.get(usize::from(id.0))?.place,
        Target::Tool(id) => trade.tool(*id)?.place,
        Target::Finding(id) => trade.finding(*id)?.place,
        Target::Coat(id) => trade.coat(*id)?.place,
        Target::Kit(id) => trade.kits.get(usize::from(id.0))?.place,
        Target::Step(id) => trade.step(*id)?.place,
        Target::Manner(id) => trade.manner(*id)?.place,
        Target::Dog(name) => salon.dogs.get(name)?.place(),
        Target::House => salon.house?.place(),
        Target::Recipe(place) | Target::Case(place) => *place,
        Target::Value { nearest, .. } => *nearest,
    })
}

/// The leaf zones of a set of sites by name.
#[must_use]
pub fn leaves(trade: &Trade, sites: coatwright::names::sites::Sites) -> Vec<(ZoneId, &SmolStr)> {
    let zones = (0..).map(ZoneId).zip(&trade.zones);
    zones.filter(|(_, z)| z.sites().meets(sites)).map(|(id, z)| (id, &z.name)).collect()
}

/// Whether a file is one of the basics, which nobody changes in an editor.
#[must_use]
pub fn is_basic(file: FileId) -> bool {
    basics::holds(file)
}
