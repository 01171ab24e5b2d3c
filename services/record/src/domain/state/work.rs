//! Rounds, duty, incidents, samples and documents, as a reader sees them.

use super::noted::{Count, Noted, Thing, told};
use super::permit::Permit;
use crate::domain::discrepancy::Discrepancy;
use selachron_schemas::names::Subject;
use serde::Serialize;
use utoipa::ToSchema;

told! {
    /// `round.opened.v1`
    RoundOpened { label: String, what: String; ; tanks: Thing, eggs: Thing }
    /// `round.closed.v1`
    RoundClosed { not_looked_at: Vec<NotLookedAt>; ; }
    /// What was not looked at, and why.
    NotLookedAt { which: Thing, reason: String; words: String; }
    /// `duty.handed_over.v1`
    DutyHandedOver { to: String, matters: Vec<Matter>; ; }
    /// What the next person must know.
    Matter { words: String; about: Thing; }
    /// `incident.opened.v1`
    IncidentOpened { label: String, what: String, summary: String; reported_to: String; about: Thing }
    /// `incident.noted.v1`
    IncidentNoted { words: String; ; about: Thing }
    /// `incident.closed.v1`
    IncidentClosed { outcome: String; cause: String, prevention: String; }
    /// `sample.taken.v1`
    SampleTaken { label: String, what: String, of: Vec<Thing>; licence_reference: String, kept: String; }
    /// `sample.sent.v1`
    SampleSent { to: String, tests_wanted: Vec<String>; carrier: String; }
    /// `sample.reported.v1`
    SampleReported { by: String, results: Vec<SampleResult>; report_sha256: String, document: Thing, reported_on: String; }
    /// One result.
    SampleResult { test: String, result: String; words: String; }
    /// `document.attached.v1`
    DocumentAttached { label: String, title: String, file_sha256: String; media_type: String, file_bytes: Count; about: Thing }
}

/// A round.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Round {
    /// `round/<ULID>`.
    #[schema(value_type = String)]
    pub id: Subject,
    /// As it was begun.
    #[serde(flatten)]
    pub opened: Noted<RoundOpened>,
    /// Pseudonym of the person who began it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub person: Option<String>,
    /// As it was closed; absent while it goes on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub closed: Option<Noted<RoundClosed>>,
    /// Cases or tanks of the round that were looked at.
    pub looked_at: Vec<Thing>,
    /// Those that were neither looked at nor named at the close; while it goes on, those to come.
    pub not_yet: Vec<Thing>,
    /// What is at odds.
    pub discrepancies: Vec<Discrepancy>,
}

/// A hand-over of duty.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct HandOver {
    /// Pseudonym of the person who handed over.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub from: Option<String>,
    /// To whom, and what.
    #[serde(flatten)]
    pub handed: Noted<DutyHandedOver>,
}

/// An incident.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Incident {
    /// `incident/<ULID>`.
    #[schema(value_type = String)]
    pub id: Subject,
    /// As it was opened.
    #[serde(flatten)]
    pub opened: Noted<IncidentOpened>,
    /// What was noted since, in order of time.
    pub notes: Vec<Noted<IncidentNoted>>,
    /// How it ended; absent while it is open.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub closed: Option<Noted<IncidentClosed>>,
    /// What is at odds.
    pub discrepancies: Vec<Discrepancy>,
}

/// A sample.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Sample {
    /// `sample/<ULID>`.
    #[schema(value_type = String)]
    pub id: Subject,
    /// As it was taken.
    #[serde(flatten)]
    pub taken: Noted<SampleTaken>,
    /// `taken`, `sent`, `reported`.
    pub state: &'static str,
    /// To whom it was sent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sent: Option<Noted<SampleSent>>,
    /// Results in order of time.
    pub reports: Vec<Noted<SampleReported>>,
    /// What is at odds.
    pub discrepancies: Vec<Discrepancy>,
}

/// A document.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Document {
    /// `document/<ULID>`.
    #[schema(value_type = String)]
    pub id: Subject,
    /// What it is, and the hash of its bytes, where the file is attached.
    #[serde(flatten)]
    pub attached: Option<Noted<DocumentAttached>>,
    /// What it permits, where it is a permit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub permit: Option<Permit>,
    /// What is at odds.
    pub discrepancies: Vec<Discrepancy>,
}
