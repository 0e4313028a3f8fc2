//! Quick fixes, and all safe ones of a text at once: the edits that the compiler offers, untouched.

use super::diagnostics::{FileName, Message, Shown};
use crate::around::Here;
use crate::lines::Range;
use coatwright::diagnostic::{Edit, Fix};
use coatwright::source::FileId;
use grammar::tree::Span;

/// A replacement in some text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Replace {
    /// Which text.
    pub file: FileName,
    /// Where.
    pub range: Range,
    /// The new words.
    pub text: String,
}

/// Something that can be done to the text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Action {
    /// What it does.
    pub title: String,
    /// The message that it answers; none for a change of everything.
    pub of: Option<Message>,
    /// Whether it is what one would do without looking.
    pub preferred: bool,
    /// The changes.
    pub edits: Vec<Replace>,
}

/// The fixes of the messages that a range touches.
#[must_use]
pub fn quick(here: &Here<'_>, range: Span) -> Vec<Action> {
    let mut shown = Shown::new(here.around);
    let mut out = Vec::new();
    for message in here.around.messages() {
        let place = message.place;
        if place.file != here.file || place.end < range.start || range.end < place.start {
            continue;
        }
        for (number, fix) in message.fixes.iter().enumerate() {
            let Some(edits) = replaces(here, &fix.edits.iter().collect::<Vec<_>>()) else { continue };
            out.push(Action {
                title: fix.title.clone(),
                of: Some(shown.message(message)),
                preferred: number == 0 && fix.safe,
                edits,
            });
        }
    }
    out
}

/// The first safe fix of every message of the text; of two that touch the same words the first, as `check --fix` does.
#[must_use]
pub fn all(here: &Here<'_>) -> Option<Action> {
    let mut chosen: Vec<&Edit> = Vec::new();
    let messages = here.around.messages().iter().filter(|m| m.place.file == here.file);
    for fix in messages.filter_map(|m| m.fixes.iter().find(|f| f.safe)) {
        if fits(fix, &chosen, here.file) {
            chosen.extend(&fix.edits);
        }
    }
    if chosen.is_empty() {
        return None;
    }
    chosen.sort_by_key(|e| (e.place.start, e.place.end));
    let edits = replaces(here, &chosen)?;
    Some(Action { title: "Mend everything that is safe to mend".to_owned(), of: None, preferred: false, edits })
}

fn fits(fix: &Fix, chosen: &[&Edit], file: FileId) -> bool {
    // Two that begin at one place could disturb one another as well.
    let apart = |a: &Edit, b: &Edit| {
        let (a, b) = (a.place, b.place);
        a.start != b.start && (a.end <= b.start || b.end <= a.start)
    };
    !fix.edits.is_empty()
        && fix.edits.iter().all(|edit| edit.place.file == file && chosen.iter().all(|other| apart(edit, other)))
}

/// The edits for an editor; none if one of them is in a text that can't be written.
fn replaces(here: &Here<'_>, edits: &[&Edit]) -> Option<Vec<Replace>> {
    edits
        .iter()
        .map(|edit| {
            let own = !coatwright::basics::holds(edit.place.file);
            let location = here.around.location(edit.place).filter(|_| own)?;
            Some(Replace { file: location.file, range: location.range, text: edit.text.clone() })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::around::tests::with;

    #[test]
    fn a_fix_is_offered_where_its_message_stands() {
        let text =
            "recipe t {\n  title \"T\"\n  cl|pi body with #7F with the coat\n  clip elbwos with #7F with the coat\n}\n";
        with(text, "", |here, at| {
            let found = quick(here, Span::new(at, at));
            let (title, edits) = found.first().map(|a| (a.title.as_str(), a.edits.len())).unwrap_or_default();
            assert_eq!((found.len(), title, edits), (1, "write `clip`", 1), "{found:?}");
            assert!(found.iter().all(|a| a.preferred && a.of.is_some()));
            assert!(quick(here, Span::new(0, 3)).is_empty());
            let texts = all(here).map(|a| a.edits.into_iter().map(|e| e.text).collect::<Vec<_>>());
            assert_eq!(texts, Some(vec!["clip".to_owned(), "elbows".to_owned()]));
        });
        with("recipe t {}|", "", |here, _| assert_eq!(all(here), None));
    }
}
