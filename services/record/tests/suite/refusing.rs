//! The database itself refuses to rewrite the record: over our own connection, and over any
//! other that somebody opens.

use crate::promises::event;
use rusqlite::Connection;
use selachron_record::failure::{Failure, Setup};
use selachron_record::store::sqlite::Sqlite;
use selachron_record::store::{EventStore as _, Head, StagedEvent};
use std::path::PathBuf;

struct Kept {
    folder: tempfile::TempDir,
    store: Sqlite,
}

fn kept() -> Kept {
    let folder = tempfile::tempdir().unwrap();
    let store = Sqlite::create(&folder.path().join("log.sqlite")).unwrap();
    store.stage(&[event(0, "egg/a", 1), event(1, "egg/b", 1)], &[2; 32]).unwrap();
    store.publish(0, &Head { size: 2, root: [2; 32], note: "two".to_owned() }).unwrap();
    Kept { folder, store }
}

impl Kept {
    fn path(&self) -> PathBuf {
        self.folder.path().join("log.sqlite")
    }

    /// Nothing of what was published has changed.
    fn is_whole(&self) -> bool {
        let rows = self.store.read_all(0, 9).unwrap();
        let whole = |(row, seq): (&selachron_record::store::StoredEvent, u64)| {
            let wanted = event(seq, if seq == 0 { "egg/a" } else { "egg/b" }, 1);
            row.leaf == wanted.leaf && row.body == Some(wanted.body)
        };
        rows.len() == 2 && rows.iter().zip(0..).all(whole) && self.store.head().unwrap().unwrap().note == "two"
    }
}

const EVENT: &str = "recorded_at, id, kind, subject, subject_version, body_sha256) VALUES";

fn rewriting() -> Vec<String> {
    let zeros = "zeroblob(32)";
    let mut attempts = vec![
        format!("INSERT INTO events (seq, {EVENT} (3, 't', 'id-3', 'k', 'egg/c', 1, {zeros})"),
        format!("INSERT INTO events (seq, {EVENT} (0, 't', 'id-3', 'k', 'egg/c', 1, {zeros})"),
        format!("INSERT INTO events (seq, {EVENT} (2, 't', 'id-0', 'k', 'egg/c', 1, {zeros})"),
        format!("INSERT INTO events (seq, {EVENT} (2, 't', 'id-3', 'k', 'egg/a', 1, {zeros})"),
        format!("INSERT INTO events (seq, {EVENT} (2, 't', 'id-3', 'k', 'egg/a', 3, {zeros})"),
        format!("INSERT OR REPLACE INTO events (seq, {EVENT} (0, 't', 'id-0', 'k', 'egg/a', 1, {zeros})"),
        format!("INSERT OR REPLACE INTO events (seq, {EVENT} (2, 't', 'id-0', 'k', 'egg/c', 1, {zeros})"),
        format!("INSERT OR REPLACE INTO events (seq, {EVENT} (2, 't', 'id-3', 'k', 'egg/a', 1, {zeros})"),
        "INSERT OR REPLACE INTO bodies (seq, body) VALUES (0, x'00')".to_owned(),
        "INSERT OR REPLACE INTO bodies (seq, body) VALUES (1, x'00')".to_owned(),
        "INSERT OR REPLACE INTO leaves (seq, leaf) VALUES (1, 'x')".to_owned(),
        "INSERT INTO bodies (seq, body) VALUES (7, x'00')".to_owned(),
        format!("INSERT OR REPLACE INTO stages (size, root) VALUES (2, {zeros})"),
        format!("INSERT INTO stages (size, root) VALUES (3, {zeros})"),
        format!("INSERT OR REPLACE INTO checkpoints (size, root, note) VALUES (2, {zeros}, 'x')"),
        format!("INSERT INTO checkpoints (size, root, note) VALUES (3, {zeros}, 'x')"),
        format!("INSERT INTO checkpoints (size, root, note) VALUES (1, {zeros}, 'x')"),
        "UPDATE OR REPLACE events SET id = 'id-1' WHERE seq = 0".to_owned(),
    ];
    for (table, column) in [("events", "kind = 'x'"), ("bodies", "body = x'00'"), ("leaves", "leaf = 'x'"), ("checkpoints", "note = 'x'")] {
        attempts.push(format!("UPDATE {table} SET {column}"));
    }
    attempts.push(format!("UPDATE stages SET root = {zeros}"));
    attempts.extend(["events", "bodies", "leaves", "stages", "checkpoints"].map(|table| format!("DELETE FROM {table}")));
    attempts
}

#[test]
fn the_record_cannot_be_rewritten() {
    let kept = kept();
    for attempt in rewriting() {
        let said = kept.store.attempt(&attempt).expect_err(&attempt);
        assert!(said.contains("append-only"), "{attempt}: {said}");
        assert!(kept.is_whole(), "{attempt}");
    }
}

#[test]
fn nor_by_another_program_that_takes_no_care() {
    let kept = kept();
    let other = Connection::open(kept.path()).unwrap();
    for attempt in rewriting() {
        let said = other.execute_batch(&attempt).expect_err(&attempt).to_string();
        assert!(said.contains("append-only"), "{attempt}: {said}");
        assert!(kept.is_whole(), "{attempt}");
    }
}

#[test]
fn our_own_connection_cannot_change_the_rules() {
    let kept = kept();
    for attempt in [
        "DROP TABLE events",
        "DROP TRIGGER events_are_never_updated",
        "DROP INDEX events_withholds",
        "ALTER TABLE events RENAME TO gone",
        "ALTER TABLE events ADD COLUMN more TEXT",
        "ATTACH DATABASE ':memory:' AS other",
        "PRAGMA writable_schema = ON",
        "PRAGMA recursive_triggers = OFF",
        "PRAGMA synchronous = OFF",
        "PRAGMA journal_mode = DELETE",
        "PRAGMA user_version = 9",
        "CREATE TABLE more (a)",
        "CREATE TEMP TRIGGER t BEFORE INSERT ON events BEGIN SELECT 1; END",
        "UPDATE sqlite_schema SET sql = ''",
        "DELETE FROM sqlite_schema",
        "VACUUM",
        "REINDEX",
    ] {
        let said = kept.store.attempt(attempt).expect_err(attempt);
        assert!(
            said.contains("not authorized") || said.contains("authorization denied") || said.contains("may not be"),
            "{attempt}: {said}"
        );
        assert!(kept.is_whole(), "{attempt}");
    }
}

#[test]
fn a_body_goes_only_in_the_transaction_that_withholds_it() {
    let kept = kept();
    assert!(kept.store.attempt("DELETE FROM bodies WHERE seq = 0").is_err());
    let withholding = StagedEvent { withholds: Some(0), ..event(2, "collection", 1) };
    kept.store.stage(&[withholding], &[3; 32]).unwrap();
    kept.store.publish(2, &Head { size: 3, root: [3; 32], note: "three".to_owned() }).unwrap();
    assert_eq!(kept.store.read_all(0, 1).unwrap()[0].body, None);
    for attempt in
        ["DELETE FROM bodies WHERE seq = 1", "DELETE FROM bodies WHERE seq = 2", "INSERT INTO bodies (seq, body) VALUES (0, x'00')"]
    {
        assert!(kept.store.attempt(attempt).unwrap_err().contains("append-only"), "{attempt}");
    }
}

#[test]
fn a_file_that_is_not_ours_is_left_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("log.sqlite");
    let strangers = [Vec::new(), b"hello".to_vec(), {
        let other = folder.path().join("other");
        Connection::open(&other).unwrap().execute_batch("CREATE TABLE notes (a)").unwrap();
        std::fs::read(other).unwrap()
    }];
    for stranger in strangers {
        std::fs::write(&path, &stranger).unwrap();
        let Err(Failure::Setup(Setup::NotOurs(said))) = Sqlite::open(&path) else { panic!("opened {} bytes", stranger.len()) };
        assert!(said.contains("is not the log of a nursery"), "{said}");
        assert!(matches!(Sqlite::create(&path), Err(Failure::Setup(Setup::Exists(_)))));
        assert_eq!(std::fs::read(&path).unwrap(), stranger);
    }
    std::fs::remove_file(&path).unwrap();
    assert!(matches!(Sqlite::open(&path), Err(Failure::Setup(Setup::NoLog(_)))));
    assert!(!path.exists(), "nothing is created by accident");
}

#[test]
fn a_copy_is_made_while_the_store_is_written() {
    let kept = kept();
    let copy = kept.folder.path().join("copy.sqlite");
    kept.store.stage(&[event(2, "egg/c", 1)], &[3; 32]).unwrap();
    kept.store.copy_to(&copy).unwrap();
    assert!(matches!(kept.store.copy_to(&copy), Err(Failure::Setup(Setup::Exists(_)))));
    kept.store.publish(2, &Head { size: 3, root: [3; 32], note: "three".to_owned() }).unwrap();
    let opened = Sqlite::open(&copy).unwrap();
    assert_eq!(opened.head().unwrap().unwrap().size, 2);
    assert_eq!(opened.staged().unwrap(), Some((3, [3; 32])));
    assert_eq!(opened.read_all(0, 9).unwrap(), kept.store.read_all(0, 2).unwrap());
}
