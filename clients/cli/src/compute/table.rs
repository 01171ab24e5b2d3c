//! A CSV table with a header, read row by row. What is wrong is said in one sentence that names row
//! and column; rows are counted from 1 below the header, and the line of the file stands beside.

use crate::fault::Fault;
use csv::{ByteRecord, ReaderBuilder};
use selachron_schemas::limits::{COMPUTE_CELL_CHARS_SHOWN, COMPUTE_DIFFERENT_ROWS_MAX, COMPUTE_NUMBER_MAX};
use selachron_statistics::InvalidInput;
use std::io::{BufReader, Read};
use std::path::Path;

/// Where a text comes from.
pub struct Source {
    /// Its name in sentences.
    pub name: String,
    /// The text.
    pub reader: Box<dyn Read>,
}

impl Source {
    /// A file; `-` or none is stdin.
    ///
    /// # Errors
    /// It cannot be opened.
    pub fn open(file: Option<&Path>) -> Result<Self, Fault> {
        match file {
            Some(path) if path != Path::new("-") => {
                let file = std::fs::File::open(path).map_err(|error| crate::files::fault("read", path, &error))?;
                Ok(Self { name: path.display().to_string(), reader: Box::new(BufReader::new(file)) })
            }
            _ => Ok(Self { name: "stdin".to_owned(), reader: Box::new(std::io::stdin().lock()) }),
        }
    }

    /// All of it as text.
    ///
    /// # Errors
    /// It cannot be read, or is not UTF-8.
    pub fn text(mut self) -> Result<String, Fault> {
        let mut text = String::new();
        let read = self.reader.read_to_string(&mut text);
        read.map_err(|error| Fault::Failed(format!("cannot read {}: {error}", self.name)))?;
        Ok(text)
    }
}

/// A column that the table has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column(usize);

/// A table whose header has been checked, at one of its rows.
pub struct Table {
    name: String,
    reader: csv::Reader<Box<dyn Read>>,
    header: Vec<String>,
    record: ByteRecord,
    row: u64,
    rows_max: u64,
}

/// A column that may stand in every table and says nothing.
const ID: &str = "id";

impl Table {
    /// Reads the header, which must name all `required` columns and besides them only `optional` ones.
    ///
    /// # Errors
    /// The file is empty; a column is missing, unknown or named twice; there is no row.
    pub fn open(source: Source, required: &[&str], optional: &[&str]) -> Result<Self, Fault> {
        let mut reader = ReaderBuilder::new().flexible(true).has_headers(false).from_reader(source.reader);
        let mut record = ByteRecord::new();
        let read = reader.read_byte_record(&mut record);
        let header: Vec<String> = record.iter().map(|cell| String::from_utf8_lossy(cell).trim().to_owned()).collect();
        let table = Self { name: source.name, reader, header, record, row: 0, rows_max: u64::MAX };
        match read {
            Ok(true) => table.check_header(required, optional)?,
            Ok(false) => return Err(table.fault(&format!("it is empty; it begins with a header: {}", wanted(required, optional)))),
            Err(error) => return Err(table.unreadable(&error)),
        }
        Ok(table)
    }

    fn check_header(&self, required: &[&str], optional: &[&str]) -> Result<(), Fault> {
        if self.header.iter().any(|name| name.contains('\0')) {
            return Err(self.fault("it is no text in UTF-8 (UTF-16, as some programs save it?); save it as UTF-8"));
        }
        if let [only] = self.header.as_slice()
            && let Some(mark) = [';', '\t'].into_iter().find(|mark| only.contains(*mark))
        {
            return Err(self.fault(&format!("its columns are separated by {mark:?}; separate them by commas")));
        }
        for (at, name) in self.header.iter().enumerate() {
            if self.header[..at].contains(name) {
                return Err(self.fault(&format!("the header names the column {name:?} twice")));
            }
        }
        if let Some(missing) = required.iter().find(|name| self.column(name).is_none()) {
            return Err(self.fault(&format!("the column {missing} is missing from the header {:?}", self.header.join(","))));
        }
        let known = |name: &String| name == ID || required.iter().chain(optional).any(|known| known == name);
        if let Some(unknown) = self.header.iter().find(|name| !known(name)) {
            let names: Vec<&str> = required.iter().chain(optional).copied().collect();
            return Err(self.fault(&format!("the column {} is not known here; known are {}", shown(unknown), names.join(", "))));
        }
        Ok(())
    }

    /// The same table, of which no more rows than can be answered one by one are taken.
    #[must_use]
    pub fn answered_by_row(self) -> Self {
        Self { rows_max: COMPUTE_DIFFERENT_ROWS_MAX as u64, ..self }
    }

    /// A column by its name in the header.
    #[must_use]
    pub fn column(&self, name: &str) -> Option<Column> {
        self.header.iter().position(|known| known == name).map(Column)
    }

    /// A column that the header was checked for.
    ///
    /// # Errors
    /// It is not there.
    pub fn needed(&self, name: &str) -> Result<Column, Fault> {
        self.column(name).ok_or_else(|| self.fault(&format!("the column {name} is missing from the header")))
    }

    /// Goes to the next row; false after the last.
    ///
    /// # Errors
    /// It cannot be read; it has more or fewer cells than the header; there was no row at all.
    pub fn advance(&mut self) -> Result<bool, Fault> {
        let read = self.reader.read_byte_record(&mut self.record);
        if !read.map_err(|error| self.unreadable(&error))? {
            return if self.row == 0 { Err(self.fault("there is no row below the header")) } else { Ok(false) };
        }
        self.row += 1;
        if self.row > self.rows_max {
            return Err(self.fault(&format!("it has more than the {} rows that are answered one by one; split it", self.rows_max)));
        }
        let (found, wanted) = (self.record.len(), self.header.len());
        if found != wanted {
            return Err(self.fault(&format!("{} has {found} cells, the header has {wanted}", self.place())));
        }
        Ok(true)
    }

    /// The row, counted from 1 below the header.
    #[must_use]
    pub fn row(&self) -> u64 {
        self.row
    }

    fn cell(&self, column: Column) -> &[u8] {
        self.record.get(column.0).unwrap_or_default().trim_ascii()
    }

    /// A cell as text; bytes that are not UTF-8 are replaced.
    #[must_use]
    pub fn text(&self, column: Column) -> String {
        String::from_utf8_lossy(self.cell(column)).into_owned()
    }

    /// Whether there is nothing in it.
    #[must_use]
    pub fn is_empty(&self, column: Column) -> bool {
        self.cell(column).is_empty()
    }

    /// A text that must be there: a label, an id.
    ///
    /// # Errors
    /// The cell is empty.
    pub fn label(&self, column: Column) -> Result<String, Fault> {
        if self.is_empty(column) { Err(self.wrong(column, "is empty; give a label")) } else { Ok(self.text(column)) }
    }

    /// A finite number.
    ///
    /// # Errors
    /// The cell is empty, is no number, not a finite one, or one that is plainly a slip.
    pub fn number(&self, column: Column) -> Result<f64, Fault> {
        if self.is_empty(column) {
            return Err(self.wrong(column, "is empty; give a number"));
        }
        let number: Option<f64> = std::str::from_utf8(self.cell(column)).ok().and_then(|text| text.parse().ok());
        match number {
            Some(number) if number.abs() < COMPUTE_NUMBER_MAX => Ok(number + 0.0),
            Some(number) if number.is_finite() => Err(self.wrong(column, &format!("is {}; give a number below 10^15", self.said(column)))),
            Some(_) => Err(self.wrong(column, &format!("is {}; give a finite number", self.said(column)))),
            None => Err(self.wrong(column, &format!("is {}, which is not a number such as 12 or 12.5", self.said(column)))),
        }
    }

    /// The same where the cell may be empty.
    ///
    /// # Errors
    /// It holds something else than a finite number.
    pub fn number_or_empty(&self, column: Column) -> Result<Option<f64>, Fault> {
        if self.is_empty(column) { Ok(None) } else { self.number(column).map(Some) }
    }

    /// An age in days.
    ///
    /// # Errors
    /// It is not a finite number from 0 on.
    pub fn days(&self, column: Column) -> Result<f64, Fault> {
        let days = self.number(column)?;
        if days < 0.0 {
            return Err(self.wrong(column, &format!("is {}; give a number of days, 0 or more", self.said(column))));
        }
        Ok(days)
    }

    /// A whole number from 0 on.
    ///
    /// # Errors
    /// It is anything else.
    pub fn count(&self, column: Column) -> Result<u64, Fault> {
        let digits: Option<u64> = std::str::from_utf8(self.cell(column)).ok().and_then(|text| text.parse().ok());
        match digits {
            Some(count) => Ok(count),
            // Other programs write counts as 12.0.
            None => match self.number(column)? {
                number if number >= 0.0 && number.fract() == 0.0 && number < 2f64.powi(53) => Ok(number as u64),
                _ => Err(self.wrong(column, &format!("is {}; give a whole number, 0 or more", self.said(column)))),
            },
        }
    }

    /// A yes or no, written 1 or 0.
    ///
    /// # Errors
    /// It is anything else.
    pub fn flag(&self, column: Column) -> Result<bool, Fault> {
        match self.number(column)? {
            0.0 => Ok(false),
            1.0 => Ok(true),
            _ => Err(self.wrong(column, &format!("is {}; give 1 or 0", self.said(column)))),
        }
    }

    /// How many like cases the row stands for.
    ///
    /// # Errors
    /// It is 0 or no whole number.
    pub fn weight(&self, column: Column) -> Result<u64, Fault> {
        match self.count(column)? {
            0 => Err(self.wrong(column, "is 0; give the number of like cases, or leave the row out")),
            weight => Ok(weight),
        }
    }

    /// A sentence about one cell of this row.
    #[must_use]
    pub fn wrong(&self, column: Column, says: &str) -> Fault {
        let name = self.header.get(column.0).map_or("", String::as_str);
        self.fault(&format!("{}, column {name}: {says}", self.place()))
    }

    /// What an estimator says of a value of this row, under the name of its column.
    #[must_use]
    pub fn refused(&self, wrong: &InvalidInput) -> Fault {
        match wrong {
            InvalidInput::Quantity { field, found, give } => match self.column(field) {
                Some(column) => self.wrong(column, &format!("is {found}; give {give}")),
                None => self.wrong_row(&wrong.to_string()),
            },
            _ => self.wrong_row(&wrong.to_string()),
        }
    }

    /// A sentence about this row.
    #[must_use]
    pub fn wrong_row(&self, says: &str) -> Fault {
        self.fault(&format!("{}: {says}", self.place()))
    }

    /// A sentence about the table.
    #[must_use]
    pub fn fault(&self, says: &str) -> Fault {
        Fault::Failed(format!("{}: {says}", self.name))
    }

    /// The name of the file, for sentences after it has been read.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    fn said(&self, column: Column) -> String {
        shown(&self.text(column))
    }

    fn place(&self) -> String {
        let line = self.record.position().map_or(0, csv::Position::line);
        format!("row {} (line {line})", self.row)
    }

    fn unreadable(&self, error: &csv::Error) -> Fault {
        self.fault(&format!("cannot be read after row {}: {error}", self.row))
    }
}

/// The columns that a header names at least; where it needs none, those of which it names some.
fn wanted(required: &[&str], optional: &[&str]) -> String {
    if required.is_empty() { format!("some of {}", optional.join(",")) } else { required.join(",") }
}

/// A cell in quotes, cut where it is long.
fn shown(text: &str) -> String {
    let cut: String = text.chars().take(COMPUTE_CELL_CHARS_SHOWN).collect();
    if cut.len() < text.len() { format!("{cut:?}…") } else { format!("{cut:?}") }
}
