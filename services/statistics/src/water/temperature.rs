//! A temperature with its scale: formulas of the 1980s want another one than thermometers show.

use crate::reason::{InvalidInput, quantity};

/// IPTS-68 over ITS-90 in °C (Saunders 1990 WOCE Newsletter 10; UNESCO's recommendation).
pub const IPTS68_PER_ITS90: f64 = 1.000_24;

/// No water is kept colder than this, in °C.
pub const T_C_MIN: f64 = -3.0;

/// Nor warmer, in °C.
pub const T_C_MAX: f64 = 50.0;

/// A temperature of water. Thermometers calibrated since 1990 show ITS-90.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Temperature {
    shown_c: f64,
    is_its90: bool,
}

impl Temperature {
    /// As a thermometer shows it, ITS-90, in °C.
    ///
    /// Fails with [`InvalidInput::Quantity`] outside [`T_C_MIN`] to [`T_C_MAX`].
    pub fn its90(t_c: f64) -> Result<Temperature, InvalidInput> {
        Ok(Temperature { shown_c: checked(t_c)?, is_its90: true })
    }

    /// On the scale of 1968, in °C, as check values of older formulas are given.
    ///
    /// Fails as [`Temperature::its90`] does.
    pub fn ipts68(t_c: f64) -> Result<Temperature, InvalidInput> {
        Ok(Temperature { shown_c: checked(t_c)?, is_its90: false })
    }

    /// In °C on ITS-90.
    pub fn t90(self) -> f64 {
        if self.is_its90 { self.shown_c } else { self.shown_c / IPTS68_PER_ITS90 }
    }

    /// In °C on IPTS-68.
    pub fn t68(self) -> f64 {
        if self.is_its90 { self.shown_c * IPTS68_PER_ITS90 } else { self.shown_c }
    }

    /// In °C, as it was given, for formulas whose tables are entered with whatever was read.
    pub fn as_given(self) -> f64 {
        self.shown_c
    }
}

fn checked(t_c: f64) -> Result<f64, InvalidInput> {
    quantity("t_c", t_c, T_C_MIN..=T_C_MAX, "the temperature of the water in °C, between -3 and 50")
}
