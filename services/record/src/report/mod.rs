//! What the record says when it is asked for figures: nothing here is stored, everything is computed
//! from the state at (V, S) and answers with its denominators by name.
//!
//! * [`numbers`]: rounding, in one place;
//! * [`plot`]: drawings from numbers;
//! * [`figures`]: hatch rates, fates and rearing of a cohort.

pub mod numbers;

pub mod plot;

pub mod figures;

#[cfg(test)]
mod invented;
