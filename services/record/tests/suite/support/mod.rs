//! A small invented nursery for tests: keys, notes, a founded log.

pub mod house;

pub mod wire;

pub mod world;

use base64::Engine as _;
use ed25519_dalek::SigningKey;
use selachron_schemas::encoding::{base64 as standard, base64url};
use selachron_schemas::envelope::Envelope;
use selachron_schemas::names::KeyId;
use selachron_schemas::note::VerifierKey;
use selachron_schemas::signing::sign;
use selachron_schemas::time::Instant;
use serde_json::{Value, json};
use std::cell::Cell;

pub const ORIGIN: &str = "records.example.org/tests";
pub const START: Instant = Instant(1_772_320_440_000);

/// A person's key with its count.
pub struct Signer {
    pub key: SigningKey,
    pub person: String,
    count: Cell<u32>,
}

impl Signer {
    pub fn new(number: u8) -> Self {
        let person = format!("person/{}", ulid(0, u128::from(number)));
        Self { key: SigningKey::from_bytes(&[number; 32]), person, count: Cell::new(0) }
    }

    pub fn id(&self) -> KeyId {
        KeyId::of(self.key.verifying_key().as_bytes())
    }

    pub fn public(&self) -> String {
        standard(self.key.verifying_key().as_bytes())
    }

    fn next_count(&self) -> u32 {
        self.count.set(self.count.get() + 1);
        self.count.get()
    }
}

pub fn ulid(ms: u64, chance: u128) -> String {
    ulid::Ulid::from_parts(ms, chance).to_string()
}

/// The people of the invented nursery and its log key.
pub struct Cast {
    pub log: SigningKey,
    pub roots: [Signer; 2],
    pub registrar: Signer,
    pub curator: Signer,
    pub keeper: Signer,
    next: Cell<u128>,
}

impl Default for Cast {
    fn default() -> Self {
        Self {
            log: SigningKey::from_bytes(&[99; 32]),
            roots: [Signer::new(1), Signer::new(2)],
            registrar: Signer::new(3),
            curator: Signer::new(4),
            keeper: Signer::new(5),
            next: Cell::new(0),
        }
    }
}

impl Cast {
    pub fn new_id(&self) -> String {
        self.next.set(self.next.get() + 1);
        ulid(START.0.cast_unsigned(), self.next.get())
    }

    pub fn log_vkey(&self) -> VerifierKey {
        VerifierKey::new(ORIGIN, self.log.verifying_key())
    }

    /// A body by `author`, at `time`; `more` is laid over it.
    pub fn body(&self, author: &Signer, kind: &str, subject: &str, time: Instant, data: Value, more: Value) -> Value {
        let mut body = json!({
            "specversion": "1.0", "id": self.new_id(), "source": format!("https://{ORIGIN}"), "type": kind, "subject": subject,
            "time": time.utc_text(), "keyid": author.id().to_string(), "keycount": author.next_count(),
            "nonce": base64url(&[7; 16]), "signedtime": time.utc_text(), "data": data,
        });
        for (name, value) in more.as_object().into_iter().flatten() {
            body[name] = value.clone();
        }
        body
    }

    pub fn founding(&self, time: Instant) -> Vec<u8> {
        let roots: Vec<Value> = self.roots.iter().map(|root| json!({"public_key": root.public(), "person": root.person})).collect();
        let data = json!({
            "name": "Invented Nursery", "country": "AU", "time_zone": "Australia/Brisbane", "origin": ORIGIN, "root_keys": roots,
            "root_threshold": 2, "log_vkey": self.log_vkey().to_string(), "simulated_clock": true,
        });
        let body = self.body(&self.roots[0], "collection.founded.v1", "collection", time, data, json!({}));
        envelope(&body, &[&self.roots[0], &self.roots[1]])
    }

    pub fn enrolment(&self, author: &Signer, signers: &[&Signer], key: &Signer, roles: &[&str], time: Instant) -> Vec<u8> {
        let data = json!({"public_key": key.public(), "person": key.person, "roles": roles, "device": "tank-side tablet"});
        let body = self.body(author, "key.enrolled.v1", &format!("key/{}", key.id()), time, data, json!({}));
        envelope(&body, &[signers, &[key]].concat())
    }

    /// Founding, registrar, curator, keeper: five notes with a tank system.
    pub fn beginning(&self, time: Instant) -> Vec<Vec<u8>> {
        let [first, second] = &self.roots;
        vec![
            self.founding(time),
            self.enrolment(first, &[first, second], &self.registrar, &["registrar"], time),
            self.enrolment(first, &[first, second], &self.curator, &["curator"], time),
            self.enrolment(&self.registrar, &[&self.registrar, &self.curator], &self.keeper, &["keeper"], time),
        ]
    }

    /// The log's key becomes the one of that number.
    pub fn rekeying(&self, number: u8, time: Instant, overlap_until_size: Option<u64>) -> Vec<u8> {
        let [first, second] = &self.roots;
        let key = VerifierKey::new(ORIGIN, SigningKey::from_bytes(&[number; 32]).verifying_key());
        let mut data = json!({"log_vkey": key.to_string(), "reason": "the machine is replaced"});
        if let Some(until) = overlap_until_size {
            data["overlap_until_size"] = json!(until);
        }
        let body = self.body(first, "log.rekeyed.v1", "collection", time, data, json!({}));
        envelope(&body, &[first, second])
    }

    pub fn system(&self, time: Instant) -> (String, Vec<u8>) {
        let subject = format!("system/{}", self.new_id());
        let data = json!({"label": "North", "water": "temperate"});
        let body = self.body(&self.curator, "system.set_up.v1", &subject, time, data, json!({}));
        (subject, envelope(&body, &[&self.curator]))
    }

    pub fn water(&self, system: &str, time: Instant, more: Value) -> Vec<u8> {
        let data = json!({"temperature_c": 19.5, "instrument": "probe 3"});
        let body = self.body(&self.keeper, "water.measured.v1", system, time, data, more);
        envelope(&body, &[&self.keeper])
    }
}

pub fn envelope(body: &Value, signers: &[&Signer]) -> Vec<u8> {
    let body = body.to_string().into_bytes();
    let signatures: Vec<_> = signers.iter().map(|signer| (signer.id(), sign(&signer.key, &body))).collect();
    Envelope::written(&body, &signatures).into_bytes()
}

/// The body of an envelope that we made ourselves.
pub fn body_of(envelope: &[u8]) -> Value {
    let envelope: Value = serde_json::from_slice(envelope).unwrap();
    let payload = envelope["payload"].as_str().unwrap();
    serde_json::from_slice(&base64::engine::general_purpose::STANDARD.decode(payload).unwrap()).unwrap()
}
