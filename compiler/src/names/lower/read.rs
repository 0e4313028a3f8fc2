//! What the lines of each declaration say.

use super::Decl;
use super::kit::within;
use crate::diagnostic::{Diagnostic, code};
use crate::measure::{BodyUnits, Dimension, Factor, Growth, Interval, Length, Rate, Time};
use crate::names::fields::{Fields, only, value_name};
use crate::names::keeps::{self, KeepHead};
use crate::names::nearest;
use crate::names::scope::Scope;
use crate::names::sites::Sites;
use crate::names::sums::{Env, Sums};
use crate::names::trade::*;
use crate::source::Place;
use grammar::tree::{Block, BlockKind, BoundKind, Gap, Stmt, StmtKind, Word};
use smol_str::SmolStr;

/// The sites named by a plain line.
pub(super) fn listed(block: &Block, line: &str, trade: &Trade, scope: &mut Scope<'_>) -> Sites {
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

pub(super) fn keep_lines(
    block: &Block,
    head: &KeepHead<'_>,
    trade: &Trade,
    units: BodyUnits,
    scope: &mut Scope<'_>,
) -> Vec<KeepLine> {
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

pub(super) fn is_keep(stmt: &Stmt) -> bool {
    matches!(stmt.kind, StmtKind::Keep(_))
}

/// A keep that says how long a dog may stand, and nothing else.
fn is_endurance(stmt: &Stmt) -> bool {
    let of_time = |bound: &grammar::tree::Bound| matches!(bound.kind, BoundKind::AtStretch(_) | BoundKind::InAll(_));
    matches!(&stmt.kind, StmtKind::Keep(keep) if keep.zones.is_none() && keep.bounds.iter().all(of_time))
}

pub(super) fn sex_line(fields: &mut Fields<'_, '_, '_>) -> Option<Sex> {
    fields.word("sex", &["dog", "bitch"]).map(|w| if w == "dog" { Sex::Dog } else { Sex::Bitch })
}

pub(super) fn read_zone(trade: &mut Trade, decl: Decl<'_>, units: BodyUnits, scope: &mut Scope<'_>) {
    let name = decl.name();
    let Some(id) = trade.zone_called(&name) else { return };
    let mut fields = Fields::new(decl.block, scope, units);
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
    let hygiene = fields.word("hygiene", &["soils", "clean"]).map(|w| match w.as_str() {
        "soils" => Hygiene::Soils,
        _ => Hygiene::Clean,
    });
    let share = Factor(fields.measure("share", Dimension::Factor).unwrap_or(0));
    let region = fields.word("region", &[]).unwrap_or_default();
    let borders = fields.names("borders");
    let hidden = fields.flag("hidden");
    let cautions = fields.texts("caution");
    let borders = borders
        .iter()
        .filter_map(|word| match trade.zone_called(&word.text) {
            Some(id) => Some(id),
            None => {
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
        *zone = Zone { about, sex, station, skin, hygiene, share, region, borders, hidden, cautions, ..zone.clone() };
    }
}

pub(super) fn read_mark(trade: &mut Trade, decl: Decl<'_>, units: BodyUnits, scope: &mut Scope<'_>) {
    let name = decl.name();
    let Some(&PlaceName::Mark(id)) = trade.index.places.get(&name) else { return };
    let sites = listed(decl.block, "on", trade, scope);
    let mut fields = Fields::new(decl.block, scope, units);
    let about = fields.about();
    let sex = sex_line(&mut fields);
    let find = fields.flag("find");
    let landmark = fields.texts("landmark").into_iter().next();
    let pairs: Vec<Vec<Word>> = fields.all("parts").into_iter().map(named).collect();
    let cautions = fields.texts("caution");
    only(decl.block, scope, is_keep);
    let parts = pairs.iter().filter_map(|words| neighbours(words, trade, decl, scope)).collect();
    let head = KeepHead { on: KeepOn::Sites(sites), owner: &name, sex };
    let mut keeps = keep_lines(decl.block, &head, trade, units, scope);
    trade.keeps.append(&mut keeps);
    if let Some(mark) = trade.marks.get_mut(id.0 as usize) {
        *mark = Mark { about, sites, sex, find, landmark, parts, cautions, ..mark.clone() };
    }
}

/// The names of a line.
fn named(field: &grammar::tree::Field) -> Vec<Word> {
    field.values.iter().filter_map(value_name).collect()
}

/// Two parts that lie side by side, from `parts A, B`.
fn neighbours(words: &[Word], trade: &Trade, decl: Decl<'_>, scope: &mut Scope<'_>) -> Option<(ZoneId, ZoneId)> {
    let ids: Vec<Option<ZoneId>> = words.iter().map(|w| trade.zone_called(&w.text)).collect();
    if let [Some(a), Some(b)] = ids.as_slice() {
        return Some((*a, *b));
    }
    let place = words.first().map_or(decl.place(), |w| scope.place(w.span));
    scope.say(
        Diagnostic::error(code::M013, place, "two parts of the dog are due here")
            .help("Name two that lie side by side, such as `parts ribs, flank`."),
    );
    None
}

fn factor(interval: Option<Interval<i64>>) -> Interval<Factor> {
    interval.map_or(Interval::point(Factor(1_000_000)), |i| i.map(Factor))
}

pub(super) fn read_coat(trade: &mut Trade, decl: Decl<'_>, units: BodyUnits, scope: &mut Scope<'_>) {
    let Some(&id) = trade.index.coats.get(&decl.name()) else { return };
    let mut fields = Fields::new(decl.block, scope, units);
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
        grows: fields.interval("grows", Dimension::Growth).map_or(Interval::point(Growth(0)), |i| i.map(Growth)),
        grows_to: fields.measure("grows-to", Dimension::Length).map(Length),
        stands_to: fields.measure("stands-to", Dimension::Length).map(Length),
        shortest: fields.measure("shortest", Dimension::Length).map(Length),
        mats_after: fields.interval("mats-after", Dimension::Time).map(|i| i.map(Time)),
        regrowth_poor: fields.word("regrowth", &["poor", "good"]).is_some_and(|w| w == "poor"),
        strips: fields.word("strips", &["yes", "no"]).is_some_and(|w| w == "yes"),
        dries: dries.as_ref().and_then(|w| trade.index.steps.get(&w.text).copied()),
        dries_at: fields.interval("dries-at", Dimension::Rate).map(|i| i.map(Rate)),
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

/// The steps of those names; unknown ones are said.
pub(super) fn known_steps(words: &[Word], trade: &Trade, scope: &mut Scope<'_>) -> Vec<StepId> {
    words
        .iter()
        .filter_map(|word| {
            let found = trade.index.steps.get(&word.text).copied();
            if found.is_none() {
                scope.say(unknown_step(trade, word, scope.place(word.span)));
            }
            found
        })
        .collect()
}

pub(super) fn read_tool(trade: &mut Trade, decl: Decl<'_>, units: BodyUnits, scope: &mut Scope<'_>) {
    let Some(&id) = trade.index.tools.get(&decl.name()) else { return };
    const KINDS: &[&str] = &[
        "blade", "comb", "clipper", "shears", "thinners", "knife", "hand", "carder", "rake", "brush", "dryer", "nails",
    ];
    // A blade that is hot in less can't be worked with; one that takes longer was measured wrong.
    const WARMS: (i64, i64) = (60, 3_600);
    let mut fields = Fields::new(decl.block, scope, units);
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
    let leaves = fields.interval("leaves", Dimension::Length).map(|i| i.map(Length));
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
    let blends = fields.names("blends").first().cloned();
    let tool = Tool {
        name: decl.name(),
        about: fields.about(),
        kind,
        leaves,
        closeness: fields.measure("closeness", Dimension::Length).map(Length).or(leaves.map(|l| l.low)),
        gap,
        does: fields.names("does").into_iter().map(|w| w.text).collect(),
        blends: blends.as_ref().and_then(|w| trade.index.manners.get(&w.text).copied()),
        over: Vec::new(),
        bare,
        rate: fields.interval("rate", Dimension::Rate).map(|i| i.map(Rate)),
        warms: within(&mut fields, "warms", Dimension::Time, WARMS, "1 and 60 min").map(|i| i.map(Time)),
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
    if let (Some(word), None) = (&blends, tool.blends) {
        let place = scope.place(word.span);
        let message = format!("no way of working is called `{}`", word.text);
        let diagnostic = Diagnostic::error(code::M006, place, message);
        scope.say(match nearest(&word.text, trade.index.manners.keys().map(SmolStr::as_str)) {
            Some(near) => {
                diagnostic.help(format!("Did you mean `{near}`?")).fix(format!("write `{near}`"), place, near)
            }
            None => diagnostic.help("Name a motion, such as `thinning-in`, or declare one: `motion NAME { … }`."),
        });
    }
    let over = over.iter().filter_map(|w| keeps::tool(&w.text, scope.place(w.span), trade, scope)).collect();
    if let Some(slot) = trade.tools.get_mut(id.0 as usize) {
        *slot = Tool { over, ..tool };
    }
}

pub(super) fn read_step(trade: &mut Trade, decl: Decl<'_>, units: BodyUnits, scope: &mut Scope<'_>) {
    let Some(&id) = trade.index.steps.get(&decl.name()) else { return };
    const STAGES: &[&str] = &["intake", "dry-prep", "rough", "wash", "dry", "check", "finish", "last-look"];
    let on = listed(decl.block, "on", trade, scope);
    let mut fields = Fields::new(decl.block, scope, units);
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
    let or_else = fields.names("or-else");
    let step = Step {
        name: decl.name(),
        about: fields.about(),
        stage,
        on,
        uses: uses.as_ref().and_then(|w| trade.index.tools.get(&w.text).copied()),
        asks: fields.names("asks").into_iter().map(|w| w.text).collect(),
        needs: fields.names("needs").into_iter().map(|w| w.text).collect(),
        or_else: Vec::new(),
        rate: fields.interval("rate", Dimension::Rate).map(|i| i.map(Rate)),
        most: fields.measure("most", Dimension::Time).map(Time),
        good_for: fields.measure("good-for", Dimension::Time).map(Time),
        minutes: fields.interval("minutes", Dimension::Time).map(|i| i.map(Time)),
        every: fields.interval("every", Dimension::Time).map(|i| i.map(Time)),
        after: after.iter().map(|w| w.text.clone()).collect(),
        wet: fields.word("wet", &["yes", "no"]).is_none_or(|w| w == "yes"),
        stands: fields.word("stands", &["yes", "no"]).is_none_or(|w| w == "yes"),
        waits: fields.word("waits", &["yes", "no"]).is_none_or(|w| w == "yes"),
        keeps: Vec::new(),
        cautions: fields.texts("caution"),
        owner: fields.texts("owner").into_iter().next(),
        place: decl.place(),
    };
    let step = Step { or_else: known_steps(&or_else, trade, scope), ..step };
    if let (Some(word), None) = (&uses, step.uses) {
        scope.say(keeps::unknown_tool(trade, &word.text, scope.place(word.span)));
    }
    for word in &after {
        if !trade.index.steps.contains_key(&word.text) {
            scope.say(unknown_step(trade, word, scope.place(word.span)));
        }
    }
    only(decl.block, scope, is_endurance);
    let head = KeepHead { on: KeepOn::Dog, owner: &step.name, sex: None };
    let keeps = keep_lines(decl.block, &head, trade, units, scope);
    if let Some(slot) = trade.steps.get_mut(id.0 as usize) {
        *slot = Step { keeps, ..step };
    }
}

pub(super) fn read_manner(trade: &mut Trade, decl: Decl<'_>, units: BodyUnits, scope: &mut Scope<'_>) {
    let Some(&id) = trade.index.manners.get(&decl.name()) else { return };
    let on = listed(decl.block, "on", trade, scope);
    let mut fields = Fields::new(decl.block, scope, units);
    let manner = Manner {
        name: decl.name(),
        about: fields.about(),
        on,
        freehand: fields.flag("freehand"),
        closes: fields.measure("closes", Dimension::Length).map(Length),
        along: fields.interval("along", Dimension::Length).map(|i| i.map(Length)),
        motion: decl.block.kind == BlockKind::Motion,
        place: decl.place(),
    };
    only(decl.block, scope, |_| false);
    if let Some(slot) = trade.manners.get_mut(id.0 as usize) {
        *slot = manner;
    }
}
