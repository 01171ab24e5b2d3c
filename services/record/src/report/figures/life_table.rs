//! The life table of the young: how many of each age class died, and how many lived into the next.

use super::births::{BirthsTold, births};
use super::rearing::{DayCount, Watch, spells};
use super::{Absent, Behind, Cohort, Counted, Head};
use crate::domain::state::{Animal, Egg};
use crate::report::numbers;
use selachron_statistics::Row;
use selachron_statistics::life_table::{AgeClass, LifeRow, Method, life_table};
use selachron_statistics::plot::steps::ticks;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Where the classes begin, in days since hatch; a class ends where the next begins. After the last
/// each is a year long.
pub const CLASSES_DAYS: [u32; 7] = [0, 7, 30, 90, 180, 365, 730];

/// How the table is made, as every answer says.
pub const METHOD: &str = "actuarial life table from hatch in whole days of the collection's calendar: exposed = n at the start + entered/2 - \
    left/2, q = deaths/exposed, l of the next class = l (1 - q); a class holds the days from its start to the day before its end";

/// Which interval stands beside each l.
pub const INTERVAL: &str = "standard error of l by Greenwood's sum over the classes; no interval";

/// Decimals of a sum of days.
const DAYS_DECIMALS: u32 = 1;

/// A life table of young.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LifeTableFigure {
    /// Which young are meant, by their hatch day. What is counted, of what, and how.
    #[serde(flatten)]
    pub head: Head,
    /// Young and animals in it.
    pub n: u64,
    /// Deaths among them.
    pub deaths: u64,
    /// The classes up to the longest that anybody was followed.
    pub classes: Vec<Class>,
    /// How many were at risk at the ages under the axis of its drawing.
    pub at_risk: Vec<DayCount>,
    /// Births by the age of the dam, and the rate of increase, where the record knows them.
    pub births: BirthsTold,
    /// Why there are no classes.
    pub absent: Option<Absent>,
    /// Sentences that belong beside it.
    pub notes: Vec<String>,
    /// The cases they came from.
    pub behind: Behind,
    /// On request: every animal with the notes behind it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cases: Option<Vec<Counted>>,
}

/// One age class.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Class {
    /// Its first day since hatch.
    pub from_days: u32,
    /// The first day after it.
    pub to_days: u32,
    /// Alive and watched at its start.
    pub n: u64,
    /// Came under observation in it.
    pub entered: u64,
    /// Left, or were last seen, in it.
    pub left: u64,
    /// Died in it.
    pub deaths: u64,
    /// Exposed to the risk.
    pub exposed: f64,
    /// Days at risk in it.
    pub exposure_days: f64,
    /// Part of those exposed that died, 4 decimals.
    pub q: Option<f64>,
    /// Part of all that lived to its start, 4 decimals.
    pub l: Option<f64>,
    /// Standard error of `l`, 4 decimals.
    pub se_l: Option<f64>,
}

/// The life table of the young that hatched on the days asked for; `explain` names the notes.
#[must_use]
pub fn young_life_table(animals: &[Animal], eggs: &[Egg], cohort: &Cohort, watch: Watch, explain: bool) -> LifeTableFigure {
    let (rows, behind, cases) = spells(animals, eggs, cohort, watch, explain);
    let classes = counted(&rows);
    let table = if rows.is_empty() { None } else { Some(life_table(&classes, Method::Actuarial)) };
    let births = births(animals, eggs, cohort, watch, table.as_ref().and_then(|table| table.as_ref().ok()));
    let (told, absent) = match table {
        None => (Vec::new(), Some(Absent::new("no cases", "no young to follow"))),
        Some(Ok(table)) => (table.rows.iter().map(class).collect(), None),
        Some(Err(error)) => (Vec::new(), Some(Absent::of(&error))),
    };
    let drawn_to = told.iter().filter(|class: &&Class| class.l.is_some()).map(|class| f64::from(class.to_days)).fold(0.0, f64::max);
    LifeTableFigure {
        head: Head::of(cohort, METHOD, INTERVAL, ["deaths in the class", "young exposed in the class"]),
        n: rows.len() as u64,
        deaths: rows.iter().filter(|row| row.event).count() as u64,
        classes: told,
        absent,
        at_risk: watched(&rows, drawn_to),
        births,
        notes: vec!["cases that still wait are births to come: while there are any, R0 is too low".to_owned()],
        behind,
        cases,
    }
}

/// The bounds of the classes up to and with the one that holds `longest`.
fn bounds(longest: f64) -> Vec<u32> {
    let last = CLASSES_DAYS[CLASSES_DAYS.len() - 1];
    let year = CLASSES_DAYS[5];
    let later = (1..).map(|more| last + more * year);
    let mut bounds = Vec::new();
    for bound in CLASSES_DAYS.into_iter().chain(later) {
        bounds.push(bound);
        if f64::from(bound) > longest {
            break;
        }
    }
    bounds
}

fn counted(rows: &[Row]) -> Vec<AgeClass> {
    let longest = rows.iter().map(|row| row.exit_days).fold(0.0, f64::max);
    let bounds = bounds(longest);
    bounds.windows(2).map(|pair| of_class(rows, f64::from(pair[0]), f64::from(pair[1]))).collect()
}

/// At risk is entry < age <= exit, and at age 0 whoever was there from the hatch on.
fn watched(rows: &[Row], longest: f64) -> Vec<DayCount> {
    let there = |row: &&Row, age: f64| row.entry_days.is_none_or(|entry| entry < age) && row.exit_days >= age;
    let count = |age: f64| rows.iter().filter(|row| there(row, age)).count() as u64;
    ticks(longest).into_iter().map(|age| DayCount { days: age.round() as u32, count: count(age) }).collect()
}

pub(super) fn of_class(rows: &[Row], from: f64, to: f64) -> AgeClass {
    let holds = |day: f64| day >= from && day < to;
    let count = |wanted: &dyn Fn(&Row) -> bool| rows.iter().filter(|row| wanted(row)).count() as u64;
    let at_start = |row: &Row| row.exit_days >= from && row.entry_days.is_none_or(|entry| entry < from);
    // Watched from the hatch on counts from the start of the first class.
    let n_start = count(&|row| at_start(row));
    let days = |row: &Row| (row.exit_days.min(to) - row.entry_days.unwrap_or(0.0).max(from)).max(0.0);
    AgeClass {
        entered: count(&|row| row.entry_days.is_some_and(holds)),
        exposure_days: Some(rows.iter().map(days).sum()),
        ..AgeClass::counted(
            from,
            Some(to),
            n_start,
            count(&|row| !row.event && holds(row.exit_days)),
            count(&|row| row.event && holds(row.exit_days)),
        )
    }
}

fn class(row: &LifeRow) -> Class {
    let whole = |days: f64| days.round() as u32;
    Class {
        from_days: whole(row.class.start_days),
        to_days: whole(row.class.end_days.unwrap_or(row.class.start_days)),
        n: row.class.n_start,
        entered: row.class.entered,
        left: row.class.lost,
        deaths: row.class.n_event,
        exposed: row.exposed,
        exposure_days: numbers::rounded(row.class.exposure_days.unwrap_or_default(), DAYS_DECIMALS),
        q: row.q.map(numbers::proportion),
        l: row.l.map(numbers::proportion),
        se_l: row.se_l.map(numbers::proportion),
    }
}
