//! Founding, enrolling, revoking: the rules of F8, F10 and F11 that are not a table.

use super::Replay;
use super::judge::not_permitted;
use super::keys::{Role, key_of, roles_in, root_list};
use crate::encoding::from_base64_32;
use crate::limits::{ROOT_KEYS_MAX, ROOT_KEYS_MIN};
use crate::names::{KeyId, is_person};
use crate::note::VerifierKey;
use crate::refusal::{Refusal, Wanted};
use crate::signing::{Verified, admissible};
use crate::time::Instant;
use chrono_tz::Tz;
use serde_json::{Map, Value};
use std::collections::BTreeSet;

impl Replay {
    /// F10: seq 0 and only seq 0, count 1, signed by all its root keys.
    pub(super) fn check_founding(&self, note: &Verified) -> Result<(), Refusal> {
        let event = note.event();
        let text = |name: &str| event.data.get(name).and_then(Value::as_str).unwrap_or_default();
        if self.size() != 0 {
            return Err(not_permitted("/type", "this log is founded already; a collection is founded once, as its first note"));
        }
        if event.keycount != 1 {
            return Err(not_permitted("/keycount", "the founding note is the first of its author's key"));
        }
        let roots = check_roots(&event.data)?;
        if !roots.iter().all(|id| note.signed_by(id)) || !roots.contains(&event.keyid) {
            return Err(not_permitted("", "the founding note is signed by all its root keys, and by no other author"));
        }
        let zone: Result<Tz, _> = text("time_zone").parse();
        zone.map_err(|_| not_permitted("/data/time_zone", format!("{:?} is no IANA time zone known here", text("time_zone"))))?;
        let log_key = VerifierKey::parse(text("log_vkey")).map_err(|reason| not_permitted("/data/log_vkey", reason))?;
        if log_key.name() != text("origin") || !log_key.is_plain() {
            return Err(not_permitted("/data/log_vkey", "the log key is a plain Ed25519 note key whose name is the log's origin"));
        }
        admissible(log_key.public_key().as_bytes()).map_err(|reason| not_permitted("/data/log_vkey", reason))?;
        if roots.contains(&KeyId::of(log_key.public_key().as_bytes())) {
            return Err(not_permitted("/data/log_vkey", "a log key is never a root key"));
        }
        Ok(())
    }

    /// F11: by an enroller, and by the new key itself over the same body.
    pub(super) fn check_enrolment(&self, note: &Verified, recorded_at: Instant) -> Result<(), Refusal> {
        let event = note.event();
        let key = event.data.get("public_key").and_then(Value::as_str).and_then(from_base64_32);
        let key = key.ok_or_else(|| not_permitted("/data/public_key", "the public key must be 32 bytes in base64"))?;
        let id = KeyId::of(&key);
        if key_of(&event.subject) != Some(id) {
            return Err(not_permitted("/subject", format!("the subject of this enrolment must be key/{id}")));
        }
        admissible(&key).map_err(|reason| not_permitted("/data/public_key", reason))?;
        if self.keys().get(&id).is_some() || self.keys().was_root(&id) || self.is_log_key(&id) {
            return Err(not_permitted(
                "/data/public_key",
                "this key is known already; a key is enrolled once, and never again after revocation",
            ));
        }
        let roles = roles_in(&event.data);
        let administers = roles.iter().any(|role| matches!(role, Role::Registrar | Role::Curator));
        if !note.signed_by(&id) {
            let mut wants = vec![Wanted { roles: Vec::new(), persons: 1, key: Some(id.to_string()) }];
            wants.extend(self.roots_wanting(note).filter(|_| administers));
            let detail = "the new key must sign its own enrolment, as proof that its holder has it";
            return Err(not_permitted("", detail).wanting(wants));
        }
        self.check_enroller(note, recorded_at, administers)?;
        let person = event.data.get("person").and_then(Value::as_str).unwrap_or_default();
        self.check_own_enrolment(note, person, recorded_at)
    }

    /// Root persons who have yet to sign, for the threshold.
    fn roots_wanting(&self, note: &Verified) -> Option<Wanted> {
        let wanting = self.keys().threshold().saturating_sub(self.keys().root_persons(note));
        (wanting > 0).then(|| Wanted::roles(&["root".to_owned()], wanting))
    }

    fn check_enroller(&self, note: &Verified, recorded_at: Instant, administers: bool) -> Result<(), Refusal> {
        let by_roots = self.keys().root_persons(note) >= self.keys().threshold();
        let author_is_root = self.keys().roots().contains_key(&note.event().keyid);
        match (administers, author_is_root) {
            (true, _) if !by_roots => {
                let threshold = self.keys().threshold();
                let detail = format!("giving the role registrar or curator needs the signatures of {threshold} root persons");
                Err(not_permitted("", detail).wanting(self.roots_wanting(note).into_iter().collect()))
            }
            (true, true) => Ok(()),
            (false, true) => Err(not_permitted("/keyid", "root keys enrol only registrars and curators; a registrar enrols the others")),
            (_, false) => self.check_registrar(note, recorded_at),
        }
    }

    fn check_registrar(&self, note: &Verified, recorded_at: Instant) -> Result<(), Refusal> {
        let record = self.keys().get(&note.event().keyid);
        if record.is_some_and(|record| record.has(Role::Registrar) && record.in_force(self.size(), recorded_at)) {
            return Ok(());
        }
        Err(not_permitted("/keyid", "keys are enrolled and revoked by a registrar whose key is in force"))
    }

    /// F10: a registrar's or curator's key is revoked by one root key or one registrar.
    pub(super) fn check_revocation(&self, note: &Verified, recorded_at: Instant) -> Result<(), Refusal> {
        let event = note.event();
        // An unknown key is left to the subject rule, which comes later in F7's order.
        let Some(record) = key_of(&event.subject).and_then(|id| self.keys().get(&id)) else { return Ok(()) };
        let administers = record.has(Role::Registrar) || record.has(Role::Curator);
        if self.keys().roots().contains_key(&event.keyid) {
            let detail = "root keys revoke only registrars and curators; a registrar revokes the others";
            return if administers { Ok(()) } else { Err(not_permitted("/keyid", detail)) };
        }
        self.check_registrar(note, recorded_at)
    }

    /// Whether a key is or ever was the log's own.
    fn is_log_key(&self, id: &KeyId) -> bool {
        self.log_keys().all().iter().any(|log| KeyId::of(log.public_key().as_bytes()) == *id)
    }

    /// F10: the threshold of the root keys in force.
    pub(super) fn check_root_replacement(&self, note: &Verified) -> Result<(), Refusal> {
        let roots = check_roots(&note.event().data)?;
        if roots.iter().any(|id| self.is_log_key(id)) {
            return Err(not_permitted("/data/root_keys", "a log key is never a root key"));
        }
        self.check_by_roots(note, "replacing the root keys")
    }

    fn check_by_roots(&self, note: &Verified, doing: &str) -> Result<(), Refusal> {
        let author_is_root = self.keys().roots().contains_key(&note.event().keyid);
        if author_is_root && self.keys().root_persons(note) >= self.keys().threshold() {
            return Ok(());
        }
        let refusal = not_permitted("", format!("{doing} needs {} root persons", self.keys().threshold()));
        Err(if author_is_root { refusal.wanting(self.roots_wanting(note).into_iter().collect()) } else { refusal })
    }

    /// F14: a new key of the same origin, by the threshold of the root keys. It may come while
    /// an overlap lasts, which it ends: a key may be stolen then as at any time.
    pub(super) fn check_rekeying(&self, note: &Verified) -> Result<(), Refusal> {
        let (data, place) = (&note.event().data, "/data/log_vkey");
        let vkey = data.get("log_vkey").and_then(Value::as_str).unwrap_or_default();
        let key = VerifierKey::parse(vkey).map_err(|reason| not_permitted(place, reason))?;
        let origin = self.founding().map(|founding| founding.origin.as_str()).unwrap_or_default();
        if key.name() != origin || !key.is_plain() {
            return Err(not_permitted(place, format!("the new log key is a plain Ed25519 note key whose name is {origin}")));
        }
        admissible(key.public_key().as_bytes()).map_err(|reason| not_permitted(place, reason))?;
        let id = KeyId::of(key.public_key().as_bytes());
        if self.is_log_key(&id) || self.keys().was_root(&id) || self.keys().get(&id).is_some() {
            let detail = "this key is known already; a log key is a new one, never enrolled, never a root key";
            return Err(not_permitted(place, detail));
        }
        let until = data.get("overlap_until_size").and_then(Value::as_u64);
        if until.is_some_and(|until| until <= self.size()) {
            let detail = format!("the overlap ends at a size beyond this note: at least {}, or leave it out", self.size() + 1);
            return Err(not_permitted("/data/overlap_until_size", detail));
        }
        self.check_by_roots(note, "changing the log's key")
    }
}

/// The ids of a list of root keys that may found or replace.
pub(super) fn check_roots(data: &Map<String, Value>) -> Result<BTreeSet<KeyId>, Refusal> {
    let place = "/data/root_keys";
    let listed = data.get("root_keys").and_then(Value::as_array).map_or(0, Vec::len);
    let roots = root_list(data);
    if roots.len() != listed || !(ROOT_KEYS_MIN..=ROOT_KEYS_MAX).contains(&listed) {
        return Err(not_permitted(
            place,
            format!("{ROOT_KEYS_MIN} to {ROOT_KEYS_MAX} root keys are needed, each 32 bytes in base64 with its person"),
        ));
    }
    for (key, person) in &roots {
        admissible(key).map_err(|reason| not_permitted(place, reason))?;
        if !is_person(person) {
            return Err(not_permitted(place, format!("{person:?} is no pseudonym of the form person/<ULID>")));
        }
    }
    let ids: BTreeSet<KeyId> = roots.iter().map(|(key, _)| KeyId::of(key)).collect();
    let persons: BTreeSet<&String> = roots.iter().map(|(_, person)| person).collect();
    if ids.len() != listed || persons.len() != listed {
        return Err(not_permitted(place, "root keys and their persons must all be different"));
    }
    let threshold = data.get("root_threshold").and_then(Value::as_u64).unwrap_or_default();
    if threshold < ROOT_KEYS_MIN as u64 || threshold > listed as u64 {
        return Err(not_permitted("/data/root_threshold", format!("the threshold must lie between {ROOT_KEYS_MIN} and {listed}")));
    }
    Ok(ids)
}
