//! What speaks for and against opening a case, as a reader sees it. It is never a recommendation
//! to open: criteria and reasons stand side by side, each with its evidence and how old it is.

use super::authorisation::Authorisation;
use super::forecast::{HatchWindow, WindowStanding};
use super::words::EventId;
use selachron_schemas::names::Subject;
use serde::Serialize;
use utoipa::ToSchema;

/// What speaks for and against opening a case.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct OpeningAssessment {
    /// `egg/<ULID>`.
    #[schema(value_type = String)]
    pub egg: Subject,
    /// What stands on the case.
    pub label: String,
    /// `species/<ULID>`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub species: Option<Subject>,
    /// That this is no recommendation, and whose decision it is.
    pub says: &'static str,
    /// The window that was judged by.
    pub window: WindowJudged,
    /// The criteria of the house rules, each with its evidence.
    pub criteria: Vec<Weighed>,
    /// Reasons against, of equal weight.
    pub against: Vec<Weighed>,
    /// Every criterion of the house rules holds.
    pub meets_criteria: bool,
    /// The slits were not seen open: nothing enters a sealed case except on the veterinarian's
    /// decision.
    pub sealed: bool,
    /// What became here of comparable cases, left alone and opened.
    pub comparable: Comparable,
    /// Who must agree.
    pub agreement: Agreement,
    /// All cases that meet the criteria at this moment, by id.
    #[schema(value_type = Vec<String>)]
    pub met_by: Vec<Subject>,
    /// The usual cautions.
    pub cautions: Vec<&'static str>,
}

/// The window, or by what the case is judged without one.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct WindowJudged {
    /// Where today lies.
    pub standing: WindowStanding,
    /// In a sentence: the window, or `window: not known, judged by …`.
    pub says: String,
    /// By temperatures, laying and looks.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub expected: Option<HatchWindow>,
    /// Grade of the rate.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub grade: Option<&'static str>,
}

/// A criterion, or a reason against.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Weighed {
    /// Which.
    pub what: &'static str,
    /// Whether it holds.
    pub holds: Holds,
    /// Why, in a sentence.
    pub says: String,
    /// The notes that say so.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub evidence: Vec<EvidenceAged>,
}

/// Whether something holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub enum Holds {
    /// It does.
    #[serde(rename = "yes")]
    Yes,
    /// It does not.
    #[serde(rename = "no")]
    No,
    /// Nobody can say from what was noted.
    #[serde(rename = "not known")]
    NotKnown,
}

/// A note with its age.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub struct EvidenceAged {
    /// The note.
    #[schema(value_type = String)]
    pub event: EventId,
    /// Whole local days since then.
    pub age_days: i64,
}

/// What became of comparable cases of this collection.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Comparable {
    /// Which cases are meant, in a sentence.
    pub which: String,
    /// The landmark, in whole days since laying.
    pub landmark_days: i64,
    /// Days after the landmark within which a case counts as opened.
    pub within_days: i64,
    /// Cases that were left alone.
    pub left_alone: Outcomes,
    /// Cases that were opened within that time.
    pub opened: Outcomes,
    /// Ended within that time without being opened: in neither group, for to be left alone for so
    /// long a case must last so long.
    pub ended_within: u64,
    /// What these counts cannot say.
    pub caveat: &'static str,
}

/// What became of a group of cases.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, ToSchema)]
pub struct Outcomes {
    /// Cases.
    pub n: u64,
    /// Hatched without an opening.
    pub hatched_unaided: u64,
    /// Hatched after an opening.
    pub hatched_after_opening: u64,
    /// Lost in the case.
    pub lost: u64,
    /// Put down by decision.
    pub put_down: u64,
    /// Left, missing, or found empty.
    pub otherwise_ended: u64,
    /// Still in the case.
    pub still_in_case: u64,
}

/// Who must agree before a case is opened.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Agreement {
    /// Roles whose approval the house rules want.
    pub roles: Vec<String>,
    /// In a sentence.
    pub says: String,
    /// Authorisations in force that name the case, or all cases or its species.
    pub authorisations: Vec<Authorisation>,
}
