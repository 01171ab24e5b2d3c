//! What is told of an animal's life, and of a body afterwards: the notes' own words with when and by
//! whom they were said.

use super::words::{EventId, Moment};
use crate::domain::told::animals::{CarcassDisposed, CarcassKept, Identified, Necropsy};
use serde::Serialize;
use std::collections::BTreeMap;
use utoipa::ToSchema;

/// What somebody said, and when.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Said<T> {
    /// When.
    pub when: Moment,
    /// Pseudonym of the author.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub person: Option<String>,
    /// What.
    #[serde(flatten)]
    pub told: T,
}

/// By what an animal is told from others.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Mark {
    /// Given, read, not found or removed.
    #[serde(flatten)]
    pub said: Said<Identified>,
    /// A temporary mark whose last day is over at V.
    pub expired: bool,
}

/// Numbers of the tags that an animal with these marks bears, each with the note by which it was
/// first told to bear it; a note that it was removed or not found ends that.
#[must_use]
pub fn tags_borne(marks: &[Mark]) -> BTreeMap<&str, EventId> {
    let mut borne = BTreeMap::new();
    for mark in marks {
        let told = &mark.said.told;
        let Some(number) = told.tag_number() else { continue };
        if told.is_borne() && !mark.expired {
            borne.entry(number).or_insert(mark.said.when.event);
        } else {
            borne.remove(number);
        }
    }
    borne
}

/// What became of a body.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct Afterwards {
    /// Post-mortems asked for, declined, pending or reported.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub necropsies: Vec<Said<Necropsy>>,
    /// Cause of death as a veterinarian or laboratory determined it; nobody else can.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cause_determined: Option<String>,
    /// Where the body was kept.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub kept: Vec<Said<CarcassKept>>,
    /// How it was disposed of.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub disposed: Vec<Said<CarcassDisposed>>,
}

impl Afterwards {
    /// Whether nothing was said.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}
