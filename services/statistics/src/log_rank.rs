//! Whether groups differ in their hazard: the log-rank test and its weighted forms.
//!
//! At each event age, with `d` events among `n` at risk, group `g` with `n_g` of them is expected to
//! have `E_g = n_g d/n` if all groups share one hazard, and
//! `V_gh = d (n_g/n)(1[g = h] - n_h/n)(n - d)/(n - 1)` is the hypergeometric covariance (0 at `n = 1`).
//! Observed, expected and covariance are summed with the weight `S(t-)^rho`; the statistic is
//! `U' V⁻ U` for `U` = observed - expected.

use serde::Serialize;

use crate::chi_square::{QuadraticForm, upper_tail};
use crate::reason::{Error, InvalidInput, Reason};
use crate::rows::{Excluded, Gate, Grouped, Row};
use crate::sweep::{Design, Marks, Moment, Stratum};

/// A comparison of groups.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LogRank {
    /// The exponent of the weights `S(t-)^rho`.
    pub rho: f64,
    /// Whether groups were compared within strata.
    pub stratified: bool,
    /// Cases by group.
    pub n: Vec<u64>,
    /// Events by group, each with its weight; plain counts for `rho` 0.
    pub observed: Vec<f64>,
    /// Events expected by group if all shared one hazard, with the same weights.
    pub expected: Vec<f64>,
    /// Covariance of observed less expected.
    pub variance: Vec<Vec<f64>>,
    /// The statistic.
    pub chi2: f64,
    /// Degrees of freedom: the groups with events expected, less one, and less still where groups
    /// were never at risk together.
    pub df: usize,
    /// The probability of a statistic as large by chance, by the chi-square approximation.
    pub p: f64,
    /// Rows that no risk set can hold, with the reason.
    pub excluded: Vec<Excluded>,
}

/// The log-rank test of `design.groups` groups (Mantel 1966 Cancer Chemother Rep 50:163; Peto & Peto
/// 1972 JRSS A 135:185), within `design.strata` strata, with the weights `S(t-)^rho` of Harrington &
/// Fleming 1982 (Biometrika 69:553): 0 is the log-rank test, 1 Peto and Peto's form of the Wilcoxon
/// test, which weighs early events more. `S` is the pooled curve of the stratum, as in R's
/// `survdiff`.
///
/// Ties: events of one age are drawn together (hypergeometric variance), a case censored on the age
/// of an event is at risk for it. Delayed entry: the risk set is `entry < t <= exit`, which makes it
/// the score test of a Cox model with exact ties.
///
/// It is *not* for the incidence of a fate among several ([`gray`](crate::gray())): with the others
/// censored it compares cause-specific hazards. Not for groups defined by something that happens
/// later (an egg must live to be assisted: give such a case a row before and a row after), and its p
/// is too small when cases of one clutch share their fortunes. With fewer than some five expected
/// events in a group the approximation is poor.
///
/// Fails with [`Reason::NothingToCompare`], with [`Reason::Collapsed`] when `rho` is not 0 and the
/// pooled curve reaches 0 before later entries, whose weight it would be; and with [`InvalidInput`]
/// naming the row.
pub fn log_rank(rows: impl IntoIterator<Item = Grouped<Row>>, design: Design, rho: f64) -> Result<LogRank, Error> {
    if !rho.is_finite() {
        return Err(InvalidInput::Rho { found: rho }.into());
    }
    let design = design.with_causes(1);
    let mut gate = Gate::default();
    let marks = Marks::of_members(rows, design, &mut gate)?;
    let mut sums = Sums::new(design, rho);
    marks.each_stratum(|stratum| sums.add_stratum(&stratum));
    sums.result(gate.excluded)
}

struct Sums {
    design: Design,
    rho: f64,
    n: Vec<u64>,
    observed: Vec<f64>,
    expected: Vec<f64>,
    variance: Vec<Vec<f64>>,
    /// The pooled curve of the stratum just before the age.
    surv: f64,
    events: Vec<u64>,
    collapse: Option<Reason>,
}

impl Sums {
    fn new(design: Design, rho: f64) -> Sums {
        let zero = vec![0.0; design.groups];
        Sums {
            design,
            rho,
            n: vec![0; design.groups],
            observed: zero.clone(),
            expected: zero.clone(),
            variance: vec![zero; design.groups],
            surv: 1.0,
            events: vec![0; design.groups],
            collapse: None,
        }
    }

    fn add_stratum(&mut self, stratum: &Stratum) {
        self.n.iter_mut().zip(stratum.cases()).for_each(|(sum, n)| *sum += n);
        self.surv = 1.0;
        stratum.each_moment(|moment| self.add(moment));
    }

    fn add(&mut self, moment: &Moment) {
        self.events.fill(0);
        for mark in moment.leaving.iter().filter(|mark| self.design.cause(mark.cell) > 0) {
            self.events[self.design.group(mark.cell)] += u64::from(mark.weight);
        }
        let d: u64 = self.events.iter().sum();
        if d == 0 {
            return;
        }
        let n: u64 = moment.at_risk.iter().sum();
        let weight = if self.rho == 0.0 { 1.0 } else { libm::pow(self.surv, self.rho) };
        self.compare(moment.at_risk, n as f64, d as f64, weight);
        self.surv *= (n - d) as f64 / n as f64;
        if let Some(resumes_days) = moment.next_entry.filter(|_| n == d && self.rho != 0.0) {
            self.collapse = Some(Reason::Collapsed { at_days: moment.days, n_risk: n, resumes_days, given_days: None });
        }
    }

    fn compare(&mut self, at_risk: &[u64], n: f64, d: f64, weight: f64) {
        // At n = 1 the fraction is 0/0, and there is nothing to compare.
        let spread = if n > 1.0 { weight * weight * d * (n - d) / (n - 1.0) } else { 0.0 };
        for (g, n_g) in at_risk.iter().enumerate().filter(|(_, n_g)| **n_g > 0) {
            let share = *n_g as f64 / n;
            self.observed[g] += weight * self.events[g] as f64;
            self.expected[g] += weight * d * share;
            for (h, n_h) in at_risk.iter().enumerate().take(g) {
                self.variance[g][h] -= spread * share * (*n_h as f64 / n);
            }
            self.variance[g][g] += spread * share * ((n - *n_g as f64) / n);
        }
    }

    fn result(mut self, excluded: Vec<Excluded>) -> Result<LogRank, Error> {
        if let Some(reason) = self.collapse {
            return Err(reason.into());
        }
        mirror(&mut self.variance);
        let difference: Vec<f64> = self.observed.iter().zip(&self.expected).map(|(o, e)| o - e).collect();
        let form = QuadraticForm::of(&difference, &self.variance);
        if form.rank == 0 {
            return Err(Reason::NothingToCompare.into());
        }
        Ok(LogRank {
            rho: self.rho,
            stratified: self.design.strata > 1,
            n: self.n,
            observed: self.observed,
            expected: self.expected,
            variance: self.variance,
            chi2: form.value,
            df: form.rank,
            p: upper_tail(form.value, form.rank),
            excluded,
        })
    }
}

/// Copies what lies below the diagonal above it.
pub(crate) fn mirror(matrix: &mut [Vec<f64>]) {
    for row in 1..matrix.len() {
        let (above, from_row) = matrix.split_at_mut(row);
        for (column, line) in above.iter_mut().enumerate() {
            line[row] = from_row[0][column];
        }
    }
}
