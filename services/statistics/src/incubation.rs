//! How long eggs take at a temperature, and along a log of temperatures.
//!
//! Three forms of the time `D(T)` to hatching: the thermal sum `D = K/(T - T0)`, Q10
//! `D = D_ref * Q10^(-(T - T_ref)/10)`, and Arrhenius `D = D_ref * exp(Ea/kB (1/T - 1/T_ref))`. All
//! are fitted by straight lines, the thermal sum also on the days themselves, and all speak only of the temperatures at which eggs were kept:
//! outside them a prediction is flagged. They are for eggs of one species in one manner of keeping;
//! species are never pooled. Only eggs that hatched can be fitted, so that a season in which eggs
//! still wait or have died reads too short.
//!
//! Read in this order: [`line`](mod@line), [`fit`], [`nls`], [`two_point`](mod@two_point), [`log`],
//! [`integrate`].

pub mod line;

pub mod fit;

pub mod nls;

pub mod two_point;

pub mod log;

pub mod integrate;

pub use fit::{Arrhenius, Incubation, Prediction, Q10, ThermalSum, arrhenius, q10, thermal_sum};
pub use integrate::{Between, Forecast, Rate};
pub(crate) use log::{Gap, Segment};
pub use log::{TemperatureLog, TemperatureReading};
pub use nls::{DaysFit, thermal_sum_on_days};
pub use two_point::{Q10_PLAUSIBLE_MAX, Q10_PLAUSIBLE_MIN, TwoPoint, two_point};

/// Boltzmann's constant in eV/K (exact since the SI of 2019, here to the digits of CODATA).
pub const BOLTZMANN_EV_K: f64 = 8.617_333_262e-5;

/// 0 °C in K.
pub const ZERO_C_IN_K: f64 = 273.15;

/// Water in which eggs are kept is not colder than this, in °C.
pub const TEMPERATURE_MIN_C: f64 = -5.0;

/// Nor warmer, in °C: beyond it a reading is a slip or a thermometer in air.
pub const TEMPERATURE_MAX_C: f64 = 50.0;

/// What a temperature must be.
const GIVE_TEMPERATURE: &str = "the temperature of the water in °C, between -5 and 50";

/// What a number of days must be.
const GIVE_DAYS: &str = "a finite number of days above 0";

fn is_temperature(found: f64) -> bool {
    (TEMPERATURE_MIN_C..=TEMPERATURE_MAX_C).contains(&found)
}

fn is_positive(found: f64) -> bool {
    found.is_finite() && found > 0.0
}
