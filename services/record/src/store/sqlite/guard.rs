//! How a connection to the record is opened: what the file must be, what a connection may do,
//! and what an error of SQLite means to the caller.

use crate::failure::{Broken, Busy, Failure, Setup, io};
use rusqlite::config::DbConfig;
use rusqlite::hooks::{AuthAction, AuthContext, Authorization};
use rusqlite::{Connection, ErrorCode, OpenFlags};
use selachron_schemas::limits::{EVENT_BYTES_MAX, SQLITE_VERSION_MIN, STORE_BUSY_MS, STORE_PAGE_BYTES, STORE_STATEMENTS_KEPT};
use std::io::Read as _;
use std::path::Path;
use std::time::Duration;

/// Marks a file as ours ("SELA"), in the header where SQLite keeps it.
const APPLICATION_ID: i32 = 0x5345_4C41;
/// The layout of `schema.sql`.
const LAYOUT_VERSION: i32 = 1;
/// The first bytes of every SQLite 3 file (SQLite file format 1.2).
const MAGIC: &[u8] = b"SQLite format 3\0";
/// Where the header keeps the application id (SQLite file format 1.3.14).
const APPLICATION_ID_AT: usize = 68;
/// Tables that events are written to.
const TABLES: [&str; 5] = ["events", "bodies", "leaves", "stages", "checkpoints"];

/// Refuses a SQLite with known faults in the write-ahead log.
pub(super) fn check_version() -> Result<(), Failure> {
    let version = rusqlite::version_number();
    if version >= SQLITE_VERSION_MIN {
        return Ok(());
    }
    Err(Setup::NotOurs(format!("SQLite {} is too old for a live log; build with the bundled one", rusqlite::version())).into())
}

/// Refuses a file that is not ours, before SQLite touches it.
pub(super) fn check_file(path: &Path) -> Result<(), Failure> {
    let mut header = Vec::new();
    let read = std::fs::File::open(path).and_then(|file| file.take(STORE_PAGE_BYTES as u64).read_to_end(&mut header));
    match read {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
            return Err(Setup::NoLog(path.parent().unwrap_or(path).to_owned()).into());
        }
        Err(error) => return Err(io(format!("reading {}", path.display()), &error)),
        Ok(_) => {}
    }
    let id = header.get(APPLICATION_ID_AT..APPLICATION_ID_AT + 4);
    if header.starts_with(MAGIC) && id == Some(&APPLICATION_ID.to_be_bytes()) {
        return Ok(());
    }
    Err(Setup::NotOurs(format!("{} is not the log of a nursery; it is left as it is", path.display())).into())
}

/// Lays out a new file.
pub(super) fn create(path: &Path) -> Result<(), Failure> {
    let connection = Connection::open(path).map_err(failure)?;
    let sql = include_str!("schema.sql").replace("{EVENT_BYTES_MAX}", &EVENT_BYTES_MAX.to_string());
    let layout = format!(
        "PRAGMA page_size = {STORE_PAGE_BYTES}; PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL;
         BEGIN; PRAGMA application_id = {APPLICATION_ID}; PRAGMA user_version = {LAYOUT_VERSION}; {sql} COMMIT;"
    );
    connection.execute_batch(&layout).map_err(failure)
}

/// The one connection that writes.
pub(super) fn writer(path: &Path) -> Result<Connection, Failure> {
    let mut connection = open(path, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
    // Checkpoints are made by another thread, off the append path; a body that is withheld is
    // overwritten, not only unlinked.
    let settings = "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA wal_autocheckpoint = 0;
        PRAGMA recursive_triggers = ON; PRAGMA secure_delete = ON; PRAGMA trusted_schema = OFF; PRAGMA cell_size_check = ON;";
    connection.execute_batch(settings).map_err(failure)?;
    connection.authorizer(Some(may_write)).map_err(failure)?;
    Ok(connection)
}

/// A connection that can only read.
pub(super) fn reader(path: &Path) -> Result<Connection, Failure> {
    let mut connection = open(path, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
    connection.execute_batch("PRAGMA query_only = ON; PRAGMA trusted_schema = OFF; PRAGMA cell_size_check = ON;").map_err(failure)?;
    connection.authorizer(Some(may_read)).map_err(failure)?;
    Ok(connection)
}

/// The connection that copies the write-ahead log back into the file.
pub(super) fn checkpointer(path: &Path) -> Result<Connection, Failure> {
    let mut connection = open(path, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
    connection.authorizer(Some(may_checkpoint)).map_err(failure)?;
    Ok(connection)
}

fn open(path: &Path, mode: OpenFlags) -> Result<Connection, Failure> {
    let connection = Connection::open_with_flags(path, mode | OpenFlags::SQLITE_OPEN_NO_MUTEX).map_err(failure)?;
    connection.busy_timeout(Duration::from_millis(STORE_BUSY_MS)).map_err(failure)?;
    connection.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true).map_err(failure)?;
    connection.set_prepared_statement_cache_capacity(STORE_STATEMENTS_KEPT);
    let version: i32 = connection.pragma_query_value(None, "user_version", |row| row.get(0)).map_err(failure)?;
    if version != LAYOUT_VERSION {
        let said = format!("{} has layout {version}; this program knows layout {LAYOUT_VERSION}", path.display());
        return Err(Setup::NotOurs(said).into());
    }
    Ok(connection)
}

fn may_read(context: AuthContext<'_>) -> Authorization {
    match context.action {
        AuthAction::Select | AuthAction::Read { .. } | AuthAction::Function { .. } | AuthAction::Transaction { .. } => Authorization::Allow,
        _ => Authorization::Deny,
    }
}

/// Everything that is not named is denied: DROP, ALTER, ATTACH, pragmas, writing the schema.
fn may_write(context: AuthContext<'_>) -> Authorization {
    match context.action {
        AuthAction::Insert { table_name } if TABLES.contains(&table_name) => Authorization::Allow,
        // The triggers decide which: an authorizer cannot see rows.
        AuthAction::Delete { table_name } | AuthAction::Update { table_name, .. } if TABLES.contains(&table_name) => Authorization::Allow,
        // Whether a commit is flushed at once or with the next one; never OFF.
        AuthAction::Pragma { pragma_name: "synchronous", pragma_value: Some("NORMAL" | "FULL") } => Authorization::Allow,
        _ => may_read(context),
    }
}

fn may_checkpoint(context: AuthContext<'_>) -> Authorization {
    match context.action {
        AuthAction::Pragma { pragma_name: "wal_checkpoint", .. } => Authorization::Allow,
        _ => may_read(context),
    }
}

/// What an error of SQLite means to the caller. The texts carry neither SQL nor paths.
pub(super) fn failure(error: rusqlite::Error) -> Failure {
    let code = error.sqlite_error_code();
    tracing::warn!(%error, ?code, "the store says no");
    match code {
        Some(ErrorCode::DiskFull) => Busy::DiskFull.into(),
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Busy::StoreLocked.into(),
        Some(ErrorCode::ReadOnly | ErrorCode::CannotOpen | ErrorCode::PermissionDenied) => {
            Broken::new("the store cannot be written: its folder or its files are read-only for this program").into()
        }
        Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) => Broken::new("the store's file is damaged").into(),
        Some(ErrorCode::ConstraintViolation) => Broken::new("the store refuses: the record is append-only").into(),
        Some(ErrorCode::SystemIoFailure) => Broken::new("the disk under the store fails").into(),
        _ => Broken::new("the store cannot be used").into(),
    }
}
