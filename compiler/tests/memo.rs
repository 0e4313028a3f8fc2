//! What an edit does anew, and that it comes to what a fresh run says.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

use coatwright::check::{check, check_salons};
use coatwright::diagnostic::Diagnostic;
use coatwright::memo::{Memo, Redone};
use coatwright::workspace::Workspace;
use std::path::PathBuf;

/// A salon of three texts, edited.
struct Salon {
    texts: Vec<(PathBuf, String)>,
    memo: Memo,
}

const HOUSE: &str =
    "house salt {\n  title \"Salt\"\n  keep belly at most 60 mm\n}\n\ngroup wave-line {\n  zones legs, breastbone\n}\n";

const BASE: &str = "recipe base {\n  clip whole-coat with #7F with the coat\n  leave wave-line\n}\n";

/// Two recipes, the second with something to be said of it.
const SHORT: &str = "-- Two of them.\nrecipe one {\n  extends base\n  serves coat curl\n}\n\nrecipe two {\n  extends base\n  serves coat curl\n  clip belly with #10 in reverse\n}\n";

impl Salon {
    fn new() -> Self {
        let texts = [("h/base.trim", BASE), ("h/house.trim", HOUSE), ("h/short.trim", SHORT)];
        let texts = texts.iter().map(|(path, text)| ((*path).into(), (*text).to_owned())).collect();
        Self { texts, memo: Memo::default() }
    }

    /// Runs over the texts as they are: what is said, which must be what a fresh run says, and what was done anew for it.
    fn run(&mut self) -> (Vec<Diagnostic>, Redone) {
        let fresh = Workspace::from_texts(self.texts.clone(), self.texts.len());
        let texts = self.texts.iter().map(|(path, text)| (path.clone(), text.as_str().into())).collect();
        let workspace = Workspace::from_known(texts, self.texts.len(), &mut self.memo);
        let mut first = Vec::new();
        let mut early = |said: &[Diagnostic]| first.push(said.to_vec());
        let salons = workspace.salons();
        let said = check_salons(&workspace, &salons, &mut self.memo, usize::MAX, Some(&mut early));
        assert_eq!(said, check(&fresh));
        let redone = self.memo.redone();
        // What is told before the proof is all there is to be told but for what is proved, and is told where something is.
        assert_eq!(first.len(), usize::from((1..=8).contains(&redone.recipes)));
        for first in first {
            let words = |d: &&Diagnostic| d.code.starts_with(['W', 'M']) && d.code != "M025";
            assert_eq!(first.iter().filter(words).collect::<Vec<_>>(), said.iter().filter(words).collect::<Vec<_>>());
            // What several recipes share is told by the first of them.
            let told = |d: &Diagnostic| said.iter().any(|of| (of.code, of.place) == (d.code, d.place));
            assert!(first.iter().all(told), "{first:#?} {said:#?}");
        }
        (said, redone)
    }

    fn edit(&mut self, file: &str, old: &str, new: &str) -> Redone {
        let (_, text) = self.texts.iter_mut().find(|(path, _)| path.ends_with(file)).unwrap();
        assert_eq!(text.matches(old).count(), 1, "{old}");
        *text = text.replace(old, new);
        self.run().1
    }
}

fn redone(blocks: usize, recipes: usize) -> Redone {
    Redone { blocks, recipes }
}

#[test]
fn an_edit_redoes_what_hangs_on_it() {
    let mut salon = Salon::new();
    let (said, first) = salon.run();
    assert!(said.iter().any(|d| d.code == "C002") && said.iter().any(|d| d.code == "C005"), "{said:#?}");
    assert_eq!(first, redone(5, 3));
    assert_eq!(salon.run().1, redone(0, 0), "nothing has changed");
    // A comment before the recipes moves them all; what was said of them moves along.
    assert_eq!(salon.edit("short.trim", "-- Two of them.\n", "-- Two\n-- of them, by hand.\n"), redone(1, 1));
    assert_eq!(salon.edit("short.trim", "with #10 in reverse", "with #10 across"), redone(1, 1));
    assert_eq!(salon.edit("short.trim", "with #10 across", "with #10 in reverse"), redone(1, 1));
    // A base is read once, and its own and its children's proofs are made anew.
    assert_eq!(salon.edit("base.trim", "leave wave-line", "leave wave-line, ears"), redone(1, 3));
    // A name that is added to the house's words is news to every recipe of the house.
    assert_eq!(salon.edit("house.trim", "legs, breastbone", "breastbone"), redone(1, 3));
    // Moving a block that nothing else hangs on.
    assert_eq!(salon.edit("base.trim", "recipe base", "\n\nrecipe base"), redone(0, 0));
}

#[test]
fn a_base_that_goes_is_missed_at_once() {
    let mut salon = Salon::new();
    salon.run();
    assert_eq!(salon.edit("base.trim", "recipe base", "recipe bass"), redone(1, 3));
    let (said, _) = salon.run();
    assert_eq!(said.iter().filter(|d| d.code == "M005").count(), 2, "{said:#?}");
    // What was said with it isn't forgotten, and comes back with it.
    assert_eq!(salon.edit("base.trim", "recipe bass", "recipe base"), redone(1, 3));
}

/// A text that is read on all cores keeps its blocks too, and one that grew too big is refused as it is when it is new.
#[test]
fn large_texts_are_edited_as_others() {
    let block = |number: usize| {
        format!("recipe r{number} {{\n  about    \"{}\"\n  leave    whole-coat\n}}\n\n", "long ".repeat(200))
    };
    let text: String = (0..300).map(block).collect();
    let mut salon = Salon { texts: vec![("h/large.trim".into(), text)], memo: Memo::default() };
    assert_eq!(salon.run().1, redone(300, 300));
    assert_eq!(salon.edit("large.trim", "recipe r7 {", "recipe seven {"), redone(1, 1));
    let (_, text) = salon.texts.first_mut().unwrap();
    text.push_str(&" ".repeat(grammar::MAX_SIZE));
    let (said, _) = salon.run();
    assert!(said.iter().any(|d| d.code == "W018"), "{said:#?}");
}
