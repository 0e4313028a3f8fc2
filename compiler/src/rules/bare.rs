//! C006: blades that aren't for bare skin.

use crate::choices::Choices;
use crate::diagnostic::{Diagnostic, code};
use crate::finish::{Finish, Outcome};
use crate::names::card::Dog;
use crate::names::trade::{Bare, Skin, ToolKind, Trade};

/// A blade that never touches skin, or only in a named hand.
pub fn rule(choices: &Choices, trade: &Trade, _: &Dog, finish: &Finish, out: &mut Vec<Diagnostic>) {
    if finish.outcome != Outcome::Written {
        return;
    }
    for stroke in finish.rough.iter().chain([&finish.fine]) {
        let Some(tool) = stroke.tool.and_then(|t| trade.tool(t)) else { continue };
        if tool.kind != ToolKind::Blade {
            continue;
        }
        let choice = choices.at(finish.site).find(|c| c.place == finish.statement);
        let because = choice.is_some_and(|c| c.ask.because.is_some());
        let place = choice.map_or(finish.statement, |c| c.ask.tool_place);
        let name = &tool.name;
        let loose = trade.zone_of(finish.site).is_some_and(|(zone, _)| matches!(zone.skin, Skin::Fold | Skin::Edge));
        let diagnostic = match tool.bare {
            Bare::Never => Diagnostic::error(code::C006, place, format!("{name} is not for skin"))
                .help("Use #10, or #15 on a clean face or foot."),
            Bare::Named if !because => {
                Diagnostic::error(code::C006, place, format!("{name} on bare skin is for a named trained hand only"))
                    .help(if loose {
                        // A comb's teeth stand open.
                        "Take a fine blade that may come to this skin; a comb over it is no way out where skin rolls."
                            .to_owned()
                    } else {
                        format!("Put a comb over it, or name the hand: `with {name} because \"… is trained for it\"`.")
                    })
            }
            _ => continue,
        };
        out.push(diagnostic.related(tool.place, "the basics say so here").why("It shaves the skin itself."));
    }
}
