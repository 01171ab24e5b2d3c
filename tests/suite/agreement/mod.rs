//! The agreement against check vectors and published standards.

mod fold;

mod standards;

pub mod vectors;
