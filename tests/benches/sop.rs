//! What the order of work costs to find: `cargo bench -p coatwright-tests --bench sop -- FOLDER`.
//!
//! The folder holds instances of the sequential ordering problem in the form of TSPLIB95 (`.sop`, full matrix). For each it
//! prints what was found, what every order costs at least, the best value published (two public lists agree on them), the time
//! and the states, and in the end how much memory it took at most. `STATES=N` sets the budget; names after the folder pick.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

use coatwright::plan::sequence::{Budget, NEVER, Problem, solve};
use std::time::Instant;

/// The program's own.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

/// The best values published.
const PUBLISHED: &[(&str, u64)] = &[
    ("ESC07", 2125),
    ("ESC11", 2075),
    ("ESC12", 1675),
    ("ESC25", 1681),
    ("ESC47", 1288),
    ("ESC63", 62),
    ("ESC78", 18230),
    ("br17.10", 55),
    ("br17.12", 55),
    ("ft53.1", 7531),
    ("ft53.2", 8026),
    ("ft53.3", 10262),
    ("ft53.4", 14425),
    ("ft70.1", 39313),
    ("ft70.2", 40419),
    ("ft70.3", 42535),
    ("ft70.4", 53530),
    ("kro124p.1", 39420),
    ("kro124p.2", 41336),
    ("kro124p.3", 49499),
    ("kro124p.4", 76103),
    ("p43.1", 28140),
    ("p43.2", 28480),
    ("p43.3", 28835),
    ("p43.4", 83005),
    ("prob.42", 243),
    ("prob.100", 1163),
    ("rbg048a", 351),
    ("rbg050c", 467),
    ("rbg109a", 1038),
    ("rbg150a", 1750),
    ("rbg174a", 2033),
    ("rbg253a", 2950),
    ("rbg323a", 3140),
    ("rbg341a", 2568),
    ("rbg358a", 2545),
    ("rbg378a", 2816),
    ("ry48p.1", 15805),
    ("ry48p.2", 16666),
    ("ry48p.3", 19894),
    ("ry48p.4", 31446),
];

/// Those that must be proved.
const MUST: &[&str] = &["ESC07", "ESC11", "ESC12", "br17.10", "br17.12", "p43.4", "ry48p.4", "ft53.4"];

fn read(text: &str) -> Problem {
    let (head, rest) = text.split_once("EDGE_WEIGHT_SECTION").unwrap();
    let size: usize =
        head.lines().find_map(|l| l.strip_prefix("DIMENSION")).unwrap().trim_matches([':', ' ']).parse().unwrap();
    let mut numbers: Vec<i64> = rest.split_whitespace().map_while(|w| w.parse().ok()).collect();
    // Some files say the dimension once more.
    if numbers.len() == size * size + 1 {
        numbers.remove(0);
    }
    assert_eq!(numbers.len(), size * size);
    let at = |a: usize, b: usize| numbers[a * size + b];
    let mut problem = Problem::new(size - 2);
    for a in 1..size - 1 {
        problem.first(a - 1, u32::try_from(at(0, a)).unwrap_or(NEVER));
        problem.last(a - 1, u32::try_from(at(a, size - 1)).unwrap_or(NEVER));
        for b in (1..size - 1).filter(|b| *b != a) {
            if at(a, b) < 0 {
                problem.before(b - 1, a - 1);
            } else {
                problem.change(a - 1, b - 1, u32::try_from(at(a, b)).unwrap());
            }
        }
    }
    problem
}

fn main() {
    let mut args = std::env::args().skip(1).filter(|a| !a.starts_with("--"));
    let Some(folder) = args.next() else {
        println!("No folder of .sop files was named, so nothing is measured.");
        return;
    };
    let only: Vec<String> = args.collect();
    let states = std::env::var("STATES").ok().and_then(|s| s.parse().ok()).unwrap_or(2_000_000);
    let mut files: Vec<_> = std::fs::read_dir(folder).unwrap().map(|f| f.unwrap().path()).collect();
    files.retain(|f| f.extension().is_some_and(|e| e == "sop"));
    files.sort();
    let mut short = Vec::new();
    println!(
        "{:<10} {:>5} {:>8} {:>8} {:>9} {:>7} {:>8} {:>10}",
        "instance", "size", "cost", "bound", "published", "over", "seconds", "states"
    );
    for file in files {
        let name = file.file_stem().unwrap().to_str().unwrap().to_owned();
        if !only.is_empty() && !only.contains(&name) {
            continue;
        }
        let problem = read(&std::fs::read_to_string(&file).unwrap());
        let began = Instant::now();
        let order = solve(&problem, Budget { states, kicks: 2000 }).unwrap();
        let seconds = began.elapsed().as_secs_f64();
        assert_eq!(problem.cost_of(&order.order), Some(order.cost), "{name}: the cost said isn't the cost");
        let best = PUBLISHED.iter().find(|(n, _)| *n == name).map(|(_, best)| *best);
        #[allow(clippy::cast_precision_loss)]
        let over = best.map(|best| (order.cost as f64 / best as f64 - 1.0) * 100.0);
        let proved = if order.is_proved() { "  proved" } else { "" };
        println!(
            "{name:<10} {:>5} {:>8} {:>8} {:>9} {:>6.1}% {seconds:>8.2} {:>10}{proved}",
            problem.count() + 2,
            order.cost,
            order.bound,
            best.map_or(String::new(), |b| b.to_string()),
            over.unwrap_or(0.0),
            order.states,
        );
        if let Some(best) = best {
            assert!(order.bound <= best, "{name}: the bound is above a published order");
            assert!(!order.is_proved() || order.cost <= best, "{name}: a false proof");
        }
        if (MUST.contains(&name.as_str()) && !(order.is_proved() && seconds < 60.0)) || over.is_some_and(|o| o > 3.0) {
            short.push(name);
        }
    }
    let memory = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    if let Some(line) = memory.lines().find(|l| l.starts_with("VmHWM")) {
        println!("{line}");
    }
    assert!(short.is_empty(), "short of the aim: {}", short.join(", "));
}
