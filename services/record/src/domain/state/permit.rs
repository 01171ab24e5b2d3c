//! Permits, and the legal status of species, as a reader sees them.

use super::noted::{Count, Noted, Thing, told};
use crate::domain::discrepancy::Discrepancy;
use selachron_schemas::names::Subject;
use serde::Serialize;
use utoipa::ToSchema;

told! {
    /// `permit.recorded.v1`
    PermitRecorded { label: String, what: String, number: String, authority: String; valid_from: String, valid_until: String, specimens: Count, document: Thing; species: Thing, conditions: String }
    /// `permit.used.v1`
    PermitUsed { for_what: String; specimens: Count, consignment: Thing, term: String, purpose: String, source: String, unit: String, country: String; which: Thing }
    /// `permit.ended.v1`
    PermitEnded { how: String; renewed_by: Thing; }
    /// `species.status_noted.v1`
    SpeciesStatusNoted { under: String, status: String, valid_from: String, source: String; valid_until: String, document: Thing; }
}

/// A legal status of a species, as a source says it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct LegalStatus {
    /// As it was noted.
    #[serde(flatten)]
    pub noted: Noted<SpeciesStatusNoted>,
    /// Whether it holds on the day of V: begun, not past its last day, and no newer one under the same law or
    /// convention has begun. A newer one ends what was before even when it has ended itself: what holds after
    /// its last day is for a source to say, and until one does, nothing is in force.
    pub in_force: bool,
}

/// A permit.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Permit {
    /// `document/<ULID>`.
    #[schema(value_type = String)]
    pub id: Subject,
    /// As its paper says.
    #[serde(flatten)]
    pub recorded: Noted<PermitRecorded>,
    /// `valid`, `not yet valid`, `past its last day`, `ended`.
    pub state: &'static str,
    /// Days until its last day; below 0 once that is past. Absent without one, or once it has ended.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub days_left: Option<i64>,
    /// Its uses, in order of time.
    pub used: Vec<Noted<PermitUsed>>,
    /// How many were taken under it, as far as its uses and what they name say.
    pub used_specimens: u64,
    /// Uses of which neither their note nor what it names says how many were taken; they are in no number.
    pub uses_not_counted: u64,
    /// Its end, where a note tells of one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ended: Option<Noted<PermitEnded>>,
    /// What is at odds.
    pub discrepancies: Vec<Discrepancy>,
}
