//! What is done to a dog at a site, worked out once for all dogs whose situation there is the same.

use super::sites::Proof;
use crate::diagnostic::{Diagnostic, code};
use crate::finish::{Did, Finish, Situation, applies, binds, finish_site, is_visible, keeps_of};
use crate::names::card::{Dog, Fact};
use crate::names::trade::Reply;
use crate::rules::{COAT_RULES, SiteRule, WORK_RULES};
use std::rc::Rc;

/// What was worked out once for all dogs whose situation at a site is the same.
pub(super) struct Worked {
    pub(super) finish: Option<Rc<Finish>>,
    pub(super) visible: bool,
    /// Whether nothing was said of it but by rules that ask for the coat.
    quiet: bool,
    pub(super) said: Vec<Diagnostic>,
}

impl Proof<'_> {
    /// What is done to a dog at a site, by its number among what was worked out.
    pub(super) fn work(&mut self, number: usize, dog: &Dog) -> usize {
        let row = self.row(number, dog);
        let site = self.at.get(number).map(|at| at.site);
        let coat = site.and_then(|site| dog.coat_at(site)).and_then(|c| self.domain.coats.iter().position(|d| *d == c));
        self.on_coat(row, number, coat.unwrap_or(0), dog)
    }

    /// The number of a dog's situation at a site, whatever its coat.
    pub(super) fn row(&mut self, number: usize, dog: &Dog) -> usize {
        let mut key = std::mem::take(&mut self.scratch);
        self.key(number, dog, &mut key);
        let row = match self.memo.get(key.as_slice()) {
            Some(row) => *row,
            None => {
                let row = self.memo.len();
                self.memo.insert(key.as_slice().into(), row);
                self.rows.resize(self.rows.len() + self.domain.coats.len(), None);
                row
            }
        };
        self.scratch = key;
        row
    }

    /// What is done to a dog at a site, where its situation and its coat there are known.
    pub(super) fn on_coat(&mut self, row: usize, number: usize, coat: usize, dog: &Dog) -> usize {
        let first = row * self.domain.coats.len();
        if let Some(Some(known)) = self.rows.get(first + coat) {
            return *known;
        }
        let Some(site) = self.at.get(number).map(|at| at.site) else { return usize::MAX };
        let mut worked = match self.on_coat_alike(first, coat) {
            Some((finish, visible)) => {
                // The rules ask about this site.
                let here = |f: Rc<Finish>| if f.site == site { f } else { Rc::new(Finish { site, ..(*f).clone() }) };
                self.ruled(finish.map(here), visible, Vec::new(), true, dog)
            }
            None => self.judged(&Situation::of(self.choices, self.trade, dog, site), dog),
        };
        // Which tools are left hangs on every keep: it is asked for by itself.
        worked.said.retain(|d| d.code != code::C010);
        self.worked.push(worked);
        let known = self.worked.len() - 1;
        if let Some(slot) = self.rows.get_mut(first + coat) {
            *slot = Some(known);
        }
        known
    }

    /// What was worked out for a coat on which every tool leaves the same, if nothing was said of it then: messages name coats.
    fn on_coat_alike(&self, first: usize, coat: usize) -> Option<(Option<Rc<Finish>>, bool)> {
        let like = self.domain.like.get(coat).filter(|like| **like != coat)?;
        let known = self.rows.get(first + like).copied().flatten()?;
        let worked = self.worked.get(known).filter(|w| w.quiet)?;
        Some((worked.finish.clone(), worked.visible))
    }

    /// What was worked out, by its number. Its site may be another one that is alike.
    pub(super) fn worked(&self, worked: usize) -> Option<&Finish> {
        self.worked.get(worked)?.finish.as_deref()
    }

    /// What is done to a dog at a site, and what the rules say of it.
    pub(super) fn judged(&mut self, situation: &Situation<'_>, dog: &Dog) -> Worked {
        let mut said = Vec::new();
        let finish = finish_site(situation, self.choices, self.trade, dog, &mut said).map(Rc::new);
        self.ruled(finish, is_visible(situation, self.trade), said, false, dog)
    }

    /// What the rules say of what is done to a dog at a site; those that ask for the coat alone, where the others are known to be
    /// quiet.
    fn ruled(
        &mut self,
        finish: Option<Rc<Finish>>,
        visible: bool,
        mut said: Vec<Diagnostic>,
        known: bool,
        dog: &Dog,
    ) -> Worked {
        let (choices, trade) = (self.choices, self.trade);
        let ask = |rules: &[SiteRule], said: &mut Vec<Diagnostic>| {
            if let Some(finish) = &finish {
                rules.iter().for_each(|rule| rule(choices, trade, dog, finish, said));
            }
        };
        if !known {
            ask(WORK_RULES, &mut said);
        }
        let quiet = said.is_empty();
        ask(COAT_RULES, &mut said);
        if let Some(finish) = &finish {
            let set = finish.reasons.iter().filter(|r| matches!(r.what, Did::Set | Did::SetRough));
            self.applied.extend(set.map(|r| r.place).chain([finish.statement]));
        }
        Worked { visible, finish, quiet, said }
    }

    /// Everything that matters of a situation beside its coat: two with equal keys come out alike, wherever they are. What a finding makes of a
    /// stroke can still differ, for keeps that the stroke itself doesn't break; nothing asks what that is.
    fn key(&mut self, number: usize, dog: &Dog, key: &mut Vec<usize>) {
        const NEXT: usize = usize::MAX;
        let (choices, trade) = (self.choices, self.trade);
        key.clear();
        let Some(at) = self.at.get(number) else { return };
        let statements = choices.at.get(usize::from(at.site.0)).into_iter().flatten().map(|n| *n as usize);
        key.extend(statements.filter(|n| choices.finishes.get(*n).is_some_and(|c| applies(c, trade, dog, at.site))));
        key.push(NEXT);
        let site = at.site;
        let keeps = at.keeps.iter().copied();
        key.extend(keeps.filter(|n| choices.keeps.get(*n).is_some_and(|k| binds(k, trade, dog, site))));
        key.push(NEXT);
        if !dog.findings.is_empty()
            && let Some(touchy) = self.touchy(number)
        {
            for fact in &dog.findings {
                for line in keeps_of(fact, trade, site) {
                    if touchy.minds(&line.bound, fact.after, trade) {
                        key.extend([std::ptr::from_ref(line) as usize, fact.after.map_or(0, |t| usize::from(t.0) + 1)]);
                    }
                }
            }
        }
        key.push(NEXT);
        let Some(at) = self.at.get(number) else { return };
        let due = |f: &&Fact| {
            trade.finding(f.finding).is_some_and(|declared| {
                declared.reply == Reply::Answer && f.sites.has(at.site) && declared.may_be_at(at.site)
            })
        };
        key.extend(dog.findings.iter().filter(due).map(|f| usize::from(f.finding.0)));
        key.push(NEXT);
        let meant = |n: &&usize| {
            let blend = choices.blends.get(**n);
            blend.is_some_and(|b| b.cond.holds(dog, at.site) && b.finding.is_none_or(|f| dog.has(f)))
        };
        key.extend(at.blends.iter().filter(meant));
        key.push(at.traits);
    }

    /// The finish of a dog at a site.
    pub(super) fn finish(&mut self, number: usize, dog: &Dog) -> Option<Finish> {
        let worked = self.work(number, dog);
        let site = self.at.get(number)?.site;
        let finish = self.worked(worked)?.clone();
        Some(Finish { site, ..finish })
    }
}
