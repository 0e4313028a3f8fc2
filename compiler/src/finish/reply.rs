//! What keeps and replies make of a written finish.
//!
//! Welfare keeps always win. A keep that binds every dog is the author's business: breaking it is an error. A keep that a
//! finding brings is the compiler's: it makes the pass gentler (same direction and kind, least change, never shorter,
//! never turned unless the way itself is ruled out), leaves the place, or refers it. Closeness and tooth gap are never
//! traded for one another; where no tool is left, the place is left.

use super::active::ActiveKeep;
use super::breach::Breach;
use super::gentle::{bears, gentlest, stroke_words};
use super::pick::{instead, tool_words};
use super::site::{Draft, draft, nearest, widest};
use super::{Did, Finish, Outcome, Reason, Situation, Stroke, on_words, site_words};
use crate::choices::{Choice, Choices, Kind, ToolAsk};
use crate::diagnostic::{Diagnostic, Edit, Fix, code};
use crate::measure::Length;
use crate::names::card::Dog;
use crate::names::sites::Site;
use crate::names::trade::{Bound, Direction, Gap, Reply, Skin, ToolKind, Trade};

/// Settles a draft: what is written, made as gentle as every keep here asks.
#[allow(clippy::too_many_arguments)]
pub fn settle(
    draft: Finish,
    main: &Choice,
    rough: Option<&Choice>,
    situation: &Situation<'_>,
    choices: &Choices,
    trade: &Trade,
    dog: &Dog,
    out: &mut Vec<Diagnostic>,
) -> Finish {
    let keeps = &situation.keeps;
    let mut settler = Settler { main, rough, situation, keeps, choices, trade, dog, site: draft.site, out };
    let mut finish = settler.apply(draft);
    settler.mats(&mut finish);
    settler.shape(&mut finish);
    refer(&mut finish, keeps, trade);
    finish
}

/// Marks a finish as for a vet if a keep or a reply here says so.
pub fn refer(finish: &mut Finish, keeps: &[ActiveKeep<'_>], trade: &Trade) {
    for keep in keeps {
        let reply = keep.finding().and_then(|f| trade.finding(f)).map(|f| f.reply);
        let refers = matches!(keep.bound(), Bound::Refer)
            || (matches!(keep.bound(), Bound::Untouched) && reply == Some(Reply::Refer));
        if refers {
            finish.rough = None;
            finish.fine = Stroke::leave();
            finish.outcome = Outcome::Referred;
            finish.by = keep.finding().or(finish.by);
            if !finish.reasons.iter().any(|r| matches!(r.what, Did::Replied(_, Reply::Refer))) {
                finish
                    .reasons
                    .push(Reason { what: Did::Replied(keep.owner().into(), Reply::Refer), place: keep.place() });
            }
            return;
        }
    }
}

/// The gentlest stroke of the kit that can stand in for a written one where these keeps bind.
#[must_use]
pub fn stand_in(
    written: &Stroke,
    keeps: &[ActiveKeep<'_>],
    choices: &Choices,
    trade: &Trade,
    dog: &Dog,
    site: Site,
) -> Option<Stroke> {
    let allowed = |stroke: &Stroke| keep_all(keeps, stroke, trade);
    gentlest(written, choices, trade, dog, site, &allowed, floor(keeps, trade))
}

/// Whether a stroke breaks none of these keeps, nor the shortest length that is safe by its own points.
fn keep_all(keeps: &[ActiveKeep<'_>], stroke: &Stroke, trade: &Trade) -> bool {
    keeps.iter().all(|keep| keep.breach(stroke, trade).is_none())
        && stroke.tool.and_then(|t| trade.tool(t)).is_none_or(|tool| {
            // Freehand points keep the shortest safe length.
            tool.kind != ToolKind::Shears || stroke.closeness >= tool.closeness
        })
}

/// The longest of the floors among these keeps: what freehand tools must leave at least.
fn floor(keeps: &[ActiveKeep<'_>], trade: &Trade) -> Length {
    let floors = keeps.iter().filter_map(|keep| match keep.bound() {
        Bound::NoCloser(floor, _) => Some(*floor),
        Bound::NoShorter(least) => Some(*least),
        Bound::NoCloserOverCause(classes) => {
            let cause = keep.fact().and_then(|f| f.after)?;
            trade.classes_over(cause, *classes)
        }
        _ => None,
    });
    floors.max().unwrap_or(Length(0))
}

pub(super) struct Settler<'a> {
    pub(super) main: &'a Choice,
    pub(super) rough: Option<&'a Choice>,
    pub(super) situation: &'a Situation<'a>,
    pub(super) keeps: &'a [ActiveKeep<'a>],
    pub(super) choices: &'a Choices,
    pub(super) trade: &'a Trade,
    pub(super) dog: &'a Dog,
    pub(super) site: Site,
    pub(super) out: &'a mut Vec<Diagnostic>,
}

impl Settler<'_> {
    fn breach(&self, stroke: &Stroke, keep: &ActiveKeep<'_>) -> Option<Breach> {
        keep.breach(stroke, self.trade)
    }

    pub(super) fn allowed(&self, stroke: &Stroke) -> bool {
        keep_all(self.keeps, stroke, self.trade)
    }

    fn apply(&mut self, mut finish: Finish) -> Finish {
        for keep in self.keeps {
            if matches!(keep.bound(), Bound::Untouched | Bound::Refer) && finish.fine.tool.is_some() {
                self.needless(keep);
                return self.leave(finish, keep);
            }
        }
        self.shears(&finish.fine);
        let (mut raise, mut leave) = (None, None);
        let mut broken: Option<(ActiveKeep<'_>, Breach, bool)> = None;
        for keep in self.keeps {
            let fine = self.breach(&finish.fine, keep);
            let rough = finish.rough.as_ref().and_then(|r| self.breach(r, keep));
            let Some(what) = fine.or(rough) else { continue };
            if keep.is_for_every_dog() {
                if broken.is_none_or(|(_, known, _)| what < known) {
                    broken = Some((*keep, what, fine.is_some()));
                }
                continue;
            }
            match keep.finding().and_then(|f| self.trade.finding(f)).map(|f| f.reply) {
                Some(Reply::Leave | Reply::Refer) => leave = leave.or(Some(*keep)),
                _ => raise = raise.or(Some(*keep)),
            }
        }
        // One stroke, one message: the gravest of what it breaks.
        if let Some((keep, what, fine)) = broken {
            let (stroke, choice) = match finish.rough.clone() {
                Some(rough) if !fine => (rough, self.rough.unwrap_or(self.main)),
                _ => (finish.fine.clone(), self.main),
            };
            self.complain(&stroke, choice, &keep, what);
        }
        self.answer_is_gentler(&finish);
        if let Some(keep) = leave {
            return self.leave(finish, &keep);
        }
        if let Some(keep) = raise {
            finish = self.raise(finish, &keep);
        }
        finish
    }

    /// C007: work on a place that a rule keeps untouched on every dog. The place is left, so no sheet is held up by it.
    fn needless(&mut self, keep: &ActiveKeep<'_>) {
        let always =
            matches!(keep.source, super::Source::Text(entry) if entry.finding.is_none() && entry.cond.is_always());
        if always {
            let name = self.trade.zone_of(self.site).map_or("", |(z, _)| z.name.as_str());
            self.out.push(
                Diagnostic::warning(
                    code::C007,
                    self.main.place,
                    format!("nothing is done {}: it is kept untouched", on_words(self.trade, self.site)),
                )
                .related(keep.place(), format!("{} says so here", keep.owner().replace('-', " ")))
                .why("A rule always wins over a finish, so this line has no effect there.")
                .help(format!("Write `except {name}`, or take the rule away if it is yours.")),
            );
        }
    }

    /// Straight shears nearer the skin than a hand can safely cut.
    fn shears(&mut self, stroke: &Stroke) {
        let Some(tool) = stroke.tool.and_then(|t| self.trade.tool(t)) else { return };
        if let (ToolKind::Shears, Some(safe), Some(closeness)) = (tool.kind, tool.closeness, stroke.closeness)
            && closeness < safe
        {
            let longer =
                self.main.ask.length_place.map(|place| Fix::rewrite("leave it longer", place, safe.to_string()));
            self.out.push(
                Diagnostic::error(
                    code::C001,
                    self.main.ask.tool_place,
                    format!("{} can't leave {closeness} safely {}", tool_words(tool), on_words(self.trade, self.site)),
                )
                .related(tool.place, format!("the shortest safe length by {} is {safe}", tool_words(tool)))
                .why("A dog moves, and points this near the skin cut it.")
                .help(format!("Leave it {safe} or longer, or take a tool that may come nearer here."))
                .offer(longer),
            );
        }
    }

    fn leave(&self, mut finish: Finish, keep: &ActiveKeep<'_>) -> Finish {
        let reply = keep.finding().and_then(|f| self.trade.finding(f)).map(|f| f.reply);
        finish.reasons.push(match reply {
            Some(reply) => Reason { what: Did::Replied(keep.owner().into(), reply), place: keep.place() },
            None => Reason { what: Did::Guarded(keep.owner().into()), place: keep.place() },
        });
        if let Some(fact) = keep.fact() {
            finish.reasons.push(Reason { what: Did::Guarded("card".into()), place: fact.place });
        }
        finish.rough = None;
        finish.fine = Stroke::leave();
        finish.outcome = Outcome::Left;
        finish.by = keep.finding().or(finish.by);
        finish
    }

    fn raise(&self, mut finish: Finish, keep: &ActiveKeep<'_>) -> Finish {
        finish.by = keep.finding();
        if finish.rough.as_ref().is_some_and(|r| !self.allowed(r)) {
            let gentler = finish.rough.as_ref().and_then(|r| self.gentlest(r));
            // Freehand over what was set in needs no rough pass, only more time.
            finish.rough = gentler;
        }
        if !self.allowed(&finish.fine) {
            match self.gentlest(&finish.fine) {
                Some(stroke) => finish.fine = stroke,
                None => return self.leave(finish, keep),
            }
        }
        finish.outcome = Outcome::Raised;
        finish.reasons.push(Reason { what: Did::Replied(keep.owner().into(), Reply::Raise), place: keep.place() });
        if let Some(fact) = keep.fact() {
            finish.reasons.push(Reason { what: Did::Guarded("card".into()), place: fact.place });
        }
        finish
    }

    /// S8: same kind and direction, least closeness that every keep allows, then least length, never shorter than written;
    /// another way only if the way is ruled out; the next kind of tool only if the kind has none.
    fn gentlest(&self, written: &Stroke) -> Option<Stroke> {
        stand_in(written, self.keeps, self.choices, self.trade, self.dog, self.site)
    }

    fn complain(&mut self, stroke: &Stroke, choice: &Choice, keep: &ActiveKeep<'_>, what: Breach) {
        let tool = stroke.tool.and_then(|t| self.trade.tool(t)).map(tool_words).unwrap_or_default();
        let zone = site_words(self.trade, self.site).replace("left ", "").replace("right ", "");
        let at = on_words(self.trade, self.site);
        let owner = keep.owner().replace('-', " ");
        let place = choice.ask.tool_place;
        let (code, message, why) = match what {
            Breach::Closeness | Breach::Short => {
                (code::C001, format!("too close {at}: {tool}"), "The nearer the edge, the sooner the skin reddens.")
            }
            Breach::Gap => (
                code::C002,
                format!("teeth too far apart {at}: {tool}"),
                "A fold or an edge rolls between open teeth and is cut. A longer blade would be worse: its teeth stand further apart.",
            ),
            Breach::Way => {
                (code::C003, format!("the wrong way {at}: {tool}"), "That way the edge scrapes or lifts the skin.")
            }
            Breach::Passes => {
                (code::C003, format!("too many passes {at}"), "Each pass over the same skin warms and reddens it.")
            }
            Breach::Tool => (
                code::C003,
                format!("ruled out {at}: {tool}"),
                "The rule is there because this is where dogs get hurt.",
            ),
            Breach::Touch => (code::C007, format!("nothing may touch the dog {at}"), "Nothing may come near it."),
        };
        let mut diagnostic = Diagnostic::error(code, place, message)
            .related(keep.place(), format!("the rule for every dog: {owner}"))
            .why(why);
        // An answer keeps what its finding asks as well, and comes no closer than what it replaces.
        let answer = self.main.kind == Kind::Guard;
        let replaced = answer.then(|| self.replaced()).flatten();
        let keeps: Vec<&ActiveKeep<'_>> = self.keeps.iter().filter(|k| answer || k.is_for_every_dog()).collect();
        let allowed = |s: &Stroke| {
            keeps.iter().all(|k| self.breach(s, k).is_none())
                && replaced.is_none_or(|closest| s.closeness >= Some(closest))
        };
        let floor = floor(self.keeps, self.trade);
        let gentler = || gentlest(stroke, self.choices, self.trade, self.dog, self.site, &allowed, floor);
        // Where teeth are the danger, the trade's answer is the fine blade, once and cool; a longer one never is.
        let safe = if what == Breach::Gap || matches!(self.skin(), Skin::Fold | Skin::Edge) {
            self.cool_skim(stroke, &allowed).or_else(gentler)
        } else {
            gentler().or_else(|| self.cool_skim(stroke, &allowed))
        };
        match safe {
            Some(safe) => {
                let mut words = stroke_words(&safe, self.trade);
                if safe.verb == grammar::tree::Verb::Skim {
                    words.push_str(", one pass");
                }
                diagnostic = diagnostic.help(format!("Gentler, and allowed by every rule here: `{words}`."));
                // Rewritten are a few parts at most: what is safe here needn't be what the author wants elsewhere.
                if choice.sites.len() <= 2 && safe.kind(self.trade) == stroke.kind(self.trade) {
                    diagnostic = diagnostic.offer(self.rewritten(choice, stroke, &safe));
                }
            }
            None => {
                diagnostic = diagnostic
                    .help(format!("No tool of the kit is safe here: write `leave {}`.", zone.replace(' ', "-")))
            }
        }
        self.out.push(diagnostic);
    }

    /// The same statement with the tool, the way and the number of passes of a safe stroke, where its words can be told apart.
    fn rewritten(&self, choice: &Choice, stroke: &Stroke, safe: &Stroke) -> Option<Fix> {
        let ask = &choice.ask;
        let mut edits: Vec<Edit> = Vec::new();
        if safe.tool != stroke.tool {
            let named = matches!(ask.tool, ToolAsk::Tool(_));
            let tool = safe.tool.and_then(|t| self.trade.tool(t)).filter(|_| named)?;
            edits.push(Edit { place: ask.tool_place, text: tool_words(tool) });
        }
        if safe.direction != stroke.direction {
            let way = match safe.direction? {
                Direction::With => "with the coat",
                Direction::Across => "across",
                Direction::Reverse => "in reverse",
            };
            edits.push(Edit { place: ask.direction_place?, text: way.to_owned() });
        }
        if safe.passes < stroke.passes {
            edits.push(Edit { place: ask.passes_place?, text: "one pass".to_owned() });
        }
        edits.sort_by_key(|e| e.place);
        let words: Vec<&str> = edits.iter().map(|e| e.text.as_str()).collect();
        (!words.is_empty()).then(|| Fix {
            title: format!("write `{}`", words.join(", ")),
            safe: false,
            edits: edits.clone(),
        })
    }

    /// Where a longer blade is no answer: the closest-toothed blade that every rule here allows, once, with the coat.
    fn cool_skim(&self, written: &Stroke, allowed: &dyn Fn(&Stroke) -> bool) -> Option<Stroke> {
        let coat = self.dog.coat_at(self.site).and_then(|c| self.trade.coat(c));
        let once = Stroke { passes: 1, verb: grammar::tree::Verb::Skim, ..written.clone() };
        self.choices
            .kit
            .iter()
            .filter_map(|&id| instead(id, Some(Direction::With), None, &once, self.choices, self.trade, coat))
            .filter(|s| s.kind(self.trade) == Some(ToolKind::Blade) && s.gap == Some(Gap::Fine) && allowed(s))
            .max_by_key(|s| s.closeness)
    }

    /// How near the skin the work runs that an answer replaces.
    fn replaced(&self) -> Option<Length> {
        self.drafted(|c| c.kind != Kind::Guard, |draft| draft.closeness()).flatten()
    }

    /// What the statements alone make of the dog that don't hang on a finding.
    pub(super) fn without_findings<R>(&self, of: impl FnOnce(&Draft<'_>) -> R) -> Option<R> {
        self.drafted(|c| !c.hangs_on_findings(), of)
    }

    /// What some of the statements make of the dog, before any keep or reply.
    fn drafted<R>(&self, counts: impl Fn(&Choice) -> bool, of: impl FnOnce(&Draft<'_>) -> R) -> Option<R> {
        let active = self.situation.active.iter().copied().filter(|(_, c)| counts(c)).collect();
        let plain = Situation { site: self.site, active, keeps: Vec::new() };
        draft(&plain, self.choices, self.trade, self.dog).map(|d| of(&d))
    }

    /// S4: what a finding switches on, in a guard or a condition, and that is closer than what it replaces, is an error.
    fn answer_is_gentler(&mut self, answer: &Finish) {
        if !self.main.hangs_on_findings() {
            return;
        }
        let compared = self.without_findings(|replaced| {
            // What was set in before it is finished counts as well: the nearest pass and the widest teeth.
            let closer = match (answer.fine.tool, replaced.fine.tool) {
                (Some(_), None) => replaced.main.ask.verb == grammar::tree::Verb::Leave,
                (Some(_), Some(_)) => nearest(&answer.fine, answer.rough.as_ref()) < replaced.closeness(),
                _ => false,
            };
            let gap = widest(&answer.fine, answer.rough.as_ref());
            let wider = gap > replaced.gap() && replaced.gap().is_some() && gap > Some(bears(self.trade, self.site));
            (closer, wider, replaced.main.place)
        });
        let Some((closer, wider, before)) = compared else { return };
        if closer || wider {
            let zone = site_words(self.trade, self.site).replace("left ", "").replace("right ", "");
            let message = if closer {
                format!("this answer comes closer to the {zone} than what it replaces")
            } else {
                format!("this answer has wider teeth {} than what it replaces", on_words(self.trade, self.site))
            };
            self.out.push(
                Diagnostic::error(code::C004, self.main.ask.tool_place, message)
                    .related(before, "what is done on a dog without the finding")
                    .why("A finding never brings an edge nearer to the skin.")
                    .help("Answer with the same tool or a gentler one, or with `leave`."),
            );
        }
    }

    pub(super) fn skin(&self) -> Skin {
        self.trade.zone_of(self.site).map_or(Skin::Flat, |(z, _)| z.skin)
    }
}
