//! An invented season, told through the real client to the real service.
//!
//! No collection, person or animal in it exists, and its clock is advanced by a program: the
//! record says so itself (`simulated_clock`, F10), and everything that reads it says so too.
//! Species, incubation times and sizes come from published abstracts, named where they stand.
//!
//! Read in this order:
//! * [`season`]: the season as data, from a seed;
//! * [`facts`]: what is known only once keys are made and notes recorded;
//! * [`rehearsal`]: the season against the log's own rules, without service or network;
//! * [`trouble`]: what can go wrong while it is played;
//! * [`play`]: the season through the real client to the real service;
//! * [`arguments`]: what the program is asked;
//! * [`telling`]: what it says;
//! * [`show`]: the demo from end to end.

pub mod season;

pub mod facts;

pub mod rehearsal;

pub mod trouble;

pub mod play;

pub mod arguments;

pub mod telling;

pub mod show;
