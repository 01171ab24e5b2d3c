//! Specific gravity, which is nothing without the two temperatures that it names.

use super::density::{at_surface, density_kg_m3, pure_water_density_kg_m3};
use super::flag::{Flagged, SALINITY_MAX};
use super::temperature::Temperature;
use crate::reason::{InvalidInput, quantity};

/// Halvings to find a salinity: beyond the digits of any hydrometer.
const HALVINGS: u32 = 60;

/// Density of the sample at its temperature over that of pure water at the reference, by EOS-80 at
/// the surface: S 35 is 1.02637 at 25/25 °C and 1.02660 at 20/20 °C.
///
/// Range as [`density_kg_m3`](super::density_kg_m3()).
///
/// Fails with [`InvalidInput::Quantity`].
pub fn specific_gravity(salinity_psu: f64, sample: Temperature, reference: Temperature) -> Result<Flagged, InvalidInput> {
    let sea = density_kg_m3(salinity_psu, sample, 0.0)?;
    Ok(Flagged { value: sea.value / pure_water_density_kg_m3(reference), flags: sea.flags })
}

/// Salinity of a sample of this specific gravity, the inverse of [`specific_gravity`].
///
/// Not for a refractometer scaled for brine of common salt, which misreads seawater by 1-2 units.
///
/// Fails with [`InvalidInput::Quantity`] for a gravity of no water at these temperatures.
pub fn salinity_of_specific_gravity(gravity: f64, sample: Temperature, reference: Temperature) -> Result<Flagged, InvalidInput> {
    let water = pure_water_density_kg_m3(reference);
    let gravity_of = |s: f64| at_surface(s, sample.t68()) / water;
    let give = "the gravity of water between salinity 0 and 60 at these temperatures";
    let wanted = quantity("specific_gravity", gravity, gravity_of(0.0)..=gravity_of(SALINITY_MAX), give)?;
    let (mut low, mut high) = (0.0, SALINITY_MAX);
    for _ in 0..HALVINGS {
        let middle = (low + high) / 2.0;
        if gravity_of(middle) < wanted {
            low = middle;
        } else {
            high = middle;
        }
    }
    Ok(Flagged::new(high, super::density::flags(high, sample.t68())))
}
