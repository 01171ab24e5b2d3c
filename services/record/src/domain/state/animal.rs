//! An animal, as a reader sees it.

use super::absence::Absence;
use super::adults::Circumstances;
use super::life::{Afterwards, Mark, Said};
use super::words::{EventId, LifeState, Moment, Parentage, Place, Sex};
use crate::domain::discrepancy::Discrepancy;
use crate::domain::told::animals::{Examined, Introduced, Observed, ParentageClaimed, Sexed, Treated};
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
    /// Sightings noted for themselves.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub observations: Vec<Said<Observed>>,
    /// Examinations; a diagnosis counts only with a veterinarian's or laboratory's signature.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub examinations: Vec<Said<Examined>>,
    /// Treatments as ordered.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub treatments: Vec<Said<Treated>>,
    /// How its sex was told.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub sexings: Vec<Said<Sexed>>,
    /// Labels and marks.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub marks: Vec<Mark>,
    /// With whom it was put together.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub introductions: Vec<Said<Introduced>>,
    /// Claims of parentage; the best founded one stands in `dam` and `sire`.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub parentage_claims: Vec<Said<ParentageClaimed>>,
    /// Times for which it was missing, at large or elsewhere.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub absences: Vec<Absence>,
    /// Post-mortems, and what became of the body.
    #[serde(skip_serializing_if = "Afterwards::is_empty")]
    pub afterwards: Afterwards,
    /// What became of it.
    pub fate: AnimalFate,
    /// Where it stands in law and care.
    #[serde(flatten)]
    pub circumstances: Circumstances,
    /// What is at odds; empty in most.
    pub discrepancies: Vec<Discrepancy>,
}

/// The word of a hatch that nobody saw.
pub const FOUND_HATCHED: &str = "found hatched";

/// How an animal came here.
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
        /// `seen to hatch`, `found hatched` or `camera`.
        how_known: String,
        /// Of one found hatched: the last that is known of its case while it was closed, by the finder's own
        /// word, a look, or its coming. It hatched after that.
        #[serde(skip_serializing_if = "Option::is_none")]
        still_closed: Option<Moment>,
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
    /// Told apart from a group, from whose start on it has a life of its own.
    ToldApart {
        /// The group.
        #[schema(value_type = String)]
        group: Subject,
        /// When it was told apart.
        told: Moment,
        /// Whether the group hatched here.
        hatched_here: bool,
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

    /// Of one that was found hatched here: when its case was last known to be closed. Seen or filmed hatches
    /// are known to the day, as the shared rules of survival rows have it.
    #[must_use]
    pub fn hatched_after(&self) -> Option<Moment> {
        match &self.origin {
            AnimalOrigin::Hatched { still_closed, .. } => *still_closed,
            _ => None,
        }
    }

    /// Since when it is known by itself: when it came, or was told apart from a group. Whoever was told
    /// apart had to live until then, so that nothing is learned from it of the time before.
    #[must_use]
    pub fn known_since(&self) -> Moment {
        match &self.origin {
            AnimalOrigin::ToldApart { told, .. } => *told,
            _ => self.came,
        }
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
    /// Not where it should be: a line of its own until it is found or written off, never a death.
    Missing {
        /// Since when it is known to be so.
        #[serde(flatten)]
        when: Moment,
        /// When curator and registrar wrote it off.
        #[serde(skip_serializing_if = "Option::is_none")]
        written_off: Option<Moment>,
    },
    /// At large.
    Escaped {
        /// Since when it is known to be so.
        #[serde(flatten)]
        when: Moment,
        /// Where to, as far as is known.
        into: String,
        /// When curator and registrar wrote it off.
        #[serde(skip_serializing_if = "Option::is_none")]
        written_off: Option<Moment>,
    },
    /// Counted in a group from then on: no end, but nobody knows any more which one it is.
    Grouped {
        /// When.
        #[serde(flatten)]
        when: Moment,
        /// The group.
        #[schema(value_type = String)]
        group: Subject,
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
    /// Missing or at large: it may come back.
    #[must_use]
    pub fn is_absent(&self) -> bool {
        matches!(self, Self::Missing { .. } | Self::Escaped { .. })
    }

    /// Whether it is dead, as far as is noted.
    #[must_use]
    pub fn is_dead(&self) -> bool {
        match self {
            Self::DeadAtHatch { .. } | Self::DeadOnArrival { .. } | Self::Died { .. } => true,
            Self::Departed { alive, .. } => *alive == LifeState::Dead,
            Self::Present | Self::Missing { .. } | Self::Escaped { .. } | Self::Grouped { .. } => false,
        }
    }

    /// When it ended; `None` while present.
    #[must_use]
    pub fn when(&self) -> Option<Moment> {
        match self {
            Self::Present => None,
            Self::DeadAtHatch { when }
            | Self::DeadOnArrival { when }
            | Self::Died { when, .. }
            | Self::Missing { when, .. }
            | Self::Escaped { when, .. }
            | Self::Grouped { when, .. }
            | Self::Departed { when, .. } => Some(*when),
        }
    }
}
