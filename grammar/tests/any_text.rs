//! Whatever the text: no panic, every mistake in its place, and a formatter that harms nothing.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

mod pieces;

use grammar::tree::{BlockKind, StmtKind, Word};
use pieces::PIECES;
use proptest::prelude::*;
use std::fs;
use std::path::PathBuf;
use std::sync::OnceLock;
use std::sync::atomic::{AtomicU32, Ordering};

fn samples() -> &'static Vec<String> {
    static ALL: OnceLock<Vec<String>> = OnceLock::new();
    ALL.get_or_init(|| {
        let dir = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("samples");
        let mut files: Vec<_> = fs::read_dir(dir).unwrap().map(|e| e.unwrap().path()).collect();
        files.sort();
        files.iter().map(|p| fs::read_to_string(p).unwrap()).collect()
    })
}

#[derive(Clone, Debug)]
enum Change {
    Put(usize, usize),
    Cut(usize, usize),
    Swap(usize),
    Copy(usize, usize, usize),
}

fn change() -> impl Strategy<Value = Change> {
    prop_oneof![
        (any::<usize>(), 0..PIECES.len()).prop_map(|(a, b)| Change::Put(a, b)),
        (any::<usize>(), 0_usize..12).prop_map(|(a, b)| Change::Cut(a, b)),
        any::<usize>().prop_map(Change::Swap),
        (any::<usize>(), any::<usize>(), 0_usize..60).prop_map(|(a, b, c)| Change::Copy(a, b, c)),
    ]
}

fn floor(s: &str, mut i: usize) -> usize {
    i = i.min(s.len());
    while !s.is_char_boundary(i) {
        i -= 1;
    }
    i
}

fn apply(text: &mut String, c: &Change) {
    if text.is_empty() {
        return;
    }
    let n = text.len();
    match *c {
        Change::Put(at, p) => {
            let at = floor(text, at % (n + 1));
            text.insert_str(at, PIECES[p]);
        }
        Change::Cut(at, len) => {
            let a = floor(text, at % n);
            let b = floor(text, a + len);
            text.replace_range(a..b, "");
        }
        Change::Swap(at) => {
            let chars: Vec<char> = text.chars().collect();
            if chars.len() > 1 {
                let i = at % (chars.len() - 1);
                let mut chars = chars;
                chars.swap(i, i + 1);
                *text = chars.into_iter().collect();
            }
        }
        Change::Copy(from, to, len) => {
            let a = floor(text, from % n);
            let b = floor(text, a + len);
            let piece = text[a..b].to_owned();
            let to = floor(text, to % (n + 1));
            text.insert_str(to, &piece);
        }
    }
}

fn mutated() -> impl Strategy<Value = String> {
    (0..samples().len(), prop::collection::vec(change(), 0..8)).prop_map(|(i, changes)| {
        let mut t = samples()[i].clone();
        for c in &changes {
            apply(&mut t, c);
        }
        t
    })
}

/// A text, and what it was before a change or two.
fn edited() -> impl Strategy<Value = (String, String)> {
    let some = prop::collection::vec(0..samples().len(), 1..4);
    (some, prop::collection::vec(change(), 0..4), prop::collection::vec(change(), 1..3)).prop_map(
        |(some, before, after)| {
            let mut old: String = some.iter().map(|i| format!("{}\n", samples()[*i])).collect();
            before.iter().for_each(|c| apply(&mut old, c));
            let mut new = old.clone();
            after.iter().for_each(|c| apply(&mut new, c));
            (old, new)
        },
    )
}

/// What is told of a block without reading its body is what its tree says.
fn headed(text: &str) {
    for chunk in grammar::scan(text) {
        let text = &text[chunk.range()];
        let (head, block) = (grammar::head(text), grammar::parse_block(text).block);
        let name = |word: &Option<Word>| word.as_ref().map(|word| (word.text.clone(), word.span));
        let refused = block.kind == BlockKind::Unknown && block.name.is_none() && block.body.is_empty();
        assert!(refused || (head.kind, name(&head.name)) == (block.kind, name(&block.name)), "{head:?} of {text:?}");
        for stmt in &block.body {
            if let StmtKind::Extends { base, from, .. } = &stmt.kind
                && block.kind == BlockKind::Recipe
                // One that is misspelt is understood, but not told from afar.
                && text[stmt.span.start as usize..].to_lowercase().starts_with("extends")
            {
                let from = from.as_ref().map(|text| text.text.as_str());
                let found = head.bases.iter().any(|told| told.name == base.text && told.from.as_deref() == from);
                assert!(found, "{head:?} of {text:?}");
            }
        }
    }
}

fn sound(text: &str) {
    let file = grammar::parse(text);
    let errors = grammar::errors(&file);
    for e in &errors {
        let place = |s: grammar::tree::Span| {
            let (a, b) = (s.start as usize, s.end as usize);
            assert!(a <= b && b <= text.len(), "{e:?} in {text:?}");
            assert!(text.is_char_boundary(a) && text.is_char_boundary(b), "{e:?} in {text:?}");
        };
        place(e.span);
        assert!(e.span.start < e.span.end || text.is_empty(), "without a place: {e:?} in {text:?}");
        if let Some((s, _)) = &e.related {
            place(*s);
        }
        if let Some(f) = &e.fix {
            place(f.span);
        }
        assert!(grammar::CODES.iter().any(|(c, _)| *c == e.code));
    }
    // No comment is lost.
    let found = grammar::comments(&file);
    for c in &found {
        assert!(text.contains(c.as_str()));
    }
    match grammar::format(text) {
        Ok(made) => {
            let again = grammar::parse(&made);
            assert_eq!(grammar::shape(&file), grammar::shape(&again));
            assert_eq!(found, grammar::comments(&again));
            match grammar::format(&made) {
                Ok(twice) => assert_eq!(twice, made, "not stable: {text:?}"),
                Err(e) => panic!("{e} for its own output {made:?} of {text:?}"),
            }
        }
        // A text without a mistake is formatted. Some nonsense that the grammar reads none the less is refused by the
        // formatter's own proof, which leaves it as it is: measured at some 1 in 50 000 of these texts.
        Err(e) if errors.is_empty() => {
            eprintln!("refused: {e}: {text:?}");
            let refused = REFUSED.fetch_add(1, Ordering::Relaxed) + 1;
            assert!(refused <= 2 + cases() / 5000, "{refused} texts without a mistake were refused; {e}: {text:?}");
        }
        Err(_) => {}
    }
}

static REFUSED: AtomicU32 = AtomicU32::new(0);

/// How many texts each property tries; `TRIM_CASES` raises it.
fn cases() -> u32 {
    std::env::var("TRIM_CASES").ok().and_then(|n| n.parse().ok()).unwrap_or(300)
}

/// An edit of one block leaves the others alone.
#[test]
fn an_edit_of_one_block_is_looked_at_alone() {
    for end in ["\n", "\r\n"] {
        let block =
            |n: usize, tool: &str| format!("-- {n}{end}recipe r{n} {{{end}  clip back with {tool}{end}}}{end}{end}");
        let text = |tool: &str| (0..9).map(|n| block(n, if n == 4 { tool } else { "#10" })).collect::<String>();
        let (old, new) = (text("#10"), text("#10 in reverse"));
        let (found, front, back) = grammar::scan_again(&new, &old, &grammar::scan(&old));
        assert_eq!((found, front, back), (grammar::scan(&new), 4, 4));
    }
}

/// Lines behind an edit keep their trees and move along.
#[test]
fn lines_behind_an_edit_move_along() {
    let old = "recipe r {\n  clip back with #10\n  when weight under 6 kg {\n    clip belly, throat to 9 mm  (from memory)\n  }\n}\n";
    let new = old.replace("#10", "#7F in reverse");
    let again = grammar::parse_block_again(&new, old, &grammar::parse_block(old));
    assert_eq!(format!("{again:?}"), format!("{:?}", grammar::parse_block(&new)));
    assert_ne!(format!("{again:?}"), format!("{:?}", grammar::parse_block(old)));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: cases(), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn mutated_samples(text in mutated()) {
        sound(&text);
    }

    /// Looking at what changed alone finds what looking at all of it does.
    #[test]
    fn an_edit_is_scanned_as_the_whole(texts in edited()) {
        let (old, new) = texts;
        let (found, front, back) = grammar::scan_again(&new, &old, &grammar::scan(&old));
        prop_assert_eq!(&found, &grammar::scan(&new));
        prop_assert!(front + back <= found.len());
    }

    /// Reading again what changed alone reads what reading all of it does, to the last place.
    #[test]
    fn an_edit_is_read_as_the_whole(texts in edited()) {
        let (old, new) = texts;
        let (old_chunks, chunks) = (grammar::scan(&old), grammar::scan(&new));
        // Blocks at the same place, counted from the front and from the back.
        let places = old_chunks.iter().zip(&chunks).chain(old_chunks.iter().rev().zip(chunks.iter().rev()));
        for (was, is) in places {
            let (was, is) = (&old[was.range()], &new[is.range()]);
            let again = grammar::parse_block_again(is, was, &grammar::parse_block(was));
            prop_assert_eq!(format!("{again:?}"), format!("{:?}", grammar::parse_block(is)));
        }
    }

    #[test]
    fn arbitrary_text(text in "\\PC{0,200}") {
        sound(&text);
    }

    #[test]
    fn arbitrary_pieces(parts in prop::collection::vec(0..PIECES.len(), 0..60)) {
        let text: String = parts.iter().map(|i| PIECES[*i]).collect();
        sound(&text);
        sound(&format!("recipe a {{\n{text}\n}}\n"));
        sound(&format!("dog a {{ {text} }}\n"));
    }

    #[test]
    fn heads_say_what_trees_say(text in mutated(), after in prop::collection::vec(0..PIECES.len(), 0..5)) {
        headed(&text);
        let after: String = after.iter().map(|p| PIECES[*p]).collect();
        headed(&format!("recipe a {{\n  extends base{after}\n  Extends {after}\n}}\n"));
    }

    #[test]
    fn lines_and_bytes_agree(text in mutated(), at in any::<usize>()) {
        let at = u32::try_from(floor(&text, at % (text.len() + 1))).unwrap();
        let lines = grammar::Lines::new(&text);
        for c in [grammar::Columns::Utf8, grammar::Columns::Utf16, grammar::Columns::Utf32] {
            let (l, col) = lines.position(&text, at, c);
            let back = lines.byte(&text, l, col, c);
            // Inside `\r\n` the column stops before the line break.
            prop_assert!(back == at || text[..at as usize].ends_with('\r'));
        }
    }
}

#[test]
fn untouched_samples_are_not_refused() {
    for t in samples() {
        sound(t);
        assert!(grammar::format(t).is_ok());
    }
}
