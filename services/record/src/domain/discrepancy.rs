//! What is possible in reality but at odds with the rest of the record. A discrepancy is part of
//! the fold, never a row: the answer of a POST and a later read say the same.

use super::state::EventId;
use selachron_schemas::names::Subject;
use serde::Serialize;

/// One discrepancy.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Discrepancy {
    /// 32 hexadecimal characters made from kind and events: the same for ever.
    pub id: String,
    /// What kind, in plain words.
    pub kind: &'static str,
    /// How much it matters.
    pub weight: Weight,
    /// What it is about, sorted.
    pub subjects: Vec<Subject>,
    /// The notes it rests on, sorted.
    pub events: Vec<EventId>,
    /// One plain sentence.
    pub says: String,
    /// False once a curator, veterinarian or registrar has endorsed the newest of its notes.
    pub open: bool,
}

/// How much a discrepancy matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub enum Weight {
    /// It ends by itself when what is missing arrives.
    #[serde(rename = "mends itself")]
    MendsItself,
    /// Somebody should be asked when convenient.
    #[serde(rename = "when convenient")]
    WhenConvenient,
    /// A person must look today.
    #[serde(rename = "needs a person today")]
    NeedsAPersonToday,
}
