//! Trust comes from outside (F26): a log key the auditor holds, a policy, or a checkpoint or
//! receipt kept from earlier. A bundle cannot vouch for itself.

use super::checkpoints::Checkpoints;
use super::policy::Policy;
use super::said::{Fault, Faults};
use super::walk::Walked;
use crate::encoding::base64;
use crate::merkle::{includes, leaf_hash};
use crate::note::{SignedCheckpoint, VerifierKey};
use crate::receipt::Receipt;
use serde::Serialize;

/// What the auditor brings along. Empty: nothing outside the bundle vouches for it.
#[derive(Debug, Clone, Default)]
pub struct Trust {
    /// A key of the log, got by a way that this bundle did not come.
    pub log_key: Option<VerifierKey>,
    /// Trusted logs, witnesses and quorum.
    pub policy: Option<Policy>,
    /// Checkpoints and receipts kept from earlier.
    pub seen: Vec<Kept>,
}

/// A checkpoint or receipt that the auditor kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Kept {
    /// What the auditor calls it, such as a file's name.
    pub name: String,
    /// The checkpoint, on a receipt the one it leads to.
    pub checkpoint: SignedCheckpoint,
}

impl Kept {
    /// Reads a checkpoint or a receipt.
    ///
    /// # Errors
    /// A sentence that says why it is neither, or why the receipt does not hold in itself.
    pub fn parse(name: &str, text: &str) -> Result<Self, String> {
        if !text.starts_with("c2sp.org/tlog-proof@") {
            let checkpoint = SignedCheckpoint::parse(text).map_err(|reason| format!("{name} is no checkpoint and no receipt: {reason}"))?;
            if checkpoint.checkpoint.size == 0 {
                return Err(format!("{name} is a checkpoint over no notes, so it proves nothing"));
            }
            return Ok(Self { name: name.to_owned(), checkpoint });
        }
        let receipt = Receipt::parse(text).map_err(|reason| format!("{name}: {reason}"))?;
        let (reached, hash) = (&receipt.checkpoint.checkpoint, leaf_hash(receipt.leaf_text.as_bytes()));
        if !includes(&reached.root, reached.size, receipt.leaf.seq, &hash, &receipt.proof) {
            return Err(format!("{name}: the receipt's proof does not lead from its leaf to its checkpoint, so it proves nothing"));
        }
        Ok(Self { name: name.to_owned(), checkpoint: receipt.checkpoint })
    }
}

/// What outside a bundle vouches for it.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Ties {
    /// The checkpoint is signed by the log key that the auditor holds.
    pub log_key: bool,
    /// The auditor holds a former key of the log: it signed a checkpoint over so many of these notes, and
    /// the change to the key that signs now stands in the log, signed by the root keys (F14).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub former_log_key_up_to: Option<u64>,
    /// The checkpoint satisfies the auditor's policy.
    pub policy: bool,
    /// The largest kept checkpoint whose notes all stand here, as a number of notes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kept_up_to: Option<u64>,
}

impl Ties {
    /// Whether anything does.
    #[must_use]
    pub fn any(&self) -> bool {
        self.log_key || self.former_log_key_up_to.is_some() || self.policy || self.kept_up_to.is_some()
    }
}

impl Trust {
    /// Whether the auditor brought nothing.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.log_key.is_none() && self.policy.is_none() && self.seen.is_empty()
    }

    pub(super) fn witnesses(&self) -> impl Iterator<Item = &VerifierKey> {
        self.policy.iter().flat_map(|policy| &policy.witnesses)
    }

    /// Holds the bundle against all of it; what does not agree is a fault.
    pub(super) fn ties(&self, checkpoints: &Checkpoints, walked: &Walked, faults: &mut Faults) -> Ties {
        let mut ties = Ties::default();
        if let Some(note) = &checkpoints.newest {
            ties.log_key = self.tied_by_key(note);
            ties.former_log_key_up_to = if ties.log_key { None } else { self.tied_by_former_key(&checkpoints.older, walked) };
            if !ties.log_key && ties.former_log_key_up_to.is_none() {
                self.refuse_key(walked, faults);
            }
            ties.policy = self.tied_by_policy(note, faults);
        }
        for kept in &self.seen {
            match kept.disagrees(walked) {
                None => ties.kept_up_to = ties.kept_up_to.max(Some(kept.checkpoint.checkpoint.size)),
                Some(says) => faults.add(Fault::of_bundle(format!("{}: {says}", kept.name))),
            }
        }
        ties
    }

    fn tied_by_key(&self, note: &SignedCheckpoint) -> bool {
        self.log_key.as_ref().is_some_and(|key| note.checkpoint.origin == key.name() && note.signed_by(key))
    }

    /// The largest checkpoint over these very notes that the auditor's key signed while it was the log's.
    /// What lies beyond rests on the root keys, which stand in the notes under it.
    fn tied_by_former_key(&self, older: &[SignedCheckpoint], walked: &Walked) -> Option<u64> {
        let key = self.log_key.as_ref().filter(|_| walked.complete)?;
        let kept = self.seen.iter().map(|kept| &kept.checkpoint);
        let holds = |note: &&SignedCheckpoint| {
            let checkpoint = &note.checkpoint;
            let in_force = walked.replay.log_keys().at(checkpoint.size).contains(&key);
            let over_these = walked.replay.tree().root(checkpoint.size) == Some(checkpoint.root);
            in_force && over_these && checkpoint.origin == key.name() && note.signed_by(key)
        };
        older.iter().chain(kept).filter(holds).map(|note| note.checkpoint.size).max()
    }

    fn refuse_key(&self, walked: &Walked, faults: &mut Faults) {
        let Some(key) = &self.log_key else { return };
        let former = walked.replay.log_keys().all().contains(key);
        let change = walked.replay.log_keys().last_change().filter(|_| former);
        let says = change.map_or_else(String::new, |change| {
            format!(
                "; it is a former key of this log, which changed its key at seq {}, and no checkpoint by it over these notes is here: get the new key by another way, or give a checkpoint that you kept",
                change.seq
            )
        });
        faults.add(Fault::in_file("checkpoint", 0, format!("the checkpoint is not signed by the log key that you trust, {key}{says}")));
    }

    fn tied_by_policy(&self, note: &SignedCheckpoint, faults: &mut Faults) -> bool {
        let Some(policy) = &self.policy else { return false };
        let by_log = policy.logs.iter().any(|key| note.checkpoint.origin == key.name() && note.signed_by(key));
        // A policy may leave its logs out; then the log key must come another way.
        if !by_log && !policy.logs.is_empty() {
            faults.add(Fault::in_file("checkpoint", 0, "the checkpoint is signed by no log of your policy"));
        }
        let witnessed = policy.witnessed(|witness| note.signed_by(witness));
        if !witnessed {
            faults.add(Fault::in_file("checkpoint", 0, "the checkpoint is not signed by enough witnesses of your policy"));
        }
        by_log && witnessed
    }
}

impl Kept {
    /// Why this bundle is not the log that the auditor saw, in one sentence.
    fn disagrees(&self, walked: &Walked) -> Option<String> {
        let (replay, seen) = (&walked.replay, &self.checkpoint.checkpoint);
        let signed = replay.log_keys().at(seen.size).iter().any(|key| key.name() == seen.origin && self.checkpoint.signed_by(key));
        if !signed {
            return Some(
                "what you kept is signed by no log key of this bundle: it is another log, or all of it was signed anew".to_owned(),
            );
        }
        if seen.size > walked.size {
            return Some(format!("you have seen {} notes, the bundle holds {}: notes have been taken away", seen.size, walked.size));
        }
        if !walked.complete {
            return Some("the notes could not all be read, so what you kept cannot be compared".to_owned());
        }
        match replay.tree().root(seen.size) {
            Some(root) if root == seen.root => None,
            Some(root) => Some(format!(
                "you have seen another root over the first {} notes than {}: notes were changed, replaced or taken away",
                seen.size,
                base64(&root)
            )),
            None => Some("what you kept cannot be compared".to_owned()),
        }
    }
}
