//! Keeps, zones and tools by name.

use super::nearest;
use super::scope::Scope;
use super::sites::Sites;
use super::sums::Sums;
use super::trade::{Ban, Bound, KeepLine, KeepOn, Sex, ToolId, ToolKind, Trade};
use crate::diagnostic::{Diagnostic, code};
use crate::measure::{Dimension, Time};
use crate::source::Place;
use grammar::tree::{self, BoundKind, Floor, Keep, ToolRef, ToolRefKind, ZoneRef, Zones};
use smol_str::SmolStr;

/// The kinds of tool that a ban may name, in both dialects.
const KINDS: &[(&str, ToolKind)] = &[
    ("blade", ToolKind::Blade),
    ("blades", ToolKind::Blade),
    ("comb", ToolKind::Comb),
    ("combs", ToolKind::Comb),
    ("thinners", ToolKind::Thinners),
    ("thinning-shears", ToolKind::Thinners),
    ("shears", ToolKind::Shears),
    ("scissors", ToolKind::Shears),
    ("knife", ToolKind::Knife),
    ("knives", ToolKind::Knife),
    ("stripping", ToolKind::Knife),
    ("stripping", ToolKind::Hand),
    ("hand-stripping", ToolKind::Knife),
    ("hand-stripping", ToolKind::Hand),
    ("hand", ToolKind::Hand),
    ("carder", ToolKind::Carder),
    ("carding", ToolKind::Carder),
    ("rake", ToolKind::Rake),
    ("rakes", ToolKind::Rake),
    ("brush", ToolKind::Brush),
    ("brushes", ToolKind::Brush),
    ("dryer", ToolKind::Dryer),
    ("dryers", ToolKind::Dryer),
];

/// The sites of a list of zones. Unknown names are said once each and left out.
pub fn sites(zones: &Zones, trade: &Trade, scope: &mut Scope<'_>) -> Sites {
    let listed = zones.list.iter().fold(Sites::NONE, |set, zone| set | one(zone, trade, scope));
    let mut left = listed;
    for zone in &zones.except {
        let away = one(zone, trade, scope);
        if !away.is_empty() && !away.meets(listed) {
            let place = scope.place(zone.span);
            let message = format!("`except {}` takes nothing away", zone.name.text);
            scope.say(
                Diagnostic::warning(code::M018, place, message)
                    .help("`except` takes from the whole list before it; name a part of that list."),
            );
        }
        left = left - away;
    }
    if left.is_empty() && !listed.is_empty() && !zones.except.is_empty() {
        scope.say(
            Diagnostic::error(code::M018, scope.place(zones.span), "`except` takes everything away that is named here")
                .why("The line would do nothing.")
                .help("Take the line away, or take less away from it."),
        );
    }
    left
}

/// The sites of one zone, group or mark.
pub fn one(zone: &ZoneRef, trade: &Trade, scope: &mut Scope<'_>) -> Sites {
    let Some(all) = trade.sites_of(&zone.name.text) else {
        scope.say(unknown_zone(trade, &zone.name.text, scope.place(zone.name.span)));
        return Sites::NONE;
    };
    match zone.side {
        None => all,
        Some(side) => {
            let half = trade.half(all, side);
            if half == all {
                let place = scope.place(zone.span);
                let message = format!("`{}` has no left and right", zone.name.text);
                scope.say(Diagnostic::warning(code::M018, place, message).help("Leave the side away."));
            }
            half
        }
    }
}

fn unknown_zone(trade: &Trade, name: &str, place: Place) -> Diagnostic {
    let diagnostic = Diagnostic::error(code::M001, place, format!("no part of the dog is called `{name}`"));
    if let Some(near) = nearest(name, trade.index.places.keys().map(SmolStr::as_str)) {
        return diagnostic.help(format!("Did you mean `{near}`?")).fix(format!("write `{near}`"), place, near);
    }
    // `head-exept-ears`: a misspelt `except` in between.
    let slip = name.split('-').find(|part| (1..=2).contains(&strsim::osa_distance(part, "except")));
    if let Some(part) = slip {
        return diagnostic.help(format!("Did you mean `except` for `{part}`?"));
    }
    // `ribs-shoulder`: two zones without a comma between them.
    let split = name.match_indices('-').map(|(at, _)| (&name[..at], &name[at + 1..]));
    if let Some((a, b)) =
        split.into_iter().find(|(a, b)| trade.index.places.contains_key(*a) && trade.index.places.contains_key(*b))
    {
        return diagnostic.help(format!("`{a}` and `{b}` are two parts: put a comma between them.")).fix(
            format!("write `{a}, {b}`"),
            place,
            format!("{a}, {b}"),
        );
    }
    diagnostic.help("The parts are listed in the body page of the basics; a house can add a group of its own.")
}

/// The message for a tool that nobody declared.
pub fn unknown_tool(trade: &Trade, name: &str, place: Place) -> Diagnostic {
    let diagnostic = Diagnostic::error(code::M002, place, format!("no tool is called `{name}`"));
    if name.starts_with('#') {
        let digits: String = name.chars().skip(1).take_while(char::is_ascii_digit).collect();
        let alike: Vec<&str> = trade
            .index
            .tools
            .keys()
            .map(SmolStr::as_str)
            .filter(|n| {
                n.strip_prefix('#').is_some_and(|n| n.chars().take_while(char::is_ascii_digit).eq(digits.chars()))
            })
            .collect();
        // `#7FC` is nearer to `#7F` than to the skip tooth `#7`.
        let same = |n: &str| n.chars().zip(name.chars()).take_while(|(a, b)| a == b).count();
        if let Some(near) = alike.iter().max_by_key(|n| same(n)) {
            return diagnostic.help(format!("Did you mean `{near}`?")).suggest(format!("write `{near}`"), place, *near);
        }
        return diagnostic.help("Blades run from #50 (closest) to #3F; a length says it as well: `to 9 mm`.");
    }
    if matches!(name, "coat" | "growth" | "hair") {
        return diagnostic.help("Did you mean `with the coat`?").fix("write `the coat`", place, "the coat");
    }
    match nearest(name, trade.index.tools.keys().map(SmolStr::as_str)) {
        Some(near) => diagnostic.help(format!("Did you mean `{near}`?")).fix(format!("write `{near}`"), place, near),
        None => diagnostic
            .help("Name a blade (`#10`), a comb by its length (`19 mm comb`), or a tool of the basics or house."),
    }
}

/// One tool by name; says so if nobody declared it.
pub fn tool(name: &str, place: Place, trade: &Trade, scope: &mut Scope<'_>) -> Option<ToolId> {
    let found = trade.index.tools.get(name).copied();
    // `#5/8` means two lengths, and was told where the text was read.
    if found.is_none() && !name.contains('/') {
        scope.say(unknown_tool(trade, name, place));
    }
    found
}

/// The comb that leaves `number`, or a message.
pub fn comb(number: &tree::Number, sums: &Sums<'_>, scope: &mut Scope<'_>) -> Option<ToolId> {
    let length = super::fields::number_of(number, Dimension::Length, sums.units, scope)?;
    // Half a millimetre: 1/2 in and 13 mm name one comb, and so do 3/8 in and 10 mm (measured edge to edge).
    let best = sums
        .trade
        .tools
        .iter()
        .enumerate()
        .filter(|(_, t)| t.kind == ToolKind::Comb)
        .filter_map(|(at, t)| Some(((t.leaves?.middle().0 - length).abs(), at)))
        .min();
    match best {
        Some((off, at)) if off <= crate::measure::MM / 2 => u16::try_from(at).ok().map(ToolId),
        _ => {
            let place = scope.place(number.span);
            let near = best.and_then(|(_, at)| sums.trade.tools.get(at)).and_then(|t| t.leaves);
            let mut diagnostic =
                Diagnostic::error(code::M002, place, format!("no comb leaves {}", crate::measure::Length(length)));
            if let Some(near) = near {
                diagnostic = diagnostic.help(format!("The nearest comb leaves {}.", near.middle())).suggest(
                    format!("write `{}`", near.middle()),
                    place,
                    near.middle().to_string(),
                );
            }
            scope.say(diagnostic);
            None
        }
    }
}

/// What a `never` or `only` names.
fn bans(refs: &[ToolRef], sums: &Sums<'_>, scope: &mut Scope<'_>) -> Vec<Ban> {
    refs.iter().flat_map(|tool| ban(tool, sums, scope)).collect()
}

/// What one word of a `never` or `only` stands for: a kind of tool and the step of that name both, where both have it.
fn ban(reference: &ToolRef, sums: &Sums<'_>, scope: &mut Scope<'_>) -> Vec<Ban> {
    let place = scope.place(reference.span);
    let trade = sums.trade;
    let name = match &reference.kind {
        ToolRefKind::Blade(name) => return tool(name, place, trade, scope).map(Ban::Tool).into_iter().collect(),
        ToolRefKind::Comb { length: Some(number), .. } => {
            // Every comb of that length, the house's own too.
            let length = |id: ToolId| trade.tool(id).and_then(|t| t.leaves).map(crate::measure::Interval::middle);
            let Some(found) = comb(number, sums, scope) else { return Vec::new() };
            let same = (0..trade.tools.len())
                .filter_map(|i| u16::try_from(i).ok().map(ToolId))
                .filter(|id| trade.tool(*id).is_some_and(|t| t.kind == ToolKind::Comb) && length(*id) == length(found));
            return same.map(Ban::Tool).collect();
        }
        ToolRefKind::Comb { length: None, .. } => return vec![Ban::Kind(ToolKind::Comb)],
        ToolRefKind::Named(word) => word.text.as_str(),
    };
    if matches!(name, "clipper" | "clippers") {
        return vec![Ban::AnyClipper];
    }
    let mut found: Vec<Ban> =
        KINDS.iter().filter(|(word, _)| *word == name).map(|(_, kind)| Ban::Kind(*kind)).collect();
    found.extend(trade.index.steps.get(name).map(|step| Ban::Step(*step)));
    if found.is_empty() {
        found.extend(tool(name, place, trade, scope).map(Ban::Tool));
    }
    found
}

/// What every keep line of one statement shares.
pub struct KeepHead<'a> {
    /// Where it binds if the statement names no zones.
    pub on: KeepOn,
    /// What declares it.
    pub owner: &'a SmolStr,
    /// The sex that it binds.
    pub sex: Option<Sex>,
}

/// The lines of one `keep` statement, one a bound.
pub fn lines(keep: &Keep, head: &KeepHead<'_>, sums: &Sums<'_>, scope: &mut Scope<'_>) -> Vec<KeepLine> {
    let on = match &keep.zones {
        Some(zones) => KeepOn::Sites(sites(zones, sums.trade, scope)),
        None => head.on,
    };
    let because = keep.because.as_ref().map(|t| t.text.clone());
    let mut lines = Vec::new();
    for bound in &keep.bounds {
        let place = scope.place(bound.span);
        let Some(kind) = self::bound(&bound.kind, place, sums, scope) else { continue };
        let on = if matches!(kind, Bound::AtStretch(_) | Bound::InAll(_)) { KeepOn::Dog } else { on };
        lines.push(KeepLine {
            on,
            bound: kind,
            owner: head.owner.clone(),
            place,
            because: because.clone(),
            sex: head.sex,
        });
    }
    lines
}

fn bound(kind: &BoundKind, place: Place, sums: &Sums<'_>, scope: &mut Scope<'_>) -> Option<Bound> {
    Some(match kind {
        BoundKind::NoCloser(Floor::Blade(blade)) => {
            let id = tool(&blade.text, place, sums.trade, scope)?;
            Bound::NoCloser(sums.trade.tool(id)?.closeness?, Some(blade.text.clone()))
        }
        BoundKind::NoCloser(Floor::Length(expr)) => Bound::NoCloser(sums.length(expr, scope)?, None),
        BoundKind::NoCloser(Floor::OverCause(classes)) => Bound::NoCloserOverCause(*classes),
        BoundKind::NoShorter(expr) => Bound::NoShorter(sums.length(expr, scope)?),
        BoundKind::AtMost(expr) => Bound::AtMost(sums.length(expr, scope)?),
        BoundKind::Gap(gap) => Bound::Gap(*gap),
        BoundKind::Untouched => Bound::Untouched,
        BoundKind::Never(tools) => Bound::Never(bans(tools, sums, scope)),
        BoundKind::Only(tools) => Bound::Only(bans(tools, sums, scope)),
        BoundKind::Direction { way, never: true } => Bound::NeverDirection(*way),
        BoundKind::Direction { way, never: false } => Bound::OnlyDirection(*way),
        BoundKind::Passes(passes) => Bound::Passes(*passes),
        BoundKind::First => Bound::First,
        BoundKind::Last => Bound::Last,
        BoundKind::Open => Bound::Open,
        BoundKind::Refer => Bound::Refer,
        BoundKind::AtStretch(number) => Bound::AtStretch(time(number, sums, scope)?),
        BoundKind::InAll(number) => Bound::InAll(time(number, sums, scope)?),
        BoundKind::Manner(word) => Bound::Manner(word.text.clone()),
    })
}

fn time(number: &tree::Number, sums: &Sums<'_>, scope: &mut Scope<'_>) -> Option<Time> {
    super::fields::number_of(number, Dimension::Time, sums.units, scope).map(Time)
}
