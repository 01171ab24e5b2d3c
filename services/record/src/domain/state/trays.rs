//! A proposal of places for cases, as a reader sees it.

use selachron_schemas::names::Subject;
use serde::Serialize;
use utoipa::ToSchema;

/// One move that is proposed. It happens when a person makes it and notes it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct TrayMove {
    /// `egg/<ULID>`.
    #[schema(value_type = String)]
    pub egg: Subject,
    /// What stands on the case.
    pub label: String,
    /// The tank it is in.
    #[schema(value_type = String)]
    pub from_tank: Subject,
    /// The place it is in.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub from_place: Option<Subject>,
    /// The tank it is to be in.
    #[schema(value_type = String)]
    pub to_tank: Subject,
    /// The place it is to be in.
    #[schema(value_type = String)]
    pub to_place: Subject,
    /// What stands on that place.
    pub to_label: String,
    /// Why.
    pub reason: String,
}

/// A case that should stand elsewhere and cannot.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct TrayLeft {
    /// `egg/<ULID>`.
    #[schema(value_type = String)]
    pub egg: Subject,
    /// What stands on the case.
    pub label: String,
    /// Why, and what would help.
    pub reason: String,
}

/// A proposal of places by parentage and stage. Moves are in the order in which they can be made.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct Proposal {
    /// Moves.
    pub moves: Vec<TrayMove>,
    /// What no place takes.
    pub left: Vec<TrayLeft>,
}
