//! The common layout as the fewest edits, so that cursors, marks and folds stay where they are.

use super::fixes::Replace;
use crate::around::Here;
use grammar::tree::Span;
use similar::{Algorithm, DiffTag, capture_diff_slices_deadline};
use std::ops::Range;
use std::time::{Duration, Instant};

/// How long the fewest lines are looked for; after that a few more are replaced.
const LONGEST: Duration = Duration::from_millis(200);

/// The edits that bring a text into the common layout, all of it or those that touch some bytes. None where the formatter
/// refuses.
#[must_use]
pub fn layout(here: &Here<'_>, within: Option<Span>) -> Option<Vec<Replace>> {
    let old = here.text();
    let new = grammar::format_with_its_ends(old).ok()?;
    let file = here.around.name(here.file)?;
    let wanted = |at: &Range<usize>| within.is_none_or(|w| at.start <= w.end as usize && w.start as usize <= at.end);
    let lines = here.around.lines(here.file);
    let changes = changes(old, &new).into_iter().filter(|(at, _)| wanted(at));
    Some(
        changes
            .map(|(at, text)| Replace {
                file: file.clone(),
                range: lines.range(at, here.around.columns()),
                text: text.to_owned(),
            })
            .collect(),
    )
}

/// What to replace in `old` so that it becomes `new`: in order, apart from one another.
fn changes<'n>(old: &str, new: &'n str) -> Vec<(Range<usize>, &'n str)> {
    let (old_lines, new_lines) = (lines(old), lines(new));
    let mut out = Vec::new();
    for (from, to) in differing(&old_lines, &new_lines) {
        let (befores, afters) = (old_lines.get(from.clone()), new_lines.get(to.clone()));
        let (Some(befores), Some(afters)) = (befores, afters) else { continue };
        if befores.len() == afters.len() {
            // Line by line: most often only blanks inside a line move.
            for (before, after) in befores.iter().zip(afters) {
                if !gaps(before, after, &mut out) {
                    narrow(before, after, &mut out);
                }
            }
        } else {
            let at = start(&old_lines, from.start, old.len());
            let end = start(&old_lines, from.end, old.len());
            let (first, last) = (start(&new_lines, to.start, new.len()), start(&new_lines, to.end, new.len()));
            narrow(&(at, old.get(at..end).unwrap_or("")), &(first, new.get(first..last).unwrap_or("")), &mut out);
        }
    }
    out
}

/// The lines of a text with where they begin, line ends included.
fn lines(text: &str) -> Vec<(usize, &str)> {
    let mut at = 0;
    text.split_inclusive('\n')
        .map(|line| {
            let start = at;
            at += line.len();
            (start, line)
        })
        .collect()
}

fn start(lines: &[(usize, &str)], line: usize, end: usize) -> usize {
    lines.get(line).map_or(end, |(at, _)| *at)
}

/// The runs of lines that differ.
fn differing(old: &[(usize, &str)], new: &[(usize, &str)]) -> Vec<(Range<usize>, Range<usize>)> {
    let old: Vec<&str> = old.iter().map(|(_, text)| *text).collect();
    let new: Vec<&str> = new.iter().map(|(_, text)| *text).collect();
    let runs = capture_diff_slices_deadline(Algorithm::Myers, &old, &new, Some(Instant::now() + LONGEST));
    // Counted here: where a run that is put in and one that is taken out were swapped, the places that they tell are those before.
    let (mut from, mut to) = (0, 0);
    let mut out: Vec<(Range<usize>, Range<usize>)> = Vec::new();
    for run in &runs {
        let (olds, news) = (from..from + run.old_range().len(), to..to + run.new_range().len());
        (from, to) = (olds.end, news.end);
        if run.tag() == DiffTag::Equal {
            continue;
        }
        match out.last_mut().filter(|(before, after)| before.end == olds.start && after.end == news.start) {
            Some((before, after)) => (before.end, after.end) = (olds.end, news.end),
            None => out.push((olds, news)),
        }
    }
    out
}

/// The gaps between words that differ, if two lines hold the same words. Says whether they do.
fn gaps<'n>(old: &(usize, &str), new: &(usize, &'n str), out: &mut Vec<(Range<usize>, &'n str)>) -> bool {
    if !old.1.split_whitespace().eq(new.1.split_whitespace()) {
        return false;
    }
    let (befores, afters) = (blanks(old.1), blanks(new.1));
    for (before, after) in befores.into_iter().zip(afters) {
        let (had, has) = (old.1.get(before.clone()).unwrap_or(""), new.1.get(after).unwrap_or(""));
        narrow(&(old.0 + before.start, had), &(0, has), out);
    }
    true
}

/// The gaps before, between and after the words of a line; any of them may be empty.
fn blanks(line: &str) -> Vec<Range<usize>> {
    let mut out = Vec::new();
    let mut start = 0;
    let mut before = true;
    for (at, c) in line.char_indices().chain([(line.len(), ' ')]) {
        let end = at == line.len();
        match (before, c.is_whitespace() && !end) {
            (true, false) => {
                out.push(start..at);
                before = false;
            }
            (false, true) => {
                start = at;
                before = true;
            }
            (false, false) if end => out.push(at..at),
            _ => {}
        }
    }
    out
}

/// What differs between two runs, without what they have in common at both ends.
fn narrow<'n>(old: &(usize, &str), new: &(usize, &'n str), out: &mut Vec<(Range<usize>, &'n str)>) {
    let (a, b) = (old.1, new.1);
    if a == b {
        return;
    }
    let head: usize = a.chars().zip(b.chars()).take_while(|(x, y)| x == y).map(|(x, _)| x.len_utf8()).sum();
    let (a_rest, b_rest) = (a.get(head..).unwrap_or(""), b.get(head..).unwrap_or(""));
    let common = a_rest.chars().rev().zip(b_rest.chars().rev()).take_while(|(x, y)| x == y);
    let mut tail: usize = common.map(|(x, _)| x.len_utf8()).sum();
    // A line's end is one: no edit begins or ends inside of it.
    if a_rest.get(a_rest.len() - tail..).is_some_and(|t| t.starts_with('\n')) && a_rest.contains("\r\n") {
        tail = tail.saturating_sub(1);
    }
    let end = old.0 + a.len() - tail;
    out.push((old.0 + head..end, b_rest.get(..b_rest.len() - tail).unwrap_or("")));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::around::tests::with;

    fn applied(old: &str, new: &str) -> String {
        let mut out = String::new();
        let mut at = 0;
        for (range, text) in changes(old, new) {
            assert!(range.start >= at, "in order");
            out.push_str(&old[at..range.start]);
            out.push_str(text);
            at = range.end;
        }
        out + &old[at..]
    }

    #[test]
    fn the_edits_give_the_new_text() {
        let texts =
            ["", "a\n", "a\nb\nc\n", "a\n b\nc", "a\nc\n", "x\na\nb\nc\ny\n", "b\na\n", "a\r\n\r\nb\r\n", "é\n🐩 b\n"];
        for old in texts {
            for new in texts {
                assert_eq!(applied(old, new), new, "{old:?}");
            }
        }
        // A run that moves over lines that stay.
        let (old, new) = (
            "recipe t {\n  leave  body\n-- c\n\n  leave  ears\n}\n",
            "recipe t {\n  leave  body\n\n  -- c\n\n  leave  ears\n}\n",
        );
        assert_eq!(applied(old, new), new);
        assert_eq!(changes("a\n  b\nc\n", "a\n b\nc\n"), [(3..4, "")]);
        assert_eq!(changes("a  b c\n", "a b  c \n"), [(2..3, ""), (5..5, " "), (6..6, " ")]);
    }

    #[test]
    fn only_blanks_are_touched() {
        let text = "recipe t {\r\n  title   \"🐩\"\r\n  clip body   with #7F with the coat\r\n}\r\n|";
        with(text, "", |here, _| {
            let edits = layout(here, None).unwrap_or_default();
            assert!(!edits.is_empty() && edits.iter().all(|e| e.text.trim().is_empty()), "{edits:?}");
            let first = layout(here, Some(Span::new(14, 14))).unwrap_or_default();
            assert!(first.len() < edits.len(), "{first:?}");
        });
        // What can't be read is left as it is, but for the end of the text.
        with("recipe t {   clip\n|", "", |here, _| assert_eq!(layout(here, None), Some(Vec::new())));
    }
}
