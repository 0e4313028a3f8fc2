//! What a kit owns.

use super::Decl;
use crate::measure::BodyUnits;
use crate::names::fields::{only, value_name};
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
