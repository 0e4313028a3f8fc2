//! Two texts and what changed between them.

use similar::{ChangeTag, TextDiff};
use std::{fmt::Write as _, time::Duration};

/// Longer than this nobody waits; what is left is then shown as replaced whole.
const PATIENCE: Duration = Duration::from_millis(500);

/// A unified diff of a text and how the formatter writes it; empty if nothing changed.
pub(super) fn diff(name: &str, old: &str, new: &str, colour: bool) -> String {
    between((name, &format!("{name} (formatted)")), old, new, colour)
}

/// A unified diff, as git shows it; empty if nothing changed.
pub(super) fn between((was, is): (&str, &str), old: &str, new: &str, colour: bool) -> String {
    let diff = TextDiff::configure().timeout(PATIENCE).diff_lines(old, new);
    let mut out = String::new();
    let mut line = |tint: &str, text: &str| {
        let text = text.strip_suffix('\n').unwrap_or(text);
        let _ = if colour && !tint.is_empty() {
            writeln!(out, "\x1b[{tint}m{text}\x1b[0m")
        } else {
            writeln!(out, "{text}")
        };
    };
    for (number, hunk) in diff.unified_diff().context_radius(2).iter_hunks().enumerate() {
        if number == 0 {
            line("1", &format!("--- {was}"));
            line("1", &format!("+++ {is}"));
        }
        line("36", &hunk.header().to_string());
        for change in hunk.iter_changes() {
            match change.tag() {
                ChangeTag::Delete => line("31", &format!("-{}", change.value())),
                ChangeTag::Insert => line("32", &format!("+{}", change.value())),
                ChangeTag::Equal => line("", &format!(" {}", change.value())),
            }
            if change.missing_newline() {
                line("", "\\ No newline at end of file");
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shows_what_changed_and_nothing_else() {
        let old = "a\nb\nc\nd\ne\nf\n";
        assert_eq!(diff("x", old, old, true), "");
        let shown = diff("x.trim", old, "a\nb\nc\nD\ne\nf\n", false);
        assert_eq!(shown, "--- x.trim\n+++ x.trim (formatted)\n@@ -2,5 +2,5 @@\n b\n c\n-d\n+D\n e\n f\n");
        assert!(diff("x", "a", "a\n", false).contains("\\ No newline"));
        assert!(diff("x", "a\n", "b\n", true).contains("\x1b[31m-a\x1b[0m\n"));
    }
}
