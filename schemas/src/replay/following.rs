//! Following a log to its next key (F14), by whoever has pinned the one before and holds no notes. The
//! pinned key vouches that the notes shown stand in its log; that they may change the key is checked by
//! the signatures of the root keys themselves, from the founding on (F10). A stolen log key alone
//! therefore leads nobody to another one.

use super::administration::check_roots;
use super::keys::root_list;
use crate::envelope::Envelope;
use crate::event::Event;
use crate::merkle::sha256;
use crate::names::KeyId;
use crate::note::{SignedCheckpoint, VerifierKey};
use crate::receipt::Receipt;
use crate::signing::signed_bytes;
use ed25519_dalek::{Signature, VerifyingKey};
use serde_json::{Map, Value};
use std::collections::{BTreeMap, BTreeSet};

/// A note with its receipt, as a service shows them.
#[derive(Debug, Clone, Copy)]
pub struct Shown<'a> {
    /// The note as it was signed (F7).
    pub envelope: &'a str,
    /// Its receipt (F17).
    pub receipt: &'a str,
}

/// Where a change of key leads.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Followed {
    /// The log's next key.
    pub key: VerifierKey,
    /// The checkpoint under which all of this stands, signed by both keys.
    pub checkpoint: SignedCheckpoint,
}

struct Read {
    envelope: Envelope,
    event: Event,
    receipt: Receipt,
}

/// Root keys in force, with their persons.
struct Roots {
    keys: BTreeMap<KeyId, (VerifyingKey, String)>,
    threshold: usize,
}

/// Checks a change of key: `notes` are the founding, every replacement of the root keys, and the
/// `log.rekeyed`, in the order of the log.
///
/// # Errors
/// A sentence that says what does not hold.
pub fn follow(pinned: &VerifierKey, notes: &[Shown<'_>]) -> Result<Followed, String> {
    let notes = notes.iter().map(|shown| read(pinned, shown)).collect::<Result<Vec<_>, _>>()?;
    let ([founding, replacements @ ..], Some(change)) = (&notes[..notes.len().saturating_sub(1)], notes.last()) else {
        return Err("the founding and the change of key are both needed".to_owned());
    };
    check_order(&notes)?;
    let mut roots = founded(pinned, founding)?;
    for note in replacements {
        roots.check(note, "root.replaced.v1")?;
        roots = Roots::named_in(&note.event.data)?;
    }
    roots.check(change, "log.rekeyed.v1")?;
    let key = VerifierKey::parse(change.event.data.get("log_vkey").and_then(Value::as_str).unwrap_or_default())?;
    let checkpoint = change.receipt.checkpoint.clone();
    if key.name() != pinned.name() || key == *pinned {
        return Err(format!("the change leads to the key {key}, which is no other key of {}", pinned.name()));
    }
    if !checkpoint.signed_by(&key) {
        return Err("the new key has not signed the checkpoint that holds the change".to_owned());
    }
    Ok(Followed { key, checkpoint })
}

fn read(pinned: &VerifierKey, shown: &Shown<'_>) -> Result<Read, String> {
    let receipt = Receipt::parse(shown.receipt)?;
    receipt.check(pinned)?;
    let envelope = Envelope::read(shown.envelope.as_bytes()).map_err(|refusal| refusal.to_string())?;
    if sha256(&envelope.body) != receipt.leaf.body_sha256 {
        return Err(format!("the receipt of the note at seq {} is of another note", receipt.leaf.seq));
    }
    let event = Event::parse(&envelope.body).map_err(|refusal| refusal.to_string())?;
    Ok(Read { envelope, event, receipt })
}

/// All stand in one tree, each after the one before.
fn check_order(notes: &[Read]) -> Result<(), String> {
    let in_order = notes.windows(2).all(|pair| pair[0].receipt.leaf.seq < pair[1].receipt.leaf.seq);
    let one_tree = notes.windows(2).all(|pair| pair[0].receipt.checkpoint == pair[1].receipt.checkpoint);
    if in_order && one_tree { Ok(()) } else { Err("the notes shown are not in the order of one log".to_owned()) }
}

fn founded(pinned: &VerifierKey, founding: &Read) -> Result<Roots, String> {
    let event = &founding.event;
    let origin = event.data.get("origin").and_then(Value::as_str);
    if event.kind != "collection.founded.v1" || founding.receipt.leaf.seq != 0 || origin != Some(pinned.name()) {
        return Err(format!("the first note shown does not found {}", pinned.name()));
    }
    let roots = Roots::named_in(&event.data)?;
    if roots.persons(&founding.envelope).len() != roots.keys.len() {
        return Err("the founding is not signed by all its root keys".to_owned());
    }
    Ok(roots)
}

impl Roots {
    fn named_in(data: &Map<String, Value>) -> Result<Self, String> {
        check_roots(data).map_err(|refusal| refusal.to_string())?;
        let key = |(bytes, person): ([u8; 32], String)| Some((KeyId::of(&bytes), (VerifyingKey::from_bytes(&bytes).ok()?, person)));
        let keys = root_list(data).into_iter().filter_map(key).collect();
        let threshold = data.get("root_threshold").and_then(Value::as_u64).and_then(|number| usize::try_from(number).ok());
        Ok(Self { keys, threshold: threshold.unwrap_or(usize::MAX) })
    }

    /// Persons whose root keys signed. What else signed says nothing here.
    fn persons(&self, envelope: &Envelope) -> BTreeSet<&str> {
        let message = signed_bytes(&envelope.body);
        let signs = |key: &VerifyingKey| {
            envelope.signatures.iter().any(|(_, bytes)| key.verify_strict(&message, &Signature::from_bytes(bytes)).is_ok())
        };
        self.keys.values().filter(|(key, _)| signs(key)).map(|(_, person)| person.as_str()).collect()
    }

    /// That a note is of that kind, by a root key and by as many root persons as must sign.
    fn check(&self, note: &Read, kind: &str) -> Result<(), String> {
        if note.event.kind != kind {
            return Err(format!("{} stands where {kind} is wanted", note.event.kind));
        }
        let signed = self.persons(&note.envelope);
        let author = self.keys.get(&note.event.keyid).is_some_and(|(_, person)| signed.contains(person.as_str()));
        if author && signed.len() >= self.threshold {
            return Ok(());
        }
        let seq = note.receipt.leaf.seq;
        Err(format!(
            "{kind} at seq {seq} needs the signatures of {} root persons, its author among them, and bears {}",
            self.threshold,
            signed.len()
        ))
    }
}
