//! From the trees of a recipe, its bases and its house to [`Choices`].

use super::{Ask, BlendAsk, Choice, Choices, KeepEntry, Kind, Level, LineAsk, OrderAsk, Pass, PrepAsk, ToolAsk};
use crate::diagnostic::{Diagnostic, code};
use crate::measure::{BodyUnits, Dimension, Time};
use crate::names::condition::{self, Cond};
use crate::names::fields::{spaced, value_name};
use crate::names::keeps::{self, KeepHead};
use crate::names::lower::{Decl, unknown_step};
use crate::names::nearest;
use crate::names::scope::Scope;
use crate::names::sites::Sites;
use crate::names::sums::{Env, Sums, Value};
use crate::names::trade::{FindingId, KeepOn, StepId, ToolId, Trade, Verb};
use crate::source::Place;
use grammar::tree::{
    Body, Clause, ClauseKind, ExprKind, Field, Line, Room, Side, Span, Stmt, StmtKind, ToolRef, ToolRefKind, ValueKind,
    Word, Zones,
};
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
}

/// The plain lines of a recipe and of a house.
const RECIPE: &[&str] = &["title", "version"];
const HOUSE: &[&str] = &["title", "version", "kit", "errors"];

/// Builds the choices of a chain of texts: house, bases from the farthest, recipe, wish.
/// Only messages about the layers in `say` are kept, so that a base is complained of once, at home.
pub fn build(chain: &[Layer<'_>], trade: &Trade, units: BodyUnits, out: &mut Vec<Diagnostic>) -> Choices {
    let mut builder = Builder {
        trade,
        units,
        env: Env::new(),
        params: Env::new(),
        choices: Choices { at: vec![Vec::new(); 128], units: Some(units), ..Choices::default() },
        level: Level::House,
        owner: SmolStr::default(),
        kit: None,
    };
    for line in &trade.keeps {
        builder.choices.keeps.push(KeepEntry { line: line.clone(), finding: None, cond: Cond::default() });
    }
    // Lengths may count along the kit's combs, so the kit is known first.
    builder.find_kit(chain, out);
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
}

/// What stands around a statement: its conditions and the finding that it answers.
#[derive(Clone, Default)]
struct Around {
    cond: Cond,
    finding: Option<FindingId>,
    kind: Option<Kind>,
}

impl Builder<'_> {
    fn sums(&self) -> Sums<'_> {
        Sums { trade: self.trade, env: &self.env, units: self.units, kit: self.kit.as_deref() }
    }

    /// Parameters are shared along the chain, the nearest value counting for every text of it.
    fn parameters(&mut self, chain: &[Layer<'_>], out: &mut Vec<Diagnostic>) {
        for layer in chain {
            let mut scope = Scope::new(layer.decl.file, layer.decl.at, out);
            for stmt in layer.stmts {
                let StmtKind::Param { name, value, within } = &stmt.kind else { continue };
                let Some(found) = self.named_value(name, value, &mut scope) else { continue };
                let bounds = within
                    .as_ref()
                    .and_then(|range| condition::bounds(range, found.dimension, &self.sums(), &mut scope));
                if bounds.is_some_and(|b| !b.has(found.value)) {
                    let place = scope.place(value.span);
                    scope.say(
                        Diagnostic::error(code::M021, place, format!("`{}` is outside its own range", name.text))
                            .help("Widen `within`, or choose a value in it."),
                    );
                }
                self.within_base(name, found, chain, layer.level, &mut scope);
                self.params.insert(name.text.clone(), found);
                self.env.insert(name.text.clone(), found);
            }
        }
    }

    /// Lets are private to their text, and come after every parameter has its value.
    fn lets(&mut self, stmts: &[Stmt], scope: &mut Scope<'_>) {
        self.env = self.params.clone();
        for stmt in stmts {
            let StmtKind::Let { name, value } = &stmt.kind else { continue };
            if let Some(found) = self.named_value(name, value, scope) {
                self.env.insert(name.text.clone(), found);
            }
        }
    }

    fn named_value(&self, name: &Word, value: &grammar::tree::Expr, scope: &mut Scope<'_>) -> Option<Value> {
        if self.trade.index.places.contains_key(&name.text) {
            let place = scope.place(name.span);
            scope.say(
                Diagnostic::error(code::M011, place, format!("`{}` is a part of the dog", name.text))
                    .help(format!("Call the measure something else, such as `{}-length`.", name.text)),
            );
            return None;
        }
        self.sums().value(value, scope)
    }

    /// A parameter that a base declares may be chosen again within the base's range only.
    fn within_base(&self, name: &Word, found: Value, chain: &[Layer<'_>], level: Level, scope: &mut Scope<'_>) {
        for layer in chain.iter().filter(|l| l.level < level) {
            for stmt in layer.stmts {
                let StmtKind::Param { name: base, within: Some(range), .. } = &stmt.kind else { continue };
                if base.text != name.text {
                    continue;
                }
                let mut silent = Vec::new();
                let mut quiet = Scope::new(layer.decl.file, layer.decl.at, &mut silent);
                let bounds = condition::bounds(range, found.dimension, &self.sums(), &mut quiet);
                if bounds.is_some_and(|b| !b.has(found.value)) {
                    let range_place = quiet.place(range.span);
                    let place = scope.place(name.span);
                    scope.say(
                        Diagnostic::error(
                            code::M021,
                            place,
                            format!("`{}` is outside what {} allows", name.text, layer.decl.name()),
                        )
                        .related(range_place, "this is the range that the base allows")
                        .help("Choose a value in that range, or change the base."),
                    );
                }
            }
        }
    }

    fn layer(&mut self, layer: Layer<'_>, out: &mut Vec<Diagnostic>) {
        self.level = layer.level;
        self.owner = layer.decl.name();
        let mut scope = Scope::new(layer.decl.file, layer.decl.at, out);
        match layer.level {
            Level::House => {
                self.choices.house = Some(layer.decl.name());
            }
            Level::Base(_) => self.choices.bases.insert(0, layer.decl.name()),
            Level::Recipe => {
                self.choices.name = layer.decl.name();
                self.choices.place = Some(layer.decl.place());
                self.choices.title = layer.decl.name().replace('-', " ");
            }
            Level::Wish => {}
        }
        self.lets(layer.stmts, &mut scope);
        self.stmts(layer.stmts, &Around::default(), &mut scope);
    }

    fn stmts(&mut self, stmts: &[Stmt], around: &Around, scope: &mut Scope<'_>) {
        // The conditions of the `when` and `else when` above, for the next `else`.
        let mut earlier: Option<Vec<Cond>> = None;
        for stmt in stmts {
            match &stmt.kind {
                StmtKind::When { cond, body } => {
                    let cond = condition::read(cond, &self.sums(), scope);
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
                    let cond = cond.as_ref().map(|c| condition::read(c, &self.sums(), scope)).unwrap_or_default();
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
                for word in findings {
                    let Some(id) = condition::finding(word, self.trade, scope) else { continue };
                    let inner =
                        Around { cond: around.cond.clone(), finding: Some(id), kind: Some(Kind::Guard) };
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
                for line in keeps::lines(keep, &head, &self.sums(), scope) {
                    self.choices.keeps.push(KeepEntry { line, finding: around.finding, cond: around.cond.clone() });
                }
            }
            StmtKind::Lasts { time, body } => {
                if let Some(seconds) = self.sums().read(time, Dimension::Time, scope) {
                    self.choices.lasts = Some(Time(seconds));
                }
                if let Some(body) = body {
                    self.stmts(&body.stmts, around, scope);
                }
            }
            StmtKind::Prep(body) => self.prep(body, around, scope),
            StmtKind::Blend(blend) => self.blend(stmt, blend, around, scope),
            StmtKind::Line(line) => self.line(stmt, line, around, scope),
            StmtKind::Order(order) => self.order(stmt, order, around, scope),
            StmtKind::Serves(cond) => {
                let cond = condition::read(cond, &self.sums(), scope);
                if self.level == Level::Recipe {
                    self.choices.serves = self.choices.serves.and(&cond);
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
                let place = scope.place(Span::new(stmt.span.start, stmt.span.end.min(stmt.span.start + 40)));
                scope.say(
                    Diagnostic::error(code::M024, place, "this doesn't belong in a recipe")
                        .help("A recipe says what is done; what a dog is and has stands on its card."),
                );
            }
        }
    }

    fn field(&mut self, field: &Field, scope: &mut Scope<'_>) {
        let name = field.name.text.as_str();
        let allowed = if self.level == Level::House { HOUSE } else { RECIPE };
        let text = field.values.first().and_then(|v| match &v.kind {
            ValueKind::Text(text) => Some(text.text.clone()),
            _ => None,
        });
        match (name, self.level) {
            ("title", Level::Recipe) => self.choices.title = text.unwrap_or_default(),
            ("title", Level::House) => self.choices.house_title = text,
            ("version", Level::Recipe) => {
                self.choices.version = field.values.first().and_then(|v| match &v.kind {
                    ValueKind::Number(number) => Some(number.num / number.den.max(1)),
                    _ => None,
                });
            }
            _ if allowed.contains(&name) => {}
            _ => {
                let place = scope.place(field.name.span);
                let what = if self.level == Level::House { "house" } else { "recipe" };
                // A step on a line of its own (`bath`) belongs into `prep`.
                let step = self.step(field);
                let diagnostic = if step.is_some() {
                    Diagnostic::error(code::M024, place, format!("`{name}` is a step of preparation"))
                        .help(format!("Put it into the preparation: `prep {{ {name} }}`."))
                } else {
                    let diagnostic = Diagnostic::error(code::M012, place, format!("a {what} has no line `{name}`"));
                    match nearest(name, allowed.iter().copied()) {
                        Some(near) => diagnostic
                            .help(format!("Did you mean `{near}`?"))
                            .fix(format!("write `{near}`"), place, near),
                        None => diagnostic.help("Begin the line with what is done: set in, clip, skim, scissor, leave …"),
                    }
                };
                scope.say(diagnostic);
            }
        }
    }

    fn find_kit(&mut self, chain: &[Layer<'_>], out: &mut Vec<Diagnostic>) {
        for layer in chain.iter().filter(|l| l.level == Level::House) {
            let mut scope = Scope::new(layer.decl.file, layer.decl.at, out);
            for stmt in layer.stmts {
                if let StmtKind::Field(field) = &stmt.kind
                    && field.name.text == "kit"
                {
                    self.own_kit(field, &mut scope);
                }
            }
        }
    }

    fn own_kit(&mut self, field: &Field, scope: &mut Scope<'_>) {
        let Some(word) = field.values.first().and_then(value_name) else { return };
        match self.trade.index.kits.get(&word.text).and_then(|id| self.trade.kits.get(id.0 as usize)) {
            Some(kit) => {
                let own = self.kit.get_or_insert_default();
                own.extend(kit.owns.iter().map(|(tool, _)| *tool));
            }
            None => {
                let place = scope.place(word.span);
                let diagnostic = Diagnostic::error(code::M002, place, format!("no kit is called `{}`", word.text));
                scope.say(match nearest(&word.text, self.trade.index.kits.keys().map(SmolStr::as_str)) {
                    Some(near) => {
                        diagnostic.help(format!("Did you mean `{near}`?")).fix(format!("write `{near}`"), place, near)
                    }
                    None => diagnostic.help("Declare it: `kit NAME { owns #10, #7F, shears }`."),
                });
            }
        }
    }

    fn work(&mut self, stmt: &Stmt, work: &grammar::tree::Work, around: &Around, scope: &mut Scope<'_>) {
        let sites = keeps::sites(&work.zones, self.trade, scope);
        let verb_place = scope.place(work.verb_span);
        let mut ask = Ask {
            verb: work.verb,
            to: None,
            tool: ToolAsk::Any,
            tool_place: Place { end: scope.at + stmt.span.end, ..verb_place },
            direction: None,
            passes: None,
            manners: Vec::new(),
            because: None,
        };
        // What an owner wishes is meant for all of the part that they name.
        let mut throughout = self.level == Level::Wish;
        for clause in &work.clauses {
            throughout |= matches!(clause.kind, ClauseKind::Throughout);
            self.clause(&mut ask, clause, scope);
        }
        if matches!(work.verb, Verb::Leave)
            && let Some(clause) = work.clauses.iter().find(|c| {
                matches!(c.kind, ClauseKind::To(_) | ClauseKind::With(_) | ClauseKind::Direction(_) | ClauseKind::Passes(_))
            })
        {
            let place = scope.place(clause.span);
            scope.say(
                Diagnostic::error(code::M017, place, "`leave` uses no tool and no length")
                    .help("Write `leave ears`, or say what is done: `scissor ears to 20 mm`."),
            );
        }
        if sites.is_empty() {
            return;
        }
        let choice = Choice {
            pass: if work.verb == Verb::SetIn { Pass::Rough } else { Pass::Finish },
            kind: around.kind.unwrap_or(Kind::Plain),
            finding: around.finding,
            cond: around.cond.clone(),
            level: self.level,
            sites,
            throughout,
            ask,
            place: Place {
                file: scope.file,
                start: scope.at + work.verb_span.start,
                end: scope.at + work.zones.span.end.max(work.verb_span.end),
            },
        };
        self.choices.finishes.push(choice);
    }

    fn clause(&mut self, ask: &mut Ask, clause: &Clause, scope: &mut Scope<'_>) {
        let place = scope.place(clause.span);
        match &clause.kind {
            ClauseKind::To(expr) => {
                // `to #10` is a length by a blade's name, and names the blade as well.
                ask.to = self.sums().length(expr, scope);
                ask.tool_place = place;
                if matches!(expr.kind, ExprKind::Name(_)) {
                    ask.tool_place = scope.place(expr.span);
                }
            }
            ClauseKind::With(tool) => {
                ask.tool_place = scope.place(tool.span);
                self.tool(ask, tool, scope);
            }
            ClauseKind::Direction(way) => ask.direction = Some(*way),
            ClauseKind::Passes(passes) => ask.passes = Some(*passes),
            ClauseKind::Manner { name, at } => {
                self.manner(name, scope);
                if let Some(zone) = at {
                    keeps::one(zone, self.trade, scope);
                }
                let main = self.main_manner(&name.text);
                ask.manners.push((main, at.as_ref().map(|z| z.name.text.clone())));
            }
            ClauseKind::Because(text) => ask.because = Some(text.text.clone()),
            ClauseKind::Over(_) => {
                scope.say(
                    Diagnostic::error(code::M017, place, "`over` says the room for a blend")
                        .help("Give the blend a line of its own: `blend neck into shoulder over two fingers by skimming`."),
                );
            }
            ClauseKind::Throughout => {}
        }
    }

    fn main_manner(&self, name: &SmolStr) -> SmolStr {
        let id = self.trade.index.manners.get(name);
        id.and_then(|id| self.trade.manners.get(id.0 as usize)).map_or_else(|| name.clone(), |m| m.name.clone())
    }

    fn manner(&self, name: &Word, scope: &mut Scope<'_>) {
        if self.trade.index.manners.contains_key(&name.text) {
            return;
        }
        let place = scope.place(name.span);
        let words = name.text.replace('-', " ");
        let diagnostic = Diagnostic::error(code::M006, place, format!("`{words}` is no shape or way of working"));
        scope.say(match nearest(&name.text, self.trade.index.manners.keys().map(SmolStr::as_str)) {
            Some(near) => {
                let near = near.replace('-', " ");
                diagnostic.help(format!("Did you mean `{near}`?")).fix(format!("write `{near}`"), place, near)
            }
            None => diagnostic.help("Shapes are, for example, column, round, bevelled, full; ways of working comb up, again."),
        });
    }

    fn tool(&self, ask: &mut Ask, reference: &ToolRef, scope: &mut Scope<'_>) {
        let place = scope.place(reference.span);
        match &reference.kind {
            ToolRefKind::Blade(name) => {
                if let Some(id) = keeps::tool(name, place, self.trade, scope) {
                    ask.tool = ToolAsk::Tool(id);
                }
            }
            ToolRefKind::Comb { length, over } => {
                let comb = match length {
                    Some(number) => match keeps::comb(number, &self.sums(), scope) {
                        Some(id) => Some(id),
                        None => return,
                    },
                    None => None,
                };
                let over = over.as_ref().and_then(|w| keeps::tool(&w.text, scope.place(w.span), self.trade, scope));
                ask.tool = match (comb, over) {
                    (None, _) => ToolAsk::AnyComb,
                    (Some(comb), None) => ToolAsk::Tool(comb),
                    (Some(comb), Some(blade)) => {
                        let fits = self.trade.tool(comb).is_some_and(|t| t.over.contains(&blade));
                        if !fits {
                            scope.say(
                                Diagnostic::error(code::M017, place, "this comb doesn't sit on that blade")
                                    .why("A comb needs a close blade beneath it, or it neither seats nor cuts.")
                                    .help("Put it over #30, or leave `over` away."),
                            );
                        }
                        ToolAsk::CombOver(comb, blade)
                    }
                };
            }
            ToolRefKind::Named(word) => {
                if let Some(id) = self.trade.index.tools.get(&word.text) {
                    ask.tool = ToolAsk::Tool(*id);
                } else if self.trade.index.manners.contains_key(&word.text) {
                    ask.manners.push((self.main_manner(&word.text), None));
                } else {
                    scope.say(keeps::unknown_tool(self.trade, &word.text, place));
                }
            }
        }
    }

    fn step(&self, field: &Field) -> Option<StepId> {
        let name = &field.name.text;
        let first = field.values.first().and_then(value_name);
        let steps = &self.trade.index.steps;
        first
            .and_then(|word| steps.get(format!("{name}-{}", word.text).as_str()))
            .or_else(|| steps.get(name))
            .copied()
    }

    fn prep(&mut self, body: &Body, around: &Around, scope: &mut Scope<'_>) {
        for stmt in &body.stmts {
            let StmtKind::Field(field) = &stmt.kind else {
                if !matches!(stmt.kind, StmtKind::Broken) {
                    let place = scope.place(Span::new(stmt.span.start, stmt.span.end.min(stmt.span.start + 40)));
                    scope.say(
                        Diagnostic::error(code::M024, place, "only steps belong into `prep`")
                            .help("For example `prep { nails; bath; dry stretch; comb to skin }`."),
                    );
                }
                continue;
            };
            let Some(step) = self.step(field) else {
                let word = Word { text: field.name.text.clone(), span: field.name.span };
                scope.say(unknown_step(self.trade, &word, scope.place(word.span)));
                continue;
            };
            let mut words = Vec::new();
            let mut at_most = None;
            for value in &field.values {
                match &value.kind {
                    ValueKind::Words(list) => words.push(spaced(list)),
                    ValueKind::Range(range) | ValueKind::Measure { range, .. } => {
                        if let Some(expr) = &range.high {
                            at_most = self.sums().read(expr, Dimension::Time, scope).map(Time);
                        }
                    }
                    ValueKind::Blade(word) => words.push(word.text.to_string()),
                    ValueKind::Text(text) => words.push(text.text.clone()),
                    _ => {}
                }
            }
            let ask = PrepAsk {
                step,
                words: words.join(", "),
                at_most,
                cond: around.cond.clone(),
                level: self.level,
                place: scope.place(field.name.span),
            };
            self.choices.prep.push(ask);
        }
    }

    fn blend(&mut self, stmt: &Stmt, blend: &grammar::tree::Blend, around: &Around, scope: &mut Scope<'_>) {
        let (from, into) =
            (keeps::sites(&blend.from, self.trade, scope), keeps::sites(&blend.into, self.trade, scope));
        let mut ask = BlendAsk {
            from,
            into,
            words: format!("{} into {}", zone_words(&blend.from), zone_words(&blend.into)),
            room: None,
            by: None,
            finding: around.finding,
            cond: around.cond.clone(),
            level: self.level,
            place: scope.place(stmt.span),
        };
        for clause in &blend.clauses {
            match &clause.kind {
                ClauseKind::Over(Room::Length(number)) => ask.room = Some(number.text.to_string()),
                ClauseKind::Over(Room::Share { share, of }) => {
                    keeps::one(of, self.trade, scope);
                    ask.room = Some(format!("{} of the {}", share.text, of.name.text.replace('-', " ")));
                }
                ClauseKind::With(tool) => {
                    let name = match &tool.kind {
                        ToolRefKind::Named(word) => word.text.clone(),
                        ToolRefKind::Blade(name) => name.clone(),
                        ToolRefKind::Comb { length, .. } => {
                            length.as_ref().map_or_else(|| "comb".into(), |l| format!("{} comb", l.text).into())
                        }
                    };
                    let known = match &tool.kind {
                        ToolRefKind::Named(_) => {
                            self.trade.index.manners.contains_key(&name) || self.trade.index.tools.contains_key(&name)
                        }
                        ToolRefKind::Blade(_) => self.trade.index.tools.contains_key(&name),
                        ToolRefKind::Comb { length: Some(n), .. } => {
                            keeps::comb(n, &self.sums(), scope);
                            true
                        }
                        ToolRefKind::Comb { .. } => true,
                    };
                    if known {
                        ask.by = Some(if matches!(tool.kind, ToolRefKind::Named(_)) { self.main_manner(&name) } else { name });
                    } else {
                        let word = Word { text: name, span: tool.span };
                        self.manner(&word, scope);
                    }
                }
                ClauseKind::Manner { name, .. } => self.manner(name, scope),
                _ => {
                    let place = scope.place(clause.span);
                    scope.say(
                        Diagnostic::error(code::M017, place, "a blend has no such part")
                            .help("Write `blend A into B over two fingers by skimming`."),
                    );
                }
            }
        }
        if !from.is_empty() && !into.is_empty() && !touching(self.trade, from, into) {
            scope.say(
                Diagnostic::warning(code::J002, scope.place(stmt.span), format!("{} don't touch", ask.words.replace(" into ", " and ")))
                    .why("A blend melts two neighbours into one another.")
                    .help("Name the parts that lie side by side, such as `ribs into shoulder`."),
            );
        }
        self.choices.blends.push(ask);
    }

    fn line(&mut self, stmt: &Stmt, line: &Line, around: &Around, scope: &mut Scope<'_>) {
        let (a, b, words) = match line {
            Line::Between { a, b } => (
                keeps::sites(a, self.trade, scope),
                keeps::sites(b, self.trade, scope),
                format!("between {} and {}", zone_words(a), zone_words(b)),
            ),
            Line::Landmarks { from, to } => {
                (Sites::NONE, Sites::NONE, format!("from {} to {}", from.text, to.text))
            }
        };
        let place = scope.place(stmt.span);
        self.choices.lines.push(LineAsk { a, b, words, finding: around.finding, cond: around.cond.clone(), place });
    }

    fn order(&mut self, stmt: &Stmt, order: &grammar::tree::Order, around: &Around, scope: &mut Scope<'_>) {
        let mut side = |refs: &[grammar::tree::ZoneRef]| {
            refs.iter().fold(Sites::NONE, |set, zone| {
                // Steps have an order of their own in the basics.
                if self.trade.index.steps.contains_key(&zone.name.text)
                    && !self.trade.index.places.contains_key(&zone.name.text)
                {
                    return set;
                }
                set | keeps::one(zone, self.trade, scope)
            })
        };
        let (first, then) = (side(&order.first), side(&order.then));
        let place = scope.place(stmt.span);
        if first.meets(then) {
            scope.say(
                Diagnostic::error(code::O001, place, "the same part can't come before itself")
                    .help("Take the part out of one side, with `except`, or by naming smaller parts."),
            );
        }
        self.choices.orders.push(OrderAsk { first, then, finding: around.finding, cond: around.cond.clone(), place });
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
        let Choices { finishes, at, .. } = &mut self.choices;
        for (number, choice) in finishes.iter().enumerate() {
            for site in choice.sites.iter() {
                if let (Some(list), Ok(number)) = (at.get_mut(site.0 as usize), u32::try_from(number)) {
                    list.push(number);
                }
            }
        }
        self.choices
    }
}

/// Whether some zone of one set borders some zone of the other.
#[must_use]
pub fn touching(trade: &Trade, a: Sites, b: Sites) -> bool {
    let zones = |set: Sites| trade.zones.iter().filter(move |z| z.sites().meets(set));
    zones(a).any(|x| {
        x.borders
            .iter()
            .filter_map(|id| trade.zones.get(id.0 as usize))
            .any(|y| y.sites().meets(b))
    })
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
