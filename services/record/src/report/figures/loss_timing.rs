//! When cases die, given that they are looked at now and then: a death lies between the last sighting
//! alive and the day it was found, and no day is made up for it. What is known of the losses by an
//! age is a band, not a line.

use super::case_rows::{BesideCases, CaseTold, Meant, behind, meant};
use super::rearing::DayCount;
use super::{Absent, Behind, Cohort, Head};
use crate::domain::case_rows::CaseRows;
use crate::domain::state::Egg;
use crate::report::numbers;
use chrono_tz::Tz;
use selachron_schemas::fates::{Cause, Fate};
use selachron_statistics::interval::BetweenLooks;
use selachron_statistics::interval::competing::{CauseMasses, CompetingNpmle, npmle_competing};
use selachron_statistics::interval::rows::CauseBetweenLooks;
use selachron_statistics::plot::steps::ticks;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// How the band is made, as every answer says.
pub const METHOD: &str = "nonparametric maximum likelihood of interval-censored competing fates (Hudgens, Satten & Longini 2001), in whole \
    days of age; a death lies in (last seen alive, found dead], a hatch that was found in (last seen closed, found], a leaving on its day; \
    whatever is open or lost from sight is censored when last seen alive";

/// What stands beside each age.
pub const INTERVAL: &str = "a band: what the looks leave open; it is no error of sampling, for which few cases or clutches would widen it";

/// Number of the fate by which cases die.
const DEATH: u32 = 1;

/// When the cases of a cohort died.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LossTiming {
    /// Which cases are meant, by the day they came. What is counted, of what, and how.
    #[serde(flatten)]
    pub head: Head,
    /// Cases watched from age 0.
    pub n: u64,
    /// Deaths among them.
    pub deaths: u64,
    /// The band at each age at which it changes.
    pub ages: Vec<AgeLosses>,
    /// Where the deaths lie: between which ages, and which part of the cases.
    pub stretches: Vec<Stretch>,
    /// How many are known to be still in their case and alive, at the ages under the axis of its drawing.
    pub known_alive: Vec<DayCount>,
    /// Why there is no band.
    pub absent: Option<Absent>,
    /// Sentences that belong beside it.
    pub notes: Vec<String>,
    /// Looks on schedule behind it.
    pub looks_scheduled: u64,
    /// Looks because of a suspicion: where they are many, losses seem to lie closer together than they do.
    pub looks_prompted: u64,
    /// Cases that arrived after age 0, left out: the method is not for late entry.
    pub entered_late: u64,
    /// Cases in no risk set.
    pub beside: BesideCases,
    /// What stands behind the cases at risk, those left out for their late entry among them.
    pub behind: Behind,
    /// On request: every case with its row and the notes behind it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cases: Option<Vec<CaseTold>>,
}

/// The losses by one age.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct AgeLosses {
    /// The age in days.
    pub age_days: f64,
    /// At least this part had died, 4 decimals.
    pub lost_at_least: f64,
    /// At most this part had died, 4 decimals.
    pub lost_at_most: f64,
}

/// A stretch of ages in which deaths lie; where within it nobody knows.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Stretch {
    /// After this age, in days.
    pub after_days: f64,
    /// By this age, in days.
    pub by_days: f64,
    /// This part of all cases, 4 decimals.
    pub part: f64,
}

/// When the cases that came on the days asked for died; `explain` names the notes.
#[must_use]
pub fn loss_timing(eggs: &[Egg], rows: &CaseRows, cohort: &Cohort, zone: Tz, explain: bool) -> LossTiming {
    let cases = meant(eggs, rows, cohort, zone);
    let at_risk = |one: &&Meant| one.at_risk().is_some();
    let (late, watched): (Vec<&Meant>, Vec<&Meant>) =
        cases.iter().filter(at_risk).partition(|one| one.at_risk().is_some_and(|row| row.entry > 0));
    let spells: Vec<CauseBetweenLooks> = watched.iter().filter_map(|one| between(one.at_risk()?)).collect();
    let found = npmle_competing(&spells);
    let deaths = found.as_ref().ok().and_then(|found| found.causes.iter().find(|masses| masses.cause == DEATH));
    let looks = |prompted: bool| watched.iter().flat_map(|one| &one.egg.looks).filter(|look| look.prompted == prompted).count() as u64;
    LossTiming {
        head: Head::of(
            cohort,
            METHOD,
            INTERVAL,
            ["cases that had died by that age", "cases watched from age 0, with an embryo not ruled out"],
        ),
        n: watched.len() as u64,
        deaths: watched.iter().filter(|one| one.at_risk().is_some_and(|row| row.cause == Some(Cause::Death))).count() as u64,
        ages: found.as_ref().map_or_else(|_| Vec::new(), |found| ages(found, deaths)),
        stretches: deaths.map_or_else(Vec::new, stretches),
        known_alive: known_alive(&spells),
        absent: found.as_ref().err().map(Absent::of),
        notes: notes(late.len()),
        looks_scheduled: looks(false),
        looks_prompted: looks(true),
        entered_late: late.len() as u64,
        beside: BesideCases::of(&cases),
        behind: behind(&cases, eggs, cohort, zone),
        cases: explain.then(|| cases.iter().map(Meant::told).collect()),
    }
}

/// As the estimator takes it.
fn between(row: &Fate) -> Option<CauseBetweenLooks> {
    let number = match row.cause? {
        Cause::Death => DEATH,
        Cause::Hatch => 2,
        Cause::Removed => 3,
        Cause::Lost | Cause::Censored => 0,
    };
    let left = row.left? as f64;
    let looks = match row.right.filter(|_| number > 0) {
        Some(right) => BetweenLooks::between(left, right as f64),
        None => BetweenLooks::after(left),
    };
    Some(looks.of_cause(number))
}

/// The axis goes on to the last look.
fn known_alive(spells: &[CauseBetweenLooks]) -> Vec<DayCount> {
    let ends = spells.iter().flat_map(|spell| [spell.looks.left_days, spell.looks.right_days]);
    let longest = ends.filter(|end| end.is_finite()).fold(0.0, f64::max);
    let count = |age: f64| spells.iter().filter(|spell| spell.looks.left_days >= age).count() as u64;
    ticks(longest).into_iter().map(|age| DayCount { days: age.round() as u32, count: count(age) }).collect()
}

fn notes(late: usize) -> Vec<String> {
    let mut notes = vec!["looks must not depend on how a case does: extra looks at ailing cases narrow their stretches".to_owned()];
    if late > 0 {
        notes.push(format!("{late} cases came after age 0 and are left out: the method is not for late entry"));
    }
    notes
}

fn stretches(deaths: &CauseMasses) -> Vec<Stretch> {
    let told = |(after_days, by_days, part): &(f64, Option<f64>, f64)| {
        Some(Stretch { after_days: *after_days, by_days: (*by_days)?, part: numbers::proportion(*part) })
    };
    deaths.support.iter().filter_map(told).collect()
}

/// The band at the ends of all stretches that hold a death; between them it does not change.
fn ages(found: &CompetingNpmle, deaths: Option<&CauseMasses>) -> Vec<AgeLosses> {
    let mut ends: Vec<f64> =
        deaths.into_iter().flat_map(|masses| &masses.support).flat_map(|(left, right, _)| [Some(*left), *right]).flatten().collect();
    ends.sort_by(f64::total_cmp);
    ends.dedup();
    let told = |age_days: f64| {
        let band = found.incidence_at(DEATH, age_days).ok()?;
        Some(AgeLosses { age_days, lost_at_least: numbers::proportion(band.lower), lost_at_most: numbers::proportion(band.upper) })
    };
    ends.into_iter().filter_map(told).collect()
}
