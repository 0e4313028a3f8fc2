//! Messages that more than one place needs.

use crate::error::{Fix, SyntaxError};
use crate::line::Line;
use crate::read::Ctx;
use crate::tree::{BlockKind, Span};
use crate::words;

/// A declaration begins with an unknown word.
pub(crate) fn unknown_block(word: &str, span: Span, near: Option<&str>) -> SyntaxError {
    SyntaxError {
        code: "W007",
        message: match near {
            _ if word.is_empty() => "a declaration begins with a word that says what it is".to_owned(),
            Some(near) => format!("no declaration is called `{word}`; did you mean `{near}`?"),
            None => format!("no declaration is called `{word}`"),
        },
        help: Some(match near {
            Some(near) => format!("write `{near}`"),
            None => "a declaration begins with recipe, dog, case, house, zone, group, mark, coat, finding, tool, kit, step, form or motion"
                .to_owned(),
        }),
        span,
        related: None,
        fix: near.map(|n| Fix { title: format!("write `{n}`"), span, text: n.to_owned() }),
    }
}

/// A declaration without a name.
pub(crate) fn no_name(keyword: &str, span: Span) -> SyntaxError {
    let example = match words::block(keyword) {
        Some(BlockKind::Dog) => "dog bramble {",
        Some(BlockKind::Tool) => "tool #10 {",
        Some(BlockKind::Case) => "case bramble-at-the-belly {",
        Some(BlockKind::House) => "house saltmarsh {",
        _ => "recipe harbour-short {",
    };
    SyntaxError {
        code: "W008",
        message: format!("this `{keyword}` has no name"),
        help: Some(format!("put a name of your choice before the brace, such as `{example}`")),
        span,
        related: None,
        fix: None,
    }
}

/// A line begins with a word that no line begins with.
pub(crate) fn unknown_line(word: &str, span: Span, near: Option<&str>, ctx: Ctx) -> SyntaxError {
    let shown = near.map(|n| n.replace("set-in", "set in"));
    let (message, help) = match &shown {
        Some(near) => (format!("no line begins with `{word}`; did you mean `{near}`?"), format!("write `{near}`")),
        None => (
            format!("no line begins with `{word}`"),
            if ctx.is_work() {
                "begin with what is done: set in, finish, clip, skim, scissor, shape, thin, hand-strip, card, rake, taper or leave; or with keep, blend, line, order, when, guard, lasts, prep, param, let, serves or extends".to_owned()
            } else {
                format!("a line here begins with {}", list(&ctx.lines()))
            },
        ),
    };
    SyntaxError {
        code: "W006",
        message,
        help: Some(help),
        span,
        related: None,
        fix: shown.map(|n| Fix { title: format!("write `{n}`"), span, text: n }),
    }
}

fn list(words: &[&str]) -> String {
    match words.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} or {last}", rest.join(", ")),
        _ => words.join(""),
    }
}

/// A line that doesn't begin with a word.
pub(crate) fn odd_start(line: &Line) -> SyntaxError {
    let len = line.text.find(' ').unwrap_or(line.text.len()).max(1);
    // A list's sign, pasted along with its line.
    let listed = line.text.split_once(' ').is_some_and(|(sign, rest)| {
        matches!(sign, "•" | "·" | "-" | "–" | "—" | "*" | "◦" | "▪") && rest.starts_with(|c: char| c.is_alphabetic())
    });
    if listed {
        let (span, title) = (line.span(0, len + 1), "take the list's sign away".to_owned());
        return SyntaxError {
            code: "W006",
            message: "a line begins with what is done, and with no sign before it".to_owned(),
            help: Some(title.clone()),
            span,
            related: None,
            fix: Some(Fix { title, span, text: String::new() }),
        };
    }
    SyntaxError {
        code: "W006",
        message: "this line doesn't begin with a word that says what is done".to_owned(),
        help: Some("begin with a verb, such as `clip`, or with `keep`".to_owned()),
        span: line.span(0, len),
        related: None,
        fix: None,
    }
}

/// Braces behind a line that takes none.
pub(crate) fn no_braces_here(word: &str, span: Span) -> SyntaxError {
    SyntaxError {
        code: "W032",
        message: format!("`{word}` takes no braces"),
        help: Some("take the braces away; the lines in them are read as lines of their own".to_owned()),
        span,
        related: None,
        fix: None,
    }
}

/// A line that needs braces has none.
pub(crate) fn braces_needed(word: &str, span: Span) -> SyntaxError {
    let example = match word {
        "prep" => "prep { bath; dry stretch }",
        "guard" => "guard irritation { skim belly-rear with #10 with the coat, one pass }",
        "else" => "else { shape topknot to 25 mm by shears }",
        _ => "when weight under 6 kg { shape topknot to 18 mm by shears }",
    };
    SyntaxError {
        code: "W032",
        message: format!("`{word}` needs lines in braces"),
        help: Some(format!("write it like `{example}`")),
        span,
        related: None,
        fix: None,
    }
}
