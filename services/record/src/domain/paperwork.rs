//! Discrepancies of a note as a note, whatever it says of the nursery: its clock, its key, its
//! count, who stands behind it, and whether what it names is known.

use super::discrepancy::{Discrepancy, odd};
use super::note::Note;
use super::state::EventId;
use super::view::{Fact, View};
use selachron_schemas::fold::Entry;
use selachron_schemas::limits::{CLOCK_SKEW_MS, OFFLINE_DAYS_MAX};
use selachron_schemas::names::Subject;
use selachron_schemas::replay::keys::Role;
use selachron_schemas::time::{DAY_MS, MINUTE_MS};
use std::collections::BTreeSet;

/// Roles that may endorse a note (roles.json, `record.endorsed.v1`).
const ENDORSERS: [Role; 4] = [Role::Keeper, Role::Veterinarian, Role::Curator, Role::Registrar];

impl<'a> View<'a> {
    /// Paperwork of the note at `seq`; none of a note that was taken back, but for its count.
    #[must_use]
    pub fn paperwork(&self, seq: u64) -> Vec<Discrepancy> {
        let note = self.nursery().note(seq);
        let mut found = Vec::new();
        if matches!(note.entry, Entry::Act { .. }) || note.governs() {
            self.of_note(note, note.subject(), &mut found);
        } else if let Some(fact) = self.fact(seq) {
            self.of_fact(&fact, &mut found);
        }
        self.one_number_twice(note, &mut found);
        found
    }

    /// Paperwork of a fact, its count included.
    pub(super) fn paperwork_of(&self, fact: &Fact<'a>, found: &mut Vec<Discrepancy>) {
        self.of_fact(fact, found);
        self.one_number_twice(fact.note, found);
    }

    fn of_fact(&self, fact: &Fact<'a>, found: &mut Vec<Discrepancy>) {
        self.of_note(fact.note, Some(fact.subject()), found);
        let unknown: Vec<Subject> = fact.named().into_iter().filter(|subject| !self.exists(subject)).collect();
        if let Some(first) = unknown.first() {
            let says = format!("The note names {first}, which was never brought into this record.");
            let subjects = unknown.iter().cloned().chain([fact.subject().clone()]);
            found.push(self.discrepancy(odd::NAMES_UNKNOWN, &[fact.note.seq], subjects, says));
        }
        self.assessed_otherwise(fact, found);
    }

    fn of_note(&self, note: &'a Note, subject: Option<&Subject>, found: &mut Vec<Discrepancy>) {
        let about = || subject.cloned().into_iter().chain([Subject::key(note.keyid)]);
        if let Some(ahead_ms) = note.signedtime.map(|signed| signed.0 - note.recorded_at.0).filter(|ahead_ms| *ahead_ms > CLOCK_SKEW_MS) {
            let says = format!("The device's clock was {} minutes ahead of the service's when the note was signed.", ahead_ms / MINUTE_MS);
            found.push(self.discrepancy(odd::DEVICE_CLOCK, &[note.seq], about(), says));
        }
        if self.suspected(note) {
            let says = "The note was recorded after the moment from which its author's key is suspected.".to_owned();
            found.push(self.discrepancy(odd::KEY_SUSPECTED, &[note.seq], about(), says));
        }
        let vouchers = vouched_for_by(note);
        if !vouchers.is_empty() {
            let says = format!("The note came late or by a key no longer in force; {} vouched for it.", vouchers.join(" and "));
            found.push(self.discrepancy(odd::VOUCHED_FOR, &[note.seq], about(), says));
        }
        if by_trainee(note) && self.approvers(note, &ENDORSERS).is_empty() {
            let says = "A trainee wrote this note, and no colleague has signed or endorsed it yet.".to_owned();
            found.push(self.discrepancy(odd::TRAINEE_ALONE, &[note.seq], about(), says));
        }
        if self.enrolled_alone(note) {
            let says = "A registrar enrolled this key, and nobody else who was enrolled before has signed or endorsed it.".to_owned();
            found.push(self.discrepancy(odd::ENROLLED_ALONE, &[note.seq], about(), says));
        }
    }

    /// roles.json wants another person than the registrar who enrols a key; its row is the rule.
    /// The new key's own signature proves that somebody has it, not who that is.
    fn enrolled_alone(&self, note: &'a Note) -> bool {
        let by_registrar = note.kind == "key.enrolled.v1" && note.author().is_some_and(|author| author.has_one_of(&[Role::Registrar]));
        let approval = note.row.filter(|_| by_registrar).and_then(|kind| kind.roles.approval.as_ref());
        approval.is_some_and(|approval| {
            let roles: Vec<Role> = approval.roles.iter().filter_map(|word| super::opening::role(word)).collect();
            self.approvers(note, &roles).len() < approval.persons
        })
    }

    fn one_number_twice(&self, note: &Note, found: &mut Vec<Discrepancy>) {
        let index = self.nursery().index();
        if !index.doubled.contains(&(note.keyid, note.keycount)) {
            return;
        }
        let all = index.counts.get(&note.keyid).and_then(|counts| counts.get(&note.keycount));
        let seqs: Vec<u64> = all.into_iter().flatten().copied().filter(|seq| *seq < self.known_at()).collect();
        if seqs.len() > 1 {
            let says = format!("The count {} of key {} stands on {} notes.", note.keycount, note.keyid, seqs.len());
            let subjects = seqs.iter().filter_map(|seq| self.nursery().note(*seq).subject().cloned());
            found.push(self.discrepancy(odd::ONE_NUMBER_TWICE, &seqs, subjects.chain([Subject::key(note.keyid)]), says));
        }
    }

    /// Whether a note was recorded at or after the moment from which its key is suspected, as far
    /// as is known (F11).
    #[must_use]
    pub fn suspected(&self, note: &Note) -> bool {
        let all = self.nursery().index().suspicions.get(&note.keyid);
        all.into_iter().flatten().any(|(seq, since)| *seq < self.known_at() && *since <= note.recorded_at)
    }

    /// Those of these notes that were recorded while their author's key was suspected, once each, in
    /// the log's order.
    #[must_use]
    pub fn suspected_among(&self, events: impl IntoIterator<Item = EventId>) -> Vec<EventId> {
        let seqs: BTreeSet<u64> = events.into_iter().filter_map(|event| self.nursery().seq_of(event)).collect();
        seqs.into_iter().map(|seq| self.nursery().note(seq)).filter(|note| self.suspected(note)).map(|note| note.id).collect()
    }

    /// Notes known at S that were recorded while their author's key was suspected, in the log's
    /// order.
    pub fn suspected_notes(&self) -> impl Iterator<Item = &'a Note> + '_ {
        // Without any suspicion no note needs to be looked through.
        let all = if self.nursery().index().suspicions.is_empty() { 0 } else { self.known_at() };
        (0..all).map(|seq| self.nursery().note(seq)).filter(|note| self.suspected(note))
    }

    /// How many notes that name a subject were recorded while their author's key was suspected.
    #[must_use]
    pub fn suspected_behind(&self, subject: &Subject) -> u64 {
        self.notes_naming(subject).into_iter().filter(|seq| self.suspected(self.nursery().note(*seq))).count() as u64
    }
}

/// Persons of the registrars who vouched for a note whose author's key was no longer in force, or
/// that waited too long on its device (F11).
#[must_use]
pub fn vouched_for_by(note: &Note) -> Vec<String> {
    let waited = note.signedtime.is_some_and(|signed| note.recorded_at.0 - signed.0 > OFFLINE_DAYS_MAX * DAY_MS);
    let enrolled = note.author().filter(|author| author.holder.is_some());
    if enrolled.is_none_or(|author| author.in_force && !waited) {
        return Vec::new();
    }
    let mut persons: Vec<String> =
        note.approvals().filter(|signer| signer.has_one_of(&[Role::Registrar])).filter_map(|s| s.person().map(str::to_owned)).collect();
    persons.sort_unstable();
    persons.dedup();
    persons
}

/// Whether the author holds no role but that of a trainee by which the note could be written.
fn by_trainee(note: &Note) -> bool {
    let roles = note.author().and_then(|author| author.holder.as_ref()).map_or(&[][..], |holder| &holder.roles);
    roles.contains(&Role::Trainee) && !roles.iter().any(|role| ENDORSERS.contains(role)) && note.kind != "note.abandoned.v1"
}
