//! Checks of the statistics: by hand, against published and computed references, and by laws that
//! hold for any data.

mod comparisons;
mod development;
mod from_lifelines;
mod from_r;
mod incidence;
mod incubation;
mod interval;
mod laws;
mod laws_of_fates;
mod life_table;
mod memory;
mod pedigree;
mod proportion;
mod reference;
mod support;
mod survival;
mod water;
