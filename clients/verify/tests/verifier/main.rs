//! The verifier against bundles that are right, changed, cut, made up and against the rules.
//!
//! * `log` and `season`: an invented log, made here;
//! * `bundles`: what is right, and what is said of it;
//! * `tampering`: what somebody changed afterwards;
//! * `rules`: what a dishonest log let in;
//! * `trust`: what the auditor brings along;
//! * `program`: the command, its words and its exit status.

mod log;

mod season;

mod bundles;

mod tampering;

mod rules;

mod trust;

mod program;
