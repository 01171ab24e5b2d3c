//! Rows in an order of their own, more than memory should hold: they lie in a file beside, which SQLite
//! keeps in order.

use super::Scratch;
use super::cell::Cell;
use super::shape::Row;
use crate::failure::{Broken, Failure};
use rusqlite::{Connection, OptionalExtension as _, params};
use selachron_schemas::limits::EXPORT_SORT_KIB;
use std::path::Path;

/// A row, and where it belongs.
#[derive(Debug, Clone, PartialEq)]
pub struct Ranked {
    /// Lower ranks come first,
    pub rank: i64,
    /// then by this, as bytes. Rows of one rank and key are one row.
    pub key: String,
    /// The row.
    pub row: Row,
}

/// See the module. The file is gone with this value.
pub struct Sorted {
    // Closed before its folder goes: members are dropped in this order.
    connection: Connection,
    _scratch: Scratch,
}

impl Sorted {
    /// Without rows; the file lies under `scratch`.
    ///
    /// # Errors
    /// It cannot be made.
    pub fn begun(scratch: &Path) -> Result<Self, Failure> {
        let scratch = Scratch::filled(scratch, |_| Ok(()))?;
        let connection = prepared(&scratch.path().join("sorted")).map_err(|error| failed(&error))?;
        Ok(Self { connection, _scratch: scratch })
    }

    /// Takes a row. Of two alike the lists are united.
    ///
    /// # Errors
    /// There is no room.
    pub fn add(&mut self, one: &Ranked) -> Result<(), Failure> {
        let known = self.row_at(one.rank, &one.key).map_err(|error| failed(&error))?;
        let row = match known {
            Some(known) => united(read(&known)?, &one.row),
            None => one.row.clone(),
        };
        let text = serde_json::to_string(&row).map_err(|error| Broken::new(format!("a row that is no JSON: {error}")))?;
        let insert = "INSERT OR REPLACE INTO rows (rank, key, row) VALUES (?1, ?2, ?3)";
        let mut insert = self.connection.prepare_cached(insert).map_err(|error| failed(&error))?;
        insert.execute(params![one.rank, one.key, text]).map(drop).map_err(|error| failed(&error))
    }

    fn row_at(&self, rank: i64, key: &str) -> rusqlite::Result<Option<String>> {
        let mut select = self.connection.prepare_cached("SELECT row FROM rows WHERE rank = ?1 AND key = ?2")?;
        select.query_row(params![rank, key], |row| row.get(0)).optional()
    }

    /// Gives every row to `take`, in order.
    ///
    /// # Errors
    /// What `take` returns; the file cannot be read.
    pub fn each(self, mut take: impl FnMut(&Row) -> Result<(), Failure>) -> Result<(), Failure> {
        let select = self.connection.prepare("SELECT row FROM rows ORDER BY rank, key");
        let mut select = select.map_err(|error| failed(&error))?;
        let mut rows = select.query([]).map_err(|error| failed(&error))?;
        while let Some(row) = rows.next().map_err(|error| failed(&error))? {
            let text: String = row.get(0).map_err(|error| failed(&error))?;
            take(&read(&text)?)?;
        }
        Ok(())
    }
}

fn prepared(path: &Path) -> rusqlite::Result<Connection> {
    let connection = Connection::open(path)?;
    // Nothing of it has to outlive this process.
    connection.pragma_update(None, "journal_mode", "OFF")?;
    connection.pragma_update(None, "synchronous", "OFF")?;
    connection.pragma_update(None, "locking_mode", "EXCLUSIVE")?;
    connection.pragma_update(None, "cache_size", -EXPORT_SORT_KIB)?;
    connection.execute_batch(
        "CREATE TABLE rows (rank INTEGER NOT NULL, key TEXT NOT NULL, row TEXT NOT NULL, PRIMARY KEY (rank, key)) STRICT, WITHOUT ROWID;
        BEGIN;",
    )?;
    Ok(connection)
}

fn read(text: &str) -> Result<Row, Failure> {
    serde_json::from_str(text).map_err(|error| Broken::new(format!("a row put aside is not as it was written: {error}")).into())
}

fn united(mut known: Row, other: &Row) -> Row {
    for (cell, other) in known.iter_mut().zip(other) {
        if let (Cell::Several(all), Cell::Several(more)) = (cell, other) {
            all.extend_from_slice(more);
            all.sort_unstable();
            all.dedup();
        }
    }
    known
}

fn failed(error: &rusqlite::Error) -> Failure {
    crate::failure::io("putting rows in order", &std::io::Error::other(error.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    fn ranked(rank: i64, key: &str, subjects: &[&str]) -> Ranked {
        let subjects = Cell::Several(subjects.iter().map(ToString::to_string).collect());
        Ranked { rank, key: key.to_owned(), row: vec![Cell::Text(format!("{rank}{key}")), subjects, Cell::Number(0.1)] }
    }

    fn rows_of(all: &[Ranked], scratch: &Path) -> Vec<Row> {
        let mut sorted = Sorted::begun(scratch).expect("a file");
        all.iter().for_each(|one| sorted.add(one).expect("room"));
        let mut rows = Vec::new();
        let take = |row: &Row| {
            rows.push(row.clone());
            Ok(())
        };
        sorted.each(take).expect("all rows");
        rows
    }

    #[test]
    fn rows_come_in_order_and_those_alike_are_one() {
        let scratch = tempfile::tempdir().expect("a folder");
        let given = [ranked(0, "b", &["x"]), ranked(-1, "c", &["z", "z"]), ranked(0, "a", &[]), ranked(0, "b", &["w", "x"])];
        let wanted = [ranked(-1, "c", &["z", "z"]), ranked(0, "a", &[]), ranked(0, "b", &["w", "x"])].map(|one| one.row);
        assert_eq!(rows_of(&given, scratch.path()), wanted);
        assert_eq!(fs::read_dir(scratch.path()).expect("a folder").count(), 0, "nothing is left beside");
        assert!(rows_of(&[], scratch.path()).is_empty());
    }

    #[test]
    fn more_rows_than_its_memory_come_back_as_they_were() {
        let scratch = tempfile::tempdir().expect("a folder");
        let word = "x".repeat(1024);
        let count = 4 * usize::try_from(EXPORT_SORT_KIB).expect("a size");
        // 7,919 is prime, so that every number comes once, far from in order.
        let given: Vec<Ranked> = (0..count).map(|n| ranked(0, &format!("{:08}", n * 7919 % count), &[&word])).collect();
        let mut wanted = given.clone();
        wanted.sort_by(|a, b| a.key.cmp(&b.key));
        assert_eq!(rows_of(&given, scratch.path()), wanted.into_iter().map(|one| one.row).collect::<Vec<Row>>());
    }

    #[test]
    fn a_fault_while_rows_are_taken_is_told() {
        let scratch = tempfile::tempdir().expect("a folder");
        let mut sorted = Sorted::begun(scratch.path()).expect("a file");
        sorted.add(&ranked(0, "a", &[])).expect("room");
        assert!(sorted.each(|_| Err(Broken::new("a fault").into())).is_err());
        assert!(Sorted::begun(&scratch.path().join("missing")).is_err());
    }
}
