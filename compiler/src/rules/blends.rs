//! C001 to C003 for blends: the tool of a blend keeps what its zones ask, as any other stroke does.

use crate::choices::Choices;
use crate::diagnostic::{Diagnostic, code};
use crate::finish::{ActiveKeep, Breach, Finish, Source, binds, on_words};
use crate::joins::shortens;
use crate::names::card::Dog;
use crate::names::trade::Trade;
use crate::plan::blend_stroke;

/// A blend whose own tool breaks a rule that binds every dog. What a finding alone rules out is left out on the sheet.
pub fn rule(choices: &Choices, trade: &Trade, dog: &Dog, finish: &Finish, out: &mut Vec<Diagnostic>) {
    let site = finish.site;
    for blend in choices.blends.iter().filter(|b| b.comes_to(site)) {
        let Some(tool) = blend.tool else { continue };
        let meant = blend.finding.is_none_or(|f| dog.has(f));
        if !meant || !shortens(finish, trade) || !blend.cond.holds(dog, site) {
            continue;
        }
        let Some(stroke) = blend_stroke(&finish.fine, tool, trade) else { continue };
        let every = choices.keeps_at(site).filter(|k| k.finding.is_none() && binds(k, trade, dog, site));
        let broken = every
            .map(|entry| ActiveKeep { source: Source::Text(entry) })
            .find_map(|keep| keep.breach(&stroke, trade).map(|breach| (keep, breach)));
        let Some((keep, breach)) = broken else { continue };
        let name = trade.tool(tool).map(|t| t.name.replace('-', " ")).unwrap_or_default();
        let (code, what) = match breach {
            Breach::Closeness | Breach::Short => (code::C001, "too close"),
            Breach::Gap => (code::C002, "teeth too far apart"),
            _ => (code::C003, "ruled out"),
        };
        out.push(
            Diagnostic::error(code, blend.place, format!("{what} {}: {name}", on_words(trade, site)))
                .related(keep.place(), format!("the rule for every dog: {}", keep.owner().replace('-', " ")))
                .why("A blend runs over both its sides, and each side's rules hold for it.")
                .help("Blend by skimming or with another tool, or end the blend before that part."),
        );
    }
}
