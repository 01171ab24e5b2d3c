//! Why there is no window: the data are sound but do not say, or say something that nobody should
//! believe.

use serde::Serialize;

/// Why there is no window. `Display` is a sentence that can be printed in its place.
#[derive(Clone, Debug, PartialEq, Serialize, thiserror::Error)]
#[serde(tag = "reason", rename_all = "snake_case")]
pub enum NoForecast {
    /// No duration at a known temperature.
    #[error("no data: no duration of development at a stated temperature is known")]
    NoData,
    /// No readings of temperature in the water that it was in.
    #[error("no readings: the temperature of the water was never read where it was")]
    NoReadings,
    /// The readings lie outside the temperatures that the rate is known for, for too long.
    #[error(
        "temperature outside the source's range: known for {low_c} to {high_c} °C, while for {outside_percent:.0} % of the time so far it was \
         outside (mean {mean_c:.1} °C)"
    )]
    OutsideRange {
        /// Coldest temperature that the rate is known for, in °C.
        low_c: f64,
        /// Warmest, in °C.
        high_c: f64,
        /// Mean temperature so far, in °C.
        mean_c: f64,
        /// Part of the time so far that was outside, in percent.
        outside_percent: f64,
    },
    /// The water as it is now, held, lies outside.
    #[error("temperature outside the source's range: known for {low_c} to {high_c} °C, while the water now has {ahead_c:.1} °C")]
    OutsideRangeAhead {
        /// Coldest temperature that the rate is known for, in °C.
        low_c: f64,
        /// Warmest, in °C.
        high_c: f64,
        /// Mean of the last readings, in °C.
        ahead_c: f64,
    },
    /// The points give a change with temperature that is hardly believed.
    #[error("doubtful data: the points give a Q10 of {q10:.1}, which is hardly believed (common practice, no source)")]
    Implausible {
        /// How many times faster 10 °C warmer.
        q10: f64,
    },
    /// A value that cannot be.
    #[error("unusable data: {field} is {found}; give {give}")]
    Unusable {
        /// The member at fault.
        field: &'static str,
        /// What it holds.
        found: f64,
        /// What it should be.
        give: &'static str,
    },
    /// The observations exclude each other: no start, factor and slope of the grid allows them.
    #[error("the observations exclude each other under this rate: look again at the case, its laying and the readings")]
    Contradictory,
}

impl NoForecast {
    /// A stable word for programs.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::NoData => "no_data",
            Self::NoReadings => "no_readings",
            Self::OutsideRange { .. } => "outside_range",
            Self::OutsideRangeAhead { .. } => "outside_range_ahead",
            Self::Implausible { .. } => "implausible",
            Self::Unusable { .. } => "unusable",
            Self::Contradictory => "contradictory",
        }
    }
}
