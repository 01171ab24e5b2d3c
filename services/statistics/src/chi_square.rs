//! The upper tail of the chi-square distribution, and quadratic forms that follow it.
//!
//! For whole degrees of freedom the tail is a finite sum of positive terms (Abramowitz & Stegun 1964,
//! 26.4.4 and 26.4.5), so nothing cancels and p-values of 1e-100 keep their digits; it is never taken
//! as one minus the lower tail.

/// Relative size below which a pivot is rounding of an exact zero.
const PIVOT_MIN: f64 = 1e-10;

/// `P(X > x)` for `df` degrees of freedom; 1 at `x <= 0`, and 0 degrees leave no tail.
pub fn upper_tail(x: f64, df: usize) -> f64 {
    if df == 0 {
        return if x > 0.0 { 0.0 } else { 1.0 };
    }
    if x <= 0.0 {
        return 1.0;
    }
    let half = x / 2.0;
    // Terms exp(-h) h^s / Gamma(s + 1), with s whole for even degrees and half-whole for odd ones.
    let term = |s: f64| libm::exp(s * libm::log(half) - half - libm::lgamma(s + 1.0));
    let odd = df % 2 == 1;
    let start = if odd { libm::erfc(half.sqrt()) } else { term(0.0) };
    let offset = if odd { 0.5 } else { 1.0 };
    let count = if odd { df / 2 } else { df / 2 - 1 };
    (0..count).map(|j| term(j as f64 + offset)).sum::<f64>() + start
}

/// The density at `x > 0`, for checks of the tail.
pub fn density(x: f64, df: usize) -> f64 {
    let half_df = df as f64 / 2.0;
    libm::exp((half_df - 1.0) * libm::log(x / 2.0) - x / 2.0 - libm::lgamma(half_df)) / 2.0
}

/// `u' V⁻ u` and the rank of `V`, for a symmetric `V` without negative directions.
///
/// Elimination with the largest remaining pivot; directions without variance are left out, which is
/// the generalised inverse as long as `u` has nothing in them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct QuadraticForm {
    /// `u' V⁻ u`.
    pub value: f64,
    /// How many directions have variance: the degrees of freedom.
    pub rank: usize,
}

impl QuadraticForm {
    /// Of a square matrix in rows and a vector of its size.
    pub fn of(vector: &[f64], matrix: &[Vec<f64>]) -> QuadraticForm {
        let (mut u, mut v) = (vector.to_vec(), matrix.to_vec());
        let scale: Vec<f64> = (0..u.len()).map(|i| v[i][i]).collect();
        let mut open: Vec<usize> = (0..u.len()).collect();
        let mut form = QuadraticForm { value: 0.0, rank: 0 };
        // Each direction is measured by what it had at first, so that units do not matter.
        while let Some(place) = largest(&open, |i| v[i][i] / scale[i]).filter(|place| {
            let i = open[*place];
            v[i][i] > PIVOT_MIN * scale[i]
        }) {
            let pivot = open.swap_remove(place);
            form.value += u[pivot] * u[pivot] / v[pivot][pivot];
            form.rank += 1;
            eliminate(pivot, &open, &mut u, &mut v);
        }
        form
    }
}

fn largest(open: &[usize], size: impl Fn(usize) -> f64) -> Option<usize> {
    let sizes = open.iter().map(|i| size(*i)).enumerate().filter(|(_, size)| *size > 0.0);
    sizes.reduce(|best, next| if next.1 > best.1 { next } else { best }).map(|(place, _)| place)
}

fn eliminate(pivot: usize, open: &[usize], u: &mut [f64], v: &mut [Vec<f64>]) {
    for row in open {
        let factor = v[*row][pivot] / v[pivot][pivot];
        u[*row] -= factor * u[pivot];
        for column in open {
            let taken = factor * v[pivot][*column];
            v[*row][*column] -= taken;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two degrees: exp(-x/2). One: the normal tail, 0.05 at 1.959963984540054². Three, from tables:
    /// 7.814727903251179 leaves 0.05 (Abramowitz & Stegun 1964 table 26.8: 7.81473).
    #[test]
    fn tails_known_in_closed_form() {
        for x in [0.1, 1.0, 10.0, 500.0] {
            let expected = (-x / 2.0_f64).exp();
            assert!((upper_tail(x, 2) / expected - 1.0).abs() < 1e-13, "x {x}");
        }
        assert!((upper_tail(1.959_963_984_540_054_f64.powi(2), 1) - 0.05).abs() < 1e-15);
        assert!((upper_tail(7.814_727_903_251_179, 3) - 0.05).abs() < 1e-14);
        assert_eq!((upper_tail(0.0, 4), upper_tail(-1.0, 4), upper_tail(3.0, 0)), (1.0, 1.0, 0.0));
    }

    /// The tail falls by the density: a central difference over a small step.
    #[test]
    fn the_tail_falls_by_the_density() {
        for df in [1, 2, 3, 4, 7, 30, 199] {
            let (x, step) = (df as f64, 1e-4);
            let slope = (upper_tail(x - step, df) - upper_tail(x + step, df)) / (2.0 * step);
            assert!((slope / density(x, df) - 1.0).abs() < 1e-6, "df {df}");
        }
        assert!((density(2.0, 2) - (-1.0_f64).exp() / 2.0).abs() < 1e-15);
    }

    /// u = (1, 2), V = diag(4, 1) gives 1/4 + 4; a direction without variance is left out; and a
    /// matrix of rank one, where the second row repeats the first with its sign turned.
    #[test]
    fn quadratic_forms_by_hand() {
        let plain = QuadraticForm::of(&[1.0, 2.0], &[vec![4.0, 0.0], vec![0.0, 1.0]]);
        assert_eq!(plain, QuadraticForm { value: 4.25, rank: 2 });
        let empty = QuadraticForm::of(&[1.0, 0.0], &[vec![4.0, 0.0], vec![0.0, 0.0]]);
        assert_eq!(empty, QuadraticForm { value: 0.25, rank: 1 });
        let one = QuadraticForm::of(&[3.0, -3.0], &[vec![2.0, -2.0], vec![-2.0, 2.0]]);
        assert_eq!(one, QuadraticForm { value: 4.5, rank: 1 });
    }
}
