//! Every keep that may bind this dog, with the places where it does.

use grammar::tree::{
    Block, BlockKind, Bound, BoundKind, Keep, Order, Override, Span, Stmt, StmtKind, ToolRef, ValueKind, ZoneRef,
};
use smol_str::SmolStr;

use super::condition::Step;
use super::dog::{Dog, Found};
use super::trade::{On, Places, Trade, fields, meet, mirrored, subtract, unite, word};
use super::{Breach, Case};

/// What must hold.
#[derive(Clone, Copy)]
pub(super) enum Must<'t> {
    /// A bound of a keep.
    Bound(&'t Bound),
    /// What has no name: untouched.
    Other,
    /// The places of the rule come before these.
    Before(&'t [ZoneRef]),
}

/// One bound with all that it takes to check it.
pub(super) struct Rule<'t> {
    pub(super) must: Must<'t>,
    pub(super) file: u32,
    pub(super) start: u32,
    pub(super) end: u32,
    /// Where it binds.
    pub(super) places: Places,
    /// The conditions on the way to it.
    pub(super) steps: Vec<Step<'t>>,
    /// Which part of the chain its names are looked up in.
    pub(super) entry: Option<usize>,
    /// Whether it is a finding's own, and not a text's.
    pub(super) of_finding: bool,
    /// The tool that caused the finding.
    pub(super) cause: Option<&'t ToolRef>,
    /// The finding, or the author's reason.
    pub(super) whence: Option<String>,
    /// Only where the dog has this coat.
    pub(super) coat: Option<SmolStr>,
    /// Only where this tool is used.
    pub(super) tool: Option<SmolStr>,
    /// The findings of the guard in whose body it stands, by their own names, in order.
    guard: Vec<SmolStr>,
}

impl Rule<'_> {
    /// That a line of the plan breaks it, with the reason that its text gives.
    pub(super) fn breach(&self, done: usize, words: String) -> Breach {
        let words = match &self.whence {
            Some(why) => format!("{words} ({why})"),
            None => words,
        };
        Breach { done, file: self.file, start: self.start, end: self.end, words }
    }
}

/// What a later text of the chain takes back of the earlier ones.
struct Taken<'t> {
    bound: &'t Bound,
    places: Places,
    guard: Vec<SmolStr>,
    entry: usize,
    /// The texts of the chain that name who answers, as bits: they answer for what stands in those houses.
    by: u64,
}

/// Where a keep stands and what surrounds it.
#[derive(Clone)]
struct Site<'t> {
    file: u32,
    at: u32,
    entry: Option<usize>,
    /// Where a keep that names no zone binds: its floors, its other bounds.
    own: (Places, Places),
    /// Whether floors that name a zone bind on both of its sides: those of a finding that isn't one-sided.
    even: bool,
    /// Whether it is the body of a finding on the card.
    of_finding: bool,
    /// A guard's reach, likewise.
    reach: Option<(Places, Places)>,
    steps: Vec<Step<'t>>,
    cause: Option<&'t ToolRef>,
    finding: Option<SmolStr>,
    coat: Option<SmolStr>,
    tool: Option<SmolStr>,
    guard: Vec<SmolStr>,
}

impl<'t> Site<'t> {
    /// What must hold, as it stands here.
    fn rule(&self, must: Must<'t>, span: Span, places: Places, whence: Option<String>) -> Rule<'t> {
        let span = span.shifted(self.at);
        Rule {
            must,
            file: self.file,
            start: span.start,
            end: span.end,
            places,
            steps: self.steps.clone(),
            entry: self.entry,
            of_finding: self.of_finding,
            cause: self.cause,
            whence,
            coat: self.coat.clone(),
            tool: self.tool.clone(),
            guard: self.guard.clone(),
        }
    }
}

struct Gather<'a, 't> {
    trade: &'a Trade<'t>,
    /// Who may answer for an override, each with the text that names them.
    seniors: Vec<(usize, &'t str)>,
    dog: &'a Dog<'t>,
    out: Vec<Rule<'t>>,
    taken: Vec<Taken<'t>>,
}

/// All rules for this dog.
pub(super) fn rules<'t>(case: &Case<'t>, trade: &Trade<'t>, dog: &Dog<'t>) -> Vec<Rule<'t>> {
    let lines =
        case.chain.iter().enumerate().flat_map(|(i, (_, _, stmts))| fields(stmts, "seniors").map(move |f| (i, f)));
    let seniors = lines.flat_map(|(i, f)| f.values.iter().map(move |v| (i, v))).filter_map(|(i, v)| match &v.kind {
        ValueKind::Text(text) => Some((i, text.text.trim())),
        _ => None,
    });
    let mut g = Gather { trade, seniors: seniors.collect(), dog, out: Vec::new(), taken: Vec::new() };
    for text in case.trade {
        for (at, block) in &text.blocks {
            g.declared(text.file, *at, block);
        }
    }
    for (i, (file, at, stmts)) in case.chain.iter().enumerate() {
        let site = g.site(*file, *at, Some(i));
        g.body(&site, stmts);
    }
    let (file, at, _) = case.card;
    for f in &dog.found {
        g.found(file, at, f);
    }
    let Gather { mut out, taken, .. } = g;
    // A recipe or wish takes back what a house or base asks for; what the basics or a finding keep has no entry, and stands.
    for rule in &mut out {
        let Must::Bound(bound) = rule.must else { continue };
        let Some(entry) = rule.entry else { continue };
        let same = |t: &&Taken<'_>| {
            entry < t.entry
                && case.houses.get(entry).is_some_and(|within| within & t.by != 0)
                && rule.guard == t.guard
                && grammar::shape_bound(bound) == grammar::shape_bound(t.bound)
        };
        for t in taken.iter().filter(same) {
            subtract(&mut rule.places, &t.places);
        }
    }
    out.retain(|rule| rule.places.iter().any(|p| *p != 0));
    out
}

/// Whether a bound is a floor: it binds on both sides of a pair.
const fn is_floor(kind: &BoundKind) -> bool {
    matches!(kind, BoundKind::NoCloser(_) | BoundKind::NoShorter(_))
}

/// Looks and manners aren't welfare: a plan can't break them.
const fn is_welfare(kind: &BoundKind) -> bool {
    match kind {
        BoundKind::NoCloser(_)
        | BoundKind::NoShorter(_)
        | BoundKind::Gap(_)
        | BoundKind::Untouched
        | BoundKind::Never(_)
        | BoundKind::Only(_)
        | BoundKind::Direction { .. }
        | BoundKind::Passes(_)
        | BoundKind::AtStretch(_)
        | BoundKind::InAll(_)
        | BoundKind::First
        | BoundKind::Last
        | BoundKind::Refer => true,
        BoundKind::AtMost(_) | BoundKind::Open | BoundKind::Manner(_) => false,
    }
}

impl<'t> Gather<'_, 't> {
    fn site(&self, file: u32, at: u32, entry: Option<usize>) -> Site<'t> {
        let all = self.trade.everywhere();
        Site {
            file,
            at,
            entry,
            own: (all.clone(), all),
            even: false,
            of_finding: false,
            reach: None,
            steps: Vec::new(),
            cause: None,
            finding: None,
            coat: None,
            tool: None,
            guard: Vec::new(),
        }
    }

    /// The keeps of zones, groups and marks bind every dog; those of a coat or tool wherever that is.
    fn declared(&mut self, file: u32, at: u32, block: &'t Block) {
        let Some(name) = &block.name else { return };
        let keeps = block.body.iter().any(|s| matches!(s.kind, StmtKind::Keep(_)));
        // Most blocks keep nothing, and that is soon told.
        if !keeps && block.kind != BlockKind::Group {
            return;
        }
        if word(&block.body, "sex").is_some_and(|s| self.dog.is_other_sex(&s)) {
            return;
        }
        if keeps {
            let mut site = self.site(file, at, None);
            let own = match block.kind {
                BlockKind::Zone | BlockKind::Group => Some(self.trade.named(&name.text)),
                BlockKind::Mark => Some(self.trade.listed(&fields(&block.body, "on").collect::<Vec<_>>())),
                BlockKind::Coat => {
                    site.coat = Some(name.text.clone());
                    Some(self.trade.everywhere())
                }
                BlockKind::Tool => {
                    site.tool = Some(name.text.to_lowercase().into());
                    Some(self.trade.everywhere())
                }
                _ => None,
            };
            if let Some(own) = own {
                site.own = (own.clone(), own);
                for s in &block.body {
                    if let StmtKind::Keep(k) = &s.kind {
                        self.keep(&site, k, s.span);
                    }
                }
            }
        }
        if block.kind == BlockKind::Group {
            for s in &block.body {
                if let StmtKind::Block(b) = &s.kind {
                    self.declared(file, at, b);
                }
            }
        }
    }

    /// The statements of a house, recipe or wish.
    fn body(&mut self, site: &Site<'t>, stmts: &'t [Stmt]) {
        let mut before: Vec<Step<'t>> = Vec::new();
        for s in stmts {
            match &s.kind {
                StmtKind::When { cond, body } => {
                    let step = Step { cond, not: false, entry: site.entry };
                    self.inside(site, &[], Some(step), &body.stmts);
                    before = vec![Step { not: true, ..step }];
                    continue;
                }
                StmtKind::Else { cond, body } => {
                    let step = cond.as_ref().map(|cond| Step { cond, not: false, entry: site.entry });
                    self.inside(site, &before, step, &body.stmts);
                    before.extend(step.map(|s| Step { not: true, ..s }));
                    continue;
                }
                StmtKind::Guard { findings, body } => {
                    let main = |i: usize| self.trade.findings.get(i).map(|d| d.name.clone());
                    let mut guard: Vec<SmolStr> =
                        findings.iter().filter_map(|w| self.trade.finding(&w.text).and_then(main)).collect();
                    guard.sort_unstable();
                    let named = findings.iter().map(|w| (&w.text, self.trade.finding(&w.text))).collect::<Vec<_>>();
                    let mut reach: Option<(Places, Places)> = None;
                    for f in &self.dog.found {
                        let meant = named
                            .iter()
                            .any(|(word, decl)| if decl.is_some() { f.decl == *decl } else { f.name == **word });
                        if f.other || !meant {
                            continue;
                        }
                        let (floors, places) =
                            reach.get_or_insert_with(|| (self.trade.nowhere(), self.trade.nowhere()));
                        let located =
                            f.decl.and_then(|i| self.trade.findings.get(i)).is_some_and(|d| matches!(d.on, On::Any));
                        if located {
                            unite(floors, &f.floors);
                            unite(places, &f.places);
                        } else {
                            *floors = self.trade.everywhere();
                            *places = self.trade.everywhere();
                        }
                    }
                    if let Some((mut floors, mut places)) = reach {
                        if let Some((f, p)) = &site.reach {
                            meet(&mut floors, f);
                            meet(&mut places, p);
                        }
                        let inner = Site {
                            reach: Some((floors, places)),
                            finding: findings.first().map(|w| w.text.clone()),
                            guard,
                            ..site.clone()
                        };
                        self.body(&inner, &body.stmts);
                    }
                }
                StmtKind::Lasts { body: Some(body), .. } => self.body(site, &body.stmts),
                StmtKind::Keep(k) => self.keep(site, k, s.span),
                StmtKind::Order(o) => self.sequence(site, o, s.span),
                StmtKind::Override(o) => self.take_back(site, o),
                StmtKind::Block(b) => self.declared(site.file, site.at, b),
                _ => {}
            }
            before.clear();
        }
    }

    fn inside(&mut self, site: &Site<'t>, before: &[Step<'t>], step: Option<Step<'t>>, stmts: &'t [Stmt]) {
        let mut inner = site.clone();
        inner.steps.extend(before);
        inner.steps.extend(step);
        self.body(&inner, stmts);
    }

    /// The keeps of a finding on the card.
    fn found(&mut self, file: u32, at: u32, f: &Found<'t>) {
        if f.other {
            let site = Site { of_finding: true, ..self.site(file, at, None) };
            let whence = f.text.clone();
            self.out.push(site.rule(Must::Other, f.span, f.places.clone(), whence));
            return;
        }
        let Some(decl) = f.decl.and_then(|i| self.trade.findings.get(i)) else { return };
        let site = Site {
            own: (f.floors.clone(), f.places.clone()),
            even: !decl.one_side,
            of_finding: true,
            cause: f.cause,
            finding: Some(decl.name.clone()),
            ..self.site(decl.file, decl.at, None)
        };
        for s in decl.body {
            if let StmtKind::Keep(k) = &s.kind {
                // A spot is gone round: the zone about it is worked as ever.
                if decl.spot && k.zones.is_none() {
                    continue;
                }
                self.keep(&site, k, s.span);
            }
        }
    }

    /// What nobody answers for, or what hangs on a condition, takes nothing back; nor can what is for a vet be.
    fn take_back(&mut self, site: &Site<'t>, o: &'t Override) {
        let because = o.keep.because.as_ref().is_some_and(|t| !t.text.trim().is_empty());
        let by = o.by.as_ref().map_or("", |t| t.text.trim());
        let (Some(entry), Some(bound)) = (site.entry, o.keep.bounds.first()) else { return };
        let named = self.seniors.iter().filter(|(_, senior)| senior.eq_ignore_ascii_case(by));
        let bit = |(text, _): &(usize, &str)| u32::try_from(*text).ok().and_then(|text| 1u64.checked_shl(text));
        let by = named.filter_map(bit).fold(0, |all, bit| all | bit);
        if !because || !site.steps.is_empty() || matches!(bound.kind, BoundKind::Refer) {
            return;
        }
        let places = o.keep.zones.as_ref().map_or_else(|| self.trade.everywhere(), |z| self.trade.zones(z));
        self.taken.push(Taken { bound, places, guard: site.guard.clone(), entry, by });
    }

    /// What comes before what. In a guard it holds for the dog with the finding, wherever that is.
    fn sequence(&mut self, site: &Site<'t>, o: &'t Order, span: Span) {
        let whence = site.finding.as_ref().map(ToString::to_string);
        self.out.push(site.rule(Must::Before(&o.then), span, self.trade.places(&o.first), whence));
    }

    fn keep(&mut self, site: &Site<'t>, k: &'t Keep, span: Span) {
        let named = k.zones.as_ref().map(|z| self.trade.zones(z));
        let reason = k.because.as_ref().map(|b| b.text.clone());
        for bound in &k.bounds {
            if !is_welfare(&bound.kind) {
                continue;
            }
            let floor = is_floor(&bound.kind);
            let pick = |pair: &(Places, Places)| if floor { pair.0.clone() } else { pair.1.clone() };
            let mut places = match &named {
                Some(named) if floor && site.even => mirrored(named),
                Some(named) => named.clone(),
                None => pick(&site.own),
            };
            if let Some(reach) = &site.reach {
                meet(&mut places, &pick(reach));
            }
            if places.iter().all(|p| *p == 0) {
                continue;
            }
            let whence = reason.clone().or_else(|| site.finding.as_ref().map(ToString::to_string));
            self.out.push(site.rule(Must::Bound(bound), span, places, whence));
        }
    }
}
