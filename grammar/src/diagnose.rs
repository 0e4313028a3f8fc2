//! What to say about a line that the grammar can't read: only for bad lines, so it may take its time.
//!
//! First the slips with one sure cure are tried: a misspelt small word is replaced and the line read again, and only
//! if that works is the cure offered (and the statement kept). Otherwise pest's own list of what could have come is
//! turned into a groomer's words.

use pest::Parser;
use pest::error::{Error, ErrorVariant, InputLocation};

use crate::error::{Fix, SyntaxError};
use crate::line::Line;
use crate::read::{Rule, TrimParser, first_word};
use crate::slips;
use crate::words;

/// Longer lines aren't tried again word by word.
const MAX_RETRY: usize = 2_000;

fn place(e: &Error<Rule>) -> usize {
    match e.location {
        InputLocation::Pos(p) | InputLocation::Span((p, _)) => p,
    }
}

/// Finds the one misspelt word that explains a bad line: says so, and gives the line as it was meant.
pub(crate) fn mend<'a>(
    rule: Rule,
    line: &Line<'a>,
    e: &Error<Rule>,
    errors: &mut Vec<SyntaxError>,
) -> Option<Line<'a>> {
    let text: &str = &line.text;
    if text.len() > MAX_RETRY {
        return None;
    }
    let at = place(e);
    if let Some(fixed) = slips::mended(rule, line, errors).or_else(|| glued(rule, line, errors)) {
        return Some(fixed);
    }
    // The words around the place where reading stopped, nearest first; the first word is known to be right.
    let mut spots: Vec<(usize, usize)> = Vec::new();
    let mut from = first_word(text).len();
    while let Some(n) = text.get(from..).and_then(|r| r.find(|c: char| c.is_alphabetic())) {
        let start = from + n;
        let len = first_word(text.get(start..).unwrap_or("")).len().max(1);
        if !in_quotes(text, start) {
            spots.push((start, start + len));
        }
        from = start + len;
    }
    spots.sort_by_key(|(s, e)| if *s > at { (s - at) * 2 + 1 } else { at.saturating_sub(*e) * 2 });
    let near: Vec<(usize, usize, Vec<&str>)> =
        spots.into_iter().take(4).map(|(s, t)| (s, t, text.get(s..t).map(near).unwrap_or_default())).collect();
    for (s, t, all) in &near {
        for candidate in all {
            let fixed = line.replaced(*s, *t, candidate);
            if TrimParser::parse(rule, &fixed.text).is_ok() {
                errors.push(misspelt(line, (*s, *t), candidate));
                return Some(fixed);
            }
        }
    }
    // A tired hand: two of them. The later is written first, so that the earlier stays where it is.
    for (number, one) in near.iter().enumerate() {
        for two in near.iter().skip(number + 1) {
            let (first, last) = if one.0 < two.0 { (one, two) } else { (two, one) };
            for later in last.2.iter().take(2) {
                let half = line.replaced(last.0, last.1, later);
                for earlier in first.2.iter().take(2) {
                    let fixed = half.replaced(first.0, first.1, earlier);
                    if TrimParser::parse(rule, &fixed.text).is_ok() {
                        errors.push(misspelt(line, (first.0, first.1), earlier));
                        errors.push(misspelt(line, (last.0, last.1), later));
                        return Some(fixed);
                    }
                }
            }
        }
    }
    // Nothing is misspelt: perhaps a small word is missing.
    if rule == Rule::work { unled(rule, line, errors) } else { None }
}

/// The small words that one may be meant for, the nearest first.
fn near(word: &str) -> Vec<&'static str> {
    if words::SMALL.contains(&word) || words::unit(word).is_some() {
        return Vec::new();
    }
    let n = word.chars().count();
    let most = if n > 5 { 2 } else { 1 };
    let mut near: Vec<(usize, &str)> = words::SMALL
        .iter()
        .map(|w| (words::distance(word, w, most), *w))
        .filter(|(d, w)| *d <= most && (w.len() > 1) && (n > 2 || w.chars().next() == word.chars().next()))
        .collect();
    near.sort_by_key(|(d, w)| (*d, w.chars().next() != word.chars().next(), w.len().abs_diff(n)));
    near.into_iter().take(4).map(|(_, w)| w).collect()
}

fn misspelt(line: &Line, (s, t): (usize, usize), candidate: &str) -> SyntaxError {
    let span = line.span(s, t);
    SyntaxError {
        code: "W012",
        message: format!("`{}` isn't a word that fits here; did you mean `{candidate}`?", line.original(s, t)),
        help: Some(format!("write `{candidate}`")),
        span,
        related: None,
        fix: Some(Fix { title: format!("write `{candidate}`"), span, text: candidate.to_owned() }),
    }
}

/// A blade without its `with`, or a length without its `to`: `clip torso #7F`, `shape topknot 25 mm`.
fn unled<'a>(rule: Rule, line: &Line<'a>, errors: &mut Vec<SyntaxError>) -> Option<Line<'a>> {
    let text = line.text.to_string();
    let starts = |c: char| c == '#' || c.is_ascii_digit() || matches!(c, '½' | '¼' | '¾');
    let at = text.char_indices().find(|(i, c)| starts(*c) && text.get(..*i).is_some_and(|b| b.ends_with(' ')));
    let (at, first) = at.filter(|(i, _)| !in_quotes(&text, *i))?;
    let word = if first == '#' { "with" } else { "to" };
    let fixed = line.replaced(at, at, &format!("{word} "));
    TrimParser::parse(rule, &fixed.text).ok()?;
    let rest = text.get(at..).unwrap_or("");
    let end = at + rest.find([' ', ',']).unwrap_or(rest.len());
    let span = line.span(at, end);
    let with = format!("{word} {}", line.original(at, end));
    errors.push(SyntaxError {
        code: "W012",
        message: format!("`{word}` is missing here"),
        help: Some(format!("write `{with}`")),
        span,
        related: None,
        fix: Some(Fix { title: format!("write `{with}`"), span, text: with }),
    });
    Some(fixed)
}

/// Small words that a measure or blade is sometimes stuck to: `to9mm`, `with#10`; and `with 10` without its `#`.
fn glued<'a>(rule: Rule, line: &Line<'a>, errors: &mut Vec<SyntaxError>) -> Option<Line<'a>> {
    let mut fixed = line.clone();
    let mut found: Vec<SyntaxError> = Vec::new();
    for (word, blade) in
        [("to", false), ("with", false), ("over", false), ("by", false), ("than", false), ("with", true), ("by", true)]
    {
        let text = fixed.text.to_string();
        for (i, _) in text.match_indices(word) {
            let end = i + word.len();
            let rest = text.get(end..).unwrap_or("");
            if !text.get(..i).is_some_and(|b| b.ends_with(' ')) || in_quotes(&text, i) {
                continue;
            }
            let (from, to, with, code, message) = if blade {
                let digits = rest.trim_start();
                let n = digits.find(|c: char| !c.is_ascii_alphanumeric()).unwrap_or(digits.len());
                let blade = digits.get(..n).unwrap_or("");
                if !blade.starts_with(|c: char| c.is_ascii_digit()) || n == 0 {
                    continue;
                }
                let at = end + rest.len() - digits.len();
                let with = format!("#{}", blade.to_uppercase());
                (at, at + n, with.clone(), "W027", format!("a blade is written with `#`: `{with}`"))
            } else {
                if !rest.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '#' | '½' | '¼' | '¾')) {
                    continue;
                }
                let n = rest.find([' ', ',']).unwrap_or(rest.len());
                let with = format!("{word} {}", rest.get(..n).unwrap_or(""));
                (i, end + n, with.clone(), "W012", format!("a blank is missing after `{word}`"))
            };
            let span = fixed.span(from, to);
            found.push(SyntaxError {
                code,
                message,
                help: Some(format!("write `{with}`")),
                span,
                related: None,
                fix: Some(Fix { title: format!("write `{with}`"), span, text: with.clone() }),
            });
            fixed = fixed.replaced(from, to, &with.to_lowercase());
            break;
        }
        if !found.is_empty() && TrimParser::parse(rule, &fixed.text).is_ok() {
            errors.append(&mut found);
            return Some(fixed);
        }
    }
    None
}

fn in_quotes(text: &str, at: usize) -> bool {
    text.bytes().take(at).filter(|b| *b == b'"').count() % 2 == 1
}

/// Says what is wrong with a line.
pub(crate) fn report(rule: Rule, line: &Line, e: &Error<Rule>, errors: &mut Vec<SyntaxError>) {
    let text: &str = &line.text;
    // A small word at the very end only reads with the blank that something would follow.
    let longer = format!("{text} ");
    let again = TrimParser::parse(rule, &longer).err();
    let e = match &again {
        Some(a) if place(a) > place(e) => a,
        _ => e,
    };
    let mut at = place(e).min(text.len()).max(first_word(text).len());
    while at < text.len() && text.as_bytes().get(at) == Some(&b' ') {
        at += 1;
    }
    let word = first_word(text);
    if let Some(need) = lacks(rule, text) {
        let end = text.trim_end().len();
        let last = text.get(..end).unwrap_or("").rfind(' ').map_or(0, |i| i + 1);
        let last = if in_quotes(text, last) { 0 } else { last };
        errors.push(SyntaxError {
            code: "W011",
            message: format!("this `{word}` is without {need}"),
            help: Some(format!("write it like `{}`", example(rule, word))),
            span: line.span(last, end.max(last + 1)),
            related: None,
            fix: None,
        });
        return;
    }
    if at >= text.trim_end().len() {
        let start = text.trim_end().char_indices().next_back().map_or(0, |(i, _)| i);
        let last = text.get(..start).unwrap_or("").rfind(' ').map_or(0, |i| i + 1);
        errors.push(SyntaxError {
            code: "W011",
            message: format!("this `{word}` ends too early{}", wanted(e, "; next must come ")),
            help: Some(format!("write it like `{}`", example(rule, word))),
            span: line.span(last, text.trim_end().len().max(last + 1)),
            related: None,
            fix: None,
        });
        return;
    }
    let rest = text.get(at..).unwrap_or("");
    let before = text.get(..at).unwrap_or("").trim_end();
    if before.ends_with('-') && !before.ends_with(" -") && at > before.len() {
        let span = line.span(before.len() - 1, before.len());
        errors.push(SyntaxError {
            code: "W021",
            message: "a minus needs a blank on both sides".to_owned(),
            help: Some("write ` - `, so that it isn't taken for part of a name".to_owned()),
            span,
            related: None,
            fix: Some(Fix { title: "write ` -`".to_owned(), span, text: " -".to_owned() }),
        });
        return;
    }
    if rule == Rule::about {
        errors.push(SyntaxError {
            code: "W024",
            message: "the words of `about` stand in quotes, or on lines of their own below it".to_owned(),
            help: Some("put `\"` before and after the words".to_owned()),
            span: line.span(at, text.trim_end().len()),
            related: None,
            fix: (!rest.contains('"')).then(|| Fix {
                title: "put it in quotes".to_owned(),
                span: line.span(at, text.trim_end().len()),
                text: format!("\"{}\"", line.original(at, text.trim_end().len())),
            }),
        });
        return;
    }
    if rule == Rule::short
        && let Some(bound) =
            ["last", "first", "untouched", "no ", "at most", "never", "open"].iter().find(|b| rest.starts_with(*b))
    {
        let _ = bound;
        let span = line.span(0, word.len());
        errors.push(SyntaxError {
            code: "W033",
            message: format!("a rule for `{word}` begins with `keep`"),
            help: Some(format!("write `keep {}`", text.trim_end())),
            span,
            related: None,
            fix: Some(Fix { title: "write `keep` first".to_owned(), span, text: format!("keep {word}") }),
        });
        return;
    }
    let len = rest.find([' ', ',']).unwrap_or(rest.len()).max(rest.chars().next().map_or(1, char::len_utf8));
    let shown = line.original(at, at + len);
    let shown = if shown.is_empty() { rest.get(..len).unwrap_or("") } else { shown };
    errors.push(SyntaxError {
        code: "W010",
        message: format!("`{shown}` doesn't fit here{}", wanted(e, "; this could come: ")),
        help: Some(format!("write it like `{}`", example(rule, word))),
        span: line.span(at, at + len),
        related: None,
        fix: None,
    });
}

/// The small word that a kind of line can't do without, if it isn't there.
fn lacks(rule: Rule, text: &str) -> Option<&'static str> {
    let has = |w: &str| text.split([' ', ',']).any(|x| x == w);
    match rule {
        Rule::param | Rule::let_ if !has("is") && !text.contains('=') => Some("`is` and a value"),
        Rule::blend if !has("into") => Some("`into` and the part that it runs into"),
        Rule::order if !has("before") => Some("`before` and what comes later"),
        Rule::line if !has("between") && !has("from") => Some("`between … and …` or `from … to …`"),
        Rule::card_mats if !has("on") => Some("`on` and the part where they are"),
        _ => None,
    }
}

/// What could have come, in a groomer's words: at most four things.
fn wanted(e: &Error<Rule>, lead: &str) -> String {
    let ErrorVariant::ParsingError { positives, .. } = &e.variant else { return String::new() };
    let mut said: Vec<&'static str> = Vec::new();
    for r in positives {
        if let Some(w) = words_for(*r)
            && !said.contains(&w)
        {
            said.push(w);
        }
    }
    said.sort_by_key(|w| LAST.iter().position(|l| l == w).map_or(0, |i| i + 1));
    said.truncate(4);
    match said.split_last() {
        None => String::new(),
        Some((one, [])) => format!("{lead}{one}"),
        Some((last, rest)) => format!("{lead}{} or {last}", rest.join(", ")),
    }
}

/// Things that could come nearly anywhere are named last.
const LAST: [&str; 4] =
    ["a direction such as `in reverse`", "passes such as `one pass`", "a reason: `because \"…\"`", "`except …`"];

/// A rule of the grammar in a groomer's words; nothing for rules that say nothing to one.
const fn words_for(r: Rule) -> Option<&'static str> {
    Some(match r {
        Rule::zones | Rule::zone_ref | Rule::exp_zones | Rule::exp_ref | Rule::side => "a part of the dog",
        Rule::name | Rule::word | Rule::head_name | Rule::bare_name => "a name",
        Rule::number => "a number",
        Rule::sum | Rule::range | Rule::pair => "a measure such as `9 mm`",
        Rule::blade => "a blade such as `#10`",
        Rule::tool | Rule::comb | Rule::with => "a tool such as `with #10`",
        Rule::string => "words in quotes",
        Rule::date => "a date such as `2026-11-20`",
        Rule::to => "a length such as `to 9 mm`",
        Rule::room => "room such as `over two fingers`",
        Rule::dir_with | Rule::dir_rev | Rule::dir_across => "a direction such as `in reverse`",
        Rule::passes => "passes such as `one pass`",
        Rule::because => "a reason: `because \"…\"`",
        Rule::manner => "a way of working",
        Rule::bound => "a limit such as `no closer than #10` or `at most 45 mm`",
        Rule::no_closer | Rule::no_shorter => "`no closer than …`",
        Rule::at_most => "`at most …`",
        Rule::before => "`before`",
        Rule::from_where => "`from` with its folder in quotes",
        Rule::cond => "a condition such as `weight under 6 kg`",
        Rule::on_zones => "a place: `on …`",
        Rule::except => "`except …`",
        Rule::gap_word => "fine, medium, open or skip",
        Rule::landmark => "a place on the dog",
        _ => return None,
    })
}

/// An example of the right form for each kind of line.
fn example(rule: Rule, word: &str) -> String {
    match rule {
        Rule::work if word == "thin" => "thin ears to 4 mm with thinners-46".to_owned(),
        Rule::work if word == "scissor" => "scissor legs to 25 mm".to_owned(),
        Rule::work if matches!(word, "hand-strip" | "card" | "rake" | "leave") => format!("{word} jacket"),
        Rule::work => format!("{word} torso with #7F with the coat"),
        Rule::work_two if word == "hand" => "hand-strip jacket by hand".to_owned(),
        Rule::work_two => "set in torso to 9 mm with the coat".to_owned(),
        Rule::short => format!("{word} round"),
        Rule::blend => "blend neck into shoulder over three fingers by skimming".to_owned(),
        Rule::line => "line between cheeks and topknot".to_owned(),
        Rule::order => "order feet before legs".to_owned(),
        Rule::edge => format!("{word} head"),
        Rule::param => "param body-length is 9 mm, within 6 mm to 13 mm".to_owned(),
        Rule::let_ => "let leg-length is body-length + 3 mm".to_owned(),
        Rule::extends => {
            "extends saltmarsh-base version 3` or `extends saltmarsh-base from \"../saltmarsh\"".to_owned()
        }
        Rule::lasts => "lasts 6 weeks { topknot at most 45 mm }".to_owned(),
        Rule::guard => "guard irritation { skim belly-rear with #10 with the coat, one pass }".to_owned(),
        Rule::keep => "keep belly no closer than #10".to_owned(),
        Rule::override_ => "override ears never plucking by \"head groomer\" because \"…\"".to_owned(),
        Rule::cap => "topknot at most 45 mm".to_owned(),
        Rule::when if word == "serves" => "serves weight 3 kg to 35 kg".to_owned(),
        Rule::when | Rule::else_when => {
            format!("{word}{} weight under 6 kg {{ … }}", if word == "else" { " when" } else { "" })
        }
        Rule::card_coat => "coat fleece, undercoat some, 48 mm; topknot 70 mm".to_owned(),
        Rule::card_finding => "finding irritation on throat after #10 in reverse seen 2026-08-02".to_owned(),
        Rule::card_mats => "mats tight on breeches, 20 mm off the skin".to_owned(),
        Rule::wants => "wants harbour-short but { leave ears }".to_owned(),
        Rule::given => "given dog bramble".to_owned(),
        Rule::expect => "expect belly-rear skim with #10".to_owned(),
        Rule::about => "about \"A short, even trim.\"".to_owned(),
        Rule::bare if word == "prep" => "prep { bath; dry stretch }".to_owned(),
        Rule::bare => "else { shape topknot to 25 mm by shears }".to_owned(),
        Rule::head => format!("{word} harbour-short {{"),
        _ => format!("{word} \"…\""),
    }
}
