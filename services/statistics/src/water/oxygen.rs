//! How much oxygen water holds in balance with moist air, and what part of it a reading is.

use serde::Serialize;

use super::flag::{Flag, Flagged, salinity};
use super::temperature::Temperature;
use super::units::{ATM_HPA, concentration_of};
use crate::incubation::ZERO_C_IN_K;
use crate::reason::{InvalidInput, quantity};

/// The highest land is above this, in hPa.
const PRESSURE_MIN_HPA: f64 = 300.0;

/// No barometer at sea level shows more, in hPa.
const PRESSURE_MAX_HPA: f64 = 1100.0;

/// Oxygen at saturation.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OxygenSaturation {
    /// In mg/L at the pressure given.
    pub oxygen_saturation_mg_l: f64,
    /// The air pressure, in hPa.
    pub pressure_hpa: f64,
    /// What must be said beside it.
    pub flags: Vec<Flag>,
}

/// Oxygen in water saturated from moist air at the actual air pressure (not reduced to sea level), in
/// mg/L.
///
/// Benson & Krause 1984 (Limnol Oceanogr 29:620), as standard methods and hydrological tables print
/// it. Made for 0-40 °C, S 0-40, 0.5-1.1 atm; flagged outside. The temperature enters as it was given,
/// as those tables are entered: the scales differ by 0.005 °C at 20 °C, which is 0.001 mg/L.
///
/// Fails with [`InvalidInput::Quantity`] for values that cannot be.
pub fn oxygen_saturation(salinity_psu: f64, temperature: Temperature, pressure_hpa: f64) -> Result<OxygenSaturation, InvalidInput> {
    let s = salinity(salinity_psu)?;
    let give = "the air pressure at the tank in hPa, between 300 and 1100";
    let pressure_hpa = quantity("pressure_hpa", pressure_hpa, PRESSURE_MIN_HPA..=PRESSURE_MAX_HPA, give)?;
    let (t, atm) = (temperature.as_given(), pressure_hpa / ATM_HPA);
    let oxygen_saturation_mg_l = benson_krause_mg_l(s, t) * pressure_factor(t, atm);
    let pressure = Flag::PressureOutsideRange.unless(atm, 0.5..=1.1);
    let flags = flags(s, t, 0.0..=40.0, 0.0..=40.0).into_iter().chain([pressure]).flatten().collect();
    Ok(OxygenSaturation { oxygen_saturation_mg_l, pressure_hpa, flags })
}

/// A reading in mg/L as a percentage of saturation at the actual air pressure.
///
/// Fails as [`oxygen_saturation`] does and for a negative reading.
pub fn oxygen_percent(oxygen_mg_l: f64, salinity_psu: f64, temperature: Temperature, pressure_hpa: f64) -> Result<Flagged, InvalidInput> {
    let reading = concentration_of("oxygen_mg_l", oxygen_mg_l)?;
    let full = oxygen_saturation(salinity_psu, temperature, pressure_hpa)?;
    Ok(Flagged { value: 100.0 * reading / full.oxygen_saturation_mg_l, flags: full.flags })
}

/// Oxygen at saturation and one atmosphere, in µmol/kg.
///
/// Garcia & Gordon 1992 (Limnol Oceanogr 37:1307, eq. 8), the coefficients fitted to Benson and
/// Krause's data, without the term `A3 Ts²` that the paper prints in error. Temperature on IPTS-68.
/// Made for 0-40 °C, S 0-42.
///
/// Fails with [`InvalidInput::Quantity`].
pub fn garcia_gordon_umol_kg(salinity_psu: f64, temperature: Temperature) -> Result<Flagged, InvalidInput> {
    let a = [5.80871, 3.20291, 4.17887, 5.10006, -9.86643e-2, 3.80369];
    let b = [-7.01577e-3, -7.70028e-3, -1.13864e-2, -9.51519e-3];
    garcia_gordon(salinity_psu, temperature, &a, &b, -2.75915e-7)
}

/// The same in mL of gas at standard temperature and pressure per litre of water.
///
/// Source, range and errors as [`garcia_gordon_umol_kg`].
pub fn garcia_gordon_ml_l(salinity_psu: f64, temperature: Temperature) -> Result<Flagged, InvalidInput> {
    let a = [2.00907, 3.22014, 4.05010, 4.94457, -2.56847e-1, 3.88767];
    let b = [-6.24523e-3, -7.37614e-3, -1.03410e-2, -8.17083e-3];
    garcia_gordon(salinity_psu, temperature, &a, &b, -4.88682e-7)
}

/// Oxygen at saturation and one atmosphere, in mL/L, by Weiss 1970 (Deep-Sea Res 17:721), for
/// comparison with older records. Temperature on IPTS-68. Made for -1 to 40 °C, S 0-40.
///
/// Fails with [`InvalidInput::Quantity`].
pub fn weiss_ml_l(salinity_psu: f64, temperature: Temperature) -> Result<Flagged, InvalidInput> {
    let (s, t) = (salinity(salinity_psu)?, temperature.t68());
    let k = (t + ZERO_C_IN_K) / 100.0;
    let fresh = -173.4292 + 249.6339 / k + 143.3483 * libm::log(k) - 21.8492 * k;
    let value = libm::exp(fresh + s * (-0.033096 + 0.014259 * k - 0.0017 * k * k));
    Ok(Flagged::new(value, flags(s, t, 0.0..=40.0, -1.0..=40.0)))
}

type Range = std::ops::RangeInclusive<f64>;

fn flags(s: f64, t: f64, salinities: Range, temperatures: Range) -> [Option<Flag>; 2] {
    [Flag::TemperatureOutsideRange.unless(t, temperatures), Flag::SalinityOutsideRange.unless(s, salinities)]
}

fn benson_krause_mg_l(s: f64, t: f64) -> f64 {
    let k = t + ZERO_C_IN_K;
    let fresh = -139.34411 + 1.575701e5 / k - 6.642308e7 / (k * k) + 1.243800e10 / (k * k * k) - 8.621949e11 / (k * k * k * k);
    libm::exp(fresh - s * (1.7674e-2 - 10.754 / k + 2140.7 / (k * k)))
}

/// Saturation at a pressure over that at one atmosphere: vapour takes its share, and oxygen is not
/// quite an ideal gas.
fn pressure_factor(t: f64, atm: f64) -> f64 {
    let k = t + ZERO_C_IN_K;
    let vapour = libm::exp(11.8571 - 3840.70 / k - 216_961.0 / (k * k));
    let theta = 0.000975 - 1.426e-5 * t + 6.436e-8 * t * t;
    atm * (1.0 - vapour / atm) * (1.0 - theta * atm) / ((1.0 - vapour) * (1.0 - theta))
}

fn garcia_gordon(salinity_psu: f64, temperature: Temperature, a: &[f64], b: &[f64], c: f64) -> Result<Flagged, InvalidInput> {
    let (s, t) = (salinity(salinity_psu)?, temperature.t68());
    let scaled = libm::log((298.15 - t) / (ZERO_C_IN_K + t));
    let of = |coefficients| super::density::polynomial(coefficients, scaled);
    let value = libm::exp(of(a) + s * of(b) + c * s * s);
    Ok(Flagged::new(value, flags(s, t, 0.0..=42.0, 0.0..=40.0)))
}
