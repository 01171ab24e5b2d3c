//! Consignments, loans and quarantine, as a reader sees them.

use super::noted::{Count, Noted, Thing, told};
use super::words::Moment;
use crate::domain::discrepancy::Discrepancy;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

told! {
    /// `consignment.authorised.v1`
    ConsignmentAuthorised { label: String, to: String, items: Vec<Thing>, from: ToldAt, until: ToldAt; ; papers: Paper }
    /// `consignment.sent.v1`
    ConsignmentSent { label: String, to: String, carrier: String, reason: String, items: Vec<SentItem>;
        loan: Thing, temperature_c: f64, salinity_psu: f64, water_l: f64, oxygen: String, temperature_logged: bool, expected_at: ToldAt; papers: Paper }
    /// One thing in a consignment as it left.
    SentItem { which: Thing, alive: super::words::LifeState; container: String; }
    /// A paper that went along.
    Paper { paper: String; number: String, document: Thing; }
    /// `consignment.received.v1`
    ConsignmentReceived { r#where: String, opened_at: ToldAt, items: Vec<ReceivedItem>;
        label: String, from: String, carrier: String, temperature_c: f64, salinity_psu: f64, oxygen_mg_l: f64, oxygen: String,
        log_temperature_c_low: f64, log_temperature_c_high: f64, log_sha256: String; papers: Paper }
    /// One thing in a consignment on opening.
    ReceivedItem { which: Thing, state: super::words::LifeState; container: String; }
    /// `quarantine.started.v1`
    QuarantineStarted { reason: String; conditions: String, planned_days: Count, authority: String; tests_wanted: String }
    /// `quarantine.cleared.v1`
    QuarantineCleared { basis: String; document: Thing; tests: TestDone }
    /// A test before clearance.
    TestDone { test: String, result: String; sample: Thing; }
    /// `loan.agreed.v1`
    LoanAgreed { label: String, direction: String, partner: String, which: Vec<Thing>; until: String, young_belong_to: String, document: Thing; }
    /// `loan.ended.v1`
    LoanEnded { how: String; ; which: Thing }
}

/// An instant that a note tells beside its own time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, ToSchema)]
#[serde(transparent)]
#[schema(value_type = String)]
pub struct ToldAt(pub Instant);

/// A consignment.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Consignment {
    /// `consignment/<ULID>`.
    #[schema(value_type = String)]
    pub id: Subject,
    /// What it is called.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub label: Option<String>,
    /// `papers signed`, `in transit`, `arrived here`, `arrived there`.
    pub state: &'static str,
    /// Its departure papers, each signed by two people, in order of time.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub authorised: Vec<Noted<ConsignmentAuthorised>>,
    /// As it left here.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sent: Option<Noted<ConsignmentSent>>,
    /// Persons other than the author who signed or endorsed the sending.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub approved_by: Vec<String>,
    /// As it was opened.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub received: Option<Noted<ConsignmentReceived>>,
    /// On the way: in nobody's stock.
    pub in_transit: Vec<Thing>,
    /// Dead when it was opened.
    pub dead_on_arrival: Vec<Thing>,
    /// What is at odds.
    pub discrepancies: Vec<Discrepancy>,
}

/// The newest consignment of a case or an animal.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Travel {
    /// The consignment.
    pub consignment: Thing,
    /// `in transit`, `arrived here`, `arrived there`.
    pub state: &'static str,
    /// When it left or, once it has, arrived.
    #[serde(flatten)]
    pub when: Moment,
}

/// A quarantine.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Quarantine {
    /// The case, animal, group, tank or system that is kept apart.
    pub of: Thing,
    /// What began it.
    pub started: Noted<QuarantineStarted>,
    /// Last day that is planned.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub planned_until: Option<chrono::NaiveDate>,
    /// The veterinarian's clearance.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cleared: Option<Noted<QuarantineCleared>>,
}

/// A loan.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Loan {
    /// `loan/<ULID>`.
    #[schema(value_type = String)]
    pub id: Subject,
    /// As it was agreed.
    #[serde(flatten)]
    pub agreed: Noted<LoanAgreed>,
    /// How it ended, of all or of some.
    pub ended: Vec<Noted<LoanEnded>>,
    /// What is still lent.
    pub still_lent: Vec<Thing>,
    /// What is at odds.
    pub discrepancies: Vec<Discrepancy>,
}

/// The loan of a case or an animal.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct OnLoan {
    /// The loan.
    pub loan: Thing,
    /// `out`: ours, and elsewhere; `in`: here, and another's.
    pub direction: String,
    /// The other party.
    pub partner: String,
    /// Last day, where one is agreed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub until: Option<String>,
    /// When it was agreed.
    #[serde(flatten)]
    pub when: Moment,
}
