//! All tests of the project that need more than one part of it, in one binary: it links once.
//!
//! * `agreement`: check vectors of the format, and standards that it rests on.

mod agreement;
