//! The checks of a run: names, then each recipe over the dogs without findings that it serves and each answer in it.
//!
//! Conditions cut weight, height and age into pieces; one dog of each piece, coat, build and sex stands for all dogs of
//! that piece that have no findings, since no statement tells them apart. Dogs with findings are proved in a later stage;
//! here each finding that a recipe answers is tried by itself.

use crate::choices::{self, Choices, Layer, Level};
use crate::diagnostic::{Diagnostic, Severity, code, in_order};
use crate::finish::finish;
use crate::measure::{BodyUnits, DAY, Length, Time, Weight};
use crate::names::card::{self, Dog, Fact};
use crate::names::condition::{BUILDS, Bounds, Cond};
use crate::names::lower::Decl;
use crate::names::nearest;
use crate::names::sites::Sites;
use crate::names::trade::{Bound, CoatId, KeepOn, Reply, Sex, Tool, Trade, Where};
use crate::rules::RULES;
use crate::source::{FileId, Place};
use crate::workspace::{Salon, Workspace};
use grammar::tree::{StmtKind, ValueKind};
use rayon::prelude::*;
use smol_str::SmolStr;
use std::collections::HashSet;

/// Everything that is wrong in the files that the user named, in the order in which a reader meets it.
#[must_use]
pub fn check(workspace: &Workspace) -> Vec<Diagnostic> {
    let mut out = workspace.syntax();
    let asked: HashSet<FileId> = workspace.asked().iter().copied().collect();
    for salon in workspace.salons() {
        out.extend(self::salon(&salon, &asked));
    }
    in_order(&mut out);
    out
}

/// Everything that is wrong in the asked files of one salon, beside the words themselves.
#[must_use]
pub fn salon(salon: &Salon<'_>, asked: &HashSet<FileId>) -> Vec<Diagnostic> {
    let mut out: Vec<Diagnostic> = salon.said.clone();
    if let Some(house) = salon.house {
        out.extend(self::house(salon, house));
    }
    let recipes: Vec<&Decl<'_>> = salon.recipes.values().collect();
    let of_recipe = |decl: &Decl<'_>| recipe(salon, *decl, asked);
    if recipes.len() > 8 {
        out.par_extend(recipes.par_iter().flat_map_iter(|d| of_recipe(d)));
    } else {
        out.extend(recipes.iter().flat_map(|d| of_recipe(d)));
    }
    let sound = out.iter().all(|d| d.severity < Severity::Error);
    for decl in salon.dogs.values().filter(|d| asked.contains(&d.file)) {
        let dog = card::read(*decl, &salon.trade, units(&salon.trade), None, &mut out);
        let Some((word, place)) = dog.wants.clone() else { continue };
        match salon.recipes.get(&word.text) {
            // What stands between this dog and its sheet is better known before it stands on the table.
            Some(recipe) if sound => {
                let mut said = Vec::new();
                crate::sheet::worked(salon, *decl, *recipe, dog, None, &mut said);
                said.retain(|d| d.code.starts_with('D') && d.severity > Severity::Note);
                out.extend(said);
            }
            Some(_) => {}
            None => out.push(unknown_recipe(salon, &word.text, place)),
        }
    }
    for case in salon.cases.iter().filter(|c| asked.contains(&c.file)) {
        self::case(salon, *case, &mut out);
    }
    out.retain(|d| asked.contains(&d.place.file));
    out
}

/// Finger and hand of a trade.
#[must_use]
pub fn units(trade: &Trade) -> BodyUnits {
    trade.units.unwrap_or(BodyUnits { finger: Length(0), hand: Length(0) })
}

/// The message for a recipe that nobody declared.
#[must_use]
pub fn unknown_recipe(salon: &Salon<'_>, name: &str, place: Place) -> Diagnostic {
    let diagnostic = Diagnostic::error(code::M005, place, format!("no recipe here is called `{name}`"));
    match nearest(name, salon.recipes.keys().map(SmolStr::as_str)) {
        Some(near) => diagnostic.help(format!("Did you mean `{near}`?")).fix(format!("write `{near}`"), place, near),
        None => diagnostic.help("Recipes are found in the folder of the house and below it."),
    }
}

/// The chain of a recipe: house, bases from the farthest, the recipe itself.
pub fn chain<'t>(salon: &Salon<'t>, recipe: Decl<'t>, out: &mut Vec<Diagnostic>) -> Vec<Layer<'t>> {
    let mut bases: Vec<Decl<'t>> = Vec::new();
    let mut at = recipe;
    while let Some((word, version)) = extends(at) {
        let place = Place { file: at.file, start: at.at + word.span.start, end: at.at + word.span.end };
        let Some(base) = salon.recipes.get(&word.text).copied() else {
            out.push(unknown_recipe(salon, &word.text, place));
            break;
        };
        if base.place() == recipe.place() || bases.iter().any(|b| b.place() == base.place()) {
            out.push(
                Diagnostic::error(code::M019, place, format!("{} builds on itself", recipe.name()))
                    .help("Let the base stand on its own, or build on another recipe."),
            );
            break;
        }
        if let (Some(seen), Some(now)) = (version, version_of(base))
            && seen != now
        {
            out.push(
                Diagnostic::warning(code::M020, place, format!("{} is at version {now} now, not {seen}", base.name()))
                    .why("What it says may have changed since this recipe was written.")
                    .help(format!("Read the base again, then write `version {now}`.")),
            );
        }
        bases.push(base);
        at = base;
    }
    let mut layers = Vec::new();
    if let Some(house) = salon.house {
        layers.push(Layer { level: Level::House, decl: house, stmts: &house.block.body });
    }
    for (number, base) in (0u16..).zip(bases.iter().rev()) {
        layers.push(Layer { level: Level::Base(number), decl: *base, stmts: &base.block.body });
    }
    layers.push(Layer { level: Level::Recipe, decl: recipe, stmts: &recipe.block.body });
    layers
}

fn extends<'t>(decl: Decl<'t>) -> Option<(&'t grammar::tree::Word, Option<i64>)> {
    decl.block.body.iter().find_map(|stmt| match &stmt.kind {
        StmtKind::Extends { base, version } => Some((base, version.as_ref().map(|v| v.num / v.den.max(1)))),
        _ => None,
    })
}

fn version_of(decl: Decl<'_>) -> Option<i64> {
    decl.block.body.iter().find_map(|stmt| match &stmt.kind {
        StmtKind::Field(field) if field.name.text == "version" => field.values.first().and_then(|v| match &v.kind {
            ValueKind::Number(n) => Some(n.num / n.den.max(1)),
            _ => None,
        }),
        _ => None,
    })
}

fn house(salon: &Salon<'_>, house: Decl<'_>) -> Vec<Diagnostic> {
    let mut out = Vec::new();
    let layer = Layer { level: Level::House, decl: house, stmts: &house.block.body };
    let choices = choices::build(&[layer], &salon.trade, units(&salon.trade), &mut out);
    loosened(&choices, &salon.trade, &mut out);
    out.extend(blade_charts(salon));
    out
}

/// C008: within one kind of blade a smaller number leaves no less. Ties are fine.
fn blade_charts(salon: &Salon<'_>) -> Vec<Diagnostic> {
    let mut out = Vec::new();
    let number = |name: &str| -> Option<i64> {
        let text: String = name.strip_prefix('#')?.chars().take_while(|c| c.is_ascii_digit() || *c == '.').collect();
        let (whole, tenth) = text.split_once('.').unwrap_or((&text, "0"));
        Some(whole.parse::<i64>().ok()? * 10 + tenth.parse::<i64>().ok()?)
    };
    let skip = |gap| gap == Some(grammar::tree::Gap::Skip);
    // Of a blade declared anew the newer one counts.
    let newest = |at: usize, tool: &Tool| salon.trade.tools.iter().skip(at + 1).all(|t| t.name != tool.name);
    let mut blades: Vec<(i64, &Tool)> = salon
        .trade
        .tools
        .iter()
        .enumerate()
        .filter(|(at, tool)| newest(*at, tool))
        .filter_map(|(_, tool)| Some((number(&tool.name)?, tool)))
        .collect();
    blades.sort_by_key(|(n, t)| (skip(t.gap), std::cmp::Reverse(*n)));
    let own = |tool: &Tool| (tool.place.file.0 as usize) >= crate::basics::TEXTS.len();
    for (number, blade) in &blades {
        // Of all larger numbers of its kind, the one that leaves most.
        let longest = blades
            .iter()
            .filter(|(n, other)| n > number && skip(other.gap) == skip(blade.gap))
            .max_by_key(|(_, other)| other.closeness);
        let Some((_, other)) = longest.filter(|(_, other)| other.closeness > blade.closeness) else { continue };
        let (Some(longer), Some(shorter)) = (other.closeness, blade.closeness) else { continue };
        // The salon's own blade is the one to look at, and once is enough.
        let (at, beside) = if own(blade) || !own(other) { (*blade, *other) } else { (*other, *blade) };
        if out.iter().any(|d: &Diagnostic| d.place == at.place) {
            continue;
        }
        out.push(
            Diagnostic::error(
                code::C008,
                at.place,
                format!("{} leaves {shorter}, less than {}'s {longer}", blade.name, other.name),
            )
            .related(beside.place, "the other blade")
            .why("A smaller number leaves more, so one of the two is wrong, and somebody will be cut by it.")
            .help("Look the two lengths up on the blades themselves."),
        );
    }
    out
}

fn case(salon: &Salon<'_>, case: Decl<'_>, out: &mut Vec<Diagnostic>) {
    let place =
        |span: grammar::tree::Span| Place { file: case.file, start: case.at + span.start, end: case.at + span.end };
    for stmt in &case.block.body {
        match &stmt.kind {
            StmtKind::Field(field) if field.name.text == "recipe" => {
                if let Some(word) = field.values.first().and_then(crate::names::fields::value_name)
                    && !salon.recipes.contains_key(&word.text)
                {
                    out.push(unknown_recipe(salon, &word.text, place(word.span)));
                }
            }
            StmtKind::Given { dog: Some(word), .. } if !salon.dogs.contains_key(&word.text) => {
                let place = place(word.span);
                let diagnostic =
                    Diagnostic::error(code::D003, place, format!("no card here is called `{}`", word.text));
                out.push(match nearest(&word.text, salon.dogs.keys().map(SmolStr::as_str)) {
                    Some(near) => {
                        diagnostic.help(format!("Did you mean `{near}`?")).fix(format!("write `{near}`"), place, near)
                    }
                    None => diagnostic.help("Write the card, or give the dog on the spot: `given { coat curl; … }`."),
                });
            }
            StmtKind::Given { body: Some(body), .. } => {
                let mut scope = crate::names::scope::Scope::new(case.file, case.at, out);
                card::lines(&body.stmts, &salon.trade, units(&salon.trade), &mut scope);
            }
            _ => {}
        }
    }
}

/// The messages of one recipe. A recipe in a file that wasn't asked for is read for the sake of the bases that were.
fn recipe(salon: &Salon<'_>, decl: Decl<'_>, asked: &HashSet<FileId>) -> Vec<Diagnostic> {
    let mut out = Vec::new();
    let layers = chain(salon, decl, &mut out);
    if !layers.iter().any(|l| asked.contains(&l.decl.file)) {
        return Vec::new();
    }
    let choices = choices::build(&layers, &salon.trade, units(&salon.trade), &mut out);
    loosened(&choices, &salon.trade, &mut out);
    // A recipe that serves nobody in particular is a base: it is checked through those that build on it.
    if choices.serves.is_always() || out.iter().any(|d| d.severity == Severity::Error) {
        return out;
    }
    let dogs = representatives(&choices, &salon.trade);
    let mut found = Found { of: dogs.len(), weighed: weighed(&dogs), ..Found::default() };
    for dog in &dogs {
        let mut said = Vec::new();
        let finishes = finish(&choices, &salon.trade, dog, &mut said);
        for rule in RULES {
            rule(&choices, &salon.trade, dog, &finishes, &mut said);
        }
        found.add(said, dog, &salon.trade);
    }
    out.extend(found.told());
    let seen: HashSet<(&'static str, Place)> = out.iter().map(|d| (d.code, d.place)).collect();
    let answered = answered(&choices, &salon.trade);
    let mut found = Found { of: answered.len(), weighed: weighed(&answered), ..Found::default() };
    for dog in &answered {
        let mut said = Vec::new();
        finish(&choices, &salon.trade, dog, &mut said);
        said.retain(|d| !seen.contains(&(d.code, d.place)));
        found.add(said, dog, &salon.trade);
    }
    out.extend(found.told());
    out
}

/// One message a rule and statement, with the first dog that it fails for and how many it fails for.
#[derive(Default)]
struct Found {
    of: usize,
    weighed: bool,
    messages: Vec<(Diagnostic, String, usize)>,
}

impl Found {
    fn add(&mut self, said: Vec<Diagnostic>, dog: &Dog, trade: &Trade) {
        let mut once: HashSet<(&'static str, Place)> = HashSet::new();
        for diagnostic in said {
            if !once.insert((diagnostic.code, diagnostic.place)) {
                continue;
            }
            match self.messages.iter_mut().find(|(d, _, _)| (d.code, d.place) == (diagnostic.code, diagnostic.place)) {
                Some((_, _, times)) => *times += 1,
                None => self.messages.push((diagnostic, dog_words(dog, trade, self.weighed), 1)),
            }
        }
    }

    /// The messages; where not every dog is meant, the dog it fails for is told.
    fn told(self) -> impl Iterator<Item = Diagnostic> {
        let of = self.of;
        self.messages.into_iter().map(move |(mut diagnostic, dog, times)| {
            if times < of {
                let why = diagnostic.why.take().map(|w| format!("{w} ")).unwrap_or_default();
                diagnostic.why = Some(format!("{why}The dog it fails for: {dog}."));
            }
            diagnostic
        })
    }
}

/// Whether the weight of these dogs is worth a word: whether it tells any two of them apart.
fn weighed(dogs: &[Dog]) -> bool {
    dogs.windows(2).any(|pair| matches!(pair, [a, b] if a.weight != b.weight))
}

/// A dog in a few words: `a bitch of 4.9 kg with a curl coat, face shy`.
fn dog_words(dog: &Dog, trade: &Trade, weighed: bool) -> String {
    let sex = if dog.sex == Some(Sex::Bitch) { "a bitch" } else { "a dog" };
    let weight = dog.weight.filter(|_| weighed).map(|w| format!(" of {w}")).unwrap_or_default();
    let coat = dog.coat.and_then(|c| trade.coat(c)).map(|c| format!(" with a {} coat", c.name)).unwrap_or_default();
    let build = dog.build.as_ref().map(|b| format!(", {b}")).unwrap_or_default();
    let findings: String = dog
        .findings
        .iter()
        .filter_map(|f| trade.finding(f.finding))
        .map(|f| format!(", {}", f.name.replace('-', " ")))
        .collect();
    format!("{sex}{weight}{coat}{build}{findings}")
}

/// H002: a keep of a recipe that asks for less than what already binds there.
fn loosened(choices: &Choices, trade: &Trade, out: &mut Vec<Diagnostic>) {
    for (number, entry) in choices.keeps.iter().enumerate().skip(trade.keeps.len()) {
        let KeepOn::Sites(sites) = entry.line.on else { continue };
        let stronger = choices.keeps.iter().take(number).find(|other| {
            let KeepOn::Sites(wider) = other.line.on else { return false };
            other.finding.is_none()
                && entry.finding.is_none()
                && sites.within(wider)
                && entry.cond.implies(&other.cond)
                && match (&entry.line.bound, &other.line.bound) {
                    (Bound::NoCloser(a, _), Bound::NoCloser(b, _)) => a < b,
                    (Bound::Gap(a), Bound::Gap(b)) => a > b,
                    (Bound::NoShorter(a), Bound::NoShorter(b)) => a < b,
                    (Bound::Passes(a), Bound::Passes(b)) => a > b,
                    _ => false,
                }
        });
        if let Some(other) = stronger {
            out.push(
                Diagnostic::error(
                    code::H002,
                    entry.line.place,
                    "this keep asks for less than one that already binds here",
                )
                .related(other.line.place, format!("{} asks for more", other.line.owner.replace('-', " ")))
                .why("A keep only ever tightens: a recipe can't loosen its base or house, nor a house the basics.")
                .help("Take it away, or ask for more than that."),
            );
        }
    }
}

/// One dog without findings for each coat, build, sex and piece of weight, height and age that the recipe tells apart.
#[must_use]
pub fn representatives(choices: &Choices, trade: &Trade) -> Vec<Dog> {
    let serves = &choices.serves;
    let coats: Vec<CoatId> = match &serves.coats {
        Some(coats) => coats.clone(),
        None => (0..trade.coats.len()).filter_map(|i| u16::try_from(i).ok().map(CoatId)).collect(),
    };
    let mut conds: Vec<&Cond> = vec![serves];
    fn all<'c>(cond: &'c Cond, out: &mut Vec<&'c Cond>) {
        out.push(cond);
        cond.not.iter().for_each(|n| all(n, out));
    }
    for choice in &choices.finishes {
        all(&choice.cond, &mut conds);
    }
    for entry in &choices.keeps {
        all(&entry.cond, &mut conds);
    }
    for blend in &choices.blends {
        all(&blend.cond, &mut conds);
    }
    for order in &choices.orders {
        all(&order.cond, &mut conds);
    }
    for line in &choices.lines {
        all(&line.cond, &mut conds);
    }
    for ask in &choices.prep {
        all(&ask.cond, &mut conds);
    }
    let (weights, heights, ages) = (
        pieces(&conds, &serves.weight, |c| &c.weight, 100, 12_000),
        pieces(&conds, &serves.height, |c| &c.height, Length::mm(10).0, Length::mm(400).0),
        pieces(&conds, &serves.age, |c| &c.age, 7 * DAY, 3 * 365 * DAY),
    );
    let told = |f: fn(&Cond) -> bool| conds.iter().any(|c| f(c));
    let builds: Vec<Option<SmolStr>> = if told(|c| c.builds.is_some()) {
        let served = |b: &&&str| serves.builds.as_ref().is_none_or(|any| any.iter().any(|x| x == **b));
        BUILDS.iter().filter(served).map(|b| Some(SmolStr::from(*b))).collect()
    } else {
        vec![None]
    };
    let sexes: Vec<Sex> = match serves.sex {
        Some(sex) => vec![sex],
        None => vec![Sex::Dog, Sex::Bitch],
    };
    let mut dogs = Vec::new();
    for &coat in &coats {
        for build in &builds {
            for &weight in &weights {
                for &height in &heights {
                    for &age in &ages {
                        for &sex in &sexes {
                            // Only the parts that differ by sex ask for the second one.
                            if sex == Sex::Bitch
                                && serves.sex.is_none()
                                && !dogs.is_empty()
                                && !sex_matters(&conds, &dogs, coat)
                            {
                                continue;
                            }
                            dogs.push(Dog {
                                sex: Some(sex),
                                build: build.clone(),
                                coat: Some(coat),
                                weight: Some(Weight(weight)),
                                height: Some(Length(height)),
                                age: Some(Time(age)),
                                ..Dog::default()
                            });
                        }
                    }
                }
            }
        }
    }
    dogs
}

/// Sex decides the prepuce and vulva on each coat once; beyond that only where a condition speaks of it.
fn sex_matters(conds: &[&Cond], dogs: &[Dog], coat: CoatId) -> bool {
    conds.iter().any(|c| c.sex.is_some()) || !dogs.iter().any(|d| d.coat == Some(coat) && d.sex == Some(Sex::Bitch))
}

/// A value in each piece into which the conditions cut a measure, on the card's grid and within what is served.
fn pieces(conds: &[&Cond], served: &Bounds, of: fn(&Cond) -> &Bounds, grid: i64, usual: i64) -> Vec<i64> {
    let mut cuts: Vec<i64> = Vec::new();
    for cond in conds {
        for (value, _) in [of(cond).low, of(cond).high].into_iter().flatten() {
            cuts.extend([value - grid, value, value + grid]);
        }
    }
    cuts.push(usual);
    cuts.retain(|v| *v > 0 && served.has(*v));
    cuts.sort_unstable();
    cuts.dedup();
    // Values that every condition treats alike are one piece; the usual one stands for its piece if it can.
    let mut pieces: Vec<i64> = Vec::new();
    let mut last: Option<Vec<bool>> = None;
    for value in cuts {
        let now: Vec<bool> = conds.iter().map(|c| of(c).has(value)).collect();
        match pieces.last_mut() {
            Some(piece) if last.as_ref() == Some(&now) => {
                if (value - usual).abs() < (*piece - usual).abs() {
                    *piece = value;
                }
            }
            _ => pieces.push(value),
        }
        last = Some(now);
    }
    if pieces.is_empty() {
        pieces.push(usual);
    }
    pieces
}

/// For each finding that the recipe answers, and each whose answer is due: a dog that has it and nothing else.
fn answered(choices: &Choices, trade: &Trade) -> Vec<Dog> {
    let plain = representatives(choices, trade);
    let mut dogs = Vec::new();
    for (number, finding) in trade.findings.iter().enumerate() {
        let Ok(id) = u16::try_from(number).map(crate::names::trade::FindingId) else { continue };
        let guarded: Sites =
            choices.finishes.iter().filter(|c| c.finding == Some(id)).fold(Sites::NONE, |set, c| set | c.sites);
        if choices.serves.without.contains(&id) || (guarded.is_empty() && finding.reply != Reply::Answer) {
            continue;
        }
        let sites = match finding.on {
            Where::Whole => trade.all_sites(),
            Where::Fixed(sites) => sites,
            Where::Card => guarded,
        };
        let place = finding.place;
        for dog in plain.iter().take(24) {
            let fact =
                Fact { finding: id, sites, after: None, direction: None, seen: None, words: String::new(), place };
            dogs.push(Dog { findings: vec![fact], ..dog.clone() });
        }
    }
    dogs
}
