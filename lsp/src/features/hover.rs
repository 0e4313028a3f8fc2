//! What the word under the cursor means, in two or three lines of the trade's words.

use super::at::{self, Role};
use super::effect;
use super::resolve::{Target, declared_at, leaves, use_at};
use crate::around::Here;
use crate::lines::Range;
use coatwright::explain;
use coatwright::finish::tool_words;
use coatwright::measure::{Interval, Time};
use coatwright::names::lower::Decl;
use coatwright::names::sites::Sites;
use coatwright::names::trade::{Finding, FindingId, KeepOn, PlaceName, Reply, Trade, Vet};
use coatwright::names::zone_words::{list_words, zone_words};
use coatwright::source::Place;
use coatwright::workspace::Salon;
use grammar::tree::{Block, Span, Stmt, StmtKind};
use smol_str::SmolStr;

/// A text about some words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Hover {
    /// The words.
    pub range: Range,
    /// Markdown.
    pub text: String,
}

/// What there is to say about the word at a byte.
#[must_use]
pub fn hover(here: &Here<'_>, at: u32) -> Option<Hover> {
    let salon = here.salon()?;
    if let Some(found) = use_at(here, &salon, at) {
        let decl = here.decl(at)?;
        let text = about(here, &salon, decl, &found.target)?;
        return Some(Hover { range: here.range(found.word.span), text });
    }
    let word = at::word_at(here.tree()?, at)?;
    let text = match word.role {
        Role::Code => explain::page(&word.text)?,
        Role::Way(way) => grammar::meaning_of_way(way),
        Role::Opening => {
            let block = here.block(at).filter(|p| p.block.block.keyword.span.shifted(p.at) == word.span);
            match block {
                Some(placed) => grammar::meaning_of_block(placed.block.block.kind)?,
                None => grammar::meaning(&word.text)?,
            }
        }
        _ => return None,
    };
    Some(Hover { range: here.range(word.span), text: text.to_owned() })
}

/// What something is: a title, then lines.
#[must_use]
pub fn about(here: &Here<'_>, salon: &Salon<'_>, decl: Decl<'_>, target: &Target) -> Option<String> {
    let trade = &salon.trade;
    let mut text = Text::default();
    match target {
        Target::Place(place) => self::place(here, salon, decl, *place, &mut text)?,
        Target::Tool(id) => {
            let tool = trade.tool(*id)?;
            text.title(&tool_words(tool), &tool.about);
            text.lines(effect::tool_lines(tool, effect::served(salon, decl).as_ref(), trade));
            text.lines(tool.cautions.clone());
        }
        Target::Finding(id) => {
            let finding = trade.finding(*id)?;
            text.title(&said(&finding.name), &finding.about);
            text.lines(finding_lines(here, finding, trade));
            let guards = guards(here, salon, &finding.name);
            let none = matches!(finding.reply, Reply::Answer) && guards.is_empty();
            text.lines(none.then(|| "no recipe here answers it".to_owned()));
            text.lines((!guards.is_empty()).then(|| format!("answered by {}", list_words(&guards))));
        }
        Target::Coat(id) => {
            let coat = trade.coat(*id)?;
            text.title(&said(&coat.name), &coat.about);
            let times = |i: Interval<coatwright::measure::Factor>| {
                let number = |f: coatwright::measure::Factor| format!("{:.2}", f.0 as f64 / 1_000_000.0);
                let short = |s: String| s.trim_end_matches('0').trim_end_matches('.').to_owned();
                format!("{} to {} times", short(number(i.low)), short(number(i.high)))
            };
            text.line(format!("with the coat a blade leaves {} its length in reverse", times(coat.with_coat)));
            text.line(format!("a step of {} shows", coat.shows));
        }
        Target::Step(id) => {
            let step = trade.step(*id)?;
            text.title(&said(&step.name), &step.about);
            text.lines(step.minutes.map(minutes));
            text.lines(step.cautions.clone());
        }
        Target::Manner(id) => {
            let manner = trade.manner(*id)?;
            text.title(&said(&manner.name), &manner.about);
            text.lines(manner.closes.map(|c| format!("hides a step of up to {c}")));
        }
        Target::Kit(id) => {
            let kit = trade.kits.get(usize::from(id.0))?;
            text.title(&kit.name, "");
            let owns = kit.owns.iter().filter_map(|(tool, many)| {
                let name = &trade.tool(*tool)?.name;
                Some(if *many > 1 { format!("{many} {name}") } else { name.to_string() })
            });
            text.line(owns.collect::<Vec<_>>().join(", "));
        }
        Target::Recipe(place) => of_block(here, here.decl_at(*place)?, &["title", "serves", "extends"], &mut text),
        Target::Dog(name) => {
            of_block(here, salon.dogs.get(name)?, &["coat", "weight", "finding", "mats", "wants"], &mut text);
        }
        Target::House => of_block(here, salon.house?, &["title", "kit", "keep"], &mut text),
        Target::Case(_) => return None,
        Target::Value { .. } => {
            let place = declared_at(salon, target)?;
            text.line(format!("`{}`", here.around.line(place)));
            text.line(here.around.where_is(place));
        }
    }
    Some(text.0)
}

/// A name of the trade as people say it. What somebody called so, a recipe or a dog, is written as it is.
fn said(name: &str) -> String {
    name.replace('-', " ")
}

#[derive(Default)]
struct Text(String);

impl Text {
    fn title(&mut self, name: &str, about: &str) {
        self.0 = format!("**{name}**");
        if !about.is_empty() {
            self.0.push_str(" · ");
            self.0.push_str(about);
        }
    }

    fn line(&mut self, line: impl Into<String>) {
        let line = line.into();
        if line.is_empty() {
            return;
        }
        if self.0.is_empty() {
            self.0 = line;
            return;
        }
        // A list: each line stands on its own wherever Markdown is drawn.
        self.0.push_str(if self.0.contains("\n- ") { "\n- " } else { "\n\n- " });
        self.0.push_str(&line);
    }

    fn lines(&mut self, lines: impl IntoIterator<Item = String>) {
        lines.into_iter().for_each(|l| self.line(l));
    }
}

fn place(here: &Here<'_>, salon: &Salon<'_>, decl: Decl<'_>, place: PlaceName, text: &mut Text) -> Option<()> {
    let trade = &salon.trade;
    let (name, about, sites): (&SmolStr, &str, Sites) = match place {
        PlaceName::Zone(id) => {
            let zone = trade.zone(id)?;
            (&zone.name, &zone.about, zone.sites())
        }
        PlaceName::Group(id) => {
            let (name, group) = trade.groups.iter().find(|(_, g)| g.id == id)?;
            (name, &group.about, group.sites)
        }
        PlaceName::Mark(id) => {
            let mark = trade.marks.get(usize::from(id.0))?;
            (&mark.name, &mark.about, mark.sites)
        }
    };
    text.title(&said(name), about);
    match place {
        PlaceName::Zone(_) => {}
        PlaceName::Group(_) => {
            let names: Vec<String> = leaves(trade, sites).iter().map(|(_, n)| n.replace('-', " ")).collect();
            text.line(format!("{} parts: {}", names.len(), names.join(", ")));
        }
        PlaceName::Mark(_) => text.line(format!("on {}", zone_words(trade, sites))),
    }
    if let Some(served) = effect::served(salon, decl).filter(|_| !matches!(place, PlaceName::Mark(_))) {
        text.lines(effect::finish_lines(here, sites, &served, trade));
        text.lines(effect::on_the_table(here, salon, decl, sites));
    }
    Some(())
}

fn finding_lines(here: &Here<'_>, finding: &Finding, trade: &Trade) -> Vec<String> {
    let mut out = Vec::new();
    let keeps = finding.keeps.iter().map(|keep| {
        let words = here.around.workspace().sources().at(keep.place).split_whitespace().collect::<Vec<_>>().join(" ");
        match keep.on {
            KeepOn::Sites(sites) => format!("{} {words}", zone_words(trade, sites)),
            KeepOn::Place | KeepOn::Dog => words,
        }
    });
    let keeps: Vec<String> = keeps.collect();
    if !keeps.is_empty() {
        out.push(format!("keeps {}", keeps.join("; ")));
    }
    out.push(
        match finding.reply {
            Reply::Raise => "without an answer it gets a gentler pass",
            Reply::Leave => "without an answer the place is left",
            Reply::Refer => "the place is for a vet",
            Reply::Answer => "the recipe must say what is done",
        }
        .to_owned(),
    );
    match finding.vet {
        Some(Vet::Now) => out.push("a vet first".to_owned()),
        Some(Vet::Note) => out.push("the owner is told to ask a vet".to_owned()),
        None => {}
    }
    out
}

/// The recipes and houses that guard a finding, with the line.
fn guards(here: &Here<'_>, salon: &Salon<'_>, finding: &SmolStr) -> Vec<String> {
    let mut out = Vec::new();
    let known = &salon.trade.index.findings;
    let same = |id: &FindingId| salon.trade.finding(*id).is_some_and(|f| f.name == *finding);
    let names: Vec<&str> = known.iter().filter(|(_, id)| same(id)).map(|(name, _)| name.as_str()).collect();
    let decls = salon.recipes.mentioning(&names).chain(salon.house);
    for decl in decls {
        for stmt in &decl.block.body {
            if let StmtKind::Guard { findings, .. } = &stmt.kind
                && findings.iter().any(|word| known.get(&word.text).is_some_and(same))
            {
                let place = in_file(decl, stmt.span);
                let (number, _) = here.around.workspace().sources().line_column(place);
                out.push(format!("{} (line {number})", decl.name()));
            }
        }
    }
    out
}

fn minutes(time: Interval<Time>) -> String {
    let (low, high) = (time.low.0 / 60, (time.high.0 + 59) / 60);
    if low == high { format!("{low} min") } else { format!("{low} to {high} min") }
}

fn in_file(decl: Decl<'_>, span: Span) -> Place {
    Place { file: decl.file, start: decl.at + span.start, end: decl.at + span.end }
}

/// The line of a place without its indentation.
/// A recipe or card by some of its lines.
fn of_block(here: &Here<'_>, decl: Decl<'_>, wanted: &[&str], text: &mut Text) {
    text.title(&decl.name(), &prose(decl.block));
    for stmt in &decl.block.body {
        let place = in_file(decl, stmt.span);
        let words = here.around.workspace().sources().at(place).split_whitespace().collect::<Vec<_>>().join(" ");
        if wanted.iter().any(|w| words.strip_prefix(w).is_some_and(|rest| rest.starts_with(' '))) {
            text.line(words);
        }
    }
}

fn prose(block: &Block) -> String {
    let about = block.body.iter().find_map(|stmt: &Stmt| match &stmt.kind {
        StmtKind::About(prose) => Some(prose.lines.join(" ")),
        _ => None,
    });
    about.unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::around::tests::with;

    fn said(marked: &str) -> String {
        let mut out = String::new();
        with(
            marked,
            "finding itch { about \"It itches.\"; on belly; reply answer; keep never in reverse }",
            |here, at| {
                out = hover(here, at).map(|h| h.text).unwrap_or_default();
            },
        );
        out
    }

    const SERVES: &str = "recipe t {\n  serves coat curl or fleece\n";

    #[test]
    fn a_zone_says_what_it_gets_and_why() {
        let text = said(&format!("{SERVES}  clip rib|s with #5F with the coat\n}}"));
        assert!(text.contains("clip with #5F with the coat, leaves ") && text.contains("curl"), "{text}");
        assert!(text.contains("said by `clip ribs with #5F with the coat` (a.trim, line 3)"), "{text}");
    }

    #[test]
    fn a_blade_says_what_it_leaves() {
        let text = said(&format!("{SERVES}  clip ribs with #5|F with the coat\n}}"));
        assert!(text.contains("in reverse") && text.contains("on curl") && text.contains("teeth"), "{text}");
    }

    #[test]
    fn other_words_say_what_they_are() {
        let text = said("recipe t { guard it|ch { leave belly } }");
        assert!(text.contains("keeps never in reverse") && text.contains("answered by t (line 1)"), "{text}");
        let text = said("recipe t { leave leg|s }");
        assert!(text.contains("parts: "), "{text}");
        assert!(said("case c { expect message C0|04 on throat }").contains("C004"));
        assert!(said("rec|ipe t { leave legs }").starts_with("A trim"));
        assert!(said("recipe t { ski|m legs with #10 }").contains("lightly"));
        assert!(said("recipe t { skim legs with #10 in rev|erse }").starts_with("Against the lie"));
        assert_eq!(said("recipe t { title \"le|gs\" }"), "");
        assert!(said("recipe t { let a is 3 mm; clip body to |a }").contains("`recipe t { let a is 3 mm"));
    }
}
