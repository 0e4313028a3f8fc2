//! Statements of work: what a tool does to zones.

use super::{Around, Builder, once};
use crate::choices::{Ask, Choice, Kind, Level, Pass, ToolAsk};
use crate::diagnostic::{Diagnostic, code};
use crate::names::keeps;
use crate::names::nearest;
use crate::names::scope::Scope;
use crate::names::tool::kinds;
use crate::names::trade::{Tool, Verb};
use crate::source::Place;
use grammar::tree::{Clause, ClauseKind, ExprKind, Stmt, ToolRef, ToolRefKind, Word};
use smol_str::SmolStr;

impl Builder<'_> {
    pub(super) fn work(&mut self, stmt: &Stmt, work: &grammar::tree::Work, around: &Around, scope: &mut Scope<'_>) {
        let sites = keeps::sites(&work.zones, self.trade, scope);
        let verb_place = scope.place(work.verb_span);
        let mut ask = Ask {
            verb: work.verb,
            to: None,
            tool: ToolAsk::Any,
            tool_place: Place { end: scope.at + stmt.span.end, ..verb_place },
            length_place: None,
            direction_place: None,
            passes_place: None,
            direction: None,
            passes: None,
            manners: Vec::new(),
            because: None,
        };
        // What an owner wishes is meant for all of the part that they name.
        let mut throughout = self.level == Level::Wish;
        for clause in &work.clauses {
            throughout |= matches!(clause.kind, ClauseKind::Throughout);
            self.clause(&mut ask, clause, scope);
        }
        once::clauses(&work.clauses, scope);
        if matches!(work.verb, Verb::Leave)
            && let Some(clause) = work.clauses.iter().find(|c| {
                matches!(
                    c.kind,
                    ClauseKind::To(_) | ClauseKind::With(_) | ClauseKind::Direction(_) | ClauseKind::Passes(_)
                )
            })
        {
            let place = scope.place(clause.span);
            scope.say(
                Diagnostic::error(code::M017, place, "`leave` uses no tool and no length")
                    .help("Write `leave ears`, or say what is done: `scissor ears to 20 mm`."),
            );
        }
        self.does_work(work, &ask, scope);
        if sites.is_empty() {
            return;
        }
        let choice = Choice {
            pass: if work.verb == Verb::SetIn { Pass::Rough } else { Pass::Finish },
            kind: around.kind.unwrap_or(Kind::Plain),
            finding: around.finding,
            cond: around.cond.clone(),
            level: self.level,
            sites,
            throughout,
            ask,
            place: Place {
                file: scope.file,
                start: scope.at + work.verb_span.start,
                end: scope.at + work.zones.span.end.max(work.verb_span.end),
            },
            whole: scope.place(stmt.span),
        };
        self.choices.finishes.push(choice);
    }

    /// M017: a tool that doesn't do the work of the verb.
    fn does_work(&self, work: &grammar::tree::Work, ask: &Ask, scope: &mut Scope<'_>) {
        let (ToolAsk::Tool(id) | ToolAsk::CombOver(id, _)) = ask.tool else { return };
        // A blade that isn't usual for a verb is a blade still: what it may do is for the rules to say.
        let other = |tool: &&Tool| !tool.does_work(ask.verb) && !kinds(ask.verb).contains(&tool.kind);
        let Some(tool) = self.trade.tool(id).filter(other) else { return };
        let named = work.clauses.iter().find_map(|c| match &c.kind {
            ClauseKind::With(tool) => Some(scope.place(tool.span)),
            _ => None,
        });
        let place = named.unwrap_or(ask.tool_place);
        let (name, verb) = (tool.name.replace('-', " "), ask.verb.as_str());
        let does: Vec<String> = tool.does.iter().map(|does| does.replace('-', " ")).collect();
        let own = self.kit.iter().flatten().filter_map(|id| self.trade.tool(*id));
        let own: Vec<String> =
            own.filter(|t| t.does_work(ask.verb)).map(|t| t.name.replace('-', " ")).take(4).collect();
        let diagnostic = Diagnostic::error(code::M017, place, format!("{name} isn't made to {verb}"));
        let diagnostic = match does.split_last() {
            None => diagnostic,
            Some((last, [])) => diagnostic.why(format!("It is made to {last}.")),
            Some((last, before)) => diagnostic.why(format!("It is made to {} and {last}.", before.join(", "))),
        };
        scope.say(diagnostic.help(if own.is_empty() {
            "Name a tool that is, or leave it away and say the length.".to_owned()
        } else {
            format!("For that the kit has, among others, {}.", own.join(", "))
        }));
    }

    pub(super) fn clause(&mut self, ask: &mut Ask, clause: &Clause, scope: &mut Scope<'_>) {
        let place = scope.place(clause.span);
        match &clause.kind {
            ClauseKind::To(expr) => {
                // `to #10` is a length by a blade's name, and names the blade as well.
                ask.to = self.sums().length(expr, scope);
                ask.tool_place = place;
                ask.length_place = matches!(expr.kind, ExprKind::Number(_)).then(|| scope.place(expr.span));
                if matches!(expr.kind, ExprKind::Name(_)) {
                    ask.tool_place = scope.place(expr.span);
                }
            }
            ClauseKind::With(tool) => {
                ask.tool_place = scope.place(tool.span);
                self.tool(ask, tool, scope);
            }
            ClauseKind::Direction(way) => {
                ask.direction = Some(*way);
                ask.direction_place = Some(place);
            }
            ClauseKind::Passes(passes) => {
                ask.passes = Some(*passes);
                ask.passes_place = Some(place);
            }
            ClauseKind::Manner { name, at } => {
                self.manner(name, scope);
                if let Some(zone) = at {
                    keeps::one(zone, self.trade, scope);
                }
                let main = self.main_manner(&name.text);
                ask.manners.push((main, at.as_ref().map(|z| z.name.text.clone())));
            }
            ClauseKind::Because(text) => ask.because = Some(text.text.clone()),
            ClauseKind::Over(_) => {
                scope.say(Diagnostic::error(code::M017, place, "`over` says the room for a blend").help(
                    "Give the blend a line of its own: `blend neck into shoulder over two fingers by skimming`.",
                ));
            }
            ClauseKind::Throughout => {}
        }
    }

    pub(super) fn main_manner(&self, name: &SmolStr) -> SmolStr {
        let id = self.trade.index.manners.get(name);
        id.and_then(|id| self.trade.manners.get(id.0 as usize)).map_or_else(|| name.clone(), |m| m.name.clone())
    }

    pub(super) fn manner(&self, name: &Word, scope: &mut Scope<'_>) {
        if self.trade.index.manners.contains_key(&name.text) {
            return;
        }
        let place = scope.place(name.span);
        let words = name.text.replace('-', " ");
        let diagnostic = Diagnostic::error(code::M006, place, format!("`{words}` is no shape or way of working"));
        scope.say(match nearest(&name.text, self.trade.index.manners.keys().map(SmolStr::as_str)) {
            Some(near) => {
                let near = near.replace('-', " ");
                diagnostic.help(format!("Did you mean `{near}`?")).fix(format!("write `{near}`"), place, near)
            }
            None => diagnostic
                .help("Shapes are, for example, column, round, bevelled, full; ways of working comb up, again."),
        });
    }

    pub(super) fn tool(&self, ask: &mut Ask, reference: &ToolRef, scope: &mut Scope<'_>) {
        let place = scope.place(reference.span);
        match &reference.kind {
            ToolRefKind::Blade(name) => {
                if let Some(id) = keeps::tool(name, place, self.trade, scope) {
                    ask.tool = ToolAsk::Tool(id);
                }
            }
            ToolRefKind::Comb { length, over } => {
                let comb = match length {
                    Some(number) => match keeps::comb(number, &self.sums(), scope) {
                        Some(id) => Some(id),
                        None => return,
                    },
                    None => None,
                };
                let over = over.as_ref().and_then(|w| keeps::tool(&w.text, scope.place(w.span), self.trade, scope));
                ask.tool = match (comb, over) {
                    (None, _) => ToolAsk::AnyComb,
                    (Some(comb), None) => ToolAsk::Tool(comb),
                    (Some(comb), Some(blade)) => {
                        let fits = self.trade.tool(comb).is_some_and(|t| t.over.contains(&blade));
                        if !fits {
                            scope.say(
                                Diagnostic::error(code::M017, place, "this comb doesn't sit on that blade")
                                    .why("A comb needs a close blade beneath it, or it neither seats nor cuts.")
                                    .help("Put it over #30, or leave `over` away."),
                            );
                        }
                        ToolAsk::CombOver(comb, blade)
                    }
                };
            }
            ToolRefKind::Named(word) => {
                if let Some(id) = self.trade.index.tools.get(&word.text) {
                    ask.tool = ToolAsk::Tool(*id);
                } else if self.trade.index.manners.contains_key(&word.text) {
                    ask.manners.push((self.main_manner(&word.text), None));
                } else {
                    scope.say(keeps::unknown_tool(self.trade, &word.text, place));
                }
            }
        }
    }
}
