//! The thermal sum fitted to the days themselves, by Gauss and Newton.

use serde::Serialize;

use super::Incubation;
use super::fit::{Basis, basis, thermal_sum};
use crate::confidence::Level;
use crate::reason::{Error, Reason};

/// Steps after which the search is given up; a fit that exists takes fewer than ten.
const STEPS_MAX: u64 = 100;

/// A step is cut in half so many times before it is taken to lead nowhere.
const HALVINGS_MAX: usize = 60;

/// The search ends where a step moves both letters by less than this part of themselves.
const STEP_PART: f64 = 1e-10;

/// Steps below this part are taken whole: the sums of squares before and after are alike to their
/// last digits, and comparing them would stop the search halfway.
const NEAR_PART: f64 = 1e-4;

/// The thermal sum `D = K/(T - T0)`, fitted by least squares on the days.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[allow(non_snake_case, reason = "the letters of the field: T0 and K")]
pub struct DaysFit {
    /// On what it rests.
    #[serde(flatten)]
    pub basis: Basis,
    /// The thermal sum, in d °C.
    pub K: f64,
    /// Temperature at which development stops, in °C.
    pub T0: f64,
    /// Standard error of `K`, by the curvature at the end.
    #[serde(rename = "se_K")]
    pub se_k: f64,
    /// Standard error of `T0`, by the curvature at the end.
    #[serde(rename = "se_T0")]
    pub se_t0: f64,
    /// Residual standard error, in days: `sqrt(rss/df)`.
    pub sigma: f64,
    /// Sum of squared residuals, in d².
    pub rss: f64,
    /// Degrees of freedom: incubations less 2.
    pub df: usize,
    /// Steps that the search took.
    pub iterations: u64,
}

/// Two letters: `K` and `T0`.
#[derive(Clone, Copy)]
struct Letters {
    k: f64,
    t0: f64,
}

impl Letters {
    /// Whether this step moves both letters by less than a part of themselves.
    fn below(self, part: f64, at: Letters) -> bool {
        self.k.abs() <= part * at.k.abs() && self.t0.abs() <= part * (at.t0.abs() + 1.0)
    }
}

/// `J'J`, and `J'r`, of the residuals `r = D - K/(T - T0)`.
#[derive(Default)]
struct Normal {
    kk: f64,
    kt: f64,
    tt: f64,
    k: f64,
    t: f64,
}

/// Fits `D = K/(T - T0)` by least squares on the days, `min sum (D - K/(T - T0))^2`, searched by
/// Gauss and Newton with halved steps (Bates & Watts 1988, Nonlinear Regression Analysis, ch. 2) from
/// the line of [`thermal_sum`]. Standard errors are those of the tangent plane,
/// `sigma^2 (J'J)^-1`, as R's `nls` gives them.
///
/// It gives long incubations, the cold ones, more say than [`thermal_sum`] does, and takes the error
/// to be of one size in days. Not for prediction intervals: prefer the logarithmic forms.
///
/// Fails as [`thermal_sum`] does, and with [`Reason::NotConverged`].
pub fn thermal_sum_on_days(incubations: &[Incubation], level: Level) -> Result<DaysFit, Error> {
    let (basis, line) = (basis(incubations, level)?, thermal_sum(incubations, level)?);
    // The line may stop above the coldest egg, where the curve has no value: begin below it.
    let mut at = Letters { k: line.K, t0: line.T0 };
    if at.t0 >= basis.temperature_min_c {
        at = from_threshold(incubations, basis.temperature_min_c - 1.0);
    }
    let mut iterations = 0;
    loop {
        let normal = Normal::at(incubations, at);
        let step = step(&normal);
        let next = match step.below(STEP_PART, at) {
            true => None,
            false if step.below(NEAR_PART, at) => Some(Letters { k: at.k + step.k, t0: at.t0 + step.t0 }),
            false => better(incubations, at, step, basis.temperature_min_c),
        };
        let Some(next) = next else { return Ok(done(incubations, basis, at, iterations)) };
        (at, iterations) = (next, iterations + 1);
        if iterations >= STEPS_MAX {
            // What the next step would bring, in units of the log-likelihood of normal errors.
            let variance = rss(incubations, at) / (incubations.len() - 2) as f64;
            let gap = (step.k * normal.k + step.t0 * normal.t) / (2.0 * variance);
            return Err(Reason::NotConverged { iterations, gap }.into());
        }
    }
}

/// The best `K` under a threshold: the curve is a line in it.
fn from_threshold(incubations: &[Incubation], t0: f64) -> Letters {
    let per = |egg: &Incubation| 1.0 / (egg.temperature_c - t0);
    let top: f64 = incubations.iter().map(|egg| egg.days * per(egg)).sum();
    let bottom: f64 = incubations.iter().map(|egg| per(egg) * per(egg)).sum();
    Letters { k: top / bottom, t0 }
}

impl Normal {
    fn at(incubations: &[Incubation], at: Letters) -> Self {
        let mut sum = Self::default();
        for egg in incubations {
            let per = 1.0 / (egg.temperature_c - at.t0);
            let (by_k, by_t0, residual) = (per, at.k * per * per, egg.days - at.k * per);
            sum.kk += by_k * by_k;
            sum.kt += by_k * by_t0;
            sum.tt += by_t0 * by_t0;
            sum.k += by_k * residual;
            sum.t += by_t0 * residual;
        }
        sum
    }

    /// Two temperatures at least make this positive.
    fn determinant(&self) -> f64 {
        self.kk * self.tt - self.kt * self.kt
    }
}

fn step(sum: &Normal) -> Letters {
    let by = sum.determinant();
    Letters { k: (sum.tt * sum.k - sum.kt * sum.t) / by, t0: (sum.kk * sum.t - sum.kt * sum.k) / by }
}

fn rss(incubations: &[Incubation], at: Letters) -> f64 {
    incubations.iter().map(|egg| egg.days - at.k / (egg.temperature_c - at.t0)).map(|r| r * r).sum()
}

/// The whole step, or the largest half of a half that brings the curve nearer; nothing where none does.
fn better(incubations: &[Incubation], at: Letters, step: Letters, coldest_c: f64) -> Option<Letters> {
    let before = rss(incubations, at);
    let cut = |halvings: usize| 0.5f64.powi(i32::try_from(halvings).unwrap_or(i32::MAX));
    let tried = (0..HALVINGS_MAX).map(|halvings| {
        let part = cut(halvings);
        Letters { k: at.k + part * step.k, t0: at.t0 + part * step.t0 }
    });
    let mut tried = tried.filter(|next| next.t0 < coldest_c && next.k > 0.0);
    tried.find(|next| rss(incubations, *next) < before)
}

fn done(incubations: &[Incubation], basis: Basis, at: Letters, iterations: u64) -> DaysFit {
    let (rss, df, sum) = (rss(incubations, at), incubations.len() - 2, Normal::at(incubations, at));
    let variance = rss / df as f64;
    let se = |diagonal: f64| (variance * diagonal / sum.determinant()).sqrt();
    DaysFit { basis, K: at.k, T0: at.t0, se_k: se(sum.tt), se_t0: se(sum.kk), sigma: variance.sqrt(), rss, df, iterations }
}
