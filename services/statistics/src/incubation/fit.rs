//! The three forms fitted to completed incubations at steady temperatures.

use serde::Serialize;

use super::line::{Line, OnLine};
use super::{BOLTZMANN_EV_K, GIVE_DAYS, GIVE_TEMPERATURE, ZERO_C_IN_K, is_positive, is_temperature};
use crate::confidence::{Interval, Level};
use crate::reason::{Error, InvalidInput, Reason, value_or_reason};

/// A line and its error need as many points.
const INCUBATIONS_MIN: usize = 3;

/// One egg: laid and hatched at about this temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Incubation {
    /// Mean temperature of its water, in °C.
    pub temperature_c: f64,
    /// From laying to hatching, in days.
    pub days: f64,
}

/// How long a new egg will take at a temperature.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Prediction {
    /// The temperature, in °C.
    pub temperature_c: f64,
    /// The days expected; nothing where the fitted rate is not above 0.
    pub days: Option<f64>,
    /// Prediction interval of one new egg, lower limit in days.
    pub days_pi_lower: Option<f64>,
    /// Upper limit in days; nothing where it has no end.
    pub days_pi_upper: Option<f64>,
    /// The temperature lies outside those that were fitted: the line is only guessed on.
    pub outside_fitted_range: bool,
}

/// On what a fit rests.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Basis {
    /// Incubations fitted.
    pub n: usize,
    /// The coldest, in °C.
    pub temperature_min_c: f64,
    /// The warmest, in °C.
    pub temperature_max_c: f64,
    /// The level of all intervals.
    pub level: Level,
}

/// The thermal sum `D = K/(T - T0)`, fitted as the line `1/D = a + b T`.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[allow(non_snake_case, reason = "the letters of the field: T0 and K")]
pub struct ThermalSum {
    /// On what it rests.
    #[serde(flatten)]
    pub basis: Basis,
    /// Intercept of the rate, in 1/d.
    pub a: f64,
    /// Slope of the rate, in 1/(d °C).
    pub b: f64,
    /// Standard error of `a`.
    pub se_a: f64,
    /// Standard error of `b`.
    pub se_b: f64,
    /// Covariance of the two.
    pub cov_ab: f64,
    /// Residual standard error of the rate, in 1/d.
    pub sigma: f64,
    /// Degrees of freedom.
    pub df: usize,
    /// Temperature at which the line reaches 0, in °C: `-a/b`.
    pub T0: f64,
    /// Standard error of `T0` by the delta method.
    #[serde(rename = "se_T0_delta")]
    pub se_t0_delta: f64,
    /// Fieller's interval of `T0`, which may have no ends.
    #[serde(rename = "T0_fieller", serialize_with = "value_or_reason")]
    pub t0_fieller: Result<Interval, Reason>,
    /// The thermal sum, in d °C: `1/b`.
    pub K: f64,
    /// Standard error of `K` by the delta method.
    #[serde(rename = "se_K_delta")]
    pub se_k_delta: f64,
    #[serde(skip)]
    line: Line,
}

/// Q10, fitted as the line `ln D = a + b T`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Q10 {
    /// On what it rests.
    #[serde(flatten)]
    pub basis: Basis,
    /// Intercept of `ln D`.
    pub a: f64,
    /// Slope of `ln D`, in 1/°C.
    pub b: f64,
    /// Standard error of `b`.
    pub se_b: f64,
    /// Residual standard error of `ln D`.
    pub sigma: f64,
    /// Degrees of freedom.
    pub df: usize,
    /// How many times faster 10 °C warmer: `exp(-10 b)`.
    #[serde(rename = "Q10")]
    pub q10: f64,
    /// Its interval, from that of `b`.
    #[serde(rename = "Q10_ci")]
    pub q10_ci: Interval,
    #[serde(skip)]
    line: Line,
}

/// Arrhenius, fitted as the line `ln D = a + Ea/(kB T)` with `T` in K.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[allow(non_snake_case, reason = "the letters of the field: Ea in eV")]
pub struct Arrhenius {
    /// On what it rests.
    #[serde(flatten)]
    pub basis: Basis,
    /// Intercept of `ln D`.
    pub a: f64,
    /// Apparent activation energy, in eV.
    pub Ea_eV: f64,
    /// Its standard error, in eV.
    #[serde(rename = "se_Ea")]
    pub se_ea: f64,
    /// Residual standard error of `ln D`.
    pub sigma: f64,
    /// Degrees of freedom.
    pub df: usize,
    #[serde(skip)]
    line: Line,
}

/// Fits the thermal sum by regression of the rate: `1/D = a + b T`, `T0 = -a/b`, `K = 1/b`.
///
/// Standard errors by the delta method, the interval of `T0` by Fieller 1954 (JRSSB 16:175). The
/// error is taken to be of one size on the scale of the rate. Campbell et al. 1974 (J Appl Ecol
/// 11:431) use this line. Not for temperatures so warm that development slows again.
///
/// Fails with [`InvalidInput`] naming the row, with [`Reason::SingleTemperature`],
/// [`Reason::TooFewIncubations`] and, where warmth does not quicken, [`Reason::RateDoesNotRise`].
pub fn thermal_sum(incubations: &[Incubation], level: Level) -> Result<ThermalSum, Error> {
    let basis = basis(incubations, level)?;
    let line = line(incubations, basis, |egg| (egg.temperature_c, 1.0 / egg.days))?;
    let Line { a, b, se_a, se_b, cov_ab, sigma, df, .. } = line;
    if b <= 0.0 {
        return Err(Reason::RateDoesNotRise { slope_per_day_c: b }.into());
    }
    let variance = se_a * se_a + a * a / (b * b) * se_b * se_b - 2.0 * a / b * cov_ab;
    Ok(ThermalSum {
        basis,
        a,
        b,
        se_a,
        se_b,
        cov_ab,
        sigma,
        df,
        T0: -a / b,
        se_t0_delta: variance.max(0.0).sqrt() / b,
        t0_fieller: fieller(&line, level),
        K: 1.0 / b,
        se_k_delta: se_b / (b * b),
        line,
    })
}

/// Fits Q10 by regression of `ln D` on temperature: `Q10 = exp(-10 b)`.
///
/// The error is taken to be a part of the duration, which is the more plausible; prefer this form
/// or [`arrhenius`] for prediction intervals.
///
/// Fails with [`InvalidInput`] naming the row, with [`Reason::SingleTemperature`] and
/// [`Reason::TooFewIncubations`].
pub fn q10(incubations: &[Incubation], level: Level) -> Result<Q10, Error> {
    let basis = basis(incubations, level)?;
    let line = line(incubations, basis, |egg| (egg.temperature_c, libm::log(egg.days)))?;
    let Line { a, b, se_b, sigma, df, .. } = line;
    let (of, spread) = (|slope: f64| libm::exp(-10.0 * slope), line.t(level) * se_b);
    let q10_ci = Interval { lower: of(b + spread), upper: of(b - spread) };
    Ok(Q10 { basis, a, b, se_b, sigma, df, q10: of(b), q10_ci, line })
}

/// Fits Arrhenius by regression of `ln D` on `1/(kB T)`.
///
/// Fails with [`InvalidInput`] naming the row, with [`Reason::SingleTemperature`] and
/// [`Reason::TooFewIncubations`].
pub fn arrhenius(incubations: &[Incubation], level: Level) -> Result<Arrhenius, Error> {
    let basis = basis(incubations, level)?;
    let line = line(incubations, basis, |egg| (per_ev(egg.temperature_c), libm::log(egg.days)))?;
    let Line { a, b, se_b, sigma, df, .. } = line;
    Ok(Arrhenius { basis, a, Ea_eV: b, se_ea: se_b, sigma, df, line })
}

/// `1/(kB T)`, in 1/eV.
pub(super) fn per_ev(temperature_c: f64) -> f64 {
    1.0 / (BOLTZMANN_EV_K * (temperature_c + ZERO_C_IN_K))
}

impl ThermalSum {
    /// Days of a new egg at this temperature: the interval of the rate, turned over.
    ///
    /// Fails with [`InvalidInput::Quantity`].
    pub fn predict(&self, temperature_c: f64) -> Result<Prediction, InvalidInput> {
        let (on, spread) = at(&self.line, self.basis.level, temperature_c, temperature_c)?;
        let days = |rate: f64| (rate > 0.0).then(|| 1.0 / rate);
        Ok(self.basis.prediction(temperature_c, days(on.y), days(on.y + spread), days(on.y - spread)))
    }
}

impl Q10 {
    /// Days of a new egg at this temperature.
    ///
    /// Fails with [`InvalidInput::Quantity`].
    pub fn predict(&self, temperature_c: f64) -> Result<Prediction, InvalidInput> {
        let (on, spread) = at(&self.line, self.basis.level, temperature_c, temperature_c)?;
        Ok(self.basis.of_logarithms(temperature_c, on.y, spread))
    }
}

impl Arrhenius {
    /// Days of a new egg at this temperature.
    ///
    /// Fails with [`InvalidInput::Quantity`].
    pub fn predict(&self, temperature_c: f64) -> Result<Prediction, InvalidInput> {
        let (on, spread) = at(&self.line, self.basis.level, temperature_c, per_ev(temperature_c))?;
        Ok(self.basis.of_logarithms(temperature_c, on.y, spread))
    }
}

impl Basis {
    fn prediction(&self, temperature_c: f64, days: Option<f64>, lower: Option<f64>, upper: Option<f64>) -> Prediction {
        let outside_fitted_range = temperature_c < self.temperature_min_c || temperature_c > self.temperature_max_c;
        Prediction { temperature_c, days, days_pi_lower: lower, days_pi_upper: upper, outside_fitted_range }
    }

    fn of_logarithms(&self, temperature_c: f64, ln_days: f64, spread: f64) -> Prediction {
        let days = |ln_days: f64| Some(libm::exp(ln_days));
        self.prediction(temperature_c, days(ln_days), days(ln_days - spread), days(ln_days + spread))
    }
}

/// The line at `x` and half the width of its prediction interval.
fn at(line: &Line, level: Level, temperature_c: f64, x: f64) -> Result<(OnLine, f64), InvalidInput> {
    if !is_temperature(temperature_c) {
        return Err(InvalidInput::Quantity { field: "temperature_c", found: temperature_c, give: GIVE_TEMPERATURE });
    }
    let on = line.at(x);
    Ok((on, line.t(level) * on.se_new))
}

/// Checks every row; the range that they cover.
pub(super) fn basis(incubations: &[Incubation], level: Level) -> Result<Basis, Error> {
    for (row, egg) in incubations.iter().enumerate() {
        let wrong = |field, found, give| InvalidInput::RowQuantity { row, field, found, give };
        if !is_temperature(egg.temperature_c) {
            return Err(wrong("temperature_c", egg.temperature_c, GIVE_TEMPERATURE).into());
        }
        if !is_positive(egg.days) {
            return Err(wrong("days", egg.days, GIVE_DAYS).into());
        }
    }
    if incubations.is_empty() {
        return Err(Reason::NoData.into());
    }
    let temperatures = || incubations.iter().map(|egg| egg.temperature_c);
    let (coldest, warmest) = (temperatures().fold(f64::INFINITY, f64::min), temperatures().fold(f64::NEG_INFINITY, f64::max));
    Ok(Basis { n: incubations.len(), temperature_min_c: coldest, temperature_max_c: warmest, level })
}

/// The line through the transformed rows, refused where it would say nothing.
fn line(incubations: &[Incubation], basis: Basis, point: fn(&Incubation) -> (f64, f64)) -> Result<Line, Reason> {
    if basis.temperature_min_c == basis.temperature_max_c {
        return Err(Reason::SingleTemperature { temperature_c: basis.temperature_min_c });
    }
    let too_few = Reason::TooFewIncubations { n: incubations.len(), needed: INCUBATIONS_MIN };
    Line::through(incubations.iter().map(point)).ok_or(too_few)
}

/// Fieller's interval of `-a/b`: the `x` at which the line is not told from 0.
fn fieller(line: &Line, level: Level) -> Result<Interval, Reason> {
    let tt = line.t(level) * line.t(level);
    let Line { a, b, se_a, se_b, cov_ab, .. } = *line;
    let square = b * b - tt * se_b * se_b;
    let (linear, constant) = (a * b - tt * cov_ab, a * a - tt * se_a * se_a);
    let under_root = linear * linear - square * constant;
    if square <= 0.0 || under_root < 0.0 {
        return Err(Reason::Unbounded);
    }
    let root = under_root.sqrt();
    Ok(Interval { lower: (-linear - root) / square, upper: (-linear + root) / square })
}
