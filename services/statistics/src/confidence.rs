//! The level of an interval, an interval, and the three intervals of a survival probability.

use serde::Serialize;
use statrs::function::erf::erfc_inv;

use crate::reason::{InvalidInput, Reason};

/// A two-sided confidence level, strictly between 0 and 1.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(transparent)]
pub struct Level(f64);

impl Level {
    /// The usual 95 %.
    pub const P95: Level = Level(0.95);

    /// Fails with [`InvalidInput::Level`] outside (0, 1).
    pub fn new(level: f64) -> Result<Level, InvalidInput> {
        if level > 0.0 && level < 1.0 { Ok(Level(level)) } else { Err(InvalidInput::Level { found: level }) }
    }

    /// The level as a number: 0.95.
    pub fn value(self) -> f64 {
        self.0
    }

    /// What is left out on both sides together: 0.05.
    pub fn alpha(self) -> f64 {
        1.0 - self.0
    }

    /// The standard normal quantile of `1 - alpha/2`: 1.96 for 95 %. Taken from the upper tail, so
    /// that it stays accurate for levels near 1.
    pub fn z(self) -> f64 {
        std::f64::consts::SQRT_2 * erfc_inv(self.alpha())
    }
}

/// A closed interval; travels as `[lower, upper]`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(into = "[f64; 2]")]
pub struct Interval {
    /// Lower limit.
    pub lower: f64,
    /// Upper limit.
    pub upper: f64,
}

impl Interval {
    /// Whether the value lies in it, limits included.
    pub fn contains(&self, value: f64) -> bool {
        self.lower <= value && value <= self.upper
    }
}

impl From<Interval> for [f64; 2] {
    fn from(interval: Interval) -> [f64; 2] {
        [interval.lower, interval.upper]
    }
}

/// On which scale the interval of a survival probability is symmetric.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum SurvivalInterval {
    /// `S ± z se`, cut to [0, 1].
    Plain,
    /// `S exp(± z sigma)`, cut at 1.
    Log,
    /// `S ^ exp(± z sigma / |ln S|)`: stays inside [0, 1] by itself and is the one to show
    /// (Kalbfleisch & Prentice 1980; Borgan & Liestøl 1990 Scand J Stat 17:35).
    LogLog,
}

impl SurvivalInterval {
    /// The interval of `surv`, where `sigma` is the standard error of `ln S` (Greenwood).
    ///
    /// Neither [1, 1] nor [0, 0] is ever returned: without an event the formulas give a variance of
    /// 0 ([`Reason::NoEventYet`]), and at 0 they break down ([`Reason::SurvivalIsZero`]).
    pub fn of(self, surv: f64, sigma: f64, level: Level) -> Result<Interval, Reason> {
        self.within(surv, sigma, level.z())
    }

    /// The same for a normal quantile that is at hand.
    pub(crate) fn within(self, surv: f64, sigma: f64, z: f64) -> Result<Interval, Reason> {
        if surv >= 1.0 {
            return Err(Reason::NoEventYet);
        }
        if surv <= 0.0 {
            return Err(Reason::SurvivalIsZero);
        }
        let half = z * sigma;
        let (lower, upper) = match self {
            SurvivalInterval::Plain => (surv - half * surv, surv + half * surv),
            SurvivalInterval::Log => (surv * libm::exp(-half), surv * libm::exp(half)),
            SurvivalInterval::LogLog => {
                let spread = half / libm::log(surv).abs();
                (libm::pow(surv, libm::exp(spread)), libm::pow(surv, libm::exp(-spread)))
            }
        };
        Ok(Interval { lower: lower.max(0.0), upper: upper.min(1.0) })
    }
}
