//! The history of any subject: every note that names it in any version, with what was done to
//! that note since.

use super::compare::{MemberChange, changes};
use super::note::{Note, Signer, Written, map_of};
use super::paperwork::vouched_for_by;
use super::record::{ActNote, AsWritten, By, HistoryNote, Standing};
use super::state::EventId;
use super::view::View;
use selachron_schemas::event::FROM_PAPER;
use selachron_schemas::fold::{Act, Entry, standing_act};
use selachron_schemas::limits::LATE_MINUTES;
use selachron_schemas::names::Subject;
use selachron_schemas::time::MINUTE_MS;
use std::collections::BTreeSet;

impl<'a> View<'a> {
    /// The history of a subject in order of (effective time, seq). Notes whose effective time
    /// lies after V are not in it, but for those that govern the record (F22).
    #[must_use]
    pub fn history(&self, subject: &Subject) -> Vec<HistoryNote> {
        let mut notes: Vec<HistoryNote> = self.notes_naming(subject).into_iter().filter_map(|seq| self.history_note(seq)).collect();
        notes.sort_by_key(|note| (note.time, note.seq));
        notes
    }

    /// Notes that name a subject in any version known at S.
    #[must_use]
    pub fn notes_naming(&self, subject: &Subject) -> BTreeSet<u64> {
        let mentions = self.nursery().index().mentions.get(subject);
        let known = mentions.into_iter().flat_map(|mentions| mentions.all()).filter(|mention| mention.since < self.known_at());
        known.map(|mention| mention.seq).collect()
    }

    /// One note with all that is known of it at S; `None` for an act, or if its time has not come.
    #[must_use]
    pub fn history_note(&self, seq: u64) -> Option<HistoryNote> {
        let note = self.nursery().note(seq);
        let written = note.written()?;
        let value = self.value(seq);
        let standing = match &value {
            None => Standing::TakenBack,
            Some(value) if **value != *written => Standing::PutRight,
            Some(_) => Standing::Stands,
        };
        let shown = value.as_deref().unwrap_or(written);
        if shown.time > self.as_of() && !note.governs() {
            return None;
        }
        let acts = self.acts_on(seq);
        let as_written = (standing == Standing::PutRight).then(|| told(written));
        Some(HistoryNote {
            seq,
            id: note.id,
            kind: note.kind.clone().into_owned(),
            subject: (*shown.subject).clone(),
            time: shown.time,
            timeafter: shown.timeafter,
            recorded_at: note.recorded_at,
            by: by(note),
            approved_by: note.approvals().map(by_signer).collect(),
            endorsed_by: self.endorsements(seq).map(by).collect(),
            latereason: note.latereason.clone(),
            from_paper: note.latereason.as_ref().is_some_and(|reason| reason.starts_with(FROM_PAPER)),
            waited_minutes: waited_minutes(note),
            data: map_of(&shown.data),
            put_right: as_written.as_ref().map_or_else(Vec::new, |written| pairs(written, &told(shown))),
            as_written,
            acts: acts.iter().map(|act| act.id).collect(),
            acts_told: acts,
            standing,
            withheld: note.withheld,
            vouched_for_by: vouched_for_by(note),
            suspected: self.suspected(note),
            discrepancies: self.discrepancies_of_event(seq),
        })
    }

    /// Whether a note was put right or taken back by an act among those from `since` on.
    #[must_use]
    pub fn acted_on_since(&self, note: EventId, since: u64) -> bool {
        self.nursery().seq_of(note).is_some_and(|seq| self.acts_on(seq).iter().any(|act| act.seq >= since))
    }

    /// Acts on a note, and acts on these, in seq order.
    fn acts_on(&self, seq: u64) -> Vec<ActNote> {
        let index = self.nursery().index();
        let mut involved: Vec<u64> = index.acts.on(seq, self.known_at()).collect();
        let mut at = 0;
        while at < involved.len() {
            involved.extend(index.acts.on(involved[at], self.known_at()));
            at += 1;
        }
        involved.sort_unstable();
        involved.into_iter().filter_map(|act| self.act_note(act)).collect()
    }

    fn act_note(&self, seq: u64) -> Option<ActNote> {
        let nursery = self.nursery();
        let note = nursery.note(seq);
        let (Entry::Act { target, .. }, Some(words)) = (&note.entry, &note.act) else { return None };
        let standing = match standing_act(seq, self.known_at(), &nursery.index().acts, &|seq| &nursery.note(seq).entry) {
            None => Standing::Stands,
            Some(Act::Retract) => Standing::TakenBack,
            Some(Act::Correct(_)) => Standing::PutRight,
        };
        Some(ActNote {
            seq,
            id: note.id,
            kind: note.kind.clone().into_owned(),
            target: self.id_of(*target),
            time: words.time,
            recorded_at: note.recorded_at,
            by: by(note),
            reason: words.reason.clone(),
            standing,
        })
    }

    fn id_of(&self, seq: u64) -> EventId {
        self.nursery().note(seq).id
    }
}

fn told(written: &Written) -> AsWritten {
    let (subject, data) = ((*written.subject).clone(), map_of(&written.data));
    AsWritten { subject, time: written.time, timeafter: written.timeafter, data }
}

/// Each corrected pair.
fn pairs(written: &AsWritten, stands: &AsWritten) -> Vec<MemberChange> {
    let json = |told| serde_json::to_value(told).unwrap_or_default();
    changes(&json(written), &json(stands))
}

/// Waiting on a device is not lateness (F5), and a reader may still want to know of it.
fn waited_minutes(note: &Note) -> Option<i64> {
    let waited = note.signedtime.map(|signed| (note.recorded_at.0 - signed.0).div_euclid(MINUTE_MS));
    waited.filter(|minutes| *minutes > LATE_MINUTES)
}

/// Who wrote a note.
fn by(note: &Note) -> By {
    note.author().map_or_else(|| By { person: None, keyid: note.keyid, roles: Vec::new() }, by_signer)
}

fn by_signer(signer: &Signer) -> By {
    let roles = signer.holder.as_ref().map_or_else(Vec::new, |holder| match &holder.roles[..] {
        [] => vec!["root"],
        roles => roles.iter().map(|role| role.word()).collect(),
    });
    By { person: signer.person().map(str::to_owned), keyid: signer.keyid, roles }
}
