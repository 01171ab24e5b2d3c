//! The service: an append-only log of signed notes, what it shows of the nursery, and its API.
//!
//! Read in this order:
//! * [`domain`]: what the notes say of eggs, animals and tanks, on two clocks;
//! * [`projections`]: how the published log is learned, and asked.

pub mod domain;

pub mod projections;
