//! What a kit owns, and how its blades warm.

use super::Decl;
use crate::diagnostic::{Diagnostic, code};
use crate::measure::{BodyUnits, Dimension, Factor, Temperature, Time};
use crate::names::fields::{Fields, only, value_name};
use crate::names::keeps;
use crate::names::scope::Scope;
use crate::names::sums::{Env, Sums};
use crate::names::trade::*;
use grammar::tree::{StmtKind, ValueKind};

pub(super) fn read_kit(trade: &mut Trade, decl: Decl<'_>, units: BodyUnits, scope: &mut Scope<'_>) {
    let Some(&id) = trade.index.kits.get(&decl.name()) else { return };
    let env = Env::new();
    let mut owns: Vec<(ToolId, u32)> = Vec::new();
    let mut many = 1;
    for stmt in &decl.block.body {
        let StmtKind::Field(field) = &stmt.kind else { continue };
        if field.name.text != "owns" {
            continue;
        }
        for value in &field.values {
            let sums = Sums { trade, env: &env, units, kit: None };
            let tool = match &value.kind {
                ValueKind::Number(number) if number.unit == grammar::tree::Unit::None => {
                    many = u32::try_from(number.num / number.den.max(1)).unwrap_or(1);
                    continue;
                }
                ValueKind::Tool(tool) => match &tool.kind {
                    grammar::tree::ToolRefKind::Comb { length: Some(number), .. } => keeps::comb(number, &sums, scope),
                    _ => value_name(value).and_then(|w| keeps::tool(&w.text, scope.place(value.span), trade, scope)),
                },
                _ => value_name(value).and_then(|w| keeps::tool(&w.text, scope.place(value.span), trade, scope)),
            };
            owns.extend(tool.map(|t| (t, many)));
            many = 1;
        }
    }
    only(decl.block, scope, |_| false);
    if let Some(kit) = trade.kits.get_mut(id.0 as usize) {
        kit.owns = owns;
    }
}

/// The lines of a kit about heat; what it doesn't tell stays as another told it.
pub(super) fn read_heat(fields: &mut Fields<'_, '_, '_>, heat: &mut Heat) {
    // Beyond these nobody works, and no order of work keeps skin from a burn.
    const ROOM: (i64, i64) = (5_000, 35_000);
    const ENDS: (i64, i64) = (30_000, 90_000);
    const COOLS: (i64, i64) = (30, 1_800);
    const THIN: (i64, i64) = (50_000, 1_000_000);
    if let Some(room) = within(fields, "room", Dimension::Temperature, ROOM, "5 and 35 °C") {
        heat.room = room.map(Temperature);
    }
    if let Some(ends) = within(fields, "ends-at", Dimension::Temperature, ENDS, "30 and 90 °C") {
        heat.ends_at = Some(ends.map(Temperature));
    }
    if let Some(cools) = within(fields, "cools", Dimension::Time, COOLS, "30 s and 30 min") {
        heat.cools = cools.map(Time);
    }
    if let Some(share) = within(fields, "thin-skin", Dimension::Factor, THIN, "5 and 100 %") {
        heat.thin_skin = Factor(share.low);
    }
}

/// A measure between two ends; H004 if it isn't.
pub(super) fn within(
    fields: &mut Fields<'_, '_, '_>,
    name: &str,
    dimension: Dimension,
    (least, most): (i64, i64),
    words: &str,
) -> Option<crate::measure::Interval<i64>> {
    let value = fields.interval(name, dimension)?;
    if value.low >= least && value.high <= most {
        return Some(value);
    }
    let line = fields.all(name).first().map(|f| f.name.span)?;
    let scope = fields.scope();
    let place = scope.place(line);
    scope.say(
        Diagnostic::error(code::H004, place, format!("`{name}` can't be so: it lies between {words}"))
            .why("The sheet says by these lines when a blade is felt or changed, before it burns the dog.")
            .help("Measure it and write what you measured, or leave the line out: then the basics count."),
    );
    None
}
