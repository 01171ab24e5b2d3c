//! What the record says when it is asked for figures: nothing here is stored, everything is computed
//! from the state at (V, S) and answers with its denominators by name.
//!
//! * [`plot`]: drawings from numbers.

pub mod plot;
