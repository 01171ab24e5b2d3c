//! The age by which a given part has had the event, with an interval from the limits of survival
//! (Brookmeyer & Crowley 1982 Biometrics 38:29).
//!
//! The quantile is the smallest age with `S <= 1 - fraction`. Where the curve runs level at exactly
//! that height it is the middle of the level piece, as R's `survival` has it; the limits are found
//! the same way on the limits of `S`. A limit may rise again in the tail (the log limit does when few
//! are left), so "the first age" has two readings; R takes the age whose limit is nearest below the
//! height, and so do we, because intervals are compared with published ones.

use serde::Serialize;

use crate::confidence::SurvivalInterval;
use crate::curve::{Curve, Step};
use crate::reason::{Error, InvalidInput, Reason, value_or_reason};

/// Two survivals nearer than this are the same height: the square root of the machine's precision,
/// because a product of many fractions does not hit 0.5 to the last bit.
const SAME_HEIGHT: f64 = 1.0 / (1u64 << 26) as f64;

/// An age with its limits, each of which may be absent for its own reason.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Quantile {
    /// The part that has had the event: 0.5 for the median.
    pub fraction: f64,
    /// The kind of interval.
    pub kind: SurvivalInterval,
    /// The age, in days.
    #[serde(serialize_with = "value_or_reason")]
    pub days: Result<f64, Reason>,
    /// Lower limit, in days.
    #[serde(serialize_with = "value_or_reason")]
    pub lower_days: Result<f64, Reason>,
    /// Upper limit, in days.
    #[serde(serialize_with = "value_or_reason")]
    pub upper_days: Result<f64, Reason>,
}

impl Curve {
    /// The age by which `fraction` of the cases has had the event, with limits of the given kind.
    ///
    /// Fails with the curve's own refusal and, for a fraction outside (0, 1), with
    /// [`InvalidInput::Fraction`]. What is not reached is said in the result.
    pub fn quantile(&self, fraction: f64, kind: SurvivalInterval) -> Result<Quantile, Error> {
        let (_, followed_to_days) = self.observed()?;
        if !(fraction > 0.0 && fraction < 1.0) {
            return Err(InvalidInput::Fraction { found: fraction }.into());
        }
        let surv = 1.0 - fraction;
        let limit = |found: Option<f64>| found.ok_or(Reason::LimitNotReached { fraction, followed_to_days });
        Ok(Quantile {
            fraction,
            kind,
            days: self.falls_to(surv, |s| s.surv).ok_or(Reason::QuantileNotReached { fraction, followed_to_days }),
            lower_days: limit(self.falls_to(surv, |s| s.ci(kind).map(|ci| ci.lower))),
            upper_days: limit(self.falls_to(surv, |s| s.ci(kind).map(|ci| ci.upper))),
        })
    }

    /// Where a curve comes down to this height. Steps where it is not estimable are passed over.
    fn falls_to(&self, height: f64, curve: impl Fn(&Step) -> Option<f64>) -> Option<f64> {
        let known = || self.steps.iter().filter_map(|s| Some((s.days, curve(s)?)));
        let reached = highest(known().filter(|(_, value)| *value <= height + SAME_HEIGHT))?;
        let last = self.steps.last().and_then(|s| Some((s.days, curve(s)?)));
        if let Some((end, value)) = last
            && (value - height).abs() < SAME_HEIGHT
        {
            return Some((level_since(known(), value)? + end) / 2.0);
        }
        let passed = highest(known().filter(|(_, value)| *value <= height - SAME_HEIGHT));
        let (first, until) = (reached.0, passed.unwrap_or(reached).0);
        Some((first + until) / 2.0)
    }
}

/// The age with the highest value, the first of equals.
fn highest(values: impl Iterator<Item = (f64, f64)>) -> Option<(f64, f64)> {
    values.reduce(|best, next| if next.1 > best.1 { next } else { best })
}

/// The first age with exactly this value.
fn level_since(mut values: impl Iterator<Item = (f64, f64)>, value: f64) -> Option<f64> {
    values.find(|(_, found)| *found == value).map(|(days, _)| days)
}
