//! Mending texts: the safe fixes of messages, applied together.

use coatwright::{
    diagnostic::{Diagnostic, Edit, Fix},
    source::{FileId, Sources},
};
use std::collections::BTreeMap;

/// A file's text with safe fixes applied.
pub(super) struct Mended {
    pub(super) file: FileId,
    pub(super) text: String,
}

/// Applies the first safe fix of every message. A fix is applied whole or not at all; one that would touch the same text
/// as another waits for the next round. Only the files in `may` are touched.
pub(super) fn mend(messages: &[Diagnostic], sources: &Sources, may: &[FileId]) -> (Vec<Mended>, usize) {
    let mut chosen: BTreeMap<FileId, Vec<&Edit>> = BTreeMap::new();
    let mut count = 0;
    for fix in messages.iter().filter_map(|m| m.fixes.iter().find(|f| f.safe)) {
        if can(fix, &chosen, sources, may) {
            count += 1;
            for edit in &fix.edits {
                chosen.entry(edit.place.file).or_default().push(edit);
            }
        }
    }
    let mend = |(file, mut edits): (FileId, Vec<&Edit>)| {
        edits.sort_by_key(|e| (e.place.start, e.place.end));
        let old = sources.text(file);
        let mut text = String::with_capacity(old.len());
        let mut at = 0;
        for edit in edits {
            let range = edit.place.range();
            text.push_str(old.get(at..range.start).unwrap_or(""));
            text.push_str(&edit.text);
            at = range.end;
        }
        text.push_str(old.get(at..).unwrap_or(""));
        Mended { file, text }
    };
    (chosen.into_iter().map(mend).filter(|m| m.text != sources.text(m.file)).collect(), count)
}

fn can(fix: &Fix, chosen: &BTreeMap<FileId, Vec<&Edit>>, sources: &Sources, may: &[FileId]) -> bool {
    !fix.edits.is_empty()
        && fix.edits.iter().all(|edit| {
            let free = chosen.get(&edit.place.file).is_none_or(|others| others.iter().all(|o| apart(edit, o)));
            let inside = sources.text(edit.place.file).get(edit.place.range()).is_some();
            free && inside && may.contains(&edit.place.file)
        })
}

/// Whether two edits can't disturb one another; two that begin at one place could.
fn apart(a: &Edit, b: &Edit) -> bool {
    let (a, b) = (a.place, b.place);
    a.start != b.start && (a.end <= b.start || b.end <= a.start)
}

#[cfg(test)]
mod tests {
    use super::*;
    use coatwright::source::Place;
    use std::sync::Arc;

    fn mended(text: &str, fixes: &[(&str, &str)]) -> (String, usize) {
        let mut sources = Sources::default();
        let file = sources.add("a.trim".into(), Arc::from(text));
        let at = |words: &str| {
            let start = text.find(words).unwrap_or(usize::MAX) as u32;
            Place { file, start, end: start.saturating_add(words.len() as u32) }
        };
        let messages: Vec<_> =
            fixes.iter().map(|(old, new)| Diagnostic::error("C001", at(old), "x").fix("t", at(old), *new)).collect();
        let (mended, count) = mend(&messages, &sources, &[file]);
        assert!(mend(&messages, &sources, &[]).0.is_empty());
        (mended.into_iter().next().map_or(text.to_owned(), |m| m.text), count)
    }

    #[test]
    fn fixes_are_applied_in_the_order_of_the_text() {
        assert_eq!(
            mended("clip belly with #40", &[("#40", "#10"), ("clip", "skim")]),
            ("skim belly with #10".into(), 2)
        );
        assert_eq!(mended("clip belly", &[("", "-- ")]), ("-- clip belly".into(), 1));
    }

    #[test]
    fn of_two_that_overlap_the_first_wins() {
        let fixes = [("belly with", "groin with"), ("with #40", "with #10"), ("", "x "), ("", "y ")];
        assert_eq!(mended("clip belly with #40", &fixes), ("x clip groin with #40".into(), 2));
    }

    #[test]
    fn a_place_outside_of_the_text_is_left_alone() {
        assert_eq!(mended("clip", &[("belly", "groin")]), ("clip".into(), 0));
    }

    #[test]
    fn what_is_only_suggested_waits_for_the_author() {
        let mut sources = Sources::default();
        let file = sources.add("a.trim".into(), Arc::from("clip"));
        let place = Place { file, start: 0, end: 4 };
        let message = Diagnostic::error("C001", place, "x").suggest("t", place, "skim");
        assert_eq!(mend(&[message], &sources, &[file]).1, 0);
    }
}
