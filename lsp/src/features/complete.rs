//! What may be written at the cursor: by the block, and by the words of the line that are already there.
//!
//! A line that is being written can't be read yet, so the tree says only in which braces it stands; within the line its
//! first word and the last small word decide.

use super::at::{Role, body_of, of_field};
use super::effect::{self, Served};
use crate::around::Here;
use crate::lines::Range;
use coatwright::names::condition::BUILDS;
use coatwright::names::lower::Decl;
use coatwright::names::trade::{PlaceName, ToolKind, Trade};
use coatwright::workspace::Salon;
use grammar::tree::{BlockKind, Span, Stmt, StmtKind};
use grammar::words::{BLOCKS, DOG_LINES, PREPOSITIONS, RECIPE_FIELDS, RECIPE_LINES, SHORT, VERBS, fields_of};
use smol_str::SmolStr;

/// A word that may be written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Offer {
    /// What it replaces: what is written so far of the word, or of the words of a name.
    pub range: Range,
    /// The word.
    pub word: String,
    /// What kind of thing; none for a word of the language.
    pub role: Option<Role>,
    /// A few words about it.
    pub detail: Option<String>,
    /// What it is, in a sentence.
    pub about: Option<String>,
}

/// What is due at a place.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Due {
    /// Words of the language.
    Words(Vec<&'static str>),
    /// Names of a kind.
    Names(Role),
    /// A tool with which work is done.
    Tools,
    /// A blade alone.
    Blades,
}

/// What may be written at a byte. `after_blank` says that a blank was just typed: then only what must follow is offered.
#[must_use]
pub fn offers(here: &Here<'_>, at: u32, after_blank: bool) -> Vec<Offer> {
    wanted(here, at, after_blank).unwrap_or_default()
}

fn wanted(here: &Here<'_>, at: u32, after_blank: bool) -> Option<Vec<Offer>> {
    let text = here.text().get(..at as usize)?;
    let place = Place::of(here, at);
    let line = Line::before(text)?;
    let due = due(&place, &line);
    if after_blank && !must_follow(&line) {
        return None;
    }
    let salon = here.salon()?;
    let served = place.decl.and_then(|decl| effect::served(&salon, decl));
    let mut writer = Writer {
        here,
        at,
        salon: &salon,
        served: served.as_ref(),
        line: &line,
        hyphens: line.partial.contains('-'),
        begun: None,
        out: Vec::new(),
    };
    for due in &due {
        writer.begun = None;
        writer.offer(due);
    }
    Some(writer.out)
}

/// Whether a line ends in a word after which only names of one kind can stand.
fn must_follow(line: &Line<'_>) -> bool {
    let follows = [
        "with", "by", "guard", "extends", "wants", "finding", "without", "between", "into", "except", "recipe", "kit",
        "never", "only", "blend", "order", "mats",
    ];
    line.partial.is_empty() && line.words.last().is_some_and(|last| follows.contains(last)) && !line.comma
}

/// In which braces a byte stands.
struct Place<'a> {
    decl: Option<Decl<'a>>,
    kind: Option<BlockKind>,
    inside: &'static str,
}

impl<'a> Place<'a> {
    fn of(here: &Here<'a>, at: u32) -> Self {
        let outside = Self { decl: None, kind: None, inside: "" };
        let Some(decl) = here.decl(at) else { return outside };
        let of_name = decl.block.name.as_ref().map_or(decl.block.keyword.span.end, |n| n.span.end);
        // Behind the closing brace, or still in the first line before the opening one.
        let local = at - decl.at;
        let closed = decl.end().is_some_and(|end| end.start < at);
        if local <= of_name || closed {
            return outside;
        }
        let mut place = Self { decl: Some(decl), kind: Some(decl.block.kind), inside: "" };
        place.descend(&decl.block.body, local);
        place
    }

    fn descend(&mut self, stmts: &'a [Stmt], at: u32) {
        for stmt in stmts {
            if let StmtKind::Block(block) = &stmt.kind
                && block.span.start < at
                && at < block.span.end
            {
                self.kind = Some(block.kind);
                return self.descend(&block.body, at);
            }
            let Some(body) = body_of(stmt).filter(|b| b.span.start < at && at < b.span.end) else { continue };
            match &stmt.kind {
                StmtKind::Prep(_) => self.inside = "prep",
                StmtKind::Lasts { .. } => self.inside = "lasts",
                StmtKind::Given { .. } => self.kind = Some(BlockKind::Dog),
                StmtKind::Wants { .. } => self.kind = Some(BlockKind::Recipe),
                _ => {}
            }
            return self.descend(&body.stmts, at);
        }
    }
}

/// The words of a line before the cursor.
#[derive(Debug)]
pub struct Line<'t> {
    /// The words that are done.
    pub words: Vec<&'t str>,
    /// What is written of the word at the cursor.
    partial: &'t str,
    /// The line up to the cursor.
    text: &'t str,
    /// Whether a comma stands before the word at the cursor.
    pub comma: bool,
}

impl<'t> Line<'t> {
    /// The line at the end of a text; none inside a comment or quoted text.
    #[must_use]
    pub fn before(text: &'t str) -> Option<Self> {
        let mut start = text.rfind(['\n', '\r', '{', '}', ';']).map_or(0, |at| at + 1);
        // A preposition at the beginning goes on with the line before, and so does whatever follows a comma.
        for _ in 0..8 {
            let first = text.get(start..)?.split_whitespace().next().unwrap_or("");
            let before = text.get(..start)?.trim_end();
            let goes_on = text.get(..start)?.ends_with(['\n', '\r'])
                && (before.ends_with(',') || (PREPOSITIONS.contains(&first)));
            if !goes_on {
                break;
            }
            start = before.rfind(['\n', '\r', '{', '}', ';']).map_or(0, |at| at + 1);
        }
        let text = text.get(start..)?;
        if text.contains("--") || text.matches(['"', '“', '”']).count() % 2 == 1 {
            return None;
        }
        let partial =
            text.rfind(|c: char| c.is_whitespace() || matches!(c, ',' | '(' | ')' | '"')).map_or(text, |at| {
                let after = at + text.get(at..).and_then(|t| t.chars().next()).map_or(1, char::len_utf8);
                text.get(after..).unwrap_or("")
            });
        let done = text.get(..text.len() - partial.len())?;
        let words = done.split(|c: char| c.is_whitespace() || c == ',').filter(|w| !w.is_empty()).collect();
        Some(Self { words, partial, text, comma: done.trim_end().ends_with(',') })
    }

    fn first(&self) -> &'t str {
        self.words.first().copied().unwrap_or("")
    }

    fn has(&self, word: &str) -> bool {
        self.words.contains(&word)
    }
}

/// What is due: by the braces, then by the line.
fn due(place: &Place<'_>, line: &Line<'_>) -> Vec<Due> {
    let Some(kind) = place.kind else {
        let blocks = BLOCKS.iter().map(|(word, _)| *word).collect();
        return if line.words.is_empty() { vec![Due::Words(blocks)] } else { Vec::new() };
    };
    match place.inside {
        "prep" if line.words.len() <= 1 => return vec![Due::Names(Role::Step)],
        "prep" => return Vec::new(),
        "lasts" if line.words.is_empty() => return vec![Due::Names(Role::Place)],
        "lasts" => return vec![Due::Words(vec!["at most", "open"])],
        _ => {}
    }
    if line.words.is_empty() {
        return vec![Due::Words(openings(kind))];
    }
    match kind {
        BlockKind::Recipe | BlockKind::House => of_work(line),
        BlockKind::Dog => of_card(line),
        BlockKind::Case => of_case(line),
        BlockKind::Unknown => Vec::new(),
        _ if line.first() == "keep" => of_keep(line),
        _ => of_plain(kind, line),
    }
}

/// The words with which a line may begin, the verbs first.
fn openings(kind: BlockKind) -> Vec<&'static str> {
    match kind {
        BlockKind::Recipe | BlockKind::House => {
            let verbs = VERBS.iter().map(|(word, verb)| if word.starts_with("set") { verb.as_str() } else { word });
            verbs
                .chain(RECIPE_LINES.iter().copied())
                .chain(RECIPE_FIELDS.iter().copied())
                .chain(SHORT.iter().copied())
                .collect()
        }
        BlockKind::Dog => DOG_LINES.iter().copied().filter(|w| *w != "color").collect(),
        _ => fields_of(kind).to_vec(),
    }
}

const WAYS: &[&str] = &["with the coat", "in reverse", "across"];

fn of_work(line: &Line<'_>) -> Vec<Due> {
    match line.first() {
        "keep" => of_keep(line),
        "guard" => vec![Due::Names(Role::Finding)],
        "when" | "else" | "serves" => of_condition(line),
        "extends" if line.words.len() == 1 => vec![Due::Names(Role::Recipe)],
        "blend" => match line.words.last().copied().unwrap_or("") {
            "by" | "with" => vec![Due::Names(Role::Manner), Due::Tools],
            "over" => vec![Due::Words(vec!["one finger", "two fingers", "three fingers"])],
            "blend" | "into" | "and" => vec![Due::Names(Role::Place)],
            _ if line.has("into") && !line.comma => {
                vec![Due::Words(vec!["over", "by"]), Due::Names(Role::Place)]
            }
            _ if !line.comma => vec![Due::Words(vec!["into"]), Due::Names(Role::Place)],
            _ => vec![Due::Names(Role::Place)],
        },
        "line" if line.words.len() == 1 => vec![Due::Words(vec!["between", "from"])],
        "line" => vec![Due::Names(Role::Place)],
        "order" => vec![Due::Names(Role::Place), Due::Words(vec!["before"])],
        "first" | "last" => vec![Due::Names(Role::Place)],
        "param" | "let" => match line.words.last().copied().unwrap_or("") {
            "is" | "than" => vec![Due::Names(Role::Value)],
            _ if line.words.len() == 2 => vec![Due::Words(vec!["is"])],
            _ => Vec::new(),
        },
        "kit" => vec![Due::Names(Role::Kit)],
        "errors" => vec![Due::Names(Role::Code)],
        "lasts" => vec![Due::Words(vec!["weeks"])],
        "title" | "version" | "about" | "note" | "calls" | "prep" => Vec::new(),
        _ => of_verb(line),
    }
}

/// A line of work: zones first, then how.
fn of_verb(line: &Line<'_>) -> Vec<Due> {
    let last = line.words.last().copied().unwrap_or("");
    let clause = ["with", "by", "to", "in", "across", "twice", "once", "over", "because", "throughout"];
    // `set in` holds a word that begins a clause elsewhere.
    let skip = if line.first() == "set" || line.first() == "hand" { 2 } else { 1 };
    let after_verb = line.words.get(skip..).unwrap_or(&[]);
    let said = after_verb.iter().any(|w| clause.contains(w));
    if after_verb.is_empty() {
        return if skip == 2 && line.words.len() == 1 {
            vec![Due::Words(vec!["in"])]
        } else {
            vec![Due::Names(Role::Place)]
        };
    }
    match last {
        "with" => return vec![Due::Tools, Due::Words(vec!["the coat"])],
        "by" => return vec![Due::Tools],
        "over" if line.has("comb") => return vec![Due::Blades],
        "over" => return Vec::new(),
        "to" => return vec![Due::Names(Role::Value)],
        "in" => return vec![Due::Words(vec!["reverse"])],
        "at" | "except" | "left" | "right" => return vec![Due::Names(Role::Place)],
        "and" | "or" if !said => return vec![Due::Names(Role::Place)],
        _ => {}
    }
    if line.comma {
        return if said {
            vec![Due::Names(Role::Manner), Due::Words(vec!["one pass", "two passes"])]
        } else {
            vec![Due::Names(Role::Place)]
        };
    }
    let mut words = vec!["to", "with", "by"];
    words.extend(WAYS);
    words.extend(["twice", "throughout", "because"]);
    if said {
        return vec![Due::Words(words)];
    }
    words.push("except");
    vec![Due::Words(words), Due::Names(Role::Place)]
}

fn of_keep(line: &Line<'_>) -> Vec<Due> {
    const BOUNDS: &[&str] = &[
        "no closer than",
        "no shorter than",
        "at most",
        "at least",
        "gap fine",
        "untouched",
        "never",
        "only",
        "never in reverse",
        "with the coat",
        "one pass",
        "first",
        "last",
        "open",
        "refer",
        "in short turns",
    ];
    match line.words.last().copied().unwrap_or("") {
        "never" | "only" => {
            vec![Due::Tools, Due::Words(vec!["clipper", "comb", "shears", "in reverse"]), Due::Names(Role::Step)]
        }
        "than" => vec![Due::Blades, Due::Names(Role::Value)],
        "most" | "least" => vec![Due::Names(Role::Value)],
        "gap" => vec![Due::Words(vec!["fine", "medium", "open", "skip"])],
        "keep" => vec![Due::Names(Role::Place), Due::Words(BOUNDS.to_vec())],
        _ => vec![Due::Words(BOUNDS.to_vec()), Due::Names(Role::Place)],
    }
}

fn of_condition(line: &Line<'_>) -> Vec<Due> {
    let subjects = ["coat", "build", "sex", "weight", "height", "age", "mats", "finding", "without"];
    let subject = line.words.iter().rev().copied().find(|w| subjects.contains(w)).unwrap_or("");
    let last = line.words.last().copied().unwrap_or("");
    let fresh = [line.first(), "when"].contains(&last);
    let mut all = match subject {
        _ if fresh => Vec::new(),
        "coat" if last == "coat" || line.comma || last == "or" => vec![Due::Names(Role::Coat)],
        "finding" | "without" => vec![Due::Names(Role::Finding)],
        "mats" if last == "to" => vec![Due::Words(vec!["tangles", "knots", "tight", "pelted"])],
        "mats" => vec![Due::Words(vec!["up to"])],
        "build" => vec![Due::Words(BUILDS.to_vec())],
        "sex" => vec![Due::Words(vec!["dog", "bitch"])],
        "weight" | "height" | "age" if last == subject => {
            return vec![Due::Words(vec!["under", "over", "from", "up to"])];
        }
        _ => Vec::new(),
    };
    if fresh || line.comma || last == "and" {
        all.push(Due::Words(subjects.to_vec()));
        if line.first() != "serves" {
            all.push(Due::Names(Role::Finding));
        }
    }
    all
}

fn of_card(line: &Line<'_>) -> Vec<Due> {
    let last = line.words.last().copied().unwrap_or("");
    match (line.first(), last) {
        (_, "on") | ("coat", "left" | "right") => vec![Due::Names(Role::Place)],
        (_, "after") => vec![Due::Blades],
        ("coat", "undercoat") => vec![Due::Words(vec!["none", "some", "heavy"])],
        ("coat", "coat") => vec![Due::Names(Role::Coat)],
        ("coat", _) => vec![Due::Words(vec!["undercoat", "on"])],
        ("finding", "finding") => vec![Due::Names(Role::Finding), Due::Words(vec!["other"])],
        ("finding", _) if line.has("on") && line.comma => vec![Due::Names(Role::Place)],
        ("finding", _) => vec![Due::Words(vec!["on", "after", "seen", "in reverse"])],
        ("mats", "mats") => vec![Due::Words(vec!["tangle", "knot", "tight", "pelted"])],
        ("mats", _) => vec![Due::Words(vec!["on"])],
        ("wants", "wants") => vec![Due::Names(Role::Recipe)],
        ("wants", _) => vec![Due::Words(vec!["but"])],
        ("sex", _) => vec![Due::Words(vec!["dog", "bitch", "neutered", "spayed", "entire"])],
        ("build", _) => vec![Due::Words(BUILDS.to_vec())],
        ("consent", _) => vec![Due::Words(vec!["clip-off", "jacket-clip", "yes", "no"])],
        _ => Vec::new(),
    }
}

fn of_case(line: &Line<'_>) -> Vec<Due> {
    let last = line.words.last().copied().unwrap_or("");
    match (line.first(), last) {
        ("recipe", _) => vec![Due::Names(Role::Recipe)],
        ("given", "given") => vec![Due::Words(vec!["dog"])],
        ("given", _) => vec![Due::Names(Role::Dog)],
        ("expect", "expect") => vec![Due::Names(Role::Place), Due::Words(vec!["message", "no message"])],
        ("expect", "message") => vec![Due::Names(Role::Code)],
        ("expect", "with" | "by") => vec![Due::Tools],
        ("expect", "on") => vec![Due::Names(Role::Place)],
        ("expect", _) if line.has("message") => vec![Due::Words(vec!["on"])],
        ("expect", _) => {
            let verbs = VERBS.iter().map(|(_, verb)| verb.as_str());
            vec![Due::Words(verbs.chain(["left longer", "left", "referred", "with", "to"]).collect())]
        }
        _ => Vec::new(),
    }
}

fn of_plain(kind: BlockKind, line: &Line<'_>) -> Vec<Due> {
    if line.first() == "calls" {
        return Vec::new();
    }
    match (kind, line.first(), of_field(kind, line.first())) {
        (_, _, Some(Role::Tool)) => vec![Due::Tools],
        (_, _, Some(role)) => vec![Due::Names(role)],
        (BlockKind::Finding, "reply", _) => vec![Due::Words(vec!["raise", "leave", "refer", "answer"])],
        (BlockKind::Finding, "vet", _) => vec![Due::Words(vec!["now", "note"])],
        (BlockKind::Tool, "kind", _) => vec![Due::Words(vec![
            "blade", "comb", "shears", "thinners", "knife", "rake", "carder", "brush", "clipper", "dryer", "hand",
            "nails",
        ])],
        (BlockKind::Tool, "gap", _) => vec![Due::Words(vec!["fine", "medium", "open", "skip"])],
        (BlockKind::Zone, "skin", _) => vec![Due::Words(vec!["flat", "thin", "fold", "edge"])],
        (BlockKind::Zone, "station", _) => vec![Due::Words(vec!["head", "front", "side", "under", "rear"])],
        _ => Vec::new(),
    }
}

struct Writer<'a> {
    here: &'a Here<'a>,
    at: u32,
    salon: &'a Salon<'a>,
    served: Option<&'a Served>,
    line: &'a Line<'a>,
    /// Whether the author joins words by hyphens.
    hyphens: bool,
    /// A name that the words before the cursor begin, and how many bytes that are.
    begun: Option<(String, usize)>,
    out: Vec<Offer>,
}

impl Writer<'_> {
    fn offer(&mut self, due: &Due) {
        match due {
            Due::Words(words) => words.iter().for_each(|w| self.put((*w).to_owned(), None, None, None)),
            Due::Names(role) => self.names(*role),
            Due::Tools => self.tools(false),
            Due::Blades => self.tools(true),
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
                    let Some(found) = trade.steps.get(usize::from(id.0)) else { continue };
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
        let chain = std::iter::once(&served.choices.name).chain(&served.choices.bases);
        for decl in chain.filter_map(|name| self.salon.recipes.get(name)) {
            let itself = decl.name() == served.choices.name;
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

    /// The tools of the kit, with what each would leave on the coats served; without a kit all of them.
    fn tools(&mut self, blades: bool) {
        let trade = &self.salon.trade;
        let kit = self.served.map(|s| s.choices.kit.as_slice()).filter(|k| !k.is_empty());
        let all: Vec<_> = (0..).map(coatwright::names::trade::ToolId).zip(&trade.tools).collect();
        let owned = |id| kit.is_none_or(|kit| kit.contains(&id));
        for (_, tool) in all.into_iter().filter(|(id, _)| owned(*id)) {
            let fits = match tool.kind {
                ToolKind::Blade => true,
                ToolKind::Dryer | ToolKind::Nails | ToolKind::Brush => false,
                _ => !blades,
            };
            if !fits {
                continue;
            }
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::around::tests::with;

    fn offered(marked: &str) -> Vec<(String, String)> {
        let mut out = Vec::new();
        with(marked, "recipe salt { param fold is 3 mm }\ndog bramble { weight 5 kg }", |here, at| {
            for found in offers(here, at, false) {
                let start = here.byte(found.range.start) as usize;
                let replaced = here.text().get(start..at as usize).unwrap_or_default().to_owned();
                out.push((replaced, found.word));
            }
        });
        out
    }

    fn offers_all(marked: &str, replaced: &str, words: &[&str]) {
        let found = offered(marked);
        for word in words {
            let wanted = (replaced.to_owned(), (*word).to_owned());
            assert!(found.contains(&wanted), "{marked}: {wanted:?} isn't in {found:?}");
        }
    }

    #[test]
    fn words_are_offered_by_place() {
        offers_all("rec|", "rec", &["recipe", "dog", "case"]);
        offers_all("recipe t {\n  |\n}", "", &["set in", "clip", "keep", "serves", "feet"]);
        offers_all("recipe t {\n  cl|\n}", "cl", &["clip"]);
        offers_all("recipe t {\n  clip |\n}", "", &["belly", "hind legs", "between-toes"]);
        offers_all("recipe t {\n  clip hind l|\n}", "hind l", &["hind legs"]);
        offers_all("recipe t {\n  clip neck, hind-l|\n}", "hind-l", &["hind-legs"]);
        offers_all("recipe t {\n  clip belly |\n}", "", &["with", "to", "in reverse", "except"]);
        offers_all("recipe t {\n  clip belly |\n}", "belly ", &["belly front"]);
        offers_all("recipe t {\n  clip belly with #|\n}", "#", &["#10", "19 mm comb", "the coat"]);
        offers_all("recipe t {\n  clip belly with #10 in |\n}", "", &["reverse"]);
        offers_all("recipe t {\n  clip belly with #10, |\n}", "", &["comb up", "one pass"]);
        offers_all("recipe t {\n  set in legs by 19 mm comb over |\n}", "", &["#30"]);
        offers_all("recipe t {\n  clip neck,\n    |\n}", "", &["belly"]);
        offers_all("recipe t {\n  clip neck\n    with |\n}", "", &["#10"]);
        offers_all("recipe t {\n  guard |\n}", "", &["irritation"]);
        offers_all("recipe t {\n  guard irritation { skim |belly }\n}", "", &["belly"]);
        offers_all("recipe t {\n  serves coat cu|\n}", "cu", &["curl"]);
        offers_all("recipe t {\n  when |\n}", "", &["weight", "coat", "irritation"]);
        offers_all("recipe t {\n  extends |\n}", "", &["salt"]);
        offers_all("recipe t {\n  extends salt\n  clip body to |\n}", "", &["fold"]);
        offers_all("recipe t {\n  prep { bath; dry s| }\n}", "dry s", &["dry stretch"]);
        offers_all("recipe t {\n  keep belly |\n}", "", &["no closer than", "untouched"]);
        offers_all("recipe t {\n  keep belly no closer than |\n}", "", &["#10"]);
        offers_all("recipe t {\n  blend neck into shoulder by |\n}", "", &["skimming"]);
        offers_all("dog d {\n  finding |\n}", "", &["irritation", "other"]);
        offers_all("dog d {\n  wants |\n}", "", &["salt"]);
        offers_all("dog d {\n  wants salt but { le| }\n}", "le", &["leave"]);
        offers_all("case c {\n  given dog |\n}", "", &["bramble"]);
        offers_all("case c {\n  expect message |\n}", "", &["C004"]);
        offers_all("finding f {\n  reply |\n}", "", &["raise", "answer"]);
    }

    #[test]
    fn nothing_is_offered_in_prose() {
        assert!(offered("recipe t {\n  title \"cl|\"\n}").is_empty());
        assert!(offered("recipe t {\n  leave belly -- with |\n}").is_empty());
        assert!(offered("recipe t {}\nrecipe |").is_empty());
    }

    #[test]
    fn a_blade_says_what_it_would_leave() {
        with("recipe t {\n  serves coat curl\n  clip belly with |\n}", "", |here, at| {
            let found = offers(here, at, true);
            let ten = found.iter().find(|o| o.word == "#10").and_then(|o| o.detail.clone()).unwrap_or_default();
            assert!(ten.contains("1.5 to 1.8 mm in reverse; ") && ten.ends_with("with the coat"), "{ten}");
            assert!(offers(here, at - 5, true).is_empty(), "a blank after a zone");
        });
    }
}
