//! The journal of refused writes: beside the log and no part of it, bounded, and without what the
//! refused notes say. An auditor reads who was turned away, when and why; counts go on for ever.
//!
//! A thread of its own writes it, so that nobody who is refused waits for a disk.

use crate::failure::{Failure, Setup};
use rusqlite::{Connection, OptionalExtension as _, params};
use selachron_schemas::limits::{REFUSALS_KEPT_MAX, REFUSALS_QUEUE_MAX};
use selachron_schemas::time::Instant;
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, TrySendError, sync_channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;

/// Its file in the log's folder.
pub const REFUSALS_FILE: &str = "refused.sqlite";

/// A write that was refused, without what it said.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RefusedWrite {
    /// When, by the service's clock.
    pub at: Instant,
    /// The problem by name.
    pub problem: String,
    /// JSON pointer into the body.
    pub pointer: Option<String>,
    /// The key that the body names as its author's.
    pub keyid: Option<String>,
    /// Whether its signature was found valid; else the key is only what somebody claimed.
    pub signed: bool,
    /// The person who holds that key.
    pub person: Option<String>,
    /// The note's id.
    pub id: Option<String>,
    /// SHA-256 in hex: of the body, or of what came in its place.
    pub sha256: Option<String>,
    /// Address that it came from.
    pub peer: Option<String>,
}

/// What is kept of a page of refusals.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Page {
    /// Numbered, newest first.
    pub items: Vec<(i64, RefusedWrite)>,
    /// How many were ever refused, by problem.
    pub counts: BTreeMap<String, i64>,
    /// Number of the oldest that is still kept.
    pub oldest: Option<i64>,
}

enum Message {
    Refused(Box<RefusedWrite>),
    /// Everything before this is written when it is answered.
    Reached(SyncSender<()>),
}

/// The journal, open.
pub struct Refusals {
    sender: Option<SyncSender<Message>>,
    reader: Mutex<Connection>,
    lost: Arc<AtomicI64>,
    thread: Option<JoinHandle<()>>,
}

impl Refusals {
    /// Opens the journal in a log's folder, or begins it.
    ///
    /// # Errors
    /// Its file is not ours or cannot be written. It is no part of the record and may be moved.
    pub fn open(folder: &Path) -> Result<Self, Failure> {
        let path = folder.join(REFUSALS_FILE);
        let said = |error: rusqlite::Error| {
            Setup::NotOurs(format!("{}: {error}; it is no part of the record: move it elsewhere and start again", path.display()))
        };
        let writer = prepare(&path).map_err(said)?;
        let reader = Connection::open(&path).map_err(said)?;
        let (sender, receiver) = sync_channel(REFUSALS_QUEUE_MAX);
        let lost = Arc::new(AtomicI64::default());
        let count = lost.clone();
        let thread = std::thread::Builder::new().name("refusals".to_owned()).spawn(move || write_all(writer, &receiver, &count));
        let thread = thread.map_err(|error| Setup::Io(format!("starting a thread: {error}")))?;
        Ok(Self { sender: Some(sender), reader: Mutex::new(reader), lost, thread: Some(thread) })
    }

    /// Notes a refusal. When more come than can be written it is counted and not kept.
    pub fn note(&self, refused: RefusedWrite) {
        let Some(sender) = &self.sender else { return };
        if let Err(TrySendError::Full(_)) = sender.try_send(Message::Refused(Box::new(refused))) {
            self.lost.fetch_add(1, Ordering::Relaxed);
        }
    }

    /// Refusals below number `before`, newest first, at most `limit`.
    ///
    /// # Errors
    /// The file cannot be read.
    pub fn read(&self, before: Option<i64>, limit: usize) -> Result<Page, Failure> {
        let (reached, wait) = sync_channel(1);
        if self.sender.as_ref().is_some_and(|sender| sender.send(Message::Reached(reached)).is_ok()) {
            let _ = wait.recv();
        }
        let connection = self.reader.lock().unwrap_or_else(PoisonError::into_inner);
        page(&connection, before, limit).map_err(|error| Setup::Io(format!("reading {REFUSALS_FILE}: {error}")).into())
    }

    /// How many were refused between two instants, both included, by problem, as far as they are kept; and
    /// whether all of that time is still kept.
    ///
    /// # Errors
    /// The file cannot be read.
    pub fn between(&self, from: Instant, until: Instant) -> Result<(BTreeMap<String, i64>, bool), Failure> {
        self.read(None, 0)?;
        let connection = self.reader.lock().unwrap_or_else(PoisonError::into_inner);
        between(&connection, from, until).map_err(|error| Setup::Io(format!("reading {REFUSALS_FILE}: {error}")).into())
    }
}

impl Drop for Refusals {
    fn drop(&mut self) {
        drop(self.sender.take());
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

fn prepare(path: &Path) -> rusqlite::Result<Connection> {
    let connection = Connection::open(path)?;
    connection.pragma_update(None, "journal_mode", "WAL")?;
    // A crash may lose the newest; nothing else depends on them.
    connection.pragma_update(None, "synchronous", "NORMAL")?;
    connection.execute_batch(
        "CREATE TABLE IF NOT EXISTS refused (
            n INTEGER PRIMARY KEY AUTOINCREMENT, at INTEGER NOT NULL, problem TEXT NOT NULL, pointer TEXT, keyid TEXT,
            signed INTEGER NOT NULL, person TEXT, id TEXT, sha256 TEXT, peer TEXT) STRICT;
        CREATE TABLE IF NOT EXISTS counts (problem TEXT PRIMARY KEY, refused INTEGER NOT NULL) STRICT;",
    )?;
    Ok(connection)
}

fn write_all(mut connection: Connection, receiver: &Receiver<Message>, lost: &AtomicI64) {
    while let Ok(first) = receiver.recv() {
        let messages: Vec<Message> = std::iter::once(first).chain(receiver.try_iter()).collect();
        if let Err(error) = write(&mut connection, &messages, lost.swap(0, Ordering::Relaxed)) {
            tracing::error!(%error, "refused writes could not be kept");
        }
        for message in messages {
            if let Message::Reached(reached) = message {
                let _ = reached.send(());
            }
        }
    }
}

fn write(connection: &mut Connection, messages: &[Message], lost: i64) -> rusqlite::Result<()> {
    let transaction = connection.transaction()?;
    let mut written = 0;
    for message in messages {
        let Message::Refused(refused) = message else { continue };
        transaction.prepare_cached("INSERT INTO refused (at, problem, pointer, keyid, signed, person, id, sha256, peer) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)")?
            .execute(params![
                refused.at.0, refused.problem, refused.pointer, refused.keyid, refused.signed, refused.person, refused.id, refused.sha256,
                refused.peer
            ])?;
        count(&transaction, &refused.problem, 1)?;
        written += 1;
    }
    if lost > 0 {
        count(&transaction, "not kept", lost)?;
    }
    if written > 0 {
        transaction.execute("DELETE FROM refused WHERE n <= (SELECT max(n) FROM refused) - ?1", [REFUSALS_KEPT_MAX])?;
    }
    transaction.commit()
}

fn count(connection: &Connection, problem: &str, by: i64) -> rusqlite::Result<()> {
    let add = "INSERT INTO counts (problem, refused) VALUES (?1, ?2) ON CONFLICT (problem) DO UPDATE SET refused = refused + ?2";
    connection.prepare_cached(add)?.execute(params![problem, by]).map(drop)
}

fn page(connection: &Connection, before: Option<i64>, limit: usize) -> rusqlite::Result<Page> {
    let mut select = connection.prepare_cached(
        "SELECT n, at, problem, pointer, keyid, signed, person, id, sha256, peer FROM refused WHERE n < ?1 ORDER BY n DESC LIMIT ?2",
    )?;
    let (before, limit) = (before.unwrap_or(i64::MAX), i64::try_from(limit).unwrap_or(i64::MAX));
    let item = |row: &rusqlite::Row<'_>| {
        let refused = RefusedWrite {
            at: Instant(row.get(1)?),
            problem: row.get(2)?,
            pointer: row.get(3)?,
            keyid: row.get(4)?,
            signed: row.get(5)?,
            person: row.get(6)?,
            id: row.get(7)?,
            sha256: row.get(8)?,
            peer: row.get(9)?,
        };
        Ok((row.get(0)?, refused))
    };
    let items = select.query_map(params![before, limit], item)?.collect::<Result<_, _>>()?;
    let counts = connection
        .prepare_cached("SELECT problem, refused FROM counts")?
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?
        .collect::<Result<_, _>>()?;
    let oldest: Option<Option<i64>> = connection.query_row("SELECT min(n) FROM refused", [], |row| row.get(0)).optional()?;
    Ok(Page { items, counts, oldest: oldest.flatten() })
}

fn between(connection: &Connection, from: Instant, until: Instant) -> rusqlite::Result<(BTreeMap<String, i64>, bool)> {
    let mut select = connection.prepare_cached("SELECT problem, count(*) FROM refused WHERE at BETWEEN ?1 AND ?2 GROUP BY problem")?;
    let counts = select.query_map(params![from.0, until.0], |row| Ok((row.get(0)?, row.get(1)?)))?.collect::<Result<_, _>>()?;
    // Numbers begin with 1: while the first is kept nothing was thrown away.
    let oldest: (Option<i64>, Option<i64>) =
        connection.query_row("SELECT min(n), min(at) FROM refused", [], |row| Ok((row.get(0)?, row.get(1)?)))?;
    let whole = oldest.0.is_none_or(|number| number == 1) || oldest.1.is_some_and(|at| at <= from.0);
    Ok((counts, whole))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(at: i64) -> RefusedWrite {
        RefusedWrite {
            at: Instant(at),
            problem: "time-in-future".to_owned(),
            pointer: Some("/time".to_owned()),
            keyid: None,
            signed: true,
            person: None,
            id: None,
            sha256: None,
            peer: None,
        }
    }

    #[test]
    fn refusals_are_kept_across_a_restart_newest_first_and_in_pages() {
        let folder = tempfile::tempdir().unwrap();
        let refusals = Refusals::open(folder.path()).unwrap();
        assert_eq!(refusals.read(None, 9).unwrap(), Page::default());
        (0..5).for_each(|at| refusals.note(refused(at)));
        drop(refusals);
        let refusals = Refusals::open(folder.path()).unwrap();
        let page = refusals.read(None, 3).unwrap();
        assert_eq!(page.items.iter().map(|(n, item)| (*n, item.at.0)).collect::<Vec<_>>(), [(5, 4), (4, 3), (3, 2)]);
        assert_eq!((page.counts["time-in-future"], page.oldest), (5, Some(1)));
        assert_eq!(page.items[0].1, refused(4));
        assert_eq!(refusals.read(Some(3), 9).unwrap().items.len(), 2);
    }

    #[test]
    fn what_is_kept_is_bounded_and_what_is_counted_is_not() {
        let folder = tempfile::tempdir().unwrap();
        let mut connection = prepare(&folder.path().join(REFUSALS_FILE)).unwrap();
        let many: Vec<Message> = (0..1000).map(|at| Message::Refused(Box::new(refused(at)))).collect();
        let rounds = REFUSALS_KEPT_MAX / 1000 + 2;
        (0..rounds).for_each(|_| write(&mut connection, &many, 7).unwrap());
        let page = page(&connection, None, 1).unwrap();
        let kept: i64 = connection.query_row("SELECT count(*) FROM refused", [], |row| row.get(0)).unwrap();
        assert_eq!((kept, page.oldest), (REFUSALS_KEPT_MAX, Some(rounds * 1000 - REFUSALS_KEPT_MAX + 1)));
        assert_eq!((page.counts["time-in-future"], page.counts["not kept"]), (rounds * 1000, rounds * 7));
    }

    #[test]
    fn a_file_that_is_not_ours_is_named_and_left() {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join(REFUSALS_FILE), "hello").unwrap();
        let said = Refusals::open(folder.path()).err().unwrap().to_string();
        assert!(said.contains("no part of the record"), "{said}");
        assert_eq!(std::fs::read(folder.path().join(REFUSALS_FILE)).unwrap(), b"hello");
    }
}
