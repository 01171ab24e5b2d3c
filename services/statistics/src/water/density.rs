//! Density by the equation of state of 1980.

use super::flag::{Flag, Flagged, salinity};
use super::temperature::Temperature;
use crate::reason::{InvalidInput, quantity};

/// Decibars in a bar.
const DBAR_PER_BAR: f64 = 10.0;

/// Deepest pressure of the equation, in dbar.
const PRESSURE_MAX_DBAR: f64 = 10_000.0;

/// Density of seawater in kg/m³ at a pressure below the surface in dbar (0 at the surface).
///
/// EOS-80: Millero & Poisson 1981 (Deep-Sea Res 28A:625), UNESCO Tech. Pap. Mar. Sci. 44 (1983).
/// Made for S 0-42, -2 to 40 °C, 0 to 10 000 dbar; flagged outside. Not for brines or artificial
/// mixtures whose salts are not the sea's.
///
/// Fails with [`InvalidInput::Quantity`] for values that cannot be water's.
pub fn density_kg_m3(salinity_psu: f64, temperature: Temperature, pressure_dbar: f64) -> Result<Flagged, InvalidInput> {
    let s = salinity(salinity_psu)?;
    let pressure = quantity("pressure_dbar", pressure_dbar, 0.0..=PRESSURE_MAX_DBAR, "0 at the surface to 10 000 dbar")?;
    let t = temperature.t68();
    let surface = at_surface(s, t);
    let bar = pressure / DBAR_PER_BAR;
    let value = if bar > 0.0 { surface / (1.0 - bar / secant_bulk_modulus_bar(s, t, bar)) } else { surface };
    Ok(Flagged::new(value, flags(s, t)))
}

/// Density of pure water in kg/m³ at the surface: the salinity-free part of EOS-80 (Bigg 1967).
pub fn pure_water_density_kg_m3(temperature: Temperature) -> f64 {
    pure_water(temperature.t68())
}

pub(super) fn flags(s: f64, t68: f64) -> [Option<Flag>; 2] {
    [Flag::TemperatureOutsideRange.unless(t68, -2.0..=40.0), Flag::SalinityOutsideRange.unless(s, 0.0..=42.0)]
}

/// `c0 + c1 x + c2 x² + …`
pub(super) fn polynomial(coefficients: &[f64], x: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, c| sum * x + c)
}

fn pure_water(t: f64) -> f64 {
    polynomial(&[999.842594, 6.793952e-2, -9.095290e-3, 1.001685e-4, -1.120083e-6, 6.536332e-9], t)
}

pub(super) fn at_surface(s: f64, t: f64) -> f64 {
    let linear = polynomial(&[0.824493, -4.0899e-3, 7.6438e-5, -8.2467e-7, 5.3875e-9], t);
    let bent = polynomial(&[-5.72466e-3, 1.0227e-4, -1.6546e-6], t);
    pure_water(t) + linear * s + bent * s * s.sqrt() + 4.8314e-4 * s * s
}

/// In bar, at a pressure in bar.
fn secant_bulk_modulus_bar(s: f64, t: f64, bar: f64) -> f64 {
    let root = s * s.sqrt();
    let pure = polynomial(&[19652.21, 148.4206, -2.327105, 1.360477e-2, -5.155288e-5], t);
    let surface =
        pure + polynomial(&[54.6746, -0.603459, 1.09987e-2, -6.1670e-5], t) * s + polynomial(&[7.944e-2, 1.6483e-2, -5.3009e-4], t) * root;
    let a = polynomial(&[3.239908, 1.43713e-3, 1.16092e-4, -5.77905e-7], t)
        + polynomial(&[2.2838e-3, -1.0981e-5, -1.6078e-6], t) * s
        + 1.91075e-4 * root;
    let b = polynomial(&[8.50935e-5, -6.12293e-6, 5.2787e-8], t) + polynomial(&[-9.9348e-7, 2.0816e-8, 9.1697e-10], t) * s;
    surface + a * bar + b * bar * bar
}
