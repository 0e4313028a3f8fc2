//! The whole way for one dog.

use super::{Sheet, build};
use crate::check;
use crate::choices::{self, Choices, Layer, Level};
use crate::date::Day;
use crate::diagnostic::{Diagnostic, Severity, code, in_order};
use crate::finish::{Did, Finishes, Outcome, finish, on_words};
use crate::names::card::{self, Dog};
use crate::names::lower::Decl;
use crate::names::nearest;
use crate::names::sites::{Site, Sites};
use crate::names::trade::{Reply, Trade, Vet};
use crate::names::zone_words::{list_words, zone_words};
use crate::plan::{BlendWork, Plan, TaskKind, Work, plan};
use crate::rules::RULES;
use crate::source::{FileId, Place};
use crate::verify;
use crate::workspace::{Salon, Workspace};
use grammar::tree::{Stmt, StmtKind};
use smol_str::SmolStr;

/// What is asked for.
#[derive(Clone, Debug)]
pub struct Request {
    /// The recipe's name; none takes what the card wants.
    pub recipe: Option<String>,
    /// The card's name.
    pub dog: String,
    /// The day of the visit; none takes the day of the card.
    pub on: Option<Day>,
    /// Whether the steps say why.
    pub learner: bool,
}

/// Everything that was worked out for one dog: for the sheet, for `why`, for tests.
#[derive(Debug)]
pub struct Made {
    /// The recipe's choices.
    pub choices: Choices,
    /// The vocabulary.
    pub trade: Trade,
    /// The dog.
    pub dog: Dog,
    /// What is done where.
    pub finishes: Finishes,
    /// In which order.
    pub plan: Plan,
    /// What there is to say; no error among it.
    pub said: Vec<Diagnostic>,
    /// The texts that it was made from: name and fingerprint.
    pub made_from: Vec<String>,
}

/// A sheet for one dog.
///
/// # Errors
/// The messages that keep a sheet from being made, and the others beside them.
pub fn make(workspace: &Workspace, request: &Request) -> Result<Sheet, Vec<Diagnostic>> {
    let made = finished(workspace, request)?;
    Ok(build::sheet(&made, workspace.sources(), request))
}

/// Card and recipe to a plan that the independent check has passed.
///
/// # Errors
/// As [`make`].
pub fn finished(workspace: &Workspace, request: &Request) -> Result<Made, Vec<Diagnostic>> {
    let mut out = Vec::new();
    let salons = workspace.salons();
    let Some((salon, card)) = salons.iter().find_map(|s| s.dogs.get(request.dog.as_str()).map(|d| (s, *d))) else {
        return Err(vec![no_card(&salons, &request.dog, workspace)]);
    };
    words_of(workspace, &[card], &mut out);
    let units = check::units(&salon.trade);
    let dog = card::read(card, &salon.trade, units, request.on, &mut out);
    let (name, place) = match (&request.recipe, &dog.wants) {
        (Some(name), _) => (SmolStr::from(name.as_str()), card.place()),
        (None, Some((word, place))) => (word.text.clone(), *place),
        (None, None) => {
            out.push(
                Diagnostic::error(code::D003, card.place(), format!("which recipe for {}?", dog.name))
                    .help("Name it, or add a line such as `wants harbour-short` to the card."),
            );
            return Err(out);
        }
    };
    let Some(recipe) = salon.recipes.get(&name).copied() else {
        out.push(check::unknown_recipe(salon, &name, place));
        return Err(out);
    };
    let mut layers = check::chain(salon, recipe, &mut out);
    let wish = wish(card, &name);
    if !wish.is_empty() {
        layers.push(Layer { level: Level::Wish, decl: card, stmts: wish });
    }
    let decls: Vec<Decl<'_>> = layers.iter().map(|l| l.decl).collect();
    words_of(workspace, &decls, &mut out);
    out.extend(salon.said.iter().cloned());
    let choices = choices::build(&layers, &salon.trade, units, &mut out);
    served(&choices, salon, &dog, card, &mut out);
    let finishes = finish(&choices, &salon.trade, &dog, &mut out);
    for rule in RULES {
        rule(&choices, &salon.trade, &dog, &finishes, &mut out);
    }
    untold(&choices, &dog, card, &mut out);
    on_the_day(&dog, &salon.trade, request.on, card, &mut out);
    for_the_vet(&dog, &salon.trade, &mut out);
    left(&finishes, &salon.trade, &mut out);
    in_order(&mut out);
    once(&mut out);
    if out.iter().any(|d| d.severity == Severity::Error) {
        return Err(out);
    }
    let plan = plan(&choices, &salon.trade, &dog, &finishes);
    let breaches = verified(workspace, salon, &layers, card, &dog, &plan, &finishes);
    if !breaches.is_empty() {
        out.extend(breaches);
        return Err(out);
    }
    let mut made_from: Vec<String> = layers.iter().map(|l| fingerprint(workspace, l.decl)).collect();
    made_from.push(format!("basics {:016x}", hash(crate::basics::embedded())));
    Ok(Made { choices, trade: salon.trade.clone(), dog, finishes, plan, said: out, made_from })
}

fn no_card(salons: &[Salon<'_>], name: &str, workspace: &Workspace) -> Diagnostic {
    let names: Vec<&str> = salons.iter().flat_map(|s| s.dogs.keys()).map(SmolStr::as_str).collect();
    let file = workspace.asked().first().copied().unwrap_or(FileId(0));
    let place = Place { file, start: 0, end: 0 };
    let diagnostic = Diagnostic::error(code::D003, place, format!("no card here is called `{name}`"));
    match nearest(name, names.iter().copied()) {
        Some(near) => diagnostic.help(format!("Did you mean `{near}`?")),
        None if names.is_empty() => diagnostic.help(format!("Write one: `coatwright new card {name}`.")),
        None => diagnostic.help(format!("The cards here are: {}.", names.join(", "))),
    }
}

fn wish<'t>(card: Decl<'t>, recipe: &str) -> &'t [Stmt] {
    card.block
        .body
        .iter()
        .find_map(|stmt| match &stmt.kind {
            StmtKind::Wants { recipe: wanted, but: Some(body) } if wanted.text == recipe => Some(body.stmts.as_slice()),
            _ => None,
        })
        .unwrap_or(&[])
}

/// Mistakes in the words of the blocks that a sheet is made from.
fn words_of(workspace: &Workspace, decls: &[Decl<'_>], out: &mut Vec<Diagnostic>) {
    for decl in decls {
        let file = workspace.files().iter().find(|f| f.id == decl.file);
        let placed = file.into_iter().flat_map(|f| &f.tree.blocks).find(|p| p.at == decl.at);
        for error in placed.into_iter().flat_map(|p| &p.block.errors) {
            let message = crate::workspace::syntax(decl.file, decl.at, error);
            if !out.contains(&message) {
                out.push(message);
            }
        }
    }
}

/// One message a rule and statement.
fn once(out: &mut Vec<Diagnostic>) {
    let mut seen = std::collections::HashSet::new();
    out.retain(|d| seen.insert((d.code, d.place, d.severity)));
}

fn served(choices: &Choices, salon: &Salon<'_>, dog: &Dog, card: Decl<'_>, out: &mut Vec<Diagnostic>) {
    let sites = salon.trade.all_sites();
    // The coat of the whole dog decides; a coat elsewhere that isn't served is worth a look, since the finishes there are
    // made and checked for that coat as ever.
    let whole = Dog { coats: Vec::new(), ..dog.clone() };
    let by_part = sites.iter().next().is_some_and(|s| choices.serves.holds(&whole, s));
    let refused: Vec<Site> = sites.iter().filter(|s| !choices.serves.holds(dog, *s)).collect();
    let Some(site) = refused.first() else { return };
    let serves = &choices.serves;
    let coat = dog.coat_at(*site).and_then(|c| salon.trade.coat(c)).map_or("", |c| c.name.as_str());
    let without: Vec<&str> = serves
        .without
        .iter()
        .filter(|f| dog.findings.iter().any(|fact| fact.finding == **f))
        .filter_map(|f| salon.trade.finding(*f))
        .map(|f| f.name.as_str())
        .collect();
    let why = if !without.is_empty() {
        format!("It isn't for dogs with {}.", without.join(", ").replace('-', " "))
    } else if serves.coats.as_ref().is_some_and(|any| !dog.coat_at(*site).is_some_and(|c| any.contains(&c))) {
        let part =
            if by_part { format!(", which this dog has {}", on_words(&salon.trade, *site)) } else { String::new() };
        format!("It isn't for a {coat} coat{part}.")
    } else if serves.mats.is_some_and(|m| dog.worst_mats() > m) {
        format!(
            "It serves up to {}, and this dog has {}.",
            serves.mats.map_or("", |m| m.word()),
            dog.worst_mats().word()
        )
    } else {
        let mut out: Vec<&str> = Vec::new();
        let outside =
            |bounds: &Bounds, value: Option<i64>| *bounds != Bounds::default() && !value.is_some_and(|v| bounds.has(v));
        out.extend(outside(&serves.weight, dog.weight.map(|w| w.0)).then_some("weight"));
        out.extend(outside(&serves.height, dog.height.map(|h| h.0)).then_some("height"));
        out.extend(outside(&serves.age, dog.age.map(|a| a.0)).then_some("age"));
        out.extend((serves.sex.is_some() && serves.sex != dog.sex).then_some("sex"));
        out.extend(serves.builds.as_ref().is_some_and(|b| !b.contains(dog.build_or_square())).then_some("build"));
        format!("Its {} is outside what the recipe serves, or not on the card.", out.join(" and "))
    };
    let place = dog.wants.as_ref().map_or_else(|| card.place(), |(_, place)| *place);
    let message = format!("{} doesn't serve {}", choices.title, dog.name);
    // Mats alone don't make a trim unsafe: they are cut beneath, with consent, and the sheet says so.
    let mats_only = without.is_empty()
        && Cond::without_mats(&choices.serves).holds(dog, *site)
        && sites.iter().all(|s| Cond::without_mats(&choices.serves).holds(dog, s));
    let diagnostic = if mats_only || by_part {
        Diagnostic::warning(code::D001, place, message)
    } else {
        Diagnostic::error(code::D001, place, message)
    };
    let mut diagnostic = diagnostic.why(why).help("Choose another recipe, or let its author widen `serves`.");
    if let Some(recipe) = choices.place {
        diagnostic = diagnostic.related(recipe, "whom it serves stands in this recipe");
    }
    out.push(diagnostic);
}

use crate::names::condition::{Bounds, Cond};

impl Cond {
    /// The same condition without its word on mats.
    #[must_use]
    pub fn without_mats(&self) -> Self {
        Self { mats: None, ..self.clone() }
    }
}

/// A measure that some condition asks for and the card doesn't tell: nobody knows which branch is meant.
fn untold(choices: &Choices, dog: &Dog, card: Decl<'_>, out: &mut Vec<Diagnostic>) {
    type Asks = fn(&Cond) -> bool;
    let conds = choices.finishes.iter().map(|c| &c.cond).chain(choices.keeps.iter().map(|k| &k.cond));
    let conds: Vec<&Cond> = conds.chain([&choices.serves]).collect();
    fn asks(cond: &Cond, of: Asks) -> bool {
        of(cond) || cond.not.iter().any(|n| asks(n, of))
    }
    let due: [(bool, Asks, &str, &str); 2] = [
        (dog.age.is_none(), |c| c.age != Bounds::default(), "age", "born 2019-05"),
        (dog.height.is_none(), |c| c.height != Bounds::default(), "height", "height 42 cm"),
    ];
    for (missing, of, what, example) in due {
        if missing && conds.iter().any(|c| asks(c, of)) {
            out.push(
                Diagnostic::error(
                    code::D003,
                    card.place(),
                    format!("the card of {} doesn't tell the {what}", dog.name),
                )
                .why("The recipe does one thing or another by it.")
                .help(format!("Add a line such as `{example}`.")),
            );
        }
    }
}

/// What a card alone can tell about its own day.
fn on_the_day(dog: &Dog, trade: &Trade, on: Option<Day>, card: Decl<'_>, out: &mut Vec<Diagnostic>) {
    let fresh = trade.steps.iter().filter_map(|s| s.good_for).min().map(|t| t.0 / crate::measure::DAY);
    if let (Some(seen), Some(fresh), Some(on)) = (dog.seen, fresh, on)
        && on.0 - seen.0 > fresh
    {
        out.push(
            Diagnostic::warning(
                code::D008,
                card.place(),
                format!("this card is from {seen}, {} days before the visit", on.0 - seen.0),
            )
            .why("Skin, lumps and mats change in weeks.")
            .help("Look the dog over again and renew the line `seen`."),
        );
    }
    let unasked = super::facts::not_asked(dog, trade);
    if !unasked.is_empty() {
        out.push(
            Diagnostic::note(
                code::D004,
                dog.asked_place.unwrap_or_else(|| card.place()),
                format!("nobody asked about {}", list_words(&unasked)),
            )
            .why("Silence on a card isn't health.")
            .help("Ask, then add it to the line `asked`."),
        );
    }
    for mat in dog.mats.iter().filter(|m| m.grade >= crate::names::condition::Grade::Tight) {
        if dog.agreed("clip-off").is_none() {
            out.push(
                Diagnostic::error(code::D006, mat.place, format!("nobody asked the owner about clipping off the {}", mat.words))
                    .why("Tight mats can't be combed out kindly; what lies under them is short, and the owner must agree before.")
                    .help("Ask, then add `consent clip-off yes` or `consent clip-off no`."),
            );
        }
    }
}

/// D005: what a vet must see before a tool comes near.
fn for_the_vet(dog: &Dog, trade: &Trade, out: &mut Vec<Diagnostic>) {
    for fact in &dog.findings {
        let Some(finding) = trade.finding(fact.finding).filter(|f| f.stops_visit || f.vet == Some(Vet::Now)) else {
            continue;
        };
        let message = if finding.stops_visit {
            format!("{}: the visit stops here, a vet first", fact.words)
        } else {
            format!("{}: that part stops here, a vet first", fact.words)
        };
        let mut diagnostic = Diagnostic::warning(code::D005, fact.place, message)
            .related(finding.place, "the basics or the house say so here")
            .help("The sheet leaves it out and says so to the owner.");
        if let Some(caution) = finding.cautions.first() {
            diagnostic = diagnostic.why(caution.clone());
        }
        out.push(diagnostic);
    }
}

/// D007 and C009: what is left because of a finding or a rule, and what is left because no tool is safe there.
fn left(finishes: &Finishes, trade: &Trade, out: &mut Vec<Diagnostic>) {
    let mut groups: Vec<(Place, bool, Sites)> = Vec::new();
    for finish in finishes.all.iter().filter(|f| f.outcome == Outcome::Left) {
        let Some(reason) =
            finish.reasons.iter().rev().find(|r| matches!(r.what, Did::Guarded(_) | Did::Mat | Did::Replied(..)))
        else {
            continue;
        };
        let no_tool = finish.reasons.iter().any(|r| matches!(r.what, Did::Replied(_, Reply::Raise | Reply::Answer)));
        match groups.iter_mut().find(|(place, none, _)| *place == reason.place && *none == no_tool) {
            Some((_, _, sites)) => *sites = *sites | Sites::one(finish.site),
            None => groups.push((reason.place, no_tool, Sites::one(finish.site))),
        }
    }
    for (place, no_tool, sites) in groups {
        let zones = zone_words(trade, sites);
        out.push(if no_tool {
            Diagnostic::note(
                code::C009,
                place,
                format!("no tool of the kit is safe on the {zones} of this dog: left as it is"),
            )
            .why("Floor, teeth and bans together leave nothing, and a longer blade is never the way out.")
        } else {
            Diagnostic::note(code::D007, place, format!("left as it is: {zones}"))
        });
    }
}

/// The plan, checked by code that shares nothing with what made it.
fn verified(
    workspace: &Workspace,
    salon: &Salon<'_>,
    layers: &[Layer<'_>],
    card: Decl<'_>,
    dog: &Dog,
    plan: &Plan,
    finishes: &Finishes,
) -> Vec<Diagnostic> {
    let basics: Vec<grammar::tree::File> = crate::basics::TEXTS.iter().map(|(_, text)| grammar::parse(text)).collect();
    let mut texts: Vec<verify::Text<'_>> = Vec::new();
    for (file, number) in basics.iter().zip(0..) {
        texts.push(verify::Text { file: number, blocks: file.blocks.iter().map(|p| (p.at, &p.block.block)).collect() });
    }
    for file in workspace.files().iter().filter(|f| salon.files.contains(&f.id)) {
        texts.push(verify::Text {
            file: file.id.0,
            blocks: file.tree.blocks.iter().map(|p| (p.at, &p.block.block)).collect(),
        });
    }
    let chain: Vec<(u32, u32, &[Stmt])> = layers.iter().map(|l| (l.decl.file.0, l.decl.at, l.stmts)).collect();
    let case = verify::Case {
        trade: &texts,
        chain: &chain,
        card: (card.file.0, card.at, &card.block.body),
        days_old: dog.age.map(|a| a.0 / crate::measure::DAY),
    };
    let done = done(&salon.trade, plan, finishes);
    let mut breaches = verify::verify(&case, &done);
    // One rule is broken once, however many places it is broken at.
    let mut seen = std::collections::HashSet::new();
    breaches.retain(|b| seen.insert((b.file, b.start, b.end)));
    breaches
        .into_iter()
        .map(|breach| {
            let place = Place { file: FileId(breach.file), start: breach.start, end: breach.end };
            Diagnostic::error(code::V001, place, format!("the check of the finished sheet said no: {}", breach.words))
                .why("No sheet is written that breaks a welfare rule.")
                .help(
                    "This is a fault in Coatwright, not in your recipe: please tell us, with the recipe and the card.",
                )
        })
        .collect()
}

/// What the plan does at each place, as plain data.
fn done(trade: &Trade, plan: &Plan, finishes: &Finishes) -> Vec<verify::Done> {
    let mut done = Vec::new();
    for (number, task) in plan.tasks.iter().enumerate() {
        let name = |id| trade.tool(id).map(|t| t.name.clone());
        let order = u32::try_from(number).unwrap_or(u32::MAX);
        let (works, blends): (&[Work], &[BlendWork]) = match &task.kind {
            TaskKind::Part { works, blends, .. } => (works, blends),
            TaskKind::SetIn(works) => (works, &[]),
            _ => continue,
        };
        for blend in blends.iter().filter(|b| b.tool.is_some()) {
            for site in (blend.from | blend.into).iter() {
                let Some((zone, side)) = trade.zone_of(site) else { continue };
                done.push(verify::Done {
                    zone: zone.name.clone(),
                    side,
                    tool: blend.tool.and_then(name),
                    over: None,
                    direction: None,
                    passes: 1,
                    length: finishes.at(site).and_then(|f| f.fine.leaves).map(|l| l.low.0),
                    order,
                });
            }
        }
        for work in works {
            for site in work.sites.iter() {
                let Some((zone, side)) = trade.zone_of(site) else { continue };
                done.push(verify::Done {
                    zone: zone.name.clone(),
                    side,
                    tool: work.stroke.tool.and_then(name),
                    over: work.stroke.over.and_then(name),
                    direction: work.stroke.direction,
                    passes: work.stroke.passes,
                    length: work.stroke.leaves.map(|l| l.low.0),
                    order,
                });
            }
        }
    }
    done
}

fn fingerprint(workspace: &Workspace, decl: Decl<'_>) -> String {
    let text = workspace.sources().text(decl.file);
    let start = decl.at as usize;
    let block = text.get(start..start + decl.block.span.end as usize).unwrap_or(text);
    format!("{} {} {:016x}", decl.block.keyword.text, decl.name(), hash(block.as_bytes()))
}

/// FNV-1a with 64 bits: a fingerprint that is the same on every machine. Source: the FNV reference parameters.
fn hash(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0xcbf2_9ce4_8422_2325, |hash, byte| (hash ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3))
}
