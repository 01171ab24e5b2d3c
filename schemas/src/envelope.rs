//! A note as it travels: a DSSE envelope read strictly, and written in one form only (F7).

use crate::encoding::{base64, from_either_base64};
use crate::limits::{ENVELOPE_BYTES_MAX, SIGNATURES_MAX};
use crate::names::KeyId;
use crate::refusal::{Problem, Refusal};
use serde_json::Value;
use std::fmt::Write as _;

/// The payload type of our envelopes; it is part of what is signed (F6).
pub const PAYLOAD_TYPE: &str = "application/vnd.selachron.event.v1+json";

/// A raw Ed25519 signature.
pub type SignatureBytes = [u8; 64];

/// As it arrived: well formed as an envelope, nothing in it believed yet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Envelope {
    /// The body's exact bytes.
    pub body: Vec<u8>,
    /// Signatures with their hints, in the order they came. A hint may be wrong or absent.
    pub signatures: Vec<(Option<String>, SignatureBytes)>,
}

impl Envelope {
    /// Reads the wire form.
    ///
    /// # Errors
    /// `envelope-malformed`, saying which member is at fault.
    pub fn read(bytes: &[u8]) -> Result<Self, Refusal> {
        if bytes.len() > ENVELOPE_BYTES_MAX {
            return Err(malformed(format!("it has {} bytes; at most {ENVELOPE_BYTES_MAX} are allowed", bytes.len())));
        }
        let value = crate::ijson::parse(bytes).map_err(malformed)?;
        let Value::Object(mut members) = value else { return Err(malformed("it is not a JSON object")) };
        if members.shift_remove("payloadType").as_ref().and_then(Value::as_str) != Some(PAYLOAD_TYPE) {
            return Err(malformed(format!("payloadType must be {PAYLOAD_TYPE:?}")));
        }
        let payload = members.shift_remove("payload");
        let body = payload.as_ref().and_then(Value::as_str).and_then(from_either_base64);
        let body = body.ok_or_else(|| malformed("payload must be base64, padded, in one alphabet"))?;
        let signatures = read_signatures(members.shift_remove("signatures"))?;
        match members.keys().next() {
            Some(name) => Err(malformed(format!("{name:?} is no member of an envelope; remove it"))),
            None => Ok(Self { body, signatures }),
        }
    }

    /// The wire form of a body and its signatures, hints in place.
    #[must_use]
    pub fn written(body: &[u8], signatures: &[(KeyId, SignatureBytes)]) -> String {
        let mut sorted = signatures.to_vec();
        sorted.sort_unstable_by_key(|(keyid, _)| *keyid);
        let mut text = format!("{{\"payloadType\":\"{PAYLOAD_TYPE}\",\"payload\":\"{}\",\"signatures\":[", base64(body));
        for (at, (keyid, signature)) in sorted.iter().enumerate() {
            let comma = if at == 0 { "" } else { "," };
            let _ = write!(text, "{comma}{{\"keyid\":\"{keyid}\",\"sig\":\"{}\"}}", base64(signature));
        }
        text.push_str("]}");
        text
    }
}

fn malformed(reason: impl std::fmt::Display) -> Refusal {
    Refusal::new(Problem::EnvelopeMalformed, format!("the envelope cannot be read: {reason}"))
}

fn read_signatures(value: Option<Value>) -> Result<Vec<(Option<String>, SignatureBytes)>, Refusal> {
    let Some(Value::Array(items)) = value else { return Err(malformed("signatures must be a list")) };
    if !(1..=SIGNATURES_MAX).contains(&items.len()) {
        return Err(malformed(format!("it carries {} signatures; 1 to {SIGNATURES_MAX} are allowed", items.len())));
    }
    items.into_iter().map(read_signature).collect()
}

fn read_signature(item: Value) -> Result<(Option<String>, SignatureBytes), Refusal> {
    let Value::Object(mut members) = item else { return Err(malformed("a signature must be an object")) };
    let sig = members.shift_remove("sig");
    let bytes = sig.as_ref().and_then(Value::as_str).and_then(from_either_base64);
    let bytes: Option<SignatureBytes> = bytes.and_then(|bytes| bytes.try_into().ok());
    let bytes = bytes.ok_or_else(|| malformed("sig must be 64 bytes in base64"))?;
    let hint = match members.shift_remove("keyid") {
        None => None,
        Some(Value::String(hint)) => Some(hint),
        Some(_) => return Err(malformed("keyid must be a string")),
    };
    match members.keys().next() {
        Some(name) => Err(malformed(format!("{name:?} is no member of a signature; remove it"))),
        None => Ok((hint, bytes)),
    }
}
