//! Mathematics that knows no eggs: from slices of plain numbers to results, with no clock, no disk,
//! no network and no chance. What cannot be estimated is not a NaN but a [`Reason`] with a sentence.
//!
//! Ages are days since the origin of the time scale; a case is at risk on `(entry, exit]`; at a tie
//! deaths come before censorings and entries after both. Only `+ - * /` and the square root of the
//! machine are used, everything else comes from `libm`, so that a report recomputed elsewhere
//! carries the same digits.
//!
//! Read in this order:
//! * [`reason`]: why a number is absent, and what is wrong with an input;
//! * [`confidence`]: the level of an interval, and an interval;
//! * [`beta`]: the incomplete beta function, accurate where the counts are large;
//! * [`proportion`]: k of n, with the intervals of Wilson and of Clopper and Pearson;
//! * [`clustered`]: k of n when the cases come in clusters;
//! * [`chi_square`]: the upper tail of a test's distribution;
//! * [`rows`]: one case as it is given: entry, exit, event or fate, weight, group;
//! * [`sweep`]: one pass over the ages at which cases leave;
//! * [`risk_set`]: how many are under observation at an age;
//! * [`kaplan_meier`](mod@kaplan_meier): the product-limit curve and the cumulative hazard;
//! * [`curve`]: what a curve says, and how it is read at an age;
//! * [`quantile`]: the age by which a given part has had the event;
//! * [`restricted_mean`]: the mean time lived up to a fixed age;
//! * [`log_rank`](mod@log_rank): whether groups differ in their hazard;
//! * `cohort`: cases of competing fates in order of exit;
//! * [`incidence`]: what a table of cumulative incidences says;
//! * [`aalen_johansen`](mod@aalen_johansen): the part that has met each of several fates;
//! * `jackknife`: the second of its standard errors;
//! * [`gray`](mod@gray): whether groups differ in the incidence of a fate;
//! * [`life_table`](mod@life_table): survival by age class;
//! * [`reproduction`](mod@reproduction): replacement, generation time and rate of increase;
//! * [`pedigree`]: who descends from whom: inbreeding, kinship, founders, gene diversity;
//! * [`interval`]: events known only to lie between two looks;
//! * [`incubation`]: how long eggs take at a temperature, and along a log of temperatures;
//! * [`development`]: when development will be complete, as a probability over days;
//! * [`water`]: what readings of the water mean;
//! * [`plot`]: drawings made from numbers alone.

pub mod reason;

pub mod confidence;

pub mod beta;

pub mod proportion;

pub mod clustered;

pub mod chi_square;

pub mod rows;

pub mod sweep;

pub mod risk_set;

pub mod kaplan_meier;

pub mod curve;

pub mod quantile;

pub mod restricted_mean;

pub mod log_rank;

mod cohort;

pub mod incidence;

pub mod aalen_johansen;

mod jackknife;

pub mod gray;

pub mod life_table;

pub mod reproduction;

pub mod pedigree;

pub mod interval;

pub mod incubation;

pub mod development;

pub mod water;

pub mod plot;

pub use aalen_johansen::{aalen_johansen, aalen_johansen_given, aalen_johansen_of};
pub use confidence::{Interval, Level};
pub use curve::Curve;
pub use gray::gray;
pub use incidence::Incidence;
pub use kaplan_meier::{kaplan_meier, kaplan_meier_given, kaplan_meier_of};
pub use life_table::life_table;
pub use log_rank::log_rank;
pub use reason::{Error, InvalidInput, Reason};
pub use reproduction::reproduction;
pub use rows::{Fate, Grouped, Row};
pub use sweep::Design;
