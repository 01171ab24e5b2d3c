//! Opening a log is reading it from its first note: every body and leaf is hashed again, and the
//! tree must reach the published root. Rows that were staged and not published are judged once
//! more, as if they came now, before anything is signed over them.

use super::published::Published;
use crate::failure::{Broken, Failure};
use crate::store::{EventStore, Head, StoredEvent};
use selachron_schemas::envelope::Envelope;
use selachron_schemas::event::Event;
use selachron_schemas::limits::PAGE_EVENTS_MAX;
use selachron_schemas::merkle::sha256;
use selachron_schemas::note::SignedCheckpoint;
use selachron_schemas::replay::Replay;
use selachron_schemas::replay::judge::Judged;
use serde_json::{Map, Value};
use std::collections::HashMap;

/// A log that was read from its store.
pub(super) struct Recovered {
    /// After every row, staged ones too.
    pub(super) replay: Replay,
    /// As far as it was published; its tree holds the staged rows too.
    pub(super) published: Published,
}

/// The facts that a `body.withheld` states of the note whose body it takes away, by seq.
type Facts = HashMap<u64, Map<String, Value>>;

/// Reads and checks the whole log.
pub(super) fn read(store: &dyn EventStore) -> Result<Recovered, Failure> {
    let (head, staged) = (store.head()?, store.staged()?);
    let published = Published::with_withheld(store.withholdings()?);
    let mut reading = Reading { facts: facts(store)?, replay: Replay::new(true), published, head };
    reading.check_head(0)?;
    loop {
        let page = store.read_staged(reading.replay.size(), PAGE_EVENTS_MAX)?;
        if page.is_empty() {
            break;
        }
        for row in &page {
            reading.take(row)?;
        }
    }
    reading.finish(staged)
}

fn facts(store: &dyn EventStore) -> Result<Facts, Failure> {
    let mut facts = Facts::new();
    for withholding in store.withholdings()? {
        let row = store.read_staged(withholding.by, 1)?.pop();
        let body = row.and_then(|row| row.body).ok_or_else(|| Broken::at(withholding.by, "the note that withholds a body is missing"))?;
        let event = Event::parse(&body).map_err(|refusal| Broken::at(withholding.by, refusal.to_string()))?;
        facts.insert(withholding.target, event.data);
    }
    Ok(facts)
}

struct Reading {
    facts: Facts,
    replay: Replay,
    published: Published,
    head: Option<Head>,
}

impl Reading {
    fn take(&mut self, row: &StoredEvent) -> Result<(), Failure> {
        let seq = self.replay.size();
        if row.leaf.seq != seq {
            return Err(Broken::at(seq, format!("missing; the next note in the store is seq {}", row.leaf.seq)).into());
        }
        let published = self.head.as_ref().is_some_and(|head| seq < head.size);
        match &row.body {
            Some(body) if sha256(body) != row.leaf.body_sha256 => {
                return Err(Broken::at(seq, "the body in the store is not the body that was recorded").into());
            }
            Some(body) => self.take_body(row, body, published)?,
            None => {
                let facts = self.facts.get(&seq).ok_or_else(|| Broken::at(seq, "its body is gone, and no note withholds it"))?;
                let whole = self.replay.apply_withheld(facts, &row.leaf);
                whole.ok_or_else(|| Broken::at(seq, "the note that withholds its body does not say what it was"))?;
            }
        }
        self.published.tree.push(row.leaf.hash());
        self.published.recorded_at.push(row.leaf.recorded_at);
        self.published.authors.extend(self.replay.past(seq).map(|past| past.keyid));
        self.check_head(seq + 1)
    }

    fn take_body(&mut self, row: &StoredEvent, body: &[u8], published: bool) -> Result<(), Failure> {
        let seq = row.leaf.seq;
        if !published {
            self.judge_again(row, body)?;
        }
        let event = Event::parse(body).map_err(|refusal| Broken::at(seq, refusal.to_string()))?;
        self.replay.apply(&event, &row.leaf);
        Ok(())
    }

    /// Nothing is signed over a row that the rules would not take now.
    fn judge_again(&self, row: &StoredEvent, body: &[u8]) -> Result<(), Failure> {
        let seq = row.leaf.seq;
        let envelope = Envelope::written(body, &row.leaf.signatures);
        let opened = self.replay.gate().open(envelope.as_bytes());
        let note = opened.map_err(|stopped| Broken::at(seq, format!("staged, but {}", stopped.refusal)))?;
        let judged = self.replay.judge(&note, row.leaf.recorded_at);
        let judged = judged.map_err(|refusal| Broken::at(seq, format!("staged, but {refusal}")))?;
        if judged == (Judged::New { subject_version: row.leaf.subject_version }) {
            return Ok(());
        }
        Err(Broken::at(seq, "staged, but it is not a new note of this version").into())
    }

    /// At the published size the root must be the published one, under this log's own key.
    fn check_head(&mut self, size: u64) -> Result<(), Failure> {
        let Some(head) = self.head.as_ref().filter(|head| head.size == size) else { return Ok(()) };
        if self.replay.tree().root(size) != Some(head.root) {
            return Err(
                Broken::new(format!("the first {size} notes in the store do not have the root that was published over them")).into()
            );
        }
        let note = SignedCheckpoint::parse(&head.note).map_err(Broken::new)?;
        let fits = note.checkpoint.size == size && note.checkpoint.root == head.root;
        if !fits || !self.replay.log_keys().vouch_for(&note) {
            return Err(Broken::new(format!("the checkpoint of size {size} in the store is not signed by this log")).into());
        }
        self.published.head = Some(head.clone());
        self.published.learn_rules(&self.replay);
        Ok(())
    }

    fn finish(self, staged: Option<(u64, [u8; 32])>) -> Result<Recovered, Failure> {
        let (size, root) = (self.replay.size(), self.replay.tree().root(self.replay.size()));
        if self.published.head != self.head {
            let wanted = self.head.map_or(0, |head| head.size);
            return Err(Broken::at(size, format!("missing; {wanted} notes were published and the store holds {size}")).into());
        }
        match staged {
            Some((staged_size, staged_root)) if staged_size != size || Some(staged_root) != root => {
                Err(Broken::new(format!("the store's {size} notes do not have the root that was staged at size {staged_size}")).into())
            }
            None if size > 0 => Err(Broken::new("the store holds notes that were never staged").into()),
            _ => Ok(Recovered { replay: self.replay, published: self.published }),
        }
    }
}
