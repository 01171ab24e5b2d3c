//! What becomes of the cases, by age: of all at risk, how many have hatched, died or left by a day,
//! and how many are still open. The parts add up to one at every age; one less the survival of each
//! fate alone would add up to more than all cases.

use super::case_rows::{BesideCases, CaseTold, Meant, behind, meant};
use super::rearing::DayCount;
use super::{Absent, Behind, Cohort, Head};
use crate::domain::case_rows::CaseRows;
use crate::domain::state::Egg;
use crate::report::numbers::{self, Limits};
use chrono_tz::Tz;
use selachron_schemas::fates::{Cause, Fate};
use selachron_statistics::incidence::{Incidence, StandardError};
use selachron_statistics::plot::steps::ticks;
use selachron_statistics::{Level, aalen_johansen};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// How the parts are made, as every answer says.
pub const METHOD: &str = "Aalen-Johansen in whole days of the collection's calendar, from the day found or the day laid as estimated; \
    arrivals enter at the age they came with; a death counts on the day it was found, a hatch on the day it was seen or found, a leaving on \
    its day; whatever is open or lost from sight is censored when last seen alive";

/// Which interval stands beside each part.
pub const INTERVAL: &str = "95 %, on the scale log(-log(1 - part)), from the standard error of Greenwood's type";

/// The fates told here, in the order of their numbers from 1.
const CAUSES: [Cause; 3] = [Cause::Hatch, Cause::Death, Cause::Removed];

/// What became of the cases of a cohort, by age.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct EggFates {
    /// Which cases are meant, by the day they came. What is counted, of what, and how.
    #[serde(flatten)]
    pub head: Head,
    /// Cases at risk.
    pub n: u64,
    /// Of these: hatched.
    pub hatched: u64,
    /// Hatched after their case was opened, within `hatched`.
    pub hatched_after_opening: u64,
    /// Died.
    pub died: u64,
    /// Left alive, as far as is known, or put down with a living embryo.
    pub removed: u64,
    /// Lost from sight: censored when last seen alive.
    pub lost: u64,
    /// Open: censored when last seen alive.
    pub open: u64,
    /// The parts at each age at which something ended.
    pub ages: Vec<AgeFates>,
    /// How many were at risk at the ages under the axis of its drawing.
    pub at_risk: Vec<DayCount>,
    /// Why there are none.
    pub absent: Option<Absent>,
    /// Sentences that belong beside them.
    pub notes: Vec<String>,
    /// Cases at risk that arrived from elsewhere and entered late.
    pub entered_late: u64,
    /// Cases in no risk set.
    pub beside: BesideCases,
    /// What stands behind the cases at risk.
    pub behind: Behind,
    /// On request: every case with its row and the notes behind it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cases: Option<Vec<CaseTold>>,
}

/// The parts at one age; they add up to 1 but for their rounding.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct AgeFates {
    /// The age in days.
    pub age_days: f64,
    /// At risk just before.
    pub at_risk: u64,
    /// Hatched by then.
    pub hatched: Part,
    /// Died by then.
    pub died: Part,
    /// Left by then.
    pub removed: Part,
    /// Still open, 4 decimals.
    pub open: f64,
}

/// A part of the cases with its interval.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Part {
    /// The part, 4 decimals.
    pub estimate: f64,
    /// Its interval, 4 decimals; absent where the part is 0 or 1.
    #[schema(value_type = Option<Vec<f64>>)]
    pub limits_95: Option<Limits>,
}

/// The fates of the cases that came on the days asked for; `explain` names the notes.
#[must_use]
pub fn egg_fates(eggs: &[Egg], rows: &CaseRows, cohort: &Cohort, zone: Tz, explain: bool) -> EggFates {
    let cases = meant(eggs, rows, cohort, zone);
    let at_risk: Vec<&Fate> = cases.iter().filter_map(Meant::at_risk).collect();
    let count = |wanted: Cause| at_risk.iter().filter(|row| row.cause == Some(wanted)).count() as u64;
    let spells: Vec<selachron_statistics::Fate> = at_risk.iter().filter_map(|row| spell(row)).collect();
    let table = aalen_johansen(&spells, CAUSES.len(), Level::P95);
    let (ages, absent, notes) = match &table {
        Ok(table) => (ages(table), absent(table), table.notes()),
        Err(wrong) => (Vec::new(), Some(Absent::new("not estimable", wrong.to_string())), Vec::new()),
    };
    EggFates {
        head: Head::of(
            cohort,
            METHOD,
            INTERVAL,
            ["cases that met the fate by that age", "cases at risk: alive when they came, and not found without an embryo"],
        ),
        n: at_risk.len() as u64,
        hatched: count(Cause::Hatch),
        hatched_after_opening: at_risk.iter().filter(|row| row.assisted == Some(true)).count() as u64,
        died: count(Cause::Death),
        removed: count(Cause::Removed),
        lost: count(Cause::Lost),
        open: count(Cause::Censored),
        at_risk: watched(&spells, ages.last().map_or(0.0, |last| last.age_days)),
        ages,
        absent,
        notes,
        entered_late: at_risk.iter().filter(|row| row.entry > 0).count() as u64,
        beside: BesideCases::of(&cases),
        behind: behind(&cases, eggs, cohort, zone),
        cases: explain.then(|| cases.iter().map(Meant::told).collect()),
    }
}

/// As the estimator takes it: an end on the day by which it was seen, else censored at L.
fn spell(row: &Fate) -> Option<selachron_statistics::Fate> {
    let cause = CAUSES.iter().position(|cause| row.cause == Some(*cause));
    let exit = if cause.is_some() { row.right? } else { row.left? };
    let told = selachron_statistics::Fate::at(exit as f64, cause.map_or(0, |at| at + 1));
    Some(if row.entry > 0 { told.entered_at(row.entry as f64) } else { told })
}

/// At risk is who has come before and has not left before: entry < age <= exit, and at age 0 who was
/// there from the first.
fn watched(spells: &[selachron_statistics::Fate], longest_days: f64) -> Vec<DayCount> {
    let there = |spell: &&selachron_statistics::Fate, age: f64| spell.entry_days.is_none_or(|entry| entry < age) && spell.exit_days >= age;
    let count = |age: f64| spells.iter().filter(|spell| there(spell, age)).count() as u64;
    ticks(longest_days).into_iter().map(|age| DayCount { days: age.round() as u32, count: count(age) }).collect()
}

fn absent(table: &Incidence) -> Option<Absent> {
    match &table.refusal {
        _ if table.n_cases == 0 => Some(Absent::no_cases()),
        reason => reason.as_ref().map(Absent::from),
    }
}

fn ages(table: &Incidence) -> Vec<AgeFates> {
    if table.refusal.is_some() {
        return Vec::new();
    }
    let limits: Vec<_> = (1..=CAUSES.len()).map(|cause| table.intervals(cause, StandardError::Greenwood)).collect();
    let part = |cause: usize, at: usize| Part {
        estimate: numbers::proportion(table.causes[cause].cif[at]),
        limits_95: limits[cause].get(at).copied().flatten().map(numbers::limits),
    };
    let ended = |at: &usize| table.causes.iter().any(|cause| cause.n_event[*at] > 0);
    let told = |at: usize| AgeFates {
        age_days: table.time[at],
        at_risk: table.n_risk[at],
        hatched: part(0, at),
        died: part(1, at),
        removed: part(2, at),
        open: numbers::proportion(table.surv[at]),
    };
    (0..table.time.len()).filter(ended).map(told).collect()
}
