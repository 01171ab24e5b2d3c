//! The service: an append-only log of signed notes, and the API over it.
//!
//! Read in this order; a module uses only those above it:
//! * [`clock`]: the one place where the time is read;
//! * [`failure`]: what can go wrong, and whose move it is;
//! * [`config`], settings;
//! * [`store`]: where events are kept;
//! * [`journal`]: how a note gets into the record, step by step;
//! * [`export`]: the bundle that an auditor takes away;
//! * [`init`]: founding a log, and its folder;
//! * [`upkeep`]: looking, checking, copying;
//! * [`http`]: the API;
//! * [`service`]: all of it, started.

pub mod clock;

pub mod failure;

pub mod config;

pub mod store;

pub mod journal;

pub mod export;

pub mod init;

pub mod upkeep;

pub mod http;

pub mod service;

pub use config::Settings;
pub use service::{Running, Service};
