//! What the log's own rules say of each note, in seq order: the journal asks before it records,
//! the verifier asks again afterwards, and both get the same answer (F7 to F14, F21 to F23).
//!
//! * [`gate`]: what can be judged of an envelope before its place in the log is known;
//! * [`log_keys`]: which keys sign the log's checkpoints;
//! * [`keys`]: who may sign, when;
//! * [`approvals`]: whose signature a note wants beside its author's;
//! * [`judge`]: the rest, in F7's order;
//! * [`following`]: whether a change of the log's key may be followed without the rest of the log.

pub mod gate;

pub mod log_keys;

pub mod keys;

pub mod approvals;

pub mod judge;

pub mod following;

mod administration;

use crate::catalogue::catalogue;
use crate::encoding::from_base64_32;
use crate::event::Event;
use crate::merkle::{Hash, Tree};
use crate::names::{KeyId, Subject};
use crate::note::VerifierKey;
use crate::receipt::Leaf;
use crate::signing::{KeyRing, brought_keys};
use crate::time::Instant;
use chrono_tz::Tz;
use ed25519_dalek::VerifyingKey;
use keys::{KeyBook, Role};
use log_keys::LogKeys;
use serde_json::{Map, Value};
use std::collections::HashMap;
use std::sync::Arc;

/// What the founding note fixed.
#[derive(Debug, Clone)]
pub struct Founding {
    /// The collection's name.
    pub name: String,
    /// Country code.
    pub country: String,
    /// The collection's time zone: days are dates in it (F2).
    pub zone: Tz,
    /// The log's origin.
    pub origin: String,
    /// Invented season, simulated clock (F10).
    pub simulated_clock: bool,
}

/// What is remembered of a recorded note.
#[derive(Debug, Clone)]
pub struct Past {
    /// Its id, as a number.
    pub id: u128,
    /// SHA-256 of its body.
    pub body_sha256: Hash,
    /// Its kind.
    pub kind: Arc<str>,
    /// Its subject as written.
    pub subject: Arc<str>,
    /// When it happened, as written.
    pub time: Instant,
    /// It happened after this, as written.
    pub timeafter: Option<Instant>,
    /// Its author's key.
    pub keyid: KeyId,
    /// Its number among the author key's notes.
    pub keycount: u32,
    /// Of an act: the seq of its target.
    pub target: Option<u64>,
    /// Whether its body has been withheld.
    pub withheld: bool,
    /// Subjects beside its own that it brought into the record.
    pub brought: Box<[Arc<str>]>,
}

/// What the log's own rules need of a note: all that is left of one whose body is withheld (F23).
struct Facts<'a> {
    id: &'a str,
    kind: &'a str,
    subject: &'a Subject,
    time: Instant,
    timeafter: Option<Instant>,
    keyid: KeyId,
    keycount: u32,
}

#[derive(Debug, Clone, Copy, Default)]
struct SubjectPast {
    version: u64,
    exists: bool,
}

/// The state of the log's own rules after so many notes.
#[derive(Debug, Clone, Default)]
pub struct Replay {
    schema_checks: bool,
    founding: Option<Founding>,
    log_keys: LogKeys,
    ring: KeyRing,
    keys: KeyBook,
    ids: HashMap<u128, u64>,
    past: Vec<Past>,
    subjects: HashMap<Arc<str>, SubjectPast>,
    kinds: HashMap<String, Arc<str>>,
    approvals: Vec<approvals::HouseApproval>,
    tree: Tree,
    newest: Option<Instant>,
}

impl Replay {
    /// An empty log. `schema_checks` is off only for check vectors whose `data` is not meant to
    /// satisfy any schema.
    #[must_use]
    pub fn new(schema_checks: bool) -> Self {
        Self { schema_checks, ..Self::default() }
    }

    /// Number of notes.
    #[must_use]
    pub fn size(&self) -> u64 {
        self.past.len() as u64
    }

    /// The founding, once there is one.
    #[must_use]
    pub fn founding(&self) -> Option<&Founding> {
        self.founding.as_ref()
    }

    /// The log's keys, and which sign at which size.
    #[must_use]
    pub fn log_keys(&self) -> &LogKeys {
        &self.log_keys
    }

    /// Every key ever known.
    #[must_use]
    pub fn ring(&self) -> &KeyRing {
        &self.ring
    }

    /// Enrolled and root keys.
    #[must_use]
    pub fn keys(&self) -> &KeyBook {
        &self.keys
    }

    /// The tree over all leaves.
    #[must_use]
    pub fn tree(&self) -> &Tree {
        &self.tree
    }

    /// What is remembered of the note at `seq`.
    #[must_use]
    pub fn past(&self, seq: u64) -> Option<&Past> {
        self.past.get(usize::try_from(seq).ok()?)
    }

    /// The seq of the note with that id.
    #[must_use]
    pub fn seq_of(&self, id: &str) -> Option<u64> {
        self.ids.get(&ulid_number(id)?).copied()
    }

    /// When the newest note was recorded.
    #[must_use]
    pub fn newest(&self) -> Option<Instant> {
        self.newest
    }

    /// The version the next note about `subject` gets.
    #[must_use]
    pub fn next_version(&self, subject: &Subject) -> u64 {
        self.subjects.get(subject.as_str()).map_or(0, |past| past.version) + 1
    }

    /// Whether a subject has been brought into the record.
    #[must_use]
    pub fn exists(&self, subject: &Subject) -> bool {
        self.subjects.get(subject.as_str()).is_some_and(|past| past.exists)
    }

    /// What can be judged before a note's place is known.
    #[must_use]
    pub fn gate(&self) -> gate::Gate {
        gate::Gate {
            origin: self.founding.as_ref().map(|founding| founding.origin.clone()),
            ring: self.ring.clone(),
            schema_checks: self.schema_checks,
        }
    }

    /// Takes a note that has been judged, or that stands in a log: no question is asked here.
    pub fn apply(&mut self, event: &Event, leaf: &Leaf) {
        let target = event.data.get("target").and_then(Value::as_str).and_then(|id| self.seq_of(id));
        let facts = Facts {
            id: &event.id,
            kind: &event.kind,
            subject: &event.subject,
            time: event.time,
            timeafter: event.timeafter,
            keyid: event.keyid,
            keycount: event.keycount,
        };
        self.remember(leaf, &facts);
        self.set_target(&event.kind, target);
        for bytes in brought_keys(event) {
            if let Ok(key) = VerifyingKey::from_bytes(&bytes) {
                self.ring.add(key);
            }
        }
        match event.kind.as_str() {
            "collection.founded.v1" => self.found(event, leaf.seq),
            "key.enrolled.v1" | "key.revoked.v1" | "root.replaced.v1" => self.keys.apply(event, leaf),
            "log.rekeyed.v1" => self.log_keys.rekey(&event.data, leaf.seq),
            "body.withheld.v1" => self.withhold(event),
            "policy.set.v1" => self.set_approvals(event),
            _ => {}
        }
        self.bring_in(&event.kind, &event.subject, &event.data);
        self.remember_brought(&event.kind, &event.subject, &event.data);
        if let Some(target) = target {
            self.bring_in_corrected(event, target);
        }
    }

    /// A correction may name a subject that the note left out, such as a forgotten young one.
    fn bring_in_corrected(&mut self, event: &Event, target: u64) {
        let Some(replacement) = event.data.get("replacement").and_then(Value::as_object) else { return };
        let Some(note) = self.past(target).map(|past| self.note_behind(past)) else { return };
        let (kind, written) = (note.kind.clone(), note.subject.clone());
        let named = replacement.get("subject").and_then(Value::as_str).unwrap_or(&written);
        let Some(subject) = Subject::parse(named) else { return };
        let nothing = Map::new();
        let data = replacement.get("data").and_then(Value::as_object).unwrap_or(&nothing);
        self.bring_in(&kind, &subject, data);
    }

    /// The note at the end of a chain of acts on acts.
    pub(crate) fn note_behind<'a>(&'a self, past: &'a Past) -> &'a Past {
        let mut note = past;
        while let Some(target) = note.target.and_then(|seq| self.past(seq)) {
            note = target;
        }
        note
    }

    /// Takes a note whose body has been withheld: `facts` is the `data` of the `body.withheld`
    /// that names it (F23).
    pub fn apply_withheld(&mut self, facts: &Map<String, Value>, leaf: &Leaf) -> Option<()> {
        let text = |name: &str| facts.get(name).and_then(Value::as_str);
        let instant = |name: &str| text(name).and_then(|text| Instant::parse(text).ok());
        let subject = Subject::parse(text("subject")?)?;
        let kind = text("kind")?;
        let known = Facts {
            id: text("id")?,
            kind,
            subject: &subject,
            time: instant("time")?,
            timeafter: instant("timeafter"),
            keyid: KeyId::parse(text("keyid")?)?,
            keycount: facts.get("keycount").and_then(Value::as_u64).and_then(|count| u32::try_from(count).ok())?,
        };
        self.remember(leaf, &known);
        let nothing = Map::new();
        let data = facts.get("replacement").and_then(Value::as_object).unwrap_or(&nothing);
        self.bring_in(kind, &subject, data);
        self.remember_brought(kind, &subject, data);
        Some(())
    }

    fn remember(&mut self, leaf: &Leaf, facts: &Facts) {
        let id = ulid_number(facts.id).unwrap_or_default();
        let kind = self.kinds.entry(facts.kind.to_owned()).or_insert_with(|| Arc::from(facts.kind)).clone();
        let subject = match self.subjects.get_key_value(facts.subject.as_str()) {
            Some((known, _)) => known.clone(),
            None => Arc::from(facts.subject.as_str()),
        };
        self.ids.insert(id, leaf.seq);
        self.subjects.entry(subject.clone()).or_default().version += 1;
        self.past.push(Past {
            id,
            body_sha256: leaf.body_sha256,
            kind,
            subject,
            time: facts.time,
            timeafter: facts.timeafter,
            keyid: facts.keyid,
            keycount: facts.keycount,
            target: None,
            withheld: false,
            brought: Box::default(),
        });
        self.tree.push(leaf.hash());
        self.newest = Some(leaf.recorded_at);
    }

    fn set_target(&mut self, kind: &str, target: Option<u64>) {
        let is_act = catalogue().kind(kind).is_some_and(|kind| kind.is_act);
        if let (true, Some(past)) = (is_act, self.past.last_mut()) {
            past.target = target;
        }
    }

    /// Takes a subject for known that only a withheld body could have brought in (F23).
    pub fn presume(&mut self, subject: &Subject) {
        self.subjects.entry(Arc::from(subject.as_str())).or_default().exists = true;
    }

    fn bring_in(&mut self, kind: &str, subject: &Subject, data: &Map<String, Value>) {
        let Some(kind) = catalogue().kind(kind) else { return };
        for created in kind.created_by(subject, data) {
            self.subjects.entry(Arc::from(created.as_str())).or_default().exists = true;
        }
    }

    /// Remembers what the newest note brought in beside its own subject: whoever withholds its
    /// body must name these again.
    fn remember_brought(&mut self, kind: &str, subject: &Subject, data: &Map<String, Value>) {
        let Some(kind) = catalogue().kind(kind).filter(|kind| !kind.creates.is_empty()) else { return };
        let others = kind.created_by(subject, data).into_iter().filter(|created| created != subject);
        let brought: Box<[Arc<str>]> = others.map(|created| Arc::from(created.as_str())).collect();
        if let Some(past) = self.past.last_mut() {
            past.brought = brought;
        }
    }

    fn found(&mut self, event: &Event, seq: u64) {
        let text = |name: &str| event.data.get(name).and_then(Value::as_str).unwrap_or_default().to_owned();
        self.founding = Some(Founding {
            name: text("name"),
            country: text("country"),
            zone: text("time_zone").parse().unwrap_or(Tz::UTC),
            origin: text("origin"),
            simulated_clock: event.data.get("simulated_clock").and_then(Value::as_bool).unwrap_or(false),
        });
        if let Ok(key) = VerifierKey::parse(&text("log_vkey")) {
            self.log_keys.found(key);
        }
        self.keys.set_roots(&event.data, seq);
        self.subjects.entry(Arc::from("collection")).or_default().exists = true;
    }

    fn withhold(&mut self, event: &Event) {
        let seq = event.data.get("seq").and_then(Value::as_u64).and_then(|seq| usize::try_from(seq).ok());
        if let Some(past) = seq.and_then(|seq| self.past.get_mut(seq)) {
            past.withheld = true;
        }
    }

    /// Roles that a key holds at this size, whether in force or not.
    #[must_use]
    pub fn roles_of(&self, id: &KeyId) -> &[Role] {
        self.keys.get(id).map_or(&[], |record| &record.roles)
    }
}

/// A ULID as a number of 128 bits.
#[must_use]
pub fn ulid_number(text: &str) -> Option<u128> {
    ulid::Ulid::from_string(text).ok().map(|id| id.0)
}

/// The hash in a member of `data` that is 32 bytes in base64.
fn hash_member(data: &Map<String, Value>, name: &str) -> Option<Hash> {
    data.get(name).and_then(Value::as_str).and_then(from_base64_32)
}
