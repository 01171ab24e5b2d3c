//! k of n, and how far the truth may lie from it.
//!
//! Wilson's interval is the one to show (Wilson 1927; Newcombe 1998 Stat Med 17:857; Brown, Cai &
//! DasGupta 2001 Stat Sci 16:101); Clopper and Pearson's (1934 Biometrika 26:404) is the one that
//! guarantees its level and therefore serves thresholds. Wald's is not offered: it says [0, 0] at 0
//! of n.

use serde::Serialize;

use crate::beta;
use crate::confidence::{Interval, Level};
use crate::reason::{Error, InvalidInput, Reason};

/// Up to so many cases the methods are accurate and quick; a table beyond it is refused.
pub const CASES_MAX: u64 = 1 << 30;

/// A proportion with both intervals, as reports print it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Proportion {
    /// The level of both intervals.
    pub level: Level,
    /// Cases with the event.
    pub k: u64,
    /// All cases counted.
    pub n: u64,
    /// `k / n`.
    pub estimate: f64,
    /// Wilson's score interval.
    pub wilson: Interval,
    /// Clopper and Pearson's guaranteed interval.
    pub clopper_pearson: Interval,
}

/// Events among cases: one side of a comparison, or one cluster.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tally {
    /// Cases with the event.
    pub k: u64,
    /// All cases counted.
    pub n: u64,
}

/// A difference of two proportions.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Difference {
    /// The level of the interval.
    pub level: Level,
    /// First minus second.
    pub estimate: f64,
    /// Newcombe's hybrid of two Wilson intervals.
    pub newcombe: Interval,
}

impl Tally {
    /// Refuses more events than cases and tables too large; says "no data" when there are no cases.
    pub(crate) fn check(self) -> Result<Tally, Error> {
        let Tally { k, n } = self;
        if k > n {
            return Err(InvalidInput::CountAboveTotal { k, n }.into());
        }
        if n > CASES_MAX {
            return Err(InvalidInput::TooManyCases { n, max: CASES_MAX }.into());
        }
        if n == 0 {
            return Err(Reason::NoData.into());
        }
        Ok(self)
    }

    fn estimate(self) -> f64 {
        self.k as f64 / self.n as f64
    }
}

/// `k` of `n` with both intervals.
///
/// Fails with [`Reason::NoData`] for `n = 0` and with [`InvalidInput`] when `k > n` or
/// `n > `[`CASES_MAX`].
pub fn proportion(k: u64, n: u64, level: Level) -> Result<Proportion, Error> {
    let estimate = Tally { k, n }.check()?.estimate();
    let wilson = wilson(k, n, level)?;
    let clopper_pearson = clopper_pearson(k, n, level)?;
    Ok(Proportion { level, k, n, estimate, wilson, clopper_pearson })
}

/// Wilson's score interval; exactly 0 below at `k = 0`, exactly 1 above at `k = n`.
///
/// Fails as [`proportion`] does.
pub fn wilson(k: u64, n: u64, level: Level) -> Result<Interval, Error> {
    Tally { k, n }.check()?;
    Ok(wilson_of_real(k as f64, n as f64, level))
}

/// The same for counts that need not be whole, such as effective sample sizes; `0 <= x <= n`, `n > 0`.
pub(crate) fn wilson_of_real(x: f64, n: f64, level: Level) -> Interval {
    let (p, zz) = (x / n, level.z() * level.z());
    let centre = p + zz / (2.0 * n);
    let half = (zz * (p * (1.0 - p) / n + zz / (4.0 * n * n))).sqrt();
    let shrink = 1.0 + zz / n;
    // Rounding would leave 1e-17 at the ends, and a report would print "0 of 20: from -0 %".
    let lower = if x <= 0.0 { 0.0 } else { (centre - half) / shrink };
    let upper = if x >= n { 1.0 } else { (centre + half) / shrink };
    Interval { lower: lower.max(0.0), upper: upper.min(1.0) }
}

/// Clopper and Pearson's interval: the proportions that an exact binomial test would not reject, by
/// the quantiles of the beta distribution. Exactly 0 below at `k = 0`, exactly 1 above at `k = n`.
///
/// Fails as [`proportion`] does.
pub fn clopper_pearson(k: u64, n: u64, level: Level) -> Result<Interval, Error> {
    Tally { k, n }.check()?;
    let tail = level.alpha() / 2.0;
    let (hits, misses) = (k as f64, (n - k) as f64);
    let lower = match k {
        0 => 0.0,
        _ => beta::quantile_of_lower_tail(hits, misses + 1.0, tail),
    };
    let upper = match n - k {
        0 => 1.0,
        _ => beta::quantile_of_upper_tail(hits + 1.0, misses, tail),
    };
    Ok(Interval { lower, upper })
}

/// First proportion minus second, with Newcombe's interval (1998 Stat Med 17:873, method 10).
///
/// Fails as [`proportion`] does, for either side.
pub fn newcombe_difference(first: Tally, second: Tally, level: Level) -> Result<Difference, Error> {
    let (p, q) = (first.check()?.estimate(), second.check()?.estimate());
    let (of_p, of_q) = (wilson(first.k, first.n, level)?, wilson(second.k, second.n, level)?);
    let estimate = p - q;
    let lower = estimate - libm::hypot(p - of_p.lower, of_q.upper - q);
    let upper = estimate + libm::hypot(of_p.upper - p, q - of_q.lower);
    Ok(Difference { level, estimate, newcombe: Interval { lower: lower.max(-1.0), upper: upper.min(1.0) } })
}
