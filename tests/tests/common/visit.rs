//! The demo's dogs on the day on which the tests of visits have them.
#![allow(dead_code)]

use coatwright::date::Day;
use coatwright::sheet::{Made, Part, Request, Stage, finished_part};
use coatwright::workspace::Workspace;

/// The cards of the demo (`recipes/saltmarsh/dogs.trim`).
pub const DOGS: [&str; 4] = ["bramble", "kelp", "flint", "pearl"];

/// What a dog's card wants, on that day.
pub fn request(dog: &str) -> Request {
    Request { recipe: None, dog: dog.to_owned(), on: Day::new(2026, 11, 25), learner: false }
}

/// What its sheet is made from.
pub fn made(workspace: &Workspace, dog: &str, part: &Part) -> Made {
    finished_part(workspace, &request(dog), part).unwrap_or_else(|said| panic!("{dog}: {said:#?}"))
}

/// What was done by one sheet and found then.
pub fn stage(done: &[u32], found: &[&str]) -> Stage {
    Stage { done: done.to_vec(), found: found.iter().map(|f| (*f).to_owned()).collect() }
}
