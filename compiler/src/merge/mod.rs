//! Merging by statement: what each side did to which statement, not to which line.
//!
//! Statements are known by what they speak of (the parts of a line of work, the finding of a guard, the name of a parameter), so that
//! edits of neighbouring lines, or a text that was put into another order, don't meet. Two edits of one statement do. A keep or a
//! guard is never merged away: where one side took it away, made it weaker or overrode it and the other left it, that is a conflict, too.

mod items;

use crate::compare::{Compared, Rank, Status, Texts, Version, compare};
use crate::memo::Memo;
use items::{Inner, Item, by_words, plain};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What came of a merge.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Merged {
    /// The text; conflicts stand in it between markers.
    pub text: String,
    /// What the conflicts are about.
    pub conflicts: Vec<String>,
}

/// What stands around a text that is merged: whether a guard is weaker hangs on its house and bases as well.
#[derive(Clone, Debug)]
pub struct Around {
    /// Where the text belongs.
    pub path: PathBuf,
    /// The texts beside it.
    pub texts: Texts,
}

impl Around {
    fn version(&self, text: &str, memo: &mut Memo) -> Version {
        let mut all = self.texts.clone();
        all.push((self.path.clone(), Arc::from(text)));
        Version::of(all, &|path: &Path| path == self.path, memo)
    }

    /// What asks for less care in one text than in another, or can't be told.
    fn looser(&self, before: &str, now: &str) -> Vec<Compared> {
        let mut memo = Memo::default();
        let (before, now) = (self.version(before, &mut memo), self.version(now, &mut memo));
        let mut all = compare(&before, &now, false);
        all.retain(|c| c.is_looser() || matches!(c.status, Status::Unreadable(_)));
        all
    }
}

/// Merges two texts that came from one. None if one of the three can't be read: then only its lines can be merged.
#[must_use]
pub fn merge(base: &str, ours: &str, theirs: &str, around: &Around) -> Option<Merged> {
    let read = |text: &str| items::of(text, &grammar::parse(text));
    let ((b, b_end), (o, o_end), (t, t_end)) = (read(base)?, read(ours)?, read(theirs)?);
    let mut merger = Merger { base, around, conflicts: Vec::new() };
    let blocks = merger.list([b, o.clone(), t.clone()], 0, None);
    let end = comments(&b_end, &o_end, &t_end);
    let text = blocks.iter().map(|(_, text)| format!("{text}\n\n")).collect::<String>();
    let text = if end.is_empty() { text } else { format!("{text}{end}\n") };
    if !merger.conflicts.is_empty() {
        return Some(Merged { text, conflicts: merger.conflicts });
    }
    let text = grammar::format(&text).ok()?;
    if !grammar::errors(&grammar::parse(&text)).is_empty() {
        return None;
    }
    // Two edits that are harmless each may ask for less together.
    let mut weaker: Vec<(String, String)> = Vec::new();
    for side in [ours, theirs] {
        for one in around.looser(side, &text) {
            let what = one.changes().iter().find(|c| c.rank == Rank::Looser).map(crate::compare::Change::sentence);
            weaker.push((one.name.to_string(), what.unwrap_or_default()));
        }
    }
    let text = if weaker.is_empty() { text } else { whole(&blocks, &weaker, &o, &t, &end, &mut merger.conflicts)? };
    Some(Merged { text, conflicts: merger.conflicts })
}

/// The blocks that ask for less care whole from both sides, for a person to look at.
fn whole(
    blocks: &[(String, String)],
    weaker: &[(String, String)],
    ours: &[Item],
    theirs: &[Item],
    end: &str,
    conflicts: &mut Vec<String>,
) -> Option<String> {
    let mut out = String::new();
    for (key, text) in blocks {
        let name = key.split_once(' ').map_or(key.as_str(), |(_, name)| name);
        let find = |side: &[Item]| side.iter().find(|i| i.key == *key).map(|i| with_lead(&i.lead, &i.text));
        match (weaker.iter().find(|(n, _)| n == name), find(ours).zip(find(theirs))) {
            (Some((_, what)), Some((o, t))) => {
                conflicts.push(format!("{key} asks for less care: {what}"));
                out.push_str(&marked(&o, &t));
            }
            _ => out.push_str(text),
        }
        out.push_str("\n\n");
    }
    // What is weaker lies in another file, which hangs on this one: then all of this one is looked at.
    if conflicts.is_empty() {
        let all = |side: &[Item]| side.iter().map(|i| with_lead(&i.lead, &i.text)).collect::<Vec<_>>().join("\n\n");
        let (name, what) = weaker.first()?;
        conflicts.push(format!("{name} asks for less care: {what}"));
        out = marked(&all(ours), &all(theirs)) + "\n";
    }
    if !end.is_empty() {
        out.push_str(end);
        out.push('\n');
    }
    Some(out)
}

struct Merger<'a> {
    base: &'a str,
    around: &'a Around,
    conflicts: Vec<String>,
}

impl Merger<'_> {
    /// A list of items, each with its key: in our order, theirs where they stand beside one that both have.
    /// Inside a guard, `guard` is where in the base it ends.
    fn list(&mut self, mut lists: [Vec<Item>; 3], depth: usize, guard: Option<usize>) -> Vec<(String, String)> {
        by_words(&mut lists);
        let [b, o, t] = &lists;
        let find = |list: &'_ [Item], key: &str| list.iter().position(|i| i.key == key);
        let mut order: Vec<String> = o.iter().map(|i| i.key.clone()).collect();
        for (number, item) in t.iter().enumerate() {
            if order.contains(&item.key) {
                continue;
            }
            let before = t.iter().take(number).rev().find_map(|i| order.iter().position(|k| *k == i.key));
            order.insert(before.map_or(0, |at| at + 1), item.key.clone());
        }
        // What both took away isn't missed; what one took away is looked at.
        let gone = b.iter().filter(|i| find(o, &i.key).is_none() && find(t, &i.key).is_none());
        debug_assert!(gone.clone().all(|i| !order.contains(&i.key)));
        let mut out = Vec::new();
        for key in order {
            let of = |list: &'_ [Item]| find(list, &key).and_then(|n| list.get(n)).cloned();
            if let Some(text) = self.item([of(b), of(o), of(t)], depth, guard) {
                out.push((key, text));
            }
        }
        out
    }

    /// One item of the three; none if it is gone.
    fn item(&mut self, [b, o, t]: [Option<Item>; 3], depth: usize, guard: Option<usize>) -> Option<String> {
        let words = |i: &Option<Item>| i.as_ref().map(|i| plain(&i.text));
        let (was, ours, theirs) = (words(&b), words(&o), words(&t));
        let lead = comments(of_lead(&b), of_lead(&o), of_lead(&t));
        let one = |i: &Option<Item>| i.as_ref().map(|i| with_lead(&lead, &i.text));
        if ours == theirs {
            return one(&o);
        }
        // Where both still have it with the same head, what it holds is merged by itself.
        if let (Some(x), Some(y)) = (&o, &t)
            && let (Some(x), Some(y)) = (&x.inner, &y.inner)
        {
            let base = b.as_ref().and_then(|b| b.inner.clone());
            let head = plain(&x.head);
            if head == plain(&y.head) && base.as_ref().is_none_or(|b| plain(&b.head) == head) {
                return Some(with_lead(&lead, &self.inner(base, x, y, depth, guard)));
            }
        }
        let (edited, kept, other) = if theirs == was { (&o, &b, &t) } else { (&t, &b, &o) };
        if words(other) == was {
            // One side alone edited it, took it away or added it.
            let own = kept.as_ref().is_some_and(|k| k.careful);
            let careful = guard.is_some() || own;
            // A guard that the base asks for anyway today may be all that is left tomorrow.
            let away = own && edited.is_none();
            // An override that one side wrote takes care away that the other side counts on.
            let overrides = edited.as_ref().is_some_and(|e| e.overrides);
            if !overrides && !away && (!careful || !self.is_weaker(kept.as_ref(), edited.as_ref(), guard)) {
                return one(edited);
            }
        }
        let name = o.as_ref().or(t.as_ref()).or(b.as_ref()).map(|i| i.key.clone()).unwrap_or_default();
        self.conflicts.push(name.split(" = ").next().unwrap_or(&name).to_owned());
        let side = |i: &Option<Item>| i.as_ref().map(|i| with_lead(&i.lead, &i.text)).unwrap_or_default();
        Some(marked(&side(&o), &side(&t)))
    }

    fn inner(
        &mut self,
        base: Option<Inner>,
        ours: &Inner,
        theirs: &Inner,
        depth: usize,
        guard: Option<usize>,
    ) -> String {
        let guard = guard.or_else(|| base.as_ref().filter(|b| b.guard).map(|b| b.end));
        let (items, tail, close) = base.map(|b| (b.items, b.tail, b.close)).unwrap_or_default();
        let list = self.list([items, ours.items.clone(), theirs.items.clone()], depth + 1, guard);
        let tail = comments(&tail, &ours.tail, &theirs.tail);
        let close = comments(&close, &ours.close, &theirs.close).replace('\n', " ");
        let short = |text: &str| !text.contains('\n') && !text.contains("--");
        if ours.one_line && theirs.one_line && tail.is_empty() && list.iter().all(|(_, text)| short(text)) {
            let items: Vec<&str> = list.iter().map(|(_, text)| text.as_str()).collect();
            return format!("{} {} }} {close}", ours.head, items.join("; ")).trim_end().to_owned();
        }
        let pad = "  ".repeat(depth + 1);
        let indented = |text: &str| -> String {
            let marker = |l: &str| ["<<<<<<<", "=======", ">>>>>>>"].iter().any(|m| l.starts_with(m));
            // What is further in than its first line stays so.
            let placed = |l: &str| marker(l) || l.is_empty() || l.starts_with([' ', '\t']);
            let line = |l: &str| if placed(l) { format!("{l}\n") } else { format!("{pad}{l}\n") };
            text.lines().map(line).collect()
        };
        let lines: String = list.iter().map(|(_, text)| indented(text)).collect();
        let tail = if tail.is_empty() { tail } else { indented(&tail) };
        let close = if close.is_empty() { close } else { format!("  {close}") };
        format!("{}\n{lines}{tail}}}{close}", ours.head)
    }

    /// Whether the base, with this one edit, asks for less care.
    fn is_weaker(&self, before: Option<&Item>, now: Option<&Item>, guard: Option<usize>) -> bool {
        // What is new stands at the end of its guard; elsewhere a line more takes no care away.
        let at = before.map(|b| b.at).or_else(|| guard.map(|end| (end, end)));
        let Some((start, end)) = at else { return false };
        let (Some(head), Some(rest)) = (self.base.get(..start), self.base.get(end..)) else { return true };
        let edited = format!("{head}\n{}\n{rest}", now.map_or("", |n| n.text.as_str()));
        !self.around.looser(self.base, &edited).is_empty()
    }
}

fn of_lead(item: &Option<Item>) -> &str {
    item.as_ref().map_or("", |i| i.lead.as_str())
}

/// Comments of both sides: where both changed them, those of both.
fn comments(base: &str, ours: &str, theirs: &str) -> String {
    if ours == theirs || theirs == base {
        return ours.to_owned();
    }
    if ours == base {
        return theirs.to_owned();
    }
    let mut lines: Vec<&str> = ours.lines().collect();
    lines.extend(theirs.lines().filter(|l| !ours.lines().any(|o| o.trim() == l.trim())));
    lines.join("\n")
}

fn with_lead(lead: &str, text: &str) -> String {
    if lead.is_empty() { text.to_owned() } else { format!("{lead}\n{text}") }
}

fn marked(ours: &str, theirs: &str) -> String {
    let end = |text: &str| if text.is_empty() { String::new() } else { format!("{text}\n") };
    format!("<<<<<<< ours\n{}=======\n{}>>>>>>> theirs", end(ours), end(theirs))
}
