//! One line of the plan against one bound, in words for a groomer.

use std::cmp::Ordering;

use grammar::tree::{Bound, BoundKind, Direction, Expr, Floor, Gap, Side, Stmt, StmtKind, ToolRef, ToolRefKind};
use smol_str::SmolStr;

use super::exact::{Exact, Of, climb};
use super::gather::{Must, Rule};
use super::trade::{BOTH, Tool, sides};
use super::{Breach, Done, OnTable};

/// A line of the plan with its tool looked up.
struct Line<'a, 't> {
    done: &'a Done,
    name: &'a SmolStr,
    tool: Option<&'a Tool<'t>>,
}

/// Checks one line of the plan at which a tool is used.
pub(super) fn check(table: &OnTable<'_, '_>, i: usize, done: &Done, name: &SmolStr, out: &mut Vec<Breach>) {
    let line = Line { done, name, tool: table.trade.tool(name) };
    let mut tell = |(file, start, end): (u32, u32, u32), words: String| {
        out.push(Breach { done: i, file, start, end, words: format!("{}: {words}", place(done)) });
    };
    let zone = table.trade.named(&done.zone);
    if zone.iter().all(|m| *m == 0) {
        let (file, at, _) = table.case.card;
        tell((file, at, at), format!("nobody knows this zone, so no tool ({name}) can be allowed there"));
        return;
    }
    if let Some(tool) = line.tool {
        if tool.bare_never {
            tell(own_line(tool, "bare"), format!("{name} never touches the dog; it may only sit under a comb"));
        }
        if tool.kind == "shears"
            && let (Some(length), Some(least)) = (line.length(), tool.closeness)
            && length.below(least)
        {
            let words = format!("{} is shorter than a hand may cut with {name} (at least {})", length.mm(), least.mm());
            tell(own_line(tool, "closeness"), words);
        }
    }
    let reader = table.reader();
    let side = sides(done.side);
    // A zone has a leaf or a few of some hundred.
    let here: Vec<(usize, u8)> = zone.iter().copied().enumerate().filter(|(_, sides)| *sides != 0).collect();
    for rule in &table.rules {
        if rule.tool.as_ref().is_some_and(|t| line.tool.is_none_or(|own| own.name != *t)) {
            continue;
        }
        let binds = here.iter().any(|&(leaf, here)| {
            let there = rule.places.get(leaf).copied().unwrap_or_default();
            let paired = table.trade.leaves.get(leaf).is_some_and(|l| l.paired);
            let sides = here & there & if paired { side } else { BOTH };
            sides != 0 && table.has_coat(rule, leaf, sides) && reader.binds(&rule.steps, leaf, sides)
        });
        if binds && let Some(words) = table.broken(rule, &line) {
            out.push(rule.breach(i, format!("{}: {words}", place(done))));
        }
    }
}

/// `left groin`.
fn place(done: &Done) -> String {
    match done.side {
        None => done.zone.to_string(),
        Some(Side::Left) => format!("left {}", done.zone),
        Some(Side::Right) => format!("right {}", done.zone),
    }
}

/// The place of a plain line of a tool.
fn own_line(tool: &Tool<'_>, field: &str) -> (u32, u32, u32) {
    let is = |s: &&Stmt| matches!(&s.kind, StmtKind::Field(f) if f.name.text == field);
    let span = tool.body.iter().find(is).map(|s| s.span.shifted(tool.at)).unwrap_or_default();
    (tool.file, span.start, span.end)
}

impl Line<'_, '_> {
    fn kind(&self) -> &str {
        self.tool.map_or("", |t| t.kind.as_str())
    }

    fn length(&self) -> Option<Exact> {
        self.done.length.map(|l| Exact::whole(l, Of::Length))
    }

    /// How near the skin the edge comes. None: it doesn't cut near it, or nobody knows.
    fn closeness(&self) -> Near {
        let own = self.tool.and_then(|t| t.closeness);
        match self.kind() {
            // The plan isn't asked: a blade cuts where it cuts.
            "blade" | "comb" | "clipper" => own.map_or(Near::Unknown, Near::At),
            "shears" => self.length().or(own).map_or(Near::Unknown, Near::At),
            "thinners" => match (self.length(), own) {
                (Some(l), Some(o)) => Near::At(if l.below(o) { o } else { l }),
                (l, o) => l.or(o).map_or(Near::Unknown, Near::At),
            },
            "knife" | "rake" | "carder" | "brush" | "dryer" | "hand" | "nails" => own.map_or(Near::No, Near::At),
            _ => Near::Unknown,
        }
    }
}

enum Near {
    At(Exact),
    No,
    Unknown,
}

impl<'t> OnTable<'_, 't> {
    fn has_coat(&self, rule: &Rule<'_>, leaf: usize, sides: u8) -> bool {
        let Some(coat) = &rule.coat else { return true };
        let Some([left, right]) = self.dog.coats.get(leaf) else { return true };
        let has = |bit: u8, c: &Option<SmolStr>| sides & bit != 0 && c.as_ref().is_none_or(|c| c == coat);
        has(1, left) || has(2, right)
    }

    fn broken(&self, rule: &Rule<'t>, line: &Line<'_, 't>) -> Option<String> {
        let name = line.name;
        match rule.must {
            Must::Other => Some(format!(
                "the card has a finding here that has no name, so it stays untouched; the sheet uses {name}"
            )),
            Must::Bound(b) => self.bound(b, rule, line),
            // That is about two lines.
            Must::Before(_) => None,
        }
    }

    fn bound(&self, b: &Bound, rule: &Rule<'t>, line: &Line<'_, 't>) -> Option<String> {
        let name = line.name;
        match &b.kind {
            BoundKind::NoCloser(floor) => self.no_closer(floor, rule, line),
            BoundKind::NoShorter(e) => self.no_shorter(e, rule, line),
            BoundKind::Gap(most) => {
                let words = match line.tool.and_then(|t| t.gap) {
                    Some(own) if own > *most => format!("the teeth of {name} are {}", own.as_str()),
                    Some(_) => return None,
                    None if matches!(line.kind(), "blade" | "comb" | "clipper" | "") => {
                        format!("nobody knows the teeth of {name}")
                    }
                    None => return None,
                };
                Some(match most {
                    Gap::Fine => format!("{words}; only fine teeth may go here"),
                    most => format!("{words}; nothing wider than {} may go here", most.as_str()),
                })
            }
            BoundKind::Untouched => Some(format!("this stays untouched; the sheet uses {name}")),
            BoundKind::Refer => Some(format!("this part is for a vet; the sheet uses {name}")),
            BoundKind::Never(list) => {
                let beneath = |t: &ToolRef| line.done.over.as_ref().is_some_and(|o| self.is_blade(t, o));
                let hit = list.iter().any(|t| self.names(t, line) || beneath(t));
                hit.then(|| format!("never {} here; the sheet uses {name}", said(list)))
            }
            BoundKind::Only(list) => {
                // A list of steps says nothing of tools.
                if list.iter().all(|t| self.is_step(t)) || list.iter().any(|t| self.names(t, line)) {
                    return None;
                }
                Some(format!("only {} here; the sheet uses {name}", said(list)))
            }
            BoundKind::Direction { way, never } => {
                let runs = matches!(line.kind(), "blade" | "comb" | "clipper" | "");
                let bad = match line.done.direction {
                    Some(d) => (d == *way) == *never,
                    // What isn't said runs with the coat.
                    None => runs && (*way == Direction::With) == *never,
                };
                let only = if *never { "never" } else { "only" };
                let runs = toward(line.done.direction.unwrap_or(Direction::With));
                bad.then(|| format!("{only} {} here; the sheet runs {name} {runs}", toward(*way)))
            }
            BoundKind::Passes(most) => {
                let says = line.done.passes;
                (says > *most).then(|| format!("at most {} here; the sheet says {}", times(*most), times(says)))
            }
            _ => None,
        }
    }

    fn no_closer(&self, floor: &Floor, rule: &Rule<'t>, line: &Line<'_, 't>) -> Option<String> {
        let (least, said) = match floor {
            Floor::Blade(b) => (self.trade.tool(&b.text).and_then(|t| t.closeness), b.text.to_string()),
            Floor::Length(e) => (self.length(e, rule), "the length named".to_owned()),
            Floor::OverCause(n) => {
                let cause = rule.cause.and_then(|c| self.tool_of(c));
                let words = cause.map_or_else(
                    || "the tool that caused it".to_owned(),
                    |t| if t.name.starts_with('#') { t.name.to_uppercase() } else { t.name.to_string() },
                );
                let from = cause.and_then(|t| t.closeness);
                (from.and_then(|c| self.over_cause(c, *n)), format!("{} over {words}", classes(*n)))
            }
        };
        let near = match line.closeness() {
            Near::No => return None,
            Near::At(near) => Some(near),
            Near::Unknown => None,
        };
        let Some(least) = least else {
            return Some(format!(
                "nothing may come closer than {said}, but nobody knows how close that is; so no {} may go here",
                line.name
            ));
        };
        match near {
            None => Some(format!(
                "nobody knows how close {} comes; nothing may come closer than {} ({said})",
                line.name,
                least.mm()
            )),
            Some(near) if near.below(least) => Some(format!(
                "{} comes as close as {}; nothing may come closer than {} ({said})",
                line.name,
                near.mm(),
                least.mm()
            )),
            Some(_) => None,
        }
    }

    /// So many blade classes over a closeness; past the longest blade the combs go on.
    fn over_cause(&self, from: Exact, n: u32) -> Option<Exact> {
        let blades = self.trade.ladder("blade");
        let count = i32::try_from(n).ok()?;
        climb(&blades, from, count).or_else(|| {
            let last = *blades.last()?;
            let (mut ladder, combs) = (blades.clone(), self.trade.ladder("comb"));
            ladder.extend(combs.into_iter().filter(|c| c.cmp(last) == Some(Ordering::Greater)));
            climb(&ladder, from, count)
        })
    }

    fn no_shorter(&self, e: &Expr, rule: &Rule<'t>, line: &Line<'_, 't>) -> Option<String> {
        if matches!(line.kind(), "rake" | "brush" | "carder" | "dryer" | "nails") {
            return None;
        }
        let name = line.name;
        let Some(least) = self.length(e, rule) else {
            return Some(format!("a least length is asked for here that nobody can tell; so no {name} may go here"));
        };
        match line.length() {
            None => Some(format!("at least {} must stay here; the sheet doesn't say what {name} leaves", least.mm())),
            Some(l) if l.below(least) => {
                Some(format!("at least {} must stay here; {name} leaves {}", least.mm(), l.mm()))
            }
            Some(_) => None,
        }
    }

    fn length(&self, e: &Expr, rule: &Rule<'t>) -> Option<Exact> {
        self.scope.eval(e, rule.entry).filter(|x| x.of == Of::Length)
    }

    /// The one tool that a name means.
    fn tool_of(&self, t: &ToolRef) -> Option<&Tool<'t>> {
        match &t.kind {
            ToolRefKind::Blade(b) => self.trade.tool(b),
            ToolRefKind::Named(w) => self.trade.tool(&w.text),
            ToolRefKind::Comb { length, .. } => {
                let length = Exact::number(length.as_ref()?, grammar::tree::Unit::None)?;
                self.trade.tools.iter().find(|t| t.kind == "comb" && t.leaves.is_some_and(|l| nearly(l, length)))
            }
        }
    }

    /// Whether a name means the one blade that sits under a comb.
    fn is_blade(&self, t: &ToolRef, beneath: &SmolStr) -> bool {
        let one = match &t.kind {
            ToolRefKind::Blade(b) => b,
            ToolRefKind::Named(w) if kind(&w.text).is_none() => &w.text,
            _ => return false,
        };
        let own = |name: &str| self.trade.tool(name).map_or_else(|| name.to_lowercase(), |t| t.name.to_string());
        own(one) == own(beneath)
    }

    /// Whether a name is a step's and no tool's.
    fn is_step(&self, t: &ToolRef) -> bool {
        match &t.kind {
            ToolRefKind::Named(w) => {
                self.trade.is_step(&w.text) && kind(&w.text).is_none() && self.trade.tool(&w.text).is_none()
            }
            _ => false,
        }
    }

    /// Whether a name in `never` or `only` means the tool of this line.
    fn names(&self, t: &ToolRef, line: &Line<'_, 't>) -> bool {
        let own = line.tool.map_or_else(|| line.name.to_lowercase(), |t| t.name.to_string());
        match &t.kind {
            ToolRefKind::Blade(b) => b.to_lowercase() == own,
            ToolRefKind::Comb { length, over } => {
                let fits = length.as_ref().is_none_or(|n| {
                    let said = Exact::number(n, grammar::tree::Unit::None);
                    let leaves = line.tool.and_then(|t| t.leaves.or(t.closeness));
                    said.zip(leaves).is_some_and(|(a, b)| nearly(a, b))
                });
                let beneath = over
                    .as_ref()
                    .is_none_or(|o| line.done.over.as_ref().is_some_and(|d| d.eq_ignore_ascii_case(&o.text)));
                line.kind() == "comb" && fits && beneath
            }
            ToolRefKind::Named(w) => {
                let meant = self.trade.tool(&w.text);
                // `scissors` is another word for `shears`, which is a kind.
                match kind(&w.text).or_else(|| meant.and_then(|t| kind(&t.name))) {
                    Some("clipper") => matches!(line.kind(), "blade" | "comb" | "clipper"),
                    Some("stripping") => matches!(line.kind(), "knife" | "hand"),
                    Some(k) => line.kind() == k,
                    None => meant.map_or(w.text == own, |t| t.name == own),
                }
            }
        }
    }
}

/// A kind of tool, also in the plural.
fn kind(word: &str) -> Option<&'static str> {
    Some(match word {
        "blade" | "blades" => "blade",
        "comb" | "combs" => "comb",
        "shears" | "scissors" => "shears",
        "thinners" | "thinning-shears" => "thinners",
        "stripping" | "hand-stripping" => "stripping",
        "knife" | "knives" => "knife",
        "rake" | "rakes" => "rake",
        "carder" | "carders" | "carding" => "carder",
        "brush" | "brushes" => "brush",
        "clipper" | "clippers" => "clipper",
        "dryer" | "dryers" => "dryer",
        "hand" => "hand",
        "nails" => "nails",
        _ => return None,
    })
}

/// Combs are sold by the inch and by the millimetre: half a millimetre is one comb.
fn nearly(a: Exact, b: Exact) -> bool {
    const HALF: i64 = 500_000;
    let half = Exact::whole(HALF, Of::Length);
    a.gap(b).is_some_and(|d| !half.below(d))
}

const fn toward(d: Direction) -> &'static str {
    match d {
        Direction::With => "with the coat",
        Direction::Across => "across",
        Direction::Reverse => "in reverse",
    }
}

fn classes(n: u32) -> String {
    if n == 1 { "one class".to_owned() } else { format!("{n} classes") }
}

fn times(n: u32) -> String {
    if n == 1 { "one pass".to_owned() } else { format!("{n} passes") }
}

/// `shears or thinners`.
fn said(list: &[ToolRef]) -> String {
    let one = |t: &ToolRef| match &t.kind {
        ToolRefKind::Blade(b) => b.to_string(),
        ToolRefKind::Named(w) => w.text.to_string(),
        ToolRefKind::Comb { length, over } => {
            let length = length.as_ref().map_or(String::new(), |n| format!("{} ", n.text));
            let over = over.as_ref().map_or(String::new(), |o| format!(" over {}", o.text));
            format!("{length}comb{over}")
        }
    };
    list.iter().map(one).collect::<Vec<_>>().join(" or ")
}
