//! Messages over many dogs: each once, with the dog it fails for.

use super::dog_card::card;
use crate::diagnostic::Diagnostic;
use crate::names::card::Dog;
use crate::names::trade::{Sex, Trade};
use crate::source::Place;
use smol_str::SmolStr;
use std::collections::HashSet;

/// One message a rule and statement, with the first dog that it fails for and how many it fails for.
#[derive(Default)]
pub(super) struct Found {
    pub(super) of: usize,
    pub(super) weighed: bool,
    pub(super) recipe: SmolStr,
    pub(super) messages: Vec<(Diagnostic, String, usize)>,
}

impl Found {
    pub(super) fn add(&mut self, said: Vec<Diagnostic>, dog: &Dog, trade: &Trade) {
        let mut once: HashSet<(&'static str, Place)> = HashSet::new();
        for diagnostic in said {
            if !once.insert((diagnostic.code, diagnostic.place)) {
                continue;
            }
            let mut diagnostic = diagnostic;
            match self.messages.iter_mut().find(|(d, _, _)| (d.code, d.place) == (diagnostic.code, diagnostic.place)) {
                Some((_, _, times)) => *times += 1,
                None => {
                    // One name a card, also where a rule fails twice.
                    let before = self.messages.iter().filter(|(d, _, _)| d.code == diagnostic.code).count();
                    let more = if before == 0 { String::new() } else { format!("-{}", before + 1) };
                    let name = format!("fails-{}-{}{more}", self.recipe, diagnostic.code.to_lowercase());
                    diagnostic.dog = Some(card(dog, trade, &name, &self.recipe));
                    self.messages.push((diagnostic, dog_words(dog, trade, self.weighed), 1));
                }
            }
        }
    }

    /// The messages; where not every dog is meant, the dog it fails for is told.
    pub(super) fn told(self) -> impl Iterator<Item = Diagnostic> {
        let of = self.of;
        self.messages.into_iter().map(move |(mut diagnostic, dog, times)| {
            if times < of {
                let why = diagnostic.why.take().map(|w| format!("{w} ")).unwrap_or_default();
                diagnostic.why = Some(format!("{why}The dog it fails for: {dog}."));
            }
            diagnostic
        })
    }
}

/// Whether the weight of these dogs is worth a word: whether it tells any two of them apart.
pub(super) fn weighed(dogs: &[Dog]) -> bool {
    dogs.windows(2).any(|pair| matches!(pair, [a, b] if a.weight != b.weight))
}

/// A dog in a few words: `a bitch of 4.9 kg with a curl coat, face shy`.
pub(super) fn dog_words(dog: &Dog, trade: &Trade, weighed: bool) -> String {
    let sex = if dog.sex == Some(Sex::Bitch) { "a bitch" } else { "a dog" };
    let weight = dog.weight.filter(|_| weighed).map(|w| format!(" of {w}")).unwrap_or_default();
    let coat = dog.coat.and_then(|c| trade.coat(c)).map(|c| format!(" with a {} coat", c.name)).unwrap_or_default();
    let build = dog.build.as_ref().map(|b| format!(", {b}")).unwrap_or_default();
    let findings: String = dog
        .findings
        .iter()
        .filter_map(|f| trade.finding(f.finding))
        .map(|f| format!(", {}", f.name.replace('-', " ")))
        .collect();
    format!("{sex}{weight}{coat}{build}{findings}")
}
