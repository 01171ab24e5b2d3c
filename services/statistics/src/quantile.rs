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
use crate::curve::Curve;
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
    /// The age by which `fraction` of the cases has had the event, with limits of the given kind:
    /// the smallest age with `S <= 1 - fraction`, and the same on the limits of `S` (Brookmeyer &
    /// Crowley 1982 Biometrics 38:29). Not for a mean, and not for the age by which a fate among
    /// several is reached.
    ///
    /// Fails with the curve's own refusal and, for a fraction outside (0, 1), with
    /// [`InvalidInput::Fraction`]. What is not reached is said in the result.
    pub fn quantile(&self, fraction: f64, kind: SurvivalInterval) -> Result<Quantile, Error> {
        self.quantiles(&[fraction], kind).map(|mut one| one.remove(0))
    }

    /// Several of them, in one pass over the limits of the curve. Fails as [`Curve::quantile`] does.
    pub fn quantiles(&self, fractions: &[f64], kind: SurvivalInterval) -> Result<Vec<Quantile>, Error> {
        let (_, followed_to_days) = self.observed()?;
        if let Some(found) = fractions.iter().copied().find(|f| !(*f > 0.0 && *f < 1.0)) {
            return Err(InvalidInput::Fraction { found }.into());
        }
        let z = self.level.z();
        let mut falls: Vec<[Fall; 3]> = fractions.iter().map(|f| [Fall::to(1.0 - f); 3]).collect();
        for step in &self.steps {
            let ci = step.ci_within(kind, z);
            let values = [step.surv, ci.map(|ci| ci.lower), ci.map(|ci| ci.upper)];
            falls.iter_mut().for_each(|three| three.iter_mut().zip(values).for_each(|(fall, value)| fall.pass(step.days, value)));
        }
        let told = |(fraction, [days, lower, upper]): (&f64, [Fall; 3])| {
            let fraction = *fraction;
            let limit = |fall: Fall| fall.reached().ok_or(Reason::LimitNotReached { fraction, followed_to_days });
            Quantile {
                fraction,
                kind,
                days: days.reached().ok_or(Reason::QuantileNotReached { fraction, followed_to_days }),
                lower_days: limit(lower),
                upper_days: limit(upper),
            }
        };
        Ok(fractions.iter().zip(falls).map(told).collect())
    }
}

/// A curve coming down to one height, step by step. Steps where it is not estimable are passed over.
#[derive(Clone, Copy)]
struct Fall {
    height: f64,
    /// The highest value at or below the height, the first of equals, with its age.
    reached: Option<(f64, f64)>,
    /// The highest value clearly below it.
    passed: Option<(f64, f64)>,
    /// The last value, and the first age with exactly this value.
    last: Option<(f64, f64)>,
    /// The last age with an estimate, when it is the last step.
    end: Option<f64>,
}

impl Fall {
    fn to(height: f64) -> Fall {
        Fall { height, reached: None, passed: None, last: None, end: None }
    }

    fn pass(&mut self, days: f64, value: Option<f64>) {
        self.end = value.map(|_| days);
        let Some(value) = value else { return };
        if self.last.is_none_or(|(_, last)| last != value) {
            self.last = Some((days, value));
        }
        if value <= self.height + SAME_HEIGHT {
            self.reached = higher(self.reached, (days, value));
        }
        if value <= self.height - SAME_HEIGHT {
            self.passed = higher(self.passed, (days, value));
        }
    }

    fn reached(self) -> Option<f64> {
        let reached = self.reached?;
        if let (Some((since, value)), Some(end)) = (self.last, self.end)
            && (value - self.height).abs() < SAME_HEIGHT
        {
            return Some((since + end) / 2.0);
        }
        Some((reached.0 + self.passed.unwrap_or(reached).0) / 2.0)
    }
}

/// The one with the higher value, the first of equals.
fn higher(best: Option<(f64, f64)>, next: (f64, f64)) -> Option<(f64, f64)> {
    Some(best.filter(|best| next.1 <= best.1).unwrap_or(next))
}
