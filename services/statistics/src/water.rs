//! What readings of the water mean: un-ionised ammonia, oxygen, density, salinity, units.
//!
//! Every formula names its paper and the range it was made for. A value outside that range is
//! computed and flagged ([`Flag`]), never extrapolated in silence; a value that cannot be water's is
//! refused. A reading is meaningful only with its basis: the scale of a pH, the element that a mass
//! of nitrogen counts, the reference temperatures of a specific gravity, the scale of a temperature.
//!
//! These are aids to the keeper who reads the instruments. Whether animals are in danger is judged
//! at the tank, by the institution's process and its veterinarian.
//!
//! Read in this order: [`temperature`], [`flag`], [`units`], [`density`], [`salinity`], [`gravity`],
//! [`oxygen`], [`ammonia`].

pub mod temperature;

pub mod flag;

pub mod units;

pub mod density;

pub mod salinity;

pub mod gravity;

pub mod oxygen;

pub mod ammonia;

pub use ammonia::{Ammonia, PhScale, un_ionised_ammonia};
pub use density::{density_kg_m3, pure_water_density_kg_m3};
pub use flag::{Flag, Flagged};
pub use gravity::{salinity_of_specific_gravity, specific_gravity};
pub use oxygen::{OxygenSaturation, oxygen_percent, oxygen_saturation};
pub use salinity::{practical_salinity, practical_salinity_of_ratio};
pub use temperature::Temperature;
