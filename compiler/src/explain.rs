//! The pages of the rules, and showing them in a terminal.

use crate::diagnostic::CODES;
use std::borrow::Cow;

/// Code and page, sorted by code: `docs/codes/*.md`.
static PAGES: &[(&str, &str)] = include!(concat!(env!("OUT_DIR"), "/pages.rs"));

/// The families of rules by the letter of their codes, in the order in which a reader meets them.
const FAMILIES: &[(char, &str)] = &[
    ('W', "The text itself"),
    ('M', "Names and meaning"),
    ('C', "Close to the skin"),
    ('K', "Coat"),
    ('J', "Joins between parts"),
    ('T', "Cases"),
    ('U', "Upkeep until the next visit"),
    ('O', "Order of work"),
    ('H', "House and kit"),
    ('D', "The dog and its card"),
    ('G', "Versions in git"),
    ('V', "The last check"),
];

/// A rule in the list.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Entry {
    /// Its code.
    pub code: &'static str,
    /// What it is about.
    pub title: &'static str,
}

/// A family of rules.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Family {
    /// What its rules have in common.
    pub title: &'static str,
    /// Its rules by code.
    pub entries: Vec<Entry>,
}

/// The page of a code; capitals don't matter.
#[must_use]
pub fn page(code: &str) -> Option<&'static str> {
    let code = code.to_ascii_uppercase();
    PAGES.binary_search_by(|(c, _)| (*c).cmp(code.as_str())).ok().and_then(|i| PAGES.get(i)).map(|(_, page)| *page)
}

/// The codes that have a page.
pub fn pages() -> impl Iterator<Item = &'static str> {
    PAGES.iter().map(|(code, _)| *code)
}

/// The title of a code; capitals don't matter.
#[must_use]
pub fn title(code: &str) -> Option<&'static str> {
    codes().find(|(listed, _)| listed.eq_ignore_ascii_case(code)).map(|(_, title)| title)
}

/// Every code with its title: those of the text, then those of its meaning.
pub fn codes() -> impl Iterator<Item = (&'static str, &'static str)> {
    grammar::CODES.iter().copied().chain(CODES.iter().map(|c| (c.code, c.title)))
}

/// All codes by family.
#[must_use]
pub fn families() -> Vec<Family> {
    let of = |letter| {
        codes().filter(move |(c, _)| c.starts_with(letter)).map(|(code, title)| Entry { code, title }).collect()
    };
    FAMILIES
        .iter()
        .map(|(letter, title)| Family { title, entries: of(*letter) })
        .filter(|family| !family.entries.is_empty())
        .collect()
}

/// The code that was most likely meant.
#[must_use]
pub fn nearest(asked: &str) -> Option<&'static str> {
    let asked = normal(asked);
    codes()
        .map(|(code, _)| (strsim::damerau_levenshtein(&asked, code), code))
        .filter(|(steps, _)| *steps <= 1)
        .min()
        .map(|(_, code)| code)
}

/// `c1` as `C001`.
fn normal(asked: &str) -> String {
    let upper = asked.trim().to_ascii_uppercase().replace(['-', '_', ' '], "");
    let digits = upper.trim_start_matches(|c: char| !c.is_ascii_digit());
    match (upper.strip_suffix(digits), digits.parse::<u16>()) {
        (Some(letters), Ok(number)) => format!("{letters}{number:03}"),
        _ => upper,
    }
}

/// The list of all codes.
#[must_use]
pub fn list(width: usize, colour: bool) -> String {
    let mut out = String::new();
    for family in families() {
        if !out.is_empty() {
            out.push('\n');
        }
        out.push_str(&bold(family.title, colour));
        out.push('\n');
        for Entry { code, title } in family.entries {
            let first = format!("  {code}  ");
            let options = textwrap::Options::new(width).initial_indent(&first).subsequent_indent("        ");
            out.push_str(&textwrap::fill(title, options));
            out.push('\n');
        }
    }
    out
}

/// A page for the terminal: headings bold, code set in, text wrapped.
#[must_use]
pub fn render(markdown: &str, width: usize, colour: bool) -> String {
    let mut page = Page { out: String::new(), text: String::new(), indent: 0, width, colour };
    let mut code = false;
    for line in markdown.lines() {
        let trimmed = line.trim_start();
        if trimmed.starts_with("```") {
            page.end_text();
            code = !code;
        } else if code {
            page.line(&if line.is_empty() { String::new() } else { format!("    {line}") });
        } else if trimmed.is_empty() {
            page.end_text();
            page.line("");
        } else if line.starts_with('#') {
            page.end_text();
            page.line(&bold(&inline(line.trim_start_matches('#').trim(), false), colour));
        } else if trimmed.starts_with('|') || line.starts_with("    ") && page.text.is_empty() {
            page.end_text();
            page.line(line);
        } else {
            if let Some(indent) = item(line) {
                page.end_text();
                page.indent = indent;
            }
            page.add(trimmed);
        }
    }
    page.end_text();
    let text = page.out.trim_end();
    format!("{text}\n")
}

/// How far the text of a list's item is set in, if the line begins one.
fn item(line: &str) -> Option<usize> {
    let trimmed = line.trim_start();
    let marker = if trimmed.starts_with("- ") || trimmed.starts_with("* ") {
        2
    } else {
        let digits = trimmed.chars().take_while(char::is_ascii_digit).count();
        if digits == 0 || !trimmed.chars().skip(digits).collect::<String>().starts_with(". ") {
            return None;
        }
        digits + 2
    };
    Some(line.len() - trimmed.len() + marker)
}

struct Page {
    out: String,
    /// The paragraph or item so far.
    text: String,
    indent: usize,
    width: usize,
    colour: bool,
}

impl Page {
    fn line(&mut self, line: &str) {
        self.out.push_str(line);
        self.out.push('\n');
    }

    fn add(&mut self, words: &str) {
        if !self.text.is_empty() {
            self.text.push(' ');
        }
        self.text.push_str(words.trim_end());
    }

    fn end_text(&mut self) {
        if !self.text.is_empty() {
            let hang = " ".repeat(self.indent);
            let outer = " ".repeat(self.indent.saturating_sub(2) / 2 * 2);
            let options =
                textwrap::Options::new(self.width).initial_indent(&outer).subsequent_indent(&hang).break_words(false);
            let text = textwrap::fill(&inline(&self.text, self.colour), options);
            self.line(&text);
            self.text.clear();
        }
        self.indent = 0;
    }
}

/// Bold words and code within a line. Without colour, code keeps its backticks.
fn inline(text: &str, colour: bool) -> Cow<'_, str> {
    if !text.contains(['*', '`', '[']) {
        return Cow::Borrowed(text);
    }
    let mut out = String::new();
    for (i, part) in text.split('`').enumerate() {
        if i % 2 == 1 {
            out.push_str(&if colour { format!("\x1b[36m{part}\x1b[0m") } else { format!("`{part}`") });
            continue;
        }
        for (i, part) in links(part).split("**").enumerate() {
            out.push_str(&if i % 2 == 1 { bold(part, colour) } else { part.to_owned() });
        }
    }
    Cow::Owned(out)
}

/// `[words](target)` as its words.
fn links(text: &str) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('[') {
        out.push_str(before);
        match after.split_once("](").and_then(|(words, tail)| tail.split_once(')').map(|(_, tail)| (words, tail))) {
            Some((words, tail)) if !words.contains('[') => {
                out.push_str(words);
                rest = tail;
            }
            _ => {
                out.push('[');
                rest = after;
            }
        }
    }
    out + rest
}

fn bold(words: &str, colour: bool) -> String {
    if colour { format!("\x1b[1m{words}\x1b[0m") } else { words.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_misspelt_code_finds_its_neighbour() {
        assert_eq!(nearest("c1"), Some("C001"));
        assert_eq!(nearest("C-002"), Some("C002"));
        assert_eq!(nearest("CO01"), Some("C001"));
        assert_eq!(nearest("M0016"), Some("M016"));
        assert_eq!(nearest("bicycle"), None);
        assert_eq!(nearest("Zß9"), None);
    }

    #[test]
    fn codes_are_listed_once_and_by_family() {
        let families = families();
        let all: Vec<&str> = families.iter().flat_map(|f| f.entries.iter().map(|e| e.code)).collect();
        for (code, _) in codes() {
            assert_eq!(all.iter().filter(|c| **c == code).count(), 1, "{code}");
        }
        let text = list(60, false);
        assert!(text.contains("\nClose to the skin\n  C001  closer to the skin than this place allows\n"), "{text}");
    }

    #[test]
    fn a_page_is_wrapped_and_its_code_is_set_in() {
        let page = "# C001: closer `here`\n\nSome **long** words of text that go on, see [the page](x.md),\nfor `#10` and \
                    more.\n\n```trim\nclip belly with #10\n\n  -- so\n```\n\n- one item that is long enough to be wrapped\n  once\n- \
                    two\n";
        let text = render(page, 40, false);
        assert_eq!(
            text,
            "C001: closer `here`\n\nSome long words of text that go on, see\nthe page, for `#10` and more.\n\n    clip belly \
             with #10\n\n      -- so\n\n- one item that is long enough to be\n  wrapped once\n- two\n"
        );
        assert!(render(page, 40, true).starts_with("\x1b[1mC001: closer `here`\x1b[0m\n"));
    }
}
