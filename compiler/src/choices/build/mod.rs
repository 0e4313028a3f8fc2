//! From the trees of a recipe, its bases and its house to [`Choices`].

mod house;
mod lines;
mod once;
mod overrides;
mod values;
mod work;

use super::{Choices, KeepEntry, Kind, Level};
use crate::diagnostic::{Diagnostic, code};
use crate::measure::{BodyUnits, Dimension, Time};
use crate::names::condition::{self, Cond};
use crate::names::keeps::{self, KeepHead};
use crate::names::lower::Decl;
use crate::names::nearest;
use crate::names::scope::Scope;
use crate::names::sites::Sites;
use crate::names::sums::{Env, Sums};
use crate::names::trade::{FindingId, KeepOn, ToolId, Trade};
use crate::source::Place;
use grammar::tree::{Body, Field, Side, Span, Stmt, StmtKind, ValueKind, Zones};
use smol_str::SmolStr;

/// One text of the chain.
#[derive(Clone, Copy, Debug)]
pub struct Layer<'t> {
    /// Whose.
    pub level: Level,
    /// Its block.
    pub decl: Decl<'t>,
    /// The statements, where they aren't the block's own (the `but { … }` of a card).
    pub stmts: &'t [Stmt],
    /// In which houses it stands, those around them included.
    pub houses: Houses,
}

/// Some houses of a chain by their numbers there, as bits. One whose number is too large for them is left out: then nobody answers
/// for what hangs on it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Houses(pub u64);

impl Houses {
    /// Whether a house is among them.
    #[must_use]
    pub fn has(self, number: u32) -> bool {
        self.0.checked_shr(number).is_some_and(|of| of & 1 == 1)
    }
}

impl FromIterator<u32> for Houses {
    fn from_iter<I: IntoIterator<Item = u32>>(numbers: I) -> Self {
        let bits = numbers.into_iter().filter_map(|number| 1u64.checked_shl(number));
        Self(bits.fold(0, |all, bit| all | bit))
    }
}

impl<'t> Layer<'t> {
    /// A block with all that it says.
    #[must_use]
    pub fn of(level: Level, decl: Decl<'t>, houses: Houses) -> Self {
        Self { level, decl, stmts: &decl.block.body, houses }
    }
}

/// The plain lines of a recipe and of a house.
const RECIPE: &[&str] = &["title", "version"];
const HOUSE: &[&str] = &["title", "version", "kit", "errors", "seniors"];

/// Builds the choices of a chain of texts: house, bases from the farthest, recipe, wish.
/// Only messages about the layers in `say` are kept, so that a base is complained of once, at home.
pub fn build(chain: &[Layer<'_>], trade: &Trade, units: BodyUnits, out: &mut Vec<Diagnostic>) -> Choices {
    let mut builder = Builder {
        trade,
        units,
        env: Env::new(),
        params: Env::new(),
        choices: Choices { at: vec![Vec::new(); 128], units: Some(units), ..Choices::default() },
        level: Level::House(0),
        owner: SmolStr::default(),
        kit: None,
        lasted: None,
        own_from: 0,
        seniors: Vec::new(),
        within: Houses::default(),
    };
    for line in &trade.keeps {
        builder.choices.keeps.push(KeepEntry {
            line: line.clone(),
            finding: None,
            cond: Cond::default(),
            until_next: false,
            whole: None,
            key: SmolStr::default(),
            of: None,
        });
    }
    // Lengths may count along the kit's combs, so the kit is known first.
    builder.find_kit(chain, out);
    builder.find_seniors(chain);
    // Parameters of a base are chosen by the texts above it, so the nearest value comes first.
    builder.parameters(chain, out);
    for layer in chain {
        builder.layer(*layer, out);
    }
    builder.finish(trade)
}

struct Builder<'a> {
    trade: &'a Trade,
    units: BodyUnits,
    env: Env,
    params: Env,
    choices: Choices,
    level: Level,
    owner: SmolStr,
    kit: Option<Vec<ToolId>>,
    /// Whose text said last how long it lasts, and where.
    lasted: Option<(Level, Place)>,
    /// The first keep of the text that is being read: an override takes back only what stands before it.
    own_from: usize,
    /// Who may answer for an override, by the house that names them.
    seniors: Vec<Vec<String>>,
    /// The houses in which the text stands that is being read.
    within: Houses,
}

/// What stands around a statement: its conditions and the finding that it answers.
#[derive(Clone, Default)]
struct Around {
    cond: Cond,
    finding: Option<FindingId>,
    /// All findings of that guard, by their own names, in order.
    findings: Vec<SmolStr>,
    kind: Option<Kind>,
    /// In the body of `lasts`.
    until_next: bool,
}

impl Builder<'_> {
    fn sums(&self) -> Sums<'_> {
        Sums { trade: self.trade, env: &self.env, units: self.units, kit: self.kit.as_deref() }
    }

    fn layer(&mut self, layer: Layer<'_>, out: &mut Vec<Diagnostic>) {
        self.level = layer.level;
        self.owner = layer.decl.name();
        self.own_from = self.choices.keeps.len();
        self.within = layer.houses;
        let mut scope = Scope::new(layer.decl.file, layer.decl.at, out);
        match layer.level {
            Level::House(_) => self.choices.house = Some(layer.decl.name()),
            Level::Base(_) => self.choices.bases.insert(0, layer.decl.name()),
            Level::Recipe => {
                self.choices.name = layer.decl.name();
                self.choices.place = Some(layer.decl.place());
                self.choices.end = layer.decl.end();
                self.choices.title = layer.decl.name().replace('-', " ");
            }
            Level::Wish => {}
        }
        once::lines(layer.stmts, &mut scope);
        self.lets(layer.stmts, &mut scope);
        self.stmts(layer.stmts, &Around::default(), &mut scope);
    }

    fn stmts(&mut self, stmts: &[Stmt], around: &Around, scope: &mut Scope<'_>) {
        // The conditions of the `when` and `else when` above, for the next `else`.
        let mut earlier: Option<Vec<Cond>> = None;
        for stmt in stmts {
            match &stmt.kind {
                StmtKind::When { cond, body } => {
                    let cond = condition::read(cond, false, &self.sums(), scope);
                    earlier = Some(vec![cond.clone()]);
                    self.branch(&cond, &[], body, around, scope);
                    continue;
                }
                StmtKind::Else { cond, body } => {
                    let Some(before) = earlier.as_mut() else {
                        let place = scope.place(Span::new(stmt.span.start, stmt.span.start + 4));
                        scope.say(
                            Diagnostic::error(code::M024, place, "this `else` has no `when` before it")
                                .help("Put it right after the closing brace of a `when`."),
                        );
                        continue;
                    };
                    if before.iter().any(|c| !c.findings.is_empty()) {
                        let place = scope.place(Span::new(stmt.span.start, stmt.span.start + 4));
                        scope.say(
                            Diagnostic::error(code::M024, place, "no `else` comes after a `when` that asks for a finding")
                                .why("It would be for dogs without the finding, and a finding may only ever make work gentler.")
                                .help("Write what is done on every dog, and the gentler way in `guard FINDING { … }`."),
                        );
                        continue;
                    }
                    let cond =
                        cond.as_ref().map(|c| condition::read(c, false, &self.sums(), scope)).unwrap_or_default();
                    let not = before.clone();
                    before.push(cond.clone());
                    self.branch(&cond, &not, body, around, scope);
                    continue;
                }
                _ => earlier = None,
            }
            self.stmt(stmt, around, scope);
        }
    }

    fn branch(&mut self, cond: &Cond, not: &[Cond], body: &Body, around: &Around, scope: &mut Scope<'_>) {
        let mut inner = around.clone();
        let mut cond = cond.clone();
        cond.not.extend(not.iter().cloned());
        inner.cond = around.cond.and(&cond);
        inner.kind = Some(around.kind.unwrap_or(Kind::When).max(Kind::When));
        self.stmts(&body.stmts, &inner, scope);
    }

    fn stmt(&mut self, stmt: &Stmt, around: &Around, scope: &mut Scope<'_>) {
        match &stmt.kind {
            StmtKind::Work(work) => self.work(stmt, work, around, scope),
            StmtKind::Guard { findings, body } => {
                let main = |word: &grammar::tree::Word| {
                    let id = self.trade.index.findings.get(&word.text)?;
                    self.trade.finding(*id).map(|f| f.name.clone())
                };
                let mut names: Vec<SmolStr> = findings.iter().filter_map(main).collect();
                names.sort_unstable();
                for word in findings {
                    let Some(id) = condition::finding(word, self.trade, scope) else { continue };
                    let inner = Around {
                        finding: Some(id),
                        findings: names.clone(),
                        kind: Some(Kind::Guard),
                        ..around.clone()
                    };
                    // Mistakes inside are said for the first finding only.
                    if findings.first().is_some_and(|f| f.span == word.span) {
                        self.stmts(&body.stmts, &inner, scope);
                    } else {
                        let mut silent = Vec::new();
                        self.stmts(&body.stmts, &inner, &mut Scope::new(scope.file, scope.at, &mut silent));
                    }
                }
            }
            StmtKind::Keep(keep) => {
                let all = KeepOn::Sites(self.trade.all_sites());
                let owner = self.owner.clone();
                let head = KeepHead { on: all, owner: &owner, sex: None };
                let lines = keeps::lines(keep, &head, &self.sums(), scope);
                let whole = (lines.len() == 1).then(|| scope.place(stmt.span));
                for line in lines {
                    let bound = keep.bounds.iter().find(|bound| scope.place(bound.span) == line.place);
                    let key = bound.map(|bound| around.key(bound)).unwrap_or_default();
                    let (finding, until_next) = (around.finding, around.until_next);
                    let cond = around.cond.clone();
                    let of = Some((self.level, self.within));
                    self.choices.keeps.push(KeepEntry { line, finding, cond, until_next, whole, key, of });
                }
            }
            StmtKind::Override(taken) => self.take_back(stmt, taken, around, scope),
            StmtKind::Lasts { time, body } => {
                if let Some(seconds) = self.sums().read(time, Dimension::Time, scope) {
                    self.choices.lasts = Some(Time(seconds));
                }
                // A nearer text may say it anew; one text says it once.
                let place = Place { end: scope.at + time.span.end, ..scope.place(stmt.span) };
                match self.lasted.replace((self.level, place)) {
                    Some((level, before)) if level == self.level => scope.say(
                        Diagnostic::error(code::M011, place, "how long it lasts is said twice")
                            .related(before, "here it is said first")
                            .why("The last would count, and whoever reads the first doesn't know it.")
                            .help("Take one of the two away, or put what it holds into the other."),
                    ),
                    _ => {}
                }
                if let Some(body) = body {
                    self.stmts(&body.stmts, &Around { until_next: true, ..around.clone() }, scope);
                }
            }
            StmtKind::Prep(body) => self.prep(body, around, scope),
            StmtKind::Blend(blend) => self.blend(stmt, blend, around, scope),
            StmtKind::Line(line) => self.line(stmt, line, around, scope),
            StmtKind::Order(order) => self.order(stmt, order, around, scope),
            StmtKind::Serves(cond) => {
                let cond = condition::read(cond, true, &self.sums(), scope);
                if self.level == Level::Recipe {
                    let (own, before) = (cond.is_nobody(), self.choices.serves.is_nobody());
                    self.choices.serves = self.choices.serves.and(&cond);
                    self.choices.served_at = Some(scope.place(stmt.span));
                    if self.choices.serves.is_nobody() && !own && !before {
                        scope.say(
                            Diagnostic::error(
                                code::M010,
                                scope.place(stmt.span),
                                "with the lines above, this serves no dog",
                            )
                            .help("Each `serves` line narrows the last: widen one of them."),
                        );
                    }
                }
            }
            StmtKind::About(prose) => {
                if self.level == Level::Recipe {
                    self.choices.about = prose.lines.join(" ");
                }
            }
            StmtKind::Field(field) => self.field(field, scope),
            StmtKind::Param { .. } | StmtKind::Let { .. } | StmtKind::Extends { .. } | StmtKind::Broken => {}
            StmtKind::When { .. } | StmtKind::Else { .. } => {}
            StmtKind::CardCoat(_)
            | StmtKind::CardFinding(_)
            | StmtKind::CardMats(_)
            | StmtKind::Wants { .. }
            | StmtKind::Given { .. }
            | StmtKind::Expect(_)
            | StmtKind::Block(_) => {
                let place = scope.place(stmt.span);
                scope.say(
                    Diagnostic::error(code::M024, place, "this doesn't belong in a recipe")
                        .help("A recipe says what is done; what a dog is and has stands on its card."),
                );
            }
        }
    }

    fn field(&mut self, field: &Field, scope: &mut Scope<'_>) {
        let name = field.name.text.as_str();
        let allowed = if self.level.is_house() { HOUSE } else { RECIPE };
        let text = field.values.first().and_then(|v| match &v.kind {
            ValueKind::Text(text) => Some(text.text.clone()),
            _ => None,
        });
        match (name, self.level) {
            ("title", Level::Recipe) => self.choices.title = text.unwrap_or_default(),
            ("title", Level::House(_)) => self.choices.house_title = text,
            ("version", Level::Recipe) => {
                self.choices.version = field.values.first().and_then(|v| match &v.kind {
                    ValueKind::Number(number) => Some(number.num / number.den.max(1)),
                    _ => None,
                });
            }
            ("errors", Level::House(_)) => house::errors(field, scope),
            ("seniors", Level::House(_)) => house::seniors(field, scope),
            _ if allowed.contains(&name) => {}
            _ => {
                let place = scope.place(field.name.span);
                let what = if self.level.is_house() { "house" } else { "recipe" };
                // A step on a line of its own (`bath`) belongs into `prep`.
                let step = self.step(field);
                let diagnostic = if step.is_some() {
                    Diagnostic::error(code::M024, place, format!("`{name}` is a step of preparation"))
                        .help(format!("Put it into the preparation: `prep {{ {name} }}`."))
                } else {
                    let diagnostic = Diagnostic::error(code::M012, place, format!("a {what} has no line `{name}`"));
                    match nearest(name, allowed.iter().copied()) {
                        Some(near) => diagnostic.help(format!("Did you mean `{near}`?")).fix(
                            format!("write `{near}`"),
                            place,
                            near,
                        ),
                        None => {
                            diagnostic.help("Begin the line with what is done: set in, clip, skim, scissor, leave …")
                        }
                    }
                };
                scope.say(diagnostic);
            }
        }
    }

    fn finish(mut self, trade: &Trade) -> Choices {
        self.choices.kit = match self.kit {
            Some(mut own) => {
                own.sort_unstable();
                own.dedup();
                own
            }
            None => (0..trade.tools.len()).filter_map(|i| u16::try_from(i).ok().map(ToolId)).collect(),
        };
        // What was taken back everywhere binds nobody.
        self.choices.keeps.retain(|entry| entry.key.is_empty() || entry.line.on != KeepOn::Sites(Sites::NONE));
        let Choices { finishes, at, keeps, keeps_at, .. } = &mut self.choices;
        let mut even = true;
        let mut index = |lists: &mut Vec<Vec<u32>>, number: usize, sites: Sites| {
            even &= trade.both_sides(sites) == sites;
            for site in sites.iter() {
                if let (Some(list), Ok(number)) = (lists.get_mut(site.0 as usize), u32::try_from(number)) {
                    list.push(number);
                }
            }
        };
        for (number, choice) in finishes.iter().enumerate() {
            index(at, number, choice.sites);
        }
        *keeps_at = vec![Vec::new(); 128];
        for (number, entry) in keeps.iter().enumerate() {
            if let KeepOn::Sites(sites) = entry.line.on {
                index(keeps_at, number, sites);
            }
        }
        self.choices.symmetric = even;
        self.choices
    }
}

/// Whether some zone of one set borders some zone of the other.
#[must_use]
pub fn touching(trade: &Trade, a: Sites, b: Sites) -> bool {
    let zones = |set: Sites| trade.zones.iter().filter(move |z| z.sites().meets(set));
    zones(a).any(|x| x.borders.iter().filter_map(|id| trade.zones.get(id.0 as usize)).any(|y| y.sites().meets(b)))
}

/// A list of zones as people say it.
#[must_use]
pub fn zone_words(zones: &Zones) -> String {
    let one = |zone: &grammar::tree::ZoneRef| {
        let name = zone.name.text.replace('-', " ");
        match zone.side {
            Some(Side::Left) => format!("left {name}"),
            Some(Side::Right) => format!("right {name}"),
            None => name,
        }
    };
    let list = zones.list.iter().map(one).collect::<Vec<_>>().join(", ");
    if zones.except.is_empty() {
        return list;
    }
    format!("{list} except {}", zones.except.iter().map(one).collect::<Vec<_>>().join(", "))
}
