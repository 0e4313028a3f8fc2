//! What the proof costs: `cargo bench -p coatwright-tests --bench prove`.
//!
//! In this process, on one core, names looked up before: a trim of the demo's own words; an adversarial one, 40 findings whose
//! guards meet on all zones with 20 statements a zone; how the cost goes with statements, findings and conditions; and 10 000
//! different recipes, read and proved on all cores. `UPDATE=1` draws the curves anew into `docs/pictures/proof-cost.svg`.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

use coatwright::check::{chain, check, units};
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
    let decl = salon.recipes.values().next().unwrap();
    let layers = chain(salon, decl, &mut said);
    let choices = choices::build(&layers, &salon.trade, units(&salon.trade), &mut said);
    said.extend(workspace.syntax(&workspace.asked().iter().copied().collect()));
    assert!(said.is_empty(), "{said:#?}\n{text}");
    then(&choices, &salon.trade)
}

/// The least and the median time of a proof in milliseconds, and how many messages it gives.
fn time(text: &str, rounds: usize) -> (f64, f64, usize) {
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
        (all[0], all[all.len() / 2], found)
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

/// A trim of the demo's own words for six coats, with a dozen findings answered, and so many more lines that set a part each.
fn typical(more: usize) -> String {
    let parts = [corpus::statements("saltmarsh-base.trim"), corpus::statements("harbour-short.trim")];
    let trade = coatwright::basics::trade();
    let known = trade.findings.iter().filter(|f| f.reply == Reply::Raise && f.name != "sensitive-belly");
    let mut added: String = known
        .take(10)
        .map(|f| format!("  guard    {} {{ skim belly rear with #10 with the coat, one pass }}\n", f.name))
        .collect();
    for n in 0..more {
        let zone = ["ribs", "flank", "loin", "back", "withers", "croup"][n % 6];
        let _ = writeln!(
            added,
            "  when     weight {}.{} kg to {}.{} kg {{ keep {zone} no closer than #10 }}",
            3 + n / 10,
            n % 10,
            9 + n / 10,
            n % 10
        );
    }
    corpus::recipe(1, &parts).replace("curl, fleece or wavy", COATS).replacen(
        "  keep     topknot",
        &format!("{added}  keep     topknot"),
        1,
    )
}

const COATS: &str = "curl, double-curl, fleece, wavy, water-curl or short-curl";

fn main() {
    if std::env::var_os("SHOW").is_some() {
        for text in [typical(0), hard(Hard { findings: 40, weights: 5, keeps: true, coats: COATS })] {
            built(&text, |c, t| {
                for d in prove(c, t) {
                    println!("{} {}\n{}", d.code, d.message, d.dog.unwrap_or_default());
                }
            });
        }
        return;
    }
    println!("{:<58} {:>10} {:>10}", "", "least", "median");
    let row = |what: &str, (least, median, found): (f64, f64, usize)| {
        assert_eq!(found, 0, "{what} isn't silent: SHOW=1 tells why");
        println!("{what:<58} {least:>7.2} ms {median:>7.2} ms");
        least
    };
    let text = typical(0);
    row(&format!("a trim of {} lines, 6 coats, 12 findings", text.lines().count()), time(&text, 200));
    let adversarial = hard(Hard { findings: 40, weights: 5, keeps: true, coats: COATS });
    row("adversarial: 40 findings on all zones, 20 choices a zone", time(&adversarial, 15));
    let curves = [
        ("findings", (0..=40).step_by(5).collect::<Vec<usize>>()),
        ("pieces of weight", (1..=19).step_by(3).collect()),
        ("keeps under a condition", (0..=120).step_by(20).collect()),
    ];
    let mut drawn = Vec::new();
    for (what, steps) in curves {
        let points = steps.iter().map(|&n| {
            let text = match what {
                "findings" => hard(Hard { findings: n, weights: 5, keeps: true, coats: COATS }),
                "pieces of weight" => hard(Hard { findings: 12, weights: n, keeps: true, coats: COATS }),
                _ => typical(n),
            };
            (n, row(&format!("  {n} {what}"), time(&text, 9)))
        });
        let points: Vec<(usize, f64)> = points.collect();
        drawn.push((what, points));
    }
    if std::env::var_os("UPDATE").is_some() {
        std::fs::write(coatwright_tests::root().join("docs/pictures/proof-cost.svg"), plot(&drawn)).unwrap();
    }
    many();
}

/// 10 000 recipes, no two alike, read and proved in one process on all cores.
fn many() {
    let parts = [corpus::statements("saltmarsh-base.trim"), corpus::statements("harbour-short.trim")];
    let texts: Vec<(std::path::PathBuf, String)> =
        // As long as they are, as a file that was read is.
        (0..10_000).map(|n| (format!("r{n}.trim").into(), corpus::recipe(n, &parts).as_str().into())).collect();
    let began = Instant::now();
    let workspace = Workspace::from_texts(texts, 10_000);
    let said = check(&workspace);
    let took = began.elapsed().as_secs_f64();
    assert!(said.iter().all(|d| d.severity < coatwright::diagnostic::Severity::Error), "{:?}", said.first());
    println!("10 000 recipes, read and proved on all cores: {took:.1} s, {} MB at most", peak() / 1024);
}

/// The most memory that this process has held, in KB (Linux; elsewhere nothing is known).
fn peak() -> usize {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:"));
    line.and_then(|l| l.split_whitespace().next()?.parse().ok()).unwrap_or(0)
}

/// The curves, each in a frame of its own, as a picture for the handbook.
fn plot(curves: &[(&str, Vec<(usize, f64)>)]) -> String {
    let (wide, high, edge) = (240.0, 150.0, 40.0);
    let many = curves.len();
    #[allow(clippy::cast_precision_loss)]
    let width = many as f64 * (wide + edge) + edge;
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {}\" font-family=\"sans-serif\" font-size=\"11\">\n\
         <title>What the proof costs</title>\n<rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\n",
        high + 2.0 * edge
    );
    for (number, (what, points)) in curves.iter().enumerate() {
        #[allow(clippy::cast_precision_loss)]
        let left = edge + number as f64 * (wide + edge);
        #[allow(clippy::cast_precision_loss)]
        let most = points.last().map_or(1.0, |p| p.0.max(1) as f64);
        let top = points.iter().map(|p| p.1).fold(0.0, f64::max).max(0.1) * 1.1;
        #[allow(clippy::cast_precision_loss)]
        let at = |p: &(usize, f64)| (left + p.0 as f64 / most * wide, edge + high - p.1 / top * high);
        let line: Vec<String> = points.iter().map(at).map(|(x, y)| format!("{x:.1},{y:.1}")).collect();
        let _ = writeln!(
            svg,
            "<path d=\"M{left} {edge} v{high} h{wide}\" fill=\"none\" stroke=\"#444\"/>\n\
             <polyline points=\"{}\" fill=\"none\" stroke=\"#1a5276\" stroke-width=\"2\"/>",
            line.join(" ")
        );
        for point in points {
            let (x, y) = at(point);
            let _ = writeln!(svg, "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"2.5\" fill=\"#1a5276\"/>");
        }
        let _ = writeln!(
            svg,
            "<text x=\"{left}\" y=\"{}\">{what}, 0 to {most}</text>\n<text x=\"{left}\" y=\"{}\">{:.1} ms</text>",
            edge + high + 18.0,
            edge - 6.0,
            top / 1.1
        );
    }
    svg.push_str("</svg>\n");
    svg
}
