//! What many cards cost: `cargo bench -p coatwright-tests --bench batch`.
//!
//! The demo salon's four cards, each with other weights, lengths and findings, so that no two are alike: how many a second come to a
//! checked summary or sheet, in this process, on one core and on all. With `COATWRIGHT=path/to/coatwright` the program itself
//! is given 10 000 and 100 000 cards through a pipe, and its most memory is read from the system (Linux).
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

use coatwright::batch::{Asked, Batch, Shared};
use coatwright::cards::{CardJson, from_text};
use coatwright::date::Day;
use coatwright::sheet::render::Units;
use coatwright::workspace::Workspace;
use rayon::prelude::*;
use std::hint::black_box;
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Instant;

/// The program's own.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn salon() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../recipes/saltmarsh")
}

/// The card of a number: one of the demo's, with a weight and a length of its own.
fn card(demo: &[CardJson], number: usize) -> String {
    let mut card = demo[number % demo.len()].clone();
    let turn = number / demo.len();
    card.id = Some(number.to_string());
    card.weight = Some(format!("{}.{} kg", 6 + turn % 13, turn % 10));
    card.coat.0[0].length = Some(format!("{} mm", 45 + turn % 17));
    let keep = card.findings.0.len() - turn % (card.findings.0.len() + 1);
    card.findings.0.truncate(keep);
    serde_json::to_string(&card).unwrap()
}

fn main() {
    let demo = from_text(&std::fs::read_to_string(salon().join("dogs.trim")).unwrap()).unwrap();
    let workspace = Workspace::open(&[salon()]).unwrap();
    let shared = Shared::of(&workspace);
    let cards: Vec<String> = (0..4_000).map(|n| card(&demo, n)).collect();
    println!("{:<12} {:>8} {:>14} {:>14} {:>14}", "", "refused", "CPU, ms each", "1 core, /s", "all cores, /s");
    for (what, sheets) in [("summaries", false), ("sheets", true)] {
        let asked = Asked { recipe: None, on: Day::new(2026, 11, 25).unwrap(), sheets, units: Units::Metric };
        let batch = Batch::new(&shared, asked);
        let refused = cards.iter().take(500).filter(|c| batch.answer(1, c).refused.is_some()).count();
        // The best of three: what else runs on the machine only slows.
        let rate = |run: &dyn Fn()| {
            let time = |()| {
                let began = Instant::now();
                run();
                began.elapsed().as_secs_f64()
            };
            cards.len() as f64 / [(), (), ()].map(time).into_iter().fold(f64::INFINITY, f64::min)
        };
        let one = rate(&|| cards.iter().for_each(|c| drop(black_box(batch.answer(1, c)))));
        let busy = on_cpu();
        cards.iter().for_each(|c| drop(black_box(batch.answer(1, c))));
        let busy = (on_cpu() - busy) * 1e3 / cards.len() as f64;
        let all = rate(&|| cards.par_iter().for_each(|c| drop(black_box(batch.answer(1, c)))));
        println!("{what:<12} {:>6.1} % {busy:>14.3} {one:>14.0} {all:>14.0}", refused as f64 / 5.0);
    }
    if let Some(program) = std::env::var_os("COATWRIGHT") {
        for many in [10_000, 100_000] {
            through_a_pipe(Path::new(&program), &demo, many);
        }
    }
}

/// How long this thread has run, in seconds (Linux): on a busy machine that says more than the clock.
fn on_cpu() -> f64 {
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap_or_default();
    told.split_whitespace().next().and_then(|ns| ns.parse::<f64>().ok()).unwrap_or(0.0) / 1e9
}

/// Gives the program so many cards and says how fast they came back, and the most memory it had.
fn through_a_pipe(program: &Path, demo: &[CardJson], many: usize) {
    let mut child = Command::new(program)
        .args(["batch", "--on", "2026-11-25"])
        .current_dir(salon())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut stdin = child.stdin.take().unwrap();
    let demo = demo.to_vec();
    let began = Instant::now();
    let writer = std::thread::spawn(move || {
        for number in 0..many {
            writeln!(stdin, "{}", card(&demo, number)).unwrap();
        }
    });
    let status = format!("/proc/{}/status", child.id());
    let (mut lines, mut most) = (0, 0_u64);
    for line in BufReader::new(child.stdout.take().unwrap()).lines() {
        let line = line.unwrap();
        lines += 1;
        assert!(line.starts_with(&format!("{{\"line\":{lines},")), "out of order: {line}");
        if lines % 1_000 == 0
            && let Ok(status) = std::fs::read_to_string(&status)
        {
            let peak = status.lines().find_map(|l| l.strip_prefix("VmHWM:")).unwrap_or_default();
            most = most.max(peak.trim().trim_end_matches(" kB").trim().parse().unwrap_or(0));
        }
    }
    let seconds = began.elapsed().as_secs_f64();
    writer.join().unwrap();
    child.wait().unwrap();
    assert_eq!(lines, many);
    println!(
        "through a pipe: {many} cards in {seconds:.1} s, {:.0}/s, at most {} MB",
        many as f64 / seconds,
        most / 1024
    );
}
