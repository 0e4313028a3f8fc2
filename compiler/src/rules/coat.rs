//! K001, K002: what a coat doesn't bear.

use crate::choices::Choices;
use crate::diagnostic::{Diagnostic, code};
use crate::finish::{Finish, Outcome, on_words};
use crate::names::card::Dog;
use crate::names::trade::{ToolKind, Trade, Verb};

/// Coats that grow back poorly, clipped short; coats that don't strip.
pub fn rule(choices: &Choices, trade: &Trade, dog: &Dog, finish: &Finish, out: &mut Vec<Diagnostic>) {
    if finish.outcome == Outcome::Left || finish.outcome == Outcome::Referred {
        return;
    }
    let Some(coat) = dog.coat_at(finish.site).and_then(|c| trade.coat(c)) else { return };
    let place =
        choices.at(finish.site).find(|c| c.place == finish.statement).map_or(finish.statement, |c| c.ask.tool_place);
    if let (Some(shortest), Some(leaves)) = (coat.shortest, finish.fine.leaves)
        && coat.regrowth_poor
        && leaves.low < shortest
        && trade.sites_of("jacket").is_some_and(|jacket| jacket.has(finish.site))
        && finish.fine.kind(trade).is_some_and(|k| k.on_clipper() || k == ToolKind::Shears)
        && dog.agreed("jacket-clip") != Some(true)
    {
        out.push(
                Diagnostic::error(code::K001, place, format!("a {} coat clipped to {leaves} {} may not grow back", coat.name, on_words(trade, finish.site)))
                    .related(coat.place, format!("the shortest without the owner's consent is {shortest}"))
                    .why("A clipped undercoat can come back patchy, or not for a year or two, and the skin beneath burns in the sun.")
                    .help("Rake and card it instead, leave the jacket, or note the owner's consent, given after they heard this, on the card: `consent jacket-clip yes`."),
            );
    }
    if finish.fine.verb == Verb::HandStrip && !coat.strips {
        out.push(
            Diagnostic::error(code::K002, place, format!("a {} coat isn't hand-stripped", coat.name))
                .related(coat.place, "the coat says so here")
                .why("Only a harsh coat that is ready lets go; pulling any other hurts.")
                .help("Card it, or clip it; say which coats in a `when coat wire { … }`."),
        );
    }
}
