//! The rules that need a note's place in the log, in F7's order from `id-reused` to
//! `expect-failed`.

use super::keys::Role;
use super::{Replay, hash_member, ulid_number};
use crate::catalogue::{Kind, catalogue};
use crate::event::{Event, Seen};
use crate::limits::{CLOCK_SKEW_MS, LATE_MINUTES, OFFLINE_DAYS_MAX};
use crate::names::Subject;
use crate::note::{Checkpoint, SignedCheckpoint};
use crate::refusal::{Problem, Refusal, Wanted};
use crate::signing::Verified;
use crate::time::{DAY_MS, Instant, MINUTE_MS};
use serde_json::{Map, Value};

/// What becomes of a note that is not refused.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Judged {
    /// It gets the next seq, and this version of its subject.
    New {
        /// 1 + number of earlier notes with exactly this subject.
        subject_version: u64,
    },
    /// The same body stands at this seq already; the old receipt answers it (F18).
    Repeat {
        /// Where it stands.
        seq: u64,
    },
    /// The note proves that the log has lost notes or forked: seal (F13, F24).
    LogForked {
        /// What the note shows, in one sentence.
        detail: String,
    },
}

impl Replay {
    /// Judges a note against the state just before the next seq.
    ///
    /// # Errors
    /// The first rule of F7 that fails.
    pub fn judge(&self, note: &Verified, recorded_at: Instant) -> Result<Judged, Refusal> {
        self.judge_with(note, recorded_at, |seen| self.seen_is_signed(seen))
    }

    /// As [`Replay::judge`], for whoever has verified signatures of seen checkpoints ahead, in
    /// parallel: `seen_is_signed` must answer as [`Replay::seen_is_signed`] does.
    ///
    /// # Errors
    /// The first rule of F7 that fails.
    pub fn judge_with(&self, note: &Verified, recorded_at: Instant, seen_is_signed: impl Fn(&Seen) -> bool) -> Result<Judged, Refusal> {
        let event = note.event();
        if let Some(seq) = self.seq_of(&event.id) {
            return self.judge_repeat(note, seq);
        }
        check_times(event, recorded_at)?;
        if let Some(forked) = event.seen.as_ref().map(|seen| self.check_seen(seen, &seen_is_signed)).transpose()?.flatten() {
            return Ok(Judged::LogForked { detail: forked });
        }
        self.check_author(note, recorded_at)?;
        self.check_permission(note, recorded_at)?;
        self.check_target(note, recorded_at)?;
        self.check_subject(event)?;
        let subject_version = self.next_version(&event.subject);
        check_expect(event, subject_version - 1)?;
        Ok(Judged::New { subject_version })
    }

    fn judge_repeat(&self, note: &Verified, seq: u64) -> Result<Judged, Refusal> {
        if self.past(seq).is_some_and(|past| past.body_sha256 == *note.body_sha256()) {
            return Ok(Judged::Repeat { seq });
        }
        let detail = format!("the id {} is taken by another note (seq {seq}); write this one under a new id", note.event().id);
        Err(Refusal::at(Problem::IdReused, "/id", detail))
    }

    /// Whether a key of this log signed the checkpoint that a device says it saw (F13).
    #[must_use]
    pub fn seen_is_signed(&self, seen: &Seen) -> bool {
        let origin = self.founding().map(|founding| founding.origin.clone()).unwrap_or_default();
        let checkpoint = Checkpoint { origin, size: seen.size, root: seen.root };
        let note = SignedCheckpoint::parse(&checkpoint.with_signature(&seen.signature));
        note.is_ok_and(|note| self.log_keys().at(seen.size).iter().any(|key| note.signed_by(key)))
    }

    /// `Ok(Some(_))` when the device has seen a checkpoint that this log cannot have made as it
    /// now stands (F13).
    fn check_seen(&self, seen: &Seen, seen_is_signed: &impl Fn(&Seen) -> bool) -> Result<Option<String>, Refusal> {
        if !seen_is_signed(seen) {
            let detail = "seensig is no signature of this log over the checkpoint named; fetch a fresh checkpoint and sign again";
            return Err(Refusal::at(Problem::SeenSignatureInvalid, "/seensig", detail));
        }
        Ok(match self.tree().root(seen.size) {
            None => Some(format!("a device has seen {} notes, this log holds {}: notes have been lost", seen.size, self.size())),
            Some(root) if root != seen.root => Some(format!("a device has seen another root for the first {} notes", seen.size)),
            Some(_) => None,
        })
    }

    fn check_author(&self, note: &Verified, recorded_at: Instant) -> Result<(), Refusal> {
        let event = note.event();
        let Some(record) = self.keys().get(&event.keyid) else {
            // Root keys and keys that this body brings: whether they may do this is a question
            // of permission, not of being in force.
            return Ok(());
        };
        let waited_ms = recorded_at.0 - event.signedtime.0;
        let in_force = record.in_force(self.size(), recorded_at);
        if in_force && waited_ms <= OFFLINE_DAYS_MAX * DAY_MS {
            return Ok(());
        }
        if !self.keys().approvers(note, self.size(), recorded_at, &[Role::Registrar]).is_empty() {
            return Ok(());
        }
        let why = if in_force { "the note waited too long on its device" } else { "the author's key is not in force" };
        let detail = format!("{why}; a registrar must approve the same body to vouch for it");
        let voucher = Wanted::roles(&[Role::Registrar.word().to_owned()], 1);
        Err(Refusal::at(Problem::KeyNotInForce, "/keyid", detail).wanting(vec![voucher]))
    }

    fn check_permission(&self, note: &Verified, recorded_at: Instant) -> Result<(), Refusal> {
        let event = note.event();
        let Some(kind) = catalogue().kind(&event.kind) else {
            return Err(not_permitted("/type", format!("this record knows no kind {}", event.kind)));
        };
        match kind.name.as_str() {
            "collection.founded.v1" => return self.check_founding(note),
            "key.enrolled.v1" => {
                self.check_enrolment(note, recorded_at)?;
                return self.check_approvals(note, kind, recorded_at);
            }
            "key.revoked.v1" => return self.check_revocation(note, recorded_at),
            "root.replaced.v1" => return self.check_root_replacement(note),
            "log.rekeyed.v1" => return self.check_rekeying(note),
            _ => {}
        }
        let roles = self.roles_of(&event.keyid);
        if !roles.iter().any(|role| kind.roles.authors.iter().any(|author| author == role.word())) {
            let held = if roles.is_empty() { "no role".to_owned() } else { roles.iter().map(|r| r.word()).collect::<Vec<_>>().join(", ") };
            let wanted = kind.roles.authors.join(", ");
            return Err(not_permitted("/keyid", format!("{} is written by {wanted}; this key holds {held}", kind.name)));
        }
        if kind.name == "policy.set.v1" {
            Self::check_policy(event)?;
        }
        self.check_approvals(note, kind, recorded_at)
    }

    fn check_target(&self, note: &Verified, recorded_at: Instant) -> Result<(), Refusal> {
        let event = note.event();
        match event.kind.as_str() {
            "record.corrected.v1" | "record.retracted.v1" => self.check_act(event, recorded_at),
            "record.endorsed.v1" => self.check_endorsement(event),
            "discrepancy.explained.v1" => self.check_explanation(event),
            "note.abandoned.v1" if event.subject != Subject::key(event.keyid) => {
                Err(not_permitted("/subject", "a count is given up by its own key: the subject is the author's key"))
            }
            "body.withheld.v1" => self.check_withholding(event),
            _ => Ok(()),
        }
    }

    fn check_act(&self, event: &Event, recorded_at: Instant) -> Result<(), Refusal> {
        let target = event.data.get("target").and_then(Value::as_str).unwrap_or_default();
        let unknown = || Refusal::at(Problem::TargetUnknown, "/data/target", format!("no recorded note has the id {target:?}"));
        let past = self.seq_of(target).and_then(|seq| self.past(seq)).ok_or_else(unknown)?;
        if catalogue().kind(&past.kind).is_some_and(|kind| kind.governs) {
            return Err(not_permitted("/data/target", format!("{} governs the record; it is never corrected or retracted", past.kind)));
        }
        if event.kind == "record.corrected.v1" && &*past.kind == "record.retracted.v1" {
            return Err(not_permitted("/data/target", "a retraction is not corrected; retract it, and the note stands again"));
        }
        if &*past.subject != event.subject.as_str() {
            return Err(not_permitted("/subject", format!("the target is about {}; the act must have the same subject", past.subject)));
        }
        match event.data.get("replacement").and_then(Value::as_object) {
            // A correction of a correction is laid over the older one's replacement, so its data
            // too must suit the note at the end of the chain (F21).
            Some(replacement) => self.check_replacement(replacement, catalogue().kind(&self.note_behind(past).kind), recorded_at),
            None => Ok(()),
        }
    }

    fn check_replacement(&self, replacement: &Map<String, Value>, kind: Option<&Kind>, recorded_at: Instant) -> Result<(), Refusal> {
        let place = |name: &str| format!("/data/replacement/{name}");
        for name in ["time", "timeafter"] {
            let Some(text) = replacement.get(name).and_then(Value::as_str) else { continue };
            let time = Instant::parse(text).map_err(|reason| Refusal::body(place(name), reason))?;
            check_not_future(time, recorded_at, &place(name))?;
        }
        let (true, Some(kind)) = (self.schema_checks, kind) else { return Ok(()) };
        if let Some(subject) = replacement.get("subject").and_then(Value::as_str).and_then(Subject::parse)
            && !kind.subjects.iter().any(|noun| noun == subject.noun() || noun == "*")
        {
            return Err(Refusal::body(place("subject"), format!("{} is not about {}", kind.name, subject.noun())));
        }
        match replacement.get("data").and_then(Value::as_object) {
            Some(data) => kind.check_data(data, &place("data")),
            None => Ok(()),
        }
    }

    fn check_endorsement(&self, event: &Event) -> Result<(), Refusal> {
        let seq = event.data.get("seq").and_then(Value::as_u64);
        let past = seq.and_then(|seq| self.past(seq)).filter(|past| hash_member(&event.data, "body_sha256") == Some(past.body_sha256));
        let Some(past) = past else {
            return Err(Refusal::at(Problem::TargetUnknown, "/data/seq", "no recorded note has this seq and this body"));
        };
        if &*past.subject != event.subject.as_str() {
            return Err(not_permitted("/subject", format!("the note endorsed is about {}", past.subject)));
        }
        if self.keys().person_of(&past.keyid) == self.keys().person_of(&event.keyid) {
            return Err(not_permitted("/keyid", "a note is endorsed by another person than its author"));
        }
        Ok(())
    }

    /// The notes are recorded, and the explanation stands in the history of one of them. Whether
    /// there is such a discrepancy is the fold's to say: it may come and go.
    fn check_explanation(&self, event: &Event) -> Result<(), Refusal> {
        let named = event.data.get("events").and_then(Value::as_array);
        let mut about = Vec::new();
        for (at, id) in named.into_iter().flatten().enumerate() {
            let past = id.as_str().and_then(|id| self.seq_of(id)).and_then(|seq| self.past(seq));
            let unknown = || Refusal::at(Problem::TargetUnknown, format!("/data/events/{at}"), format!("no recorded note has the id {id}"));
            about.push(past.ok_or_else(unknown)?.subject.clone());
        }
        if about.iter().any(|subject| **subject == *event.subject.as_str()) {
            return Ok(());
        }
        let said = about.first().map_or_else(String::new, |subject| format!(", such as {subject}"));
        Err(not_permitted("/subject", format!("the explanation is about the subject of one of the notes it names{said}")))
    }

    fn check_subject(&self, event: &Event) -> Result<(), Refusal> {
        let creates = catalogue().kind(&event.kind).is_some_and(|kind| kind.creates_subject);
        let own_key = event.subject.noun() == "key" && event.kind == "key.enrolled.v1";
        let founding = event.kind == "collection.founded.v1";
        if creates || own_key || founding || self.exists(&event.subject) {
            return Ok(());
        }
        let detail = format!("{} was never brought into this record; check the id, or record how it came first", event.subject);
        Err(Refusal::at(Problem::SubjectUnknown, "/subject", detail))
    }
}

pub(super) fn not_permitted(pointer: &str, detail: impl Into<String>) -> Refusal {
    if pointer.is_empty() { Refusal::new(Problem::NotPermitted, detail) } else { Refusal::at(Problem::NotPermitted, pointer, detail) }
}

fn check_not_future(time: Instant, recorded_at: Instant, pointer: &str) -> Result<(), Refusal> {
    if time > recorded_at.plus_ms(CLOCK_SKEW_MS) {
        let detail = format!("{} lies in the future: the service's clock says {}", time.utc_text(), recorded_at.utc_text());
        return Err(Refusal::at(Problem::TimeInFuture, pointer, detail));
    }
    Ok(())
}

fn check_times(event: &Event, recorded_at: Instant) -> Result<(), Refusal> {
    check_not_future(event.time, recorded_at, "/time")?;
    let waited = event.signedtime.0 - event.time.0;
    let said = event.late == Some(true) && event.latereason.as_ref().is_some_and(|reason| !reason.is_empty());
    let silent = event.late.is_none() && event.latereason.is_none();
    if said || (silent && waited <= LATE_MINUTES * MINUTE_MS) {
        return Ok(());
    }
    let detail = format!(
        "signed {} minutes after the fact: a note written more than {LATE_MINUTES} minutes afterwards says late: true and a latereason of 1 to 200 characters, others say neither",
        waited.div_euclid(MINUTE_MS)
    );
    Err(Refusal::at(Problem::LateWithoutReason, "/late", detail))
}

fn check_expect(event: &Event, newest: u64) -> Result<(), Refusal> {
    match event.expect {
        Some(expected) if u64::from(expected) != newest => {
            let detail =
                format!("{} has changed: it is at version {newest}, the note expected {expected}; look again, then decide", event.subject);
            Err(Refusal::at(Problem::ExpectFailed, "/expect", detail))
        }
        _ => Ok(()),
    }
}

impl Replay {
    fn check_withholding(&self, event: &Event) -> Result<(), Refusal> {
        let data = &event.data;
        let text = |name: &str| data.get(name).and_then(Value::as_str);
        let past = data.get("seq").and_then(Value::as_u64).and_then(|seq| self.past(seq));
        let Some(past) = past.filter(|past| text("id").and_then(ulid_number) == Some(past.id)) else {
            return Err(Refusal::at(Problem::TargetUnknown, "/data/seq", "no recorded note has this seq and this id"));
        };
        let kind = catalogue().kind(&past.kind);
        if past.withheld || kind.is_none_or(|kind| kind.governs || kind.is_act) {
            return Err(not_permitted("/data/seq", format!("the body of {} cannot be withheld, or is withheld already", past.kind)));
        }
        let instant = |name: &str| text(name).and_then(|text| Instant::parse(text).ok());
        let matches = text("kind") == Some(&*past.kind)
            && text("subject") == Some(&*past.subject)
            && text("keyid") == Some(&past.keyid.to_string())
            && data.get("keycount").and_then(Value::as_u64) == Some(u64::from(past.keycount))
            && instant("time") == Some(past.time)
            && instant("timeafter").is_none_or(|after| Some(after) == past.timeafter);
        if !matches {
            let detail = "kind, subject, time, keyid, keycount, and timeafter if it is said, must be those of the note that is withheld";
            return Err(not_permitted("/data", detail));
        }
        let replacement = data.get("replacement").and_then(Value::as_object);
        if let (Some(kind), Some(replacement), true) = (kind, replacement, self.schema_checks) {
            kind.check_data(replacement, "/data/replacement")?;
        }
        let named = kind.zip(replacement).map_or_else(Vec::new, |(kind, replacement)| kind.named_in(replacement));
        // Without its body nobody could tell who they are: whoever starts anew would not know them.
        match past.brought.iter().find(|brought| !named.iter().any(|subject| subject.as_str() == &***brought)) {
            Some(brought) => {
                let detail = format!("this note brought {brought} into the record; a replacement must name all that it brought in");
                Err(not_permitted("/data/replacement", detail))
            }
            None => Ok(()),
        }
    }
}
