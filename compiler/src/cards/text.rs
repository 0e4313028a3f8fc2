//! The one writer: a card in JSON as the text of a `dog` block.

use super::{CardJson, CoatJson, FindingJson, MatsJson, VisitJson, WantsJson};
use crate::diagnostic::{Diagnostic, code};
use crate::source::{FileId, Place};
use crate::workspace;
use grammar::tree::{BlockKind, File, Placed, StmtKind};
use std::fmt::Write as _;
use std::sync::Arc;

/// A card as a block, and what each of its lines was in the JSON.
#[derive(Clone, Debug)]
pub struct Written {
    /// The text of the block.
    pub text: String,
    /// For each line of the text the JSON Pointer (RFC 6901) of what it was made from: `/findings/1`.
    pub from: Vec<String>,
}

impl Written {
    /// What a place of the text was made from.
    #[must_use]
    pub fn pointer(&self, byte: usize) -> &str {
        let line = self.text.as_bytes().iter().take(byte).filter(|b| **b == b'\n').count();
        self.from.get(line).map_or("", String::as_str)
    }

    /// Reads the text. A value may stand for one line of a card and for nothing beside: no brace or line break of a value adds
    /// another.
    ///
    /// # Errors
    /// The messages about the text of the card.
    pub fn read(&self, file: FileId) -> Result<(File, Arc<Placed>), Vec<Diagnostic>> {
        let tree = grammar::parse(&self.text);
        let mut said: Vec<Diagnostic> = Vec::new();
        for placed in &tree.blocks {
            said.extend(placed.block.errors.iter().map(|e| workspace::syntax(file, placed.at, e)));
        }
        if !said.is_empty() {
            return Err(said);
        }
        let one = match tree.blocks.as_slice() {
            [one] if one.block.block.kind == BlockKind::Dog && self.holds(one) => Arc::clone(one),
            _ => {
                let place = Place { file, start: 0, end: 0 };
                let said = Diagnostic::error(code::D010, place, "a value of this card says more than its field holds")
                    .why("A card is read as one block, line by line, and what stands in one field may not become another.")
                    .help("Give each field its own words, without braces.");
                return Err(vec![said]);
            }
        };
        Ok((tree, one))
    }

    /// Whether each line came out as one statement of its kind.
    fn holds(&self, placed: &Placed) -> bool {
        let lines = self.text.lines().zip(&self.from).filter(|(_, from)| !from.is_empty() && !from.contains("/but/"));
        let firsts: Vec<&str> = lines.filter_map(|(line, _)| line.split_whitespace().next()).collect();
        let stmts = &placed.block.block.body;
        let first = |kind: &StmtKind| match kind {
            StmtKind::CardCoat(_) => Some("coat"),
            StmtKind::CardFinding(_) => Some("finding"),
            StmtKind::CardMats(_) => Some("mats"),
            StmtKind::Wants { .. } => Some("wants"),
            _ => None,
        };
        // The first line is the block's own.
        let wishes: usize = self.from.iter().filter(|from| from.contains("/but/")).count();
        let wished: usize = stmts
            .iter()
            .filter_map(|s| if let StmtKind::Wants { but, .. } = &s.kind { but.as_ref() } else { None })
            .map(|b| b.stmts.len())
            .sum();
        wishes == wished
            && firsts.len() == stmts.len() + 1
            && firsts.iter().skip(1).zip(stmts).all(|(word, stmt)| match &stmt.kind {
                StmtKind::Field(field) => field.name.text == *word,
                kind => first(kind) == Some(*word),
            })
    }
}

/// Lines of a block, each with what it was made from.
struct Lines {
    text: String,
    from: Vec<String>,
    wrong: Option<(String, &'static str)>,
}

impl Lines {
    fn push(&mut self, from: String, word: &str, rest: &str) {
        let _ = writeln!(self.text, "  {word} {rest}");
        self.from.push(from);
    }

    /// A value in the language's own words, which must stay within its line.
    fn bare(&mut self, from: &str, text: &str) -> String {
        if text.contains(|c: char| c.is_control() || "{};\"“”„".contains(c))
            || text.contains("--")
            || text.trim().is_empty()
        {
            self.refuse(
                from,
                "write the words of the language here, without quotes, braces, semicolons, dashes or line breaks",
            );
        }
        text.trim().to_owned()
    }

    /// A value in any words.
    fn quoted(text: &str) -> String {
        let text = text
            .split(|c: char| c.is_whitespace() || c.is_control())
            .filter(|w| !w.is_empty())
            .collect::<Vec<_>>()
            .join(" ");
        // The language has no quotes within a text.
        format!("\"{}\"", text.replace(['"', '“', '”', '„', '‟'], "'"))
    }

    fn refuse(&mut self, from: &str, help: &'static str) {
        self.wrong.get_or_insert_with(|| (from.to_owned(), help));
    }

    fn one(&mut self, field: &str, word: &str, value: Option<&String>) {
        if let Some(value) = value {
            let from = format!("/{field}");
            let text = self.bare(&from, value);
            self.push(from, word, &text);
        }
    }

    fn list(&mut self, field: &str, values: &[String]) {
        if !values.is_empty() {
            let from = format!("/{field}");
            let texts: Vec<String> = values.iter().map(|value| self.bare(&from, value)).collect();
            self.push(from, field, &texts.join(", "));
        }
    }

    fn told(&mut self, field: &str, values: &[String]) {
        for (number, value) in values.iter().enumerate() {
            let from = if values.len() == 1 { format!("/{field}") } else { format!("/{field}/{number}") };
            let text = Self::quoted(value);
            self.push(from, field, &text);
        }
    }

    /// Each of some parts, with its pointer.
    fn each<T>(&mut self, field: &str, all: &[T], mut write: impl FnMut(&mut Self, &str, &T)) {
        for (number, one) in all.iter().enumerate() {
            let from = if all.len() == 1 { format!("/{field}") } else { format!("/{field}/{number}") };
            write(self, &from, one);
        }
    }

    fn coat(&mut self, from: &str, coat: &CoatJson) {
        let mut text = self.bare(from, &coat.coat);
        if let Some(on) = &coat.on {
            let _ = write!(text, " on {}", self.bare(from, on));
        }
        for part in coat.also.0.iter().chain(&coat.length).chain(&coat.lengths.0) {
            let _ = write!(text, ", {}", self.bare(from, part));
        }
        self.push(from.to_owned(), "coat", &text);
    }

    fn finding(&mut self, from: &str, finding: &FindingJson) {
        let mut text = self.bare(from, &finding.finding);
        if let Some(words) = &finding.words {
            let _ = write!(text, " {}", Self::quoted(words));
        }
        for (lead, part) in
            [("on ", &finding.on), ("after ", &finding.after), ("", &finding.way), ("seen ", &finding.seen)]
        {
            if let Some(part) = part {
                let _ = write!(text, " {lead}{}", self.bare(from, part));
            }
        }
        self.push(from.to_owned(), "finding", &text);
    }

    fn mats(&mut self, from: &str, mats: &MatsJson) {
        let mut text = format!("{} on {}", self.bare(from, &mats.grade), self.bare(from, &mats.on));
        if let Some(off) = &mats.off_skin {
            let _ = write!(text, ", {} off the skin", self.bare(from, off));
        }
        self.push(from.to_owned(), "mats", &text);
    }

    fn visit(&mut self, from: &str, visit: &VisitJson) {
        let mut text = self.bare(from, &visit.on);
        for part in &visit.did.0 {
            let _ = write!(text, ", {}", self.bare(from, part));
        }
        self.push(from.to_owned(), "visit", &text);
    }

    fn wants(&mut self, from: &str, wants: &WantsJson) {
        let recipe = self.bare(from, &wants.recipe);
        if wants.but.is_empty() {
            return self.push(from.to_owned(), "wants", &recipe);
        }
        self.push(from.to_owned(), "wants", &format!("{recipe} but {{"));
        for (number, stmt) in wants.but.0.iter().enumerate() {
            // A statement may hold others in braces and so take several lines; only its first is counted.
            let mut lines = stmt.lines().filter(|l| !l.trim().is_empty());
            self.push(format!("{from}/but/{number}"), "", lines.next().unwrap_or_default().trim());
            for line in lines {
                self.push(String::new(), "", line.trim());
            }
        }
        self.push(String::new(), "}", "");
    }
}

impl CardJson {
    /// The card as the text of a `dog` block.
    ///
    /// # Errors
    /// D010 if a value can't stand in a card.
    pub fn text(&self) -> Result<Written, Box<Diagnostic>> {
        let mut lines = Lines { text: String::new(), from: Vec::new(), wrong: None };
        let name = lines.bare("/dog", &self.dog);
        let _ = writeln!(lines.text, "dog {name} {{");
        lines.from.push("/dog".to_owned());
        lines.list("sex", &self.sex.0);
        lines.told("title", &self.title.0);
        lines.told("breed", &self.breed.0);
        lines.told("colour", &self.colour.0);
        lines.one("build", "build", self.build.as_ref());
        lines.list("carries", &self.carries.0);
        lines.one("height", "height", self.height.as_ref());
        lines.each("coat", &self.coat.0, Lines::coat);
        lines.one("weight", "weight", self.weight.as_ref());
        lines.one("born", "born", self.born.as_ref());
        lines.one("seen", "seen", self.seen.as_ref());
        lines.list("asked", &self.asked.0);
        lines.each("findings", &self.findings.0, Lines::finding);
        lines.each("mats", &self.mats.0, Lines::mats);
        lines.list("consent", &self.consent.0);
        lines.list("stands", &self.stands.0);
        lines.told("handling", &self.handling.0);
        lines.told("last", &self.last.0);
        lines.told("by", &self.by.0);
        lines.each("visits", &self.visits.0, Lines::visit);
        lines.told("owner-says", &self.owner_says.0);
        lines.told("vet", &self.vet.0);
        lines.told("phone", &self.phone.0);
        lines.told("allergies", &self.allergies.0);
        lines.told("medicine", &self.medicine.0);
        lines.told("brushed", &self.brushed.0);
        lines.told("photo", &self.photo.0);
        lines.told("note", &self.note.0);
        lines.each("wants", &self.wants.0, Lines::wants);
        lines.text.push_str("}\n");
        match lines.wrong {
            None => Ok(Written { text: lines.text, from: lines.from }),
            Some((from, help)) => {
                let place = Place { file: FileId(u32::MAX), start: 0, end: 0 };
                Err(Box::new(
                    Diagnostic::error(code::D010, place, format!("what stands at `{from}` can't stand on a card"))
                        .why("A card in JSON means what the `dog` block means, and is read as one.")
                        .help(sentence(help)),
                ))
            }
        }
    }
}

fn sentence(help: &str) -> String {
    let mut letters = help.chars();
    letters.next().map_or_else(String::new, |first| format!("{}{}.", first.to_uppercase(), letters.as_str()))
}
