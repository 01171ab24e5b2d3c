//! What must be said beside a number that was computed outside the range its formula was made for.

use serde::Serialize;

use crate::reason::{InvalidInput, quantity};

/// No water is saltier where animals live.
pub const SALINITY_MAX: f64 = 60.0;

/// Why a number is to be read with care. Travels as a word; `Display` is a sentence.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, thiserror::Error)]
#[serde(rename_all = "snake_case")]
pub enum Flag {
    /// The temperature lies outside the range of the formula.
    #[error("the temperature lies outside the range of the formula")]
    TemperatureOutsideRange,
    /// The salinity lies outside the range of the formula.
    #[error("the salinity lies outside the range of the formula")]
    SalinityOutsideRange,
    /// The pH lies outside the range of the formula.
    #[error("the pH lies outside the range of the formula")]
    PhOutsideRange,
    /// The air pressure lies outside the range of the formula.
    #[error("the air pressure lies outside the range of the formula")]
    PressureOutsideRange,
    /// Bower & Bidwell's line is carried on from 25 to 31 °C; compare the check value beside it.
    #[error("extrapolated from 25 °C; compare the check value")]
    ExtrapolatedWarm,
    /// The line was fitted at salinity 34 and is used at another.
    #[error("the formula was made at salinity 34")]
    NotAtSalinity34,
}

/// A number and what must be said beside it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Flagged {
    /// The number.
    pub value: f64,
    /// Nothing, where all lies in range.
    pub flags: Vec<Flag>,
}

impl Flagged {
    pub(super) fn new(value: f64, flags: impl IntoIterator<Item = Option<Flag>>) -> Flagged {
        Flagged { value, flags: flags.into_iter().flatten().collect() }
    }
}

impl Flag {
    /// This flag, unless the value lies in the range.
    pub(super) fn unless(self, value: f64, range: std::ops::RangeInclusive<f64>) -> Option<Flag> {
        (!range.contains(&value)).then_some(self)
    }
}

pub(super) fn salinity(found: f64) -> Result<f64, InvalidInput> {
    quantity("salinity_psu", found, 0.0..=SALINITY_MAX, "a practical salinity between 0 and 60")
}
