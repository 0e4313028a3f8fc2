//! One small source through every stage, in one file to read: `snapshots/stages.snap`.
//!
//! Whoever wants to know what a stage makes of the last one's value reads there; whoever changes a stage sees here what else
//! moved. `INSTA_UPDATE=always cargo test -p coatwright-tests --test stages` writes it anew.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod common;

use coatwright::check::check;
use coatwright::choices::{Ask, Choices, Kind, Level, Pass, ToolAsk};
use coatwright::date::Day;
use coatwright::diagnostic::render::{Format, Look, render};
use coatwright::finish::{Did, Finish, site_words, stroke_words};
use coatwright::measure::{Interval, Time};
use coatwright::names::sites::Sites;
use coatwright::names::trade::{Trade, Verb};
use coatwright::plan::{Plan, TaskKind};
use coatwright::sheet::render::{Options, json, text};
use coatwright::sheet::{Request, finished, make};
use coatwright::source::{Place, Sources};
use std::fmt::Write as _;

/// Two layers, a condition, a guard, a blend, a keep, a wish, and a dog whose throat was reddened once.
const SOURCE: &str = "\
-- A base and a recipe, as small as they can be and still meet every stage.
recipe one-base {
  title    \"Base\"
  version  2
  leave    whole-coat
  skim     groin with #10 with the coat, one pass
}

recipe one-blade {
  title    \"One blade\"
  version  1
  serves   coat curl or fleece
  serves   weight 3 kg to 20 kg
  serves   without face-shy
  extends  one-base version 1        -- the base moved on: a warning
  param    body-length is 9 mm, within 6 mm to 13 mm
  prep     { bath; dry stretch; comb to skin }
  set in   ribs to body-length with the coat, comb up, again
  finish   ribs by shears, following outline
  clip     throat with #10 in reverse
  blend    ribs into flank, back, shoulder, underline over two fingers by skimming
  line     between throat and neck-front, neck-side, cheek, chin
  when     weight under 6 kg { shape topknot to 18 mm by shears }
  else     { shape topknot to 25 mm by shears }
  guard    sensitive-skin { leave groin }
  keep     topknot at most 45 mm
  order    throat before ribs
}

dog pip {
  sex      bitch, spayed
  coat     fleece, 40 mm
  weight   5.2 kg
  born     2021-03
  seen     2026-11-20
  asked    skin, ears, heart, joints
  finding  irritation on throat after #10 in reverse
  finding  wart on left ribs
  wants    one-blade but { leave topknot }
}
";

#[test]
fn every_stage_of_one_source() {
    let workspace = common::workspace(vec![("one.trim".into(), SOURCE.to_owned())]);
    let tree = grammar::parse(SOURCE);
    let said = check(&workspace);
    let request = Request { recipe: None, dog: "pip".into(), on: Day::new(2026, 11, 25), learner: false };
    let made = finished(&workspace, &request).unwrap_or_else(|said| panic!("{said:#?}"));
    let sheet = make(&workspace, &request).unwrap();
    let (trade, sources) = (&made.trade, workspace.sources());

    let mut page = String::new();
    let mut part = |title: &str, about: &str, kind: &str, body: &str| {
        let _ = write!(page, "## {title}\n\n{about}\n\n```{kind}\n{}\n```\n\n", body.trim_end());
    };
    part("Source", "What was written.", "trim", SOURCE);
    part("Tree", "`grammar::parse`, as `grammar::shape` shows it.", "text", &grammar::shape(&tree));
    part(
        "Messages",
        "`check`, a line each.",
        "text",
        &render(&said, sources, Format::Short, Look { colour: false, width: 100 }),
    );
    part(
        "Choices",
        "What base, recipe and wish say about every dog, and the keeps that they add.",
        "text",
        &choices(&made.choices, trade, sources),
    );
    part(
        "Finishes",
        "What is done at each place of Pip, and why. What is left as the base leaves it is left out.",
        "text",
        &finishes(&made.finishes.all, trade, sources),
    );
    part("Plan", "In which order.", "text", &plan(&made.plan, trade));
    part(
        "Sheet",
        "What the groomer works from.",
        "text",
        &without_fingerprints(&text(&sheet, &Options { width: 80, ..Options::default() })),
    );
    let head: String = json(&sheet, &Options::default()).lines().take(40).map(|l| format!("{l}\n")).collect();
    part("JSON", "The head of the same sheet for programs.", "json", &without_fingerprints(&head));

    insta::with_settings!({ omit_expression => true, prepend_module_to_snapshot => false }, {
        insta::assert_snapshot!("stages", page);
    });
}

/// `one.trim:12`.
fn at(place: Place, sources: &Sources) -> String {
    format!("{}:{}", sources.name(place.file), sources.line_column(place).0)
}

/// The zones of a set, both sides as one; a long list is cut.
fn zones(sites: Sites, trade: &Trade) -> String {
    let mut names: Vec<String> = Vec::new();
    for zone in &trade.zones {
        let own = zone.sites() & sites;
        if own == zone.sites() {
            names.push(zone.name.to_string());
        } else if let Some(site) = own.iter().next() {
            names.push(site_words(trade, site));
        }
    }
    let more = names.len().saturating_sub(6);
    if more > 0 {
        names.truncate(4);
        names.push(format!("and {} more", more + 2));
    }
    names.join(", ")
}

fn ask(ask: &Ask, trade: &Trade) -> String {
    let name = |id| trade.tool(id).map_or("?", |t| t.name.as_str());
    let mut words = vec![ask.verb.as_str().to_owned()];
    words.extend(ask.to.map(|to| format!("to {to}")));
    match ask.tool {
        ToolAsk::Any => {}
        ToolAsk::AnyComb => words.push("by a comb".into()),
        ToolAsk::Tool(id) => words.push(format!("with {}", name(id))),
        ToolAsk::CombOver(comb, blade) => words.push(format!("with {} over {}", name(comb), name(blade))),
    }
    words.extend(ask.direction.map(|d| format!("{d:?}").to_lowercase()));
    words.extend(ask.passes.map(|p| format!("{p} passes")));
    words.extend(
        ask.manners.iter().map(|(m, at)| at.as_ref().map_or_else(|| m.to_string(), |at| format!("{m} at {at}"))),
    );
    words.join(", ")
}

fn choices(choices: &Choices, trade: &Trade, sources: &Sources) -> String {
    let level = |level: Level| match level {
        Level::House(_) => "house",
        Level::Base(_) => "base",
        Level::Recipe => "recipe",
        Level::Wish => "wish",
    };
    let mut out = String::new();
    for choice in &choices.finishes {
        let pass = if choice.pass == Pass::Rough { "rough" } else { "finish" };
        let kind = match choice.kind {
            Kind::Plain => "plain".to_owned(),
            Kind::When if choice.cond.not.is_empty() => "when".to_owned(),
            Kind::When => "else".to_owned(),
            Kind::Guard => {
                format!("guard {}", choice.finding.and_then(|f| trade.finding(f)).map_or("?", |f| f.name.as_str()))
            }
        };
        let _ = writeln!(
            out,
            "{:<12} {:<7} {:<6} {kind:<20} {}\n{:13}on {}",
            at(choice.place, sources),
            level(choice.level),
            pass,
            ask(&choice.ask, trade),
            "",
            zones(choice.sites, trade)
        );
    }
    let _ = writeln!(out, "keeps: {} of the basics, and", trade.keeps.len());
    for keep in choices.keeps.iter().skip(trade.keeps.len()) {
        let _ = writeln!(out, "{:<12} {:?}", at(keep.line.place, sources), keep.line.bound);
    }
    for blend in &choices.blends {
        let _ = writeln!(
            out,
            "{:<12} blend {}, over {}, by {}",
            at(blend.place, sources),
            blend.words,
            blend.room.as_deref().unwrap_or("-"),
            blend.by.as_deref().unwrap_or("-")
        );
    }
    for line in &choices.lines {
        let _ = writeln!(out, "{:<12} line {}", at(line.place, sources), line.words);
    }
    for order in &choices.orders {
        let _ = writeln!(
            out,
            "{:<12} {} before {}",
            at(order.place, sources),
            zones(order.first, trade),
            zones(order.then, trade)
        );
    }
    out
}

fn did(did: &Did) -> String {
    match did {
        Did::SetRough => "set in".into(),
        Did::Set => "set".into(),
        Did::WonOver => "won over".into(),
        Did::Guarded(by) => format!("guarded by {by}"),
        Did::Replied(by, reply) => format!("{} by {by}", format!("{reply:?}").to_lowercase()),
        Did::Yielded(what) => format!("yielded {what}"),
        Did::Mat => "mat".into(),
        Did::Overridden(by) => format!("overridden by {by}"),
        Did::Waits => "waits".into(),
    }
}

/// Every finish that isn't the base's leave, equal ones of both sides together.
fn finishes(all: &[Finish], trade: &Trade, sources: &Sources) -> String {
    let stroke = |s: &coatwright::finish::Stroke| {
        let leaves = s.leaves.map_or(String::new(), |l| format!(", leaves {l}"));
        let near = s.closeness.map_or(String::new(), |c| format!(", edge {c}"));
        let gap = s.gap.map_or(String::new(), |g| format!(", teeth {}", format!("{g:?}").to_lowercase()));
        format!("{}{leaves}{near}{gap}", stroke_words(s, trade))
    };
    let base = all.iter().filter(|f| f.fine.verb == Verb::Leave).map(|f| f.statement).min();
    let mut out = String::new();
    let mut told: Vec<(String, String)> = Vec::new();
    for finish in all.iter().filter(|f| f.fine.verb != Verb::Leave || Some(f.statement) != base) {
        let rough = finish.rough.as_ref().map_or(String::new(), |r| format!("{}; then ", stroke(r)));
        let reasons: Vec<String> =
            finish.reasons.iter().map(|r| format!("{} {}", did(&r.what), at(r.place, sources))).collect();
        let body = format!("{rough}{} [{:?}]\n{:13}{}", stroke(&finish.fine), finish.outcome, "", reasons.join(" · "));
        match told.iter_mut().find(|(_, other)| *other == body) {
            Some((names, _)) => *names = format!("{names}, {}", site_words(trade, finish.site)),
            None => told.push((site_words(trade, finish.site), body)),
        }
    }
    for (names, body) in told {
        let _ = writeln!(out, "{names}: {body}");
    }
    out
}

fn plan(plan: &Plan, trade: &Trade) -> String {
    let minutes = |time: Interval<Time>| format!("{} to {} s", time.low.0, time.high.0);
    let mut out = String::new();
    for (number, task) in (1..).zip(&plan.tasks) {
        let step = |id: coatwright::names::trade::StepId| trade.steps[id.0 as usize].name.to_string();
        let (name, works) = match &task.kind {
            TaskKind::Step { step: id, words, .. } => (format!("{} {words}", step(*id)), None),
            TaskKind::Mats(mats) => (format!("mats {mats:?}"), None),
            TaskKind::SetIn(works) => ("set in".to_owned(), Some(works)),
            TaskKind::Part { step: id, works, blends } => (format!("{} (blends {blends:?})", step(*id)), Some(works)),
        };
        let _ = writeln!(out, "{number:>2} {} ({})", name.trim(), minutes(task.time));
        for work in works.into_iter().flatten() {
            let _ = writeln!(out, "   {}: {}", zones(work.sites, trade), stroke_words(&work.stroke, trade));
        }
    }
    out
}

/// Fingerprints change with every edit of the basics, and say nothing to a reader.
fn without_fingerprints(text: &str) -> String {
    let mut out = String::new();
    let mut run = String::new();
    for c in text.chars().chain(['\0']) {
        if c.is_ascii_digit() || ('a'..='f').contains(&c) {
            run.push(c);
            continue;
        }
        out.push_str(if run.len() == 16 { "(fingerprint)" } else { &run });
        run.clear();
        if c != '\0' {
            out.push(c);
        }
    }
    out
}
