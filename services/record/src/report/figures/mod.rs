//! Figures of a cohort, each with its denominator by name and with what stands behind it: cases,
//! clutches, dams, and on request the notes.
//!
//! * [`cohort`]: which cases or animals are meant, and how many clutches and dams they come from;
//! * [`hatch_rates`](mod@hatch_rates): the four hatch rates;
//! * [`mod@fates`]: what became of the cases of a cohort;
//! * [`rearing`](mod@rearing): survival of the young from hatch;
//! * [`assisted`](mod@assisted): opened cases, described, and compared only on request.
//! * `case_rows`: cases beside their rows of a survival table;
//! * [`egg_fates`](mod@egg_fates): what becomes of the cases, by age;
//! * [`loss_timing`](mod@loss_timing): between which ages cases die;
//! * [`life_table`](mod@life_table): the life table of the young;
//! * `births`: births by the age of the dam, and the rate of increase;
//! * [`incubation`](mod@incubation): how long cases take, by the temperature of their water;
//! * [`pedigree`](mod@pedigree): kinship, founders and gene diversity.

pub mod cohort;

pub mod hatch_rates;

pub mod fates;

pub mod rearing;

pub mod assisted;

pub use assisted::{AskedOfAssisted, Assisted, assisted};

mod case_rows;

pub mod egg_fates;

pub mod loss_timing;

mod births;

pub mod life_table;

pub mod incubation;

pub mod pedigree;

pub use births::{BirthClass, BirthsTold};
pub use case_rows::{BesideCases, CaseTold};
pub use cohort::{Behind, Cohort};
pub use egg_fates::{AgeFates, EggFates, egg_fates};
pub use fates::{Fates, fates};
pub use hatch_rates::{HatchRates, Rate, hatch_rates};
pub use incubation::{IncubationFigure, incubation};
pub use life_table::{LifeTableFigure, young_life_table};
pub use loss_timing::{LossTiming, loss_timing};
pub use pedigree::{PedigreeFigure, pedigree};
pub use rearing::{Rearing, Watch, rearing};

use selachron_statistics::Reason;
use selachron_statistics::reason::Error;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Why a number is not there.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Absent {
    /// A word that will not change: see [`WHY`].
    pub why: String,
    /// A sentence to print in the number's place.
    pub says: String,
}

/// The words of [`Absent::why`].
pub const WHY: [&str; 6] = ["no cases", "cases open", "not reached", "no events", "survival is 0", "not estimable"];

impl Absent {
    fn new(why: &'static str, says: impl Into<String>) -> Self {
        debug_assert!(WHY.contains(&why), "{why} is not among the words");
        Self { why: why.to_owned(), says: says.into() }
    }

    fn of(error: &Error) -> Self {
        match error {
            Error::NotEstimable(reason) => Self::from(reason),
            Error::Input(wrong) => Self::new("not estimable", wrong.to_string()),
        }
    }

    fn no_cases() -> Self {
        Self::new("no cases", "no cases")
    }
}

impl From<&Reason> for Absent {
    fn from(reason: &Reason) -> Self {
        let why = match reason {
            Reason::NoData => "no cases",
            Reason::NotFollowed { .. } | Reason::QuantileNotReached { .. } | Reason::LimitNotReached { .. } => "not reached",
            Reason::NoEventYet => "no events",
            Reason::SurvivalIsZero => "survival is 0",
            _ => "not estimable",
        };
        Self::new(why, reason.to_string())
    }
}

/// What a figure says first.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Head {
    /// Which cases or animals are meant.
    pub cohort: Cohort,
    /// How it is made.
    pub method: String,
    /// Which interval stands beside its numbers.
    pub interval: String,
    /// What is counted.
    pub numerator: String,
    /// Of what.
    pub denominator: String,
}

impl Head {
    fn of(cohort: &Cohort, method: &str, interval: &str, [numerator, denominator]: [&str; 2]) -> Self {
        let [method, interval, numerator, denominator] = [method, interval, numerator, denominator].map(str::to_owned);
        Self { cohort: cohort.clone(), method, interval, numerator, denominator }
    }
}

/// The notes behind one case or animal of a figure, and how it was counted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Counted {
    /// `egg/<ULID>` or `animal/<ULID>`.
    pub subject: String,
    /// What stands on it; may be empty.
    pub label: String,
    /// How it was counted, in words.
    pub counted_as: String,
    /// The notes that this rests on, each once, in the order of the life.
    pub events: Vec<String>,
}

#[cfg(test)]
mod tests;
