//! Sets of sites in words: groups where whole, zones where not, sides where only one.

use crate::names::sites::Sites;
use crate::names::trade::{Side, Trade};

/// Groups that people don't speak with on a sheet: they only hold others in the basics.
const SILENT: &[&str] = &["whole-coat", "inside-legs", "folds", "ear-leather", "feathering"];

/// A set of sites as few words as possible: `torso, legs`, `left ribs`.
#[must_use]
pub fn zone_words(trade: &Trade, sites: Sites) -> String {
    list_words(&zone_list(trade, sites))
}

/// The same as texts write it, each to follow a verb: an exception takes from all that is listed before it, so that it has a list of
/// its own.
#[must_use]
pub fn zone_lists(trade: &Trade, sites: Sites) -> Vec<String> {
    let (cut, whole): (Vec<String>, Vec<String>) =
        zone_list(trade, sites).into_iter().partition(|words| words.contains(" except "));
    let mut lists: Vec<String> = cut.into_iter().map(|words| words.replace(" and ", ", ")).collect();
    if !whole.is_empty() {
        lists.insert(0, whole.join(", "));
    }
    lists
}

/// Words with commas, the last with `and`.
#[must_use]
pub fn list_words(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [all @ .., last] => format!("{} and {last}", all.join(", ")),
    }
}

fn zone_list(trade: &Trade, sites: Sites) -> Vec<String> {
    let mut left = sites;
    // A dog has no vulva and a bitch no prepuce: a group is whole without the one that isn't there.
    let absent = trade
        .zones
        .iter()
        .filter(|z| z.sex.is_some() && !z.sites().meets(sites))
        .fold(Sites::NONE, |set, z| set | z.sites());
    let mut words: Vec<(u8, String)> = Vec::new();
    let mut groups: Vec<(&str, Sites)> = trade
        .groups
        .iter()
        .map(|(name, g)| (name.as_str(), g.sites - absent))
        .filter(|(name, g)| g.len() > 1 && g.within(sites) && !SILENT.contains(name))
        .collect();
    // The group that says most first; of equals the one that comes first in the alphabet.
    groups.sort_by_key(|(name, sites)| (std::cmp::Reverse(sites.len()), *name));
    for (name, group) in groups {
        // Worth a word if all it names is still unsaid, and it says more than one zone.
        if group.within(left) && trade.zones.iter().filter(|z| z.sites().meets(group)).count() > 1 {
            left = left - group;
            let first = group.iter().next().map_or(0, |s| s.0);
            words.push((first, name.replace('-', " ")));
        }
    }
    // `hind legs except breeches`, where that says much in few words.
    let zones = |set: Sites| trade.zones.iter().filter(move |z| z.sites().within(set) && !z.sites().is_empty());
    let mut nearly: Vec<(usize, &str, Sites)> = trade
        .groups
        .iter()
        .map(|(name, g)| (name.as_str(), g.sites - absent))
        .filter(|(name, g)| g.meets(left) && !SILENT.contains(name))
        // A zone has two sites at most; most groups are told apart by that.
        .filter(|(_, g)| (1..=4).contains(&(*g - sites).len()) && (*g & left).len() >= 4)
        .filter_map(|(name, g)| {
            let (here, missing) = (zones(g & left).count(), zones(g - sites).count());
            let whole = (g - sites).iter().all(|s| trade.zone_of(s).is_some_and(|(z, _)| z.sites().within(g - sites)));
            (whole && here >= 4 && (1..=2).contains(&missing) && (g & sites).within(left)).then_some((here, name, g))
        })
        .collect();
    nearly.sort_by_key(|(here, name, _)| (std::cmp::Reverse(*here), *name));
    for (_, name, group) in nearly {
        if !(group & sites).within(left) || !group.meets(left) {
            continue;
        }
        left = left - group;
        let missing: Vec<String> = zones(group - sites).map(|z| z.name.replace('-', " ")).collect();
        let first = group.iter().next().map_or(0, |s| s.0);
        words.push((first, format!("{} except {}", name.replace('-', " "), missing.join(" and "))));
    }
    for zone in &trade.zones {
        let own = zone.sites() & left;
        if own.is_empty() {
            continue;
        }
        let name = zone.name.replace('-', " ");
        let side = if zone.paired && own != zone.sites() {
            trade.zone_of(own.iter().next().unwrap_or(zone.site)).and_then(|(_, side)| side)
        } else {
            None
        };
        let word = match side {
            Some(Side::Left) => format!("left {name}"),
            Some(Side::Right) => format!("right {name}"),
            None => name,
        };
        words.push((zone.site.0, word));
    }
    words.sort();
    words.into_iter().map(|(_, word)| word).collect()
}
