//! Openings of a case, and what is settled once all notes about it are told. What has happened is
//! never refused for want of a signature; what is missing is shown (DOMAIN section 5).

use super::authorised::Authorised;
use super::discrepancy::odd;
use super::egg::{EggFold, End};
use super::note::Note;
use super::state::{EggFate, EventId, Moment, Opening};
use super::told::{EggOpened, Told};
use super::view::{Fact, View};
use selachron_schemas::replay::keys::Role;
use selachron_schemas::time::Instant;

/// What is wanted where the author signed alone.
const SECOND_PERSON: &str = "second person";

/// Outcomes that end a case without a hatch.
const DEAD: [&str; 3] = ["found dead", "no embryo", "died during opening"];

impl<'a> EggFold<'_, 'a> {
    pub(super) fn opened(&mut self, fact: &Fact<'a>, told: &EggOpened) {
        self.opened_after_end(fact, told);
        let mut signatures_missing = self.opened_alone(fact.note);
        let authorised = self.view.covering(&self.egg, fact, told);
        if told.known_dead {
            self.known_dead(fact, told);
        } else {
            signatures_missing.extend(self.opened_unapproved(fact.note, &authorised));
            signatures_missing.extend(self.opened_sealed(fact.note, &authorised));
            self.beyond_criteria(fact.note, told, &authorised);
        }
        signatures_missing.sort_unstable();
        signatures_missing.dedup();
        self.seqs.openings.push(fact.note.seq);
        self.egg.openings.push(Opening {
            when: fact.moment(),
            extent: told.extent.clone(),
            known_dead: told.known_dead,
            outcome: told.outcome.clone(),
            left: told.left.clone(),
            urgent_reason: told.urgent_reason.clone(),
            criteria_met: told.criteria_met.clone(),
            approved_by: self.view.others_behind(fact.note),
            signatures_missing,
            authorised_by: authorised.iter().map(|one| one.says.given.event).collect(),
        });
    }

    fn opened_after_end(&mut self, fact: &Fact<'a>, told: &EggOpened) {
        let Some((end, earlier)) = self.end() else { return };
        let at_the_hatch = self.egg.fate.when().is_some_and(|when| when.time == fact.time());
        let (then, now) = self.days(earlier, fact);
        let (kind, how) = match end {
            End::Hatch if at_the_hatch => return,
            End::Loss | End::PutDown if told.known_dead => return,
            End::Hatch => (odd::OPENED_AFTER_HATCH, "it had hatched"),
            End::Loss => (odd::OPENED_AFTER_LOSS, "it was taken for lost"),
            End::Leaving => (odd::OPENED_AFTER_LEAVING, "it had left"),
            End::PutDown => (odd::TOLD_AFTER_PUT_DOWN, "it was put down"),
        };
        self.find(kind, &[earlier, fact.note.seq], format!("Opened on {now}, after {how} on {then}."));
    }

    /// roles.json wants another person; its row is the rule.
    fn opened_alone(&mut self, note: &'a Note) -> Vec<String> {
        let Some(approval) = note.row.and_then(|kind| kind.roles.approval.as_ref()) else { return Vec::new() };
        let roles: Vec<Role> = approval.roles.iter().filter_map(|word| role(word)).collect();
        if self.view.approvers(note, &roles).len() < approval.persons {
            let says = format!("Opened without the signature of a second person ({}).", approval.roles.join(", "));
            self.find(odd::OPENED_ALONE, &[note.seq], says);
            return vec![SECOND_PERSON.to_owned()];
        }
        Vec::new()
    }

    /// The roles that the policy in force at that seq asks for, of which neither the note nor an
    /// authorisation that covers it has the signature. The author's own role counts here: that two
    /// people sign is the other question.
    fn unsigned_roles(&self, note: &'a Note, authorised: &[Authorised]) -> Vec<String> {
        let wanted = &self.view.policy_at(note.seq).opening_approval_roles;
        let signed = |word: &&String| role(word).is_some_and(|role| self.behind_opening(note, authorised, role));
        wanted.iter().filter(|word| !signed(word)).cloned().collect()
    }

    /// Whether that role stands behind the opening, with a signature on it or on what authorised it.
    fn behind_opening(&self, note: &'a Note, authorised: &[Authorised], role: Role) -> bool {
        self.view.signed_with(note, &[role])
            || authorised.iter().any(|one| self.view.signed_with(self.view.nursery().note(one.seq), &[role]))
    }

    /// The institution's written protocol, as the policy has it.
    fn opened_unapproved(&mut self, note: &'a Note, authorised: &[Authorised]) -> Vec<String> {
        let missing = self.unsigned_roles(note, authorised);
        if !missing.is_empty() {
            let says = format!(
                "Opened without the approval of {}, which the policy asks for, and no authorisation covers it.",
                missing.join(" and ")
            );
            self.find(odd::OPENED_UNAPPROVED, &[note.seq], says);
        }
        missing
    }

    /// Nothing enters a sealed case except on the veterinarian's decision (DOMAIN section 2).
    fn opened_sealed(&mut self, note: &'a Note, authorised: &[Authorised]) -> Vec<String> {
        if self.egg.slits_open.is_none() && !self.behind_opening(note, authorised, Role::Veterinarian) {
            let says = "Opened before its slits were seen open, and no veterinarian has signed.".to_owned();
            self.find(odd::OPENED_SEALED, &[note.seq], says);
            return vec![Role::Veterinarian.word().to_owned()];
        }
        Vec::new()
    }

    /// An opening that rests on an authorisation says that its criteria were met.
    fn beyond_criteria(&mut self, note: &'a Note, told: &EggOpened, authorised: &[Authorised]) {
        let met = |one: &Authorised| one.says.criteria.iter().all(|criterion| told.criteria_met.contains(criterion));
        if self.unsigned_roles(note, &[]).is_empty() || authorised.is_empty() || authorised.iter().any(met) {
            return;
        }
        let seqs: Vec<u64> = authorised.iter().map(|one| one.seq).chain([note.seq]).collect();
        let says = "Opened on an authorisation, and not every one of its criteria is said to be met.".to_owned();
        self.find(odd::OPENED_BEYOND_CRITERIA, &seqs, says);
    }

    /// An examination of a case that by its newest look was alive, or from which young came.
    fn known_dead(&mut self, fact: &Fact<'a>, told: &EggOpened) {
        let alive = self.seqs.alive.filter(|_| self.seqs.suspect_days.is_empty() && self.egg.fate == EggFate::Open);
        if let Some(earlier) = alive {
            let (then, now) = self.days(earlier, fact);
            let says = format!("Opened as known dead on {now}, though seen alive on {then} and not looked at since.");
            self.find(odd::OPENED_AS_DEAD, &[earlier, fact.note.seq], says);
        } else if told.outcome == "hatched" {
            self.find(odd::OPENED_AS_DEAD, &[fact.note.seq], "Opened as known dead, yet it hatched.".to_owned());
        }
    }

    /// What can be said only when all is told.
    pub(super) fn finish(&mut self) {
        let opening = self.egg.fate.when().and_then(|when| opening_before(&self.egg.openings, when));
        if let EggFate::Hatched { after_opening, .. } | EggFate::YoungNotFound { after_opening, .. } = &mut self.egg.fate {
            *after_opening = opening;
        }
        let open = self.egg.fate == EggFate::Open;
        let told: Vec<(u64, Opening)> = self.seqs.openings.iter().copied().zip(self.egg.openings.iter().cloned()).collect();
        for (seq, opening) in told {
            if opening.outcome == "hatched" && self.seqs.hatch.is_none() {
                self.find(odd::OPENED_NO_HATCH, &[seq], "The opening says that it hatched, and no hatch is noted.".to_owned());
            }
            if open && DEAD.contains(&opening.outcome.as_str()) {
                let says = format!("The opening says {:?}, and no loss is noted.", opening.outcome);
                self.find(odd::OPENED_NO_LOSS, &[seq], says);
            }
            self.dead_yet_hatched(seq, &opening);
        }
    }

    fn dead_yet_hatched(&mut self, seq: u64, opening: &Opening) {
        if let (EggFate::Hatched { when, .. }, Some(hatch), true) = (&self.egg.fate, self.seqs.hatch, opening.known_dead)
            && opening.when.time <= when.time
        {
            self.find(odd::OPENED_AS_DEAD, &[seq, hatch], "Opened as known dead, yet young came out alive.".to_owned());
        }
    }
}

/// The last opening of a case not known dead, before or at a hatch.
fn opening_before(openings: &[Opening], hatch: Moment) -> Option<EventId> {
    let mut before = openings.iter().filter(|opening| !opening.known_dead && opening.when.time <= hatch.time);
    before.next_back().map(|opening| opening.when.event)
}

/// The role of that name.
pub(super) fn role(word: &str) -> Option<Role> {
    const ALL: [Role; 9] = [
        Role::Keeper,
        Role::Trainee,
        Role::Veterinarian,
        Role::Curator,
        Role::Registrar,
        Role::Instrument,
        Role::Laboratory,
        Role::Auditor,
        Role::Studbook,
    ];
    ALL.into_iter().find(|role| role.word() == word)
}

impl<'a> View<'a> {
    /// Persons other than the author who signed the same body or endorsed it.
    #[must_use]
    pub fn others_behind(&self, note: &'a Note) -> Vec<String> {
        let author = note.person();
        let afterwards = self.endorsements(note.seq).filter_map(Note::author);
        let persons = note.approvals().chain(afterwards).filter_map(|signer| signer.person());
        let mut others: Vec<String> = persons.filter(|person| Some(*person) != author).map(str::to_owned).collect();
        others.sort_unstable();
        others.dedup();
        others
    }

    /// The opening of a case not known dead that came last before or at `time`.
    pub(super) fn opening_before(&self, facts: &[Fact<'a>], time: Instant) -> Option<EventId> {
        let mut openings = facts.iter().filter(|fact| match fact.told() {
            Told::EggOpened(told) => !told.known_dead && fact.time() <= time,
            _ => false,
        });
        openings.next_back().map(|fact| fact.note.id)
    }
}
