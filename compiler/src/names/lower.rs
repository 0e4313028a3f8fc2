//! Declarations of the trade, from tree to [`Trade`]: the basics first, then what a house adds.

use super::fields::{Fields, only, spaced, value_name};
use super::keeps::{self, KeepHead};
use super::nearest;
use super::scope::Scope;
use super::sites::{Site, Sites};
use super::sums::{Env, Sums};
use super::trade::*;
use crate::diagnostic::{Diagnostic, code};
use crate::measure::{BodyUnits, Dimension, Factor, Growth, Interval, Length, Rate, Time};
use crate::source::{FileId, Place};
use grammar::tree::{Block, BlockKind, Gap, Stmt, StmtKind, ValueKind, Word};
use smol_str::SmolStr;
use std::collections::BTreeMap;

/// A block and where it stands.
#[derive(Clone, Copy, Debug)]
pub struct Decl<'t> {
    /// Its file.
    pub file: FileId,
    /// Where it begins in the file.
    pub at: u32,
    /// The block.
    pub block: &'t Block,
}

impl Decl<'_> {
    /// The place of its name, or of its keyword.
    #[must_use]
    pub fn place(&self) -> Place {
        let span = self.block.name.as_ref().map_or(self.block.keyword.span, |n| n.span);
        Place { file: self.file, start: self.at + span.start, end: self.at + span.end }
    }

    /// Its name.
    #[must_use]
    pub fn name(&self) -> SmolStr {
        self.block.name.as_ref().map(|n| n.text.clone()).unwrap_or_default()
    }
}

/// Adds what `decls` declare to `trade`. Names may be used before they are declared.
pub fn add<'t>(trade: &mut Trade, decls: &[Decl<'t>], out: &mut Vec<Diagnostic>) {
    let mut adder = Adder { trade, out, nested: Vec::new() };
    for decl in decls {
        adder.names(*decl, None);
    }
    adder.read();
}

struct Adder<'a, 't> {
    trade: &'a mut Trade,
    out: &'a mut Vec<Diagnostic>,
    nested: Vec<Decl<'t>>,
}

/// The lines of a zone, and so on, as the language page lists them.
const ZONE: &[&str] =
    &["calls", "paired", "sex", "station", "skin", "share", "region", "borders", "hidden", "caution"];
const GROUP: &[&str] = &["calls", "zones"];
const MARK: &[&str] = &["calls", "on", "sex", "find", "caution", "paired"];
const COAT: &[&str] = &[
    "calls", "texture", "undercoat", "length", "density", "genes", "with-coat", "across-coat", "comb-with-coat",
    "first-pass", "shows", "shows-share", "grows", "grows-to", "stands-to", "regrowth", "shortest", "strips", "dries",
    "mats-after",
];
const FINDING: &[&str] =
    &["calls", "on", "cause", "margin", "spot", "one-side", "reply", "vet", "stops-visit", "caution", "owner"];
const TOOL: &[&str] = &[
    "calls", "kind", "leaves", "closeness", "gap", "does", "over", "bare", "teeth", "removes", "rate", "warms", "caution",
];
const KIT: &[&str] = &["owns", "finger", "hand"];
const STEP: &[&str] = &["calls", "stage", "on", "uses", "asks", "good-for", "minutes", "after", "wet", "caution"];
const MANNER: &[&str] = &["calls", "on", "closes", "along"];

impl<'t> Adder<'_, 't> {
    /// First pass: who is called what.
    fn names(&mut self, decl: Decl<'t>, parent: Option<Sites>) -> Sites {
        let _ = parent;
        let place = decl.place();
        let name = decl.name();
        match decl.block.kind {
            BlockKind::Zone => return self.zone(decl, name, place),
            BlockKind::Group => return self.group(decl, name, place),
            _ => {}
        }
        let index = &mut self.trade.index;
        let taken = match decl.block.kind {
            BlockKind::Mark => {
                let id = MarkId(count(&self.trade.marks));
                self.trade.marks.push(Mark {
                    name: name.clone(),
                    about: String::new(),
                    sites: Sites::NONE,
                    sex: None,
                    find: false,
                    cautions: Vec::new(),
                    place,
                });
                index.places.insert(name.clone(), PlaceName::Mark(id)).is_some()
            }
            BlockKind::Coat => index.coats.insert(name.clone(), CoatId(count(&self.trade.coats))).is_some(),
            BlockKind::Finding => {
                index.findings.insert(name.clone(), FindingId(count(&self.trade.findings))).is_some()
            }
            BlockKind::Tool => index.tools.insert(name.clone(), ToolId(count(&self.trade.tools))).is_some(),
            BlockKind::Kit => index.kits.insert(name.clone(), KitId(count(&self.trade.kits))).is_some(),
            BlockKind::Step => index.steps.insert(name.clone(), StepId(count(&self.trade.steps))).is_some(),
            BlockKind::Form | BlockKind::Motion => {
                index.manners.insert(name.clone(), MannerId(count(&self.trade.manners))).is_some()
            }
            _ => return Sites::NONE,
        };
        self.reserve(decl, place);
        self.nested.push(decl);
        if taken {
            self.twice(&name, place);
        }
        let synonyms = calls(decl.block);
        self.synonyms(decl, &name, &synonyms);
        Sites::NONE
    }

    /// Takes the place of the value that the second pass fills in, so that numbers are known at once.
    fn reserve(&mut self, decl: Decl<'t>, place: Place) {
        let name = decl.name();
        let trade = &mut *self.trade;
        match decl.block.kind {
            BlockKind::Coat => trade.coats.push(empty_coat(name, place)),
            BlockKind::Finding => trade.findings.push(empty_finding(name, place)),
            BlockKind::Tool => trade.tools.push(empty_tool(name, place)),
            BlockKind::Kit => trade.kits.push(Kit { name, owns: Vec::new(), place }),
            BlockKind::Step => trade.steps.push(Step {
                name,
                about: String::new(),
                stage: None,
                on: Sites::NONE,
                uses: None,
                asks: Vec::new(),
                good_for: None,
                minutes: None,
                after: Vec::new(),
                wet: true,
                cautions: Vec::new(),
                place,
            }),
            BlockKind::Form | BlockKind::Motion => trade.manners.push(Manner {
                name,
                about: String::new(),
                on: Sites::NONE,
                closes: None,
                along: None,
                motion: decl.block.kind == BlockKind::Motion,
                place,
            }),
            _ => {}
        }
    }

    fn twice(&mut self, name: &str, place: Place) {
        self.out.push(
            Diagnostic::error(code::M011, place, format!("`{name}` is declared twice"))
                .help("Two things can't share a name; call one of them something else."),
        );
    }

    fn synonyms(&mut self, decl: Decl<'t>, name: &SmolStr, synonyms: &[Word]) {
        let index = &mut self.trade.index;
        let mut clashes = Vec::new();
        for word in synonyms {
            let text = word.text.clone();
            if text == *name {
                continue;
            }
            let taken = match decl.block.kind {
                BlockKind::Zone | BlockKind::Group | BlockKind::Mark => {
                    let target = index.places.get(name).copied();
                    target.is_some_and(|t| index.places.insert(text, t).is_some_and(|old| old != t))
                }
                BlockKind::Coat => copy(&mut index.coats, name, text),
                BlockKind::Finding => copy(&mut index.findings, name, text),
                BlockKind::Tool => copy(&mut index.tools, name, text),
                BlockKind::Kit => copy(&mut index.kits, name, text),
                BlockKind::Step => copy(&mut index.steps, name, text),
                _ => copy(&mut index.manners, name, text),
            };
            if taken {
                clashes.push(word);
            }
        }
        for word in clashes {
            let place =
                Place { file: decl.file, start: decl.at + word.span.start, end: decl.at + word.span.end };
            self.twice(&word.text, place);
        }
    }

    fn zone(&mut self, decl: Decl<'t>, name: SmolStr, place: Place) -> Sites {
        let paired = has_flag(decl.block, "paired");
        let next = self.trade.zones.last().map_or(0, |z| z.site.0 + u8::from(z.paired) + 1);
        if next > 126 {
            self.out.push(Diagnostic::error(code::M024, place, "the body can't hold more than 126 places"));
            return Sites::NONE;
        }
        let id = ZoneId(count(&self.trade.zones));
        self.trade.zones.push(Zone {
            name: name.clone(),
            about: String::new(),
            paired,
            sex: None,
            station: Station::Side,
            skin: Skin::Flat,
            share: Factor(0),
            region: SmolStr::default(),
            borders: Vec::new(),
            hidden: false,
            cautions: Vec::new(),
            site: Site(next),
            place,
        });
        if self.trade.index.places.insert(name.clone(), PlaceName::Zone(id)).is_some() {
            self.twice(&name, place);
        }
        let synonyms = calls(decl.block);
        self.synonyms(decl, &name, &synonyms);
        self.nested.push(decl);
        self.trade.zones.get(id.0 as usize).map_or(Sites::NONE, Zone::sites)
    }

    fn group(&mut self, decl: Decl<'t>, name: SmolStr, place: Place) -> Sites {
        let id = count(&self.trade.groups.keys().collect::<Vec<_>>());
        let group = Group { id, about: String::new(), sites: Sites::NONE, place };
        if self.trade.groups.insert(name.clone(), group).is_some()
            | self.trade.index.places.insert(name.clone(), PlaceName::Group(id)).is_some()
        {
            self.twice(&name, place);
        }
        let synonyms = calls(decl.block);
        self.synonyms(decl, &name, &synonyms);
        let mut sites = Sites::NONE;
        for stmt in &decl.block.body {
            if let StmtKind::Block(block) = &stmt.kind {
                sites = sites | self.names(Decl { block, ..decl }, None);
            }
        }
        if let Some(group) = self.trade.groups.get_mut(&name) {
            group.sites = sites;
        }
        self.nested.push(decl);
        sites
    }

    /// Second pass: what the lines say. Groups that name other groups come after those.
    fn read(&mut self) {
        let decls = std::mem::take(&mut self.nested);
        let units = self.units(&decls);
        self.trade.units = Some(units);
        let mut groups: Vec<Decl<'t>> = decls.iter().copied().filter(|d| d.block.kind == BlockKind::Group).collect();
        // A group of groups is settled once its parts are; the depth of such chains is bounded by their number.
        for _ in 0..=groups.len() {
            let before: Vec<Sites> = self.trade.groups.values().map(|g| g.sites).collect();
            for decl in &groups {
                self.cross_group(*decl, &mut Vec::new());
            }
            if self.trade.groups.values().map(|g| g.sites).eq(before) {
                break;
            }
        }
        for decl in groups.drain(..) {
            let mut said = Vec::new();
            self.cross_group(decl, &mut said);
            self.out.append(&mut said);
            let mut scope = Scope::new(decl.file, decl.at, self.out);
            let fields = Fields::new(decl.block, GROUP, &mut scope, units);
            let about = fields.about();
            only(decl.block, &mut scope, |s| matches!(s.kind, StmtKind::Block(_)));
            if let Some(group) = self.trade.groups.get_mut(&decl.name()) {
                group.about = about;
            }
        }
        // Tools, steps and shapes first: keeps name them.
        for pass in [0, 1, 2] {
            for decl in &decls {
                let due = match decl.block.kind {
                    BlockKind::Tool | BlockKind::Step | BlockKind::Form | BlockKind::Motion => 0,
                    BlockKind::Kit | BlockKind::Coat => 1,
                    BlockKind::Group => continue,
                    _ => 2,
                };
                if due == pass {
                    self.one(*decl, units);
                }
            }
        }
    }

    fn units(&mut self, decls: &[Decl<'t>]) -> BodyUnits {
        let mut units = self.trade.units.unwrap_or(BodyUnits { finger: Length(0), hand: Length(0) });
        for decl in decls.iter().filter(|d| d.block.kind == BlockKind::Kit) {
            let mut scope = Scope::new(decl.file, decl.at, self.out);
            let mut fields = Fields::new(decl.block, KIT, &mut scope, units);
            if let Some(finger) = fields.measure("finger", Dimension::Length) {
                units.finger = Length(finger);
            }
            if let Some(hand) = fields.measure("hand", Dimension::Length) {
                units.hand = Length(hand);
            }
        }
        units
    }

    fn cross_group(&mut self, decl: Decl<'t>, said: &mut Vec<Diagnostic>) {
        let mut scope = Scope::new(decl.file, decl.at, said);
        let sites = listed(decl.block, "zones", self.trade, &mut scope);
        if let Some(group) = self.trade.groups.get_mut(&decl.name()) {
            group.sites = group.sites | sites;
        }
    }

    fn one(&mut self, decl: Decl<'t>, units: BodyUnits) {
        let mut scope = Scope::new(decl.file, decl.at, self.out);
        match decl.block.kind {
            BlockKind::Zone => read_zone(self.trade, decl, units, &mut scope),
            BlockKind::Mark => read_mark(self.trade, decl, units, &mut scope),
            BlockKind::Coat => read_coat(self.trade, decl, units, &mut scope),
            BlockKind::Finding => read_finding(self.trade, decl, units, &mut scope),
            BlockKind::Tool => read_tool(self.trade, decl, units, &mut scope),
            BlockKind::Kit => read_kit(self.trade, decl, units, &mut scope),
            BlockKind::Step => read_step(self.trade, decl, units, &mut scope),
            BlockKind::Form | BlockKind::Motion => read_manner(self.trade, decl, units, &mut scope),
            _ => {}
        }
    }
}

fn count<T>(list: &[T]) -> u16 {
    u16::try_from(list.len()).unwrap_or(u16::MAX)
}

fn copy<T: Copy + PartialEq>(index: &mut BTreeMap<SmolStr, T>, name: &SmolStr, synonym: SmolStr) -> bool {
    let Some(target) = index.get(name).copied() else { return false };
    index.insert(synonym, target).is_some_and(|old| old != target)
}

fn has_flag(block: &Block, name: &str) -> bool {
    block.body.iter().any(|stmt| matches!(&stmt.kind, StmtKind::Field(f) if f.name.text == name))
}

fn calls(block: &Block) -> Vec<Word> {
    let mut words = Vec::new();
    for stmt in &block.body {
        if let StmtKind::Field(field) = &stmt.kind
            && field.name.text == "calls"
        {
            for value in &field.values {
                match &value.kind {
                    ValueKind::Text(text) => {
                        let text = SmolStr::from(text.text.to_lowercase().replace(' ', "-"));
                        words.push(Word { text, span: value.span });
                    }
                    _ => words.extend(value_name(value)),
                }
            }
        }
    }
    words
}

/// The sites named by a plain line.
fn listed(block: &Block, line: &str, trade: &Trade, scope: &mut Scope<'_>) -> Sites {
    let mut sites = Sites::NONE;
    for stmt in &block.body {
        if let StmtKind::Field(field) = &stmt.kind
            && field.name.text == line
        {
            for value in &field.values {
                if let Some(word) = value_name(value) {
                    let zone = grammar::tree::ZoneRef { side: None, name: word, span: value.span };
                    sites = sites | keeps::one(&zone, trade, scope);
                }
            }
        }
    }
    sites
}

fn keep_lines(block: &Block, head: &KeepHead<'_>, trade: &Trade, units: BodyUnits, scope: &mut Scope<'_>) -> Vec<KeepLine> {
    let env = Env::new();
    let sums = Sums { trade, env: &env, units, kit: None };
    let mut lines = Vec::new();
    for stmt in &block.body {
        if let StmtKind::Keep(keep) = &stmt.kind {
            lines.append(&mut keeps::lines(keep, head, &sums, scope));
        }
    }
    lines
}

fn is_keep(stmt: &Stmt) -> bool {
    matches!(stmt.kind, StmtKind::Keep(_))
}

fn sex_line(fields: &mut Fields<'_, '_, '_>) -> Option<Sex> {
    fields.word("sex", &["dog", "bitch"]).map(|w| if w == "dog" { Sex::Dog } else { Sex::Bitch })
}

fn read_zone(trade: &mut Trade, decl: Decl<'_>, units: BodyUnits, scope: &mut Scope<'_>) {
    let name = decl.name();
    let Some(&PlaceName::Zone(id)) = trade.index.places.get(&name) else { return };
    let mut fields = Fields::new(decl.block, ZONE, scope, units);
    let about = fields.about();
    let sex = sex_line(&mut fields);
    let station = match fields.word("station", &["head", "front", "side", "under", "rear"]).as_deref() {
        Some("head") => Station::Head,
        Some("front") => Station::Front,
        Some("under") => Station::Under,
        Some("rear") => Station::Rear,
        _ => Station::Side,
    };
    let skin = match fields.word("skin", &["flat", "thin", "fold", "edge"]).as_deref() {
        Some("thin") => Skin::Thin,
        Some("fold") => Skin::Fold,
        Some("edge") => Skin::Edge,
        _ => Skin::Flat,
    };
    let share = Factor(fields.measure("share", Dimension::Factor).unwrap_or(0));
    let region = fields.word("region", &[]).unwrap_or_default();
    let borders = fields.names("borders");
    let hidden = fields.flag("hidden");
    let cautions = fields.texts("caution");
    let borders = borders
        .iter()
        .filter_map(|word| match trade.index.places.get(&word.text) {
            Some(PlaceName::Zone(id)) => Some(*id),
            _ => {
                let place = scope.place(word.span);
                scope.say(Diagnostic::error(code::M001, place, format!("no leaf zone is called `{}`", word.text)));
                None
            }
        })
        .collect();
    only(decl.block, scope, is_keep);
    let sites = trade.zones.get(id.0 as usize).map_or(Sites::NONE, Zone::sites);
    let head = KeepHead { on: KeepOn::Sites(sites), owner: &name, sex };
    let mut keeps = keep_lines(decl.block, &head, trade, units, scope);
    trade.keeps.append(&mut keeps);
    if let Some(zone) = trade.zones.get_mut(id.0 as usize) {
        *zone = Zone { about, sex, station, skin, share, region, borders, hidden, cautions, ..zone.clone() };
    }
}

fn read_mark(trade: &mut Trade, decl: Decl<'_>, units: BodyUnits, scope: &mut Scope<'_>) {
    let name = decl.name();
    let Some(&PlaceName::Mark(id)) = trade.index.places.get(&name) else { return };
    let sites = listed(decl.block, "on", trade, scope);
    let mut fields = Fields::new(decl.block, MARK, scope, units);
    let about = fields.about();
    let sex = sex_line(&mut fields);
    let find = fields.flag("find");
    let cautions = fields.texts("caution");
    only(decl.block, scope, is_keep);
    let head = KeepHead { on: KeepOn::Sites(sites), owner: &name, sex };
    let mut keeps = keep_lines(decl.block, &head, trade, units, scope);
    trade.keeps.append(&mut keeps);
    if let Some(mark) = trade.marks.get_mut(id.0 as usize) {
        *mark = Mark { about, sites, sex, find, cautions, ..mark.clone() };
    }
}

fn factor(interval: Option<Interval<i64>>) -> Interval<Factor> {
    interval.map_or(Interval::point(Factor(1_000_000)), |i| Interval { low: Factor(i.low), high: Factor(i.high) })
}

fn read_coat(trade: &mut Trade, decl: Decl<'_>, units: BodyUnits, scope: &mut Scope<'_>) {
    let Some(&id) = trade.index.coats.get(&decl.name()) else { return };
    let mut fields = Fields::new(decl.block, COAT, scope, units);
    let dries = fields.names("dries").first().cloned();
    let coat = Coat {
        name: decl.name(),
        about: fields.about(),
        texture: fields.word("texture", &[]).unwrap_or_default(),
        undercoat: fields.word("undercoat", &["none", "some", "heavy"]).unwrap_or_default(),
        genes: fields.names("genes").into_iter().map(|w| w.text).collect(),
        with_coat: factor(fields.interval("with-coat", Dimension::Factor)),
        across_coat: factor(fields.interval("across-coat", Dimension::Factor)),
        comb_with_coat: factor(fields.interval("comb-with-coat", Dimension::Factor)),
        first_pass: factor(fields.interval("first-pass", Dimension::Factor)),
        shows: Length(fields.measure("shows", Dimension::Length).unwrap_or(0)),
        shows_share: Factor(fields.measure("shows-share", Dimension::Factor).unwrap_or(0)),
        grows: fields
            .interval("grows", Dimension::Growth)
            .map_or(Interval::point(Growth(0)), |i| Interval { low: Growth(i.low), high: Growth(i.high) }),
        grows_to: fields.measure("grows-to", Dimension::Length).map(Length),
        stands_to: fields.measure("stands-to", Dimension::Length).map(Length),
        shortest: fields.measure("shortest", Dimension::Length).map(Length),
        regrowth_poor: fields.word("regrowth", &["poor", "good"]).is_some_and(|w| w == "poor"),
        strips: fields.word("strips", &["yes", "no"]).is_some_and(|w| w == "yes"),
        dries: dries.as_ref().and_then(|w| trade.index.steps.get(&w.text).copied()),
        place: decl.place(),
    };
    if let (Some(word), None) = (&dries, coat.dries) {
        scope.say(unknown_step(trade, word, scope.place(word.span)));
    }
    only(decl.block, scope, |_| false);
    if let Some(slot) = trade.coats.get_mut(id.0 as usize) {
        *slot = coat;
    }
}

/// The message for a step that nobody declared.
pub fn unknown_step(trade: &Trade, word: &Word, place: Place) -> Diagnostic {
    let diagnostic = Diagnostic::error(code::M007, place, format!("no step is called `{}`", word.text));
    match nearest(&word.text, trade.index.steps.keys().map(SmolStr::as_str)) {
        Some(near) => diagnostic.help(format!("Did you mean `{near}`?")).fix(format!("write `{near}`"), place, near),
        None => diagnostic.help("Steps are declared in the basics (`bath`, `nails`, `dry stretch` …) or by the house."),
    }
}

fn read_finding(trade: &mut Trade, decl: Decl<'_>, units: BodyUnits, scope: &mut Scope<'_>) {
    let name = decl.name();
    let Some(&id) = trade.index.findings.get(&name) else { return };
    let on = finding_place(trade, decl, scope);
    let mut fields = Fields::new(decl.block, FINDING, scope, units);
    let reply = match fields.word("reply", &["raise", "leave", "refer", "answer"]).as_deref() {
        Some("leave") => Reply::Leave,
        Some("refer") => Reply::Refer,
        Some("answer") => Reply::Answer,
        _ => Reply::Raise,
    };
    let vet = match fields.word("vet", &["now", "note"]).as_deref() {
        Some("now") => Some(Vet::Now),
        Some(_) => Some(Vet::Note),
        None => None,
    };
    let about = fields.about();
    let margin = fields.measure("margin", Dimension::Length).map(Length);
    let (spot, one_side) = (fields.flag("spot"), fields.flag("one-side"));
    let by_tool = fields.word("cause", &["tool"]).is_some();
    let stops_visit = fields.flag("stops-visit");
    let (cautions, owner) = (fields.texts("caution"), fields.texts("owner"));
    only(decl.block, scope, is_keep);
    let head = KeepHead { on: KeepOn::Place, owner: &name, sex: None };
    let keeps = keep_lines(decl.block, &head, trade, units, scope);
    let place = decl.place();
    if let Some(slot) = trade.findings.get_mut(id.0 as usize) {
        *slot = Finding {
            name, about, on, margin, spot, one_side, by_tool, keeps, reply, vet, stops_visit, cautions, owner, place,
        };
    }
}

fn finding_place(trade: &Trade, decl: Decl<'_>, scope: &mut Scope<'_>) -> Where {
    let line = decl.block.body.iter().find_map(|stmt| match &stmt.kind {
        StmtKind::Field(field) if field.name.text == "on" => Some(field),
        _ => None,
    });
    let Some(line) = line else { return Where::Card };
    if let [value] = line.values.as_slice()
        && let ValueKind::Words(words) = &value.kind
    {
        match spaced(words).as_str() {
            "any zone" | "any-zone" => return Where::Card,
            "whole dog" | "the whole dog" | "whole-dog" => return Where::Whole,
            _ => {}
        }
    }
    Where::Fixed(listed(decl.block, "on", trade, scope))
}

fn read_tool(trade: &mut Trade, decl: Decl<'_>, units: BodyUnits, scope: &mut Scope<'_>) {
    let Some(&id) = trade.index.tools.get(&decl.name()) else { return };
    const KINDS: &[&str] = &[
        "blade", "comb", "clipper", "shears", "thinners", "knife", "hand", "carder", "rake", "brush", "dryer", "nails",
    ];
    let mut fields = Fields::new(decl.block, TOOL, scope, units);
    let kind = match fields.word("kind", KINDS).as_deref() {
        Some("blade") => ToolKind::Blade,
        Some("comb") => ToolKind::Comb,
        Some("clipper") => ToolKind::Clipper,
        Some("thinners") => ToolKind::Thinners,
        Some("knife") => ToolKind::Knife,
        Some("hand") => ToolKind::Hand,
        Some("carder") => ToolKind::Carder,
        Some("rake") => ToolKind::Rake,
        Some("brush") => ToolKind::Brush,
        Some("dryer") => ToolKind::Dryer,
        Some("nails") => ToolKind::Nails,
        Some(_) => ToolKind::Shears,
        None => {
            let place = decl.place();
            fields.scope().say(
                Diagnostic::error(code::M014, place, format!("`{}` doesn't say its kind", decl.name()))
                    .help(format!("Add a line `kind`, one of: {}.", KINDS.join(", "))),
            );
            ToolKind::Shears
        }
    };
    let leaves = fields
        .interval("leaves", Dimension::Length)
        .map(|i| Interval { low: Length(i.low), high: Length(i.high) });
    let gap = fields.word("gap", &["fine", "medium", "open", "skip"]).map(|w| match w.as_str() {
        "fine" => Gap::Fine,
        "medium" => Gap::Medium,
        "open" => Gap::Open,
        _ => Gap::Skip,
    });
    let bare = match fields.word("bare", &["never", "named", "trained"]).as_deref() {
        Some("never") => Bare::Never,
        Some("named") => Bare::Named,
        Some(_) => Bare::Trained,
        None => Bare::Yes,
    };
    let over = fields.names("over");
    let tool = Tool {
        name: decl.name(),
        about: fields.about(),
        kind,
        leaves,
        closeness: fields.measure("closeness", Dimension::Length).map(Length).or(leaves.map(|l| l.low)),
        gap,
        does: fields.names("does").into_iter().map(|w| w.text).collect(),
        over: Vec::new(),
        bare,
        rate: fields.interval("rate", Dimension::Rate).map(|i| Interval { low: Rate(i.low), high: Rate(i.high) }),
        warms: fields.interval("warms", Dimension::Time).map(|i| Interval { low: Time(i.low), high: Time(i.high) }),
        cautions: fields.texts("caution"),
        place: decl.place(),
    };
    only(decl.block, scope, |_| false);
    for (missing, line) in [(tool.gap.is_none(), "gap fine"), (tool.closeness.is_none(), "closeness 1.5 mm")] {
        if missing && matches!(kind, ToolKind::Blade | ToolKind::Comb) {
            let message = format!("`{}` doesn't tell its {}", tool.name, line.split(' ').next().unwrap_or(line));
            scope.say(
                Diagnostic::error(code::M014, decl.place(), message)
                    .why("Without it nobody can say where the tool is safe; it counts as the worst there is.")
                    .help(format!("Add a line such as `{line}`.")),
            );
        }
    }
    let over =
        over.iter().filter_map(|w| keeps::tool(&w.text, scope.place(w.span), trade, scope)).collect();
    if let Some(slot) = trade.tools.get_mut(id.0 as usize) {
        *slot = Tool { over, ..tool };
    }
}

fn read_kit(trade: &mut Trade, decl: Decl<'_>, units: BodyUnits, scope: &mut Scope<'_>) {
    let Some(&id) = trade.index.kits.get(&decl.name()) else { return };
    let env = Env::new();
    let mut owns: Vec<(ToolId, u32)> = Vec::new();
    let mut many = 1;
    for stmt in &decl.block.body {
        let StmtKind::Field(field) = &stmt.kind else { continue };
        if field.name.text != "owns" {
            continue;
        }
        for value in &field.values {
            let sums = Sums { trade, env: &env, units, kit: None };
            let tool = match &value.kind {
                ValueKind::Number(number) if number.unit == grammar::tree::Unit::None => {
                    many = u32::try_from(number.num / number.den.max(1)).unwrap_or(1);
                    continue;
                }
                ValueKind::Tool(tool) => match &tool.kind {
                    grammar::tree::ToolRefKind::Comb { length: Some(number), .. } => keeps::comb(number, &sums, scope),
                    _ => value_name(value)
                        .and_then(|w| keeps::tool(&w.text, scope.place(value.span), trade, scope)),
                },
                _ => value_name(value).and_then(|w| keeps::tool(&w.text, scope.place(value.span), trade, scope)),
            };
            owns.extend(tool.map(|t| (t, many)));
            many = 1;
        }
    }
    only(decl.block, scope, |_| false);
    if let Some(kit) = trade.kits.get_mut(id.0 as usize) {
        kit.owns = owns;
    }
}

fn read_step(trade: &mut Trade, decl: Decl<'_>, units: BodyUnits, scope: &mut Scope<'_>) {
    let Some(&id) = trade.index.steps.get(&decl.name()) else { return };
    const STAGES: &[&str] = &["intake", "dry-prep", "rough", "wash", "dry", "check", "finish", "last-look"];
    let on = listed(decl.block, "on", trade, scope);
    let mut fields = Fields::new(decl.block, STEP, scope, units);
    let stage = match fields.word("stage", STAGES).as_deref() {
        Some("intake") => Some(Stage::Intake),
        Some("dry-prep") => Some(Stage::DryPrep),
        Some("rough") => Some(Stage::Rough),
        Some("wash") => Some(Stage::Wash),
        Some("dry") => Some(Stage::Dry),
        Some("check") => Some(Stage::Check),
        Some("last-look") => Some(Stage::LastLook),
        Some(_) => Some(Stage::Finish),
        None => None,
    };
    let after = fields.names("after");
    let uses = fields.names("uses").first().cloned();
    let step = Step {
        name: decl.name(),
        about: fields.about(),
        stage,
        on,
        uses: uses.as_ref().and_then(|w| trade.index.tools.get(&w.text).copied()),
        asks: fields.names("asks").into_iter().map(|w| w.text).collect(),
        good_for: fields.measure("good-for", Dimension::Time).map(Time),
        minutes: fields.interval("minutes", Dimension::Time).map(|i| Interval { low: Time(i.low), high: Time(i.high) }),
        after: after.iter().map(|w| w.text.clone()).collect(),
        wet: fields.word("wet", &["yes", "no"]).is_none_or(|w| w == "yes"),
        cautions: fields.texts("caution"),
        place: decl.place(),
    };
    if let (Some(word), None) = (&uses, step.uses) {
        scope.say(keeps::unknown_tool(trade, &word.text, scope.place(word.span)));
    }
    for word in &after {
        if !trade.index.steps.contains_key(&word.text) {
            scope.say(unknown_step(trade, word, scope.place(word.span)));
        }
    }
    only(decl.block, scope, |_| false);
    if let Some(slot) = trade.steps.get_mut(id.0 as usize) {
        *slot = step;
    }
}

fn read_manner(trade: &mut Trade, decl: Decl<'_>, units: BodyUnits, scope: &mut Scope<'_>) {
    let Some(&id) = trade.index.manners.get(&decl.name()) else { return };
    let on = listed(decl.block, "on", trade, scope);
    let mut fields = Fields::new(decl.block, MANNER, scope, units);
    let manner = Manner {
        name: decl.name(),
        about: fields.about(),
        on,
        closes: fields.measure("closes", Dimension::Length).map(Length),
        along: fields
            .interval("along", Dimension::Length)
            .map(|i| Interval { low: Length(i.low), high: Length(i.high) }),
        motion: decl.block.kind == BlockKind::Motion,
        place: decl.place(),
    };
    only(decl.block, scope, |_| false);
    if let Some(slot) = trade.manners.get_mut(id.0 as usize) {
        *slot = manner;
    }
}

fn empty_coat(name: SmolStr, place: Place) -> Coat {
    let one = Interval::point(Factor(1_000_000));
    Coat {
        name,
        about: String::new(),
        texture: SmolStr::default(),
        undercoat: SmolStr::default(),
        genes: Vec::new(),
        with_coat: one,
        across_coat: one,
        comb_with_coat: one,
        first_pass: one,
        shows: Length(0),
        shows_share: Factor(0),
        grows: Interval::point(Growth(0)),
        grows_to: None,
        stands_to: None,
        shortest: None,
        regrowth_poor: false,
        strips: false,
        dries: None,
        place,
    }
}

fn empty_finding(name: SmolStr, place: Place) -> Finding {
    Finding {
        name,
        about: String::new(),
        on: Where::Card,
        margin: None,
        spot: false,
        one_side: false,
        by_tool: false,
        keeps: Vec::new(),
        reply: Reply::Raise,
        vet: None,
        stops_visit: false,
        cautions: Vec::new(),
        owner: Vec::new(),
        place,
    }
}

fn empty_tool(name: SmolStr, place: Place) -> Tool {
    Tool {
        name,
        about: String::new(),
        kind: ToolKind::Shears,
        leaves: None,
        closeness: None,
        gap: None,
        does: Vec::new(),
        over: Vec::new(),
        bare: Bare::Yes,
        rate: None,
        warms: None,
        cautions: Vec::new(),
        place,
    }
}
