//! The stock list and the egg ledger as tables. Their lines are taken as the report gives them: a cell
//! of males, females and unknown becomes three columns of numbers.

use super::cell::{Cell, IntoCell as _};
use crate::failure::{Broken, Failure};
use crate::report::annual::AnnualReport;
use crate::report::annual::shape::Completeness;
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

/// Writes lists of the same columns below each other as CSV, each by the name that completeness knows it by
/// and with its total last; the last columns say whether the line adds up, and how many of the notes behind
/// the year were recorded while their author's key was suspected (F11).
///
/// # Errors
/// It cannot be written, or the lines are no objects.
pub fn write_csv<T: Serialize>(out: impl Write, lists: &[(&str, Vec<T>)], report: &AnnualReport) -> Result<(), Failure> {
    let broken = |error: &dyn std::fmt::Display| Failure::from(Broken::new(format!("the list cannot be written: {error}")));
    let suspected = i64::try_from(report.suspected.len()).unwrap_or(i64::MAX);
    let mut rows: Vec<Vec<(String, Cell)>> = Vec::new();
    for (table, line) in lists.iter().flat_map(|(table, lines)| lines.iter().map(move |line| (table, line))) {
        let line = serde_json::to_value(line).map_err(|error| broken(&error))?;
        let Some(line) = line.as_object() else { continue };
        let mut cells = vec![("list".to_owned(), table.cell())];
        cells.extend(flat(line, !fails(&report.completeness, table, line)));
        cells.push(("notes_suspected".to_owned(), Cell::Count(suspected)));
        rows.push(cells);
    }
    let mut columns: Vec<&str> = Vec::new();
    for (name, _) in rows.iter().flatten() {
        if !columns.contains(&name.as_str()) {
            columns.push(name);
        }
    }
    let mut csv = csv::WriterBuilder::new().terminator(csv::Terminator::Any(b'\n')).from_writer(out);
    csv.write_record(&columns).map_err(|error| broken(&error))?;
    for row in &rows {
        // A line that leaves a cell out has nought there.
        let cell = |name: &&str| row.iter().find(|(own, _)| own == name).map_or_else(|| "0".to_owned(), |(_, cell)| cell.csv());
        csv.write_record(columns.iter().map(cell)).map_err(|error| broken(&error))?;
    }
    csv.flush().map_err(|error| broken(&error))
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
