//! The authorisation of openings, and the choice not to open.

use super::noted::{Count, Thing};
use super::words::Moment;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// An authorisation to open a case, or cases for a period.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Authorisation {
    /// When it was given, and the note.
    pub given: Moment,
    /// The case, or `collection` where it stands for all.
    #[schema(value_type = String)]
    pub subject: Subject,
    /// What must be met.
    pub criteria: Vec<String>,
    /// Who may open, by pseudonym.
    pub persons: Vec<String>,
    /// From when it holds.
    #[schema(value_type = String)]
    pub from: Instant,
    /// Until when.
    #[schema(value_type = String)]
    pub to: Instant,
    /// Only for this species.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub species: Option<Subject>,
    /// How far an opening may go; empty: as the protocol says.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub extents: Vec<String>,
    /// The institution's written protocol.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub protocol: Option<String>,
    /// What spoke against it and was weighed.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub reasons_against: Vec<String>,
    /// What the record said of the case when it was decided, and which cases met the criteria then.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub assessment: Option<AssessmentKept>,
    /// When it was withdrawn.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub withdrawn: Option<Moment>,
    /// Whether it holds at V.
    pub in_force: bool,
}

/// A case that could have been opened and was left to hatch.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct LeftToHatch {
    /// When.
    #[serde(flatten)]
    pub when: Moment,
    /// Why.
    pub reasons: Vec<String>,
    /// Criteria of the written protocol that were met all the same.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub criteria_met: Vec<String>,
    /// Who decided, by pseudonym.
    pub decided_by: Vec<String>,
    /// Hours after which it is looked at again.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub look_again_after_hours: Option<u32>,
    /// What the record said of the case when it was decided.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub assessment: Option<AssessmentKept>,
}

/// An assessment as a decision keeps it: short, with where the whole can be read again. The
/// members are described in the schema of the kind.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[allow(missing_docs, reason = "the members are described in the schema of the kind")]
pub struct AssessmentKept {
    #[schema(value_type = String)]
    pub as_of: Instant,
    pub known_at_size: Count,
    pub answer_sha256: String,
    pub standing: String,
    #[serde(default)]
    pub criteria_met: Vec<String>,
    #[serde(default)]
    pub criteria_not_met: Vec<String>,
    #[serde(default)]
    pub criteria_not_known: Vec<String>,
    #[serde(default)]
    pub reasons_against: Vec<String>,
    #[serde(default)]
    pub met_by: Vec<Thing>,
    pub met_by_cases: Count,
}

/// A case that was tended from outside.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Tended {
    /// When.
    #[serde(flatten)]
    pub when: Moment,
    /// What was done.
    pub done: Vec<String>,
    /// Something entered the case, or cut its wall.
    pub entered_case: bool,
    /// Pseudonym of the person who did it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub person: Option<String>,
}
