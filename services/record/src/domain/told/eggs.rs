//! What notes say of the care of cases, of cases that are missing or put down, and of the
//! authorisation of openings. The schemas describe the members.
#![allow(missing_docs, reason = "the members are described in the schema of the kind")]

use super::super::state::{AssessmentKept, Movement, Parentage};
use super::super::whole::whole;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use serde::Deserialize;
use serde_json::{Map, Value};

/// One of these kinds.
#[derive(Debug, Clone, PartialEq)]
pub enum EggNote {
    ClutchFormed(Box<ClutchFormed>),
    Tended(EggTended),
    Examined(Box<EggExamined>),
    Missing(Missing),
    Found(Found),
    WrittenOff(WrittenOff),
    PutDown(EggPutDown),
    OpeningAuthorised(Box<OpeningAuthorised>),
    OpeningWithdrawn(OpeningWithdrawn),
    OpeningLeft(OpeningLeft),
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct ClutchFormed {
    pub label: Option<String>,
    pub eggs: Vec<Subject>,
    pub basis: String,
    pub dam: Option<Parentage>,
    pub sire: Option<Parentage>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct EggTended {
    pub done: Vec<String>,
    #[serde(default)]
    pub entered_case: bool,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct EggExamined {
    pub method: String,
    pub seen_into: bool,
    #[serde(default, deserialize_with = "whole")]
    pub band: Option<u8>,
    pub movement: Option<Movement>,
    pub heartbeat: Option<String>,
    pub yolk_fraction: Option<f64>,
    #[serde(default)]
    pub findings: Vec<String>,
    pub eye: Option<String>,
    #[serde(default)]
    pub prompted: bool,
}

/// `egg.missing.v1` and `animal.missing.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Missing {
    pub noticed_at: String,
    pub last_seen_alive: Option<Instant>,
    #[serde(default)]
    pub searched: Vec<String>,
}

/// `egg.found.v1`, `animal.found.v1` and `animal.recaptured.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Found {
    #[serde(rename = "where")]
    pub place: String,
    pub to_tank: Option<Subject>,
}

/// `egg.written_off.v1` and `animal.written_off.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct WrittenOff {
    pub reason: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct EggPutDown {
    pub decided_by: Vec<String>,
    pub reason: String,
    pub alive: String,
    #[serde(default, deserialize_with = "whole")]
    pub band_last_seen: Option<u8>,
    pub authority: Option<String>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct OpeningAuthorised {
    pub criteria: Vec<String>,
    pub persons: Vec<String>,
    pub from: Instant,
    pub to: Instant,
    pub species: Option<Subject>,
    #[serde(default)]
    pub extents: Vec<String>,
    pub protocol: Option<String>,
    #[serde(default)]
    pub reasons_against: Vec<String>,
    pub assessment: Option<AssessmentKept>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct OpeningWithdrawn {
    pub authorisation: String,
    pub reason: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct OpeningLeft {
    pub reasons: Vec<String>,
    #[serde(default)]
    pub criteria_met: Vec<String>,
    pub decided_by: Vec<String>,
    #[serde(default, deserialize_with = "whole")]
    pub look_again_after_hours: Option<u32>,
    pub assessment: Option<AssessmentKept>,
}

impl EggNote {
    /// Reads the data of a note of that kind; `None` of another, or where it does not fit.
    #[must_use]
    pub fn read(kind: &str, data: &Map<String, Value>) -> Option<Self> {
        fn told<'de, T: Deserialize<'de>>(data: &'de Map<String, Value>, note: impl FnOnce(T) -> EggNote) -> Option<EggNote> {
            T::deserialize(data).ok().map(note)
        }
        match kind {
            "clutch.formed.v1" => told(data, |note| Self::ClutchFormed(Box::new(note))),
            "egg.tended.v1" => told(data, Self::Tended),
            "egg.examined.v1" => told(data, |note| Self::Examined(Box::new(note))),
            "egg.missing.v1" => told(data, Self::Missing),
            "egg.found.v1" => told(data, Self::Found),
            "egg.written_off.v1" => told(data, Self::WrittenOff),
            "egg.put_down.v1" => told(data, Self::PutDown),
            "opening.authorised.v1" => told(data, |note| Self::OpeningAuthorised(Box::new(note))),
            "opening.withdrawn.v1" => told(data, Self::OpeningWithdrawn),
            "opening.left.v1" => told(data, Self::OpeningLeft),
            _ => None,
        }
    }

    /// The label that the data gives to its subject.
    #[must_use]
    pub fn label(&self) -> Option<&str> {
        match self {
            Self::ClutchFormed(told) => told.label.as_deref(),
            _ => None,
        }
    }

    /// Subjects other than the note's own whose state it bears on.
    #[must_use]
    pub fn bears_on(&self) -> Vec<&Subject> {
        match self {
            Self::ClutchFormed(told) => told.eggs.iter().collect(),
            _ => Vec::new(),
        }
    }
}
