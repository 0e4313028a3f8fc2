//! Page two: reasons, cautions, fingerprints, and what a sheet is.

use super::build::Builder;
use super::{Details, ZoneReasons, words};
use crate::basics;
use crate::diagnostic::Severity;
use crate::finish::{Did, Finish, active_keeps};
use crate::names::sites::Sites;
use crate::names::trade::Reply;
use crate::names::zone_words::zone_words;
use crate::source::Place;
use crate::workspace;
use std::path::Path;

impl Builder<'_> {
    pub(super) fn at(&self, place: Place) -> String {
        let name = self.sources.name(place.file);
        let short = name.rsplit('/').next().unwrap_or(name);
        let line = self.sources.line_column(place).0;
        let folder = |name: &'_ str| Path::new(name).parent().map(Path::to_path_buf);
        let own = self.made.choices.place.and_then(|own| folder(self.sources.name(own.file)));
        match own.filter(|own| !basics::holds(place.file) && folder(name).as_ref() != Some(own)) {
            // In another folder, perhaps of another house, a file of the same name may stand.
            Some(own) => {
                let way = workspace::way(&workspace::full(&own), &workspace::full(Path::new(name)));
                format!("{}:{line}", workspace::way_words(&way))
            }
            None => format!("{short}:{line}"),
        }
    }

    /// That the order is the best found, where it isn't known to be the best there is.
    fn order_note(&self) -> Option<String> {
        let order = &self.made.plan.order;
        let seconds = |tenths: u64| words::seconds(tenths.div_ceil(10));
        (!order.proved && !order.groups.is_empty()).then(|| {
            let (takes, least) = (seconds(order.cost), seconds(order.bound));
            format!("The order of work is the best found: changes take {takes}, and no order less than {least}")
        })
    }

    pub(super) fn details(&self, more: Vec<String>) -> Details {
        let trade = &self.made.trade;
        let mut reasons: Vec<ZoneReasons> = Vec::new();
        let mut groups: Vec<(Sites, &Finish)> = Vec::new();
        for finish in &self.made.finishes.all {
            match groups.iter_mut().find(|(_, f)| {
                (&f.fine, &f.rough, &f.reasons, f.outcome)
                    == (&finish.fine, &finish.rough, &finish.reasons, finish.outcome)
            }) {
                Some((sites, _)) => *sites = *sites | Sites::one(finish.site),
                None => groups.push((Sites::one(finish.site), finish)),
            }
        }
        for (sites, finish) in groups {
            let leaves = words::leaves(&finish.fine).map(|l| format!(", leaves {l}")).unwrap_or_default();
            reasons.push(ZoneReasons {
                zones: zone_words(trade, sites),
                work: format!("{}{leaves}", crate::finish::stroke_words(&finish.fine, trade)),
                why: finish.reasons.iter().map(|r| format!("{} ({})", did_words(&r.what), self.at(r.place))).collect(),
            });
        }
        let notes = self
            .made
            .said
            .iter()
            .filter(|d| d.severity < Severity::Error)
            .map(|d| format!("{} {} ({})", d.code, words::sentence(&d.message), self.at(d.place)))
            .chain(self.order_note())
            .collect();
        let mut because: Vec<String> = Vec::new();
        for finish in &self.made.finishes.all {
            for keep in active_keeps(&self.made.choices, trade, &self.made.dog, finish.site) {
                if let crate::finish::Source::Text(entry) = keep.source
                    && let Some(text) = &entry.line.because
                    && !because.contains(text)
                {
                    because.push(text.clone());
                }
            }
        }
        let asks = self.made.choices.finishes.iter().filter_map(|c| c.ask.because.clone());
        for text in asks {
            if !because.contains(&text) {
                because.push(text);
            }
        }
        Details {
            reasons,
            cautions: more,
            because,
            notes,
            made_from: self.made.made_from.clone(),
            terms: TERMS.iter().map(|t| (*t).to_owned()).collect(),
        }
    }
}

/// What a sheet is and isn't.
const TERMS: &[&str] = &[
    "An aid to a trained groomer, who sees the dog and decides; not veterinary advice.",
    "Local law and codes of practice come first; so does the dog's vet.",
    "Lengths are classes: makers differ, and so do coats. Stop when the dog says so.",
];

/// What a reason did, in words.
pub fn did_words(what: &Did) -> String {
    match what {
        Did::SetRough => "set in by".to_owned(),
        Did::Set => "said by".to_owned(),
        Did::WonOver => "counts over".to_owned(),
        Did::Guarded(by) if by == "card" => "the card says".to_owned(),
        Did::Guarded(by) => format!("guarded by {}", by.replace('-', " ")),
        Did::Replied(by, Reply::Raise | Reply::Answer) => format!("made gentler for {}", by.replace('-', " ")),
        Did::Replied(by, Reply::Leave) => format!("left for {}", by.replace('-', " ")),
        Did::Replied(by, Reply::Refer) => format!("for a vet: {}", by.replace('-', " ")),
        Did::Yielded(words) => format!("{words} had to yield"),
        Did::Mat => "the mat leaves no more".to_owned(),
        Did::Overridden(by) => format!("overridden on the word of {by}"),
        Did::Waits => "waits for another visit".to_owned(),
    }
}
