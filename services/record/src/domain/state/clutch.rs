//! A clutch, as a reader sees it.

use super::words::{Moment, Parentage};
use crate::domain::discrepancy::Discrepancy;
use selachron_schemas::names::Subject;
use serde::Serialize;
use utoipa::ToSchema;

/// Cases that one dam laid together.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Clutch {
    /// `clutch/<ULID>`.
    #[schema(value_type = String)]
    pub id: Subject,
    /// What the house calls it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub label: Option<String>,
    /// When it was put down as a clutch.
    pub formed: Moment,
    /// Its cases.
    #[schema(value_type = Vec<String>)]
    pub eggs: Vec<Subject>,
    /// What the grouping rests on.
    pub basis: String,
    /// The mother.
    pub dam: Parentage,
    /// The father.
    pub sire: Parentage,
    /// What is at odds; empty in most.
    pub discrepancies: Vec<Discrepancy>,
}
