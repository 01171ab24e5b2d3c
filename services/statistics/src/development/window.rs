//! The days between which development will be complete, how far it has come, and what both rest on.

use serde::Serialize;

use super::bands::Bands;
use super::course::{Course, Stay};
use super::grid::Grid;
use super::law::Law;
use super::no_forecast::NoForecast;
use super::track::{Ahead, Filling};
use crate::incubation::Gap;

/// Quantiles are found to this part of a day.
const DAY_PRECISION: f64 = 1e-2;

/// Fractions are found to this.
const FRACTION_PRECISION: f64 = 1e-4;

/// And a probability that is met to this needs no further search.
const PROBABILITY_PRECISION: f64 = 1e-6;

/// Steps after which a search ends, whatever it has found.
const STEPS_MAX: u32 = 64;

/// What was seen at a look.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Sighting {
    /// A band of the table.
    Band(usize),
    /// Whether the slits were open: they open about `at`, a fraction of development.
    Slits {
        /// Seen open, or seen closed.
        open: bool,
        /// The fraction about which they open.
        at: f64,
        /// Its deviation.
        sd: f64,
    },
}

/// A look.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    /// When, in days on the scale of the readings.
    pub day: f64,
    /// What was seen.
    pub saw: Sighting,
}

/// One individual.
#[derive(Clone, Copy, Debug)]
pub struct Case<'a> {
    /// Where it was: at least one stay, in order.
    pub stays: &'a [Stay<'a>],
    /// Development began after this day.
    pub begun_from_day: f64,
    /// And before this one.
    pub begun_to_day: f64,
    /// Today.
    pub now_day: f64,
    /// What was seen.
    pub looks: &'a [Look],
    /// Known not to be complete and out by this day.
    pub waiting_day: Option<f64>,
}

/// Days by which development is complete, with their probability.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Window {
    /// With probability 5 %.
    pub p05_day: f64,
    /// 25 %.
    pub p25_day: f64,
    /// 50 %.
    pub p50_day: f64,
    /// 75 %.
    pub p75_day: f64,
    /// 95 %.
    pub p95_day: f64,
}

/// The fraction developed, complete being 1.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Fraction {
    /// 5 % quantile.
    pub p05: f64,
    /// Median.
    pub p50: f64,
    /// 95 % quantile.
    pub p95: f64,
}

/// When development is complete, and on what that rests.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Development {
    /// By the temperatures, the start and the looks alone.
    pub expected: Window,
    /// Given also that it is still waiting; nothing if the grid leaves no room for that.
    pub window: Option<Window>,
    /// How far it has come today.
    pub fraction: Fraction,
    /// Probability that it was complete before today, by `expected`.
    pub probability_past: f64,
    /// Mean temperature so far, in °C.
    pub mean_c: f64,
    /// The water after the last reading, held.
    pub ahead_c: f64,
    /// Its deviation, in °C.
    pub ahead_sd_c: f64,
    /// Days so far before the first or after the last reading of the water of that time, for which
    /// the nearest were taken.
    pub unread_days: f64,
    /// Days so far outside the temperatures of the law.
    pub outside_days: f64,
    /// Stretches so far without readings for too long.
    pub gaps: Vec<Gap>,
    /// `expected` if every gap had been as warm as the warmer of its readings.
    pub if_gaps_warm: Option<Window>,
    /// And as cold as the colder.
    pub if_gaps_cold: Option<Window>,
    /// How well all looks together agree with the model: their mean likelihood under it, 1 without any.
    pub agreement: f64,
}

/// When the development of one individual is complete.
///
/// Fails with [`NoForecast`] where the readings do not allow it: none, outside the temperatures of
/// the law for too long or now, or looks that exclude each other.
pub fn develop(law: &Law, bands: &Bands, case: &Case<'_>) -> Result<Development, NoForecast> {
    let course = checked(case)?;
    let warmth = within_range(law, &course, case)?;
    let gaps: Vec<Gap> = course.parts(case.begun_from_day, case.now_day).flat_map(|(stay, from, to)| stay.track.gaps(from, to)).collect();
    let grid = Grid::new(law, bands, &course, case);
    if grid.agreement <= 0.0 {
        return Err(NoForecast::Contradictory);
    }
    let span = (case.begun_from_day, law.reference_days);
    let bounded = |filling: Filling| {
        let course = Course::new(case.stays, filling);
        let grid = Grid::new(law, bands, &course, case);
        (!gaps.is_empty()).then(|| quantiles(span, |day| grid.complete_by(day)))
    };
    let Ahead { mean_c: ahead_c, sd_c: ahead_sd_c } = course.last().track.ahead();
    let expected = quantiles(span, |day| grid.complete_by(day));
    Ok(Development {
        expected,
        window: case.waiting_day.map_or(Some(expected), |still| waiting(&grid, span, still)),
        fraction: fraction(&grid, case.now_day),
        probability_past: grid.complete_by(case.now_day),
        mean_c: warmth.mean_c,
        ahead_c,
        ahead_sd_c,
        unread_days: warmth.unread_days,
        outside_days: warmth.outside_days,
        if_gaps_warm: if gaps.is_empty() { None } else { bounded(Filling::Warm) },
        if_gaps_cold: if gaps.is_empty() { None } else { bounded(Filling::Cold) },
        gaps,
        agreement: grid.agreement,
    })
}

/// The temperatures of a time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Warmth {
    /// Mean by time, in °C.
    pub mean_c: f64,
    /// Days outside the temperatures of the law.
    pub outside_days: f64,
    /// Days before the first or after the last reading of the water of that time.
    pub unread_days: f64,
}

/// The temperatures from one day to a later one; nothing without a stay or without time.
#[must_use]
pub fn warmth(stays: &[Stay<'_>], from_day: f64, to_day: f64) -> Option<Warmth> {
    let days = to_day - from_day;
    if stays.is_empty() || days.is_nan() || days <= 0.0 {
        return None;
    }
    let course = Course::new(stays, Filling::Straight);
    let (degree_days, outside_days) = course.warmth(from_day, to_day);
    let unread = |(stay, from, to): (&Stay<'_>, f64, f64)| {
        let log = stay.track.log();
        (log.begins_day().min(to) - from).max(0.0) + (to - log.ends_day().max(from)).max(0.0)
    };
    let unread_days = course.parts(from_day, to_day).map(unread).sum();
    Some(Warmth { mean_c: degree_days / days, outside_days, unread_days })
}

/// The steady temperature at which development by these tracks' rate would have come as far from one
/// day to a later one; nothing without a stay, without time, or for a rate without a slope.
///
/// The mean temperature understates a rate that rises ever more steeply (Jensen; the Kaufmann effect,
/// Worner 1992 Environ Entomol 21:689): days at a swinging temperature belong to a warmer point.
#[must_use]
pub fn effective_c(law: &Law, stays: &[Stay<'_>], from_day: f64, to_day: f64) -> Option<f64> {
    let days = to_day - from_day;
    if stays.is_empty() || days.is_nan() || days <= 0.0 || law.slope_per_c <= 0.0 {
        return None;
    }
    let course = Course::new(stays, Filling::Straight);
    let [from, to] = [from_day, to_day].map(|day| course.sums_to(day)[0][super::course::MIDDLE]);
    let rate = (to - from) * law.reference_days / days;
    (rate > 0.0).then(|| law.reference_c + libm::log(rate) / law.slope_per_c)
}

fn checked<'a>(case: &Case<'a>) -> Result<Course<'a>, NoForecast> {
    if case.stays.is_empty() {
        return Err(NoForecast::NoReadings);
    }
    let finite = [("begun_from_day", case.begun_from_day), ("begun_to_day", case.begun_to_day), ("now_day", case.now_day)];
    for (field, found) in finite {
        if !found.is_finite() {
            return Err(NoForecast::Unusable { field, found, give: "a finite number of days" });
        }
    }
    if case.begun_to_day < case.begun_from_day {
        return Err(NoForecast::Unusable { field: "begun_to_day", found: case.begun_to_day, give: "a day not before begun_from_day" });
    }
    Ok(Course::new(case.stays, Filling::Straight))
}

/// No window from temperatures that the law does not know.
fn within_range(law: &Law, course: &Course<'_>, case: &Case<'_>) -> Result<Warmth, NoForecast> {
    let from = (case.begun_from_day + case.begun_to_day) / 2.0;
    let track = course.last().track;
    let (low_c, high_c, ahead_c) = (law.low_c, law.high_c, track.ahead().mean_c);
    let days = case.now_day - from;
    let just_begun = Warmth { mean_c: ahead_c, outside_days: 0.0, unread_days: 0.0 };
    let warmth = warmth(case.stays, from, case.now_day).unwrap_or(just_begun);
    if warmth.outside_days > track.settings.outside_share_max * days.max(0.0) {
        let outside_percent = 100.0 * warmth.outside_days / days;
        return Err(NoForecast::OutsideRange { low_c, high_c, mean_c: warmth.mean_c, outside_percent });
    }
    if !track.covers(ahead_c) {
        return Err(NoForecast::OutsideRangeAhead { low_c, high_c, ahead_c });
    }
    Ok(warmth)
}

fn waiting(grid: &Grid<'_, '_>, span: (f64, f64), still: f64) -> Option<Window> {
    let by_then = grid.sums_at(still);
    let room = grid.complete_between(&by_then, f64::INFINITY);
    (room > 0.0).then(|| quantiles((still.max(span.0), span.1), |day| grid.complete_between(&by_then, day) / room))
}

fn quantiles(span: (f64, f64), by: impl Fn(f64) -> f64) -> Window {
    let (mut low, mut width) = (span.0, span.1);
    while by(low + width) < 0.95 && width.is_finite() && width < 1e3 * span.1 {
        width *= 2.0;
    }
    let high = low + width;
    let mut day = |probability: f64| {
        let found = root(low, high, DAY_PRECISION, |day| by(day) - probability);
        low = found;
        found
    };
    Window { p05_day: day(0.05), p25_day: day(0.25), p50_day: day(0.5), p75_day: day(0.75), p95_day: day(0.95) }
}

fn fraction(grid: &Grid<'_, '_>, now_day: f64) -> Fraction {
    let sums = grid.sums_at(now_day);
    let by = |fraction: f64| grid.fraction_by(&sums, fraction);
    let of = |probability: f64| root(FRACTION_PRECISION, 1.0, FRACTION_PRECISION, |fraction| by(fraction) - probability);
    Fraction { p05: of(0.05), p50: of(0.5), p95: of(0.95) }
}

/// Where a rising function crosses 0 between two points: the secant, halved where it lags
/// (Illinois). Below 0 throughout it is the upper end, above 0 throughout the lower.
fn root(low: f64, high: f64, precision: f64, of: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (low, high);
    let (mut at_low, mut at_high) = (of(low), of(high));
    if at_low >= 0.0 {
        return low;
    }
    if at_high <= 0.0 {
        return high;
    }
    let mut lag = 0_i8;
    for step in 0..STEPS_MAX {
        if high - low <= precision {
            break;
        }
        // A flat stretch would hold the secant: every third step halves.
        let part = if step % 3 == 2 { 0.5 } else { at_low / (at_low - at_high) };
        let middle = low + (high - low) * part;
        let found = of(middle);
        if found.abs() < PROBABILITY_PRECISION {
            return middle;
        }
        if found < 0.0 {
            (low, at_low) = (middle, found);
            at_high /= if lag < 0 { 2.0 } else { 1.0 };
            lag = -1;
        } else {
            (high, at_high) = (middle, found);
            at_low /= if lag > 0 { 2.0 } else { 1.0 };
            lag = 1;
        }
    }
    high
}
