//! The waiting place: bodies that their author has signed and that want further signatures before
//! the log takes them. It is no part of the log: nothing in it is recorded, it forgets what has
//! waited longer than a note may, and losing it loses nothing, for the author's outbox has the
//! note still. One file a body, so that a restart does not lose what others have signed.

use crate::failure::{Busy, Failure, Question, io};
use crate::journal::outside::replace;
use selachron_schemas::envelope::{Envelope, SignatureBytes};
use selachron_schemas::event::Event;
use selachron_schemas::limits::{ENVELOPE_BYTES_MAX, OFFLINE_DAYS_MAX, WAITING_BODIES_BY_KEY_MAX, WAITING_BODIES_MAX};
use selachron_schemas::names::{KeyId, is_ulid};
use selachron_schemas::refusal::{Problem, Refusal, Wanted};
use selachron_schemas::signing::{Verified, brought_keys};
use selachron_schemas::time::{DAY_MS, Instant};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// The folder of the waiting place, in the log's folder.
pub const WAITING_FOLDER: &str = "waiting";

/// A body that waits.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Held {
    /// The note's id.
    pub id: String,
    /// Kind and version.
    pub kind: String,
    /// What it is about.
    pub subject: String,
    /// Its author's key.
    pub author: KeyId,
    /// When it was first put here.
    pub since: Instant,
    /// The signatures that are wanting still.
    pub wants: Vec<Wanted>,
    /// Keys whose signatures it has, ascending.
    pub signers: Vec<KeyId>,
    /// The envelope in its written form (F7).
    pub envelope: String,
}

/// A file of the waiting place.
#[derive(Serialize, Deserialize)]
struct Kept {
    since: Instant,
    wants: Vec<Wanted>,
    envelope: String,
}

impl Held {
    fn read(text: &str) -> Option<Self> {
        let kept: Kept = serde_json::from_str(text).ok()?;
        let envelope = Envelope::read(kept.envelope.as_bytes()).ok()?;
        let event = Event::parse(&envelope.body).ok()?;
        let signers = envelope.signatures.iter().filter_map(|(hint, _)| KeyId::parse(hint.as_deref()?));
        Some(Self {
            signers: signers.collect(),
            id: event.id,
            kind: event.kind,
            subject: event.subject.to_string(),
            author: event.keyid,
            since: kept.since,
            wants: kept.wants,
            envelope: kept.envelope,
        })
    }

    /// When it is forgotten.
    #[must_use]
    pub fn until(&self) -> Instant {
        self.since.plus_ms(OFFLINE_DAYS_MAX * DAY_MS)
    }
}

type ById = BTreeMap<String, Held>;

/// The waiting place of one log.
#[derive(Debug)]
pub struct Waiting {
    folder: PathBuf,
    /// `None` until somebody asks.
    held: Mutex<Option<ById>>,
}

impl Waiting {
    /// The waiting place in the folder of a log. Nothing is read or made yet.
    #[must_use]
    pub fn in_folder(folder: &Path) -> Self {
        Self { folder: folder.join(WAITING_FOLDER), held: Mutex::new(None) }
    }

    fn held(&self) -> Result<MutexGuard<'_, Option<ById>>, Failure> {
        // A panic while the lock was held leaves a map whose entries are each whole.
        let mut held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
        if held.is_none() {
            *held = Some(read_folder(&self.folder)?);
        }
        Ok(held)
    }

    fn with<T>(&self, ask: impl FnOnce(&mut ById) -> Result<T, Failure>) -> Result<T, Failure> {
        let mut held = self.held()?;
        ask(held.get_or_insert_default())
    }

    /// All that wait and are not to be forgotten yet, by id.
    ///
    /// # Errors
    /// The folder cannot be read.
    pub fn all(&self, now: Instant) -> Result<Vec<Held>, Failure> {
        self.with(|held| Ok(held.values().filter(|held| now <= held.until()).cloned().collect()))
    }

    /// The public key of that id, if an enrolment that waits here brings it: its holder may read
    /// that enrolment, to sign it.
    ///
    /// # Errors
    /// The folder cannot be read.
    pub fn newcomer(&self, keyid: KeyId, now: Instant) -> Result<Option<[u8; 32]>, Failure> {
        let subject = format!("key/{keyid}");
        let waiting = self.all(now)?.into_iter().filter(|held| held.kind == "key.enrolled.v1" && held.subject == subject);
        let keys = waiting.filter_map(|held| Event::parse(&Envelope::read(held.envelope.as_bytes()).ok()?.body).ok());
        Ok(keys.flat_map(|event| brought_keys(&event)).find(|key| KeyId::of(key) == keyid))
    }

    /// A note with the signatures that were gathered for the same body before.
    ///
    /// # Errors
    /// `id-reused`: another body waits under this id.
    pub fn joined(&self, note: &Verified, now: Instant) -> Result<String, Failure> {
        let known = self.with(|held| Ok(held.get(&note.event().id).filter(|held| now <= held.until()).cloned()))?;
        let mut signatures = note.signatures().to_vec();
        if let Some(known) = known {
            let envelope = Envelope::read(known.envelope.as_bytes())?;
            if envelope.body != note.body() {
                let detail = format!("another body waits here under the id {}; write this one under a new id", known.id);
                return Err(Refusal::at(Problem::IdReused, "/id", detail).into());
            }
            let hinted = |(hint, signature): &(Option<String>, SignatureBytes)| Some((KeyId::parse(hint.as_deref()?)?, *signature));
            let others = envelope.signatures.iter().filter_map(hinted).filter(|(keyid, _)| !note.signed_by(keyid));
            signatures.extend(others.collect::<Vec<_>>());
        }
        Ok(Envelope::written(note.body(), &signatures))
    }

    /// Keeps a note until it has the signatures it wants, and forgets what has waited too long.
    ///
    /// # Errors
    /// There is no room, or the folder cannot be written.
    pub fn keep(&self, note: &Verified, wants: &[Wanted], now: Instant) -> Result<Held, Failure> {
        self.with(|held| {
            self.forget_old(held, now)?;
            let (event, known) = (note.event(), held.get(&note.event().id));
            if known.is_none() {
                room(held, event.keyid)?;
            }
            let since = known.map_or(now, |known| known.since);
            let kept = Kept { since, wants: wants.to_vec(), envelope: Envelope::written(note.body(), note.signatures()) };
            let text = serde_json::to_string(&kept).map_err(|error| io("writing what waits", &std::io::Error::other(error)))?;
            make(&self.folder)
                .and_then(|()| replace(&self.folder, &file_name(&event.id), &text))
                .map_err(|e| io("writing what waits", &e))?;
            let kept = Held {
                id: event.id.clone(),
                kind: event.kind.clone(),
                subject: event.subject.to_string(),
                author: event.keyid,
                since,
                wants: wants.to_vec(),
                signers: note.signatures().iter().map(|(keyid, _)| *keyid).collect(),
                envelope: kept.envelope,
            };
            held.insert(event.id.clone(), kept.clone());
            Ok(kept)
        })
    }

    /// Forgets a note: it is recorded, or will never be.
    ///
    /// # Errors
    /// Its file cannot be removed.
    pub fn forget(&self, id: &str) -> Result<(), Failure> {
        self.with(|held| self.remove(held, id))
    }

    fn forget_old(&self, held: &mut ById, now: Instant) -> Result<(), Failure> {
        let old: Vec<String> = held.values().filter(|held| held.until() < now).map(|held| held.id.clone()).collect();
        old.iter().try_for_each(|id| self.remove(held, id))
    }

    fn remove(&self, held: &mut ById, id: &str) -> Result<(), Failure> {
        if held.remove(id).is_none() {
            return Ok(());
        }
        match std::fs::remove_file(self.folder.join(file_name(id))) {
            Err(error) if error.kind() != std::io::ErrorKind::NotFound => Err(io("removing what waited", &error)),
            _ => Ok(()),
        }
    }
}

fn room(held: &ById, author: KeyId) -> Result<(), Failure> {
    if held.len() >= WAITING_BODIES_MAX {
        return Err(Busy::WaitingFull.into());
    }
    if held.values().filter(|held| held.author == author).count() >= WAITING_BODIES_BY_KEY_MAX {
        let said = format!("{WAITING_BODIES_BY_KEY_MAX} notes by this key wait for signatures already; have some of them signed first");
        return Err(Question::BadRequest(said).into());
    }
    Ok(())
}

fn file_name(id: &str) -> String {
    format!("{id}.json")
}

fn make(folder: &Path) -> std::io::Result<()> {
    if folder.is_dir() { Ok(()) } else { std::fs::create_dir(folder) }
}

/// What a folder holds. A file that cannot be understood is left alone: nothing in it is recorded.
fn read_folder(folder: &Path) -> Result<ById, Failure> {
    let entries = match std::fs::read_dir(folder) {
        Ok(entries) => entries,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(ById::new()),
        Err(error) => return Err(io("reading what waits", &error)),
    };
    let mut held = ById::new();
    for path in entries.flatten().map(|entry| entry.path()).filter(|path| is_ours(path)) {
        let small = std::fs::metadata(&path).is_ok_and(|file| file.len() <= 2 * ENVELOPE_BYTES_MAX as u64);
        match std::fs::read_to_string(&path).ok().filter(|_| small).and_then(|text| Held::read(&text)) {
            Some(one) => drop(held.insert(one.id.clone(), one)),
            None => tracing::warn!(file = %path.display(), "what waits here cannot be understood"),
        }
    }
    Ok(held)
}

fn is_ours(path: &Path) -> bool {
    path.extension().is_some_and(|ending| ending == "json") && path.file_stem().and_then(|stem| stem.to_str()).is_some_and(is_ulid)
}
