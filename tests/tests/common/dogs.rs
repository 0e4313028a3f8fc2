//! Random cards over the demo salon, as text, so that what fails can be pasted and tried.
#![allow(dead_code)]

use coatwright::check::{chain, units};
use coatwright::choices::{self, Choices};
use coatwright::date::Day;
use coatwright::diagnostic::{Diagnostic, Severity};
use coatwright::names::card::{self, Dog};
use coatwright::names::lower::Decl;
use coatwright::names::trade::{ToolKind, Trade, Where};
use coatwright::workspace::{Salon, Workspace};
use coatwright_tests::{Effort, effort};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestError, TestRng, TestRunner};
use std::sync::OnceLock;

/// The day of every visit here.
pub const TODAY: (i32, u32, u32) = (2026, 11, 25);

pub fn today() -> Day {
    Day::new(TODAY.0, TODAY.1, TODAY.2).unwrap()
}

/// The demo salon with each recipe that serves dogs.
pub struct Demo {
    pub workspace: &'static Workspace,
    pub salon: &'static Salon<'static>,
    pub recipes: Vec<Recipe>,
}

pub struct Recipe {
    pub name: String,
    pub choices: Choices,
}

pub fn demo() -> &'static Demo {
    static DEMO: OnceLock<Demo> = OnceLock::new();
    DEMO.get_or_init(|| {
        let workspace: &'static Workspace = Box::leak(Box::new(crate::common::workspace(crate::common::saltmarsh())));
        let salon: &'static Salon<'static> = Box::leak(Box::new(workspace.salons().remove(0)));
        let mut recipes = Vec::new();
        for (name, decl) in salon.recipes.iter() {
            let mut said = Vec::new();
            let layers = chain(salon, decl, &mut said);
            let choices = choices::build(&layers, &salon.trade, units(&salon.trade), &mut said);
            assert!(said.iter().all(|d| d.severity != Severity::Error), "{name}: {said:#?}");
            if !choices.serves.is_always() {
                recipes.push(Recipe { name: name.to_string(), choices });
            }
        }
        assert!(recipes.len() >= 6, "which recipes serve dogs? {}", recipes.len());
        Demo { workspace, salon, recipes }
    })
}

/// A card by numbers that are taken modulo what there is to choose from, so that every value of every field is a card.
#[derive(Clone, Debug)]
pub struct Card {
    pub recipe: usize,
    pub coat: usize,
    pub bitch: bool,
    pub weight: i64,
    pub years: i64,
    pub findings: Vec<Finding>,
    pub mats: Vec<Mat>,
    pub consent: Option<bool>,
}

#[derive(Clone, Debug)]
pub struct Finding {
    pub which: usize,
    pub zone: usize,
    pub more_zones: usize,
    pub side: usize,
    pub cause: usize,
    pub way: usize,
}

#[derive(Clone, Debug)]
pub struct Mat {
    pub grade: usize,
    pub zone: usize,
    pub off: usize,
}

pub fn finding() -> impl Strategy<Value = Finding> {
    (0_usize..997, 0_usize..997, 0_usize..3, 0_usize..3, 0_usize..997, 0_usize..4)
        .prop_map(|(which, zone, more_zones, side, cause, way)| Finding { which, zone, more_zones, side, cause, way })
}

pub fn mat() -> impl Strategy<Value = Mat> {
    (0_usize..4, 0_usize..997, 0_usize..5).prop_map(|(grade, zone, off)| Mat { grade, zone, off })
}

pub fn a_card() -> impl Strategy<Value = Card> {
    (
        0_usize..997,
        0_usize..997,
        any::<bool>(),
        0_i64..100_000,
        0_i64..15,
        prop::collection::vec(finding(), 0..4),
        prop::collection::vec(mat(), 0..3),
        prop::option::of(any::<bool>()),
    )
        .prop_map(|(recipe, coat, bitch, weight, years, findings, mats, consent)| Card {
            recipe,
            coat,
            bitch,
            weight,
            years,
            findings,
            mats,
            consent,
        })
}

impl Card {
    pub fn recipe(&self) -> &'static Recipe {
        &demo().recipes[self.recipe % demo().recipes.len()]
    }

    /// The card's text, named `random`.
    pub fn text(&self) -> String {
        let trade = &demo().salon.trade;
        let serves = &self.recipe().choices.serves;
        let coats: Vec<usize> = match &serves.coats {
            Some(any) => any.iter().map(|c| usize::from(c.0)).collect(),
            None => (0..trade.coats.len()).collect(),
        };
        let coat = &trade.coats[coats[self.coat % coats.len()]].name;
        // On the card's grid of 100 g.
        let low = serves.weight.low.map_or(1_500, |(v, out)| if out { v + 100 } else { v }) / 100;
        let high = serves.weight.high.map_or(60_000, |(v, out)| if out { v - 100 } else { v }) / 100;
        let weight = low + self.weight % (high - low + 1);
        let mut text = format!(
            "dog random {{\n  sex      {}\n  coat     {coat}, 45 mm\n  weight   {}.{} kg\n  born     {}-03\n  seen     2026-11-20\n  asked    skin, ears, \
             heart, joints\n",
            if self.bitch { "bitch" } else { "dog" },
            weight / 10,
            weight % 10,
            TODAY.0 - 1 - i32::try_from(self.years).unwrap(),
        );
        for finding in &self.findings {
            if let Some(line) = finding.line(trade, &self.recipe().choices) {
                text.push_str(&line);
            }
        }
        for mat in &self.mats {
            text.push_str(&mat.line(trade));
        }
        match self.consent {
            Some(true) => text.push_str("  consent  clip-off yes\n"),
            Some(false) => text.push_str("  consent  clip-off no\n"),
            None => {}
        }
        text.push_str(&format!("  wants    {}\n}}\n", self.recipe().name));
        text
    }
}

impl Finding {
    /// Its line; none if the recipe doesn't serve dogs with it.
    pub fn line(&self, trade: &Trade, choices: &Choices) -> Option<String> {
        let number = self.which % trade.findings.len();
        let finding = &trade.findings[number];
        if choices.serves.without.iter().any(|f| usize::from(f.0) == number) {
            return None;
        }
        let mut line = format!("  finding  {}", finding.name);
        if finding.on == Where::Card {
            let names: Vec<String> = (0..=self.more_zones)
                .map(|n| {
                    let zone = &trade.zones[(self.zone + 7 * n) % trade.zones.len()];
                    match self.side {
                        1 if zone.paired => format!("left {}", zone.name),
                        2 if zone.paired => format!("right {}", zone.name),
                        _ => zone.name.to_string(),
                    }
                })
                .collect();
            line = format!("{line} on {}", names.join(", "));
        }
        if finding.by_tool {
            let blades: Vec<&str> = trade
                .tools
                .iter()
                .filter(|t| t.kind == ToolKind::Blade && t.name.starts_with('#'))
                .map(|t| t.name.as_str())
                .collect();
            let way = ["", " with the coat", " in reverse", " across"][self.way % 4];
            line = format!("{line} after {}{way}", blades[self.cause % blades.len()]);
        }
        line.push('\n');
        Some(line)
    }
}

impl Mat {
    fn line(&self, trade: &Trade) -> String {
        let grade = ["tangle", "knot", "tight", "pelted"][self.grade % 4];
        let off = ["", ", 4 mm off the skin", ", 8 mm off the skin", ", 20 mm off the skin", ""][self.off % 5];
        format!("  mats     {grade} on {}{off}\n", trade.zones[self.zone % trade.zones.len()].name)
    }
}

/// Reads a card that stands in no file.
pub fn read(text: &str) -> (Dog, Vec<Diagnostic>) {
    let file = grammar::parse(text);
    let mut said: Vec<Diagnostic> = Vec::new();
    assert!(grammar::errors(&file).is_empty(), "{text}\n{:?}", grammar::errors(&file));
    let placed = &file.blocks[0];
    let id = coatwright::source::FileId(9_999);
    let decl = Decl { file: id, at: placed.at, block: &placed.block.block };
    let trade = &demo().salon.trade;
    let dog = card::read(decl, trade, units(trade), Some(today()), &mut said);
    (dog, said)
}

/// The demo salon and one card more.
pub fn with_card(text: &str) -> Workspace {
    let mut texts = crate::common::saltmarsh();
    texts.push(("recipes/saltmarsh/random.trim".into(), text.to_owned()));
    crate::common::workspace(texts)
}

/// Tries a property on so many values, always the same ones; says the smallest value that breaks it.
#[track_caller]
pub fn hold<S: Strategy>(cases: u32, strategy: &S, test: impl Fn(S::Value) -> Result<(), TestCaseError>)
where
    S::Value: std::fmt::Debug,
{
    // LONG=1 tries many more; what it finds is found again by the same seed.
    let cases = if effort() == Effort::Long { cases * 20 } else { cases };
    let config = Config { cases, failure_persistence: None, max_shrink_iters: 400, ..Config::default() };
    let mut runner = TestRunner::new_with_rng(config, TestRng::deterministic_rng(RngAlgorithm::ChaCha));
    match runner.run(strategy, test) {
        Ok(()) => {}
        Err(TestError::Fail(why, value)) => panic!("{why}\n\nfor {value:?}"),
        Err(TestError::Abort(why)) => panic!("gave up: {why}"),
    }
}
