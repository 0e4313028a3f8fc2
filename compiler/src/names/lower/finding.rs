//! What the lines of a finding say.

use super::Decl;
use super::read::{is_keep, keep_lines, known_steps, listed, sex_line};
use crate::measure::{BodyUnits, Dimension, Length, Time};
use crate::names::condition::Grade;
use crate::names::fields::{Fields, only, spaced};
use crate::names::keeps::KeepHead;
use crate::names::scope::Scope;
use crate::names::trade::*;
use grammar::tree::{StmtKind, ValueKind};

pub(super) fn read_finding(trade: &mut Trade, decl: Decl<'_>, units: BodyUnits, scope: &mut Scope<'_>) {
    let name = decl.name();
    let Some(&id) = trade.index.findings.get(&name) else { return };
    let on = finding_place(trade, decl, scope);
    let widens = listed(decl.block, "widens", trade, scope);
    let mut fields = Fields::new(decl.block, scope, units);
    let reply = match fields.word("reply", &["raise", "leave", "refer", "answer"]).as_deref() {
        Some("leave") => Reply::Leave,
        Some("refer") => Reply::Refer,
        Some("answer") => Reply::Answer,
        _ => Reply::Raise,
    };
    let vet = match fields.word("vet", &["now", "note"]).as_deref() {
        Some("now") => Some(Vet::Now),
        Some(_) => Some(Vet::Note),
        None => None,
    };
    let about = fields.about();
    let sex = sex_line(&mut fields);
    let margin = fields.measure("margin", Dimension::Length).map(Length);
    let (spot, one_side) = (fields.flag("spot"), fields.flag("one-side"));
    let by_tool = fields.word("cause", &["tool"]).is_some();
    let stops_visit = fields.flag("stops-visit");
    let apart = fields.word("apart", &["males", "females", "all"]).map(|w| match w.as_str() {
        "males" => Apart::From(Sex::Dog),
        "females" => Apart::From(Sex::Bitch),
        _ => Apart::All,
    });
    let age = |time: Option<i64>| time.map(Time);
    let younger_than = age(fields.measure("younger-than", Dimension::Time));
    let older_than = age(fields.measure("older-than", Dimension::Time));
    let from_mats = fields.word("from-mats", &["tangle", "knots", "tight", "pelted"]).and_then(|w| Grade::read(&w));
    let soils = fields.word("hygiene", &["soils"]).is_some();
    let needs = fields.names("needs").into_iter().map(|w| w.text).collect();
    let steps = fields.names("steps");
    let (cautions, owner) = (fields.texts("caution"), fields.texts("owner"));
    let steps = known_steps(&steps, trade, scope);
    only(decl.block, scope, is_keep);
    let head = KeepHead { on: KeepOn::Place, owner: &name, sex: None };
    let keeps = keep_lines(decl.block, &head, trade, units, scope);
    let place = decl.place();
    if let Some(slot) = trade.findings.get_mut(id.0 as usize) {
        *slot = Finding {
            name,
            about,
            sex,
            on,
            margin,
            spot,
            one_side,
            by_tool,
            keeps,
            reply,
            vet,
            stops_visit,
            apart,
            steps,
            widens,
            younger_than,
            older_than,
            from_mats,
            soils,
            needs,
            cautions,
            owner,
            place,
        };
    }
}

fn finding_place(trade: &Trade, decl: Decl<'_>, scope: &mut Scope<'_>) -> Where {
    let line = decl.block.body.iter().find_map(|stmt| match &stmt.kind {
        StmtKind::Field(field) if field.name.text == "on" => Some(field),
        _ => None,
    });
    let Some(line) = line else { return Where::Card };
    if let [value] = line.values.as_slice()
        && let ValueKind::Words(words) = &value.kind
    {
        match spaced(words).as_str() {
            "any zone" | "any-zone" => return Where::Card,
            "whole dog" | "the whole dog" | "whole-dog" => return Where::Whole,
            _ => {}
        }
    }
    Where::Fixed(listed(decl.block, "on", trade, scope))
}
