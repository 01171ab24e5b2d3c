//! What the service shows of the nursery. Projections learn from the published log and from
//! nothing else: at start, before each read, and when they are rebuilt, by the one path of
//! [`Projections::catch_up`]. Anything here can be thrown away and comes back equal.
//!
//! * [`finding`]: a thing by its ULID, subject or label.

pub mod finding;

use crate::domain::discrepancy::Discrepancy;
use crate::domain::nursery::Nursery;
use crate::domain::view::View;
use crate::failure::{Broken, Busy, Failure};
use crate::store::{EventStore, StoredEvent};
use selachron_schemas::bundle::evidence_in;
use selachron_schemas::event::Event;
use selachron_schemas::limits::{CLOCK_SKEW_MS, PAGE_EVENTS_MAX};
use selachron_schemas::merkle::Hash;
use selachron_schemas::replay::{Founding, Replay};
use selachron_schemas::time::Instant;
use std::collections::HashSet;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{PoisonError, RwLock, RwLockReadGuard, RwLockWriteGuard};

#[derive(Default)]
struct Memory {
    replay: Replay,
    nursery: Nursery,
    /// SHA-256 of the files that notes name.
    files: HashSet<Hash>,
}

/// The memory of the published log, behind a lock.
#[derive(Default)]
pub struct Projections {
    memory: RwLock<Memory>,
    /// The size of the memory, to be asked without waiting for whoever is learning.
    size: AtomicU64,
}

impl Projections {
    /// Projections that have learned nothing yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Learns what has been published, at least up to `size`. There is no other way for
    /// projections to learn anything.
    ///
    /// # Errors
    /// The store cannot be read, or what it holds is not a log. What was learned before stays.
    pub fn catch_up(&self, store: &dyn EventStore, size: u64) -> Result<(), Failure> {
        loop {
            let from = self.size();
            if from >= size {
                return Ok(());
            }
            let page = store.read_all(from, PAGE_EVENTS_MAX)?;
            if page.is_empty() {
                return Err(Broken::at(from, "the note is published, and the store does not have it").into());
            }
            let mut memory = self.write();
            for stored in page {
                // Another caller may have learned part of this page in the meantime.
                if stored.leaf.seq == memory.nursery.size() {
                    memory.learn(&stored, store)?;
                    self.size.store(memory.nursery.size(), Ordering::Release);
                }
            }
        }
    }

    /// Forgets everything, to learn it anew.
    pub fn forget(&self) {
        let mut memory = self.write();
        self.size.store(0, Ordering::Release);
        *memory = Memory::default();
    }

    /// Number of notes known.
    #[must_use]
    pub fn size(&self) -> u64 {
        self.size.load(Ordering::Acquire)
    }

    /// What the founding note fixed, once it is known.
    #[must_use]
    pub fn founding(&self) -> Option<Founding> {
        self.read().replay.founding().cloned()
    }

    /// Whether a note names a file with that SHA-256.
    #[must_use]
    pub fn names_file(&self, hash: &Hash) -> bool {
        self.read().files.contains(hash)
    }

    /// Asks what is so at `as_of` when `known_at` notes are known.
    pub fn at<T>(&self, as_of: Instant, known_at: u64, question: impl FnOnce(&View<'_>) -> T) -> T {
        question(&self.read().nursery.at(as_of, known_at))
    }

    /// The same, where so many notes are known in this very moment. Whoever asks page by page may find the
    /// memory lost in between, and must not take what is missing for what is not there.
    ///
    /// # Errors
    /// Fewer are known; they are learned anew by whoever catches up next.
    pub fn at_known<T>(&self, as_of: Instant, known_at: u64, question: impl FnOnce(&View<'_>) -> T) -> Result<T, Failure> {
        let memory = self.read();
        if memory.nursery.size() < known_at {
            return Err(Busy::Relearning.into());
        }
        Ok(question(&memory.nursery.at(as_of, known_at)))
    }

    /// What is at odds and rests on each of these notes, as the answer of a POST tells it: all
    /// that is known, at the latest time a note may have. A later read says the same (DESIGN
    /// section 4).
    #[must_use]
    pub fn discrepancies_of(&self, seqs: &[u64]) -> Vec<Vec<Discrepancy>> {
        let memory = self.read();
        let size = memory.nursery.size();
        let newest = size.checked_sub(1).map_or(Instant(0), |seq| memory.nursery.note(seq).recorded_at);
        let view = memory.nursery.at(newest.plus_ms(CLOCK_SKEW_MS), size);
        seqs.iter().map(|seq| if *seq < size { view.discrepancies_of_event(*seq) } else { Vec::new() }).collect()
    }

    fn read(&self) -> RwLockReadGuard<'_, Memory> {
        if self.memory.is_poisoned() {
            drop(self.write());
        }
        self.memory.read().unwrap_or_else(PoisonError::into_inner)
    }

    /// Whoever panicked while learning may have left a note half learned: then everything is
    /// forgotten, and the next catching up learns it anew.
    fn write(&self) -> RwLockWriteGuard<'_, Memory> {
        self.memory.write().unwrap_or_else(|poisoned| {
            let mut memory = poisoned.into_inner();
            self.size.store(0, Ordering::Release);
            *memory = Memory::default();
            self.memory.clear_poison();
            memory
        })
    }
}

impl Memory {
    fn learn(&mut self, stored: &StoredEvent, store: &dyn EventStore) -> Result<(), Failure> {
        let leaf = &stored.leaf;
        match &stored.body {
            Some(body) => {
                let event = Event::parse(body).map_err(|refusal| Broken::at(leaf.seq, refusal.detail))?;
                self.files.extend(evidence_in(&event.kind, &event.data).into_iter().map(|(_, hash)| hash));
                self.nursery.learn(&event, leaf, self.replay.keys());
                self.replay.apply(&event, leaf);
            }
            None => {
                let facts = withholding(leaf.seq, store)?.data;
                let unfit = || Broken::at(leaf.seq, "what withholds its body does not say what it was");
                self.nursery.learn_withheld(&facts, leaf, self.replay.keys()).ok_or_else(unfit)?;
                self.replay.apply_withheld(&facts, leaf).ok_or_else(unfit)?;
            }
        }
        Ok(())
    }
}

/// The `body.withheld` that names the note at `seq` (F23). A body goes in the transaction that
/// stages this, so for a moment it may be gone and its reason not yet published: that passes.
fn withholding(seq: u64, store: &dyn EventStore) -> Result<Event, Failure> {
    let unexplained = || Broken::at(seq, "its body is gone, and no note withholds it");
    let by = store.withholdings()?.into_iter().find(|withholding| withholding.target == seq).ok_or_else(unexplained)?.by;
    let row = store.read_all(by, 1)?.pop().filter(|row| row.leaf.seq == by);
    let Some(row) = row else { return Err(Busy::StoreLocked.into()) };
    let body = row.body.ok_or_else(unexplained)?;
    Event::parse(&body).map_err(|refusal| Broken::at(by, refusal.detail).into())
}
