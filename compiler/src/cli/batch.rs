//! `batch`: many cards, one a line, each answered by a line.

use super::{
    Found, date, files,
    out::Out,
    run::{self, Answer, Batch},
    sheet::Measures,
    stop::Stop,
    target::Target,
};
use clap::ValueEnum;
use coatwright::date::Day;
use rayon::iter::{IntoParallelIterator, ParallelIterator};
use std::{
    fs::File,
    io::{self, BufRead, BufReader, Read},
    path::{Path, PathBuf},
    sync::mpsc::{Receiver, SyncSender, sync_channel},
    thread,
};

/// Work from many cards at once, as JSON
///
/// Each line of the input is a card in JSON (see `coatwright schema card`), each line of the output the answer to one,
/// in the same order (see `coatwright schema answer`). A card that can't be worked from is answered with what is wrong,
/// and the next one comes. Memory stays the same however many there are.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  coatwright batch cards.jsonl > answers.jsonl
  coatwright card --format json bramble.trim | coatwright batch --give sheets
  coatwright batch cards.jsonl --recipe bath-and-tidy --on 2026-11-25

It ends with 1 if a card was passed over.")]
pub(super) struct Args {
    /// The file of cards (`-`: standard input) [default: standard input]
    cards: Option<PathBuf>,
    /// The recipe for all of them [default: what each card wants]
    #[arg(long, value_name = "RECIPE")]
    recipe: Option<Target>,
    /// The files and folders of the salon [default: this folder]
    #[arg(long, value_name = "PATH")]
    salon: Vec<PathBuf>,
    /// The day of the visits, such as 2026-11-20 [default: today]
    #[arg(long, value_name = "DATE", value_parser = date::parse)]
    on: Option<Day>,
    /// What is written for each card
    #[arg(long, value_enum, default_value_t)]
    give: Give,
    /// Millimetres and kilograms, or inches and pounds
    #[arg(long, value_enum, default_value_t)]
    units: Measures,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
enum Give {
    /// What a day's list needs: dangers, tools, time
    #[default]
    Summaries,
    /// Whole sheets
    Sheets,
}

/// A line this long is no card: at most so much is held of one.
const LONGEST: u64 = 1024 * 1024;
/// So many cards wait to be worked on, and so many are worked on before the first of them is written.
const WAITING: usize = 256;
/// So many refused cards are named at the end.
const NAMED: usize = 5;

/// A line of the input.
enum Line {
    Text(u64, String),
    Odd(u64, &'static str),
    Broken(io::Error),
}

pub(super) fn run(args: &Args, out: &mut Out) -> Result<Found, Stop> {
    let mut places = args.salon.clone();
    places.extend(args.recipe.as_ref().and_then(|r| r.file.clone()));
    let workspace = run::open(&files::or_here(&places))?;
    let recipe = args.recipe.as_ref().map(|r| r.named(run::Kind::Recipe)).transpose()?;
    let on = args.on.unwrap_or_else(date::today);
    let asked = run::asked(recipe, on, args.give == Give::Sheets, args.units.into());
    let shared = run::Shared::of(&workspace);
    let batch = Batch::new(&shared, asked);
    let lines = match args.cards.as_deref() {
        None => lines_of(io::stdin()),
        Some(path) if path == Path::new(files::STDIN) => lines_of(io::stdin()),
        Some(path) => lines_of(File::open(path).map_err(|e| Stop::file("read", path, &e))?),
    };
    let shown = args.cards.as_deref().unwrap_or_else(|| Path::new("standard input"));
    let (mut answered, mut refused, mut first) = (0_u64, 0_u64, Vec::new());
    // A card alone is answered at once; while many come, as many as wait are worked on together.
    while let Ok(line) = lines.recv() {
        let mut together = vec![line];
        together.extend(lines.try_iter().take(WAITING - 1));
        let mut ends = None;
        if let Some(at) = together.iter().position(|l| matches!(l, Line::Broken(_))) {
            ends = together.drain(at..).next();
        }
        let answers: Vec<(u64, Answer)> = match together.as_slice() {
            [_] => together.into_iter().filter_map(|line| answer(&batch, line)).collect(),
            _ => together.into_par_iter().filter_map(|line| answer(&batch, line)).collect(),
        };
        let mut text = String::new();
        for (line, answer) in answers {
            text.push_str(&answer.line);
            answered += 1;
            if let Some(code) = answer.refused {
                refused += 1;
                if first.len() < NAMED {
                    first.push(format!("line {line} ({code})"));
                }
            }
        }
        out.write(&text)?;
        out.finish()?;
        if let Some(Line::Broken(error)) = ends {
            return Err(Stop::file("read", shown, &error));
        }
    }
    if refused == 0 {
        return Ok(Found::Nothing);
    }
    let more = if refused as usize > first.len() { " and others" } else { "" };
    let s = if answered == 1 { "" } else { "s" };
    out.say(&format!("{refused} of {answered} card{s} passed over: {}{more}.", first.join(", ")));
    Ok(Found::Something)
}

fn answer(batch: &Batch<'_, '_>, line: Line) -> Option<(u64, Answer)> {
    match line {
        Line::Text(number, text) => Some((number, batch.answer(number, &text))),
        Line::Odd(number, why) => Some((number, batch.no_text(number, why))),
        Line::Broken(_) => None,
    }
}

/// The lines as they come; the reader waits while too many wait to be worked on.
fn lines_of(from: impl Read + Send + 'static) -> Receiver<Line> {
    let (sender, receiver) = sync_channel(WAITING);
    // Whoever stops listening ends it: the thread holds nothing that must be put away.
    thread::spawn(move || read(BufReader::new(from), &sender));
    receiver
}

fn read(mut from: impl BufRead, to: &SyncSender<Line>) {
    for number in 1.. {
        let mut bytes = Vec::new();
        let line = match from.by_ref().take(LONGEST).read_until(b'\n', &mut bytes) {
            Ok(0) => return,
            Ok(_) if bytes.last() != Some(&b'\n') && bytes.len() as u64 == LONGEST => match skip(&mut from) {
                Ok(()) => Line::Odd(number, "it is longer than a megabyte"),
                Err(error) => Line::Broken(error),
            },
            Ok(_) => match String::from_utf8(bytes) {
                Ok(text) => Line::Text(number, text.trim_start_matches('\u{feff}').trim().to_owned()),
                Err(_) => Line::Odd(number, "it isn't plain text (UTF-8)"),
            },
            Err(error) => Line::Broken(error),
        };
        let ends = matches!(line, Line::Broken(_));
        // Empty lines mean nothing and are counted only.
        let empty = matches!(&line, Line::Text(_, text) if text.is_empty());
        if (!empty && to.send(line).is_err()) || ends {
            return;
        }
    }
}

/// Passes over the rest of a line without holding it.
fn skip(from: &mut impl BufRead) -> io::Result<()> {
    loop {
        let waiting = from.fill_buf()?;
        let (take, done) = match waiting.iter().position(|b| *b == b'\n') {
            Some(at) => (at + 1, true),
            None => (waiting.len(), waiting.is_empty()),
        };
        from.consume(take);
        if done {
            return Ok(());
        }
    }
}
