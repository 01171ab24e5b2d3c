//! Codes of a trade report, as a dated list: since when each is known to hold, and by which document.
//!
//! `trade_codes.csv` is from memory where it says so: confirm before quoting. A code that the list does
//! not have on a day is no fault of a note; whoever reports is told. The list decides nothing.

const TABLE: &str = include_str!("../trade_codes.csv");

/// One code of one list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Code {
    /// `source`, `purpose`, `term`, `unit`.
    pub list: &'static str,
    /// The code.
    pub code: &'static str,
    /// What it means.
    pub meaning: &'static str,
    /// The first day of which the list knows, `YYYY-MM-DD`.
    pub valid_from: &'static str,
    /// The last day, where there is one.
    pub valid_until: Option<&'static str>,
    /// The document that says so.
    pub source_document: &'static str,
    /// Whether that was read or is from memory.
    pub basis: &'static str,
}

impl Code {
    /// The code that a row of the file gives; none for a row of another number of cells.
    fn of(line: &'static str) -> Option<Self> {
        let cells: Vec<&'static str> = line.split(',').collect();
        let [list, code, meaning, valid_from, valid_until, source_document, basis] = cells.try_into().ok()?;
        let valid_until = Some(valid_until).filter(|day| !day.is_empty());
        Some(Self { list, code, meaning, valid_from, valid_until, source_document, basis })
    }
}

/// All codes, in the order of the file.
pub fn codes() -> impl Iterator<Item = Code> {
    TABLE.lines().skip(1).filter_map(Code::of)
}

/// A code as it held on a day, `YYYY-MM-DD`: days so written sort as they follow each other.
#[must_use]
pub fn code_on(list: &str, code: &str, day: &str) -> Option<Code> {
    let held = |known: &Code| known.valid_from <= day && known.valid_until.is_none_or(|until| day <= until);
    codes().find(|known| known.list == list && known.code == code && held(known))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_holds_from_its_day_on_and_has_its_document() {
        assert_eq!(codes().count(), TABLE.lines().count() - 1, "every row has as many cells as the header");
        assert_eq!(code_on("source", "C", "2026-03-01").map(|code| code.source_document), Some("Res. Conf. 12.3"));
        assert_eq!(code_on("source", "C", "1990-01-01"), None, "the list does not know how it was then");
        assert_eq!(code_on("term", "C", "2026-03-01"), None, "codes of two lists are two codes");
        // DOMAIN section 7 names these ten.
        let sources: Vec<&str> = codes().filter(|code| code.list == "source").map(|code| code.code).collect();
        assert_eq!(sources, ["W", "X", "R", "D", "C", "F", "A", "U", "I", "O"]);
        let day = |text: &str| text.parse::<chrono::NaiveDate>().is_ok();
        assert!(codes().all(|code| day(code.valid_from) && code.valid_until.is_none_or(day)));
    }
}
