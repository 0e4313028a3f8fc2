//! Declarations of the trade, from tree to [`Trade`]: the basics first, then what a house adds.

mod empty;
mod finding;
mod kit;
mod read;

pub use read::unknown_step;

use super::fields::{Fields, only, value_name};
use super::scope::Scope;
use super::sites::{Site, Sites};
use super::trade::*;
use crate::diagnostic::{Diagnostic, code};
use crate::measure::{BodyUnits, Dimension, Factor, Length};
use crate::source::{FileId, Place};
use empty::{empty_coat, empty_finding, empty_tool};
use finding::read_finding;
use grammar::tree::{Block, BlockKind, StmtKind, ValueKind, Word};
use kit::{read_heat, read_kit};
use read::{listed, read_coat, read_manner, read_mark, read_step, read_tool, read_zone};
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

    /// The place before its closing brace; none if its braces aren't closed.
    #[must_use]
    pub fn end(&self) -> Option<Place> {
        let last = self.block.body.last().map_or(self.block.keyword.span.end, |s| s.span.end);
        let brace = self.block.span.end.checked_sub(1).filter(|brace| *brace >= last)?;
        Some(Place { file: self.file, start: self.at + brace, end: self.at + brace })
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
                    landmark: None,
                    parts: Vec::new(),
                    cautions: Vec::new(),
                    place,
                });
                index.places.insert(name.clone(), PlaceName::Mark(id)).is_some()
            }
            BlockKind::Coat => index.coats.insert(name.clone(), CoatId(count(&self.trade.coats))).is_some(),
            BlockKind::Finding => index.findings.insert(name.clone(), FindingId(count(&self.trade.findings))).is_some(),
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
                needs: Vec::new(),
                or_else: Vec::new(),
                rate: None,
                most: None,
                good_for: None,
                minutes: None,
                every: None,
                after: Vec::new(),
                wet: true,
                stands: true,
                waits: true,
                keeps: Vec::new(),
                cautions: Vec::new(),
                owner: None,
                place,
            }),
            BlockKind::Form | BlockKind::Motion => trade.manners.push(Manner {
                name,
                about: String::new(),
                on: Sites::NONE,
                freehand: false,
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
            let place = Place { file: decl.file, start: decl.at + word.span.start, end: decl.at + word.span.end };
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
            hygiene: None,
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
            let fields = Fields::new(decl.block, &mut scope, units);
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
            let mut fields = Fields::new(decl.block, &mut scope, units);
            if let Some(finger) = fields.interval("finger", Dimension::Length) {
                self.trade.fingers = finger.map(Length);
                units.finger = self.trade.fingers.middle();
            }
            if let Some(hand) = fields.interval("hand", Dimension::Length) {
                self.trade.hands = hand.map(Length);
                units.hand = self.trade.hands.middle();
            }
            read_heat(&mut fields, &mut self.trade.heat);
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
