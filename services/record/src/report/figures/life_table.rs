//! The life table of the young: how many of each age class died, and how many lived into the next.

use super::rearing::{Watch, spells};
use super::{Absent, Behind, Cohort, Counted};
use crate::domain::state::{Animal, Egg};
use crate::report::numbers;
use selachron_statistics::Row;
use selachron_statistics::life_table::{AgeClass, LifeRow, Method, life_table};
use selachron_statistics::reason::Error;
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
    /// Which young are meant, by their hatch day.
    pub cohort: Cohort,
    /// [`METHOD`].
    pub method: String,
    /// [`INTERVAL`].
    pub interval: String,
    /// What is counted.
    pub numerator: String,
    /// Of what.
    pub denominator: String,
    /// Young and animals in it.
    pub n: u64,
    /// Deaths among them.
    pub deaths: u64,
    /// The classes up to the longest that anybody was followed.
    pub classes: Vec<Class>,
    /// Why there are none.
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
    let (told, absent) = match table {
        None => (Vec::new(), Some(Absent::new("no cases", "no young to follow"))),
        Some(Ok(table)) => (table.rows.iter().map(class).collect(), None),
        Some(Err(Error::NotEstimable(reason))) => (Vec::new(), Some(Absent::from(&reason))),
        Some(Err(Error::Input(wrong))) => (Vec::new(), Some(Absent::new("not estimable", wrong.to_string()))),
    };
    LifeTableFigure {
        cohort: cohort.clone(),
        method: METHOD.to_owned(),
        interval: INTERVAL.to_owned(),
        numerator: "deaths in the class".to_owned(),
        denominator: "young exposed in the class".to_owned(),
        n: rows.len() as u64,
        deaths: rows.iter().filter(|row| row.event).count() as u64,
        classes: told,
        absent,
        notes: vec!["births are not told by the age of the dam, so that there is no R0 and no rate of increase".to_owned()],
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

fn of_class(rows: &[Row], from: f64, to: f64) -> AgeClass {
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
