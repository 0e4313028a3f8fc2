//! Cases, run where they stand.

use crate::around::Here;
use coatwright::cases::{self, Ran};
use coatwright::names::lower::Decl;
use coatwright::workspace::Salon;
use grammar::tree::BlockKind;

/// What came of a case, in words for whoever asked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Told {
    /// Whether all that it expects holds.
    pub passed: bool,
    /// How many lines expect something, and how many of them don't hold.
    pub lines: (usize, usize),
    /// What doesn't hold, or why it couldn't be run, each with its line from 1.
    pub said: Vec<(u32, String)>,
    /// All of it: `bramble-at-the-belly passes`.
    pub words: String,
}

/// Runs the case at a byte; none where no case stands.
#[must_use]
pub fn run(here: &Here<'_>, at: u32) -> Option<Told> {
    let decl = here.decl(at).filter(|d| d.block.kind == BlockKind::Case)?;
    let ran = cases::one(here.around.workspace(), &here.salon()?, decl);
    let said: Vec<(u32, String)> = ran
        .said
        .iter()
        .map(|d| (here.around.range(d.place).start.line + 1, format!("{} {}", d.code, d.message)))
        .collect();
    let mut words = if ran.passed() { format!("{} passes.", ran.name) } else { format!("{} doesn't pass:", ran.name) };
    for (line, message) in &said {
        words.push_str(&format!("\nline {line}: {message}"));
    }
    Some(Told { passed: ran.passed(), lines: (ran.expects, ran.fails), said, words })
}

/// What stands above a case: `Run the case: it passes`.
#[must_use]
pub fn above(here: &Here<'_>, salon: &Salon<'_>, decl: Decl<'_>) -> String {
    let Ran { recipe, expects, fails, said, .. } = cases::one(here.around.workspace(), salon, decl);
    let words = match (said.len(), recipe) {
        (0, _) => "it passes".to_owned(),
        (_, None) => "it can't be run".to_owned(),
        _ if fails > 0 => format!("{fails} of {expects} lines don't hold"),
        _ => "more is said than it expects".to_owned(),
    };
    format!("Run the case: {words}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::around::tests::with;
    use crate::features::sheets::{Does, lenses};

    const TEXT: &str = "recipe t {\n  serves coat curl, weight 3 kg to 9 kg\n  leave whole coat\n}\n\ncase c {\n  recipe t\n  given { sex bitch; coat curl, 40 mm; weight 6 kg; asked skin, ears, heart, joints }\n  expect ears left\n  expect torso clip with #10\n}\n|";

    #[test]
    fn a_case_is_run_where_it_stands() {
        with(TEXT, "", |here, _| {
            let at = u32::try_from(TEXT.find("case c").unwrap_or(0)).unwrap_or(0);
            let told = run(here, at).unwrap_or_else(|| unreachable!());
            assert_eq!((told.passed, told.lines), (false, (2, 1)));
            assert_eq!(told.words, "c doesn't pass:\nline 10: T001 the torso: left");
            assert_eq!(run(here, 0), None);
            let above: Vec<(String, Does)> = lenses(here).into_iter().map(|l| (l.words, l.does)).collect();
            let case = above.last().cloned();
            assert_eq!(case, Some(("Run the case: 1 of 2 lines don't hold".to_owned(), Does::Case)));
        });
        with(&TEXT.replace("  expect torso clip with #10\n", ""), "", |here, at| {
            assert_eq!(run(here, at.saturating_sub(8)).map(|t| t.words), Some("c passes.".to_owned()));
        });
    }
}
