//! How fast recipes are compiled: `cargo build --release && cargo bench -p coatwright-tests`.
//!
//! A plain program: each time is measured so many times, and the least and the median are printed. Times depend on the
//! machine; compare ratios of one run, never times of two. Whole runs of `check` stand beside `tombi lint` (a linter for
//! TOML, also in Rust) over a TOML file of the same size, in the same run. The corpus is made of the demo's own words: about
//! 80 statements a recipe, every number of a recipe its own, so that no two blocks are alike and no memo can help.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

use coatwright::check::{chain, units};
use coatwright::choices;
use coatwright::workspace::Workspace;
use std::fmt::Write as _;
use std::fs;
use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

#[path = "corpus.rs"]
mod corpus_of;

use corpus_of::{corpus, root};

// ---------------------------------------------------------------------------------------------- Texts

/// A TOML file of about so many bytes: tables with strings, numbers, lists and comments, no two alike.
fn toml(bytes: usize) -> String {
    let mut text = String::new();
    let mut number = 0;
    while text.len() < bytes {
        let _ = write!(
            text,
            "# Table {number}.\n[recipe-{number:05}]\ntitle = \"Bench trim {number}\"\nversion = {}\nserves = [\"curl\", \"fleece\", \"wavy-{number}\"]\n",
            number % 90 + 1
        );
        for line in 0..80 {
            let _ = writeln!(
                text,
                "statement-{line} = {{ verb = \"clip\", zones = [\"torso-{line}\", \"legs\"], to = {}.{:02}, passes = {} }}",
                line % 40,
                number % 100,
                line % 3 + 1
            );
        }
        text.push('\n');
        number += 1;
    }
    text
}

// ---------------------------------------------------------------------------------------------- Measuring

struct Times(Vec<Duration>);

impl Times {
    fn of(rounds: usize, mut run: impl FnMut()) -> Self {
        let mut all: Vec<Duration> = (0..rounds)
            .map(|_| {
                let began = Instant::now();
                run();
                began.elapsed()
            })
            .collect();
        all.sort();
        Self(all)
    }

    fn least(&self) -> f64 {
        self.0[0].as_secs_f64()
    }

    fn median(&self) -> f64 {
        self.0[self.0.len() / 2].as_secs_f64()
    }
}

fn line(what: &str, times: &Times, bytes: Option<usize>) {
    #[allow(clippy::cast_precision_loss)]
    let rate = bytes.map_or(String::new(), |b| format!("{:9.1} MB/s", b as f64 / 1e6 / times.median()));
    println!("{what:<46} {:>10.2} ms {:>10.2} ms {rate}", times.least() * 1e3, times.median() * 1e3);
}

/// The program of this build.
fn program() -> PathBuf {
    let own = std::env::current_exe().unwrap();
    let program =
        own.parent().and_then(Path::parent).unwrap().join(format!("coatwright{}", std::env::consts::EXE_SUFFIX));
    assert!(program.is_file(), "{} isn't there: run `cargo build --release -p coatwright` first", program.display());
    program
}

fn run(program: &Path, words: &[&str], folder: &Path) -> i32 {
    let mut command = Command::new(program);
    command.args(words).current_dir(folder).stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    command.status().unwrap_or_else(|e| panic!("{}: {e}", program.display())).code().unwrap_or(-1)
}

fn main() {
    println!("{:<46} {:>13} {:>13} {:>14}", "", "least", "median", "at the median");
    reading();
    let folder = tempfile::tempdir().unwrap();
    whole_runs(folder.path());
    hard_texts(folder.path());
    pictures(folder.path());
}

/// Whole processes: card to page and pictures, for the demo's dog with the most views. The peer is the sheet as plain text in the
/// same run: what is above it is the drawing. Meant: a page within 120 ms, one view within 40 ms.
fn pictures(folder: &Path) {
    let program = program();
    let card = root().join("recipes/saltmarsh/dogs.trim#flint");
    let card = card.to_str().unwrap();
    let mut plain = 0.0;
    for (what, words) in [
        ("sheet as text", vec!["sheet", "-o", "flint.txt"]),
        ("sheet as a page with its pictures", vec!["sheet", "--format", "html", "-o", "flint.html"]),
        ("draw, left side, SVG", vec!["draw", "--view", "left", "-o", "flint.svg"]),
        ("draw, all views, SVG", vec!["draw", "--view", "all", "-o", "flint.svg"]),
        ("draw, left side, PNG of 1600 pixels", vec!["draw", "--view", "left", "-o", "flint.png"]),
    ] {
        let words = [words, vec!["--dog", card, "--on", "2026-11-25"]].concat();
        let times = Times::of(15, || assert_eq!(run(&program, &words, folder), 0, "{words:?}"));
        line(what, &times, None);
        if plain == 0.0 {
            plain = times.median();
        } else {
            println!("  {:.1} times the sheet as text", times.median() / plain);
        }
    }
}

/// In this process: the text to trees, and the trees to choices with every name looked up.
fn reading() {
    let (text, recipes) = corpus(1_000_000);
    let tree = grammar::parse(&text);
    let statements: usize = tree.blocks.iter().map(|b| b.block.block.body.len()).sum();
    let errors = grammar::errors(&tree);
    assert!(errors.is_empty(), "{:?}", errors.first());
    println!("corpus: {recipes} recipes, {} statements each, {} bytes", statements / recipes, text.len());
    line("parse", &Times::of(9, || drop(black_box(grammar::parse(&text)))), Some(text.len()));
    let both = Times::of(5, || {
        let workspace = Workspace::from_texts(vec![("bench.trim".into(), text.clone())], 1);
        let salons = workspace.salons();
        let salon = &salons[0];
        let mut said = Vec::new();
        for decl in salon.recipes.values() {
            let layers = chain(salon, decl, &mut said);
            black_box(choices::build(&layers, &salon.trade, units(&salon.trade), &mut said));
        }
        assert_eq!((salon.recipes.len(), said.len()), (recipes, 0), "{:?}", said.first());
    });
    line("parse on all cores, names and choices", &both, Some(text.len()));
    let formatted = Times::of(3, || drop(black_box(grammar::format(&text))));
    line("format, with its proof", &formatted, Some(text.len()));
}

/// Whole processes: `check` over a large file, beside `tombi lint` over TOML of the same size; and over a small file.
fn whole_runs(folder: &Path) {
    let program = program();
    let tombi = [".venv/bin/tombi", ".venv/Scripts/tombi.exe"].iter().map(|p| root().join(p)).find(|p| p.is_file());
    for (name, bytes, rounds) in [("1 MB", 1_000_000, 5), ("5 MB", 5_000_000, 3)] {
        let (text, _) = corpus(bytes);
        let of_our_own = folder.join(format!("trim-{bytes}"));
        fs::create_dir_all(&of_our_own).unwrap();
        fs::write(of_our_own.join("bench.trim"), &text).unwrap();
        let check = Times::of(rounds, || {
            let code = run(&program, &["check", "--format", "short", "bench.trim"], &of_our_own);
            assert_eq!(code, 0, "the corpus has an error: {}", said(&program, &of_our_own));
        });
        line(&format!("check, {name}, whole process"), &check, Some(text.len()));
        let Some(tombi) = &tombi else {
            println!(
                "  tombi isn't there: python3 -m venv .venv && .venv/bin/pip install -r tests/benches/requirements.txt"
            );
            continue;
        };
        let theirs = folder.join(format!("toml-{bytes}"));
        fs::create_dir_all(&theirs).unwrap();
        let text = toml(text.len());
        fs::write(theirs.join("bench.toml"), &text).unwrap();
        let lint = Times::of(rounds, || {
            let code = run(tombi, &["lint", "--offline", "--quiet", "bench.toml"], &theirs);
            assert_eq!(code, 0, "tombi finds fault with the TOML");
        });
        line(&format!("tombi lint, {name} of TOML, whole process"), &lint, Some(text.len()));
        println!(
            "  check / tombi lint: {:.2} at the median, {:.2} at the least",
            check.median() / lint.median(),
            check.least() / lint.least()
        );
    }
    let small = folder.join("small");
    fs::create_dir_all(&small).unwrap();
    fs::write(
        small.join("a.trim"),
        "recipe a {\n  title \"A\"\n  serves coat curl\n  serves without face-shy\n  leave whole-coat\n}\n",
    )
    .unwrap();
    let one = Times::of(40, || {
        let code = run(&program, &["check", "a.trim"], &small);
        assert_eq!(code, 0);
    });
    line("check, one small file, whole process", &one, None);
    let demo = root().join("recipes/saltmarsh");
    let salon = Times::of(15, || {
        run(&program, &["check", "."], &demo);
    });
    line("check, the demo salon, whole process", &salon, None);
    let sheet = Times::of(15, || {
        let code = run(&program, &["sheet", "--dog", "bramble", "--on", "2026-11-25"], &demo);
        assert_eq!(code, 0);
    });
    line("sheet for one dog of it, whole process", &sheet, None);
}

fn said(program: &Path, folder: &Path) -> String {
    let output =
        Command::new(program).args(["check", "--format", "short", "bench.trim"]).current_dir(folder).output().unwrap();
    String::from_utf8_lossy(&output.stdout).lines().take(5).collect::<Vec<_>>().join("\n")
}

/// Texts that are slow for readers that try again: things left open, one in another.
fn hard_texts(folder: &Path) {
    let program = program();
    let texts = [
        ("20 nested blocks, none closed", "recipe a {\n".to_owned() + &"  when coat curl {\n".repeat(20)),
        ("50 000 opening braces", "{".repeat(50_000)),
        ("50 000 braces in a recipe", format!("recipe a {{\n{}", "{".repeat(50_000))),
        ("50 000 quotes", "\"".repeat(50_000)),
        ("4 000 unknown blocks", "bake a { cake }\n".repeat(4_000)),
        ("4 000 empty cards of one name", "dog a { sex dog }\n".repeat(4_000)),
    ];
    for (what, text) in texts {
        line(&format!("parse, {what}"), &Times::of(9, || drop(black_box(grammar::parse(&text)))), None);
        fs::write(folder.join("hard.trim"), &text).unwrap();
        let whole = Times::of(5, || {
            run(&program, &["check", "--format", "short", "hard.trim"], folder);
        });
        line(&format!("check, {what}"), &whole, None);
    }
}
