//! Replacement, generation time and rate of increase from survival and births by age.

use serde::Serialize;

use crate::reason::{Error, InvalidInput, Reason};

/// Relative step below which the rate has settled.
const SETTLED: f64 = 4.0 * f64::EPSILON;

/// Survival to an age and births there.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Births {
    /// The age, in days (or in any unit: the rate is per the same unit).
    pub age_days: f64,
    /// The part that lives to it.
    pub survival: f64,
    /// Births by one that lives to it: daughters where the table follows females.
    pub births: f64,
}

/// What a schedule of survival and births comes to.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Reproduction {
    /// `R0 = sum l m`: births by one newborn over its life.
    pub r0: f64,
    /// `T = sum x l m / R0`: mean age of a mother at births, in days.
    pub generation_days: f64,
    /// The root `r` of `sum exp(-r x) l m = 1`, per day.
    pub rate_per_day: f64,
    /// `exp(r)`: growth in one day.
    pub lambda: f64,
    /// `ln(R0)/T`, the approximation of the rate that tables print, for comparison.
    pub rate_approximate_per_day: f64,
}

/// Replacement `R0 = sum l m`, generation time `T = sum x l m / R0`, the exact root `r` of Euler and
/// Lotka's `sum exp(-r x) l m = 1` (Lotka 1925; Euler 1760) and `lambda = exp(r)`.
///
/// The rate is that of a closed population whose ages have settled, if the schedule went on for
/// ever: *not* a forecast for a collection that breeds to a plan. Births are counted at the ages
/// given; survival and births must be of one sex, daughters of females as a rule.
///
/// Fails with [`Reason::NoBirths`], with [`Reason::BirthsAtAgeZero`] when no rate can balance them,
/// and with [`InvalidInput::ClassValue`] naming the row.
pub fn reproduction(schedule: &[Births]) -> Result<Reproduction, Error> {
    for (row, births) in schedule.iter().enumerate() {
        value(row, "age_days", births.age_days)?;
        value(row, "survival", births.survival)?;
        value(row, "births", births.births)?;
    }
    let net: Vec<(f64, f64)> = schedule.iter().map(|b| (b.age_days, b.survival * b.births)).filter(|(_, net)| *net > 0.0).collect();
    let r0: f64 = net.iter().map(|(_, net)| net).sum();
    if r0 <= 0.0 {
        return Err(Reason::NoBirths.into());
    }
    let at_zero: f64 = net.iter().filter(|(age, _)| *age == 0.0).map(|(_, net)| net).sum();
    let generation_days = net.iter().map(|(age, net)| age * net).sum::<f64>() / r0;
    // The sum falls from there towards what is born at age 0: if that is 1 already, never to 1.
    if generation_days <= 0.0 || at_zero >= 1.0 {
        return Err(Reason::BirthsAtAgeZero.into());
    }
    let rate_approximate_per_day = libm::log(r0) / generation_days;
    let rate_per_day = rate(&net, rate_approximate_per_day);
    let lambda = libm::exp(rate_per_day);
    Ok(Reproduction { r0, generation_days, rate_per_day, lambda, rate_approximate_per_day })
}

pub(crate) fn value(row: usize, field: &'static str, found: f64) -> Result<f64, InvalidInput> {
    if found.is_finite() && found >= 0.0 { Ok(found) } else { Err(InvalidInput::ClassValue { row, field, found }) }
}

/// Newton's method on `g(r) = ln sum exp(-r x) l m`, which falls and is convex. `ln(R0)/T` lies at or
/// left of its root (Jensen), and from the left a convex function is approached without passing it.
fn rate(net: &[(f64, f64)], start: f64) -> f64 {
    let mut rate = start;
    loop {
        let (value, slope) = logarithm(net, rate);
        let step = -value / slope;
        rate += step;
        // Rounding alone makes a step that does not go right.
        if step <= SETTLED * rate.abs() || step.is_nan() {
            return rate;
        }
    }
}

/// `g` and its slope; the largest term is taken out first, so that nothing overflows.
fn logarithm(net: &[(f64, f64)], rate: f64) -> (f64, f64) {
    let exponent = |(age, net): &(f64, f64)| libm::log(*net) - rate * age;
    let largest = net.iter().map(exponent).fold(f64::NEG_INFINITY, f64::max);
    let (mut sum, mut by_age) = (0.0, 0.0);
    for term in net {
        let part = libm::exp(exponent(term) - largest);
        sum += part;
        by_age += term.0 * part;
    }
    (largest + libm::log(sum), -by_age / sum)
}
