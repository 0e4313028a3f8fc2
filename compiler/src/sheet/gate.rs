//! The last gate: the plan as plain data, for the check that shares nothing with what made it.

use super::checked::standing;
use super::make::{At, Part};
use crate::choices::Layer;
use crate::diagnostic::{Diagnostic, code};
use crate::finish::Finishes;
use crate::names::card::Dog;
use crate::names::condition::Grade;
use crate::names::lower::Decl;
use crate::names::trade::{Direction, Stage, Trade};
use crate::plan::{BlendWork, DEMATT, ForBlade, Moment, PELTS_OFF, Plan, Stop, TaskKind, Work};
use crate::source::{FileId, Place};
use crate::verify;
use grammar::tree::Stmt;

/// The plan, checked by code that shares nothing with what made it.
pub(super) fn verified(
    at: &At<'_, '_>,
    layers: &[Layer<'_>],
    card: Decl<'_>,
    dog: &Dog,
    (plan, finishes): (&Plan, &Finishes),
    part: &Part,
) -> Vec<Diagnostic> {
    let salon = at.salon;
    let chain: Vec<(u32, u32, &[Stmt])> = layers.iter().map(|l| (l.decl.file.0, l.decl.at, l.stmts)).collect();
    let houses: Vec<u64> = layers.iter().map(|l| l.houses.0).collect();
    let case = verify::Case {
        trade: at.texts,
        chain: &chain,
        houses: &houses,
        card: (card.file.0, card.at, &card.block.body),
        days_old: dog.age.map(|a| a.0 / crate::measure::DAY),
    };
    let done = done(&salon.trade, plan, finishes);
    let own;
    let known = match at.read {
        Some(known) => known,
        None => {
            own = verify::Known::read(at.texts, &chain);
            &own
        }
    };
    let table = known.on_table(&case);
    let mut breaches = table.breaches(&done);
    breaches.extend(table.out_of_turn(&done));
    breaches.extend(table.burns(&blades(&salon.trade, plan)));
    let steps = steps_done(&salon.trade, plan, dog);
    let bathed = matches!(part, Part::Rest(without) if without.bathed);
    breaches.extend(verify::order(&case, &steps, &done, bathed));
    let number = |task: usize| u32::try_from(task).unwrap_or(u32::MAX);
    let felt =
        plan.airs(&salon.trade).map(|a| verify::AirFelt { order: number(a.task), every: a.every.map(|e| e.low.0) });
    breaches.extend(verify::air(&case, &steps, &felt.collect::<Vec<_>>()));
    breaches.extend(table.overstood(&standing(&salon.trade, plan, part)));
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

/// The steps of the plan by name, as plain data.
fn steps_done(trade: &Trade, plan: &Plan, dog: &Dog) -> Vec<verify::StepDone> {
    let named = |(task, order): (&crate::plan::Task, u32)| {
        let name = match &task.kind {
            TaskKind::Step { step, .. } | TaskKind::Part { step, .. } => trade.step(*step).map(|s| s.name.clone())?,
            TaskKind::Mats(_) if dog.worst_mats() >= Grade::Tight => PELTS_OFF.into(),
            TaskKind::Mats(_) => DEMATT.into(),
            TaskKind::SetIn(_) => return None,
        };
        Some(verify::StepDone { name, order })
    };
    plan.tasks.iter().zip(0..).filter_map(named).collect()
}

/// When blades run, and what is done for their sake, as plain data.
#[must_use]
pub fn blades(trade: &Trade, plan: &Plan) -> Vec<verify::Moment> {
    let name = |id| trade.tool(id).map(|t| t.name.clone());
    let mut out = Vec::new();
    for moment in &plan.runs {
        let run = match moment {
            Moment::Pause(time) => {
                out.push(verify::Moment::Pause(time.0));
                continue;
            }
            Moment::Run(run) => run,
        };
        let zones = run
            .sites
            .iter()
            .filter_map(|s| trade.zone_of(s))
            .map(|(z, side)| (z.name.clone(), side))
            .collect::<Vec<_>>();
        let (tool, over) = match run.comb {
            Some(comb) => (name(comb), name(run.blade)),
            None => (name(run.blade), None),
        };
        let Some(tool) = tool else { continue };
        let of_run = |s: &&Stop| (s.group, s.line, s.blade, s.comb) == (run.group, run.line, run.blade, run.comb);
        let stops: Vec<&Stop> = plan.stops.iter().filter(of_run).collect();
        // Felt at the thin part of the line, in whichever piece of it that is.
        let feel = stops.iter().find_map(|s| match s.what {
            ForBlade::Feel(every) => Some(verify::Moment::Feel(every.map(|t| t.0))),
            _ => None,
        });
        let changes: Vec<&&Stop> = stops.iter().filter(|s| !matches!(s.what, ForBlade::Feel(_))).collect();
        let parts = changes.first().map_or(1, |s| i64::from(s.part.1)).max(1);
        for part in 0..parts {
            let change = changes.iter().find(|s| i64::from(s.part.0) == part).map(|s| match s.what {
                ForBlade::Cool => verify::Moment::Cool(s.time.low.0),
                _ => verify::Moment::Swap,
            });
            out.extend(change);
            out.extend(feel.clone());
            let seconds = run.time.0 * (part + 1) / parts - run.time.0 * part / parts;
            out.push(verify::Moment::Run { tool: tool.clone(), over: over.clone(), zones: zones.clone(), seconds });
        }
    }
    out
}

/// What the plan does at each place, as plain data.
fn done(trade: &Trade, plan: &Plan, finishes: &Finishes) -> Vec<verify::Done> {
    let mut done = Vec::new();
    for (number, task) in plan.tasks.iter().enumerate() {
        let name = |id| trade.tool(id).map(|t| t.name.clone());
        let order = u32::try_from(number).unwrap_or(u32::MAX);
        let (works, blends, pass): (&[Work], &[BlendWork], _) = match &task.kind {
            TaskKind::Part { works, blends, step } => {
                let finishes = trade.step(*step).is_some_and(|s| s.stage == Some(Stage::Finish));
                (works, blends, if finishes { verify::Pass::Finish } else { verify::Pass::Rough })
            }
            TaskKind::SetIn(works) => (works, &[], verify::Pass::Rough),
            _ => continue,
        };
        for blend in blends {
            for (rung, site) in blend.rungs.iter().flat_map(|r| blend.longer.iter().map(move |site| (r, site))) {
                let Some((zone, side)) = trade.zone_of(site) else { continue };
                done.push(verify::Done {
                    zone: zone.name.clone(),
                    side,
                    tool: name(rung.tool),
                    over: rung.over.and_then(name),
                    direction: Some(Direction::With),
                    passes: 1,
                    length: Some(rung.leaves.low.0),
                    order,
                    pass: verify::Pass::Blend,
                });
            }
        }
        for blend in blends.iter().filter(|b| b.hand.is_some()) {
            for site in (blend.from | blend.into).iter() {
                let Some((zone, side)) = trade.zone_of(site) else { continue };
                done.push(verify::Done {
                    zone: zone.name.clone(),
                    side,
                    tool: blend.hand.and_then(name),
                    over: None,
                    direction: None,
                    passes: 1,
                    length: finishes.at(site).and_then(|f| f.fine.leaves).map(|l| l.low.0),
                    order,
                    pass: verify::Pass::Blend,
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
                    pass,
                });
            }
        }
    }
    done
}
