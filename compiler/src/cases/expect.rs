//! One `expect` line, held against what was worked out.

use crate::check;
use crate::diagnostic::{Diagnostic, Fix, Severity, code};
use crate::finish::{Did, Finish, Finishes, Outcome, Stroke, finish_at, margin, stroke_words};
use crate::measure::{Dimension, Length, Time};
use crate::names::condition::{self, Bounds};
use crate::names::keeps;
use crate::names::lower::Decl;
use crate::names::scope::Scope;
use crate::names::sites::Sites;
use crate::names::sums::{Env, Sums};
use crate::names::trade::{ToolId, Trade, Verb};
use crate::names::zone_words::zone_words;
use crate::plan::plan;
use crate::rules;
use crate::sheet::{Card, Worked, left, plain_time};
use crate::source::Place;
use crate::workspace::Salon;
use grammar::tree::{Clause, ClauseKind, Direction, Expect, Range, Stmt, ToolRefKind, Word, Zones};
use smol_str::SmolStr;

/// What lines are held against.
pub(super) struct Held<'h, 't> {
    pub(super) salon: &'h Salon<'t>,
    pub(super) case: Decl<'t>,
    pub(super) done: &'h Worked<'t>,
    pub(super) card: Card<'t>,
    /// What a sheet for the dog would say.
    pub(super) messages: &'h [Diagnostic],
}

impl Held<'_, '_> {
    fn trade(&self) -> &Trade {
        &self.salon.trade
    }

    fn place(&self, stmt: &Stmt) -> Place {
        Place { file: self.case.file, start: self.case.at + stmt.span.start, end: self.case.at + stmt.span.end }
    }

    /// The parts of a line that this dog has.
    fn sites(&self, zones: &Zones, out: &mut Vec<Diagnostic>) -> Sites {
        let mut scope = Scope::new(self.case.file, self.case.at, out);
        keeps::sites(zones, self.trade(), &mut scope) & crate::finish::sites_of(self.trade(), &self.done.dog)
    }
}

/// What doesn't hold of a line.
pub(super) fn of_line(held: &Held<'_, '_>, stmt: &Stmt, line: &Expect, out: &mut Vec<Diagnostic>) {
    match line {
        Expect::Finish { zones, verb, state, clauses } => {
            let sites = held.sites(zones, out);
            if !out.is_empty() {
                return;
            }
            if sites.is_empty() {
                let message = "this dog has none of these parts";
                out.push(Diagnostic::error(code::T001, held.place(stmt), message).help("Name parts that it has."));
                return;
            }
            let Some(wanted) = Wanted::read(held, *verb, state.as_ref(), clauses, out) else { return };
            finishes(held, stmt, zones, sites, &wanted, out);
        }
        Expect::Message { code: word, zones } => message(held, stmt, word, zones.as_ref(), out),
        Expect::NoMessage => {}
        Expect::Takes(range) => takes(held, stmt, range, out),
    }
}

/// What is said beside what the lines expect: an error fails every case, a warning one that expects no message.
pub(super) fn no_other(held: &Held<'_, '_>, lines: &[(&Stmt, &Expect)]) -> Vec<Diagnostic> {
    let none = lines.iter().find(|(_, line)| matches!(line, Expect::NoMessage));
    let least = if none.is_some() { Severity::Warning } else { Severity::Error };
    let expected = |d: &Diagnostic| {
        lines.iter().any(|(_, line)| matches!(line, Expect::Message { code, .. } if code.text == d.code))
    };
    let mut others: Vec<&Diagnostic> = Vec::new();
    for other in held.messages.iter().filter(|d| d.severity >= least && !expected(d)) {
        if !others.iter().any(|known| known.code == other.code) {
            others.push(other);
        }
    }
    // What would hold up a sheet is expected by nobody without being looked at.
    let mild = others.iter().filter(|d| d.severity < Severity::Error);
    let mut lines: Vec<String> = mild.map(|d| format!("expect message {}", d.code)).collect();
    let mut fix = none.filter(|_| !lines.is_empty()).map(|(stmt, _)| {
        lines.push("expect no message".to_owned());
        Fix::rewrite("expect what is said", held.place(stmt), lines.join("\n  "))
    });
    let at = none.map_or_else(|| held.case.place(), |(stmt, _)| held.place(stmt));
    let mut wrong = Vec::new();
    for other in others {
        let code = other.code;
        let message = format!("{code} is said of this dog, and the case doesn't expect it");
        let diagnostic = Diagnostic::error(code::T003, at, message).related(other.place, other.message.clone());
        let help = format!("Mend what it says; or write `expect message {code}` if that is how it should be.");
        let diagnostic = other.why.iter().fold(diagnostic, |d, why| d.why(why.clone()));
        // One way to mend it does for them all.
        let fix = (other.severity < Severity::Error).then(|| fix.take()).flatten();
        wrong.push(diagnostic.help(help).offer(fix));
    }
    wrong
}

/// What a line asks of a finish.
#[derive(Default)]
struct Wanted {
    verb: Option<Verb>,
    state: Option<State>,
    to: Option<Length>,
    tool: Option<ToolId>,
    any_comb: bool,
    over: Option<ToolId>,
    direction: Option<Direction>,
    passes: Option<u32>,
    manners: Vec<SmolStr>,
}

/// How a part may come out, beside what is done.
#[derive(Clone, Copy, PartialEq, Eq)]
enum State {
    /// Nothing is done there.
    Left,
    /// A finding made it longer or gentler.
    Longer,
    /// It is for a vet.
    Referred,
}

impl Wanted {
    fn read(
        held: &Held<'_, '_>,
        verb: Option<Verb>,
        state: Option<&Word>,
        clauses: &[Clause],
        out: &mut Vec<Diagnostic>,
    ) -> Option<Self> {
        let (trade, env) = (held.trade(), Env::new());
        let kit = held.done.choices.kit.as_slice();
        let sums = Sums { trade, env: &env, units: check::units(trade), kit: Some(kit) };
        let before = out.len();
        let mut scope = Scope::new(held.case.file, held.case.at, out);
        let mut wanted = Self { verb, ..Self::default() };
        if let Some(word) = state {
            wanted.state = match word.text.as_str() {
                "left" | "untouched" | "left-alone" => Some(State::Left),
                "left-longer" | "left-gentler" => Some(State::Longer),
                "referred" => Some(State::Referred),
                other => {
                    let message = format!("nothing comes out `{}`", other.replace('-', " "));
                    let help = "Write `left`, `left longer` or `referred`, or what is done: `skim with #10`.";
                    scope.say(Diagnostic::error(code::M023, scope.place(word.span), message).help(help));
                    None
                }
            };
        }
        for clause in clauses {
            match &clause.kind {
                ClauseKind::To(expr) => wanted.to = sums.length(expr, &mut scope),
                ClauseKind::Direction(way) => wanted.direction = Some(*way),
                ClauseKind::Passes(passes) => wanted.passes = Some(*passes),
                ClauseKind::Manner { name, .. } => wanted.manner(name, trade, &mut scope),
                ClauseKind::With(tool) => {
                    let place = scope.place(tool.span);
                    match &tool.kind {
                        ToolRefKind::Blade(name) => wanted.tool = keeps::tool(name, place, trade, &mut scope),
                        ToolRefKind::Comb { length, over } => {
                            wanted.any_comb = length.is_none();
                            wanted.tool = length.as_ref().and_then(|number| keeps::comb(number, &sums, &mut scope));
                            let blade = |w: &Word, scope: &mut Scope<'_>| {
                                keeps::tool(&w.text, scope.place(w.span), trade, scope)
                            };
                            wanted.over = over.as_ref().and_then(|w| blade(w, &mut scope));
                        }
                        ToolRefKind::Named(word) => match trade.index.tools.get(&word.text) {
                            Some(id) => wanted.tool = Some(*id),
                            None => wanted.manner(word, trade, &mut scope),
                        },
                    }
                }
                ClauseKind::Over(_) | ClauseKind::Throughout | ClauseKind::Because(_) => {
                    let diagnostic = Diagnostic::error(
                        code::M017,
                        scope.place(clause.span),
                        "this can't be seen on one part of a dog",
                    );
                    scope.say(diagnostic.help("Take these words away: a case expects what is done and what stays."));
                }
            }
        }
        (out.len() == before).then_some(wanted)
    }

    fn manner(&mut self, word: &Word, trade: &Trade, scope: &mut Scope<'_>) {
        match trade.index.manners.get(&word.text).and_then(|id| trade.manner(*id)) {
            Some(manner) => self.manners.push(manner.name.clone()),
            None => scope.say(keeps::unknown_tool(trade, &word.text, scope.place(word.span))),
        }
    }

    /// Whether a part came out so. Its rough pass counts where that is what is asked about.
    fn holds(&self, finish: &Finish, trade: &Trade) -> bool {
        let state = match self.state {
            None => true,
            Some(State::Left) => finish.fine.tool.is_none() && finish.outcome != Outcome::Referred,
            Some(State::Longer) => finish.outcome == Outcome::Raised,
            Some(State::Referred) => finish.outcome == Outcome::Referred,
        };
        let mut strokes = [Some(&finish.fine), finish.rough.as_ref()].into_iter().flatten();
        state && strokes.any(|stroke| self.is_so(stroke, trade))
    }

    fn is_so(&self, stroke: &Stroke, trade: &Trade) -> bool {
        let comb = stroke.kind(trade) == Some(crate::names::trade::ToolKind::Comb);
        // A length is as near as an author's word has to be to a tool's.
        let near = |to: Length| stroke.leaves.is_some_and(|l| (l.middle().0 - to.0).abs() <= margin(to));
        self.verb.is_none_or(|verb| verb == stroke.verb)
            && self.to.is_none_or(near)
            && self.tool.is_none_or(|tool| stroke.tool == Some(tool))
            && (!self.any_comb || comb)
            && self.over.is_none_or(|over| stroke.over == Some(over))
            && self.direction.is_none_or(|way| stroke.direction == Some(way))
            && self.passes.is_none_or(|passes| stroke.passes == passes)
            && self.manners.iter().all(|m| stroke.manners.iter().any(|(name, _)| name == m))
    }
}

/// The parts of a line that came out otherwise, those alike together.
fn finishes(held: &Held<'_, '_>, stmt: &Stmt, zones: &Zones, sites: Sites, wanted: &Wanted, out: &mut Vec<Diagnostic>) {
    let trade = held.trade();
    let mut wrong: Vec<(String, Sites, Option<&Finish>)> = Vec::new();
    let mut all: Vec<(String, Sites)> = Vec::new();
    for site in sites.iter() {
        let finish = held.done.finishes.at(site);
        let (words, line) = match finish {
            Some(finish) => (told(finish, trade), written(finish, trade)),
            None => ("nothing is said of it".to_owned(), String::new()),
        };
        match all.iter_mut().find(|(known, _)| *known == line) {
            Some((_, sites)) => *sites = *sites | Sites::one(site),
            None => all.push((line, Sites::one(site))),
        }
        if finish.is_some_and(|f| wanted.holds(f, trade)) {
            continue;
        }
        match wrong.iter_mut().find(|(known, ..)| *known == words) {
            Some((_, sites, _)) => *sites = *sites | Sites::one(site),
            None => wrong.push((words, Sites::one(site), finish)),
        }
    }
    // Their author's words for the parts, where all of them came out alike.
    let text = |sites: Sites| match all.as_slice() {
        [_] => zone_text(zones),
        _ => names(sites, trade),
    };
    let known = all.iter().all(|(line, _)| !line.is_empty());
    let lines: Vec<String> = all.iter().map(|(line, sites)| format!("expect {} {line}", text(*sites))).collect();
    for (number, (words, sites, finish)) in wrong.into_iter().enumerate() {
        let message = format!("the {}: {words}", zone_words(trade, sites));
        let mut diagnostic = Diagnostic::error(code::T001, held.place(stmt), message).label("expected otherwise");
        let decided = |f: &Finish| f.reasons.iter().rfind(|r| r.what != Did::WonOver).map(|r| r.place);
        if let Some(place) = finish.and_then(decided) {
            diagnostic = diagnostic.related(place, "this decided it");
        }
        let accept = Fix::rewrite("expect what comes out", held.place(stmt), lines.join("\n  "));
        let help = "If the trim is meant to change so, let the case expect it; else mend the recipe.";
        out.push(diagnostic.help(help).offer((number == 0 && known).then_some(accept)));
    }
}

/// What was done at a part, to be read.
fn told(finish: &Finish, trade: &Trade) -> String {
    let words = stroke_words(&finish.fine, trade);
    let by = finish.by.and_then(|f| trade.finding(f)).map(|f| format!(" for {}", f.name.replace('-', " ")));
    let by = by.unwrap_or_default();
    match finish.outcome {
        Outcome::Written if finish.fine.tool.is_none() => "left".to_owned(),
        Outcome::Written => format!("`{words}`{}", stays(&finish.fine)),
        Outcome::Raised => format!("left longer{by}: `{words}`{}", stays(&finish.fine)),
        Outcome::Left => format!("left{by}"),
        Outcome::Referred => format!("for a vet{by}"),
        Outcome::Waits => "left for another visit".to_owned(),
        Outcome::Shortened => format!("shorter for a mat: `{words}`{}", stays(&finish.fine)),
    }
}

fn stays(stroke: &Stroke) -> String {
    stroke.leaves.map_or(String::new(), |leaves| format!(", which leaves {leaves}"))
}

/// The same as a case says it.
fn written(finish: &Finish, trade: &Trade) -> String {
    match finish.outcome {
        Outcome::Referred => "referred".to_owned(),
        Outcome::Left => "left".to_owned(),
        Outcome::Written if finish.fine.tool.is_none() => "left".to_owned(),
        Outcome::Raised => {
            format!("left longer {}", stroke_words(&finish.fine, trade).split_once(' ').map_or("", |w| w.1))
        }
        _ => stroke_words(&finish.fine, trade),
    }
}

/// Parts as a text names them.
fn names(sites: Sites, trade: &Trade) -> String {
    let mut all: Vec<String> = Vec::new();
    for zone in trade.zones.iter().filter(|z| z.sites().meets(sites)) {
        let own = zone.sites() & sites;
        let side = if own == zone.sites() { None } else { own.iter().next().and_then(|s| trade.zone_of(s)?.1) };
        all.push(side.map_or_else(|| zone.name.to_string(), |side| format!("{} {}", side.as_str(), zone.name)));
    }
    all.join(", ")
}

fn zone_text(zones: &Zones) -> String {
    let one = |zone: &grammar::tree::ZoneRef| match zone.side {
        Some(side) => format!("{} {}", side.as_str(), zone.name.text),
        None => zone.name.text.to_string(),
    };
    let list = |all: &[grammar::tree::ZoneRef]| all.iter().map(one).collect::<Vec<_>>().join(", ");
    let except = if zones.except.is_empty() { String::new() } else { format!(" except {}", list(&zones.except)) };
    format!("{}{except}", list(&zones.list))
}

/// A message that isn't said, or not of those parts.
fn message(held: &Held<'_, '_>, stmt: &Stmt, word: &Word, zones: Option<&Zones>, out: &mut Vec<Diagnostic>) {
    let known = crate::diagnostic::CODES.iter().any(|c| c.code == word.text);
    let place =
        Place { file: held.case.file, start: held.case.at + word.span.start, end: held.case.at + word.span.end };
    if !known {
        let message = format!("no rule is called `{}`", word.text);
        let help = "The rules and their pages stand in docs/codes; `coatwright explain CODE` shows one.";
        out.push(Diagnostic::error(code::T002, place, message).help(help));
        return;
    }
    let said: Vec<&Diagnostic> = held.messages.iter().filter(|d| d.code == word.text).collect();
    let fix = Fix { safe: false, ..Fix::without("take this line away", held.place(stmt)) };
    let explain =
        format!("Take the line away, or mend the recipe; `coatwright explain {}` tells what it means.", word.text);
    if said.is_empty() {
        let message = format!("{} isn't said of this dog", word.text);
        out.push(Diagnostic::error(code::T002, held.place(stmt), message).help(explain).offer(Some(fix)));
        return;
    }
    let Some(zones) = zones else { return };
    let sites = held.sites(zones, out);
    if !out.is_empty() || said_of(held, &word.text, sites) {
        return;
    }
    let message = format!("{} is said of this dog, but not of the {}", word.text, zone_words(held.trade(), sites));
    let mut diagnostic = Diagnostic::error(code::T002, held.place(stmt), message).help(explain);
    if let Some(first) = said.first() {
        diagnostic = diagnostic.related(first.place, first.message.clone());
    }
    out.push(diagnostic);
}

/// A trim that may take less or more time than is expected: what it takes at its quickest and at its slowest must lie within.
fn takes(held: &Held<'_, '_>, stmt: &Stmt, range: &Range, out: &mut Vec<Diagnostic>) {
    let (trade, env) = (held.trade(), Env::new());
    let sums = Sums { trade, env: &env, units: check::units(trade), kit: None };
    let mut scope = Scope::new(held.case.file, held.case.at, out);
    let Some(expected) = condition::bounds(range, Dimension::Time, &sums, &mut scope) else { return };
    let takes = plan(&held.done.choices, trade, &held.done.dog, &held.done.finishes).bears.takes;
    let closed = |end: Time| Some((end.0, false));
    if (Bounds { low: closed(takes.low), high: closed(takes.high) }).within(&expected) {
        return;
    }
    // To five minutes, outwards.
    let (low, high) = (takes.low.0 / 300 * 5, (takes.high.0 + 299) / 300 * 5);
    let say = |minutes: i64| plain_time(Time(minutes * 60));
    let message = format!("the whole trim takes {} to {} on this dog", say(low), say(high));
    let fix =
        Fix::rewrite("expect the time it takes", held.place(stmt), format!("expect takes {low} min to {high} min"));
    let help = "Mend what takes the time, or expect what it takes now.";
    out.push(
        Diagnostic::error(code::T006, held.place(stmt), message)
            .label("expected otherwise")
            .help(help)
            .offer(Some(fix)),
    );
}

/// Whether a message is said of some of these parts: by their own finish, at one of their borders, or because they are left.
fn said_of(held: &Held<'_, '_>, code: &str, sites: Sites) -> bool {
    let (choices, trade, dog) = (&held.done.choices, held.trade(), &held.done.dog);
    let mut said = Vec::new();
    let own = finish_at(sites, choices, trade, dog, &mut said);
    for finish in &own.all {
        for rule in rules::WORK_RULES.iter().chain(rules::COAT_RULES) {
            rule(choices, trade, dog, finish, &mut said);
        }
    }
    left(&own, trade, &mut said);
    for pair in rules::pairs(trade, false) {
        let both = Sites::one(pair.site) | Sites::one(pair.other);
        if both.meets(sites) {
            let at = |site| held.done.finishes.at(site).cloned();
            let all: Vec<Finish> = both.iter().filter_map(at).collect();
            rules::at_border(choices, trade, dog, &Finishes { all, referred: Sites::NONE }, &mut said);
        }
    }
    let of_card = |d: &&Diagnostic| d.code.starts_with('D') && d.place.file == held.card.decl.file;
    // What is said of the dog as a whole is said of each of its parts.
    let whole = held.messages.iter().filter(of_card).any(|d| d.code == code && d.code != crate::diagnostic::code::D007);
    whole || said.iter().any(|d| d.code == code)
}
