//! A store in memory, for tests and for reading a log that is not on disk. It keeps the promises
//! of [`super::EventStore`] by itself; nothing is shared with the others but the suite.

use super::{EventStore, Head, StagedEvent, StoredEvent, Withholding};
use crate::failure::{Broken, Failure, Setup};
use selachron_schemas::merkle::Hash;
use std::collections::{HashMap, HashSet};
use std::path::Path;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Events in memory.
#[derive(Debug, Default)]
pub struct Memory(Mutex<Shelf>);

#[derive(Debug, Default)]
struct Shelf {
    events: Vec<StagedEvent>,
    withheld: HashSet<u64>,
    ids: HashMap<String, u64>,
    subjects: HashMap<String, Vec<u64>>,
    roots: HashMap<u64, Hash>,
    heads: Vec<Head>,
}

impl Memory {
    fn shelf(&self) -> MutexGuard<'_, Shelf> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Shelf {
    fn size(&self) -> u64 {
        self.events.len() as u64
    }

    fn published(&self) -> u64 {
        self.heads.last().map_or(0, |head| head.size)
    }

    /// All that can be wrong with a group, before any of it is taken.
    fn check(&self, events: &[StagedEvent]) -> Result<(), Broken> {
        let mut ids = HashSet::new();
        let mut versions: HashMap<&str, u64> = HashMap::new();
        for (event, seq) in events.iter().zip(self.size()..) {
            if event.leaf.seq != seq {
                return Err(Broken::at(event.leaf.seq, format!("the record is append-only: the next seq is {seq}")));
            }
            if self.ids.contains_key(&event.id) || !ids.insert(event.id.as_str()) {
                return Err(Broken::at(seq, "the record is append-only: this id is taken"));
            }
            let known = self.subjects.get(&event.subject).map_or(0, |seqs| seqs.len() as u64);
            let newest = versions.entry(event.subject.as_str()).or_insert(known);
            if event.leaf.subject_version != *newest + 1 {
                return Err(Broken::at(seq, "the record is append-only: this is not the next version of its subject"));
            }
            *newest += 1;
            if event.withholds.is_some_and(|target| target >= seq) {
                return Err(Broken::at(seq, "only the body of an earlier note can be withheld"));
            }
        }
        Ok(())
    }

    fn take(&mut self, event: &StagedEvent) {
        let seq = event.leaf.seq;
        self.ids.insert(event.id.clone(), seq);
        self.subjects.entry(event.subject.clone()).or_default().push(seq);
        self.events.push(event.clone());
        if let Some(target) = event.withholds {
            self.withheld.insert(target);
            if let Some(withheld) = usize::try_from(target).ok().and_then(|at| self.events.get_mut(at)) {
                withheld.body.clear();
            }
        }
    }

    fn stored(&self, seq: u64) -> Option<StoredEvent> {
        let event = self.events.get(usize::try_from(seq).ok()?)?;
        let body = (!self.withheld.contains(&seq)).then(|| event.body.clone());
        Some(StoredEvent { leaf: event.leaf.clone(), body })
    }

    fn page(&self, from: u64, below: u64, limit: usize) -> Vec<StoredEvent> {
        (from..below).take(limit).filter_map(|seq| self.stored(seq)).collect()
    }
}

impl EventStore for Memory {
    fn stage(&self, events: &[StagedEvent], root: &Hash) -> Result<(), Failure> {
        let mut shelf = self.shelf();
        shelf.check(events)?;
        events.iter().for_each(|event| shelf.take(event));
        let size = shelf.size();
        shelf.roots.insert(size, *root);
        Ok(())
    }

    fn publish(&self, before: u64, head: &Head) -> Result<(), Failure> {
        let mut shelf = self.shelf();
        if shelf.published() != before || head.size <= before {
            return Err(Broken::new("another checkpoint has been published meanwhile").into());
        }
        if shelf.roots.get(&head.size) != Some(&head.root) {
            return Err(Broken::new("the checkpoint is not over what was staged").into());
        }
        shelf.heads.push(head.clone());
        Ok(())
    }

    fn head(&self) -> Result<Option<Head>, Failure> {
        Ok(self.shelf().heads.last().cloned())
    }

    fn staged(&self) -> Result<Option<(u64, Hash)>, Failure> {
        let shelf = self.shelf();
        let size = shelf.size();
        Ok(shelf.roots.get(&size).map(|root| (size, *root)))
    }

    fn read_all(&self, from: u64, limit: usize) -> Result<Vec<StoredEvent>, Failure> {
        let shelf = self.shelf();
        Ok(shelf.page(from, shelf.published(), limit))
    }

    fn read_staged(&self, from: u64, limit: usize) -> Result<Vec<StoredEvent>, Failure> {
        let shelf = self.shelf();
        Ok(shelf.page(from, shelf.size(), limit))
    }

    fn read_subject(&self, subject: &str, from_version: u64, limit: usize) -> Result<Vec<StoredEvent>, Failure> {
        let shelf = self.shelf();
        let skip = usize::try_from(from_version.saturating_sub(1)).unwrap_or(usize::MAX);
        let seqs = shelf.subjects.get(subject).into_iter().flatten().skip(skip).take(limit);
        Ok(seqs.filter(|seq| **seq < shelf.published()).filter_map(|seq| shelf.stored(*seq)).collect())
    }

    fn seq_of(&self, id: &str) -> Result<Option<u64>, Failure> {
        let shelf = self.shelf();
        Ok(shelf.ids.get(id).copied().filter(|seq| *seq < shelf.published()))
    }

    fn withholdings(&self) -> Result<Vec<Withholding>, Failure> {
        let shelf = self.shelf();
        let named = |event: &StagedEvent| event.withholds.map(|target| Withholding { target, by: event.leaf.seq });
        Ok(shelf.events.iter().filter_map(named).collect())
    }

    fn checkpoints(&self, below: u64, limit: usize) -> Result<Vec<Head>, Failure> {
        let shelf = self.shelf();
        Ok(shelf.heads.iter().rev().filter(|head| head.size < below).take(limit).cloned().collect())
    }

    fn copy_to(&self, _file: &Path) -> Result<(), Failure> {
        Err(Setup::Refused("a log that is kept in memory cannot be copied to a file".to_owned()).into())
    }
}
