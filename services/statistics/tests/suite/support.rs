//! Reading reference files, and comparing with them.

use selachron_statistics::{Level, Row};
use serde_json::Value;

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

    fn cell<'a>(&self, line: &'a [String], column: &str) -> Option<&'a str> {
        let index = self.header.iter().position(|name| name == column)?;
        line.get(index).map(String::as_str)
    }

    fn row(&self, line: &[String]) -> Row {
        let number = |column| self.cell(line, column).map(|c| c.parse::<f64>().expect("a number"));
        Row { entry_days: number("entry"), exit_days: number("time").expect("a time"), event: number("event") == Some(1.0), weight: 1 }
    }
}
