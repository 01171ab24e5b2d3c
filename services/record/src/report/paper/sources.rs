//! Where the notes behind a cell are told: addresses at the service that made the report, at the same two
//! clocks.

use crate::report::annual::AnnualReport;
use chrono::{Datelike as _, NaiveDate};
use std::fmt::Write as _;

/// The two clocks, as a query says them.
fn clocks(report: &AnnualReport) -> String {
    format!("as_of={}&known_at={}", escaped(&report.as_of.utc_text()), report.known_at)
}

/// The address that explains a cell of the report.
#[must_use]
pub fn of_cell(report: &AnnualReport, cell: &str) -> String {
    of_cell_from(report, report.period.first_day, cell)
}

/// The same of twelve months that begin on that day, at the clocks of the report.
#[must_use]
pub fn of_cell_from(report: &AnnualReport, first: NaiveDate, cell: &str) -> String {
    let begins =
        if (first.month(), first.day()) == (1, 1) { String::new() } else { format!("begins={:02}-{:02}&", first.month(), first.day()) };
    format!("/v1/reports/annual/{}/cells?cell={}&{begins}{}", first.year(), escaped(cell), clocks(report))
}

/// The address of a figure, explained; of a cell where it is none.
#[must_use]
pub fn of_figure(report: &AnnualReport, address: &str) -> String {
    if address.starts_with('/') {
        format!("{address}{}{}&explain=true", if address.contains('?') { '&' } else { '?' }, clocks(report))
    } else {
        of_cell(report, address)
    }
}

/// The address at which all notes of a row are told; rows are counted from 1.
#[must_use]
pub fn of_row(report: &AnnualReport, table: &str, row: usize) -> String {
    of_cell(report, &format!("tables/{table}/{row}"))
}

/// As a query may carry it (RFC 3986, section 2.1).
fn escaped(text: &str) -> String {
    let mut escaped = String::new();
    for byte in text.bytes() {
        match byte {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' | b'/' | b':' => escaped.push(byte as char),
            _ => _ = write!(escaped, "%{byte:02X}"),
        }
    }
    escaped
}

#[cfg(test)]
mod tests {
    use super::escaped;

    #[test]
    fn what_a_query_may_not_carry_is_escaped() {
        assert_eq!(escaped("stock/A b&c=é/end"), "stock/A%20b%26c%3D%C3%A9/end");
    }
}
