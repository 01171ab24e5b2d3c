//! A journal over a store, with what is outside of it, that can be opened again and again.

use super::{Cast, START};
use ed25519_dalek::SigningKey;
use selachron_record::clock::SimulatedClock;
use selachron_record::failure::Failure;
use selachron_record::journal::outside::MemoryOutside;
use selachron_record::journal::writer::{KeySource, Parts};
use selachron_record::journal::{Answer, Journal, Submitted};
use selachron_record::store::EventStore;
use selachron_record::store::memory::Memory;
use selachron_schemas::receipt::Leaf;
use std::sync::{Arc, Mutex};

pub struct World {
    pub cast: Cast,
    pub store: Arc<dyn EventStore>,
    pub outside: MemoryOutside,
    pub clock: Arc<SimulatedClock>,
    /// Log keys that lie beside the store.
    pub log_keys: Arc<Mutex<Vec<SigningKey>>>,
}

impl World {
    pub fn over(store: Arc<dyn EventStore>) -> Self {
        let cast = Cast::default();
        let log_keys = Arc::new(Mutex::new(vec![cast.log.clone()]));
        Self { cast, store, outside: MemoryOutside::default(), clock: Arc::new(SimulatedClock::new(START)), log_keys }
    }

    pub fn in_memory() -> Self {
        Self::over(Arc::new(Memory::default()))
    }

    pub fn parts(&self) -> Parts {
        Parts { store: self.store.clone(), keys: self.keys(), clock: self.clock.clone(), outside: Box::new(self.outside.clone()) }
    }

    fn keys(&self) -> KeySource {
        let keys = self.log_keys.clone();
        Box::new(move || Ok(keys.lock().unwrap().clone()))
    }

    pub fn open(&self) -> Result<Journal, Failure> {
        Journal::open(self.parts())
    }

    /// A log with people and a system; answers with the system.
    pub fn founded(&self) -> (Journal, String) {
        let journal = self.open().expect("an empty log opens");
        let (system, set_up) = self.cast.system(START);
        let mut notes = self.cast.beginning(START);
        notes.push(set_up);
        for answer in post(&journal, &notes).expect("the journal answers") {
            leaf(&answer);
        }
        (journal, system)
    }
}

/// Opens and records a batch, as the server does.
pub fn post(journal: &Journal, notes: &[Vec<u8>]) -> Result<Vec<Answer>, Failure> {
    let handle = journal.handle();
    let gate = handle.gate();
    handle.record_blocking(notes.iter().map(|note| Submitted::open(&gate, note)).collect())
}

#[track_caller]
pub fn leaf(answer: &Answer) -> &Leaf {
    match answer {
        Answer::Recorded { leaf, .. } => leaf,
        other => panic!("not recorded: {other:?}"),
    }
}

#[track_caller]
pub fn problem(answer: &Answer) -> &'static str {
    match answer {
        Answer::Refused { refusal, .. } => refusal.problem.name(),
        other => panic!("not refused: {other:?}"),
    }
}

#[track_caller]
pub fn failure(answer: &Answer) -> &Failure {
    match answer {
        Answer::NotNow { failure, .. } => failure,
        other => panic!("answered: {other:?}"),
    }
}
