//! The syntax tree: what a file says, where it says it, and the comments in between.
//!
//! A [`File`] is a row of [`Block`]s (`recipe harbour { … }`). Inside a block every offset is counted
//! from the block's first byte, so that an unchanged block keeps its tree when text above it moves;
//! [`Block::at`] is where it stands in the file. Nothing here knows what a word *means*: zones, tools and
//! findings are names until the compiler looks them up.

use smol_str::SmolStr;
use thin_vec::ThinVec;

/// A stretch of text in bytes, counted from the start of its block (or of the file, where said so).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Span {
    /// First byte.
    pub start: u32,
    /// One past the last byte.
    pub end: u32,
}

impl Span {
    /// The span from `start` up to, not including, `end`.
    #[must_use]
    pub const fn new(start: u32, end: u32) -> Self {
        Self { start, end }
    }

    /// The smallest span that holds both.
    #[must_use]
    pub fn to(self, other: Self) -> Self {
        Self { start: self.start.min(other.start), end: self.end.max(other.end) }
    }

    /// This span moved `by` bytes to the right (from block to file).
    #[must_use]
    pub const fn shifted(self, by: u32) -> Self {
        Self { start: self.start + by, end: self.end + by }
    }
}

/// A word as written, lower-cased and in NFC, with its place.
#[derive(Clone, Debug)]
pub struct Word {
    /// The word in lower case.
    pub text: SmolStr,
    /// Where it stands.
    pub span: Span,
}

/// A comment, with its dashes.
#[derive(Clone, Debug)]
pub struct Comment {
    /// The text from `--` to the end of the line, without trailing blanks.
    pub text: String,
    /// Where it stands.
    pub span: Span,
}

/// What stands around a statement or block: kept for the formatter and for hovers.
#[derive(Clone, Debug, Default)]
pub struct Trivia {
    /// Comments on lines of their own before it.
    pub before: ThinVec<Comment>,
    /// Whether an empty line stands before it (and its comments).
    pub blank_before: bool,
    /// A comment on the same line after it (for a block: after its opening brace).
    pub after: Option<Box<Comment>>,
    /// For a block: comments before its closing brace.
    pub at_end: ThinVec<Comment>,
}

/// A parsed file. It always exists, whatever the text.
#[derive(Clone, Debug, Default)]
pub struct File {
    /// The blocks in the order of the text.
    pub blocks: Vec<std::sync::Arc<Placed>>,
    /// Comments after the last block.
    pub at_end: Vec<Comment>,
}

/// A block, and where in the file it begins.
#[derive(Clone, Debug)]
pub struct Placed {
    /// First byte of the block in the file: add it to every span of `block`.
    pub at: u32,
    /// The block.
    pub block: std::sync::Arc<Parsed>,
}

/// One top-level block's tree with the mistakes found in it.
#[derive(Clone, Debug)]
pub struct Parsed {
    /// The tree.
    pub block: Block,
    /// Mistakes, spans counted from the block's start.
    pub errors: Vec<crate::SyntaxError>,
    /// True if the block's braces or lines were broken somewhere (the formatter leaves it alone).
    pub broken: bool,
    /// A comment on the same line after the closing brace.
    pub after: Option<Comment>,
}

/// `KEYWORD NAME { … }`.
#[derive(Clone, Debug)]
pub struct Block {
    /// What is declared.
    pub kind: BlockKind,
    /// The keyword as written.
    pub keyword: Word,
    /// The name: a word, a blade (`#10`) or a string.
    pub name: Option<Word>,
    /// The statements inside.
    pub body: ThinVec<Stmt>,
    /// From the keyword to the closing brace.
    pub span: Span,
    /// Comments and blank lines around.
    pub trivia: Trivia,
}

/// What a block declares. `Unknown` keeps the body of a block whose keyword is misspelt.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum BlockKind {
    Zone,
    Group,
    Mark,
    Coat,
    Finding,
    Tool,
    Kit,
    Step,
    Form,
    Motion,
    House,
    Recipe,
    Dog,
    Case,
    Unknown,
}

/// One statement.
#[derive(Clone, Debug)]
pub struct Stmt {
    /// What it says.
    pub kind: StmtKind,
    /// From its first word to its last (or closing brace), without comments.
    pub span: Span,
    /// The source note in brackets at its end: `(common practice)`.
    pub source: Option<Box<Source>>,
    /// Comments and blank lines around.
    pub trivia: Trivia,
}

/// `(published: …)`, `(common practice)`, `(invented for the demo)`, `(from memory: …)`, `(computed: …)`.
#[derive(Clone, Debug)]
pub struct Source {
    /// The words between the brackets, as written.
    pub text: String,
    /// Where, brackets included.
    pub span: Span,
}

impl Stmt {
    /// Its body in braces, where it has one.
    #[must_use]
    pub const fn body(&self) -> Option<&Body> {
        match &self.kind {
            StmtKind::When { body, .. }
            | StmtKind::Else { body, .. }
            | StmtKind::Guard { body, .. }
            | StmtKind::Prep(body) => Some(body),
            StmtKind::Lasts { body, .. } | StmtKind::Given { body, .. } => body.as_ref(),
            StmtKind::Wants { but, .. } => but.as_ref(),
            _ => None,
        }
    }
}

/// The kinds of statement.
#[derive(Clone, Debug)]
pub enum StmtKind {
    /// `about` with prose.
    About(Prose),
    /// `set in`, `clip`, `leave` … : what a tool does to zones.
    Work(Work),
    /// `blend A into B over two fingers by skimming`.
    Blend(Blend),
    /// `line between A and B` or `line from PLACE to PLACE`: a border meant to show.
    Line(Line),
    /// `keep …`: a constraint.
    Keep(Keep),
    /// `override … by "…" because "…"`: a senior takes a keep of a base or house back.
    Override(Box<Override>),
    /// `order A before B`.
    Order(Order),
    /// `when CONDITION { … }`.
    When {
        /// The condition.
        cond: Cond,
        /// What holds then.
        body: Body,
    },
    /// `else when CONDITION { … }` or `else { … }` after a `when`.
    Else {
        /// The condition, if any.
        cond: Option<Cond>,
        /// What holds then.
        body: Body,
    },
    /// `guard FINDING, FINDING { … }`.
    Guard {
        /// The findings, any of which calls for the body.
        findings: ThinVec<Word>,
        /// The answers and keeps.
        body: Body,
    },
    /// `lasts 6 weeks { … }`.
    Lasts {
        /// How long the trim should look right.
        time: Box<Expr>,
        /// Caps that must still hold on that day.
        body: Option<Body>,
    },
    /// `prep { … }`: steps of preparation, in order.
    Prep(Body),
    /// `param NAME is EXPR, within RANGE`.
    Param {
        /// The name.
        name: Word,
        /// The usual value.
        value: Box<Expr>,
        /// What a recipe that builds on this may choose.
        within: Option<Box<Range>>,
    },
    /// `let NAME is EXPR`.
    Let {
        /// The name.
        name: Word,
        /// The value.
        value: Box<Expr>,
    },
    /// `serves …`: whom the recipe is for.
    Serves(Cond),
    /// `extends NAME from "FOLDER" version 3`.
    Extends {
        /// The base recipe.
        base: Word,
        /// The file or folder in which it is, as seen from this one, if it isn't looked for by its name alone.
        from: Option<Box<Text>>,
        /// The version that the author saw.
        version: Option<Box<Number>>,
    },
    /// Card: `coat fleece on head, undercoat some, 48 mm`.
    CardCoat(Box<CardCoat>),
    /// Card: `finding wart on left lip after #10 in reverse seen 2026-08-02`.
    CardFinding(Box<CardFinding>),
    /// Card: `mats tight on breeches, 20 mm off the skin`.
    CardMats(Box<CardMats>),
    /// Card: `wants harbour-short but { leave ears }`.
    Wants {
        /// The recipe.
        recipe: Word,
        /// The owner's changes.
        but: Option<Body>,
    },
    /// Case: `given dog NAME` or `given { card lines }`.
    Given {
        /// The name of a card.
        dog: Option<Word>,
        /// Card lines.
        body: Option<Body>,
    },
    /// Case: `expect …`.
    Expect(Expect),
    /// `name value, value …`: the plain line of cards and basics.
    Field(Field),
    /// A block inside a block (`zone` in `group`).
    Block(Box<Block>),
    /// A line that could not be read; its mistake is among the errors.
    Broken,
}

/// `{ … }`.
#[derive(Clone, Debug, Default)]
pub struct Body {
    /// The statements.
    pub stmts: ThinVec<Stmt>,
    /// Braces included.
    pub span: Span,
    /// Comments before the closing brace.
    pub at_end: ThinVec<Comment>,
    /// A comment after the opening brace.
    pub after_open: Option<Box<Comment>>,
    /// Whether it was written on one line (the formatter keeps that if it fits).
    pub one_line: bool,
}

/// Free prose of `about`, line by line, indentation removed.
#[derive(Clone, Debug)]
pub struct Prose {
    /// The lines.
    pub lines: ThinVec<String>,
    /// Where.
    pub span: Span,
}

/// A verb of work.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum Verb {
    /// `set in`: the rough pass.
    SetIn,
    /// `finish`: the fine pass over what was set in.
    Finish,
    Clip,
    Skim,
    Scissor,
    Shape,
    Thin,
    HandStrip,
    Card,
    Rake,
    Taper,
    Leave,
}

impl Verb {
    /// The verb as `fmt` writes it.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::SetIn => "set in",
            Self::Finish => "finish",
            Self::Clip => "clip",
            Self::Skim => "skim",
            Self::Scissor => "scissor",
            Self::Shape => "shape",
            Self::Thin => "thin",
            Self::HandStrip => "hand-strip",
            Self::Card => "card",
            Self::Rake => "rake",
            Self::Taper => "taper",
            Self::Leave => "leave",
        }
    }
}

/// A statement of work.
#[derive(Clone, Debug)]
pub struct Work {
    /// What is done.
    pub verb: Verb,
    /// The verb's place.
    pub verb_span: Span,
    /// Where on the dog.
    pub zones: Zones,
    /// How, in the order written.
    pub clauses: ThinVec<Clause>,
}

/// A list of zones, less those after `except`.
#[derive(Clone, Debug, Default)]
pub struct Zones {
    /// The zones and groups named.
    pub list: ThinVec<ZoneRef>,
    /// What is taken away from the whole list.
    pub except: ThinVec<ZoneRef>,
    /// Where.
    pub span: Span,
}

/// `left breeches`, `hind legs`.
#[derive(Clone, Debug)]
pub struct ZoneRef {
    /// One side only.
    pub side: Option<Side>,
    /// The words joined by `-`: `hind legs` and `hind-legs` are one name.
    pub name: Word,
    /// Side included.
    pub span: Span,
}

/// Which side of the dog (the dog's own left).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum Side {
    Left,
    Right,
}

impl Side {
    /// The side as it is written.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Right => "right",
        }
    }

    /// The one across.
    #[must_use]
    pub const fn other(self) -> Self {
        match self {
            Self::Left => Self::Right,
            Self::Right => Self::Left,
        }
    }
}

/// One part of a statement of work, with its place.
#[derive(Clone, Debug)]
pub struct Clause {
    /// What it says.
    pub kind: ClauseKind,
    /// Where.
    pub span: Span,
}

/// The parts of a statement of work.
#[derive(Clone, Debug)]
pub enum ClauseKind {
    /// `to 9 mm`.
    To(Expr),
    /// `with #10`, `by 19 mm comb over #30`, `by shears`, `by skimming`.
    With(ToolRef),
    /// `with the coat`, `in reverse`, `across`.
    Direction(Direction),
    /// `one pass`, `twice`.
    Passes(u32),
    /// `over two fingers`, `over a third of the thigh`.
    Over(Room),
    /// A way of working or a shape after a comma: `comb up`, `again`, `column`, `full at stifle`.
    Manner {
        /// The words joined by `-`.
        name: Word,
        /// `at stifle`.
        at: Option<Box<ZoneRef>>,
    },
    /// `throughout`: also where a finer statement would win.
    Throughout,
    /// `because "…"`.
    Because(Text),
}

/// Which way a tool runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize, serde::Deserialize)]
pub enum Direction {
    /// With the coat.
    With,
    /// Across it.
    Across,
    /// In reverse: against the growth.
    Reverse,
}

/// A tool as an author names it.
#[derive(Clone, Debug)]
pub struct ToolRef {
    /// Which tool.
    pub kind: ToolRefKind,
    /// Where.
    pub span: Span,
}

/// The ways to name a tool.
#[derive(Clone, Debug)]
pub enum ToolRefKind {
    /// `#10`, upper case.
    Blade(SmolStr),
    /// `19 mm comb`, `comb`, `19 mm comb over #30`.
    Comb {
        /// The length it leaves; none means the compiler picks.
        length: Option<Box<Number>>,
        /// The blade beneath, upper case.
        over: Option<Word>,
    },
    /// `shears`, `ball-tip shears`, `skimming`: words joined by `-`.
    Named(Word),
}

/// The room for a blend.
#[derive(Clone, Debug)]
pub enum Room {
    /// `two fingers`, `3 cm`.
    Length(Number),
    /// `a third of the thigh`.
    Share {
        /// As a fraction.
        share: Number,
        /// Of which zone.
        of: Box<ZoneRef>,
    },
}

/// `blend A into B …`.
#[derive(Clone, Debug)]
pub struct Blend {
    /// From.
    pub from: Zones,
    /// Into.
    pub into: Zones,
    /// `over …`, `by …`.
    pub clauses: ThinVec<Clause>,
}

/// A line that is meant to show.
#[derive(Clone, Debug)]
pub enum Line {
    /// `line between A and B`.
    Between {
        /// One side.
        a: Zones,
        /// The other.
        b: Zones,
    },
    /// `line from point of shoulder to two fingers above elbow`: landmarks in the author's words.
    Landmarks {
        /// Start.
        from: Text,
        /// End.
        to: Text,
    },
}

/// `keep ZONES BOUND, BOUND`.
#[derive(Clone, Debug)]
pub struct Keep {
    /// Where; none means the declaration's own place (a zone, a mark, the place of a finding) or the whole dog.
    pub zones: Option<Zones>,
    /// What must hold.
    pub bounds: ThinVec<Bound>,
    /// `because "…"`.
    pub because: Option<Box<Text>>,
}

/// `override ZONES BOUND by "head groomer" because "…"`. Whether somebody answers for it and says why is the compiler's to ask.
#[derive(Clone, Debug)]
pub struct Override {
    /// The keep that is taken back, as it is written there, with the reason for it.
    pub keep: Keep,
    /// Who answers for it.
    pub by: Option<Text>,
}

/// One constraint, with its place.
#[derive(Clone, Debug)]
pub struct Bound {
    /// What must hold.
    pub kind: BoundKind,
    /// Where.
    pub span: Span,
}

/// What a keep may ask.
#[derive(Clone, Debug)]
pub enum BoundKind {
    /// `no closer than #7F`, `no closer than 6 mm`, `no closer than one class over its cause`.
    NoCloser(Floor),
    /// `no shorter than 25 mm`, `at least 25 mm`.
    NoShorter(Expr),
    /// `at most 45 mm`.
    AtMost(Expr),
    /// `gap fine`, `gap no wider than medium`.
    Gap(Gap),
    /// `untouched`.
    Untouched,
    /// `never clipper, comb`: tools, kinds of tool or steps, by name.
    Never(ThinVec<ToolRef>),
    /// `only shears or thinners`.
    Only(ThinVec<ToolRef>),
    /// `with the coat`; `never in reverse` is a ban on that direction alone.
    Direction {
        /// Which way.
        way: Direction,
        /// True for `never in reverse`.
        never: bool,
    },
    /// `one pass`, `at most 2 passes`.
    Passes(u32),
    /// `last`.
    Last,
    /// `first`.
    First,
    /// `eyes open`: the zone list is `eyes`.
    Open,
    /// `refer`: that part is for a vet.
    Refer,
    /// `at most 20 min at a stretch`.
    AtStretch(Number),
    /// `at most 60 min in all`.
    InAll(Number),
    /// A way of working by name: `in short turns`, `skin flat`, words joined by `-`.
    Manner(Word),
}

/// A floor of closeness.
#[derive(Clone, Debug)]
pub enum Floor {
    /// A blade's class.
    Blade(Word),
    /// A length.
    Length(Expr),
    /// So many classes over the blade that caused the finding.
    OverCause(u32),
}

/// How far the teeth stand apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize, serde::Deserialize)]
pub enum Gap {
    /// #50 to #10.
    Fine,
    /// #9 to #7F.
    Medium,
    /// #6F and longer, and every comb on folds and bumps.
    Open,
    /// Skip-tooth.
    Skip,
}

impl Gap {
    /// The word in the language.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Fine => "fine",
            Self::Medium => "medium",
            Self::Open => "open",
            Self::Skip => "skip",
        }
    }
}

/// `order A before B`.
#[derive(Clone, Debug)]
pub struct Order {
    /// What comes first: zones or steps by name.
    pub first: ThinVec<ZoneRef>,
    /// What comes later.
    pub then: ThinVec<ZoneRef>,
}

/// A condition: every item must hold.
#[derive(Clone, Debug, Default)]
pub struct Cond {
    /// The items.
    pub items: ThinVec<CondItem>,
    /// Where.
    pub span: Span,
}

/// One item of a condition or of `serves`.
#[derive(Clone, Debug)]
pub struct CondItem {
    /// What it asks.
    pub kind: CondKind,
    /// Where.
    pub span: Span,
}

/// What a condition may ask.
#[derive(Clone, Debug)]
pub enum CondKind {
    /// `coat curl, fleece or wavy`, `build square`, `sex bitch`: any of the words. The subject is the first word.
    OneOf {
        /// `coat`, `build`, `sex`.
        subject: Word,
        /// The words allowed.
        any: ThinVec<Word>,
    },
    /// `weight 3 kg to 35 kg`, `age under 6 months`.
    Within {
        /// `weight`, `height`, `age`.
        subject: Word,
        /// The range.
        range: Box<Range>,
    },
    /// `mats up to knots`.
    MatsUpTo(Word),
    /// `finding sensitive-belly` (also a bare finding name).
    Finding(Word),
    /// `without seizures`: only in `serves`.
    Without(Word),
}

/// A range of numbers. The unit of the right end serves both.
#[derive(Clone, Debug)]
pub struct Range {
    /// Lower end (`from`, `over`), if any.
    pub low: Option<Expr>,
    /// Upper end (`to`, `up to`, `under`), if any.
    pub high: Option<Expr>,
    /// True for `over`: the lower end itself is out.
    pub low_open: bool,
    /// True for `under`: the upper end itself is out.
    pub high_open: bool,
    /// Where.
    pub span: Span,
}

/// A number with its unit, as written.
#[derive(Clone, Debug)]
pub struct Number {
    /// Numerator of the exact value in the unit written.
    pub num: i64,
    /// Denominator, above zero.
    pub den: i64,
    /// The unit.
    pub unit: Unit,
    /// How it was written.
    pub text: SmolStr,
    /// Where.
    pub span: Span,
}

/// Units of measure.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum Unit {
    /// A count.
    None,
    Mm,
    Cm,
    M,
    Inch,
    Finger,
    Hand,
    G,
    Kg,
    Pound,
    Ounce,
    Minute,
    Second,
    Hour,
    Day,
    Week,
    Month,
    Year,
    Percent,
    /// `cm2/min`.
    Cm2PerMinute,
    /// `mm/week`.
    MmPerWeek,
    Celsius,
    /// `x` or `times`: a factor.
    Times,
}

/// Arithmetic that keeps units.
#[derive(Clone, Debug)]
pub struct Expr {
    /// What it is.
    pub kind: ExprKind,
    /// Where.
    pub span: Span,
}

/// The forms of arithmetic.
#[derive(Clone, Debug)]
pub enum ExprKind {
    /// `9 mm`.
    Number(Number),
    /// A parameter or let.
    Name(Word),
    /// `a + b` and so on.
    Binary {
        /// Which.
        op: Op,
        /// Left side.
        left: Box<Expr>,
        /// Right side.
        right: Box<Expr>,
    },
    /// `two combs longer than body-length`, `one class over #10`: so many steps along the kit's combs or blades.
    Steps {
        /// How many; below zero is shorter.
        count: i32,
        /// True for combs, false for blade classes.
        combs: bool,
        /// From where.
        from: Box<Expr>,
    },
    /// A blade where a length is due: its nominal length.
    Blade(Word),
}

/// An operator.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Op {
    Add,
    Sub,
    Mul,
    Div,
}

/// Quoted text or words taken as they stand.
#[derive(Clone, Debug)]
pub struct Text {
    /// The text without quotes.
    pub text: String,
    /// Where, quotes included.
    pub span: Span,
}

/// Card: one coat, perhaps of a part only.
#[derive(Clone, Debug)]
pub struct CardCoat {
    /// The coat's name.
    pub coat: Word,
    /// Where; none is the whole dog.
    pub zones: Option<Zones>,
    /// Its length today.
    pub length: Option<Number>,
    /// Lengths elsewhere: `topknot 70 mm`.
    pub lengths: ThinVec<(ZoneRef, Number)>,
    /// Other words after commas: `undercoat some` as `undercoat`, `some`; `changing` as `changing`, nothing.
    pub notes: ThinVec<(Word, Option<Word>)>,
}

/// Card: a finding.
#[derive(Clone, Debug)]
pub struct CardFinding {
    /// The finding's name; `other` with a text for what has no name.
    pub name: Word,
    /// `other "hot spot"`.
    pub other: Option<Text>,
    /// Where on the dog (zones or marks).
    pub zones: Option<Zones>,
    /// `after #10`.
    pub after: Option<ToolRef>,
    /// `in reverse`.
    pub direction: Option<Direction>,
    /// `seen 2026-08-02`.
    pub seen: Option<Date>,
}

/// Card: mats.
#[derive(Clone, Debug)]
pub struct CardMats {
    /// `tangle`, `knots`, `tight`, `pelted`.
    pub grade: Word,
    /// Where.
    pub zones: Zones,
    /// `20 mm off the skin`.
    pub off_skin: Option<Number>,
}

/// A day or a month (`2019-05`).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Date {
    /// Year.
    pub year: i32,
    /// 1 to 12.
    pub month: u32,
    /// 1 to 31, if given.
    pub day: Option<u32>,
    /// Where.
    pub span: Span,
}

/// Case: what is expected.
#[derive(Clone, Debug)]
pub enum Expect {
    /// `expect belly-rear skim with #10`, `expect throat left longer`: zones, then words and clauses.
    Finish {
        /// Where.
        zones: Zones,
        /// The verb, or none.
        verb: Option<Verb>,
        /// `left longer`, `left`, `referred`: words joined by `-`.
        state: Option<Word>,
        /// `with #10`, `to 9 mm`.
        clauses: ThinVec<Clause>,
    },
    /// `expect message C004 on throat`.
    Message {
        /// The code, upper case.
        code: Word,
        /// Where.
        zones: Option<Zones>,
    },
    /// `expect no message`.
    NoMessage,
    /// `expect takes 2 h to 3 h`.
    Takes(Box<Range>),
}

/// A plain line: a name and its values.
#[derive(Clone, Debug)]
pub struct Field {
    /// The name.
    pub name: Word,
    /// The values.
    pub values: ThinVec<Value>,
}

/// A value of a plain line.
#[derive(Clone, Debug)]
pub struct Value {
    /// What it is.
    pub kind: ValueKind,
    /// Where.
    pub span: Span,
}

/// The values of plain lines. Commas, `and` and `or` part them; words side by side without a comma stay one value.
#[derive(Clone, Debug)]
pub enum ValueKind {
    /// Words side by side, joined by one blank: `any zone`, `left hip`, `clip-off yes`.
    Words(ThinVec<Word>),
    /// A number with its unit.
    Number(Number),
    /// `180 to 280 cm2/min`, `up to 40 mm`.
    Range(Box<Range>),
    /// A blade, upper case.
    Blade(Word),
    /// A tool that is more than a word: `19 mm comb`.
    Tool(ToolRef),
    /// Quoted text.
    Text(Text),
    /// A date.
    Date(Date),
    /// Words followed by a number: `topknot 70 mm`, `dematt at most 10 min`.
    Measure {
        /// The words.
        words: ThinVec<Word>,
        /// The range or number that follows.
        range: Box<Range>,
    },
}
