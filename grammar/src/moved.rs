//! Parts of a tree at another place in their block.
//!
//! Every field of a part is named, so that a new one can't be forgotten.

use crate::tree::{
    Blend, Bound, BoundKind, CardCoat, CardFinding, CardMats, Clause, ClauseKind, Cond, CondItem, CondKind, Date,
    Direction, Expect, Expr, ExprKind, Field, Floor, Gap, Keep, Line, Number, Op, Order, Override, Range, Room, Side,
    Source, Span, StmtKind, Text, ToolRef, ToolRefKind, Unit, Value, ValueKind, Verb, Word, Work, ZoneRef, Zones,
};
use smol_str::SmolStr;
use thin_vec::ThinVec;

/// What holds places, and can be moved.
pub(crate) trait Moved {
    /// Moves every place in it by so many bytes, counted round the end of the numbers.
    fn moved(&mut self, by: u32);
}

impl Moved for Span {
    fn moved(&mut self, by: u32) {
        self.start = self.start.wrapping_add(by);
        self.end = self.end.wrapping_add(by);
    }
}

impl<T: Moved> Moved for Option<T> {
    fn moved(&mut self, by: u32) {
        self.iter_mut().for_each(|inside| inside.moved(by));
    }
}

impl<T: Moved> Moved for Box<T> {
    fn moved(&mut self, by: u32) {
        self.as_mut().moved(by);
    }
}

impl<T: Moved> Moved for ThinVec<T> {
    fn moved(&mut self, by: u32) {
        self.iter_mut().for_each(|inside| inside.moved(by));
    }
}

impl<A: Moved, B: Moved> Moved for (A, B) {
    fn moved(&mut self, by: u32) {
        self.0.moved(by);
        self.1.moved(by);
    }
}

macro_rules! stays {
    ($($kind:ty),*) => { $(impl Moved for $kind { fn moved(&mut self, _: u32) {} })* };
}

stays!(SmolStr, String, bool, i32, i64, u32, Side, Verb, Direction, Gap, Unit, Op);

macro_rules! parts {
    ($($kind:ident { $($field:ident),* })*) => {
        $(impl Moved for $kind {
            fn moved(&mut self, by: u32) {
                let Self { $($field),* } = self;
                $($field.moved(by);)*
            }
        })*
    };
}

parts! {
    Word { text, span }
    Source { text, span }
    Text { text, span }
    Work { verb, verb_span, zones, clauses }
    Zones { list, except, span }
    ZoneRef { side, name, span }
    Clause { kind, span }
    ToolRef { kind, span }
    Blend { from, into, clauses }
    Keep { zones, bounds, because }
    Override { keep, by }
    Bound { kind, span }
    Order { first, then }
    Cond { items, span }
    CondItem { kind, span }
    Range { low, high, low_open, high_open, span }
    Number { num, den, unit, text, span }
    Expr { kind, span }
    CardCoat { coat, zones, length, lengths, notes }
    CardFinding { name, other, zones, after, direction, seen }
    CardMats { grade, zones, off_skin }
    Date { year, month, day, span }
    Field { name, values }
    Value { kind, span }
}

impl Moved for ClauseKind {
    fn moved(&mut self, by: u32) {
        match self {
            Self::To(length) => length.moved(by),
            Self::With(tool) => tool.moved(by),
            Self::Over(room) => room.moved(by),
            Self::Manner { name, at } => {
                name.moved(by);
                at.moved(by);
            }
            Self::Because(text) => text.moved(by),
            Self::Direction(_) | Self::Passes(_) | Self::Throughout => {}
        }
    }
}

impl Moved for ToolRefKind {
    fn moved(&mut self, by: u32) {
        match self {
            Self::Blade(_) => {}
            Self::Comb { length, over } => {
                length.moved(by);
                over.moved(by);
            }
            Self::Named(name) => name.moved(by),
        }
    }
}

impl Moved for Room {
    fn moved(&mut self, by: u32) {
        match self {
            Self::Length(length) => length.moved(by),
            Self::Share { share, of } => {
                share.moved(by);
                of.moved(by);
            }
        }
    }
}

impl Moved for Line {
    fn moved(&mut self, by: u32) {
        match self {
            Self::Between { a, b } => {
                a.moved(by);
                b.moved(by);
            }
            Self::Landmarks { from, to } => {
                from.moved(by);
                to.moved(by);
            }
        }
    }
}

impl Moved for BoundKind {
    fn moved(&mut self, by: u32) {
        match self {
            Self::NoCloser(floor) => floor.moved(by),
            Self::NoShorter(length) | Self::AtMost(length) => length.moved(by),
            Self::Never(tools) | Self::Only(tools) => tools.moved(by),
            Self::AtStretch(time) | Self::InAll(time) => time.moved(by),
            Self::Manner(name) => name.moved(by),
            Self::Gap(_)
            | Self::Untouched
            | Self::Direction { way: _, never: _ }
            | Self::Passes(_)
            | Self::Last
            | Self::First
            | Self::Open
            | Self::Refer => {}
        }
    }
}

impl Moved for Floor {
    fn moved(&mut self, by: u32) {
        match self {
            Self::Blade(blade) => blade.moved(by),
            Self::Length(length) => length.moved(by),
            Self::OverCause(_) => {}
        }
    }
}

impl Moved for CondKind {
    fn moved(&mut self, by: u32) {
        match self {
            Self::OneOf { subject, any } => {
                subject.moved(by);
                any.moved(by);
            }
            Self::Within { subject, range } => {
                subject.moved(by);
                range.moved(by);
            }
            Self::MatsUpTo(word) | Self::Finding(word) | Self::Without(word) => word.moved(by),
        }
    }
}

impl Moved for ExprKind {
    fn moved(&mut self, by: u32) {
        match self {
            Self::Number(number) => number.moved(by),
            Self::Name(word) | Self::Blade(word) => word.moved(by),
            Self::Binary { op: _, left, right } => {
                left.moved(by);
                right.moved(by);
            }
            Self::Steps { count: _, combs: _, from } => from.moved(by),
        }
    }
}

impl Moved for ValueKind {
    fn moved(&mut self, by: u32) {
        match self {
            Self::Words(words) => words.moved(by),
            Self::Number(number) => number.moved(by),
            Self::Range(range) => range.moved(by),
            Self::Blade(blade) => blade.moved(by),
            Self::Tool(tool) => tool.moved(by),
            Self::Text(text) => text.moved(by),
            Self::Date(date) => date.moved(by),
            Self::Measure { words, range } => {
                words.moved(by);
                range.moved(by);
            }
        }
    }
}

impl Moved for Expect {
    fn moved(&mut self, by: u32) {
        match self {
            Self::Finish { zones, verb: _, state, clauses } => {
                zones.moved(by);
                state.moved(by);
                clauses.moved(by);
            }
            Self::Message { code, zones } => {
                code.moved(by);
                zones.moved(by);
            }
            Self::NoMessage => {}
            Self::Takes(range) => range.moved(by),
        }
    }
}

/// A statement without a body, at another place; none for one that has a body or couldn't be read.
pub(crate) fn statement(kind: &StmtKind, by: u32) -> Option<StmtKind> {
    let mut kind = match kind {
        StmtKind::About(_)
        | StmtKind::When { .. }
        | StmtKind::Else { .. }
        | StmtKind::Guard { .. }
        | StmtKind::Prep(_)
        | StmtKind::Block(_)
        | StmtKind::Lasts { body: Some(_), .. }
        | StmtKind::Wants { but: Some(_), .. }
        | StmtKind::Given { body: Some(_), .. }
        | StmtKind::Broken => return None,
        whole => whole.clone(),
    };
    match &mut kind {
        StmtKind::Work(work) => work.moved(by),
        StmtKind::Blend(blend) => blend.moved(by),
        StmtKind::Line(line) => line.moved(by),
        StmtKind::Keep(keep) => keep.moved(by),
        StmtKind::Override(of) => of.moved(by),
        StmtKind::Order(order) => order.moved(by),
        StmtKind::Lasts { time, body: _ } => time.moved(by),
        StmtKind::Param { name, value, within } => {
            name.moved(by);
            value.moved(by);
            within.moved(by);
        }
        StmtKind::Let { name, value } => {
            name.moved(by);
            value.moved(by);
        }
        StmtKind::Serves(cond) => cond.moved(by),
        StmtKind::Extends { base, from, version } => {
            base.moved(by);
            from.moved(by);
            version.moved(by);
        }
        StmtKind::CardCoat(coat) => coat.moved(by),
        StmtKind::CardFinding(finding) => finding.moved(by),
        StmtKind::CardMats(mats) => mats.moved(by),
        StmtKind::Wants { recipe, but: _ } => recipe.moved(by),
        StmtKind::Given { dog, body: _ } => dog.moved(by),
        StmtKind::Expect(expect) => expect.moved(by),
        StmtKind::Field(field) => field.moved(by),
        StmtKind::About(_)
        | StmtKind::When { .. }
        | StmtKind::Else { .. }
        | StmtKind::Guard { .. }
        | StmtKind::Prep(_)
        | StmtKind::Block(_)
        | StmtKind::Broken => return None,
    }
    Some(kind)
}
