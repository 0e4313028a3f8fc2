//! The last gate before a sheet is written: every line of the plan against every welfare keep, read from the trees anew.
//!
//! Nothing here is shared with what chose the finishes: of this workspace it knows the syntax tree alone, so a slip in
//! the one can't hide itself in the other (`tests/verify.rs` reads these files and bars other paths). What it can't
//! evaluate it takes for broken wherever a tool is used.

mod air;
mod bound;
mod condition;
mod dog;
mod exact;
mod gather;
mod heat;
mod order;
mod skin;
mod stand;
mod trade;
mod turn;

pub use air::{AirFelt, air};
pub use heat::Moment;
pub use order::{StepDone, order};
pub use stand::{Piece, Standing};

use grammar::tree::{Block, Direction, Side, Stmt, ValueKind};
use smol_str::SmolStr;

/// What the sheet tells the groomer to do at one place of the dog.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Done {
    /// The zone, by its own name.
    pub zone: SmolStr,
    /// One side of a pair; none is a single zone or both sides.
    pub side: Option<Side>,
    /// The tool by the name of its block: `#10`, `comb-19`, `shears`. None is left alone.
    pub tool: Option<SmolStr>,
    /// The blade beneath a comb.
    pub over: Option<SmolStr>,
    /// Which way it runs.
    pub direction: Option<Direction>,
    /// How often.
    pub passes: u32,
    /// The least length in nanometres that the sheet says stays.
    pub length: Option<i64>,
    /// The number of the step in which it stands.
    pub order: u32,
    /// What it is for.
    pub pass: Pass,
}

/// What a line is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pass {
    /// It comes before the finish: the bulk, or what wants an unwashed coat.
    Rough,
    /// It leaves what stays.
    Finish,
    /// It takes away the step between two parts.
    Blend,
}

/// The blocks of one file of the trade.
#[derive(Clone, Debug, Default)]
pub struct Text<'t> {
    /// Which file.
    pub file: u32,
    /// Where each block begins in it, and the block.
    pub blocks: Vec<(u32, &'t Block)>,
}

/// All that a plan answers to.
#[derive(Clone, Copy, Debug)]
pub struct Case<'t> {
    /// Basics, and the house's own zones, groups, marks, findings, tools and so on. Where two declare one name, the first counts.
    pub trade: &'t [Text<'t>],
    /// House, bases, recipe, wish, in this order: file, where the block begins in it, statements.
    pub chain: &'t [(u32, u32, &'t [Stmt])],
    /// Of each of these the houses in whose folders it stands, as bits by their numbers in the chain: who names a senior there
    /// may answer for it.
    pub houses: &'t [u64],
    /// The card, likewise.
    pub card: (u32, u32, &'t [Stmt]),
    /// The dog's age on the day of the visit.
    pub days_old: Option<i64>,
}

impl<'t> Case<'t> {
    /// The kits at hand: those that the houses around the last text name. What a house beside has is elsewhere.
    fn kits(&self) -> impl Iterator<Item = SmolStr> + use<'t> {
        let own = self.houses.last().copied().unwrap_or(u64::MAX);
        let within = move |number: u32| own.checked_shr(number).is_some_and(|of| of & 1 == 1);
        let texts = (0..).zip(self.chain).filter(move |(number, _)| within(*number));
        let values = texts.flat_map(|(_, (_, _, stmts))| trade::fields(stmts, "kit")).flat_map(|field| &field.values);
        values.filter_map(|value| match &value.kind {
            ValueKind::Words(words) => Some(trade::joined(words)),
            _ => None,
        })
    }
}

/// A keep that the plan breaks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Breach {
    /// Which line of the plan.
    pub done: usize,
    /// The file of the keep.
    pub file: u32,
    /// The keep's first byte in its file.
    pub start: u32,
    /// One past its last.
    pub end: u32,
    /// What is wrong, in words for a groomer.
    pub words: String,
}

/// Every keep that a line of the plan breaks by itself, in the plan's order. What order the lines are in, what they do to a blade and
/// how long they take is asked of [`OnTable`].
#[must_use]
pub fn verify(case: &Case<'_>, plan: &[Done]) -> Vec<Breach> {
    Known::read(case.trade, case.chain).on_table(case).breaches(plan)
}

/// The trade as this check has read it, for several plans that answer to the same texts.
pub struct Known<'t>(trade::Trade<'t>);

impl<'t> Known<'t> {
    /// Reads the trade. `chain` is that of [`Case`]: its blocks belong to the trade, too.
    #[must_use]
    pub fn read(trade: &[Text<'t>], chain: &[(u32, u32, &'t [Stmt])]) -> Self {
        Self(trade::Trade::read(trade, chain))
    }
}

/// A dog on the table: what of the texts binds it, read once for all that is asked about its plan.
pub struct OnTable<'a, 't> {
    case: &'a Case<'t>,
    trade: &'a trade::Trade<'t>,
    scope: exact::Scope<'a, 't>,
    dog: dog::Dog<'t>,
    rules: Vec<gather::Rule<'t>>,
}

impl<'t> Known<'t> {
    /// Reads the dog of a case whose texts, and a chain of the same blocks, were read here.
    #[must_use]
    pub fn on_table<'a>(&'a self, case: &'a Case<'t>) -> OnTable<'a, 't> {
        let trade = &self.0;
        let dog = dog::Dog::read(case, trade);
        let rules = gather::rules(case, trade, &dog);
        OnTable { case, trade, scope: exact::Scope { trade, case }, dog, rules }
    }
}

impl<'t> OnTable<'_, 't> {
    fn reader(&self) -> condition::Reader<'_, 't> {
        condition::Reader { trade: self.trade, scope: &self.scope, dog: &self.dog }
    }

    /// Every keep that a line of the plan breaks by itself, in the plan's order.
    #[must_use]
    pub fn breaches(&self, plan: &[Done]) -> Vec<Breach> {
        let mut out = Vec::new();
        for (i, done) in plan.iter().enumerate() {
            let Some(tool) = &done.tool else { continue };
            bound::check(self, i, done, tool, &mut out);
        }
        out
    }

    /// Every wish for what comes first, last or before something that the plan's order breaks.
    #[must_use]
    pub fn out_of_turn(&self, plan: &[Done]) -> Vec<Breach> {
        turn::turns(self, plan)
    }
}
