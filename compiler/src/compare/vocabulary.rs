//! What a house adds to the basics, before and now: findings with their keeps, tools, kits and the rest.

use super::both::Side;
use super::keeps::{bound_words, holds};
use super::version::One;
use super::{Change, Rank};
use crate::names::lower::Decl;
use crate::names::trade::{Bound, Finding, KeepOn, Reply, Trade};
use grammar::tree::BlockKind;
use std::collections::BTreeMap;

/// What is declared otherwise. Keeps of findings are held against one another; other declarations by their text.
pub(super) fn changes(old: &One<'_>, new: &One<'_>, sides: (Side<'_>, Side<'_>), out: &mut Vec<Change>) {
    let mut tell = |rank, what: String, old: &str, new: &str| {
        out.push(Change::plain(rank, what, old.to_owned(), new.to_owned()));
    };
    let key = |d: &Decl<'_>| (d.block.keyword.text.to_string(), d.name().to_string());
    let all = |one: &One<'_>| -> BTreeMap<(String, String), (BlockKind, String)> {
        one.salon.added.iter().map(|d| (key(d), (d.block.kind, meaning(one.text(d))))).collect()
    };
    let (was, is) = (all(old), all(new));
    for ((word, name), (kind, text)) in &was {
        let what = format!("{word} {}", name.replace('-', " "));
        let Some((_, now)) = is.get(&(word.clone(), name.clone())) else {
            // Nobody has to heed what nobody can name: a finding that is gone takes its keeps along.
            let rank = if *kind == BlockKind::Finding { Rank::Looser } else { Rank::Other };
            tell(rank, what, "declared", "gone");
            continue;
        };
        if text == now {
            continue;
        }
        match kind {
            BlockKind::Finding => {
                let (a, b) = (finding(sides.0.trade, name), finding(sides.1.trade, name));
                let Some((a, b)) = a.zip(b) else { continue };
                let before = keeps(a, b, sides.0, sides.1.trade);
                let after = keeps(b, a, sides.1, sides.0.trade);
                for keep in &before {
                    tell(Rank::Looser, what.clone(), keep, "gone or weaker");
                }
                for keep in &after {
                    tell(Rank::Tighter, what.clone(), "none or weaker", keep);
                }
                if care(a.reply) != care(b.reply) {
                    let rank = if care(b.reply) < care(a.reply) { Rank::Looser } else { Rank::Tighter };
                    tell(
                        rank,
                        what.clone(),
                        &format!("{:?}", a.reply).to_lowercase(),
                        &format!("{:?}", b.reply).to_lowercase(),
                    );
                } else if before.is_empty() && after.is_empty() {
                    tell(Rank::Other, what, "declared", "declared otherwise");
                }
            }
            BlockKind::Kit => {
                let (a, b) = (owned(sides.0.trade, name), owned(sides.1.trade, name));
                let only = |a: &[String], b: &[String]| {
                    let own: Vec<&str> = a.iter().filter(|t| !b.contains(t)).map(String::as_str).collect();
                    if own.is_empty() { "nothing else".to_owned() } else { own.join(", ") }
                };
                if a != b {
                    tell(Rank::Other, what, &only(&a, &b), &only(&b, &a));
                }
            }
            // A zone, a mark or a tool can hold keeps; the recipes tell whether they still bind.
            _ => tell(Rank::Other, what, "declared", "declared otherwise"),
        }
    }
    for (word, name) in is.keys().filter(|key| !was.contains_key(*key)) {
        tell(Rank::Other, format!("{word} {}", name.replace('-', " ")), "none", "declared");
    }
}

/// A declaration without its comments and blanks.
fn meaning(text: &str) -> String {
    let line = |l: &str| l.split(" -- ").next().unwrap_or("").split_whitespace().collect::<Vec<_>>().join(" ");
    text.lines()
        .filter(|l| !l.trim_start().starts_with("--"))
        .map(line)
        .filter(|l| !l.is_empty())
        .collect::<Vec<_>>()
        .join("\n")
}

fn finding<'t>(trade: &'t Trade, name: &str) -> Option<&'t Finding> {
    trade.finding(*trade.index.findings.get(name)?)
}

/// How much care a reply takes.
const fn care(reply: Reply) -> u8 {
    match reply {
        Reply::Raise => 0,
        Reply::Answer => 1,
        Reply::Leave => 2,
        Reply::Refer => 3,
    }
}

/// The keeps of a finding that it doesn't ask for any more.
fn keeps(from: &Finding, to: &Finding, side: Side<'_>, trade: &Trade) -> Vec<String> {
    let reaches = |a: KeepOn, b: KeepOn| match (a, b) {
        (KeepOn::Sites(a), KeepOn::Sites(b)) => a.within(b),
        (a, b) => a == b,
    };
    let lost = from.keeps.iter().filter(|keep| {
        let now: Vec<&Bound> = to.keeps.iter().filter(|k| reaches(keep.on, k.on)).map(|k| &k.bound).collect();
        !holds(&now, &keep.bound, trade)
    });
    lost.map(|keep| format!("keep {}", bound_words(&keep.bound, side))).collect()
}

fn owned(trade: &Trade, name: &str) -> Vec<String> {
    let kit = trade.index.kits.get(name).and_then(|k| trade.kits.get(usize::from(k.0)));
    let tools = kit.into_iter().flat_map(|k| &k.owns);
    tools
        .filter_map(|(t, n)| {
            trade.tool(*t).map(|t| if *n > 1 { format!("{n} of {}", t.name) } else { t.name.to_string() })
        })
        .collect()
}
