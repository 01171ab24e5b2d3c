//! Survival when events are known only to lie between two looks.

use serde::Serialize;

use super::band::{Band, BandPiece, come_by, pieces};
use super::design::Design;
use super::em_icm::maximise;
use super::innermost::{End, Innermost, Stretch};
use super::rows::{BetweenLooks, admit};
use crate::reason::{Error, InvalidInput, Reason};

/// Mass at or below this is no support: what the steps of the search leave behind.
pub(crate) const SUPPORT_MASS_MIN: f64 = 1e-10;

/// The estimate.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Npmle {
    /// How many cases the rows stand for.
    pub n: u64,
    /// Where mass may lie, in order of age.
    pub innermost: Vec<Stretch>,
    /// How much lies there; sums to 1.
    pub mass: Vec<f64>,
    /// The stretches that keep mass, as `[left, right, mass]`.
    pub support: Vec<(f64, Option<f64>, f64)>,
    /// The log-likelihood.
    pub loglik: f64,
    /// How far the largest gradient exceeds `n`: the log-likelihood is no farther from its maximum.
    pub kkt_max_gradient_minus_n: f64,
    /// Steps of the search.
    pub iterations: u64,
}

/// The nonparametric maximum likelihood estimate of when events happen.
///
/// Maximises `sum w log P(L < T <= R)` over distributions on the innermost stretches, where the
/// solution is unique; stops when no gradient exceeds `n` by more than `1e-7 n`. Exact ages, ages
/// between looks and cases without an event yet may be mixed. Ties: an event seen at an age counts
/// inside a stretch that ends there and outside one that begins there.
///
/// Peto 1973 (Appl Stat 22:86), Turnbull 1976 (JRSSB 38:290); search: Wellner & Zhan 1997
/// (JASA 92:945).
///
/// Not for cases that came under observation late, nor for several kinds of event
/// ([`npmle_competing`](super::npmle_competing)).
///
/// Fails with [`InvalidInput`] naming the row, with [`Reason::NoData`] without rows and with
/// [`Reason::NotConverged`] when the search ends too early.
pub fn npmle(rows: &[BetweenLooks]) -> Result<Npmle, Error> {
    let n = admit(rows.iter().copied())?;
    if rows.is_empty() {
        return Err(Reason::NoData.into());
    }
    Ok(fit(rows, n)?)
}

/// The same for rows that were checked before.
pub(super) fn fit(rows: &[BetweenLooks], n: u64) -> Result<Npmle, Reason> {
    let innermost = Innermost::of(rows.iter().map(End::left_of).collect(), rows.iter().map(End::right_of).collect());
    let run_of = |row: &BetweenLooks| {
        let (from, to) = innermost.within(End::left_of(row), End::right_of(row));
        ((from as u32, to as u32), row.weight as f64)
    };
    let design = Design::of_runs(innermost.len(), rows.iter().map(run_of).collect());
    let found = maximise(&design)?;
    let innermost = innermost.stretches();
    let support = support(&innermost, &found.masses);
    let (loglik, kkt_max_gradient_minus_n, iterations) = (found.loglik, found.gap, found.iterations);
    Ok(Npmle { n, innermost, mass: found.masses, support, loglik, kkt_max_gradient_minus_n, iterations })
}

pub(super) fn support(innermost: &[Stretch], masses: &[f64]) -> Vec<(f64, Option<f64>, f64)> {
    let kept = innermost.iter().zip(masses).filter(|(_, mass)| **mass > SUPPORT_MASS_MIN);
    kept.map(|(stretch, mass)| (stretch.left_days, stretch.right(), *mass)).collect()
}

impl Npmle {
    /// Survival past this age, in days, as a band.
    ///
    /// Fails with [`InvalidInput::Age`].
    pub fn survival_at(&self, age_days: f64) -> Result<Band, InvalidInput> {
        let age_days = crate::reason::age("age_days", age_days)?;
        Ok(come_by(&self.innermost, &self.mass, age_days).complement())
    }

    /// The band of survival as pieces to draw.
    pub fn survival_band(&self) -> Vec<BandPiece> {
        let held = self.support.iter().map(|(left, right, _)| Stretch { left_days: *left, right_days: right.unwrap_or(f64::INFINITY) });
        pieces(held, |age| come_by(&self.innermost, &self.mass, age).complement())
    }

    /// The stretch in which this part of the cases reaches the event: 0.5 for the median.
    ///
    /// Fails with [`InvalidInput::Fraction`] outside (0, 1). `right_days` is infinite when the part
    /// is reached only in the mass without an end.
    pub fn quantile(&self, fraction: f64) -> Result<Stretch, InvalidInput> {
        if !(fraction > 0.0 && fraction < 1.0) {
            return Err(InvalidInput::Fraction { found: fraction });
        }
        let mut come = 0.0;
        // Sums of masses do not hit a half to the last bit.
        let enough = |come: f64| come >= fraction - SUPPORT_MASS_MIN;
        let reached = self.support.iter().find(|(_, _, mass)| {
            come += mass;
            enough(come)
        });
        let (left_days, right, _) = reached.copied().unwrap_or((0.0, None, 0.0));
        Ok(Stretch { left_days, right_days: right.unwrap_or(f64::INFINITY) })
    }
}
