//! Un-ionised ammonia: the part of total ammonia that is toxic.
//!
//! `fraction = 1/(1 + 10^(pKa - pH))`, and the pH scale of the probe chooses the form of pKa: constants
//! on the total scale with a probe calibrated in NBS buffers overstate the fraction by a quarter to a
//! third. Khoo et al. 1977 is not offered: Bell et al. 2007 (Environ Chem 4:183) show it wrong by up to
//! five times.

use serde::Serialize;

use super::flag::{Flag, salinity};
use super::temperature::Temperature;
use super::units::concentration_of;
use crate::incubation::ZERO_C_IN_K;
use crate::reason::{Error, InvalidInput, Reason, quantity};

/// Below this salinity water counts as fresh.
pub const FRESH_BELOW_PSU: f64 = 0.5;

/// On what scale a probe reads pH; a property of its calibration.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum PhScale {
    /// Calibrated in ordinary (NBS, NIST) buffers: nearly every probe at a tank.
    Nbs,
    /// Total hydrogen ion, calibrated in seawater buffers.
    Total,
    /// Free hydrogen ion.
    Free,
    /// Not known: no figure.
    Unknown,
}

/// Which formula gave pKa.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum AmmoniaForm {
    /// Fresh water: Emerson et al. 1975 (J Fish Res Board Can 32:2379), 0-30 °C, pH 6-10.
    Emerson1975,
    /// The sea, NBS scale: a line fitted to the table of Bower & Bidwell 1978 (J Fish Res Board Can
    /// 35:1012) at S 34, 10-25 °C, pH 7.5-8.5, which it meets within 0.4 %.
    BowerBidwell1978,
    /// The sea, total scale: Clegg & Whitfield 1995 (Geochim Cosmochim Acta 59:2403), -2 to 40 °C, S 0-40.
    CleggWhitfield1995Total,
    /// The sea, free scale: the same.
    CleggWhitfield1995Free,
}

/// Un-ionised ammonia of a reading.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Ammonia {
    /// Part of total ammonia that is NH3, 0 to 1.
    pub un_ionised_fraction: f64,
    /// The constant used.
    pub pka: f64,
    /// By which formula.
    pub form: AmmoniaForm,
    /// The scale it was read on.
    pub ph_scale: PhScale,
    /// The fraction if the pH were 0.1 higher, over the fraction: what a drifted probe would do.
    pub ratio_per_tenth_ph: f64,
    /// For the sea on the NBS scale, the fraction by Clegg & Whitfield's free scale, as a check.
    pub check_fraction: Option<f64>,
    /// What must be said beside it.
    pub flags: Vec<Flag>,
}

/// The un-ionised part of total ammonia at this pH.
///
/// Fresh water (S below [`FRESH_BELOW_PSU`]) by Emerson et al. 1975 on any known scale; the sea by the
/// form of the scale ([`AmmoniaForm`]). Outside a form's range the fraction is flagged; the check
/// value shows by how much to doubt it. It is no measure of harm by itself.
///
/// Fails with [`Reason::PhScaleUnknown`] and with [`InvalidInput::Quantity`] for values that cannot be.
pub fn un_ionised_ammonia(ph: f64, ph_scale: PhScale, salinity_psu: f64, temperature: Temperature) -> Result<Ammonia, Error> {
    let s = salinity(salinity_psu)?;
    let ph = quantity("ph", ph, 0.0..=14.0, "a pH between 0 and 14")?;
    let t = temperature.t90();
    let form = match ph_scale {
        PhScale::Unknown => return Err(Reason::PhScaleUnknown.into()),
        _ if s < FRESH_BELOW_PSU => AmmoniaForm::Emerson1975,
        PhScale::Nbs => AmmoniaForm::BowerBidwell1978,
        PhScale::Total => AmmoniaForm::CleggWhitfield1995Total,
        PhScale::Free => AmmoniaForm::CleggWhitfield1995Free,
    };
    let pka = form.pka(s, t);
    let un_ionised_fraction = fraction(pka, ph);
    let is_checked = form == AmmoniaForm::BowerBidwell1978;
    Ok(Ammonia {
        un_ionised_fraction,
        pka,
        form,
        ph_scale,
        ratio_per_tenth_ph: fraction(pka, ph + 0.1) / un_ionised_fraction,
        check_fraction: is_checked.then(|| fraction(AmmoniaForm::CleggWhitfield1995Free.pka(s, t), ph)),
        flags: form.flags(ph, s, t),
    })
}

/// `1/(1 + 10^(pKa - pH))`.
fn fraction(pka: f64, ph: f64) -> f64 {
    1.0 / (1.0 + libm::exp10(pka - ph))
}

impl Ammonia {
    /// Un-ionised ammonia as nitrogen, in mg/L, of total ammonia nitrogen in mg/L.
    ///
    /// Fails with [`InvalidInput::Quantity`] for a concentration below 0.
    pub fn un_ionised_mg_l_n(&self, tan_mg_l_n: f64) -> Result<f64, InvalidInput> {
        Ok(concentration_of("tan_mg_l_n", tan_mg_l_n)? * self.un_ionised_fraction)
    }
}

impl AmmoniaForm {
    /// The constant at this salinity and temperature (°C, ITS-90), by the formula alone: no range is
    /// checked.
    pub fn pka(self, salinity_psu: f64, t_c: f64) -> f64 {
        match self {
            // 273.2 is the paper's own zero; 273.15 would move the fraction by 0.3 %.
            AmmoniaForm::Emerson1975 => 0.09018 + 2729.92 / (t_c + 273.2),
            AmmoniaForm::BowerBidwell1978 => 9.350 + 0.0324 * (25.0 - t_c),
            AmmoniaForm::CleggWhitfield1995Total => infinitely_dilute(t_c) + salt_on_total_scale(salinity_psu, t_c + ZERO_C_IN_K),
            AmmoniaForm::CleggWhitfield1995Free => infinitely_dilute(t_c) + salt_on_free_scale(salinity_psu, t_c + ZERO_C_IN_K),
        }
    }

    fn flags(self, ph: f64, s: f64, t: f64) -> Vec<Flag> {
        let (cold, salt, acid) = (Flag::TemperatureOutsideRange, Flag::SalinityOutsideRange, Flag::PhOutsideRange);
        let found = match self {
            AmmoniaForm::Emerson1975 => vec![cold.unless(t, 0.0..=30.0), acid.unless(ph, 6.0..=10.0)],
            AmmoniaForm::BowerBidwell1978 => {
                let warm = (t > 25.0 && t <= 31.0).then_some(Flag::ExtrapolatedWarm);
                let salty = Flag::NotAtSalinity34.unless(s, 33.0..=35.0);
                vec![cold.unless(t, 10.0..=31.0), warm, salty, acid.unless(ph, 7.5..=8.5)]
            }
            _ => vec![cold.unless(t, -2.0..=40.0), salt.unless(s, 0.0..=40.0)],
        };
        found.into_iter().flatten().collect()
    }
}

/// pKa of Clegg & Whitfield at infinite dilution.
fn infinitely_dilute(t_c: f64) -> f64 {
    9.244605 - 2729.33 * (1.0 / 298.15 - 1.0 / (t_c + ZERO_C_IN_K))
}

/// Clegg & Whitfield's eq. 18: molal, total scale.
fn salt_on_total_scale(s: f64, k: f64) -> f64 {
    let root = k.sqrt();
    (0.04203362 - 11.24742 / k) * s.sqrt().sqrt()
        + (-13.6416 + 1.176949 * root - 0.02860785 * k + 545.4834 / k) * s.sqrt()
        + (-0.1462507 + 0.0090226468 * root - 0.0001471361 * k + 10.5425 / k) * s * s.sqrt()
        + (0.004669309 - 0.0001691742 * root - 0.5677934 / k) * s * s
        + (-2.354039e-5 + 0.009698623 / k) * s * s * s.sqrt()
}

/// Their form on the free scale.
fn salt_on_free_scale(s: f64, k: f64) -> f64 {
    (0.0500616 - 9.412696 / k - 2.029559e-7 * k * k) * s.sqrt()
        + (-0.0142372 + 1.46041e-5 * k + 3.730005 / k) * s
        + (7.1047e-5 - 0.0229021 / k) * s * s
        + (-5.521278e-7 + 1.95413e-4 / k) * s * s * s
}
