//! Units, and on what basis a mass counts.

use serde::Serialize;

use crate::reason::InvalidInput;

/// Standard atmosphere in hPa (by definition).
pub const ATM_HPA: f64 = 1013.25;

/// Millimetres of mercury in a standard atmosphere (by definition, to 1 part in 7 million).
pub const ATM_MMHG: f64 = 760.0;

/// Molar mass of oxygen gas, in g/mol (Garcia & Gordon 1992).
pub const O2_G_MOL: f64 = 31.9988;

/// Mass of a litre of oxygen gas at standard temperature and pressure, in g (mg/mL).
pub const O2_G_L: f64 = 1.429_05;

/// Molar mass of nitrogen, in g/mol (IUPAC 2021, conventional).
pub const N_G_MOL: f64 = 14.007;

const H_G_MOL: f64 = 1.008;
const O_G_MOL: f64 = 15.999;

/// What a mass concentration of dissolved nitrogen counts. Instruments and test kits differ, and the
/// numbers differ by up to 4.4 times.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum NitrogenBasis {
    /// The nitrogen alone: NH3-N, NO2-N, NO3-N.
    Nitrogen,
    /// The whole molecule or ion.
    Whole,
}

/// A dissolved form of nitrogen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum NitrogenForm {
    /// NH3.
    Ammonia,
    /// NH4+.
    Ammonium,
    /// NO2-.
    Nitrite,
    /// NO3-.
    Nitrate,
}

impl NitrogenForm {
    /// Molar mass of the whole, in g/mol.
    pub fn g_mol(self) -> f64 {
        match self {
            NitrogenForm::Ammonia => N_G_MOL + 3.0 * H_G_MOL,
            NitrogenForm::Ammonium => N_G_MOL + 4.0 * H_G_MOL,
            NitrogenForm::Nitrite => N_G_MOL + 2.0 * O_G_MOL,
            NitrogenForm::Nitrate => N_G_MOL + 3.0 * O_G_MOL,
        }
    }

    /// The concentration on another basis, by molar masses (NO3-N × 4.4266 = NO3), in the unit given.
    ///
    /// Fails with [`InvalidInput::Quantity`] for a concentration below 0 or not finite.
    pub fn convert(self, concentration: f64, from: NitrogenBasis, to: NitrogenBasis) -> Result<f64, InvalidInput> {
        let concentration = concentration_of("concentration", concentration)?;
        let whole = self.g_mol() / N_G_MOL;
        Ok(match (from, to) {
            (NitrogenBasis::Nitrogen, NitrogenBasis::Whole) => concentration * whole,
            (NitrogenBasis::Whole, NitrogenBasis::Nitrogen) => concentration / whole,
            _ => concentration,
        })
    }

    /// mg/L on a basis as µmol/L, which has none.
    ///
    /// Fails as [`NitrogenForm::convert`] does.
    pub fn umol_l(self, mg_l: f64, basis: NitrogenBasis) -> Result<f64, InvalidInput> {
        let mg_l_n = self.convert(mg_l, basis, NitrogenBasis::Nitrogen)?;
        Ok(mg_l_n / N_G_MOL * 1000.0)
    }
}

/// Dissolved oxygen in mL/L (of gas at standard temperature and pressure) as mg/L.
pub fn oxygen_mg_l_of_ml_l(ml_l: f64) -> f64 {
    ml_l * O2_G_L
}

/// Dissolved oxygen in µmol/kg as mg/L, in water of this density.
pub fn oxygen_mg_l_of_umol_kg(umol_kg: f64, density_kg_m3: f64) -> f64 {
    umol_kg * density_kg_m3 * O2_G_MOL * 1e-6
}

/// Millimetres of mercury as hPa.
pub fn hpa_of_mmhg(mmhg: f64) -> f64 {
    mmhg / ATM_MMHG * ATM_HPA
}

/// Standard atmospheres as hPa.
pub fn hpa_of_atm(atm: f64) -> f64 {
    atm * ATM_HPA
}

/// Degrees Fahrenheit as °C.
pub fn c_of_fahrenheit(fahrenheit: f64) -> f64 {
    (fahrenheit - 32.0) / 1.8
}

pub(super) fn concentration_of(field: &'static str, found: f64) -> Result<f64, InvalidInput> {
    if found.is_finite() && found >= 0.0 {
        return Ok(found);
    }
    Err(InvalidInput::Quantity { field, found, give: "a concentration, finite and 0 or more" })
}
