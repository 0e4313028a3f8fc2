//! C008: a blade chart that falls.

use crate::diagnostic::{Diagnostic, code};
use crate::names::trade::Tool;
use crate::workspace::Salon;

/// C008: within one kind of blade a smaller number leaves no less. Ties are fine.
pub(super) fn blade_charts(salon: &Salon<'_>) -> Vec<Diagnostic> {
    let mut out = Vec::new();
    let number = |name: &str| -> Option<i64> {
        let text: String = name.strip_prefix('#')?.chars().take_while(|c| c.is_ascii_digit() || *c == '.').collect();
        let (whole, tenth) = text.split_once('.').unwrap_or((&text, "0"));
        Some(whole.parse::<i64>().ok()? * 10 + tenth.parse::<i64>().ok()?)
    };
    let skip = |gap| gap == Some(grammar::tree::Gap::Skip);
    // Of a blade declared anew the newer one counts.
    let newest = |at: usize, tool: &Tool| salon.trade.tools.iter().skip(at + 1).all(|t| t.name != tool.name);
    let mut blades: Vec<(i64, &Tool)> = salon
        .trade
        .tools
        .iter()
        .enumerate()
        .filter(|(at, tool)| newest(*at, tool))
        .filter_map(|(_, tool)| Some((number(&tool.name)?, tool)))
        .collect();
    blades.sort_by_key(|(n, t)| (skip(t.gap), std::cmp::Reverse(*n)));
    let own = |tool: &Tool| !crate::basics::holds(tool.place.file);
    for (number, blade) in &blades {
        // Of all larger numbers of its kind, the one that leaves most.
        let longest = blades
            .iter()
            .filter(|(n, other)| n > number && skip(other.gap) == skip(blade.gap))
            .max_by_key(|(_, other)| other.closeness);
        let Some((_, other)) = longest.filter(|(_, other)| other.closeness > blade.closeness) else { continue };
        let (Some(longer), Some(shorter)) = (other.closeness, blade.closeness) else { continue };
        // The salon's own blade is the one to look at, and once is enough.
        let (at, beside) = if own(blade) || !own(other) { (*blade, *other) } else { (*other, *blade) };
        if out.iter().any(|d: &Diagnostic| d.place == at.place) {
            continue;
        }
        out.push(
            Diagnostic::error(
                code::C008,
                at.place,
                format!("{} leaves {shorter}, less than {}'s {longer}", blade.name, other.name),
            )
            .related(beside.place, "the other blade")
            .why("A smaller number leaves more, so one of the two is wrong, and somebody will be cut by it.")
            .help("Look the two lengths up on the blades themselves."),
        );
    }
    out
}
