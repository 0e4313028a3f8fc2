//! How people write on paper and on a phone what the language says otherwise: `w/ #10`, a blade in quotes, a full stop at the end.

use crate::error::{Fix, SyntaxError};
use crate::line::Line;
use crate::read::{Rule, TrimParser};
use pest::Parser;

/// Words of the trade for which the language has one form, and signs that stand for words.
const MEANT: &[(&str, &str)] = &[
    ("against the grain", "in reverse"),
    ("against the lay", "in reverse"),
    ("with the grain", "with the coat"),
    ("with the lay", "with the coat"),
    ("using", "with"),
    ("w/ ", "with "),
    ("w/", "with "),
    (" -> ", ", "),
    (" → ", ", "),
    ("→", ", "),
];

/// Where something stands that was meant otherwise, and how.
fn slip(text: &str) -> Option<(usize, usize, String)> {
    let bare = |at: &usize| text.get(..*at).is_some_and(|before| before.matches('"').count() % 2 == 0);
    for (said, meant) in MEANT {
        let begins =
            |at: &usize| *at == 0 || said.starts_with([' ', '→']) || text.as_bytes().get(at - 1) == Some(&b' ');
        if let Some((at, _)) = text.match_indices(said).find(|(at, _)| bare(at) && begins(at)) {
            return Some((at, at + said.len(), (*meant).to_owned()));
        }
    }
    // A blade in quotes.
    if let Some((at, _)) = text.match_indices("\"#").find(|(at, _)| bare(at)) {
        let inside = text.get(at + 1..)?;
        let end = inside.find('"')?;
        let blade = inside.get(..end)?;
        return (!blade.contains(' ')).then(|| (at, at + end + 2, blade.to_owned()));
    }
    let end = text.trim_end();
    let stop = end.strip_suffix(['.', ',', ';', '!'])?;
    bare(&stop.len()).then(|| (stop.len(), end.len(), String::new()))
}

/// The line as it was meant, if it can be read then; each slip is said.
pub(crate) fn mended<'a>(rule: Rule, line: &Line<'a>, errors: &mut Vec<SyntaxError>) -> Option<Line<'a>> {
    let (mut fixed, mut found) = (line.clone(), Vec::new());
    for _ in 0..8 {
        let text = fixed.text.to_string();
        let (from, to, meant) = slip(&text)?;
        let (span, said) = (fixed.span(from, to), fixed.original(from, to).trim());
        let (message, title) = match meant.trim() {
            "" => (format!("`{said}` ends no line here"), format!("take `{said}` away")),
            meant => (format!("`{said}` isn't understood here; did you mean `{meant}`?"), format!("write `{meant}`")),
        };
        found.push(SyntaxError {
            code: "W012",
            message,
            help: Some(title.clone()),
            span,
            related: None,
            fix: Some(Fix { title, span, text: meant.clone() }),
        });
        fixed = fixed.replaced(from, to, &meant);
        if TrimParser::parse(rule, &fixed.text).is_ok() {
            errors.append(&mut found);
            return Some(fixed);
        }
    }
    None
}
