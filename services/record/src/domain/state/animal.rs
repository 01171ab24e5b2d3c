//! An animal, as a reader sees it.

use super::adults::Circumstances;
use super::words::{EventId, LifeState, Moment, Parentage, Place, Sex};
use crate::domain::discrepancy::Discrepancy;
use chrono::NaiveDate;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use serde::Serialize;
use utoipa::ToSchema;

/// An animal, from its hatch or its arrival on.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Animal {
    /// `animal/<ULID>`.
    #[schema(value_type = String)]
    pub id: Subject,
    /// Label; a hatchling without one of its own has none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub label: Option<String>,
    /// `species/<ULID>`, of a hatchling that of its case.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub species: Option<Subject>,
    /// As told by the newest note that says.
    pub sex: Sex,
    /// When it hatched or arrived.
    pub came: Moment,
    /// Hatched here or received.
    pub origin: AnimalOrigin,
    /// The mother: the hatch note's own word, else the case's.
    pub dam: Parentage,
    /// The father: the hatch note's own word, else the case's.
    pub sire: Parentage,
    /// Where it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub place: Option<Place>,
    /// Number of feedings noted.
    pub feeds: u32,
    /// First time seen to eat (`all`, `most` or `some`).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first_eaten: Option<Moment>,
    /// Newest time seen to eat.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_eaten: Option<Moment>,
    /// First time the internal yolk was seen to be used up.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub internal_yolk_used_up: Option<Moment>,
    /// Measurements in order of time, those of the hatch or arrival first.
    pub measures: Vec<Measure>,
    /// Newest sighting alive. Of a found death it may be what the note itself says, and then lies
    /// before the sighting that note rests on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_seen_alive: Option<Moment>,
    /// What became of it.
    pub fate: AnimalFate,
    /// Where it stands in law and care.
    #[serde(flatten)]
    pub circumstances: Circumstances,
    /// What is at odds; empty in most.
    pub discrepancies: Vec<Discrepancy>,
}

/// How an animal came.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[serde(tag = "how", rename_all = "snake_case")]
pub enum AnimalOrigin {
    /// Out of a case of this collection.
    Hatched {
        /// The case.
        #[schema(value_type = String)]
        egg: Subject,
        /// Alive at the first look; dead young are never at risk in rearing.
        alive: bool,
        /// The opening (of a case not known dead) that came before or with the hatch.
        #[serde(skip_serializing_if = "Option::is_none")]
        #[schema(value_type = Option<String>)]
        after_opening: Option<EventId>,
    },
    /// From elsewhere.
    Received {
        /// The sender, a pseudonym.
        from: String,
        /// As it arrived.
        state: LifeState,
        /// `wild`, `bred in care`, `unknown`.
        origin: String,
        /// Estimated day of its hatch.
        #[serde(skip_serializing_if = "Option::is_none")]
        #[schema(value_type = Option<String>)]
        hatched_on_estimate: Option<NaiveDate>,
    },
    /// The note that says so is withheld.
    Withheld,
}

impl Animal {
    /// When it hatched here, alive; `None` for animals received and young that were dead.
    #[must_use]
    pub fn hatched_alive(&self) -> Option<Moment> {
        matches!(self.origin, AnimalOrigin::Hatched { alive: true, .. }).then_some(self.came)
    }
}

/// A measurement.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Measure {
    /// When.
    #[serde(flatten)]
    pub when: Moment,
    /// Length in centimetres.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub length_cm: Option<f64>,
    /// `total` or `disc width`; of a hatch or arrival the species' own.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub length_basis: Option<String>,
    /// `measured` or `from a photo`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub length_how: Option<String>,
    /// Mass in grams.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mass_g: Option<f64>,
    /// `drained` or `in water`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mass_how: Option<String>,
}

/// What became of an animal.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[serde(tag = "state", rename_all = "snake_case")]
pub enum AnimalFate {
    /// Here, as far as is known.
    Present,
    /// Dead when its case was first seen hatched or half out: not a hatch, not a death in rearing.
    DeadAtHatch {
        /// When.
        #[serde(flatten)]
        when: Moment,
    },
    /// It arrived dead: never at risk here.
    DeadOnArrival {
        /// When.
        #[serde(flatten)]
        when: Moment,
    },
    /// Died.
    Died {
        /// When it died or was found.
        #[serde(flatten)]
        when: Moment,
        /// `found dead`, `seen to die`, `by a veterinarian's decision`.
        how_known: String,
        /// The note's own last sighting alive.
        #[serde(skip_serializing_if = "Option::is_none")]
        #[schema(value_type = Option<String>)]
        said_last_seen_alive: Option<Instant>,
        /// Apparent cause.
        apparent_cause: String,
    },
    /// Left.
    Departed {
        /// When.
        #[serde(flatten)]
        when: Moment,
        /// Where to.
        to: String,
        /// `transfer`, `loan`, `other`.
        reason: String,
        /// As it left.
        alive: LifeState,
    },
}

impl AnimalFate {
    /// When it ended; `None` while present.
    #[must_use]
    pub fn when(&self) -> Option<Moment> {
        match self {
            Self::Present => None,
            Self::DeadAtHatch { when } | Self::DeadOnArrival { when } | Self::Died { when, .. } | Self::Departed { when, .. } => {
                Some(*when)
            }
        }
    }
}
