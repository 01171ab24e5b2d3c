//! Who signed: DSSE v1 pre-authentication encoding and strict Ed25519 (F6), and which keys may
//! be enrolled at all (F8).

use crate::encoding::from_base64_32;
use crate::envelope::{Envelope, PAYLOAD_TYPE, SignatureBytes};
use crate::event::Event;
use crate::names::KeyId;
use crate::refusal::{Problem, Refusal};
use ed25519_dalek::{Signature, Signer as _, SigningKey, VerifyingKey};
use serde_json::Value;
use std::collections::BTreeMap;
use std::sync::Arc;

/// The bytes that are signed: DSSE v1 PAE of our payload type and the body (F6).
#[must_use]
pub fn signed_bytes(body: &[u8]) -> Vec<u8> {
    let head = format!("DSSEv1 {} {PAYLOAD_TYPE} {} ", PAYLOAD_TYPE.len(), body.len());
    [head.as_bytes(), body].concat()
}

/// Signs a body.
#[must_use]
pub fn sign(key: &SigningKey, body: &[u8]) -> SignatureBytes {
    key.sign(&signed_bytes(body)).to_bytes()
}

/// A public key that may be enrolled: canonical, not of small order, torsion-free (F8).
///
/// # Errors
/// A sentence that says which of these fails.
pub fn admissible(bytes: &[u8; 32]) -> Result<VerifyingKey, &'static str> {
    let key = VerifyingKey::from_bytes(bytes).map_err(|_| "the public key is no point of the curve")?;
    if key.to_edwards().compress().to_bytes() != *bytes {
        return Err("the public key is not in its canonical encoding");
    }
    if key.is_weak() {
        return Err("the public key is of small order");
    }
    if !key.to_edwards().is_torsion_free() {
        return Err("the public key is not torsion-free");
    }
    Ok(key)
}

/// All keys ever known to a log, revoked ones too; cheap to clone and to add to.
#[derive(Debug, Clone, Default)]
pub struct KeyRing(Arc<BTreeMap<KeyId, VerifyingKey>>);

impl KeyRing {
    /// Adds a key; one that is already known changes nothing.
    pub fn add(&mut self, key: VerifyingKey) {
        let id = KeyId::of(key.as_bytes());
        if !self.0.contains_key(&id) {
            Arc::make_mut(&mut self.0).insert(id, key);
        }
    }

    /// The key of that id.
    #[must_use]
    pub fn get(&self, id: &KeyId) -> Option<&VerifyingKey> {
        self.0.get(id)
    }

    /// How many keys are known.
    #[must_use]
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Whether no key is known yet.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// This ring and the keys that a founding or enrolling body itself brings (F7).
    #[must_use]
    pub fn with_keys_of(&self, event: &Event) -> Self {
        let mut ring = self.clone();
        for bytes in brought_keys(event) {
            if let Ok(key) = VerifyingKey::from_bytes(&bytes) {
                ring.add(key);
            }
        }
        ring
    }
}

/// Public keys that a body brings into the log.
#[must_use]
pub fn brought_keys(event: &Event) -> Vec<[u8; 32]> {
    let key_of = |value: &Value| value.get("public_key").and_then(Value::as_str).and_then(from_base64_32);
    match event.kind.as_str() {
        "key.enrolled.v1" => event.data.get("public_key").and_then(Value::as_str).and_then(from_base64_32).into_iter().collect(),
        "collection.founded.v1" | "root.replaced.v1" => {
            let list = event.data.get("root_keys").and_then(Value::as_array);
            list.into_iter().flatten().filter_map(key_of).collect()
        }
        _ => Vec::new(),
    }
}

/// A note whose every signature has been verified under a known key. Only [`verify`] makes one.
#[derive(Debug, Clone, PartialEq)]
pub struct Verified {
    event: Event,
    body: Vec<u8>,
    body_sha256: [u8; 32],
    signatures: Vec<(KeyId, SignatureBytes)>,
}

impl Verified {
    /// The parsed note.
    #[must_use]
    pub fn event(&self) -> &Event {
        &self.event
    }

    /// The body's exact bytes.
    #[must_use]
    pub fn body(&self) -> &[u8] {
        &self.body
    }

    /// SHA-256 of the body.
    #[must_use]
    pub fn body_sha256(&self) -> &[u8; 32] {
        &self.body_sha256
    }

    /// Signatures by the id of the key that verified, ascending.
    #[must_use]
    pub fn signatures(&self) -> &[(KeyId, SignatureBytes)] {
        &self.signatures
    }

    /// Whether that key signed.
    #[must_use]
    pub fn signed_by(&self, id: &KeyId) -> bool {
        self.signatures.iter().any(|(signer, _)| signer == id)
    }
}

/// Verifies every signature of an envelope (F7). `event` must be the parse of the envelope's
/// own body; `ring` holds every key ever known.
///
/// # Errors
/// `signer-unknown`, `signature-invalid`, `envelope-malformed` (two by one key) or
/// `author-signature-missing`.
pub fn verify(envelope: Envelope, event: Event, ring: &KeyRing) -> Result<Verified, Refusal> {
    let ring = ring.with_keys_of(&event);
    let message = signed_bytes(&envelope.body);
    let mut signatures: Vec<(KeyId, SignatureBytes)> = Vec::with_capacity(envelope.signatures.len());
    for (hint, bytes) in &envelope.signatures {
        let signer = signer(&message, hint.as_deref(), bytes, &ring, &event.keyid)?;
        if signatures.iter().any(|(earlier, _)| *earlier == signer) {
            return Err(Refusal::new(Problem::EnvelopeMalformed, format!("the key {signer} signed twice; one signature a key")));
        }
        signatures.push((signer, *bytes));
    }
    if !signatures.iter().any(|(signer, _)| *signer == event.keyid) {
        let detail = format!("no signature by the key {} that the body names as its author", event.keyid);
        return Err(Refusal::at(Problem::AuthorSignatureMissing, "/keyid", detail));
    }
    signatures.sort_unstable_by_key(|(signer, _)| *signer);
    let body_sha256 = crate::merkle::sha256(&envelope.body);
    Ok(Verified { event, body: envelope.body, body_sha256, signatures })
}

/// The key under which a signature verifies: the hinted one first, then the author's, then all.
fn signer(message: &[u8], hint: Option<&str>, bytes: &SignatureBytes, ring: &KeyRing, author: &KeyId) -> Result<KeyId, Refusal> {
    let signature = Signature::from_bytes(bytes);
    let verifies = |key: &VerifyingKey| key.verify_strict(message, &signature).is_ok();
    let hinted = hint.and_then(KeyId::parse);
    for id in hinted.iter().chain([author]) {
        if ring.get(id).is_some_and(verifies) {
            return Ok(*id);
        }
    }
    if let Some((id, _)) = ring.0.iter().find(|(_, key)| verifies(key)) {
        return Ok(*id);
    }
    match hinted {
        Some(id) if ring.get(&id).is_none() => {
            Err(Refusal::new(Problem::SignerUnknown, format!("the key {id} is not enrolled in this log; ask a registrar to enrol it")))
        }
        _ => Err(Refusal::new(Problem::SignatureInvalid, "a signature verifies under no key of this log; sign the body again")),
    }
}
