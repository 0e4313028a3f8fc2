//! A dog's card, with every name looked up.

use super::condition::{self, BUILDS, Grade, unknown_word};
use super::due::due;
use super::fields::{joined, number_of, spaced, value_name};
use super::keeps;
use super::lower::Decl;
use super::nearest;
use super::scope::Scope;
use super::sites::{Site, Sites};
use super::sums::{Env, Sums};
use super::trade::{
    Bound, CoatId, Direction, FindingId, MarkId, PlaceName, Sex, Side, Step, StepId, ToolId, Trade, Where,
};
use super::visit::Visit;
use crate::date::Day;
use crate::diagnostic::{Diagnostic, code};
use crate::measure::{BodyUnits, DAY, Dimension, Length, Time, Weight};
use crate::source::Place;
use grammar::tree::{
    BlockKind, CardCoat, CardFinding, CardMats, Field, Stmt, StmtKind, ToolRefKind, Unit, Value, ValueKind, Word, Zones,
};
use grammar::words::DOG_LINES;
use smol_str::SmolStr;

/// A dog as its card tells it.
#[derive(Clone, Debug, Default)]
pub struct Dog {
    /// The card's name.
    pub name: SmolStr,
    /// Dog or bitch.
    pub sex: Option<Sex>,
    /// `neutered`, `spayed 2025-09`, `entire` as written.
    pub sex_note: Option<String>,
    /// Lines that only the sheet shows: breed, colour, vet, phone, handling …, in the order of the card.
    pub told: Vec<(SmolStr, String)>,
    /// One of [`BUILDS`].
    pub build: Option<SmolStr>,
    /// How it wears its ears: one of the drawing's.
    pub ears: Option<SmolStr>,
    /// What its tail is like: one of the drawing's.
    pub tail: Option<SmolStr>,
    /// The coat of the whole dog.
    pub coat: Option<CoatId>,
    /// Other coats elsewhere.
    pub coats: Vec<(Sites, CoatId)>,
    /// The coat's length today.
    pub length: Option<Length>,
    /// Lengths elsewhere.
    pub lengths: Vec<(Sites, Length)>,
    /// Words beside the coat: `undercoat some`, `changing`.
    pub coat_notes: Vec<String>,
    /// Weight.
    pub weight: Option<Weight>,
    /// Height at the withers.
    pub height: Option<Length>,
    /// Age on the day of the sheet.
    pub age: Option<Time>,
    /// Birthday, or the first of its month.
    pub born: Option<Day>,
    /// The day of the card.
    pub seen: Option<Day>,
    /// What the owner was asked about.
    pub asked: Vec<SmolStr>,
    /// Whether the card has a line `asked`.
    pub asked_place: Option<Place>,
    /// Findings.
    pub findings: Vec<Fact>,
    /// Findings that have no name: the place stays untouched.
    pub others: Vec<(String, Sites, Place)>,
    /// Mats.
    pub mats: Vec<Mat>,
    /// What the owner agreed to.
    pub consent: Vec<(SmolStr, bool)>,
    /// How long it stands at a stretch.
    pub at_stretch: Option<Time>,
    /// How long it stands in all.
    pub in_all: Option<Time>,
    /// The recipe that the owner wants.
    pub wants: Option<(Word, Place)>,
    /// What was done at earlier visits, in the order of the card.
    pub visits: Vec<Visit>,
    /// The place of the card's name.
    pub place: Option<Place>,
}

/// A finding on this dog.
#[derive(Clone, Debug)]
pub struct Fact {
    /// Which.
    pub finding: FindingId,
    /// Where; every site for a finding of the whole dog.
    pub sites: Sites,
    /// A part of a zone, if the card names one: `lip`.
    pub mark: Option<MarkId>,
    /// The tool that caused it.
    pub after: Option<ToolId>,
    /// Which way that tool ran.
    pub direction: Option<Direction>,
    /// When.
    pub seen: Option<Day>,
    /// The line as the card says it, for the sheet's danger strip: `wart, left lip`.
    pub words: String,
    /// Where it stands.
    pub place: Place,
}

/// A mat on this dog.
#[derive(Clone, Debug)]
pub struct Mat {
    /// How bad.
    pub grade: Grade,
    /// Where.
    pub sites: Sites,
    /// How far from the skin it begins.
    pub off_skin: Option<Length>,
    /// The place in words.
    pub words: String,
    /// Where it stands.
    pub place: Place,
}

impl Dog {
    /// The coat at a site.
    #[must_use]
    pub fn coat_at(&self, site: Site) -> Option<CoatId> {
        // A later line is the finer one: `coat curl`, then `coat wavy on body`.
        self.coats.iter().rev().find(|(sites, _)| sites.has(site)).map(|(_, c)| *c).or(self.coat)
    }

    /// The coat's length at a site today.
    #[must_use]
    pub fn length_at(&self, site: Site) -> Option<Length> {
        self.lengths.iter().rev().find(|(sites, _)| sites.has(site)).map(|(_, l)| *l).or(self.length)
    }

    /// The build, square where the card says nothing.
    #[must_use]
    pub fn build_or_square(&self) -> &SmolStr {
        static SQUARE: SmolStr = SmolStr::new_static("square");
        self.build.as_ref().unwrap_or(&SQUARE)
    }

    /// Whether it has a finding, wherever that is.
    #[must_use]
    pub fn has(&self, finding: FindingId) -> bool {
        self.findings.iter().any(|fact| fact.finding == finding)
    }

    /// Whether a finding stops the visit.
    #[must_use]
    pub fn stops_visit(&self, trade: &Trade) -> bool {
        self.findings.iter().any(|fact| trade.finding(fact.finding).is_some_and(|f| f.stops_visit))
    }

    /// The steps that its findings ask for, but what the owner refused: ears that nobody frees need no wrap.
    pub fn asked_steps<'a>(&'a self, trade: &'a Trade) -> impl Iterator<Item = StepId> + 'a {
        let steps = self.findings.iter().filter_map(|f| trade.finding(f.finding)).flat_map(|f| &f.steps);
        let refused = |step: &Step| step.needs.iter().any(|what| self.agreed(what) == Some(false));
        steps.copied().filter(move |id| !trade.step(*id).is_some_and(refused))
    }

    /// Where a finding soils a tool.
    #[must_use]
    pub fn soiling(&self, trade: &Trade) -> Sites {
        let soils = self.findings.iter().filter(|f| trade.finding(f.finding).is_some_and(|f| f.soils));
        soils.fold(Sites::NONE, |all, f| all | f.sites)
    }

    /// The worst mat on the card.
    #[must_use]
    pub fn worst_mats(&self) -> Grade {
        self.mats.iter().map(|m| m.grade).max().unwrap_or(Grade::None)
    }

    /// Whether the owner agreed to something; none if nobody asked.
    #[must_use]
    pub fn agreed(&self, what: &str) -> Option<bool> {
        self.consent.iter().rev().find(|(name, _)| name == what).map(|(_, yes)| *yes)
    }

    /// A plain line of the card as written.
    #[must_use]
    pub fn told(&self, line: &str) -> Option<&str> {
        self.told.iter().find(|(name, _)| name == line).map(|(_, text)| text.as_str())
    }
}

/// First words of statements of work: on a card they mean a wish.
const VERBS: &[&str] = &[
    "set",
    "finish",
    "clip",
    "skim",
    "scissor",
    "shape",
    "thin",
    "hand-strip",
    "taper",
    "leave",
    "blend",
    "line",
    "keep",
    "guard",
    "prep",
];

/// Reads a card. The age is counted on `today`, or else on the day of the card.
pub fn read(decl: Decl<'_>, trade: &Trade, units: BodyUnits, today: Option<Day>, out: &mut Vec<Diagnostic>) -> Dog {
    read_lines(decl, &decl.block.body, trade, units, today, out)
}

/// The same for lines that stand in another block: those of a case.
pub fn read_lines(
    decl: Decl<'_>,
    stmts: &[Stmt],
    trade: &Trade,
    units: BodyUnits,
    today: Option<Day>,
    out: &mut Vec<Diagnostic>,
) -> Dog {
    let mut scope = Scope::new(decl.file, decl.at, out);
    let mut dog = lines(stmts, trade, units, &mut scope);
    dog.name = decl.name();
    dog.place = Some(decl.place());
    if let Some(born) = dog.born {
        if let Some(first) = [dog.seen, today].into_iter().flatten().min()
            && born > first
        {
            let message = format!("{} isn't born yet on {first}", dog.name);
            scope
                .say(Diagnostic::error(code::D009, decl.place(), message).help("Look at the lines `born` and `seen`."));
        }
        dog.age = today.or(dog.seen).map(|on| Time((on.0 - born.0).max(0) * DAY));
    }
    due(&mut dog, trade, decl.place());
    for fact in &dog.findings {
        let Some(finding) = trade.finding(fact.finding).filter(|f| f.sex.is_some() && dog.sex.is_some()) else {
            continue;
        };
        if finding.sex != dog.sex {
            let who = if finding.sex == Some(Sex::Bitch) { "bitches" } else { "dogs, not for bitches" };
            let message = format!("{} is for {who}", finding.name.replace('-', " "));
            scope.say(
                Diagnostic::error(code::D009, fact.place, message)
                    .help("Look at the line `sex`, or take this one out."),
            );
        }
    }
    if decl.block.name.is_some() && decl.block.kind == BlockKind::Dog {
        for (missing, line, example) in [
            (dog.coat.is_none() && !has(decl, "coat"), "coat", "coat fleece, 48 mm"),
            (dog.weight.is_none() && !has(decl, "weight"), "weight", "weight 12.4 kg"),
            (dog.sex.is_none() && !has(decl, "sex"), "sex", "sex bitch, spayed"),
        ] {
            if missing {
                let message = format!("the card of {} doesn't tell the {line}", dog.name);
                scope.say(
                    Diagnostic::error(code::D003, decl.place(), message)
                        .why("What is safe and what fits depends on it.")
                        .help(format!("Add a line such as `{example}`.")),
                );
            }
        }
    }
    dog
}

/// Whether the card has such a line at all: what is wrong in it is told there.
fn has(decl: Decl<'_>, line: &str) -> bool {
    decl.block.body.iter().any(|stmt| match &stmt.kind {
        StmtKind::Field(field) => field.name.text == line,
        StmtKind::CardCoat(card) => line == "coat" && card.zones.is_none(),
        _ => false,
    })
}

/// Reads the lines of a card, or of a case's `given { … }`.
pub fn lines(stmts: &[Stmt], trade: &Trade, units: BodyUnits, scope: &mut Scope<'_>) -> Dog {
    let mut dog = Dog::default();
    for stmt in stmts {
        match &stmt.kind {
            StmtKind::CardCoat(coat) => self::coat(&mut dog, coat, trade, units, scope),
            StmtKind::CardFinding(finding) => self::finding(&mut dog, finding, trade, scope),
            StmtKind::CardMats(mats) => self::mats(&mut dog, mats, trade, units, scope),
            StmtKind::Wants { recipe, .. } => dog.wants = Some((recipe.clone(), scope.place(recipe.span))),
            StmtKind::Field(field) => plain(&mut dog, field, trade, units, scope),
            StmtKind::About(prose) => dog.told.push(("note".into(), prose.lines.join(" "))),
            StmtKind::Broken => {}
            _ => {
                let place = scope.place(stmt.span);
                scope.say(
                    Diagnostic::error(code::M024, place, "this doesn't belong on a card")
                        .help("A card tells what the dog is and has. What is done stands in a recipe, or in `wants RECIPE but { … }`."),
                );
            }
        }
    }
    dog
}

fn coat(dog: &mut Dog, card: &CardCoat, trade: &Trade, units: BodyUnits, scope: &mut Scope<'_>) {
    let id = condition::coat(&card.coat, trade, scope);
    match (&card.zones, id) {
        (Some(zones), Some(id)) => dog.coats.push((keeps::sites(zones, trade, scope), id)),
        (None, Some(id)) => dog.coat = Some(id),
        _ => {}
    }
    if let Some(number) = &card.length
        && let Some(length) = number_of(number, Dimension::Length, units, scope)
    {
        match &card.zones {
            Some(zones) => {
                let mut silent = Vec::new();
                let sites = keeps::sites(zones, trade, &mut Scope::new(scope.file, scope.at, &mut silent));
                dog.lengths.push((sites, Length(length)));
            }
            None => dog.length = Some(Length(length)),
        }
    }
    for (zone, number) in &card.lengths {
        let sites = keeps::one(zone, trade, scope);
        if let Some(length) = number_of(number, Dimension::Length, units, scope) {
            dog.lengths.push((sites, Length(length)));
        }
    }
    for (what, how) in &card.notes {
        let note = how.as_ref().map_or_else(|| what.text.to_string(), |h| format!("{} {}", what.text, h.text));
        dog.coat_notes.push(note);
    }
}

fn finding(dog: &mut Dog, card: &CardFinding, trade: &Trade, scope: &mut Scope<'_>) {
    let place = scope.place(card.name.span);
    let sites = card.zones.as_ref().map(|zones| keeps::sites(zones, trade, scope));
    let place_words = card.zones.as_ref().map(places_in_words);
    if let Some(other) = &card.other {
        match sites {
            Some(sites) => dog.others.push((other.text.clone(), sites, place)),
            None => scope.say(
                Diagnostic::error(code::D003, place, "where is it?")
                    .help(format!("Say the place: `finding other \"{}\" on left thigh`.", other.text)),
            ),
        }
        return;
    }
    let Some(&id) = trade.index.findings.get(&card.name.text) else {
        let mut diagnostic = condition::unknown_finding(&card.name, trade, place);
        diagnostic.code = code::D002;
        scope.say(diagnostic.why("A sheet can't be made while nobody knows what this means for the skin."));
        return;
    };
    let Some(finding) = trade.finding(id) else { return };
    let sites = match (sites, finding.on) {
        (Some(sites), _) => sites,
        (None, Where::Fixed(sites)) => sites,
        (None, Where::Whole) => trade.all_sites(),
        (None, Where::Card) => {
            let name = &finding.name;
            scope.say(
                Diagnostic::error(code::D003, place, format!("where is the {}?", name.replace('-', " ")))
                    .why("Its guards hold at its place, so the place must be known.")
                    .help(format!("Say the place: `finding {name} on left thigh`.")),
            );
            trade.all_sites()
        }
    };
    let sites = widened(sites, finding.widens, trade);
    let after = card.after.as_ref().and_then(|tool| match &tool.kind {
        ToolRefKind::Blade(name) => keeps::tool(name, scope.place(tool.span), trade, scope),
        ToolRefKind::Named(word) => keeps::tool(&word.text, scope.place(tool.span), trade, scope),
        ToolRefKind::Comb { length: Some(number), .. } => {
            let env = Env::new();
            let sums = Sums { trade, env: &env, units: trade.units.unwrap_or(ZERO), kit: None };
            keeps::comb(number, &sums, scope)
        }
        ToolRefKind::Comb { .. } => None,
    });
    let by_class = finding.keeps.iter().any(|k| matches!(k.bound, Bound::NoCloserOverCause(_)));
    if after.is_none() && by_class {
        scope.say(
            Diagnostic::warning(code::D003, place, format!("which tool was it that left the {}?", finding.name.replace('-', " ")))
                .why("How far the next tool must stay off is counted from the one that did it; until it is known, the place is left.")
                .help(format!("Say it: `finding {} on … after #10 in reverse`.", finding.name)),
        );
    }
    let mut words = finding.name.replace('-', " ");
    if let Some(zones) = &place_words {
        words = format!("{words}, {zones}");
    }
    if let Some(tool) = after.and_then(|t| trade.tool(t)) {
        let way = match card.direction {
            Some(Direction::Reverse) => " in reverse",
            Some(Direction::Across) => " across",
            Some(Direction::With) => " with the coat",
            None => "",
        };
        words = format!("{words} (after {}{way})", tool.name);
    }
    dog.findings.push(Fact {
        finding: id,
        sites,
        mark: card.zones.as_ref().and_then(|zones| mark_in(zones, trade)),
        after,
        direction: card.direction,
        seen: card.seen.and_then(Day::of),
        words,
        place,
    });
}

/// Places as one says them: `left lip, throat`.
fn places_in_words(zones: &Zones) -> String {
    let words = zones.list.iter().map(|z| {
        let name = z.name.text.replace('-', " ");
        match z.side {
            Some(grammar::tree::Side::Left) => format!("left {name}"),
            Some(grammar::tree::Side::Right) => format!("right {name}"),
            None => name,
        }
    });
    words.collect::<Vec<_>>().join(", ")
}

/// The part of a zone that a place names.
fn mark_in(zones: &Zones, trade: &Trade) -> Option<MarkId> {
    zones.list.iter().find_map(|zone| match trade.index.places.get(&zone.name.text) {
        Some(PlaceName::Mark(mark)) => Some(*mark),
        _ => None,
    })
}

/// A place with all of the part that its finding takes in, on the same side or sides.
#[must_use]
pub fn widened(sites: Sites, part: Sites, trade: &Trade) -> Sites {
    if !sites.meets(part) {
        return sites;
    }
    let side = |side| if trade.half(sites, side).meets(part) { trade.half(part, side) } else { Sites::NONE };
    sites | side(Side::Left) | side(Side::Right)
}

const ZERO: BodyUnits = BodyUnits { finger: Length(0), hand: Length(0) };

fn mats(dog: &mut Dog, card: &CardMats, trade: &Trade, units: BodyUnits, scope: &mut Scope<'_>) {
    let place = scope.place(card.grade.span);
    let Some(grade) = Grade::read(&card.grade.text) else {
        unknown_word(&card.grade, "mats", &["tangle", "knots", "tight", "pelted"], scope);
        return;
    };
    let sites = keeps::sites(&card.zones, trade, scope);
    let off_skin = card.off_skin.as_ref().and_then(|n| number_of(n, Dimension::Length, units, scope)).map(Length);
    let words = places_in_words(&card.zones);
    dog.mats.push(Mat { grade, sites, off_skin, words, place });
}

/// `carries ears prick, tail curled`, or `prick ears, curled tail`: ears and tail as the drawing has them.
fn carries(dog: &mut Dog, field: &Field, scope: &mut Scope<'_>) {
    for value in &field.values {
        let words = match &value.kind {
            ValueKind::Words(words) => words.as_slice(),
            _ => &[],
        };
        let part = |word: &Word| match word.text.as_str() {
            "ear" | "ears" => Some("ears"),
            "tail" => Some("tail"),
            _ => None,
        };
        let told = match words {
            [a, b] => part(a).map(|p| (p, b)).or_else(|| part(b).map(|p| (p, a))),
            _ => None,
        };
        let Some((part, how)) = told else {
            let place = scope.place(value.span);
            scope.say(
                Diagnostic::error(code::M023, place, "ears or tail, and how it carries them")
                    .help("Write it such as `carries ears prick, tail curled`."),
            );
            continue;
        };
        let drawn = crate::atlas::drawing().variants(part);
        if drawn.contains(&&how.text) {
            let slot = if part == "ears" { &mut dog.ears } else { &mut dog.tail };
            *slot = Some(how.text.clone());
        } else {
            unknown_word(how, part, &drawn.iter().map(|v| v.as_str()).collect::<Vec<_>>(), scope);
        }
    }
}

fn plain(dog: &mut Dog, field: &Field, trade: &Trade, units: BodyUnits, scope: &mut Scope<'_>) {
    let name = field.name.text.as_str();
    match name {
        "sex" => sex(dog, field, scope),
        "weight" => dog.weight = measure(field, Dimension::Weight, units, scope).map(Weight),
        "height" => dog.height = measure(field, Dimension::Length, units, scope).map(Length),
        "born" => dog.born = date(field, scope),
        "seen" => dog.seen = date(field, scope),
        "build" => {
            if let Some(word) = field.values.first().and_then(value_name) {
                if BUILDS.contains(&word.text.as_str()) {
                    dog.build = Some(word.text);
                } else {
                    unknown_word(&word, "build", BUILDS, scope);
                }
            }
        }
        "carries" => carries(dog, field, scope),
        "asked" => {
            for word in field.values.iter().filter_map(value_name) {
                let asks = trade.steps.iter().flat_map(|step| &step.asks).map(SmolStr::as_str);
                slip(&word.text, asks, scope.place(word.span), scope);
                dog.asked.push(word.text);
            }
            dog.asked_place = Some(scope.place(field.name.span));
        }
        "consent" => consent(dog, field, scope),
        "stands" => stands(dog, field, units, scope),
        "visit" => super::visit::read(dog, field, scope),
        "color" => dog.told.push(("colour".into(), value_words(&field.values))),
        _ if DOG_LINES.contains(&name) => dog.told.push((field.name.text.clone(), value_words(&field.values))),
        _ => {
            let place = scope.place(field.name.span);
            if VERBS.contains(&name) {
                scope.say(
                    Diagnostic::error(code::M024, place, "a card says what the dog is, not what is done")
                        .help(format!("What this owner wants stands in `wants RECIPE but {{ {name} … }}`.")),
                );
                return;
            }
            let diagnostic = Diagnostic::error(code::M012, place, format!("a card has no line `{name}`"));
            scope.say(match nearest(name, DOG_LINES.iter().copied()) {
                Some(near) => {
                    diagnostic.help(format!("Did you mean `{near}`?")).fix(format!("write `{near}`"), place, near)
                }
                None if name == "age" => diagnostic
                    .help("Write when it was born, as far as it is known: `born 2019-05`. Then it is as old as it is on the day."),
                None => diagnostic.help("What has no line of its own goes into `note \"…\"`."),
            });
        }
    }
}

fn sex(dog: &mut Dog, field: &Field, scope: &mut Scope<'_>) {
    for value in &field.values {
        match &value.kind {
            ValueKind::Words(words) => match words.first().map(|w| w.text.as_str()) {
                Some("dog" | "male") => dog.sex = Some(Sex::Dog),
                Some("bitch" | "female") => dog.sex = Some(Sex::Bitch),
                Some("neutered" | "castrated" | "spayed" | "entire" | "unknown") => {
                    dog.sex_note = Some(spaced(words));
                }
                _ => {
                    if let Some(word) = words.first() {
                        unknown_word(word, "sex", &["dog", "bitch", "neutered", "spayed", "entire"], scope);
                    }
                }
            },
            ValueKind::Date(_) => {
                if let Some(note) = &mut dog.sex_note {
                    *note = format!("{note} {}", value_words(std::slice::from_ref(value)));
                }
            }
            _ => {}
        }
    }
}

/// What an owner says to decides something only under these names; any other words are for people.
const CONSENTS: &[&str] = &["clip-off", "jacket-clip"];

/// A word that may be any, and is most likely a slip for one that decides something.
fn slip<'a>(word: &str, meant: impl Iterator<Item = &'a str> + Clone, place: Place, scope: &mut Scope<'_>) {
    if meant.clone().any(|known| known == word) {
        return;
    }
    if let Some(near) = nearest(word, meant) {
        let message = format!("`{word}` is taken for words of your own");
        let said = Diagnostic::warning(code::M023, place, message).why("As it stands, nothing hangs on it.");
        scope.say(said.help(format!("Did you mean `{near}`?")));
    }
}

fn consent(dog: &mut Dog, field: &Field, scope: &mut Scope<'_>) {
    for value in &field.values {
        let ValueKind::Words(words) = &value.kind else { continue };
        match words.as_slice() {
            [what @ .., answer] if !what.is_empty() && matches!(answer.text.as_str(), "yes" | "no") => {
                let what = joined(what);
                slip(&what, CONSENTS.iter().copied(), scope.place(value.span), scope);
                dog.consent.push((what, answer.text == "yes"));
            }
            [what] => {
                slip(&what.text, CONSENTS.iter().copied(), scope.place(what.span), scope);
                dog.consent.push((what.text.clone(), true));
            }
            _ => {
                let place = scope.place(value.span);
                scope.say(
                    Diagnostic::error(code::M013, place, "say `yes` or `no` after what was asked")
                        .help("For example `consent clip-off yes, muzzle no`."),
                );
            }
        }
    }
}

/// `stands 40 min at a stretch, 2 h in all`. Of a range the shorter end: some days it bears no more.
fn stands(dog: &mut Dog, field: &Field, units: BodyUnits, scope: &mut Scope<'_>) {
    const HELP: &str = "For example `stands 40 min at a stretch, 2 h in all`.";
    for value in &field.values {
        let place = scope.place(value.span);
        let (words, number) = match &value.kind {
            ValueKind::Measure { words, range } => (spaced(words), one_number(range)),
            ValueKind::Range(range) => (String::new(), one_number(range)),
            ValueKind::Number(number) => (String::new(), Some(number.clone())),
            _ => (String::new(), None),
        };
        let Some(number) = number else {
            scope.say(Diagnostic::error(code::M013, place, "how long it stands is due here").help(HELP));
            continue;
        };
        let Some(time) = number_of(&number, Dimension::Time, units, scope).map(Time) else { continue };
        if time.0 <= 0 {
            scope.say(Diagnostic::error(code::D009, place, "this must be more than nothing").help(HELP));
            continue;
        }
        let (slot, what) = match words.as_str() {
            "" | "at a stretch" | "at stretch" | "a stretch" => (&mut dog.at_stretch, "at a stretch"),
            "in all" | "all" => (&mut dog.in_all, "in all"),
            other => {
                let message = format!("a dog doesn't stand `{other}`");
                scope.say(Diagnostic::error(code::M023, place, message).help(HELP));
                continue;
            }
        };
        if slot.is_some() {
            let message = format!("how long it stands {what} is said twice");
            scope.say(Diagnostic::error(code::M011, place, message).help(HELP));
            continue;
        }
        *slot = Some(time);
    }
}

fn one_number(range: &grammar::tree::Range) -> Option<grammar::tree::Number> {
    let range = super::fields::one_unit(range);
    match range.low.or(range.high)?.kind {
        grammar::tree::ExprKind::Number(number) => Some(number),
        _ => None,
    }
}

fn measure(field: &Field, dimension: Dimension, units: BodyUnits, scope: &mut Scope<'_>) -> Option<i64> {
    let value = field.values.first()?;
    match &value.kind {
        ValueKind::Number(number) => {
            let found = number_of(number, dimension, units, scope)?;
            if found <= 0 && number.unit != Unit::None {
                let place = scope.place(value.span);
                scope.say(Diagnostic::error(code::D009, place, "this must be more than nothing"));
                return None;
            }
            Some(found)
        }
        _ => {
            let place = scope.place(value.span);
            scope.say(Diagnostic::error(code::M013, place, format!("{} is due here", dimension.words())));
            None
        }
    }
}

fn date(field: &Field, scope: &mut Scope<'_>) -> Option<Day> {
    let value = field.values.first()?;
    // A day that no calendar has was told where the text was read.
    if let ValueKind::Date(date) = &value.kind {
        return Day::of(*date);
    }
    let place = scope.place(value.span);
    scope.say(Diagnostic::error(code::M013, place, "a date is due here").help("Write `2026-11-20`, or `2019-05`."));
    None
}

/// The values of a line as one reads them.
fn value_words(values: &[Value]) -> String {
    let words = values.iter().map(|value| match &value.kind {
        ValueKind::Words(words) => spaced(words),
        ValueKind::Text(text) => text.text.clone(),
        ValueKind::Number(number) => number.text.to_string(),
        ValueKind::Date(date) => match date.day {
            Some(day) => format!("{:04}-{:02}-{day:02}", date.year, date.month),
            None => format!("{:04}-{:02}", date.year, date.month),
        },
        ValueKind::Blade(word) => word.text.to_string(),
        ValueKind::Measure { words, range } => {
            let number = range.high.as_ref().or(range.low.as_ref()).map_or("", |e| match &e.kind {
                grammar::tree::ExprKind::Number(n) => n.text.as_str(),
                _ => "",
            });
            format!("{} {number}", spaced(words))
        }
        ValueKind::Range(_) | ValueKind::Tool(_) => value_name(value).map(|w| w.text.to_string()).unwrap_or_default(),
    });
    words.filter(|w| !w.is_empty()).collect::<Vec<_>>().join(", ")
}

/// The zone or mark of a name, as people say it.
#[must_use]
pub fn place_words(trade: &Trade, name: PlaceName) -> String {
    match name {
        PlaceName::Zone(id) => trade.zones.get(id.0 as usize).map(|z| z.name.as_str()),
        PlaceName::Mark(id) => trade.marks.get(id.0 as usize).map(|m| m.name.as_str()),
        PlaceName::Group(id) => trade.groups.iter().find(|(_, g)| g.id == id).map(|(n, _)| n.as_str()),
    }
    .unwrap_or_default()
    .replace('-', " ")
}
