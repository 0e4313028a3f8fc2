//! The specification as a test: Markdown in which prose, recipes and the messages they earn stand side by side.
//!
//! Each heading with blocks below it is one test. Its blocks:
//!
//! | block | holds |
//! | --- | --- |
//! | `` ```trim NAME.trim `` | a file (`main.trim` if it has no name); `house.trim` makes a house |
//! | `` ```messages `` | what `check` says, one message a line: ``main.trim:3: M001 no part of the dog at `ribz` `` |
//! | `` ```sheet DOG RECIPE on DATE `` | words that stand on the sheet in this order; `!` before those that must not |
//! | `` ```refused DOG RECIPE on DATE `` | the messages that keep the sheet from being made |
//! | `` ```said DOG RECIPE on DATE `` | the messages that come beside a sheet that is made |
//! | `` ```finishes DOG RECIPE on DATE `` | what is done at a part, in whole words: `left ribs: clip with #10 with the coat, gentler` |
//!
//! A line that begins with a blank goes on with the line before it. Without a block `messages` the files must earn none. A message matches if file, line and code are the same, its text
//! holds the expected words and, after `at`, the underlined text is the one in backquotes. What is expected and not said
//! fails, and so does what is said and not expected; only what `check` said already, notes beside a sheet, and warnings
//! beside a refusal needn't be listed again.
//!
//! `UPDATE=1` takes new words over into `messages` blocks, where file, line, code and underlined text are as expected.

mod expect;
mod page;
mod run;

pub use page::{Ask, Block, Page, Section, blocks, page, with_words};
pub use run::{new_words, run};

use std::path::{Path, PathBuf};

/// The pages of a folder, sorted by name.
///
/// # Errors
/// A folder or page that can't be read.
pub fn pages(folder: &Path) -> std::io::Result<Vec<PathBuf>> {
    let mut pages: Vec<PathBuf> = std::fs::read_dir(folder)?
        .map(|entry| entry.map(|e| e.path()))
        .collect::<std::io::Result<Vec<_>>>()?
        .into_iter()
        .filter(|path| path.extension().is_some_and(|e| e == "md"))
        .collect();
    pages.sort();
    Ok(pages)
}

/// Runs every test of a page: how many there were, and what failed, ready to be read.
#[must_use]
pub fn run_page(name: &str, text: &str) -> (usize, Vec<String>) {
    let page = page(text);
    let mut failures: Vec<String> = page.mistakes.iter().map(|m| format!("{name}: {m}")).collect();
    for section in &page.sections {
        let wrong = run(section);
        if !wrong.is_empty() {
            let at = format!("{name}:{}: {}", section.line, section.title);
            failures.push(format!("{at}\n  {}", wrong.join("\n  ")));
        }
    }
    (page.sections.len(), failures)
}
