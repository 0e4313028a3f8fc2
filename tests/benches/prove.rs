//! What the proof costs: `cargo bench -p coatwright-tests --bench prove`.
//!
//! In this process, on one core, names looked up before: a trim of the demo's own words; an adversarial one, 40 findings whose
//! guards meet on all zones with 20 statements a zone; how the cost goes with statements, findings and conditions; and 10 000
//! different recipes, read and proved on all cores. `UPDATE=1` draws the curves anew into `docs/pictures/proof-cost.svg`.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

use coatwright::check::{chain, units};
use coatwright::choices::{self, Choices};
use coatwright::names::trade::{Reply, Trade};
use coatwright::prove::prove;
use coatwright::workspace::Workspace;
use std::fmt::Write as _;
use std::hint::black_box;
use std::time::Instant;

/// The program's own.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

#[path = "corpus.rs"]
mod corpus;

/// The choices of a recipe that stands in a text of its own.
fn built<R>(text: &str, then: impl FnOnce(&Choices, &Trade) -> R) -> R {
    let workspace = Workspace::from_texts(vec![("bench.trim".into(), text.to_owned())], 1);
    let salons = workspace.salons();
    let salon = &salons[0];
    let mut said = Vec::new();
    let decl = *salon.recipes.values().next().unwrap();
    let layers = chain(salon, decl, &mut said);
    let choices = choices::build(&layers, &salon.trade, units(&salon.trade), &mut said);
    assert!(said.is_empty() && workspace.syntax().is_empty(), "{said:#?}\n{:#?}\n{text}", workspace.syntax());
    then(&choices, &salon.trade)
}

/// The median time of a proof in milliseconds, and how many messages it gives.
fn time(text: &str, rounds: usize) -> (f64, usize) {
    built(text, |choices, trade| {
        let found = prove(choices, trade).len();
        let mut all: Vec<f64> = (0..rounds)
            .map(|_| {
                let began = Instant::now();
                black_box(prove(choices, trade));
                began.elapsed().as_secs_f64() * 1e3
            })
            .collect();
        all.sort_by(f64::total_cmp);
        (all[all.len() / 2], found)
    })
}

/// Everything that a hard recipe is made of.
#[derive(Clone, Copy)]
struct Hard {
    /// Findings that are answered; each third of them meets on every zone.
    findings: usize,
    /// Pieces of weight, each with statements of its own.
    weights: usize,
    /// Keeps by build, age and sex, which cut the cells further.
    keeps: bool,
    coats: &'static str,
}

/// A recipe whose guards and conditions meet on every zone of the body.
fn hard(hard: Hard) -> String {
    let trade = coatwright::basics::trade();
    let mut text =
        format!("recipe hard {{\n  serves   coat {}\n  serves   weight 3 kg to 60 kg, without face-shy\n", hard.coats);
    let places = ["head except lashes", "neck", "front", "torso", "legs", "tail"];
    text.push_str("  skim     whole-coat except lashes with #10 with the coat, one pass\n  leave    lashes\n");
    for n in 0..hard.weights {
        for place in places {
            let (low, high) = (30 + n * 30, 59 + n * 30);
            let _ = writeln!(
                text,
                "  when     weight {}.{} kg to {}.{} kg {{ skim {place} with #10 with the coat, one pass, {} }}",
                low / 10,
                low % 10,
                high / 10,
                high % 10,
                ["light-hand", "low-speed", "helper"][n % 3]
            );
        }
    }
    if hard.keeps {
        for (what, keep) in [
            ("build long", "no closer than #10"),
            ("build short-faced", "one pass"),
            ("age under 2 years", "never in reverse"),
            ("age under 8 years", "gap fine"),
            ("sex bitch", "never shears"),
        ] {
            let _ = writeln!(text, "  when     {what} {{ keep whole-coat {keep} }}");
        }
    }
    let gentle = trade.findings.iter().filter(|f| f.reply == Reply::Raise);
    for (n, finding) in
        gentle.chain(trade.findings.iter().filter(|f| f.reply == Reply::Leave)).take(hard.findings).enumerate()
    {
        for (_, place) in places.iter().enumerate().filter(|(p, _)| (p + n) % 3 == 0) {
            let _ = writeln!(
                text,
                "  guard    {} {{ skim {place} with #10 with the coat, one pass, blade-cool }}",
                finding.name
            );
        }
    }
    text.push_str("}\n");
    text
}

fn main() {
    let six = "curl, double-curl, fleece, wavy, puppy-coat or corded";
    let parts = [corpus::statements("saltmarsh-base.trim"), corpus::statements("harbour-short.trim")];
    let mut typical = corpus::recipe(1, &parts).replace("curl, fleece or wavy", six);
    let guards = ["blind", "deaf", "hips", "back", "heart", "short-face", "old-skin", "thin-skin", "in-milk"];
    let trade = coatwright::basics::trade();
    let known: Vec<&str> =
        trade.findings.iter().filter(|f| f.reply == Reply::Raise).map(|f| f.name.as_str()).take(10).collect();
    let _ = guards;
    let body: String = known
        .iter()
        .map(|f| format!("  guard    {f} {{ skim belly rear with #10 with the coat, one pass }}\n"))
        .collect();
    typical = typical.replacen("  keep     topknot", &format!("{body}  keep     topknot"), 1);
    let (ms, found) = time(&typical, 200);
    println!("typical recipe, {} lines: {ms:.3} ms, {found} messages", typical.lines().count());
    if std::env::var_os("SHOW").is_some() {
        for text in [&typical, &hard(Hard { findings: 40, weights: 5, keeps: true, coats: six })] {
            built(text, |c, t| {
                for d in prove(c, t) {
                    println!("{} {} {:?}", d.code, d.message, d.dog);
                }
            });
        }
        return;
    }
    let text = hard(Hard { findings: 40, weights: 5, keeps: true, coats: six });
    let (ms, found) = time(&text, 9);
    println!("adversarial: {ms:.1} ms, {found} messages, {} lines", text.lines().count());
}
