//! Beside each key: the count of its notes, and every note that is not recorded yet (F12).
//!
//! `KEY.count` holds the next count and the counts that refused notes set free. `KEY.notes/`
//! holds one file a note: `waiting/` until its receipt was checked, `refused/` with the reason
//! beside it, `taken-back/` for what was taken back before it was ever sent. A count is taken by
//! writing the body first and the count after it, both under a lock and both synced before
//! anything is signed: whatever a crash leaves, the body of each count used is on the disk.

use crate::answer::Outcome;
use crate::fault::{Fault, Refused};
use crate::files::{self, Lock};
use selachron_schemas::event::Event;
use selachron_schemas::limits::INTEGER_MAX;
use selachron_schemas::names::KeyId;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// The notes of one key that are not recorded, and its counts.
#[derive(Debug, Clone)]
pub struct Outbox {
    owner: KeyId,
    counts: PathBuf,
    lock: PathBuf,
    folder: PathBuf,
}

/// What `KEY.count` holds.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct Counts {
    /// The next count that was never used.
    next: u32,
    /// Counts of refused or taken-back notes, to be used again (F12).
    free: BTreeSet<u32>,
}

/// A note that is on this machine and not, as far as it knows, in the record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unsent {
    /// Its count.
    pub count: u32,
    /// Its id.
    pub id: String,
    /// The body's exact bytes.
    pub body: Vec<u8>,
    /// Its envelope, when others have signed it too.
    pub envelope: Option<String>,
    /// Whether it waits for others to approve it.
    pub draft: bool,
    /// Whether it was ever on its way: then it may be recorded, and cannot be taken back.
    pub sent: bool,
    /// Why the service refused it.
    pub refused: Option<Refused>,
}

/// Which count a note takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Take {
    /// A free one if there is any, else the next.
    Any,
    /// The next, never a free one: a note that gives a count up must not use it.
    Next,
}

impl Outbox {
    /// The outbox beside the key file at `key_path`.
    #[must_use]
    pub fn beside(key_path: &Path, owner: KeyId) -> Self {
        let place = |ending: &str| files::beside(key_path, ending);
        Self { owner, counts: place(".count"), lock: place(".lock"), folder: place(".notes") }
    }

    /// Takes a count and keeps the body that `make` writes with it; both are on the disk when
    /// this returns.
    ///
    /// # Errors
    /// What `make` says; a file that cannot be written. Then no count is used.
    pub fn write(&self, take: Take, make: impl FnOnce(u32) -> Result<Vec<u8>, Fault>) -> Result<Vec<u8>, Fault> {
        let _lock = Lock::take(&self.lock)?;
        let mut counts = self.load()?;
        let free = counts.free.first().copied().filter(|_| take == Take::Any);
        let count = free.unwrap_or(counts.next);
        if u64::from(count) > INTEGER_MAX {
            return Err(Fault::Failed(format!("this key has written {INTEGER_MAX} notes; enrol another key")));
        }
        let body = make(count)?;
        let id = Event::parse(&body)?.id;
        files::make_folder(&self.place(Shelf::Waiting))?;
        files::replace(&self.file(Shelf::Waiting, count, &id, BODY), &body)?;
        counts.use_up(count);
        self.save(&counts)?;
        Ok(body)
    }

    /// The next count that was never used.
    ///
    /// # Errors
    /// The counts cannot be read.
    pub fn next_count(&self) -> Result<u32, Fault> {
        let _lock = Lock::take(&self.lock)?;
        Ok(self.load()?.next)
    }

    /// Notes that wait, in order of their counts.
    ///
    /// # Errors
    /// A file cannot be read.
    pub fn waiting(&self) -> Result<Vec<Unsent>, Fault> {
        self.shelf(Shelf::Waiting)
    }

    /// Notes that were refused and kept, with the reason.
    ///
    /// # Errors
    /// A file cannot be read.
    pub fn refused(&self) -> Result<Vec<Unsent>, Fault> {
        self.shelf(Shelf::Refused)
    }

    /// Keeps the envelope of a waiting note, so that others' signatures survive too.
    ///
    /// # Errors
    /// The file cannot be written.
    pub fn keep_envelope(&self, body: &[u8], envelope: &str) -> Result<(), Fault> {
        let event = Event::parse(body)?;
        let file = self.file(Shelf::Waiting, event.keycount, &event.id, ENVELOPE);
        if event.keyid == self.owner && self.file(Shelf::Waiting, event.keycount, &event.id, BODY).exists() {
            files::replace(&file, envelope.as_bytes())?;
        }
        Ok(())
    }

    /// Marks a waiting note as one that others are to approve before it is sent.
    ///
    /// # Errors
    /// The mark cannot be written.
    pub fn mark_draft(&self, body: &[u8]) -> Result<(), Fault> {
        let event = Event::parse(body)?;
        files::replace(&self.file(Shelf::Waiting, event.keycount, &event.id, DRAFT), b"")
    }

    /// Counts a count as used: it stands in a body that was written elsewhere.
    ///
    /// # Errors
    /// The counts cannot be written.
    pub fn use_up(&self, count: u32) -> Result<(), Fault> {
        let _lock = Lock::take(&self.lock)?;
        let mut counts = self.mended(self.read_counts()?.unwrap_or(Counts::NONE_USED))?;
        counts.use_up(count);
        self.save(&counts)
    }

    /// Begins to count, for a key that has just been made.
    ///
    /// # Errors
    /// The counts cannot be written.
    pub fn begin(&self) -> Result<(), Fault> {
        let _lock = Lock::take(&self.lock)?;
        self.save(&Counts::NONE_USED)
    }

    /// Goes on counting from `next`: for a key whose counts are lost, or that was made elsewhere.
    /// Counts that refused notes had set free are not used again.
    ///
    /// # Errors
    /// The counts cannot be written.
    pub fn recount(&self, next: u32) -> Result<(), Fault> {
        let _lock = Lock::take(&self.lock)?;
        let counts = self.mended(Counts { next: next.max(1), free: BTreeSet::new() })?;
        self.save(&counts)
    }

    /// Notes that a body is about to be sent; from now on it cannot be taken back.
    ///
    /// # Errors
    /// The mark cannot be written, or the body's count has gone to another note meanwhile.
    pub fn mark_sent(&self, body: &[u8]) -> Result<(), Fault> {
        let event = Event::parse(body)?;
        if event.keyid != self.owner {
            return Ok(());
        }
        let _lock = Lock::take(&self.lock)?;
        self.back_from_refused(&event)?;
        if self.file(Shelf::Waiting, event.keycount, &event.id, BODY).exists() {
            files::replace(&self.file(Shelf::Waiting, event.keycount, &event.id, SENT), b"")?;
        }
        Ok(())
    }

    /// Takes answers in: a recorded note leaves the outbox, a refused one is kept with the reason
    /// and its count is used again. Answers about other keys' notes are passed over.
    ///
    /// # Errors
    /// A file cannot be written.
    pub fn settle(&self, outcomes: &[Outcome]) -> Result<(), Fault> {
        let _lock = Lock::take(&self.lock)?;
        let mut counts = self.load()?;
        for outcome in outcomes {
            match outcome {
                Outcome::Recorded(recorded) if recorded.keyid == self.owner => {
                    self.clear(Shelf::Waiting, recorded.keycount, &recorded.id)?;
                    self.clear(Shelf::Refused, recorded.keycount, &recorded.id)?;
                    counts.free.remove(&recorded.keycount);
                    counts.free.remove(&recorded.gives_up.unwrap_or_default());
                }
                Outcome::Refused { keyid: Some(keyid), keycount, refused } if *keyid == self.owner => {
                    let id = refused.id.clone().unwrap_or_default();
                    if self.shelve(Shelf::Refused, *keycount, &id, Some(refused))? {
                        counts.free.insert(*keycount);
                    }
                }
                _ => {}
            }
        }
        self.save(&counts)
    }

    /// Takes back a note that was never sent; its count is used again, its body is kept aside.
    ///
    /// # Errors
    /// No such note waits here, or it may have reached the record already.
    pub fn take_back(&self, id: &str) -> Result<(), Fault> {
        let _lock = Lock::take(&self.lock)?;
        let mut counts = self.load()?;
        let waiting = self.shelf(Shelf::Waiting)?;
        let Some(note) = waiting.iter().find(|note| note.id == id) else {
            return Err(Fault::NoSuchThing(format!("no note {id} waits beside this key; `selachron waiting` lists them")));
        };
        if note.sent {
            let detail = "was on its way already and may be recorded; send it, then `selachron retract` it";
            return Err(Fault::Usage(format!("the note {id} {detail}")));
        }
        self.shelve(Shelf::TakenBack, note.count, id, None)?;
        counts.free.insert(note.count);
        self.save(&counts)
    }

    fn back_from_refused(&self, event: &Event) -> Result<(), Fault> {
        let refused = self.file(Shelf::Refused, event.keycount, &event.id, BODY);
        if !refused.exists() {
            return Ok(());
        }
        let mut counts = self.load()?;
        if !counts.free.remove(&event.keycount) {
            let count = event.keycount;
            return Err(Fault::Usage(format!("count {count} of the refused note {} has gone to another note; write it again", event.id)));
        }
        let waiting = self.file(Shelf::Waiting, event.keycount, &event.id, BODY);
        std::fs::rename(&refused, &waiting).map_err(|error| files::fault("move", &refused, &error))?;
        self.clear(Shelf::Refused, event.keycount, &event.id)?;
        self.save(&counts)
    }

    /// Moves a waiting note to another shelf; `false` when it is not there.
    fn shelve(&self, shelf: Shelf, count: u32, id: &str, why: Option<&Refused>) -> Result<bool, Fault> {
        let from = self.file(Shelf::Waiting, count, id, BODY);
        if !from.exists() {
            return Ok(false);
        }
        files::make_folder(&self.place(shelf))?;
        if let Some(refused) = why {
            let problem = serde_json::json!({"name": refused.name, "detail": refused.detail, "pointer": refused.pointer});
            files::replace(&self.file(shelf, count, id, PROBLEM), problem.to_string().as_bytes())?;
        }
        let to = self.file(shelf, count, id, BODY);
        std::fs::rename(&from, &to).map_err(|error| files::fault("move", &from, &error))?;
        self.clear(Shelf::Waiting, count, id)?;
        Ok(true)
    }

    fn clear(&self, shelf: Shelf, count: u32, id: &str) -> Result<(), Fault> {
        [BODY, SENT, DRAFT, ENVELOPE, PROBLEM].iter().try_for_each(|ending| files::remove(&self.file(shelf, count, id, ending)))
    }

    fn place(&self, shelf: Shelf) -> PathBuf {
        self.folder.join(shelf.name())
    }

    fn file(&self, shelf: Shelf, count: u32, id: &str, ending: &str) -> PathBuf {
        self.place(shelf).join(format!("{count:010}-{id}{ending}"))
    }

    fn shelf(&self, shelf: Shelf) -> Result<Vec<Unsent>, Fault> {
        let mut notes = Vec::new();
        for (count, id) in self.names(shelf)? {
            notes.extend(self.read_note(shelf, count, &id)?);
        }
        notes.sort_by_key(|note: &Unsent| note.count);
        Ok(notes)
    }

    /// Counts and ids on a shelf, by the names of its files.
    fn names(&self, shelf: Shelf) -> Result<Vec<(u32, String)>, Fault> {
        let folder = self.place(shelf);
        let entries = match std::fs::read_dir(&folder) {
            Ok(entries) => entries,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
            Err(error) => return Err(files::fault("read", &folder, &error)),
        };
        let mut names = Vec::new();
        for entry in entries {
            let name = entry.map_err(|error| files::fault("read", &folder, &error))?.file_name();
            let parts = name.to_str().and_then(|name| name.strip_suffix(BODY)).and_then(|stem| stem.split_once('-'));
            names.extend(parts.and_then(|(count, id)| Some((count.parse().ok()?, id.to_owned()))));
        }
        Ok(names)
    }

    fn read_note(&self, shelf: Shelf, count: u32, id: &str) -> Result<Option<Unsent>, Fault> {
        let Some(body) = files::read(&self.file(shelf, count, id, BODY))? else { return Ok(None) };
        let problem = files::read(&self.file(shelf, count, id, PROBLEM))?;
        let problem: Option<ProblemFile> = problem.and_then(|bytes| serde_json::from_slice(&bytes).ok());
        let refused = problem.map(|p| Refused { id: Some(id.to_owned()), name: p.name, detail: p.detail, pointer: p.pointer });
        Ok(Some(Unsent {
            count,
            id: id.to_owned(),
            body,
            envelope: files::read_text(&self.file(shelf, count, id, ENVELOPE))?,
            draft: self.file(shelf, count, id, DRAFT).exists(),
            sent: self.file(shelf, count, id, SENT).exists(),
            refused,
        }))
    }

    /// Reads the counts and mends what a crash between body and count left: a body that waits
    /// has used its count, whatever the count file says.
    fn load(&self) -> Result<Counts, Fault> {
        let counts = self.read_counts()?.ok_or_else(|| {
            let key = self.counts.with_extension("");
            Fault::Usage(format!(
                "{} is missing, so nobody knows which counts this key has used: `selachron key recount {} --next N`, with 1 for a key that has never signed a note",
                self.counts.display(),
                key.display()
            ))
        })?;
        self.mended(counts)
    }

    fn read_counts(&self) -> Result<Option<Counts>, Fault> {
        let Some(bytes) = files::read(&self.counts)? else { return Ok(None) };
        let unread =
            |error| Fault::Failed(format!("{} cannot be read ({error}); `selachron key recount` writes it anew", self.counts.display()));
        serde_json::from_slice(&bytes).map(Some).map_err(unread)
    }

    fn mended(&self, mut counts: Counts) -> Result<Counts, Fault> {
        for (count, _) in self.names(Shelf::Waiting)? {
            counts.use_up(count);
        }
        Ok(counts)
    }

    fn save(&self, counts: &Counts) -> Result<(), Fault> {
        let text = serde_json::to_vec(counts).map_err(|error| Fault::Failed(error.to_string()))?;
        files::replace(&self.counts, &text)
    }
}

impl Counts {
    const NONE_USED: Self = Self { next: 1, free: BTreeSet::new() };

    fn use_up(&mut self, count: u32) {
        self.free.remove(&count);
        self.next = self.next.max(count.saturating_add(1));
    }
}

#[derive(Deserialize)]
struct ProblemFile {
    name: String,
    detail: String,
    pointer: Option<String>,
}

const BODY: &str = ".json";
const SENT: &str = ".sent";
const DRAFT: &str = ".draft";
const ENVELOPE: &str = ".envelope";
const PROBLEM: &str = ".problem";

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Shelf {
    Waiting,
    Refused,
    TakenBack,
}

impl Shelf {
    fn name(self) -> &'static str {
        match self {
            Self::Waiting => "waiting",
            Self::Refused => "refused",
            Self::TakenBack => "taken-back",
        }
    }
}
