//! C010: a keep in a guard that, together with what else binds a dog, leaves no tool.

use crate::choices::Choices;
use crate::diagnostic::{Diagnostic, code};
use crate::finish::{ActiveKeep, Did, Finish, Outcome, Source, active_keeps, breach, on_words, pick, stand_in};
use crate::names::card::Dog;
use crate::names::trade::{FindingId, Reply, Trade};
use crate::names::zone_words::list_words;

/// A place that is left because no tool of the kit keeps what guards of the recipe or the house ask of it. What the basics rule out for
/// a finding that nobody guards is no author's business: the place is left, and the sheet says so.
pub fn rule(choices: &Choices, trade: &Trade, dog: &Dog, finish: &Finish, out: &mut Vec<Diagnostic>) {
    let raised = finish.reasons.iter().any(|r| matches!(r.what, Did::Replied(_, Reply::Raise | Reply::Answer)));
    if finish.outcome != Outcome::Left || !raised {
        return;
    }
    let keeps = active_keeps(choices, trade, dog, finish.site);
    let own = |k: &&ActiveKeep<'_>| matches!(k.source, Source::Text(entry) if entry.finding.is_some());
    let guarded: Vec<FindingId> = keeps.iter().filter(own).filter_map(ActiveKeep::finding).collect();
    if guarded.is_empty() {
        return;
    }
    let keeps: Vec<ActiveKeep<'_>> =
        keeps.into_iter().filter(|k| k.finding().is_none_or(|f| guarded.contains(&f))).collect();
    let Some(choice) = choices.at(finish.site).find(|c| c.place == finish.statement) else { return };
    let mut silent = Vec::new();
    let written = pick(&choice.ask, None, choices, trade, dog, finish.site, &mut silent);
    let Some(written) = written.map(|p| p.stroke) else { return };
    let left = |without: Option<&ActiveKeep<'_>>| {
        let bound: Vec<ActiveKeep<'_>> =
            keeps.iter().filter(|k| without.is_none_or(|w| w.place() != k.place())).copied().collect();
        stand_in(&written, &bound, choices, trade, dog, finish.site).is_some()
    };
    if left(None) {
        return;
    }
    let mut names: Vec<String> =
        guarded.iter().filter_map(|f| trade.finding(*f)).map(|f| f.name.replace('-', " ")).collect();
    names.sort_unstable();
    names.dedup();
    for keep in keeps.iter().filter(own).filter(|k| left(Some(k))) {
        let others = keeps.iter().filter(|k| k.place() != keep.place() && !k.is_for_every_dog());
        let others = others.filter(|k| !left(Some(k)) || own(k));
        let mut diagnostic = Diagnostic::warning(
            code::C010,
            keep.place(),
            format!(
                "with this, no tool of the kit is left {} of a dog that has {}",
                on_words(trade, finish.site),
                list_words(&names)
            ),
        );
        for other in others.filter(|k| breach(&written, k.bound(), None, trade).is_some() || own(k)).take(3) {
            diagnostic =
                diagnostic.related(other.place(), format!("{} asks for this", other.owner().replace('-', " ")));
        }
        let zone = trade.zone_of(finish.site).map_or("", |(z, _)| z.name.as_str());
        out.push(
            diagnostic
                .why("Each of these is safe by itself; together they leave nothing, and the place is left as it is.")
                .help(format!(
                    "Write in the guard what is done there instead, `leave {zone}` if nothing; or allow a tool."
                )),
        );
    }
}
