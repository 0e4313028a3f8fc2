//! From what an author asks to a tool that does it on this coat: what it leaves, how near the skin, how wide its teeth.

use super::{Stroke, on_words};
use crate::choices::{Ask, Choices, ToolAsk};
use crate::diagnostic::{Diagnostic, code};
use crate::measure::{Factor, Interval, Length, MM};
use crate::names::card::Dog;
use crate::names::sites::Site;
use crate::names::tool::kinds;
use crate::names::trade::{Coat, Direction, Tool, ToolId, ToolKind, Trade, Verb};

/// A stroke, and whether its length is the author's own word.
#[derive(Clone, Debug, PartialEq)]
pub struct Picked {
    /// The stroke.
    pub stroke: Stroke,
}

/// What a tool leaves on this coat that way, over its length in reverse.
#[must_use]
pub fn coat_factor(coat: Option<&Coat>, kind: ToolKind, direction: Direction, repeated: bool) -> Interval<Factor> {
    let one = Interval::point(Factor(1_000_000));
    let Some(coat) = coat else { return one };
    let factor = match (kind, direction) {
        (_, Direction::Reverse) => one,
        (ToolKind::Comb, _) => coat.comb_with_coat,
        (_, Direction::With) => coat.with_coat,
        (_, Direction::Across) => coat.across_coat,
    };
    if repeated || kind == ToolKind::Comb || direction == Direction::Reverse {
        return factor;
    }
    // Until combed up and repeated, a standing curl keeps more.
    Interval { low: factor.low, high: Factor(factor.high.0.max(coat.first_pass.high.0)) }
}

/// The stroke that an ask makes here; says so if nothing in the kit makes it.
pub fn pick(
    ask: &Ask,
    rough: Option<&Stroke>,
    choices: &Choices,
    trade: &Trade,
    dog: &Dog,
    site: Site,
    out: &mut Vec<Diagnostic>,
) -> Option<Picked> {
    let mut picker = Picker { ask, choices, trade, dog, site, out };
    picker.stroke(rough).map(|stroke| Picked { stroke })
}

/// How well a tool makes a length: how far off, how wide its interval, how near the skin.
type Rank = (i64, i64, std::cmp::Reverse<Length>);

struct Picker<'a> {
    ask: &'a Ask,
    choices: &'a Choices,
    trade: &'a Trade,
    dog: &'a Dog,
    site: Site,
    out: &'a mut Vec<Diagnostic>,
}

impl Picker<'_> {
    fn coat(&self) -> Option<&Coat> {
        self.dog.coat_at(self.site).and_then(|c| self.trade.coat(c))
    }

    fn stroke(&mut self, rough: Option<&Stroke>) -> Option<Stroke> {
        if self.ask.verb == Verb::Leave {
            return Some(Stroke { leaves: None, ..Stroke::leave() });
        }
        match self.ask.tool {
            ToolAsk::Tool(id) => self.with(id, None, rough),
            ToolAsk::CombOver(comb, blade) => self.with(comb, Some(blade), rough),
            ToolAsk::AnyComb => self.by_length(&[ToolKind::Comb], rough),
            ToolAsk::Any => self.by_length(kinds(self.ask.verb), rough),
        }
    }

    /// A named tool: what it leaves is what it leaves, and a length beside it must agree.
    fn with(&mut self, id: ToolId, over: Option<ToolId>, rough: Option<&Stroke>) -> Option<Stroke> {
        let tool = self.trade.tool(id)?;
        // Nobody is without a hand.
        if !self.choices.kit.contains(&id) && tool.kind != ToolKind::Hand {
            let house = self.choices.house.as_deref().unwrap_or("the kit");
            let alike: Vec<&str> = self
                .choices
                .kit
                .iter()
                .filter_map(|t| self.trade.tool(*t))
                .filter(|t| t.kind == tool.kind)
                .map(|t| t.name.as_str())
                .take(8)
                .collect();
            self.out.push(
                Diagnostic::error(code::H001, self.ask.tool_place, format!("{house} doesn't own {}", tool_words(tool)))
                    .why("Whoever works from the sheet must have it at hand.")
                    .help(if alike.is_empty() {
                        "It owns none of the kind: add it to the kit, or say how this is done without.".to_owned()
                    } else {
                        format!("Name one that it owns ({}), or add it to the kit.", alike.join(", "))
                    }),
            );
        }
        let stroke = make(tool, id, over, self.ask, self.choices, self.trade, self.coat(), rough)?;
        let (Some(to), Some(leaves)) = (self.ask.to, stroke.leaves) else {
            if stroke.leaves.is_none() && needs_length(tool.kind) && !self.has_form() {
                return self.no_length(tool);
            }
            return Some(stroke);
        };
        let margin = margin(to);
        if to.0 < leaves.low.0 - margin || to.0 > leaves.high.0 + margin {
            self.out.push(
                Diagnostic::warning(
                    code::M022,
                    self.ask.tool_place,
                    format!("{} leaves {leaves} on this coat, not {to}", tool_words(tool)),
                )
                .help("Leave one of the two away: the length picks the tool, or the tool the length."),
            );
        }
        Some(stroke)
    }

    /// A shape says enough by itself: `feet round, bevelled` goes by the pads, not by a length.
    fn has_form(&self) -> bool {
        self.ask.manners.iter().any(|(name, _)| {
            let manner = self.trade.index.manners.get(name).and_then(|id| self.trade.manners.get(usize::from(id.0)));
            manner.is_some_and(|m| !m.motion)
        })
    }

    fn no_length(&mut self, tool: &Tool) -> Option<Stroke> {
        self.out.push(
            Diagnostic::error(code::M022, self.ask.tool_place, format!("{} leave no length of their own", tool.name))
                .why("Whoever works from the sheet must know how long it stays.")
                .help("Say the length (`to 20 mm`), or set the part in before it is finished (`set in legs by 19 mm comb`)."),
        );
        None
    }

    /// S7: of the tools of the verb's kind whose middle on this coat is within a tenth (at least 1 mm) of the length,
    /// the nearest, then the narrower, then the further from the skin.
    fn by_length(&mut self, kinds: &[ToolKind], rough: Option<&Stroke>) -> Option<Stroke> {
        let to = self.ask.to.or_else(|| rough.and_then(|r| r.leaves).map(Interval::middle));
        let coat = self.coat();
        let mut best: Option<(Rank, ToolId)> = None;
        let mut plain: Option<ToolId> = None;
        let mut near: Vec<(i64, ToolId, Interval<Length>)> = Vec::new();
        for kind in kinds {
            for &id in &self.choices.kit {
                let Some(tool) = self.trade.tool(id) else { continue };
                if tool.kind != *kind || !tool.does_work(self.ask.verb) {
                    continue;
                }
                let Some(effect) = effect(tool, self.ask, coat, rough) else { continue };
                let Some(leaves) = effect.leaves else {
                    if plain.is_none() && to.is_none() && (!needs_length(*kind) || self.has_form()) {
                        plain = Some(id);
                    }
                    continue;
                };
                let Some(to) = to else { continue };
                let off = (leaves.middle().0 - to.0).abs();
                if off <= margin(to) {
                    let closeness = std::cmp::Reverse(effect.closeness.unwrap_or(Length(0)));
                    let rank = (off, leaves.high.0 - leaves.low.0, closeness);
                    if best.as_ref().is_none_or(|(b, _)| rank < *b) {
                        best = Some((rank, id));
                    }
                } else {
                    near.push((off, id, leaves));
                }
            }
            if best.is_some() || plain.is_some() {
                break;
            }
        }
        if let Some(id) = plain.or(best.map(|(_, id)| id)) {
            let tool = self.trade.tool(id)?;
            return make(tool, id, None, self.ask, self.choices, self.trade, coat, rough);
        }
        self.none(to, near);
        None
    }

    fn none(&mut self, to: Option<Length>, mut near: Vec<(i64, ToolId, Interval<Length>)>) {
        let verb = self.ask.verb.as_str();
        let place = self.ask.tool_place;
        let Some(to) = to else {
            self.out.push(
                Diagnostic::error(code::M022, place, format!("`{verb}` says neither a length nor a tool"))
                    .why("Whoever works from the sheet must know what to take up, or how long it stays.")
                    .help(match kinds(self.ask.verb) {
                        kinds if kinds.contains(&ToolKind::Blade) => {
                            format!("Say one of them: `{verb} … to 9 mm` or `{verb} … with #10`.")
                        }
                        _ => format!("Say one of them: `{verb} … to 20 mm`, or `{verb} … by` with the tool's name."),
                    }),
            );
            return;
        };
        near.sort_by_key(|(off, id, _)| (*off, *id));
        near.dedup();
        let coat = self.coat().map_or("this", |c| c.name.as_str());
        let tool = |id| self.trade.tool(id).map(tool_words).unwrap_or_default();
        let list: Vec<String> =
            near.into_iter().take(2).map(|(_, id, leaves)| format!("{} leaves {leaves}", tool(id))).collect();
        let help = if list.is_empty() {
            "The kit holds no tool for this verb: name one, or add it to the kit.".to_owned()
        } else {
            format!(
                "Nearest on a {coat} coat: {}. Ask for one of those lengths, or name the tool in its place.",
                list.join("; ")
            )
        };
        self.out.push(
            Diagnostic::error(
                code::M022,
                place,
                format!("no tool of the kit leaves {to} {} of a {coat} coat", on_words(self.trade, self.site)),
            )
            .why("A tool counts if the middle of what it leaves is within a tenth of the length; the sheet promises no other.")
            .help(help),
        );
    }
}

/// Whether a tool of that kind leaves the length that the hand gives it.
const fn needs_length(kind: ToolKind) -> bool {
    matches!(kind, ToolKind::Shears)
}

/// How far a length may be off: a tenth, at least a millimetre.
#[must_use]
pub fn margin(length: Length) -> i64 {
    (length.0 / 10).max(MM)
}

/// A tool as people say it: the number first, the millimetres second.
#[must_use]
pub fn tool_words(tool: &Tool) -> String {
    match (tool.kind, tool.leaves) {
        (ToolKind::Comb, Some(leaves)) => format!("{} comb", leaves.middle()),
        _ => tool.name.replace('-', " "),
    }
}

#[allow(clippy::too_many_arguments)]
fn make(
    tool: &Tool,
    id: ToolId,
    over: Option<ToolId>,
    ask: &Ask,
    choices: &Choices,
    trade: &Trade,
    coat: Option<&Coat>,
    rough: Option<&Stroke>,
) -> Option<Stroke> {
    let effect = effect(tool, ask, coat, rough)?;
    let over = over
        .or_else(|| (tool.kind == ToolKind::Comb).then(|| choices.beneath(tool, |b| bare_enough(trade, b))).flatten());
    Some(Stroke {
        verb: ask.verb,
        tool: Some(id),
        over,
        direction: effect.direction,
        passes: ask.passes.unwrap_or(if again(ask) { 2 } else { 1 }),
        leaves: effect.leaves,
        closeness: effect.closeness,
        gap: tool.gap,
        manners: ask.manners.clone(),
    })
}

/// What a tool does here, before anybody takes it up.
#[derive(Clone, Copy)]
struct Effect {
    direction: Option<Direction>,
    leaves: Option<Interval<Length>>,
    closeness: Option<Length>,
}

/// Whether the pass is repeated.
fn again(ask: &Ask) -> bool {
    ask.passes.is_some_and(|p| p > 1) || ask.manners.iter().any(|(m, _)| m == "again")
}

/// What stays, how near the edge runs and which way; none for what isn't for the coat.
fn effect(tool: &Tool, ask: &Ask, coat: Option<&Coat>, rough: Option<&Stroke>) -> Option<Effect> {
    let cuts = matches!(tool.kind, ToolKind::Blade | ToolKind::Comb | ToolKind::Clipper);
    let direction = ask.direction.or(cuts.then_some(Direction::With));
    let (leaves, closeness) = match tool.kind {
        ToolKind::Blade | ToolKind::Comb | ToolKind::Clipper => {
            let way = direction.unwrap_or(Direction::With);
            (tool.leaves.map(|l| l.times(coat_factor(coat, tool.kind, way, again(ask)))), tool.closeness)
        }
        ToolKind::Shears => {
            let leaves = ask.to.map(Interval::point).or_else(|| rough.and_then(|r| r.leaves));
            // The points run where the hand leaves the hair, no nearer than the shortest safe length.
            (leaves, leaves.map(|l| l.low).or(tool.closeness))
        }
        ToolKind::Thinners => {
            let leaves = ask.to.map(Interval::point).or_else(|| rough.and_then(|r| r.leaves));
            (leaves, leaves.map(|l| l.low).max(tool.closeness))
        }
        ToolKind::Knife | ToolKind::Hand | ToolKind::Carder | ToolKind::Rake | ToolKind::Brush => {
            (ask.to.map(Interval::point).or_else(|| rough.and_then(|r| r.leaves)), tool.closeness)
        }
        ToolKind::Dryer | ToolKind::Nails => return None,
    };
    Some(Effect { direction, leaves, closeness })
}

fn bare_enough(trade: &Trade, blade: ToolId) -> bool {
    trade.tool(blade).is_some_and(|t| t.kind == ToolKind::Blade)
}

/// The stroke of one tool at a length, for the replies: what `tool` would do in place of `written`.
#[must_use]
pub fn instead(
    tool: ToolId,
    direction: Option<Direction>,
    to: Option<Length>,
    written: &Stroke,
    choices: &Choices,
    trade: &Trade,
    coat: Option<&Coat>,
) -> Option<Stroke> {
    let found = trade.tool(tool)?;
    let verb = if found.does_work(written.verb) { written.verb } else { verb_of(found.kind)? };
    let ask = Ask {
        verb,
        to,
        tool: ToolAsk::Tool(tool),
        tool_place: crate::source::Place { file: crate::source::FileId(0), start: 0, end: 0 },
        length_place: None,
        direction_place: None,
        passes_place: None,
        direction,
        passes: Some(written.passes.max(1)),
        // One pass isn't repeated.
        manners: written.manners.iter().filter(|(m, _)| written.passes > 1 || m != "again").cloned().collect(),
        because: None,
    };
    make(found, tool, None, &ask, choices, trade, coat, None)
}

const fn verb_of(kind: ToolKind) -> Option<Verb> {
    Some(match kind {
        ToolKind::Blade | ToolKind::Comb | ToolKind::Clipper => Verb::Clip,
        ToolKind::Shears => Verb::Scissor,
        ToolKind::Thinners => Verb::Thin,
        ToolKind::Knife | ToolKind::Hand => Verb::HandStrip,
        ToolKind::Carder => Verb::Card,
        ToolKind::Rake => Verb::Rake,
        ToolKind::Brush | ToolKind::Dryer | ToolKind::Nails => return None,
    })
}
