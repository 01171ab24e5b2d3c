//! Lines of a trade report as a table.

use super::cell::{row, several};
use super::folder::Csv;
use super::shape::{Of, Shape, column};
use crate::domain::trade::TradeLine;
use crate::failure::Failure;
use std::io::Write;

/// Its columns; the last says whether a use behind a line is in doubt.
pub const TRADE: Shape = Shape {
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
        column("quantity", Of::Count, "How many; empty where one of its uses has no number that holds."),
        column("counted_by_record", Of::Several, "Uses that sign no number: theirs is that of the group as the record counts it then."),
        column("not_counted", Of::Several, "Uses without a number that holds: none is said, or two contradict each other."),
        column("not_in_the_list", Of::Text, "Codes that the dated list does not have on the day, with semicolons between."),
        column("events", Of::Several, "The uses behind it."),
    ],
    // What tells lines apart may be absent of each of them, so no key can be promised.
    key: &[],
    refers: &[],
};

/// Writes the lines as CSV.
///
/// # Errors
/// They cannot be written.
pub fn write_csv(out: impl Write, lines: &[TradeLine]) -> Result<u64, Failure> {
    let mut csv = Csv::marked(out, &TRADE)?;
    for line in lines {
        let codes = &line.codes;
        csv.row(&row![
            line.what.as_str(),
            line.species.as_ref(),
            line.scientific_name.as_ref(),
            codes.term.as_ref(),
            codes.purpose.as_ref(),
            codes.source.as_ref(),
            codes.unit.as_ref(),
            codes.country.as_ref(),
            line.quantity,
            several(&line.counted_by_record),
            several(&line.not_counted),
            line.not_in_the_list.join("; "),
            several(&line.events),
            !line.suspected.is_empty()
        ])?;
    }
    csv.finish()
}
