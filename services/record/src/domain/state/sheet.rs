//! A round sheet for paper, and labels, as a reader sees them.

use super::EventId;
use super::words::Movement;
use chrono::NaiveDate;
use selachron_schemas::names::Subject;
use serde::Serialize;
use utoipa::ToSchema;

/// A case on a round sheet.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SheetCase {
    /// `egg/<ULID>`.
    #[schema(value_type = String)]
    pub egg: Subject,
    /// What stands on it.
    pub label: String,
    /// Day of its last look.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, format = Date)]
    pub last_look: Option<NaiveDate>,
    /// Band then last seen.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub band: Option<u8>,
    /// Movement at the last look.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub movement: Option<Movement>,
    /// It is held apart.
    pub held_apart: bool,
    /// What is due of it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub due: Vec<String>,
    /// Those of the notes behind this line that were recorded while their author's key was suspected.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(value_type = Vec<String>)]
    pub suspected: Vec<EventId>,
}

/// A place on a round sheet; one without cases is an empty box.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SheetPlace {
    /// What stands on the place; absent for cases that stand in none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub label: Option<String>,
    /// Row or tray.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub row: Option<String>,
    /// Cases it holds at most.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cases_max: Option<u64>,
    /// Cases in it.
    pub cases: Vec<SheetCase>,
}

/// A round through one tray or tank, for paper.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RoundSheet {
    /// The tank.
    #[schema(value_type = String)]
    pub tank: Subject,
    /// What it is called.
    pub label: String,
    /// Places in the order of a round.
    pub places: Vec<SheetPlace>,
    /// Cases on the sheet.
    pub cases: u64,
}

/// One label to be stuck on.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Sticker {
    /// What its code says.
    #[schema(value_type = String)]
    pub subject: Subject,
    /// In large letters.
    pub label: String,
    /// Below it: species of a case, tank of a place, purpose of a tank.
    pub below: String,
}
