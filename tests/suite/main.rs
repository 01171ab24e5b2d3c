//! All tests of the project that need more than one part of it, in one binary: it links once.
//!
//! * `agreement`: check vectors of the format, and standards that it rests on;
//! * `nursery`: stories of what the record says of eggs and animals, and the laws of the two
//!   clocks.

mod agreement;

mod nursery;
