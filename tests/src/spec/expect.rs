//! What a page expects, held against what is said.

use coatwright::{
    diagnostic::{Diagnostic, Severity},
    source::Sources,
};

/// A message as a page would write it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Said {
    /// `main.trim:3`.
    pub at: String,
    pub code: String,
    pub message: String,
    /// The underlined text, its blanks and line ends made one blank.
    pub under: String,
    pub severity: Severity,
}

impl Said {
    pub fn of(diagnostic: &Diagnostic, sources: &Sources) -> Self {
        let (line, _) = sources.line_column(diagnostic.place);
        Self {
            at: format!("{}:{line}", sources.name(diagnostic.place.file)),
            code: diagnostic.code.to_owned(),
            message: diagnostic.message.clone(),
            under: one_line(sources.at(diagnostic.place)),
            severity: diagnostic.severity,
        }
    }

    fn show(&self) -> String {
        format!("{}: {} {} at `{}`", self.at, self.code, self.message, self.under)
    }
}

/// An expected message.
struct Expected<'a> {
    line: &'a str,
    at: &'a str,
    code: &'a str,
    words: &'a str,
    under: Option<&'a str>,
}

impl<'a> Expected<'a> {
    fn read(line: &'a str) -> Option<Self> {
        let (at, rest) = line.split_once(": ")?;
        let (_, number) = at.rsplit_once(':')?;
        number.parse::<usize>().ok()?;
        let (code, words) = rest.split_once(' ').unwrap_or((rest, ""));
        let place = words.strip_suffix('`').and_then(|w| w.rsplit_once("at `"));
        let (words, under) = match place {
            Some((words, under)) if words.is_empty() || words.ends_with(' ') => (words, Some(under)),
            _ => (words, None),
        };
        Some(Self { line, at, code, words: words.trim(), under })
    }

    fn meets(&self, said: &Said) -> bool {
        self.at == said.at
            && self.code == said.code
            && one_line(&said.message).contains(&one_line(self.words))
            && self.under.is_none_or(|u| said.under == one_line(u))
    }
}

/// Every expected line must meet a message of its own, and every message for which `must` holds one line.
pub(super) fn messages(expected: &[String], said: &[Said], must: impl Fn(&Said) -> bool) -> Vec<String> {
    let mut wrong = Vec::new();
    let mut left: Vec<&Said> = said.iter().collect();
    let mut missing = Vec::new();
    for line in expected {
        let Some(wanted) = Expected::read(line) else {
            wrong.push(format!("can't read `{line}`: write `FILE:LINE: CODE words`"));
            continue;
        };
        match left.iter().position(|s| wanted.meets(s)) {
            Some(at) => {
                left.remove(at);
            }
            None => missing.push(wanted.line),
        }
    }
    wrong.extend(missing.iter().map(|line| format!("- not said:     {line}")));
    wrong.extend(left.iter().filter(|s| must(s)).map(|s| format!("+ not expected: {}", s.show())));
    wrong
}

/// Expected lines that fail by their words alone, each with its line in the new words.
pub(super) fn reworded(expected: &[String], said: &[Said]) -> Vec<(String, String)> {
    let mut left: Vec<&Said> = said.iter().collect();
    let mut failing = Vec::new();
    for line in expected {
        let Some(wanted) = Expected::read(line) else { continue };
        match left.iter().position(|s| wanted.meets(s)) {
            Some(at) => drop(left.remove(at)),
            None => failing.push((line, wanted)),
        }
    }
    let mut new = Vec::new();
    for (line, wanted) in failing {
        let like = |s: &&Said| {
            s.at == wanted.at && s.code == wanted.code && wanted.under.is_some_and(|u| one_line(u) == s.under)
        };
        if let Some(at) = left.iter().position(like) {
            new.push((line.clone(), left.remove(at).show()));
        }
    }
    new
}

/// The lines must stand in the text in this order; those with `!` nowhere.
pub(super) fn in_order(expected: &[String], text: &str) -> Vec<String> {
    let text = one_line(text);
    let mut from = 0;
    let mut wrong = Vec::new();
    for line in expected {
        if let Some(never) = line.strip_prefix('!') {
            if text.contains(&one_line(never)) {
                wrong.push(format!("+ not expected: {}", never.trim()));
            }
            continue;
        }
        let wanted = one_line(line);
        match text.get(from..).and_then(|rest| rest.find(&wanted)) {
            Some(at) => from += at + wanted.len(),
            None if text.contains(&wanted) => wrong.push(format!("- too early:    {line}")),
            None => wrong.push(format!("- missing:      {line}")),
        }
    }
    wrong
}

pub(super) fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
