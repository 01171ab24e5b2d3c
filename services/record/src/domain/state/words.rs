//! What the states of eggs and animals have in common.

use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use serde::{Deserialize, Serialize};
use std::fmt;
use utoipa::ToSchema;

/// The id of a note: a ULID, kept as its number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct EventId(pub u128);

impl EventId {
    /// Reads a ULID.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        ulid::Ulid::from_string(text).ok().map(|id| Self(id.0))
    }
}

impl fmt::Display for EventId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        ulid::Ulid(self.0).fmt(f)
    }
}

impl Serialize for EventId {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for EventId {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        ulid::Ulid::from_string(&text).map(|id| Self(id.0)).map_err(serde::de::Error::custom)
    }
}

/// When something happened, and the note that says so.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub struct Moment {
    /// The observer's claim; with `timeafter` the later end of an interval.
    #[schema(value_type = String)]
    pub time: Instant,
    /// It happened after this and not after `time`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub timeafter: Option<Instant>,
    /// The note.
    #[schema(value_type = String)]
    pub event: EventId,
}

/// What is known of a parent of an embryo.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Parentage {
    /// `known`, `candidates`, `unknown`, `none` (unfertilised), `wild_caught`.
    pub status: ParentStatus,
    /// One animal if known, one or more if candidates.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub animals: Vec<Candidate>,
    /// What it rests on, in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<String>,
}

/// See [`Parentage::status`].
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ParentStatus {
    /// Exactly one animal, on evidence.
    Known,
    /// One of several.
    Candidates,
    /// Nobody can say, or nobody said.
    #[default]
    Unknown,
    /// No father: the embryo developed from an unfertilised egg.
    None,
    /// Lived in the wild.
    WildCaught,
}

/// A candidate parent.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Candidate {
    /// The animal.
    #[schema(value_type = String)]
    pub animal: Subject,
    /// Share of the parentage, above 0, at most 1; without it all candidates weigh alike.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weight: Option<f64>,
}

/// Whether a yolk was seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, ToSchema)]
pub enum YolkLook {
    /// Seen.
    #[serde(rename = "seen")]
    Seen,
    /// Looked in, and there was none.
    #[serde(rename = "not seen")]
    NotSeen,
    /// The case could not be judged.
    #[serde(rename = "could not see")]
    CouldNotSee,
}

/// Movement of an embryo at a look. `still` says nothing about life (Kempster 2013).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub enum Movement {
    /// Moving: a sighting alive.
    #[serde(rename = "moving")]
    Moving,
    /// Not moving.
    #[serde(rename = "still")]
    Still,
    /// Could not tell.
    #[serde(rename = "could not tell")]
    CouldNotTell,
}

/// Alive or dead, as told of something that arrived or left.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub enum LifeState {
    /// Alive.
    #[serde(rename = "alive")]
    Alive,
    /// Dead.
    #[serde(rename = "dead")]
    Dead,
    /// Nobody could tell.
    #[serde(rename = "not known", alias = "could not tell")]
    NotKnown,
}

/// Sex as it can be told today.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum Sex {
    /// Male.
    Male,
    /// Female.
    Female,
    /// Cannot be told yet.
    #[default]
    Unknown,
}

/// Where a case or an animal is, and since when.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Place {
    /// The tank.
    #[schema(value_type = String)]
    pub tank: Subject,
    /// A note on the place within it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// Since.
    pub since: Moment,
}
