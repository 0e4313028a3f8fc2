//! How long the steps of a trim take, against published task times.
//!
//! Sources, both single and of the trade's own telling; nobody has measured it:
//! - a groomer's table of task times and of a day's dogs: bath small 10 to 20 min, large 15 to 30; nails 5 to 10; a half-inch body cut of
//!   one length small 30 to 60, large 45 to 75; thinning 15 to 30; a whole dog 1 to 2 h, with everything 2 to 3 h;
//! - two trade pages: 2 to 4 h for a dog with waiting, up to 4 h with bath, drying and style;
//! - a groomer's own page: a Miniature Schnauzer or Shih Tzu 2.75 to 3 h (first visit 3.5 h), an Australian Shepherd or Sheltie 4 to 4.5 h,
//!   since drying dominates.
//!
//! Nobody publishes how long drying takes by itself. Small and large aren't told in kilograms: here 7 kg and 30 kg.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

mod common;

use coatwright::date::Day;
use coatwright::measure::{Interval, Time};
use coatwright::plan::TaskKind;
use coatwright::sheet::{Made, Request, finished};
use coatwright::workspace::Workspace;
use common::saltmarsh;
use std::path::PathBuf;

/// The trims of the table: one length over body and legs at half an inch (a 13 mm comb is the nearest; shears go over the legs, since
/// the table's times are of both together), and a bath with a raked coat.
const TRIMS: &str = "
recipe one-length {
  serves  coat curl or fleece or wire or smooth
  prep    { check; consent; nails; ears; bath; dry; comb to skin }
  leave   whole-coat
  clip    torso, front by 13 mm comb with the coat
  set in  legs by 13 mm comb with the coat
  finish  legs by shears
  skim    sanitary with #10 with the coat
  leave   armpit
}

recipe raked {
  serves  coat double
  prep    { check; consent; nails; ears; bath; dry; comb to skin }
  leave   whole-coat
  rake    torso by undercoat-rake
}
";

/// What a salon has of blades that warm: as many as it changes.
const HOUSE: &str = "house plain {
  kit  plain
}

kit plain {
  owns  three #40, three #10, comb-13, shears, undercoat-rake, hand-comb, stand-dryer, force-dryer, towel, nail-clipper
}
";

fn made(texts: Vec<(PathBuf, String)>, dog: &str) -> Made {
    let many = texts.len();
    let request = Request { recipe: None, dog: dog.to_owned(), on: Day::parse("2026-11-25"), learner: false };
    finished(&Workspace::from_texts(texts, many), &request).unwrap_or_else(|said| panic!("{dog}: {said:#?}"))
}

fn plain(coat: &str, weight: u32, recipe: &str) -> Made {
    let card = format!(
        "dog any {{\n  sex dog\n  coat {coat}\n  weight {weight} kg\n  born 2022-01\n  asked skin, ears, heart, joints\n  wants {recipe}\n}}\n"
    );
    made(vec![("house.trim".into(), HOUSE.to_owned()), ("a.trim".into(), format!("{TRIMS}\n{card}"))], "any")
}

/// The minutes of the steps that are called so.
fn minutes(made: &Made, steps: &[&str]) -> Interval<f64> {
    let of = |kind: &TaskKind| match kind {
        TaskKind::Step { step, .. } | TaskKind::Part { step, .. } => made.trade.step(*step).map(|s| s.name.to_string()),
        _ => None,
    };
    let all = made.plan.tasks.iter().filter(|task| of(&task.kind).is_some_and(|name| steps.contains(&name.as_str())));
    let sum = all.fold((0.0, 0.0), |sum, task| (sum.0 + min(task.time.low), sum.1 + min(task.time.high)));
    Interval { low: sum.0, high: sum.1 }
}

#[allow(clippy::cast_precision_loss)]
fn min(time: Time) -> f64 {
    time.0 as f64 / 60.0
}

fn takes(made: &Made) -> Interval<f64> {
    Interval { low: min(made.plan.bears.takes.low), high: min(made.plan.bears.takes.high) }
}

/// The middle of ours lies in theirs, widened by a quarter: what is one groomer's word isn't held to the minute.
fn fits(ours: Interval<f64>, (low, high): (f64, f64), what: &str) {
    let middle = f64::midpoint(ours.low, ours.high);
    let wide = low / 1.25..=high * 1.25;
    assert!(ours.low < ours.high && wide.contains(&middle), "{what}: {ours:?} beside {low} to {high} min");
}

/// Everything between the comb test and the last look.
fn cut(made: &Made) -> Interval<f64> {
    let finish = minutes(made, &["body-work", "hind-leg-work", "foreleg-work", "sanitary"]);
    let set_in = made.plan.tasks.iter().filter(|task| matches!(task.kind, TaskKind::SetIn(_)));
    set_in
        .fold(finish, |sum, task| Interval { low: sum.low + min(task.time.low), high: sum.high + min(task.time.high) })
}

#[test]
fn steps_take_as_long_as_published() {
    let (small, large) = (plain("curl, 40 mm", 7, "one-length"), plain("curl, 40 mm", 30, "one-length"));
    fits(minutes(&small, &["bath"]), (10.0, 20.0), "bath, small");
    fits(minutes(&large, &["bath"]), (15.0, 30.0), "bath, large");
    fits(minutes(&small, &["nails"]), (5.0, 10.0), "nails");
    fits(cut(&small), (30.0, 60.0), "half an inch, small");
    fits(cut(&large), (45.0, 75.0), "half an inch, large");
}

#[test]
fn whole_trims_take_as_long_as_published() {
    let hours = |low: f64, high: f64| (low * 60.0, high * 60.0);
    fits(takes(&plain("curl, 40 mm", 7, "one-length")), hours(1.0, 3.0), "one length, small");
    fits(takes(&plain("wire, 40 mm", 8, "one-length")), hours(1.0, 3.5), "one length, a terrier");
    fits(takes(&plain("smooth, 20 mm", 30, "one-length")), hours(2.0, 4.0), "one length, large");
    fits(takes(&plain("curl, 40 mm", 30, "one-length")), hours(2.0, 4.5), "one length, large and curled");
    fits(takes(&plain("double, 60 mm", 9, "raked")), hours(2.0, 4.5), "raked, small and double");
    fits(takes(&plain("double, 60 mm", 25, "raked")), hours(2.0, 4.5), "raked, large and double");
}

/// The demo's own trims, with heads, feet and legs by shears: standing alone, since a frail dog rests more than any page counts.
#[test]
fn the_demo_takes_as_long_as_published() {
    for (dog, hours) in [("kelp", (1.0, 3.5)), ("bramble", (2.0, 4.0)), ("pearl", (2.0, 4.5))] {
        let stands = made(saltmarsh(), dog).plan.bears.stands;
        let stands = Interval { low: min(stands.low), high: min(stands.high) };
        fits(stands, (hours.0 * 60.0, hours.1 * 60.0), dog);
    }
}
