//! What steps are called, and which stand together.

use super::steps::Placed;
use super::words;
use crate::plan::{Plan, Rest};

/// `Dry stretch`, `Nails: short, grind`: what the name says already isn't said again.
pub(super) fn step_title(name: &str, more: &str) -> String {
    let name = name.replace('-', " ");
    let more: Vec<&str> = more.split(", ").filter(|m| !m.is_empty() && !name.contains(*m)).collect();
    let title = words::sentence(&name);
    if more.is_empty() { title } else { format!("{title}: {}", more.join(", ")) }
}

/// Short steps before the work, such as check and consent, or nails and ears, stand together, unless the dog rests between them.
pub(super) fn together(steps: Vec<Placed>, plan: &Plan) -> Vec<Placed> {
    let rests = |task: &usize| {
        let group = |rest: &Rest| plan.order.groups.get(rest.group).is_some_and(|g| g.task == *task);
        plan.bears.rests.iter().any(group)
    };
    let mut out: Vec<Placed> = Vec::new();
    for Placed { step, finished, tasks } in steps {
        let pair = !tasks.iter().any(rests)
            && out.last().is_some_and(|Placed { step: last, .. }| {
                [("Check", "Consent"), ("Nails", "Ears"), ("Last look", "Last look walking")]
                    .iter()
                    .any(|(a, b)| last.title.starts_with(a) && step.title.starts_with(b) && last.lines.is_empty())
            });
        match out.last_mut() {
            Some(Placed { step: last, tasks: all, .. }) if pair => {
                all.extend(tasks);
                last.title = format!("{} · {}", last.title, step.title);
                last.minutes = last
                    .minutes
                    .take()
                    .or(step.minutes.clone())
                    .zip(step.minutes)
                    .map(|(a, b)| format!("{a}, then {b}"));
                last.caution = words::joined(last.caution.take(), step.caution);
            }
            _ => out.push(Placed { step, finished, tasks }),
        }
    }
    out
}

/// The name of a part as a groomer says it.
pub(super) fn part_title(name: &str) -> String {
    match name {
        "sanitary" => "Belly, groin and under the tail".to_owned(),
        "feet-round" => "Feet".to_owned(),
        "head-work" => "Head and ears".to_owned(),
        "hind-leg-work" => "Hind legs".to_owned(),
        "foreleg-work" => "Forelegs".to_owned(),
        other => words::sentence(&other.replace("-work", "").replace('-', " ")),
    }
}
