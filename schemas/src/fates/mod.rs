//! From what was seen of a case to one row of a survival table: between which two days its end lies,
//! what the end was, and which notes say so. Client, service and auditor must agree on that to the
//! day, which is why it stands here and not beside the estimators, who know no eggs.
//!
//! The rules:
//! 1. Sightings count in the order of (day, place in the log); what was taken back, and what lies
//!    after the day of the question, does not count.
//! 2. A case is at risk from age 0, or from its age on arrival. One that arrived dead never is.
//! 3. Only a sighting alive moves the left end. A look that showed nothing moves neither end.
//! 4. The end is the first sighting of it that no later sighting alive lifts: a death lies in
//!    (last alive, found dead], a hatch that was found in (last seen unhatched, found], a hatch that
//!    was seen on its day, a removal on its day, a loss from sight in (last alive, missed].
//! 5. Whatever is still open is censored at its last sighting alive, never at the day of the question.
//! 6. A case that was missed and that somebody has in hand again is open as before.
//! 7. No day is ever invented.
//!
//! * [`encode`](mod@encode): these rules;
//! * [`of_log`](mod@of_log): the notes of a log as sightings.

pub mod encode;

pub mod of_log;

pub use encode::encode;
pub use of_log::{of_log, of_standing};

use chrono::NaiveDate;
use serde::Serialize;

/// What was seen of a case on one occasion.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Seen {
    /// The embryo lives: heartbeat, movement.
    Alive,
    /// A look that could not tell, or none at all. It changes nothing.
    Unclear,
    /// The case is still closed; nothing is said of the embryo. A case lost from sight is found again.
    NotHatched,
    /// Somebody has the case in hand: one lost from sight is found again, and nothing else is said.
    InHand,
    /// What was in it is dead.
    Dead,
    /// There never was an embryo.
    Infertile,
    /// Young came out.
    Hatched {
        /// Seen to hatch or on a camera: on that very day. Else it was found.
        exact: bool,
        /// It had not hatched on this day, as the finder says.
        not_before: Option<NaiveDate>,
        /// The case had been opened.
        assisted: bool,
    },
    /// It left, alive as far as is known.
    Removed,
    /// It was not where it should have been, or empty with no young found.
    Missing,
}

/// One sighting.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sighting {
    /// The local day.
    pub on: NaiveDate,
    /// The id of the note that tells it.
    pub id: String,
    /// What was seen.
    pub seen: Seen,
}

/// A case, as the rules need it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Case {
    /// Its name in the answer.
    pub egg: String,
    /// The day from which its age counts: found laid, or laid as estimated.
    pub age_0_on: NaiveDate,
    /// It was not laid before this day; `None` where nobody knows.
    pub laid_not_before: Option<NaiveDate>,
    /// The day on which it came from elsewhere; `None` where it was found here.
    pub entered_on: Option<NaiveDate>,
    /// It came in dead.
    pub dead_on_entry: bool,
    /// The id of the note by which it came.
    pub came_by: Option<String>,
    /// What was seen of it, in the order of the log.
    pub sightings: Vec<Sighting>,
}

/// How a case ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Cause {
    /// Hatched.
    Hatch,
    /// Died.
    Death,
    /// Left.
    Removed,
    /// Lost from sight.
    Lost,
    /// Open: only known to have been alive at L.
    Censored,
}

/// Why a case is in no risk set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NotAtRisk {
    /// It came in dead.
    #[error("dead on arrival: reported separately, never in a survival risk set")]
    DeadOnArrival,
    /// It never held an embryo.
    #[error("infertile: in the denominator of eggs-laid hatch rate, not of fertile hatch rate or survival")]
    Infertile,
    /// Its end lies before it came under observation.
    #[error("its days contradict each other: an end is told for a day before it came; put that right first")]
    DaysAtOdds,
}

impl Serialize for NotAtRisk {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// One row of a survival table: ages in whole days, the end in (L, R].
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Fate {
    /// The case.
    pub egg: String,
    /// Age from which it is at risk.
    pub entry: i64,
    /// How long before age 0 it may have been laid; `null` where nobody knows.
    pub origin_uncertainty_days: Option<i64>,
    /// Whether there was an embryo; `null` where it was never told.
    pub fertile: Option<bool>,
    /// Whether it belongs in a risk set.
    pub at_risk: bool,
    /// Why not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<NotAtRisk>,
    /// Left end: still open at this age. For an exact end the same as R.
    #[serde(rename = "L")]
    pub left: Option<i64>,
    /// Right end; `null` where the case is censored.
    #[serde(rename = "R")]
    pub right: Option<i64>,
    /// The end.
    pub cause: Option<Cause>,
    /// Of a hatch: whether the case had been opened.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub assisted: Option<bool>,
    /// The notes that made L and R, each once: L's first.
    pub events: Vec<String>,
    /// The note behind each bound.
    pub made_by: MadeBy,
}

/// The note behind each bound; `null` where there is none.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct MadeBy {
    /// Behind L.
    #[serde(rename = "L")]
    pub left: Option<String>,
    /// Behind R, or behind the case not being at risk.
    #[serde(rename = "R")]
    pub right: Option<String>,
}
