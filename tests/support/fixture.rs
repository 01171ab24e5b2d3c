//! Keys and notes for tests and benches: made with the agreement's own functions only, so that a
//! test of the client never leans on the client.

use ed25519_dalek::SigningKey;
use selachron_record::clock::Clock;
use selachron_record::init::{self, Plan};
use selachron_schemas::encoding::{base64, base64url};
use selachron_schemas::envelope::Envelope;
use selachron_schemas::names::KeyId;
use selachron_schemas::signing::sign;
use selachron_schemas::time::Instant;
use serde_json::{Map, Value, json};
use std::path::Path;
use std::sync::Arc;

/// The origin of every test log.
pub const ORIGIN: &str = "records.example.org/test-nursery";

/// A key with its person and its count; made from a number, so that a failing test fails again.
#[derive(Debug, Clone)]
pub struct Hand {
    /// The private key. Never used outside tests.
    pub key: SigningKey,
    /// Its id.
    pub keyid: KeyId,
    /// The holder's pseudonym.
    pub person: String,
    count: u32,
}

impl Hand {
    /// The hand of that number.
    #[must_use]
    pub fn new(number: u8) -> Self {
        let key = SigningKey::from_bytes(&[number; 32]);
        let keyid = KeyId::of(key.verifying_key().as_bytes());
        Self { key, keyid, person: format!("person/{}", ulid(0, u64::from(number))), count: 0 }
    }

    /// The public key in base64.
    #[must_use]
    pub fn public_key(&self) -> String {
        base64(self.key.verifying_key().as_bytes())
    }

    /// The next body by this hand: what happened at `time` is signed at `time`.
    pub fn body(&mut self, kind: &str, subject: &str, time: Instant, data: &Value) -> Vec<u8> {
        self.body_with(kind, subject, time, data, &Map::new())
    }

    /// The next body, with further attributes.
    pub fn body_with(&mut self, kind: &str, subject: &str, time: Instant, data: &Value, more: &Map<String, Value>) -> Vec<u8> {
        self.count += 1;
        let mut body = json!({
            "specversion": "1.0",
            "id": ulid(time.0.unsigned_abs(), u64::from(self.count) << 8 | u64::from(self.keyid.0[0])),
            "source": format!("https://{ORIGIN}"),
            "type": kind,
            "subject": subject,
            "time": time.utc_text(),
            "keyid": self.keyid,
            "keycount": self.count,
            "nonce": base64url(&[self.count.to_be_bytes(), [7; 4], [9; 4], [11; 4]].concat()),
            "signedtime": time.utc_text(),
        });
        let members = body.as_object_mut().expect("an object");
        members.extend(more.clone());
        members.insert("data".to_owned(), data.clone());
        body.to_string().into_bytes()
    }
}

/// A ULID from a time in milliseconds and a number.
#[must_use]
pub fn ulid(time_ms: u64, number: u64) -> String {
    ulid::Ulid::from_parts(time_ms, u128::from(number)).to_string()
}

/// The wire form of a body signed by all of `hands`.
#[must_use]
pub fn envelope(body: &[u8], hands: &[&Hand]) -> String {
    let signatures: Vec<_> = hands.iter().map(|hand| (hand.keyid, sign(&hand.key, body))).collect();
    Envelope::written(body, &signatures)
}

/// The people of a test log: two roots, and one of each role that writes.
#[derive(Debug, Clone)]
pub struct Staff {
    /// Root persons; both must sign.
    pub roots: [Hand; 2],
    /// Enrols.
    pub registrar: Hand,
    /// Answers for the nursery.
    pub curator: Hand,
    /// Licensed.
    pub veterinarian: Hand,
    /// Looks after the eggs.
    pub keeper: Hand,
    /// A second keeper.
    pub second_keeper: Hand,
    /// Learns.
    pub trainee: Hand,
}

impl Default for Staff {
    fn default() -> Self {
        Self {
            roots: [Hand::new(1), Hand::new(2)],
            registrar: Hand::new(3),
            curator: Hand::new(4),
            veterinarian: Hand::new(5),
            keeper: Hand::new(6),
            second_keeper: Hand::new(7),
            trainee: Hand::new(8),
        }
    }
}

impl Staff {
    /// Founds a log in `folder` through the service's own `init`, signed by both roots here.
    ///
    /// # Panics
    /// The service refuses.
    pub fn found(&mut self, folder: &Path, clock: Arc<dyn Clock>, simulated_clock: bool) {
        let plan = Plan {
            origin: ORIGIN.to_owned(),
            name: "Invented Test Nursery".to_owned(),
            country: "PT".to_owned(),
            time_zone: "Europe/Lisbon".to_owned(),
            roots: self.roots.iter().map(|root| (root.key.verifying_key().to_bytes(), root.person.clone())).collect(),
            root_threshold: self.roots.len(),
            simulated_clock,
        };
        let path = init::prepare(folder, &plan, &*clock).expect("an empty folder takes a log");
        let body = std::fs::read(path).expect("the founding body was written");
        self.roots[0].count = 1;
        init::found(folder, envelope(&body, &[&self.roots[0], &self.roots[1]]).as_bytes(), clock).expect("the founding note is good");
    }

    /// The enrolments of all others, as envelopes in order.
    pub fn enrolments(&mut self, time: Instant) -> Vec<String> {
        let mut envelopes = Vec::new();
        for (role, hand) in [("registrar", self.registrar.clone()), ("curator", self.curator.clone())] {
            let body = self.roots[0].body("key.enrolled.v1", &format!("key/{}", hand.keyid), time, &enrolment(&hand, role));
            envelopes.push(envelope(&body, &[&self.roots[0], &self.roots[1], &hand]));
        }
        let others =
            [("veterinarian", &self.veterinarian), ("keeper", &self.keeper), ("keeper", &self.second_keeper), ("trainee", &self.trainee)];
        for (role, hand) in others {
            let body = self.registrar.body("key.enrolled.v1", &format!("key/{}", hand.keyid), time, &enrolment(hand, role));
            envelopes.push(envelope(&body, &[&self.registrar, &self.curator, hand]));
        }
        envelopes
    }
}

/// What an enrolment says.
#[must_use]
pub fn enrolment(hand: &Hand, role: &str) -> Value {
    json!({"public_key": hand.public_key(), "person": hand.person, "roles": [role], "device": "test device"})
}
