//! What the journal has published, for everybody else to read: sizes, roots, proofs and keys.
//! Nothing here shows a leaf beyond the newest checkpoint.

use crate::failure::{Broken, Failure};
use crate::store::{Head, Withholding};
use selachron_schemas::merkle::{Hash, Tree};
use selachron_schemas::names::KeyId;
use selachron_schemas::receipt::{Leaf, Receipt};
use selachron_schemas::replay::gate::Gate;
use selachron_schemas::replay::keys::KeyBook;
use selachron_schemas::replay::log_keys::LogKeys;
use selachron_schemas::replay::{Founding, Replay};
use selachron_schemas::time::Instant;
use std::sync::{Arc, PoisonError, RwLock, RwLockReadGuard, RwLockWriteGuard};
use tokio::sync::watch;

/// The published log.
#[derive(Debug, Clone, Default)]
pub struct Published {
    pub(super) head: Option<Head>,
    /// Over the rows that were checked; it runs ahead of `head` while a group is being signed.
    pub(super) tree: Tree,
    pub(super) recorded_at: Vec<Instant>,
    /// The author's key of each note, like `recorded_at`.
    pub(super) authors: Vec<KeyId>,
    pub(super) withheld: Vec<Withholding>,
    founding: Option<Arc<Founding>>,
    keys: Arc<KeyBook>,
    log_keys: LogKeys,
}

impl Published {
    /// Number of published leaves.
    #[must_use]
    pub fn size(&self) -> u64 {
        self.head.as_ref().map_or(0, |head| head.size)
    }

    /// The newest checkpoint.
    #[must_use]
    pub fn head(&self) -> Option<&Head> {
        self.head.as_ref()
    }

    /// What the founding note fixed.
    #[must_use]
    pub fn founding(&self) -> Option<&Arc<Founding>> {
        self.founding.as_ref()
    }

    /// Root and enrolled keys; each record says from which seq on.
    #[must_use]
    pub fn keys(&self) -> &Arc<KeyBook> {
        &self.keys
    }

    /// The log's keys, and which sign at which size.
    #[must_use]
    pub fn log_keys(&self) -> &LogKeys {
        &self.log_keys
    }

    /// The root of the first `size` leaves; `None` beyond the published size.
    #[must_use]
    pub fn root(&self, size: u64) -> Option<Hash> {
        if size > self.size() { None } else { self.tree.root(size) }
    }

    /// The hash of a published leaf.
    #[must_use]
    pub fn leaf_hash(&self, seq: u64) -> Option<Hash> {
        if seq >= self.size() { None } else { self.tree.leaf(seq) }
    }

    /// Inclusion proof of the leaf at `seq` in the first `size` leaves.
    #[must_use]
    pub fn inclusion(&self, seq: u64, size: u64) -> Option<Vec<Hash>> {
        if size > self.size() { None } else { self.tree.inclusion(seq, size) }
    }

    /// Consistency proof between two published sizes.
    #[must_use]
    pub fn consistency(&self, first: u64, second: u64) -> Option<Vec<Hash>> {
        if second > self.size() { None } else { self.tree.consistency(first, second) }
    }

    /// Number of published leaves recorded at or before `instant` (F20).
    #[must_use]
    pub fn size_at(&self, instant: Instant) -> u64 {
        let recorded = &self.recorded_at[..usize::try_from(self.size()).unwrap_or(0).min(self.recorded_at.len())];
        recorded.partition_point(|recorded_at| *recorded_at <= instant) as u64
    }

    /// When the newest published note was recorded.
    #[must_use]
    pub fn newest(&self) -> Option<Instant> {
        let last = usize::try_from(self.size().checked_sub(1)?).ok()?;
        self.recorded_at.get(last).copied()
    }

    /// How many bodies of the first `size` notes are withheld.
    #[must_use]
    pub fn withheld_below(&self, size: u64) -> u64 {
        let published = self.size();
        self.withheld.iter().filter(|withholding| withholding.by < published && withholding.target < size).count() as u64
    }

    /// Whether the note at `seq` was recorded while its author's key was suspected, as known when
    /// there were `size` notes (F11).
    #[must_use]
    pub fn suspected(&self, seq: u64, size: u64) -> bool {
        let at = usize::try_from(seq).unwrap_or(usize::MAX);
        let (Some(author), Some(recorded_at)) = (self.authors.get(at), self.recorded_at.get(at)) else { return false };
        let since = self.keys.get(author).and_then(|record| record.suspected_since(size));
        since.is_some_and(|since| since <= *recorded_at)
    }

    /// How many of the first `size` notes were recorded while their author's key was suspected.
    #[must_use]
    pub fn suspected_below(&self, size: u64) -> u64 {
        // Without any suspicion no note needs to be looked through.
        let first = self.keys.enrolled().filter_map(|(_, record)| record.suspected_since(size)).min();
        let from = first.map_or(size, |since| self.size_at(since.plus_ms(-1)));
        (from..size.min(self.size())).filter(|seq| self.suspected(*seq, size)).count() as u64
    }

    /// A receipt for a published leaf under the newest checkpoint, with that checkpoint's size
    /// (F17).
    ///
    /// # Errors
    /// `Broken`: the leaf is not published, which the journal rules out before it answers.
    pub fn receipt(&self, leaf: &Leaf) -> Result<(String, u64), Failure> {
        let missing = || Broken::at(leaf.seq, "no receipt can be made for a leaf that is not published");
        let head = self.head.as_ref().ok_or_else(missing)?;
        let proof = self.inclusion(leaf.seq, head.size).ok_or_else(missing)?;
        Ok((Receipt::write(leaf, &proof, &head.note), head.size))
    }

    pub(super) fn with_withheld(withheld: Vec<Withholding>) -> Self {
        Self { withheld, ..Self::default() }
    }

    pub(super) fn learn_rules(&mut self, replay: &Replay) {
        self.founding = replay.founding().cloned().map(Arc::new);
        self.keys = Arc::new(replay.keys().clone());
        self.log_keys = replay.log_keys().clone();
    }
}

/// Whether the journal writes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Condition {
    /// It does.
    Writing,
    /// It goes on reading and proving and signs nothing (F24).
    Sealed(String),
    /// It can no longer vouch for the record.
    Stopped(Broken),
}

impl Condition {
    /// Why nothing can be written, if so.
    ///
    /// # Errors
    /// `Sealed` or `Broken`.
    pub fn check(&self) -> Result<(), Failure> {
        match self {
            Self::Writing => Ok(()),
            Self::Sealed(reason) => Err(Failure::Sealed(reason.clone())),
            Self::Stopped(broken) => Err(broken.clone().into()),
        }
    }
}

/// What the journal shares with readers.
#[derive(Debug)]
pub(super) struct Shared {
    published: RwLock<Published>,
    gate: RwLock<Arc<Gate>>,
    condition: RwLock<Condition>,
    grown: watch::Sender<u64>,
}

impl Shared {
    pub(super) fn new() -> Self {
        Self {
            published: RwLock::default(),
            gate: RwLock::default(),
            condition: RwLock::new(Condition::Writing),
            grown: watch::Sender::new(0),
        }
    }

    // A panic while a lock was held leaves sizes and roots whole: each is set in one step.
    pub(super) fn published(&self) -> RwLockReadGuard<'_, Published> {
        self.published.read().unwrap_or_else(PoisonError::into_inner)
    }

    pub(super) fn published_mut(&self) -> RwLockWriteGuard<'_, Published> {
        self.published.write().unwrap_or_else(PoisonError::into_inner)
    }

    /// Tells whoever listens that so many notes are published now.
    pub(super) fn tell_grown(&self, size: u64) {
        self.grown.send_replace(size);
    }

    pub(super) fn grown(&self) -> watch::Receiver<u64> {
        self.grown.subscribe()
    }

    pub(super) fn gate(&self) -> Arc<Gate> {
        self.gate.read().unwrap_or_else(PoisonError::into_inner).clone()
    }

    pub(super) fn set_gate(&self, gate: Gate) {
        *self.gate.write().unwrap_or_else(PoisonError::into_inner) = Arc::new(gate);
    }

    pub(super) fn condition(&self) -> Condition {
        self.condition.read().unwrap_or_else(PoisonError::into_inner).clone()
    }

    pub(super) fn set_condition(&self, condition: Condition) {
        *self.condition.write().unwrap_or_else(PoisonError::into_inner) = condition;
    }
}
