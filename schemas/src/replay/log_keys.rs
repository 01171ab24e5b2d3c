//! Which keys sign the log's checkpoints, by their size (F14). A change of key stands in the log:
//! checkpoints that hold it need the new key; while keys overlap they bear a line of the old one too.
//! A further change ends the overlap of the one before.

use crate::note::{SignedCheckpoint, VerifierKey};
use serde_json::{Map, Value};

/// The log's keys, oldest first.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct LogKeys {
    keys: Vec<VerifierKey>,
    changes: Vec<Change>,
}

/// A `log.rekeyed`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Change {
    /// Its seq.
    pub seq: u64,
    /// The largest checkpoint that bears a line of the old key too; none does if it is absent.
    pub overlap_until_size: Option<u64>,
}

impl LogKeys {
    /// All of them, oldest first.
    #[must_use]
    pub fn all(&self) -> &[VerifierKey] {
        &self.keys
    }

    /// The newest.
    #[must_use]
    pub fn newest(&self) -> Option<&VerifierKey> {
        self.keys.last()
    }

    /// The last change of key.
    #[must_use]
    pub fn last_change(&self) -> Option<Change> {
        self.changes.last().copied()
    }

    /// Keys whose lines a checkpoint of that size bears, the newest first.
    #[must_use]
    pub fn at(&self, size: u64) -> Vec<&VerifierKey> {
        let before = self.changes.partition_point(|change| change.seq < size);
        let Some(newest) = self.keys.get(before) else { return Vec::new() };
        let change = before.checked_sub(1).and_then(|at| self.changes.get(at));
        let overlaps = change.and_then(|change| change.overlap_until_size).is_some_and(|until| size <= until);
        let older = if overlaps { before.checked_sub(1).and_then(|at| self.keys.get(at)) } else { None };
        [newest].into_iter().chain(older).collect()
    }

    /// For each former key the largest checkpoint that bears its line, oldest key first.
    #[must_use]
    pub fn last_sizes(&self) -> Vec<u64> {
        let next = self.changes.iter().skip(1).map(|change| change.seq).chain([u64::MAX]);
        let last = |(change, next): (&Change, u64)| change.overlap_until_size.map_or(change.seq, |until| until.min(next));
        self.changes.iter().zip(next).map(last).collect()
    }

    /// Whether a checkpoint bears the line of every key that its size asks for.
    #[must_use]
    pub fn vouch_for(&self, note: &SignedCheckpoint) -> bool {
        let wanted = self.at(note.checkpoint.size);
        !wanted.is_empty() && wanted.iter().all(|key| note.signed_by(key))
    }

    pub(super) fn found(&mut self, key: VerifierKey) {
        self.keys.push(key);
    }

    pub(super) fn rekey(&mut self, data: &Map<String, Value>, seq: u64) {
        let vkey = data.get("log_vkey").and_then(Value::as_str).unwrap_or_default();
        let Ok(key) = VerifierKey::parse(vkey) else { return };
        self.keys.push(key);
        self.changes.push(Change { seq, overlap_until_size: data.get("overlap_until_size").and_then(Value::as_u64) });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::note::Checkpoint;
    use ed25519_dalek::SigningKey;
    use serde_json::json;

    fn key(seed: u8) -> SigningKey {
        SigningKey::from_bytes(&[seed; 32])
    }

    fn verifier(seed: u8) -> VerifierKey {
        VerifierKey::new("records.example.org/nursery", key(seed).verifying_key())
    }

    /// Keys 1, then 2 from seq 4 with an overlap up to size 7, then 3 from seq 9 without.
    fn twice_changed() -> LogKeys {
        let mut keys = LogKeys::default();
        keys.found(verifier(1));
        let change = |seed: u8, until: Option<u64>| {
            let mut data = json!({"log_vkey": verifier(seed).to_string()});
            if let Some(until) = until {
                data["overlap_until_size"] = json!(until);
            }
            data.as_object().cloned().unwrap_or_default()
        };
        keys.rekey(&change(2, Some(7)), 4);
        keys.rekey(&change(3, None), 9);
        keys
    }

    #[test]
    fn a_size_says_whose_lines_it_bears() {
        let keys = twice_changed();
        let wanted: [(u64, &[u8]); 8] = [(1, &[1]), (4, &[1]), (5, &[2, 1]), (7, &[2, 1]), (8, &[2]), (9, &[2]), (10, &[3]), (99, &[3])];
        for (size, seeds) in wanted {
            let expected: Vec<VerifierKey> = seeds.iter().map(|seed| verifier(*seed)).collect();
            assert_eq!(keys.at(size), expected.iter().collect::<Vec<_>>(), "{size}");
        }
    }

    #[test]
    fn a_further_change_ends_an_overlap() {
        let mut keys = LogKeys::default();
        keys.found(verifier(1));
        let data = |seed: u8, until: u64| {
            json!({"log_vkey": verifier(seed).to_string(), "overlap_until_size": until}).as_object().cloned().unwrap_or_default()
        };
        keys.rekey(&data(2, 20), 4);
        keys.rekey(&data(3, 12), 9);
        let wanted: [(u64, &[u8]); 6] = [(4, &[1]), (5, &[2, 1]), (9, &[2, 1]), (10, &[3, 2]), (12, &[3, 2]), (13, &[3])];
        for (size, seeds) in wanted {
            let expected: Vec<VerifierKey> = seeds.iter().map(|seed| verifier(*seed)).collect();
            assert_eq!(keys.at(size), expected.iter().collect::<Vec<_>>(), "{size}");
        }
        assert_eq!(keys.last_sizes(), [9, 12]);
        assert_eq!(twice_changed().last_sizes(), [7, 9]);
    }

    #[test]
    fn a_checkpoint_is_vouched_for_by_exactly_these() {
        let keys = twice_changed();
        let vouched = |size: u64, seeds: &[u8]| {
            let signers: Vec<SigningKey> = seeds.iter().map(|seed| key(*seed)).collect();
            let checkpoint = Checkpoint { origin: "records.example.org/nursery".to_owned(), size, root: [7; 32] };
            keys.vouch_for(&SignedCheckpoint::parse(&checkpoint.sign(&signers.iter().collect::<Vec<_>>())).unwrap())
        };
        assert!(vouched(4, &[1]) && vouched(5, &[1, 2]) && vouched(8, &[2]) && vouched(10, &[3]));
        assert!(!vouched(4, &[2]) && !vouched(5, &[2]) && !vouched(5, &[1]) && !vouched(8, &[1]) && !vouched(10, &[2]));
        assert!(
            !LogKeys::default().vouch_for(
                &SignedCheckpoint::parse(&Checkpoint { origin: "a".to_owned(), size: 1, root: [0; 32] }.sign(&[&key(1)])).unwrap()
            )
        );
    }
}
