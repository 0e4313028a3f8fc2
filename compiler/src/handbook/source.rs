//! A text of the language with its words marked, for reading: first words, numbers, quotes and remarks.

use crate::names::lower::Decl;
use crate::source::{Place, Sources};
use grammar::tree::StmtKind;
use maud::{Markup, html};

/// What a stretch of text is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum What {
    Plain,
    /// The first word of a statement.
    Verb,
    Number,
    Quote,
    Remark,
}

impl What {
    const fn class(self) -> Option<&'static str> {
        match self {
            Self::Plain => None,
            Self::Verb => Some("verb"),
            Self::Number => Some("number"),
            Self::Quote => Some("quote"),
            Self::Remark => Some("remark"),
        }
    }
}

/// A statement on one line.
pub(super) fn inline(text: &str) -> Markup {
    html! {
        @for (what, words) in pieces(text) {
            @match what.class() {
                Some(class) => span class=(class) { (words) },
                None => (words),
            }
        }
    }
}

/// A whole block; its prose is no statement.
pub(super) fn block(decl: Decl<'_>, sources: &Sources, label: &str) -> Markup {
    let text = block_text(sources, decl);
    let start = decl.block.span.start as usize;
    let prose = decl.block.body.iter().filter_map(|stmt| match &stmt.kind {
        StmtKind::About(prose) => Some(prose.span),
        _ => None,
    });
    let (mut parts, mut at) = (Vec::new(), 0);
    for span in prose {
        let (from, to) = ((span.start as usize).saturating_sub(start), (span.end as usize).saturating_sub(start));
        if let (Some(before), Some(words)) = (text.get(at..from), text.get(from..to)) {
            parts.push((before, words));
            at = to;
        }
    }
    html! {
        pre.source tabindex="0" role="region" aria-label=(label) {
            code {
                @for (before, words) in parts { (inline(before)) (words) }
                (inline(text.get(at..).unwrap_or_default()))
            }
        }
    }
}

/// The text of a block.
pub(super) fn block_text<'s>(sources: &'s Sources, decl: Decl<'_>) -> &'s str {
    let span = decl.block.span;
    sources.at(Place { file: decl.file, start: decl.at + span.start, end: decl.at + span.end })
}

/// What begins a line that goes on with the one before.
const GOES_ON: [&str; 10] = ["to", "with", "over", "by", "along", "at", "into", "except", "from", "off"];

/// The text in pieces; together they are the text.
fn pieces(text: &str) -> Vec<(What, &str)> {
    let mut out: Vec<(What, &str)> = Vec::new();
    let mut rest = text;
    let mut first = true;
    let (mut before, mut last) = (' ', ' ');
    while let Some(letter) = rest.chars().next() {
        let (what, long) = next(rest, letter, first, before);
        let (words, more) = rest.split_at_checked(long).unwrap_or((rest, ""));
        first = match what {
            What::Remark => first,
            _ if words.contains(['\n', ';', '{', '}']) => last != ',',
            _ if words.trim().is_empty() => first,
            _ => false,
        };
        before = words.chars().next_back().unwrap_or(' ');
        if what != What::Remark && !before.is_whitespace() {
            last = before;
        }
        match out.last_mut() {
            // What is plain runs on: its pieces touch in the text.
            Some((What::Plain, known)) if what == What::Plain => {
                let start = text.len() - rest.len() - known.len();
                *known = text.get(start..start + known.len() + words.len()).unwrap_or(known);
            }
            _ => out.push((what, words)),
        }
        rest = more;
    }
    out
}

/// What comes next, and how many bytes it takes.
fn next(rest: &str, letter: char, first: bool, before: char) -> (What, usize) {
    let run = |more: &dyn Fn(char) -> bool| rest.find(|c: char| !more(c)).unwrap_or(rest.len()).max(letter.len_utf8());
    if rest.starts_with("--") && before.is_whitespace() {
        return (What::Remark, rest.find('\n').unwrap_or(rest.len()));
    }
    if letter == '"' && !before.is_ascii_digit() {
        let line = rest.lines().next().unwrap_or(rest);
        if let Some(end) = line.get(1..).and_then(|l| l.find('"')) {
            return (What::Quote, end + 2);
        }
    }
    if letter.is_ascii_digit()
        || (letter == '#' && rest.get(1..2).is_some_and(|c| c.starts_with(|d: char| d.is_ascii_digit())))
    {
        let long = run(&|c| c.is_ascii_alphanumeric() || matches!(c, '.' | '#' | '-'));
        return (if before.is_alphanumeric() || before == '-' { What::Plain } else { What::Number }, long);
    }
    if letter.is_alphabetic() {
        let long = run(&|c| c.is_alphanumeric() || c == '-');
        let goes_on = rest.get(..long).is_some_and(|word| GOES_ON.contains(&word));
        return (if first && !goes_on { What::Verb } else { What::Plain }, long);
    }
    (What::Plain, letter.len_utf8())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_pieces_are_the_text() {
        let text = "recipe a-1 { -- one\n  set in neck,\n  legs\n  to 9 mm\n  clip body with #10; leave \"x\" 1/4\" ear\u{e4}\n}";
        let all = pieces(text);
        assert_eq!(all.iter().map(|(_, words)| *words).collect::<String>(), text);
        let of = |what: What| all.iter().filter(|(w, _)| *w == what).map(|(_, t)| *t).collect::<Vec<_>>();
        assert_eq!(of(What::Verb), ["recipe", "set", "clip", "leave"]);
        assert_eq!(of(What::Remark), ["-- one"]);
        assert_eq!(of(What::Number), ["9", "#10", "1", "4"]);
        assert_eq!(of(What::Quote), ["\"x\""]);
    }
}
