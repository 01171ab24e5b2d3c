//! What notes say of animals beside feeding, measuring and moving: sightings, examinations and
//! treatments, marks, parents, absences, and what becomes of a body. The schemas describe the members.
#![allow(missing_docs, reason = "the members are described in the schema of the kind")]

use super::super::state::{Parentage, Sex};
use super::eggs::{Found, Missing, WrittenOff};
use chrono::NaiveDate;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};
use utoipa::ToSchema;

/// One of these kinds.
#[derive(Debug, Clone, PartialEq)]
pub enum AnimalNote {
    Observed(Observed),
    Examined(Box<Examined>),
    Treated(Box<Treated>),
    Sexed(Sexed),
    Identified(Box<Identified>),
    Introduced(Introduced),
    ParentageClaimed(Box<ParentageClaimed>),
    Missing(Missing),
    Found(Found),
    Escaped(Escaped),
    Recaptured(Found),
    Returned(Returned),
    WrittenOff(WrittenOff),
    Necropsy(Box<Necropsy>),
    CarcassKept(CarcassKept),
    CarcassDisposed(CarcassDisposed),
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Observed {
    pub state: String,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub signs: Vec<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub tank: Option<Subject>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Examined {
    pub by: Vec<String>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub findings: Vec<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub body_condition: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub diagnosis: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub prognosis: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub treatment_order: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub keepers_opinion: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub licence_reference: Option<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Treated {
    pub order: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ordered_in: Option<String>,
    pub given: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub why_not: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub substance: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dose: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub route: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub batch: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub until: Option<NaiveDate>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Sexed {
    pub sex: Sex,
    pub how: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub licence_reference: Option<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Identified {
    pub what: String,
    #[serde(rename = "type")]
    pub by: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub label: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub number: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place_on_body: Option<String>,
    #[serde(default)]
    pub temporary: bool,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub until: Option<NaiveDate>,
    #[serde(default)]
    pub from_body: bool,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub licence_reference: Option<String>,
}

impl Identified {
    /// The number of a tag that no two animals should bear. A pattern, a colour or a clip is a
    /// description, and two may be alike.
    #[must_use]
    pub fn tag_number(&self) -> Option<&str> {
        self.number.as_deref().filter(|_| matches!(self.by.as_str(), "implanted tag" | "outer tag"))
    }

    /// Whether the animal bears it after this note.
    #[must_use]
    pub fn is_borne(&self) -> bool {
        matches!(self.what.as_str(), "given" | "read")
    }
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Introduced {
    #[schema(value_type = String)]
    pub to_tank: Subject,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(value_type = Vec<String>)]
    pub together_with: Vec<Subject>,
    pub purpose: String,
    pub went: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ParentageClaimed {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dam: Option<Parentage>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sire: Option<Parentage>,
    pub basis: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub laboratory: Option<String>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Escaped {
    pub how: String,
    pub into: String,
    pub last_seen_alive: Option<Instant>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Returned {
    pub from: String,
    pub reason: String,
    pub to_tank: Option<Subject>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Necropsy {
    pub state: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub declined_by: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub declined_because: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cause_determined: Option<String>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub findings: Vec<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub keepers_opinion: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tag_read: Option<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CarcassKept {
    pub how: String,
    #[serde(rename = "where")]
    pub place: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub until: Option<NaiveDate>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CarcassDisposed {
    pub how: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reference: Option<String>,
}

impl AnimalNote {
    /// Reads the data of a note of that kind; `None` of another, or where it does not fit.
    #[must_use]
    pub fn read(kind: &str, data: &Map<String, Value>) -> Option<Self> {
        fn told<'de, T: Deserialize<'de>>(data: &'de Map<String, Value>, note: impl FnOnce(T) -> AnimalNote) -> Option<AnimalNote> {
            T::deserialize(data).ok().map(note)
        }
        match kind {
            "animal.observed.v1" => told(data, Self::Observed),
            "animal.examined.v1" => told(data, |note| Self::Examined(Box::new(note))),
            "animal.treated.v1" => told(data, |note| Self::Treated(Box::new(note))),
            "animal.sexed.v1" => told(data, Self::Sexed),
            "animal.identified.v1" => told(data, |note| Self::Identified(Box::new(note))),
            "animal.introduced.v1" => told(data, Self::Introduced),
            "animal.parentage_claimed.v1" => told(data, |note| Self::ParentageClaimed(Box::new(note))),
            "animal.missing.v1" => told(data, Self::Missing),
            "animal.found.v1" => told(data, Self::Found),
            "animal.escaped.v1" => told(data, Self::Escaped),
            "animal.recaptured.v1" => told(data, Self::Recaptured),
            "animal.returned.v1" => told(data, Self::Returned),
            "animal.written_off.v1" => told(data, Self::WrittenOff),
            "necropsy.reported.v1" => told(data, |note| Self::Necropsy(Box::new(note))),
            "carcass.kept.v1" => told(data, Self::CarcassKept),
            "carcass.disposed.v1" => told(data, Self::CarcassDisposed),
            _ => None,
        }
    }

    /// The label that the data gives to its subject.
    #[must_use]
    pub fn label(&self) -> Option<&str> {
        match self {
            Self::Identified(told) if told.what == "given" => told.label.as_deref(),
            _ => None,
        }
    }
}
