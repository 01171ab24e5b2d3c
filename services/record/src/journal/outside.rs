//! What is kept outside the store, so that a store that was put back from a copy is noticed: the
//! high-water mark, the seal, and notes that show a fork (F13, F24).

use crate::failure::{Failure, io};
use std::fs::File;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

/// The file that holds the newest published checkpoint.
pub const MARK_FILE: &str = "high-water-mark";
/// The file that says why the log is sealed, if it is.
pub const SEALED_FILE: &str = "sealed";

/// A place outside the store.
pub trait Outside: Send {
    /// The newest checkpoint that was about to be published.
    ///
    /// # Errors
    /// It cannot be read.
    fn mark(&self) -> Result<Option<String>, Failure>;

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
pub struct Folder(PathBuf);

impl Folder {
    /// The folder of a log.
    #[must_use]
    pub fn new(folder: &Path) -> Self {
        Self(folder.to_owned())
    }

    fn read(&self, name: &str) -> Result<Option<String>, Failure> {
        match std::fs::read_to_string(self.0.join(name)) {
            Ok(text) => Ok(Some(text)),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(None),
            Err(error) => Err(io(format!("reading {name}"), &error)),
        }
    }

    fn write(&self, name: &str, text: &str) -> Result<(), Failure> {
        replace(&self.0, name, text).map_err(|error| io(format!("writing {name}"), &error))
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

impl Outside for Folder {
    fn mark(&self) -> Result<Option<String>, Failure> {
        self.read(MARK_FILE)
    }

    fn set_mark(&self, note: &str) -> Result<(), Failure> {
        self.write(MARK_FILE, note)
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
    fn mark(&self) -> Result<Option<String>, Failure> {
        Ok(self.held(|held| held.mark.clone()))
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
