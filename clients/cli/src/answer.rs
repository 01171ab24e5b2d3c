//! What the service says of a note (F18), and the check of its receipt (F17): nothing is called
//! recorded before its leaf, its proof and its checkpoint were looked at.

use crate::fault::{Fault, Refused};
use ed25519_dalek::{Signature, VerifyingKey};
use selachron_schemas::catalogue::catalogue;
use selachron_schemas::encoding::from_base64_32;
use selachron_schemas::envelope::{Envelope, SignatureBytes};
use selachron_schemas::event::Event;
use selachron_schemas::merkle::{Hash, sha256};
use selachron_schemas::names::{KeyId, Subject};
use selachron_schemas::note::VerifierKey;
use selachron_schemas::receipt::Receipt;
use selachron_schemas::signing::signed_bytes;
use selachron_schemas::time::Instant;
use serde_json::Value;

/// What became of one envelope.
#[derive(Debug, Clone, PartialEq)]
pub enum Outcome {
    /// It is recorded, and its receipt was checked.
    Recorded(Box<Recorded>),
    /// The service refused it; nothing was recorded.
    Refused {
        /// The author's key, where the body could be read.
        keyid: Option<KeyId>,
        /// The count in the body.
        keycount: u32,
        /// Why.
        refused: Refused,
    },
    /// It is not known to be recorded: not sent, not answered, or answered with a receipt that
    /// does not hold. Send it again; a note is recorded once however often it is sent.
    Unsettled {
        /// The note's id, where the body could be read.
        id: Option<String>,
        /// Why.
        fault: Fault,
    },
}

/// A note that is in the record, and what proves it.
#[derive(Debug, Clone, PartialEq)]
pub struct Recorded {
    /// The note's id.
    pub id: String,
    /// Its kind.
    pub kind: String,
    /// What it is about.
    pub subject: Subject,
    /// What it brought into the record.
    pub created: Vec<Subject>,
    /// Its author's key.
    pub keyid: KeyId,
    /// Its count.
    pub keycount: u32,
    /// Of a `note.abandoned`: the count that it gives up.
    pub gives_up: Option<u32>,
    /// Its place in the log.
    pub seq: u64,
    /// The version of its subject that it made.
    pub subject_version: u64,
    /// When the log took it.
    pub recorded_at: Instant,
    /// Discrepancies in which it takes part: their ids, as the service gives them.
    pub discrepancies: Vec<Value>,
    /// Keys whose signatures were sent but do not stand in the leaf: the note had been recorded
    /// before they signed. They approve it by `record.endorsed`.
    pub signatures_too_late: Vec<KeyId>,
    /// The receipt's text, worth keeping.
    pub receipt: String,
}

impl Outcome {
    /// The note's id, where it is known.
    #[must_use]
    pub fn id(&self) -> Option<&str> {
        match self {
            Self::Recorded(recorded) => Some(&recorded.id),
            Self::Refused { refused, .. } => refused.id.as_deref(),
            Self::Unsettled { id, .. } => id.as_deref(),
        }
    }

    /// The recorded note, or the fault that stands for any other outcome.
    ///
    /// # Errors
    /// The refusal, or why it is unsettled.
    pub fn recorded(self) -> Result<Recorded, Fault> {
        match self {
            Self::Recorded(recorded) => Ok(*recorded),
            Self::Refused { refused, .. } => Err(Fault::Refused(refused)),
            Self::Unsettled { fault, .. } => Err(fault),
        }
    }
}

/// An envelope on its way: what its answer is held against.
#[derive(Debug, Clone)]
pub struct Sent {
    /// The parsed body.
    pub event: Event,
    /// SHA-256 of the body.
    pub body_sha256: Hash,
    body: Vec<u8>,
    signatures: Vec<(Option<KeyId>, SignatureBytes)>,
}

/// One answer of the service, read and not yet believed.
#[derive(Debug, Clone)]
pub struct Answer {
    seq: u64,
    subject_version: u64,
    discrepancies: Vec<Value>,
    receipt_text: String,
    /// The receipt, read.
    pub receipt: Receipt,
    /// The consistency proof from the event's `seensize` to the receipt's size, if it came along.
    pub consistency: Option<Vec<Hash>>,
}

/// How an answer line reads.
pub enum Line {
    /// The service says recorded; the receipt is still to be checked.
    Recorded(Box<Answer>),
    /// The service refuses.
    Refused(Refused),
    /// The service could not take it just now.
    Busy(String),
}

impl Sent {
    /// Reads an envelope that is about to be sent.
    ///
    /// # Errors
    /// It is no envelope, or its body is no note.
    pub fn read(envelope: &str) -> Result<Self, Fault> {
        let envelope = Envelope::read(envelope.as_bytes())?;
        let event = Event::parse(&envelope.body)?;
        let signatures = envelope.signatures.iter().map(|(hint, bytes)| (hint.as_deref().and_then(KeyId::parse), *bytes)).collect();
        Ok(Self { event, body_sha256: sha256(&envelope.body), body: envelope.body, signatures })
    }

    /// The body's exact bytes.
    #[must_use]
    pub fn body(&self) -> &[u8] {
        &self.body
    }

    /// Checks a receipt against what was sent: the leaf's body hash, the author's signature, the
    /// index, and the checkpoint under the pinned key. Consistency with earlier checkpoints is
    /// the client's to check.
    ///
    /// # Errors
    /// Broken, saying which check failed.
    pub fn check(&self, answer: &Answer, log_key: &VerifierKey, author: Option<&VerifyingKey>) -> Result<(), Fault> {
        let leaf = &answer.receipt.leaf;
        let id = &self.event.id;
        let broken = |what: &str| Fault::Broken(format!("the receipt of the note {id} does not hold: {what}"));
        if leaf.body_sha256 != self.body_sha256 {
            return Err(broken("its leaf is of another body"));
        }
        if leaf.seq != answer.seq || leaf.subject_version != answer.subject_version {
            return Err(broken("its leaf says another place or version than the answer"));
        }
        answer.receipt.check(log_key).map_err(|reason| broken(&reason))?;
        let own = leaf.signatures.iter().find(|(keyid, _)| *keyid == self.event.keyid);
        let (_, signature) = own.ok_or_else(|| broken("its leaf lacks the author's signature"))?;
        if !self.signature_holds(signature, author) {
            return Err(broken("the author's signature in its leaf is not one over this body"));
        }
        Ok(())
    }

    /// The signature that was sent, or another valid one of the author's: signing need not be
    /// deterministic (F6).
    fn signature_holds(&self, signature: &SignatureBytes, author: Option<&VerifyingKey>) -> bool {
        let sent = self.signatures.iter().any(|(hint, sent)| sent == signature && hint.is_none_or(|hint| hint == self.event.keyid));
        let valid = |key: &VerifyingKey| key.verify_strict(&signed_bytes(&self.body), &Signature::from_bytes(signature)).is_ok();
        let own = author.filter(|key| KeyId::of(key.as_bytes()) == self.event.keyid);
        own.map_or(sent, valid)
    }

    /// The outcome of a checked answer.
    #[must_use]
    pub fn recorded(&self, answer: Answer) -> Recorded {
        let leaf = &answer.receipt.leaf;
        let in_leaf = |id: &KeyId| leaf.signatures.iter().any(|(keyid, _)| keyid == id);
        let given_up = self.event.data.get("keycount").and_then(Value::as_u64).and_then(|count| u32::try_from(count).ok());
        let kind = catalogue().kind(&self.event.kind);
        Recorded {
            created: kind.map_or(Vec::new(), |kind| kind.created_by(&self.event.subject, &self.event.data)),
            id: self.event.id.clone(),
            kind: self.event.kind.clone(),
            subject: self.event.subject.clone(),
            keyid: self.event.keyid,
            keycount: self.event.keycount,
            gives_up: given_up.filter(|_| self.event.kind == "note.abandoned.v1"),
            seq: leaf.seq,
            subject_version: leaf.subject_version,
            recorded_at: leaf.recorded_at,
            signatures_too_late: self.signatures.iter().filter_map(|(hint, _)| *hint).filter(|id| !in_leaf(id)).collect(),
            discrepancies: answer.discrepancies,
            receipt: answer.receipt_text,
        }
    }
}

impl Line {
    /// Reads one answer about the note `id`.
    ///
    /// # Errors
    /// The answer is about another note, or lacks a member.
    pub fn read(value: &Value, id: &str) -> Result<Self, Fault> {
        let says = |name: &str| value.get(name).and_then(Value::as_str);
        let other = || Fault::Failed(format!("the service answered about another note than {id}"));
        match says("status") {
            Some("refused") => {
                let problem = value.get("problem").unwrap_or(&Value::Null);
                let mut refused = Refused::read(problem);
                if says("id").or(refused.id.as_deref()).is_some_and(|named| named != id) {
                    return Err(other());
                }
                refused.id = Some(id.to_owned());
                let busy = problem.get("status").and_then(Value::as_u64) == Some(BUSY);
                Ok(if busy { Self::Busy(refused.detail) } else { Self::Refused(refused) })
            }
            Some("recorded") if says("id") == Some(id) => Answer::read(value, id).map(|answer| Self::Recorded(Box::new(answer))),
            Some("recorded") => Err(other()),
            _ => Err(Fault::Failed(format!("the service's answer about the note {id} is neither recorded nor refused"))),
        }
    }
}

/// HTTP 503: the service is busy (RFC 9110).
const BUSY: u64 = 503;

impl Answer {
    fn read(value: &Value, id: &str) -> Result<Self, Fault> {
        let lacks = |what: &str| Fault::Failed(format!("the service's answer about the note {id} lacks {what}"));
        let number = |name: &str| value.get(name).and_then(Value::as_u64).ok_or_else(|| lacks(name));
        let receipt_text = value.get("receipt").and_then(Value::as_str).ok_or_else(|| lacks("its receipt"))?.to_owned();
        let broken = |reason| Fault::Broken(format!("the receipt of the note {id} cannot be read: {reason}"));
        Ok(Self {
            seq: number("seq")?,
            subject_version: number("subject_version")?,
            discrepancies: value.get("discrepancies").and_then(Value::as_array).cloned().unwrap_or_default(),
            receipt: Receipt::parse(&receipt_text).map_err(broken)?,
            receipt_text,
            consistency: value.get("consistency").and_then(read_hashes),
        })
    }
}

/// Reads a list of hashes in base64.
#[must_use]
pub fn read_hashes(value: &Value) -> Option<Vec<Hash>> {
    value.as_array()?.iter().map(|hash| from_base64_32(hash.as_str()?)).collect()
}
