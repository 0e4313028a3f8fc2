//! Prints the demo's recipes and so many random ones as data for `tests/proof/z3_check.py`, with what `check` says about each.
//!
//! `cargo run -p coatwright-tests --example choices_json -- 60`
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

#[path = "../tests/common/mod.rs"]
mod common;
#[path = "../tests/common/recipes.rs"]
mod recipes;

use coatwright::check::{chain, check, units};
use coatwright::choices;
use coatwright::diagnostic::Diagnostic;
use coatwright::source::Place;
use coatwright::workspace::Workspace;
use proptest::strategy::{Strategy, ValueTree};
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use serde_json::{Value, json};

/// The recipes of a workspace that serve dogs.
fn export(workspace: &Workspace, text: Option<&str>, out: &mut Vec<Value>) {
    let said = check(workspace);
    let line = |place: Place| {
        let text = workspace.sources().text(place.file);
        let line = text[..place.start as usize].matches('\n').count() + 1;
        format!("{}:{line}", workspace.sources().name(place.file))
    };
    for salon in workspace.salons() {
        for decl in salon.recipes.values() {
            let layers = chain(&salon, decl, &mut Vec::new());
            let choices = choices::build(&layers, &salon.trade, units(&salon.trade), &mut Vec::new());
            if choices.serves.is_always() {
                continue;
            }
            let about: Vec<Diagnostic> =
                said.iter().filter(|d| layers.iter().any(|l| l.decl.file == d.place.file)).cloned().collect();
            let mut value = coatwright_tests::export::recipe(&choices, &salon.trade, &about, &line);
            value["text"] = json!(text);
            out.push(value);
        }
    }
}

fn main() {
    let many: usize = std::env::args().nth(1).and_then(|n| n.parse().ok()).unwrap_or(60);
    let mut out = Vec::new();
    export(&common::workspace(common::saltmarsh()), None, &mut out);
    let mut runner = TestRunner::new_with_rng(Config::default(), TestRng::deterministic_rng(RngAlgorithm::ChaCha));
    for _ in 0..many {
        let text = recipes::a_recipe().new_tree(&mut runner).unwrap().current().text();
        export(&common::workspace(vec![("h/short.trim".into(), text.clone())]), Some(&text), &mut out);
    }
    println!("{}", json!(out));
}
