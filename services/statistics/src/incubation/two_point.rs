//! What two published means give, with the warning that two means cannot be checked.

use serde::Serialize;

use super::{GIVE_DAYS, GIVE_TEMPERATURE, Incubation, is_positive, is_temperature};
use crate::reason::{Error, InvalidInput, Reason};

/// Below this a Q10 of development is hardly believed (common practice, no source).
pub const Q10_PLAUSIBLE_MIN: f64 = 1.2;

/// Above this neither (common practice, no source).
pub const Q10_PLAUSIBLE_MAX: f64 = 5.0;

/// Two forms through two means, without any error.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[allow(non_snake_case, reason = "the letters of the field: T0 and K")]
pub struct TwoPoint {
    /// `(D1/D2)^(10/(T2 - T1))`.
    #[serde(rename = "Q10")]
    pub q10: f64,
    /// `(D1 T1 - D2 T2)/(D1 - D2)`, in °C; nothing where both took as long.
    pub T0: Option<f64>,
    /// `D1 (T1 - T0)`, in d °C; nothing where both took as long.
    pub K: Option<f64>,
    /// Q10 lies outside [`Q10_PLAUSIBLE_MIN`] to [`Q10_PLAUSIBLE_MAX`]: doubt the means.
    pub implausible: bool,
}

/// Q10 and thermal sum through two means. Show them only with the warning that they have no error:
/// published pairs have given a Q10 of 12.
///
/// Fails with [`InvalidInput`] naming the row and with [`Reason::SingleTemperature`].
pub fn two_point(one: Incubation, other: Incubation) -> Result<TwoPoint, Error> {
    for (row, egg) in [one, other].into_iter().enumerate() {
        if !is_temperature(egg.temperature_c) {
            return Err(InvalidInput::RowQuantity { row, field: "temperature_c", found: egg.temperature_c, give: GIVE_TEMPERATURE }.into());
        }
        if !is_positive(egg.days) {
            return Err(InvalidInput::RowQuantity { row, field: "days", found: egg.days, give: GIVE_DAYS }.into());
        }
    }
    if one.temperature_c == other.temperature_c {
        return Err(Reason::SingleTemperature { temperature_c: one.temperature_c }.into());
    }
    let q10 = libm::pow(one.days / other.days, 10.0 / (other.temperature_c - one.temperature_c));
    let shorter = one.days - other.days;
    let t0 = (shorter != 0.0).then(|| (one.days * one.temperature_c - other.days * other.temperature_c) / shorter);
    let implausible = !(Q10_PLAUSIBLE_MIN..=Q10_PLAUSIBLE_MAX).contains(&q10);
    Ok(TwoPoint { q10, T0: t0, K: t0.map(|t0| one.days * (one.temperature_c - t0)), implausible })
}
