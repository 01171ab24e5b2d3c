//! What is kept outside the store, so that a store that was put back from a copy is noticed: the
//! high-water mark, the seal, and notes that show a fork (F13, F24).

use crate::failure::{Failure, io};
use selachron_schemas::limits::HIGH_WATER_PLACE_BYTES;
use selachron_schemas::note::SignedCheckpoint;
use std::fs::{File, OpenOptions};
use std::io::{Read as _, Seek as _, SeekFrom, Write as _};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

/// The file that holds the newest published checkpoint.
pub const MARK_FILE: &str = "high-water-mark";
/// The file that says why the log is sealed, if it is.
pub const SEALED_FILE: &str = "sealed";

/// How the files of notes that showed a fork begin (F13).
pub const FORK_PREFIX: &str = "fork-";

/// A place outside the store.
pub trait Outside: Send {
    /// The newest checkpoints that were about to be published, newest first; the caller knows
    /// the log's key and takes the first that it has signed.
    ///
    /// # Errors
    /// They cannot be read.
    fn marks(&self) -> Result<Vec<String>, Failure>;

    /// The newest checkpoint that was about to be published, as far as it can be read.
    ///
    /// # Errors
    /// It cannot be read.
    fn mark(&self) -> Result<Option<String>, Failure> {
        Ok(self.marks()?.into_iter().next())
    }

    /// Puts another checkpoint in its place; it has reached the disk when this returns.
    ///
    /// # Errors
    /// It cannot be written; the old one is still there.
    fn set_mark(&self, note: &str) -> Result<(), Failure>;

    /// Why the log is sealed, if it is.
    ///
    /// # Errors
    /// It cannot be read.
    fn sealed(&self) -> Result<Option<String>, Failure>;

    /// Seals the log.
    ///
    /// # Errors
    /// It cannot be written.
    fn seal(&self, reason: &str) -> Result<(), Failure>;

    /// Keeps a note that the log does not take, as evidence.
    ///
    /// # Errors
    /// It cannot be written.
    fn keep(&self, name: &str, text: &str) -> Result<(), Failure>;
}

/// Files in the log's folder.
#[derive(Debug, Clone)]
pub struct Folder {
    path: PathBuf,
    /// The mark's file, once it has been written: one process has the log, so nobody else moves it.
    open: Arc<Mutex<Option<OpenMark>>>,
}

#[derive(Debug)]
struct OpenMark {
    file: File,
    /// The place that does not hold the newest mark.
    next: usize,
}

impl Folder {
    /// The folder of a log.
    #[must_use]
    pub fn new(folder: &Path) -> Self {
        Self { path: folder.to_owned(), open: Arc::default() }
    }

    fn read(&self, name: &str) -> Result<Option<String>, Failure> {
        match std::fs::read_to_string(self.path.join(name)) {
            Ok(text) => Ok(Some(text)),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(None),
            Err(error) => Err(io(format!("reading {name}"), &error)),
        }
    }

    fn write(&self, name: &str, text: &str) -> Result<(), Failure> {
        replace(&self.path, name, text).map_err(|error| io(format!("writing {name}"), &error))
    }
}

/// Writes beside, flushes, renames, flushes the folder: a crash leaves the old or the new file,
/// never half of one.
fn replace(folder: &Path, name: &str, text: &str) -> std::io::Result<()> {
    let beside = folder.join(format!("{name}.new"));
    let mut file = File::create(&beside)?;
    file.write_all(text.as_bytes())?;
    file.sync_all()?;
    std::fs::rename(&beside, folder.join(name))?;
    File::open(folder)?.sync_all()
}

/// The mark's file has two places of this many bytes. They are written in turn, so that a crash
/// while one is written leaves the other, and the file never changes its length: one flush of
/// data a commit, none of the folder.
const MARK_PLACE_BYTES: usize = HIGH_WATER_PLACE_BYTES;

/// The checkpoints that the file's places hold, newest first. A place that was half written
/// holds none, or one whose signature does not fit.
fn marks_in(file: &[u8]) -> Vec<(usize, SignedCheckpoint)> {
    let read = |place: &[u8]| SignedCheckpoint::parse(std::str::from_utf8(place).ok()?.trim_end_matches(' ')).ok();
    let mut marks: Vec<_> = file.chunks(MARK_PLACE_BYTES).enumerate().filter_map(|(at, place)| Some((at, read(place)?))).collect();
    marks.sort_by_key(|(_, note)| std::cmp::Reverse(note.checkpoint.size));
    marks
}

impl Folder {
    /// Takes the seal away. Whoever calls this has looked at every checkpoint that is known.
    ///
    /// # Errors
    /// It cannot be removed.
    pub fn break_seal(&self) -> Result<(), Failure> {
        let removed = std::fs::remove_file(self.path.join(SEALED_FILE)).and_then(|()| File::open(&self.path)?.sync_all());
        removed.map_err(|error| io("removing the seal", &error))
    }

    fn write_mark(&self, note: &str) -> std::io::Result<()> {
        let spaces = MARK_PLACE_BYTES.checked_sub(note.len());
        let spaces = spaces.ok_or_else(|| std::io::Error::other("the checkpoint is too long for its place"))?;
        let place = format!("{note}{}", " ".repeat(spaces));
        let mut open = self.open.lock().unwrap_or_else(PoisonError::into_inner);
        // Taken out while it is written: after a failure the file is opened and read again.
        let Some(mut mark) = open.take().or_else(|| self.open_mark().ok()) else {
            return replace(&self.path, MARK_FILE, &place.repeat(2));
        };
        mark.file.seek(SeekFrom::Start((mark.next * MARK_PLACE_BYTES) as u64))?;
        mark.file.write_all(place.as_bytes())?;
        mark.file.sync_data()?;
        mark.next = 1 - mark.next;
        *open = Some(mark);
        Ok(())
    }

    /// Never over the newest: if a write is torn, the newest is still there.
    fn open_mark(&self) -> std::io::Result<OpenMark> {
        let mut file = OpenOptions::new().read(true).write(true).open(self.path.join(MARK_FILE))?;
        let mut held = Vec::new();
        file.read_to_end(&mut held)?;
        let next = marks_in(&held).first().map_or(0, |(at, _)| 1 - at.min(&1));
        Ok(OpenMark { file, next })
    }
}

impl Outside for Folder {
    fn marks(&self) -> Result<Vec<String>, Failure> {
        // As bytes: what a crash has torn need not be UTF-8.
        match std::fs::read(self.path.join(MARK_FILE)) {
            Ok(held) => Ok(marks_in(&held).into_iter().map(|(_, note)| note.to_note()).collect()),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(Vec::new()),
            Err(error) => Err(io(format!("reading {MARK_FILE}"), &error)),
        }
    }

    fn set_mark(&self, note: &str) -> Result<(), Failure> {
        self.write_mark(note).map_err(|error| io(format!("writing {MARK_FILE}"), &error))
    }

    fn sealed(&self) -> Result<Option<String>, Failure> {
        Ok(self.read(SEALED_FILE)?.map(|text| text.trim().to_owned()))
    }

    fn seal(&self, reason: &str) -> Result<(), Failure> {
        self.write(SEALED_FILE, &format!("{reason}\n"))
    }

    fn keep(&self, name: &str, text: &str) -> Result<(), Failure> {
        self.write(name, text)
    }
}

/// The same, in memory; clones share what they hold.
#[derive(Debug, Clone, Default)]
pub struct MemoryOutside(Arc<Mutex<Held>>);

#[derive(Debug, Default)]
struct Held {
    mark: Option<String>,
    sealed: Option<String>,
    kept: Vec<(String, String)>,
}

impl MemoryOutside {
    fn held<T>(&self, ask: impl FnOnce(&mut Held) -> T) -> T {
        ask(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }

    /// What was kept as evidence, by name.
    #[must_use]
    pub fn kept(&self) -> Vec<(String, String)> {
        self.held(|held| held.kept.clone())
    }
}

impl Outside for MemoryOutside {
    fn marks(&self) -> Result<Vec<String>, Failure> {
        Ok(self.held(|held| held.mark.iter().cloned().collect()))
    }

    fn set_mark(&self, note: &str) -> Result<(), Failure> {
        self.held(|held| held.mark = Some(note.to_owned()));
        Ok(())
    }

    fn sealed(&self) -> Result<Option<String>, Failure> {
        Ok(self.held(|held| held.sealed.clone()))
    }

    fn seal(&self, reason: &str) -> Result<(), Failure> {
        self.held(|held| held.sealed = Some(reason.to_owned()));
        Ok(())
    }

    fn keep(&self, name: &str, text: &str) -> Result<(), Failure> {
        self.held(|held| held.kept.push((name.to_owned(), text.to_owned())));
        Ok(())
    }
}
