//! A cell of a table, and how it stands in a CSV file.
//!
//! A spreadsheet takes a cell that begins with `=`, `+`, `-`, `@`, a tab or a carriage return for a
//! formula, and labels are whatever somebody once typed. So free text that begins so is written with an
//! apostrophe before it; and so is text that begins with an apostrophe itself, so that the way back is
//! plain: take one leading apostrophe away. Numbers are numbers, and stay as they are.

use serde::{Deserialize, Serialize};
use serde_json::Value;

/// What stands at the beginning of a cell that a spreadsheet would reckon with, and the guard itself.
const GUARDED: [char; 7] = ['=', '+', '-', '@', '\t', '\r', GUARD];

/// What is put before it.
const GUARD: char = '\'';

/// The same in words, for descriptors.
pub const GUARD_SAYS: &str = "Text that begins with = + - @, a tab, a carriage return or an apostrophe is written with one apostrophe \
    before it, so that no spreadsheet takes it for a formula; take one leading apostrophe away to have it as it was noted.";

/// One cell.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum Cell {
    /// Nothing is known, or there is nothing.
    Absent,
    /// Words.
    Text(String),
    /// A measure.
    Number(f64),
    /// A count.
    Count(i64),
    /// Yes or no.
    Flag(bool),
    /// Several ids, weights or words without spaces.
    Several(Vec<String>),
}

impl Cell {
    /// As it stands in a CSV file, before quoting.
    #[must_use]
    pub fn csv(&self) -> String {
        match self {
            Self::Absent => String::new(),
            Self::Text(text) => guarded(text),
            Self::Number(number) => number.to_string(),
            Self::Count(count) => count.to_string(),
            Self::Flag(flag) => flag.to_string(),
            Self::Several(all) => guarded(&all.join(" ")),
        }
    }

    /// As it stands in JSON: as it was noted.
    #[must_use]
    pub fn json(&self) -> Value {
        match self {
            Self::Absent => Value::Null,
            Self::Text(text) => text.as_str().into(),
            Self::Number(number) => (*number).into(),
            Self::Count(count) => (*count).into(),
            Self::Flag(flag) => (*flag).into(),
            Self::Several(all) => all.clone().into(),
        }
    }

    /// Whether nothing stands in it.
    #[must_use]
    pub fn is_absent(&self) -> bool {
        match self {
            Self::Absent => true,
            Self::Several(all) => all.is_empty(),
            _ => false,
        }
    }
}

/// Text as a spreadsheet may have it.
#[must_use]
pub fn guarded(text: &str) -> String {
    if text.starts_with(GUARDED) { format!("{GUARD}{text}") } else { text.to_owned() }
}

/// Text as it was before [`guarded`].
#[must_use]
pub fn unguarded(text: &str) -> &str {
    text.strip_prefix(GUARD).unwrap_or(text)
}

/// What can stand in a cell, or not be there.
pub trait IntoCell {
    /// The cell.
    fn cell(self) -> Cell;
}

impl IntoCell for Cell {
    fn cell(self) -> Cell {
        self
    }
}

impl IntoCell for &str {
    fn cell(self) -> Cell {
        if self.is_empty() { Cell::Absent } else { Cell::Text(self.to_owned()) }
    }
}

impl IntoCell for String {
    fn cell(self) -> Cell {
        self.as_str().cell()
    }
}

impl IntoCell for &String {
    fn cell(self) -> Cell {
        self.as_str().cell()
    }
}

impl IntoCell for f64 {
    fn cell(self) -> Cell {
        if self.is_finite() { Cell::Number(self) } else { Cell::Absent }
    }
}

impl IntoCell for bool {
    fn cell(self) -> Cell {
        Cell::Flag(self)
    }
}

macro_rules! counts {
    ($($of:ty),*) => { $(impl IntoCell for $of {
        fn cell(self) -> Cell {
            i64::try_from(self).map_or(Cell::Absent, Cell::Count)
        }
    })* };
}
counts!(u8, u32, u64, i64, usize);

macro_rules! shown {
    ($($of:ty),*) => { $(impl IntoCell for $of {
        fn cell(self) -> Cell {
            self.to_string().cell()
        }
    })* };
}
shown!(&selachron_schemas::names::Subject, &crate::domain::state::Thing, crate::domain::state::EventId, chrono::NaiveDate);

impl IntoCell for selachron_schemas::time::Instant {
    fn cell(self) -> Cell {
        Cell::Text(self.utc_text())
    }
}

impl<T: IntoCell> IntoCell for Option<T> {
    fn cell(self) -> Cell {
        self.map_or(Cell::Absent, IntoCell::cell)
    }
}

/// Several things in one cell.
pub fn several<T: ToString>(all: impl IntoIterator<Item = T>) -> Cell {
    Cell::Several(all.into_iter().map(|one| one.to_string()).collect())
}

/// A row of cells.
macro_rules! row {
    ($($cell:expr),* $(,)?) => { vec![$($crate::export::cell::IntoCell::cell($cell)),*] };
}
pub(crate) use row;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formulas_are_guarded_and_come_back() {
        for text in ["=1+1", "+4", "-4", "@x", "\tx", "\rx", "'x", "''", "'=x", "E-1", "", "a=b", " =x"] {
            let safe = guarded(text);
            assert!(!safe.starts_with(['=', '+', '-', '@', '\t', '\r']), "{safe:?}");
            assert_eq!(unguarded(&safe), text);
        }
        assert_eq!(Cell::Number(-1.5).csv(), "-1.5", "a number is no text");
        assert_eq!(Cell::Text("=x".to_owned()).json(), "=x", "JSON has it as it was noted");
        assert_eq!("".cell(), Cell::Absent);
        assert_eq!(f64::NAN.cell(), Cell::Absent);
    }
}
