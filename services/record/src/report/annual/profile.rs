//! Jurisdiction profiles: to whom the lists are presented, in which columns, and on which day the year
//! begins. They are dated data files with their source, because law differs and changes; a house adds its
//! own. The stock list itself never changes with a profile: a profile's columns fold its cells together,
//! and what they fold is said beneath with its numbers.

use super::material::Twelve;
use super::stock::{Cell, StockLine, StockList};
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// The profile that is taken where nobody names one.
pub const PLAIN: &str = "plain";

/// Profiles that come with the software, each a file.
const SHIPPED: [&str; 2] = [include_str!("profiles/plain.json"), include_str!("profiles/common-columns.json")];

/// Cells of a line of the stock list that a column may name.
pub const CELLS: [&str; 14] = [
    "start",
    "arrived",
    "hatched",
    "recaptured",
    "found",
    "died_within_30_days",
    "died_other",
    "died_day_undetermined",
    "departed",
    "escaped",
    "missing",
    "sexed",
    "recount",
    "end",
];

/// A profile's file.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Profile {
    /// Its name: lower-case letters, digits and hyphens.
    pub profile: String,
    /// What it is for.
    pub title: String,
    /// Its versions, the oldest first.
    pub versions: Vec<Version>,
}

/// What a profile said from a day on.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Version {
    /// The first day on which it holds.
    pub valid_from: NaiveDate,
    /// The document it was taken from, or that it is a convention of this project or from memory.
    pub source: String,
    /// The day on which the year begins, `01-01`.
    pub year_begins: String,
    /// Columns of the stock list; none: as the record keeps it.
    #[serde(default)]
    pub columns: Vec<Column>,
    /// Where a part of the report is asked for.
    #[serde(default)]
    pub clauses: Vec<Clause>,
}

/// A column of a presented stock list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Column {
    /// Its heading.
    pub heading: String,
    /// The cells that it adds together.
    pub cells: Vec<String>,
}

/// Where a part of the report is asked for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Clause {
    /// The part, in words.
    pub part: String,
    /// The reference.
    pub reference: String,
}

/// The version of a profile by which a report was made. It travels whole in the report, so that whoever
/// computes it anew needs no other file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ProfileUsed {
    /// Its name.
    pub name: String,
    /// What it is for.
    pub title: String,
    /// The first day on which this version holds.
    pub valid_from: NaiveDate,
    /// Where it was taken from.
    pub source: String,
    /// Columns of the stock list.
    pub columns: Vec<Column>,
    /// Where parts are asked for.
    pub clauses: Vec<Clause>,
    /// The day within the months on which another version begins to hold; the report keeps to the one that
    /// held on the first day.
    pub changes_on: Option<NaiveDate>,
}

impl Default for ProfileUsed {
    fn default() -> Self {
        let plain = shipped(PLAIN).unwrap_or_else(|| unreachable!("a test reads every profile that is shipped"));
        used(&plain, plain.versions[0].clone(), None)
    }
}

/// What is wrong with a profile, or with the question.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ProfileFault {
    /// No file of that name.
    #[error("there is no profile {0:?}; shipped are {known}; a house's own stand as profiles/NAME.json in the log's folder", known = names().join(", "))]
    NoSuchProfile(String),
    /// The file does not read.
    #[error("profile {name}: {fault}")]
    Unreadable {
        /// Its name.
        name: String,
        /// What is wrong.
        fault: String,
    },
    /// No version held then.
    #[error("profile {name} holds from {from} on; the months begin on {asked}")]
    NotYet {
        /// Its name.
        name: String,
        /// The first day of its oldest version.
        from: NaiveDate,
        /// The first day asked for.
        asked: NaiveDate,
    },
}

/// Names of the profiles that are shipped.
#[must_use]
pub fn names() -> Vec<String> {
    SHIPPED.iter().filter_map(|text| read("", text).ok()).map(|profile| profile.profile).collect()
}

/// A profile that is shipped.
#[must_use]
pub fn shipped(name: &str) -> Option<Profile> {
    SHIPPED.iter().filter_map(|text| read("", text).ok()).find(|profile| profile.profile == name)
}

/// Reads a profile's file and checks that it can be followed.
///
/// # Errors
/// It is no profile; a column names a cell that the stock list has not, or one that another column names;
/// its versions are not in order.
pub fn read(name: &str, text: &str) -> Result<Profile, ProfileFault> {
    let wrong = |fault: String| ProfileFault::Unreadable { name: name.to_owned(), fault };
    let profile: Profile = serde_json::from_str(text).map_err(|error| wrong(error.to_string()))?;
    if profile.versions.is_empty() {
        return Err(wrong("it has no version; give at least one, with valid_from and source".to_owned()));
    }
    if profile.versions.windows(2).any(|pair| pair[0].valid_from >= pair[1].valid_from) {
        return Err(wrong("its versions are not in order of valid_from, the oldest first".to_owned()));
    }
    for version in &profile.versions {
        let from = version.valid_from;
        let year = Twelve::beginning(0, &version.year_begins);
        year.ok_or_else(|| wrong(format!("version {from}: year_begins {:?} is not a day like 04-01", version.year_begins)))?;
        columns_can_be_followed(&version.columns).map_err(|fault| wrong(format!("version {from}: {fault}")))?;
    }
    Ok(profile)
}

fn columns_can_be_followed(columns: &[Column]) -> Result<(), String> {
    let mut taken: Vec<&str> = Vec::new();
    for (column, cell) in columns.iter().flat_map(|column| column.cells.iter().map(move |cell| (column, cell.as_str()))) {
        let heading = &column.heading;
        if !CELLS.contains(&cell) {
            return Err(format!("column {heading:?} names the cell {cell:?}, which the stock list has not; it has {}", CELLS.join(", ")));
        }
        if taken.contains(&cell) {
            return Err(format!("column {heading:?} names the cell {cell:?}, which another column has taken: it would be counted twice"));
        }
        if ["start", "end"].contains(&cell) && column.cells.len() > 1 {
            return Err(format!("column {heading:?} adds {cell:?} to other cells; start and end stand alone"));
        }
        taken.push(cell);
    }
    Ok(())
}

/// The months that a profile means by a year: those that begin on its day, by the version that holds then.
#[must_use]
pub fn months(profile: &Profile, year: i32) -> Twelve {
    let by = |version: &Version| Twelve::beginning(year, &version.year_begins).unwrap_or_else(|| year.into());
    let first = |version: &Version| {
        let twelve = by(version);
        NaiveDate::from_ymd_opt(twelve.year, twelve.month, twelve.day)
    };
    let holds = profile.versions.iter().rfind(|version| first(version).is_some_and(|day| day >= version.valid_from));
    by(holds.unwrap_or(&profile.versions[0]))
}

/// The version that holds on the first day of the months.
///
/// # Errors
/// None did yet.
pub fn in_force(profile: &Profile, first_day: NaiveDate, last_day: NaiveDate) -> Result<ProfileUsed, ProfileFault> {
    let holds = profile.versions.iter().rfind(|version| version.valid_from <= first_day);
    let not_yet = || ProfileFault::NotYet { name: profile.profile.clone(), from: profile.versions[0].valid_from, asked: first_day };
    let later = profile.versions.iter().map(|version| version.valid_from).find(|day| *day > first_day && *day <= last_day);
    Ok(used(profile, holds.cloned().ok_or_else(not_yet)?, later))
}

fn used(profile: &Profile, version: Version, changes_on: Option<NaiveDate>) -> ProfileUsed {
    ProfileUsed {
        name: profile.profile.clone(),
        title: profile.title.clone(),
        valid_from: version.valid_from,
        source: version.source,
        columns: version.columns,
        clauses: version.clauses,
        changes_on,
    }
}

/// The stock list in a profile's columns.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Presented {
    /// Headings; none where the profile has no columns of its own.
    pub columns: Vec<String>,
    /// One line for each species, the total last.
    pub lines: Vec<PresentedLine>,
    /// What the columns fold together, and what stands in none of them, with the numbers.
    pub footnotes: Vec<String>,
}

/// A line of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PresentedLine {
    /// Common name; may be empty.
    pub common_name: String,
    /// Scientific name, or `all species`.
    pub scientific_name: String,
    /// One cell for each column.
    pub cells: Vec<Cell>,
}

/// The stock list in the columns of that profile.
#[must_use]
pub fn present(profile: &ProfileUsed, stock: &StockList) -> Presented {
    if profile.columns.is_empty() {
        return Presented::default();
    }
    let line = |line: &StockLine| PresentedLine {
        common_name: line.common_name.clone(),
        scientific_name: line.scientific_name.clone(),
        cells: profile.columns.iter().map(|column| sum(line, &column.cells)).collect(),
    };
    Presented {
        columns: profile.columns.iter().map(|column| column.heading.clone()).collect(),
        lines: stock.lines.iter().chain([&stock.total]).map(line).collect(),
        footnotes: footnotes(profile, &stock.total),
    }
}

/// A cell of a line by its name; one that a line leaves out is nought.
fn cell(line: &StockLine, name: &str) -> Cell {
    let value = serde_json::to_value(line).ok();
    value.as_ref().and_then(|value| value.get(name)).and_then(|cell: &Value| Cell::deserialize(cell).ok()).unwrap_or_default()
}

fn sum(line: &StockLine, names: &[String]) -> Cell {
    let cells = names.iter().map(|name| cell(line, name).0);
    Cell(cells.fold([0; 3], |sum, cell| [0, 1, 2].map(|class| sum[class] + cell[class])))
}

fn footnotes(profile: &ProfileUsed, total: &StockLine) -> Vec<String> {
    let told = |name: &str| format!("{} {}", name.replace('_', " "), cell(total, name));
    let some = |name: &&str| !cell(total, name).is_nought();
    let mut notes = Vec::new();
    for column in profile.columns.iter().filter(|column| column.cells.len() > 1) {
        let parts: Vec<String> = column.cells.iter().map(String::as_str).filter(some).map(told).collect();
        if parts.len() > 1 || column.cells.first().is_some_and(|first| cell(total, first).is_nought()) && !parts.is_empty() {
            notes.push(format!("“{}” is: {}.", column.heading, parts.join(", ")));
        }
    }
    let named = |name: &&str| profile.columns.iter().any(|column| column.cells.iter().any(|cell| cell == name));
    let outside: Vec<String> = CELLS.iter().copied().filter(|name| !named(name)).filter(some).map(told).collect();
    if !outside.is_empty() {
        notes.push(format!("In none of these columns, and so missing from their sum: {}.", outside.join(", ")));
    }
    notes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_profile_that_is_shipped_reads_and_says_its_source() {
        assert_eq!(names(), ["plain", "common-columns"]);
        for text in SHIPPED {
            let profile = read("shipped", text).expect("it reads");
            assert!(profile.versions.iter().all(|version| !version.source.is_empty()));
        }
    }

    fn profile(columns: &str, begins: &str) -> Result<Profile, ProfileFault> {
        let version = |from: &str| {
            format!("{{\"valid_from\":\"{from}\",\"source\":\"a test\",\"year_begins\":\"{begins}\",\"columns\":[{columns}]}}")
        };
        let text = format!("{{\"profile\":\"ours\",\"title\":\"t\",\"versions\":[{},{}]}}", version("2020-01-01"), version("2025-10-01"));
        read("ours", &text)
    }

    #[test]
    fn columns_that_cannot_be_followed_are_named() {
        for (columns, wanted) in [
            (r#"{"heading":"born","cells":["birthed"]}"#, "\"birthed\", which the stock list has not; it has start"),
            (r#"{"heading":"a","cells":["hatched"]},{"heading":"b","cells":["hatched"]}"#, "counted twice"),
            (r#"{"heading":"a","cells":["start","arrived"]}"#, "stand alone"),
            (r#"{"heading":"a","cells":["start"],"sum":1}"#, "unknown field `sum`"),
        ] {
            let said = profile(columns, "01-01").expect_err("it cannot").to_string();
            assert!(said.contains(wanted) && said.starts_with("profile ours: "), "{said}");
        }
        let said = profile("", "02-29").expect_err("no such day").to_string();
        assert!(said.contains("year_begins \"02-29\""), "{said}");
    }

    #[test]
    fn months_over_a_change_keep_to_the_version_of_the_first_day_and_say_so() {
        let profile = profile("", "04-01").expect("it reads");
        let twelve = months(&profile, 2025);
        assert_eq!((twelve.month, twelve.day), (4, 1));
        let day = |text: &str| text.parse().expect("a day");
        let used = in_force(&profile, day("2025-04-01"), day("2026-03-31")).expect("one holds");
        assert_eq!((used.valid_from, used.changes_on), (day("2020-01-01"), Some(day("2025-10-01"))));
        let said = in_force(&profile, day("2019-04-01"), day("2020-03-31")).expect_err("none yet").to_string();
        assert!(said.contains("holds from 2020-01-01 on"), "{said}");
    }

    #[test]
    fn what_columns_fold_is_said_with_its_numbers() {
        let columns = r#"{"heading":"in","cells":["arrived","found"]},{"heading":"at end","cells":["end"]}"#;
        let used = in_force(&profile(columns, "01-01").expect("it reads"), NaiveDate::MAX, NaiveDate::MAX).expect("one holds");
        let total = StockLine {
            arrived: Cell([0, 1, 0]),
            found: Cell([0, 0, 1]),
            missing: Cell([0, 2, 0]),
            end: Cell([1, 0, 0]),
            ..Default::default()
        };
        let shown = present(&used, &StockList { total, ..Default::default() });
        assert_eq!(shown.lines[0].cells, [Cell([0, 1, 1]), Cell([1, 0, 0])]);
        assert_eq!(shown.footnotes[0], "“in” is: arrived 0.1.0, found 0.0.1.");
        assert_eq!(shown.footnotes[1], "In none of these columns, and so missing from their sum: missing 0.2.0.");
    }
}
