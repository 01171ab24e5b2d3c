//! Who may sign, and when: root keys, enrolments and revocations by position in the log (F8 to
//! F11). Approvals count persons, not keys.

use crate::encoding::from_base64_32;
use crate::event::Event;
use crate::names::{KeyId, Subject};
use crate::receipt::Leaf;
use crate::signing::Verified;
use crate::time::Instant;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};
use std::collections::{BTreeMap, BTreeSet};

/// What a key's holder may do (F19).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Role {
    /// Looks after eggs and animals.
    Keeper,
    /// Learns; the notes are marked until somebody endorses them.
    Trainee,
    /// A licensed veterinarian.
    Veterinarian,
    /// Answers for the nursery.
    Curator,
    /// Enrols keys and keeps the record in order.
    Registrar,
    /// A probe or other device.
    Instrument,
    /// Reports on samples.
    Laboratory,
    /// Reads.
    Auditor,
    /// Reads.
    Studbook,
}

impl Role {
    /// The word that `roles.json` and enrolments use.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Keeper => "keeper",
            Self::Trainee => "trainee",
            Self::Veterinarian => "veterinarian",
            Self::Curator => "curator",
            Self::Registrar => "registrar",
            Self::Instrument => "instrument",
            Self::Laboratory => "laboratory",
            Self::Auditor => "auditor",
            Self::Studbook => "studbook",
        }
    }
}

/// A revocation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Revocation {
    /// Its seq.
    pub seq: u64,
    /// From when the key is suspected, compared with `recorded_at` (F11).
    pub suspected_since: Option<Instant>,
}

/// An enrolled key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeyRecord {
    /// Raw public key.
    pub public_key: [u8; 32],
    /// The holder's pseudonym, `person/<ULID>`.
    pub person: String,
    /// What the holder may do.
    pub roles: Vec<Role>,
    /// The device, in words.
    pub device: String,
    /// Seq of the enrolment.
    pub enrolled: u64,
    /// Not in force for notes recorded after this.
    pub valid_until: Option<Instant>,
    /// Revocations, oldest first.
    pub revoked: Vec<Revocation>,
}

impl KeyRecord {
    /// Whether the key is in force for a note at `seq` recorded at `recorded_at` (F11).
    #[must_use]
    pub fn in_force(&self, seq: u64, recorded_at: Instant) -> bool {
        self.enrolled < seq
            && !self.revoked.iter().any(|revocation| revocation.seq < seq)
            && self.valid_until.is_none_or(|until| recorded_at <= until)
    }

    /// Whether the holder has that role.
    #[must_use]
    pub fn has(&self, role: Role) -> bool {
        self.roles.contains(&role)
    }

    /// Earliest moment from which this key is suspected, as known at `size`.
    #[must_use]
    pub fn suspected_since(&self, size: u64) -> Option<Instant> {
        self.revoked.iter().filter(|revocation| revocation.seq < size).filter_map(|revocation| revocation.suspected_since).min()
    }
}

/// Root keys as one note named them.
#[derive(Debug, Clone)]
pub struct RootList {
    /// Seq of the note.
    pub seq: u64,
    /// Their persons.
    pub persons: BTreeMap<KeyId, String>,
}

/// Root keys and enrolled keys.
#[derive(Debug, Clone, Default)]
pub struct KeyBook {
    /// Persons of the root keys in force.
    roots: BTreeMap<KeyId, String>,
    /// The founding and each replacement of the root keys, oldest first.
    root_lists: Vec<RootList>,
    threshold: usize,
    enrolled: BTreeMap<KeyId, KeyRecord>,
}

impl KeyBook {
    /// An enrolled key.
    #[must_use]
    pub fn get(&self, id: &KeyId) -> Option<&KeyRecord> {
        self.enrolled.get(id)
    }

    /// All enrolled keys.
    pub fn enrolled(&self) -> impl Iterator<Item = (&KeyId, &KeyRecord)> {
        self.enrolled.iter()
    }

    /// Root keys in force with their persons.
    #[must_use]
    pub fn roots(&self) -> &BTreeMap<KeyId, String> {
        &self.roots
    }

    /// How many root persons must sign.
    #[must_use]
    pub fn threshold(&self) -> usize {
        self.threshold
    }

    /// The lists of root keys, oldest first: by the founding and by each replacement. The last is in force.
    #[must_use]
    pub fn root_lists(&self) -> &[RootList] {
        &self.root_lists
    }

    /// Whether a key is or ever was a root key.
    #[must_use]
    pub fn was_root(&self, id: &KeyId) -> bool {
        self.root_lists.iter().any(|list| list.persons.contains_key(id))
    }

    /// How many root persons signed a note.
    #[must_use]
    pub fn root_persons(&self, note: &Verified) -> usize {
        let persons: BTreeSet<&String> = note.signatures().iter().filter_map(|(id, _)| self.roots.get(id)).collect();
        persons.len()
    }

    /// Persons other than the author whose keys in force approve a note, with one of `roles`.
    #[must_use]
    pub fn approvers(&self, note: &Verified, seq: u64, recorded_at: Instant, roles: &[Role]) -> BTreeSet<&str> {
        let author = self.person_of(&note.event().keyid);
        let signers = note.signatures().iter().filter_map(|(id, _)| self.enrolled.get(id));
        signers
            .filter(|record| record.in_force(seq, recorded_at) && record.roles.iter().any(|role| roles.contains(role)))
            .map(|record| record.person.as_str())
            .filter(|person| Some(*person) != author)
            .collect()
    }

    /// The person who holds a key, enrolled or root.
    #[must_use]
    pub fn person_of(&self, id: &KeyId) -> Option<&str> {
        self.enrolled.get(id).map(|record| record.person.as_str()).or_else(|| self.roots.get(id).map(String::as_str))
    }

    pub(super) fn set_roots(&mut self, data: &Map<String, Value>, seq: u64) {
        self.roots = root_list(data).into_iter().map(|(key, person)| (KeyId::of(&key), person)).collect();
        self.root_lists.push(RootList { seq, persons: self.roots.clone() });
        let threshold = data.get("root_threshold").and_then(Value::as_u64);
        self.threshold = threshold.and_then(|t| usize::try_from(t).ok()).unwrap_or(usize::MAX);
    }

    pub(super) fn apply(&mut self, event: &Event, leaf: &Leaf) {
        match event.kind.as_str() {
            "key.enrolled.v1" => self.enrol(event, leaf.seq),
            "key.revoked.v1" => self.revoke(event, leaf.seq),
            _ => self.set_roots(&event.data, leaf.seq),
        }
    }

    fn enrol(&mut self, event: &Event, seq: u64) {
        let text = |name: &str| event.data.get(name).and_then(Value::as_str);
        let Some(public_key) = text("public_key").and_then(from_base64_32) else { return };
        let record = KeyRecord {
            public_key,
            person: text("person").unwrap_or_default().to_owned(),
            roles: roles_in(&event.data),
            device: text("device").unwrap_or_default().to_owned(),
            enrolled: seq,
            valid_until: text("valid_until").and_then(|text| Instant::parse(text).ok()),
            revoked: Vec::new(),
        };
        self.enrolled.entry(KeyId::of(&public_key)).or_insert(record);
    }

    fn revoke(&mut self, event: &Event, seq: u64) {
        let since = event.data.get("suspected_since").and_then(Value::as_str).and_then(|text| Instant::parse(text).ok());
        if let Some(record) = key_of(&event.subject).and_then(|id| self.enrolled.get_mut(&id)) {
            record.revoked.push(Revocation { seq, suspected_since: since });
        }
    }
}

/// The key id of a subject `key/<keyid>`.
#[must_use]
pub fn key_of(subject: &Subject) -> Option<KeyId> {
    if subject.noun() == "key" { KeyId::parse(subject.id()) } else { None }
}

/// The roles that an enrolment gives.
#[must_use]
pub fn roles_in(data: &Map<String, Value>) -> Vec<Role> {
    let list = data.get("roles").and_then(Value::as_array);
    list.into_iter().flatten().filter_map(|word| Role::deserialize(word).ok()).collect()
}

/// Root keys and persons of a founding or replacing body.
#[must_use]
pub fn root_list(data: &Map<String, Value>) -> Vec<([u8; 32], String)> {
    let list = data.get("root_keys").and_then(Value::as_array);
    let read = |item: &Value| Some((from_base64_32(item.get("public_key")?.as_str()?)?, item.get("person")?.as_str()?.to_owned()));
    list.into_iter().flatten().filter_map(read).collect()
}
