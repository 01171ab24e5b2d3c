//! All tests of the project that need more than one part of it, in one binary: it links once.
//!
//! * `agreement`: check vectors of the format, and standards that it rests on;
//! * `nursery`: stories of what the record says of eggs and animals, and the laws of the two
//!   clocks;
//! * `figures`: figures and the annual report, through signed notes and over HTTP;
//! * `journeys`: a person, the client, the service, the auditor;
//! * `evidence`: files that notes name;
//! * `kinds`: the schemas against their examples and against the code;
//! * `outside`: what software that others wrote says of our schemas and notes;
//! * `house`: the house rules.

mod agreement;

mod nursery;

mod figures;

mod journeys;

mod evidence;

mod kinds;

mod outside;

mod house;
