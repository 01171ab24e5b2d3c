//! How long cases took to hatch, by the temperature of their water: each species by itself, for
//! species are never pooled. Only cases that hatched can be fitted, so that a season in which cases
//! still wait, or have died, reads too short.

use super::case_rows::{CaseTold, Meant, meant};
use super::{Absent, Behind, Cohort, Head};
use crate::domain::case_rows::CaseRows;
use crate::domain::state::Egg;
use crate::domain::warmth::Warmth;
use crate::report::numbers::{self, Limits};
use chrono::NaiveDate;
use chrono_tz::Tz;
use selachron_schemas::fates::{Cause, Fate};
use selachron_schemas::names::Subject;
use selachron_schemas::time::{DAY_MS, Instant};
use selachron_statistics::incubation::{
    Between, Incubation, Q10, Q10_PLAUSIBLE_MAX, Q10_PLAUSIBLE_MIN, Rate, TemperatureLog, TemperatureReading, arrhenius, q10, thermal_sum,
    thermal_sum_on_days, two_point,
};
use selachron_statistics::reason::Error;
use selachron_statistics::{Interval, Level};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use utoipa::ToSchema;

/// A case counts where its hatch is known to this many days, and its laying as well.
pub const KNOWN_TO_DAYS: i64 = 7;

/// And where readings of its water cover at least this part of its time.
pub const COVERED_PART_MIN: f64 = 0.8;

/// How the fits are made, as every answer says.
pub const METHOD: &str = "days from the day found to the day seen or found hatched, against the mean temperature of the tanks and their \
    water while the case stood in them, straight between readings; thermal sum by regression of 1/days and by least squares on days, Q10 and \
    Arrhenius by regression of ln(days); counted are cases hatched whose laying and hatch are known to 7 days and whose time readings cover to \
    four fifths";

/// Which intervals stand beside.
pub const INTERVAL: &str = "T0 by Fieller, Q10 by Student's t, both 95 %; other letters with their standard errors; cases count as independent, \
    which those of one clutch are not";

/// Steps of the line over the temperatures that were fitted: enough for a curve to look like one.
const LINE_STEPS: u32 = 16;

/// Decimals of a letter of a fit.
const LETTER_DECIMALS: u32 = 4;

/// Days to hatching by temperature.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct IncubationFigure {
    /// Which cases are meant, by the day they came. What is counted, of what, and how.
    #[serde(flatten)]
    pub head: Head,
    /// Each species by itself.
    pub species: Vec<OfSpecies>,
}

/// The cases of one species.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct OfSpecies {
    /// `species/<ULID>`; `null` where the note that says so is withheld.
    pub species: Option<String>,
    /// Cases hatched.
    pub hatched: u64,
    /// Of these with days and temperature: the cases that are fitted.
    pub n: u64,
    /// The coldest of them, in °C, 2 decimals.
    pub temperature_min_c: Option<f64>,
    /// The warmest of them, in °C, 2 decimals.
    pub temperature_max_c: Option<f64>,
    /// Shortest time of them, in days.
    pub days_min: Option<f64>,
    /// Longest time of them, in days.
    pub days_max: Option<f64>,
    /// `D = K/(T - T0)` by regression of the rate.
    pub thermal_sum: Option<ThermalSumTold>,
    /// The same by least squares on the days.
    pub thermal_sum_on_days: Option<ThermalSumTold>,
    /// How many times faster 10 °C warmer.
    pub q10: Option<Letter>,
    /// Apparent activation energy, in eV.
    pub arrhenius_ea_ev: Option<Letter>,
    /// Where only two temperatures are known, Q10 through both, without an error.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub two_point_q10: Option<f64>,
    /// The cases that are fitted, in order of temperature.
    pub points: Vec<PointFitted>,
    /// Days by the line of Q10 over the temperatures of these cases, and where a new case is expected.
    pub line: Vec<OnFit>,
    /// Why a fit is not there.
    pub absent: Option<Absent>,
    /// Sentences that belong beside it.
    pub notes: Vec<String>,
    /// Left out: the laying is not known to 7 days.
    pub laying_not_known: u64,
    /// Left out: the hatch is not known to 7 days.
    pub hatch_not_known: u64,
    /// Left out: too few readings of its water.
    pub temperature_not_known: u64,
    /// What stands behind the cases that are fitted.
    pub behind: Behind,
    /// On request: every case that hatched with its row, its water and the notes behind it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cases: Option<Vec<CaseWarm>>,
}

/// A case that is fitted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PointFitted {
    /// Mean temperature of its water, in °C, 2 decimals.
    pub temperature_c: f64,
    /// Days to its hatch.
    pub days: f64,
}

/// The fit at one temperature.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct OnFit {
    /// The temperature, in °C, 2 decimals.
    pub temperature_c: f64,
    /// Days, 1 decimal.
    pub days: f64,
    /// Interval 95 % of a new case, 1 decimal.
    #[schema(value_type = Option<Vec<f64>>)]
    pub prediction_95: Option<Limits>,
}

/// Both letters of a thermal sum.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ThermalSumTold {
    /// Threshold, in °C.
    pub t0_c: Letter,
    /// Thermal sum, in d °C.
    pub k_degree_days: Letter,
}

/// A fitted number, 4 decimals.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Letter {
    /// The number.
    pub estimate: f64,
    /// Its standard error, where there is one.
    pub se: Option<f64>,
    /// Its interval 95 %, where there is one.
    #[schema(value_type = Option<Vec<f64>>)]
    pub limits_95: Option<Limits>,
}

/// A case that hatched, with its water.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CaseWarm {
    /// The row.
    #[serde(flatten)]
    pub case: CaseTold,
    /// Mean temperature, in °C, 2 decimals; `null` where readings are too few.
    pub temperature_c: Option<f64>,
    /// The readings behind it.
    pub readings: Vec<String>,
}

/// A case that hatched, weighed.
struct Weighed<'a> {
    meant: Meant<'a>,
    readings: Vec<Warmth>,
    temperature_c: Option<f64>,
    counted: Counted,
}

#[derive(Clone, Copy, PartialEq)]
enum Counted {
    Fitted(Incubation),
    LayingNotKnown,
    HatchNotKnown,
    TemperatureNotKnown,
}

/// Days to hatching by temperature, of the cases that came on the days asked for; `warmth` gives the
/// readings along the stays of a case, `explain` names the notes.
#[must_use]
pub fn incubation(
    eggs: &[Egg],
    rows: &CaseRows,
    cohort: &Cohort,
    zone: Tz,
    mut warmth: impl FnMut(&Subject) -> Vec<Warmth>,
    explain: bool,
) -> IncubationFigure {
    let mut by_species: BTreeMap<Option<&Subject>, Vec<Weighed>> = BTreeMap::new();
    for one in meant(eggs, rows, cohort, zone) {
        if let Some(row) = one.at_risk().filter(|row| row.cause == Some(Cause::Hatch)) {
            let weighed = Weighed::of(one, row, warmth(&one.egg.id), zone);
            by_species.entry(one.egg.species.as_ref()).or_default().push(weighed);
        }
    }
    IncubationFigure {
        head: Head::of(cohort, METHOD, INTERVAL, ["cases hatched whose days and temperature are known", "cases hatched"]),
        species: by_species.into_iter().map(|(species, cases)| of_species(species, &cases, explain)).collect(),
    }
}

impl<'a> Weighed<'a> {
    fn of(meant: Meant<'a>, row: &Fate, readings: Vec<Warmth>, zone: Tz) -> Self {
        let (left, right) = (row.left.unwrap_or_default(), row.right.unwrap_or_default());
        let temperature_c = mean_c(meant.egg, right, &readings, zone);
        let laid = row.origin_uncertainty_days.is_some_and(|days| days <= KNOWN_TO_DAYS);
        let counted = match temperature_c {
            _ if !laid => Counted::LayingNotKnown,
            _ if right - left > KNOWN_TO_DAYS || right < 1 => Counted::HatchNotKnown,
            None => Counted::TemperatureNotKnown,
            Some(temperature_c) => Counted::Fitted(Incubation { temperature_c, days: right as f64 }),
        };
        Self { meant, readings, temperature_c, counted }
    }

    fn told(&self) -> CaseWarm {
        CaseWarm {
            case: self.meant.told(),
            temperature_c: self.temperature_c.map(|mean| numbers::rounded(mean, 2)),
            readings: self.readings.iter().map(|reading| reading.event.to_string()).collect(),
        }
    }
}

/// The day from which the age of a case counts.
fn age_0(egg: &Egg, zone: Tz) -> NaiveDate {
    egg.laid_window.estimate.unwrap_or_else(|| egg.came.time.day(zone))
}

/// Mean temperature up to the hatch, where readings cover enough of the time.
fn mean_c(egg: &Egg, hatched_days: i64, readings: &[Warmth], zone: Tz) -> Option<f64> {
    let start = Instant::start_of_day(age_0(egg, zone), zone);
    let day = |time: Instant| (time.0 - start.0) as f64 / DAY_MS as f64;
    let mut log: Vec<TemperatureReading> =
        readings.iter().map(|reading| TemperatureReading { day: day(reading.time), temperature_c: reading.temperature_c }).collect();
    // Two readings of one moment: the tank's own, which comes first, stands.
    log.dedup_by(|later, kept| later.day <= kept.day);
    let log = TemperatureLog::new(log).ok()?;
    let (from, to) = (log.begins_day().max(0.0), log.ends_day().min(hatched_days as f64));
    if to - from < COVERED_PART_MIN * hatched_days as f64 || to <= from {
        return None;
    }
    // The area above a threshold that no water reaches, over the time, is the mean above it.
    let deep = selachron_statistics::incubation::TEMPERATURE_MIN_C;
    let above = log.progress(Rate::ThermalSum { t0_c: deep, k_degree_days: 1.0 }, from, to, Between::Linear).ok()?;
    Some(above / (to - from) + deep)
}

fn of_species(species: Option<&Subject>, cases: &[Weighed], explain: bool) -> OfSpecies {
    let fitted = |one: &&Weighed| matches!(one.counted, Counted::Fitted(_));
    let eggs: Vec<Incubation> = cases
        .iter()
        .filter_map(|one| match one.counted {
            Counted::Fitted(egg) => Some(egg),
            _ => None,
        })
        .collect();
    let count = |wanted: Counted| cases.iter().filter(|one| one.counted == wanted).count() as u64;
    let of = |value: fn(&Incubation) -> f64, pick: fn(f64, f64) -> f64| eggs.iter().map(value).reduce(pick);
    let mut told = Fits::of(&eggs);
    let waiting = "cases that still wait, or have died, are not in the fit: a season that is not over reads too short".to_owned();
    told.notes.insert(0, waiting);
    OfSpecies {
        species: species.map(Subject::to_string),
        hatched: cases.len() as u64,
        n: eggs.len() as u64,
        temperature_min_c: of(|egg| egg.temperature_c, f64::min).map(|c| numbers::rounded(c, 2)),
        temperature_max_c: of(|egg| egg.temperature_c, f64::max).map(|c| numbers::rounded(c, 2)),
        days_min: of(|egg| egg.days, f64::min),
        days_max: of(|egg| egg.days, f64::max),
        thermal_sum: told.thermal_sum,
        thermal_sum_on_days: told.on_days,
        q10: told.q10,
        arrhenius_ea_ev: told.arrhenius,
        two_point_q10: told.two_point,
        points: points(&eggs),
        line: told.line,
        absent: told.absent,
        notes: told.notes,
        laying_not_known: count(Counted::LayingNotKnown),
        hatch_not_known: count(Counted::HatchNotKnown),
        temperature_not_known: count(Counted::TemperatureNotKnown),
        behind: Behind::of(cases.iter().filter(fitted).map(|one| one.meant.egg)),
        cases: explain.then(|| cases.iter().map(Weighed::told).collect()),
    }
}

/// The fits of one species, those that there are.
#[derive(Default)]
struct Fits {
    thermal_sum: Option<ThermalSumTold>,
    on_days: Option<ThermalSumTold>,
    q10: Option<Letter>,
    arrhenius: Option<Letter>,
    two_point: Option<f64>,
    line: Vec<OnFit>,
    absent: Option<Absent>,
    notes: Vec<String>,
}

impl Fits {
    fn of(eggs: &[Incubation]) -> Self {
        let mut fits = Self::default();
        fits.thermal_sum = fits.kept("thermal sum", thermal_sum(eggs, Level::P95)).map(|fit| ThermalSumTold {
            t0_c: letter(fit.T0, Some(fit.se_t0_delta), fit.t0_fieller.ok()),
            k_degree_days: letter(fit.K, Some(fit.se_k_delta), None),
        });
        fits.on_days = fits
            .kept("thermal sum on days", thermal_sum_on_days(eggs, Level::P95))
            .map(|fit| ThermalSumTold { t0_c: letter(fit.T0, Some(fit.se_t0), None), k_degree_days: letter(fit.K, Some(fit.se_k), None) });
        let by_q10 = fits.kept("Q10", q10(eggs, Level::P95));
        fits.line = by_q10.as_ref().map_or_else(Vec::new, on_line);
        fits.notes.extend(by_q10.as_ref().and_then(doubtful));
        fits.q10 = by_q10.map(|fit| letter(fit.q10, None, Some(fit.q10_ci)));
        fits.arrhenius = fits.kept("Arrhenius", arrhenius(eggs, Level::P95)).map(|fit| letter(fit.Ea_eV, Some(fit.se_ea), None));
        if let [one, other] = eggs {
            fits.two_point = two_point(*one, *other).ok().map(|found| numbers::rounded(found.q10, LETTER_DECIMALS));
            fits.notes.push("two_point_q10: two cases only, no error can be given; doubt it".to_owned());
        }
        fits
    }

    fn kept<Fit>(&mut self, what: &str, found: Result<Fit, Error>) -> Option<Fit> {
        let (absent, says) = match found {
            Ok(fit) => return Some(fit),
            Err(Error::NotEstimable(reason)) => (Absent::from(&reason), format!("{what}: {reason}")),
            Err(Error::Input(wrong)) => (Absent::new("not estimable", wrong.to_string()), format!("{what}: {wrong}")),
        };
        self.absent.get_or_insert(absent);
        self.notes.push(says);
        None
    }
}

fn points(eggs: &[Incubation]) -> Vec<PointFitted> {
    let told = |egg: &Incubation| PointFitted { temperature_c: numbers::rounded(egg.temperature_c, 2), days: egg.days };
    let mut points: Vec<PointFitted> = eggs.iter().map(told).collect();
    points.sort_by(|a, b| (a.temperature_c, a.days).partial_cmp(&(b.temperature_c, b.days)).unwrap_or(std::cmp::Ordering::Equal));
    points
}

/// What is to be said of a Q10 that no egg is known to have.
fn doubtful(found: &Q10) -> Option<String> {
    let plausible = Q10_PLAUSIBLE_MIN..=Q10_PLAUSIBLE_MAX;
    let span_c = numbers::rounded(found.basis.temperature_max_c - found.basis.temperature_min_c, 2);
    (!plausible.contains(&found.q10)).then(|| {
        format!(
            "Q10: it lies outside {Q10_PLAUSIBLE_MIN} to {Q10_PLAUSIBLE_MAX}; the waters counted differ by {span_c} °C only: \
             doubt it"
        )
    })
}

/// Only over the temperatures that were fitted.
fn on_line(found: &Q10) -> Vec<OnFit> {
    let (from, to) = (found.basis.temperature_min_c, found.basis.temperature_max_c);
    let on = |at: u32| {
        let told = found.predict(from + (to - from) * f64::from(at) / f64::from(LINE_STEPS)).ok()?;
        let days = |days: f64| numbers::rounded(days, 1);
        let prediction_95 = told.days_pi_lower.zip(told.days_pi_upper).map(|(lower, upper)| [days(lower), days(upper)]);
        Some(OnFit { temperature_c: numbers::rounded(told.temperature_c, 2), days: days(told.days?), prediction_95 })
    };
    (0..=LINE_STEPS).filter_map(on).collect()
}

fn letter(estimate: f64, se: Option<f64>, limits: Option<Interval>) -> Letter {
    let round = |value: f64| numbers::rounded(value, LETTER_DECIMALS);
    Letter { estimate: round(estimate), se: se.map(round), limits_95: limits.map(|found| [round(found.lower), round(found.upper)]) }
}
