//! The stock list and the egg ledger as tables. Their lines are taken as the report gives them: a cell
//! of males, females and unknown becomes three columns of numbers.

use super::cell::{Cell, IntoCell as _};
use super::describe::{Provenance, csvw_of_columns};
use super::shape::Of;
use crate::failure::{Broken, Failure};
use crate::report::annual::AnnualReport;
use crate::report::annual::ledger::LedgerLine;
use crate::report::annual::shape::Completeness;
use crate::report::annual::stock::StockLine;
use serde::Serialize;
use serde_json::{Map, Value};
use std::io::Write;

/// The classes of a cell, as columns end in them.
const CLASSES: [&str; 3] = ["males", "females", "sex_unknown"];

/// Which lines of which list fail.
fn fails(completeness: &Completeness, table: &str, line: &Map<String, Value>) -> bool {
    let species = line.get("scientific_name").and_then(Value::as_str).unwrap_or_default();
    completeness.failing.iter().any(|failing| failing.table == table && failing.species == species)
}

/// A line of a list of a year.
pub trait Line: Serialize {
    /// One in which every cell is there: lines leave out what is nought in almost every year.
    fn with_every_cell() -> Self;
}

/// Lists of the same columns below each other, each by the name that completeness knows it by and with its
/// total last; the last columns say whether the line adds up, and how many of the notes behind the year were
/// recorded while their author's key was suspected (F11).
pub struct Table {
    rows: Vec<Vec<(String, Cell)>>,
    columns: Vec<(String, Of)>,
}

impl Table {
    /// Their lines, as the report has them.
    ///
    /// # Errors
    /// The lines are no objects.
    pub fn of<T: Line>(lists: &[(&str, Vec<T>)], report: &AnnualReport) -> Result<Self, Failure> {
        let suspected = i64::try_from(report.suspected.len()).unwrap_or(i64::MAX);
        let row = |(table, line): (&str, &T)| -> Result<Vec<(String, Cell)>, Failure> {
            let line = serde_json::to_value(line).map_err(|error| broken(&error))?;
            let line = line.as_object().ok_or_else(|| broken(&"a line is no object"))?;
            let mut cells = vec![("list".to_owned(), table.cell())];
            cells.extend(flat(line, !fails(&report.completeness, table, line)));
            cells.push((SUSPECTED_COUNT.to_owned(), Cell::Count(suspected)));
            Ok(cells)
        };
        let lines = lists.iter().flat_map(|(table, lines)| lines.iter().map(move |line| (*table, line)));
        let rows: Vec<Vec<(String, Cell)>> = lines.map(row).collect::<Result<_, _>>()?;
        // The same columns in every year, so that years can be put below each other.
        let whole = row(("", &T::with_every_cell()))?;
        let columns = whole.iter().map(|(name, _)| (name.clone(), type_of(&rows, name).unwrap_or(Of::Count))).collect();
        Ok(Self { rows, columns })
    }

    /// Writes them as CSV.
    ///
    /// # Errors
    /// They cannot be written.
    pub fn write_csv(&self, out: impl Write) -> Result<(), Failure> {
        let mut csv = csv::WriterBuilder::new().terminator(csv::Terminator::Any(b'\n')).from_writer(out);
        csv.write_record(self.columns.iter().map(|(name, _)| name)).map_err(|error| broken(&error))?;
        for row in &self.rows {
            // A line that leaves a count out has nought there.
            let left_out = |of: Of| if of == Of::Count { "0".to_owned() } else { String::new() };
            let cell =
                |(name, of): &(String, Of)| row.iter().find(|(own, _)| own == name).map_or_else(|| left_out(*of), |(_, cell)| cell.csv());
            csv.write_record(self.columns.iter().map(cell)).map_err(|error| broken(&error))?;
        }
        csv.flush().map_err(|error| broken(&error))
    }

    /// Their CSV on the Web metadata.
    #[must_use]
    pub fn described(&self, file: &str, title: &str, from: &Provenance) -> Value {
        let columns: Vec<(&str, Of, String)> = self.columns.iter().map(|(name, of)| (name.as_str(), *of, meaning(name))).collect();
        csvw_of_columns(title, file, "Lines as the annual report has them, each list with its total last.", &columns, from)
    }
}

impl Line for StockLine {
    fn with_every_cell() -> Self {
        Self::every_cell()
    }
}

impl Line for LedgerLine {
    fn with_every_cell() -> Self {
        Self::every_cell()
    }
}

/// What stands in a column, by what is in the first of its cells that says something; nothing where no line
/// has it, for only noughts are left out.
fn type_of(rows: &[Vec<(String, Cell)>], name: &str) -> Option<Of> {
    let mut cells = rows.iter().flatten().filter(|(own, _)| own == name).map(|(_, cell)| cell).peekable();
    cells.peek()?;
    Some(match cells.find(|cell| !cell.is_absent()) {
        Some(Cell::Count(_)) => Of::Count,
        Some(Cell::Number(_)) => Of::Number,
        Some(Cell::Flag(_)) => Of::Flag,
        _ => Of::Text,
    })
}

/// The last column.
const SUSPECTED_COUNT: &str = "notes_suspected";

/// A column in words; how many of which class are counted in a cell its name says.
fn meaning(name: &str) -> String {
    let plain = |name: &str| name.replace('_', " ");
    let class = CLASSES.iter().find_map(|class| Some((name.strip_suffix(class)?.strip_suffix('_')?, class)));
    match (name, class) {
        ("list", _) => "Which list.".to_owned(),
        ("adds_up", _) => "Whether the line adds up.".to_owned(),
        (SUSPECTED_COUNT, _) => "Notes behind the year that were recorded while their author's key was suspected.".to_owned(),
        (_, Some((of, class))) => format!("{}, {}, as the annual report counts it.", plain(of), plain(class)),
        _ => format!("{}, as the annual report has it.", plain(name)),
    }
}

fn broken(error: &dyn std::fmt::Display) -> Failure {
    Failure::from(Broken::new(format!("the list cannot be written: {error}")))
}

fn flat(line: &Map<String, Value>, adds_up: bool) -> Vec<(String, Cell)> {
    let mut cells = Vec::new();
    for (name, value) in line {
        match value {
            Value::Array(classes) if classes.len() == CLASSES.len() => {
                let named = CLASSES.iter().zip(classes).map(|(class, count)| (format!("{name}_{class}"), plain(count)));
                cells.extend(named);
            }
            other => cells.push((name.clone(), plain(other))),
        }
    }
    cells.push(("adds_up".to_owned(), Cell::Flag(adds_up)));
    cells
}

fn plain(value: &Value) -> Cell {
    match value {
        Value::String(text) => text.as_str().cell(),
        Value::Bool(flag) => Cell::Flag(*flag),
        Value::Number(number) => number.as_i64().map_or_else(|| number.as_f64().cell(), Cell::Count),
        Value::Null => Cell::Absent,
        other => other.to_string().cell(),
    }
}
