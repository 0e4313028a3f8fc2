//! A `dog` block as JSON. Nothing is worked out here: each value is what stands in the text.

use super::few::Few;
use super::{CardJson, CoatJson, FindingJson, MatsJson, VisitJson, WantsJson};
use grammar::tree::{
    BlockKind, Body, Date, Direction, Field, Side, Span, Stmt, StmtKind, Text, ValueKind, Word, ZoneRef, Zones,
};

/// Lines whose values are words of the language.
const LISTS: &[&str] =
    &["sex", "carries", "asked", "consent", "stands", "build", "height", "weight", "born", "seen", "visit"];

/// Why a card can't be written as JSON.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoJson {
    /// Its text has a mistake.
    #[error("the text has a mistake; see what `check` says of it")]
    Mistake,
    /// A line that no card has.
    #[error("the card of {0} has a line `{1}`, which no card has; see what `check` says of it")]
    Line(String, String),
}

/// All cards of a text, in their order.
///
/// # Errors
/// That the text can't be read, or that a card has a line which no card has.
pub fn from_text(text: &str) -> Result<Vec<CardJson>, NoJson> {
    // Laid out first: then a statement's parts hold no comment, and have one blank between words.
    let text = grammar::format(text).map_err(|_| NoJson::Mistake)?;
    let tree = grammar::parse(&text);
    if tree.blocks.iter().any(|p| p.block.broken || !p.block.errors.is_empty()) {
        return Err(NoJson::Mistake);
    }
    let dogs = tree.blocks.iter().filter(|p| p.block.block.kind == BlockKind::Dog && p.block.block.name.is_some());
    dogs.map(|placed| {
        let block = &placed.block.block;
        let name = block.name.as_ref().map(|n| n.text.to_string()).unwrap_or_default();
        let from = From { text: text.get(placed.at as usize..).unwrap_or_default() };
        let mut card = CardJson { dog: name, ..CardJson::default() };
        for stmt in &block.body {
            from.stmt(&mut card, stmt)?;
        }
        Ok(card)
    })
    .collect()
}

struct From<'t> {
    /// From the block's first byte.
    text: &'t str,
}

impl From<'_> {
    /// The words at a span, on one line.
    fn at(&self, span: Span) -> String {
        let words = self.text.get(span.start as usize..span.end as usize).unwrap_or_default();
        words.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    fn stmt(&self, card: &mut CardJson, stmt: &Stmt) -> Result<(), NoJson> {
        match &stmt.kind {
            StmtKind::CardCoat(coat) => card.coat.0.push(CoatJson {
                coat: coat.coat.text.to_string(),
                on: coat.zones.as_ref().map(zones),
                also: Few(coat.notes.iter().map(|(what, how)| spaced(what, how.as_ref())).collect()),
                length: coat.length.as_ref().map(|n| n.text.to_string()),
                lengths: Few(coat.lengths.iter().map(|(z, n)| format!("{} {}", zone(z), n.text)).collect()),
            }),
            StmtKind::CardFinding(finding) => card.findings.0.push(FindingJson {
                finding: finding.name.text.to_string(),
                words: finding.other.as_ref().map(|t| t.text.clone()),
                on: finding.zones.as_ref().map(zones),
                after: finding.after.as_ref().map(|tool| self.at(tool.span)),
                way: finding.direction.map(|way| direction(way).to_owned()),
                seen: finding.seen.map(date),
            }),
            StmtKind::CardMats(mats) => card.mats.0.push(MatsJson {
                grade: mats.grade.text.to_string(),
                on: zones(&mats.zones),
                off_skin: mats.off_skin.as_ref().map(|n| n.text.to_string()),
            }),
            StmtKind::Wants { recipe, but } => card.wants.0.push(WantsJson {
                recipe: recipe.text.to_string(),
                but: Few(but.as_ref().map(|body| self.wishes(body)).unwrap_or_default()),
            }),
            StmtKind::About(prose) => card.note.0.push(prose.lines.join(" ")),
            StmtKind::Field(field) => return self.field(card, field),
            _ => return Err(NoJson::Line(card.dog.clone(), self.at(stmt.span))),
        }
        Ok(())
    }

    /// The statements of a wish; one that holds others keeps its lines.
    fn wishes(&self, body: &Body) -> Vec<String> {
        let words = |stmt: &Stmt| {
            let text = self.text.get(stmt.span.start as usize..stmt.span.end as usize).unwrap_or_default();
            let line = |line: &str| match line.contains(['"', '“', '„']) {
                true => line.trim().to_owned(),
                false => line.split_whitespace().collect::<Vec<_>>().join(" "),
            };
            text.lines().map(line).collect::<Vec<_>>().join("\n")
        };
        body.stmts.iter().map(words).collect()
    }

    fn field(&self, card: &mut CardJson, field: &Field) -> Result<(), NoJson> {
        let told = !LISTS.contains(&field.name.text.as_str());
        let mut values = self.values(field, told);
        let first = values.first().cloned();
        match field.name.text.as_str() {
            "sex" => card.sex.0.append(&mut values),
            "carries" => card.carries.0.append(&mut values),
            "asked" => card.asked.0.append(&mut values),
            "consent" => card.consent.0.append(&mut values),
            "stands" => card.stands.0.append(&mut values),
            // Of two such lines the later counts, and of one line its first value.
            "build" => card.build = first,
            "height" => card.height = first,
            "weight" => card.weight = first,
            "born" => card.born = first,
            "seen" => card.seen = first,
            "visit" => {
                let on = first.unwrap_or_default();
                card.visits.0.push(VisitJson { on, did: Few(values.into_iter().skip(1).collect()) });
            }
            line => {
                let told = match line {
                    "breed" => &mut card.breed,
                    "colour" | "color" => &mut card.colour,
                    "handling" => &mut card.handling,
                    "last" => &mut card.last,
                    "by" => &mut card.by,
                    "owner-says" => &mut card.owner_says,
                    "vet" => &mut card.vet,
                    "phone" => &mut card.phone,
                    "allergies" => &mut card.allergies,
                    "medicine" => &mut card.medicine,
                    "brushed" => &mut card.brushed,
                    "title" => &mut card.title,
                    "photo" => &mut card.photo,
                    "note" => &mut card.note,
                    _ => return Err(NoJson::Line(card.dog.clone(), line.to_owned())),
                };
                told.0.push(values.join(", "));
            }
        }
        Ok(())
    }

    /// The values of a line as written; a word and the date beside it are one. Quoted text counts only where any words do.
    fn values(&self, field: &Field, told: bool) -> Vec<String> {
        let mut out: Vec<String> = Vec::new();
        let mut before: Option<Span> = None;
        for value in &field.values {
            let words = match &value.kind {
                ValueKind::Text(_) if !told => continue,
                ValueKind::Text(Text { text, .. }) => text.clone(),
                _ => self.at(value.span),
            };
            let between = before.and_then(|b| self.text.get(b.end as usize..value.span.start as usize));
            match out.last_mut() {
                Some(last) if between.is_some_and(|b| b.trim().is_empty()) => *last = format!("{last} {words}"),
                _ => out.push(words),
            }
            before = Some(value.span);
        }
        out
    }
}

fn spaced(what: &Word, how: Option<&Word>) -> String {
    how.map_or_else(|| what.text.to_string(), |how| format!("{} {}", what.text, how.text))
}

fn zone(zone: &ZoneRef) -> String {
    match zone.side {
        Some(Side::Left) => format!("left {}", zone.name.text),
        Some(Side::Right) => format!("right {}", zone.name.text),
        None => zone.name.text.to_string(),
    }
}

fn zones(all: &Zones) -> String {
    let list = |list: &[ZoneRef]| list.iter().map(zone).collect::<Vec<_>>().join(", ");
    if all.except.is_empty() { list(&all.list) } else { format!("{} except {}", list(&all.list), list(&all.except)) }
}

const fn direction(way: Direction) -> &'static str {
    match way {
        Direction::With => "with the coat",
        Direction::Reverse => "in reverse",
        Direction::Across => "across",
    }
}

fn date(date: Date) -> String {
    match date.day {
        Some(day) => format!("{:04}-{:02}-{day:02}", date.year, date.month),
        None => format!("{:04}-{:02}", date.year, date.month),
    }
}
