//! Tables of the report's parts. A row is about single things, or counts what a figure counts; either
//! names the notes behind it, or the address at which a figure names them.

use crate::domain::state::EventId;
use selachron_schemas::names::Subject;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::collections::BTreeSet;

/// Tables for one reader.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Part {
    /// In reading order; also those without a row, so that nobody takes silence for a nought.
    pub tables: Vec<PartTable>,
}

/// One table.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PartTable {
    /// Lower-case name, used once in a report.
    pub id: String,
    /// What it is about, in a few words.
    pub title: String,
    /// What is counted, and how.
    pub explains: String,
    /// Its columns.
    pub columns: Vec<PartColumn>,
    /// Its rows.
    pub rows: Vec<PartRow>,
    /// Sentences that belong beneath it.
    pub footnotes: Vec<String>,
}

/// A column.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PartColumn {
    /// Lower-case name with the unit in it.
    pub name: String,
    /// Its heading on paper.
    pub heading: String,
    /// Whether it holds numbers.
    pub number: bool,
}

/// A row.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PartRow {
    /// As many as there are columns: text, a number, or `null` where nothing is known.
    pub cells: Vec<Value>,
    /// What it is about.
    pub subjects: Vec<String>,
    /// The notes behind it.
    pub events: Vec<String>,
    /// Of a row that counts: the address of the figure that names the notes with `explain=true`, or the cell
    /// that does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub figure: Option<String>,
}

/// A column of words.
#[must_use]
pub fn words(name: &str, heading: &str) -> PartColumn {
    PartColumn { name: name.to_owned(), heading: heading.to_owned(), number: false }
}

/// A column of numbers.
#[must_use]
pub fn number(name: &str, heading: &str) -> PartColumn {
    PartColumn { name: name.to_owned(), heading: heading.to_owned(), number: true }
}

/// A row that is being made.
#[derive(Debug, Clone, Default)]
pub struct Behind {
    subjects: Vec<String>,
    events: BTreeSet<EventId>,
    figure: Option<String>,
}

impl Behind {
    /// A row about that.
    #[must_use]
    pub fn of(subject: &Subject) -> Self {
        Self { subjects: vec![subject.to_string()], ..Self::default() }
    }

    /// A row about several.
    #[must_use]
    pub fn about<'s>(subjects: impl IntoIterator<Item = &'s Subject>) -> Self {
        Self { subjects: subjects.into_iter().map(ToString::to_string).collect(), ..Self::default() }
    }

    /// A row that counts what the figure at this address, or this cell, counts.
    #[must_use]
    pub fn figure(address: String) -> Self {
        Self { figure: Some(address), ..Self::default() }
    }

    /// The same resting on these notes as well.
    #[must_use]
    pub fn on(mut self, events: impl IntoIterator<Item = EventId>) -> Self {
        self.events.extend(events);
        self
    }
}

impl PartTable {
    /// A table without rows.
    #[must_use]
    pub fn new(id: &str, title: &str, explains: &str, columns: Vec<PartColumn>) -> Self {
        Self { id: id.to_owned(), title: title.to_owned(), explains: explains.to_owned(), columns, ..Self::default() }
    }

    /// Adds a row.
    pub fn row<const CELLS: usize>(&mut self, cells: [Value; CELLS], behind: Behind) {
        debug_assert_eq!(CELLS, self.columns.len(), "{} has other columns", self.id);
        let events = behind.events.iter().map(ToString::to_string).collect();
        self.rows.push(PartRow { cells: cells.into(), subjects: behind.subjects, events, figure: behind.figure });
    }

    /// Adds a sentence beneath it.
    pub fn footnote(&mut self, text: impl Into<String>) {
        self.footnotes.push(text.into());
    }
}
