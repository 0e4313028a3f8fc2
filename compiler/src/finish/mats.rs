//! Mats, and shape keeps: what shortens a settled finish, and what yields to it.

use super::pick::instead;
use super::reply::Settler;
use super::{Did, Finish, Outcome, Reason, Stroke, on_words};
use crate::diagnostic::{Diagnostic, code};
use crate::measure::{Length, MM};
use crate::names::condition::Grade;
use crate::names::trade::{Bound, Direction, Gap, Skin, ToolKind};

impl Settler<'_> {
    /// A tight mat or a pelt is cut beneath: what lies under it is all that can stay.
    pub(super) fn mats(&mut self, finish: &mut Finish) {
        let Some(mat) =
            self.dog.mats.iter().filter(|m| m.grade >= Grade::Tight && m.sites.has(self.site)).max_by_key(|m| m.grade)
        else {
            return;
        };
        // Where nobody works, and at the eyes, a mat is nobody's business here.
        let unseen = self.trade.zone_of(self.site).is_none_or(|(zone, _)| zone.hidden);
        let eyes = self.trade.sites_of("eyes").is_some_and(|eyes| eyes.has(self.site));
        if finish.fine.tool.is_none() && (unseen || eyes) {
            return;
        }
        let room = mat.off_skin.unwrap_or(Length(0));
        let agreed = self.dog.agreed("clip-off") == Some(true);
        // Left for another reason, or with nobody's leave to do more: it stays.
        let for_a_reason = finish.outcome != Outcome::Written || self.main.hangs_on_findings();
        if finish.fine.tool.is_none() && (for_a_reason || !agreed) {
            return;
        }
        // Whatever goes beneath a mat takes it off, and that needs the owner's yes.
        if !agreed {
            finish.reasons.push(Reason { what: Did::Mat, place: mat.place });
            finish.rough = None;
            finish.fine = Stroke::leave();
            finish.outcome = Outcome::Left;
            return;
        }
        if finish.fine.leaves.is_some_and(|leaves| leaves.high <= room) {
            return;
        }
        let coat = self.dog.coat_at(self.site).and_then(|c| self.trade.coat(c));
        let written = Stroke { passes: 1, verb: grammar::tree::Verb::Clip, manners: Vec::new(), ..finish.fine.clone() };
        // Under a mat one goes with the longest blade that still fits, its teeth no wider than the skin allows; against
        // the skin itself with #10 on folds, edges and thin skin, a class or two longer where it is flat.
        let widest = match (self.skin(), room.0) {
            (Skin::Flat, 0) => Gap::Medium,
            (Skin::Flat, _) => Gap::Open,
            _ => Gap::Fine,
        };
        let under = self
            .choices
            .kit
            .iter()
            .filter_map(|&id| instead(id, Some(Direction::With), None, &written, self.choices, self.trade, coat))
            .filter(|s| {
                s.kind(self.trade) == Some(ToolKind::Blade)
                    && s.gap.is_some_and(|g| g <= widest)
                    && self.allowed_on_every_dog(s)
            })
            .filter(|s| s.closeness >= Some(Length(MM)))
            .filter(|s| room.0 == 0 || s.leaves.is_some_and(|l| l.high <= room))
            .max_by_key(|s| (s.closeness, s.gap));
        // S4: what a finding rules out is not done with a closer blade instead, nor is what it leaves longer cut closer than
        // it would have been; the mat stays.
        let beneath_anyway = self.without_findings(|plain| {
            plain.fine.leaves.is_some_and(|leaves| leaves.high <= room).then(|| plain.closeness()).flatten()
        });
        let under = under.filter(|s| self.allowed(s) && s.closeness >= beneath_anyway.flatten());
        // What was written may already go beneath it.
        let beneath =
            |s: &Stroke| finish.fine.kind(self.trade) == Some(ToolKind::Blade) && finish.fine.closeness <= s.closeness;
        if under.as_ref().is_some_and(beneath) {
            return;
        }
        finish.reasons.push(Reason { what: Did::Mat, place: mat.place });
        finish.rough = None;
        match under {
            Some(stroke) => {
                finish.fine = stroke;
                finish.outcome = Outcome::Shortened;
            }
            None => {
                finish.fine = Stroke::leave();
                finish.outcome = Outcome::Left;
            }
        }
    }

    /// Shape keeps yield to welfare, with a note; a recipe that breaks its own is told.
    pub(super) fn shape(&mut self, finish: &mut Finish) {
        for keep in self.keeps {
            let Bound::AtMost(most) = keep.bound() else { continue };
            let Some(leaves) = finish.fine.leaves else { continue };
            if leaves.low.0 <= most.0 + MM / 2 {
                continue;
            }
            if finish.outcome == Outcome::Written {
                self.out.push(
                    Diagnostic::warning(
                        code::U001,
                        self.main.ask.tool_place,
                        format!("this leaves {leaves} {}", on_words(self.trade, self.site)),
                    )
                    .related(keep.place(), format!("at most {most} was asked for here"))
                    .help("Leave it shorter, or widen the cap."),
                );
            } else {
                finish.reasons.push(Reason { what: Did::Yielded(format!("at most {most}")), place: keep.place() });
            }
        }
    }
}
