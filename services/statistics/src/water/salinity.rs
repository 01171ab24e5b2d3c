//! Practical salinity from conductivity.

use super::density::polynomial;
use super::flag::{Flag, Flagged};
use super::temperature::Temperature;
use crate::reason::{InvalidInput, quantity};

/// Conductivity of standard seawater, S 35, 15 °C (IPTS-68), at the surface, in mS/cm (Culkin & Smith
/// 1980; UNESCO 44).
pub const STANDARD_MS_CM: f64 = 42.914;

/// No seawater conducts better, in mS/cm.
const CONDUCTIVITY_MAX_MS_CM: f64 = 120.0;

/// Conductivity ratios beyond this belong to no seawater.
const RATIO_MAX: f64 = 3.0;

/// Deepest pressure of the scale, in dbar.
const PRESSURE_MAX_DBAR: f64 = 10_000.0;

/// Practical salinity of water at the surface that conducts so well at its own temperature.
///
/// PSS-78: UNESCO Tech. Pap. Mar. Sci. 44 (1983). Made for S 2-42, -2 to 35 °C; flagged outside.
/// Not for readings that the meter has already referred to 25 °C: switch that off, or give 25 °C.
///
/// Fails with [`InvalidInput::Quantity`] for a conductivity that is no water's.
pub fn practical_salinity(conductivity_ms_cm: f64, temperature: Temperature) -> Result<Flagged, InvalidInput> {
    let give = "a conductivity between 0 and 120 mS/cm, at the temperature of the water";
    let found = quantity("conductivity_ms_cm", conductivity_ms_cm, 0.0..=CONDUCTIVITY_MAX_MS_CM, give)?;
    practical_salinity_of_ratio(found / STANDARD_MS_CM, temperature, 0.0)
}

/// Practical salinity of a ratio to standard seawater's conductivity, at a pressure in dbar.
///
/// Source and range as [`practical_salinity`].
///
/// Fails with [`InvalidInput::Quantity`].
pub fn practical_salinity_of_ratio(ratio: f64, temperature: Temperature, pressure_dbar: f64) -> Result<Flagged, InvalidInput> {
    let r = quantity("conductivity_ratio", ratio, 0.0..=RATIO_MAX, "a ratio between 0 and 3")?;
    let p = quantity("pressure_dbar", pressure_dbar, 0.0..=PRESSURE_MAX_DBAR, "0 at the surface to 10 000 dbar")?;
    let t = temperature.t68();
    let under_pressure = 1.0
        + p * polynomial(&[2.070e-5, -6.370e-10, 3.989e-15], p)
            / (polynomial(&[1.0, 3.426e-2, 4.464e-4], t) + polynomial(&[4.215e-1, -3.107e-3], t) * r);
    let of_temperature = polynomial(&[0.6766097, 2.00564e-2, 1.104259e-4, -6.9698e-7, 1.0031e-9], t);
    let value = of_ratio_at_temperature(r / (under_pressure * of_temperature), t);
    let flags = [Flag::TemperatureOutsideRange.unless(t, -2.0..=35.0), Flag::SalinityOutsideRange.unless(value, 2.0..=42.0)];
    Ok(Flagged::new(value.max(0.0), flags))
}

fn of_ratio_at_temperature(ratio: f64, t: f64) -> f64 {
    let root = ratio.sqrt();
    let at_15 = polynomial(&[0.0080, -0.1692, 25.3851, 14.0941, -7.0261, 2.7081], root);
    let away = polynomial(&[0.0005, -0.0056, -0.0066, -0.0375, 0.0636, -0.0144], root);
    at_15 + (t - 15.0) / (1.0 + 0.0162 * (t - 15.0)) * away
}
