//! What the service shows of the nursery. Projections learn from the published log and from
//! nothing else: at start, before each read, and when they are rebuilt, by the one path of
//! [`Projections::catch_up`]. Anything here can be thrown away and comes back equal.
//!
//! * [`question`]: what can be wrong with a question;
//! * [`clocks`]: `as_of` and `known_at` as a caller writes them (F20);
//! * [`finding`]: a thing by its ULID, subject or label.

pub mod question;

pub mod clocks;

pub mod finding;

use crate::domain::discrepancy::Discrepancy;
use crate::domain::nursery::Nursery;
use crate::domain::view::View;
use clocks::Clocks;
use question::Question;
use selachron_schemas::encoding::base64;
use selachron_schemas::event::Event;
use selachron_schemas::limits::{CLOCK_SKEW_MS, PAGE_EVENTS_MAX};
use selachron_schemas::receipt::Leaf;
use selachron_schemas::replay::{Founding, Replay};
use selachron_schemas::time::Instant;
use serde::Serialize;
use std::sync::{PoisonError, RwLock, RwLockReadGuard, RwLockWriteGuard};

/// A published event: its leaf, and its body unless that was withheld.
pub type Stored = (Leaf, Option<Vec<u8>>);

/// Where published events are read.
pub trait Pages {
    /// Events from seq `from` on, in order, at most `limit`.
    ///
    /// # Errors
    /// The store cannot be read.
    fn page(&self, from: u64, limit: usize) -> Result<Vec<Stored>, String>;

    /// The seq of the published `body.withheld` that names the event at `target`.
    ///
    /// # Errors
    /// The store cannot be read.
    fn withheld_by(&self, target: u64) -> Result<Option<u64>, String>;
}

/// Why projections could not learn what the log holds.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("seq {seq}: {detail}")]
pub struct Unreadable {
    /// Where.
    pub seq: u64,
    /// One sentence.
    pub detail: String,
}

/// An answer with the two clocks and the root it rests on (F20).
#[derive(Debug, Clone, Serialize)]
pub struct Answer<T> {
    /// V.
    pub as_of: Instant,
    /// S.
    pub known_at: u64,
    /// The root of the tree of size S, in base64.
    pub root: String,
    /// How many bodies behind the answer are withheld (F23).
    pub withheld: u64,
    /// An invented season on a simulated clock (F10).
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub simulated_clock: bool,
    /// The answer itself.
    #[serde(flatten)]
    pub answer: T,
}

#[derive(Default)]
struct Memory {
    replay: Replay,
    nursery: Nursery,
}

/// The memory of the published log, behind a lock.
#[derive(Default)]
pub struct Projections {
    memory: RwLock<Memory>,
}

impl Projections {
    /// Projections that have learned nothing yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Learns what has been published since, and says how many notes are known.
    ///
    /// # Errors
    /// The store cannot be read, or what it holds is not a log. What was learned before stays.
    pub fn catch_up(&self, store: &dyn Pages) -> Result<u64, Unreadable> {
        loop {
            let from = self.size();
            let page = store.page(from, PAGE_EVENTS_MAX).map_err(|detail| Unreadable { seq: from, detail })?;
            if page.is_empty() {
                return Ok(from);
            }
            let mut memory = self.write();
            for (leaf, body) in page {
                // Another caller may have learned part of this page in the meantime.
                if leaf.seq == memory.nursery.size() {
                    memory.learn(&leaf, body, store)?;
                }
            }
        }
    }

    /// Forgets everything, to learn it anew.
    pub fn forget(&self) {
        *self.write() = Memory::default();
    }

    /// Number of notes known.
    #[must_use]
    pub fn size(&self) -> u64 {
        self.read().nursery.size()
    }

    /// What the founding note fixed, once it is known.
    #[must_use]
    pub fn founding(&self) -> Option<Founding> {
        self.read().replay.founding().cloned()
    }

    /// What is at odds and rests on the note at `seq`, as the answer of a POST tells it: all that
    /// is known, at the latest time a note may have. A later read says the same (DESIGN section 4).
    #[must_use]
    pub fn discrepancies_of(&self, seq: u64) -> Vec<Discrepancy> {
        let memory = self.read();
        let size = memory.nursery.size();
        if seq >= size {
            return Vec::new();
        }
        let newest = memory.nursery.note(size - 1).recorded_at;
        memory.nursery.at(newest.plus_ms(CLOCK_SKEW_MS), size).discrepancies_of_event(seq)
    }

    /// Answers a question at the clocks given; `now` stands in where they say nothing.
    ///
    /// # Errors
    /// The clocks cannot be read, or the question has no answer.
    pub fn ask<T>(
        &self,
        clocks: &Clocks,
        now: Instant,
        question: impl FnOnce(&View<'_>) -> Result<T, Question>,
    ) -> Result<Answer<T>, Question> {
        self.ask_with(clocks, now, |view| Ok((question(view)?, view.withheld())))
    }

    /// The same, where the question itself counts the withheld bodies behind its answer.
    ///
    /// # Errors
    /// The clocks cannot be read, or the question has no answer.
    pub fn ask_with<T>(
        &self,
        clocks: &Clocks,
        now: Instant,
        question: impl FnOnce(&View<'_>) -> Result<(T, u64), Question>,
    ) -> Result<Answer<T>, Question> {
        let memory = self.read();
        let (as_of, known_at) = clocks.read(&memory.nursery, now)?;
        let view = memory.nursery.at(as_of, known_at);
        let (answer, withheld) = question(&view)?;
        let root = memory.replay.tree().root(known_at).unwrap_or_default();
        let simulated_clock = memory.replay.founding().is_some_and(|founding| founding.simulated_clock);
        Ok(Answer { as_of, known_at, root: base64(&root), withheld, simulated_clock, answer })
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
            *memory = Memory::default();
            self.memory.clear_poison();
            memory
        })
    }
}

impl Memory {
    fn learn(&mut self, leaf: &Leaf, body: Option<Vec<u8>>, store: &dyn Pages) -> Result<(), Unreadable> {
        let unreadable = |detail: String| Unreadable { seq: leaf.seq, detail };
        match body {
            Some(body) => {
                let event = Event::parse(&body).map_err(|refusal| unreadable(refusal.detail))?;
                self.nursery.learn(&event, leaf, self.replay.keys());
                self.replay.apply(&event, leaf);
            }
            None => {
                let facts = withholding(leaf.seq, store).map_err(unreadable)?;
                let unfit = || unreadable("what withholds its body does not say what it was".to_owned());
                self.nursery.learn_withheld(&facts.data, leaf, self.replay.keys()).ok_or_else(unfit)?;
                self.replay.apply_withheld(&facts.data, leaf).ok_or_else(unfit)?;
            }
        }
        Ok(())
    }
}

/// The `body.withheld` that names the note at `seq`.
fn withholding(seq: u64, store: &dyn Pages) -> Result<Event, String> {
    let by = store.withheld_by(seq)?.ok_or("its body is gone, and no published note withholds it")?;
    let (_, body) = store.page(by, 1)?.into_iter().next().ok_or("the note that withholds its body is gone")?;
    let body = body.ok_or("the note that withholds its body is itself withheld")?;
    Event::parse(&body).map_err(|refusal| refusal.detail)
}
