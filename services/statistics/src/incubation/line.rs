//! A straight line by least squares, with everything that intervals need.

use crate::beta;
use crate::confidence::Level;

/// `y = a + b x` with independent errors of one size.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Intercept.
    pub a: f64,
    /// Slope.
    pub b: f64,
    /// Standard error of the intercept.
    pub se_a: f64,
    /// Standard error of the slope.
    pub se_b: f64,
    /// Covariance of the two.
    pub cov_ab: f64,
    /// Residual standard error: `sqrt(RSS/df)`.
    pub sigma: f64,
    /// Degrees of freedom: points less 2.
    pub df: usize,
    mean_x: f64,
    sum_xx: f64,
}

/// A value of the line with the errors of its mean and of a new observation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OnLine {
    /// `a + b x`.
    pub y: f64,
    /// Standard error of the mean there.
    pub se_mean: f64,
    /// Standard error of a new observation there.
    pub se_new: f64,
}

impl Line {
    /// Least squares; nothing with fewer than 3 points or a single `x`.
    pub fn through(points: impl Iterator<Item = (f64, f64)> + Clone) -> Option<Line> {
        let n = points.clone().count();
        if n < 3 {
            return None;
        }
        let count = n as f64;
        let mean_x = points.clone().map(|(x, _)| x).sum::<f64>() / count;
        let mean_y = points.clone().map(|(_, y)| y).sum::<f64>() / count;
        let sum_xx: f64 = points.clone().map(|(x, _)| (x - mean_x) * (x - mean_x)).sum();
        if sum_xx <= 0.0 {
            return None;
        }
        let sum_xy: f64 = points.clone().map(|(x, y)| (x - mean_x) * (y - mean_y)).sum();
        let b = sum_xy / sum_xx;
        // About the means, so that a line far from the origin loses no digits.
        let residual = |(x, y): (f64, f64)| (y - mean_y) - b * (x - mean_x);
        let rss: f64 = points.map(residual).map(|r| r * r).sum();
        let df = n - 2;
        let sigma = (rss / df as f64).sqrt();
        let se_b = sigma / sum_xx.sqrt();
        let se_a = sigma * (1.0 / count + mean_x * mean_x / sum_xx).sqrt();
        let cov_ab = -mean_x * se_b * se_b;
        Some(Line { a: mean_y - b * mean_x, b, se_a, se_b, cov_ab, sigma, df, mean_x, sum_xx })
    }

    /// The line at `x`.
    pub fn at(&self, x: f64) -> OnLine {
        let away = x - self.mean_x;
        let leverage = 1.0 / (self.df + 2) as f64 + away * away / self.sum_xx;
        OnLine { y: self.a + self.b * x, se_mean: self.sigma * leverage.sqrt(), se_new: self.sigma * (1.0 + leverage).sqrt() }
    }

    /// Student's quantile of `1 - alpha/2` for this line.
    pub fn t(&self, level: Level) -> f64 {
        student_quantile(self.df, level)
    }
}

/// The two-sided quantile of Student's distribution, by `df/(df + T^2) ~ Beta(df/2, 1/2)`.
fn student_quantile(df: usize, level: Level) -> f64 {
    let df = df as f64;
    let x = beta::quantile_of_lower_tail(df / 2.0, 0.5, level.alpha());
    (df * (1.0 - x) / x).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Printed tables of Student's distribution: 12.706, 2.776, 2.048 (df 1, 4, 28 at 95 %).
    #[test]
    fn quantiles_are_those_of_the_tables() {
        for (df, wanted) in [(1, 12.706), (4, 2.776), (28, 2.048)] {
            assert!((student_quantile(df, Level::P95) - wanted).abs() < 5e-4, "{df}");
        }
        // df 1 is Cauchy's distribution: tan(pi * 0.475).
        let cauchy = (std::f64::consts::PI * 0.475).tan();
        assert!((student_quantile(1, Level::P95) / cauchy - 1.0).abs() < 1e-11);
    }

    /// (0,1) (1,3) (2,2): slope 1/2, intercept 3/2, residuals -1/2, 1, -1/2, RSS 3/2.
    #[test]
    fn a_line_by_hand() {
        let line = Line::through([(0.0, 1.0), (1.0, 3.0), (2.0, 2.0)].into_iter()).expect("a line");
        assert!((line.b - 0.5).abs() < 1e-15 && (line.a - 1.5).abs() < 1e-15);
        assert!((line.sigma - 1.5f64.sqrt()).abs() < 1e-15);
        assert!((line.se_b - 0.75f64.sqrt()).abs() < 1e-15);
        assert!(Line::through([(1.0, 1.0), (1.0, 2.0), (1.0, 3.0)].into_iter()).is_none());
    }
}
