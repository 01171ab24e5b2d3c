//! The mean time lived up to a fixed age: the area under the curve.
//!
//! `RMST(tau) = integral of S to tau`, with variance
//! `sum over event ages <= tau of (area from there to tau)² d/(n(n - d))`, without a bias factor.
//! Two such means compare only for the same `tau`, fixed before looking.

use serde::Serialize;

use crate::curve::{Curve, Step, Tread};
use crate::reason::{Error, InvalidInput, Reason, age};

/// The mean time lived between two ages.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct RestrictedMean {
    /// Where the area begins, in days: where observation begins.
    pub from_days: f64,
    /// The upper end, in days.
    pub tau_days: f64,
    /// Mean time lived between the two, in days.
    pub mean_days: f64,
    /// Its standard error, in days.
    pub se_days: f64,
}

impl Curve {
    /// The mean time lived from the beginning of observation up to `tau_days`.
    ///
    /// Fails with the curve's own refusal, with [`Reason::MeanBeyondFollowUp`] when some were alive
    /// at the end of a follow-up shorter than `tau_days`, and with [`InvalidInput`] when `tau_days`
    /// is not an age above the beginning.
    pub fn restricted_mean(&self, tau_days: f64) -> Result<RestrictedMean, Error> {
        let tau_days = age("tau_days", tau_days)?;
        let (from_days, followed_to_days) = self.observed()?;
        if tau_days <= from_days {
            return Err(InvalidInput::TauTooSmall { tau_days, from_days }.into());
        }
        let treads = self.treads();
        let ends_at = treads.last().map_or(1.0, |t| t.surv);
        if tau_days > followed_to_days && ends_at > 0.0 {
            return Err(Reason::MeanBeyondFollowUp { tau_days, followed_to_days }.into());
        }
        let mean_days = treads.iter().map(|t| area(t, tau_days)).sum();
        let se_days = self.variance_of_mean(&treads, tau_days).sqrt();
        Ok(RestrictedMean { from_days, tau_days, mean_days, se_days })
    }

    /// One pass from the right, so that the area still to come is at hand at every event.
    fn variance_of_mean(&self, treads: &[Tread], tau_days: f64) -> f64 {
        let mut later = treads.iter().rev().peekable();
        let (mut area_after, mut variance) = (0.0, 0.0);
        for step in self.steps.iter().rev().filter(|s| s.n_event > 0 && s.days <= tau_days) {
            while let Some(tread) = later.next_if(|t| t.from_days >= step.days) {
                area_after += area(tread, tau_days);
            }
            variance += area_after * area_after * greenwood_term(step);
        }
        variance
    }
}

/// The part of a level piece that lies before `tau_days`.
fn area(tread: &Tread, tau_days: f64) -> f64 {
    (tread.to_days.min(tau_days) - tread.from_days).max(0.0) * tread.surv
}

/// `d / (n(n - d))`; where all died no area follows, and the term counts nothing.
fn greenwood_term(step: &Step) -> f64 {
    let (n, d) = (step.n_risk as f64, step.n_event as f64);
    if d < n { d / (n * (n - d)) } else { 0.0 }
}
