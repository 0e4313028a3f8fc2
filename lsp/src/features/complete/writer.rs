//! The words that are offered for what is due, with what each would leave on the coats served.

use super::due::Due;
use super::{Line, Offer};
use crate::around::Here;
use crate::features::at::Role;
use crate::features::effect::{self, Served};
use coatwright::names::trade::{PlaceName, Tool, ToolKind, Trade};
use coatwright::workspace::Salon;
use grammar::tree::{Span, Stmt, StmtKind};
use smol_str::SmolStr;

/// Collects offers.
pub(super) struct Writer<'a> {
    pub(super) here: &'a Here<'a>,
    pub(super) at: u32,
    pub(super) salon: &'a Salon<'a>,
    pub(super) served: Option<&'a Served>,
    pub(super) line: &'a Line<'a>,
    /// Whether the author joins words by hyphens.
    pub(super) hyphens: bool,
    /// A name that the words before the cursor begin, and how many bytes that are.
    pub(super) begun: Option<(String, usize)>,
    pub(super) out: Vec<Offer>,
}

impl Writer<'_> {
    /// Offers what is due.
    pub(super) fn offer(&mut self, due: &Due) {
        match due {
            Due::Words(words) => words.iter().for_each(|w| self.put((*w).to_owned(), None, None, None)),
            Due::Names(role) => self.names(*role),
            Due::Tools(verb) => self.tools(|tool| {
                let bound = !matches!(tool.kind, ToolKind::Dryer | ToolKind::Nails | ToolKind::Brush);
                verb.map_or(bound, |verb| tool.does_work(verb))
            }),
            Due::Blades => self.tools(|tool| tool.kind == ToolKind::Blade),
            Due::Blends => {
                let trade = &self.salon.trade;
                for motion in trade.manners.iter().filter(|motion| motion.blends()) {
                    self.entry(&motion.name, &motion.name, Role::Manner, None, &motion.about);
                }
                self.tools(Tool::blends);
            }
        }
    }

    fn put(&mut self, word: String, role: Option<Role>, detail: Option<String>, about: Option<&str>) {
        if self.out.iter().any(|o| o.word == word) {
            return;
        }
        let begun = self.begun.as_ref().filter(|(begun, _)| word.replace(' ', "-").starts_with(begun.as_str()));
        let length = begun.map_or(self.line.partial.len(), |(_, length)| *length);
        let start = self.at.saturating_sub(u32::try_from(length).unwrap_or(0));
        let about = about.filter(|a| !a.is_empty()).map(str::to_owned);
        self.out.push(Offer { range: self.here.range(Span::new(start, self.at)), word, role, detail, about });
    }

    /// A name as it is best written: with blanks, unless one of its words would be read as the language's own.
    fn spelled(&self, name: &str) -> String {
        if self.hyphens || !name.contains('-') {
            return name.to_owned();
        }
        let blank = name.replace('-', " ");
        let file = grammar::parse(&format!("recipe x {{\n  leave {blank}\n}}\n"));
        let stmts = file.blocks.first().map_or(&[][..], |p| p.block.block.body.as_slice());
        let one = matches!(stmts, [Stmt { kind: StmtKind::Work(work), .. }]
            if matches!(work.zones.list.as_slice(), [zone] if zone.name.text == name && zone.side.is_none()));
        if one { blank } else { name.to_owned() }
    }

    /// A name of the trade, or another word for it.
    fn entry(&mut self, name: &str, main: &str, role: Role, detail: Option<String>, about: &str) {
        let detail = if name == main { detail } else { Some(format!("another word for {}", main.replace('-', " "))) };
        let word = if role == Role::Finding { name.to_owned() } else { self.spelled(name) };
        self.put(word, Some(role), detail, Some(about));
    }

    /// If the words before the cursor begin a name (`hind l`), the name takes their place.
    fn begun<'n>(&mut self, names: impl Iterator<Item = &'n SmolStr> + Clone) {
        for many in (1..=3).rev() {
            let Some(from) = self.line.words.len().checked_sub(many) else { continue };
            let Some(words) = self.line.words.get(from..) else { continue };
            let begun = format!("{}-{}", words.join("-"), self.line.partial);
            // Side by side and without a comma between.
            let at = words.first().and_then(|first| self.line.text.rfind(&format!("{first} ")));
            let Some(rest) = at.and_then(|at| self.line.text.get(at..)).filter(|rest| !rest.contains(',')) else {
                continue;
            };
            if rest.split_whitespace().count() <= many + 1 && names.clone().any(|n| n.starts_with(&begun)) {
                self.begun = Some((begun, rest.len()));
                return;
            }
        }
    }

    fn names(&mut self, role: Role) {
        let salon = self.salon;
        let (trade, index) = (&salon.trade, &salon.trade.index);
        match role {
            Role::Place => {
                self.begun(index.places.keys());
                for (name, place) in &index.places {
                    let (main, detail, about) = of_place(trade, *place);
                    self.entry(name, main, role, detail, about);
                }
            }
            Role::Finding => {
                for (name, id) in &index.findings {
                    let Some(found) = trade.finding(*id) else { continue };
                    self.entry(name, &found.name, role, None, &found.about);
                }
            }
            Role::Coat => {
                for (name, id) in &index.coats {
                    let Some(found) = trade.coat(*id) else { continue };
                    self.entry(name, &found.name, role, None, &found.about);
                }
            }
            Role::Step => {
                self.begun(index.steps.keys());
                for (name, id) in &index.steps {
                    let Some(found) = trade.step(*id) else { continue };
                    self.entry(name, &found.name, role, None, &found.about);
                }
            }
            Role::Manner => {
                self.begun(index.manners.keys());
                for (name, id) in &index.manners {
                    let Some(found) = trade.manner(*id) else { continue };
                    self.entry(name, &found.name, role, None, &found.about);
                }
            }
            Role::Kit => index.kits.keys().for_each(|k| self.put(k.to_string(), Some(role), None, None)),
            Role::Recipe => salon.recipes.keys().for_each(|k| self.put(k.to_string(), Some(role), None, None)),
            Role::Dog => salon.dogs.keys().for_each(|k| self.put(k.to_string(), Some(role), None, None)),
            Role::Code => {
                for (code, title) in coatwright::explain::codes() {
                    self.put(code.to_owned(), Some(role), Some(title.to_owned()), None);
                }
            }
            Role::Value => self.values(),
            _ => {}
        }
    }

    /// The parameters and lets of every recipe that the text may count with.
    fn values(&mut self) {
        let Some(served) = self.served else { return };
        let own = self.salon.recipes.get(&served.choices.name);
        // As many as there are, so that one that builds on itself comes to an end.
        let many = 1 + served.choices.bases.len();
        let chain = std::iter::successors(own, |recipe| self.salon.base(*recipe)?.ok()).take(many);
        for (number, decl) in chain.enumerate() {
            let itself = number == 0;
            for stmt in &decl.block.body {
                match &stmt.kind {
                    StmtKind::Param { name, .. } => self.put(name.text.to_string(), Some(Role::Value), None, None),
                    StmtKind::Let { name, .. } if itself => {
                        self.put(name.text.to_string(), Some(Role::Value), None, None);
                    }
                    _ => {}
                }
            }
        }
    }

    /// The tools of the kit that will do, with what each would leave on the coats served; without a kit all of them.
    fn tools(&mut self, fits: impl Fn(&Tool) -> bool) {
        let trade = &self.salon.trade;
        let kit = self.served.map(|s| s.choices.kit.as_slice()).filter(|k| !k.is_empty());
        let all: Vec<_> = (0..).map(coatwright::names::trade::ToolId).zip(&trade.tools).collect();
        let owned = |id| kit.is_none_or(|kit| kit.contains(&id));
        for (_, tool) in all.into_iter().filter(|(id, tool)| owned(*id) && fits(tool)) {
            let word = match (tool.kind, tool.leaves) {
                (ToolKind::Comb, Some(leaves)) => format!("{} comb", leaves.middle()),
                (ToolKind::Blade, _) => tool.name.to_string(),
                _ => self.spelled(&tool.name),
            };
            let detail = effect::tool_line(tool, self.served, trade);
            self.put(word, Some(Role::Tool), detail, Some(&tool.about));
        }
    }
}

/// The name of a place, how much it is, and what.
fn of_place(trade: &Trade, place: PlaceName) -> (&str, Option<String>, &str) {
    let found = match place {
        PlaceName::Zone(id) => trade.zone(id).map(|z| (z.name.as_str(), None, z.about.as_str())),
        PlaceName::Group(id) => trade.groups.iter().find(|(_, g)| g.id == id).map(|(name, group)| {
            let many = trade.zones.iter().filter(|z| z.sites().meets(group.sites)).count();
            (name.as_str(), Some(format!("{many} parts")), group.about.as_str())
        }),
        PlaceName::Mark(id) => {
            let mark = trade.marks.get(usize::from(id.0));
            mark.map(|m| (m.name.as_str(), Some("a mark".to_owned()), m.about.as_str()))
        }
    };
    found.unwrap_or(("", None, ""))
}
