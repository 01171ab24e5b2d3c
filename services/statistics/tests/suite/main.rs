//! Checks of the statistics: by hand, against published and computed references, and by laws that
//! hold for any data.

mod laws;
mod pedigree;
mod proportion;
mod reference;
mod support;
mod survival;
