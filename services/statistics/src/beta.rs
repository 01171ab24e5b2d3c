//! The regularised incomplete beta function and its inverse.
//!
//! Own code, since the usual routine ends its continued fraction after 140 terms and takes its
//! prefactor from differences of large log-gammas: both lose digits once the counts pass some
//! thousands. The fraction is DLMF 8.17.22 by the modified Lentz method, which needs about
//! `sqrt(max(a, b))` terms; the prefactor is Loader's saddle-point form of the binomial
//! probability (C. Loader 2000, "Fast and accurate computation of binomial probabilities"), which
//! never subtracts large numbers. The checks compare with 50-digit arithmetic.

use std::f64::consts::PI;

/// Relative step below which the continued fraction has settled.
const SETTLED: f64 = 4.0 * f64::EPSILON;

/// From here on the Stirling series below is good to the last digit.
const STIRLING_FROM: f64 = 15.0;

/// The two tails of the beta distribution with parameters `a`, `b` at `x`.
///
/// Each lies in [0, 1] and they add up to 1. A quantile taken from them is good to twelve significant
/// digits or to 1e-16, whichever is coarser: near 0 the spacing of `1 - x` is what limits it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tails {
    /// `P(X <= x)`, the regularised incomplete beta function.
    pub lower: f64,
    /// `P(X > x)`.
    pub upper: f64,
}

/// Both tails of the beta distribution at `x` in [0, 1], for finite `a`, `b` > 0.
pub fn tails(a: f64, b: f64, x: f64) -> Tails {
    debug_assert!(a > 0.0 && b > 0.0 && (0.0..=1.0).contains(&x));
    if x <= 0.0 {
        return Tails { lower: 0.0, upper: 1.0 };
    }
    if x >= 1.0 {
        return Tails { lower: 1.0, upper: 0.0 };
    }
    // `y` is carried along instead of being recomputed from `x`, which would lose it near 1.
    let y = 1.0 - x;
    let front = front(a, b, x, y);
    // The fraction converges fast only on its own side of the mean.
    if x < (a + 1.0) / (a + b + 2.0) {
        let lower = (front * b * fraction(a, b, x)).min(1.0);
        Tails { lower, upper: 1.0 - lower }
    } else {
        let upper = (front * a * fraction(b, a, y)).min(1.0);
        Tails { lower: 1.0 - upper, upper }
    }
}

/// The `x` whose lower tail is `p`, for `p` in (0, 1).
pub fn quantile_of_lower_tail(a: f64, b: f64, p: f64) -> f64 {
    bisect(|x| tails(a, b, x).lower < p)
}

/// The `x` whose upper tail is `p`, for `p` in (0, 1).
pub fn quantile_of_upper_tail(a: f64, b: f64, p: f64) -> f64 {
    bisect(|x| tails(a, b, x).upper > p)
}

/// Where `below` turns from true to false on [0, 1], to the last bit. Halving needs no starting
/// value, cannot leave the interval, and ends when no number is left between the two ends.
fn bisect(below: impl Fn(f64) -> bool) -> f64 {
    let (mut left, mut right) = (0.0_f64, 1.0_f64);
    loop {
        let middle = left + (right - left) / 2.0;
        if middle <= left || middle >= right {
            return middle;
        }
        if below(middle) {
            left = middle;
        } else {
            right = middle;
        }
    }
}

/// The binomial probability of `a` in `a + b` at `x`, divided by `a + b`, in Loader's form. Times `b`
/// it is `x^a y^b / (a B(a, b))`, times `a` it is `x^a y^b / (b B(a, b))`, the two factors that stand
/// before the continued fraction.
fn front(a: f64, b: f64, x: f64, y: f64) -> f64 {
    let n = a + b;
    let exponent = stirling_error(n) - stirling_error(a) - stirling_error(b) - deviance(a, n * x) - deviance(b, n * y);
    libm::exp(exponent) * (n / (2.0 * PI * a * b)).sqrt() / n
}

/// The continued fraction of DLMF 8.17.22, by the modified Lentz method.
fn fraction(a: f64, b: f64, x: f64) -> f64 {
    let mut d = nonzero(1.0 - (a + b) * x / (a + 1.0)).recip();
    let (mut c, mut value, mut m) = (1.0, d, 1.0);
    loop {
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        d = nonzero(1.0 + even * d).recip();
        c = nonzero(1.0 + even / c);
        value *= d * c;
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        d = nonzero(1.0 + odd * d).recip();
        c = nonzero(1.0 + odd / c);
        let step = d * c;
        value *= step;
        // The second condition can only be met by a NaN, which would otherwise never leave.
        if (step - 1.0).abs() <= SETTLED || step.is_nan() {
            return value;
        }
        m += 1.0;
    }
}

/// Lentz's method must not divide by zero; a number this small changes no digit.
fn nonzero(value: f64) -> f64 {
    if value.abs() < f64::MIN_POSITIVE / f64::EPSILON { f64::MIN_POSITIVE / f64::EPSILON } else { value }
}

/// `ln n! - ln(sqrt(2 pi n) (n/e)^n)`: what Stirling's formula lacks (Loader 2000, eq. 4; the
/// coefficients are the Bernoulli numbers of DLMF 5.11.1).
fn stirling_error(n: f64) -> f64 {
    if n < STIRLING_FROM {
        return libm::lgamma(n + 1.0) - (n + 0.5) * libm::log(n) + n - 0.5 * libm::log(2.0 * PI);
    }
    let nn = n * n;
    let tail = 1.0 / 1680.0 - (1.0 / 1188.0 - 691.0 / 360_360.0 / nn) / nn;
    (1.0 / 12.0 - (1.0 / 360.0 - (1.0 / 1260.0 - tail / nn) / nn) / nn) / n
}

/// `x ln(x/m) + m - x`, by its series where the three would cancel (Loader 2000, eq. 5).
fn deviance(x: f64, m: f64) -> f64 {
    if (x - m).abs() >= 0.1 * (x + m) {
        return x * libm::log(x / m) + m - x;
    }
    let v = (x - m) / (x + m);
    let (mut sum, mut term, mut odd) = ((x - m) * v, 2.0 * x * v, 3.0);
    loop {
        term *= v * v;
        let next = sum + term / odd;
        if next == sum {
            return sum;
        }
        sum = next;
        odd += 2.0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against the definition: ln n! summed in full for whole n.
    #[test]
    fn stirling_error_is_what_the_formula_lacks() {
        let mut ln_factorial = 0.0;
        for n in 1..=40 {
            let n = f64::from(n);
            ln_factorial += n.ln();
            let stirling = 0.5 * (2.0 * PI * n).ln() + n * (n.ln() - 1.0);
            let expected = ln_factorial - stirling;
            let found = stirling_error(n);
            assert!((found - expected).abs() < 5e-13, "n {n}: {found} {expected}");
        }
    }

    #[test]
    fn the_series_of_the_deviance_meets_the_plain_formula() {
        let (x, m): (f64, f64) = (100.0, 90.0);
        let plain = x * (x / m).ln() + m - x;
        assert!((deviance(x, m) - plain).abs() < 1e-13);
        assert_eq!(deviance(7.0, 7.0), 0.0);
    }

    /// By hand: a = 1 gives 1 - (1 - x)^b, b = 1 gives x^a; a = 2, b = 2 gives 3x² - 2x³.
    #[test]
    fn tails_in_closed_form() {
        for x in [1e-9, 0.01, 0.3, 0.5, 0.9, 0.999] {
            let one: f64 = tails(1.0, 4.0, x).upper;
            assert!((one - (1.0 - x).powi(4)).abs() < 1e-15, "{x}");
            assert!((tails(3.0, 1.0, x).lower - x.powi(3)).abs() < 1e-15, "{x}");
            assert!((tails(2.0, 2.0, x).lower - (3.0 - 2.0 * x) * x * x).abs() < 1e-15, "{x}");
        }
        assert_eq!(tails(2.0, 3.0, 0.0), Tails { lower: 0.0, upper: 1.0 });
        assert_eq!(tails(2.0, 3.0, 1.0), Tails { lower: 1.0, upper: 0.0 });
    }

    #[test]
    fn quantiles_undo_the_tails() {
        for (a, b) in [(1.0, 1.0), (0.5, 0.5), (3.0, 900.0), (40_000.0, 60_001.0)] {
            for p in [0.005, 0.025, 0.5, 0.975] {
                let low = quantile_of_lower_tail(a, b, p);
                assert!((tails(a, b, low).lower / p - 1.0).abs() < 1e-11, "{a} {b} {p}");
                let high = quantile_of_upper_tail(a, b, p);
                assert!((tails(a, b, high).upper / p - 1.0).abs() < 1e-11, "{a} {b} {p}");
            }
        }
    }
}
