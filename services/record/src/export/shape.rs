//! What a table is: its columns, in words and in the types that other people's readers know.

use super::cell::Cell;
use serde_json::{Map, Value};

/// A row, in the order of the columns.
pub type Row = Vec<Cell>;

/// What stands in a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Of {
    /// Words, free or of a vocabulary.
    Text,
    /// Several ids or words without spaces, with a space between two.
    Several,
    /// An instant in UTC, to the millisecond.
    Time,
    /// A date of the collection's calendar.
    Day,
    /// A measure; its unit is in the column's name.
    Number,
    /// A count.
    Count,
    /// `true` or `false`.
    Flag,
}

/// A column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    /// Its name, with the unit.
    pub name: &'static str,
    /// What stands in it.
    pub of: Of,
    /// What it means.
    pub about: &'static str,
}

/// A column of that name.
#[must_use]
pub const fn column(name: &'static str, of: Of, about: &'static str) -> Column {
    Column { name, of, about }
}

/// The last column of every table of the record: a file that somebody saved says of each row whether it
/// is in doubt (F11).
pub const SUSPECTED: Column =
    column("suspected", Of::Flag, "Whether a note behind this row was recorded while its author's key was suspected.");

/// A table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shape {
    /// Its name; the file has the same.
    pub name: &'static str,
    /// What a row is.
    pub about: &'static str,
    /// Its columns.
    pub columns: &'static [Column],
    /// Columns that tell rows apart; always there. None where no such columns can be promised.
    pub key: &'static [&'static str],
    /// Columns that name a row of another table: column, table, column there. Only where that row is
    /// always there.
    pub refers: &'static [(&'static str, &'static str, &'static str)],
}

impl Shape {
    /// The name of its file.
    #[must_use]
    pub fn file(&self) -> String {
        format!("{}.csv", self.name)
    }

    /// Where a column stands.
    #[must_use]
    pub fn place(&self, name: &str) -> Option<usize> {
        self.columns.iter().position(|column| column.name == name)
    }

    /// A row as a JSON object; what is absent is `null`.
    #[must_use]
    pub fn json(&self, row: &Row) -> Value {
        let members = self.columns.iter().zip(row).map(|(column, cell)| (column.name.to_owned(), cell.json()));
        Value::Object(members.collect::<Map<_, _>>())
    }
}
