//! Reading reference files, and comparing with them.

use selachron_statistics::{Fate, Grouped, Level, Row};
use serde_json::Value;
use std::collections::BTreeSet;

/// The level of every reference.
pub const P95: Level = Level::P95;

/// The text of a file under `tests/reference/`.
macro_rules! reference {
    ($name:literal) => {
        include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/", $name))
    };
}
pub(crate) use reference;

#[track_caller]
pub fn assert_near(found: f64, expected: f64, tolerance: f64) {
    let distance = (found - expected).abs();
    assert!(distance <= tolerance, "found {found}, expected {expected}, apart by {distance}");
}

/// The same where both may be absent.
#[track_caller]
pub fn assert_same(what: &str, found: Option<f64>, expected: &Value, tolerance: f64) {
    match (found, expected.as_f64()) {
        (Some(found), Some(expected)) => {
            assert!((found - expected).abs() <= tolerance, "{what}: {found}, expected {expected}");
        }
        (found, expected) => assert_eq!(found, expected, "{what}"),
    }
}

pub fn json(text: &str) -> Value {
    serde_json::from_str(text).expect("reference files are JSON")
}

#[track_caller]
pub fn numbers(list: &Value) -> Vec<f64> {
    let list = list.as_array().expect("an array");
    list.iter().map(|v| v.as_f64().expect("a number")).collect()
}

/// The rows of a comparison, and the label of each group.
pub struct Members<C> {
    pub rows: Vec<Grouped<C>>,
    pub labels: Vec<String>,
    pub strata: usize,
}

/// The text of a file that is not committed, from the folder that `SELACHRON_REFERENCE_ROWS` names.
pub fn exported(name: &str) -> Table {
    let folder = std::env::var("SELACHRON_REFERENCE_ROWS").expect("SELACHRON_REFERENCE_ROWS names the folder with the exported rows");
    let path = std::path::Path::new(&folder).join(name);
    Table::read(&std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{path:?}: {e}")))
}

/// A table with a header, as the reference inputs have it.
pub struct Table {
    header: Vec<String>,
    lines: Vec<Vec<String>>,
}

impl Table {
    pub fn read(csv: &str) -> Table {
        let cells = |line: &str| line.split(',').map(str::to_owned).collect::<Vec<String>>();
        let mut lines = csv.lines().filter(|line| !line.is_empty()).map(cells);
        let header = lines.next().expect("a header");
        Table { header, lines: lines.collect() }
    }

    /// The rows of one group, or all of them.
    pub fn rows(&self, group: Option<&str>) -> Vec<Row> {
        let wanted = |line: &&Vec<String>| group.is_none() || self.cell(line, "group") == group;
        self.lines.iter().filter(wanted).map(|line| self.row(line)).collect()
    }

    /// The rows with their groups by this column, and their strata by another: both numbered in
    /// order of label. Rows whose stratum is not known are left out.
    pub fn grouped(&self, group: &str, stratum: Option<&str>) -> Members<Row> {
        self.members(group, stratum, |line| self.row(line))
    }

    /// The same for rows with a fate in the column `status`.
    pub fn grouped_fates(&self, group: &str, stratum: Option<&str>) -> Members<Fate> {
        self.members(group, stratum, |line| self.fate(line))
    }

    /// The fates of one group, or all of them.
    pub fn fates(&self, group: Option<&str>) -> Vec<Fate> {
        let wanted = |line: &&Vec<String>| group.is_none() || self.cell(line, "group") == group;
        self.lines.iter().filter(wanted).map(|line| self.fate(line)).collect()
    }

    fn members<C>(&self, group: &str, stratum: Option<&str>, case: impl Fn(&[String]) -> C) -> Members<C> {
        let known = |line: &&Vec<String>| stratum.is_none_or(|column| !matches!(self.cell(line, column), Some("" | "NA")));
        let lines: Vec<&Vec<String>> = self.lines.iter().filter(known).collect();
        let label = |line: &[String], column| self.cell(line, column).expect("the column").to_owned();
        let labels = |column| lines.iter().map(|line| label(line, column)).collect::<BTreeSet<String>>();
        let (groups, strata) = (labels(group), stratum.map(labels).unwrap_or_default());
        let place = |labels: &BTreeSet<String>, wanted: &str| labels.iter().position(|found| found == wanted).expect("a label");
        let member = |line: &&Vec<String>| Grouped {
            case: case(line),
            group: place(&groups, &label(line, group)),
            stratum: stratum.map_or(0, |column| place(&strata, &label(line, column))),
        };
        Members { rows: lines.iter().map(member).collect(), strata: strata.len().max(1), labels: groups.into_iter().collect() }
    }

    fn fate(&self, line: &[String]) -> Fate {
        let row = self.row(line);
        let cause = self.cell(line, "status").and_then(|c| c.parse().ok()).expect("a status");
        Fate { cause, ..row.into() }
    }

    fn cell<'a>(&self, line: &'a [String], column: &str) -> Option<&'a str> {
        let index = self.header.iter().position(|name| name == column)?;
        line.get(index).map(String::as_str)
    }

    fn row(&self, line: &[String]) -> Row {
        let number = |column| self.cell(line, column).map(|c| c.parse::<f64>().expect("a number"));
        Row { entry_days: number("entry"), exit_days: number("time").expect("a time"), event: number("event") == Some(1.0), weight: 1 }
    }
}
