//! The fold of an egg case, continued: tending, looks by other means, the choice not to open,
//! missing and found, and cases put down by decision.

use super::discrepancy::odd;
use super::egg::{EggFold, End};
use super::state::{Absence, EggFate, LeftToHatch, Look, Tended};
use super::told::eggs::{EggExamined, EggPutDown, EggTended, Found, Missing, OpeningLeft, WrittenOff};
use super::told::{AnimalNote, EggNote, Told};
use super::view::{Fact, View};
use selachron_schemas::names::Subject;
use selachron_schemas::replay::keys::Role;

impl<'a> EggFold<'_, 'a> {
    pub(super) fn care(&mut self, fact: &Fact<'a>, note: &EggNote) {
        match note {
            EggNote::Tended(told) => self.tended(fact, told),
            EggNote::Examined(told) => self.looked_at(fact, image_of(fact, told)),
            EggNote::Missing(told) => self.missing(fact, told),
            EggNote::Found(told) => self.found_again(fact, told),
            EggNote::WrittenOff(told) => self.written_off(fact, told),
            EggNote::PutDown(told) => self.put_down(fact, told),
            EggNote::OpeningLeft(told) => self.left_to_hatch(fact, told),
            EggNote::ClutchFormed(_) | EggNote::OpeningAuthorised(_) | EggNote::OpeningWithdrawn(_) => {}
        }
    }

    /// A missing case of which somebody tells is there after all.
    pub(super) fn here_after_all(&mut self, fact: &Fact<'a>) {
        let Some(earlier) = self.seqs.missing.filter(|_| is_in_hand(fact.told()) || fact.sends(&self.egg.id).is_some()) else { return };
        let (then, now) = self.days(earlier, fact);
        let says = format!("Missing since {then}, and told of on {now} without a note that it was found.");
        self.find(odd::SEEN_WHILE_MISSING, &[earlier, fact.note.seq], says);
        self.back(fact);
    }

    fn back(&mut self, fact: &Fact<'a>) {
        self.seqs.missing = None;
        self.egg.fate = EggFate::Open;
        if let Some(absence) = self.egg.absences.last_mut() {
            absence.found = Some(fact.moment());
        }
    }

    /// What became of the content of a case that ended without young.
    pub(super) fn content(&mut self, fact: &Fact<'a>, note: &AnimalNote) {
        let ended = matches!(self.end(), Some((End::Loss | End::PutDown, _)));
        let found = self.view.afterwards(fact, note, &self.egg.id, ended, &mut self.egg.afterwards);
        self.found.extend(found);
    }

    fn tended(&mut self, fact: &Fact<'a>, told: &EggTended) {
        if let Some((_, earlier)) = self.end() {
            let (then, now) = self.days(earlier, fact);
            self.find(odd::TENDED_AFTER_END, &[earlier, fact.note.seq], format!("Tended on {now}, after its end on {then}."));
        }
        let trimmed = told.entered_case || told.done.iter().any(|done| done == "threads trimmed");
        if trimmed && self.egg.slits_open.is_none() && !self.view.signed_with(fact.note, &[Role::Veterinarian]) {
            let says = "Trimmed or entered before its slits were seen open, and no veterinarian has signed.".to_owned();
            self.find(odd::TENDED_SEALED, &[fact.note.seq], says);
        }
        let person = fact.note.person().map(str::to_owned);
        self.egg.tended.push(Tended { when: fact.moment(), done: told.done.clone(), entered_case: told.entered_case, person });
    }

    fn missing(&mut self, fact: &Fact<'a>, told: &Missing) {
        let earlier = self.end().map(|(_, earlier)| (odd::MISSING_AFTER_END, earlier));
        if let Some((kind, earlier)) = earlier.or(self.seqs.missing.map(|earlier| (odd::MISSING_TWICE, earlier))) {
            let (then, now) = self.days(earlier, fact);
            return self.find(kind, &[earlier, fact.note.seq], format!("Missing on {now}, after a note of {then} that it is not here."));
        }
        self.seqs.missing = Some(fact.note.seq);
        self.egg.held_apart = None;
        self.egg.fate = EggFate::Missing { when: fact.moment(), written_off: None };
        self.egg.absences.push(Absence {
            since: fact.moment(),
            what: "missing",
            how: told.noticed_at.clone(),
            searched: told.searched.clone(),
            found: None,
            written_off: None,
        });
    }

    fn found_again(&mut self, fact: &Fact<'a>, told: &Found) {
        if self.seqs.missing.is_none() {
            let says = format!("Found on {}, and it was not missing.", self.view.day(fact.time()));
            self.find(odd::FOUND_NOT_MISSING, &[fact.note.seq], says);
        } else {
            self.back(fact);
        }
        if let Some(tank) = &told.to_tank {
            self.put(fact, tank, Some(told.place.clone()));
        }
    }

    fn written_off(&mut self, fact: &Fact<'a>, _: &WrittenOff) {
        self.found.extend(self.view.written_off_alone(fact, &self.egg.id));
        let EggFate::Missing { written_off, .. } = &mut self.egg.fate else {
            return self.find(odd::WRITTEN_OFF_PRESENT, &[fact.note.seq], "Written off, and it was not missing.".to_owned());
        };
        *written_off = Some(fact.moment());
        if let Some(absence) = self.egg.absences.last_mut() {
            absence.written_off = Some(fact.moment());
        }
    }

    fn put_down(&mut self, fact: &Fact<'a>, told: &EggPutDown) {
        let signed = |person: &String| fact.note.person() == Some(person) || self.view.others_behind(fact.note).contains(person);
        if !told.decided_by.iter().any(signed) {
            let says = "Put down, and none of those who decided has signed or endorsed the note.".to_owned();
            self.find(odd::PUT_DOWN_UNSIGNED, &[fact.note.seq], says);
        }
        if let Some((_, earlier)) = self.end() {
            let (then, now) = self.days(earlier, fact);
            return self.find(odd::PUT_DOWN_AFTER_END, &[earlier, fact.note.seq], format!("Put down on {now}, after its end on {then}."));
        }
        let fate = EggFate::PutDown {
            when: fact.moment(),
            reason: told.reason.clone(),
            decided_by: told.decided_by.clone(),
            alive: told.alive.clone(),
            band_last_seen: told.band_last_seen.or(self.egg.band),
            authority: told.authority.clone(),
        };
        self.ended(fact, fate);
    }

    fn left_to_hatch(&mut self, fact: &Fact<'a>, told: &OpeningLeft) {
        if let Some((_, earlier)) = self.end() {
            let (then, now) = self.days(earlier, fact);
            self.find(odd::LEFT_AFTER_END, &[earlier, fact.note.seq], format!("Left to hatch on {now}, after its end on {then}."));
        }
        self.egg.left_to_hatch.push(LeftToHatch {
            when: fact.moment(),
            reasons: told.reasons.clone(),
            criteria_met: told.criteria_met.clone(),
            decided_by: told.decided_by.clone(),
            look_again_after_hours: told.look_again_after_hours,
            assessment: told.assessment.clone(),
        });
    }
}

impl<'a> View<'a> {
    /// A decision to write something off is that of curator and registrar (DOMAIN section 7).
    pub(super) fn written_off_alone(&self, fact: &Fact<'a>, id: &Subject) -> Option<super::discrepancy::Discrepancy> {
        let both = [Role::Curator, Role::Registrar].iter().all(|role| self.signed_with(fact.note, &[*role]));
        let says = "Written off, and not both of curator and registrar have signed.".to_owned();
        (!both).then(|| self.discrepancy(odd::WRITTEN_OFF_ALONE, &[fact.note.seq], [id.clone()], says))
    }
}

/// Whether whoever writes this has the case in hand or in sight.
fn is_in_hand(told: &Told) -> bool {
    match told {
        Told::EggCandled(_) | Told::Moved(_) | Told::EggHeldApart(_) | Told::EggLost(_) | Told::EggRemoved(_) => true,
        Told::EggOpened(_) | Told::EggHatched(_) => true,
        Told::EggNote(note) => matches!(note, EggNote::Tended(_) | EggNote::Examined(_) | EggNote::PutDown(_)),
        _ => false,
    }
}

fn image_of(fact: &Fact<'_>, told: &EggExamined) -> Look {
    Look {
        when: fact.moment(),
        method: Some(told.method.clone()),
        seen_into: told.seen_into,
        band: told.band,
        movement: told.movement,
        heartbeat: told.heartbeat.clone(),
        yolk_fraction: told.yolk_fraction,
        findings: told.findings.clone(),
        eye: told.eye.clone(),
        prompted: told.prompted,
        person: fact.note.person().map(str::to_owned),
    }
}
