//! The default store: one SQLite file. The database itself refuses what would rewrite the
//! record (`sqlite/schema.sql`); one connection writes, others can only read, and a thread of
//! its own copies the write-ahead log back, so that no append waits for it.

mod guard;

use super::{EventStore, Head, StagedEvent, StoredEvent, Withholding};
use crate::failure::{Broken, Failure, Setup, io};
use guard::failure;
use rusqlite::{Connection, OptionalExtension as _, Row, TransactionBehavior, params};
use selachron_schemas::limits::{
    STORE_CHECKPOINT_EVERY_MS, STORE_CHECKPOINT_FRAMES, STORE_CHECKPOINT_FRAMES_MAX, STORE_PAGE_BYTES, STORE_READERS_KEPT,
};
use selachron_schemas::merkle::Hash;
use selachron_schemas::receipt::Leaf;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;

/// A log in one SQLite file.
pub struct Sqlite {
    path: PathBuf,
    writer: Mutex<Connection>,
    readers: Mutex<Vec<Connection>>,
    /// Held for as long as the store is; `None` where nothing is written.
    _checkpointer: Option<Checkpointer>,
}

impl Sqlite {
    /// Makes a new, empty log.
    ///
    /// # Errors
    /// The file is there already, or cannot be made.
    pub fn create(path: &Path) -> Result<Self, Failure> {
        guard::check_version()?;
        if path.exists() {
            return Err(Setup::Exists(format!("{} is there already; a log is never made over another file", path.display())).into());
        }
        guard::create(path)?;
        Self::open(path)
    }

    /// Opens a log for writing. It must be there: nothing is ever created by accident.
    ///
    /// # Errors
    /// No such file, not ours, or not writable.
    pub fn open(path: &Path) -> Result<Self, Failure> {
        guard::check_version()?;
        guard::check_file(path)?;
        let writer = guard::writer(path)?;
        let checkpointer = Some(Checkpointer::start(path)?);
        Ok(Self { path: path.to_owned(), writer: Mutex::new(writer), readers: Mutex::default(), _checkpointer: checkpointer })
    }

    /// Opens a log for reading only, also while another process writes it.
    ///
    /// # Errors
    /// No such file, or not ours.
    pub fn open_to_read(path: &Path) -> Result<Self, Failure> {
        guard::check_version()?;
        guard::check_file(path)?;
        let writer = guard::reader(path)?;
        Ok(Self { path: path.to_owned(), writer: Mutex::new(writer), readers: Mutex::default(), _checkpointer: None })
    }

    fn writer(&self) -> MutexGuard<'_, Connection> {
        self.writer.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Runs a question on a connection that can only read.
    fn read<T>(&self, ask: impl FnOnce(&Connection) -> Result<T, Failure>) -> Result<T, Failure> {
        let kept = self.readers.lock().unwrap_or_else(PoisonError::into_inner).pop();
        let connection = kept.map_or_else(|| guard::reader(&self.path), Ok)?;
        let answer = ask(&connection);
        let mut readers = self.readers.lock().unwrap_or_else(PoisonError::into_inner);
        if readers.len() < STORE_READERS_KEPT {
            readers.push(connection);
        }
        answer
    }

    fn read_rows(&self, sql: &str, values: &[&dyn rusqlite::ToSql]) -> Result<Vec<StoredEvent>, Failure> {
        self.read(|connection| {
            let mut statement = connection.prepare_cached(sql).map_err(failure)?;
            let rows = statement.query_map(values, stored_row).map_err(failure)?;
            rows.map(|row| row.map_err(failure)?.into_event()).collect()
        })
    }

    /// For tests: lets the file grow to so many pages and no further, as a full disk would.
    ///
    /// # Errors
    /// The store refuses.
    #[doc(hidden)]
    pub fn limit_pages(&self, pages: u32) -> Result<(), Failure> {
        let mut connection = self.writer();
        connection.authorizer(None::<fn(rusqlite::hooks::AuthContext<'_>) -> rusqlite::hooks::Authorization>).map_err(failure)?;
        connection.pragma_update(None, "max_page_count", pages).map_err(failure)
    }

    /// For tests: runs a statement on the connection that writes, with all its guards.
    ///
    /// # Errors
    /// What SQLite says.
    #[doc(hidden)]
    pub fn attempt(&self, sql: &str) -> Result<(), String> {
        self.writer().execute_batch(sql).map_err(|error| error.to_string())
    }
}

struct StoredRow {
    seq: i64,
    leaf: String,
    body: Option<Vec<u8>>,
}

fn stored_row(row: &Row<'_>) -> rusqlite::Result<StoredRow> {
    Ok(StoredRow { seq: row.get(0)?, leaf: row.get(1)?, body: row.get(2)? })
}

impl StoredRow {
    fn into_event(self) -> Result<StoredEvent, Failure> {
        let seq = u64::try_from(self.seq).unwrap_or_default();
        match Leaf::parse(&self.leaf) {
            Some(leaf) if leaf.seq == seq => Ok(StoredEvent { leaf, body: self.body }),
            _ => Err(Broken::at(seq, "the leaf in the store is not the leaf of this seq").into()),
        }
    }
}

const COLUMNS: &str = "SELECT leaves.seq, leaf, body FROM leaves LEFT JOIN bodies USING (seq)";
const PUBLISHED: &str = "(SELECT coalesce(max(size), 0) FROM checkpoints)";

fn number(value: u64) -> i64 {
    i64::try_from(value).unwrap_or(i64::MAX)
}

fn limit(value: usize) -> i64 {
    i64::try_from(value).unwrap_or(i64::MAX)
}

fn head_row(row: &Row<'_>) -> rusqlite::Result<Head> {
    Ok(Head { size: row.get::<_, i64>(0)?.cast_unsigned(), root: row.get(1)?, note: row.get(2)? })
}

fn insert(connection: &Connection, event: &StagedEvent) -> rusqlite::Result<()> {
    let leaf = &event.leaf;
    let seq = number(leaf.seq);
    connection
        .prepare_cached(
            "INSERT INTO events (seq, recorded_at, id, kind, subject, subject_version, body_sha256, withholds) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        )?
        .execute(params![
            seq,
            leaf.recorded_at.utc_text(),
            event.id,
            event.kind,
            event.subject,
            number(leaf.subject_version),
            leaf.body_sha256,
            event.withholds.map(number)
        ])?;
    connection.prepare_cached("INSERT INTO bodies (seq, body) VALUES (?, ?)")?.execute(params![seq, event.body])?;
    connection.prepare_cached("INSERT INTO leaves (seq, leaf) VALUES (?, ?)")?.execute(params![seq, leaf.text()])?;
    Ok(())
}

impl EventStore for Sqlite {
    fn stage(&self, events: &[StagedEvent], root: &Hash) -> Result<(), Failure> {
        let mut writer = self.writer();
        flush_each_commit(&writer, true)?;
        // Dropped before its commit, a transaction is rolled back: a crash here leaves nothing.
        let transaction = writer.transaction_with_behavior(TransactionBehavior::Immediate).map_err(failure)?;
        for event in events {
            insert(&transaction, event).map_err(failure)?;
        }
        let size = events.last().map_or(0, |event| event.leaf.seq + 1);
        let staged = "INSERT INTO stages (size, root) VALUES (?, ?)";
        transaction.prepare_cached(staged).and_then(|mut insert| insert.execute(params![number(size), root])).map_err(failure)?;
        transaction.commit().map_err(failure)
    }

    fn publish(&self, before: u64, head: &Head) -> Result<(), Failure> {
        let mut writer = self.writer();
        // No flush of its own: the same note stands in the high-water mark already, and whoever
        // opens the log after a crash signs the staged rows again and gets this note.
        flush_each_commit(&writer, false)?;
        swap(&mut writer, before, head)
    }

    fn head(&self) -> Result<Option<Head>, Failure> {
        Ok(self.checkpoints(u64::MAX, 1)?.pop())
    }

    fn staged(&self) -> Result<Option<(u64, Hash)>, Failure> {
        self.read(|connection| {
            let sql = "SELECT size, root FROM stages ORDER BY size DESC LIMIT 1";
            let row = |row: &Row<'_>| Ok((row.get::<_, i64>(0)?.cast_unsigned(), row.get(1)?));
            connection.prepare_cached(sql).and_then(|mut ask| ask.query_row([], row).optional()).map_err(failure)
        })
    }

    fn read_all(&self, from: u64, limit_events: usize) -> Result<Vec<StoredEvent>, Failure> {
        let sql = format!("{COLUMNS} WHERE leaves.seq >= ? AND leaves.seq < {PUBLISHED} ORDER BY leaves.seq LIMIT ?");
        self.read_rows(&sql, &[&number(from), &limit(limit_events)])
    }

    fn read_staged(&self, from: u64, limit_events: usize) -> Result<Vec<StoredEvent>, Failure> {
        let sql = format!("{COLUMNS} WHERE leaves.seq >= ? ORDER BY leaves.seq LIMIT ?");
        self.read_rows(&sql, &[&number(from), &limit(limit_events)])
    }

    fn read_subject(&self, subject: &str, from_version: u64, limit_events: usize) -> Result<Vec<StoredEvent>, Failure> {
        let sql = format!(
            "SELECT events.seq, leaf, body FROM events JOIN leaves USING (seq) LEFT JOIN bodies USING (seq)
             WHERE subject = ? AND subject_version >= ? AND events.seq < {PUBLISHED} ORDER BY subject_version LIMIT ?"
        );
        self.read_rows(&sql, &[&subject, &number(from_version), &limit(limit_events)])
    }

    fn seq_of(&self, id: &str) -> Result<Option<u64>, Failure> {
        self.read(|connection| {
            let sql = format!("SELECT seq FROM events WHERE id = ? AND seq < {PUBLISHED}");
            let row = |row: &Row<'_>| Ok(row.get::<_, i64>(0)?.cast_unsigned());
            connection.prepare_cached(&sql).and_then(|mut ask| ask.query_row([id], row).optional()).map_err(failure)
        })
    }

    fn withholdings(&self) -> Result<Vec<Withholding>, Failure> {
        self.read(|connection| {
            let sql = "SELECT withholds, seq FROM events WHERE withholds IS NOT NULL ORDER BY seq";
            let mut statement = connection.prepare_cached(sql).map_err(failure)?;
            let row = |row: &Row<'_>| {
                Ok(Withholding { target: row.get::<_, i64>(0)?.cast_unsigned(), by: row.get::<_, i64>(1)?.cast_unsigned() })
            };
            let rows = statement.query_map([], row).map_err(failure)?;
            rows.collect::<rusqlite::Result<Vec<_>>>().map_err(failure)
        })
    }

    fn checkpoints(&self, below: u64, limit_heads: usize) -> Result<Vec<Head>, Failure> {
        self.read(|connection| {
            let sql = "SELECT size, root, note FROM checkpoints WHERE size < ? ORDER BY size DESC LIMIT ?";
            let mut statement = connection.prepare_cached(sql).map_err(failure)?;
            let rows = statement.query_map(params![number(below), limit(limit_heads)], head_row).map_err(failure)?;
            rows.collect::<rusqlite::Result<Vec<_>>>().map_err(failure)
        })
    }

    fn copy_to(&self, file: &Path) -> Result<(), Failure> {
        if file.exists() {
            return Err(Setup::Exists(format!("{} is there already; a copy is never made over another file", file.display())).into());
        }
        self.read(|connection| {
            let mut copy = Connection::open(file).map_err(failure)?;
            // In one step: a read transaction, so that appends neither wait nor start it anew.
            rusqlite::backup::Backup::new(connection, &mut copy).and_then(|backup| backup.step(-1)).map_err(failure)?;
            copy.close().map_err(|(_, error)| failure(error))
        })?;
        std::fs::File::open(file).and_then(|file| file.sync_all()).map_err(|error| io("flushing the copy", &error))
    }
}

/// The thread that copies the write-ahead log back into the file.
struct Checkpointer {
    stop: Option<Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Checkpointer {
    fn start(path: &Path) -> Result<Self, Failure> {
        let connection = guard::checkpointer(path)?;
        let mut log = path.as_os_str().to_owned();
        log.push("-wal");
        let (stop, stopped) = channel::<()>();
        let every = Duration::from_millis(STORE_CHECKPOINT_EVERY_MS);
        let work = move || {
            while stopped.recv_timeout(every) == Err(RecvTimeoutError::Timeout) {
                copy_back(&connection, frames(Path::new(&log)));
            }
        };
        let thread =
            std::thread::Builder::new().name("store-checkpoint".to_owned()).spawn(work).map_err(|e| io("starting a thread", &e))?;
        Ok(Self { stop: Some(stop), thread: Some(thread) })
    }
}

impl Drop for Checkpointer {
    fn drop(&mut self) {
        drop(self.stop.take());
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

fn frames(log: &Path) -> u64 {
    std::fs::metadata(log).map_or(0, |file| file.len() / STORE_PAGE_BYTES as u64)
}

/// PASSIVE never makes a writer wait. Only when the log has grown far beyond that does a RESTART
/// hold writers up, for the short rest that PASSIVE has left.
fn copy_back(connection: &Connection, frames: u64) {
    if frames < u64::from(STORE_CHECKPOINT_FRAMES) {
        return;
    }
    let run = |sql: &str| connection.query_row(sql, [], |_| Ok(()));
    let mut done = run("PRAGMA wal_checkpoint(PASSIVE)");
    if done.is_ok() && frames > u64::from(STORE_CHECKPOINT_FRAMES_MAX) {
        done = run("PRAGMA wal_checkpoint(TRUNCATE)");
    }
    if let Err(error) = done {
        // Nothing is lost: the frames stay in the write-ahead log until the next turn.
        tracing::warn!(%error, "the write-ahead log was not copied back");
    }
}

/// Whether commits are flushed at once, or with the next one that is.
fn flush_each_commit(writer: &Connection, wanted: bool) -> Result<(), Failure> {
    writer.pragma_update(None, "synchronous", if wanted { "FULL" } else { "NORMAL" }).map_err(failure)
}

/// Compare and swap of the newest checkpoint.
fn swap(writer: &mut Connection, before: u64, head: &Head) -> Result<(), Failure> {
    let transaction = writer.transaction_with_behavior(TransactionBehavior::Immediate).map_err(failure)?;
    let newest: i64 = transaction
        .prepare_cached("SELECT coalesce(max(size), 0) FROM checkpoints")
        .and_then(|mut ask| ask.query_row([], |row| row.get(0)))
        .map_err(failure)?;
    if newest != number(before) {
        return Err(Broken::new("another checkpoint has been published meanwhile").into());
    }
    transaction
        .prepare_cached("INSERT INTO checkpoints (size, root, note) VALUES (?, ?, ?)")
        .and_then(|mut insert| insert.execute(params![number(head.size), head.root, head.note]))
        .map_err(failure)?;
    transaction.commit().map_err(failure)
}
