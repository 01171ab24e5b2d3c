//! The service: an append-only log of signed events, its projections and its API.
//!
//! * [`report`]: figures and the annual report.

pub mod report;
