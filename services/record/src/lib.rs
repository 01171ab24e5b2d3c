//! The service: an append-only log of signed notes, what it shows of the nursery, and its API.
//!
//! Read in this order; a module uses only those above it:
//! * [`clock`]: the one place where the time is read;
//! * [`failure`]: what can go wrong, and whose move it is;
//! * [`tls`], certificates;
//! * [`config`], settings;
//! * [`directory`]: who the pseudonyms are, beside the log;
//! * [`store`]: where events are kept;
//! * [`refusals`]: what was refused, for an auditor;
//! * [`evidence`]: files that notes name;
//! * [`domain`]: what the notes say of eggs, animals and tanks, on two clocks;
//! * [`journal`]: how a note gets into the record, step by step;
//! * [`waiting`]: half-signed bodies, before they are notes;
//! * [`projections`]: how the published log is learned, and asked;
//! * [`report`]: figures, and the annual report;
//! * [`typesetter`]: the program that sets a report as PDF;
//! * [`export`]: the bundle that an auditor takes away;
//! * [`init`]: founding a log, and its folder;
//! * [`upkeep`]: looking, checking, copying, unsealing;
//! * [`http`]: the API;
//! * [`service`]: all of it, started.

pub mod clock;

pub mod failure;

pub mod tls;

pub mod config;

pub mod directory;

pub mod store;

pub mod refusals;

pub mod evidence;

pub mod domain;

pub mod journal;

pub mod waiting;

pub mod projections;

pub mod report;

pub mod typesetter;

pub mod export;

pub mod init;

pub mod upkeep;

pub mod http;

pub mod service;

pub use config::Settings;
pub use service::{Running, Service};
