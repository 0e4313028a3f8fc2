//! A page of Markdown as its tests.

/// A page.
#[derive(Clone, Debug, Default)]
pub struct Page {
    /// The headings that have blocks below them.
    pub sections: Vec<Section>,
    /// What is wrong with the page itself.
    pub mistakes: Vec<String>,
}

/// A heading with the blocks below it.
#[derive(Clone, Debug, Default)]
pub struct Section {
    /// The headings that lead to it: `Keeps > Floors`.
    pub title: String,
    /// Its line.
    pub line: usize,
    /// Its blocks, in order.
    pub blocks: Vec<Block>,
}

/// A block of code.
#[derive(Clone, Debug)]
pub enum Block {
    /// A file: name and text.
    Trim(String, String),
    /// What `check` says.
    Messages(Vec<String>),
    /// What stands on a sheet.
    Sheet(Ask, Vec<String>),
    /// Why there is no sheet.
    Refused(Ask, Vec<String>),
    /// What is said beside a sheet.
    Said(Ask, Vec<String>),
    /// What is done at some parts of the dog.
    Finishes(Ask, Vec<String>),
    /// What the cases say when they are run.
    Cases(Vec<String>),
    /// What no case proves.
    Unproven(Vec<String>),
}

/// For whom a sheet is made.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Ask {
    /// The card.
    pub dog: String,
    /// The recipe; none takes what the card wants.
    pub recipe: Option<String>,
    /// The day of the visit.
    pub on: Option<String>,
}

/// Blocks that are there to be read only.
const READ_ONLY: &[&str] = &["console", "text", "json", "rust", "sh"];

/// Reads a page.
#[must_use]
pub fn page(text: &str) -> Page {
    let mut page = Page::default();
    let mut headings: Vec<(usize, String)> = Vec::new();
    let mut section = Section { line: 1, ..Section::default() };
    for item in items(text) {
        match item {
            Item::Heading { level, title, line } => {
                close(&mut page, &mut section);
                headings.retain(|(l, _)| *l < level);
                headings.push((level, title));
                let titles: Vec<&str> = headings.iter().map(|(_, t)| t.as_str()).collect();
                section = Section { title: titles.join(" > "), line, blocks: Vec::new() };
            }
            Item::Code { info, body, line } => match block(&info, &body) {
                Ok(Some(block)) => section.blocks.push(block),
                Ok(None) => {}
                Err(why) => page.mistakes.push(format!("line {line}: {why}")),
            },
            Item::Open { line } => page.mistakes.push(format!("line {line}: this block is never closed")),
        }
    }
    close(&mut page, &mut section);
    page
}

/// The blocks of a page as they stand: line, words after the fence, and text.
#[must_use]
pub fn blocks(text: &str) -> Vec<(usize, String, String)> {
    let code = |item| if let Item::Code { info, body, line } = item { Some((line, info, body)) } else { None };
    items(text).into_iter().filter_map(code).collect()
}

fn close(page: &mut Page, section: &mut Section) {
    let section = std::mem::take(section);
    if section.blocks.is_empty() {
        return;
    }
    if !section.blocks.iter().any(|b| matches!(b, Block::Trim(..))) {
        page.mistakes.push(format!("line {}: `{}` expects something of no file", section.line, section.title));
        return;
    }
    page.sections.push(section);
}

enum Item {
    Heading { level: usize, title: String, line: usize },
    Code { info: String, body: String, line: usize },
    Open { line: usize },
}

fn items(text: &str) -> Vec<Item> {
    let mut items = Vec::new();
    let mut lines = text.lines().zip(1..);
    while let Some((line, number)) = lines.next() {
        if let Some(info) = line.strip_prefix("```") {
            let mut body = String::new();
            let closed = lines.by_ref().map(|(line, _)| line).any(|line| {
                let end = line.trim_end() == "```";
                if !end {
                    body.push_str(line);
                    body.push('\n');
                }
                end
            });
            items.push(if closed {
                Item::Code { info: info.trim().to_owned(), body, line: number }
            } else {
                Item::Open { line: number }
            });
        } else {
            let level = line.chars().take_while(|c| *c == '#').count();
            let rest = line.get(level..).unwrap_or_default();
            if (1..=6).contains(&level) && rest.starts_with(' ') {
                items.push(Item::Heading { level, title: rest.trim().to_owned(), line: number });
            }
        }
    }
    items
}

fn block(info: &str, body: &str) -> Result<Option<Block>, String> {
    let mut words = info.split_whitespace();
    let lines = || whole_lines(body);
    let kind = words.next().unwrap_or_default();
    let block = match kind {
        "trim" => Block::Trim(words.next().unwrap_or("main.trim").to_owned(), body.to_owned()),
        "messages" => Block::Messages(lines()),
        "sheet" => Block::Sheet(ask(&mut words)?, lines()),
        "refused" => Block::Refused(ask(&mut words)?, lines()),
        "said" => Block::Said(ask(&mut words)?, lines()),
        "finishes" => Block::Finishes(ask(&mut words)?, lines()),
        "cases" => Block::Cases(lines()),
        "unproven" => Block::Unproven(lines()),
        "" => return Ok(None),
        other if READ_ONLY.contains(&other) => return Ok(None),
        other => return Err(format!("no block is called `{other}`")),
    };
    match words.next() {
        Some(more) => Err(format!("`{more}` is too much after `{kind}`")),
        None => Ok(Some(block)),
    }
}

/// The lines of a block; one that begins with a blank goes on with the line before it.
fn whole_lines(body: &str) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for line in body.lines().filter(|l| !l.trim().is_empty()) {
        match lines.last_mut() {
            Some(last) if line.starts_with(' ') => *last = format!("{last} {}", line.trim()),
            _ => lines.push(line.trim().to_owned()),
        }
    }
    lines
}

/// The page with some lines of its `messages` blocks in new words, wrapped for a terminal.
#[must_use]
pub fn with_words(text: &str, new: &[(String, String)]) -> String {
    let mut out = String::new();
    let mut inside = false;
    let mut lines = text.lines().peekable();
    while let Some(line) = lines.next() {
        if let Some(info) = line.strip_prefix("```") {
            inside = !inside && info.trim() == "messages";
        } else if inside {
            let mut raw = format!("{line}\n");
            let mut whole = line.trim().to_owned();
            while let Some(more) = lines.next_if(|l| l.starts_with(' ')) {
                raw.push_str(more);
                raw.push('\n');
                whole = format!("{whole} {}", more.trim());
            }
            match new.iter().find(|(old, _)| *old == whole) {
                Some((_, words)) => wrap(words, &mut out),
                None => out.push_str(&raw),
            }
            continue;
        }
        out.push_str(line);
        out.push('\n');
    }
    out
}

/// Lines of at most 76 letters, so that a page fits a terminal.
fn wrap(words: &str, out: &mut String) {
    let mut width = 0;
    for word in words.split_whitespace() {
        let more = word.chars().count() + 1;
        if width > 0 && width + more > 76 {
            out.push_str("\n  ");
            width = 2;
        } else if width > 0 {
            out.push(' ');
        }
        out.push_str(word);
        width += more;
    }
    out.push('\n');
}

fn ask<'a>(words: &mut impl Iterator<Item = &'a str>) -> Result<Ask, String> {
    let mut ask = Ask { dog: words.next().ok_or("a sheet is for a dog: name its card")?.to_owned(), ..Ask::default() };
    while let Some(word) = words.next() {
        if word == "on" {
            ask.on = Some(words.next().ok_or("a date is due after `on`")?.to_owned());
        } else if ask.recipe.is_none() {
            ask.recipe = Some(word.to_owned());
        } else {
            return Err(format!("`{word}` is too much"));
        }
    }
    Ok(ask)
}
