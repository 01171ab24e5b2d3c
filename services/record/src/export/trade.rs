//! Lines of a trade report as a table.

use super::cell::{Cell, row, several};
use super::folder::Csv;
use super::shape::{Of, Shape, column};
use crate::domain::trade::TradeLine;
use crate::failure::Failure;
use std::io::Write;

const TRADE: Shape = Shape {
    name: "trade",
    about: "Uses of permits by species and code. Codes are as they were signed; nothing here decides which is right.",
    columns: &[
        column("what", Of::Text, "The permit's word: import, export or another."),
        column("species", Of::Text, "The species; empty where no note that stands says it."),
        column("scientific_name", Of::Text, "Its name as the collection lists it."),
        column("term", Of::Text, "What is traded."),
        column("purpose", Of::Text, "What for."),
        column("source", Of::Text, "Where it is from."),
        column("unit", Of::Text, "In what it is counted."),
        column("country", Of::Text, "The other country."),
        column("quantity", Of::Count, "How many."),
        column("not_in_the_list", Of::Text, "Codes that the dated list does not have on the day, with semicolons between."),
        column("events", Of::Several, "The uses behind it."),
    ],
    key: &["what", "species", "term", "purpose", "source", "unit", "country"],
    refers: &[],
};

/// Writes the lines as CSV.
///
/// # Errors
/// They cannot be written.
pub fn write_csv(out: impl Write, lines: &[TradeLine]) -> Result<u64, Failure> {
    let mut csv = Csv::new(out, &TRADE)?;
    for line in lines {
        let codes = &line.codes;
        let quantity = Cell::Count(i64::try_from(line.quantity).unwrap_or(i64::MAX));
        csv.row(&row![
            line.what.as_str(),
            line.species.as_ref(),
            line.scientific_name.as_ref(),
            codes.term.as_ref(),
            codes.purpose.as_ref(),
            codes.source.as_ref(),
            codes.unit.as_ref(),
            codes.country.as_ref(),
            quantity,
            line.not_in_the_list.join("; "),
            several(&line.events)
        ])?;
    }
    csv.finish()
}
