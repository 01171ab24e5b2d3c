//! Checks of the statistics: by hand, against published and computed references, and by laws that
//! hold for any data.

mod incubation;
mod interval;
mod laws;
mod proportion;
mod reference;
mod support;
mod survival;
mod water;
