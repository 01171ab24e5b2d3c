//! What the keeper of a service does to a log beside serving it: look, check, copy; and
//! [`unseal`] it, [`mod@restore`] it from a bundle, or [`mod@recompute`] a report from one.

pub mod unseal;

pub mod restore;

pub mod recompute;

use crate::clock::SystemClock;
use crate::evidence::Evidence;
use crate::failure::{Broken, Failure, Setup, io};
use crate::init::{self, STORE_FILE};
use crate::journal::outside::{Folder, Outside as _};
use crate::journal::published::Condition;
use crate::store::sqlite::Sqlite;
use crate::store::{EventStore as _, Head};
use selachron_schemas::encoding::base64;
use selachron_schemas::note::{SignedCheckpoint, VerifierKey};
use std::fmt;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// How a log stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Status {
    /// Number of published notes.
    pub size: u64,
    /// Root over them, base64.
    pub root: String,
    /// Size of the high-water mark.
    pub mark_size: Option<u64>,
    /// Why it is sealed, if it is.
    pub sealed: Option<String>,
    /// Whether a process has it open.
    pub in_use: bool,
}

impl fmt::Display for Status {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "notes       {}", self.size)?;
        writeln!(f, "root        {}", self.root)?;
        writeln!(f, "mark        {}", self.mark_size.map_or("none".to_owned(), |size| size.to_string()))?;
        writeln!(f, "sealed      {}", self.sealed.as_deref().unwrap_or("no"))?;
        write!(f, "in use      {}", if self.in_use { "yes" } else { "no" })
    }
}

/// Reads how a log stands, also while it is served. Nothing is checked.
///
/// # Errors
/// There is no log.
pub fn status(folder: &Path) -> Result<Status, Failure> {
    let store = Sqlite::open_to_read(&folder.join(STORE_FILE))?;
    let in_use = matches!(init::lock(folder), Err(Failure::Setup(Setup::InUse(_))));
    state(folder, store.head()?, in_use)
}

fn state(folder: &Path, head: Option<Head>, in_use: bool) -> Result<Status, Failure> {
    let outside = Folder::new(folder);
    let mark = outside.mark()?.and_then(|note| SignedCheckpoint::parse(&note).ok());
    Ok(Status {
        size: head.as_ref().map_or(0, |head| head.size),
        root: head.as_ref().map_or_else(String::new, |head| base64(&head.root)),
        mark_size: mark.map(|mark| mark.checkpoint.size),
        sealed: outside.sealed()?,
        in_use,
    })
}

/// Makes the next key of a log, also while it is served: its file, and its verifier key.
///
/// # Errors
/// There is no founded log, or the file cannot be written.
pub fn rekey(folder: &Path) -> Result<(PathBuf, VerifierKey), Failure> {
    let store = Sqlite::open_to_read(&folder.join(STORE_FILE))?;
    let head = store.head()?.ok_or_else(|| Setup::NotFounded(folder.to_owned()))?;
    let note = SignedCheckpoint::parse(&head.note).map_err(Broken::new)?;
    init::rekey::prepare(folder, &note.checkpoint.origin)
}

/// Reads and checks the whole log from its first note, and publishes what was staged. What is
/// derived from the log is kept in memory only, so there is nothing else to make again.
///
/// # Errors
/// `Broken`, naming the seq; or another process has the log.
pub fn rebuild(folder: &Path) -> Result<Status, Failure> {
    let _lock = init::lock(folder)?;
    let journal = init::open_journal(folder, Arc::new(SystemClock))?;
    let handle = journal.handle();
    let head = handle.published().head().cloned();
    match handle.condition() {
        Condition::Stopped(broken) => Err(broken.into()),
        Condition::Writing | Condition::Sealed(_) => state(folder, head, false),
    }
}

/// Copies store, mark and the files that notes name into a new folder, while the log goes on being written. The copy is
/// sealed: put back, it may be older than what clients and auditors hold (F24).
///
/// # Errors
/// The folder is there already, or there is no log.
pub fn backup(folder: &Path, to: &Path) -> Result<Status, Failure> {
    let store = Sqlite::open_to_read(&folder.join(STORE_FILE))?;
    std::fs::create_dir(to).map_err(|error| io(format!("making {}", to.display()), &error))?;
    let outside = Folder::new(to);
    // The seal first: a copy that broke off half way must not open as a log that may sign.
    outside.seal("this is a copy; whoever puts it back must show that nothing was recorded after it")?;
    store.copy_to(&to.join(STORE_FILE))?;
    let head = Sqlite::open_to_read(&to.join(STORE_FILE))?.head()?;
    let head = head.ok_or_else(|| Broken::new("the copy holds no checkpoint; the log was never founded"))?;
    outside.set_mark(&head.note)?;
    Evidence::of(folder).copy_to(&Evidence::of(to))?;
    state(to, Some(head), false)
}
