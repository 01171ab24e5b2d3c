//! Tables written out, a page of the record at a time, with their descriptors.

use super::Asking;
use super::cell::Cell;
use super::describe::{CSVW_FILE, PACKAGE_FILE, Provenance, csvw, data_package};
use super::place::Place;
use super::shape::{Of, Row, SUSPECTED, Shape};
use super::sorted::{Ranked, Sorted};
use crate::domain::discrepancy::Discrepancy;
use crate::domain::state::EventId;
use crate::domain::view::{Fact, View};
use crate::failure::{Broken, Failure, io};
use selachron_schemas::names::Subject;
use serde_json::Value;
use std::io::Write;

/// Where the rows of a table come from.
#[derive(Clone, Copy)]
pub enum Rows {
    /// Rows for each thing of some nouns, in the order of their ids.
    OfThings(&'static [&'static str], fn(&View<'_>, &Subject) -> Vec<Row>),
    /// Rows for each note that stands, in the order of the log.
    OfNotes(fn(&View<'_>, &Fact<'_>) -> Vec<Row>),
    /// A row for each discrepancy, the weightiest first, then by id.
    OfDiscrepancies(fn(Discrepancy) -> Row),
    /// All at once: for what is never much.
    Whole(fn(&View<'_>) -> Vec<Row>),
}

/// A table with its rows.
#[derive(Clone, Copy)]
pub struct Table {
    /// Its columns.
    pub shape: &'static Shape,
    /// Its rows.
    pub rows: Rows,
}

impl Table {
    /// Gives every row to `take`, a page at a time: the record is asked anew for each page, at the same
    /// two clocks, so that nobody who writes waits for more than a page.
    ///
    /// # Errors
    /// What `take` returns; what was known is known no more.
    pub fn each(&self, asking: &Asking<'_>, mut take: impl FnMut(&Row) -> Result<(), Failure>) -> Result<(), Failure> {
        match self.rows {
            Rows::OfThings(nouns, rows) => {
                let things: Vec<Subject> = asking.view(|view| nouns.iter().flat_map(|noun| view.subjects(noun)).cloned().collect())?;
                let of = |view: &View<'_>, thing: &Subject| self.marked(view, rows(view, thing), |view| view.suspected_behind(thing) > 0);
                asking.rows_of_each(&things, of, take)?;
            }
            Rows::OfNotes(rows) => {
                let of = |view: &View<'_>, fact: Fact<'_>| self.marked(view, rows(view, &fact), |view| view.suspected(fact.note));
                asking.rows_of_each_note(|view, seq| view.fact(seq).map(|fact| of(view, fact)).unwrap_or_default(), take)?;
            }
            Rows::OfDiscrepancies(row) => {
                let mut sorted = Sorted::begun(asking.scratch)?;
                let things: Vec<Subject> = asking.view(|view| view.all_subjects().into_iter().collect())?;
                let about = |view: &View<'_>, thing: &Subject| self.ranked(view, view.odd_about(thing).to_vec(), row);
                asking.rows_of_each(&things, about, |one| sorted.add(one))?;
                asking.rows_of_each_note(|view, seq| self.ranked(view, view.paperwork(seq), row), |one| sorted.add(one))?;
                sorted.each(take)?;
            }
            Rows::Whole(rows) => asking.view(|view| self.marked(view, rows(view), |_| false))?.iter().try_for_each(&mut take)?,
        }
        Ok(())
    }

    fn ranked(&self, view: &View<'_>, found: Vec<Discrepancy>, row: fn(Discrepancy) -> Row) -> Vec<Ranked> {
        let keys: Vec<(i64, String)> = found.iter().map(|one| (-(one.weight as i64), one.id.clone())).collect();
        let rows = self.marked(view, found.into_iter().map(row).collect(), |_| false);
        keys.into_iter().zip(rows).map(|((rank, key), row)| Ranked { rank, key, row }).collect()
    }

    /// Rows with the mark of [`SUSPECTED`]: by the notes that a row names itself, else by its thing.
    fn marked(&self, view: &View<'_>, rows: Vec<Row>, thing: impl Fn(&View<'_>) -> bool) -> Vec<Row> {
        let names =
            ["note", "notes"].into_iter().find_map(|name| self.shape.place(name)).filter(|at| self.shape.columns[*at].of != Of::Count);
        let since = self.shape.place("suspected_since");
        let doubted = |row: &Row| match (names.and_then(|at| row.get(at)), since.and_then(|at| row.get(at))) {
            (Some(cell), _) => cell_names_suspected(view, cell),
            (None, Some(since)) => !since.is_absent(),
            (None, None) => thing(view),
        };
        let mark = |mut row: Row| {
            let cell = Cell::Flag(doubted(&row));
            row.push(cell);
            row
        };
        rows.into_iter().map(mark).collect()
    }

    /// All rows.
    ///
    /// # Errors
    /// What was known is known no more.
    pub fn all(&self, asking: &Asking<'_>) -> Result<Vec<Row>, Failure> {
        let mut all = Vec::new();
        self.each(asking, |row| {
            all.push(row.clone());
            Ok(())
        })?;
        Ok(all)
    }
}

/// Whether one of the notes that a cell names was recorded while its author's key was suspected.
fn cell_names_suspected(view: &View<'_>, cell: &Cell) -> bool {
    let suspected =
        |id: &str| EventId::parse(id).and_then(|id| view.nursery().seq_of(id)).is_some_and(|seq| view.suspected(view.nursery().note(seq)));
    match cell {
        Cell::Text(id) => suspected(id),
        Cell::Several(ids) => ids.iter().any(|id| suspected(id)),
        _ => false,
    }
}

/// Writes a table as CSV (RFC 4180, with line feeds): a header, then its rows.
///
/// # Errors
/// It cannot be written.
pub fn write_csv(out: impl Write, table: &Table, asking: &Asking<'_>) -> Result<u64, Failure> {
    let mut csv = Csv::marked(out, table.shape)?;
    table.each(asking, |row| csv.row(row))?;
    csv.finish()
}

/// A CSV file that is being written.
pub struct Csv<W: Write> {
    out: csv::Writer<W>,
    columns: usize,
    rows: u64,
}

impl<W: Write> Csv<W> {
    /// With its header.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn new(out: W, shape: &Shape) -> Result<Self, Failure> {
        Self::with_columns(out, shape.columns.iter().map(|column| column.name).collect())
    }

    /// The same, whose rows say last whether they are in doubt.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn marked(out: W, shape: &Shape) -> Result<Self, Failure> {
        Self::with_columns(out, shape.columns.iter().chain([&SUSPECTED]).map(|column| column.name).collect())
    }

    fn with_columns(out: W, columns: Vec<&str>) -> Result<Self, Failure> {
        let mut out = csv::WriterBuilder::new().terminator(csv::Terminator::Any(b'\n')).from_writer(out);
        out.write_record(&columns).map_err(|error| failed(&error))?;
        Ok(Self { out, columns: columns.len(), rows: 0 })
    }

    /// One row.
    ///
    /// # Errors
    /// It cannot be written, or has not as many cells as the table has columns.
    pub fn row(&mut self, row: &Row) -> Result<(), Failure> {
        if row.len() != self.columns {
            return Err(Broken::new(format!("a row of {} cells in a table of {} columns", row.len(), self.columns)).into());
        }
        self.rows += 1;
        self.out.write_record(row.iter().map(super::cell::Cell::csv)).map_err(|error| failed(&error))
    }

    /// How many rows there were.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn finish(mut self) -> Result<u64, Failure> {
        self.out.flush().map_err(|error| io("writing a table", &error))?;
        Ok(self.rows)
    }
}

fn failed(error: &csv::Error) -> Failure {
    io("writing a table", &std::io::Error::other(error.to_string()))
}

/// Indented JSON that ends in a line feed.
#[must_use]
pub fn pretty(value: &Value) -> Vec<u8> {
    let mut bytes = serde_json::to_vec_pretty(value).unwrap_or_default();
    bytes.push(b'\n');
    bytes
}

/// Writes tables with both descriptors, these first.
///
/// # Errors
/// Something cannot be written.
pub fn write_package(
    place: &mut dyn Place,
    name: &str,
    title: &str,
    tables: &[Table],
    asking: &Asking<'_>,
    from: &Provenance,
) -> Result<(), Failure> {
    let shapes: Vec<&Shape> = tables.iter().map(|table| table.shape).collect();
    place.put(PACKAGE_FILE, &pretty(&data_package(name, title, &shapes, from)))?;
    place.put(CSVW_FILE, &pretty(&csvw(title, &shapes, from)))?;
    for table in tables {
        place.written(&table.shape.file(), &mut |out| write_csv(out, table, asking).map(drop))?;
    }
    Ok(())
}
