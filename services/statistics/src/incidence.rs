//! What a table of cumulative incidences says.

use serde::Serialize;

use crate::confidence::{Interval, Level};
use crate::reason::Reason;
use crate::risk_set::{Exits, Span};
use crate::rows::Excluded;

/// The result of [`aalen_johansen`](crate::aalen_johansen()), as parallel columns over the distinct
/// ages at which somebody left.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Incidence {
    /// The level of its intervals.
    pub level: Level,
    /// The age everybody is known to have reached, in days, for a conditional table.
    pub given_days: Option<f64>,
    /// Cases in the risk sets.
    pub n_cases: u64,
    /// Cases that ended at or before `given_days` and are therefore not in this table.
    pub n_ended_before: u64,
    /// Where observation begins, in days.
    pub observed_from_days: Option<f64>,
    /// The longest follow-up, in days.
    pub followed_to_days: Option<f64>,
    /// The ages, in days.
    pub time: Vec<f64>,
    /// At risk at each: `entry < t <= exit`.
    pub n_risk: Vec<u64>,
    /// Censored at each, after the events.
    pub n_censor: Vec<u64>,
    /// The part still without any fate: the Kaplan-Meier curve of all causes together. Empty when
    /// the table is refused.
    pub surv: Vec<f64>,
    /// One table for each cause; the first is cause 1.
    pub causes: Vec<Cause>,
    /// Stretches between in which nobody is watched.
    pub unobserved: Vec<Span>,
    /// Rows that no risk set can hold, with the reason.
    pub excluded: Vec<Excluded>,
    /// Why there is no incidence at all, when there is none; counts stay.
    pub refusal: Option<Reason>,
}

/// One fate among several, in columns over [`Incidence::time`]. All but the counts are empty when
/// the table is refused.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Cause {
    /// Cases that met it at each age.
    pub n_event: Vec<u64>,
    /// The part that has met it by then.
    pub cif: Vec<f64>,
    /// Standard error by the infinitesimal jackknife, as R's `survfit` gives it.
    pub se_ij: Vec<f64>,
    /// Standard error of Greenwood's type, as R's `etm` gives it.
    pub se_greenwood: Vec<f64>,
}

/// Which of the two standard errors an interval rests on. They are equal unless cases enter late.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum StandardError {
    /// The infinitesimal jackknife.
    Ij,
    /// Greenwood's type.
    Greenwood,
}

impl Cause {
    /// The chosen standard errors.
    pub fn se(&self, kind: StandardError) -> &[f64] {
        match kind {
            StandardError::Ij => &self.se_ij,
            StandardError::Greenwood => &self.se_greenwood,
        }
    }

    fn interval(&self, index: usize, kind: StandardError, z: f64) -> Option<Interval> {
        let (cif, se) = (*self.cif.get(index)?, *self.se(kind).get(index)?);
        let left = 1.0 - cif;
        if cif <= 0.0 || left <= 0.0 {
            return None;
        }
        let spread = z * se / (left * libm::log(left).abs());
        let limit = |spread: f64| 1.0 - libm::pow(left, libm::exp(spread));
        Some(Interval { lower: limit(-spread), upper: limit(spread) })
    }
}

impl Exits for Incidence {
    fn first(&self, holds: impl Fn(f64) -> bool) -> Option<(f64, u64)> {
        let index = self.time.partition_point(|days| !holds(*days));
        Some((*self.time.get(index)?, self.n_risk[index]))
    }
}

impl Incidence {
    /// The interval of one fate at each age, symmetric in `ln(-ln(1 - F))`:
    /// `1 - (1 - F)^exp(± z se/((1 - F)|ln(1 - F)|))` (Kalbfleisch & Prentice 1980, with `1 - F` in
    /// the place of survival). `None` while nobody has met the fate, and once all have. `cause` is
    /// numbered from 1; for a cause that does not exist, and where the table is refused, it is empty.
    pub fn intervals(&self, cause: usize, kind: StandardError) -> Vec<Option<Interval>> {
        let z = self.level.z();
        let Some(found) = cause.checked_sub(1).and_then(|index| self.causes.get(index)) else {
            return Vec::new();
        };
        (0..found.cif.len()).map(|index| found.interval(index, kind, z)).collect()
    }

    /// The index of the last age at or before this one, in days; `None` before the first.
    pub fn index_at(&self, days: f64) -> Option<usize> {
        self.time.partition_point(|t| *t <= days).checked_sub(1)
    }

    /// Sentences that belong beside the table wherever it is shown.
    pub fn notes(&self) -> Vec<String> {
        let mut notes: Vec<String> = self.refusal.iter().map(Reason::to_string).collect();
        if let Some(from) = self.observed_from_days.filter(|from| *from > 0.0) {
            notes.push(format!("incidences are given without any fate at {from} d, where observation begins"));
        }
        if let Some(given) = self.given_days.filter(|_| self.n_ended_before > 0) {
            notes.push(format!("{} cases ended at or before {given} d and are not in this table", self.n_ended_before));
        }
        notes.extend(self.unobserved.iter().map(|Span { from_days, to_days }| {
            format!("nobody is under observation between {from_days} d and {to_days} d; incidences are carried across")
        }));
        notes.extend(self.excluded.iter().map(|e| format!("row {} excluded: {}", e.row, e.reason)));
        notes
    }
}
